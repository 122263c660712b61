"""Stations along lines, and where rays across a line meet the lines of another layer.

From each station a ray goes out to either side, perpendicular to its own line. Where it meets the
lines of the other layer lie the station's candidates.
"""

from copy import copy
from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import (
    cumulative,
    group_index,
    offsets_from_starts,
    offsets_of,
    place_in_group,
    stretch_starts,
)
from ..tuning import CROWDS, MATCHING
from .bundles import bundles
from .lines import points_at


@dataclass(frozen=True)
class Rays:
    """Stations of one layer, in the order of parts and chainage; arrays of shape (n,), metres.

    A part is divided into equal intervals, none longer than the spacing; a station is the middle of
    one, and `weight` its length. `along_x`, `along_y`: unit vector of the line. `first`, shape
    (parts + 1,): where the stations of each part start.
    """

    part: np.ndarray
    chainage: np.ndarray
    weight: np.ndarray
    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    along_x: np.ndarray
    along_y: np.ndarray
    first: np.ndarray

    def __len__(self):
        return len(self.part)

    def at(self, part, chainage):
        """Index of the station whose interval holds a chainage of a part; both shape (k,)."""
        start, size = self.first[part], np.diff(self.first)[part]
        return start + np.clip((chainage / self.weight[start]).astype(np.int64), 0, size - 1)


def stations_along(lines, spacing, wanted=None):
    """Stations along all lines of a layer; parts without length get none.

    Parameters
    ----------
    lines : Lines
    spacing : float
        Maximum distance between two stations, metres.
    wanted : ndarray of bool, shape (parts,), optional
        Parts that are to have stations.

    Returns
    -------
    Rays
    """
    length = lines.part_length()
    number = np.where(
        (length > 1e-6) & (True if wanted is None else wanted),
        np.maximum(np.ceil(length / spacing - 1e-9), MATCHING.min_stations),
        0,
    ).astype(np.int64)
    first = offsets_of(number)
    part = np.repeat(np.arange(len(number)), number)
    weight = length[part] / np.maximum(number[part], 1)
    chainage = (place_in_group(first) + 0.5) * weight
    return Rays(part, chainage, weight, *points_at(lines, part, chainage), first)


@dataclass(frozen=True)
class Candidates:
    """Where stations meet lines of the other layer, in the order of stations; arrays of shape (c,).

    Attributes
    ----------
    station, part : int
        Station of the one layer, part of the other.
    chainage : float
        Along the other part, metres.
    same : bool
        True where both lines run the same way.
    offset : float
        + to the right of the station's line, metres.
    z : float
        Height of the other line, NaN where it has none.
    """

    station: np.ndarray
    part: np.ndarray
    chainage: np.ndarray
    same: np.ndarray
    offset: np.ndarray
    z: np.ndarray

    def __len__(self):
        return len(self.station)

    def take(self, rows):
        """Some of the rows: indices or bool, shape (k,)."""
        return Candidates(**{name: column[rows] for name, column in vars(self).items()})


