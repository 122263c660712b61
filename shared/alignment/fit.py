"""Runs as chains of tangents and arcs joined to each other: their joint fit."""

from dataclasses import dataclass, fields, replace

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import (
    cumulative,
    group_index,
    group_max,
    group_min,
    join_offsets,
    ranges,
    running_max,
    split_groups,
)
from .adjustment import PAIRS, Curve, covariances
from .chain import (
    PARAMETER,
    first_course,
    joint_prices,
    joints_of,
    of_runs,
    put_runs,
    settle,
    settle_some,
    without,
)
from .moments import Moments
from .moves import improve, lone_ends, shed, stands_out
from .search import ELEMENT_NOISE, GREATEST_RADIUS, LEAST_RADIUS, fit_elements, project

# squared sigmas by which elements that need not meet must explain a stretch better, before it is
# left to a spline
FREER = 4.0
LEAST_ANCHOR = 10  # positions of a tangent that is one, whatever lies beside it
LEAST_FREE = 6  # positions of a free-form stretch
ROBUST_ROUNDS = 2
LEAST_CONFIRMED = 6  # positions of a run that is an edge, whatever they look like
TOGETHER = 300_000  # positions fitted in one go
HUBER = 2.5  # sigmas beyond which a position loses weight (Huber 1964)


@dataclass(frozen=True)
class Chains:
    """Runs as tangents and arcs that meet; metres throughout.

    Attributes
    ----------
    offsets : int, shape (runs + 1,)
        Elements of each run.
    bounds : int, shape (elements + 1,)
        Positions that each element explains; a link between two elements that do not meet explains
        none.
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
        The end of an element is the start of the next one; that of the last one of a closed run the
        start of the first.
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
        Part of a stretch that a spline explains better; `merge_splines` makes one element of each
        such stretch.
    slip : bool, shape (m,)
        Positions that were left out.
    feet : float, shape (m, 2)
        Feet of the positions; in a stretch that a spline explains better, on the tangents and arcs
        that need not meet.
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
        return replace(
            self,
            bounds=bounds,
            chainage=self.chainage[keep],
            residual=self.residual[keep],
            sigma=self.sigma[keep],
            slip=self.slip[keep],
            feet=self.feet[keep],
        )

    def take_runs(self, runs):
        """Some of the runs, in the order of their numbers `runs`, shape (q,) of int."""
        size = np.diff(self.offsets)[runs]
        element = ranges(self.offsets[:-1][runs], size)
        first, number = self.bounds[:-1][element], np.diff(self.bounds)[element]
        position = ranges(first, number)
        each = {
            name: getattr(self, name)[element]
            for name in (
                "x",
                "y",
                "ux",
                "uy",
                "radius",
                "turn",
                "smooth",
                "start",
                "end",
                "length",
                "radius_sigma",
                "spline",
            )
        }
        each.update(
            {
                name: getattr(self, name)[position]
                for name in ("chainage", "residual", "sigma", "slip", "feet")
            }
        )
        return Chains(
            offsets=np.concatenate([[0], np.cumsum(size)]),
            bounds=np.concatenate([[0], np.cumsum(number)]),
            closed=self.closed[runs],
            **each,
        )

    def confirmed(self):
        """Runs (mask) other than a few positions of which no three agree on an element: nothing
        tells a corner from a slip there."""
        most = group_max(np.diff(self.bounds), self.offsets, 0)
        return (np.diff(self.bounds[self.offsets]) >= LEAST_CONFIRMED) | (most > 2)

    @classmethod
    def concatenate(cls, parts):
        """The runs of all parts, one part's after the other."""
        columns = {
            column.name: np.concatenate([getattr(part, column.name) for part in parts])
            for column in fields(cls)
        }
        for name in ("offsets", "bounds"):
            columns[name] = join_offsets([getattr(part, name) for part in parts])
        return cls(**columns)

    @property
    def bend(self):
        """Curvature, 1/m, + to the left."""
        return self.turn / np.where(self.turn != 0, self.radius, 1.0)

    def at(self, s, element):
        """Places and unit directions, shape (q, 2) each, at distances `s` from the starts of
        elements."""
        # the tangent at the start of an arc is square to the radius
        rx, ry = self.start[:, 0] - self.x, self.start[:, 1] - self.y
        radius = np.maximum(distance(rx, ry), 1e-12)
        arc = self.turn != 0
        ux, uy = (
            np.where(arc, -self.turn * ry / radius, self.ux),
            np.where(arc, self.turn * rx / radius, self.uy),
        )
        x, y, vx, vy = Curve(*self.start.T, ux, uy, self.bend).at(s, element)
        return np.column_stack([x, y]), np.column_stack([vx, vy])


