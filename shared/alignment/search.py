"""Runs as chains of tangents and circular arcs."""

from dataclasses import dataclass

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import (
    cumulative,
    group_index,
    group_sum,
    offsets_from_starts,
    place_in_group,
    ranges,
)
from .moments import Moments

# positions in one span of the search; longer elements are found by merging
LENGTHS = np.array([*range(1, 13), 14, 16])
# positions searched together; spans across a block's end are found by merging afterwards
BLOCK = 128
TANGENT_COST = 10.0  # in units of squared sigmas: what one more tangent must explain
ARC_COST = 14.0
ELEMENT_NOISE = 1.15  # white noise alone leaves out the drift that positions of one element share
RADII = LEAST_RADIUS, GREATEST_RADIUS = 0.5, 400.0  # m
NEAR_ENOUGH, TIE = 1e-6, 1e-7
MOST_MERGED = 3  # neighbouring elements tried as one
ENOUGH = 1.0  # sigmas of chi-square up to which a tangent needs no better
# positions whose moments are summed at once: fewer cost calls, more leave the processor's caches
SUMMED = 3 << 13
SEARCHED = 1 << 16  # positions searched at once
WINDOW = 10  # positions on either side that decide about a doubtful one
TOGETHER = 1600  # windows looked at together
AT_ONCE = 4  # lengths of spans whose arcs are tried together


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
        return np.isfinite(self.radius)


def _line(w, x, y, xx, xy, yy):
    """Sum of squared distances from the least squares line, in units of variance, from weighted
    moments."""
    mx, my = x / w, y / w
    sxx, syy, sxy = xx - x * mx, yy - y * my, xy - x * my
    return np.maximum((sxx + syy) / 2 - distance((sxx - syy) / 2, sxy), 0.0)


def _circle(w, x, y, xx, xy, yy, xz, yz, zz, radii=RADII):
    """Algebraic circle from weighted moments about any near origin.

    Returns the sum of squared distances in units of variance, infinite where the radius is out of
    range, and centre and radius. Kasa's circle, whose sum is turned into distances by the gradient,
    as in Pratt 1987.
    """
    mx, my = x / w, y / w
    z = (xx + yy) / w
    sxx, syy, sxy = xx / w - mx * mx, yy / w - my * my, xy / w - mx * my
    dxz, dyz = xz / w - mx * z, yz / w - my * z
    var = (
        zz / w
        - z * z
        + 4 * (mx * mx * sxx + my * my * syy + 2 * mx * my * sxy)
        - 4 * (mx * dxz + my * dyz)
    )
    dxz = dxz - 2 * mx * sxx - 2 * my * sxy
    dyz = dyz - 2 * mx * sxy - 2 * my * syy
    det = sxx * syy - sxy * sxy
    with np.errstate(divide="ignore", invalid="ignore"):
        a, b = (dxz * syy - dyz * sxy) / det / 2, (dyz * sxx - dxz * sxy) / det / 2
        square = a * a + b * b + sxx + syy
        circle = np.maximum(var - 2 * a * dxz - 2 * b * dyz, 0.0) / (4 * square) * w
    radius = np.sqrt(square)
    usable = (radius >= radii[0]) & (radius <= radii[1]) & np.isfinite(circle)
    return np.where(usable, circle, np.inf), a + mx, b + my, radius


def _span_costs(x, y, weight, remaining, radii, lengths, step=1):
    """Least cost of one element over each span, shape (lengths, n), by the span's first position;
    infinite where the span would leave its block.

    `remaining`, shape (n,): positions from here to the block's end. A position is followed by the
    next one of its block so many places on as `step` says.
    """
    n = len(x)
    cost = np.full((len(lengths), n), np.inf)
    sums, room = np.zeros((9, n)), np.empty((5, n))
    alive = np.ones(n, bool)  # first positions of spans that may still become elements
    column, waiting = 0, []
    for length in range(1, int(min(lengths[-1], remaining.max())) + 1):
        ahead = (length - 1) * step
        live = n - ahead
        _add_position(
            sums[:, :live], room[:, :live], x[ahead:], x[:live], y[ahead:], y[:live], weight[ahead:]
        )
        if column < len(lengths) and length == lengths[column]:
            alive = alive[:live] & (remaining[:live] >= length)
            if length < 3:
                cost[column, :live][alive] = TANGENT_COST
            else:
                line = _line(*sums[:6, :live])
                np.copyto(cost[column, :live], line + TANGENT_COST, where=alive)
                if length > 3:
                    # where a tangent is as good as noise lets it be, no arc is tried
                    bent = np.flatnonzero(
                        alive & (line > length - 2 + ENOUGH * np.sqrt(2 * (length - 2)))
                    )
                    waiting.append((column, bent, sums.take(bent, axis=1)))
                    if len(waiting) == AT_ONCE:
                        alive[_try_arcs(cost, waiting, radii, lengths, live)] = False
                        waiting = []
            column += 1
    if waiting:
        _try_arcs(cost, waiting, radii, lengths, n)
    return cost


