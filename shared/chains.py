"""Runs as chains of tangents and arcs joined to each other: which elements there are, how they are joined, their joint fit."""

from dataclasses import dataclass, replace

import numpy as np

from .adjustment import ROUNDS, Curve, adjust, covariances
from .alignment import ELEMENT_NOISE, GREATEST_RADIUS, LEAST_RADIUS, fit_elements, project
from .moments import Moments
from .ragged import cumulative, group_index, group_min, group_sum, ranges, running_max

PARAMETER = 6.0  # price of one free parameter, in squared sigmas
SLACK = 0.10  # m by which positions may lie beyond a corner
STEEPEST = np.radians(165.0)  # a corner that closes on itself would be anywhere
SHALLOW_ANGLE, SHALLOW = np.radians(8.0), 10.0  # what a corner that hardly turns must explain besides
UNMET = 16.0
SHARPEST = np.radians(30.0)  # of two elements fitted alone; less is taken for a smooth joint at first
SHARP = 5.0  # an arc goes over smoothly as a rule
UNLIKE = 40.0  # squared sigmas; rather too much than too little
MOST_SHARED = 8  # positions of an element that may go to its neighbours
LEAST_SAVING = 0.01
FREER = 4.0  # squared sigmas by which elements that need not meet must explain a stretch better, before it is left to a spline
LEAST_ANCHOR = 10  # positions of a tangent that is one, whatever lies beside it
LEAST_FREE = 6  # positions of a free-form stretch
ROBUST_ROUNDS = 2
WARM = (0, 1, 4)  # steps at most, at each stiffness of the joints, where little has changed
DROP = 10.0  # squared sigmas: what a position must cost before it is left out as a slip
OFF_SIGMAS, LEAST_OFF = 6.0, 0.08  # m
LEAST_CONFIRMED = 8  # positions of a run that tell what its ends ought to be
EXPLAINED = 3.0  # sigmas RMS; where the others of an element lie farther off, it is the element that is wrong
HUBER = 2.5  # sigmas beyond which a position loses weight (Huber 1964)


@dataclass(frozen=True)
class Course:
    """Elements of all runs while they are sought; arrays of shape (elements,) but for `bounds`, `offsets`, `closed`.

    `chi` is the sum of squared distances of each element in units of variance.
    """

    bounds: np.ndarray
    offsets: np.ndarray
    arc: np.ndarray
    smooth: np.ndarray
    curve: Curve
    closed: np.ndarray
    chi: np.ndarray
    radii: tuple  # of float: least and greatest radius

    def __len__(self):
        return len(self.arc)


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
    rx, ry = x[middle] - elements.x, y[middle] - elements.y
    distance = np.maximum(np.hypot(rx, ry), 1e-9)
    rx, ry = rx / distance, ry / distance
    radius = np.where(arc, elements.radius, 0.0)
    px, py = np.where(arc, elements.x + radius * rx, elements.x), np.where(arc, elements.y + radius * ry, elements.y)
    ux, uy = np.where(arc, -turn * ry, elements.ux), np.where(arc, turn * rx, elements.uy)
    # one position alone: the direction of its neighbours
    lone = np.flatnonzero(number == 1)
    run = group_index(offsets)
    a, b = np.maximum(first[lone] - 1, offsets[:-1][run[first[lone]]]), np.minimum(last[lone] + 1, offsets[1:][run[first[lone]]] - 1)
    length = np.maximum(np.hypot(x[b] - x[a], y[b] - y[a]), 1e-9)
    ux[lone], uy[lone] = (x[b] - x[a]) / length, (y[b] - y[a]) / length
    of_run = np.searchsorted(bounds[:-1], offsets)
    curve = Curve(px, py, ux, uy, bend)
    smooth = (arc | np.append(arc[1:], False)) & ~_sharp(curve, x, y, bounds, of_run, closed)
    return Course(bounds, of_run, arc, smooth, curve, closed, elements.chi, radii)


def _sharp(curve, x, y, bounds, offsets, closed):
    """Whether the elements before and after each joint head elsewhere where they are nearest to each other."""
    e = np.arange(len(curve))
    following = e + 1
    last = offsets[1:] - 1
    following[last] = np.where(closed, offsets[:-1], last)
    a, b = bounds[1:] - 1, bounds[following]
    px, py = (x[a] + x[b]) / 2, (y[a] + y[b]) / 2
    _, _, ux, uy = curve.at(curve.along(px, py, e), e)
    _, _, vx, vy = curve.at(curve.along(px, py, following), following)
    return np.abs(np.arctan2(ux * vy - uy * vx, ux * vx + uy * vy)) > SHARPEST


def independent(moments, arc, x, y, first, last, radii):
    """Each element fitted alone: a line through its positions, or Kasa's circle.

    `first`, `last` are the first position of each element and the one after its last. Where there is no circle, or
    where there are no positions, the element is a tangent along the way from its first to its last position.
    """
    m = moments
    angle = 0.5 * np.arctan2(2 * m.xy, m.xx - m.yy)
    ux, uy = np.cos(angle), np.sin(angle)
    some = last > first
    a, b = np.minimum(first, len(x) - 1), np.maximum(last - 1, 0)
    back = ux * (x[b] - x[a]) + uy * (y[b] - y[a]) < 0
    ux, uy = np.where(back, -ux, ux), np.where(back, -uy, uy)
    px, py, bend = m.x.copy(), m.y.copy(), np.zeros(len(m))
    det = m.xx * m.yy - m.xy**2
    with np.errstate(divide="ignore", invalid="ignore"):
        cx, cy = (m.xz * m.yy - m.yz * m.xy) / det / 2, (m.yz * m.xx - m.xz * m.xy) / det / 2
        radius = np.sqrt(cx * cx + cy * cy + (m.xx + m.yy) / m.w)
    round_ = np.flatnonzero(arc & some & (last - first > 2) & (radius >= radii[0]) & (radius <= radii[1]))
    if round_.size:
        middle = (first + last - 1)[round_] // 2
        cx, cy, radius = cx[round_] + m.x[round_], cy[round_] + m.y[round_], radius[round_]
        chord_x, chord_y = x[b[round_]] - x[a[round_]], y[b[round_]] - y[a[round_]]
        turn = np.where(chord_x * (y[middle] - y[a[round_]]) - chord_y * (x[middle] - x[a[round_]]) < 0, 1.0, -1.0)
        rx, ry = x[middle] - cx, y[middle] - cy
        distance = np.maximum(np.hypot(rx, ry), 1e-9)
        rx, ry = rx / distance, ry / distance
        px[round_], py[round_] = cx + radius * rx, cy + radius * ry
        ux[round_], uy[round_] = -turn * ry, turn * rx
        bend[round_] = turn / radius
    return Curve(px, py, ux, uy, bend)


