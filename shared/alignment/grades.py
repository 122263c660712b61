"""Straight grades between grade breaks: linear splines with free knots, for many runs at once."""

from dataclasses import dataclass

import numpy as np
from scipy.linalg.lapack import dpttrf, dpttrs

from ..arrays.ragged import (
    first_of_each,
    group_index,
    group_max,
    group_sum,
    offsets_from_starts,
    offsets_of,
    on_grid,
    place_in_group,
    ranges,
    running_sum,
)
from ..tuning import GRADE_BREAKS


@dataclass(frozen=True)
class Grades:
    """Continuous piecewise linear profiles; arrays of shape (knots,).

    Attributes
    ----------
    at : float
        Chainage of the knots: both ends of each run and the breaks between them; increasing over
        all runs.
    run : int
    value : float
        Height.
    variance, next_covariance : float
        Variance of each value, and its covariance with the next one, for weights that are inverse
        variances.
    """

    at: np.ndarray
    run: np.ndarray
    value: np.ndarray
    variance: np.ndarray
    next_covariance: np.ndarray

    def grade(self, x, run):
        """Knot at the start of the grade of each place, shape (q,); beyond the ends of a run, of
        its first or last grade."""
        first, last = _ends(self.run, np.arange(self.run[-1] + 1))
        places = _places(x, self.at)
        # places in order, as observations are, take a fraction of the time
        if places[0] == 0 and (x[1:] >= x[:-1]).all():
            knot = group_index(places)
        else:
            knot = np.searchsorted(self.at, x, "right") - 1
        return np.minimum(np.maximum(knot, first[run]), np.maximum(last - 1, first)[run])

    def along(self, x, run, start=None):
        """Profile at places, shape (q,), of runs; `start`: the result of `grade`, if known already.

        Returns
        -------
        height, slope, variance : ndarray of float, shape (q,)
            Metres, m/m and m2; the variance is for fixed breaks.
        """
        start = self.grade(x, run) if start is None else start
        on = np.append(self.run[1:] == self.run[:-1], False)  # a run of one knot is level
        end = np.arange(len(on)) + on
        length = np.where(on, self.at[end] - self.at, 1.0)
        each = (
            self.at,
            length,
            self.value,
            (self.value[end] - self.value) / length,
            self.variance,
            self.variance[end],
            np.where(on, self.next_covariance, self.variance),
        )
        at, length, value, slope, first, last, covariance = (values.take(start) for values in each)
        way = x - at
        share = way / length
        rest = 1 - share
        return (
            value + slope * way,
            slope,
            rest**2 * first + share**2 * last + 2 * share * rest * covariance,
        )


def fit_grades(x, z, weight, offsets, ring=None):
    """Find the grade breaks of all runs and fit the grades between them jointly.

    Parameters
    ----------
    x : ndarray of float, shape (n,)
        Chainage, metres, increasing inside each run and from run to run.
    z : ndarray of float, shape (n,)
        Heights, metres, preferably relative to a height nearby.
    weight : ndarray of float, shape (n,)
        One over the variance of each height.
    offsets : ndarray of int, shape (runs + 1,)
        No run is empty.
    ring : ndarray of float, shape (runs,), optional
        Length of a closed run, back to its first observation: beyond its last observation, short of
        the next run's first one. NaN for an open run. A closed run has at least three observations.

    Returns
    -------
    Grades

    Raises
    ------
    ValueError
        If a weight is not finite and positive.

    Notes
    -----
    Minimises the sum of squared residuals in sigmas plus a penalty for each break. Backward
    elimination starts with a break every few metres and removes the weakest until all that remain
    earn their penalty; what a break explains is its Wald statistic, exact for least squares. Then
    breaks are moved to where they explain more, by the exact gain of one more knot in a linear
    spline with known covariance. Each step is one tridiagonal system for all runs that may still
    change.
    """
    if not ((weight > 0) & np.isfinite(weight)).all():
        raise ValueError("weights must be finite and greater than 0")
    heights = _Heights(x, z, weight, offsets, ring)
    at, run = _start(x, offsets, ring)
    at, run = _prune(at, run, heights.moments(at), ring)
    runs = len(offsets) - 1
    # runs that have changed since a round of this kind was last tried
    fresh = {taken: np.ones(runs, bool) for taken in GRADE_BREAKS.rounds}
    for taken in GRADE_BREAKS.rounds:
        which = fresh[taken] & (np.bincount(run, minlength=runs) >= taken + 2)
        changed = np.zeros(runs, bool)
        if which.any():
            at, run, changed = _move_in_runs(heights, at, run, which, taken)
        for other, since in fresh.items():
            fresh[other] = changed if other == taken else since | changed
    return refit(x, z, weight, at, run, ring)


