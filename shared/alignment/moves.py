"""The local search: nine moves that propose other elements; the cheapest proposals are taken."""

import numpy as np

from ..arrays.ragged import group_index
from ..tuning import CHAIN, LOCAL_SEARCH
from .chain import of_runs, put_runs
from .proposals import Context, Proposals, Trial, find_replacements, put_in, worth_trying


def merge_into_tangent(context):
    """Two or three neighbours become one tangent.

    Parameters
    ----------
    context : Context

    Yields
    ------
    Trial
    """
    for first, size, joined in _merged(context):
        yield Trial(first, size, [context.candidate.bounds[first]], [False], [joined])


def merge_into_arc(context):
    """Two or three neighbours with more than three positions become one arc.

    Parameters
    ----------
    context : Context

    Yields
    ------
    Trial
    """
    bounds = context.candidate.bounds
    for first, size, joined in _merged(context):
        pick = np.flatnonzero(bounds[first + size] - bounds[first] > 3)
        yield Trial(first[pick], size, [bounds[first[pick]]], [True], [joined.take(pick)])


def _merged(context):
    """Yield first elements, number and joint moments of two, and of three neighbours."""
    moments = context.candidate.moments
    for size in (2, 3):
        first = context.together(size)
        joined = moments.take(first) + moments.take(first + 1)
        if size == 3:
            joined = joined + moments.take(first + 2)
        yield first, size, joined


def share_middle(context):
    """A short element between two others goes, and its neighbours share its positions.

    Parameters
    ----------
    context : Context

    Yields
    ------
    Trial
    """
    candidate, number = context.candidate, context.number
    bounds, arc, moments = candidate.bounds, candidate.arc, candidate.moments
    three = context.together(3)
    first = three[number[three + 1] <= LOCAL_SEARCH.shared]
    middle = bounds[first + 1] + number[first + 1] // 2
    yield Trial(
        first,
        3,
        [bounds[first], middle],
        [arc[first], arc[first + 2]],
        [
            moments.take(first) + context.moments(bounds[first + 1], middle),
            context.moments(middle, bounds[first + 2]) + moments.take(first + 2),
        ],
    )


def change_kind(context):
    """An arc becomes a tangent, or a short tangent an arc, if it may be one (`_may_be_arc`).

    Parameters
    ----------
    context : Context

    Yields
    ------
    Trial
    """
    candidate, number = context.candidate, context.number
    arc = candidate.arc
    one = np.flatnonzero(context.near & (number > 2) & (arc | (number <= LOCAL_SEARCH.shared)))
    may = _may_be_arc(context, one, context.has_before[one], context.has_after[one])
    one = one[arc[one] | may]
    yield Trial(one, 1, [candidate.bounds[one]], [~arc[one]], [candidate.moments.take(one)])


def change_kinds(context):
    """Two neighbours, one of them short, become a tangent and an arc, in either order; the bound
    between them stays.

    Parameters
    ----------
    context : Context

    Yields
    ------
    Trial
    """
    candidate = context.candidate
    bounds, moments = candidate.bounds, candidate.moments
    first, right = _other_kinds(context)
    yield Trial(
        first,
        2,
        [bounds[first], bounds[first + 1]],
        [~right, right],
        [moments.take(first), moments.take(first + 1)],
    )


