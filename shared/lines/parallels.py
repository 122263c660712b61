"""Parallels to edges: lines of a cross-section of the curb next to the edge that was walked.

Vertices of smooth stretches are offset along their normals, so that arcs become concentric arcs,
with vertices added where a wider arc needs them. Corners are mitred or rounded outside and cut
inside. Where elements are smaller than the offset and a parallel runs into itself, it is noded, and
only what keeps its distance from the edge stays.
"""

import re
from dataclasses import dataclass

import numpy as np

from ..arrays.plane import steps
from ..arrays.ragged import cumulative, group_index, group_sum, offsets_of, place_in_group
from ..tuning import PARALLELS
from .lines import is_ring

_NUMBER = r"[-+−]?(?:\d+[.,]?\d*|[.,]\d+)"
_ITEM = re.compile(
    rf"^\s*(?P<name>[^:;]*?)\s*:\s*(?P<offset>{_NUMBER})\s*m?\s+(?P<height>{_NUMBER})\s*m?\s*$"
)


@dataclass(frozen=True)
class SectionPart:
    """One line of a cross-section: `offset` metres, + to the right of the edge in its direction,
    and `height` metres, + above it."""

    name: str
    offset: float
    height: float


def parse_section(text):
    """Read a cross-section: ``name: offset height`` for each line, separated by semicolons or new
    lines.

    Parameters
    ----------
    text : str
        For example ``"flow line: 0.02 -0.15; back of curb: -0.15 0"``. A decimal comma counts as a
        point.

    Returns
    -------
    list of SectionPart

    Raises
    ------
    ValueError
        If there is no line, or one cannot be read, has no name, repeats a name or lies too far
        away.
    """
    parts, names = [], set()
    for item in re.split(r"[;\n]", text):
        if not item.strip():
            continue
        found = _ITEM.match(item)
        if found is None:
            raise ValueError(
                f"“{item.strip()}” is not “name: offset height”, for example “flow line: 0.02"
                " -0.15”"
            )
        name = found["name"]
        offset, height = (
            float(found[key].replace("−", "-").replace(",", ".")) for key in ("offset", "height")
        )
        if not name:
            raise ValueError(f"“{item.strip()}” has no name")
        if name.casefold() in names:
            raise ValueError(f"the name “{name}” is there twice")
        if max(abs(offset), abs(height)) > PARALLELS.max_offset:
            raise ValueError(
                f"“{item.strip()}” lies more than {PARALLELS.max_offset:.0f} m from the edge:"
                " offsets and heights are metres"
            )
        names.add(name.casefold())
        parts.append(SectionPart(name, offset, height))
    if not parts:
        raise ValueError("it is empty")
    return parts


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
    source = _Runs.of(lines)
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


def _turned(x, y, angle):
    """Vectors turned to the left by an angle, radians."""
    cos, sin = np.cos(angle), np.sin(angle)
    return cos * x - sin * y, sin * x + cos * y


