"""Fit chains of tangents, arcs and joints to runs: search, local search, reweighting, result."""

from dataclasses import dataclass, replace
from typing import Optional, Union

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import (
    cumulative,
    group_index,
    group_max,
    group_min,
    offsets_of,
    ranges,
    running_max,
    split_groups,
)
from ..tuning import FIT, ROBUST, SEARCH
from .adjustment import PAIRS, covariances
from .asked_elements import AskedElements, as_asked, pieces_of, without_asked
from .chain import (
    adjust_changed,
    element_penalties,
    first_candidate,
    joint_penalties,
    joints_of,
    of_runs,
    put_runs,
    reassign_and_adjust,
    without,
)
from .fitted_chains import Chains
from .moments import Moments
from .moves import improve
from .outlier_rejection import (
    AskedMask,
    RejectionEvidence,
    outlying,
    reject_outliers,
    unconfirmed_ends,
)
from .search import fit_elements, project


@dataclass(frozen=True)
class FitOptions:
    """Limits of radii, and what is known of positions that may be outliers of the aim.

    Attributes
    ----------
    min_radius, max_radius : float, optional
        Of arcs, metres; by default those of `tuning.SEARCH`.
    may_reject : ndarray of bool, shape (m,), or AskedMask, optional
        Positions that may be rejected as outliers; by default none.
    variance_factor : ndarray of float, shape (m,), optional
        Factor on the variance of positions during the search; afterwards their residuals decide.
    height_llr : ndarray of float, shape (m,), optional
        Evidence of heights for an outlier, twice a log-likelihood ratio, squared sigmas
        (`height_evidence.height_llr`); by default none.
    spare_short : ndarray of bool, shape (m,), optional
        Positions that are not rejected for forming an element of one or two positions; by default
        none.
    asked : AskedElements, optional
        Elements and joints that a person asked for.
    sigmas : bool
        Whether uncertainties are wanted; else `sigma` and `radius_sigma` of the chains are NaN.
    """

    min_radius: Optional[float] = None
    max_radius: Optional[float] = None
    may_reject: Union[np.ndarray, AskedMask, None] = None
    variance_factor: Optional[np.ndarray] = None
    height_llr: Optional[np.ndarray] = None
    spare_short: Optional[np.ndarray] = None
    asked: Optional[AskedElements] = None
    sigmas: bool = True

    @property
    def radii(self):
        """Minimum and maximum radius, metres."""
        low, high = SEARCH.radii
        return (
            low if self.min_radius is None else self.min_radius,
            high if self.max_radius is None else self.max_radius,
        )

    def part(self, low, high):
        """The same options for positions `low` to before `high`."""
        arrays = {
            name: None if getattr(self, name) is None else getattr(self, name)[low:high]
            for name in ("may_reject", "variance_factor", "height_llr", "spare_short")
        }
        asked = None if self.asked is None else self.asked.part(low, high)
        return replace(self, asked=asked, **arrays)


@dataclass(frozen=True)
class _Problem:
    """Runs that are fitted together.

    `x`, `y`, (m,), are relative to an origin in each run, `base`, (runs, 2): large coordinates
    would cost digits. `variance`, (m,), is that of positions about their element; `sought` the same
    with the factors that hold during the search.
    """

    x: np.ndarray
    y: np.ndarray
    variance: np.ndarray
    sought: np.ndarray
    offsets: np.ndarray
    closed: np.ndarray
    base: np.ndarray
    radii: tuple
    evidence: RejectionEvidence  # None if no position may be rejected
    may_drop: Union[np.ndarray, AskedMask, None]  # positions that short elements may lose
    asked: AskedElements  # None if nothing is asked for
    sigmas: bool  # whether uncertainties are wanted

    @classmethod
    def of(cls, x, y, variance, offsets, closed, options):
        origin = np.zeros((len(offsets) - 1, 2))
        if len(x):
            origin = np.column_stack([x, y])[np.minimum(offsets[:-1], len(x) - 1)]
        number = np.diff(offsets)
        variance = variance * SEARCH.element_noise**2
        factor, llr, may_drop = options.variance_factor, options.height_llr, options.may_reject
        evidence = None
        if options.may_reject is not None:
            llr = np.zeros(len(x)) if llr is None else llr
            evidence = RejectionEvidence(np.sqrt(variance), options.may_reject, llr)
            if options.spare_short is not None:
                may_drop = may_drop & ~options.spare_short
        return cls(
            x=x - np.repeat(origin[:, 0], number),
            y=y - np.repeat(origin[:, 1], number),
            variance=variance,
            sought=variance if factor is None else variance * factor,
            offsets=offsets,
            closed=closed,
            base=origin,
            radii=options.radii,
            evidence=evidence,
            may_drop=may_drop,
            asked=options.asked,
            sigmas=options.sigmas,
        )

    def pieces(self):
        """The same with runs cut where asked elements begin."""
        if self.asked is None:
            return self
        offsets, of_run = pieces_of(self.asked, self.offsets)
        number = np.diff(of_run)
        return replace(
            self,
            offsets=offsets,
            closed=np.repeat(self.closed & (number == 1), number),
            base=np.repeat(self.base, number, axis=0),
        )

    def residuals(self, candidate):
        """Distances of positions from their elements, in sigmas."""
        signed = candidate.primitives.signed_distance(self.x, self.y, group_index(candidate.bounds))
        return np.abs(signed) / np.sqrt(self.variance)


