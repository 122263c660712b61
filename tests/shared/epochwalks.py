"""Plain walks with known shape for the tests of the core, and what must hold of every result."""

import dataclasses

import numpy as np

from curbwright.sample_project import simulation as sim
from curbwright.shared.arrays.ragged import group_index
from curbwright.shared.epochs.reasons import Reason
from curbwright.shared.epochs.table import EpochTable
from curbwright.shared.reconstruction.reconstruct import BREAK_NAMES, Settings, describe

STEP = 1.2  # m in one second
SLACK = 1e-6


def along(
    parts, noise=0.0, seed=0, step=STEP, heading=0.3, start=(0.0, 0.0), closed=False, until=None
):
    """Even steps along a chain of parts (see `simulation.chain`), with white noise: x, y, shape
    (n,)."""
    truth = sim.chain("test", parts, start, heading, closed)
    s = np.arange(0.0, truth.length if until is None else until, step)
    x, y = truth.at(s)[:, :2].T
    rng = np.random.default_rng(seed)
    return x + rng.normal(0, noise, len(s)), y + rng.normal(0, noise, len(s))


def straight(count, noise=0.006, seed=0):
    """Epochs along one straight line: x, y, shape (count,)."""
    return along([("line", 10_000.0)], noise, seed, until=(count - 0.5) * STEP)


def table_of(x, y, **columns):
    """A table with one epoch a second and level heights, where nothing else is said."""
    x = np.asarray(x, float)
    return EpochTable.from_columns(
        x, y, **{"z": np.full(len(x), 5.0), "seconds": np.arange(float(len(x))), **columns}
    )


def table_of_captures(walks):
    """Walks as captures of one table, an hour apart: the table, and the rows of each as a slice.

    One call then serves all seeds of a test. `walks`: dicts of columns, x and y at least.
    """
    sizes = [len(walk["x"]) for walk in walks]
    ends = np.cumsum(sizes)
    names = walks[0].keys()
    columns = {name: np.concatenate([walk[name] for walk in walks]) for name in names}
    capture = np.repeat(np.arange(len(walks)), sizes)
    seconds = np.arange(float(ends[-1])) + 3600.0 * capture
    table = table_of(**{"capture": capture, "seconds": seconds, **columns})
    return table, [slice(end - size, end) for size, end in zip(sizes, ends)]


def trial(seed=3, captures=4, **disturbances):
    """A few simulated walks of all kinds, with everything that goes wrong on them, as one table and
    the walks."""
    rng = np.random.default_rng(seed)
    walks = []
    for number in range(captures):
        truth = sim.random_truth(sim.SHAPES[number % len(sim.SHAPES)], rng, (200.0 * number, 0.0))
        walks.append(
            sim.walk(
                truth,
                rng,
                sim.SORTS[number % 2],
                f"c{number}",
                3600.0 * number,
                disturbances=sim.Disturbances(**disturbances),
            )
        )
    return table_of_walks(walks), walks


def table_of_walks(walks):
    """The epochs of simulated walks, each a capture of its own."""

    def column(name):
        return np.concatenate([getattr(walk, name) for walk in walks])

    return EpochTable.from_columns(
        column("x"),
        column("y"),
        column("z"),
        column("seconds"),
        np.repeat(np.arange(len(walks)), [len(walk) for walk in walks]),
        column("fix") == sim.FIXED,
        column("h_acc"),
        column("v_acc"),
    )


