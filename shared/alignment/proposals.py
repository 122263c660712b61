"""Replacements for stretches of candidate chains: how they are proposed, compared and put in."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from ..arrays.ragged import group_index, join_offsets, offsets_of, ranges, stretch_starts
from ..tuning import CHAIN, LOCAL_SEARCH
from .chain import (
    CandidateChains,
    adjusted,
    element_penalties,
    joint_penalties,
    joints_of,
    joints_of_some,
    positions_of,
    reassign_and_adjust,
    reassigned,
    stretches,
    total_cost,
)
from .moments import Moments, unconstrained_sums
from .primitives import Primitives, fit_independent


@dataclass(frozen=True)
class Proposals:
    """Proposals to replace elements `first` to ``first + removed - 1`` by `inserted` others.

    Arrays of shape (proposals,): `first`, `removed`, `inserted`, and `joint_before`, whether the
    joint before the first new element is tangential. Flat arrays over the inserted elements:
    `start`, the first position of each; `arc`; `smooth`, whether the joint after it is tangential.
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
        """Proposals of one kind: `start`, `arc`, `smooth` have shape (proposals, inserted)."""
        number, inserted = start.shape
        return cls(
            first=first,
            removed=np.full(number, removed),
            inserted=np.full(number, inserted),
            start=start.ravel(),
            arc=arc.ravel(),
            smooth=smooth.ravel(),
            joint_before=joint_before,
        )

    @classmethod
    def concatenate(cls, parts):
        """All proposals, in the order of the parts."""
        return cls(
            *(
                np.concatenate([getattr(part, name) for part in parts])
                for name in cls.__dataclass_fields__
            )
        )

    def take(self, index):
        """Some of the proposals, given by their numbers."""
        inserted = self.inserted[index]
        element = ranges((np.cumsum(self.inserted) - self.inserted)[index], inserted)
        return Proposals(
            first=self.first[index],
            removed=self.removed[index],
            inserted=inserted,
            start=self.start[element],
            arc=self.arc[element],
            smooth=self.smooth[element],
            joint_before=self.joint_before[index],
        )


@dataclass(frozen=True)
class Trial:
    """Proposals as moves yield them, before they are sifted: elements `first` to ``first + removed
    - 1`` may be replaced.

    Lists with one item per new element, each of shape (proposals,): `start`, its first position;
    `arcs`, whether it is an arc (or one flag for all); `groups`, its moments, by which hopeless
    proposals are discarded (if empty, all are kept). `drop`: list of positions, shape (proposals,)
    each, that would lose their weight.
    """

    first: np.ndarray
    removed: int
    start: list
    arcs: list
    groups: Sequence = ()
    drop: Sequence = ()


class Context:
    """What moves need: candidate chains with known moments, and `near`, the elements (mask) of
    which a move must involve one."""

    def __init__(self, candidate, x, y, weight, near=None):
        self.candidate, self.x, self.y, self.weight = candidate, x, y, weight
        self.near = np.ones(len(candidate), bool) if near is None else near
        self.number = np.diff(candidate.bounds)
        self.run = run = group_index(candidate.offsets)
        self.has_before = np.append(False, run[1:] == run[:-1])
        self.has_after = np.append(run[1:] == run[:-1], False)
        self._together = {}

    def together(self, size):
        """First elements of all sets of `size` neighbours in one run, one of which is near."""
        if size not in self._together:
            first = np.arange(max(len(self.candidate) - size + 1, 0))
            good = self.run[first] == self.run[first + size - 1]
            touched = np.zeros(len(first), bool)
            for k in range(size):
                touched |= self.near[first + k]
            self._together[size] = first[good & touched]
        return self._together[size]

    @cached_property
    def excess(self):
        """By how much each element exceeds its free sum of squares: at most so much can a change
        next to it save, squared sigmas."""
        candidate = self.candidate
        least = unconstrained_sums(candidate.moments, candidate.arc)
        return np.maximum(candidate.chi - least, 0.0)

    @cached_property
    def costs(self):
        """Cost of each element with the joint after it, and what a change may save besides, before
        it (the joint and its neighbour's excess) and after it (the excess)."""
        candidate = self.candidate
        joint = joint_penalties(candidate, self.x, self.y)
        return (
            candidate.chi + element_penalties(candidate.arc) + joint,
            np.append(0.0, (joint + self.excess)[:-1]) * self.has_before,
            np.append(self.excess[1:], 0.0) * self.has_after,
        )

    def moments(self, low, high):
        """Moments of the positions from `low` to before `high`."""
        size = np.maximum(high - low, 0)
        index = ranges(low, size)
        return Moments.of(self.x[index], self.y[index], self.weight[index], offsets_of(size))