def _add_position(sums, room, x, from_x, y, from_y, w):
    """Add one position of each span to its sums: w, wx, wy, wxx, wxy, wyy, wxz, wyz, wzz, from the
    span's first position.

    `room`, shape (5, spans), is overwritten: fresh arrays would not fit the processor's cache
    together.
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
    """Arcs for spans of several lengths, together since few calls take less time: `cost` where they
    are cheaper.

    Returns first positions, less than `live`, of spans that need not grow: residuals only do so
    too, and tangents through two positions each would be cheaper already.
    """
    number = [len(first) for _, first, _ in waiting]
    column, first = (
        np.repeat([column for column, _, _ in waiting], number),
        np.concatenate([first for _, first, _ in waiting]),
    )
    circle, *_ = _circle(*np.concatenate([sums for *_, sums in waiting], axis=1), radii)
    price = np.minimum(cost[column, first], circle + ARC_COST)
    cost[column, first] = price
    return first[(price > TANGENT_COST * (lengths[column] / 2 + 2)) & (first < live)]


def _search(x, y, weight, blocks, radii=RADII, lengths=LENGTHS):
    """Starts of the cheapest chain of spans in each block, mask of shape (n,), and the chains'
    costs."""
    n = len(x)
    size = np.diff(blocks)
    lengths = lengths[lengths <= size.max()]
    cost = np.empty((len(lengths), n))
    first = 0
    while first < len(size):  # so many positions at a time
        last = max(int(np.searchsorted(blocks, blocks[first] + SUMMED, "right")) - 1, first + 1)
        low, high = blocks[first], blocks[last]
        remaining = np.repeat(blocks[first + 1 : last + 1], size[first:last]) - np.arange(low, high)
        cost[:, low:high] = _span_costs(
            x[low:high], y[low:high], weight[low:high], remaining, radii, lengths
        )
        first = last
    # cheapest way to each place, all blocks in step, the longest ones first: then those that go on
    # stand side by side
    order = np.argsort(-size, kind="stable")
    longest = int(size.max())
    # blocks that have a position at each place
    going = np.searchsorted(-size[order], -np.arange(longest + 1), "left")
    base = np.concatenate([[0], np.cumsum(going)])
    first, level = blocks[:-1][order], group_index(base)
    cost = cost.take(first[np.arange(n) - base[level]] + level, axis=1)
    total = np.zeros(n + len(size))  # by place, then by block: that of a block's end counts too
    reached = np.concatenate([[0], np.cumsum(np.append(len(size), going[:-1]))])
    # ways to the next places by their last span
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
    least = np.empty(len(size))
    least[order] = total[reached[place] + at]
    while len(at):
        back = place - lengths[:, None]
        there = np.maximum(back, 0)
        way = np.where(
            back >= 0, total[reached[there] + at] + cost[column[:, None], base[there] + at], np.inf
        )
        place = place - lengths[np.argmin(way, axis=0)]
        starts[first[at] + place] = True
        at, place = at[place > 0], place[place > 0]
    return starts, least


def fit_elements(x, y, variance, offsets, checkpoint=None, radii=RADII, geometric=True):
    """Find and fit the tangents and arcs of all runs.

    Parameters
    ----------
    x, y : ndarray of float, shape (m,)
        Positions in metres.
    variance : ndarray of float, shape (m,)
        Of each position and axis, m2.
    offsets : ndarray of int, shape (runs + 1,)
    checkpoint : callable, optional
        Called with the share of work done; may raise to stop it.
    radii : tuple of float
        Least and greatest radius of arcs, metres.
    geometric : bool
        Arcs by geometric least squares; else Kasa's circles, which are enough to start from.

    Returns
    -------
    Elements

    Notes
    -----
    Dynamic programming over spans of positions: the chain with the least sum of squared residuals
    in sigmas plus a price for each element (a minimum description length; Bellman 1961 for the
    search). Moments of all spans are summed once, from the span's own first position, so that large
    coordinates cost no digits. Neighbours that one element explains as well are merged afterwards,
    which also joins what block ends had cut.
    """
    m = len(x)
    if not m:
        none = np.zeros(0)
        return Elements(np.zeros(1, np.int64), none, none, none, none, none, none)
    place = place_in_group(offsets)
    blocks = offsets_from_starts(place % BLOCK == 0)
    weight = 1 / variance
    starts = np.zeros(m, bool)
    first = 0
    while first < len(blocks) - 1:  # so many positions at a time keep the memory small
        if checkpoint:
            checkpoint(blocks[first] / m)
        last = max(int(np.searchsorted(blocks, blocks[first] + SEARCHED, "right")) - 1, first + 1)
        low, high = blocks[first], blocks[last]
        starts[low:high], _ = _search(
            x[low:high], y[low:high], weight[low:high], blocks[first : last + 1] - low, radii
        )
        first = last
    run = group_index(offsets)
    return _fit(
        x,
        y,
        weight,
        _merge_all(x, y, weight, offsets_from_starts(starts), run, radii),
        radii,
        geometric,
    )


def savings_without(x, y, variance, offsets, first, length):
    """How much cheaper a run is explained without some of its positions.

    Parameters
    ----------
    x, y, variance, offsets
        As in `fit_elements`.
    first, length : ndarray of int, shape (c,)
        Candidates: stretches of positions, each inside one run.

    Returns
    -------
    ndarray of float, shape (c,)
        In units of squared sigmas. A stretch that lies off one element breaks it in two and needs
        another one for itself: that costs two elements. A real short side costs one at most.
    """
    run = group_index(offsets)
    low = np.maximum(first - WINDOW, offsets[:-1][run[first]])
    size = np.minimum(first + length + WINDOW, offsets[1:][run[first]]) - low
    weight = 1 / variance
    out = np.zeros(len(first))
    for begin in range(0, len(first), TOGETHER):
        some = slice(begin, begin + TOGETHER)
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

    `x`, `y`, `weight`, shape (places, windows): `size` positions in each column, and below them
    what does not matter.
    """
    places, windows = x.shape
    remaining = (size - np.arange(places)[:, None]).ravel()
    lengths = np.arange(1, places + 1)
    cost = _span_costs(
        x.ravel(), y.ravel(), weight.ravel(), remaining, RADII, lengths, windows
    ).reshape(places, places, windows)
    total = np.zeros((places + 1, windows))
    for place in lengths:
        start = np.arange(place)
        total[place] = (total[:place] + cost[place - 1 - start, start]).min(axis=0)
    return total[size, np.arange(windows)]