def wander(seed, count, shift=0.0):
    """Rows as walks are made of: steps, stands, jumps, turns back, pauses, several captures, some
    of them bad."""
    rng = np.random.default_rng(seed)
    heading = np.cumsum(
        rng.choice([0.0, 0.05, -0.3, np.pi / 2, np.pi], count, p=[0.7, 0.1, 0.1, 0.06, 0.04])
    )
    step = rng.choice([1.2, 0.0, 0.4, 8.0], count, p=[0.75, 0.15, 0.07, 0.03])
    x = np.cumsum(step * np.cos(heading)) + rng.normal(0, 0.01, count)
    y = np.cumsum(step * np.sin(heading)) + rng.normal(0, 0.01, count)
    x[rng.random(count) < 0.03] += 0.7
    z = 5 + rng.normal(0, 0.015, count) + (rng.random(count) < 0.02)
    z[rng.random(count) < rng.choice([0.0, 0.1, 1.0])] = np.nan
    t = np.cumsum(rng.choice([1.0, 0.0, 2.0, 6.0, 100.0], count, p=[0.85, 0.03, 0.06, 0.04, 0.02]))
    x[rng.random(count) < 0.02] = np.nan
    t[rng.random(count) < 0.02] = np.nan
    capture = np.sort(rng.choice([0, 2, 3, 9], count))
    return EpochTable.from_columns(
        x + shift,
        y + 10 * shift,
        z,
        t,
        capture,
        rng.random(count) > 0.06,
        rng.choice([0.008, 0.02, np.nan, 0.09], count),
    )


def take(table, rows):
    """Some rows of a table, in any order."""
    return EpochTable(
        *(getattr(table, column.name)[rows] for column in dataclasses.fields(EpochTable))
    )


def moved(table, **columns):
    return dataclasses.replace(table, **columns)


def line(edges, number):
    """Vertices of one edge, shape (v, 3)."""
    part = slice(edges.offsets[number], edges.offsets[number + 1])
    return np.column_stack([edges.x[part], edges.y[part], edges.z[part]])


def off_line(points, vertices):
    """Distance of points from a line in plan, shape (n,)."""
    a, d = vertices[:-1, :2], np.diff(vertices[:, :2], axis=0)
    to = points[:, None, :2] - a[None]
    share = np.clip((to * d).sum(axis=2) / np.maximum((d * d).sum(axis=1), 1e-24), 0, 1)
    return np.hypot(*(to - share[:, :, None] * d).transpose(2, 0, 1)).min(axis=1)