@dataclass(frozen=True)
class Joints:
    """Where elements meet; arrays of shape (joints,). `x`, `y` the place, `ux`, `uy` the direction there, between both at
    a corner, `angle` the deflection, rad, + to the left; `met` False where two elements do not meet near their positions."""

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
    # smooth: the foot, on the other one, of the centre of the one that bends more
    swap = np.abs(curve.bend[first]) > np.abs(curve.bend[second])
    round_one, other = np.where(swap, first, second), np.where(swap, second, first)
    cx, cy = curve.centre
    k = np.where(smooth, curve.bend[round_one], 1.0)
    radius = 1 / np.where(k == 0, 1.0, k)
    cx, cy = cx[round_one], cy[round_one]
    _, _, vx, vy = curve.at(curve.along(cx, cy, other), other)
    sx, sy = cx + vy * radius, cy - vx * radius
    # corners: Newton's steps from between the two positions
    px, py = (ax + bx) / 2, (ay + by) / 2
    for _ in range(6):
        f, g = curve.off(px, py, first), curve.off(px, py, second)
        _, _, fx, fy = curve.at(curve.along(px, py, first), first)
        _, _, gx, gy = curve.at(curve.along(px, py, second), second)
        sine = fx * gy - fy * gx
        safe = np.where(np.abs(sine) < 1e-4, 1e-4, sine)
        # normals (-uy, ux): solve n1.d = -f, n2.d = -g
        dx, dy = (fx * g - gx * f) / safe, (fy * g - gy * f) / safe
        limit = np.minimum(1.0, 5.0 / np.maximum(np.hypot(dx, dy), 1e-9))
        px, py = px + dx * limit, py + dy * limit
    hit = (np.abs(curve.off(px, py, first)) < 1e-6) & (np.abs(curve.off(px, py, second)) < 1e-6) & (np.abs(sine) > 0.01)
    x, y = np.where(smooth, sx, px), np.where(smooth, sy, py)
    _, _, fx, fy = curve.at(curve.along(x, y, first), first)
    _, _, gx, gy = curve.at(curve.along(x, y, second), second)
    angle = np.where(smooth, 0.0, np.arctan2(fx * gy - fy * gx, fx * gx + fy * gy))
    before = (x - ax) * fx + (y - ay) * fy  # from the last position to the joint, and on to the next one
    after = (bx - x) * gx + (by - y) * gy
    step = np.hypot(bx - ax, by - ay)
    slack = SLACK + 0.25 * step
    met = smooth | (hit & (before > -slack) & (after > -slack) & (before + after < 1.8 * step + 0.3) & (np.abs(angle) < STEEPEST))
    ux, uy = fx + gx, fy + gy
    length = np.maximum(np.hypot(ux, uy), 1e-9)
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
    return first, second, find_joints(course.curve, first, second, course.smooth[first], x[a], y[a], x[b], y[b])


