"""Walks of one edge become one weighted edge; nothing is lost, nothing averaged away."""

import dataclasses

import numpy as np
import pytest
import shapely
from epochwalks import table_of_walks
from lineshapes import arc, lines_of, straight
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.sample_project import simulation as sim
from curbwright.shared.lines.lines import Lines
from curbwright.shared.lines.merge_results import PASS_STATES, REASONS, STATES
from curbwright.shared.lines.passes import MergeSettings, merge_passes
from curbwright.shared.reconstruction.reconstruct import reconstruct

SIGMA = 0.006


def level(y, x=(0.0, 40.0), z=3.0, step=None):
    line = straight(y, x, step)
    return np.column_stack([line, np.full(len(line), z)])


def merge(*shapes, sigma=SIGMA, sigma_up=0.01, group=None, **settings):
    lines = lines_of(*shapes, sigma=sigma)
    return merge_passes(
        lines,
        np.broadcast_to(np.asarray(sigma_up, float), (len(shapes),)),
        group,
        MergeSettings(**settings),
    )


def shape(edges, number):
    rows = slice(edges.offsets[number], edges.offsets[number + 1])
    return np.column_stack([edges.x[rows], edges.y[rows], edges.z[rows]])


def states(result):
    return [STATES[code] for code in result.edges.state]


def reasons(result):
    return [REASONS[code] for code in result.disagreements.reason]


def at(edges, number, x):
    """y and z of an edge that runs along x."""
    line = shape(edges, number)
    line = line[np.argsort(line[:, 0], kind="stable")]
    return np.interp(x, line[:, 0], line[:, 1]), np.interp(x, line[:, 0], line[:, 2])


def from_walks(walks):
    edges = reconstruct(table_of_walks(walks)).edges
    return (
        Lines.from_columns(
            edges.x,
            edges.y,
            edges.z,
            edges.offsets,
            np.arange(len(edges)),
            len(edges),
            edges.sigma_cross,
        ),
        edges.sigma_up,
    )


def messy(seed, edges=6):
    """Walks of all kinds of edges: whole or in part, in either direction, rings more than once,
    with all that goes wrong."""
    rng = np.random.default_rng(seed)
    walks, truths = [], []
    for number in range(edges):
        truth = sim.random_truth(sim.SHAPES[number % 6], rng, (400.0 * number, 0.0))
        truths.append(truth)
        for turn in range(int(rng.integers(1, 5))):
            low, high = (
                sorted(rng.uniform(0, truth.length, 2))
                if rng.random() < 0.6
                else (0.0, truth.length)
            )
            high = (
                low + truth.length * rng.uniform(0.4, 2.3)
                if truth.closed
                else min(max(high, low + 8.0), truth.length)
            )
            low = low if truth.closed else max(0.0, min(low, high - 8.0))
            between = (low, high) if rng.random() < 0.5 else (high, low)
            walks.append(
                sim.walk(truth, rng, sim.SORTS[turn % 2], "", 7200.0 * len(walks), between)
            )
    return (*from_walks(walks), truths)


# By hand


def test_two_walks_are_averaged_by_their_weights():
    # weights 1 / sigma**2: (0 * 4 + 0.02 * 1) / 5; variance of a weighted mean 1 / (sum of weights)
    result = merge(
        level(0.0), level(0.02, z=3.03)[::-1], sigma=[0.005, 0.01], sigma_up=[0.01, 0.02]
    )
    assert states(result) == ["merged"] and result.edges.passes.tolist() == [2]
    y, z = at(result.edges, 0, np.linspace(1, 39, 20))
    assert_allclose(y, 0.02 / 5, atol=1e-9)
    assert_allclose(z, 3.0 + 0.03 / 5, atol=1e-9)
    assert result.edges.sigma[0] == pytest.approx((1 / (1 / 0.005**2 + 1 / 0.01**2)) ** 0.5)
    assert result.edges.sigma_up[0] == pytest.approx((1 / (1 / 0.01**2 + 1 / 0.02**2)) ** 0.5)
    assert result.edges.length[0] == pytest.approx(40.0) and result.edges.shared[
        0
    ] == pytest.approx(40.0)


