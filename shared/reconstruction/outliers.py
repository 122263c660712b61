"""Gross errors of the aim that only the shape of the run reveals: near corners, on curves, in
pairs, at ends."""

from dataclasses import dataclass, fields

import numpy as np

from ..alignment.search import distance_from_joined, fit_elements, savings_without
from ..arrays.plane import distance, ray_distance, segment_distance
from ..arrays.ragged import cumulative, group_index, inside_any, offsets_from_starts, offsets_of
from ..epochs.predictions import cubic_distance
from ..epochs.spike_blocks import lateral_shifts
from ..epochs.spikes import mark_end_pairs
from ..epochs.standing import Positions
from ..epochs.stream import Stream
from ..tuning import (
    CONFIRMATION,
    HEADWAY,
    HEIGHT_EVIDENCE,
    OUTLIERS,
    REJECTION,
    SCREENING,
    SEARCH,
    SPIKES,
)
from .breaks import find_runs
from .headway import headway_evidence, outlier_evidence

SINGLE, END, PAIR, BY_HEIGHT = range(4)  # what made a candidate


@dataclass(frozen=True)
class _Walk:
    """Positions and what the search for outliers needs of them; arrays of shape (m,).

    `linked`, (m - 1,): neighbours belong to one run; `floor`, metres: candidates lie farther off;
    `few`: positions of few epochs, since many at one place are no outlier; `other_height`: heights
    alone make the position a candidate; `timed`: the time between positions counts.
    """

    positions: Positions
    offsets: np.ndarray
    run: np.ndarray
    linked: np.ndarray
    floor: np.ndarray
    spacing: np.ndarray
    still: np.ndarray
    few: np.ndarray
    other_height: np.ndarray
    stream: Stream
    timed: bool

    @property
    def x(self):
        return self.positions.x

    @property
    def y(self):
        return self.positions.y

    @property
    def variance(self):
        """Of positions about their tangent or arc, m2."""
        detail = self.stream.detail[self.positions.capture]
        return self.positions.variance * (SEARCH.element_noise * detail) ** 2

    @classmethod
    def of(cls, positions, stream, timed):
        """The walk through positions."""
        m, capture = len(positions), positions.capture
        offsets = find_runs(positions, stream, np.zeros(m, bool))
        run = group_index(offsets)
        return cls(
            positions=positions,
            offsets=offsets,
            run=run,
            linked=np.diff(run) == 0,
            floor=np.maximum(REJECTION.sigmas * stream.noise[capture], REJECTION.min_distance),
            spacing=stream.spacing[capture],
            still=np.full(m, SCREENING.least_still),
            few=np.diff(positions.offsets) < CONFIRMATION.epochs,
            other_height=positions.height_llr > HEIGHT_EVIDENCE.telling,
            stream=stream,
            timed=timed,
        )


@dataclass(frozen=True)
class _Candidates:
    """Stretches of one or two positions that may be outliers; arrays of shape (c,).

    `first` position and `length`; `size`, the distance from what was predicted, and `aside`, the
    distance across the way of the neighbours, metres; `kind`, what made them candidates.
    """

    first: np.ndarray
    length: np.ndarray
    size: np.ndarray
    aside: np.ndarray
    kind: np.ndarray

    @classmethod
    def of_kind(cls, kind, first, size, aside):
        """Candidates of one kind."""
        length = np.full(len(first), 1 if kind in (SINGLE, END) else 2)
        return cls(first, length, size, aside, np.full(len(first), kind))

    @classmethod
    def concatenate(cls, parts):
        """All of several kinds."""
        return cls(
            **{
                column.name: np.concatenate([getattr(part, column.name) for part in parts])
                for column in fields(cls)
            }
        )