@dataclass(frozen=True)
class _Heights:
    """Observed heights of runs; all arrays as in `fit_grades`."""

    x: np.ndarray
    z: np.ndarray
    weight: np.ndarray
    offsets: np.ndarray
    ring: np.ndarray

    def of_runs(self, which):
        """The heights of some runs (mask)."""
        seen = which[group_index(self.offsets)]
        return _Heights(
            self.x[seen],
            self.z[seen],
            self.weight[seen],
            offsets_of(np.diff(self.offsets)[which]),
            None if self.ring is None else self.ring[which],
        )

    def moments(self, at):
        """Moments of the observations after each knot, about the knot, shape (5, knots)."""
        return _moments(self.x, self.z, self.weight, at)


def _move_in_runs(heights, at, run, which, taken):
    """One round of moves in some runs (mask): the knots of all runs afterwards, and the runs (mask)
    that changed."""
    old, own = which[run], np.cumsum(which) - 1
    part = heights.of_runs(which)
    start, of = at[old], own[run[old]]
    moved, of_moved = _move(part, start, of, taken)
    moved, of_moved = _prune(moved, of_moved, part.moments(moved), part.ring)
    number, left = (np.bincount(one, minlength=own[-1] + 1) for one in (of, of_moved))
    changed = number != left
    same = ~changed[of_moved]
    changed[of_moved[same][moved[same] != start[~changed[of]]]] = True
    at = np.concatenate([at[~old], moved])
    run = np.concatenate([run[~old], np.flatnonzero(which)[of_moved]])
    order = np.argsort(at, kind="stable")
    out = which.copy()
    out[which] = changed
    return at[order], run[order], out


def refit(x, z, weight, at, run, ring=None):
    """Fit grades between given knots.

    Parameters
    ----------
    x, z, weight : ndarray of float, shape (n,)
        As in `fit_grades`.
    at : ndarray of float, shape (knots,)
        Chainage of the knots, metres.
    run : ndarray of int, shape (knots,)
    ring : ndarray of float, shape (runs,), optional
        As in `fit_grades`.

    Returns
    -------
    Grades
        Rings have a break at their seam only if it earns its penalty.
    """
    moments = _moments(x, z, weight, at)
    closed = np.zeros(int(run[-1]) + 1, bool) if ring is None else np.isfinite(ring)
    if not closed.any():
        return _grades(at, run, _solve(moments, at, run))
    inside = closed[run]
    values = np.empty((3, len(at)))
    if not inside.all():
        values[:, ~inside] = _values(_solve(moments[:, ~inside], at[~inside], run[~inside]))
    seen = closed[run[group_index(_places(x, at))]]
    values[:, inside] = _values(
        _closed(
            x[seen],
            z[seen],
            weight[seen],
            at[inside],
            (np.cumsum(closed) - 1)[run[inside]],
            moments[:, inside],
        )
    )
    return Grades(at, run, *values)