class Index:
    """Spatial index of the segments of a layer (a packed R-tree), for rays and nearest distances.

    Parameters
    ----------
    lines : Lines
    wanted : ndarray of bool, shape (parts,), optional
        Parts that are indexed, all by default; parts keep their numbers.
    progress : callable
        Called with the share that is done; may raise.
    """

    def __init__(self, lines, wanted=None, progress=lambda share: None):
        import shapely  # late: it may be missing while the plugin loads

        number = np.arange(len(lines.line)) if wanted is None else np.flatnonzero(wanted)
        self.lines = (lines if wanted is None else lines.of_parts(wanted)).cut(
            MATCHING.longest_segment
        )
        step = self.lines.steps()
        self.segment = np.flatnonzero(step > 0)
        self.length = step[self.segment]
        part = group_index(self.lines.offsets)
        self.part = number[part[self.segment]]
        self.chainage = (
            cumulative(step, self.lines.offsets)[self.segment] if len(step) else np.zeros(0)
        )
        ends = np.stack(
            [
                np.column_stack([self.lines.x[v], self.lines.y[v]])
                for v in (self.segment, self.segment + 1)
            ],
            axis=1,
        )
        self.start, self.step = ends[:, 0], ends[:, 1] - ends[:, 0]
        segments = np.empty(len(ends), object)
        for start in range(0, len(ends), MATCHING.block):
            progress(0.5 * start / len(ends))
            segments[start : start + MATCHING.block] = shapely.linestrings(
                ends[start : start + MATCHING.block]
            )
        progress(0.5)
        self.tree = shapely.STRtree(segments)
        self._of_tree = None  # segment of each box of the tree, if segments have several boxes
        self._finer = self._lane = None
        progress(1.0)

    def near(self, lines, reach):
        """Mask of the parts of another layer that may come within reach, by their bounding boxes.

        A survey covers a corner of a basemap: the rest of it costs no more than this query.
        """
        import shapely

        filled = np.flatnonzero(np.diff(lines.offsets) > 0)
        out = np.zeros(len(lines.line), bool)
        if not len(filled) or not len(self.segment):
            return out
        starts = lines.offsets[:-1][filled]
        low = [np.minimum.reduceat(axis, starts) - reach for axis in (lines.x, lines.y)]
        high = [np.maximum.reduceat(axis, starts) + reach for axis in (lines.x, lines.y)]
        for start in range(0, len(filled), MATCHING.block):
            some = slice(start, start + MATCHING.block)
            boxes = shapely.box(low[0][some], low[1][some], high[0][some], high[1][some])
            out[filled[start + np.unique(self.tree.query(boxes)[0])]] = True
        return out

    def of_segments(self, wanted):
        """The same index with only some of its segments; `wanted` is bool, shape (segments,)."""
        import shapely

        out = copy(self)
        for name in ("segment", "length", "part", "chainage", "start", "step"):
            setattr(out, name, getattr(self, name)[wanted])
        out.tree, out._finer = shapely.STRtree(self.tree.geometries[wanted]), None
        return out

    def in_lanes(self, segments, lane, lane_of):
        """An index in which rays meet only segments of their own lane, however many others lie
        there: for the query, lanes are moved apart.

        Parameters
        ----------
        segments : ndarray of int, shape (k,)
            Segments of this index; one in several lanes is repeated.
        lane : ndarray of int, shape (k,)
            Lane of each of them, 0 or greater.
        lane_of : ndarray of int, shape (parts,)
            Lane of each part of the stations' lines.

        Returns
        -------
        Index
        """
        import shapely

        out = copy(self)
        for name in ("segment", "length", "part", "chainage", "start", "step"):
            setattr(out, name, getattr(self, name)[segments])
        wide = np.ptp(self.start[:, 0]) + 2 * MATCHING.longest_segment if len(self.start) else 0.0
        # the same shift on both sides cannot reverse a comparison, as rounding is monotonic
        ends = np.stack([out.start, out.start + out.step], axis=1)
        ends[:, :, 0] += (wide * lane)[:, None]
        out.tree, out._finer, out._lane = (
            shapely.STRtree(shapely.linestrings(ends)),
            None,
            wide * lane_of,
        )
        return out

    def finer(self):
        """The same index with smaller boxes, for crowds: the box of a slanting segment is hit by
        many rays that miss the segment."""
        import shapely

        if self._finer is None:
            number = np.maximum(np.ceil(self.length / CROWDS.side), 1).astype(np.int64)
            offsets = offsets_of(number)
            of, place = group_index(offsets), place_in_group(offsets)
            start, step = self.start[of], self.step[of]
            ends = [start + ((place + end) / number[of])[:, None] * step for end in (0, 1)]
            self._finer = copy(self)
            self._finer.tree = shapely.STRtree(shapely.linestrings(np.stack(ends, axis=1)))
            self._finer._of_tree = of
        return self._finer

    def _boxes(self, lines):
        """Pairs of `lines` and segments whose boxes meet; in a finer index a pair may recur."""
        i, k = self.tree.query(lines)
        return i, k if self._of_tree is None else self._of_tree[k]

    def meet(self, rays, reach, progress=lambda share: None, some=None, most=None):
        """Where rays to both sides of the stations meet the segments.

        Parameters
        ----------
        rays : Rays
        reach : float
            Length of the rays, metres.
        progress : callable
            Called with the share that is done; may raise.
        some : ndarray of int, optional
            Stations that send out rays, rising; all by default.
        most : int, optional
            Maximum number of candidates of a station; the nearest are kept.

        Returns
        -------
        Candidates
        """
        found, start, size, crowded, apart = [], 0, MATCHING.first_block, False, False
        wanted = np.arange(len(rays)) if some is None else some
        while start < len(wanted) and len(self.segment):
            progress(start / len(wanted))
            own = wanted[start : start + size]
            if crowded and not apart and self._of_tree is None:
                met, wanted = self._met_in_bundles(rays, wanted[start:], reach, most, progress)
                found += met
                start, apart = 0, True
                continue
            if crowded:  # short rays usually find enough
                met, hits = self.finer()._nearest_met(rays, own, reach, most)
            else:
                found_by = self._found_by(rays, own, reach)
                if _too_many(len(own), len(found_by[0])):
                    size = _next_size(len(own), len(found_by[0]))
                    continue
                met, hits = self._met(rays, own, reach, found_by)
            start += len(own)
            crowded = most is not None and hits > most * len(own)
            size = _next_size(len(own), hits)
            found.append(met if most is None else _nearest_of_each(met, most))
        if not found:
            return Candidates(
                np.zeros(0, np.int64),
                np.zeros(0, np.int64),
                np.zeros(0),
                np.zeros(0, bool),
                np.zeros(0),
                np.zeros(0),
            )
        joined = [np.concatenate(column) for column in zip(*found)]
        if apart:
            order = np.argsort(joined[0], kind="stable")
            joined = [column[order] for column in joined]
        return Candidates(*joined)

    def _met_in_bundles(self, rays, own, reach, most, progress):
        """What stations in bundles meet, as lists of columns of `Candidates`, the nearest only; and
        the stations that this does not tell of."""
        found, left, most_held = [], np.ones(len(own), bool), min(CROWDS.bundle_margin, reach)
        for bundle in bundles(self, rays.x[own], rays.y[own], progress):
            block = max(MATCHING.hits // (8 * most), 1)
            for start in range(0, len(bundle.place), block):
                here, square = (a[start : start + block] for a in (bundle.place, bundle.square))
                at = own[here]
                half = bundle.spread(rays.x[at], rays.y[at], square, most)
                while len(here):
                    progress(start / len(bundle.place))
                    half = np.minimum(half, most_held)
                    pairs = bundle.crossed(_rays_of(rays, own[here], half), square)
                    met, _ = self._met(rays, own[here], half, pairs)
                    number = np.bincount(np.searchsorted(own[here], met[0]), minlength=len(here))
                    done = (number >= most) | (half >= reach)
                    rows = np.repeat(done, number)
                    found.append(_nearest_of_each([column[rows] for column in met], most))
                    left[here[done]] = False
                    more = ~done & (half < most_held)
                    here, square, half = here[more], square[more], 2 * half[more]
        return found, own[left]

    def _found_by(self, rays, own, reach):
        """Places in `own` of stations, and segments whose boxes their rays meet."""
        import shapely

        ends = _rays_of(rays, own, reach)
        if self._lane is not None:
            ends[:, :, 0] += self._lane[rays.part[own]][:, None]
        return self._boxes(shapely.linestrings(ends))

    def _met(self, rays, own, reach, found_by=None):
        """Where the rays of stations `own` meet segments, as columns of `Candidates`, and how many
        segments were inspected; `reach` may differ from station to station."""
        i, k = self._found_by(rays, own, reach) if found_by is None else found_by
        p = np.column_stack([rays.x[own], rays.y[own]])
        e = np.column_stack([rays.along_x[own], rays.along_y[own]])
        right = np.column_stack([e[:, 1], -e[:, 0]])
        hits = len(i)
        run = (self.step[k] * e[i]).sum(axis=1)
        i, k, run = (a[np.abs(run) >= MATCHING.min_cosine * self.length[k]] for a in (i, k, run))
        share = ((p[i] - self.start[k]) * e[i]).sum(axis=1) / run
        offset = ((self.start[k] + share[:, None] * self.step[k] - p[i]) * right[i]).sum(axis=1)
        # a ray through a vertex must not slip between two segments
        near = 1e-9 / self.length[k] + 1e-12
        within = np.abs(offset) <= (reach[i] if np.ndim(reach) else reach)
        keep = (share >= -near) & (share <= 1 + near) & within
        i, k, run = i[keep], k[keep], run[keep]
        share, offset = np.clip(share[keep], 0, 1), offset[keep]
        return self._in_order(own[i], k, share, offset, run > 0), hits

    def _nearest_met(self, rays, own, reach, most):
        """As `_met`, but a station whose short rays meet `most` segments or more gets only
        these."""
        found, hits = [], 0
        for part in CROWDS.rays:
            met, more = self._met(rays, own, part * reach)
            hits += more
            enough = np.bincount(met[0], minlength=len(rays))[own] >= most
            done = enough if part < 1.0 else np.ones(len(own), bool)
            rows = np.isin(met[0], own[done])
            found.append([column[rows] for column in met])
            own = own[~done]
            if not len(own):
                break
        joined = [np.concatenate(column) for column in zip(*found)]
        order = np.argsort(joined[0], kind="stable")
        return [column[order] for column in joined], hits

    def _in_order(self, station, k, share, offset, same):
        """Columns of `Candidates` of a block of stations, each candidate once."""
        v = self.segment[k]
        z = self.lines.z[v] + share * (self.lines.z[v + 1] - self.lines.z[v])
        part, chainage = self.part[k], self.chainage[k] + share * self.length[k]
        order = np.lexsort((chainage, same, part, station))
        columns = [a[order] for a in (station, part, chainage, same, offset, z)]
        station, part, chainage, same = columns[:4]
        twice = np.zeros(len(station), bool)  # both segments met at their common vertex
        twice[1:] = (
            (np.diff(station) == 0)
            & (np.diff(part) == 0)
            & (same[1:] == same[:-1])
            & (np.diff(chainage) < 1e-6)
        )
        return [a[~twice] for a in columns]

    def nearest(self, x, y, farthest, progress=lambda share: None):
        """Distance from points to the nearest segment, shape (k,); infinite where it is farther
        than `farthest`."""
        import shapely

        out, rest = np.full(len(x), np.inf), np.arange(len(x))
        next_one, size, crowded, apart = 0, MATCHING.first_block, False, False
        while next_one < len(rest) and len(self.segment):
            progress(next_one / len(rest))
            some = rest[next_one : next_one + size]
            p = np.column_stack([x[some], y[some]])
            if crowded and not apart and self._of_tree is None:
                rest, next_one, apart = rest[next_one:], 0, True
                out[rest] = self._nearest_in_bundles(x[rest], y[rest], farthest, progress)
                rest = rest[np.isinf(out[rest])]
                continue
            if farthest > MATCHING.wide_search or crowded:
                next_one += size
                size = MATCHING.first_block if crowded else MATCHING.block
                tree = self.finer().tree if crowded else self.tree
                (i, _), distance = tree.query_nearest(
                    shapely.points(p),
                    max_distance=farthest,
                    return_distance=True,
                    all_matches=False,
                )
                out[some[i]] = distance
                continue
            # few segments near: faster to inspect all whose boxes meet the square around the point,
            # which is the bounding box of its diagonal
            i, k = self.tree.query(
                shapely.linestrings(np.stack([p - farthest, p + farthest], axis=1))
            )
            crowded, size = len(i) > CROWDS.most * len(p), _next_size(len(p), len(i))
            if _too_many(len(p), len(i)):
                continue
            next_one += len(p)
            distance = self._distance(p[i], k)
            distance[distance > farthest] = np.inf
            np.minimum.at(out, some[i], distance)
        return out

    def _nearest_in_bundles(self, x, y, farthest, progress):
        """As `nearest`, for what has a segment within `CROWDS.bundle_margin` and lies in a bundle;
        infinite elsewhere."""
        out, most_held = np.full(len(x), np.inf), min(farthest, CROWDS.bundle_margin)
        for bundle in bundles(self, x, y, progress):
            for start in range(0, len(bundle.place), MATCHING.block // 4):
                progress(start / len(bundle.place))
                some = slice(start, start + MATCHING.block // 4)
                here, square = bundle.place[some], bundle.square[some]
                p = np.column_stack([x[here], y[here]])
                # any distance is as great as the least one, or greater
                beside = bundle.beside(*p.T, square)
                near = np.min([self._distance(p, k) for k in beside.T], axis=0)
                near = np.minimum(near, most_held)
                i, k = bundle.around(*p.T, square, near)
                distance = self._distance(p[i], k)
                fine = distance <= most_held
                np.minimum.at(out, here[i[fine]], distance[fine])
        return out

    def _distance(self, p, k):
        """Distance from points, shape (n, 2), to segments `k`."""
        away = p - self.start[k]
        share = np.clip((away * self.step[k]).sum(axis=1) / self.length[k] ** 2, 0.0, 1.0)
        away -= share[:, None] * self.step[k]
        return np.hypot(away[:, 0], away[:, 1])


def _rays_of(rays, own, reach):
    """Ends of the rays of stations `own`, shape (n, 2, 2)."""
    p = np.column_stack([rays.x[own], rays.y[own]])
    across = np.column_stack([rays.along_y[own], -rays.along_x[own]])
    across = across * (reach[:, None] if np.ndim(reach) else reach)
    return np.stack([p - across, p + across], axis=1)


def _too_many(size, hits):
    """True where what so many rays find needs more memory than it should: fewer go again."""
    return size > 1 and hits > 2 * MATCHING.hits


def _next_size(size, hits):
    """Number of rays in the next query, after `size` of them found `hits` segments."""
    return int(np.clip(size * MATCHING.hits // max(hits, 1), 1, MATCHING.block))


def _nearest_of_each(met, most):
    """The `most` nearest candidates of each station, as columns of `Candidates`."""
    station, offset = met[0], np.abs(met[4])
    if len(station) <= most:
        return met
    order = np.lexsort((offset, station))
    rank = place_in_group(offsets_from_starts(stretch_starts(station[order])))
    rows = np.sort(order[rank < most])
    return [column[rows] for column in met]
