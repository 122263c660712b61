"""Search for the tangents and arcs of runs by dynamic programming; elements need not join."""

from dataclasses import dataclass, replace

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import (
    cumulative,
    group_index,
    group_sum,
    offsets_from_starts,
    offsets_of,
    place_in_group,
    ranges,
)
from ..tuning import SEARCH
from .moments import Moments, circle_of, line_sum_of


@dataclass(frozen=True)
class Elements:
    """Tangents and arcs; element ``e`` explains positions ``offsets[e]`` to ``offsets[e + 1] - 1``.

    Arrays of shape (elements,): `x`, `y` a point of the tangent, or the centre of the arc; `ux`,
    `uy` unit direction of travel of the tangent; `radius` of the arc in metres, infinite for a
    tangent; `chi` the sum of squared residuals in units of variance.
    """

    offsets: np.ndarray
    x: np.ndarray
    y: np.ndarray
    ux: np.ndarray
    uy: np.ndarray
    radius: np.ndarray
    chi: np.ndarray

    def __len__(self):
        return len(self.radius)

    @property
    def is_arc(self):
        """True for arcs, shape (elements,)."""
        return np.isfinite(self.radius)


def span_costs(x, y, weight, remaining, radii, lengths, step=1):
    """Minimum cost of one element over each span.

    Parameters
    ----------
    x, y, weight : ndarray of float, shape (n,)
        Positions, metres, and one over their variances.
    remaining : ndarray of int, shape (n,)
        Positions from here to the end of the block.
    radii : tuple of float
        Minimum and maximum radius of arcs, metres.
    lengths : ndarray of int, shape (lengths,)
        Increasing, in positions.
    step : int
        Neighbours of one block are so many places apart.

    Returns
    -------
    ndarray of float, shape (lengths, n)
        By the span's first position, squared sigmas; infinite if the span would leave its block.
    """
    n = len(x)
    cost = np.full((len(lengths), n), np.inf)
    sums, room = np.zeros((9, n)), np.empty((5, n))
    alive = np.ones(n, bool)  # first positions of spans that may still become elements
    column, waiting = 0, []
    for length in range(1, int(min(lengths[-1], remaining.max())) + 1):
        ahead = (length - 1) * step
        live = n - ahead
        add_position(
            sums[:, :live], room[:, :live], x[ahead:], x[:live], y[ahead:], y[:live], weight[ahead:]
        )
        if column < len(lengths) and length == lengths[column]:
            alive = alive[:live] & (remaining[:live] >= length)
            if length < 3:
                cost[column, :live][alive] = SEARCH.tangent_penalty
            else:
                line = line_sum_of(sums[:, :live])
                np.copyto(cost[column, :live], line + SEARCH.tangent_penalty, where=alive)
                if length > 3:
                    # where a tangent fits as well as the noise allows, no arc is tried
                    curved = np.flatnonzero(
                        alive & (line > length - 2 + SEARCH.good_enough * np.sqrt(2 * (length - 2)))
                    )
                    waiting.append((column, curved, sums.take(curved, axis=1)))
                    if len(waiting) == SEARCH.lengths_together:
                        alive[_try_arcs(cost, waiting, radii, lengths, live)] = False
                        waiting = []
            column += 1
    if waiting:
        _try_arcs(cost, waiting, radii, lengths, n)
    return cost


def add_position(sums, room, x, from_x, y, from_y, w):
    """Add one position of each span to its sums: w, wx, wy, wxx, wxy, wyy, wxz, wyz, wzz, from the
    span's first position.

    Parameters
    ----------
    sums : ndarray of float, shape (9, spans)
        Changed in place.
    room : ndarray of float, shape (5, spans)
        Overwritten: fresh arrays would not fit the processor's cache together.
    x, y, w : ndarray of float, shape (spans,)
        The position, metres, and its weight.
    from_x, from_y : ndarray of float, shape (spans,)
        The first position, metres.
    """
    dx, dy, z, one, other = room
    np.subtract(x, from_x, out=dx)
    np.subtract(y, from_y, out=dy)
    sums[0] += w
    np.multiply(dx, dx, out=one)
    np.multiply(dy, dy, out=other)
    np.add(one, other, out=z)
    one *= w
    sums[3] += one
    other *= w
    sums[5] += other
    np.multiply(w, dx, out=one)
    sums[1] += one
    np.multiply(one, dy, out=other)
    sums[4] += other
    one *= z
    sums[6] += one
    np.multiply(w, dy, out=one)
    sums[2] += one
    one *= z
    sums[7] += one
    np.multiply(w, z, out=one)
    one *= z
    sums[8] += one


