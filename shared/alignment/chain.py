"""Candidate chains: the tangents and arcs under consideration, their joints and their cost."""

from dataclasses import dataclass, replace
from typing import Optional

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import group_index, group_sum, offsets_of, ranges
from ..tuning import ADJUSTMENT, CHAIN
from .adjustment import adjust
from .moments import Moments
from .primitives import Primitives, on_arc


@dataclass(frozen=True)
class CandidateChains:
    """Elements of all runs during the search, one chain per run.

    Attributes
    ----------
    bounds : ndarray of int, shape (elements + 1,)
        First position of each element, and the end.
    offsets : ndarray of int, shape (runs + 1,)
        First element of each run, and the end.
    arc, smooth : ndarray of bool, shape (elements,)
        Whether the element is an arc; whether the joint after it is tangential.
    primitives : Primitives
    closed : ndarray of bool, shape (runs,)
    chi : ndarray of float, shape (elements,)
        Sum of squared distances of each element's positions in units of variance.
    radii : tuple of float
        Minimum and maximum radius of arcs, metres.
    moments : Moments, optional
        Of the positions of each element with the weights `weight`; None if not computed yet.
    weight : ndarray of float, shape (m,), optional
        Compared by identity: an array of weights is never changed in place.
    """

    bounds: np.ndarray
    offsets: np.ndarray
    arc: np.ndarray
    smooth: np.ndarray
    primitives: Primitives
    closed: np.ndarray
    chi: np.ndarray
    radii: tuple
    moments: Optional[Moments] = None
    weight: Optional[np.ndarray] = None

    def __len__(self):
        return len(self.arc)

    @property
    def curvatures(self):
        """Minimum and maximum curvature of arcs, 1/m."""
        return 1 / self.radii[1], 1 / self.radii[0]

    def with_moments(self, x, y, weight):
        """The same chains with their moments for these weights, computed if need be."""
        if self.moments is not None and self.weight is weight:
            return self
        return replace(self, moments=Moments.of(x, y, weight, self.bounds), weight=weight)


def first_candidate(elements, x, y, offsets, closed, radii):
    """Candidate chains made of the elements that the search found.

    Parameters
    ----------
    elements : search.Elements
    x, y : ndarray of float, shape (m,)
        Positions, metres.
    offsets : ndarray of int, shape (runs + 1,)
        Positions of each run.
    closed : ndarray of bool, shape (runs,)
    radii : tuple of float
        Minimum and maximum radius of arcs, metres.

    Returns
    -------
    CandidateChains
        Every joint at an arc is tangential, except the sharp ones (`sharp_joints`).
    """
    bounds = elements.offsets
    of_run = np.searchsorted(bounds[:-1], offsets)
    arc = elements.is_arc
    primitives = _primitives_of(elements, x, y, offsets)
    smooth = arc | np.append(arc[1:], False)
    smooth &= ~sharp_joints(primitives, x, y, bounds, of_run, closed)
    return CandidateChains(bounds, of_run, arc, smooth, primitives, closed, elements.chi, radii)


def _primitives_of(elements, x, y, offsets):
    """The elements of the search as `Primitives`; the points of arcs are next to their middle
    positions."""
    bounds = elements.offsets
    number = np.diff(bounds)
    arc = elements.is_arc
    owner = group_index(bounds)
    first, last = bounds[:-1], bounds[1:] - 1
    # the side to which an arc bends: the sense in which its positions go round the centre
    dx, dy = x - elements.x[owner], y - elements.y[owner]
    area = np.append(dx[:-1] * dy[1:] - dy[:-1] * dx[1:], 0.0)
    area[last] = 0.0
    turn = np.where(group_sum(area, bounds) < 0, -1.0, 1.0)
    curvature = np.where(arc, turn / np.where(arc, elements.radius, 1.0), 0.0)
    # a point in the middle of the arc, and the direction there
    middle = first + number // 2
    ax, ay, vx, vy = on_arc(
        elements.x, elements.y, np.where(arc, elements.radius, 0.0), turn, x[middle], y[middle]
    )
    px, py = np.where(arc, ax, elements.x), np.where(arc, ay, elements.y)
    ux, uy = np.where(arc, vx, elements.ux), np.where(arc, vy, elements.uy)
    # an element of one position has the direction from its neighbour before to the one after
    lone = np.flatnonzero(number == 1)
    run = group_index(offsets)[first[lone]]
    a = np.maximum(first[lone] - 1, offsets[:-1][run])
    b = np.minimum(last[lone] + 1, offsets[1:][run] - 1)
    length = np.maximum(distance(x[b] - x[a], y[b] - y[a]), 1e-9)
    ux[lone], uy[lone] = (x[b] - x[a]) / length, (y[b] - y[a]) / length
    return Primitives(px, py, ux, uy, curvature)


