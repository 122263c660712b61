"""Other elements for stretches of chains, tried where they may be cheaper; positions that no
element explains."""

from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..arrays.ragged import group_index, group_sum, ranges
from ..tuning import HEIGHT_EVIDENCE
from .adjustment import Curve
from .chain import (
    PARAMETER,
    Course,
    independent,
    joint_prices,
    joints_of,
    of_runs,
    positions_of,
    price,
    put_runs,
    settle,
    stretches,
)
from .moments import Moments

FEW = 2  # positions that do not tell a tangent from an arc
UNLIKE = 40.0  # squared sigmas; rather too much than too little
MOST_SHARED = 8  # positions of an element that may go to its neighbours
LEAST_SAVING = 0.01
DROP = 10.0  # squared sigmas: what a position must cost before it is left out as a slip
OFF_SIGMAS, LEAST_OFF = 6.0, 0.08  # m
LEAST_CONFIRMED = 8  # positions of a run that tell what its ends ought to be
# sigmas RMS; where the others of an element lie farther off, it is the element that is wrong
EXPLAINED = 3.0


@dataclass(frozen=True)
class _Proposals:
    """Other elements for stretches of a course: elements `first` to `first + removed - 1` give way
    to `inserted` others.

    Flat arrays over the inserted elements: `start` first position of each, `arc`, `smooth` joint
    that follows; `joint_before` (proposals,): joint between the element before and the first new
    one.
    """

    first: np.ndarray
    removed: np.ndarray
    inserted: np.ndarray
    start: np.ndarray
    arc: np.ndarray
    smooth: np.ndarray
    joint_before: np.ndarray

    def __len__(self):
        return len(self.first)

    @classmethod
    def of(cls, first, removed, start, arc, smooth, joint_before):
        """One kind of proposal: `start`, `arc`, `smooth` of shape (proposals, inserted)."""
        number, inserted = start.shape
        return cls(
            first,
            np.full(number, removed),
            np.full(number, inserted),
            start.ravel(),
            arc.ravel(),
            smooth.ravel(),
            joint_before,
        )

    @classmethod
    def concatenate(cls, parts):
        return cls(
            *(
                np.concatenate([getattr(part, name) for part in parts])
                for name in cls.__dataclass_fields__
            )
        )


@dataclass(frozen=True)
class _Compared:
    """Stretches of a course as they are and as proposals have them, with one neighbour on either
    side, each settled by itself.

    `low`, `high`, (proposals,): elements of the course; `shift`: from its positions to those of the
    new stretches, which are `places` and weigh `weight`. Proposals for the same stretch share one
    of `old`, the one that `which` tells, with positions `old_places`. `saving`, (proposals,):
    squared sigmas.
    """

    low: np.ndarray
    high: np.ndarray
    shift: np.ndarray
    new: Course
    places: np.ndarray
    weight: np.ndarray
    old: Course
    old_places: np.ndarray
    which: np.ndarray
    saving: np.ndarray


def _compare(course, x, y, weight, proposals, dropped=None):
    """What proposals save in a course whose moments are known.

    `dropped`, shape (2, pairs): a proposal, and a position that has no weight in its new stretch.
    """
    run = group_index(course.offsets)[proposals.first]
    low, after = (
        np.maximum(proposals.first - 1, course.offsets[:-1][run]),
        proposals.first + proposals.removed,
    )
    high = np.minimum(after + 1, course.offsets[1:][run])
    _, one, which = np.unique(
        low * (len(course) + 1) + high, return_index=True, return_inverse=True
    )
    old, old_places, element = stretches(course, low[one], high[one], np.zeros(len(one), bool))
    px, py, pw = x[old_places], y[old_places], weight[old_places]
    old = settle(
        replace(old, moments=course.moments.take(element), weight=pw), px, py, pw, 1, warm=True
    )
    now = price(old, px, py)[which]

    places, shift = positions_of(course, low, high)
    px, py, pw = x[places], y[places], weight[places]
    if dropped is not None:
        pw[dropped[1] + shift[dropped[0]]] = 0.0
    new = settle(_proposed(course, px, py, pw, proposals, low, after, high, shift), px, py, pw)
    return _Compared(
        low, high, shift, new, places, pw, old, old_places, which, now - price(new, px, py)
    )


