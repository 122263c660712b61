"""Which stretch of one line is which stretch of another.

Both layers get stations along their lines. From each station a ray goes out to either side,
perpendicular to its own line, and meets the lines of the other layer: its candidates. Candidates
that go on from station to station in one direction form a section, and what counts for a choice is
not the distance at one station but the mean over the section nearby. Stretches are then given to
each other from both sides at once, the nearest first (the stable matching of Gale and Shapley 1962,
with one ranking for both sides), so that a line which has found its own counterpart is not taken
for its neighbour's.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..arrays.ragged import cumulative, group_index, group_sum, offsets_from_starts, place_in_group

# degrees between two directions of one line; half the deflection of a coarsely digitised arc fits
# in
LARGEST_ANGLE = 40.0
LEAST_STATIONS = 4  # on however short a part
# m; longer segments are cut for the index, where a slanting one would fill a great box
LONGEST_PIECE = 25.0
WIDE = 5.0  # m; beyond, nearest segments are looked up one by one
# rays looked up and candidates judged at once: between blocks the work can be stopped, and memory
# stays bounded
BLOCK = 50_000
WINDOW = 5.0  # m to either side over which distances are averaged
# m without a candidate, or of jump along the other line, that end a section; twice the offset more
# at corners
BREAK = 3.0
SHORT = 0.3  # m * m; a section of a metre ranks behind one that lies this much farther off
MORE = 1.25  # times the length, for one direction to beat the other whatever the distance
MOST_ROUNDS = 12
REMNANT = 0.3  # a section that keeps less of itself than this was mostly another's
LEAST_RUN = 1.5  # m; shorter stretches are no counterpart, unless they lie on the line
DUPLICATE = 0.2  # m; a second line this near to one that is taken shows the same thing


@dataclass(frozen=True)
class Lines:
    """Lines of a layer as ragged arrays; vertices of part ``p`` are ``offsets[p]`` to ``offsets[p +
    1] - 1``.

    Attributes
    ----------
    x, y, z : ndarray of float, shape (v,)
        Metres in a local frame that is true to scale; z NaN where there is no height.
    offsets : ndarray of int, shape (parts + 1,)
    line : ndarray of int, shape (parts,)
        Row of the layer that the part belongs to, rising. Rows without geometry have no part.
    count : int
        Rows of the layer.
    sigma : ndarray of float, shape (count,)
        Uncertainty across the line, 1-sigma metres; 0 where nothing is known.
    scale : ndarray of float, shape (count,)
        Scale factor of the frame where the line lies (1 where it is true): lengths and offsets are
        divided by it.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    offsets: np.ndarray
    line: np.ndarray
    count: int
    sigma: np.ndarray
    scale: np.ndarray = None

    def __post_init__(self):
        if self.scale is None:
            object.__setattr__(self, "scale", np.ones(self.count))

    def __len__(self):
        return self.count

    @classmethod
    def from_columns(
        cls, x, y, z=None, offsets=None, line=None, count=None, sigma=None, scale=None
    ):
        """Make lines from array_likes; without `line` each part is a line of its own.

        Raises
        ------
        ValueError
            If shapes do not fit, positions are not finite, offsets do not rise or a sigma is not 0
            or greater.
        """
        x, y = np.asarray(x, float), np.asarray(y, float)
        z = np.full(x.shape, np.nan) if z is None else np.asarray(z, float)
        offsets = np.asarray([0, len(x)] if offsets is None else offsets, np.int64)
        line = np.arange(len(offsets) - 1) if line is None else np.asarray(line, np.int64)
        count = (int(line.max()) + 1 if len(line) else 0) if count is None else int(count)
        sigma = (
            np.zeros(count)
            if sigma is None
            else np.broadcast_to(np.asarray(sigma, float), (count,)).copy()
        )
        if not x.shape == y.shape == z.shape or x.ndim != 1:
            raise ValueError(
                f"x, y and z must have one shape (v,), got {x.shape}, {y.shape} and {z.shape}"
            )
        if not (np.isfinite(x).all() and np.isfinite(y).all()):
            raise ValueError(
                f"{np.count_nonzero(~(np.isfinite(x) & np.isfinite(y)))} vertices have no finite"
                " position"
            )
        if offsets[0] != 0 or offsets[-1] != len(x) or (np.diff(offsets) < 0).any():
            raise ValueError("offsets must rise from 0 to the number of vertices")
        if (
            line.shape != (len(offsets) - 1,)
            or (np.diff(line) < 0).any()
            or (len(line) and not 0 <= line[0] <= line[-1] < count)
        ):
            raise ValueError("line must hold a rising row number below count for each part")
        if not (sigma >= 0).all():
            raise ValueError(f"{np.count_nonzero(~(sigma >= 0))} sigmas are not 0 m or greater")
        return cls(
            x,
            y,
            z,
            offsets,
            line,
            count,
            sigma,
            None if scale is None else np.asarray(scale, float),
        )

    @property
    def line_of_vertex(self):
        """Row of the layer of each vertex, shape (v,)."""
        return self.line[group_index(self.offsets)]

    def steps(self):
        """Length of the segment that starts at each vertex, 0 at the last of a part, shape (v,),
        metres."""
        step = np.append(np.hypot(np.diff(self.x), np.diff(self.y)), 0.0)[: len(self.x)]
        step[self.offsets[1:][np.diff(self.offsets) > 0] - 1] = 0.0
        return step

    def part_length(self):
        """Shape (parts,), metres."""
        return group_sum(self.steps(), self.offsets).astype(float)

    def length(self):
        """On the ground, shape (count,), metres."""
        return np.bincount(self.line, self.part_length(), self.count) / self.scale

    def part_start(self):
        """Chainage of the start of each part along its line, parts laid end to end, shape (parts,),
        metres."""
        if not len(self.line):
            return np.zeros(0)
        return cumulative(
            self.part_length(), offsets_from_starts(np.append(True, np.diff(self.line) > 0))
        )

    def of_parts(self, wanted):
        """The same rows with some of their parts only; `wanted` is bool, shape (parts,)."""
        size = np.diff(self.offsets)
        vertex = np.repeat(wanted, size)
        return replace(
            self,
            x=self.x[vertex],
            y=self.y[vertex],
            z=self.z[vertex],
            line=self.line[wanted],
            offsets=np.concatenate([[0], np.cumsum(size[wanted])]),
        )

    def moved(self, east, north):
        """The lines with a vector added to them."""
        return replace(self, x=self.x + east, y=self.y + north)

    def cut(self, longest):
        """The same lines with further vertices, so that no segment is longer than `longest`
        metres."""
        step = self.steps()
        number = np.maximum(np.ceil(step / longest), 1).astype(np.int64)
        if not len(step) or number.max() == 1:
            return self
        first = np.repeat(np.arange(len(step)), number)
        share = place_in_group(np.concatenate([[0], np.cumsum(number)])) / number[first]
        after = np.minimum(first + 1, len(step) - 1)
        place = lambda values: np.where(
            share > 0, values[first] + share * (values[after] - values[first]), values[first]
        )
        grown = np.concatenate([[0], np.cumsum(number)])
        return replace(
            self, x=place(self.x), y=place(self.y), z=place(self.z), offsets=grown[self.offsets]
        )