def check(table, result, settings=None):
    """What must hold of every result, whatever went in."""
    settings = settings or Settings()
    n, edges, gaps, stream = len(table), result.edges, result.gaps, result.stream
    count = len(edges)
    kept = result.reason == Reason.KEPT

    # every row in exactly one place
    for name in (
        "reason",
        "amount",
        "role",
        "height_used",
        "edge",
        "chainage",
        "residual_cross",
        "residual_up",
    ):
        assert getattr(result, name).shape == (n,), name
    assert ((result.edge >= 0) == kept).all()
    assert (result.edge < count).all() and (result.edge >= -1).all()
    assert ((result.role > 0) == kept).all() and (result.role <= 2).all()
    assert (
        np.isfinite(result.chainage[kept]).all() and np.isfinite(result.residual_cross[kept]).all()
    )
    for column in (result.chainage, result.residual_cross, result.residual_up):
        assert np.isnan(column[~kept]).all()
    assert not result.height_used[~kept].any()
    assert not (result.height_used & np.isnan(table.z)).any()
    sentences = describe(result.reason, result.amount)
    assert [bool(text) for text in sentences] == (~kept).tolist()
    assert not any("nan" in text for text in sentences)

    # reasons that the row alone decides, the strongest first
    position = np.isfinite(table.x) & np.isfinite(table.y) & (table.parts == 1)
    with np.errstate(invalid="ignore"):
        alone = np.select(
            [
                ~position,
                ~np.isfinite(table.seconds),
                ~table.fixed,
                table.sigma_h > settings.max_h_accuracy,
            ],
            [Reason.NO_POSITION, Reason.NO_TIME, Reason.NOT_FIXED, Reason.POOR_ACCURACY],
            0,
        )
    assert (result.reason[alone > 0] == alone[alone > 0]).all()
    assert (result.reason[alone == 0] > Reason.POOR_ACCURACY).sum() + kept.sum() == (
        alone == 0
    ).sum()

    # edges
    assert edges.offsets[0] == 0 and edges.offsets[-1] == len(edges.x) == len(edges.y) == len(
        edges.z
    )
    assert (np.diff(edges.offsets) >= 2).all()
    assert np.isfinite(edges.x).all() and np.isfinite(edges.y).all()
    for column in dataclasses.fields(edges):
        if column.name not in ("x", "y", "z", "offsets"):
            assert getattr(edges, column.name).shape == (count,), column.name
    unknown = np.isnan(edges.z)
    of_edge = group_index(edges.offsets)
    # a whole edge has heights or none
    assert (unknown == unknown[edges.offsets[:-1]][of_edge]).all()
    assert (np.bincount(result.edge[kept], minlength=count) == edges.epochs_used).all()
    assert (edges.epochs_used >= 3).all() and (edges.epochs_rejected >= 0).all()
    assert (table.capture[kept] == edges.capture[result.edge[kept]]).all()
    assert (table.seconds[kept] >= edges.started[result.edge[kept]]).all()
    assert (table.seconds[kept] <= edges.ended[result.edge[kept]]).all()
    assert (edges.started < edges.ended).all()
    for capture in np.unique(edges.capture):
        mine = np.flatnonzero(edges.capture == capture)
        assert (edges.run[mine] == np.arange(1, len(mine) + 1)).all()
        assert (edges.started[mine[1:]] > edges.ended[mine[:-1]]).all()
    assert (result.chainage[kept] >= -SLACK).all()
    assert (result.chainage[kept] <= edges.length[result.edge[kept]] + SLACK).all()
    if (table.scale == 1).all():
        legs = np.hypot(np.diff(edges.x), np.diff(edges.y))[np.diff(of_edge) == 0]
        owner = of_edge[1:][np.diff(of_edge) == 0]
        np.testing.assert_allclose(
            np.bincount(owner, legs, minlength=count), edges.length, rtol=1e-9, atol=1e-9
        )
    square = np.bincount(result.edge[kept], result.residual_cross[kept] ** 2, minlength=count)
    np.testing.assert_allclose(
        edges.rms_residual, np.sqrt(square / np.maximum(edges.epochs_used, 1)), rtol=1e-6, atol=1e-9
    )
    assert (edges.rms_residual <= edges.max_residual + 1e-9).all()
    assert np.isfinite(edges.sigma_cross).all() and (edges.sigma_cross > 0).all()
    assert (np.isfinite(edges.sigma_up) | unknown[edges.offsets[:-1]]).all()
    first, last = edges.offsets[:-1], edges.offsets[1:] - 1
    closes = (edges.x[first] == edges.x[last]) & (edges.y[first] == edges.y[last])
    assert (closes | ~edges.closed).all()

    # no edge across a gap over both limits; epochs of one place may lie twice a hand's breadth
    # beside their mean
    order = np.lexsort((table.seconds, result.edge))
    order = order[kept[order]]
    same = np.diff(result.edge[order]) == 0
    pause = np.diff(table.seconds[order])
    step = np.hypot(np.diff(table.x[order]), np.diff(table.y[order]))
    own = table.capture[order][1:]
    assert not (
        same & (pause > stream.time_limit[own]) & (step > stream.distance_limit[own] + 0.6)
    ).any()

    # gaps
    assert gaps.x.shape == gaps.y.shape == gaps.z.shape == (len(gaps), 2)
    assert np.isfinite(gaps.x).all() and np.isfinite(gaps.y).all()
    assert (gaps.before_edge == gaps.after_edge + 1).all()
    assert (gaps.metres >= 0).all() and (gaps.seconds >= 0).all()
    within = edges.capture[gaps.after_edge] == edges.capture[gaps.before_edge]
    assert ((gaps.reason == BREAK_NAMES.index("new_capture")) == ~within).all()
    for reasons, outer in ((edges.start_reason, "start"), (edges.end_reason, "end")):
        assert (reasons < len(BREAK_NAMES)).all()
        assert np.count_nonzero(reasons == BREAK_NAMES.index(outer)) == min(count, 1)
    if count:
        assert edges.start_reason[0] == BREAK_NAMES.index("start") and edges.end_reason[
            -1
        ] == BREAK_NAMES.index("end")
        assert (edges.end_reason[:-1] == edges.start_reason[1:]).all()
