"""Chains of tangents and arcs while they are sought: elements, the joints between them, what they
cost."""

from dataclasses import dataclass, replace

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import group_index, group_sum, ranges
from .adjustment import ROUNDS, Curve, adjust
from .moments import Moments

PARAMETER = 6.0  # price of one free parameter, in squared sigmas
SLACK = 0.10  # m by which positions may lie beyond a corner
STEEPEST = np.radians(165.0)  # a corner that closes on itself would be anywhere
# what a corner that hardly turns must explain besides
SHALLOW_ANGLE, SHALLOW = np.radians(8.0), 10.0
UNMET = 16.0  # and elements that do not meet
SHARP = 5.0  # an arc goes over smoothly as a rule
# of two elements fitted alone; less is taken for a smooth joint at first
SHARPEST = np.radians(30.0)
WARM = (0, 1, 1)  # steps at most, at each stiffness of the joints, where little has changed


@dataclass(frozen=True)
class Course:
    """Elements of all runs while they are sought; arrays of shape (elements,) but for `bounds`,
    `offsets`, `closed`, `weight`.

    `chi` is the sum of squared distances of each element in units of variance; `moments` those of
    its positions by the weights `weight`, (m,), None where they are not known. Weights are told by
    the array that holds them, which is never changed.
    """

    bounds: np.ndarray
    offsets: np.ndarray
    arc: np.ndarray
    smooth: np.ndarray
    curve: Curve
    closed: np.ndarray
    chi: np.ndarray
    radii: tuple  # of float: least and greatest radius
    moments: Moments = None
    weight: np.ndarray = None

    def __len__(self):
        return len(self.arc)

    def with_moments(self, x, y, weight):
        """The same course with its moments by these weights; they are worked out where they are not
        known."""
        known = self.moments is not None and self.weight is weight
        return (
            self
            if known
            else replace(self, moments=Moments.of(x, y, weight, self.bounds), weight=weight)
        )


def first_course(elements, x, y, offsets, closed, radii):
    """Tangents and arcs of the search, every joint of an arc smooth."""
    bounds = elements.offsets
    number = np.diff(bounds)
    arc = elements.is_arc
    owner = group_index(bounds)
    first, last = bounds[:-1], bounds[1:] - 1
    # the side to which an arc bends: the way the positions go round its centre
    dx, dy = x - elements.x[owner], y - elements.y[owner]
    area = np.append(dx[:-1] * dy[1:] - dy[:-1] * dx[1:], 0.0)
    area[last] = 0.0
    turn = np.where(group_sum(area, bounds) < 0, -1.0, 1.0)
    bend = np.where(arc, turn / np.where(arc, elements.radius, 1.0), 0.0)
    # a point in the middle of the arc and the direction there
    middle = first + number // 2
    ax, ay, vx, vy = _on_arc(
        elements.x, elements.y, np.where(arc, elements.radius, 0.0), turn, x[middle], y[middle]
    )
    px, py = np.where(arc, ax, elements.x), np.where(arc, ay, elements.y)
    ux, uy = np.where(arc, vx, elements.ux), np.where(arc, vy, elements.uy)
    # one position alone: the direction of its neighbours
    lone = np.flatnonzero(number == 1)
    run = group_index(offsets)
    a, b = (
        np.maximum(first[lone] - 1, offsets[:-1][run[first[lone]]]),
        np.minimum(last[lone] + 1, offsets[1:][run[first[lone]]] - 1),
    )
    length = np.maximum(distance(x[b] - x[a], y[b] - y[a]), 1e-9)
    ux[lone], uy[lone] = (x[b] - x[a]) / length, (y[b] - y[a]) / length
    of_run = np.searchsorted(bounds[:-1], offsets)
    curve = Curve(px, py, ux, uy, bend)
    smooth = (arc | np.append(arc[1:], False)) & ~_sharp(curve, x, y, bounds, of_run, closed)
    return Course(bounds, of_run, arc, smooth, curve, closed, elements.chi, radii)


def _on_arc(cx, cy, radius, turn, x, y):
    """Feet of places on arcs, and the unit directions of travel there; `turn` + 1 to the left, -1
    to the right."""
    rx, ry = x - cx, y - cy
    away = np.maximum(distance(rx, ry), 1e-9)
    rx, ry = rx / away, ry / away
    return cx + radius * rx, cy + radius * ry, -turn * ry, turn * rx


