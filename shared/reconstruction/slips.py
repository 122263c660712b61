"""Spikes that only the shape of the run gives away: slips near corners, on curves, in pairs, at
ends."""

import numpy as np

from ..alignment.search import distance_from_joined, fit_elements, savings_without
from ..arrays.plane import distance, ray_distance, segment_distance
from ..arrays.ragged import cumulative, group_index, inside_any, offsets_from_starts
from ..epochs.spikes import (
    cubic_distance,
    lateral_shifts,
    mark_end_pairs,
)
from ..tuning import HEIGHT_EVIDENCE, SCREENING, SEARCH, SPIKES
from .breaks import find_runs

SIGMAS, LEAST_SIZE = 6.0, 0.08  # m; how far off an epoch must be to be looked at once more
# Prices are squared sigmas, as in `alignment`. A real short side saves less than SPIKE_SAVING on
# simulated walks, a spike saves an element or two.
SPIKE_SAVING = 7.5
STRAIGHT_SAVING = 4.0  # enough where the line goes straight on
SECOND_EPOCH = 4.0  # a pair must save so much more than one of the two
PAIR_RANK = 2.0  # where the second of a pair is no slip, it saves about nothing
ALIGNED_PAIR = 2.0  # less so where the pair walks the way of the others
TOLD_SAVING = 4.0  # what the shape must save where heights alone named the pair
REACH = 2  # epochs beside a slip that may be the slip instead
SAME_WAY = np.cos(np.radians(50.0))
BENT_BACK = np.radians(5.0)


