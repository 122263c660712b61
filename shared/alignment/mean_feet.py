"""Feet of positions on all chains of tangents and arcs that may explain them."""

import numpy as np

from ..arrays.ragged import (
    group_index,
    offsets_from_starts,
    offsets_of,
    place_in_group,
    places_around,
    ranges,
)
from ..tuning import MEAN_FEET, SEARCH
from .search import fit_spans, project, span_costs


def with_mean_feet(feet, x, y, variance, pieces, wanted):
    """Replace feet by their mean over all chains of elements, weighted by their probability.

    Parameters
    ----------
    feet : ndarray of float, shape (m, 2)
        On the elements of the chain that costs least, metres.
    x, y : ndarray of float, shape (m,)
        Positions, metres.
    variance : ndarray of float, shape (m,)
        Of each position and axis, m2.
    pieces : ndarray of int, shape (pieces + 1,)
        Bounds that no element crosses.
    wanted : ndarray of bool, shape (m,)
        Positions whose feet are replaced.

    Returns
    -------
    ndarray of float, shape (m, 2)

    Notes
    -----
    The chain that costs least is one of many that cost little more; where its elements end is half
    chance. A chain has the probability exp(-cost / 2), up to a factor, with the costs of
    `search.fit_elements`. The sums over all chains up to each position and from each position on
    (forward and backward, as in Rabiner 1989, A tutorial on hidden Markov models, Proceedings of
    the IEEE 77) give the probability of each span.
    """
    piece = group_index(pieces)
    near = places_around(np.flatnonzero(wanted), len(x), MEAN_FEET.context, piece)
    place = np.flatnonzero(near)
    if not place.size:
        return feet
    new = (np.diff(place, prepend=-2) > 1) | (np.diff(piece[place], prepend=-1) != 0)
    within = place_in_group(offsets_from_starts(new))
    blocks = offsets_from_starts(within % SEARCH.block == 0)
    origin = place[blocks[:-1]].repeat(np.diff(blocks))  # far coordinates would cost digits
    base = np.column_stack([x[origin], y[origin]])
    mean = _mean_feet(x[place] - base[:, 0], y[place] - base[:, 1], 1 / variance[place], blocks)
    out = feet.copy()
    inside = wanted[place]
    out[place[inside]] = (mean + base)[inside]
    return out


def _mean_feet(x, y, weight, blocks):
    """Mean feet, shape (n, 2), of positions in blocks that no element crosses."""
    size = np.diff(blocks)
    lengths = np.arange(1, min(MEAN_FEET.longest, int(size.max())) + 1)
    remaining = np.repeat(blocks[1:], size) - np.arange(len(x))
    cost = span_costs(x, y, weight, remaining, SEARCH.radii, lengths)
    probability = _probabilities(cost, blocks)
    length, first = np.nonzero(probability > MEAN_FEET.least)
    index = ranges(first, length + 1)
    share = probability[length, first].repeat(length + 1)
    bounds = offsets_of(length + 1)
    px, py = x[index], y[index]
    elements = fit_spans(px, py, weight[index], bounds, SEARCH.radii, geometric=False)
    feet = project(elements, px, py)
    total = np.bincount(index, share, len(x))
    mean = [np.bincount(index, share * axis, len(x)) / np.maximum(total, 1e-300) for axis in feet.T]
    return np.where(total > 0, mean, [x, y]).T


def _probabilities(cost, blocks):
    """Probability of each span, (lengths, n), by the number of its positions less one and by the
    first one, from its cost.

    All blocks in step, the longest first, so that those that reach a place are contiguous.
    """
    lengths = len(cost)
    order = np.argsort(-np.diff(blocks), kind="stable")
    first, size = blocks[:-1][order], np.diff(blocks)[order]
    longest, every = int(size[0]), np.arange(len(size))
    count = np.arange(1, lengths + 1)[:, None]
    half = cost / 2
    before = np.zeros((longest + 1, len(size)))  # logarithms of sums over all ways to each place
    # and over all ways from it to the end; none leads on from places beyond
    behind = np.full((longest + 1 + lengths, len(size)), -np.inf)
    behind[size, every] = 0.0
    for place in range(1, longest + 1):
        on = int(np.searchsorted(-size, -place, "right"))
        back = count[: min(place, lengths)]
        nearer = before[place - len(back) : place, :on][::-1]
        before[place, :on] = _summed(nearer - half[back - 1, first[:on] + place - back])
    for place in range(longest - 1, -1, -1):
        on = int(np.searchsorted(-size, -place, "left"))
        onward = behind[place + 1 : place + 1 + lengths, :on]
        behind[place, :on] = _summed(onward - half[:, first[:on] + place])
    block, place = np.argsort(order)[group_index(blocks)], place_in_group(blocks)
    way = before[place, block] - before[size, every][block] - half
    return np.exp(way + behind[place + count, block])


def _summed(logarithms):
    """Logarithm of the sum of each column, from the logarithms of its terms, of which one at least
    is finite; a third of the time of `numpy.logaddexp`."""
    most = logarithms.max(axis=0)
    # `sum` would add a column alone in another order than one beside others
    return most + np.log(np.add.accumulate(np.exp(logarithms - most), axis=0)[-1])
