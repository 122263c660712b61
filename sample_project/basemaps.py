"""Invented legacy basemaps with known truth: shifted, digitised with noise, with moved, missing and
demolished lines.

Only numpy is needed. A basemap covers cells of a town that does not exist; each cell holds lines
that are hard to tell apart in a way of its own: top of curb and gutter line side by side, a narrow
island beside a curb, rings, bays with square corners, bends. The edges are the truth with a little
noise; the existing lines are the truth digitised anew, with other vertices, in either direction,
cut and joined otherwise. Everything random comes from the generator that the caller passes in.

How a basemap ages, and how far a gutter line lies from its curb, is common practice, no source.
"""

from dataclasses import dataclass

import numpy as np

from .simulation import Truth

AGREES, DISPLACED, ONLY_NEW, ONLY_EXISTING = "agrees", "displaced", "only_new", "only_existing"
CELL = 70.0
KINDS = ("curb and gutter", "block", "island", "bay", "bend", "single")
GUTTER = (0.3, 0.5)
EDGE_NOISE = 0.007


@dataclass(frozen=True)
class Layer:
    """Lines as ragged arrays; vertices of part ``p`` are ``offsets[p]`` to ``offsets[p + 1] - 1``,
    metres.

    `line`, shape (parts,), is the row that each part belongs to; `status`, one text a row, what it
    should be found to be; `kind` and `source`, the sort of cell and the number of the true line.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    offsets: np.ndarray
    line: np.ndarray
    status: list
    kind: list
    source: np.ndarray

    def __len__(self):
        return len(self.status)


@dataclass(frozen=True)
class Basemap:
    """`edges` as surveyed, `existing` as the basemap has them, and the true `shift` (east, north)
    of the basemap."""

    edges: Layer
    existing: Layer
    shift: tuple


@dataclass(frozen=True)
class _Line:
    """A true line: a chain of elements, seen `aside` metres to its left."""

    truth: Truth
    aside: float
    kind: str
    group: int

    def at(self, chainage):
        points = self.truth.at(chainage)
        heading = self.truth.heading_at(chainage)
        points[:, 0] -= self.aside * np.sin(heading)
        points[:, 1] += self.aside * np.cos(heading)
        return points

    def vertices(self, sagitta, longest):
        """Chainages of vertices: chords of arcs stay within the sagitta, no chord is longer than
        `longest`."""
        chainage = self.truth.polyline(sagitta)[1]
        number = np.maximum(np.ceil(np.diff(chainage) / longest), 1).astype(int)
        pieces = [
            start + step * np.arange(n) / n
            for start, step, n in zip(chainage[:-1], np.diff(chainage), number)
        ]
        return np.append(np.concatenate(pieces), chainage[-1])


def _chain(kind, start, heading, elements, closed=False, ground=(4.0, 0.005, -0.003)):
    """A `Truth` from (length, curvature, turn) of each element."""
    lengths, curvatures, turns = (np.array(column, float) for column in zip(*elements))
    return Truth(kind, tuple(start), heading, lengths, curvatures, turns, closed, ground)


def _rounded(width, depth, radius):
    """Elements of a rectangle with rounded corners, counter-clockwise."""
    arc = (np.pi / 2 * radius, 1 / radius, 0.0)
    return [(width - 2 * radius, 0.0, 0.0), arc, (depth - 2 * radius, 0.0, 0.0), arc] * 2


def _cell(kind, corner, number, rng):
    """True lines of one cell."""
    heading = rng.uniform(0, 2 * np.pi)
    middle = corner + CELL / 2
    way = np.array([np.cos(heading), np.sin(heading)])
    left = np.array([-way[1], way[0]])
    gutter = rng.uniform(*GUTTER)
    if kind in ("curb and gutter", "single"):
        length = rng.uniform(15, 55)
        truth = _chain(kind, middle - way * length / 2, heading, [(length, 0.0, 0.0)])
        return [
            _Line(truth, aside, kind, number)
            for aside in ((0.0, gutter) if kind == "curb and gutter" else (0.0,))
        ]
    if kind == "block":
        width, depth, radius = rng.uniform(20, 34), rng.uniform(15, 24), rng.uniform(3, 6)
        truth = _chain(
            kind,
            middle - way * (width / 2 - radius) - left * depth / 2,
            heading,
            _rounded(width, depth, radius),
            closed=True,
        )
        return [_Line(truth, aside, kind, number) for aside in (0.0, -gutter)]
    if kind == "island":  # narrower than the search distance, and beside a curb
        width, depth, beside = rng.uniform(8, 16), rng.uniform(1.6, 3.0), rng.uniform(2.6, 3.6)
        radius = depth / 2 - 0.1
        island = _chain(
            kind,
            middle - way * (width / 2 - radius),
            heading,
            _rounded(width, depth, radius),
            closed=True,
        )
        length = rng.uniform(25, 45)
        curb = _chain(
            kind, middle - way * length / 2 - left * beside, heading, [(length, 0.0, 0.0)]
        )
        return [
            _Line(island, 0.0, kind, number),
            _Line(curb, 0.0, kind, number),
            _Line(curb, gutter, kind, number),
        ]
    if kind == "bay":
        side, deep, wide = rng.uniform(8, 14), rng.uniform(3.0, 4.0), rng.uniform(8, 14)
        quarter = np.pi / 2
        elements = [
            (side, 0, quarter),
            (deep, 0, -quarter),
            (wide, 0, -quarter),
            (deep, 0, quarter),
            (side, 0, 0),
        ]
        return [
            _Line(
                _chain(kind, middle - way * (side + wide / 2), heading, elements), 0.0, kind, number
            )
        ]
    swing, radius = rng.uniform(0.6, 1.5), rng.uniform(9, 25)
    elements = [
        (rng.uniform(5, 12), 0, 0),
        (swing * radius, 1 / radius, 0),
        (rng.uniform(3, 10), 0, 0),
        (swing * radius, -1 / radius, 0),
    ]
    truth = _chain(kind, middle - way * 20 - left * 8, heading, elements)
    return [_Line(truth, aside, kind, number) for aside in (0.0, gutter)]


def _layer(rows):
    """A `Layer` from (list of parts, status, kind, source) of each row."""
    parts = [part for row in rows for part in row[0]]
    xyz = np.concatenate(parts) if parts else np.zeros((0, 3))
    return Layer(
        *xyz.T.copy(),
        np.concatenate([[0], np.cumsum([len(part) for part in parts])]).astype(np.int64),
        np.repeat(np.arange(len(rows)), [len(row[0]) for row in rows]),
        [row[1] for row in rows],
        [row[2] for row in rows],
        np.array([row[3] for row in rows], int),
    )


def make_basemap(
    rng,
    cells=100,
    shift=(0.35, -0.20),
    noise=0.03,
    moved=0.1,
    missing=0.1,
    demolished=0.05,
    kinds=KINDS,
):
    """Make edges and the basemap that they are compared with.

    Parameters
    ----------
    rng : numpy.random.Generator
    cells : int
        About twice as many lines come of them.
    shift : tuple of float
        Where the whole basemap lies too far east and north, metres.
    noise : float
        1-sigma of the digitising of each vertex and axis, metres.
    moved, missing, demolished : float
        Share of the true lines that the basemap shows 1 to 2 m off (where they were before they
        were rebuilt), that it does not show, and number of lines, as a share of the others, that
        are no longer there.
    kinds : sequence of str
        Sorts of cells, of `KINDS`.

    Returns
    -------
    Basemap
    """
    across = int(np.ceil(np.sqrt(cells * (1 + demolished * 3))))
    places = np.array([(i % across, i // across) for i in range(across * across)], float) * CELL
    lines = [
        line
        for number in range(cells)
        for line in _cell(kinds[number % len(kinds)], places[number], number, rng)
    ]
    fate = rng.permutation(
        np.repeat([DISPLACED, ONLY_NEW, AGREES], _shares(len(lines), moved, missing))
    )
    edges, existing = [], []
    for source, (line, what) in enumerate(zip(lines, fate.tolist())):
        chainage = line.vertices(0.01, 40.0)
        points = line.at(chainage)
        points[:, :2] += rng.normal(0, EDGE_NOISE, 2) + rng.normal(
            0, EDGE_NOISE / 2, (len(points), 2)
        )
        points[:, 2] += rng.normal(0, 2 * EDGE_NOISE)
        if line.truth.closed:
            points[-1] = points[0]
        edges.append(([points], what, line.kind, source))
        if what == ONLY_NEW:
            continue
        existing.append((_digitise(line, what, shift, noise, rng), what, line.kind, source))
    spare = cells
    for _ in range(round(demolished * len(lines))):
        if spare >= len(places):
            break
        line = _cell("single", places[spare], spare, rng)[0]
        existing.append(
            (_digitise(line, ONLY_EXISTING, shift, noise, rng), ONLY_EXISTING, line.kind, -1)
        )
        spare += 1
    rows = rng.permutation(len(existing)).tolist()
    return Basemap(_layer(edges), _layer([existing[row] for row in rows]), tuple(shift))


def _shares(total, *shares):
    numbers = [round(share * total) for share in shares]
    return numbers + [total - sum(numbers)]


def _digitise(line, what, shift, noise, rng):
    """The line as the basemap has it: a list of parts."""
    chainage = line.vertices(0.02, rng.uniform(6, 20))
    points = line.at(chainage)
    points[:, :2] += rng.normal(0, noise, (len(points), 2))
    points[:, 2] += rng.normal(0, 0.05)
    if what == DISPLACED:
        size = rng.uniform(1.0, 1.9) * rng.choice([-1, 1])
        # along a straight line nothing can be seen of a move
        straight = not line.truth.curvatures.any() and not line.truth.turns.any()
        angle = (
            line.truth.heading
            + np.pi / 2
            + (rng.uniform(-0.3, 0.3) if straight else rng.uniform(-np.pi, np.pi))
        )
        points[:, :2] += size * np.array([np.cos(angle), np.sin(angle)])
    points[:, :2] += shift
    if line.truth.closed:
        points[-1] = points[0]
    if rng.random() < 0.5:
        points = points[::-1].copy()
    if len(points) > 5 and rng.random() < 0.2:  # parts that touch
        middle = len(points) // 2
        return [points[: middle + 1], points[middle:]]
    return [points]