def fit_chains(x, y, variance, offsets, closed=None, options=None, progress=None):
    """Fit tangents, arcs and their joints to all runs.

    Parameters
    ----------
    x, y : ndarray of float, shape (m,)
        Positions in the order of travel, metres. Those of a ring may start anywhere, best at a
        joint (`ring_start`).
    variance : ndarray of float, shape (m,)
        Of each position and axis, m2.
    offsets : ndarray of int, shape (runs + 1,)
    closed : ndarray of bool, shape (runs,), optional
        Runs whose last element joins the first one.
    options : FitOptions, optional
    progress : callable, optional
        Called with the share of work done; may raise to stop it.

    Returns
    -------
    Chains

    Notes
    -----
    `search.fit_elements` finds the elements, each free of the others. Then the elements of each run
    are adjusted together with their joints, and the local search tries others: fewer, of another
    kind, with other joints. It keeps what lowers the cost, the sum of squares in sigmas plus a
    penalty for each free parameter. Finally positions with large residuals lose weight.
    """
    options = options or FitOptions()
    progress = progress or (lambda share: None)
    closed = np.zeros(len(offsets) - 1, bool) if closed is None else closed
    run = group_index(offsets)
    parts, first = [], 0
    for low, high in split_groups(run, FIT.together):
        # runs without positions too
        own = slice(first, run[high] if high < len(run) else len(offsets) - 1)
        first = own.stop

        def of_part(share, low=low, high=high):
            progress((low + share * (high - low)) / max(len(x), 1))

        problem = _Problem.of(
            x[low:high],
            y[low:high],
            variance[low:high],
            np.append(offsets[own], high) - low,
            closed[own],
            options.part(low, high),
        )
        parts.append(_fit_together(problem, of_part))
    return parts[0] if len(parts) == 1 else Chains.concatenate(parts)


def _fit_together(problem, progress):
    """Chains of all runs of a problem: search, local search, reweighting, result."""
    pieces = problem.pieces()
    elements = fit_elements(
        problem.x,
        problem.y,
        problem.sought,
        pieces.offsets,
        lambda share: progress(0.35 * share),  # exact: its share of the time
        problem.radii,
        False,
    )
    if not len(elements):
        return Chains.without_elements(problem.closed)
    candidate, weight = _search_locally(pieces, elements, progress)
    candidate, weight = _reweight(pieces, candidate, weight)
    if problem.asked is not None:
        candidate, weight = as_asked(problem, candidate, weight)
    free = _free_form(candidate, elements, problem.x, problem.y)
    if problem.asked is not None:
        free = without_asked(free, candidate, problem.asked)
    chains = _finish(problem, candidate, weight, free)
    return _with_feet(problem, chains, elements)


def _search_locally(problem, elements, progress):
    """The cheapest candidate chains near the elements found, and the weights of positions, 0 where
    they are rejected."""
    x, y, weight = problem.x, problem.y, 1 / problem.sought
    candidate = first_candidate(elements, x, y, problem.offsets, problem.closed, problem.radii)
    candidate = reassign_and_adjust(candidate, x, y, weight)
    progress(0.5)
    candidate = improve(candidate, x, y, weight)
    progress(0.75)  # exact: as above
    if problem.evidence is not None and problem.may_drop.any():
        evidence = replace(problem.evidence, may_reject=problem.may_drop)
        candidate, weight = reject_outliers(candidate, x, y, weight, evidence)
    progress(0.85)  # exact: as above
    return reassign_and_adjust(candidate, x, y, weight, 1, warm=True), weight


