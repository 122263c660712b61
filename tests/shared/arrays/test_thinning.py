"""Fewer vertices, never farther from the curve than the tolerance. (Published examples:
tests/checks.)"""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.arrays.thinning import balance, farthest, thin, without_needless
from curbwright.shared.tuning import override


def random_curves(seed, count=300, cuts=2):
    """Wiggly curves laid end to end, their heights, and what must be kept."""
    rng = np.random.default_rng(seed)
    heading = np.cumsum(np.cumsum(rng.normal(0, 0.01, count)) * rng.choice([0.3, 1.0, 3.0]))
    step = rng.uniform(0.02, 0.2, count)
    x, y = np.cumsum(step * np.cos(heading)), np.cumsum(step * np.sin(heading))
    z = np.cumsum(np.cumsum(rng.normal(0, 0.0005, count)))
    keep = np.zeros(count, bool)
    keep[[0, -1]] = True
    keep[rng.integers(1, count - 1, cuts)] = True
    return x, y, z, keep


def sections_of(keep):
    ends = np.flatnonzero(keep)
    return np.column_stack([ends[:-1], ends[1:]])


def distances(x, y, z, vertices, vx=None, vy=None):
    """Greatest distance in plan, and in height at the foot, of samples from the chords that stand
    for them."""
    vx, vy = (x[vertices], y[vertices]) if vx is None else (vx, vy)
    plan, up = 0.0, 0.0
    for k, (a, b) in enumerate(zip(vertices[:-1], vertices[1:])):
        ax, ay, bx, by = vx[k], vy[k], vx[k + 1], vy[k + 1]
        square = max((bx - ax) ** 2 + (by - ay) ** 2, 1e-24)
        for i in range(a + 1, b):
            t = min(max(((x[i] - ax) * (bx - ax) + (y[i] - ay) * (by - ay)) / square, 0.0), 1.0)
            plan = max(plan, np.hypot(x[i] - ax - t * (bx - ax), y[i] - ay - t * (by - ay)))
            up = max(up, abs(z[i] - z[a] - t * (z[b] - z[a])))
    return plan, up


def assert_is_near(curves, chosen, tolerance, up_tolerance):
    """The chosen vertices of `random_curves` hold what must be kept, and both tolerances."""
    x, y, z, keep = curves
    assert chosen[keep].all()
    plan, up = distances(x, y, z, np.flatnonzero(chosen))
    assert plan <= tolerance * (1 + 1e-9)
    assert up <= up_tolerance * (1 + 1e-9)


@given(st.integers(0, 10_000), st.floats(0.001, 0.5), st.floats(0.001, 0.5))
def test_tolerance_is_kept_in_plan_and_height(seed, tolerance, up_tolerance):
    x, y, z, keep = random_curves(seed)
    thinned = thin(x, y, z, keep, sections_of(keep), tolerance, up_tolerance)
    assert_is_near((x, y, z, keep), thinned, tolerance, up_tolerance)


def test_the_farthest_sample_is_found_however_far_off_it_is():
    x, y = np.arange(5.0), np.array([0.0, 1.0, 3e9, 2.0, 0.0])
    for chords in ([[0, 4]], [[0, 3], [1, 4], [0, 2]]):
        worst, where = farthest(x, y, np.zeros(5), np.array(chords), 1e-4, 1e-4)
        assert (
            where.tolist() == [2 if last > 2 else 1 for _, last in chords] and (worst > 1e3).all()
        )


@given(st.integers(0, 10_000), st.floats(0.001, 0.5))
def test_every_vertex_is_needed_where_it_was_split(seed, tolerance):
    # Douglas and Peucker 1973 as others have it: GEOS, through shapely. It knows no samples that
    # count as equally far (seed 887, tolerance 0.5: 217 and 218, by 4e-7 of it).
    x, y, _, keep = random_curves(seed, cuts=0)
    with override(THINNING__equal=1e-12):
        thinned = thin(x, y, np.full(len(x), np.nan), keep, sections_of(keep), tolerance, 1.0)
    theirs = shapely.simplify(shapely.linestrings(x, y), tolerance, preserve_topology=False)
    assert_array_equal(np.column_stack([x, y])[thinned], shapely.get_coordinates(theirs))