def beside_joined(x, y, variance, offsets, elements, most_between=5, most_in_one=2):
    """Distance of positions from the one element that their neighbours on both sides lie on.

    Parameters
    ----------
    x, y, variance, offsets
        As in `fit_elements`.
    elements : Elements
        Of these positions.
    most_between, most_in_one : int
        Only so many positions between two elements, and only in elements that hold so few.

    Returns
    -------
    ndarray of float, shape (m,)
        Metres; 0 where there are no two such neighbours, or where they lie on one element no better
        than on two.
    """
    out = np.zeros(len(x))
    weight = 1 / variance
    run = group_index(offsets)
    bounds = elements.offsets
    size = np.diff(bounds)
    own = elements.chi + np.where(elements.is_arc, ARC_COST, TANGENT_COST)
    for skipped in range(1, most_between + 1):
        a = np.arange(max(len(size) - skipped - 1, 0))
        b = a + skipped + 1
        between = bounds[b] - bounds[a + 1]
        good = (size[a] > 2) & (size[b] > 2) & (between <= most_between)
        good[good] &= run[bounds[a[good]]] == run[bounds[b[good]]]
        largest = np.zeros(len(a), np.int64)
        for k in range(1, skipped + 1):
            largest = np.maximum(largest, size[a + k])
        a, b = a[good & (largest <= most_in_one)], b[good & (largest <= most_in_one)]
        if not a.size:
            continue
        number = size[a] + size[b]
        index = ranges(
            np.column_stack([bounds[a], bounds[b]]).ravel(),
            np.column_stack([size[a], size[b]]).ravel(),
        )
        joint = _fit(x[index], y[index], weight[index], np.concatenate([[0], np.cumsum(number)]))
        price = joint.chi + np.where(joint.is_arc, ARC_COST, TANGENT_COST)
        pick = np.flatnonzero(price < own[a] + own[b] - TANGENT_COST / 2)
        inner = ranges(bounds[a[pick] + 1], bounds[b[pick]] - bounds[a[pick] + 1])
        owner = np.repeat(pick, bounds[b[pick]] - bounds[a[pick] + 1])
        off = _signed_off(
            x[inner], y[inner], owner, joint.x, joint.y, joint.ux, joint.uy, joint.radius
        )
        np.maximum.at(out, inner, np.abs(off))
    return out