@dataclass(frozen=True)
class Rays:
    """Stations of one layer, in the order of parts and chainage; arrays of shape (n,), metres.

    A part is cut into equal intervals, none longer than the spacing; a station is the middle of
    one. `first`, shape (parts + 1,), says where each part's stations start.
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
        """Number of the station whose interval holds a chainage of a part; both shape (k,)."""
        start, size = self.first[part], np.diff(self.first)[part]
        return start + np.clip((chainage / self.weight[start]).astype(np.int64), 0, size - 1)


def points_at(lines, part, chainage):
    """Positions at chainages along parts.

    Returns
    -------
    x, y, z, along_x, along_y : ndarray of float, shape (k,)
        Position, and the unit vector of the segment that it lies on.
    """
    step = lines.steps()
    total = np.concatenate([[0.0], np.cumsum(step)])[:-1]
    # the parts lie end to end in `total`, with no length between them
    vertex = np.searchsorted(total, total[lines.offsets[part]] + chainage, "right") - 1
    vertex = np.clip(vertex, lines.offsets[part], lines.offsets[part + 1] - 2)
    share = (total[lines.offsets[part]] + chainage - total[vertex]) / np.maximum(
        step[vertex], 1e-300
    )
    share = np.clip(share, 0.0, 1.0)
    dx, dy = lines.x[vertex + 1] - lines.x[vertex], lines.y[vertex + 1] - lines.y[vertex]
    size = np.maximum(step[vertex], 1e-300)
    z = lines.z[vertex] + share * (lines.z[vertex + 1] - lines.z[vertex])
    return lines.x[vertex] + share * dx, lines.y[vertex] + share * dy, z, dx / size, dy / size


def stations_along(lines, spacing, wanted=None):
    """Stations along all lines of a layer; parts without length get none.

    Parameters
    ----------
    lines : Lines
    spacing : float
        Greatest distance between two of them, metres.
    wanted : ndarray of bool, shape (parts,), optional
        Parts that are to have stations.

    Returns
    -------
    Rays
    """
    length = lines.part_length()
    number = np.where(
        (length > 1e-6) & (True if wanted is None else wanted),
        np.maximum(np.ceil(length / spacing - 1e-9), LEAST_STATIONS),
        0,
    ).astype(np.int64)
    first = np.concatenate([[0], np.cumsum(number)])
    part = np.repeat(np.arange(len(number)), number)
    weight = length[part] / np.maximum(number[part], 1)
    chainage = (place_in_group(first) + 0.5) * weight
    return Rays(part, chainage, weight, *points_at(lines, part, chainage), first)


class Index:
    """Spatial index over the segments of a layer (a packed R-tree), for rays and for nearest
    distances.

    `wanted`, bool, shape (parts,), says which parts are taken in; parts keep their numbers.
    """

    def __init__(self, lines, wanted=None, checkpoint=lambda share: None):
        import shapely  # late: it may be missing while the plugin loads

        number = np.arange(len(lines.line)) if wanted is None else np.flatnonzero(wanted)
        self.lines = (lines if wanted is None else lines.of_parts(wanted)).cut(LONGEST_PIECE)
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
        for start in range(0, len(ends), BLOCK):
            checkpoint(0.5 * start / len(ends))
            segments[start : start + BLOCK] = shapely.linestrings(ends[start : start + BLOCK])
        checkpoint(0.5)
        self.tree = shapely.STRtree(segments)
        checkpoint(1.0)

    def near(self, lines, reach):
        """Parts of another layer that may come within reach, by their bounding boxes, shape
        (parts,), bool.

        A survey covers a corner of a basemap: what lies elsewhere costs no more than this look.
        """
        import shapely

        filled = np.flatnonzero(np.diff(lines.offsets) > 0)
        out = np.zeros(len(lines.line), bool)
        if not len(filled) or not len(self.segment):
            return out
        starts = lines.offsets[:-1][filled]
        low = [np.minimum.reduceat(axis, starts) - reach for axis in (lines.x, lines.y)]
        high = [np.maximum.reduceat(axis, starts) + reach for axis in (lines.x, lines.y)]
        for start in range(0, len(filled), BLOCK):
            some = slice(start, start + BLOCK)
            boxes = shapely.box(low[0][some], low[1][some], high[0][some], high[1][some])
            out[filled[start + np.unique(self.tree.query(boxes)[0])]] = True
        return out

    def meet(self, rays, reach, checkpoint=lambda share: None):
        """Where rays to both sides of the stations meet the segments.

        Parameters
        ----------
        rays : Rays
        reach : float
            Length of the rays, metres.
        checkpoint : callable
            Called with the share that is done; may raise.

        Returns
        -------
        Candidates
        """
        import shapely

        found = []
        least = np.cos(np.radians(LARGEST_ANGLE))
        for start in range(0, len(rays) if len(self.segment) else 0, BLOCK):
            checkpoint(start / len(rays))
            some = slice(start, start + BLOCK)
            p = np.column_stack([rays.x[some], rays.y[some]])
            e = np.column_stack([rays.along_x[some], rays.along_y[some]])
            right = np.column_stack([e[:, 1], -e[:, 0]])
            i, k = self.tree.query(
                shapely.linestrings(np.stack([p - reach * right, p + reach * right], axis=1))
            )
            run = (self.step[k] * e[i]).sum(axis=1)
            i, k, run = (a[np.abs(run) >= least * self.length[k]] for a in (i, k, run))
            share = ((p[i] - self.start[k]) * e[i]).sum(axis=1) / run
            offset = ((self.start[k] + share[:, None] * self.step[k] - p[i]) * right[i]).sum(axis=1)
            # a ray through a vertex must not slip between two segments
            near = 1e-9 / self.length[k] + 1e-12
            keep = (share >= -near) & (share <= 1 + near) & (np.abs(offset) <= reach)
            found.append(
                self._in_order(
                    i[keep] + start,
                    k[keep],
                    np.clip(share[keep], 0, 1),
                    offset[keep],
                    run[keep] > 0,
                )
            )
        if not found:
            return Candidates(
                np.zeros(0, np.int64),
                np.zeros(0, np.int64),
                np.zeros(0),
                np.zeros(0, bool),
                np.zeros(0),
                np.zeros(0),
            )
        return Candidates(*(np.concatenate(column) for column in zip(*found)))

    def _in_order(self, station, k, share, offset, same):
        """Columns of `Candidates` of a block of stations, each candidate once."""
        v = self.segment[k]
        z = self.lines.z[v] + share * (self.lines.z[v + 1] - self.lines.z[v])
        part, chainage = self.part[k], self.chainage[k] + share * self.length[k]
        order = np.lexsort((chainage, same, part, station))
        columns = [a[order] for a in (station, part, chainage, same, offset, z)]
        station, part, chainage, same = columns[:4]
        twice = np.zeros(len(station), bool)  # met at a vertex, by both segments
        twice[1:] = (
            (np.diff(station) == 0)
            & (np.diff(part) == 0)
            & (same[1:] == same[:-1])
            & (np.diff(chainage) < 1e-6)
        )
        return [a[~twice] for a in columns]

    def nearest(self, x, y, farthest, checkpoint=lambda share: None):
        """Distance from points to the nearest segment, shape (k,); infinite where it is farther
        than `farthest`."""
        import shapely

        out = np.full(len(x), np.inf)
        for start in range(0, len(x) if len(self.segment) else 0, BLOCK):
            checkpoint(start / len(x))
            some = slice(start, start + BLOCK)
            p = np.column_stack([x[some], y[some]])
            if farthest > WIDE:
                (i, _), distance = self.tree.query_nearest(
                    shapely.points(p),
                    max_distance=farthest,
                    return_distance=True,
                    all_matches=False,
                )
                out[start + i] = distance
                continue
            # with few segments about, looking at them all is quicker: a slanting line's bounding
            # box is the square round the point
            i, k = self.tree.query(
                shapely.linestrings(np.stack([p - farthest, p + farthest], axis=1))
            )
            away = p[i] - self.start[k]
            share = np.clip((away * self.step[k]).sum(axis=1) / self.length[k] ** 2, 0.0, 1.0)
            away -= share[:, None] * self.step[k]
            distance = np.hypot(away[:, 0], away[:, 1])
            distance[distance > farthest] = np.inf
            np.minimum.at(out, start + i, distance)
        return out


@dataclass(frozen=True)
class Candidates:
    """Where stations meet lines of the other layer, in the order of stations; arrays of shape (c,).

    Attributes
    ----------
    station, part : int
        Of the one layer, and of the other.
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
        return Candidates(
            *(
                getattr(self, name)[rows]
                for name in ("station", "part", "chainage", "same", "offset", "z")
            )
        )


