"""Parts of circular curves beside printed examples."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from curbwright.shared.alignment.element_table import circular_curve

# m, the international foot; parts of a curve scale with its radius, so that either foot would do
FOOT = 0.3048

# Route surveying course of open access, Self Study: Horizontal Curves Set 2, Problem 1: delta
# 45-49-45, Dc 7-09-43.1, arc definition. The page was read. Its header prints L 693.90 for 639.90,
# its table 615.20 for an arc of 615.02 and 24-54-52 for a deflection of 22-54-52: slips, not used
# here.
COURSE = {
    "delta": "45-49-45",
    "degree": "7-09-43.1",
    "tangent_length": 338.17,
    "chord": 622.97,
    "length": 639.90,
}
# Station; arc from the beginning of the curve (sta 50+84.98), deflection angle, chord, as that page
# prints them; feet.
DEFLECTIONS = [
    (5100, 15.02, "0-32-17", 15.02),
    (5200, 115.02, "4-07-08", 114.92),
    (5300, 215.02, "7-42-00", 214.38),
    (5400, 315.02, "11-16-51", 312.99),
    (5500, 415.02, "14-51-43", 410.38),
    (5600, 515.02, "18-26-34", 506.18),
    (5700, None, "22-01-26", 599.99),
    (5724.88, 639.90, None, 622.97),
]
# Army FM 5-233, Construction Surveying, chapter 3: I 45, D 15, arc definition. That the example
# exists was verified, its numbers are from memory.
ARMY = {"radius": 381.97, "tangent_length": 158.22, "length": 300.00}
# Open wikibook on transport fundamentals: 7-degree curve, 63-15-34. The problem was read, its
# answers are from memory.
WIKIBOOK = {"radius": 818.5, "length": 903.7, "sagitta": 121.6}


def degrees(text):
    whole, minutes, seconds = map(float, text.split("-"))
    return whole + minutes / 60 + seconds / 3600


def radius_of_degree(degree):
    """Arc definition: a hundred feet of arc subtend the degree of curve."""
    return 100 / np.radians(degree)


def test_route_surveying_course():
    radius = radius_of_degree(degrees(COURSE["degree"]))
    assert radius == pytest.approx(800.00, abs=0.005)
    found = circular_curve(radius * FOOT, degrees(COURSE["delta"]))
    for name in ("tangent_length", "chord", "length"):
        assert getattr(found, name) / FOOT == pytest.approx(COURSE[name], abs=0.006), name


@pytest.mark.parametrize(("station", "arc", "deflection", "chord"), DEFLECTIONS)
def test_deflections_of_the_course(station, arc, deflection, chord):
    # the deflection angle from the back tangent to a point of the curve is half the central angle
    # up to it
    radius, along = 800.0, station - 5084.98
    half = np.degrees(along / radius) / 2
    found = circular_curve(radius * FOOT, 2 * half)
    assert found.chord / FOOT == pytest.approx(chord, abs=0.011)
    if arc is not None:
        assert found.length / FOOT == pytest.approx(arc, abs=0.006)
    if deflection is not None:
        # its stations are rounded to 0.01 ft, 1.3 seconds
        assert half == pytest.approx(degrees(deflection), abs=1.6 / 3600)


def test_army_manual():
    radius = radius_of_degree(15.0)
    assert radius == pytest.approx(ARMY["radius"], abs=0.006)
    found = circular_curve(radius * FOOT, 45.0)
    assert found.tangent_length / FOOT == pytest.approx(ARMY["tangent_length"], abs=0.006)
    assert found.length / FOOT == pytest.approx(ARMY["length"], abs=0.006)


def test_wikibook():
    radius = radius_of_degree(7.0)
    assert radius == pytest.approx(WIKIBOOK["radius"], abs=0.06)
    found = circular_curve(radius, degrees("63-15-34"))
    assert found.length == pytest.approx(
        WIKIBOOK["length"], abs=0.06
    ) and found.sagitta == pytest.approx(WIKIBOOK["sagitta"], abs=0.06)


# Curb return of 15 ft and 90 degrees, by hand: T = R, E = R (sqrt 2 - 1), M = R (1 - sqrt(1/2)).
@pytest.mark.parametrize("radius", [15 * FOOT, 25 * FOOT])
def test_curb_return(radius):
    found = circular_curve(radius, [90.0, -90.0])
    for name, expected in (
        ("tangent_length", 1.0),
        ("length", np.pi / 2),
        ("chord", np.sqrt(2)),
        ("external", np.sqrt(2) - 1),
        ("sagitta", 1 - np.sqrt(0.5)),
    ):
        assert_allclose(getattr(found, name) / radius, expected, rtol=1e-12, err_msg=name)


@pytest.mark.parametrize(
    ("radius", "chord", "millimetres"),
    [  # s = r - sqrt(r^2 - c^2/4), worked out apart
        (1.5, 0.5, 20.98),
        (3.048, 1.067, 47.05),
        (4.572, 1.2, 39.54),
        (7.62, 1.4, 32.22),
        (9.144, 1.0, 13.68),
        (30.0, 1.0, 4.17),
    ],
)
def test_sagitta_of_a_chord(radius, chord, millimetres):
    found = circular_curve(radius, 2 * np.degrees(np.arcsin(chord / 2 / radius)))
    assert 1000 * found.sagitta == pytest.approx(
        millimetres, abs=0.006
    ) and found.chord == pytest.approx(chord, rel=1e-12)


def test_a_slight_curve_keeps_its_digits():
    found = circular_curve(400.0, 0.01)
    assert_allclose(found.sagitta, 400 * np.radians(0.01) ** 2 / 8, rtol=1e-8)
    assert_allclose(found.external, found.sagitta, rtol=1e-8)


def test_half_a_circle_and_more():
    found = circular_curve(2.0, [180.0, 270.0, 360.0])
    assert np.isnan(found.tangent_length).all() and np.isnan(found.external).all()
    assert_allclose(found.chord, [4, 2 * np.sqrt(2), 0], atol=1e-12)
    assert_allclose(found.sagitta, [2, 2 + np.sqrt(2), 4])
    assert_allclose(found.length, [2 * np.pi, 3 * np.pi, 4 * np.pi])