def _closed(x, z, weight, at, run, moments):
    """Solution for rings alone, with a break at a seam only if it earns its penalty."""
    level = _seam(at, run, np.zeros(run[-1] + 1))
    first, last = _ends(run, np.arange(run[-1] + 1))
    before, after = 1 / (at[last] - at[last - 1]), 1 / (at[first + 1] - at[first])
    straight = np.zeros(len(at))
    for knot, share in ((last - 1, before), (first, -before - after), (first + 1, after)):
        np.add.at(straight, knot, share)
    owner = run[group_index(_places(x, at))]
    lost = []
    for conditions in (level, (*level, straight)):
        fit = _grades(at, run, _solve(moments, at, run, conditions))
        lost.append(np.bincount(owner, weight * (z - fit.along(x, owner)[0]) ** 2))
    straight[(lost[1] - lost[0] > GRADE_BREAKS.break_penalty)[run]] = 0.0
    return _solve(moments, at, run, (*level, straight))


def _values(solution):
    """Values, their variances and their covariances with the next knot, shape (3, knots), from the
    result of `_solve`."""
    value, covariance = solution
    return np.stack([value, covariance[0], np.append(covariance[1], 0.0)[: len(value)]])


def _grades(at, run, solution):
    """Grades from the result of `_solve`."""
    return Grades(at, run, *_values(solution))


def _start(x, offsets, ring):
    """Initial knots: the ends of the runs, and the first observation in each cell."""
    first, last = offsets[:-1], offsets[1:] - 1
    run = group_index(offsets)
    mark = np.diff(np.floor((x - x[first][run]) / GRADE_BREAKS.cell), prepend=0.0) > 0
    mark &= x[last][run] - x >= GRADE_BREAKS.min_length
    place = np.flatnonzero(mark)
    mark[place[1:][np.diff(x[place]) < GRADE_BREAKS.min_length]] = False
    mark[first] = True
    mark[last] |= True if ring is None else np.isnan(ring)
    at, run = x[mark], run[mark]
    if ring is not None:
        rings = np.flatnonzero(np.isfinite(ring))
        at, run = np.append(at, x[first[rings]] + ring[rings]), np.append(run, rings)
        order = np.argsort(at, kind="stable")
        at, run = at[order], run[order]
    return at, run


def _places(x, at):
    """Offsets of the observations after each knot, shape (knots + 1,)."""
    return np.append(np.searchsorted(x, at), len(x))


def _terms(u, z, weight):
    """Moments of observations about the origin of `u`, shape (5, n): w, wu, wuu, wz, wuz."""
    wu, wz = weight * u, weight * z
    return weight, wu, wu * u, wz, wz * u


def _moments(x, z, weight, at):
    """Moments of the observations after each knot, about the knot, shape (5, knots)."""
    places = _places(x, at)
    return np.stack(
        [group_sum(term, places) for term in _terms(x - at[group_index(places)], z, weight)]
    )


def _about(moments, back):
    """The moments about points that lie the distance `back` before."""
    w, wu, wuu, wz, wuz = moments
    return np.stack([w, wu + back * w, wuu + 2 * back * wu + back * back * w, wz, wuz + back * wz])


def _lengths(at, run):
    """Distance from each knot to the next one in its run, infinite at the last one."""
    lengths = np.full(len(at), np.inf)
    same = run[1:] == run[:-1]
    lengths[:-1][same] = np.diff(at)[same]
    return lengths