def test_sections_at_once_equal_each_alone():
    parts = [random_curves(seed, count) for seed, count in ((1, 50), (2, 3), (3, 200), (4, 80))]
    x, y, z, keep = (np.concatenate(columns) for columns in zip(*parts))
    offsets = np.concatenate([[0], np.cumsum([len(part[0]) for part in parts])])
    sections = np.concatenate([sections_of(part[3]) + first for part, first in zip(parts, offsets)])
    whole = thin(x, y, z, keep, sections, 0.02, 0.03)
    for part, first, last in zip(parts, offsets[:-1], offsets[1:]):
        assert_array_equal(whole[first:last], thin(*part, sections_of(part[3]), 0.02, 0.03))


@given(st.integers(0, 10_000), st.floats(0.001, 0.5), st.floats(0.001, 0.5))
def test_needless_samples_lie_on_the_line_through_the_rest(seed, tolerance, up_tolerance):
    x, y, z, keep = random_curves(seed)
    left = without_needless(x, y, z, keep, sections_of(keep), tolerance, up_tolerance)
    # a foot moves along a slope by what a line is off
    assert_is_near((x, y, z, keep), left, tolerance, 2 * up_tolerance)
    # and of a straight line nothing is left but what must stay
    line = np.linspace(0, 1, len(x))
    left = without_needless(line, line, line, keep, sections_of(keep), tolerance, up_tolerance)
    assert_array_equal(left, keep)


def test_needless_samples_of_sections_at_once_are_those_of_each_alone():
    parts = [random_curves(seed, count) for seed, count in ((1, 50), (2, 3), (3, 200), (4, 80))]
    x, y, z, keep = (np.concatenate(columns) for columns in zip(*parts))
    offsets = np.concatenate([[0], np.cumsum([len(part[0]) for part in parts])])
    sections = np.concatenate([sections_of(part[3]) + first for part, first in zip(parts, offsets)])
    whole = without_needless(x, y, z, keep, sections, 0.02, 0.03)
    for part, first, last in zip(parts, offsets[:-1], offsets[1:]):
        alone = without_needless(*part, sections_of(part[3]), 0.02, 0.03)
        assert_array_equal(whole[first:last], alone)


def test_input_is_left_alone():
    x, y, z, keep = random_curves(1)
    before = keep.copy()
    thin(x, y, z, keep, sections_of(keep), 0.001, 0.001)
    assert_array_equal(keep, before)


def test_no_samples_between():
    keep = np.ones(4, bool)
    line = np.arange(4.0)
    assert_array_equal(thin(line, line, line, keep, sections_of(keep), 0.01, 0.01), keep)
    assert_array_equal(thin(line, line, line, keep, np.zeros((0, 2), int), 0.01, 0.01), keep)


def test_height_alone_keeps_a_vertex():
    x = np.linspace(0, 10, 101)
    z = np.where(x > 5, 5 - x, 0.0)
    ends = np.zeros(101, bool)
    ends[[0, -1]] = True
    assert_array_equal(
        np.flatnonzero(thin(x, 0 * x, z, ends, sections_of(ends), 0.01, 0.02)), [0, 50, 100]
    )
    assert_array_equal(
        np.flatnonzero(thin(x, 0 * x, z * np.nan, ends, sections_of(ends), 0.01, 0.02)), [0, 100]
    )


def test_closed_section_is_split_at_its_far_side():
    # First and last sample at one place: the chord is a point.
    angle = np.linspace(0, 2 * np.pi, 401)
    ends = np.zeros(401, bool)
    ends[[0, -1]] = True
    x, y = 5 * np.cos(angle), 5 * np.sin(angle)
    thinned = thin(x, y, 0 * x, ends, sections_of(ends), 0.01, 0.01)
    assert thinned[200]
    assert distances(x, y, 0 * x, np.flatnonzero(thinned))[0] <= 0.01


def test_farthest_by_hand():
    x, y, z = (
        np.array([0.0, 1.0, 3.0, 4.0]),
        np.array([0.0, 0.2, -0.3, 0.0]),
        np.array([0.0, 0.0, 0.0, 4.0]),
    )
    worst, where = farthest(x, y, z, np.array([[0, 3]]), 0.1, 1.0)
    assert_allclose(worst, [3.0])  # 0.3 / 0.1 in plan; the heights are 1 and 3 off, in units of 1
    assert_array_equal(where, [2])
    worst, where = farthest(x, y, z, np.array([[0, 3], [0, 2]]), 1.0, 0.5)
    assert_allclose(worst, [6.0, (0.2 + 0.1) / np.hypot(1, 0.1)], rtol=1e-6)
    assert_array_equal(where, [2, 1])