def test_repeatability_is_the_rms_of_differences_between_walks():
    result = merge(level(0.0), level(0.01), level(0.03, z=3.02))
    differences = [0.01, 0.03, 0.02]
    assert result.repeatability == pytest.approx(np.sqrt(np.mean(np.square(differences))))
    assert result.edges.repeatability[0] == pytest.approx(result.repeatability)
    assert result.repeatability_up == pytest.approx(np.sqrt((0 + 0.02**2 + 0.02**2) / 3))
    assert result.expected == pytest.approx(
        SIGMA * np.sqrt(2)
    ) and result.expected_up == pytest.approx(0.01 * np.sqrt(2))
    passes = result.passes
    # of each walk: the mean from the others' mean, the RMS from each of them; + to the right of the
    # edge, which runs east
    assert_allclose(passes.offset_mean, [0.02, 0.015 - 0.01, -0.025], atol=1e-9)
    assert_allclose(
        passes.offset_rms,
        np.sqrt([(0.01**2 + 0.03**2) / 2, (0.01**2 + 0.02**2) / 2, (0.03**2 + 0.02**2) / 2]),
        atol=1e-9,
    )
    assert_allclose(passes.up_mean, [-0.01, -0.01, 0.02], atol=1e-9)
    assert_allclose(passes.shared, 40.0)


def test_partial_overlap_fades_in_and_out():
    result = merge(level(0.0, (0.0, 30.0)), level(0.02, (20.0, 60.0)), blend=2.0, tolerance=1e-5)
    assert states(result) == ["merged"]
    line = shape(result.edges, 0)
    assert line[0, 0] == pytest.approx(0.0) and line[-1, 0] == pytest.approx(60.0)
    y, _ = at(result.edges, 0, np.array([10.0, 19.0, 25.0, 31.0, 50.0]))
    # as it is where one walk alone saw it
    assert_allclose(y, [0.0, 0.0, 0.01, 0.02, 0.02], atol=1e-4)
    x = np.arange(15.0, 40.0, 0.1)
    steps = np.abs(np.diff(at(result.edges, 0, x)[0]))
    # the difference over the blend length, and what the tolerance lets
    assert steps.max() <= 0.02 * 0.1 / 2.0 * 1.5
    assert result.edges.shared[0] == pytest.approx(10.0, abs=0.5)
    assert_allclose(np.sort(result.passes.shared), 10.0, atol=0.5)


def test_a_corner_stays_one_sharp_corner():
    one, other = (
        [(0, 0, 1), (20, 0, 1), (20, 15, 1)],
        [
            (0.0, 0.012, 1),
            (20.008, 0.012, 1),
            (20.008, 15, 1),
        ],
    )
    result = merge(one, other[::-1])
    line = shape(result.edges, 0)
    assert len(line) == 3
    assert_allclose(line[1], (20.004, 0.006, 1.0), atol=1e-6)  # where the mean legs meet


def test_one_long_walk_beside_short_ones():
    short = [level(0.006, (3.0 + 12 * k, 12.0 + 12 * k)) for k in range(3)]
    result = merge(level(0.0), *short, tolerance=1e-5)
    assert states(result) == ["merged"] and result.edges.passes.tolist() == [4]
    y, _ = at(result.edges, 0, np.array([1.0, 7.5, 13.5, 19.5, 38.0]))
    assert_allclose(y, [0.0, 0.003, 0.0, 0.003, 0.0], atol=2e-3)


def test_edges_without_partner_pass_through_unchanged():
    shapes = [arc(8.0, 0, 2, 9), straight(50.0)[::-1], arc(3.0, 0, 2 * np.pi, 20, (100, 0))]
    shapes[2][-1] = shapes[2][0]
    result = merge(*shapes)
    assert states(result) == ["single"] * 3 and not len(result.disagreements)
    for number, row in enumerate(result.edges.unchanged.tolist()):
        assert_array_equal(shape(result.edges, number)[:, :2], shapes[row])
    assert result.edges.closed.tolist() == [row == 2 for row in result.edges.unchanged]
    assert (
        np.isnan(result.repeatability)
        and np.isnan(result.edges.repeatability).all()
        and np.isnan(result.edges.z).all()
    )