def worth_trying(context, found):
    """Keep the proposals that could be cheaper if each new element were free of its neighbours.

    Parameters
    ----------
    context : Context
    found : iterable of Trial or Proposals
        Proposals are taken as they are, after all trials.

    Returns
    -------
    proposals : Proposals or None
        None if there is nothing to try.
    dropped : ndarray of int, shape (2, pairs)
        Pairs of a proposal and a position that it drops.
    """
    ready, kinds = [], {}
    for trial in found:
        if isinstance(trial, Proposals):
            ready.append(trial)
        elif len(trial.first):
            kind = trial.removed, len(trial.start), len(trial.drop)
            kinds.setdefault(kind, []).append(trial)
    sorts, pairs, total = [], [np.zeros((2, 0), np.int64)], 0
    # in a fixed order, whatever kinds other runs yield first
    for (removed, _, dropped), trials in sorted(kinds.items()):
        proposals, drops = _sift(context, removed, trials)
        if dropped:
            own = np.tile(total + np.arange(len(proposals)), dropped)
            pairs.append(np.stack([own, drops.ravel()]))
        total += len(proposals)
        sorts.append(proposals)
    parts = [*sorts, *ready]
    return Proposals.concatenate(parts) if parts else None, np.concatenate(pairs, axis=1)


def _sift(context, removed, trials):
    """Proposals of one kind that could be cheaper, and the positions that they drop, shape
    (dropped, proposals)."""
    arc, has_before, has_after = context.candidate.arc, context.has_before, context.has_after
    first = np.concatenate([trial.first for trial in trials])
    start = _columns([trial.start for trial in trials])
    arcs = _columns(
        [[np.broadcast_to(one, trial.first.shape) for one in trial.arcs] for trial in trials]
    )
    last = first + removed - 1
    arc_before = np.append(False, arc[:-1]) & has_before
    arc_after = np.append(arc[1:], False) & has_after
    follow = arcs | np.concatenate([arcs[1:], arc_after[last][None]])
    lead = arcs[0] | arc_before[first]
    good = np.arange(len(first))
    if trials[0].groups:
        groups = zip(*(trial.groups for trial in trials))
        moments = Moments.concatenate([group for column in groups for group in column])
        alone = unconstrained_sums(moments, arcs.ravel()).reshape(arcs.shape)
        own, before, after = context.costs
        now = sum(own[first + k] for k in range(removed)) + before[first] + after[last]
        then = (alone + element_penalties(arcs)).sum(axis=0)
        then -= CHAIN.parameter_penalty * (
            follow[:-1].sum(axis=0) + lead * has_before[first] + follow[-1] * has_after[last]
        )
        good = np.flatnonzero(now - then > LOCAL_SEARCH.min_saving)
    proposals = Proposals.of(
        first[good], removed, start[:, good].T, arcs[:, good].T, follow[:, good].T, lead[good]
    )
    drops = [trial.drop for trial in trials]
    return proposals, _columns(drops)[:, good] if drops[0] else None


def _columns(parts):
    """Lists of columns joined column by column, shape (columns, rows)."""
    return np.stack([np.concatenate(column) for column in zip(*parts)])


