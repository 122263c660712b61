"""Points along elements, for lines and arcs in any CRS, and their heights."""

from dataclasses import replace

import numpy as np
import pytest
from handmade import arc, chain, corner, tangent
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.alignment.element_table import run_lengths
from curbwright.shared.alignment.tracing import (
    element_starts,
    grade_breaks,
    heights_at,
    min_pieces,
    pieces_kept_true,
    points_at,
    trace,
)

SOME = [tangent(20), arc(5, 90), corner(-40), tangent(7), arc(300, -20), arc(1, 300), tangent(2)]


def whole(chains, **more):
    every = np.arange(len(chains.length))
    return trace(
        chains,
        every,
        np.zeros(len(every)),
        chains.length,
        np.zeros((len(chains.chainage), 2)),
        **more,
    )


def test_each_path_starts_where_the_one_before_ends():
    chains = chain(SOME)
    path = whole(chains)
    first, last = path.offsets[:-1], path.offsets[1:] - 1
    assert_array_equal(np.diff(path.offsets), [2, 3, 2, 2 + 1, 3, 2][:3] + [3, 3, 2])
    assert_array_equal(path.x[first[1:]], path.x[last[:-1]])
    assert_array_equal(path.y[first[1:]], path.y[last[:-1]])
    assert_allclose(path.chainage[first], element_starts(chains))
    assert path.chainage[-1] == pytest.approx(run_lengths(chains)[0])


def test_points_of_arcs_lie_on_them_and_the_second_halfway():
    chains = chain(SOME)
    path = whole(chains)
    for p in np.flatnonzero(path.arc):
        e, rows = path.element[p], slice(path.offsets[p], path.offsets[p + 1])
        away = np.hypot(path.x[rows] - chains.x[e], path.y[rows] - chains.y[e])
        assert_allclose(away, chains.radius[e], rtol=1e-12)
        assert_allclose(
            np.diff(path.chainage[rows]), chains.length[e] / (rows.stop - rows.start - 1)
        )


@pytest.mark.parametrize(
    ("deflection", "pieces"), [(90, 1), (180, 1), (-270, 1), (271, 2), (-360, 2)]
)
def test_a_full_circle_is_two_arcs(deflection, pieces):
    assert min_pieces(chain([arc(3, deflection)])) == [pieces]


def test_parts_of_elements():
    chains = chain([tangent(10), arc(2, 90)])
    path = trace(
        chains, np.array([0, 1]), np.array([9.5, 0.0]), np.array([10.0, 0.5]), np.zeros((6, 2))
    )
    assert_allclose([path.x[0], path.y[0]], [0, 9.5])
    assert_array_equal(np.diff(path.offsets), [2, 3])
    assert_allclose(np.hypot(path.x[2:] - 2, path.y[2:] - 10), 2)
    assert path.chainage[-1] == pytest.approx(10.5)


def test_wanted_points_are_there_and_arcs_keep_an_odd_number():
    chains = chain([tangent(10), arc(2, 90)])
    path = whole(chains, breaks=(np.array([1, 0, 0]), np.array([1.0, 7.0, 3.0])))
    assert_allclose(path.y[:4], [0, 3, 7, 10])
    assert_allclose(path.chainage[4:] - 10, np.array([0, 0.5, 1, (1 + np.pi) / 2, np.pi]))


def test_points_along_elements():
    chains = chain(SOME)
    along = np.array([0.0, 5.0, 20.0, -1.0, 30.0])
    assert_allclose(
        points_at(chains, np.zeros(5, int), along, np.zeros((18, 2))),
        [(0, 0), (0, 5), (0, 20), (0, 0), (0, 20)],
    )