def blocks_of_parts(rays, candidates):
    """Slices of candidates, whole parts of the stations' layer each, of no more than `BLOCK` where
    a part is not longer."""
    own = rays.part[candidates.station]
    start = 0
    while start < len(own):
        stop = len(own)
        if start + BLOCK < stop:
            stop = int(np.searchsorted(own, own[start + BLOCK], "left"))
            if stop == start:
                stop = int(np.searchsorted(own, own[start], "right"))
        yield slice(start, stop)
        start = stop


def sections(rays, candidates, checkpoint=lambda share: None):
    """Number the sections: candidates that go on from station to station along both lines.

    Returns
    -------
    ndarray of int, shape (c,)
        Those of one part of the stations' layer lie together.
    """
    out, number = np.zeros(len(candidates), np.int64), 0
    for some in blocks_of_parts(rays, candidates):
        checkpoint(some.start / len(candidates))
        label = _sections(rays, candidates.take(some))
        out[some] = number + label
        number += int(label.max()) + 1
    return out


def _sections(rays, c):
    """`sections` of a block that is not empty."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    size = len(c)
    along = rays.chainage[c.station]
    own = rays.part[c.station]
    # the same group: one pair of parts, one direction; along a section this drifts but slowly
    drift = c.chainage - np.where(c.same, along, -along)
    order = np.lexsort((drift, along, c.same, c.part, own))
    key = np.stack([own[order], c.part[order], c.same[order]])
    along, drift, offset = along[order], drift[order], np.abs(c.offset[order])
    new_group = np.append(True, (np.diff(key.astype(np.int64), axis=1) != 0).any(axis=0))
    new_station = new_group | np.append(True, np.diff(along) > 0)
    block = np.cumsum(new_station) - 1
    starts = np.append(np.flatnonzero(new_station), size)
    group = np.cumsum(new_group) - 1
    # the next block is of the same group
    follows = np.append(group[starts[1:-1]] == group[starts[:-2]], False)
    here = np.flatnonzero(follows[block])
    links = [[], []]
    first, stop = starts[block[here] + 1], starts[np.minimum(block[here] + 2, len(starts) - 1)]
    for step in range(int((stop - first).max()) if len(here) else 0):
        there = first + step
        fine = there < stop
        a, b = here[fine], there[fine]
        slack = BREAK + 2 * np.maximum(offset[a], offset[b]) + 2 * rays.weight[c.station[order[a]]]
        near = (along[b] - along[a] <= slack) & (np.abs(drift[b] - drift[a]) <= slack)
        links[0].append(a[near])
        links[1].append(b[near])
    a, b = (np.concatenate(side) if side else np.zeros(0, np.int64) for side in links)
    _, label = connected_components(
        coo_matrix((np.ones(len(a), bool), (a, b)), shape=(size, size)), directed=False
    )
    out = np.empty(size, np.int64)
    out[order] = label
    return out


def distance_nearby(rays, candidates, section, offset, checkpoint=lambda share: None):
    """Mean offset without sign over the section within `WINDOW` to either side, and the section's
    length; shape (c,), metres."""
    mean, full = np.zeros(len(candidates)), np.zeros(len(candidates))
    for some in blocks_of_parts(rays, candidates):
        checkpoint(some.start / len(candidates))
        mean[some], full[some] = _distance_nearby(
            rays, candidates.take(some), section[some], offset[some]
        )
    return mean, full


def _distance_nearby(rays, c, section, offset):
    """`distance_nearby` of a block that is not empty."""
    along = rays.chainage[c.station]
    order = np.lexsort((along, section))
    starts = offsets_from_starts(np.append(True, np.diff(section[order]) > 0))
    weight = rays.weight[c.station[order]]
    length = group_sum(weight, starts)
    # the sections one after the other on one axis, far enough apart
    lifted = along[order] - np.repeat(along[order][starts[:-1]], np.diff(starts))
    lifted += np.repeat(
        np.concatenate([[0.0], np.cumsum(lifted[starts[1:] - 1] + 4 * WINDOW)[:-1]]),
        np.diff(starts),
    )
    low, high = (
        np.searchsorted(lifted, lifted - WINDOW, "left"),
        np.searchsorted(lifted, lifted + WINDOW, "right"),
    )
    total = np.concatenate([[0.0], np.cumsum(weight * np.abs(offset[order]))])
    number = np.concatenate([[0.0], np.cumsum(weight)])
    mean, full = np.empty(len(c)), np.empty(len(c))
    mean[order] = np.maximum(total[high] - total[low], 0.0) / (number[high] - number[low])
    full[order] = np.repeat(length, np.diff(starts))
    return mean, full


@dataclass(frozen=True)
class Side:
    """One layer's stations and what they are matched with.

    Attributes
    ----------
    rays : Rays
    candidates : Candidates
    chosen : ndarray of int, shape (n,)
        Candidate of each station, -1 for none.
    """

    rays: Rays
    candidates: Candidates
    chosen: np.ndarray

    @property
    def matched(self):
        """Stations that have a counterpart, shape (m,)."""
        return np.flatnonzero(self.chosen >= 0)


class _Half:
    """Working state of one side while stretches are given to each other."""

    def __init__(self, rays, candidates, corrected, other_rays, checkpoint):
        self.rays, self.c = rays, candidates
        self.section = sections(rays, candidates, lambda share: checkpoint(0.6 * share))
        self.near, self.overlap = distance_nearby(
            rays, candidates, self.section, corrected, lambda share: checkpoint(0.6 + 0.2 * share)
        )
        self.own = rays.part[candidates.station]
        self.other = (
            other_rays.at(candidates.part, candidates.chainage)
            if len(candidates)
            else np.zeros(0, np.int64)
        )
        cost = self.near + SHORT / np.maximum(self.overlap, 1e-9)
        self.ranked = np.zeros(len(candidates), np.int64)
        for some in blocks_of_parts(rays, candidates):
            checkpoint(0.8 + 0.2 * some.start / len(candidates))
            self.ranked[some] = some.start + np.lexsort((cost[some], candidates.station[some]))
        self.alive = np.ones(len(candidates), bool)
        self.chosen = np.full(len(rays), -1, np.int64)

    def best(self):
        """The best candidate that is left of each station, the chosen one where there is one, -1
        for none."""
        out = self.chosen.copy()
        rows = self.ranked[self.alive[self.ranked]]
        station = self.c.station[rows]
        first = np.append(True, np.diff(station) > 0) if len(rows) else np.zeros(0, bool)
        rows, station = rows[first], station[first]
        free = out[station] < 0
        out[station[free]] = rows[free]
        return out

    def agreed(self, best, other, other_best):
        """Rows among `best`, of stations that are free, to which the other side says yes or
        nothing."""
        rows = best[(best >= 0) & (self.chosen < 0)]
        answer = other_best[self.other[rows]]
        if not len(other.c):
            return rows
        yes = (answer < 0) | (
            (other.c.part[answer] == self.own[rows])
            & (other.own[answer] == self.c.part[rows])
            & (other.c.same[answer] == self.c.same[rows])
        )
        return rows[yes]

    def give_up(self, other):
        """Let go of candidates that lie where the other side has settled with another line; True if
        any was."""
        rows = np.flatnonzero(self.alive)
        settled = other.chosen[self.other[rows]]
        if not len(other.c):
            return False
        lost = rows[(settled >= 0) & (other.c.part[settled] != self.own[rows])]
        lost = lost[self.chosen[self.c.station[lost]] != lost]
        self.alive[lost] = False
        return len(lost) > 0

    def drop_remnants(self):
        """Undo choices that are the leavings of a section whose better part went to other lines, or
        too short to mean anything."""
        stations = np.flatnonzero(self.chosen >= 0)
        rows = self.chosen[stations]
        kept = np.bincount(
            self.section[rows],
            self.rays.weight[stations],
            int(self.section.max()) + 1 if len(self.section) else 0,
        )
        part_length = (
            self.rays.weight[stations] * np.diff(self.rays.first)[self.rays.part[stations]]
        )
        kept = kept[self.section[rows]]
        little = (kept < REMNANT * self.overlap[rows]) | (
            kept < np.minimum(LEAST_RUN, part_length / 2)
        )
        self.chosen[stations[little & (self.near[rows] > DUPLICATE)]] = -1

    def drop_unanswered(self, other):
        """Undo choices whose place on the other line has gone to another line."""
        stations = np.flatnonzero(self.chosen >= 0)
        rows = self.chosen[stations]
        if not len(rows) or not len(other.c):
            return
        answer = other.chosen[self.other[rows]]
        self.chosen[stations[(answer >= 0) & (other.c.part[answer] != self.own[rows])]] = -1

    def add_duplicates(self, limit):
        """Stations left over may share a line that is taken, where they lie on it."""
        rows = self.ranked[
            (self.near[self.ranked] <= limit) & (self.chosen[self.c.station[self.ranked]] < 0)
        ]
        station = self.c.station[rows]
        first = np.append(True, np.diff(station) > 0) if len(rows) else np.zeros(0, bool)
        self.chosen[station[first]] = rows[first]


def one_way(own, other, same, weight, size, checkpoint=lambda share: None):
    """Candidates that keep to the one direction in which their two parts run along each other.

    A line cannot turn round inside itself: where both directions occur between two parts, as on the
    two sides of a narrow island, it is the one that covers more, or where they cover alike, the
    nearer one.

    Parameters
    ----------
    own, other : ndarray of int, shape (c,)
        Parts of the two layers.
    same : ndarray of bool, shape (c,)
    weight, size : ndarray of float, shape (c,)
        Length that the candidate stands for and its offset without sign, metres.
    checkpoint : callable
        Called with the share that is done; may raise.

    Returns
    -------
    ndarray of bool, shape (c,)
    """
    if not len(own):
        return np.ones(0, bool)
    _, pair = np.unique(own * (int(other.max()) + 1) + other, return_inverse=True)
    checkpoint(0.5)
    key = 2 * pair.reshape(-1) + same
    count = 2 * (int(pair.max()) + 1)
    covered = np.bincount(key, weight, count).reshape(-1, 2)
    with np.errstate(invalid="ignore", divide="ignore"):
        far = (np.bincount(key, weight * size, count).reshape(-1, 2)) / covered
    more = covered.max(axis=1) > MORE * covered.min(axis=1)
    forward = np.where(more, covered[:, 1] > covered[:, 0], far[:, 1] <= far[:, 0])
    return same == forward[key // 2]


def match(
    existing_rays,
    edge_rays,
    from_existing,
    from_edges,
    shift=(0.0, 0.0),
    duplicate=DUPLICATE,
    checkpoint=lambda share: None,
):
    """Choose for every station of both layers the line that it is matched with.

    Parameters
    ----------
    existing_rays, edge_rays : Rays
    from_existing, from_edges : Candidates
        Of the stations of each layer, met by the other.
    shift : tuple of float
        Where the existing layer lies as seen from the edges, as far as it is still in the offsets,
        metres: the choice is made without it, the offsets stay as they are.
    duplicate : float
        How near a second line must lie to one that is taken to be matched with it too, metres.
    checkpoint : callable

    Returns
    -------
    existing, edges : Side
    """
    seen = lambda rays, c, sign: (
        c.offset + sign * (rays.along_y[c.station] * shift[0] - rays.along_x[c.station] * shift[1])
    )
    checkpoint(0.0)
    corrected = [seen(existing_rays, from_existing, 1.0), seen(edge_rays, from_edges, -1.0)]
    kept = one_way(
        np.concatenate([existing_rays.part[from_existing.station], from_edges.part]),
        np.concatenate([from_existing.part, edge_rays.part[from_edges.station]]),
        np.concatenate([from_existing.same, from_edges.same]),
        np.concatenate(
            [existing_rays.weight[from_existing.station], edge_rays.weight[from_edges.station]]
        ),
        np.abs(np.concatenate(corrected)),
        lambda share: checkpoint(0.05 * share),
    )
    checkpoint(0.05)
    kept = kept[: len(from_existing)], kept[len(from_existing) :]
    from_existing, from_edges = from_existing.take(kept[0]), from_edges.take(kept[1])
    checkpoint(0.1)
    a = _Half(
        existing_rays,
        from_existing,
        corrected[0][kept[0]],
        edge_rays,
        lambda share: checkpoint(0.1 + 0.3 * share),
    )
    checkpoint(0.4)
    b = _Half(
        edge_rays,
        from_edges,
        corrected[1][kept[1]],
        existing_rays,
        lambda share: checkpoint(0.4 + 0.3 * share),
    )
    for turn in range(MOST_ROUNDS):
        checkpoint(0.7 + 0.2 * turn / MOST_ROUNDS)
        best_a, best_b = a.best(), b.best()
        new_a, new_b = a.agreed(best_a, b, best_b), b.agreed(best_b, a, best_a)
        a.chosen[a.c.station[new_a]] = new_a
        b.chosen[b.c.station[new_b]] = new_b
        gone_a, gone_b = a.give_up(b), b.give_up(a)
        if not (len(new_a) or len(new_b) or gone_a or gone_b):
            # the two rankings differ a little, so three lines may each wait for the next: the first
            # layer decides
            rows = a.best()
            rows = rows[(rows >= 0) & (a.chosen < 0)]
            rows = rows[b.chosen[a.other[rows]] < 0] if len(b.c) else rows
            if not len(rows):
                break
            a.chosen[a.c.station[rows]] = rows
    checkpoint(0.9)
    for half in (a, b):
        half.drop_remnants()
    a.drop_unanswered(b)
    b.drop_unanswered(a)
    for half in (a, b):
        checkpoint(0.95)
        half.add_duplicates(duplicate)
    checkpoint(1.0)
    return Side(existing_rays, from_existing, a.chosen), Side(edge_rays, from_edges, b.chosen)