def sharp_joints(primitives, x, y, bounds, offsets, closed):
    """Joints at which the directions of both elements differ by more than `CHAIN.first_corner`.

    Parameters
    ----------
    primitives : Primitives
    x, y : ndarray of float, shape (m,)
        Positions, metres.
    bounds : ndarray of int, shape (elements + 1,)
        Positions of the elements.
    offsets : ndarray of int, shape (runs + 1,)
        Elements of the runs.
    closed : ndarray of bool, shape (runs,)

    Returns
    -------
    ndarray of bool, shape (elements,)
        Of the joint after each element; directions are those midway between the two positions next
        to it.
    """
    e = np.arange(len(primitives))
    following = e + 1
    last = offsets[1:] - 1
    following[last] = np.where(closed, offsets[:-1], last)
    a, b = bounds[1:] - 1, bounds[following]
    px, py = (x[a] + x[b]) / 2, (y[a] + y[b]) / 2
    _, ux, uy = primitives.distance_and_direction(px, py, e)
    _, vx, vy = primitives.distance_and_direction(px, py, following)
    return np.abs(np.arctan2(ux * vy - uy * vx, ux * vx + uy * vy)) > CHAIN.first_corner


@dataclass(frozen=True)
class Joints:
    """Where elements meet; arrays of shape (joints,).

    `x`, `y` the place; `ux`, `uy` the direction there, at a corner the mean of both; `angle` the
    deflection, rad, + to the left; `met` False if the two elements do not meet near their
    positions.
    """

    x: np.ndarray
    y: np.ndarray
    ux: np.ndarray
    uy: np.ndarray
    angle: np.ndarray
    met: np.ndarray

    def take(self, index):
        """Some of the joints, given by their numbers."""
        columns = self.x, self.y, self.ux, self.uy, self.angle, self.met
        return Joints(*(column.take(index) for column in columns))


def find_joints(primitives, first, second, smooth, before, after):
    """Find the places where elements `first` join elements `second`.

    Parameters
    ----------
    primitives : Primitives
    first, second : ndarray of int, shape (joints,)
    smooth : ndarray of bool, shape (joints,)
        Tangential joints; the others are corners.
    before, after : tuple of ndarray of float, shape (joints,)
        x and y of the last position of `first` and of the first position of `second`, metres.

    Returns
    -------
    Joints

    Notes
    -----
    A tangential joint is where the normal of the flatter element through the centre of the more
    strongly curved one meets the latter. A corner of two tangents is where they intersect; another
    one is found by Newton steps from midway between the two positions.
    """
    (ax, ay), (bx, by) = before, after
    x, y, hit = (ax + bx) / 2, (ay + by) / 2, smooth.copy()
    one, other = primitives.take(first), primitives.take(second)
    some = np.flatnonzero(smooth)
    x[some], y[some] = _tangent_points(one.take(some), other.take(some))
    curved = one.is_arc | other.is_arc
    for corner_of, which in ((_intersections, ~(smooth | curved)), (_corners, curved & ~smooth)):
        some = np.flatnonzero(which)
        x[some], y[some], hit[some] = corner_of(one.take(some), other.take(some), x[some], y[some])
    (fx, fy), (gx, gy) = (elements.directions(x, y) for elements in (one, other))
    angle = np.where(smooth, 0.0, np.arctan2(fx * gy - fy * gx, fx * gx + fy * gy))
    # from the last position to the joint, and on to the next one
    arriving = (x - ax) * fx + (y - ay) * fy
    leaving = (bx - x) * gx + (by - y) * gy
    step = distance(bx - ax, by - ay)
    slack = CHAIN.slack + CHAIN.slack_of_step * step
    met = smooth | (
        hit
        & (arriving > -slack)
        & (leaving > -slack)
        & (arriving + leaving < CHAIN.detour * step + CHAIN.detour_slack)
        & (np.abs(angle) < CHAIN.max_corner)
    )
    ux, uy = fx + gx, fy + gy
    length = np.maximum(distance(ux, uy), 1e-9)
    return Joints(x, y, ux / length, uy / length, angle, met)


