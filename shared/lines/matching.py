"""Which stretch of one line corresponds to which stretch of another.

Both layers have stations along their lines, and each station has candidates among the lines of the
other layer (see `rays`). Candidates that continue from station to station in one direction form a
section, and the choice depends on the mean distance over the section nearby, not on that at one
station. Stretches are then assigned to each other from both sides at once, the nearest first (the
stable matching of Gale and Shapley 1962, with one ranking for both sides), so that a line which has
found its own counterpart is not taken for its neighbour's.
"""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import group_sum, offsets_from_starts, offsets_of, stretch_starts
from ..tuning import MATCHING
from .rays import Candidates, Rays


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
        """Indices of the stations that have a counterpart, shape (m,)."""
        return np.flatnonzero(self.chosen >= 0)


def match(
    existing_rays,
    edge_rays,
    from_existing,
    from_edges,
    shift=(0.0, 0.0),
    progress=lambda share: None,
):
    """Match every station of both layers with a line of the other.

    Parameters
    ----------
    existing_rays, edge_rays : Rays
    from_existing, from_edges : Candidates
        Of the stations of each layer, among the lines of the other.
    shift : tuple of float
        The part of the existing layer's shift that is still in the offsets, metres: the choice is
        made without it, the offsets keep it.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    existing, edges : Side
    """
    progress(0.0)
    corrected = [
        c.offset + sign * (rays.along_y[c.station] * shift[0] - rays.along_x[c.station] * shift[1])
        for rays, c, sign in ((existing_rays, from_existing, 1.0), (edge_rays, from_edges, -1.0))
    ]
    kept = one_way(
        np.concatenate([existing_rays.part[from_existing.station], from_edges.part]),
        np.concatenate([from_existing.part, edge_rays.part[from_edges.station]]),
        np.concatenate([from_existing.same, from_edges.same]),
        np.concatenate(
            [existing_rays.weight[from_existing.station], edge_rays.weight[from_edges.station]]
        ),
        np.abs(np.concatenate(corrected)),
        lambda share: progress(0.05 * share),
    )
    kept = kept[: len(from_existing)], kept[len(from_existing) :]
    from_existing, from_edges = from_existing.take(kept[0]), from_edges.take(kept[1])
    progress(0.1)
    a = _Half(
        existing_rays,
        from_existing,
        corrected[0][kept[0]],
        edge_rays,
        lambda share: progress(0.1 + 0.3 * share),
    )
    progress(0.4)
    b = _Half(
        edge_rays,
        from_edges,
        corrected[1][kept[1]],
        existing_rays,
        lambda share: progress(0.4 + 0.3 * share),
    )
    _assign(a, b, lambda share: progress(0.7 + 0.3 * share))
    return Side(existing_rays, from_existing, a.chosen), Side(edge_rays, from_edges, b.chosen)


def _assign(a, b, progress):
    """Assign stretches of two halves to each other, in rounds."""
    for turn in range(MATCHING.max_rounds):
        progress(2 / 3 * turn / MATCHING.max_rounds)
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
    progress(2 / 3)
    for half in (a, b):
        half.drop_remnants()
    a.drop_unanswered(b)
    b.drop_unanswered(a)
    for half in (a, b):
        progress(5 / 6)
        half.add_duplicates()
    progress(1.0)