def _price(moments, number, radii):
    """Least cost of one element over each group of positions, and whether that is an arc."""
    line = moments.line_sum()
    _, _, radius, circle = moments.circle()
    circle = np.where(
        (radius >= radii[0]) & (radius <= radii[1]) & np.isfinite(circle), circle, np.inf
    )
    line = np.where(number < 3, 0.0, line) + TANGENT_COST
    circle = np.where(number > 3, circle, np.inf) + ARC_COST
    return np.minimum(line, circle), circle < line


def _merge_all(x, y, weight, elements, run, radii):
    """Join neighbouring elements where one costs less than all of them, two and then three
    together, as long as any do."""
    moments = Moments.of(x, y, weight, elements)
    run = run[elements[:-1]]
    together = 2
    for _ in range(24):
        keep, merged = _merge(moments, elements, run, together, radii)
        if keep.all():
            if together == MOST_MERGED:
                break
            # a short element between two long ones of one line: no two of the three are cheaper as
            # one
            together += 1
            continue
        elements, run, moments = elements[np.append(keep, True)], run[keep], merged.take(keep)
        together = 2
    return elements


def _merge(moments, elements, run, together, radii):
    """Elements to keep (mask), and the moments of all with what joins them added; the greatest
    savings first."""
    count = len(moments)
    keep = np.ones(count, bool)
    if count < together:
        return keep, moments
    number = np.diff(elements)
    own, _ = _price(moments, number, radii)
    tries = count - together + 1
    group = np.flatnonzero(run[together - 1 :] == run[:tries])
    joined = moments.take(group)
    for k in range(1, together):
        joined = joined + moments.take(group + k)
    joint, _ = _price(joined, elements[group + together] - elements[group], radii)
    # with room on either side for neighbours that are not there
    saving = np.full(tries + 2 * (together - 1), -np.inf)
    here = saving[together - 1 : together - 1 + tries]
    # of equal savings every other one at least, not the first alone
    place = group - np.searchsorted(run, run[group])
    here[group] = (
        sum(own[group + k] for k in range(together)) - joint + TIE * (place * 0.618034 % 1)
    )
    best = here > NEAR_ENOUGH
    for k in range(1, together):
        best &= (here >= saving[together - 1 + k :][:tries]) & (
            here > saving[together - 1 - k :][:tries]
        )
    chosen = np.flatnonzero(best[group])
    for k in range(1, together):
        keep[group[chosen] + k] = False
    columns = [column.copy() for column in moments.columns()]
    for column, new in zip(columns, joined.take(chosen).columns()):
        column[group[chosen]] = new
    return keep, Moments(*columns)


def _fit(x, y, weight, elements, radii=RADII, geometric=True):
    """Tangents by total least squares, arcs by geometric least squares or as Kasa's circles."""
    first, last = elements[:-1], elements[1:]
    number = np.diff(elements)
    moments = Moments.of(x, y, weight, elements)
    ux, uy = moments.line_direction()
    end = last - 1
    back = ux * (x[end] - x[first]) + uy * (y[end] - y[first]) < 0
    ux, uy = np.where(back, -ux, ux), np.where(back, -uy, uy)
    px, py = moments.x.copy(), moments.y.copy()
    radius = np.full(len(number), np.inf)
    _, arc = _price(moments, number, radii)
    which = np.flatnonzero(arc)
    if which.size:
        cx, cy, r, _ = moments.take(which).circle()
        if geometric:
            cx, cy, r = _geometric(x, y, weight, first[which], last[which], cx, cy, r)
        good = np.isfinite(r) & (r >= radii[0]) & (r <= radii[1])
        px[which[good]], py[which[good]], radius[which[good]] = cx[good], cy[good], r[good]
    owner = group_index(elements)
    off = _signed_off(x, y, owner, px, py, ux, uy, radius)
    return Elements(elements, px, py, ux, uy, radius, group_sum(weight * off * off, elements))