def test_rings_walked_from_different_places():
    def ring(start, turn, shift):
        line = arc(5.0 + shift, start, start + turn * 2 * np.pi, 60)
        line[-1] = line[0]
        return line

    result = merge(ring(0.0, 1, 0.0), ring(2.0, -1, 0.01), arc(5.005, 1.0, 1.0 + 5.5, 50))
    assert states(result) == ["merged"] and result.edges.closed[0] and result.edges.passes[0] == 3
    line = shape(result.edges, 0)
    assert_array_equal(line[0], line[-1])
    # chords of sixty pieces lie up to 7 mm inside
    assert_allclose(np.hypot(*line[:, :2].T), 5.005, atol=8e-3)
    closed = shapely.Polygon(line[:, :2])
    assert closed.is_valid and closed.area == pytest.approx(np.pi * 5.005**2, rel=3e-3)


def test_half_rings_that_overlap_make_a_ring():
    result = merge(arc(6.0, 0.0, 4.0, 60), arc(6.01, 3.0, 7.3, 60))
    assert states(result) == ["merged"] and result.edges.closed[0]
    assert result.edges.length[0] == pytest.approx(2 * np.pi * 6.005, rel=3e-3)


def test_two_laps_in_one_go():
    result = merge(arc(6.0, 0.3, 0.3 + 4 * np.pi, 160))
    assert states(result) == ["merged"] and result.edges.passes[0] == 2
    assert result.edges.length[0] == pytest.approx(2 * np.pi * 6.0, rel=5e-3)
    assert set(result.passes.part) == {0} and len(result.passes) == 2


def test_copies_are_no_further_walks():
    result = merge(level(0.0), level(0.0)[::-1], level(0.01))
    assert result.edges.passes.tolist() == [2]
    assert sorted(PASS_STATES[code] for code in result.passes.state) == ["copy", "merged", "merged"]
    assert at(result.edges, 0, 20.0)[0] == pytest.approx(0.005)


# Not the same edge


def test_top_and_foot_of_a_curb_are_told_apart_by_height():
    top, foot = [level(y, z=3.12) for y in (0.0, 0.004)], [level(y, z=3.0) for y in (0.018, 0.024)]
    result = merge(*top, *foot)
    assert states(result) == ["merged"] * 2 and result.edges.passes.tolist() == [2, 2]
    assert sorted(np.round(at(result.edges, k, 20.0)[1], 3) for k in (0, 1)) == [3.0, 3.12]
    # each walk of one beside the other edge
    assert reasons(result) == ["other_edge"] * 2 and sorted(result.disagreements.part.tolist()) in (
        [2, 3],
        [0, 1],
    )
    assert_allclose(np.abs(result.disagreements.up_mean), 0.12, atol=1e-6)
    flat = merge(*(one[:, :2] for one in (*top, *foot)))  # without heights nothing tells them apart
    assert states(flat) == ["merged"] and flat.edges.passes.tolist() == [4]
    # but for what was written down
    groups = merge(*(one[:, :2] for one in (*top, *foot)), group=[0, 0, 1, 1])
    assert states(groups) == ["merged"] * 2 and not len(groups.disagreements)


def test_parallel_curbs_within_reach_stay_two():
    result = merge(level(0.0), level(0.004), level(0.1), level(0.103))
    assert states(result) == ["merged"] * 2
    assert reasons(result) == ["other_edge"] * len(result.disagreements) and len(
        result.disagreements
    )
    assert_allclose(np.abs(result.disagreements.offset_mean), 0.1, atol=5e-3)
    assert (result.disagreements.allowed < 0.05).all()


def test_neighbours_beyond_reach_are_left_alone():
    result = merge(level(0.0), level(0.3))
    assert states(result) == ["single"] * 2 and not len(result.disagreements)