@dataclass(frozen=True)
class Limits:
    """Of the radius of arcs, m."""

    min_radius: float = LEAST_RADIUS
    max_radius: float = GREATEST_RADIUS


def fit_chains(
    x,
    y,
    variance,
    offsets,
    limits=None,
    closed=None,
    checkpoint=None,
    may_drop=None,
    doubt=None,
    odds=None,
):
    """Fit tangents, arcs and their joints to all runs.

    Parameters
    ----------
    x, y : ndarray of float, shape (m,)
        Positions in the order of travel, metres. Those of a ring may start anywhere, best at a
        joint (`ring_start`).
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
        By how much the variance of positions is raised while the elements are sought; how far they
        lie off the result decides afterwards.
    odds : ndarray of float, shape (m,), optional
        By how much heights speak for a slip, squared sigmas (`height_evidence.height_llr`).

    Returns
    -------
    Chains

    Notes
    -----
    `alignment.fit_elements` finds the elements, each for itself. Then the elements of each run are
    adjusted together with their joints, and other elements are tried nearby: fewer, others, smooth
    joints or corners. What costs less stays: the sum of squares in sigmas and `PARAMETER` for each
    parameter left free. Positions off the result lose weight.
    """
    limits = limits or Limits()
    checkpoint = checkpoint or (lambda share: None)
    closed = np.zeros(len(offsets) - 1, bool) if closed is None else closed
    run = group_index(offsets)
    parts, first = [], 0
    for low, high in split_groups(run, TOGETHER):
        # runs without positions too
        own = slice(first, run[high] if high < len(run) else len(offsets) - 1)
        first = own.stop
        bounds = np.append(offsets[own], high) - low
        parts.append(
            _fit_together(
                x[low:high],
                y[low:high],
                variance[low:high],
                bounds,
                limits,
                closed[own],
                lambda share, low=low, high=high: checkpoint(
                    (low + share * (high - low)) / max(len(x), 1)
                ),
                *(
                    None if values is None else values[low:high]
                    for values in (may_drop, doubt, odds)
                ),
            )
        )
    return parts[0] if len(parts) == 1 else Chains.concatenate(parts)