def _solve(moments, at, run, conditions=()):
    """Joint least squares: values at the knots, and a list of their variances and their covariances
    with the next, the second and the third knot after.

    Each of `conditions`, shape (knots,), is a linear form of the values that must be 0 in every
    run. Elements of the inverse near the diagonal come from the factors from both ends (Meurant
    1992, A review on the inverse of symmetric tridiagonal and block tridiagonal matrices, SIAM
    Journal on Matrix Analysis and Applications 13).
    """
    w, wu, wuu, wz, wuz = moments
    per = 1 / _lengths(at, run)
    after = wuu * per * per
    off_diagonal = (wu * per - after)[:-1]
    own = w - 2 * wu * per + after
    own[1:] += after[:-1]
    right = np.stack([wz - wuz * per, *conditions], axis=1)
    right[1:, 0] += (wuz * per)[:-1]
    if len(at) == 1:
        return right[:, 0] / own, (1 / own, *np.zeros((3, 0)))
    pivot, lower, info = dpttrf(own, off_diagonal)
    back, _, info_back = dpttrf(own[::-1], off_diagonal[::-1])
    if info or info_back:
        raise ValueError("each knot needs an observation on the grades next to it")
    value, *pulls = dpttrs(pivot, lower, right)[0].T
    covariance = [1 / (pivot + back[::-1] - own)]
    for ahead in range(min(3, len(at) - 1)):
        covariance.append(-lower[: len(at) - 1 - ahead] * covariance[-1][1:])
    if conditions:
        _meet_conditions(value, covariance, conditions, pulls, run)
    return value, covariance


def _meet_conditions(value, covariance, conditions, pulls, run):
    """Change values and covariances so that the conditions of `_solve` hold; `pulls`: the products
    of the inverse normal matrix with the conditions."""
    columns = [value, *pulls]
    k = np.flatnonzero(np.bincount(run, conditions[0] != 0)[run])  # few runs have conditions
    of = run[k]
    freely = [pull[k] for pull in pulls]
    for number, condition in enumerate(conditions, 1):
        condition, pull = condition[k], columns[number][k]
        strength, free = (
            np.bincount(of, condition * pull),
            np.bincount(of, condition * freely[number - 1]),
        )
        # 0 where the condition follows from the others
        share = np.divide(
            1.0,
            strength,
            out=np.zeros(len(strength)),
            where=strength > GRADE_BREAKS.near_zero * free,
        )
        held = pull * share[of]
        for ahead, column in enumerate(covariance):
            pairs = k < len(column)
            column[k[pairs]] -= held[pairs] * columns[number][k[pairs] + ahead]
        for other in (0, *range(number + 1, len(columns))):
            columns[other][k] -= held * np.bincount(of, condition * columns[other][k])[of]


def _seam(at, run, ring):
    """The condition that both ends of each ring have the same height; none without rings."""
    if ring is None or not np.isfinite(ring).any():
        return ()
    first, last = _ends(run, np.flatnonzero(np.isfinite(ring)))
    level = np.zeros(len(at))
    level[first], level[last] = 1.0, -1.0
    return (level,)


def _ends(run, of):
    """First and last knots of the runs `of`."""
    return np.searchsorted(run, of, "left"), np.searchsorted(run, of, "right") - 1


def _changes(at, k):
    """Coefficients of a break's change of grade in the heights of the knot before, the break and
    the knot after, shape (3, q)."""
    before, after = 1 / (at[k] - at[k - 1]), 1 / (at[k + 1] - at[k])
    return np.stack([before, -before - after, after])


def _earnings(at, run, solution):
    """What each break explains: the square of its change of grade over its variance (Wald 1943),
    squared sigmas; infinite at the ends of runs."""
    value, covariance = solution
    earns = np.full(len(at), np.inf)
    k = _inner(run, 1)
    if k.size:
        p, q, r = _changes(at, k)
        own, ahead, beyond = covariance[:3]
        change = p * value[k - 1] + q * value[k] + r * value[k + 1]
        spread = (
            p * (p * own[k - 1] + 2 * q * ahead[k - 1] + 2 * r * beyond[k - 1])
            + q * (q * own[k] + 2 * r * ahead[k])
            + r * r * own[k + 1]
        )
        earns[k] = change * change / spread
    return earns


def _inner(run, count):
    """Breaks that are followed by at least `count` - 1 more breaks of their run."""
    return np.flatnonzero(run[count + 1 :] == run[: -count - 1]) + 1