def test_a_spline_runs_through_its_feet():
    chains = replace(
        chain([tangent(5), tangent(6), tangent(5)]), spline=np.array([False, True, False])
    )
    feet = np.column_stack([np.where(np.arange(9) // 3 == 1, 0.3, 0.0), chains.chainage])
    every = np.arange(3)
    path = trace(chains, every, np.zeros(3), chains.length, feet)
    assert_array_equal(np.diff(path.offsets), [2, 5, 2])
    assert_allclose(path.x[2:7], [0, 0.3, 0.3, 0.3, 0])
    half = points_at(chains, np.array([1]), np.array([0.5]), feet)  # halfway to the first foot
    assert_allclose(half, [[0.15, 5.5]])


# Other CRSs: a plane that stretches as the CRS does at one place


def there_and_back(stretch_x, stretch_y=1.0):
    return (lambda x, y, run: (x * stretch_x, y * stretch_y)), (
        lambda x, y, run: (x / stretch_x, y / stretch_y)
    )


def test_a_conformal_crs_keeps_arcs_whole():
    chains = chain(SOME)
    assert_array_equal(
        pieces_kept_true(chains, *there_and_back(1.74, 1.74), 0.001), min_pieces(chains)
    )


@pytest.mark.parametrize(
    "stretch", [1.002, 1.74]
)  # web Mercator on the ellipsoid; degrees at 55 degrees north
def test_where_circles_turn_to_ellipses_pieces_stay_near(stretch):
    chains = chain([tangent(50), arc(5, 90), arc(40, -120), arc(0.5, 180), arc(300, 60)])
    there, back = there_and_back(stretch)
    pieces = pieces_kept_true(chains, there, back, 0.001)
    assert (
        pieces[0] == 1 and (pieces[1:] <= 256).all() and (stretch < 1.1 or (pieces[1:] > 1).all())
    )
    # each written arc, sampled, against the true one: by its own three points, apart from the code
    # under test
    path = whole(chains, pieces=pieces)
    for p in np.flatnonzero(path.arc):
        e = path.element[p]
        for a in range(path.offsets[p], path.offsets[p + 1] - 1, 2):
            z = there(path.x[a : a + 3], path.y[a : a + 3], 0)
            z = z[0] + 1j * z[1]
            w = (z[2] - z[0]) / (z[1] - z[0])
            centre = (z[1] - z[0]) * (w - abs(w) ** 2) / (2j * w.imag) + z[0]
            turn = np.angle((z[2] - centre) / (z[0] - centre)) % (2 * np.pi)
            turn = turn - 2 * np.pi if chains.turn[e] < 0 else turn
            drawn = centre + (z[0] - centre) * np.exp(1j * turn * np.linspace(0, 1, 21))
            x, y = back(drawn.real, drawn.imag, 0)
            assert (
                np.abs(np.hypot(x - chains.x[e], y - chains.y[e]) - chains.radius[e]).max()
                < 0.00105
            )


def test_without_splitting_they_would_not():
    chains = chain([arc(5, 90)])
    assert pieces_kept_true(chains, *there_and_back(1.74), 0.001)[0] >= 4
    assert pieces_kept_true(chains, *there_and_back(1.74), 1.0)[0] == 1


def test_long_straights_are_split_where_the_crs_bends_them():
    chains = chain([tangent(2000)], [tangent(50)])
    bend = 1e-8  # as degrees do at 55 degrees north: about L^2 / 8 R

    def there(x, y, run):
        return x + bend * y * y, y

    def back(x, y, run):
        return x - bend * y * y, y

    assert_array_equal(pieces_kept_true(chains, there, back, 0.001), [4, 1])


# Heights


def test_heights_follow_the_positions():
    chains = chain([tangent(10), arc(2, 90)], [tangent(4)], positions=5)
    z = 3 + 0.1 * chains.chainage
    z[10:] = np.nan
    at = np.array([0.0, 5.0, 12.0, 99.0])
    ends = chains.chainage[[0, 9]]
    assert_allclose(heights_at(chains, np.zeros(4, int), at, z), 3 + 0.1 * np.clip(at, *ends))
    assert np.isnan(heights_at(chains, np.ones(1, int), np.array([2.0]), z)).all()
    z[2] = np.nan  # between its neighbours
    assert heights_at(chains, np.zeros(1, int), chains.chainage[[2]], z) == pytest.approx(
        3 + 0.1 * chains.chainage[2]
    )


def test_heights_go_round_the_seam_of_a_ring():
    chains = chain({"pieces": [arc(4, 360)], "closed": True}, positions=8)
    z = np.cos(chains.chainage / 4)
    start, end = heights_at(chains, np.zeros(2, int), np.array([0.0, 8 * np.pi]), z)
    assert start == pytest.approx(end) and start == pytest.approx((z[0] + z[-1]) / 2)


def test_a_dropped_curb_is_kept():
    # 120 mm down over 1.5 m, level for 3 m, and up again, as ramps are built (common practice, no
    # source)
    chains = chain([tangent(30)], positions=121)
    s = chains.chainage
    z = 5 - np.interp(s, [10, 11.5, 14.5, 16], [0, 0.12, 0.12, 0])
    element, along = grade_breaks(chains, z, 0.02)
    assert len(along) == 4 and (element == 0).all()
    path = whole(chains, breaks=(element, along))
    assert (
        np.abs(
            np.interp(s, path.chainage, heights_at(chains, np.zeros(6, int), path.chainage, z)) - z
        ).max()
        <= 0.02 + 1e-9
    )


def test_an_even_grade_needs_no_points():
    chains = chain(SOME, positions=20)
    element, along = grade_breaks(chains, 1 + 0.02 * chains.chainage, 0.02)
    assert len(element) == len(along) == 0
    assert len(grade_breaks(chains, np.full(len(chains.chainage), np.nan), 0.02)[0]) == 0