def _fit_together(x, y, variance, offsets, limits, closed, checkpoint, may_drop, doubt, odds):
    """As `fit_chains`, all runs in one go."""
    odds = np.zeros(len(x)) if odds is None else odds
    radii = (limits.min_radius, limits.max_radius)
    runs = len(offsets) - 1
    variance = variance * ELEMENT_NOISE**2
    # from a place in each run: far coordinates would cost digits
    base = (
        np.column_stack([x, y])[np.minimum(offsets[:-1], max(len(x) - 1, 0))]
        if len(x)
        else np.zeros((runs, 2))
    )
    x, y = (values - np.repeat(origin, np.diff(offsets)) for values, origin in zip((x, y), base.T))
    sought = variance if doubt is None else variance * doubt
    elements = fit_elements(
        x, y, sought, offsets, lambda share: checkpoint(0.35 * share), radii, False
    )
    if not len(elements):
        none = np.zeros(0)
        return Chains(
            np.zeros(runs + 1, np.int64),
            np.zeros(1, np.int64),
            none,
            none,
            none,
            none,
            none,
            none.astype(int),
            none > 0,
            none.reshape(0, 2),
            none.reshape(0, 2),
            none,
            none,
            closed,
            none,
            none,
            none,
            none > 0,
            none > 0,
            none.reshape(0, 2),
        )
    weight = 1 / sought
    sigma = np.sqrt(variance)
    course = settle(first_course(elements, x, y, offsets, closed, radii), x, y, weight)
    checkpoint(0.5)
    course = improve(course, x, y, weight)
    checkpoint(0.75)
    if may_drop is not None:
        course, weight = shed(course, x, y, weight, sigma, may_drop, odds)
    checkpoint(0.85)
    course = settle(course, x, y, weight, 1, warm=True)
    used, weight = weight, np.where(weight > 0, 1 / variance, 0.0)
    run = group_index(offsets)
    for _ in range(ROBUST_ROUNDS):
        anew = np.zeros(len(offsets) - 1, bool)
        off = np.abs(course.curve.off(x, y, group_index(course.bounds))) / sigma
        if may_drop is not None:
            far = stands_out(np.where(weight > 0, off, 0.0), sigma, run, course.bounds) & may_drop
            ends, empty = lone_ends(course, x, y, weight, sigma, may_drop, odds)
            if far.any() or ends.any():
                weight = np.where(far | ends, 0.0, weight)
                near = np.zeros(len(course), bool)
                near[group_index(course.bounds)[far]] = True
                runs = np.unique(run[far | ends])
                part, place, element = of_runs(course, runs)
                part, near = without(part, empty[element]), near[element][~empty[element]]
                px, py, pw = x[place], y[place], weight[place]
                course = put_runs(course, improve(settle(part, px, py, pw), px, py, pw, near), runs)
                anew[runs] = True
                off = np.abs(course.curve.off(x, y, group_index(course.bounds))) / sigma
        lighter = weight * np.minimum(HUBER / np.maximum(off, 1e-9), 1.0)
        course = settle_some(
            course,
            x,
            y,
            lighter,
            anew[group_index(course.offsets)] | group_max(lighter != used, course.bounds, False),
        )
        used = lighter
    free = _free_form(course, elements, x, y)
    chains = _finish(course, x, y, lighter, base, free)
    owner = group_index(chains.bounds)
    before = cumulative(chains.length, chains.offsets)
    feet, _ = chains.at(chains.chainage - before[owner], owner)
    loose = np.flatnonzero(chains.spline[owner])
    if loose.size:
        feet[loose] = (
            project(elements, x, y)[loose] + np.repeat(base, np.diff(offsets), axis=0)[loose]
        )
        ahead, back = (
            np.minimum(loose + 1, offsets[1:][run[loose]] - 1),
            np.maximum(loose - 1, offsets[:-1][run[loose]]),
        )
        way = feet[ahead] - feet[back]
        way /= np.maximum(distance(*way.T), 1e-12)[:, None]
        off = np.column_stack([x, y])[loose] + base[run[loose]] - feet[loose]
        chains.residual[loose] = off[:, 0] * way[:, 1] - off[:, 1] * way[:, 0]
    return replace(chains, feet=feet)


def merge_splines(chains):
    """The chains with one element for each free-form stretch, neither tangent nor arc; its curve
    runs through the feet of its positions."""
    run = group_index(chains.offsets)
    again = np.append(False, chains.spline[1:] & chains.spline[:-1] & (run[1:] == run[:-1]))
    if not chains.spline.any():
        return chains
    keep = ~again
    last = np.append(np.flatnonzero(keep)[1:], len(chains)) - 1
    free = chains.spline[keep]
    bounds = np.append(chains.bounds[:-1][keep], chains.bounds[-1])
    offsets = np.concatenate(
        [[0], np.cumsum(np.bincount(run[keep], minlength=len(chains.offsets) - 1))]
    )
    # along a free form the way is counted from foot to foot
    owner = group_index(bounds)
    within = (
        chains.chainage - cumulative(chains.length, chains.offsets)[np.flatnonzero(keep)][owner]
    )
    before = np.where(
        (np.arange(len(owner)) == bounds[:-1][owner])[:, None],
        chains.start[keep][owner],
        np.roll(chains.feet, 1, axis=0),
    )
    step = distance(*(chains.feet - before).T)
    walked = cumulative(step, bounds) + step
    within = np.where(free[owner], walked, within)
    seen = np.diff(bounds) > 0
    final = np.zeros(len(seen))
    final[seen] = walked[bounds[1:][seen] - 1] + distance(
        *(chains.end[last][seen] - chains.feet[bounds[1:][seen] - 1]).T
    )
    length = np.where(free & seen, final, np.add.reduceat(chains.length, np.flatnonzero(keep)))
    chainage = cumulative(length, offsets)[owner] + within
    smooth = np.where(free, False, chains.smooth[keep])
    smooth[:-1] &= ~free[1:] | (run[keep][1:] != run[keep][:-1])
    pick = lambda values, instead: np.where(free, instead, values[keep])  # noqa: E731
    way = chains.end[last] - chains.start[keep]
    way /= np.maximum(distance(*way.T), 1e-12)[:, None]
    return replace(
        chains,
        offsets=offsets,
        bounds=bounds,
        chainage=chainage,
        x=pick(chains.x, chains.start[keep, 0]),
        y=pick(chains.y, chains.start[keep, 1]),
        ux=pick(chains.ux, way[:, 0]),
        uy=pick(chains.uy, way[:, 1]),
        radius=pick(chains.radius, np.inf),
        turn=pick(chains.turn, 0),
        smooth=smooth,
        start=chains.start[keep],
        end=chains.end[last],
        length=length,
        radius_sigma=pick(chains.radius_sigma, np.nan),
        spline=free,
    )