def _proposed(course, px, py, pw, proposals, low, after, high, shift):
    """The new stretches at positions `px`, `py` with weights `pw`; their elements are not settled
    yet."""
    before, behind = proposals.first - low, high - after
    size = before + proposals.inserted + behind
    offsets = np.concatenate([[0], np.cumsum(size)])
    total = int(offsets[-1])
    start, arc, smooth, source = (
        np.zeros(total, np.int64),
        np.zeros(total, bool),
        np.zeros(total, bool),
        np.full(total, -1),
    )
    fresh = ranges(offsets[:-1] + before, proposals.inserted)
    owner = np.repeat(np.arange(len(proposals)), proposals.inserted)
    start[fresh], arc[fresh], smooth[fresh] = (
        proposals.start + shift[owner],
        proposals.arc,
        proposals.smooth,
    )
    kept = np.setdiff1d(np.arange(total), fresh, assume_unique=True)
    source[kept] = np.column_stack([low, after])[np.column_stack([before, behind]) > 0]
    owner = np.repeat(np.arange(len(proposals)), size)[kept]
    start[kept], arc[kept], smooth[kept] = (
        course.bounds[source[kept]] + shift[owner],
        course.arc[source[kept]],
        course.smooth[source[kept]],
    )
    lead = np.flatnonzero(before > 0)
    smooth[offsets[:-1][lead] + before[lead] - 1] = proposals.joint_before[lead]
    bounds = np.append(start, len(px))
    moments = Moments.of(px, py, pw, bounds)
    curve = independent(moments, arc, px, py, bounds[:-1], bounds[1:], course.radii)
    curve = Curve.where(source >= 0, course.curve.take(source), curve)
    arc = curve.is_arc
    nxt = np.append(arc[1:], False)
    smooth &= arc | nxt
    return Course(
        bounds,
        offsets,
        arc,
        smooth,
        curve,
        np.zeros(len(proposals), bool),
        np.zeros(total),
        course.radii,
        moments,
        pw,
    )


def _replace(course, compared, good):
    """Put the new stretches `good` into the course; the course and which elements are new or beside
    new ones."""
    low, high, new = compared.low, compared.high, compared.new
    good = good[np.argsort(low[good])]
    keep = np.ones(len(course), bool)
    keep[ranges(low[good], (high - low)[good])] = False
    size = np.diff(new.offsets)
    fresh = ranges(new.offsets[:-1][good], size[good])
    owner = np.repeat(good, size[good])
    old = np.flatnonzero(keep)
    start = np.concatenate([course.bounds[old], new.bounds[fresh] - compared.shift[owner]])
    rank = np.concatenate([old.astype(float), low[owner] + 0.0])
    order = np.lexsort((start, rank))
    last_of_window = np.zeros(len(fresh), bool)
    last_of_window[np.cumsum(size[good]) - 1] = True
    follow = new.smooth[fresh]
    follow[last_of_window] = course.smooth[high[owner[last_of_window]] - 1]
    pick = lambda a, b: np.concatenate([a[old], b[fresh]])[order]  # noqa: E731
    curve = Curve.concatenate([course.curve.take(old), new.curve.take(fresh)]).take(order)
    start = start[order]
    run_of = group_index(course.offsets)
    run = np.concatenate([run_of[old], run_of[low[owner]]])[order]
    offsets = np.concatenate([[0], np.cumsum(np.bincount(run, minlength=len(course.offsets) - 1))])
    smooth = np.concatenate([course.smooth[old], follow])[order]
    arc = curve.is_arc
    following = np.append(arc[1:], False)
    smooth &= arc | following
    near = np.concatenate([np.zeros(len(old), bool), np.ones(len(fresh), bool)])[order]
    near[1:] |= near[:-1].copy()
    near[:-1] |= near[1:].copy()
    return (
        Course(
            np.append(start, course.bounds[-1]),
            offsets,
            arc,
            smooth,
            curve,
            course.closed,
            pick(course.chi, new.chi),
            course.radii,
        ),
        near,
    )