@dataclass(frozen=True)
class Compared:
    """Stretches of candidate chains as they are (`old`) and as proposed (`new`), with one neighbour
    on either side, each stretch adjusted alone.

    Shape (proposals,): `low`, `high`, the elements of the candidate; `shift`, what to add to its
    positions to get those in the new stretch; `which`, the stretch of `old` to compare with (shared
    by proposals for the same elements); `now`, its cost, and `saving`, squared sigmas. Flat:
    `places`, `x`, `y`, `weight`, the positions of the new stretches, metres, and their weights;
    `old_places`, the positions of the old ones. `joints` of the new stretches are as
    `chain.joints_of` gives them.
    """

    low: np.ndarray
    high: np.ndarray
    shift: np.ndarray
    new: CandidateChains
    places: np.ndarray
    x: np.ndarray
    y: np.ndarray
    weight: np.ndarray
    old: CandidateChains
    old_places: np.ndarray
    which: np.ndarray
    now: np.ndarray
    saving: np.ndarray
    joints: tuple

    def with_new(self, new):
        """The same with other elements in the new stretches, and what they save."""
        joints = joints_of(new, self.x, self.y)
        saving = self.now - total_cost(new, self.x, self.y, joints)
        return replace(self, new=new, saving=saving, joints=joints)

    def adjusted(self, rounds):
        """The same after so many steps of the adjustment."""
        return self.with_new(adjusted(self.new, self.x, self.y, self.weight, rounds))

    def reassigned(self):
        """The same with positions reassigned next to joints; `saving` and `joints` stay as they
        are until the next adjustment."""
        return replace(self, new=reassigned(self.new, self.x, self.y, self.joints))

    def take(self, index):
        """Some of the proposals, given by their numbers."""
        offsets = self.new.offsets
        low, high = offsets[:-1][index], offsets[1:][index]
        new, places, element = stretches(self.new, low, high, self.new.closed[index])
        weight = self.weight[places]
        begin = new.bounds[new.offsets[:-1]]
        return replace(
            self,
            low=self.low[index],
            high=self.high[index],
            shift=self.shift[index] + begin - self.new.bounds[low],
            new=replace(new, moments=self.new.moments.take(element), weight=weight),
            places=self.places[places],
            x=self.x[places],
            y=self.y[places],
            weight=weight,
            which=self.which[index],
            now=self.now[index],
            saving=self.saving[index],
            joints=joints_of_some(self.joints, element, len(self.new)),
        )


@dataclass(frozen=True)
class _Windows:
    """Stretches in which proposals are compared: elements `low` to before `high`, of which those
    from `after` on stay; shape (proposals,). `places` and `shift` as in `Compared`."""

    low: np.ndarray
    after: np.ndarray
    high: np.ndarray
    places: np.ndarray
    shift: np.ndarray

    @classmethod
    def around(cls, candidate, proposals):
        low, after, high = cls.bounds(candidate, proposals)
        return cls(low, after, high, *positions_of(candidate, low, high))

    @staticmethod
    def bounds(candidate, proposals):
        """`low`, `after` and `high` for some proposals."""
        run = group_index(candidate.offsets)[proposals.first]
        low = np.maximum(proposals.first - 1, candidate.offsets[:-1][run])
        after = proposals.first + proposals.removed
        return low, after, np.minimum(after + 1, candidate.offsets[1:][run])


def compare(candidate, x, y, weight, proposals, dropped=None):
    """Adjust stretches as they are and as proposed, and compare their costs.

    Parameters
    ----------
    candidate : CandidateChains
        With moments.
    x, y, weight : ndarray of float, shape (m,)
    proposals : Proposals
    dropped : ndarray of int, shape (2, pairs), optional
        Pairs of a proposal and a position that loses its weight in the new stretch.

    Returns
    -------
    Compared
    """
    compared = _laid_out(candidate, x, y, weight, proposals, dropped)
    return compared.with_new(
        reassign_and_adjust(compared.new, compared.x, compared.y, compared.weight)
    )