def _try_arcs(cost, waiting, radii, lengths, live):
    """Lower `cost` where an arc is cheaper, for spans of several lengths at once (fewer, larger
    calls).

    Returns the first positions, below `live`, of spans that need not grow any more: tangents
    through two positions each would already be cheaper, and residuals only increase.
    """
    number = [len(first) for _, first, _ in waiting]
    column, first = (
        np.repeat([column for column, _, _ in waiting], number),
        np.concatenate([first for _, first, _ in waiting]),
    )
    circle = circle_of(np.concatenate([sums for *_, sums in waiting], axis=1), radii)
    least = np.minimum(cost[column, first], circle + SEARCH.arc_penalty)
    cost[column, first] = least
    return first[(least > SEARCH.tangent_penalty * (lengths[column] / 2 + 2)) & (first < live)]


def _search(x, y, weight, blocks, radii):
    """Starts of the spans in the cheapest chain of each block, mask of shape (n,)."""
    size = np.diff(blocks)
    lengths = np.array(SEARCH.span_lengths)
    lengths = lengths[lengths <= size.max()]
    cost = np.empty((len(lengths), len(x)))
    first = 0
    while first < len(size):  # in batches that fit the processor's caches
        last = max(
            int(np.searchsorted(blocks, blocks[first] + SEARCH.summed_together, "right")) - 1,
            first + 1,
        )
        low, high = blocks[first], blocks[last]
        remaining = np.repeat(blocks[first + 1 : last + 1], size[first:last]) - np.arange(low, high)
        cost[:, low:high] = span_costs(
            x[low:high], y[low:high], weight[low:high], remaining, radii, lengths
        )
        first = last
    return _cheapest_chains(cost, lengths, blocks)


def _cheapest_chains(cost, lengths, blocks):
    """Starts of the spans in the cheapest chain of each block, mask of shape (n,), from the costs
    of all spans, (lengths, n).

    Bellman's recursion, with all blocks in step. The longest come first, so that the blocks that
    reach a place are contiguous.
    """
    n, size = cost.shape[1], np.diff(blocks)
    order = np.argsort(-size, kind="stable")
    longest = int(size.max())
    # number of blocks that have a position at each place
    going = np.searchsorted(-size[order], -np.arange(longest + 1), "left")
    base = offsets_of(going)
    first, level = blocks[:-1][order], group_index(base)
    cost = cost.take(first[np.arange(n) - base[level]] + level, axis=1)
    total = np.zeros(n + len(size))  # by place, then by block; a block's end is a place as well
    reached = offsets_of(np.append(len(size), going[:-1]))
    # costs up to the next places, by the length of their last span
    ahead = np.full((int(lengths[-1]) + 1, len(lengths), len(size)), np.inf)
    column = np.arange(len(lengths))
    for place in range(longest + 1):
        here = total[reached[place] : reached[place] + (going[place - 1] if place else len(size))]
        if place:
            np.min(ahead[place % len(ahead), :, : len(here)], axis=0, out=here)
        on = going[place]
        ahead[(place + lengths) % len(ahead), column, :on] = (
            cost[:, base[place] : base[place] + on] + here[:on]
        )
    starts = np.zeros(n, bool)
    place, at = size[order], np.arange(len(size))
    while len(at):
        back = place - lengths[:, None]
        there = np.maximum(back, 0)
        way = np.where(
            back >= 0, total[reached[there] + at] + cost[column[:, None], base[there] + at], np.inf
        )
        place = place - lengths[np.argmin(way, axis=0)]
        starts[first[at] + place] = True
        at, place = at[place > 0], place[place > 0]
    return starts