# --- arcs
# ------------------------------------------------------------------------------------------------


def arc(radius, degrees, sagitta=1e-6):
    angle = np.linspace(
        0, np.radians(degrees), 2 + int(np.radians(degrees) / (2 * np.arccos(1 - sagitta / radius)))
    )
    return radius * np.cos(angle), radius * np.sin(angle)


@pytest.mark.parametrize("radius", [1.5, 3.048, 7.62, 30.0, 250.0])
@pytest.mark.parametrize("degrees", [30.0, 90.0, 180.0, 300.0])
@pytest.mark.parametrize("tolerance", [0.005, 0.01, 0.05])
def test_vertices_of_an_arc_follow_the_sagitta(radius, degrees, tolerance):
    # A chord over the angle a leaves the arc by r (1 - cos(a / 2)); halving gives at most twice the
    # fewest chords.
    fewest = np.ceil(np.radians(degrees) / (2 * np.arccos(1 - tolerance / radius)) - 1e-9)
    x, y = arc(radius, degrees)
    ends = np.zeros(len(x), bool)
    ends[[0, -1]] = True
    thinned = thin(x, y, np.full(len(x), np.nan), ends, sections_of(ends), tolerance, 1.0)
    assert fewest <= np.count_nonzero(thinned) - 1 <= 2 * fewest


@pytest.mark.parametrize("mirror", [1.0, -1.0])
@pytest.mark.parametrize(("radius", "degrees"), [(3.0, 90.0), (6.0, 120.0), (40.0, 70.0)])
def test_balanced_chords_lie_on_both_sides(radius, degrees, mirror):
    x, y = arc(radius, degrees)
    y = mirror * y
    ends = np.zeros(len(x), bool)
    ends[[0, -1]] = True
    keep = thin(x, y, 0 * x, ends, sections_of(ends), 0.01, 0.01)
    vx, vy = balance(x, y, keep, ends, np.zeros(len(x), int), 0.01)
    assert len(vx) == np.count_nonzero(keep)

    def mean_off(px, py):
        middle = np.linspace(0, 1, 201)[:, None]
        points = np.hypot(px[:-1] + middle * np.diff(px), py[:-1] + middle * np.diff(py))
        return (points[:, 1:-1] - radius).mean()  # the ends stay on the curve and keep their bias

    plain = mean_off(x[keep], y[keep])
    assert plain < -0.001
    assert abs(mean_off(vx, vy)) < 0.15 * abs(plain)
    assert (np.hypot(vx, vy)[1:-1] > radius).all()


@given(st.integers(0, 10_000), st.floats(0.002, 0.2))
def test_balanced_lines_keep_the_tolerance_and_their_ends(seed, tolerance):
    x, y, z, fixed = random_curves(seed)
    run = np.zeros(len(x), int)
    border = len(x) // 3
    fixed[[border, border + 1]] = True  # two runs
    run[border + 1 :] = 1
    sections = sections_of(fixed)
    sections = sections[run[sections[:, 0]] == run[sections[:, 1]]]
    keep = thin(x, y, z, fixed, sections, tolerance, tolerance)
    vx, vy = balance(x, y, keep, fixed, run, tolerance)
    vertices = np.flatnonzero(keep)
    still = fixed[vertices]
    assert_array_equal(vx[still], x[fixed])
    assert_array_equal(vy[still], y[fixed])
    for number in (0, 1):
        mine = run[vertices] == number
        plan, _ = distances(x, y, z, vertices[mine], vx[mine], vy[mine])
        assert plan <= tolerance * (1 + 1e-9)


def test_straight_lines_are_not_moved():
    x = np.linspace(0, 10, 11)
    keep = np.ones(11, bool)
    vx, vy = balance(x, 2 * x, keep, np.zeros(11, bool), np.zeros(11, int), 0.01)
    assert_allclose(vx, x, atol=1e-12)
    assert_allclose(vy, 2 * x, atol=1e-12)


def test_lines_of_one_vertex_stay():
    x, y = np.arange(3.0), np.zeros(3)
    flags = np.ones(3, bool)
    found = balance(x, y, flags, ~flags, np.arange(3), 0.05)
    assert_array_equal(found, (x, y))