def reassign(course, x, y, reach=3):
    """Give positions beside joints to the element on whose side of the joint they lie; bounds anew."""
    first, second, joints = joints_of(course, x, y)
    inside = (second == first + 1) & joints.met  # the seam of a ring stays
    first, second = first[inside], second[inside]
    jx, jy, ux, uy = (column[inside] for column in (joints.x, joints.y, joints.ux, joints.uy))
    if not first.size:
        return course.bounds
    b = course.bounds[second]
    number = np.diff(course.bounds)
    low, high = -np.minimum((number[first] - 1) // 2, reach), np.minimum((number[second] - 1) // 2, reach)
    places = np.arange(-reach, reach)
    index = np.clip(b[:, None] + places, 0, len(x) - 1)
    ahead = (x[index] - jx[:, None]) * ux[:, None] + (y[index] - jy[:, None]) * uy[:, None] > 0
    usable = (places >= low[:, None]) & (places < high[:, None])
    # positions wrongly placed for each bound from -reach to reach
    wrong_if_before = np.concatenate([np.zeros((len(b), 1)), np.cumsum(ahead & usable, axis=1)], axis=1)
    wrong_if_after = np.concatenate([np.cumsum((~ahead & usable)[:, ::-1], axis=1)[:, ::-1], np.zeros((len(b), 1))], axis=1)
    wrong = wrong_if_before + wrong_if_after + 0.01 * np.abs(np.arange(-reach, reach + 1))
    moves = np.arange(-reach, reach + 1)
    wrong[(moves < low[:, None]) | (moves > high[:, None])] = np.inf
    bounds = course.bounds.copy()
    bounds[second] = b + moves[np.argmin(wrong, axis=1)]
    return bounds


def _joint_prices(course, x, y, shallow_price=SHALLOW):
    """Price of the joint that follows each element, (elements,)."""
    first, second, joints = joints_of(course, x, y)
    smooth = course.smooth[first]
    shallow = ~smooth & joints.met & (np.abs(joints.angle) < SHALLOW_ANGLE) & ~course.arc[first] & ~course.arc[second]
    price = np.zeros(len(course))
    sharp = ~smooth & (course.arc[first] | course.arc[second])
    price[first] = -PARAMETER * smooth + shallow_price * shallow + UNMET * ~joints.met + SHARP * sharp
    return price


def _price(course, x, y, shallow_price=SHALLOW):
    """Sum of squared distances and price of each chain, (chains,)."""
    own = course.chi + PARAMETER * (2 + course.arc) + _joint_prices(course, x, y, shallow_price)
    # what no position holds in place is no explanation
    return group_sum(np.where(np.diff(course.bounds) < 1, np.inf, own), course.offsets)


@dataclass(frozen=True)
class _Proposals:
    """Other elements for stretches of a course: elements `first` to `first + removed - 1` give way to `inserted` others.

    Flat arrays over the inserted elements: `start` first position of each, `arc`, `smooth` joint that follows;
    `joint_before` (proposals,): joint between the element before and the first new one.
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
        return cls(first, np.full(number, removed), np.full(number, inserted), start.ravel(), arc.ravel(), smooth.ravel(), joint_before)

    @classmethod
    def concatenate(cls, parts):
        return cls(*(np.concatenate([getattr(part, name) for part in parts]) for name in cls.__dataclass_fields__))


def _windows(course, x, y, weight, proposals, run, dropped=None):
    """Old and new elements of all proposals with one neighbour on either side, as two courses of their own, and their positions.

    `dropped` are pairs of proposal and position that have no weight in the new ones.
    """
    low = np.maximum(proposals.first - 1, course.offsets[:-1][run[proposals.first]])
    after = proposals.first + proposals.removed
    high = np.minimum(after + 1, course.offsets[1:][run[proposals.first]])
    count = len(proposals)
    positions_low, positions_high = course.bounds[low], course.bounds[high]
    length = positions_high - positions_low
    shift = np.concatenate([[0], np.cumsum(length)[:-1]]) - positions_low  # from the course's positions to the windows'
    index = ranges(positions_low, length)
    px, py, pw = x[index], y[index], weight[index]
    new_weight = pw
    if dropped is not None:
        new_weight = pw.copy()
        new_weight[dropped[1] + shift[dropped[0]]] = 0.0
    open_ = np.zeros(count, bool)

    old = ranges(low, high - low)
    owner = np.repeat(np.arange(count), high - low)
    old_course = Course(np.append(course.bounds[old] + shift[owner], len(index)), np.concatenate([[0], np.cumsum(high - low)]),
                        course.arc[old], course.smooth[old], course.curve.take(old), open_, course.chi[old], course.radii)

    before, behind = proposals.first - low, high - after
    size = before + proposals.inserted + behind
    offsets = np.concatenate([[0], np.cumsum(size)])
    total = int(offsets[-1])
    start, arc, smooth, source = np.zeros(total, np.int64), np.zeros(total, bool), np.zeros(total, bool), np.full(total, -1)
    fresh = ranges(offsets[:-1] + before, proposals.inserted)
    owner = np.repeat(np.arange(count), proposals.inserted)
    start[fresh], arc[fresh], smooth[fresh] = proposals.start + shift[owner], proposals.arc, proposals.smooth
    kept = np.setdiff1d(np.arange(total), fresh, assume_unique=True)
    source[kept] = np.concatenate([np.stack([low, after])[:, :, None]], axis=2).transpose(1, 0, 2).reshape(-1)[
        np.flatnonzero(np.stack([before, behind], axis=1).ravel() > 0)]
    owner = np.repeat(np.arange(count), size)[kept]
    start[kept], arc[kept], smooth[kept] = course.bounds[source[kept]] + shift[owner], course.arc[source[kept]], course.smooth[source[kept]]
    lead = np.flatnonzero(before > 0)
    smooth[offsets[:-1][lead] + before[lead] - 1] = proposals.joint_before[lead]
    bounds = np.append(start, len(index))
    moments = Moments.of(px, py, new_weight, bounds)
    curve = independent(moments, arc, px, py, bounds[:-1], bounds[1:], course.radii)
    put = lambda name: np.where(source >= 0, getattr(course.curve, name)[source], getattr(curve, name))  # noqa: E731
    curve = Curve(*(put(name) for name in ("x", "y", "ux", "uy", "bend")))
    arc = curve.is_arc
    nxt = np.append(arc[1:], False)
    smooth &= arc | nxt
    return old_course, Course(bounds, offsets, arc, smooth, curve, open_, np.zeros(total), course.radii), px, py, pw, new_weight, low, high, shift


def settle(course, x, y, weight, times=2, warm=False):
    """Adjust, give positions to their elements, adjust again; as many times. `warm`: the course has been adjusted before."""
    for turn in range(times):
        moments = Moments.of(x, y, weight, course.bounds)
        adjusted = adjust(moments, course.curve, course.smooth, course.offsets, course.closed, 1 / course.radii[1], 1 / course.radii[0],
                          WARM if warm or turn else ROUNDS)
        course = replace(course, curve=adjusted.curve, chi=adjusted.chi)
        if turn < times - 1:
            course = replace(course, bounds=reassign(course, x, y))
    return course


def lone_chi(moments, arc):
    """Least sum of squares of elements that need not fit any neighbour; for arcs that of Kasa's circle, divided by its gradient."""
    m = moments
    line = np.maximum((m.xx + m.yy) / 2 - np.hypot((m.xx - m.yy) / 2, m.xy), 0.0)
    det = m.xx * m.yy - m.xy**2
    with np.errstate(divide="ignore", invalid="ignore"):
        a, b = (m.xz * m.yy - m.yz * m.xy) / det / 2, (m.yz * m.xx - m.xz * m.xy) / det / 2
        square = a * a + b * b + (m.xx + m.yy) / m.w
        circle = (m.zz - (m.xx + m.yy) ** 2 / m.w - 2 * a * m.xz - 2 * b * m.yz) / (4 * square)
    return np.where(arc & np.isfinite(circle), np.clip(circle, 0.0, line), line)


def _may_bend(course, moments, element, has_before, has_after):
    """Whether a tangent may be an arc that goes over smoothly into the tangents beside it.

    An arc that takes up the deflections beside it has a sagitta of its length times a quarter of these; of a
    parabola of sagitta s, the standard deviation from its best line is ``s * sqrt(4 / 45)``.
    """
    ux, uy, arc = course.curve.ux, course.curve.uy, course.arc

    def deflection(a, b, there):
        return np.where(there, np.arctan2(ux[a] * uy[b] - uy[a] * ux[b], ux[a] * ux[b] + uy[a] * uy[b]), np.nan)

    e, count = element, len(course)
    before = deflection(np.maximum(e - 1, 0), e, has_before[e] & ~arc[np.maximum(e - 1, 0)])
    after = deflection(e, np.minimum(e + 1, count - 1), has_after[e] & ~arc[np.minimum(e + 1, count - 1)])
    w = moments.w[e]
    length2 = 12 * (moments.xx + moments.yy)[e] / w  # that of evenly spread positions
    bend, lean = np.nan_to_num((np.where(np.isnan(before), after, before) + np.where(np.isnan(after), before, after)) / 2), np.nan_to_num((before - after) / 2)
    unlike = w * length2 * (4 / 45 * bend**2 / 16 + lean**2 / 12)
    return unlike < 4 * course.chi[e] + UNLIKE


def _propose(course, x, y, weight, near):
    """Other elements that may turn out cheaper around elements `near` (mask)."""
    number = np.diff(course.bounds)
    run = group_index(course.offsets)
    arc, smooth, bounds, chi = course.arc, course.smooth, course.bounds, course.chi
    count = len(course)
    moments = Moments.of(x, y, weight, bounds)
    e = np.arange(count)
    has_before, has_after = np.append(False, run[1:] == run[:-1]), np.append(run[1:] == run[:-1], False)
    before_arc, after_arc = np.append(False, arc[:-1]) & has_before, np.append(arc[1:], False) & has_after
    joint = _joint_prices(course, x, y)
    joint_before = np.append(0.0, joint[:-1]) * has_before
    own = chi + PARAMETER * (2 + arc)
    # what elements beside a change may gain by it
    excess = np.maximum(chi - lone_chi(moments, arc), 0.0)
    slack_before, slack_after = np.append(0.0, excess[:-1]) * has_before, np.append(excess[1:], 0.0) * has_after
    parts = []

    def add(first, removed, start, kinds, groups):
        """`start`: first positions of the new elements; `kinds`: whether these are arcs; `groups`: their moments."""
        if not len(first):
            return
        last = first + removed - 1
        kinds = [np.broadcast_to(kind, first.shape) for kind in kinds]
        follow = [kinds[k] | (kinds[k + 1] if k + 1 < len(kinds) else after_arc[last]) for k in range(len(kinds))]
        before = kinds[0] | before_arc[first]
        now = sum(own[first + k] + joint[first + k] for k in range(removed)) + joint_before[first] + slack_before[first] + slack_after[last]
        then = sum(lone_chi(group, kind) + PARAMETER * (2 + kind) for group, kind in zip(groups, kinds))
        then -= PARAMETER * (sum(follow[:-1]) + before * has_before[first] + follow[-1] * has_after[last])
        good = np.flatnonzero(now - then > LEAST_SAVING)
        column = lambda values: np.stack([value[good] for value in values], axis=1)  # noqa: E731
        parts.append(_Proposals.of(first[good], removed, column(start), column(kinds), column(follow), before[good]))

    def together(size):
        first = e[: count - size + 1]
        good = run[first] == run[first + size - 1]
        touched = np.zeros(len(first), bool)
        for k in range(size):
            touched |= near[first + k]
        return first[good & touched]

    def some(low, high):  # moments of few positions
        size = np.maximum(high - low, 0)
        index = ranges(low, size)
        return Moments.of(x[index], y[index], weight[index], np.concatenate([[0], np.cumsum(size)]))

    two, three = together(2), together(3)
    for first, size in ((two, 2), (three, 3)):
        total = bounds[first + size] - bounds[first]
        joined = moments.take(first) + moments.take(first + 1)
        if size == 3:
            joined = joined + moments.take(first + 2)
        add(first, size, [bounds[first]], [False], [joined])
        pick = np.flatnonzero(total > 3)
        add(first[pick], size, [bounds[first[pick]]], [True], [joined.take(pick)])
    # the middle one of three shared between the others
    small = three[number[three + 1] <= MOST_SHARED]
    middle = bounds[small + 1] + number[small + 1] // 2
    add(small, 3, [bounds[small], middle], [arc[small], arc[small + 2]],
        [moments.take(small) + some(bounds[small + 1], middle), some(middle, bounds[small + 2]) + moments.take(small + 2)])
    # one element of the other sort
    one = e[near & (number > 2) & (arc | (number <= MOST_SHARED))]
    one = one[arc[one] | _may_bend(course, moments, one, has_before, has_after)]
    add(one, 1, [bounds[one]], [~arc[one]], [moments.take(one)])
    # two of other sorts, the bound where it is and shifted towards the longer one
    pair = two[np.minimum(number[two], number[two + 1]) <= MOST_SHARED]
    for left, right in ((False, True), (True, False)):
        pick = pair[(arc[pair] != left) | (arc[pair + 1] != right)]
        straight = ~arc[pick] & ~arc[pick + 1]
        pick = pick[~straight | _may_bend(course, moments, pick + right, has_before & right, has_after & left)]
        a, b, bound = moments.take(pick), moments.take(pick + 1), bounds[pick + 1]
        add(pick, 2, [bounds[pick], bound], [left, right], [a, b])
        ahead = number[pick] < number[pick + 1]
        more = np.minimum(3, np.where(ahead, number[pick + 1], number[pick]) // 2)
        moved = some(np.where(ahead, bound, bound - more), np.where(ahead, bound + more, bound))
        sign = np.where(ahead, 1.0, -1.0)
        add(pick, 2, [bounds[pick], bound + np.where(ahead, more, -more)], [left, right], [a + moved.times(sign), b + moved.times(-sign)])
    # two tangents in place of an arc and another element
    pair = pair[arc[pair] | arc[pair + 1]]
    for shift in (-2, -1, 0, 1, 2):
        pick = pair[(number[pair] + shift > 1) & (number[pair + 1] - shift > 1)]
        bound = bounds[pick + 1]
        moved = some(bound + min(shift, 0), bound + max(shift, 0))
        sign = np.full(len(pick), np.sign(shift), float)
        add(pick, 2, [bounds[pick], bound + shift], [False, False],
            [moments.take(pick) + moved.times(sign), moments.take(pick + 1) + moved.times(-sign)])
    # an arc where two tangents meet
    meet = two[~arc[two] & ~arc[two + 1] & (number[two] > 3) & (number[two + 1] > 3)]
    for k in (1, 2):
        bound = bounds[meet + 1]
        a, b = some(bound - k, bound), some(bound, bound + k)
        add(meet, 2, [bounds[meet], bound - k, bound + k], [False, True, False],
            [moments.take(meet) + a.times(-1.0), a + b, moments.take(meet + 1) + b.times(-1.0)])
    # joints the other way
    flip = two[arc[two] | arc[two + 1]]
    gain = np.where(smooth[flip], excess[flip] + excess[flip + 1] - PARAMETER, 2 * PARAMETER)
    flip = flip[gain > LEAST_SAVING]
    parts.append(_Proposals.of(flip, 2, np.column_stack([bounds[flip], bounds[flip + 1]]), np.column_stack([arc[flip], arc[flip + 1]]),
                               np.column_stack([~smooth[flip], smooth[flip + 1]]), has_before[flip] & smooth[flip - 1]))
    return _Proposals.concatenate(parts)


def improve(course, x, y, weight, near=None, rounds=4):
    """Try other elements until none is cheaper; beside elements `near` (mask) alone, where given."""
    near = np.ones(len(course), bool) if near is None else near
    for _ in range(rounds):
        proposals = _propose(course, x, y, weight, near)
        if not len(proposals):
            break
        old, new, px, py, pw, _, low, high, shift = _windows(course, x, y, weight, proposals, group_index(course.offsets))
        old, new = settle(old, px, py, pw, warm=True), settle(new, px, py, pw)
        good = _best(_price(old, px, py) - _price(new, px, py), low, high, len(course))
        if not good.size:
            break
        course, near = _replace(course, new, good, low, high, shift)
    return course


def _best(saving, low, high, count):
    """Windows that save something and more than any other one that shares an element; of equals the first one."""
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


def _shed(course, x, y, weight, may_drop):
    """Try to do without the positions of very short elements; the course and the weights, 0 where one is left out.

    A slip of the aim is explained by elements of its own, two corners and more. It is left out where that is
    cheaper: `DROP` for each position.
    """
    number = np.diff(course.bounds)
    run = group_index(course.offsets)
    e = np.arange(len(course))
    inside = np.zeros(len(course), bool)
    inside[1:-1] = (run[1:-1] == run[:-2]) & (run[1:-1] == run[2:])
    inside[1:-1] &= np.minimum(number[:-2], number[2:]) > 2
    parts, pairs, total = [], [], 0

    def add(first, removed, start, kinds, drop):
        nonlocal total
        if not len(first):
            return
        kinds = np.broadcast_to(np.column_stack(kinds) if isinstance(kinds[0], np.ndarray) else np.asarray(kinds), (len(first), len(start)))
        start = np.column_stack(start)
        follow = np.zeros(start.shape, bool)
        follow[:, :-1] = kinds[:, :-1] | kinds[:, 1:]
        last = first + removed - 1
        after = np.minimum(last + 1, len(course) - 1)
        follow[:, -1] = (run[after] == run[last]) & (after > last) & (kinds[:, -1] | course.arc[after])
        before = np.maximum(first - 1, 0)
        lead = (run[before] == run[first]) & (before < first) & (kinds[:, 0] | course.arc[before])
        parts.append(_Proposals.of(first, removed, start, kinds, follow, lead))
        for positions in drop:
            pairs.append(np.column_stack([total + np.arange(len(first)), positions]))
        total += len(first)

    for size in (1, 2):
        short = e[inside & (number == size)]
        begin = course.bounds[short]
        for drop in ((0,), (1,), (0, 1))[: 3 if size == 2 else 1]:
            pick = np.all([may_drop[begin + k] for k in drop], axis=0) if len(short) else np.zeros(0, bool)
            some, at = short[pick], begin[pick]
            gone = [at + k for k in drop]
            first = some - 1
            for kind in (False, True):
                add(first, 3, [course.bounds[first]], [kind], gone)
            for k in range(size + 1):
                add(first, 3, [course.bounds[first], at + k], [course.arc[first], course.arc[some + 1]], gone)
    # an arc goes over smoothly as a rule: beside a corner of one, its last position or the first one after it may be a slip
    joint = np.flatnonzero((run[1:] == run[:-1]) & ~course.smooth[:-1] & (course.arc[1:] | course.arc[:-1]) & (np.minimum(number[1:], number[:-1]) > 2))
    for at in (course.bounds[joint + 1] - 1, course.bounds[joint + 1]):
        pick = may_drop[at]
        some = joint[pick]
        for k in (0, 1):
            add(some, 2, [course.bounds[some], at[pick] + k], [course.arc[some], course.arc[some + 1]], [at[pick]])
    # nor does a line begin or end with a short arc beside a corner
    several = (np.diff(course.offsets) > 1) & ~course.closed & (course.bounds[course.offsets[1:]] - course.bounds[course.offsets[:-1]] >= LEAST_CONFIRMED)
    for end, joint, at in ((course.offsets[:-1][several], 0, 0), (course.offsets[1:][several] - 1, -1, -1)):
        end = end[course.arc[end] & ~course.smooth[end + joint] & (number[end] <= MOST_SHARED) & (number[end] > 2)]
        rim = course.bounds[end] if at == 0 else course.bounds[end + 1] - 1
        end, rim = end[may_drop[rim]], rim[may_drop[rim]]
        for kind in (False, True):
            add(end, 1, [course.bounds[end]], [kind], [rim])
    if not total:
        return course, weight
    proposals, dropped = _Proposals.concatenate(parts), np.concatenate(pairs).T
    old, new, px, py, pw, new_weight, low, high, shift = _windows(course, x, y, weight, proposals, run, dropped)
    old, new = settle(old, px, py, pw, warm=True), settle(new, px, py, new_weight)
    saving = _price(old, px, py) - _price(new, px, py) - DROP * np.bincount(dropped[0], minlength=total)
    # what lies near the line is no slip, however little noise there seems to be
    at = dropped[1] + shift[dropped[0]]
    off = np.abs(new.curve.off(px[at], py[at], np.searchsorted(new.bounds, at, "right") - 1))
    near = off < np.maximum(LEAST_OFF, OFF_SIGMAS / np.sqrt(weight[dropped[1]]))
    saving[dropped[0][near]] = -np.inf
    good = _best(saving, low, high, len(course))
    if good.size:
        weight = weight.copy()
        weight[dropped[1][np.isin(dropped[0], good)]] = 0.0
        course, _ = _replace(course, new, good, low, high, shift)
    return course, weight


def _lone_ends(course, x, y, weight, sigma, may_drop):
    """Positions at the ends of runs that alone would turn a corner (mask), and elements that these leave empty.

    No other position confirms such a corner; a slip of the aim looks the same. So do two beside the line whose own line does not meet it.
    """
    first, second, joints = joints_of(course, x, y)
    apart = np.zeros(len(course), bool)
    apart[first], apart[second] = ~joints.met, apart[second] | ~joints.met
    number = np.diff(course.bounds)
    drop, empty = np.zeros(len(x), bool), np.zeros(len(course), bool)
    size = course.bounds[course.offsets[1:]] - course.bounds[course.offsets[:-1]]
    several = (np.diff(course.offsets) > 1) & ~course.closed & (size >= LEAST_CONFIRMED)
    for end, inner, joint in ((course.offsets[:-1][several], 1, 0), (course.offsets[1:][several] - 1, -1, -1)):
        beside = end + inner
        pick = (number[end] <= 2) & (number[beside] > 2) & ~course.smooth[end + joint]
        end, beside = end[pick], beside[pick]
        index = ranges(course.bounds[end], number[end])
        owner = np.repeat(np.arange(len(end)), number[end])
        off = np.abs(course.curve.off(x[index], y[index], beside[owner])) > np.maximum(OFF_SIGMAS * sigma[index], LEAST_OFF)
        alone = (np.bincount(owner, off & (weight[index] > 0), len(end)) <= 1) | apart[end]
        alone &= np.bincount(owner, off & ~may_drop[index], len(end)) == 0
        empty[end[alone]] = True
        drop[index[off & alone[owner]]] = True
    return drop, empty


def _without(course, empty):
    """The course without some elements at the ends of runs; their positions go to the neighbours."""
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
    return Course(np.append(start[keep], course.bounds[-1]), offsets, course.arc[keep], smooth[keep], course.curve.take(keep), course.closed,
                  course.chi[keep], course.radii)


def _replace(course, new, good, low, high, shift):
    """Put the windows `good` into the course; the course and which elements are new or beside new ones."""
    good = good[np.argsort(low[good])]
    keep = np.ones(len(course), bool)
    keep[ranges(low[good], (high - low)[good])] = False
    size = np.diff(new.offsets)
    fresh = ranges(new.offsets[:-1][good], size[good])
    owner = np.repeat(good, size[good])
    old = np.flatnonzero(keep)
    start = np.concatenate([course.bounds[old], new.bounds[fresh] - shift[owner]])
    rank = np.concatenate([old.astype(float), low[owner] + 0.0])
    order = np.lexsort((start, rank))
    last_of_window = np.zeros(len(fresh), bool)
    last_of_window[np.cumsum(size[good]) - 1] = True
    follow = new.smooth[fresh]
    follow[last_of_window] = course.smooth[high[owner[last_of_window]] - 1]
    pick = lambda a, b: np.concatenate([a[old], b[fresh]])[order]  # noqa: E731
    curve = Curve(*(pick(getattr(course.curve, name), getattr(new.curve, name)) for name in ("x", "y", "ux", "uy", "bend")))
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
    return Course(np.append(start, course.bounds[-1]), offsets, arc, smooth, curve, course.closed, pick(course.chi, new.chi), course.radii), near


@dataclass(frozen=True)
class Chains:
    """Runs as tangents and arcs that meet; metres throughout.

    Attributes
    ----------
    offsets : int, shape (runs + 1,)
        Elements of each run.
    bounds : int, shape (elements + 1,)
        Positions that each element explains; a link between two elements that do not meet explains none.
    x, y : float, shape (elements,)
        A point of the tangent, or the centre of the arc.
    ux, uy : float, shape (elements,)
        Unit direction of travel of a tangent; 0 for an arc.
    radius : float, shape (elements,)
        Infinite for a tangent.
    turn : int, shape (elements,)
        1 for an arc to the left, -1 to the right, 0 for a tangent.
    smooth : bool, shape (elements,)
        The joint that follows has a common direction. The last one of an open run has none.
    start, end : float, shape (elements, 2)
        The end of an element is the start of the next one; that of the last one of a closed run the start of the first.
    length : float, shape (elements,)
    radius_sigma : float, shape (elements,)
        1-sigma, NaN for a tangent.
    closed : bool, shape (runs,)
    chainage : float, shape (m,)
        Of each position's foot, from the start of its run.
    residual : float, shape (m,)
        Of each position from the curve, + to the right.
    sigma : float, shape (m,)
        1-sigma of the curve across, at each position, from the white noise alone.
    spline : bool, shape (elements,)
        Part of a stretch that a spline explains better; `merge_splines` makes one element of each such stretch.
    slip : bool, shape (m,)
        Positions that were left out.
    feet : float, shape (m, 2)
        Feet of the positions; in a stretch that a spline explains better, on the tangents and arcs that need not meet.
    """

    offsets: np.ndarray
    bounds: np.ndarray
    x: np.ndarray
    y: np.ndarray
    ux: np.ndarray
    uy: np.ndarray
    radius: np.ndarray
    turn: np.ndarray
    smooth: np.ndarray
    start: np.ndarray
    end: np.ndarray
    length: np.ndarray
    radius_sigma: np.ndarray
    closed: np.ndarray
    chainage: np.ndarray
    residual: np.ndarray
    sigma: np.ndarray
    spline: np.ndarray
    slip: np.ndarray
    feet: np.ndarray

    def __len__(self):
        return len(self.radius)

    def take(self, keep):
        """The same curves without some of their positions; `keep`, shape (m,), is a mask."""
        bounds = np.concatenate([[0], np.cumsum(keep)])[self.bounds]
        return replace(self, bounds=bounds, chainage=self.chainage[keep], residual=self.residual[keep], sigma=self.sigma[keep], slip=self.slip[keep],
                       feet=self.feet[keep])

    @property
    def bend(self):
        """Curvature, 1/m, + to the left."""
        return self.turn / np.where(self.turn != 0, self.radius, 1.0)

    def at(self, s, element):
        """Places and unit directions, shape (q, 2) each, at distances `s` from the starts of elements."""
        bend = self.bend[element]
        start = self.start[element]
        arc = self.turn[element] != 0
        # the tangent at the start of an arc is square to the radius
        rx, ry = start[:, 0] - self.x[element], start[:, 1] - self.y[element]
        radius = np.maximum(np.hypot(rx, ry), 1e-12)
        ux = np.where(arc, -self.turn[element] * ry / radius, self.ux[element])
        uy = np.where(arc, self.turn[element] * rx / radius, self.uy[element])
        half = bend * s / 2
        chord = s * np.sinc(half / np.pi)
        c, d = np.cos(half), np.sin(half)
        vx, vy = ux * c - uy * d, uy * c + ux * d
        return start + chord[:, None] * np.column_stack([vx, vy]), np.column_stack([vx * c - vy * d, vy * c + vx * d])


def merge_splines(chains):
    """The chains with one element for each free-form stretch, neither tangent nor arc; its curve runs through the feet of its positions."""
    run = group_index(chains.offsets)
    again = np.append(False, chains.spline[1:] & chains.spline[:-1] & (run[1:] == run[:-1]))
    if not chains.spline.any():
        return chains
    keep = ~again
    last = np.append(np.flatnonzero(keep)[1:], len(chains)) - 1
    free = chains.spline[keep]
    bounds = np.append(chains.bounds[:-1][keep], chains.bounds[-1])
    offsets = np.concatenate([[0], np.cumsum(np.bincount(run[keep], minlength=len(chains.offsets) - 1))])
    # along a free form the way is counted from foot to foot
    owner = group_index(bounds)
    within = chains.chainage - cumulative(chains.length, chains.offsets)[np.flatnonzero(keep)][owner]
    before = np.where((np.arange(len(owner)) == bounds[:-1][owner])[:, None], chains.start[keep][owner], np.roll(chains.feet, 1, axis=0))
    step = np.hypot(*(chains.feet - before).T)
    walked = cumulative(step, bounds) + step
    within = np.where(free[owner], walked, within)
    seen = np.diff(bounds) > 0
    final = np.zeros(len(seen))
    final[seen] = walked[bounds[1:][seen] - 1] + np.hypot(*(chains.end[last][seen] - chains.feet[bounds[1:][seen] - 1]).T)
    length = np.where(free & seen, final, np.add.reduceat(chains.length, np.flatnonzero(keep)))
    chainage = cumulative(length, offsets)[owner] + within
    smooth = np.where(free, False, chains.smooth[keep])
    smooth[:-1] &= ~free[1:] | (run[keep][1:] != run[keep][:-1])
    pick = lambda values, instead: np.where(free, instead, values[keep])  # noqa: E731
    way = chains.end[last] - chains.start[keep]
    way /= np.maximum(np.hypot(*way.T), 1e-12)[:, None]
    return replace(
        chains, offsets=offsets, bounds=bounds, chainage=chainage, x=pick(chains.x, chains.start[keep, 0]), y=pick(chains.y, chains.start[keep, 1]),
        ux=pick(chains.ux, way[:, 0]), uy=pick(chains.uy, way[:, 1]), radius=pick(chains.radius, np.inf), turn=pick(chains.turn, 0), smooth=smooth,
        start=chains.start[keep], end=chains.end[last], length=length, radius_sigma=pick(chains.radius_sigma, np.nan), spline=free)


@dataclass(frozen=True)
class Limits:
    """Of the radius of arcs, m."""

    min_radius: float = LEAST_RADIUS
    max_radius: float = GREATEST_RADIUS


def fit_chains(x, y, variance, offsets, limits=None, closed=None, checkpoint=None, may_drop=None, doubt=None):
    """Fit tangents, arcs and their joints to all runs.

    Parameters
    ----------
    x, y : ndarray of float, shape (m,)
        Positions in the order of travel, metres. Those of a ring may start anywhere, best at a joint (`ring_start`).
    variance : ndarray of float, shape (m,)
        Of each position and axis, m2.
    offsets : ndarray of int, shape (runs + 1,)
    limits : Limits, optional
    closed : ndarray of bool, shape (runs,), optional
        Runs whose last element goes over into the first one.
    checkpoint : callable, optional
        Called with the share of work done; may raise to stop it.
    may_drop : ndarray of bool, shape (m,), optional
        Positions that may be left out as slips of the aim; none where not given.
    doubt : ndarray of float, shape (m,), optional
        By how much the variance of positions is raised while the elements are sought; how far they lie off the result decides afterwards.

    Returns
    -------
    Chains

    Notes
    -----
    `alignment.fit_elements` finds the elements, each for itself. Then the elements of each run are adjusted together with
    their joints, and other elements are tried nearby: fewer, others, smooth joints or corners. What costs less stays:
    the sum of squares in sigmas and `PARAMETER` for each parameter left free. Positions off the result lose weight.
    """
    limits = limits or Limits()
    radii = (limits.min_radius, limits.max_radius)
    checkpoint = checkpoint or (lambda share: None)
    runs = len(offsets) - 1
    closed = np.zeros(runs, bool) if closed is None else closed
    variance = variance * ELEMENT_NOISE**2
    # from a place in each run: far coordinates would cost digits
    base = np.column_stack([x, y])[np.minimum(offsets[:-1], max(len(x) - 1, 0))] if len(x) else np.zeros((runs, 2))
    x, y = (values - np.repeat(origin, np.diff(offsets)) for values, origin in zip((x, y), base.T))
    sought = variance if doubt is None else variance * doubt
    elements = fit_elements(x, y, sought, offsets, lambda share: checkpoint(0.6 * share), radii)
    if not len(elements):
        none = np.zeros(0)
        return Chains(np.zeros(runs + 1, np.int64), np.zeros(1, np.int64), none, none, none, none, none, none.astype(int), none > 0, none.reshape(0, 2),
                      none.reshape(0, 2), none, none, closed, none, none, none, none > 0, none > 0, none.reshape(0, 2))
    weight = 1 / sought
    sigma = np.sqrt(variance)
    course = settle(first_course(elements, x, y, offsets, closed, radii), x, y, weight)
    checkpoint(0.7)
    course = improve(course, x, y, weight)
    checkpoint(0.85)
    if may_drop is not None:
        course, weight = _shed(course, x, y, weight, may_drop)
    course = settle(course, x, y, weight, warm=True)
    weight = np.where(weight > 0, 1 / variance, 0.0)
    run = group_index(offsets)
    for _ in range(ROBUST_ROUNDS):
        off = np.abs(course.curve.off(x, y, group_index(course.bounds))) / sigma
        if may_drop is not None:
            far = _stands_out(np.where(weight > 0, off, 0.0), sigma, run, course.bounds) & may_drop
            ends, empty = _lone_ends(course, x, y, weight, sigma, may_drop)
            if far.any() or ends.any():
                weight = np.where(far | ends, 0.0, weight)
                near = np.zeros(len(course), bool)
                near[group_index(course.bounds)[far]] = True
                runs = np.unique(run[far | ends])
                part, place, element = _of_runs(course, runs)
                part, near = _without(part, empty[element]), near[element][~empty[element]]
                px, py, pw = x[place], y[place], weight[place]
                course = _put_runs(course, improve(settle(part, px, py, pw), px, py, pw, near), runs)
                off = np.abs(course.curve.off(x, y, group_index(course.bounds))) / sigma
        lighter = weight * np.minimum(HUBER / np.maximum(off, 1e-9), 1.0)
        course = settle(course, x, y, lighter, 1, warm=True)
    free = _free_form(course, elements, x, y)
    chains = _finish(course, x, y, lighter, base, free)
    owner = group_index(chains.bounds)
    before = cumulative(chains.length, chains.offsets)
    feet, _ = chains.at(chains.chainage - before[owner], owner)
    loose = np.flatnonzero(chains.spline[owner])
    if loose.size:
        feet[loose] = project(elements, x, y)[loose] + np.repeat(base, np.diff(offsets), axis=0)[loose]
        ahead, back = np.minimum(loose + 1, offsets[1:][run[loose]] - 1), np.maximum(loose - 1, offsets[:-1][run[loose]])
        way = feet[ahead] - feet[back]
        way /= np.maximum(np.hypot(*way.T), 1e-12)[:, None]
        off = np.column_stack([x, y])[loose] + base[run[loose]] - feet[loose]
        chains.residual[loose] = off[:, 0] * way[:, 1] - off[:, 1] * way[:, 0]
    return replace(chains, feet=feet)


def _free_form(course, elements, x, y):
    """Elements (mask) of stretches that tangents and arcs explain better when these need not meet.

    Stretches lie between long tangents. The two explanations are compared by the sum of squared distances in sigmas and `PARAMETER`
    for each parameter left free; `FREER` more is asked of the one without joints.
    """
    count = len(course)
    number = np.diff(course.bounds)
    run = group_index(course.offsets)
    anchor = ~course.arc & (number >= LEAST_ANCHOR)
    joint = _joint_prices(course, x, y, 0.0)
    joint_before = np.append(0.0, np.where(run[1:] == run[:-1], joint[:-1], 0.0))
    new = np.ones(count, bool)
    new[1:] = anchor[1:] | anchor[:-1] | (run[1:] != run[:-1])
    section = np.cumsum(new) - 1
    sections = section[-1] + 1
    first = np.append(np.flatnonzero(new), count)
    chained = np.bincount(section, course.chi + PARAMETER * (2 + course.arc) + joint, sections) + joint_before[first[:-1]]
    middle = (elements.offsets[:-1] + elements.offsets[1:] - 1) // 2
    of = section[np.searchsorted(course.bounds, middle, "right") - 1]
    apart = np.bincount(of, elements.chi + PARAMETER * (2 + elements.is_arc), sections)
    free = (apart + FREER < chained) & ~anchor[first[:-1]] & (course.bounds[first[1:]] - course.bounds[first[:-1]] >= LEAST_FREE)
    # a section whose positions the other search gave to its neighbours has nothing to be compared with
    free &= np.bincount(of, minlength=sections) > 0
    return free[section]


def _of_runs(course, runs):
    """The course of some runs alone, and the places of its positions and of its elements."""
    size = np.diff(course.offsets)[runs]
    element = ranges(course.offsets[:-1][runs], size)
    low = course.bounds[course.offsets[:-1][runs]]
    number = course.bounds[course.offsets[1:][runs]] - low
    shift = np.concatenate([[0], np.cumsum(number)])
    bounds = np.append(course.bounds[element] + np.repeat(shift[:-1] - low, size), shift[-1])
    part = Course(bounds, np.concatenate([[0], np.cumsum(size)]), course.arc[element], course.smooth[element], course.curve.take(element),
                  course.closed[runs], course.chi[element], course.radii)
    return part, ranges(low, number), element


def _put_runs(course, part, runs):
    """The course with some runs as in `part`, which has only these."""
    size = np.diff(course.offsets)
    first = course.offsets[:-1].copy()
    low = course.bounds[course.offsets[:-1]]
    shift = np.zeros(len(size), np.int64)
    shift[runs] = low[runs] - part.bounds[part.offsets[:-1]]
    first[runs], size[runs] = len(course) + part.offsets[:-1], np.diff(part.offsets)
    index = ranges(first, size)
    both = lambda a, b: np.concatenate([a, b])[index]  # noqa: E731
    curve = Curve(*(both(getattr(course.curve, name), getattr(part.curve, name)) for name in ("x", "y", "ux", "uy", "bend")))
    bounds = np.append(both(course.bounds[:-1], part.bounds[:-1]) + np.repeat(shift, size), course.bounds[-1])
    return Course(bounds, np.concatenate([[0], np.cumsum(size)]), both(course.arc, part.arc), both(course.smooth, part.smooth), curve, course.closed,
                  both(course.chi, part.chi), course.radii)


def _stands_out(off, sigma, run, bounds):
    """Positions far off a curve that explains the others of their element, and much farther off than both neighbours."""
    joined = np.diff(run) == 0
    beside = np.zeros(len(off))
    beside[:-1] = np.where(joined, off[1:], 0.0)
    beside[1:] = np.maximum(beside[1:], np.where(joined, off[:-1], 0.0))
    far = (off > np.maximum(OFF_SIGMAS, LEAST_OFF / sigma)) & (off > 2.5 * beside)
    owner = group_index(bounds)
    others = np.maximum(np.diff(bounds) - np.bincount(owner, far, len(bounds) - 1), 1)
    fits = group_sum(np.where(far, 0.0, off**2), bounds) / others < EXPLAINED**2
    return far & fits[owner]


def ring_start(x, y, variance, offsets, closed):
    """Order of positions in which each ring starts at a joint, shape (m,)."""
    order = np.arange(len(x))
    rings = np.flatnonzero(closed)
    if not rings.size:
        return order
    first, size = offsets[:-1][rings], np.diff(offsets)[rings]
    index = ranges(first, size)
    inside = np.concatenate([[0], np.cumsum(size)])
    elements = fit_elements(x[index], y[index], variance[index] * ELEMENT_NOISE**2, inside)
    of_ring = np.searchsorted(elements.offsets[:-1], inside)
    several = np.diff(of_ring) > 1
    # best behind an arc: an arc goes over smoothly whatever follows
    place = np.arange(len(elements))
    behind = np.append(False, elements.is_arc[:-1])
    behind[of_ring[:-1]] = False
    choice = group_min(np.where(behind, place, len(elements)), of_ring, len(elements)).astype(np.int64)
    choice = np.where(choice < len(elements), choice, np.minimum(of_ring[:-1] + 1, len(elements)))
    begin = np.where(several, elements.offsets[choice] - inside[:-1], 0)
    order[index] = np.repeat(first, size) + (index - np.repeat(first, size) + np.repeat(begin, size)) % np.repeat(size, size)
    return order


def _unwrapped(course, x, y):
    """Distance of each position's foot from its element's point; along arcs in the way of the positions, beyond half a circle too."""
    owner = group_index(course.bounds)
    s = course.curve.along(x, y, owner)
    bend = np.abs(course.curve.bend[owner])
    around = np.where(bend > 0, 2 * np.pi / np.where(bend > 0, bend, 1.0), np.inf)
    step = np.diff(s, prepend=s[:1])
    with np.errstate(invalid="ignore"):
        laps = np.where(np.isfinite(around), -np.rint(step / np.where(np.isfinite(around), around, 1.0)), 0.0)
    first = course.bounds[:-1][np.diff(course.bounds) > 0]
    laps[first] = 0.0
    laps = np.cumsum(laps)
    number = np.diff(course.bounds)
    middle = np.minimum(course.bounds[:-1] + number // 2, len(x) - 1)
    laps -= laps[middle][owner]
    return s + np.where(laps != 0, laps * np.where(np.isfinite(around), around, 0.0), 0.0), around


def _first_used(used, bounds, first):
    """The first position of each element that counts; its first one where none does."""
    place = np.minimum.accumulate(np.where(used, np.arange(len(used)), len(used))[::-1])[::-1][first]
    return np.where(place < bounds[1:], place, first)


def _finish(course, x, y, weight, base, free):
    """Links where elements do not meet, ends, chainages, uncertainty."""
    count = len(course)
    s, around = _unwrapped(course, x, y)
    owner = group_index(course.bounds)
    lap = np.full(count, np.inf)
    lap[owner] = around
    first_at, last_at = course.bounds[:-1], course.bounds[1:] - 1
    # at the ends of runs, what was left out is not reached
    used = weight > 0
    seen_first = s[_first_used(used, course.bounds, first_at)]
    seen_last = s[len(used) - 1 - _first_used(used[::-1], len(used) - course.bounds[::-1], len(used) - 1 - last_at[::-1])[::-1]]
    first, second, joints = joints_of(course, x, y)

    def near(value, element, wanted):  # the lap of an arc on which its positions lie
        turns = np.where(np.isfinite(lap[element]), np.rint((wanted - value) / np.where(np.isfinite(lap[element]), lap[element], 1.0)), 0.0)
        return value + np.where(turns != 0, turns * np.where(np.isfinite(lap[element]), lap[element], 0.0), 0.0)

    low, high = seen_first.copy(), seen_last.copy()
    met = joints.met
    for _ in range(3):  # an element that would run backward meets nothing
        low, high = seen_first.copy(), seen_last.copy()
        a, b = first[met], second[met]
        high[a] = near(course.curve.along(joints.x[met], joints.y[met], a), a, seen_last[a])
        low[b] = near(course.curve.along(joints.x[met], joints.y[met], b), b, seen_first[b])
        backward = high < low - 1e-6
        wrong = met & (backward[first] | backward[second])
        if not wrong.any():
            break
        met = met & ~wrong
    low = np.minimum(low, high)
    single = np.flatnonzero(course.closed & (np.diff(course.offsets) == 1))  # a full circle
    whole = course.offsets[:-1][single]
    whole = whole[course.arc[whole]]
    high[whole] = low[whole] + lap[whole]
    curve = course.curve
    e = np.arange(count)
    sx, sy, _, _ = curve.at(low, e)
    ex, ey, _, _ = curve.at(high, e)
    start, end = np.column_stack([sx, sy]), np.column_stack([ex, ey])
    point = np.column_stack([joints.x, joints.y])[met]
    end[first[met]], start[second[met]] = point, point
    end[whole] = start[whole]
    smooth = np.zeros(count, bool)
    smooth[first[met]] = course.smooth[first[met]]
    smooth[whole] = True

    covariance = covariances(Moments.of(x, y, weight, course.bounds), curve, course.smooth, course.offsets, course.closed)
    along = curve.along(x, y, owner)
    bend = curve.bend[owner]
    half = bend * along / 2
    # of a place on the curve: 1, its distance along the tangent, half its square distance
    lever = np.stack([np.ones_like(along), along * np.sinc(2 * half / np.pi), (along * np.sinc(half / np.pi)) ** 2 / 2], axis=1)
    lever[:, 0] -= bend * along * half * np.sinc(half / np.pi) ** 2
    sigma = np.sqrt(np.maximum(np.einsum("ni,nij,nj->n", lever, covariance[owner], lever), 0.0))
    off = -curve.off(x, y, owner)

    # links: straight on from where the one ends to where the other starts
    gap = np.flatnonzero(~met)
    after = first[gap]
    order = np.argsort(np.concatenate([e.astype(float), after + 0.5]), kind="stable")
    put = lambda own, link: np.concatenate([own, link])[order]  # noqa: E731
    way = start[second[gap]] - end[after]
    span = np.hypot(*way.T)
    way = way / np.maximum(span, 1e-12)[:, None]
    radius = np.where(course.arc, 1 / np.where(course.arc, np.abs(curve.bend), 1.0), np.inf)
    cx, cy = curve.centre
    none = np.zeros(len(gap))
    run = put(group_index(course.offsets), group_index(course.offsets)[after])
    offsets = np.concatenate([[0], np.cumsum(np.bincount(run, minlength=len(course.offsets) - 1))])
    bounds = np.append(put(course.bounds[:-1], course.bounds[after + 1]), course.bounds[-1])
    length = put(np.maximum(high - low, 0.0), span)
    before = np.concatenate([[0.0], np.cumsum(length)])[:-1]
    before -= np.repeat(before[offsets[:-1][np.diff(offsets) > 0]], np.diff(offsets)[np.diff(offsets) > 0])
    within = np.clip(s - low[owner], 0.0, (high - low)[owner])
    here = base[run]
    place = np.empty(len(order), np.int64)
    place[order] = np.arange(len(order))
    chainage = running_max(before[place[:count]][owner] + within, course.bounds[course.offsets])
    return Chains(
        offsets, bounds, put(cx, end[after, 0]) + here[:, 0], put(cy, end[after, 1]) + here[:, 1], put(np.where(course.arc, 0.0, curve.ux), way[:, 0]),
        put(np.where(course.arc, 0.0, curve.uy), way[:, 1]), put(radius, none + np.inf), put(np.sign(curve.bend).astype(int), none.astype(int)),
        put(smooth, none > 0), put(start, end[after]) + here, put(end, start[second[gap]]) + here, length,
        put(np.where(course.arc, np.sqrt(np.maximum(covariance[:, 2, 2], 0.0)) * np.where(course.arc, radius, 0.0) ** 2, np.nan), none + np.nan), course.closed, chainage, off, sigma,
        put(free, free[after] & free[second[gap]]), weight == 0,
        np.zeros((len(x), 2)))