def _laid_out(candidate, x, y, weight, proposals, dropped):
    """As `compare`, but the new stretches are not adjusted yet; what they save, and their joints,
    are not known."""
    windows = _Windows.around(candidate, proposals)
    low, high = windows.low, windows.high
    _, one, which = np.unique(
        low * (len(candidate) + 1) + high, return_index=True, return_inverse=True
    )
    old, old_places, element = stretches(candidate, low[one], high[one], np.zeros(len(one), bool))
    px, py, pw = x[old_places], y[old_places], weight[old_places]
    old = replace(old, moments=candidate.moments.take(element), weight=pw)
    old = reassign_and_adjust(old, px, py, pw, 1, warm=True)
    now = total_cost(old, px, py)[which]

    px, py, pw = x[windows.places], y[windows.places], weight[windows.places]
    if dropped is not None:
        pw[dropped[1] + windows.shift[dropped[0]]] = 0.0
    return Compared(
        low=low,
        high=high,
        shift=windows.shift,
        new=_proposed(candidate, px, py, pw, proposals, windows),
        places=windows.places,
        x=px,
        y=py,
        weight=pw,
        old=old,
        old_places=old_places,
        which=which,
        now=now,
        saving=np.full(len(low), np.nan),
        joints=None,
    )


def _proposed(candidate, px, py, pw, proposals, windows):
    """The new stretches at positions `px`, `py` with weights `pw`, before their adjustment."""
    low, after, shift = windows.low, windows.after, windows.shift
    before, behind = proposals.first - low, windows.high - after
    size = before + proposals.inserted + behind
    offsets = offsets_of(size)
    total = int(offsets[-1])
    start, source = np.zeros(total, np.int64), np.full(total, -1)
    arc, smooth = np.zeros(total, bool), np.zeros(total, bool)
    fresh = ranges(offsets[:-1] + before, proposals.inserted)
    owner = np.repeat(np.arange(len(proposals)), proposals.inserted)
    start[fresh] = proposals.start + shift[owner]
    arc[fresh], smooth[fresh] = proposals.arc, proposals.smooth
    other = np.ones(total, bool)
    other[fresh] = False
    kept = np.flatnonzero(other)
    source[kept] = np.column_stack([low, after])[np.column_stack([before, behind]) > 0]
    owner = group_index(offsets)[kept]
    start[kept] = candidate.bounds[source[kept]] + shift[owner]
    arc[kept], smooth[kept] = candidate.arc[source[kept]], candidate.smooth[source[kept]]
    lead = np.flatnonzero(before > 0)
    smooth[offsets[:-1][lead] + before[lead] - 1] = proposals.joint_before[lead]
    bounds = np.append(start, len(px))
    own = Moments.of_some(px, py, pw, bounds, fresh)
    # neighbours keep their moments
    moments = candidate.moments.take(source).put(fresh, own)
    primitives = candidate.primitives.take(source).put(
        fresh,
        fit_independent(own, arc[fresh], px, py, bounds[fresh], bounds[fresh + 1], candidate.radii),
    )
    arc = primitives.is_arc
    return CandidateChains(
        bounds=bounds,
        offsets=offsets,
        arc=arc,
        smooth=smooth & (arc | np.append(arc[1:], False)),
        primitives=primitives,
        closed=np.zeros(len(proposals), bool),
        chi=np.zeros(total),
        radii=candidate.radii,
        moments=moments,
        weight=pw,
    )


def best_of(saving, low, high, count):
    """Choose among overlapping proposals.

    Parameters
    ----------
    saving : ndarray of float, shape (proposals,)
        Squared sigmas.
    low, high : ndarray of int, shape (proposals,)
        First element of each window and the one after its last.
    count : int
        Number of elements.

    Returns
    -------
    ndarray of int
        Proposals that save more than `LOCAL_SEARCH.min_saving` and more than any other one that
        shares an element; of equal ones the first.
    """
    order = np.lexsort((low, -saving))
    order = order[saving[order] > LOCAL_SEARCH.min_saving]
    rank = np.arange(len(order))
    taken = np.full(count, len(order))
    inside = ranges(low[order], (high - low)[order])
    owner = np.repeat(rank, (high - low)[order])
    np.minimum.at(taken, inside, owner)
    beaten = np.zeros(len(order), bool)
    beaten[owner[taken[inside] < owner]] = True
    return order[~beaten]