def _geometric(x, y, weight, first, last, cx, cy, r, rounds=12):
    """Geometric circle fits by Gauss-Newton, all at once (Gander, Golub and Strebel 1994).

    A step that does not lower the sum of squares is halved in the next round.
    """
    number = last - first
    index = ranges(first, number)
    owner = np.repeat(np.arange(len(first)), number)
    bounds = np.concatenate([[0], np.cumsum(number)])
    w = weight[index]

    def residuals(cx, cy, r):
        dx, dy = x[index] - cx[owner], y[index] - cy[owner]
        away = np.maximum(distance(dx, dy), 1e-12)
        return away - r[owner], dx / away, dy / away

    off, ex, ey = residuals(cx, cy, r)
    best = group_sum(w * off * off, bounds)
    damping = np.full(len(first), 1e-9)
    for _ in range(rounds):
        design = np.stack([ex, ey, np.ones_like(ex)], axis=1)
        normal = group_sum((w[:, None] * design)[:, :, None] * design[:, None, :], bounds)
        right = group_sum((w * off)[:, None] * design, bounds)
        normal[:, [0, 1, 2], [0, 1, 2]] *= 1 + damping[:, None]
        step = np.linalg.solve(normal, right[:, :, None])[:, :, 0]
        tx, ty, tr = cx + step[:, 0], cy + step[:, 1], r + step[:, 2]
        t_off, t_ex, t_ey = residuals(tx, ty, tr)
        total = group_sum(w * t_off * t_off, bounds)
        better = (total <= best) & (tr > 0)
        cx, cy, r, best = (
            np.where(better, tx, cx),
            np.where(better, ty, cy),
            np.where(better, tr, r),
            np.where(better, total, best),
        )
        damping = np.where(better, np.maximum(damping / 10, 1e-12), np.maximum(damping, 1e-6) * 100)
        take = better[owner]
        off, ex, ey = np.where(take, t_off, off), np.where(take, t_ex, ex), np.where(take, t_ey, ey)
    return cx, cy, r


def _signed_off(x, y, owner, px, py, ux, uy, radius):
    """Distance from each position to its element: outward for arcs, to the left for tangents."""
    dx, dy = x - px[owner], y - py[owner]
    arc = np.isfinite(radius)[owner]
    return np.where(
        arc, distance(dx, dy) - np.where(arc, radius[owner], 0.0), ux[owner] * dy - uy[owner] * dx
    )


def project(elements, x, y):
    """Feet of positions on their elements, shape (m, 2)."""
    owner = group_index(elements.offsets)
    off = _signed_off(
        x, y, owner, elements.x, elements.y, elements.ux, elements.uy, elements.radius
    )
    dx, dy = x - elements.x[owner], y - elements.y[owner]
    away = np.maximum(distance(dx, dy), 1e-12)
    arc = elements.is_arc[owner]
    nx = np.where(arc, dx / away, -elements.uy[owner])
    ny = np.where(arc, dy / away, elements.ux[owner])
    return np.column_stack([x - off * nx, y - off * ny])


def bend_at(elements, element, points):
    """Second derivative by chainage of elements at points on them, shape (q, 2), 1/m: towards the
    centre of an arc."""
    arc = elements.is_arc[element]
    square = np.where(arc, elements.radius[element], 1.0) ** 2
    centre = np.column_stack([elements.x[element], elements.y[element]])
    return np.where(arc[:, None], (centre - points) / square[:, None], 0.0)


def element_leverage(elements, x, y):
    """Share of each position in its own foot, 0 to 1, shape (m,).

    That of a straight line fitted to the positions of the element, and for an arc that of a
    parabola (any text on least squares): ``1/n + t**2 / sum(t**2)`` with t from the middle, and the
    third term likewise.
    """
    owner = group_index(elements.offsets)
    number = np.diff(elements.offsets)
    if not len(owner):
        return np.zeros(0)
    t = cumulative(np.append(distance(np.diff(x), np.diff(y)), 0.0), elements.offsets)
    mean = lambda values: (group_sum(values, elements.offsets) / number)[owner]  # noqa: E731
    t = t - mean(t)
    square = np.maximum(mean(t * t), 1e-12)
    share = (1 + t * t / square) / number[owner]
    u = t * t - square - t * mean(t**3) / square
    third = np.where(number[owner] > 3, u * u / np.maximum(mean(u * u), 1e-12) / number[owner], 0.0)
    share = np.where(number[owner] < 2, 1.0, share + np.where(elements.is_arc[owner], third, 0.0))
    return np.minimum(share, 1.0)