def _reweight(problem, candidate, used):
    """Reweight by the residuals (Huber 1964) and reject outliers: the adjusted chains and their
    weights; `used` are the weights of the adjustment before."""
    weight = np.where(used > 0, 1 / problem.variance, 0.0)
    for _ in range(FIT.robust_rounds):
        changed_runs = np.zeros(len(problem.offsets) - 1, bool)
        residual = problem.residuals(candidate)
        if problem.evidence is not None:
            candidate, weight, changed_runs = _reject_by_chains(
                problem, candidate, weight, residual
            )
            if changed_runs.any():
                residual = problem.residuals(candidate)
        lighter = weight * np.minimum(ROBUST.huber_sigmas / np.maximum(residual, 1e-9), 1.0)
        changed = group_max(lighter != used, candidate.bounds, False)
        changed |= changed_runs[group_index(candidate.offsets)]
        candidate = adjust_changed(candidate, problem.x, problem.y, lighter, changed)
        used = lighter
    return candidate, used


def _reject_by_chains(problem, candidate, weight, residual):
    """Reject outliers by their residuals, and unconfirmed ends: chains, weights, and the runs
    (mask) that changed."""
    x, y, evidence = problem.x, problem.y, problem.evidence
    run = group_index(problem.offsets)
    changed = np.zeros(len(problem.offsets) - 1, bool)
    counted = np.where(weight > 0, residual, 0.0)
    far = outlying(counted, evidence.sigma, run, candidate.bounds)
    far[far] = evidence.may_reject[np.flatnonzero(far)]
    ends, empty = unconfirmed_ends(candidate, x, y, weight, evidence)
    if not (far.any() or ends.any()):
        return candidate, weight, changed
    weight = np.where(far | ends, 0.0, weight)
    near = np.zeros(len(candidate), bool)
    near[group_index(candidate.bounds)[far]] = True
    runs = np.unique(run[far | ends])
    part, place, element = of_runs(candidate, runs)
    part, near = without(part, empty[element]), near[element][~empty[element]]
    px, py, pw = x[place], y[place], weight[place]
    part = improve(reassign_and_adjust(part, px, py, pw), px, py, pw, near)
    changed[runs] = True
    return put_runs(candidate, part, runs), weight, changed


def _with_feet(problem, chains, elements):
    """The chains with the feet of their positions; in free-form stretches, feet and residuals are
    those on the elements of the search, which need not join."""
    x, y, offsets, base = problem.x, problem.y, problem.offsets, problem.base
    owner = group_index(chains.bounds)
    before = cumulative(chains.length, chains.offsets)
    feet, _ = chains.at(chains.chainage - before[owner], owner)
    loose = np.flatnonzero(chains.spline[owner])
    if loose.size:
        run = group_index(offsets)
        feet[loose] = project(elements, x, y)[loose] + base[run[loose]]
        ahead = np.minimum(loose + 1, offsets[1:][run[loose]] - 1)
        back = np.maximum(loose - 1, offsets[:-1][run[loose]])
        way = feet[ahead] - feet[back]
        way /= np.maximum(distance(*way.T), 1e-12)[:, None]
        shift = np.column_stack([x, y])[loose] + base[run[loose]] - feet[loose]
        chains.residual[loose] = shift[:, 0] * way[:, 1] - shift[:, 1] * way[:, 0]
    return replace(chains, feet=feet)