@dataclass(frozen=True)
class Replacements:
    """Adjusted new stretches that replace elements `low` to before `high`.

    Arrays of shape (stretches,): `number` of the proposal, `low`, `high`, `saving` in squared
    sigmas; `offsets`, (stretches + 1,). Flat arrays over the new elements: `start`, the first
    position of each; `smooth`, whether the joint after it is tangential; `primitives`; `chi`.
    """

    number: np.ndarray
    low: np.ndarray
    high: np.ndarray
    saving: np.ndarray
    offsets: np.ndarray
    start: np.ndarray
    smooth: np.ndarray
    primitives: Primitives
    chi: np.ndarray

    @classmethod
    def of(cls, compared, which, saving, number):
        """Those of the compared proposals that `which` names; `number` and `saving` are of all."""
        new = compared.new
        size = np.diff(new.offsets)[which]
        element = ranges(new.offsets[:-1][which], size)
        return cls(
            number=number[which],
            low=compared.low[which],
            high=compared.high[which],
            saving=saving[which],
            offsets=offsets_of(size),
            start=new.bounds[element] - np.repeat(compared.shift[which], size),
            smooth=new.smooth[element],
            primitives=new.primitives.take(element),
            chi=new.chi[element],
        )

    @classmethod
    def concatenate(cls, parts):
        """All stretches, in the order of the parts."""
        flat = {
            name: np.concatenate([getattr(part, name) for part in parts])
            for name in ("number", "low", "high", "saving", "start", "smooth", "chi")
        }
        return cls(
            **flat,
            offsets=join_offsets([part.offsets for part in parts]),
            primitives=Primitives.concatenate([part.primitives for part in parts]),
        )

    def take(self, index):
        """Some of the stretches, given by their places."""
        size = np.diff(self.offsets)[index]
        element = ranges(self.offsets[:-1][index], size)
        return Replacements(
            number=self.number[index],
            low=self.low[index],
            high=self.high[index],
            saving=self.saving[index],
            offsets=offsets_of(size),
            start=self.start[element],
            smooth=self.smooth[element],
            primitives=self.primitives.take(element),
            chi=self.chi[element],
        )


@dataclass(frozen=True)
class Conditions:
    """Conditions of proposals that drop positions.

    `dropped`: pairs as in `compare`, shape (2, pairs). `price`, shape (proposals,): what each
    proposal must save in any case, squared sigmas. `judge` is called with a `Compared` and the
    pairs of its proposals; it returns what each of them saves, squared sigmas, price deducted.
    """

    dropped: np.ndarray
    price: np.ndarray
    judge: Callable

    def of(self, number):
        """The pairs of some proposals, numbered in their order."""
        place = np.full(len(self.price), -1)
        place[number] = np.arange(len(number))
        pairs = np.stack([place[self.dropped[0]], self.dropped[1]])
        return pairs[:, pairs[0] >= 0]


def find_replacements(candidate, x, y, weight, proposals, conditions=None):
    """Compare proposals and choose among them.

    Parameters
    ----------
    candidate : CandidateChains
        With moments.
    x, y, weight : ndarray of float, shape (m,)
    proposals : Proposals
    conditions : Conditions, optional
        If positions are dropped; by default `Compared.saving` counts.

    Returns
    -------
    Replacements
        No two share an element.

    Notes
    -----
    Proposals are compared in batches of as many elements as the processor's caches hold, all
    proposals for one run together. Most give up before they are adjusted to the end.
    """
    parts = []
    for number in _batches(candidate, proposals):
        pairs = conditions.of(number) if conditions else None
        compared = _laid_out(candidate, x, y, weight, proposals.take(number), pairs)
        compared, left = _promising(compared, conditions.price[number] if conditions else None)
        number, saving = number[left], compared.saving
        if conditions:
            left = np.flatnonzero(saving > conditions.price[number])
            compared, number = compared.take(left), number[left]
            saving = conditions.judge(compared, conditions.of(number))
        which = np.flatnonzero(saving > LOCAL_SEARCH.min_saving)
        parts.append(Replacements.of(compared, which, saving, number))
    found = Replacements.concatenate(parts)
    # of equal ones the first that was proposed
    found = found.take(np.argsort(found.number))
    return found.take(best_of(found.saving, found.low, found.high, len(candidate)))