def _free_form(course, elements, x, y):
    """Elements (mask) of stretches that tangents and arcs explain better when these need not meet.

    Stretches lie between long tangents. The two explanations are compared by the sum of squared
    distances in sigmas and `PARAMETER` for each parameter left free; `FREER` more is asked of the
    one without joints.
    """
    count = len(course)
    number = np.diff(course.bounds)
    run = group_index(course.offsets)
    anchor = ~course.arc & (number >= LEAST_ANCHOR)
    joint = joint_prices(course, x, y, 0.0)
    joint_before = np.append(0.0, np.where(run[1:] == run[:-1], joint[:-1], 0.0))
    new = np.ones(count, bool)
    new[1:] = anchor[1:] | anchor[:-1] | (run[1:] != run[:-1])
    section = np.cumsum(new) - 1
    sections = section[-1] + 1
    first = np.append(np.flatnonzero(new), count)
    chained = (
        np.bincount(section, course.chi + PARAMETER * (2 + course.arc) + joint, sections)
        + joint_before[first[:-1]]
    )
    middle = (elements.offsets[:-1] + elements.offsets[1:] - 1) // 2
    of = section[np.searchsorted(course.bounds, middle, "right") - 1]
    apart = np.bincount(of, elements.chi + PARAMETER * (2 + elements.is_arc), sections)
    free = (
        (apart + FREER < chained)
        & ~anchor[first[:-1]]
        & (course.bounds[first[1:]] - course.bounds[first[:-1]] >= LEAST_FREE)
    )
    # a section whose positions the other search gave to its neighbours has nothing to be compared
    # with
    free &= np.bincount(of, minlength=sections) > 0
    return free[section]


def ring_start(x, y, variance, offsets, closed):
    """Order of positions in which each ring starts at a joint, shape (m,)."""
    order = np.arange(len(x))
    rings = np.flatnonzero(closed)
    if not rings.size:
        return order
    first, size = offsets[:-1][rings], np.diff(offsets)[rings]
    index = ranges(first, size)
    inside = np.concatenate([[0], np.cumsum(size)])
    elements = fit_elements(
        x[index], y[index], variance[index] * ELEMENT_NOISE**2, inside, geometric=False
    )
    of_ring = np.searchsorted(elements.offsets[:-1], inside)
    several = np.diff(of_ring) > 1
    # best behind an arc: an arc goes over smoothly whatever follows
    place = np.arange(len(elements))
    behind = np.append(False, elements.is_arc[:-1])
    behind[of_ring[:-1]] = False
    choice = group_min(np.where(behind, place, len(elements)), of_ring, len(elements)).astype(
        np.int64
    )
    choice = np.where(choice < len(elements), choice, np.minimum(of_ring[:-1] + 1, len(elements)))
    begin = np.where(several, elements.offsets[choice] - inside[:-1], 0)
    order[index] = np.repeat(first, size) + (
        index - np.repeat(first, size) + np.repeat(begin, size)
    ) % np.repeat(size, size)
    return order