def fit_elements(x, y, variance, offsets, progress=None, radii=None, geometric=True):
    """Find and fit the tangents and arcs of all runs.

    Parameters
    ----------
    x, y : ndarray of float, shape (m,)
        Positions in metres.
    variance : ndarray of float, shape (m,)
        Of each position and axis, m2.
    offsets : ndarray of int, shape (runs + 1,)
    progress : callable, optional
        Called with the share of work done; may raise to stop it.
    radii : tuple of float, optional
        Minimum and maximum radius of arcs, metres; by default those of `tuning.SEARCH`.
    geometric : bool
        Fit arcs by geometric least squares; else by Kasa's circles, which suffice as first
        estimates.

    Returns
    -------
    Elements

    Notes
    -----
    Dynamic programming over spans of positions (Bellman 1961) minimises the sum of squared
    residuals in sigmas plus a penalty for each element (minimum description length). Sums are taken
    about each span's first position, so that large coordinates cost no digits. Afterwards
    neighbours are merged where one element explains them at less cost, which also removes the
    borders of blocks.
    """
    radii = SEARCH.radii if radii is None else radii
    m = len(x)
    if not m:
        none = np.zeros(0)
        return Elements(np.zeros(1, np.int64), none, none, none, none, none, none)
    place = place_in_group(offsets)
    blocks = offsets_from_starts(place % SEARCH.block == 0)
    weight = 1 / variance
    starts = np.zeros(m, bool)
    first = 0
    while first < len(blocks) - 1:  # in batches, which bounds the memory
        if progress:
            progress(blocks[first] / m)
        last = max(
            int(np.searchsorted(blocks, blocks[first] + SEARCH.searched_together, "right")) - 1,
            first + 1,
        )
        low, high = blocks[first], blocks[last]
        starts[low:high] = _search(
            x[low:high], y[low:high], weight[low:high], blocks[first : last + 1] - low, radii
        )
        first = last
    bounds = _merge_all(x, y, weight, offsets_from_starts(starts), group_index(offsets), radii)
    return fit_spans(x, y, weight, bounds, radii, geometric)


def savings_without(x, y, variance, offsets, first, length):
    """How much less tangents and arcs cost without some of a run's positions.

    Parameters
    ----------
    x, y, variance, offsets
        As in `fit_elements`.
    first, length : ndarray of int, shape (c,)
        Candidates: stretches of positions, each inside one run.

    Returns
    -------
    ndarray of float, shape (c,)
        Squared sigmas. A stretch that lies off one element splits it in two and needs another one
        for itself, which costs two elements more. A real short side costs one more at most.
    """
    run = group_index(offsets)
    low = np.maximum(first - SEARCH.window, offsets[:-1][run[first]])
    size = np.minimum(first + length + SEARCH.window, offsets[1:][run[first]]) - low
    weight = 1 / variance
    out = np.zeros(len(first))
    for begin in range(0, len(first), SEARCH.windows_together):
        some = slice(begin, begin + SEARCH.windows_together)
        number = size[some]
        place = np.arange(int(number.max()))[:, None]
        every = np.minimum(low[some] + place, len(x) - 1)
        rest = np.minimum(
            low[some] + place + length[some] * (place >= (first - low)[some]), len(x) - 1
        )
        full, part = (
            _least_cost(x[index], y[index], weight[index], left)
            for index, left in ((every, number), (rest, number - length[some]))
        )
        out[some] = full - part
    return out


def _least_cost(x, y, weight, size):
    """Cost of the cheapest chain of tangents and arcs through each window, shape (windows,).

    `x`, `y`, `weight`, shape (places, windows): each column holds `size` positions, and padding
    below them.
    """
    places, windows = x.shape
    remaining = (size - np.arange(places)[:, None]).ravel()
    lengths = np.arange(1, places + 1)
    cost = span_costs(
        x.ravel(), y.ravel(), weight.ravel(), remaining, SEARCH.radii, lengths, windows
    ).reshape(places, places, windows)
    total = np.zeros((places + 1, windows))
    for place in lengths:
        start = np.arange(place)
        total[place] = (total[:place] + cost[place - 1 - start, start]).min(axis=0)
    return total[size, np.arange(windows)]