def _without(at, solution, k, taken):
    """The fit without breaks `k` and the `taken` - 1 breaks after each.

    Returns
    -------
    earns : ndarray of float, shape (q,)
        What they explain together, squared sigmas.
    value : ndarray of float, shape (q, 2)
        Heights at the knots before and after them.
    covariance : ndarray of float, shape (q, 2, 2)
    """
    value, ahead = solution
    size = taken + 2
    knot = k[:, None] - 1 + np.arange(size)
    here = np.empty((len(k), size, size))
    for i in range(size):
        for j in range(i, size):
            here[:, i, j] = here[:, j, i] = ahead[j - i][knot[:, i]]
    change = np.zeros((len(k), taken, size))
    for i in range(taken):
        change[:, i, i : i + 3] = _changes(at, k + i).T
    spread = _product(change, here)
    ends = np.array([0, size - 1])
    turns, across = _product(change, value[knot][:, :, None]), spread[:, :, ends]
    own = _inverse(_product(spread, change.transpose(0, 2, 1)))
    pull = _product(own, np.concatenate([turns, across], axis=2))
    drop = _product(across.transpose(0, 2, 1), pull)
    return (
        (turns * pull[:, :, :1]).sum(axis=(1, 2)),
        value[knot[:, ends]] - drop[:, :, 0],
        here[:, ends][:, :, ends] - drop[:, :, 1:],
    )


def _product(a, b):
    """Products of small matrices, shape (q, i, j) and (q, j, k), summed term by term.

    If one of the sizes is 1, `numpy.matmul` uses dot products, whose last digits depend on memory
    alignment with some kernels of OpenBLAS.
    """
    return sum(a[:, :, j, None] * b[:, None, j] for j in range(a.shape[2]))


def _inverse(matrix):
    """Inverse of symmetric positive definite matrices of one or two rows, shape (q, taken,
    taken)."""
    if matrix.shape[1] == 1:
        return 1 / matrix
    a, b, d = matrix[:, 0, 0], matrix[:, 0, 1], matrix[:, 1, 1]
    out = np.stack([np.stack([d, -b], axis=1), np.stack([-b, a], axis=1)], axis=1)
    return out / np.maximum(a * d - b * b, GRADE_BREAKS.near_zero * a * d)[:, None, None]


def _strongest(score, least, reach=1):
    """Mask of scores above a limit and above those of `reach` neighbours on either side; of equal
    ones the first."""
    over = score > least
    for near in range(1, min(reach, len(score) - 1) + 1):
        over[near:] &= score[near:] > score[:-near]
        over[:-near] &= score[:-near] >= score[near:]
    return over


def _second_of_equals(score, strongest):
    """Every second one after a strongest one that is followed by equals, such as breaks of heights
    that are all the same: one at a time, the work would grow with the square of their number."""
    equal = np.append((score[1:] == score[:-1]) & np.isfinite(score[1:]), False)
    out = np.zeros(len(score), bool)
    if not (equal & strongest).any():
        return out
    starts = ~np.append(False, equal[:-1])
    place = place_in_group(offsets_from_starts(starts))
    led = strongest[np.flatnonzero(starts)][np.cumsum(starts) - 1]
    out[:-1] = (led & (place % 2 == 0))[:-1] & (score[:-1] >= score[1:])
    return out


def _prune(at, run, moments, ring):
    """Remove breaks, the weakest among neighbours first, until each earns its penalty."""
    while True:
        earns = _earnings(at, run, _solve(moments, at, run, _seam(at, run, ring)))
        left, out = -earns, np.zeros(len(at), bool)
        # then the weakest of those without a removed neighbour, and so on: fewer systems to solve
        for _ in range(GRADE_BREAKS.looks):
            least = _strongest(left, -GRADE_BREAKS.break_penalty)
            least |= _second_of_equals(left, least)
            out |= least
            left[least] = left[1:][least[:-1]] = left[:-1][least[1:]] = -np.inf
        if not out.any():
            return at, run
        owner = np.cumsum(~out) - 1
        moments = np.add.reduceat(
            _about(moments, at - at[~out][owner]), np.flatnonzero(~out), axis=1
        )
        at, run = at[~out], run[~out]