def _promising(compared, price):
    """Proposals that can still be the best, adjusted, and their numbers; `price` as in
    `Conditions`, or None.

    Most give up after the first steps of the adjustment: those that save far less than their price,
    or without prices, than the best of the proposals that share an element with them. (Where there
    is a judge, who is the best is not known yet.) What large misfits will come to is not seen so
    early: the margin grows with the cost now.
    """
    compared = compared.adjusted(LOCAL_SEARCH.first_steps)
    if price is None:
        price = np.maximum(_best_beside(compared.saving, compared.low, compared.high), 0.0)
    margin = LOCAL_SEARCH.behind + LOCAL_SEARCH.behind_of_cost * compared.now
    left = np.flatnonzero(compared.saving > price - margin)
    return compared.take(left).reassigned().adjusted(LOCAL_SEARCH.last_steps), left


def _best_beside(saving, low, high):
    """The most that is saved by proposals that share an element with each one, shape (proposals,).

    `low`, `high`: elements of its stretch; proposals for one stretch lie side by side.
    """
    if not len(saving):
        return saving
    starts = stretch_starts(low, high)
    first = np.flatnonzero(starts)
    most, size = np.maximum.reduceat(saving, first), (high - low)[first]
    inside = ranges(low[first] - low.min(), size)
    best = np.full(int(inside.max()) + 1, -np.inf)
    np.maximum.at(best, inside, most.repeat(size))
    return np.maximum.reduceat(best[inside], offsets_of(size)[:-1])[np.cumsum(starts) - 1]


def _batches(candidate, proposals):
    """Yield batches: numbers of proposals to be compared together, in the order of their
    stretches."""
    low, _, high = _Windows.bounds(candidate, proposals)
    order = np.argsort(low * (len(candidate) + 1) + high, kind="stable")
    size = (high - low - proposals.removed + proposals.inserted)[order]
    # a run is not divided: who else is compared decides who gives up
    begins = stretch_starts(group_index(candidate.offsets)[low[order]])
    batch = np.maximum.accumulate(
        np.where(begins, (np.cumsum(size) - size) // LOCAL_SEARCH.together, 0)
    )
    yield from np.split(order, np.flatnonzero(np.diff(batch)) + 1)


def put_in(candidate, found):
    """Put new stretches into candidate chains.

    Parameters
    ----------
    candidate : CandidateChains
    found : Replacements
        No two share an element.

    Returns
    -------
    candidate : CandidateChains
    near : ndarray of bool, shape (elements,)
        Elements that are new or next to new ones.
    """
    found = found.take(np.argsort(found.low))
    low, high = found.low, found.high
    keep = np.ones(len(candidate), bool)
    keep[ranges(low, high - low)] = False
    owner = group_index(found.offsets)
    old = np.flatnonzero(keep)
    start = np.concatenate([candidate.bounds[old], found.start])
    order = np.lexsort((start, np.concatenate([old.astype(float), low[owner] + 0.0])))
    last = found.offsets[1:] - 1
    follow = found.smooth.copy()
    follow[last] = candidate.smooth[high - 1]

    def merged(a, b):
        return np.concatenate([a, b])[order]

    run_of = group_index(candidate.offsets)
    run = merged(run_of[old], run_of[low[owner]])
    primitives = Primitives.concatenate([candidate.primitives.take(old), found.primitives])
    primitives = primitives.take(order)
    arc = primitives.is_arc
    near = merged(np.zeros(len(old), bool), np.ones(len(owner), bool))
    near[1:] |= near[:-1].copy()
    near[:-1] |= near[1:].copy()
    changed = CandidateChains(
        bounds=np.append(start[order], candidate.bounds[-1]),
        offsets=offsets_of(np.bincount(run, minlength=len(candidate.offsets) - 1)),
        arc=arc,
        smooth=merged(candidate.smooth[old], follow) & (arc | np.append(arc[1:], False)),
        primitives=primitives,
        closed=candidate.closed,
        chi=merged(candidate.chi[old], found.chi),
        radii=candidate.radii,
    )
    return changed, near