def lone_chi(moments, arc):
    """Least sum of squares of elements that need not fit any neighbour; for arcs that of Kasa's
    circle, divided by its gradient."""
    least = moments.line_sum()
    bent = np.flatnonzero(arc)
    if bent.size:
        circle = moments.take(bent).circle()[-1]
        least[bent] = np.where(np.isfinite(circle), np.minimum(circle, least[bent]), least[bent])
    return least


def _may_bend(course, element, has_before, has_after):
    """Whether tangents may be arcs that go over smoothly into the tangents beside them, where there
    are such (masks of the shape of `element`).

    An arc that takes up the deflections beside it has a sagitta of its length times a quarter of
    these; of a parabola of sagitta s, the standard deviation from its best line is ``s * sqrt(4 /
    45)``.
    """
    ux, uy, arc = course.curve.ux, course.curve.uy, course.arc

    def deflection(a, b, there):
        return np.where(
            there, np.arctan2(ux[a] * uy[b] - uy[a] * ux[b], ux[a] * ux[b] + uy[a] * uy[b]), np.nan
        )

    e, count = element, len(course)
    before = deflection(np.maximum(e - 1, 0), e, has_before & ~arc[np.maximum(e - 1, 0)])
    after = deflection(
        e, np.minimum(e + 1, count - 1), has_after & ~arc[np.minimum(e + 1, count - 1)]
    )
    moments = course.moments
    w = moments.w[e]
    # that of evenly spread positions
    length2 = 12 * (moments.xx + moments.yy)[e] / np.maximum(w, 1e-300)
    bend, lean = (
        np.nan_to_num(
            (np.where(np.isnan(before), after, before) + np.where(np.isnan(after), before, after))
            / 2
        ),
        np.nan_to_num((before - after) / 2),
    )
    unlike = w * length2 * (4 / 45 * bend**2 / 16 + lean**2 / 12)
    return (unlike < 4 * course.chi[e] + UNLIKE) | (np.diff(course.bounds)[e] <= FEW)


class _Tries:
    """Proposals while they are gathered, for a course whose moments are known."""

    def __init__(self, course, x, y, weight):
        self.course, self.x, self.y, self.weight = course, x, y, weight
        self.run = run = group_index(course.offsets)
        self.has_before, self.has_after = (
            np.append(False, run[1:] == run[:-1]),
            np.append(run[1:] == run[:-1], False),
        )
        self._parts = {}

    @cached_property
    def excess(self):
        """What each element may gain by a change beside it."""
        return np.maximum(self.course.chi - lone_chi(self.course.moments, self.course.arc), 0.0)

    @cached_property
    def costs(self):
        """What each element costs with the joint behind it, and what else a change may save before
        and behind it: the joint before it, and excess."""
        course = self.course
        joint = joint_prices(course, self.x, self.y)
        return (
            course.chi + PARAMETER * (2 + course.arc) + joint,
            np.append(0.0, (joint + self.excess)[:-1]) * self.has_before,
            np.append(self.excess[1:], 0.0) * self.has_after,
        )

    def moments(self, low, high):
        """Moments of positions `low` to before `high`, few of them."""
        size = np.maximum(high - low, 0)
        index = ranges(low, size)
        return Moments.of(
            self.x[index], self.y[index], self.weight[index], np.concatenate([[0], np.cumsum(size)])
        )

    def add(self, first, removed, start, arcs, groups=(), drop=()):
        """Elements `first` to ``first + removed - 1`` may give way to others: `start` are the first
        positions of these, `arcs` whether they are arcs, `groups` their moments, which tell what is
        worth a trial; without them, all are. `drop`: positions that then have no weight. All but
        `removed` of shape (proposals,), `arcs` also flags for all."""
        if len(first):
            arcs = [np.broadcast_to(arc, first.shape) for arc in arcs]
            self._parts.setdefault((removed, len(start), len(drop)), []).append(
                (first, start, arcs, groups, drop)
            )

    def chosen(self):
        """What is worth a trial: what may be cheaper, going by what each new element costs if it
        need not fit any neighbour.

        Returns them as a list of `_Proposals`, one for each sort, and a list of pairs of a
        proposal, counted on through all sorts, and a position that it drops, shape (2, pairs).
        """
        arc = self.course.arc
        arc_before, arc_after = (
            np.append(False, arc[:-1]) & self.has_before,
            np.append(arc[1:], False) & self.has_after,
        )
        sorts, pairs, total = [], [], 0
        # in an order that does not depend on what other runs have
        for (removed, *_, dropped), parts in sorted(self._parts.items()):
            firsts, starts, kinds, groups, drops = zip(*parts)
            first, start, arcs = np.concatenate(firsts), _columns(starts), _columns(kinds)
            last = first + removed - 1
            follow = arcs | np.concatenate([arcs[1:], arc_after[last][None]])
            lead = arcs[0] | arc_before[first]
            good = np.arange(len(first))
            if groups[0]:
                alone = lone_chi(
                    Moments.concatenate([group for column in zip(*groups) for group in column]),
                    arcs.ravel(),
                ).reshape(arcs.shape)
                own, before, after = self.costs
                now = sum(own[first + k] for k in range(removed)) + before[first] + after[last]
                then = (alone + PARAMETER * (2 + arcs)).sum(axis=0)
                then -= PARAMETER * (
                    follow[:-1].sum(axis=0)
                    + lead * self.has_before[first]
                    + follow[-1] * self.has_after[last]
                )
                good = np.flatnonzero(now - then > LEAST_SAVING)
            sorts.append(
                _Proposals.of(
                    first[good],
                    removed,
                    start[:, good].T,
                    arcs[:, good].T,
                    follow[:, good].T,
                    lead[good],
                )
            )
            if dropped:
                pairs.append(
                    np.stack(
                        [
                            np.tile(total + np.arange(len(good)), dropped),
                            _columns(drops)[:, good].ravel(),
                        ]
                    )
                )
            total += len(good)
        return sorts, pairs