def change_kinds_and_bound(context):
    """As `change_kinds`, with the bound shifted into the longer element, by one position and by
    `LOCAL_SEARCH.far_bound` at most.

    Parameters
    ----------
    context : Context

    Yields
    ------
    Trial
    """
    candidate, number = context.candidate, context.number
    bounds = candidate.bounds
    first, right = _other_kinds(context)
    ahead = number[first] < number[first + 1]
    longer = np.where(ahead, number[first + 1], number[first])
    most = np.minimum(LOCAL_SEARCH.far_bound, longer // 2)
    place = np.concatenate([np.flatnonzero(most > 0), np.flatnonzero(most > 1)])
    by = np.where(np.arange(len(place)) < np.count_nonzero(most), most[place], 1)
    first, right, ahead = first[place], right[place], ahead[place]
    bound = bounds[first + 1]
    moved = bound + np.where(ahead, by, -by)
    yield Trial(
        first,
        2,
        [bounds[first], moved],
        [~right, right],
        _with_bound(context, first, bound, moved, np.where(ahead, 1.0, -1.0)),
    )


def straighten(context):
    """Two tangents replace an arc and its neighbour, with the bound shifted either way.

    Parameters
    ----------
    context : Context

    Yields
    ------
    Trial
    """
    candidate, number = context.candidate, context.number
    arc, bounds = candidate.arc, candidate.bounds
    pair = _short_pairs(context)
    pair = pair[arc[pair] | arc[pair + 1]]
    shifts = np.arange(-LOCAL_SEARCH.near_bound, LOCAL_SEARCH.near_bound + 1)
    first, shift = np.tile(pair, len(shifts)), np.repeat(shifts, len(pair))
    room = (number[first] + shift > 1) & (number[first + 1] - shift > 1)
    first, shift = first[room], shift[room]
    bound = bounds[first + 1]
    yield Trial(
        first,
        2,
        [bounds[first], bound + shift],
        [False, False],
        _with_bound(context, first, bound, bound + shift, np.sign(shift).astype(float)),
    )


def round_corner(context):
    """An arc of a few positions is inserted where two tangents meet.

    Parameters
    ----------
    context : Context

    Yields
    ------
    Trial
    """
    candidate, number = context.candidate, context.number
    arc, bounds, moments = candidate.arc, candidate.bounds, candidate.moments
    two = context.together(2)
    meet = two[~arc[two] & ~arc[two + 1] & (number[two] > 3) & (number[two + 1] > 3)]
    sizes = LOCAL_SEARCH.corner_arc
    first, k = np.tile(meet, len(sizes)), np.repeat(sizes, len(meet))
    bound = bounds[first + 1]
    a, b = context.moments(bound - k, bound), context.moments(bound, bound + k)
    yield Trial(
        first,
        2,
        [bounds[first], bound - k, bound + k],
        [False, True, False],
        [moments.take(first) + a.times(-1.0), a + b, moments.take(first + 1) + b.times(-1.0)],
    )


def flip_joint(context):
    """A tangential joint at an arc becomes a corner, or a corner tangential.

    Parameters
    ----------
    context : Context

    Yields
    ------
    Proposals
        Not trials: the elements stay, so that their moments do not show what could be gained. The
        excess of the two elements over their free sums of squares does.
    """
    candidate, excess = context.candidate, context.excess
    arc, smooth, bounds = candidate.arc, candidate.smooth, candidate.bounds
    two = context.together(2)
    first = two[arc[two] | arc[two + 1]]
    penalty = CHAIN.parameter_penalty
    gain = np.where(smooth[first], excess[first] + excess[first + 1] - penalty, 2 * penalty)
    first = first[gain > LOCAL_SEARCH.min_saving]
    yield Proposals.of(
        first,
        2,
        np.column_stack([bounds[first], bounds[first + 1]]),
        np.column_stack([arc[first], arc[first + 1]]),
        np.column_stack([~smooth[first], smooth[first + 1]]),
        context.has_before[first] & smooth[first - 1],
    )


# Of proposals that save the same the first wins, so this order can affect results.
MOVES = (
    merge_into_tangent,
    merge_into_arc,
    share_middle,
    change_kind,
    change_kinds,
    change_kinds_and_bound,
    straighten,
    round_corner,
    flip_joint,
)


def _short_pairs(context):
    """First elements of pairs of neighbours, one of which is short."""
    two, number = context.together(2), context.number
    return two[np.minimum(number[two], number[two + 1]) <= LOCAL_SEARCH.shared]


def _other_kinds(context):
    """Pairs that may become a tangent and an arc: their first elements, and whether the second one
    is to be the arc (`right`)."""
    arc, pair = context.candidate.arc, _short_pairs(context)
    first, right = np.tile(pair, 2), np.repeat([True, False], len(pair))
    other = (arc[first] == right) | (arc[first + 1] != right)
    first, right = first[other], right[other]
    new = first + right
    may = (
        arc[first]
        | arc[first + 1]
        | _may_be_arc(
            context, new, context.has_before[new] & right, context.has_after[new] & ~right
        )
    )
    return first[may], right[may]


def _with_bound(context, first, bound, moved, sign):
    """Moments of two neighbours after their bound has moved; `sign` is 1 if it moved forward."""
    moments = context.candidate.moments
    few = context.moments(np.minimum(bound, moved), np.maximum(bound, moved))
    return [
        moments.take(first) + few.times(sign),
        moments.take(first + 1) + few.times(-sign),
    ]


def _may_be_arc(context, element, has_before, has_after):
    """Whether tangents could as well be arcs, tangential to the tangents next to them (mask): about
    a line, such an arc would leave hardly more squares than the tangent does. `has_before`,
    `has_after`: masks of the shape of `element`.

    An arc that takes up a deflection d at either end has a sagitta of about its length times d / 4,
    and a parabola of sagitta s departs from its best-fit line by ``s * sqrt(4 / 45)`` (RMS).
    """
    candidate, e = context.candidate, element
    ux, uy, arc = candidate.primitives.ux, candidate.primitives.uy, candidate.arc

    def deflection(a, b, there):
        angle = np.arctan2(ux[a] * uy[b] - uy[a] * ux[b], ux[a] * ux[b] + uy[a] * uy[b])
        return np.where(there, angle, np.nan)

    left, right = np.maximum(e - 1, 0), np.minimum(e + 1, len(candidate) - 1)
    before = deflection(left, e, has_before & ~arc[left])
    after = deflection(e, right, has_after & ~arc[right])
    moments = candidate.moments
    w = moments.w[e]
    # exact: squared length of evenly spread positions, from their variance
    length2 = 12 * (moments.xx + moments.yy)[e] / np.maximum(w, 1e-300)
    mean = np.where(np.isnan(before), after, before) + np.where(np.isnan(after), before, after)
    turn, lean = np.nan_to_num(mean / 2), np.nan_to_num((before - after) / 2)
    # exact: 4/45 for a parabola, 1/12 for a line at an angle
    unlike = w * length2 * (4 / 45 * turn**2 / 16 + lean**2 / 12)
    limit = LOCAL_SEARCH.may_be_arc_factor * candidate.chi[e] + LOCAL_SEARCH.may_be_arc
    return (unlike < limit) | (context.number[e] <= LOCAL_SEARCH.undecided)


def improve(candidate, x, y, weight, near=None, rounds=None):
    """Replace elements by cheaper ones until no move pays any more, or the rounds are used up.

    Parameters
    ----------
    candidate : CandidateChains
        Adjusted.
    x, y, weight : ndarray of float, shape (m,)
        Positions, metres, and one over their variances.
    near : ndarray of bool, shape (elements,), optional
        Moves must involve one of these elements; by default any.
    rounds : int, optional
        Maximum number of rounds; by default `LOCAL_SEARCH.rounds`.

    Returns
    -------
    CandidateChains
    """
    rounds = LOCAL_SEARCH.rounds if rounds is None else rounds
    candidate = candidate.with_moments(x, y, weight)
    context = Context(candidate, x, y, weight, near)
    proposals, _ = worth_trying(context, (trial for move in MOVES for trial in move(context)))
    if proposals is None or not len(proposals):
        return candidate
    found = find_replacements(candidate, x, y, weight, proposals)
    if not found.low.size:
        return candidate
    runs = np.unique(group_index(candidate.offsets)[found.low])
    candidate, near = put_in(candidate, found)
    if rounds == 1:
        return candidate
    # further rounds in the runs that changed
    part, place, element = of_runs(candidate, runs)
    part = improve(part, x[place], y[place], weight[place], near[element], rounds - 1)
    return put_runs(candidate, part, runs)