def _sharp(curve, x, y, bounds, offsets, closed):
    """Whether the elements before and after each joint head elsewhere where they are nearest to
    each other."""
    e = np.arange(len(curve))
    following = e + 1
    last = offsets[1:] - 1
    following[last] = np.where(closed, offsets[:-1], last)
    a, b = bounds[1:] - 1, bounds[following]
    px, py = (x[a] + x[b]) / 2, (y[a] + y[b]) / 2
    _, ux, uy = curve.aside(px, py, e)
    _, vx, vy = curve.aside(px, py, following)
    return np.abs(np.arctan2(ux * vy - uy * vx, ux * vx + uy * vy)) > SHARPEST


def independent(moments, arc, x, y, first, last, radii):
    """Each element fitted alone: a line through its positions, or Kasa's circle.

    `first`, `last` are the first position of each element and the one after its last. Where there
    is no circle, or where there are no positions, the element is a tangent along the way from its
    first to its last position.
    """
    ux, uy = moments.line_direction()
    some = last > first
    a, b = np.minimum(first, len(x) - 1), np.maximum(last - 1, 0)
    back = ux * (x[b] - x[a]) + uy * (y[b] - y[a]) < 0
    ux, uy = np.where(back, -ux, ux), np.where(back, -uy, uy)
    px, py, bend = moments.x.copy(), moments.y.copy(), np.zeros(len(moments))
    cx, cy, radius, _ = moments.circle()
    round_ = np.flatnonzero(
        arc & some & (last - first > 2) & (radius >= radii[0]) & (radius <= radii[1])
    )
    if round_.size:
        middle = (first + last - 1)[round_] // 2
        cx, cy, radius = cx[round_], cy[round_], radius[round_]
        chord_x, chord_y = x[b[round_]] - x[a[round_]], y[b[round_]] - y[a[round_]]
        turn = np.where(
            chord_x * (y[middle] - y[a[round_]]) - chord_y * (x[middle] - x[a[round_]]) < 0,
            1.0,
            -1.0,
        )
        px[round_], py[round_], ux[round_], uy[round_] = _on_arc(
            cx, cy, radius, turn, x[middle], y[middle]
        )
        bend[round_] = turn / radius
    return Curve(px, py, ux, uy, bend)


@dataclass(frozen=True)
class Joints:
    """Where elements meet; arrays of shape (joints,). `x`, `y` the place, `ux`, `uy` the direction
    there, between both at a corner, `angle` the deflection, rad, + to the left; `met` False where
    two elements do not meet near their positions."""

    x: np.ndarray
    y: np.ndarray
    ux: np.ndarray
    uy: np.ndarray
    angle: np.ndarray
    met: np.ndarray


def find_joints(curve, first, second, smooth, ax, ay, bx, by):
    """Places where elements `first` go over into elements `second`.

    `ax`, `ay` and `bx`, `by` are the last position of the one and the first position of the other.
    """
    x, y, hit = (ax + bx) / 2, (ay + by) / 2, smooth.copy()
    # smooth: the foot, on the other one, of the centre of the one that bends more
    some = np.flatnonzero(smooth)
    one, other = first[some], second[some]
    swap = np.abs(curve.bend[one]) > np.abs(curve.bend[other])
    one, other = np.where(swap, one, other), np.where(swap, other, one)
    k = curve.bend[one]
    radius = 1 / np.where(k == 0, 1.0, k)
    cx, cy = curve.x[one] - curve.uy[one] * radius, curve.y[one] + curve.ux[one] * radius
    _, vx, vy = curve.aside(cx, cy, other)
    x[some], y[some] = cx + vy * radius, cy - vx * radius
    # corners: Newton's steps from between the two positions
    some = np.flatnonzero(~smooth)
    one, other = first[some], second[some]
    px, py = x[some], y[some]
    for _ in range(6):
        (f, fx, fy), (g, gx, gy) = curve.aside(px, py, one), curve.aside(px, py, other)
        sine = fx * gy - fy * gx
        safe = np.where(np.abs(sine) < 1e-4, 1e-4, sine)
        # normals (-uy, ux): solve n1.d = -f, n2.d = -g
        dx, dy = (fx * g - gx * f) / safe, (fy * g - gy * f) / safe
        limit = np.minimum(1.0, 5.0 / np.maximum(distance(dx, dy), 1e-9))
        px, py = px + dx * limit, py + dy * limit
    hit[some] = (
        (np.abs(curve.off(px, py, one)) < 1e-6)
        & (np.abs(curve.off(px, py, other)) < 1e-6)
        & (np.abs(sine) > 0.01)
    )
    x[some], y[some] = px, py
    _, fx, fy = curve.aside(x, y, first)
    _, gx, gy = curve.aside(x, y, second)
    angle = np.where(smooth, 0.0, np.arctan2(fx * gy - fy * gx, fx * gx + fy * gy))
    # from the last position to the joint, and on to the next one
    before = (x - ax) * fx + (y - ay) * fy
    after = (bx - x) * gx + (by - y) * gy
    step = distance(bx - ax, by - ay)
    slack = SLACK + 0.25 * step
    met = smooth | (
        hit
        & (before > -slack)
        & (after > -slack)
        & (before + after < 1.8 * step + 0.3)
        & (np.abs(angle) < STEEPEST)
    )
    ux, uy = fx + gx, fy + gy
    length = np.maximum(distance(ux, uy), 1e-9)
    return Joints(x, y, ux / length, uy / length, angle, met)