def _columns(parts):
    """Several lists of columns as one array, one list's rows after the other's, shape (columns,
    rows)."""
    return np.stack([np.concatenate(column) for column in zip(*parts)])


def _propose(course, x, y, weight, near):
    """Other elements that may turn out cheaper around elements `near` (mask)."""
    tries = _Tries(course, x, y, weight)
    number, run = np.diff(course.bounds), tries.run
    arc, smooth, bounds, moments = course.arc, course.smooth, course.bounds, course.moments
    count = len(course)
    e = np.arange(count)

    def together(size):
        first = e[: count - size + 1]
        good = run[first] == run[first + size - 1]
        touched = np.zeros(len(first), bool)
        for k in range(size):
            touched |= near[first + k]
        return first[good & touched]

    two, three = together(2), together(3)
    for first, size in ((two, 2), (three, 3)):
        total = bounds[first + size] - bounds[first]
        joined = moments.take(first) + moments.take(first + 1)
        if size == 3:
            joined = joined + moments.take(first + 2)
        tries.add(first, size, [bounds[first]], [False], [joined])
        pick = np.flatnonzero(total > 3)
        tries.add(first[pick], size, [bounds[first[pick]]], [True], [joined.take(pick)])
    # the middle one of three shared between the others
    small = three[number[three + 1] <= MOST_SHARED]
    middle = bounds[small + 1] + number[small + 1] // 2
    tries.add(
        small,
        3,
        [bounds[small], middle],
        [arc[small], arc[small + 2]],
        [
            moments.take(small) + tries.moments(bounds[small + 1], middle),
            tries.moments(middle, bounds[small + 2]) + moments.take(small + 2),
        ],
    )
    # one element of the other sort
    one = e[near & (number > 2) & (arc | (number <= MOST_SHARED))]
    one = one[arc[one] | _may_bend(course, one, tries.has_before[one], tries.has_after[one])]
    tries.add(one, 1, [bounds[one]], [~arc[one]], [moments.take(one)])
    # two of other sorts, the bound where it is and shifted towards the longer one
    pair = two[np.minimum(number[two], number[two + 1]) <= MOST_SHARED]
    # which one is to be the arc
    pick, right = np.tile(pair, 2), np.repeat([True, False], len(pair))
    other = (arc[pick] == right) | (arc[pick + 1] != right)
    pick, right = pick[other], right[other]
    may = (
        arc[pick]
        | arc[pick + 1]
        | _may_bend(
            course,
            pick + right,
            tries.has_before[pick + right] & right,
            tries.has_after[pick + right] & ~right,
        )
    )
    pick, right = pick[may], right[may]
    a, b, bound = moments.take(pick), moments.take(pick + 1), bounds[pick + 1]
    tries.add(pick, 2, [bounds[pick], bound], [~right, right], [a, b])
    ahead = number[pick] < number[pick + 1]
    most = np.minimum(3, np.where(ahead, number[pick + 1], number[pick]) // 2)
    place = np.concatenate([np.flatnonzero(most > 0), np.flatnonzero(most > 1)])
    more = np.where(np.arange(len(place)) < np.count_nonzero(most), most[place], 1)
    sign = np.where(ahead[place], 1.0, -1.0)
    moved = bound[place] + np.where(ahead[place], more, -more)
    few = tries.moments(np.minimum(bound[place], moved), np.maximum(bound[place], moved))
    tries.add(
        pick[place],
        2,
        [bounds[pick[place]], moved],
        [~right[place], right[place]],
        [a.take(place) + few.times(sign), b.take(place) + few.times(-sign)],
    )
    # two tangents in place of an arc and another element
    pair = pair[arc[pair] | arc[pair + 1]]
    pick, shift = np.tile(pair, 5), np.repeat([-2, -1, 0, 1, 2], len(pair))
    room = (number[pick] + shift > 1) & (number[pick + 1] - shift > 1)
    pick, shift = pick[room], shift[room]
    bound = bounds[pick + 1]
    few, sign = (
        tries.moments(bound + np.minimum(shift, 0), bound + np.maximum(shift, 0)),
        np.sign(shift).astype(float),
    )
    tries.add(
        pick,
        2,
        [bounds[pick], bound + shift],
        [False, False],
        [moments.take(pick) + few.times(sign), moments.take(pick + 1) + few.times(-sign)],
    )
    # an arc where two tangents meet
    meet = two[~arc[two] & ~arc[two + 1] & (number[two] > 3) & (number[two + 1] > 3)]
    pick, k = np.tile(meet, 2), np.repeat([1, 2], len(meet))
    bound = bounds[pick + 1]
    a, b = tries.moments(bound - k, bound), tries.moments(bound, bound + k)
    tries.add(
        pick,
        2,
        [bounds[pick], bound - k, bound + k],
        [False, True, False],
        [moments.take(pick) + a.times(-1.0), a + b, moments.take(pick + 1) + b.times(-1.0)],
    )
    # joints the other way
    flip = two[arc[two] | arc[two + 1]]
    gain = np.where(
        smooth[flip], tries.excess[flip] + tries.excess[flip + 1] - PARAMETER, 2 * PARAMETER
    )
    flip = flip[gain > LEAST_SAVING]
    flips = _Proposals.of(
        flip,
        2,
        np.column_stack([bounds[flip], bounds[flip + 1]]),
        np.column_stack([arc[flip], arc[flip + 1]]),
        np.column_stack([~smooth[flip], smooth[flip + 1]]),
        tries.has_before[flip] & smooth[flip - 1],
    )
    sorts, _ = tries.chosen()
    return _Proposals.concatenate([*sorts, flips])


def improve(course, x, y, weight, near=None, rounds=3):
    """Try other elements until none is cheaper, so many times at most; beside elements `near`
    (mask) alone, where given."""
    near = np.ones(len(course), bool) if near is None else near
    course = course.with_moments(x, y, weight)
    proposals = _propose(course, x, y, weight, near)
    if not len(proposals):
        return course
    compared = _compare(course, x, y, weight, proposals)
    good = _best(compared.saving, compared.low, compared.high, len(course))
    if not good.size:
        return course
    runs = np.unique(group_index(course.offsets)[compared.low[good]])
    course, near = _replace(course, compared, good)
    if rounds == 1:
        return course
    # once more, in the runs that changed
    part, place, element = of_runs(course, runs)
    return put_runs(
        course, improve(part, x[place], y[place], weight[place], near[element], rounds - 1), runs
    )


def _best(saving, low, high, count):
    """Windows that save something and more than any other one that shares an element; of equals the
    first one."""
    order = np.lexsort((low, -saving))
    order = order[saving[order] > LEAST_SAVING]
    rank = np.arange(len(order))
    taken = np.full(count, len(order))
    inside = ranges(low[order], (high - low)[order])
    owner = np.repeat(rank, (high - low)[order])
    np.minimum.at(taken, inside, owner)
    beaten = np.zeros(len(order), bool)
    beaten[owner[taken[inside] < owner]] = True
    return order[~beaten]


def shed(course, x, y, weight, sigma, may_drop, odds):
    """Try to do without the positions of very short elements; the course and the weights, 0 where
    one is left out.

    A slip of the aim is explained by elements of its own, two corners and more. It is left out
    where that is cheaper: `DROP` for each position, less what heights say against it (`odds`,
    squared sigmas).
    """
    course = course.with_moments(x, y, weight)
    tries = _Tries(course, x, y, weight)
    number = np.diff(course.bounds)
    arc, bounds = course.arc, course.bounds
    e = np.arange(len(course))
    inside = tries.has_before & tries.has_after
    inside[1:-1] &= np.minimum(number[:-2], number[2:]) > 2

    for size in (1, 2):
        short = e[inside & (number == size)]
        for drop in ((0,), (1,), (0, 1))[: 3 if size == 2 else 1]:
            some = short[np.all([may_drop[bounds[short] + k] for k in drop], axis=0)]
            first, at = some - 1, bounds[some]
            gone = [at + k for k in drop]
            for kind in (False, True):
                tries.add(first, 3, [bounds[first]], [kind], drop=gone)
            for k in range(size + 1):
                tries.add(first, 3, [bounds[first], at + k], [arc[first], arc[some + 1]], drop=gone)
    # one of two alone, where the other one lies on a short side with one beside it
    pair = e[inside & (number == 2)]
    for k in (0, 1):
        some = pair[may_drop[bounds[pair] + k]]
        for low in (bounds[some] - 1, bounds[some]):
            tries.add(
                some - 1,
                3,
                [bounds[some - 1], low, low + 3],
                [arc[some - 1], False, arc[some + 1]],
                drop=[bounds[some] + k],
            )
    # an arc goes over smoothly as a rule: beside a corner of one, its last position or the first
    # one after it may be a slip
    joint = np.flatnonzero(
        tries.has_after[:-1]
        & ~course.smooth[:-1]
        & (arc[1:] | arc[:-1])
        & (np.minimum(number[1:], number[:-1]) > 2)
    )
    for at in (bounds[joint + 1] - 1, bounds[joint + 1]):
        some, at = joint[may_drop[at]], at[may_drop[at]]
        for k in (0, 1):
            tries.add(some, 2, [bounds[some], at + k], [arc[some], arc[some + 1]], drop=[at])
    # nor does a line begin or end with a short arc beside a corner
    several = (
        (np.diff(course.offsets) > 1)
        & ~course.closed
        & (bounds[course.offsets[1:]] - bounds[course.offsets[:-1]] >= LEAST_CONFIRMED)
    )
    for end, joint, at in (
        (course.offsets[:-1][several], 0, 0),
        (course.offsets[1:][several] - 1, -1, -1),
    ):
        end = end[
            arc[end]
            & ~course.smooth[end + joint]
            & (number[end] <= MOST_SHARED)
            & (number[end] > 2)
        ]
        rim = bounds[end] if at == 0 else bounds[end + 1] - 1
        end, rim = end[may_drop[rim]], rim[may_drop[rim]]
        for kind in (False, True):
            tries.add(end, 1, [bounds[end]], [kind], drop=[rim])
    sorts, pairs = tries.chosen()
    if not sorts:
        return course, weight
    proposals, dropped = _Proposals.concatenate(sorts), np.concatenate(pairs, axis=1)
    total = len(proposals)
    compared = _compare(course, x, y, weight, proposals, dropped)
    saving = compared.saving - np.bincount(dropped[0], DROP - odds[dropped[1]], total)
    # what else would lie off the line has to be paid for as well, however lightly it weighs
    number = bounds[compared.high] - bounds[compared.low]
    window = np.repeat(np.arange(total), number)

    def far_off(part, places):
        return np.abs(part.curve.off(x[places], y[places], group_index(part.bounds))) > np.maximum(
            LEAST_OFF, OFF_SIGMAS * sigma[places]
        )

    was, would = far_off(compared.old, compared.old_places), far_off(compared.new, compared.places)
    was = was[ranges(compared.old.bounds[compared.old.offsets[:-1]][compared.which], number)]
    saving -= DROP * np.bincount(window, (compared.weight > 0) & would & ~was, total)
    # what lies near the line is no slip, however little noise there seems to be
    at = dropped[1] + compared.shift[dropped[0]]
    off = np.abs(
        compared.new.curve.off(
            x[dropped[1]], y[dropped[1]], np.searchsorted(compared.new.bounds, at, "right") - 1
        )
    )
    near = off < np.maximum(LEAST_OFF, OFF_SIGMAS / np.sqrt(weight[dropped[1]]))
    saving[dropped[0][near]] = -np.inf
    good = _best(saving, compared.low, compared.high, len(course))
    if good.size:
        weight = weight.copy()
        weight[dropped[1][np.isin(dropped[0], good)]] = 0.0
        course, _ = _replace(course, compared, good)
    return course, weight


def lone_ends(course, x, y, weight, sigma, may_drop, odds):
    """Positions at the ends of runs that alone would turn a corner (mask), and elements that these
    leave empty.

    No other position confirms such a corner; a slip of the aim looks the same. So do two beside the
    line whose own line does not meet it, and two that heights speak against (`odds`).
    """
    first, second, joints = joints_of(course, x, y)
    apart = np.zeros(len(course), bool)
    apart[first], apart[second] = ~joints.met, apart[second] | ~joints.met
    number = np.diff(course.bounds)
    drop, empty = np.zeros(len(x), bool), np.zeros(len(course), bool)
    size = course.bounds[course.offsets[1:]] - course.bounds[course.offsets[:-1]]
    several = (np.diff(course.offsets) > 1) & ~course.closed & (size >= LEAST_CONFIRMED)
    for end, inner, joint in (
        (course.offsets[:-1][several], 1, 0),
        (course.offsets[1:][several] - 1, -1, -1),
    ):
        beside = end + inner
        told = (
            np.maximum(odds[course.bounds[end]], odds[np.maximum(course.bounds[end + 1] - 1, 0)])
            > HEIGHT_EVIDENCE.telling
        )
        pick = (
            (number[end] <= 2)
            & ((number[beside] > 2) | (told & (number[beside] == 2)))
            & ~course.smooth[end + joint]
        )
        end, beside = end[pick], beside[pick]
        index = ranges(course.bounds[end], number[end])
        owner = np.repeat(np.arange(len(end)), number[end])
        off = np.abs(course.curve.off(x[index], y[index], beside[owner])) > np.maximum(
            OFF_SIGMAS * sigma[index], LEAST_OFF
        )
        alone = (np.bincount(owner, off & (weight[index] > 0), len(end)) <= 1) | apart[end]
        alone |= np.bincount(owner, off * odds[index], len(end)) > HEIGHT_EVIDENCE.telling
        alone &= np.bincount(owner, off & ~may_drop[index], len(end)) == 0
        empty[end[alone]] = True
        drop[index[off & alone[owner]]] = True
    return drop, empty


def stands_out(off, sigma, run, bounds):
    """Positions far off a curve that explains the others of their element, and much farther off
    than both neighbours."""
    joined = np.diff(run) == 0
    beside = np.zeros(len(off))
    beside[:-1] = np.where(joined, off[1:], 0.0)
    beside[1:] = np.maximum(beside[1:], np.where(joined, off[:-1], 0.0))
    far = (off > np.maximum(OFF_SIGMAS, LEAST_OFF / sigma)) & (off > 2.5 * beside)
    owner = group_index(bounds)
    others = np.maximum(np.diff(bounds) - np.bincount(owner, far, len(bounds) - 1), 1)
    fits = group_sum(np.where(far, 0.0, off**2), bounds) / others < EXPLAINED**2
    return far & fits[owner]