class _Half:
    """Working state of one side while stretches are assigned to each other."""

    def __init__(self, rays, candidates, corrected, other_rays, progress):
        self.rays, self.c = rays, candidates
        self.section = sections(rays, candidates, lambda share: progress(0.6 * share))
        self.near, self.overlap = distance_nearby(
            rays, candidates, self.section, corrected, lambda share: progress(0.6 + 0.2 * share)
        )
        self.own = rays.part[candidates.station]
        self.other = (
            other_rays.at(candidates.part, candidates.chainage)
            if len(candidates)
            else np.zeros(0, np.int64)
        )
        cost = self.near + MATCHING.short_section_penalty / np.maximum(self.overlap, 1e-9)
        self.ranked = np.zeros(len(candidates), np.int64)
        for some in blocks_of_parts(rays, candidates):
            progress(0.8 + 0.2 * some.start / len(candidates))
            self.ranked[some] = some.start + np.lexsort((cost[some], candidates.station[some]))
        self.alive = np.ones(len(candidates), bool)
        self.chosen = np.full(len(rays), -1, np.int64)

    def best(self):
        """The chosen candidate of each station, else the best one that is left, -1 for none."""
        out = self.chosen.copy()
        rows = self.ranked[self.alive[self.ranked]]
        station = self.c.station[rows]
        first = stretch_starts(station)
        rows, station = rows[first], station[first]
        free = out[station] < 0
        out[station[free]] = rows[free]
        return out

    def agreed(self, best, other, other_best):
        """Rows of `best` at unmatched stations that the other side agrees with, or has no candidate
        against."""
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
        """Drop candidates that lie where the other side is matched with another line; True if there
        were any."""
        rows = np.flatnonzero(self.alive)
        settled = other.chosen[self.other[rows]]
        if not len(other.c):
            return False
        lost = rows[(settled >= 0) & (other.c.part[settled] != self.own[rows])]
        lost = lost[self.chosen[self.c.station[lost]] != lost]
        self.alive[lost] = False
        return len(lost) > 0

    def drop_remnants(self):
        """Undo matches that are left of a section most of which went to other lines, or that are
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
        little = (kept < MATCHING.min_section_share * self.overlap[rows]) | (
            kept < np.minimum(MATCHING.min_run, part_length / 2)
        )
        self.chosen[stations[little & (self.near[rows] > MATCHING.duplicate)]] = -1

    def drop_unanswered(self, other):
        """Undo matches whose place on the other line is matched with a third line."""
        stations = np.flatnonzero(self.chosen >= 0)
        rows = self.chosen[stations]
        if not len(rows) or not len(other.c):
            return
        answer = other.chosen[self.other[rows]]
        self.chosen[stations[(answer >= 0) & (other.c.part[answer] != self.own[rows])]] = -1

    def add_duplicates(self):
        """Let unmatched stations share a line that is taken if they lie on it."""
        rows = self.ranked[
            (self.near[self.ranked] <= MATCHING.duplicate)
            & (self.chosen[self.c.station[self.ranked]] < 0)
        ]
        station = self.c.station[rows]
        first = stretch_starts(station)
        self.chosen[station[first]] = rows[first]


def one_way(own, other, same, weight, size, progress=lambda share: None):
    """Mask of the candidates with the one direction in which their two parts run along each other.

    Where both directions occur between two parts, as on the two sides of a narrow island, the one
    that covers more length is right or, if both cover about the same, the nearer one.

    Parameters
    ----------
    own, other : ndarray of int, shape (c,)
        Parts of the two layers.
    same : ndarray of bool, shape (c,)
    weight, size : ndarray of float, shape (c,)
        Length that the candidate stands for and its absolute offset, metres.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    ndarray of bool, shape (c,)
    """
    if not len(own):
        return np.ones(0, bool)
    _, pair = np.unique(own * (int(other.max()) + 1) + other, return_inverse=True)
    progress(0.5)
    key = 2 * pair.reshape(-1) + same
    count = 2 * (int(pair.max()) + 1)
    covered = np.bincount(key, weight, count).reshape(-1, 2)
    with np.errstate(invalid="ignore", divide="ignore"):
        far = (np.bincount(key, weight * size, count).reshape(-1, 2)) / covered
    more = covered.max(axis=1) > MATCHING.dominant_length * covered.min(axis=1)
    forward = np.where(more, covered[:, 1] > covered[:, 0], far[:, 1] <= far[:, 0])
    return same == forward[key // 2]


def blocks_of_parts(rays, candidates):
    """Divide candidates into blocks of whole parts of the stations' layer, of `MATCHING.block` at
    most unless a single part has more.

    Parameters
    ----------
    rays : Rays
    candidates : Candidates

    Yields
    ------
    slice
    """
    own = rays.part[candidates.station]
    start = 0
    while start < len(own):
        stop = len(own)
        if start + MATCHING.block < stop:
            stop = int(np.searchsorted(own, own[start + MATCHING.block], "left"))
            if stop == start:
                stop = int(np.searchsorted(own, own[start], "right"))
        yield slice(start, stop)
        start = stop


def sections(rays, candidates, progress=lambda share: None):
    """Number the sections: candidates that go on from station to station along both lines.

    Parameters
    ----------
    rays : Rays
    candidates : Candidates
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    ndarray of int, shape (c,)
        Number of each candidate's section; those of one part of the stations' layer are contiguous.
    """
    out, number = np.zeros(len(candidates), np.int64), 0
    for some in blocks_of_parts(rays, candidates):
        progress(some.start / len(candidates))
        label = _sections(rays, candidates.take(some))
        out[some] = number + label
        number += int(label.max()) + 1
    return out


def _sections(rays, c):
    """As `sections`, for one block that is not empty."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    size = len(c)
    along = rays.chainage[c.station]
    own = rays.part[c.station]
    # a group is one pair of parts in one direction; the drift changes slowly along a section
    drift = c.chainage - np.where(c.same, along, -along)
    order = np.lexsort((drift, along, c.same, c.part, own))
    along, drift, offset = along[order], drift[order], np.abs(c.offset[order])
    new_group = stretch_starts(own[order], c.part[order], c.same[order])
    new_station = new_group | stretch_starts(along)
    block = np.cumsum(new_station) - 1
    starts = np.append(np.flatnonzero(new_station), size)
    group = np.cumsum(new_group) - 1
    # true if the next station's block belongs to the same group
    follows = np.append(group[starts[1:-1]] == group[starts[:-2]], False)
    here = np.flatnonzero(follows[block])
    links = [[], []]
    first, stop = starts[block[here] + 1], starts[np.minimum(block[here] + 2, len(starts) - 1)]
    for step in range(int((stop - first).max()) if len(here) else 0):
        there = first + step
        fine = there < stop
        a, b = here[fine], there[fine]
        slack = (
            MATCHING.section_break
            + 2 * np.maximum(offset[a], offset[b])
            + 2 * rays.weight[c.station[order[a]]]
        )
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