def inner_joints(course):
    """Elements before the joints inside chains, and elements after them (rings included)."""
    size = np.diff(course.offsets)
    last = np.zeros(len(course), bool)
    last[course.offsets[1:][size > 0] - 1] = True
    following = np.arange(1, len(course) + 1)
    ring = np.flatnonzero(course.closed & (size > 1))
    following[course.offsets[1:][ring] - 1] = course.offsets[:-1][ring]
    last[course.offsets[1:][ring] - 1] = False
    first = np.flatnonzero(~last)
    return first, following[first]


def joints_of(course, x, y):
    first, second = inner_joints(course)
    a, b = course.bounds[first + 1] - 1, course.bounds[second]
    return (
        first,
        second,
        find_joints(course.curve, first, second, course.smooth[first], x[a], y[a], x[b], y[b]),
    )


def reassign(course, x, y, reach=3):
    """Give positions beside joints to the element on whose side of the joint they lie; bounds
    anew."""
    first, second, joints = joints_of(course, x, y)
    inside = (second == first + 1) & joints.met  # the seam of a ring stays
    first, second = first[inside], second[inside]
    jx, jy, ux, uy = (column[inside] for column in (joints.x, joints.y, joints.ux, joints.uy))
    if not first.size:
        return course.bounds
    b = course.bounds[second]
    number = np.diff(course.bounds)
    low, high = (
        -np.minimum((number[first] - 1) // 2, reach),
        np.minimum((number[second] - 1) // 2, reach),
    )
    places = np.arange(-reach, reach)
    index = np.clip(b[:, None] + places, 0, len(x) - 1)
    ahead = (x[index] - jx[:, None]) * ux[:, None] + (y[index] - jy[:, None]) * uy[:, None] > 0
    usable = (places >= low[:, None]) & (places < high[:, None])
    # positions wrongly placed for each bound from -reach to reach
    wrong_if_before = np.concatenate(
        [np.zeros((len(b), 1)), np.cumsum(ahead & usable, axis=1)], axis=1
    )
    wrong_if_after = np.concatenate(
        [np.cumsum((~ahead & usable)[:, ::-1], axis=1)[:, ::-1], np.zeros((len(b), 1))], axis=1
    )
    wrong = wrong_if_before + wrong_if_after + 0.01 * np.abs(np.arange(-reach, reach + 1))
    moves = np.arange(-reach, reach + 1)
    wrong[(moves < low[:, None]) | (moves > high[:, None])] = np.inf
    bounds = course.bounds.copy()
    bounds[second] = b + moves[np.argmin(wrong, axis=1)]
    return bounds


def joint_prices(course, x, y, shallow_price=SHALLOW):
    """Price of the joint that follows each element, (elements,)."""
    first, second, joints = joints_of(course, x, y)
    smooth = course.smooth[first]
    shallow = (
        ~smooth
        & joints.met
        & (np.abs(joints.angle) < SHALLOW_ANGLE)
        & ~course.arc[first]
        & ~course.arc[second]
    )
    price = np.zeros(len(course))
    sharp = ~smooth & (course.arc[first] | course.arc[second])
    price[first] = (
        -PARAMETER * smooth + shallow_price * shallow + UNMET * ~joints.met + SHARP * sharp
    )
    return price


def price(course, x, y):
    """Sum of squared distances and price of each chain, (chains,)."""
    own = course.chi + PARAMETER * (2 + course.arc) + joint_prices(course, x, y)
    # what no position holds in place is no explanation
    return group_sum(np.where(np.diff(course.bounds) < 1, np.inf, own), course.offsets)


def settle(course, x, y, weight, times=2, warm=False):
    """Adjust, give positions to their elements, adjust again; as many times. `warm`: the course has
    been adjusted before."""
    for turn in range(times):
        course = course.with_moments(x, y, weight)
        adjusted = adjust(
            course.moments,
            course.curve,
            course.smooth,
            course.offsets,
            course.closed,
            1 / course.radii[1],
            1 / course.radii[0],
            WARM if warm or turn else ROUNDS,
        )
        course = replace(course, curve=adjusted.curve, chi=adjusted.chi)
        if turn < times - 1:
            course = replace(course, bounds=reassign(course, x, y), moments=None)
    return course


def settle_some(course, x, y, weight, changed):
    """Adjust a settled course once more where the weights of elements have changed (mask), and what
    smooth joints link to these."""
    size = np.diff(course.offsets)
    ring = (course.closed & (size > 1))[group_index(course.offsets)]
    ends = ~course.smooth & ~ring
    ends[course.offsets[1:][size > 0] - 1] = True
    group = np.cumsum(ends) - ends
    which = np.flatnonzero(np.bincount(group, changed)[group] > 0)
    if not which.size:
        return course
    number = np.diff(course.bounds)[which]
    place = ranges(course.bounds[which], number)
    moments = Moments.of(
        x[place], y[place], weight[place], np.concatenate([[0], np.cumsum(number)])
    )
    first = np.flatnonzero(np.diff(group[which], prepend=-1))
    adjusted = adjust(
        moments,
        course.curve.take(which),
        course.smooth[which],
        np.append(first, len(which)),
        ring[which][first],
        1 / course.radii[1],
        1 / course.radii[0],
        WARM,
    )
    chi = course.chi.copy()
    chi[which] = adjusted.chi
    return replace(course, curve=course.curve.put(which, adjusted.curve), chi=chi)


def without(course, empty):
    """The course without some elements at the ends of runs; their positions go to the
    neighbours."""
    if not empty.any():
        return course
    run = group_index(course.offsets)
    first = course.offsets[:-1]
    keep = ~empty
    start = course.bounds[:-1].copy()
    begin = first[empty[first]]
    start[begin + 1] = start[begin]
    offsets = np.concatenate([[0], np.cumsum(np.bincount(run[keep], minlength=len(first)))])
    smooth = course.smooth.copy()
    last = course.offsets[1:] - 1
    smooth[last[empty[last]] - 1] = False
    return Course(
        np.append(start[keep], course.bounds[-1]),
        offsets,
        course.arc[keep],
        smooth[keep],
        course.curve.take(keep),
        course.closed,
        course.chi[keep],
        course.radii,
    )


def positions_of(course, low, high):
    """Positions of elements `low` to before `high`, shape (q,) each, one stretch after the other,
    and the shift of each from their places in the course."""
    first = course.bounds[low]
    number = course.bounds[high] - first
    return ranges(first, number), np.cumsum(number) - number - first


def stretches(course, low, high, closed):
    """Elements `low` to before `high` as a course of their own, one chain each, `closed` or not,
    and the places of its positions and of its elements.

    `low`, `high`, `closed` have shape (q,).
    """
    size = high - low
    element = ranges(low, size)
    places, shift = positions_of(course, low, high)
    bounds = np.append(course.bounds[element] + np.repeat(shift, size), len(places))
    part = Course(
        bounds,
        np.concatenate([[0], np.cumsum(size)]),
        course.arc[element],
        course.smooth[element],
        course.curve.take(element),
        closed,
        course.chi[element],
        course.radii,
    )
    return part, places, element


def of_runs(course, runs):
    """The course of some runs alone, and the places of its positions and of its elements."""
    return stretches(
        course, course.offsets[:-1][runs], course.offsets[1:][runs], course.closed[runs]
    )


def put_runs(course, part, runs):
    """The course with some runs as in `part`, which has only these."""
    size = np.diff(course.offsets)
    first = course.offsets[:-1].copy()
    low = course.bounds[course.offsets[:-1]]
    shift = np.zeros(len(size), np.int64)
    shift[runs] = low[runs] - part.bounds[part.offsets[:-1]]
    first[runs], size[runs] = len(course) + part.offsets[:-1], np.diff(part.offsets)
    index = ranges(first, size)
    both = lambda a, b: np.concatenate([a, b])[index]  # noqa: E731
    curve = Curve.concatenate([course.curve, part.curve]).take(index)
    bounds = np.append(
        both(course.bounds[:-1], part.bounds[:-1]) + np.repeat(shift, size), course.bounds[-1]
    )
    return Course(
        bounds,
        np.concatenate([[0], np.cumsum(size)]),
        both(course.arc, part.arc),
        both(course.smooth, part.smooth),
        curve,
        course.closed,
        both(course.chi, part.chi),
        course.radii,
    )