def _tangent_points(one, other):
    """Places of tangential joints between elements, x and y."""
    swap = np.abs(one.curvature) > np.abs(other.curvature)
    rounder, flatter = Primitives.where(swap, one, other), Primitives.where(swap, other, one)
    k = rounder.curvature
    radius = 1 / np.where(k == 0, 1.0, k)
    cx, cy = rounder.x - rounder.uy * radius, rounder.y + rounder.ux * radius
    _, vx, vy = flatter.distance_and_direction(cx, cy, slice(None))
    return cx + vy * radius, cy - vx * radius


def _intersections(one, other, x, y):
    """As `_corners`, of tangents: what Newton steps come to from the places."""
    f = one.ux * (y - one.y) - one.uy * (x - one.x)
    g = other.ux * (y - other.y) - other.uy * (x - other.x)
    dx, dy, sine = _newton_step((f, one.ux, one.uy), (g, other.ux, other.uy))
    # parallel tangents meet nowhere
    farthest = CHAIN.corner_rounds * CHAIN.corner_step
    limit = np.minimum(1.0, farthest / np.maximum(distance(dx, dy), 1e-9))
    return x + dx * limit, y + dy * limit, np.abs(sine) > CHAIN.min_corner_sine


def _corners(one, other, x, y):
    """Intersections of elements from first estimates: x, y, and whether there is one (mask)."""
    out = np.stack([x, y, np.zeros(len(x))])
    # the corners that still move, and what belongs to them
    place, a, b = np.arange(len(x)), one, other
    for _ in range(CHAIN.corner_rounds):
        new_x, new_y, sine = _nearer_to_corner(a, b, x, y)
        # a tiny step is not taken, so that such a corner stays, whatever others still do
        moving = np.abs(new_x - x) + np.abs(new_y - y) > CHAIN.corner_rest
        x, y = np.where(moving, new_x, x), np.where(moving, new_y, y)
        for row, values in zip(out, (x, y, sine)):
            row[place] = values
        moving = np.flatnonzero(moving)
        if len(moving) < CHAIN.corners_moving * len(place):
            place, a, b = place.take(moving), a.take(moving), b.take(moving)
            x, y = x.take(moving), y.take(moving)
    x, y, sine = out
    hit = (
        (np.abs(one.signed_distance(x, y, slice(None))) < CHAIN.corner_miss)
        & (np.abs(other.signed_distance(x, y, slice(None))) < CHAIN.corner_miss)
        & (np.abs(sine) > CHAIN.min_corner_sine)
    )
    return x, y, hit


def _nearer_to_corner(one, other, x, y):
    """Places after a Newton step towards intersections of elements, and the sines of the angles
    between these before it."""
    near, far = (element.distance_and_direction(x, y, slice(None)) for element in (one, other))
    dx, dy, sine = _newton_step(near, far)
    limit = np.minimum(1.0, CHAIN.corner_step / np.maximum(distance(dx, dy), 1e-9))
    return x + dx * limit, y + dy * limit, sine


def _newton_step(one, other):
    """Newton steps towards intersections, and the sines of the angles between both elements, given
    as `Primitives.distance_and_direction` gives them at the places now."""
    (f, fx, fy), (g, gx, gy) = one, other
    sine = fx * gy - fy * gx
    safe = np.where(np.abs(sine) < CHAIN.corner_sine, CHAIN.corner_sine, sine)
    # normals (-uy, ux): solve n1.d = -f, n2.d = -g
    return (fx * g - gx * f) / safe, (fy * g - gy * f) / safe, sine


def inner_joints(candidate):
    """The elements at each joint inside chains and at the seams of rings.

    Parameters
    ----------
    candidate : CandidateChains

    Returns
    -------
    first, second : ndarray of int, shape (joints,)
        Elements before and after each joint.
    """
    size = np.diff(candidate.offsets)
    last = np.zeros(len(candidate), bool)
    last[candidate.offsets[1:][size > 0] - 1] = True
    following = np.arange(1, len(candidate) + 1)
    ring = np.flatnonzero(candidate.closed & (size > 1))
    following[candidate.offsets[1:][ring] - 1] = candidate.offsets[:-1][ring]
    last[candidate.offsets[1:][ring] - 1] = False
    first = np.flatnonzero(~last)
    return first, following[first]