def find_slips(positions, stream):
    """Size of the spikes that only the shape of the run gives away; NaN elsewhere, shape (m,).

    Candidates stand off from their neighbours' predictions. They are spikes if tangents and arcs
    explain the run around them at much less cost without them. Heights have a say
    (`Positions.height_llr`): a slip mostly hits another height.
    """
    m = len(positions)
    size_of = np.full(m, np.nan)
    if m < 6:
        return size_of
    x, y = positions.x, positions.y
    offsets = find_runs(positions, stream, np.zeros(m, bool))
    linked = np.diff(group_index(offsets)) == 0
    floor = np.maximum(SIGMAS * stream.noise[positions.capture], LEAST_SIZE)
    spacing = stream.spacing[positions.capture]
    few = np.diff(positions.offsets) < 3  # many epochs at one place are no slip
    back = _turns_back(x, y, linked)
    still = np.full(m, 0.05)
    other_height = positions.height_llr > HEIGHT_EVIDENCE.telling
    telling = few & (back | other_height)
    single = np.flatnonzero(telling)
    off = cubic_distance(x, y, linked, still, single)
    single, off = single[off > floor[single]], off[off > floor[single]]
    pair = np.flatnonzero((telling[2:-3] & few[3:-2]) | (few[2:-3] & telling[3:-2])) + 2
    pair, shoved, _ = lateral_shifts(x, y, linked, 2, pair)
    # two epochs away from a place to which the walk returns: steps mean nothing there
    b, c = pair - 1, pair + 2
    away = np.minimum(
        distance(x[pair] - x[b], y[pair] - y[b]), distance(x[pair + 1] - x[c], y[pair + 1] - y[c])
    )
    shoved = np.where(distance(x[c] - x[b], y[c] - y[b]) < 0.25 * spacing[pair], away, shoved)
    chosen = shoved > floor[pair]
    pair, shoved = pair[chosen], shoved[chosen]
    step = distance(np.diff(x), np.diff(y))
    mark_end_pairs(
        x, y, linked, step, SCREENING.spike_sigmas / SIGMAS * floor, np.full(m, 0.05), size_of
    )
    # the last epoch of a run that lies off the rest: no neighbour confirms it, be it a slip or past
    # a corner
    size = np.diff(offsets)
    rims = np.concatenate([offsets[:-1][size > 3], offsets[1:][size > 3] - 1])
    inward = np.repeat([1, -1], len(rims) // 2)
    beyond, next_one = (
        ray_distance(
            x[k],
            y[k],
            x[k + inward],
            y[k + inward],
            x[k + inward] - x[k + 2 * inward],
            y[k + inward] - y[k + 2 * inward],
        )
        for k in (rims, rims + inward)
    )
    chosen = (beyond > np.maximum(floor[rims], SPIKES.least_end)) & (
        (next_one < np.maximum(floor[rims], 0.5 * beyond)) | other_height[rims]
    )
    chosen &= few[rims] & ~np.isin(rims, single)
    rims, beyond = rims[chosen], beyond[chosen]
    # two together that heights speak against, where too little is beside them for any other test
    told = np.flatnonzero(other_height[:-1] & other_height[1:] & few[:-1] & few[1:] & linked)
    told = told[~np.isin(told, pair)]
    kinds = [len(single), len(rims), len(pair), len(told)]
    first = np.concatenate([single, rims, pair, told])
    length = np.repeat([1, 1, 2, 2], kinds)
    across = _across(x, y, linked, single)
    size = np.concatenate(
        [
            off,
            beyond,
            shoved,
            np.maximum(_across(x, y, linked, told), _across(x, y, linked, told + 1)),
        ]
    )
    _beside_the_line(
        positions, offsets, np.concatenate([first, first + length - 1]), floor, few, size_of
    )
    aside = np.concatenate([across, np.zeros(len(rims)), shoved, np.zeros(len(told))])
    saved, needed = _weigh(positions, offsets, linked, floor, first, length, aside)
    needed -= (
        np.repeat([0, 1, 0, 0], kinds) * (SPIKE_SAVING - STRAIGHT_SAVING) * other_height[first]
    )
    needed[len(first) - len(told) :] = np.maximum(
        needed, TOLD_SAVING + _odds(positions.height_llr, first, length)
    )[len(first) - len(told) :]
    good = _best(offsets, first, length, saved, needed, size)
    # before one goes, each one beside it is tried in its place: slips are rare, and either may be
    # the one that is off
    near = first[good][:, None] + np.arange(-REACH, REACH + 2)
    run = group_index(offsets)
    near = np.unique(
        near[
            (near >= 0)
            & (near < m)
            & (run[np.minimum(np.maximum(near, 0), m - 1)] == run[first[good]][:, None])
        ]
    )
    near = near[few[near] & ~np.isin(near, first[length == 1])]
    across = _across(x, y, linked, near)
    off = np.maximum(cubic_distance(x, y, linked, still, near), across)
    near, across, off = (values[off > floor[near]] for values in (near, across, off))
    if near.size:
        alone = np.ones(len(near), np.int64)
        more = near, alone, off, *_weigh(positions, offsets, linked, floor, near, alone, across)
        first, length, size, saved, needed = (
            np.concatenate(both) for both in zip((first, length, size, saved, needed), more)
        )
        good = _best(offsets, first, length, saved, needed, size)
    for k in (0, 1):
        size_of[first[good] + np.minimum(k, length[good] - 1)] = size[good]
    return size_of


def _across(x, y, linked, i):
    """Distance of positions `i` from the way between their neighbours; 0 where one of these is
    missing."""
    out = np.zeros(len(i))
    inner = np.flatnonzero((i > 0) & (i < len(x) - 1))
    inner = inner[linked[i[inner] - 1] & linked[i[inner]]]
    i = i[inner]
    out[inner] = segment_distance(x[i], y[i], x[i - 1], y[i - 1], x[i + 1], y[i + 1])
    return out


def _odds(odds, first, length):
    """What heights say about stretches of one or two."""
    return odds[first] + np.where(length > 1, odds[first + length - 1], 0.0)


def _weigh(positions, offsets, linked, floor, first, length, aside):
    """What the runs cost less without candidates, heights included, and what is enough; squared
    sigmas, shape (c,) each."""
    x, y = positions.x, positions.y
    saved = savings_without(
        x, y, positions.variance * SEARCH.element_noise**2, offsets, first, length
    )
    saved += _odds(positions.height_llr, first, length)
    # what is enough, by what else speaks for a slip
    needed = np.where(length > 1, SPIKE_SAVING + SECOND_EPOCH, SPIKE_SAVING)
    straight_on, detour = _way_past(x, y, linked, first, length)
    needed[(straight_on & (aside > floor[first])) | (detour & (length > 1))] -= (
        SPIKE_SAVING - STRAIGHT_SAVING
    )
    # two shoved aside still walk the way of the others; the short flank of a bay crosses it
    needed[(length > 1) & _same_way(x, y, first)] -= ALIGNED_PAIR
    return saved, needed


def _best(offsets, first, length, saved, needed, size):
    """Of candidates that touch or share neighbours the surest one, and of equals the one that lies
    farther off."""
    rank = saved - PAIR_RANK * (length - 1) + np.minimum(size / 0.2, 4.0)
    good = np.flatnonzero(saved > needed)
    if not good.size:
        return good
    # so far apart that no run has a say in another one
    place = first[good] + 3 + 8 * group_index(offsets)[first[good]]
    best = np.full(int(place.max()) + 8, -np.inf)
    for k in (0, 1):
        np.maximum.at(best, place + np.minimum(k, length[good] - 1), rank[good])
    rival = np.max([best[place + d] for d in range(-2, 4)], axis=0)
    return good[rank[good] >= rival]


def _beside_the_line(positions, offsets, places, floor, few, size_of):
    """Mark epochs off the one line or arc that runs on before and after them, whichever and however
    many they are."""
    if not places.size:
        return
    run = group_index(offsets)
    low, high = (
        np.maximum(places - SEARCH.window, offsets[:-1][run[places]]),
        np.minimum(places + SEARCH.window + 1, offsets[1:][run[places]]),
    )
    index = np.flatnonzero(inside_any(low, high, len(positions)))
    pieces = offsets_from_starts(
        (np.diff(index, prepend=-2) != 1) | (np.diff(run[index], prepend=-1) != 0)
    )
    x, y, variance = (
        positions.x[index],
        positions.y[index],
        positions.variance[index] * SEARCH.element_noise**2,
    )
    off = distance_from_joined(
        x, y, variance, pieces, fit_elements(x, y, variance, pieces, geometric=False)
    )
    hit = (off > floor[index]) & few[index]
    size_of[index[hit]] = off[hit]


def _same_way(x, y, first):
    """True where the step inside a pair runs within 50 degrees of the steps before and after the
    pair."""
    m = len(x)
    dx, dy = np.diff(x), np.diff(y)
    inside = (first >= 2) & (first + 3 < m)
    k = np.clip(first, 2, max(m - 4, 2))
    agree = [
        dx[k] * dx[other] + dy[k] * dy[other]
        > SAME_WAY * distance(dx[k], dy[k]) * distance(dx[other], dy[other])
        for other in (k - 2, k + 2)
    ]
    return inside & agree[0] & agree[1]


def _turns_back(x, y, linked):
    """True where the path turns one way at a position and clearly the other way at a neighbour; not
    so on a tight curve."""
    turn = np.zeros(len(x))
    dx, dy = np.diff(x), np.diff(y)
    turn[1:-1] = np.arctan2(
        dx[:-1] * dy[1:] - dy[:-1] * dx[1:], dx[:-1] * dx[1:] + dy[:-1] * dy[1:]
    )
    turn[1:-1][~(linked[:-1] & linked[1:])] = 0.0  # what lies before or after the run says nothing
    side = np.sign(turn)
    return (
        np.minimum(np.append(turn[1:], 0.0) * side, np.append(0.0, turn[:-1]) * side) < -BENT_BACK
    )


def _way_past(x, y, linked, first, length):
    """Compare the ways past and through a stretch with the usual steps beside it.

    Returns
    -------
    straight_on : ndarray of bool
        The way past is as long as the epochs were many: the line goes straight on.
    detour : ndarray of bool
        The way through is a good deal longer than so many steps.
    """
    m = len(x)
    a, b, c, d = first - 2, first - 1, first + length, first + length + 1
    inside = (a >= 0) & (d < m)
    a, d = np.maximum(a, 0), np.minimum(d, m - 1)
    b, c = np.maximum(b, 0), np.minimum(c, m - 1)
    broken = np.concatenate([[0], np.cumsum(~linked)])
    inside &= broken[d] == broken[a]
    expected = (
        (distance(x[b] - x[a], y[b] - y[a]) + distance(x[d] - x[c], y[d] - y[c])) / 2 * (length + 1)
    )
    way = cumulative(np.append(distance(np.diff(x), np.diff(y)), 0.0), [0, m])
    return inside & (distance(x[c] - x[b], y[c] - y[b]) > 0.9 * expected), inside & (
        way[c] - way[b] > 1.12 * expected
    )
