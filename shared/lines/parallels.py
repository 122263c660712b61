"""Parallels to edges: lines of a cross-section of the curb next to the edge that was walked.

Vertices of smooth stretches are offset along their normals, so that arcs become concentric arcs,
with vertices added where a wider arc needs them. Corners are mitred or rounded outside and cut
inside. Where elements are smaller than the offset and a parallel runs into itself, it is noded, and
only what keeps its distance from the edge stays.
"""

from dataclasses import dataclass

import numpy as np

from ..arrays.plane import steps
from ..arrays.ragged import group_index, group_sum, offsets_of, place_in_group
from ..tuning import PARALLELS
from .parallel_vertices import EdgeVertices


@dataclass(frozen=True)
class Parallels:
    """Parallels, edge by edge and part by part of the section.

    Attributes
    ----------
    x, y, z : ndarray of float, shape (v,)
        Vertices, metres.
    offsets : ndarray of int, shape (lines + 1,)
    edge, part, piece : ndarray of int, shape (lines,)
        Edge of the input, place in the section, and which piece of it from 0, where one parallel
        falls apart into several.
    closed : ndarray of bool, shape (lines,)
    vanished : ndarray of int, shape (k, 2)
        Edge and part of parallels of which nothing is left.
    mended : int
        Number of parallels that ran into themselves.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    offsets: np.ndarray
    edge: np.ndarray
    part: np.ndarray
    piece: np.ndarray
    closed: np.ndarray
    vanished: np.ndarray
    mended: int

    def __len__(self):
        return len(self.edge)


# long: half of it is the description
def derive_parallels(
    lines, section, mirrored=None, tolerance=0.01, mitre_limit=3.0, progress=lambda share: None
):
    """Derive the parallels of edges.

    Parameters
    ----------
    lines : Lines
        Each part is an edge, with a length; `scale` says how many metres of the frame are one on
        the ground.
    section : sequence of SectionPart
    mirrored : array_like of bool, shape (edges,), optional
        True where the offsets count to the left instead.
    tolerance : float
        How far the edges lie from the curves that they stand for, and how far parallels of arcs may
        lie from the true ones, metres.
    mitre_limit : float
        Maximum distance of an outside corner from that of the edge, as a multiple of the offset;
        sharper corners are rounded. 1 rounds all.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    Parallels

    Raises
    ------
    ValueError
        If the tolerance is not positive, the limit is less than 1, or an edge has no length.
    """
    if not tolerance > 0:
        raise ValueError(f"tolerance must be greater than 0 m, got {tolerance}")
    if not mitre_limit >= 1:
        raise ValueError(f"mitre_limit must be 1 or greater, got {mitre_limit}")
    edges = len(lines.offsets) - 1
    source = EdgeVertices.of(lines)
    sign = np.where(
        np.zeros(edges, bool) if mirrored is None else np.asarray(mirrored, bool), -1.0, 1.0
    )
    scale = lines.scale[lines.line]
    found = _Found([], [])
    mended = 0
    for number, part in enumerate(section):
        if part.offset == 0:
            found.add(
                (source.x, source.y, source.z + part.height, source.offsets),
                np.arange(edges),
                number,
                source.closed,
            )
            continue

        def step(share, number=number):
            progress((number + share) / len(section))

        mended += _derive(
            source,
            sign * scale * part.offset,
            (number, part.height),
            (tolerance, mitre_limit),
            found,
            step,
        )
    progress(1.0)
    return found.parallels(mended)


@dataclass(frozen=True)
class _Found:
    """Parallels found so far, and edge and part of those that nothing is left of."""

    rows: list
    vanished: list

    def add(self, vertices, edge, part, closed, piece=0):
        """Add parallels: x, y, z and offsets, and of each its edge, part and piece."""
        size = len(edge)
        self.rows.append((*vertices, edge, np.full(size, part), np.full(size, piece), closed))

    def parallels(self, mended):
        """All of them, in the order of edges, parts and pieces."""
        x, y, z = (np.concatenate([some[axis] for some in self.rows]) for axis in range(3))
        edge, part, piece, closed = (
            np.concatenate([some[axis] for some in self.rows]) for axis in range(4, 8)
        )
        size = np.concatenate([np.diff(some[3]) for some in self.rows])
        first = offsets_of(size)[:-1]
        order = np.lexsort((piece, part, edge))
        offsets = offsets_of(size[order])
        take = np.repeat(first[order], size[order]) + place_in_group(offsets)
        return Parallels(
            x=x[take],
            y=y[take],
            z=z[take],
            offsets=offsets,
            edge=edge[order],
            part=part[order],
            piece=piece[order],
            closed=closed[order].astype(bool),
            vanished=np.array(self.vanished, np.int64).reshape(-1, 2),
            mended=mended,
        )


def _derive(source, distance, part, limits, found, progress):
    """Add the parallels at a distance from each edge to `found` and return how many ran into
    themselves. `part`: its number and height; `limits`: tolerance and mitre limit."""
    (number, height), (tolerance, mitre_limit) = part, limits
    dense = source.densified(distance, tolerance)
    raw = dense.raw(distance, mitre_limit, tolerance, True)
    least = _least_distance(dense, distance, mitre_limit)
    bad = _runs_into_itself(dense, raw, least, progress)
    x, y, z, offsets = raw
    keep, good = np.repeat(~bad, np.diff(offsets)), np.flatnonzero(~bad)
    found.add(
        (x[keep], y[keep], z[keep] + height, offsets_of(np.diff(offsets)[good])),
        good,
        number,
        source.closed[good],
    )
    rows = np.flatnonzero(bad)
    if not len(rows):
        return 0
    loose = dense.raw(distance, mitre_limit, tolerance, False)
    for count, edge in enumerate(rows.tolist()):
        progress(0.4 + 0.6 * count / len(rows))
        pieces = _mend(dense, edge, loose, distance[edge], least[edge])
        if not pieces:
            found.vanished.append((edge, number))
        for piece, (xyz, closed) in enumerate(pieces):
            vertices = (*xyz[:, :2].T, xyz[:, 2] + height, np.array([0, len(xyz)]))
            found.add(vertices, np.array([edge]), number, np.array([closed]), piece)
    return len(rows)


def _geometries(x, y, offsets):
    import shapely

    return shapely.linestrings(np.column_stack([x, y]), indices=group_index(offsets))


def _least_distance(dense, distance, mitre_limit):
    """Distance that a parallel must keep from its edge, shape (edges,): less than the offset, as
    the chords next to a smooth vertex and those of a rounded corner come nearer."""
    chord = np.append(np.arctan2(np.diff(dense.y), np.diff(dense.x)), 0.0)
    first, last = dense.offsets[:-1], dense.offsets[1:] - 1
    arriving, leaving = np.roll(chord, 1), chord.copy()
    arriving[first], leaving[last] = (
        chord[np.where(dense.closed, last - 1, first)],
        chord[np.where(dense.closed, first, last - 1)],
    )
    turn = np.abs(np.angle(np.exp(1j * (leaving - arriving))))
    turn = np.where(
        dense.rounded(distance, mitre_limit),
        PARALLELS.rounding_angle / 2,
        np.where(turn <= PARALLELS.smooth_angle, turn, 0.0),
    )
    most = np.maximum.reduceat(turn, first)
    return np.maximum(np.abs(distance) * np.cos(most) - PARALLELS.slack, 0.0)


def _runs_into_itself(dense, raw, least, progress):
    """True for parallels that cross themselves or come nearer to their edge than they should, shape
    (edges,)."""
    import shapely

    x, y, _, offsets = raw
    sources, made = _geometries(dense.x, dense.y, dense.offsets), _geometries(x, y, offsets)
    bad = np.empty(len(sources), bool)
    block = PARALLELS.block
    for start in range(0, len(sources), block):
        progress(0.4 * start / len(sources))
        some = slice(start, start + block)
        shapely.prepare(sources[some])
        bad[some] = ~shapely.is_simple(made[some]) | shapely.dwithin(
            sources[some], made[some], least[some]
        )
    return bad


def _mend(dense, edge, loose, distance, least):
    """What remains of a parallel that runs into itself: a list of pairs in the order of the edge,
    the vertices of a piece, shape (k, 3), and True if it is a ring."""
    import shapely

    some = slice(*dense.offsets[edge : edge + 2])
    source = shapely.linestrings(np.column_stack([dense.x[some], dense.y[some]]))
    shapely.prepare(source)
    x, y, _, offsets = loose
    own = slice(*offsets[edge : edge + 2])
    noded = shapely.get_parts(
        shapely.unary_union(shapely.linestrings(np.column_stack([x[own], y[own]])))
    )
    whole = shapely.distance(noded, source) >= least
    # a piece that gets to the other side of the edge, round an end of it, is cut there; what is
    # short enough to be part of a loop goes
    inside = (
        shapely.distance(shapely.line_interpolate_point(noded, 0.5, normalized=True), source)
        < least
    )
    cut, of = shapely.get_parts(
        shapely.difference(noded[~whole], shapely.buffer(source, least, quad_segs=32)),
        return_index=True,
    )
    stub = np.where(
        inside[~whole], 2 * abs(distance), 4 * (abs(distance) - least) + PARALLELS.min_piece
    )[of]
    kept = np.concatenate([noded[whole], cut[shapely.length(cut) > stub]])
    if not len(kept):
        return []
    merged = shapely.get_parts(shapely.line_merge(shapely.multilinestrings(kept)))
    merged = merged[shapely.length(merged) > PARALLELS.min_piece]
    step = np.append(0.0, np.cumsum(np.hypot(np.diff(dense.x[some]), np.diff(dense.y[some]))))
    out = []
    for shape in merged:
        xy = shapely.get_coordinates(shape)
        at = shapely.line_locate_point(source, shapely.points(xy))
        ahead = np.diff(at)
        if dense.closed[edge]:
            ahead = (ahead + step[-1] / 2) % step[-1] - step[-1] / 2
        if ahead.sum() < 0:
            xy, at = xy[::-1], at[::-1]
        closed = bool(shapely.is_closed(shape))
        if closed:  # the seam where that of the edge is
            first = int(np.argmin(np.minimum(at, step[-1] - at)[:-1]))
            xy = np.concatenate([xy[first:-1], xy[: first + 1]])
        xy = shapely.get_coordinates(shapely.simplify(shapely.linestrings(xy), PARALLELS.same))
        at = shapely.line_locate_point(source, shapely.points(xy))
        z = np.interp(at, step, dense.z[some])
        if closed:
            z[-1] = z[0]
        out.append((at.min(), np.column_stack([xy, z]), closed))
    out.sort(key=lambda piece: (piece[0], piece[1][0].tolist()))
    return [(xyz, closed) for _, xyz, closed in out]


def line_lengths(x, y, offsets):
    """Length of each line of ragged arrays.

    Parameters
    ----------
    x, y : ndarray of float, shape (v,)
        Metres.
    offsets : ndarray of int, shape (lines + 1,)

    Returns
    -------
    ndarray of float, shape (lines,)
        Metres.
    """
    return group_sum(steps(x, y, offsets), offsets)