def test_crossing_and_touching_lines_are_no_walks_of_one_edge():
    result = merge(
        level(0.0), np.array([(10.0, -10.0, 3.0), (12.0, 10.0, 3.0)]), level(0.01, (39.0, 70.0))
    )
    assert states(result) == ["single"] * 3


# Disagreements


def bump(size, y=0.0, x=(14.0, 20.0)):
    return np.array(
        [
            (0, y, 3.0),
            (x[0], y, 3.0),
            (x[0] + 1, y + size, 3.0),
            (x[1] - 1, y + size, 3.0),
            (x[1], y, 3.0),
            (40, y, 3.0),
        ]
    )


def test_a_stretch_of_another_mind_is_kept_apart():
    result = merge(level(0.0), bump(0.09, 0.004))
    assert states(result) == ["merged", "apart"] and reasons(result) == ["plan"]
    y = at(result.edges, 0, np.linspace(0, 40, 200))[0]
    assert (np.abs(y) < 0.02).all()  # not half of 0.09
    apart = shape(result.edges, 1)
    assert apart[:, 1].max() == pytest.approx(0.094)
    # leaves the merged edge and comes back to it
    assert abs(apart[0, 1]) < 0.02 and abs(apart[-1, 1]) < 0.02
    listed = result.disagreements
    assert listed.edge.tolist() == [0] and listed.own.tolist() == [1]
    # to the left of an edge that runs east
    assert abs(listed.offset_max[0]) == pytest.approx(0.09, abs=0.006) and listed.offset_max[0] < 0
    assert 0 < listed.allowed[0] <= 0.035
    assert result.repeatability < 0.02  # without what is listed


@pytest.mark.parametrize("astray", [0, 1, 2])
@pytest.mark.parametrize("size", [0.09, 0.4])
def test_of_three_walks_the_two_that_agree_are_followed(astray, size):
    shapes = [level(0.0, (-1.0, 41.0)), level(0.004, (-0.5, 40.5)), level(0.002)]
    shapes[astray] = np.concatenate(
        [shapes[astray][:1], bump(size, shapes[astray][0, 1])[1:-1], shapes[astray][1:]]
    )
    result = merge(*shapes)
    assert states(result) == ["merged", "apart" if size < 0.15 else "rest"]
    assert (np.abs(at(result.edges, 0, np.linspace(0, 40, 200))[0]) < 0.02).all()
    # where it comes and goes, a detour beyond reach is within it
    assert set(reasons(result)) - {"plan"} == (set() if size < 0.15 else {"parted"})
    assert np.abs(result.disagreements.offset_max).max() == pytest.approx(size, abs=0.01)


def test_a_height_of_another_mind_is_not_averaged():
    # the last one is a little surer, so its height is the one taken
    high = np.array(
        [
            (0, 0.002, 3.0),
            (10, 0.002, 3.0),
            (11, 0.002, 3.2),
            (19, 0.002, 3.2),
            (20, 0.002, 3.0),
            (40, 0.002, 3.0),
        ]
    )
    result = merge(high, level(0.0), sigma_up=[0.01, 0.009])
    assert states(result) == ["merged"] and reasons(result) == ["height"]
    y, z = at(result.edges, 0, np.linspace(0, 40, 80))
    assert_allclose(z, 3.0, atol=0.055)
    assert_allclose(at(result.edges, 0, np.linspace(12, 18, 9))[1], 3.0, atol=0.01)
    assert_allclose(y, 0.001, atol=2e-3)
    assert result.disagreements.up_max[0] == pytest.approx(0.2, abs=0.01)


def test_a_branch_begins_on_the_edge_that_it_leaves():
    branch = np.array([(0, 0.01, 3), (20, 0.01, 3), (26, 6, 3), (30, 12, 3)], float)
    result = merge(level(0.0), branch)
    assert sorted(states(result)) == ["merged", "rest"] and not len(result.disagreements)
    rest = shape(result.edges, 1)
    start = rest[np.argmin(rest[:, 0])]
    merged = shapely.linestrings(shape(result.edges, 0)[:, :2])
    assert shapely.distance(merged, shapely.points(start[:2])) < 1e-6
    assert shapely.distance(shapely.linestrings(rest[:, :2]), shapely.points(30, 12)) < 1e-9


