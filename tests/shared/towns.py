"""Simulated towns: a basemap and the walks along what it shows, with the truth of both.

Streets run in a grid of blocks. The curbs of a block are its four sides, which share their ends;
service roads end on a side (T-junctions); islands are rings in the streets. The basemap is the
former state of the town, drawn with a shift and noise; the edges are walks along its present state.
"""

from dataclasses import dataclass

import numpy as np
from lineshapes import lines_of

EDGE_NOISE, BASEMAP_NOISE = 0.006, 0.030  # m, 1-sigma across
STEP = 0.7  # m, between the vertices of a walk
PITCH = 75.0  # m, from block to block


@dataclass
class Town:
    """A basemap and walks; `existing` and `edges` are `Lines`.

    Attributes
    ----------
    former, present : list of ndarray, shape (v, 2)
        Where each line of the basemap truly was and is; `present` is None where it is gone.
    moved, gone : ndarray of bool, one for each line of the basemap
    partly : ndarray of bool
        Only a stretch of the line was walked.
    new : list of ndarray, shape (v, 2)
        True lines that the basemap does not have.
    shift : ndarray, shape (2,)
        Of the basemap.
    edges_of : list of int
        The line of the basemap that each edge lies along; -1 for new ones.
    """

    existing: object
    edges: object
    former: list
    present: list
    moved: np.ndarray
    gone: np.ndarray
    partly: np.ndarray
    new: list
    shift: np.ndarray
    edges_of: list


def make_town(seed, lines=200, shift=(0.45, -0.30)):
    """A town of about `lines` lines; the same for the same seed."""
    rng = np.random.default_rng(seed)
    shift = np.array(shift)
    blocks = -(-lines // 6)
    former, group = _former_state(rng, blocks)
    present, moved, gone, new = _present_state(rng, former, group)
    drawn = _drawn(rng, former, shift)
    partly = ~moved & ~gone & (rng.random(len(former)) < 0.08)
    edges, edges_of = [], []
    for row, line in enumerate(present):
        if line is not None:
            edges.append(_walk(rng, line, rng.uniform(0.3, 0.6) if partly[row] else 1.0))
            edges_of.append(row)
    edges += [_walk(rng, line, 1.0) for line in new]
    edges_of += [-1] * len(new)
    return Town(
        existing=lines_of(*drawn),
        edges=lines_of(*edges, sigma=np.full(len(edges), EDGE_NOISE)),
        former=former,
        present=present,
        moved=moved,
        gone=gone,
        partly=partly,
        new=new,
        shift=shift,
        edges_of=edges_of,
    )


def _former_state(rng, blocks):
    """Lines of the town as it was, and the number of the group that moves together."""
    lines, group = [], []
    across = int(np.ceil(np.sqrt(blocks)))
    for k in range(blocks):
        origin = PITCH * np.array([k % across, k // across]) + rng.uniform(0, 3, 2)
        corners = origin + np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * rng.uniform(42, 56, 2)
        sides = [np.array([corners[i], corners[(i + 1) % 4]]) for i in range(4)]
        at = sides[0][0] + rng.uniform(0.3, 0.7) * (sides[0][1] - sides[0][0])
        sides.append(np.array([at, at + [0, rng.uniform(12, 25)]]))  # a service road
        lines += sides
        group += [k] * 5
        lines.append(_island(corners[1] + [9.0, 20.0], rng))
        group.append(blocks + k)
    return lines, np.array(group)


def _island(centre, rng):
    angle = np.linspace(0, 2 * np.pi, 33)
    ring = centre + np.column_stack([3 * np.cos(angle), rng.uniform(6, 12) * np.sin(angle)])
    ring[-1] = ring[0]
    return ring


def _present_state(rng, former, group):
    """What became of the lines: a tenth moved as sides of blocks, islands or service roads, a
    twentieth gone (islands and service roads: a curb between two others seldom goes alone)."""
    kind = np.arange(len(former)) % 6  # 0 to 3 sides, 4 service road, 5 island
    moved, gone = np.zeros(len(former), bool), np.zeros(len(former), bool)
    loose = rng.permutation(np.flatnonzero(kind >= 4))
    gone[loose[: round(0.05 * len(former))]] = True
    present = [line.copy() for line in former]
    for block in rng.permutation(group[kind == 0])[: max(round(0.1 * len(former) / 3), 1)]:
        side = rng.integers(0, 4)
        row = 6 * block + side
        out = np.array([[0, -1], [1, 0], [0, 1], [-1, 0]][side]) * rng.uniform(0.35, 0.9)
        present[row] += out
        present[6 * block + (side + 3) % 4][1] += out
        present[6 * block + (side + 1) % 4][0] += out
        moved[row] = True
        if side == 0 and not gone[row + 4]:
            present[row + 4][0] += out
    islands = np.flatnonzero((kind == 5) & ~gone)
    for row in rng.permutation(islands)[: round(0.1 * len(former)) - moved.sum()]:
        heading = rng.uniform(0, 2 * np.pi)
        present[row] += rng.uniform(0.35, 0.9) * np.array([np.cos(heading), np.sin(heading)])
        moved[row] = True
    new = [
        _island(former[6 * block + 1].mean(axis=0) + [-6.0, 5.0], rng)  # clear of all else
        for block in rng.permutation(group[kind == 0])[: round(0.05 * len(former))]
    ]
    return [None if gone[row] else line for row, line in enumerate(present)], moved, gone, new


def _drawn(rng, former, shift):
    """The basemap: each place drawn once, with its own noise, T-junctions on the line."""
    places = {}

    def draw(place):
        key = place.round(6).tobytes()
        if key not in places:
            places[key] = place + rng.normal(0, BASEMAP_NOISE, 2)
        return places[key]

    drawn = [np.array([draw(place) for place in line]) for line in former]
    for row in range(4, len(drawn), 6):
        a, b = drawn[row - 4]
        share = np.hypot(*(former[row][0] - former[row - 4][0])) / np.hypot(
            *(former[row - 4][1] - former[row - 4][0])
        )
        drawn[row][0] = a + share * (b - a)
    return [line + shift for line in drawn]


def _walk(rng, line, share):
    """Vertices of an edge along a share of a line."""
    along = np.append(0, np.cumsum(np.hypot(*np.diff(line, axis=0).T)))
    start = rng.uniform(0, 1 - share) * along[-1]
    at = np.linspace(start, start + share * along[-1], max(int(share * along[-1] / STEP), 2) + 1)
    corners = along[(along > at[0] + STEP / 2) & (along < at[-1] - STEP / 2)]
    far = np.abs(at[:, None] - corners).min(axis=1, initial=np.inf) > STEP / 3
    at = np.union1d(at[far], corners)
    xy = np.column_stack([np.interp(at, along, axis) for axis in line.T])
    xy += rng.normal(0, EDGE_NOISE, xy.shape)
    if share == 1.0 and np.array_equal(line[0], line[-1]):
        xy[-1] = xy[0]
    return xy[::-1] if rng.random() < 0.5 else xy