def distance_from_joined(x, y, variance, offsets, elements):
    """Distance of positions from the single element that explains the elements around them.

    Parameters
    ----------
    x, y, variance, offsets
        As in `fit_elements`.
    elements : Elements
        Of these positions.

    Returns
    -------
    ndarray of float, shape (m,)
        Metres. 0 unless two elements cost less as one, with at most `SEARCH.max_between` positions
        between them, in elements of at most `SEARCH.max_in_one` positions each.
    """
    out = np.zeros(len(x))
    weight = 1 / variance
    run = group_index(offsets)
    bounds = elements.offsets
    size = np.diff(bounds)
    own = elements.chi + _penalties(elements)
    for skipped in range(1, SEARCH.max_between + 1):
        a = _pairs_around(bounds, run, skipped)
        b = a + skipped + 1
        if not a.size:
            continue
        index = ranges(
            np.column_stack([bounds[a], bounds[b]]).ravel(),
            np.column_stack([size[a], size[b]]).ravel(),
        )
        joint = fit_spans(
            x[index], y[index], weight[index], offsets_of(size[a] + size[b]), SEARCH.radii
        )
        cost = joint.chi + _penalties(joint)
        pick = np.flatnonzero(cost < own[a] + own[b] - SEARCH.tangent_penalty / 2)
        number = bounds[b[pick]] - bounds[a[pick] + 1]
        inner = ranges(bounds[a[pick] + 1], number)
        residual = _signed_distance(x[inner], y[inner], np.repeat(pick, number), joint)
        np.maximum.at(out, inner, np.abs(residual))
    return out


def _pairs_around(bounds, run, skipped):
    """First elements of pairs that may be one element, apart from the `skipped` ones between."""
    size = np.diff(bounds)
    a = np.arange(max(len(size) - skipped - 1, 0))
    b = a + skipped + 1
    between = bounds[b] - bounds[a + 1]
    good = (size[a] > 2) & (size[b] > 2) & (between <= SEARCH.max_between)
    good[good] &= run[bounds[a[good]]] == run[bounds[b[good]]]
    largest = np.zeros(len(a), np.int64)
    for k in range(1, skipped + 1):
        largest = np.maximum(largest, size[a + k])
    return a[good & (largest <= SEARCH.max_in_one)]


def _penalties(elements):
    """Penalty of each element, squared sigmas."""
    return np.where(elements.is_arc, SEARCH.arc_penalty, SEARCH.tangent_penalty)


def _element_costs(moments, number, radii):
    """Minimum cost of one element over each group of positions, and whether it is an arc (mask)."""
    line = moments.line_sum()
    _, _, radius, circle = moments.circle()
    circle = np.where(
        (radius >= radii[0]) & (radius <= radii[1]) & np.isfinite(circle), circle, np.inf
    )
    line = np.where(number < 3, 0.0, line) + SEARCH.tangent_penalty
    circle = np.where(number > 3, circle, np.inf) + SEARCH.arc_penalty
    return np.minimum(line, circle), circle < line


def _merge_all(x, y, weight, elements, run, radii):
    """Bounds of the elements after merging neighbours, two and then three at a time, wherever one
    element costs less, until nothing changes."""
    moments = Moments.of(x, y, weight, elements)
    run = run[elements[:-1]]
    own, _ = _element_costs(moments, np.diff(elements), radii)
    # costs of each element and those after it as one; NaN where they are not known
    joint = {size: np.full(len(own), np.nan) for size in range(2, SEARCH.max_merged + 1)}
    together = 2
    for _ in range(SEARCH.merge_rounds):
        group = np.flatnonzero(run[together - 1 :] == run[: 1 - together])
        new = group[np.isnan(joint[together][group])]
        number = elements[new + together] - elements[new]
        joint[together][new], _ = _element_costs(_joined(moments, new, together), number, radii)
        chosen = _worth_merging(own, joint[together], run, group, together)
        if not chosen.size:
            if together == SEARCH.max_merged:
                break
            # a short element between two long ones on one line: merging two of the three does not
            # pay
            together += 1
            continue
        moments = moments.put(chosen, _joined(moments, chosen, together))
        own[chosen] = joint[together][chosen]
        keep, changed = np.ones(len(own), bool), np.zeros(len(own), bool)
        changed[chosen] = True
        for k in range(1, together):
            keep[chosen + k] = False
        elements, changed = elements[np.append(keep, True)], changed[keep]
        run, own, moments = run[keep], own[keep], moments.take(keep)
        joint = {size: _still_known(costs[keep], changed, size) for size, costs in joint.items()}
        together = 2
    return elements