def _unwrapped(course, x, y):
    """Distance of each position's foot from its element's point; along arcs in the way of the
    positions, beyond half a circle too."""
    owner = group_index(course.bounds)
    s = course.curve.along(x, y, owner)
    bend = np.abs(course.curve.bend[owner])
    around = np.where(bend > 0, 2 * np.pi / np.where(bend > 0, bend, 1.0), np.inf)
    step = np.diff(s, prepend=s[:1])
    with np.errstate(invalid="ignore"):
        laps = np.where(
            np.isfinite(around), -np.rint(step / np.where(np.isfinite(around), around, 1.0)), 0.0
        )
    first = course.bounds[:-1][np.diff(course.bounds) > 0]
    laps[first] = 0.0
    laps = np.cumsum(laps)
    number = np.diff(course.bounds)
    middle = np.minimum(course.bounds[:-1] + number // 2, len(x) - 1)
    laps -= laps[middle][owner]
    return s + np.where(laps != 0, laps * np.where(np.isfinite(around), around, 0.0), 0.0), around


def _first_used(used, bounds, first):
    """The first position of each element that counts; its first one where none does."""
    place = np.minimum.accumulate(np.where(used, np.arange(len(used)), len(used))[::-1])[::-1][
        first
    ]
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
    seen_last = s[
        len(used)
        - 1
        - _first_used(used[::-1], len(used) - course.bounds[::-1], len(used) - 1 - last_at[::-1])[
            ::-1
        ]
    ]
    first, second, joints = joints_of(course, x, y)

    def near(value, element, wanted):  # the lap of an arc on which its positions lie
        turns = np.where(
            np.isfinite(lap[element]),
            np.rint((wanted - value) / np.where(np.isfinite(lap[element]), lap[element], 1.0)),
            0.0,
        )
        return value + np.where(
            turns != 0, turns * np.where(np.isfinite(lap[element]), lap[element], 0.0), 0.0
        )

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

    covariance = covariances(
        Moments.of(x, y, weight, course.bounds), curve, course.smooth, course.offsets, course.closed
    )
    off, vx, vy = curve.aside(x, y, owner)
    # of a place on the curve: cosine of the turn up to there, its distance along the tangent, half
    # its square distance
    ux, uy = curve.ux.take(owner), curve.uy.take(owner)
    dx, dy = x + off * vy - curve.x.take(owner), y - off * vx - curve.y.take(owner)
    lever = ux * vx + uy * vy, ux * dx + uy * dy, (dx * dx + dy * dy) / 2
    square = sum(
        (
            lever[i] * lever[j] * ((1 + (i != j)) * covariance[:, i, j]).take(owner)
            for i, j in PAIRS
        ),
        np.zeros(len(x)),
    )
    sigma = np.sqrt(np.maximum(square, 0.0))
    off = -off

    # links: straight on from where the one ends to where the other starts
    gap = np.flatnonzero(~met)
    after = first[gap]
    order = np.argsort(np.concatenate([e.astype(float), after + 0.5]), kind="stable")
    put = lambda own, link: np.concatenate([own, link])[order]  # noqa: E731
    way = start[second[gap]] - end[after]
    span = distance(*way.T)
    way = way / np.maximum(span, 1e-12)[:, None]
    radius = np.where(course.arc, 1 / np.where(course.arc, np.abs(curve.bend), 1.0), np.inf)
    cx, cy = curve.centre
    none = np.zeros(len(gap))
    run = put(group_index(course.offsets), group_index(course.offsets)[after])
    offsets = np.concatenate([[0], np.cumsum(np.bincount(run, minlength=len(course.offsets) - 1))])
    bounds = np.append(put(course.bounds[:-1], course.bounds[after + 1]), course.bounds[-1])
    length = put(np.maximum(high - low, 0.0), span)
    before = cumulative(length, offsets)
    within = np.clip(s - low[owner], 0.0, (high - low)[owner])
    here = base[run]
    place = np.empty(len(order), np.int64)
    place[order] = np.arange(len(order))
    chainage = running_max(before[place[:count]][owner] + within, course.bounds[course.offsets])
    return Chains(
        offsets,
        bounds,
        put(cx, end[after, 0]) + here[:, 0],
        put(cy, end[after, 1]) + here[:, 1],
        put(np.where(course.arc, 0.0, curve.ux), way[:, 0]),
        put(np.where(course.arc, 0.0, curve.uy), way[:, 1]),
        put(radius, none + np.inf),
        put(np.sign(curve.bend).astype(int), none.astype(int)),
        put(smooth, none > 0),
        put(start, end[after]) + here,
        put(end, start[second[gap]]) + here,
        length,
        put(
            np.where(
                course.arc,
                np.sqrt(np.maximum(covariance[:, 2, 2], 0.0))
                * np.where(course.arc, radius, 0.0) ** 2,
                np.nan,
            ),
            none + np.nan,
        ),
        course.closed,
        chainage,
        off,
        sigma,
        put(free, free[after] & free[second[gap]]),
        weight == 0,
        np.zeros((len(x), 2)),
    )
