"""Line simplification, arcs and fix quality: published or derived values."""

import numpy as np
import pytest
import shapely
from numpy.testing import assert_array_equal

from curbwright.shared.arrays.thinning import thin
from curbwright.shared.epochs.fix_values import is_fixed
from curbwright.shared.epochs.table import EpochTable
from curbwright.shared.reconstruction.reconstruct import Settings, reconstruct

# Quality of a GGA sentence, NMEA 0183, after the field list of the open gpsd project
# (www/NMEA.txt).
QUALITY = {
    0: "fix not available or invalid",
    1: "autonomous",
    2: "differential",
    3: "PPS",
    4: "RTK, fixed integers",
    5: "RTK, float integers",
    6: "estimated",
    7: "manual input",
    8: "simulator",
}


@pytest.mark.parametrize("quality", QUALITY, ids=QUALITY.values())
@pytest.mark.parametrize("kind", [int, float, str, "U4", object])
def test_only_quality_4_is_fixed(quality, kind):
    assert_array_equal(is_fixed(np.array([quality]).astype(kind)), [quality == 4])


# Douglas and Peucker 1973, rule of the paper on five points; the distances 3, 2.057 and 0.548 are
# worked out by hand.
ZIGZAG = np.array([(0, 0), (2, 0.4), (4, -0.3), (6, 3), (10, 0)], float)


@pytest.mark.parametrize(
    ("tolerance", "left"),
    [
        (0.5, [0, 1, 2, 3, 4]),
        (0.547, [0, 1, 2, 3, 4]),
        (0.549, [0, 2, 3, 4]),
        (1.0, [0, 2, 3, 4]),
        (2.06, [0, 3, 4]),
        (2.99, [0, 3, 4]),
        (3.1, [0, 4]),
    ],
)
def test_douglas_and_peucker(tolerance, left):
    ends = np.array([True, False, False, False, True])
    thinned = thin(*ZIGZAG.T, np.full(5, np.nan), ends, np.array([[0, 4]]), tolerance, 1.0)
    assert_array_equal(np.flatnonzero(thinned), left)
    theirs = shapely.simplify(shapely.linestrings(ZIGZAG), tolerance, preserve_topology=False)
    assert_array_equal(shapely.get_coordinates(theirs), ZIGZAG[left])


# Sagitta in millimetres, s = r - sqrt(r^2 - c^2 / 4), for radii of 10, 15 and 25 ft and 30 m, and
# for chords as long as a walk's steps (computed from the definition).
SAGITTA = [
    (3.048, 0.5, 10.27),
    (3.048, 1.0, 41.29),
    (3.048, 1.2, 59.64),
    (3.048, 1.4, 81.47),
    (4.572, 0.5, 6.84),
    (4.572, 1.0, 27.42),
    (4.572, 1.4, 53.90),
    (7.62, 0.5, 4.10),
    (7.62, 1.0, 16.42),
    (7.62, 1.4, 32.22),
    (30.0, 1.0, 4.17),
    (30.0, 1.4, 8.17),
    (100.0, 1.4, 2.45),
]


@pytest.mark.parametrize(("radius", "chord", "sagitta"), SAGITTA)
def test_chord_stands_for_its_arc_from_the_sagitta_on(radius, chord, sagitta):
    half = np.arcsin(chord / 2 / radius)
    angle = np.linspace(-half, half, 41)
    x, y = radius * np.cos(angle), radius * np.sin(angle)
    ends = np.zeros(41, bool)
    ends[[0, -1]] = True

    def number(tolerance):
        return np.count_nonzero(
            thin(x, y, np.full(41, np.nan), ends, np.array([[0, 40]]), tolerance, 1.0)
        )

    assert number((sagitta + 0.006) / 1000) == 2  # the table is rounded to 0.01 mm
    assert number((sagitta - 0.006) / 1000) == 3


@pytest.mark.parametrize(
    ("radius", "degrees", "length"),
    [
        # R 15 ft, 90 degrees: L 23.562 ft by L = R Delta (computed)
        pytest.param(15 * 0.3048, 90.0, 23.562 * 0.3048, id="curb return of 15 ft"),
        # R 381.97, I 45: L 300.00 in the same unit (army field manual 5-233, chapter 3; from
        # memory, reproduces), here at a tenth in metres
        pytest.param(38.197, 45.0, 30.0, id="simple curve"),
    ],
)
def test_arc_length_of_an_edge(radius, degrees, length):
    # Epochs without noise on the arc alone, a step every 0.6 m or so; the written line is within 10
    # mm of the curve.
    angle = np.radians(np.linspace(0, degrees, max(int(np.radians(degrees) * radius / 0.6), 12)))
    table = EpochTable.from_columns(
        radius * np.cos(angle), radius * np.sin(angle), seconds=np.arange(len(angle))
    )
    edges = reconstruct(table, Settings(tolerance=0.002)).edges
    assert len(edges) == 1
    assert edges.length[0] == pytest.approx(length, abs=0.01)
    assert np.abs(np.hypot(edges.x, edges.y) - radius).max() < 0.005