def _joined(moments, first, together):
    """Moments of `together` neighbours from each of `first` on."""
    out = moments.take(first)
    for k in range(1, together):
        out = out + moments.take(first + k)
    return out


def _still_known(costs, changed, size):
    """Costs of `size` neighbours as one, NaN where one of them has changed (mask)."""
    for k in range(min(size, len(changed))):
        costs[: len(costs) - k][changed[k:]] = np.nan
    return costs


def _worth_merging(own, joint, run, group, together):
    """First elements of the sets of `together` neighbours whose merging saves more than that of
    the sets that they overlap; `group`: first elements of all sets within runs."""
    if not group.size:
        return group
    tries = len(own) - together + 1
    # padded, so that the first and last tries have neighbours as well
    saving = np.full(tries + 2 * (together - 1), -np.inf)
    here = saving[together - 1 : together - 1 + tries]
    place = group - np.searchsorted(run, run[group])
    # break ties so that at least every other one of equal savings is taken, not only the first
    # exact: the golden ratio, whose multiples spread evenly
    here[group] = (
        sum(own[group + k] for k in range(together))
        - joint[group]
        + SEARCH.tie * (place * 0.618034 % 1)
    )
    best = here > SEARCH.min_saving
    for k in range(1, together):
        best &= (here >= saving[together - 1 + k :][:tries]) & (
            here > saving[together - 1 - k :][:tries]
        )
    return group[best[group]]


def fit_spans(x, y, weight, elements, radii, geometric=True):
    """Fit one element to each span: tangents by total least squares, arcs by geometric least
    squares or as Kasa's circles.

    Parameters
    ----------
    x, y, weight : ndarray of float, shape (m,)
        Positions, metres, and one over their variances.
    elements : ndarray of int, shape (spans + 1,)
        Bounds of the spans.
    radii : tuple of float
        Minimum and maximum radius of arcs, metres.
    geometric : bool

    Returns
    -------
    Elements
    """
    first, last = elements[:-1], elements[1:]
    number = np.diff(elements)
    moments = Moments.of(x, y, weight, elements)
    ux, uy = moments.line_direction()
    end = last - 1
    back = ux * (x[end] - x[first]) + uy * (y[end] - y[first]) < 0
    ux, uy = np.where(back, -ux, ux), np.where(back, -uy, uy)
    px, py = moments.x.copy(), moments.y.copy()
    radius = np.full(len(number), np.inf)
    _, arc = _element_costs(moments, number, radii)
    which = np.flatnonzero(arc)
    if which.size:
        cx, cy, r, _ = moments.take(which).circle()
        if geometric:
            index, bounds = ranges(first[which], number[which]), offsets_of(number[which])
            cx, cy, r = _fit_circles(x[index], y[index], weight[index], bounds, (cx, cy, r))
        good = np.isfinite(r) & (r >= radii[0]) & (r <= radii[1])
        px[which[good]], py[which[good]], radius[which[good]] = cx[good], cy[good], r[good]
    fitted = Elements(elements, px, py, ux, uy, radius, np.zeros(len(number)))
    residual = _signed_distance(x, y, group_index(elements), fitted)
    return replace(fitted, chi=group_sum(weight * residual * residual, elements))