def _free_form(candidate, elements, x, y):
    """Elements (mask) of sections that tangents and arcs explain better if they need not join.

    Sections lie between long tangents. Both explanations are compared by their cost; the one
    without joints must be cheaper by `FIT.free_form_penalty`.
    """
    count = len(candidate)
    number = np.diff(candidate.bounds)
    run = group_index(candidate.offsets)
    anchor = ~candidate.arc & (number >= FIT.anchor)
    joint = joint_penalties(candidate, x, y, 0.0)
    joint_before = np.append(0.0, np.where(run[1:] == run[:-1], joint[:-1], 0.0))
    new = np.ones(count, bool)
    new[1:] = anchor[1:] | anchor[:-1] | (run[1:] != run[:-1])
    section = np.cumsum(new) - 1
    sections = section[-1] + 1
    first = np.append(np.flatnonzero(new), count)
    own = candidate.chi + element_penalties(candidate.arc) + joint
    joined = np.bincount(section, own, sections) + joint_before[first[:-1]]
    middle = (elements.offsets[:-1] + elements.offsets[1:] - 1) // 2
    of = section[np.searchsorted(candidate.bounds, middle, "right") - 1]
    own = elements.chi + element_penalties(elements.is_arc)
    apart = np.bincount(of, own, sections)
    free = (
        (apart + FIT.free_form_penalty < joined)
        & ~anchor[first[:-1]]
        & (candidate.bounds[first[1:]] - candidate.bounds[first[:-1]] >= FIT.free_form_positions)
    )
    # a section without an element of the search has nothing to be compared with
    free &= np.bincount(of, minlength=sections) > 0
    return free[section]


def ring_start(x, y, variance, offsets, closed):
    """Order of positions that lets each ring start at a joint.

    Parameters
    ----------
    x, y, variance : ndarray of float, shape (m,)
        As in `fit_chains`.
    offsets : ndarray of int, shape (runs + 1,)
    closed : ndarray of bool, shape (runs,)

    Returns
    -------
    ndarray of int, shape (m,)
        Rings start after an arc, if they have one, since arcs join tangentially. Open runs stay as
        they are.
    """
    order = np.arange(len(x))
    rings = np.flatnonzero(closed)
    if not rings.size:
        return order
    first, size = offsets[:-1][rings], np.diff(offsets)[rings]
    index = ranges(first, size)
    inside = offsets_of(size)
    elements = fit_elements(
        x[index], y[index], variance[index] * SEARCH.element_noise**2, inside, geometric=False
    )
    of_ring = np.searchsorted(elements.offsets[:-1], inside)
    several = np.diff(of_ring) > 1
    count, place = len(elements), np.arange(len(elements))
    behind = np.append(False, elements.is_arc[:-1])
    behind[of_ring[:-1]] = False
    choice = group_min(np.where(behind, place, count), of_ring, count).astype(np.int64)
    choice = np.where(choice < count, choice, np.minimum(of_ring[:-1] + 1, count))
    begin = np.where(several, elements.offsets[choice] - inside[:-1], 0)
    first, begin, size = (np.repeat(values, size) for values in (first, begin, size))
    order[index] = first + (index - first + begin) % size
    return order


@dataclass(frozen=True)
class _Extents:
    """Where elements begin and end.

    `low`, `high`, (elements,): distances along the elements from their points, m; `s`, (m,): those
    of the positions' feet. `first`, `second`, (joints,): elements at each joint; `place`, (joints,
    2): where it is; `met`: whether they meet there. `whole`: elements that are full circles.
    """

    low: np.ndarray
    high: np.ndarray
    s: np.ndarray
    first: np.ndarray
    second: np.ndarray
    place: np.ndarray
    met: np.ndarray
    whole: np.ndarray


def _extents(candidate, x, y, weight):
    """Extents of all elements from joint to joint, or to their outermost positions where they do
    not meet."""
    s, around = _unwrapped(candidate, x, y)
    lap = np.full(len(candidate), np.inf)
    lap[group_index(candidate.bounds)] = around
    seen_first, seen_last = _reached(candidate, s, weight > 0)
    first, second, joints = joints_of(candidate, x, y)
    met = joints.met
    for _ in range(3):  # an element that would run backward meets no neighbour
        low, high = seen_first.copy(), seen_last.copy()
        a, b = first[met], second[met]
        jx, jy = joints.x[met], joints.y[met]
        along = candidate.primitives.along
        high[a] = _on_lap(along(jx, jy, a), lap[a], seen_last[a])
        low[b] = _on_lap(along(jx, jy, b), lap[b], seen_first[b])
        backward = high < low - 1e-6
        wrong = met & (backward[first] | backward[second])
        if not wrong.any():
            break
        met = met & ~wrong
    low = np.minimum(low, high)
    single = np.flatnonzero(candidate.closed & (np.diff(candidate.offsets) == 1))  # a full circle
    whole = candidate.offsets[:-1][single]
    whole = whole[candidate.arc[whole]]
    high[whole] = low[whole] + lap[whole]
    return _Extents(low, high, s, first, second, np.column_stack([joints.x, joints.y]), met, whole)