def find_outliers(positions, stream, timed=False):
    """Find gross errors that only the shape of the run reveals.

    Parameters
    ----------
    positions : Positions
    stream : Stream
    timed : bool, optional
        Whether the time between positions counts as well: a detour takes time.

    Returns
    -------
    ndarray of float, shape (m,)
        Size of each outlier, metres; NaN elsewhere.

    Notes
    -----
    Candidates lie off the predictions from their neighbours. They are outliers if tangents and arcs
    through the run around them cost much less without them. Evidence of heights is added
    (`Positions.height_llr`), since an aim that slips usually hits another height. Costs are squared
    sigmas, as in `alignment`.
    """
    size_of = np.full(len(positions), np.nan)
    if not len(positions):
        return size_of
    walk = _Walk.of(positions, stream, timed)
    found = _candidates(walk, size_of)
    _mark_off_one_element(
        walk, np.concatenate([found.first, found.first + found.length - 1]), size_of
    )
    saved, needed = _weigh(walk, found)
    good = _surest(walk.run, found, saved, needed)
    more = _neighbours_of(walk, found, good)
    if len(more.first):
        weighed = zip((saved, needed), _weigh(walk, more))
        saved, needed = (np.concatenate(both) for both in weighed)
        found = _Candidates.concatenate([found, more])
        good = _surest(walk.run, found, saved, needed)
    for k in (0, 1):
        place = found.first[good] + np.minimum(k, found.length[good] - 1)
        size_of[place] = found.size[good]
    return size_of


# --- candidates ---------------------------------------------------------------------------------


def _candidates(walk, size_of):
    """Candidates of all kinds. Pairs at ends that are displaced together are marked at once."""
    telling = walk.few & (_turns_back(walk.x, walk.y, walk.linked) | walk.other_height)
    singles = _singles(walk, np.flatnonzero(telling))
    pairs = _pairs(walk, telling)
    step = distance(np.diff(walk.x), np.diff(walk.y))
    floor = SCREENING.spike_sigmas / REJECTION.sigmas * walk.floor
    mark_end_pairs(walk.x, walk.y, walk.linked, step, floor, walk.still, size_of)
    ends = _ends(walk, singles.first)
    return _Candidates.concatenate([singles, ends, pairs, _pairs_by_height(walk, pairs.first)])


def _singles(walk, places):
    """Single positions off the cubic through their neighbours."""
    off = cubic_distance(walk.x, walk.y, walk.linked, walk.still, places)
    far = off > walk.floor[places]
    places = places[far]
    return _Candidates.of_kind(SINGLE, places, off[far], _across(walk, places))


def _pairs(walk, telling):
    """Pairs of neighbours displaced together."""
    x, y, few = walk.x, walk.y, walk.few
    place = np.flatnonzero((telling[2:-3] & few[3:-2]) | (few[2:-3] & telling[3:-2])) + 2
    place, aside, _ = lateral_shifts(x, y, walk.linked, 2, place)
    # where the walk returns to the same place, the way of the neighbours has no direction
    b, c = place - 1, place + 2
    away = np.minimum(
        distance(x[place] - x[b], y[place] - y[b]),
        distance(x[place + 1] - x[c], y[place + 1] - y[c]),
    )
    returns = distance(x[c] - x[b], y[c] - y[b]) < OUTLIERS.return_spacings * walk.spacing[place]
    aside = np.where(returns, away, aside)
    far = aside > walk.floor[place]
    return _Candidates.of_kind(PAIR, place[far], aside[far], aside[far])