def _fit_circles(x, y, weight, offsets, circles):
    """Geometric circle fits by damped Gauss-Newton steps, all at once (Gander, Golub and Strebel
    1994): x, y and radius.

    `offsets`: positions of each circle; `circles`: first estimates of x, y and radius. A step that
    does not lower the sum of squares is repeated with more damping.
    """
    cx, cy, r = circles
    owner = group_index(offsets)

    def residuals(cx, cy, r):
        dx, dy = x - cx[owner], y - cy[owner]
        length = np.maximum(distance(dx, dy), 1e-12)
        return length - r[owner], dx / length, dy / length

    residual, ex, ey = residuals(cx, cy, r)
    best = group_sum(weight * residual * residual, offsets)
    damping = np.full(len(r), SEARCH.circle_damping)
    for _ in range(SEARCH.circle_rounds):
        design = np.stack([ex, ey, np.ones_like(ex)], axis=1)
        normal = group_sum((weight[:, None] * design)[:, :, None] * design[:, None, :], offsets)
        right = group_sum((weight * residual)[:, None] * design, offsets)
        normal[:, [0, 1, 2], [0, 1, 2]] *= 1 + damping[:, None]
        step = np.linalg.solve(normal, right[:, :, None])[:, :, 0]
        trial = cx + step[:, 0], cy + step[:, 1], r + step[:, 2]
        tried = residuals(*trial)
        total = group_sum(weight * tried[0] * tried[0], offsets)
        better = (total <= best) & (trial[2] > 0)
        cx, cy, r, best = (
            np.where(better, *both) for both in zip((*trial, total), (cx, cy, r, best))
        )
        damping = np.where(
            better,
            np.maximum(damping / SEARCH.circle_easing, SEARCH.circle_damping_floor),
            np.maximum(damping, SEARCH.circle_damping_failed) * SEARCH.circle_stiffening,
        )
        take = better[owner]
        residual, ex, ey = (np.where(take, *both) for both in zip(tried, (residual, ex, ey)))
    return cx, cy, r


def _signed_distance(x, y, owner, elements):
    """Distance of each position from element `owner`: + outward of arcs, + to the left of tangents.

    Unlike `Primitives.signed_distance`, it needs no direction: arcs of the search have none.
    """
    dx, dy = x - elements.x[owner], y - elements.y[owner]
    arc = elements.is_arc[owner]
    return np.where(
        arc,
        distance(dx, dy) - np.where(arc, elements.radius[owner], 0.0),
        elements.ux[owner] * dy - elements.uy[owner] * dx,
    )


def project(elements, x, y):
    """Feet of positions on their elements.

    Parameters
    ----------
    elements : Elements
    x, y : ndarray of float, shape (m,)

    Returns
    -------
    ndarray of float, shape (m, 2)
    """
    owner = group_index(elements.offsets)
    residual = _signed_distance(x, y, owner, elements)
    dx, dy = x - elements.x[owner], y - elements.y[owner]
    length = np.maximum(distance(dx, dy), 1e-12)
    arc = elements.is_arc[owner]
    nx = np.where(arc, dx / length, -elements.uy[owner])
    ny = np.where(arc, dy / length, elements.ux[owner])
    return np.column_stack([x - residual * nx, y - residual * ny])


def curvature_at(elements, element, points):
    """Second derivative by chainage of elements at points on them.

    Parameters
    ----------
    elements : Elements
    element : ndarray of int, shape (q,)
    points : ndarray of float, shape (q, 2)

    Returns
    -------
    ndarray of float, shape (q, 2)
        1/m, towards the centre of an arc; 0 on tangents.
    """
    arc = elements.is_arc[element]
    square = np.where(arc, elements.radius[element], 1.0) ** 2
    centre = np.column_stack([elements.x[element], elements.y[element]])
    return np.where(arc[:, None], (centre - points) / square[:, None], 0.0)


def element_leverage(elements, x, y):
    """Leverage of each position: the share of its own error that its foot takes up.

    Parameters
    ----------
    elements : Elements
    x, y : ndarray of float, shape (m,)

    Returns
    -------
    ndarray of float, shape (m,)
        0 to 1: ``1/n + t**2 / sum(t**2)``, t from the middle, as for a straight line fitted to the
        positions of the element; for an arc with the third term of a parabola (any textbook on
        least squares).
    """
    owner = group_index(elements.offsets)
    number = np.diff(elements.offsets)
    if not len(owner):
        return np.zeros(0)

    def mean(values):
        return (group_sum(values, elements.offsets) / number)[owner]

    t = cumulative(np.append(distance(np.diff(x), np.diff(y)), 0.0), elements.offsets)
    t = t - mean(t)
    square = np.maximum(mean(t * t), 1e-12)
    share = (1 + t * t / square) / number[owner]
    u = t * t - square - t * mean(t**3) / square
    third = np.where(number[owner] > 3, u * u / np.maximum(mean(u * u), 1e-12) / number[owner], 0.0)
    share = np.where(number[owner] < 2, 1.0, share + np.where(elements.is_arc[owner], third, 0.0))
    return np.minimum(share, 1.0)