def _gain(before, total, u, length, start, slope, covariance):
    """What one more break in fitted grades explains, squared sigmas.

    Parameters
    ----------
    before, total : ndarray of float, shape (5, q)
        Moments about the start of the grade: up to the break, and of the whole grade.
    u, length : ndarray of float, shape (q,)
        Place of the break and length of the grade, metres.
    start, slope : ndarray of float, shape (q,)
        The grade as fitted.
    covariance : ndarray of float, shape (3, q)
        Variance of its start, covariance of its ends, variance of its end.

    Notes
    -----
    The added function is a tent over the grade with its top at the break. The gain is the square of
    its weighted product with the residuals, over its weighted square less the part of it that the
    functions already fitted can reproduce.
    """
    _, wu, wuu, _, wuz = before
    w2, wu2, wuu2, wz2, wuz2 = total - before
    rise, fall = 1 / u, 1 / (length - u)
    left, right = (
        wuz - start * wu - slope * wuu,
        length * (wz2 - start * w2 - slope * wu2) - (wuz2 - start * wu2 - slope * wuu2),
    )
    product = left * rise + right * fall
    square = wuu * rise * rise + (length * (length * w2 - 2 * wu2) + wuu2) * fall * fall
    far = (wuu * rise + (length * wu2 - wuu2) * fall) / length
    near = wu * rise + (length * w2 - wu2) * fall - far
    rest = (
        square
        - near * near * covariance[0]
        - 2 * near * far * covariance[1]
        - far * far * covariance[2]
    )
    shown = rest > GRADE_BREAKS.near_zero * square
    return np.divide(
        product * product, np.maximum(rest, 1e-300), out=np.zeros_like(rest), where=shown
    )


@dataclass(frozen=True)
class _Places:
    """Intervals between observations where a break may go; arrays of shape (q,).

    `u`: distance from the start of the grade to the observation before, and `step` from there to
    the next one, m; `inside`, `onward`: whether a break may lie at the first of them, and between
    them; `before`, (5, q): moments up to the first. Of the grade that the break would divide:
    `length`; `total`, (5, q), its moments; `start`, `slope` and `covariance`, (3, q), as in
    `_gain`.
    """

    u: np.ndarray
    step: np.ndarray
    onward: np.ndarray
    inside: np.ndarray
    before: np.ndarray
    length: np.ndarray
    total: np.ndarray
    start: np.ndarray
    slope: np.ndarray
    covariance: np.ndarray

    def take(self, index):
        """Some of the places."""
        return _Places(*(getattr(self, name)[..., index] for name in self.__dataclass_fields__))

    def gain(self, share):
        """What a break explains at a share of the way to the next observation, squared sigmas; 0
        where none may be."""
        there = self.u + share * self.step
        room = (
            (there >= GRADE_BREAKS.min_length)
            & (self.length - there >= GRADE_BREAKS.min_length)
            & np.where(share > 0, self.onward, self.inside)
        )
        there = np.where(room, there, self.length / 2)
        fitted = self.start, self.slope, self.covariance
        return np.where(room, _gain(self.before, self.total, there, self.length, *fitted), 0.0)


def _move(heights, at, run, taken):
    """Replace `taken` neighbouring breaks by one in a better place, wherever that is the best of
    the moves around it.

    Each grade keeps an observation, so that no system becomes singular.
    """
    k = _inner(run, taken)
    if not k.size:
        return at, run
    moments = heights.moments(at)
    solution = _solve(moments, at, run, _seam(at, run, heights.ring))
    earns, value, covariance = _without(at, solution, k, taken)
    places, window, seen = _places_of_moves(heights, at, moments, k, taken, (value, covariance))
    share, most, best = _best_places(places, window)
    place = heights.x[seen[best]] + on_grid(share * places.step[best])
    won = np.full(len(at), -np.inf)
    won[k] = most - earns + (taken - 1) * GRADE_BREAKS.break_penalty
    go = _strongest(won, GRADE_BREAKS.min_gain, taken)[k]
    at, keep = at.copy(), np.ones(len(at), bool)
    at[k[go]] = place[go]
    for i in range(1, taken):
        keep[k[go] + i] = False
    return at[keep], run[keep]


