"""Runs of positions along plain shapes, and what must hold of chains that are fitted to them."""

import numpy as np
from epochwalks import along
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.sample_project import simulation as sim
from curbwright.shared.arrays.ragged import group_index

SIGMA = 0.011


CLOSED = {
    "island": sim.island_parts(12.0, 1.5),
    "round": [("arc", 6.0, 360.0)],
    "square": [
        ("line", 9.0),
        ("corner", 90.0),
        ("line", 6.0),
        ("corner", 90.0),
        ("line", 9.0),
        ("corner", 90.0),
        ("line", 6.0),
    ],
}


OPEN = {
    "straight": ([("line", 60.0)], "T"),
    "curb return": ([("line", 20.0), ("arc", 5.0, 90.0), ("line", 18.0)], "TAT"),
    "bend": ([("line", 25.0), ("arc", 60.0, 35.0), ("line", 25.0)], "TAT"),
    "bay": (
        [("line", 20.0), ("corner", 90.0), ("line", 5.0), ("corner", -90.0), ("line", 15.0)],
        "TTT",
    ),
    "block": (
        [("line", 20.0), ("arc", 4.0, 80.0), ("line", 15.0), ("arc", 7.0, -100.0), ("line", 20.0)],
        "TATAT",
    ),
    "reversed": ([("line", 20.0), ("arc", 9.0, 70.0), ("arc", 9.0, -70.0), ("line", 20.0)], "TAAT"),
    "arc into corner": (
        [("line", 20.0), ("arc", 8.0, 80.0), ("corner", -90.0), ("line", 20.0)],
        "TAT",
    ),
}


def runs(shapes, sigma=SIGMA, seed=0, step=0.9, closed=False, heading=0.3):
    """Positions of shapes one after the other: x, y, variance, offsets."""
    parts = [
        along(shape, sigma, seed + k, step, heading, (300.0 * k, 0.0), closed)
        for k, shape in enumerate(shapes)
    ]
    x, y = (np.concatenate(axis) for axis in zip(*parts))
    return (
        x,
        y,
        np.full(len(x), max(sigma, 0.002) ** 2),
        np.concatenate([[0], np.cumsum([len(part[0]) for part in parts])]),
    )


def kinds(chains, run=0):
    own = slice(chains.offsets[run], chains.offsets[run + 1])
    return "".join(np.where(chains.spline[own], "S", np.where(chains.turn[own] != 0, "A", "T")))


def check(chains, x, y, offsets):
    """What must hold of all chains."""
    count, m, number = len(chains), len(x), len(offsets) - 1
    assert (
        len(chains.offsets) == number + 1 and chains.offsets[0] == 0 and chains.offsets[-1] == count
    )
    assert (
        len(chains.bounds) == count + 1
        and chains.bounds[0] == 0
        and chains.bounds[-1] == m
        and (np.diff(chains.bounds) >= 0).all()
    )
    assert_array_equal(chains.bounds[chains.offsets], offsets)
    for name in ("x", "y", "start", "end", "length"):
        assert np.isfinite(getattr(chains, name)).all(), name
    for name in ("chainage", "residual", "sigma", "outlier"):
        assert getattr(chains, name).shape == (m,), name
    assert (
        np.isfinite(chains.chainage).all()
        and np.isfinite(chains.residual).all()
        and np.isfinite(chains.sigma).all()
    )
    assert (chains.length >= 0).all() and (chains.sigma >= 0).all()
    arc = chains.turn != 0
    assert np.isfinite(chains.radius[arc]).all() and np.isinf(chains.radius[~arc]).all()
    assert (chains.radius_sigma[arc] > 0).all() and np.isnan(chains.radius_sigma[~arc]).all()
    assert (chains.ux[arc] == 0).all() and (chains.uy[arc] == 0).all()
    # elements hold together, and lie where they say
    run = group_index(chains.offsets)
    inner = np.flatnonzero(run[1:] == run[:-1])
    assert_allclose(chains.end[inner], chains.start[inner + 1], rtol=0, atol=1e-6)
    first, last = chains.offsets[:-1], chains.offsets[1:] - 1
    ring = np.flatnonzero(chains.closed)
    assert_array_equal(chains.end[last[ring]], chains.start[first[ring]])
    assert not chains.smooth[last[~chains.closed]].any()
    element = np.arange(count)
    begin, leave = chains.at(np.zeros(count), element)
    stop, arrive = chains.at(chains.length, element)
    assert_allclose(begin, chains.start, rtol=0, atol=1e-6)
    assert_allclose(stop, chains.end, rtol=0, atol=1e-5)
    onward = np.append(element[1:], 0)
    onward[last[ring]] = first[ring]
    smooth = np.flatnonzero(chains.smooth)
    # rad: no kink that anyone could see
    assert_allclose(arrive[smooth], leave[onward[smooth]], rtol=0, atol=2e-4)
    away = np.hypot(*(chains.start[arc] - np.column_stack([chains.x, chains.y])[arc]).T)
    assert_allclose(away, chains.radius[arc], rtol=1e-6)
    # chainages never fall, and end with the run
    owner = group_index(offsets)
    assert (np.diff(chains.chainage)[np.diff(owner) == 0] >= 0).all()
    total = np.bincount(run, chains.length, number)
    assert (chains.chainage >= -1e-9).all() and (chains.chainage <= total[owner] + 1e-6).all()
    # the foot and the residual give the position back
    of = group_index(chains.bounds)
    before = np.concatenate([[0.0], np.cumsum(chains.length)])[:-1]
    before -= before[first][run]
    feet, ahead = chains.at(chains.chainage - before[of], of)
    inside = np.abs((x - feet[:, 0]) * ahead[:, 0] + (y - feet[:, 1]) * ahead[:, 1]) < 1e-4
    inside &= ~chains.spline[of]  # a free form is no element
    # + to the right
    back = feet + chains.residual[:, None] * np.column_stack([ahead[:, 1], -ahead[:, 0]])
    assert_allclose(back[inside], np.column_stack([x, y])[inside], rtol=0, atol=1e-4)
    assert m == 0 or inside.mean() > 0.5
