"""Arcs fitted to published points."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from curbwright.shared.alignment.adjustment import adjust
from curbwright.shared.alignment.element_table import ARC, TANGENT, describe_elements
from curbwright.shared.alignment.fit import fit_chains
from curbwright.shared.alignment.moments import Moments
from curbwright.shared.alignment.primitives import Primitives
from curbwright.shared.alignment.search import fit_elements, project

# Gander, Golub and Strebel 1994, Least-squares fitting of circles and ellipses, BIT 34:558-578.
# Points and result are from memory; the result reproduces to every printed digit.
GANDER = np.array([(1, 7), (2, 6), (5, 8), (7, 7), (9, 5), (3, 7)], float)
# SciPy Cookbook, "Least squares circle" (notebook in the repository scipy/scipy-cookbook).
COOKBOOK_FULL = np.array([(9, 34), (35, 10), (-13, 6), (10, -14), (23, 27), (0, -10)], float)
COOKBOOK_ARC = np.array([(36, 14), (36, 10), (19, 28), (18, 31), (33, 18), (26, 26)], float)

# Points; centre and radius of the geometric fit, and half a unit of their last digit; sum of
# squared distances.
CASES = [
    pytest.param(GANDER, (4.7398, 2.9835, 4.7142), 6e-5, 1.2276, id="Gander, Golub, Strebel"),
    pytest.param(
        COOKBOOK_FULL, (10.50009, 9.65995, 23.33353), 6e-6, 7.711852, id="cookbook, full circle"
    ),
    pytest.param(
        COOKBOOK_ARC, (9.88757, 3.68750, 27.35044), 6e-6, 4.042522, id="cookbook, short arc"
    ),
]


def walked(points, centre):
    """The points in the order in which one would walk them: a fit does not depend on it, a search
    does."""
    angle = np.arctan2(points[:, 1] - centre[1], points[:, 0] - centre[0])
    return (
        points[np.argsort((angle - angle[0]) % (2 * np.pi))]
        if np.ptp(angle) > np.pi
        else points[np.argsort(angle)]
    )


# So rough are the points that one arc is cheaper than one tangent or two only with a variance to
# match.
VARIANCE = {4.7142: 0.25}


def fit(points, variance=1.0):
    """One element through all points."""
    return fit_elements(*points.T, np.full(len(points), variance), np.array([0, len(points)]))


@pytest.mark.parametrize(("points", "geometric", "digits", "square_sum"), CASES)
def test_geometric_fit(points, geometric, digits, square_sum):
    variance = VARIANCE.get(geometric[2], 1.0)
    found = fit(walked(points, geometric), variance)
    assert len(found) == 1 and found.is_arc[0]
    assert_allclose([found.x[0], found.y[0], found.radius[0]], geometric, rtol=0, atol=digits)
    assert found.chi[0] * variance == pytest.approx(square_sum, abs=6e-5)


@pytest.mark.parametrize(("points", "geometric", "digits", "square_sum"), CASES)
def test_feet_lie_on_the_circle(points, geometric, digits, square_sum):
    points = walked(points, geometric)
    feet = project(fit(points, VARIANCE.get(geometric[2], 1.0)), *points.T)
    assert_allclose(np.hypot(*(feet - geometric[:2]).T), geometric[2], rtol=0, atol=3 * digits)
    assert (np.hypot(*(points - feet).T) ** 2).sum() == pytest.approx(square_sum, abs=6e-5)


def test_all_at_once_equal_each_alone():
    parts = [walked(*case.values[:2]) for case in CASES]
    points = np.concatenate(parts)
    variance = np.repeat([VARIANCE.get(case.values[1][2], 1.0) for case in CASES], 6)
    together = fit_elements(*points.T, variance, np.array([0, 6, 12, 18]))
    assert len(together) == 3
    for k, part in enumerate(parts):
        alone = fit(part, variance[6 * k])
        for name in ("x", "y", "radius", "chi"):
            assert_allclose(
                getattr(together, name)[k], getattr(alone, name)[0], rtol=1e-7, err_msg=name
            )


@pytest.mark.parametrize(("points", "geometric", "digits", "square_sum"), CASES)
def test_far_from_the_origin(points, geometric, digits, square_sum):
    # Easting and northing of a UTM zone cost no digits.
    shift = np.array([500_000.0, 6_000_000.0])
    here = fit(walked(points, geometric))
    there = fit(walked(points, geometric) + shift)
    assert_allclose(
        [there.x - shift[0], there.y - shift[1], there.radius],
        [here.x, here.y, here.radius],
        rtol=0,
        atol=1e-6,
    )


def test_weights_count_as_repeats():
    points = walked(COOKBOOK_ARC, (9.88757, 3.68750))
    twice = np.concatenate([points[:1], points])
    weighted = fit_elements(*points.T, np.array([0.5, 1, 1, 1, 1, 1]), np.array([0, 6]))
    repeated = fit(twice)
    for name in ("x", "y", "radius", "chi"):
        assert_allclose(getattr(weighted, name), getattr(repeated, name), rtol=1e-5, err_msg=name)


# --- the adjustment that works on moments
# ----------------------------------------------------------------------------

# Pratt's circle (1987, Direct least-squares fitting of algebraic surfaces, Computer Graphics 21):
# centre and radius for the same points, worked out apart with an eigenvalue solver; no publication
# prints them.
PRATT = [
    pytest.param(GANDER, (4.61548, 2.80735, 4.91130), id="Gander, Golub, Strebel"),
    pytest.param(COOKBOOK_FULL, (10.55030, 9.70995, 23.41541), id="cookbook, full circle"),
    pytest.param(COOKBOOK_ARC, (9.58259, 3.48654, 27.71749), id="cookbook, short arc"),
]


def adjusted(points, begin):
    """Centre and radius of one arc through all points, from the first estimate `begin`."""
    points = walked(points, begin)
    x, y, radius = begin
    middle = points.mean(axis=0) - begin[:2]
    nx, ny = middle / np.hypot(*middle)
    primitives = Primitives(
        *(np.array([value]) for value in (x + radius * nx, y + radius * ny, -ny, nx, 1 / radius))
    )
    moments = Moments.of(*points.T, np.ones(len(points)), np.array([0, len(points)]))
    found = adjust(
        moments,
        primitives,
        np.array([False]),
        np.array([0, 1]),
        curvatures=(1e-3, 2.0),
        rounds=(60, 0, 0),
    )
    (cx,), (cy,) = found.primitives.centre
    return np.array([cx, cy, 1 / found.primitives.curvature[0]]), found.chi[0]


@pytest.mark.parametrize(("points", "pratt"), PRATT)
@pytest.mark.parametrize("scale", [0.7, 1.0, 1.4])
def test_adjusted_arcs_are_pratts(points, pratt, scale):
    found, chi = adjusted(points, (pratt[0], pratt[1], scale * pratt[2]))
    assert_allclose(found, pratt, rtol=0, atol=1e-4)
    distance = np.hypot(*(points - found[:2]).T)
    assert chi == pytest.approx(
        (((distance**2 - found[2] ** 2) / (2 * found[2])) ** 2).sum(), rel=1e-6
    )


@pytest.mark.parametrize(("points", "pratt"), PRATT)
def test_adjusted_arcs_are_near_the_geometric_ones(points, pratt):
    # These points lie off their circle by up to a quarter of its radius, curbs by a thousandth of
    # theirs. Even so:
    geometric, square_sum = next(case.values[1:4:2] for case in CASES if case.values[0] is points)
    found, _ = adjusted(points, pratt)
    assert found[2] == pytest.approx(geometric[2], rel=0.05)
    off = np.hypot(*(points - found[:2]).T) - found[2]
    assert square_sum <= (off**2).sum() < 1.07 * square_sum


@pytest.mark.parametrize(("points", "geometric", "digits", "square_sum"), CASES)
def test_arcs_as_near_as_curbs_are_geometric(points, geometric, digits, square_sum):
    # The published points drawn towards their circle until they lie as near to it as epochs to a
    # curb.
    centre, radius = np.array(geometric[:2]), geometric[2]
    away = points - centre
    distance = np.hypot(*away.T)
    near = (
        centre
        + away
        * ((radius + (distance - radius) * 0.002 * radius / np.sqrt(square_sum / 6)) / distance)[
            :, None
        ]
    )
    found, _ = adjusted(near, geometric)
    exact = fit(walked(near, geometric), (0.003 * radius) ** 2)
    assert len(exact) == 1 and exact.is_arc[0]
    assert_allclose(found, [exact.x[0], exact.y[0], exact.radius[0]], rtol=0, atol=1e-4 * radius)


# --- a horizontal curve, staked by its table
# -------------------------------------------------------------------------

FOOT = 0.3048  # m
# Route surveying course of open access, Self Study: Horizontal Curves Set 2, Problem 1: delta
# 45-49-45, Dc 7-09-43.1, beginning of the curve at station 50+84.98; the page was read. Station,
# deflection from the back tangent, chord from the beginning of the curve, feet, as its table prints
# them. (For 5724.88 it prints 24-54-52, a slip for 22-54-52; half of delta, 22-54-52.5, is taken.)
STAKES = [
    (5100.00, "0-32-17", 15.02),
    (5200.00, "4-07-08", 114.92),
    (5300.00, "7-42-00", 214.38),
    (5400.00, "11-16-51", 312.99),
    (5500.00, "14-51-43", 410.38),
    (5600.00, "18-26-34", 506.18),
    (5700.00, "22-01-26", 599.99),
    (5724.88, "22-54-52.5", 622.97),
]
BEGINS, DELTA = 5084.98, "45-49-45"
# As printed: tangent length, long chord, length (640 in its header is a slip); R from Dc, E and M
# by the handbooks' formulas.
PARTS = {
    "radius": 800.00,
    "tangent_length": 338.17,
    "chord": 622.97,
    "length": 639.90,
    "external": 68.54,
    "sagitta": 63.13,
}


def angle(text):
    whole, minutes, seconds = map(float, text.split("-"))
    return np.radians(whole + minutes / 60 + seconds / 3600)


def staked(side=1.0):
    """Stakes at full stations of the back tangent, of the curve by deflections and chords, and of
    the forward tangent; feet."""
    back = [(station - BEGINS, 0.0) for station in np.arange(4700.0, BEGINS, 100.0)] + [(0.0, 0.0)]
    primitives = [
        (chord * np.cos(angle(text)), chord * np.sin(angle(text))) for _, text, chord in STAKES
    ]
    ahead = np.array(primitives[-1]) + np.outer(
        np.arange(5800.0, 6200.0, 100.0) - STAKES[-1][0],
        [np.cos(angle(DELTA)), np.sin(angle(DELTA))],
    )
    return np.concatenate([back, primitives, ahead]) * [1.0, side]


@pytest.mark.parametrize("side", [1.0, -1.0])
@pytest.mark.parametrize("backwards", [False, True])
@pytest.mark.parametrize("shift", [0.0, 500_000.0])
def test_a_staked_curve_gives_its_parts_back(side, backwards, shift):
    stakes = staked(side)[::-1] if backwards else staked(side)
    x, y = (stakes * FOOT + [shift, 10 * shift]).T
    # chords printed to 0.01 ft, deflections to a second, which is 0.003 ft at the far end
    chains = fit_chains(x, y, np.full(len(x), (0.004 * FOOT) ** 2), np.array([0, len(x)]))
    table = describe_elements(chains)
    assert table.kind.tolist() == [TANGENT, ARC, TANGENT] and chains.smooth.tolist() == [
        True,
        True,
        False,
    ]
    for name, expected in PARTS.items():
        # R, T, E and M hang on the rounding of all stakes together, and R the most: E is a twelfth
        # of it
        assert getattr(table, name)[1] / FOOT == pytest.approx(
            expected, abs=0.03 if name in ("radius", "length") else 0.015
        ), name
    assert np.radians(abs(table.deflection[1])) == pytest.approx(angle(DELTA), abs=4 / 206265)
    assert np.sign(table.deflection[1]) == -side * (-1 if backwards else 1)  # + to the right
    ends = chains.start[1], chains.end[1]
    expected = stakes[4] * FOOT + [shift, 10 * shift], stakes[12] * FOOT + [shift, 10 * shift]
    if backwards:
        expected = stakes[-13] * FOOT + [shift, 10 * shift], stakes[-5] * FOOT + [shift, 10 * shift]
    assert_allclose(ends, expected, rtol=0, atol=0.05 * FOOT)
    assert abs(chains.radius[1] / FOOT - 800.0) < 2 * chains.radius_sigma[1] / FOOT


# Army FM 5-233, Construction Surveying, chapter 3: I 45, D 15 by arc definition. That the example
# exists was verified, its numbers are from memory: R 381.97, T 158.22, L 300.00. Deflections grow
# by D / 2 = 7.5 degrees for each station of 100 ft, 3.75 for half of one.
@pytest.mark.parametrize("half_stations", [6, 12])
def test_the_army_manuals_curve(half_stations):
    deflection = np.radians(22.5 / half_stations) * np.arange(half_stations + 1)
    chord = np.round(2 * 381.97 * np.sin(deflection), 2)
    primitives = np.column_stack([chord * np.cos(deflection), chord * np.sin(deflection)])
    back, ahead = (
        np.outer(np.arange(-300.0, 0.0, 50.0), [1.0, 0.0]),
        primitives[-1] + np.outer(np.arange(50.0, 350.0, 50.0), [np.sqrt(0.5), np.sqrt(0.5)]),
    )
    x, y = (np.concatenate([back, primitives, ahead]) * FOOT).T
    table = describe_elements(
        fit_chains(x, y, np.full(len(x), (0.004 * FOOT) ** 2), np.array([0, len(x)]))
    )
    assert table.kind.tolist() == [TANGENT, ARC, TANGENT]
    for name, expected in (
        ("radius", 381.97),
        ("tangent_length", 158.22),
        ("length", 300.00),
        ("chord", 292.35),
    ):
        assert getattr(table, name)[1] / FOOT == pytest.approx(expected, abs=0.02), name