# Simulated walks


@pytest.fixture(scope="module")
def thrice():
    """Three walks of edges of all kinds: RMSE of one and of the merged ones across, of both in
    height, and the result."""
    rng = np.random.default_rng(7)
    walks, truths = [], []
    for number in range(18):
        truth = sim.random_truth(
            sim.SHAPES[number % 6], rng, (400.0 * (number % 6), 400.0 * (number // 6))
        )
        truths.append(truth)
        for turn in range(3):
            between = (truth.length * (1.01 if truth.closed else 1.0), 0.0) if turn == 1 else None
            walks.append(
                sim.walk(
                    truth, rng, "plumb", "", 7200.0 * len(walks), between, sim.Disturbances.none()
                )
            )
    lines, sigma_up = from_walks(walks)
    return truths, lines, merge_passes(lines, sigma_up)


def off_truth(truths, x, y, offsets):
    truth = shapely.multilinestrings(
        [shapely.linestrings(one.polyline(1e-4)[0][:, :2]) for one in truths]
    )
    shapely.prepare(truth)
    found = []
    for low, high in zip(offsets[:-1], offsets[1:]):
        line = shapely.linestrings(np.column_stack([x[low:high], y[low:high]]))
        found.append(
            shapely.distance(
                truth, shapely.line_interpolate_point(line, np.arange(0.05, line.length, 0.1))
            )
        )
    return np.concatenate(found), np.repeat(
        np.arange(len(offsets) - 1), [len(one) for one in found]
    )


def test_three_walks_lose_at_least_the_white_share(thrice):
    truths, lines, result = thrice
    assert states(result) == ["merged"] * len(truths) and (result.edges.passes == 3).all()
    one = np.sqrt(np.mean(off_truth(truths, lines.x, lines.y, lines.offsets)[0] ** 2))
    off, edge = off_truth(truths, result.edges.x, result.edges.y, result.edges.offsets)
    three = np.sqrt(np.mean(off**2))
    slow = sim.CORRELATED_SIGMA
    print(
        f"cross-track RMSE {1000 * one:.2f} mm alone, {1000 * three:.2f} mm of three; white share"
        f" alone would leave {1000 * np.sqrt((one**2 - slow**2) / 3 + slow**2):.2f}, all of it"
        f" {1000 * one / np.sqrt(3):.2f}"
    )
    # the white share at least; and since the slow part of walks at other times is independent too,
    # nearly the root of three
    assert three < np.sqrt((one**2 - slow**2) / 3 + slow**2)
    assert three == pytest.approx(one / np.sqrt(3), rel=0.2)
    # what it says of itself holds: 90 to 98 % in the 95 % band, by edges that differ in sigma
    assert 0.88 < np.mean(off < 1.96 * result.edges.sigma[edge]) < 0.985
    assert result.repeatability == pytest.approx(result.expected, rel=0.25)
    assert len(result.disagreements) <= 5, reasons(result)


def test_double_sigma_in_double_sigma_out(thrice):
    _, lines, result = thrice
    again = merge_passes(
        dataclasses.replace(lines, sigma=2 * lines.sigma), np.full(len(lines), 0.02)
    )
    assert_allclose(again.edges.sigma, 2 * result.edges.sigma, rtol=1e-6)


def tangle(seed):
    """Lines that no surveyor walks: knots, hairpins, rings, repeated vertices, some of them shifted
    copies of stretches of others."""
    rng = np.random.default_rng(seed)
    roots = []
    for _ in range(rng.integers(1, 6)):
        n = int(rng.integers(2, 25))
        turn = rng.normal(0, 0.4, n) * (rng.random(n) < 0.7) + (rng.random(n) < 0.08) * rng.choice(
            [-1.57, 1.57, 3.0], n
        )
        heading = rng.uniform(0, 6.3) + np.cumsum(turn)
        roots.append(
            rng.uniform(0, 15, 2)
            + np.cumsum(
                rng.uniform(0.3, 4, n)[:, None]
                * np.column_stack([np.cos(heading), np.sin(heading)]),
                axis=0,
            )
        )
        if rng.random() < 0.3:
            roots.append(np.concatenate([roots[-1], roots[-1][:1]]))
    shapes = []
    for _ in range(rng.integers(1, 14)):
        line = roots[rng.integers(len(roots))]
        if len(line) > 4 and rng.random() < 0.5:
            low, high = sorted(rng.integers(0, len(line), 2))
            line = line[low : high + 1] if high > low else line
        ring = np.allclose(line[0], line[-1])
        line = line + rng.normal(0, rng.choice([0.0, 0.005, 0.03, 0.1]), line.shape)
        if ring:
            line[-1] = line[0]
        line = np.repeat(line, 2, axis=0) if rng.random() < 0.2 else line
        shapes.append(
            np.column_stack(
                [line, rng.choice([3.0, 3.15, np.nan]) + rng.normal(0, 0.01, len(line))]
            )
        )
    return (
        shapes,
        rng.choice([0.0, 0.005, 0.01], len(shapes)),
        rng.choice([np.nan, 0.01], len(shapes)),
        rng.integers(0, 1 + (rng.random() < 0.3), len(shapes)),
    )


@pytest.mark.parametrize("seed", range(30))
def test_tangles(seed):
    shapes, sigma, sigma_up, group = tangle(seed)
    lines = lines_of(*shapes, sigma=sigma)
    result = merge_passes(lines, sigma_up, group)
    made = [
        np.column_stack([source.x[a:b], source.y[a:b]])
        for source in (result.edges, result.disagreements)
        for a, b in zip(source.offsets[:-1], source.offsets[1:])
    ]
    made, source = (
        shapely.multilinestrings([shapely.linestrings(one) for one in made]),
        shapely.multilinestrings([shapely.linestrings(one[:, :2]) for one in shapes]),
    )
    with np.errstate(invalid="ignore"):
        places = np.concatenate(
            [
                shapely.line_interpolate_point(line, np.arange(0.0, line.length, 0.1))
                for line in shapely.get_parts(source)
            ]
        )
        assert shapely.distance(made, places).max() < 0.2  # nothing lost
        # and nothing made up
        assert shapely.distance(source, shapely.points(result.edges.x, result.edges.y)).max() < 0.35
    assert (result.edges.length > 0).all() and set(result.passes.part) == set(range(len(shapes)))
    rng = np.random.default_rng(seed)
    order, back = rng.permutation(len(shapes)), rng.random(len(shapes)) < 0.5
    again = merge_passes(
        lines_of(*(shapes[row][:: -1 if back[row] else 1] for row in order), sigma=sigma[order]),
        sigma_up[order],
        group[order],
    )
    assert len(again.edges) == len(result.edges)
    assert_allclose(np.sort(again.edges.length), np.sort(result.edges.length), atol=1e-7)


@pytest.mark.parametrize("seed", range(4))
def test_nothing_is_lost(seed):
    lines, sigma_up, _ = messy(seed)
    settings = MergeSettings()
    result = merge_passes(lines, sigma_up, None, settings)
    assert len(result.edges) < len(lines)
    listed = result.disagreements
    made = [
        np.column_stack([source.x[a:b], source.y[a:b]])
        for source in (result.edges, listed)
        for a, b in zip(source.offsets[:-1], source.offsets[1:])
    ]
    tree = shapely.STRtree([shapely.linestrings(one) for one in made])
    for a, b in zip(lines.offsets[:-1], lines.offsets[1:]):
        line = shapely.linestrings(np.column_stack([lines.x[a:b], lines.y[a:b]]))
        _, distance = tree.query_nearest(
            shapely.line_interpolate_point(line, np.arange(0.0, line.length, 0.1)),
            return_distance=True,
            all_matches=False,
        )
        assert distance.max() < settings.max_offset + 0.01
    assert set(result.passes.part) == set(range(len(lines)))  # every source edge is accounted for
    assert (
        np.isfinite(result.edges.x).all()
        and np.isfinite(result.edges.z).all()
        and (result.edges.length > 0).all()
    )
    for number in np.flatnonzero(result.edges.unchanged >= 0).tolist():
        row = result.edges.unchanged[number]
        assert_array_equal(
            shape(result.edges, number),
            np.column_stack([lines.x, lines.y, lines.z])[
                lines.offsets[row] : lines.offsets[row + 1]
            ],
        )


@pytest.mark.parametrize("seed", range(3))
def test_order_and_direction_do_not_matter(seed):
    lines, sigma_up, _ = messy(seed)
    rng = np.random.default_rng(seed)
    first = merge_passes(lines, sigma_up)
    order = rng.permutation(len(lines))
    back = rng.random(len(lines)) < 0.5
    parts = [
        np.arange(lines.offsets[row], lines.offsets[row + 1])[:: -1 if back[row] else 1]
        for row in order.tolist()
    ]
    vertex = np.concatenate(parts)
    shuffled = Lines.from_columns(
        lines.x[vertex],
        lines.y[vertex],
        lines.z[vertex],
        np.concatenate([[0], np.cumsum([len(one) for one in parts])]),
        None,
        None,
        lines.sigma[order],
    )
    second = merge_passes(shuffled, sigma_up[order])

    def places(result):
        lines = (shape(result.edges, number) for number in range(len(result.edges)))
        return sorted(
            tuple(
                map(
                    tuple,
                    np.round(line if tuple(line[0]) <= tuple(line[-1]) else line[::-1], 9).tolist(),
                )
            )
            for line in lines
        )

    def ring_free(result):
        return [line for line in places(result) if line[0] != line[-1]]

    assert ring_free(first) == ring_free(second)
    assert_allclose(np.sort(first.edges.length), np.sort(second.edges.length), atol=1e-9)
    assert first.repeatability == pytest.approx(second.repeatability, rel=1e-9)
    assert sorted(reasons(first)) == sorted(reasons(second))
    assert_allclose(
        np.sort(np.abs(first.passes.offset_mean)),
        np.sort(np.abs(second.passes.offset_mean)),
        atol=1e-9,
    )


def test_an_edge_runs_the_way_that_most_of_its_walks_ran():
    west, east = level(0.0)[::-1], level(0.01, (0.0, 15.0))
    line = shape(merge(west, east).edges, 0)
    assert line[0, 0] > line[-1, 0]
    result = merge(west, east)
    assert sorted(result.passes.same.tolist()) == [False, True]
    assert result.edges.ends[0].tolist() == [[0, 0], [0, 1]]


def test_nothing_in_gives_nothing_out():
    empty = merge_passes(Lines.from_columns([], [], None, [0]))
    assert (
        not len(empty.edges)
        and not len(empty.passes)
        and not len(empty.disagreements)
        and np.isnan(empty.repeatability)
    )
    point = merge(np.array([(1.0, 1.0), (1.0, 1.0)]))
    assert not len(point.edges)


def test_it_can_be_stopped():
    class StopError(Exception):
        pass

    def stop(share):
        raise StopError

    with pytest.raises(StopError):
        merge_passes(lines_of(level(0.0), level(0.01)), progress=stop)


@pytest.mark.parametrize("name", ["max_offset", "min_overlap", "blend", "tolerance"])
@pytest.mark.parametrize("value", [0.0, -1.0, np.nan])
def test_settings_that_make_no_sense(name, value):
    with pytest.raises(ValueError, match=name):
        MergeSettings(**{name: value})


@pytest.mark.parametrize("value", [0.0, 0.4, 1.0, np.nan])
def test_confidence_that_makes_no_sense(value):
    with pytest.raises(ValueError, match="confidence"):
        MergeSettings(confidence=value)
