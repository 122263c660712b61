"""Rows of the table of elements, from chains drawn by hand."""

import numpy as np
import pytest
from handmade import arc, chain, corner, tangent
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.alignment import element_table
from curbwright.shared.alignment.element_table import (
    ARC,
    CORNER,
    KINDS,
    SPLINE,
    TANGENT,
    describe_elements,
    directions,
    run_lengths,
)


def test_a_curb_return_between_tangents():
    table = describe_elements(
        chain(
            {"pieces": [tangent(20), arc(5, 90), tangent(10)], "bearing": 350, "start": (100, 200)}
        )
    )
    assert [KINDS[code] for code in table.kind] == ["tangent", "arc", "tangent"]
    assert_array_equal(table.position, [1, 2, 3])
    assert_allclose(table.bearing, [350, 350, 80], atol=1e-9)
    assert_allclose(table.deflection, [0, 90, 0], atol=1e-9)  # + to the right
    assert_allclose(table.length, [20, 2.5 * np.pi, 10])
    assert_allclose(table.radius, [np.nan, 5, np.nan])
    assert_allclose([table.tangent_length[1], table.chord[1]], [5, 5 * np.sqrt(2)])
    assert (
        np.isnan(table.chord[[0, 2]]).all()
        and np.isnan(table.centre[[0, 2]]).all()
        and np.isnan(table.radius_sigma[[0, 2]]).all()
    )
    assert np.hypot(*(table.centre[1] - table.start[1])) == pytest.approx(5)
    assert_allclose(table.start[1:], table.end[:-1], atol=1e-12)


@pytest.mark.parametrize("angle", [30.0, -30.0, 90.0, -120.0, 179.0])
def test_a_corner_is_told_with_its_sign_and_the_leg_that_leaves(angle):
    table = describe_elements(
        chain([tangent(4), corner(angle), arc(3, -60), corner(angle), tangent(2)])
    )
    assert [KINDS[code] for code in table.kind] == ["tangent", "corner", "arc", "corner", "tangent"]
    assert_array_equal(table.position, np.arange(1, 6))
    assert_allclose(table.deflection, [0, angle, -60, angle, 0], atol=1e-9)
    assert_allclose(
        table.bearing, np.array([0, angle, angle, 2 * angle - 60, 2 * angle - 60]) % 360, atol=1e-9
    )
    assert_allclose(table.length[[1, 3]], 0) and assert_allclose(
        table.start[[1, 3]], table.end[[1, 3]]
    )
    assert_array_equal(table.element, [0, 0, 1, 1, 2])
    assert_array_equal(table.onward, [0, 1, 1, 2, 2])


SQUARE = [
    tangent(6),
    corner(90),
    tangent(4),
    corner(90),
    tangent(6),
    corner(90),
    tangent(4),
    corner(90),
]
ISLAND = [tangent(10), arc(1.5, 180), tangent(10), arc(1.5, 180)]


def test_rings():
    table = describe_elements(
        chain(
            {"pieces": SQUARE, "closed": True},
            {"pieces": ISLAND, "closed": True},
            {"pieces": [arc(4, -360)], "closed": True},
        )
    )
    assert_array_equal(table.run, np.repeat([0, 1, 2], [8, 4, 1]))
    assert_array_equal(table.position, [*range(1, 9), *range(1, 5), 1])
    assert_array_equal(table.kind[:8], [TANGENT, CORNER] * 4)  # the last corner is that of the seam
    assert table.onward[7] == 0 and table.bearing[7] == pytest.approx(0)
    for run, total in enumerate((360, 360, -360)):  # all round
        assert table.deflection[table.run == run].sum() == pytest.approx(total)
    assert (
        np.isnan(table.tangent_length[[9, 11, 12]]).all()
        and table.chord[9] == pytest.approx(3)
        and table.chord[12] == pytest.approx(0)
    )


def test_an_open_run_has_no_corner_at_its_end_and_runs_do_not_touch():
    table = describe_elements(chain([tangent(3)], [tangent(3)], [arc(2, 45), arc(4, -45)]))
    assert_array_equal(table.kind, [TANGENT, TANGENT, ARC, ARC])
    assert_array_equal(table.position, [1, 1, 1, 2])


def test_grid_north_turns_bearings_only():
    chains = chain([tangent(4), corner(-40), tangent(2)])
    plain, turned = describe_elements(chains), describe_elements(chains, np.array([1.5, -0.5]))
    assert_allclose(turned.bearing, [358.5, 320.5, 320.5])
    assert_allclose(turned.deflection, plain.deflection)


@pytest.mark.parametrize("bearing", [0.0, 90.0, 179.9999999, 270.0, 359.9999999999999])
def test_bearings_stay_in_range(bearing):
    found = describe_elements(chain({"pieces": [tangent(5)], "bearing": bearing})).bearing[0]
    assert 0 <= found < 360 and abs((found - bearing + 180) % 360 - 180) < 1e-6


def test_directions_join_where_joints_are_smooth():
    chains = chain([tangent(20), arc(5, 90), arc(8, -30), tangent(10)])
    starts, ends = directions(chains)
    assert_allclose(starts[1:], ends[:-1], atol=1e-12)
    assert_allclose(np.hypot(*starts.T), 1)


def test_a_spline_has_a_bearing_and_a_length_alone():
    from dataclasses import replace

    chains = chain([tangent(5), tangent(3)])
    table = describe_elements(replace(chains, spline=np.array([False, True])))
    assert_array_equal(table.kind, [TANGENT, SPLINE])
    assert (
        np.isnan(table.deflection[1])
        and np.isnan(table.radius[1])
        and table.bearing[1] == pytest.approx(0)
        and table.length[1] == 3
    )


def test_lengths_of_runs():
    assert_allclose(run_lengths(chain([tangent(5), arc(2, 90)], [tangent(1)])), [5 + np.pi, 1])


def test_no_runs():
    table = describe_elements(chain())
    assert len(table) == 0 and len(element_table.run_lengths(chain())) == 0
