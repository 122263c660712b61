"""Measures of how lines lie to each other, against published and worked-out values.

A = (0 0, 10 0), B = (0 1, 10 1), C = (0 0, 5 2, 10 0) throughout.
"""

import numpy as np
import pytest

from curbwright.shared.lines.comparison import compare
from curbwright.shared.lines.comparison_results import ComparisonSettings
from curbwright.shared.lines.lines import Lines
from curbwright.shared.lines.offsets import hausdorff
from curbwright.shared.lines.rays import Index
from curbwright.shared.lines.simple_buffer import within


def line(*points):
    return Lines.from_columns(*np.array(points, float).T)


A, B, C = line((0, 0), (10, 0)), line((0, 1), (10, 1)), line((0, 0), (5, 2), (10, 0))


@pytest.mark.parametrize(
    ("first", "second", "value"),
    [(A, B, 1.0), (A, C, 2.0), (C, A, 2.0)],
    ids=["A and B", "A and C", "C and A"],
)
def test_hausdorff_by_definition(first, second, value):
    assert hausdorff(first, second) == pytest.approx(value, abs=1e-9)
    assert compare(
        first, second, ComparisonSettings(max_offset=3)
    ).layer.hausdorff == pytest.approx(value, abs=1e-9)


@pytest.mark.parametrize(
    ("spacing", "tolerance"),
    [
        # the point lies at 7 / 13 of the side of 184.39; this makes 130 parts of it
        (1.42, 1e-9),
        # by the definition of the spacing: half of it at most
        (0.05, 0.025),
        pytest.param(0.01, 0.005, marks=pytest.mark.long),
    ],
)
def test_hausdorff_of_the_shapely_documentation_is_the_true_one(spacing, tolerance):
    """The documentation of shapely.hausdorff_distance gives 14.14 from the vertices and 70 with
    densify=0.5 for this pair. The true distance is 74.615384615, at the point of the sloping side
    where x = y (worked out): 970 / 13."""
    first, second = line((130, 0), (0, 0), (0, 150)), line((10, 10), (10, 150), (130, 10))
    assert hausdorff(first, second, spacing) == pytest.approx(970 / 13, abs=tolerance)


# p(x): Goodchild and Hunter 1997, A simple positional accuracy measure for linear features, IJGIS
# 11(3): the formula from memory, its values on these lines worked out: C leaves A linearly up to 2,
# so p(x) = x / 2; B runs beside A at 1.


@pytest.mark.parametrize("spacing", [10.0, 1.0, 0.13])
def test_goodchild_and_hunter(spacing):
    of_c, of_b = within(C, Index(A), spacing, 3.0), within(B, Index(A), spacing, 3.0)
    for x in (0.0, 0.5, 1.0, 1.9, 2.0, 2.5):
        assert float(of_c.share(x)) == pytest.approx(min(x / 2, 1), abs=1e-6)
    assert of_c.half_width(0.95, 3.0) == pytest.approx(1.9, abs=1e-6)
    assert float(of_b.share(0.999)) == 0 and float(of_b.share(1.001)) == pytest.approx(1)
    assert of_b.half_width(0.95, 3.0) == pytest.approx(1.0, abs=1e-6)


def test_the_buffer_measures_of_a_comparison():
    result = compare(C, A, ComparisonSettings(max_offset=3.0))
    buffer = result.buffer
    assert buffer.completeness == pytest.approx(1) and buffer.correctness == pytest.approx(1)
    assert buffer.edges_x95 == pytest.approx(1.9, abs=1e-6)
    assert buffer.edges_within[np.searchsorted(buffer.distance, 0.999)] == pytest.approx(
        buffer.distance[np.searchsorted(buffer.distance, 0.999)] / 2, abs=1e-6
    )
    narrow = compare(C, A, ComparisonSettings(max_offset=1.0)).buffer
    assert narrow.completeness == pytest.approx(0.5, abs=1e-6)


def test_area_between_lines_for_each_metre():
    """McMaster 1986 and later, areal displacement (from memory): A and C enclose 10, which is 1.0
    for each unit of A."""
    assert compare(C, A, ComparisonSettings(max_offset=3.0)).layer.area_per_metre == pytest.approx(
        1.0, abs=1e-9
    )
    assert compare(B, A, ComparisonSettings(max_offset=3.0)).layer.area_per_metre == pytest.approx(
        1.0, abs=1e-9
    )


def test_sinuosity_of_c_by_its_length():
    """2 sqrt(29) / 10, worked out."""
    assert C.length()[0] / 10 == pytest.approx(1.077032961, abs=1e-9)


def test_offsets_of_b_and_c_from_a():
    """A runs to the east: what lies north of it lies to its left and is negative."""
    stations = compare(B, A, ComparisonSettings(max_offset=3.0)).stations
    assert stations.offset == pytest.approx(np.full(10, -1.0))
    stations = compare(C, A, ComparisonSettings(max_offset=3.0, station_spacing=1.0)).stations
    assert stations.offset == pytest.approx(
        -0.4 * np.minimum(stations.chainage, 10 - stations.chainage)
    )
