"""Walks of one edge become one weighted edge; nothing is lost, nothing averaged away."""

import numpy as np
import pytest
import shapely
from lineshapes import lines_of
from mergedwalks import from_walks, level, merge, reasons, shape
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.sample_project import simulation as sim
from curbwright.shared.lines.lines import Lines
from curbwright.shared.lines.passes import MergeSettings, merge_passes


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


@pytest.mark.one_in(3)
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


@pytest.mark.one_in(2)
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


@pytest.mark.one_in(3)
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