def joints_of(candidate, x, y):
    """Find the joints of candidate chains.

    Parameters
    ----------
    candidate : CandidateChains
    x, y : ndarray of float, shape (m,)
        Positions, metres.

    Returns
    -------
    first, second : ndarray of int, shape (joints,)
        Elements before and after each joint.
    joints : Joints
    """
    first, second = inner_joints(candidate)
    a, b = candidate.bounds[first + 1] - 1, candidate.bounds[second]
    return (
        first,
        second,
        find_joints(
            candidate.primitives, first, second, candidate.smooth[first], (x[a], y[a]), (x[b], y[b])
        ),
    )


def joints_of_some(known, element, count):
    """Joints of some elements of chains whose joints are known.

    Parameters
    ----------
    known : tuple
        As `joints_of` gives it, or None, which stays None.
    element : ndarray of int
        Numbers of the elements of whole chains, rising.
    count : int
        Number of all elements.

    Returns
    -------
    tuple
        As `joints_of` gives it, with elements numbered anew.
    """
    if known is None:
        return None
    first, second, joints = known
    place = np.full(count, -1)
    place[element] = np.arange(len(element))
    inside = np.flatnonzero(place[first] >= 0)
    return place[first[inside]], place[second[inside]], joints.take(inside)


def reassign(candidate, x, y, known=None):
    """Assign positions next to joints to the element on whose side of the joint they lie.

    Parameters
    ----------
    candidate : CandidateChains
    x, y : ndarray of float, shape (m,)
        Positions, metres.
    known : tuple, optional
        Its joints as `joints_of` gives them, if they are known.

    Returns
    -------
    ndarray of int, shape (elements + 1,)
        New bounds, with the fewest positions on the wrong side.
    """
    reach = CHAIN.reach
    first, second, joints = joints_of(candidate, x, y) if known is None else known
    inside = (second == first + 1) & joints.met  # the seam of a ring stays
    first, second = first[inside], second[inside]
    jx, jy, ux, uy = (column[inside] for column in (joints.x, joints.y, joints.ux, joints.uy))
    if not first.size:
        return candidate.bounds
    b = candidate.bounds[second]
    number = np.diff(candidate.bounds)
    low = -np.minimum((number[first] - 1) // 2, reach)
    high = np.minimum((number[second] - 1) // 2, reach)
    places = np.arange(-reach, reach)
    index = np.clip(b[:, None] + places, 0, len(x) - 1)
    ahead = (x[index] - jx[:, None]) * ux[:, None] + (y[index] - jy[:, None]) * uy[:, None] > 0
    usable = (places >= low[:, None]) & (places < high[:, None])
    # number of positions on the wrong side for each shift of the bound, -reach to reach
    none = np.zeros((len(b), 1))
    wrong_if_before = np.concatenate([none, np.cumsum(ahead & usable, axis=1)], axis=1)
    wrong_if_after = np.concatenate(
        [np.cumsum((~ahead & usable)[:, ::-1], axis=1)[:, ::-1], none], axis=1
    )
    moves = np.arange(-reach, reach + 1)
    wrong = wrong_if_before + wrong_if_after + CHAIN.keep_bound * np.abs(moves)
    wrong[(moves < low[:, None]) | (moves > high[:, None])] = np.inf
    bounds = candidate.bounds.copy()
    bounds[second] = b + moves[np.argmin(wrong, axis=1)]
    return bounds


def joint_penalties(candidate, x, y, shallow_penalty=None, known=None):
    """Penalty of the joint after each element.

    Parameters
    ----------
    candidate : CandidateChains
    x, y : ndarray of float, shape (m,)
        Positions, metres.
    shallow_penalty : float, optional
        Penalty of a shallow corner; by default that of `tuning.CHAIN`.
    known : tuple, optional
        Its joints as `joints_of` gives them, if they are known.

    Returns
    -------
    ndarray of float, shape (elements,)
        Squared sigmas; negative for a tangential joint, which takes one free parameter away.
    """
    shallow_penalty = CHAIN.shallow_penalty if shallow_penalty is None else shallow_penalty
    first, second, joints = joints_of(candidate, x, y) if known is None else known
    smooth = candidate.smooth[first]
    at_arc = candidate.arc[first] | candidate.arc[second]
    shallow = ~smooth & joints.met & (np.abs(joints.angle) < CHAIN.shallow_angle) & ~at_arc
    penalty = np.zeros(len(candidate))
    penalty[first] = (
        -CHAIN.parameter_penalty * smooth
        + shallow_penalty * shallow
        + CHAIN.unmet_penalty * ~joints.met
        + CHAIN.sharp_penalty * (~smooth & at_arc)
    )
    return penalty


def element_penalties(arc):
    """Penalty of the free parameters of elements: two of a tangent, three of an arc.

    Parameters
    ----------
    arc : ndarray of bool

    Returns
    -------
    ndarray of float, shape as `arc`
        Squared sigmas.
    """
    return CHAIN.parameter_penalty * (2 + arc)


def total_cost(candidate, x, y, known=None):
    """Cost of each chain, which the local search minimises.

    Parameters
    ----------
    candidate : CandidateChains
    x, y : ndarray of float, shape (m,)
        Positions, metres.
    known : tuple, optional
        Its joints as `joints_of` gives them, if they are known.

    Returns
    -------
    ndarray of float, shape (runs,)
        Sum of squared distances and penalties, squared sigmas; infinite if an element explains no
        position, since nothing would then hold it in place.
    """
    joints = joint_penalties(candidate, x, y, known=known)
    own = candidate.chi + element_penalties(candidate.arc) + joints
    return group_sum(np.where(np.diff(candidate.bounds) < 1, np.inf, own), candidate.offsets)


def reassign_and_adjust(candidate, x, y, weight, times=2, warm=False):
    """Adjust, reassign positions to elements, adjust again.

    Parameters
    ----------
    candidate : CandidateChains
    x, y, weight : ndarray of float, shape (m,)
        Positions, metres, and one over their variances.
    times : int
        Number of adjustments; positions are reassigned between them.
    warm : bool
        The chains are already adjusted, so that few steps suffice.

    Returns
    -------
    CandidateChains
    """
    for turn in range(times):
        rounds = ADJUSTMENT.warm_rounds if warm or turn else ADJUSTMENT.cold_rounds
        candidate = adjusted(candidate, x, y, weight, rounds)
        if turn < times - 1:
            candidate = reassigned(candidate, x, y)
    return candidate


def adjusted(candidate, x, y, weight, rounds):
    """The chains after at most so many steps of an adjustment in each stage.

    Parameters
    ----------
    candidate : CandidateChains
    x, y, weight : ndarray of float, shape (m,)
        Positions, metres, and one over their variances.
    rounds : tuple of int
        As `adjustment.adjust` takes them.

    Returns
    -------
    CandidateChains
    """
    candidate = candidate.with_moments(x, y, weight)
    result = adjust(
        candidate.moments,
        candidate.primitives,
        candidate.smooth,
        candidate.offsets,
        candidate.closed,
        candidate.curvatures,
        rounds,
    )
    return replace(candidate, primitives=result.primitives, chi=result.chi)


def reassigned(candidate, x, y, known=None):
    """The chains with positions next to joints reassigned (`reassign`), not yet adjusted.

    Parameters
    ----------
    candidate : CandidateChains
        With moments.
    x, y, known
        As in `reassign`.

    Returns
    -------
    CandidateChains
    """
    return _rebound(candidate, reassign(candidate, x, y, known), x, y)


def _rebound(candidate, bounds, x, y):
    """Candidate chains with other bounds; only the moments that change are computed again."""
    moved = bounds != candidate.bounds
    which = np.flatnonzero(moved[1:] | moved[:-1])
    moments = Moments.of_some(x, y, candidate.weight, bounds, which)
    return replace(candidate, bounds=bounds, moments=candidate.moments.put(which, moments))


def adjust_changed(candidate, x, y, weight, changed):
    """Adjust the elements whose weights have changed, and those that tangential joints link to
    them.

    Parameters
    ----------
    candidate : CandidateChains
        Adjusted before.
    x, y, weight : ndarray of float, shape (m,)
    changed : ndarray of bool, shape (elements,)
        Elements with a position whose weight has changed.

    Returns
    -------
    CandidateChains
    """
    size = np.diff(candidate.offsets)
    ring = (candidate.closed & (size > 1))[group_index(candidate.offsets)]
    ends = ~candidate.smooth & ~ring
    ends[candidate.offsets[1:][size > 0] - 1] = True
    group = np.cumsum(ends) - ends
    which = np.flatnonzero(np.bincount(group, changed)[group] > 0)
    if not which.size:
        return candidate
    number = np.diff(candidate.bounds)[which]
    place = ranges(candidate.bounds[which], number)
    moments = Moments.of(x[place], y[place], weight[place], offsets_of(number))
    first = np.flatnonzero(np.diff(group[which], prepend=-1))
    adjusted = adjust(
        moments,
        candidate.primitives.take(which),
        candidate.smooth[which],
        np.append(first, len(which)),
        ring[which][first],
        candidate.curvatures,
        ADJUSTMENT.warm_rounds,
    )
    chi = candidate.chi.copy()
    chi[which] = adjusted.chi
    return replace(
        candidate, primitives=candidate.primitives.put(which, adjusted.primitives), chi=chi
    )


def without(candidate, empty):
    """Remove some elements at the ends of runs.

    Parameters
    ----------
    candidate : CandidateChains
    empty : ndarray of bool, shape (elements,)
        Elements to be removed.

    Returns
    -------
    CandidateChains
        Their positions go to the neighbours.
    """
    if not empty.any():
        return candidate
    run = group_index(candidate.offsets)
    first = candidate.offsets[:-1]
    keep = ~empty
    start = candidate.bounds[:-1].copy()
    begin = first[empty[first]]
    start[begin + 1] = start[begin]
    smooth = candidate.smooth.copy()
    last = candidate.offsets[1:] - 1
    smooth[last[empty[last]] - 1] = False
    return CandidateChains(
        bounds=np.append(start[keep], candidate.bounds[-1]),
        offsets=offsets_of(np.bincount(run[keep], minlength=len(first))),
        arc=candidate.arc[keep],
        smooth=smooth[keep],
        primitives=candidate.primitives.take(keep),
        closed=candidate.closed,
        chi=candidate.chi[keep],
        radii=candidate.radii,
    )


def positions_of(candidate, low, high):
    """Positions of stretches of elements.

    Parameters
    ----------
    candidate : CandidateChains
    low, high : ndarray of int, shape (q,)
        First element of each stretch and the one after its last.

    Returns
    -------
    places : ndarray of int
        One stretch after the other.
    shift : ndarray of int, shape (q,)
        What to add to a position of the chains to get its index in `places`.
    """
    first = candidate.bounds[low]
    number = candidate.bounds[high] - first
    return ranges(first, number), np.cumsum(number) - number - first


def stretches(candidate, low, high, closed):
    """Stretches of elements as candidate chains of their own, one per stretch.

    Parameters
    ----------
    candidate : CandidateChains
    low, high : ndarray of int, shape (q,)
        First element of each stretch and the one after its last.
    closed : ndarray of bool, shape (q,)

    Returns
    -------
    part : CandidateChains
    places, element : ndarray of int
        The numbers of its positions and elements in `candidate`.
    """
    size = high - low
    element = ranges(low, size)
    places, shift = positions_of(candidate, low, high)
    part = CandidateChains(
        bounds=np.append(candidate.bounds[element] + np.repeat(shift, size), len(places)),
        offsets=offsets_of(size),
        arc=candidate.arc[element],
        smooth=candidate.smooth[element],
        primitives=candidate.primitives.take(element),
        closed=closed,
        chi=candidate.chi[element],
        radii=candidate.radii,
    )
    return part, places, element


def of_runs(candidate, runs):
    """The candidate chains of some runs.

    Parameters
    ----------
    candidate : CandidateChains
    runs : ndarray of int, shape (q,)

    Returns
    -------
    part : CandidateChains
    places, element : ndarray of int
        The numbers of its positions and elements in `candidate`.
    """
    low, high = candidate.offsets[:-1][runs], candidate.offsets[1:][runs]
    return stretches(candidate, low, high, candidate.closed[runs])


def put_runs(candidate, part, runs):
    """Replace the chains of some runs.

    Parameters
    ----------
    candidate : CandidateChains
    part : CandidateChains
        New chains of these runs.
    runs : ndarray of int, shape (q,)

    Returns
    -------
    CandidateChains
    """
    size = np.diff(candidate.offsets)
    first = candidate.offsets[:-1].copy()
    low = candidate.bounds[candidate.offsets[:-1]]
    shift = np.zeros(len(size), np.int64)
    shift[runs] = low[runs] - part.bounds[part.offsets[:-1]]
    first[runs], size[runs] = len(candidate) + part.offsets[:-1], np.diff(part.offsets)
    index = ranges(first, size)

    def merged(a, b):
        return np.concatenate([a, b])[index]

    start = merged(candidate.bounds[:-1], part.bounds[:-1]) + np.repeat(shift, size)
    return CandidateChains(
        bounds=np.append(start, candidate.bounds[-1]),
        offsets=offsets_of(size),
        arc=merged(candidate.arc, part.arc),
        smooth=merged(candidate.smooth, part.smooth),
        primitives=Primitives.concatenate([candidate.primitives, part.primitives]).take(index),
        closed=candidate.closed,
        chi=merged(candidate.chi, part.chi),
        radii=candidate.radii,
    )