def _places_of_moves(heights, at, moments, k, taken, fitted):
    """Places where one break may replace `taken` breaks from each of `k` on: `_Places`, offsets of
    the windows that they lie in, and the observations before them.

    `fitted`: heights at the knots around and their covariances, as `_without` returns them.
    """
    x, (value, covariance) = heights.x, fitted
    knots = _places(x, at)
    lead = [at[k + i] - at[k - 1] for i in range(taken + 1)]
    length = lead[-1]
    total = sum((_about(moments[:, k + i], lead[i]) for i in range(taken)), moments[:, k - 1])
    # observations that a break may follow, and the moments up to each about the start of the grade
    begin, end, last = knots[k - 1], knots[k + taken], k + taken - 1
    low = np.searchsorted(x, at[k] - GRADE_BREAKS.reach)
    high = np.searchsorted(x, at[last] + GRADE_BREAKS.reach)
    low = np.maximum(np.minimum(low, knots[k] - GRADE_BREAKS.min_reach), begin)
    high = np.minimum(np.maximum(high, knots[last] + GRADE_BREAKS.min_reach), end)
    # the end of a ring has no observation of its own
    end = end - (knots[k + taken + 1] == knots[k + taken])
    window = offsets_of(high - low)
    seen = ranges(low, high - low)
    of = group_index(window)
    u, step = x[seen] - at[k - 1][of], np.append(np.diff(x), 0.0)[seen]
    before = running_sum(_terms(u, heights.z[seen], heights.weight[seen]), window)
    before += (moments[:, k - 1] - before[:, window[:-1] + knots[k] - low - 1])[:, of]
    places = _Places(
        u=u,
        step=step,
        onward=seen + 1 < end[of],
        inside=(seen > begin[of]) & (seen < end[of]),
        before=before,
        length=length[of],
        total=total[:, of],
        start=value[:, 0][of],
        slope=((value[:, 1] - value[:, 0]) / length)[of],
        covariance=covariance[:, [0, 0, 1], [0, 1, 1]].T[:, of],
    )
    return places, window, seen


def _best_places(places, window):
    """The best place in each window: the share of the way to the next observation, what a break
    explains there, and the number of the interval."""
    shares = GRADE_BREAKS.first_shares
    gain = np.stack([places.gain(share) for share in shares])
    most, best = _greatest(gain.max(axis=0), window)
    share = np.take(shares, np.argmax(gain[:, best], axis=0))
    chosen = places.take(best)
    most_share = 1 - GRADE_BREAKS.before_next
    for finer in GRADE_BREAKS.finer:
        sides = [np.clip(share + side, 0.0, most_share) for side in (-finer, finer)]
        low, high = (chosen.gain(side) for side in sides)
        # the top of the parabola through the three
        bow = np.minimum(low - 2 * most + high, -GRADE_BREAKS.near_zero)
        top = share + finer / 2 * np.clip((low - high) / bow, -2, 2)
        top = np.clip(top, 0.0, most_share)
        for other, here in ((sides[0], low), (sides[1], high), (top, chosen.gain(top))):
            share, most = np.where(here > most, other, share), np.maximum(here, most)
    return share, most, best


def _greatest(values, offsets):
    """Maximum of each group, 0 for an empty one, and the place of its first occurrence."""
    most = group_max(values, offsets, 0.0)
    owner = group_index(offsets)
    hit = first_of_each(np.flatnonzero(values == most[owner]), owner)
    pick = np.zeros(len(most), np.int64)
    pick[owner[hit]] = hit
    return most, pick