def distance_nearby(rays, candidates, section, offset, progress=lambda share: None):
    """Mean absolute offset over the section within `MATCHING.window` to either side.

    Parameters
    ----------
    rays : Rays
    candidates : Candidates
    section : ndarray of int, shape (c,)
        As numbered by `sections`.
    offset : ndarray of float, shape (c,)
        Metres.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    mean, length : ndarray of float, shape (c,)
        The mean, and the length of the whole section, metres.
    """
    mean, full = np.zeros(len(candidates)), np.zeros(len(candidates))
    for some in blocks_of_parts(rays, candidates):
        progress(some.start / len(candidates))
        mean[some], full[some] = _distance_nearby(
            rays, candidates.take(some), section[some], offset[some]
        )
    return mean, full


def _distance_nearby(rays, c, section, offset):
    """As `distance_nearby`, for one block that is not empty."""
    along = rays.chainage[c.station]
    order = np.lexsort((along, section))
    starts = offsets_from_starts(stretch_starts(section[order]))
    weight = rays.weight[c.station[order]]
    length = group_sum(weight, starts)
    # the sections one after another on one axis, more than a window apart
    lifted = along[order] - np.repeat(along[order][starts[:-1]], np.diff(starts))
    lifted += np.repeat(
        np.concatenate([[0.0], np.cumsum(lifted[starts[1:] - 1] + 4 * MATCHING.window)[:-1]]),
        np.diff(starts),
    )
    low, high = (
        np.searchsorted(lifted, lifted - MATCHING.window, "left"),
        np.searchsorted(lifted, lifted + MATCHING.window, "right"),
    )
    total = offsets_of(weight * np.abs(offset[order]))
    number = offsets_of(weight)
    mean, full = np.empty(len(c)), np.empty(len(c))
    mean[order] = np.maximum(total[high] - total[low], 0.0) / (number[high] - number[low])
    full[order] = np.repeat(length, np.diff(starts))
    return mean, full