def _ends(walk, singles):
    """First and last positions of runs that lie off the rest: outliers or beyond a corner, nothing
    confirms them."""
    x, y, floor = walk.x, walk.y, walk.floor
    size = np.diff(walk.offsets)
    long = size > 3
    place = np.concatenate([walk.offsets[:-1][long], walk.offsets[1:][long] - 1])
    inward = np.repeat([1, -1], len(place) // 2)
    off, next_off = (
        ray_distance(
            x[k],
            y[k],
            x[k + inward],
            y[k + inward],
            x[k + inward] - x[k + 2 * inward],
            y[k + inward] - y[k + 2 * inward],
        )
        for k in (place, place + inward)
    )
    alone = next_off < np.maximum(floor[place], OUTLIERS.end_ratio * off)
    chosen = off > np.maximum(floor[place], SPIKES.least_end)
    chosen &= alone | walk.other_height[place]
    chosen &= walk.few[place] & ~np.isin(place, singles)
    return _Candidates.of_kind(END, place[chosen], off[chosen], np.zeros(np.count_nonzero(chosen)))


def _pairs_by_height(walk, pairs):
    """Pairs of neighbours with evidence of heights against both, whatever their place shows."""
    high, few = walk.other_height, walk.few
    place = np.flatnonzero(high[:-1] & high[1:] & few[:-1] & few[1:] & walk.linked)
    place = place[~np.isin(place, pairs)]
    size = np.maximum(_across(walk, place), _across(walk, place + 1))
    return _Candidates.of_kind(BY_HEIGHT, place, size, np.zeros(len(place)))


def _neighbours_of(walk, found, good):
    """Positions near outliers found, as candidates in their place: outliers are rare, and a
    neighbour may be the one that is off."""
    m, run = len(walk.positions), walk.run
    near = found.first[good][:, None] + np.arange(-OUTLIERS.reach, OUTLIERS.reach + 2)
    inside = (near >= 0) & (near < m)
    inside &= run[np.minimum(np.maximum(near, 0), m - 1)] == run[found.first[good]][:, None]
    near = np.unique(near[inside])
    near = near[walk.few[near] & ~np.isin(near, found.first[found.length == 1])]
    across = _across(walk, near)
    off = np.maximum(cubic_distance(walk.x, walk.y, walk.linked, walk.still, near), across)
    far = off > walk.floor[near]
    return _Candidates.of_kind(SINGLE, near[far], off[far], across[far])


def _across(walk, i):
    """Distance of positions `i` from the segment between their neighbours; 0 if one is missing."""
    x, y, out = walk.x, walk.y, np.zeros(len(i))
    inner = np.flatnonzero((i > 0) & (i < len(x) - 1))
    inner = inner[walk.linked[i[inner] - 1] & walk.linked[i[inner]]]
    i = i[inner]
    out[inner] = segment_distance(x[i], y[i], x[i - 1], y[i - 1], x[i + 1], y[i + 1])
    return out


# --- evidence -----------------------------------------------------------------------------------


def _weigh(walk, found):
    """What leaving out each candidate saves, evidence included, and what it must save; squared
    sigmas, shape (c,) each."""
    x, y, first, length = walk.x, walk.y, found.first, found.length
    llr = walk.positions.height_llr
    by_heights = llr[first] + np.where(length > 1, llr[first + length - 1], 0.0)
    variance = walk.variance
    saved = savings_without(x, y, variance, walk.offsets, first, length) + by_heights
    pair, straight = length > 1, OUTLIERS.saving - OUTLIERS.straight_saving
    needed = np.where(pair, OUTLIERS.saving + OUTLIERS.second_saving, OUTLIERS.saving)
    straight_on, detour = _way_past(walk, first, length)
    needed[(straight_on & (found.aside > walk.floor[first])) | (detour & pair)] -= straight
    # a pair displaced together still runs along the way; the short flank of a bay runs across it
    needed[pair & _same_way(walk, first)] -= OUTLIERS.aligned_pair
    needed[(found.kind == END) & walk.other_height[first]] -= straight
    by_height = found.kind == BY_HEIGHT
    enough = OUTLIERS.height_pair_saving + by_heights
    needed[by_height] = np.maximum(needed, enough)[by_height]
    if walk.timed:
        times = headway_evidence(
            walk.positions, walk.stream, walk.offsets, first, first + length - 1
        )
        saved = saved + np.clip(times, -HEADWAY.most_against, HEADWAY.most_for)
        prior = np.maximum(HEADWAY.prior - walk.stream.slips[walk.positions.capture[first]], 0.0)
        needed += np.where(times < HEADWAY.clear, prior, 0.0)
    return saved, needed


def _surest(run, found, saved, needed):
    """Numbers of the candidates that save enough, and rank highest among those that overlap or
    share a neighbour; the rank also counts how far off they lie."""
    bonus = np.minimum(found.size / OUTLIERS.size_unit, OUTLIERS.size_bonus)
    rank = saved - OUTLIERS.pair_rank * (found.length - 1) + bonus
    good = np.flatnonzero(saved > needed)
    if not good.size:
        return good
    # places so far apart that runs do not influence one another
    between_runs = 8  # exact: more than the reach below on either side
    place = found.first[good] + 3 + between_runs * run[found.first[good]]
    best = np.full(int(place.max()) + between_runs, -np.inf)
    for k in (0, 1):
        np.maximum.at(best, place + np.minimum(k, found.length[good] - 1), rank[good])
    rival = np.max([best[place + d] for d in range(-2, 4)], axis=0)
    return good[rank[good] >= rival]


def _mark_off_one_element(walk, places, size_of):
    """Mark positions off the single line or arc that continues before and after them, whatever
    their number."""
    if not places.size:
        return
    run, offsets = walk.run, walk.offsets
    low = np.maximum(places - SEARCH.window, offsets[:-1][run[places]])
    high = np.minimum(places + SEARCH.window + 1, offsets[1:][run[places]])
    index = np.flatnonzero(inside_any(low, high, len(walk.positions)))
    pieces = offsets_from_starts(
        (np.diff(index, prepend=-2) != 1) | (np.diff(run[index], prepend=-1) != 0)
    )
    x, y = walk.x[index], walk.y[index]
    variance = walk.variance[index]
    elements = fit_elements(x, y, variance, pieces, geometric=False)
    off = distance_from_joined(x, y, variance, pieces, elements)
    hit = (off > walk.floor[index]) & walk.few[index]
    if walk.timed:
        some = index[hit]
        evidence = outlier_evidence(walk.positions, walk.stream, offsets, some, some)
        hit[hit] = evidence > 0
    size_of[index[hit]] = off[hit]


def _same_way(walk, first):
    """Pairs (mask) whose inner step has roughly the direction of the steps before and after, in
    their run."""
    reach = np.arange(-2, 3)  # the steps from two positions before each pair to two after it
    out = (first >= 2) & (first + 3 < len(walk.x))
    out[out] = walk.linked[first[out, None] + reach].all(axis=1)
    k = first[out]
    dx, dy = np.diff(walk.x), np.diff(walk.y)
    least = np.cos(np.radians(OUTLIERS.same_way))
    agree = [
        dx[k] * dx[other] + dy[k] * dy[other]
        > least * distance(dx[k], dy[k]) * distance(dx[other], dy[other])
        for other in (k - 2, k + 2)
    ]
    out[out] = agree[0] & agree[1]
    return out


def _turns_back(x, y, linked):
    """Positions (mask) at which the path turns one way, and clearly the other way at a neighbour;
    on a tight curve it does not."""
    turn = np.zeros(len(x))
    dx, dy = np.diff(x), np.diff(y)
    turn[1:-1] = np.arctan2(
        dx[:-1] * dy[1:] - dy[:-1] * dx[1:], dx[:-1] * dx[1:] + dy[:-1] * dy[1:]
    )
    turn[1:-1][~(linked[:-1] & linked[1:])] = 0.0  # turns between runs do not count
    side = np.sign(turn)
    other = np.minimum(np.append(turn[1:], 0.0) * side, np.append(0.0, turn[:-1]) * side)
    return other < -np.radians(OUTLIERS.turn_back)


def _way_past(walk, first, length):
    """Compare the ways past and through stretches with the steps next to them.

    Returns
    -------
    straight_on : ndarray of bool
        The way past is as long as that number of steps: the line goes straight on.
    detour : ndarray of bool
        The way through is much longer than that number of steps.
    """
    x, y, m = walk.x, walk.y, len(walk.positions)
    a, b, c, d = first - 2, first - 1, first + length, first + length + 1
    inside = (a >= 0) & (d < m)
    a, d = np.maximum(a, 0), np.minimum(d, m - 1)
    b, c = np.maximum(b, 0), np.minimum(c, m - 1)
    broken = offsets_of(~walk.linked)
    inside &= broken[d] == broken[a]
    around = distance(x[b] - x[a], y[b] - y[a]) + distance(x[d] - x[c], y[d] - y[c])
    expected = around / 2 * (length + 1)
    way = cumulative(np.append(distance(np.diff(x), np.diff(y)), 0.0), [0, m])
    past = distance(x[c] - x[b], y[c] - y[b])
    return (
        inside & (past > OUTLIERS.straight_share * expected),
        inside & (way[c] - way[b] > OUTLIERS.detour_share * expected),
    )