def _unwrapped(candidate, x, y):
    """Distance of each position's foot along its element, unwrapped so that arcs may exceed half a
    circle; and the circumference of its circle, infinite for tangents."""
    owner = group_index(candidate.bounds)
    s = candidate.primitives.along(x, y, owner)
    curvature = np.abs(candidate.primitives.curvature[owner])
    around = np.where(curvature > 0, 2 * np.pi / np.where(curvature > 0, curvature, 1.0), np.inf)
    finite = np.isfinite(around)
    step = np.diff(s, prepend=s[:1])
    with np.errstate(invalid="ignore"):
        laps = np.where(finite, -np.rint(step / np.where(finite, around, 1.0)), 0.0)
    number = np.diff(candidate.bounds)
    laps[candidate.bounds[:-1][number > 0]] = 0.0
    laps = np.cumsum(laps)
    middle = np.minimum(candidate.bounds[:-1] + number // 2, len(x) - 1)
    laps -= laps[middle][owner]
    return s + np.where(laps != 0, laps * np.where(finite, around, 0.0), 0.0), around


def _on_lap(value, lap, wanted):
    """Distances along arcs, shifted by whole laps to be nearest to `wanted`."""
    finite = np.isfinite(lap)
    turns = np.where(finite, np.rint((wanted - value) / np.where(finite, lap, 1.0)), 0.0)
    return value + np.where(turns != 0, turns * np.where(finite, lap, 0.0), 0.0)


def _reached(candidate, s, used):
    """Distances along each element of its first and its last position that is not rejected."""
    bounds, count = candidate.bounds, len(used)
    first_at, last_at = bounds[:-1], bounds[1:] - 1
    back = _first_used(used[::-1], count - bounds[::-1], count - 1 - last_at[::-1])
    return s[_first_used(used, bounds, first_at)], s[count - 1 - back[::-1]]


def _first_used(used, bounds, first):
    """The first position of each element that is used; its first one if none is."""
    count = len(used)
    following = np.minimum.accumulate(np.where(used, np.arange(count), count)[::-1])[::-1]
    place = following[first]
    return np.where(place < bounds[1:], place, first)


def _ends(candidate, extents):
    """Start and end of each element, (elements, 2), and whether the joint after it is
    tangential."""
    count, met = len(candidate), extents.met
    e = np.arange(count)
    start, end = (
        np.column_stack(candidate.primitives.at(s, e)[:2]) for s in (extents.low, extents.high)
    )
    first, second, whole = extents.first[met], extents.second[met], extents.whole
    end[first], start[second] = extents.place[met], extents.place[met]
    end[whole] = start[whole]
    smooth = np.zeros(count, bool)
    smooth[first] = candidate.smooth[first]
    smooth[whole] = True
    return start, end, smooth


def across(primitives, bounds, x, y, spreads):
    """Distances of positions from their elements, and uncertainties of the elements there.

    Parameters
    ----------
    primitives : Primitives
    bounds : ndarray of int, shape (elements + 1,)
        Positions of each element.
    x, y : ndarray of float, shape (m,)
        Metres.
    spreads : sequence of ndarray of float, shape (elements, 3, 3)
        Covariances of shift, turn and curvature. The derivatives of an element's place across are
        the cosine of the turn up to there, the distance along the tangent, and half the squared
        distance.

    Returns
    -------
    signed : ndarray of float, shape (m,)
        Distance, + to the left; metres.
    sigmas : list of ndarray of float, shape (m,)
        1-sigma of the element across by each of the `spreads`; metres.
    """
    owner = group_index(bounds)
    signed, vx, vy = primitives.distance_and_direction(x, y, owner)
    if not len(spreads):
        return signed, []
    ux, uy = primitives.ux.take(owner), primitives.uy.take(owner)
    dx, dy = x + signed * vy - primitives.x.take(owner), y - signed * vx - primitives.y.take(owner)
    lever = ux * vx + uy * vy, ux * dx + uy * dy, (dx * dx + dy * dy) / 2
    squares = np.zeros((len(spreads), len(x)))
    for i, j in PAIRS:
        both = lever[i] * lever[j]
        for square, covariance in zip(squares, spreads):
            square += both * ((1 + (i != j)) * covariance[:, i, j]).take(owner)
    return signed, [np.sqrt(np.maximum(square, 0.0)) for square in squares]


def _finish(problem, candidate, weight, free):
    """The result: ends, links between elements that do not meet, chainages, uncertainty; `feet` are
    still to be filled in."""
    x, y = problem.x, problem.y
    extents = _extents(candidate, x, y, weight)
    start, end, smooth = _ends(candidate, extents)
    known = [_covariance(candidate, x, y, weight)] if problem.sigmas else []
    signed, sigma = across(candidate.primitives, candidate.bounds, x, y, known)
    variance = known[0][:, 2, 2] if known else np.full(len(candidate), np.nan)
    columns = _with_links(candidate, extents, (start, end, smooth), variance, free)
    run = columns.pop("run")
    here = problem.base[run]
    for name in ("start", "end"):
        columns[name] = columns[name] + here
    columns["x"], columns["y"] = columns["x"] + here[:, 0], columns["y"] + here[:, 1]
    place = columns.pop("place")
    offsets = offsets_of(np.bincount(run, minlength=len(candidate.offsets) - 1))
    owner = group_index(candidate.bounds)
    before = cumulative(columns["length"], offsets)
    low, high = extents.low, extents.high
    within = np.clip(extents.s - low[owner], 0.0, (high - low)[owner])
    return Chains(
        offsets=offsets,
        **columns,
        closed=candidate.closed,
        chainage=running_max(before[place][owner] + within, candidate.bounds[candidate.offsets]),
        residual=-signed,
        sigma=sigma[0] if known else np.full(len(x), np.nan),
        outlier=weight == 0,
        feet=np.zeros((len(x), 2)),
    )


def _covariance(candidate, x, y, weight):
    """Covariance of the unknowns of each element, (elements, 3, 3)."""
    moments = Moments.of(x, y, weight, candidate.bounds)
    return covariances(
        moments, candidate.primitives, candidate.smooth, candidate.offsets, candidate.closed
    )


def _with_links(candidate, extents, ends, variance, free):
    """Columns of `Chains` for the elements and for the straight links between those that do not
    meet; and `run` of each row, and `place`, the row of each element. `variance`, (elements,): of
    curvatures."""
    start, end, smooth = ends
    primitives, arc, count = candidate.primitives, candidate.arc, len(candidate)
    gap = np.flatnonzero(~extents.met)
    after, behind = extents.first[gap], extents.second[gap]
    order = np.argsort(np.concatenate([np.arange(count) + 0.0, after + 0.5]), kind="stable")

    def put(own, link):
        return np.concatenate([own, link])[order]

    way = start[behind] - end[after]
    span = distance(*way.T)
    way = way / np.maximum(span, 1e-12)[:, None]
    none = np.zeros(len(gap))
    radius = np.where(arc, 1 / np.where(arc, np.abs(primitives.curvature), 1.0), np.inf)
    spread = np.sqrt(np.maximum(variance, 0.0)) * np.where(arc, radius, 0.0) ** 2
    cx, cy = primitives.centre
    run = group_index(candidate.offsets)
    place = np.empty(len(order), np.int64)
    place[order] = np.arange(len(order))
    bounds = candidate.bounds
    return {
        "run": put(run, run[after]),
        "place": place[:count],
        "bounds": np.append(put(bounds[:-1], bounds[after + 1]), bounds[-1]),
        "x": put(cx, end[after, 0]),
        "y": put(cy, end[after, 1]),
        "ux": put(np.where(arc, 0.0, primitives.ux), way[:, 0]),
        "uy": put(np.where(arc, 0.0, primitives.uy), way[:, 1]),
        "radius": put(radius, none + np.inf),
        "turn": put(np.sign(primitives.curvature).astype(int), none.astype(int)),
        "smooth": put(smooth, none > 0),
        "start": put(start, end[after]),
        "end": put(end, start[behind]),
        "length": put(np.maximum(extents.high - extents.low, 0.0), span),
        "radius_sigma": put(np.where(arc, spread, np.nan), none + np.nan),
        "spline": put(free, free[after] & free[behind]),
    }