@dataclass(frozen=True)
class _Runs:
    """Vertices of edges without repeated ones, shape (v,). `arrive` and `leave`: directions of the
    curve at each vertex, radians, which differ at corners; `before` and `after`: lengths of the
    segments there. The last vertex of a ring is its first one again."""

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    offsets: np.ndarray
    closed: np.ndarray
    arrive: np.ndarray
    leave: np.ndarray
    before: np.ndarray
    after: np.ndarray

    @classmethod
    def of(cls, lines):
        """The vertices of lines that lie apart.

        Raises
        ------
        ValueError
            If an edge has no length.
        """
        first, last = lines.offsets[:-1], lines.offsets[1:] - 1
        closed = is_ring(lines)
        way = cumulative(lines.steps(), lines.offsets)
        run = group_index(lines.offsets)
        keep = np.append(True, lines.steps() > PARALLELS.same)[: len(way)]
        keep[first] = True
        near_end = (way[last][run] - way <= PARALLELS.same) & (np.arange(len(way)) != last[run])
        keep[near_end] = False
        keep[last] = True
        keep[first] = True
        size = np.bincount(run[keep], minlength=len(first))
        if (size < 2).any() or (way[last] <= PARALLELS.same).any():
            raise ValueError(
                f"{np.count_nonzero(way[last] <= PARALLELS.same)} edges have no length"
            )
        x, y, z = lines.x[keep], lines.y[keep], lines.z[keep]
        offsets = offsets_of(size)
        first, last = offsets[:-1], offsets[1:] - 1
        x[last[closed]], y[last[closed]] = x[first[closed]], y[first[closed]]
        angle = np.append(np.arctan2(np.diff(y), np.diff(x)), 0.0)
        step = steps(x, y, offsets)
        leaving, arriving = np.arange(len(x)), np.arange(len(x)) - 1
        leaving[last] = np.where(closed, first, last - 1)
        arriving[first] = np.where(closed, last - 1, first)
        return cls(
            x, y, z, offsets, closed, angle[arriving], angle[leaving], step[arriving], step[leaving]
        )

    @property
    def deflection(self):
        """Angle by which the line turns at each vertex, + to the left, radians; 0 at the ends of
        open edges."""
        return np.angle(np.exp(1j * (self.leave - self.arrive)))

    def densified(self, distance, tolerance):
        """The same with the directions of the curves that the vertices stand for, and with vertices
        added on arcs whose parallel is wider.

        A segment between smooth vertices stands for an arc that turns by the mean of their
        deflections, if its sagitta L φ / 8 is within the tolerance (times
        `PARALLELS.sagitta_slack`). The sagitta of the parallel, r φ² / 8 with its own radius r,
        must be so as well.
        """
        run = group_index(self.offsets)
        first, last = self.offsets[:-1], self.offsets[1:] - 1
        phi, radius, number = self._arcs(run, distance, tolerance)
        of = np.repeat(np.arange(len(phi)), number)
        grown = offsets_of(number)
        share = place_in_group(grown) / number[of]
        after = np.minimum(of + 1, len(phi) - 1)
        psi = (share - 0.5) * phi[of]
        heading = self.leave[of]
        with np.errstate(invalid="ignore"):
            along, bulge = (
                radius[of] * (np.sin(psi) + np.sin(phi[of] / 2)),
                radius[of] * (np.cos(psi) - np.cos(phi[of] / 2)),
            )
        inner = share > 0
        dx, dy = _turned(np.where(inner, along, 0.0), np.where(inner, -bulge, 0.0), heading)
        z = np.where(inner, self.z[of] + share * (self.z[after] - self.z[of]), self.z[of])
        # the curve arrives and leaves at its vertices turned by half of what the arcs turn
        place = np.arange(len(phi))
        starts = np.isin(place, first)
        before = np.where(starts, np.where(self.closed[run], last[run] - 1, 0), place - 1)
        phi_in = np.where(self._open_ends(run) & starts, 0.0, phi[before])
        phi_out = phi.copy()
        phi_out[last] = np.where(self.closed, phi[first], 0.0)
        tangent = heading + psi
        arrive = np.where(inner, tangent, (self.arrive + phi_in / 2)[of])
        leave = np.where(inner, tangent, (self.leave - phi_out / 2)[of])
        # an open end has one direction
        open_first, open_last = grown[first[~self.closed]], grown[last[~self.closed]]
        arrive[open_first], leave[open_last] = leave[open_first], arrive[open_last]
        size = self.after[of] / number[of]
        return _Runs(
            x=self.x[of] + dx,
            y=self.y[of] + dy,
            z=z,
            offsets=grown[self.offsets],
            closed=self.closed,
            arrive=arrive,
            leave=leave,
            before=np.where(inner, size, (self.before / number[before])[of]),
            after=size,
        )

    def _open_ends(self, run):
        """True at the ends of edges that are no rings, shape (v,)."""
        end = np.zeros(len(run), bool)
        end[self.offsets[:-1]] = end[self.offsets[1:] - 1] = True
        return end & ~self.closed[run]

    def _arcs(self, run, distance, tolerance):
        """Of the segment from each vertex: the angle of its arc (0 for none), its radius, + to the
        left, and the number of segments that its parallel needs."""
        last, turn = self.offsets[1:] - 1, self.deflection
        smooth = np.abs(turn) <= PARALLELS.smooth_angle
        told = np.where(smooth & ~self._open_ends(run), turn, np.nan)
        here, there = told[:-1], told[1:]
        with np.errstate(invalid="ignore"):
            both = np.where(here * there > 0, (here + there) / 2, 0.0)
            phi = np.where(np.isnan(here), there, np.where(np.isnan(there), here, both))
        phi = np.append(np.nan_to_num(phi), 0.0)
        phi[last] = 0.0
        length = np.where(np.isin(np.arange(len(turn)), last), 0.0, self.after)
        sagitta = PARALLELS.sagitta_slack * tolerance
        phi[np.abs(length * phi) / 8 > sagitta] = 0.0
        with np.errstate(divide="ignore", invalid="ignore"):
            radius = length / (2 * np.sin(phi / 2))
            wide = np.where(phi != 0, np.abs(radius + distance[run]) * phi**2 / 8, 0.0)
        grows = (phi != 0) & ((radius + distance[run]) * radius > 0)
        number = np.where(grows, np.maximum(np.ceil(np.sqrt(wide / sagitta)), 1), 1)
        return phi, radius, number.astype(np.int64)

    def rounded(self, distance, mitre_limit):
        """True at outside corners that are too sharp for a mitre."""
        turn = self.deflection
        return (
            (np.abs(turn) > PARALLELS.smooth_angle)
            & (turn * distance[group_index(self.offsets)] > 0)
            & (mitre_limit * np.cos(np.abs(turn) / 2) < 1)
        )

    def raw(self, distance, mitre_limit, tolerance, cut):
        """The parallel vertex by vertex, which may run into itself: x, y, z, offsets.

        With `cut`, an inside corner becomes a single vertex if its legs are long enough for that;
        otherwise it becomes two.
        """
        run = group_index(self.offsets)
        d = distance[run]
        turn = self.deflection
        smooth = np.abs(turn) <= PARALLELS.smooth_angle
        share = np.clip(self.before / np.maximum(self.before + self.after, 1e-12), 0.2, 0.8)
        outside = turn * d > 0
        half = np.abs(turn) / 2
        reach = 1 / np.maximum(np.cos(half), 1e-9)
        rounded = self.rounded(distance, mitre_limit)
        mitred = ~smooth & outside & ~rounded
        inside = ~smooth & ~outside
        cut_off = (
            inside
            & (
                np.abs(d) * np.tan(np.minimum(half, 1.5))
                < 0.5 * np.minimum(self.before, self.after)
            )
            & (half < 1.5)
            if cut
            else np.zeros(len(d), bool)
        )
        # as many vertices on a rounded corner as its sagitta needs
        fine = np.minimum(
            2 * np.arccos(np.clip(1 - tolerance / np.maximum(np.abs(d), tolerance), 0.0, 1.0)),
            PARALLELS.rounding_angle,
        )
        full = np.where(
            rounded,
            np.ceil(np.abs(turn) / np.maximum(fine, 1e-3)).astype(np.int64) + 1,
            np.where(inside & ~cut_off, 2, 1),
        )
        number = full.copy()
        last = self.offsets[1:] - 1
        number[last[self.closed]] = 1  # the first vertex of a ring has the others
        of = np.repeat(np.arange(len(d)), number)
        grown = offsets_of(number)
        full = full[of]
        at = np.where(
            full > 1,
            place_in_group(grown) / np.maximum(full - 1, 1),
            np.where(smooth, share, 0.5)[of],
        )
        angle = self.arrive[of] + at * turn[of]
        far = (d * np.where(mitred | cut_off, reach, 1.0))[of]
        x, y = self.x[of] + far * np.sin(angle), self.y[of] - far * np.cos(angle)
        return x, y, self.z[of], grown[self.offsets]


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
