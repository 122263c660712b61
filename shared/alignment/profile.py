"""Vertical profiles of runs: robust grades, their uncertainty, and heights between positions."""

from dataclasses import dataclass, replace

import numpy as np

from ..arrays.ragged import apart, group_index, group_sum, offsets_of, on_grid
from ..arrays.spline import Spline
from ..tuning import FALLS, GRADE_BREAKS, PROFILES, ROBUST
from .falls import find_falls
from .grades import fit_grades, refit


@dataclass(frozen=True)
class Profile(Spline):
    """Straight grades as a spline of one column, with breaks at positions and between them.

    Arrays of shape (breaks,), in order: `break_interval`, the position at or after which a grade
    break lies; `break_share`, its share of the way to the next position, 0 to 1; `break_height` in
    metres.
    """

    break_interval: np.ndarray
    break_share: np.ndarray
    break_height: np.ndarray

    def at(self, interval, share):
        """Heights inside intervals, shape (q, 1); parameters as in `Spline`."""
        z = self.values[:, 0]
        chord = (z[interval] + share * (z[interval + 1] - z[interval]))[:, None]
        if not len(self.break_interval):
            return chord
        place = np.minimum(
            np.searchsorted(self.break_interval, interval, "right") - 1,
            len(self.break_interval) - 1,
        )
        inside = (
            (place >= 0) & (self.break_interval[place] == interval) & (self.break_share[place] > 0)
        )
        place, k, t = place[inside], interval[inside], share[inside]
        top = self.break_share[place]
        rise = (
            self.break_height[place] - (1 - top) * self.values[k, 0] - top * self.values[k + 1, 0]
        )
        chord[inside, 0] += rise * np.minimum(t / top, (1 - t) / (1 - top))
        return chord


@dataclass(frozen=True)
class Heights:
    """Fitted heights of the positions of all runs; arrays of shape (m,).

    Attributes
    ----------
    profile : Profile
        NaN in runs without any height.
    sigma : float
        1-sigma of the profile at each position, metres, from white noise alone.
    slope : float
        Along the run, m/m, + rising in the direction of travel; at a break, of the grade after it.
    variance : float
        Of each observed height as finally weighted, m2; infinite if there is none.
    fall : ndarray of float, shape (runs, 2)
        Slope of the ground along both axes that the profile leaves out, m/m; 0 where it was not
        looked for.
    """

    profile: Profile
    sigma: np.ndarray
    slope: np.ndarray
    variance: np.ndarray
    fall: np.ndarray

    @classmethod
    def unknown(cls, s, offsets):
        """Heights of runs without any observed height; `s`, `offsets` as in `fit_heights`."""
        nowhere, none = np.full(len(s), np.nan), np.zeros(0)
        profile = _profile(s, offsets, nowhere, (none.astype(np.int64), none, none))
        level = np.zeros((len(offsets) - 1, 2))
        return cls(profile, nowhere, nowhere.copy(), np.full(len(s), np.inf), level)


# long: the docstring names every parameter; the code has 37 lines
# parameters: what rings and places in plan tell may be left out
def fit_heights(s, z, variance, offsets, spacing, closed=None, closing=None, places=None):
    """Fit vertical profiles to all runs: straight grades between grade breaks.

    Parameters
    ----------
    s : ndarray of float, shape (m,)
        Chainage of the positions along their run, metres, increasing.
    z, variance : ndarray of float, shape (m,)
        Heights of the positions, metres, and their variances, m2; NaN if unknown.
    offsets : ndarray of int, shape (runs + 1,)
        No run is empty.
    spacing : ndarray of float, shape (m,)
        Typical spacing in the capture of each position, metres.
    closed : ndarray of bool, shape (runs,), optional
        Runs that are rings: their last height joins their first.
    closing : ndarray of float, shape (runs,), optional
        Distance from the last position of a ring to its first, metres; by default the typical
        spacing.
    places : ndarray of float, shape (m, 2), optional
        Of the positions in plan, relative to a place of their run, metres. If given, the fall of
        the ground beside the grades is found, and the profile is that of the heights less `fall`
        times these places.

    Returns
    -------
    Heights

    Notes
    -----
    Heights far off the line of their neighbours lose weight first, then those far off the fitted
    grades (Huber 1964, Robust estimation of a location parameter, Annals of Mathematical Statistics
    35). The variance of the profile is that of a straight line fitted to the heights of its grade
    alone, ``1/n + t**2 / sum(t**2)`` with t from their middle, which to first order is that of a
    grade with free breaks.
    """
    s, offsets, run = np.asarray(s, float), np.asarray(offsets), group_index(offsets)
    known = np.isfinite(z) & np.isfinite(variance)
    if not known.any():
        return Heights.unknown(s, offsets)
    count = group_sum(known.astype(np.int64), offsets)
    rings = (count > 2) & (False if closed is None else closed)
    x, circle = _apart(s, offsets, spacing, rings, closing)
    # runs that have heights, renumbered
    has = count > 0
    number = np.cumsum(has) - 1
    bounds = offsets_of(count[has])
    base = group_sum(z[known], bounds) / count[has]
    xk, zk, ring = x[known], z[known] - base[number[run[known]]], circle[has]
    grades, var, start = _robust_grades(xk, zk, variance[known], bounds, ring)
    falls, fall = None, np.zeros((len(count), 2))
    if places is not None:
        seen = xk, zk, variance[known], bounds, ring
        grades, var, start, falls = _beside_falls(seen, places[known], grades, var, start)
        fall[has] = falls.slope
    variance = np.full(len(s), np.inf)
    variance[known] = var

    seen = np.flatnonzero(has[run])
    own, place = number[run[seen]], x[seen]
    # in a ring, places before the first height lie on the step that closes the ring
    place = place + np.where(place < xk[bounds[:-1]][own], np.nan_to_num(ring)[own], 0.0)
    at = grades.grade(place, own)
    height, grade, fixed = grades.along(place, own, at)
    loose = np.minimum(_line_variance(grades, xk, 1 / var, start, place, at), variance[seen])
    spread = np.maximum(fixed, np.where(np.isfinite(loose), loose, 0.0))
    if falls is None:
        spread = PROFILES.search_factor**2 * spread
    else:
        aside = falls.variance(places[seen], place, own, at)
        spread = FALLS.search_factor**2 * spread + aside
    value, sigma, slope = np.full((3, len(s)), np.nan)
    value[seen], slope[seen] = height + base[own], grade
    sigma[seen] = np.sqrt(spread)
    profile = _profile(s, offsets, value, _breaks(grades, x, base))
    return Heights(profile, sigma, slope, variance, fall)


def _profile(s, offsets, value, breaks):
    """Profile of heights `value`, (m,), with breaks as `_breaks` returns them."""
    none = np.zeros((len(s), 1))
    return Profile(s, offsets, value[:, None], none, none, *breaks)


def _apart(s, offsets, spacing, rings, closing):
    """Chainages of all runs on one axis, with room between them for rings (mask) to close; and the
    lengths of the rings, NaN for open runs."""
    first, last = offsets[:-1], offsets[1:] - 1
    length = s[last] - s[first]
    step = spacing[first] if closing is None else np.maximum(closing, PROFILES.min_closing)
    circle = np.where(rings, on_grid(length + step), np.nan)
    run = group_index(offsets)
    reach = length + np.where(np.isfinite(circle), circle, 0.0)
    return on_grid(s - s[first][run]) + apart(reach)[run], circle


def _robust_grades(x, z, variance, offsets, ring):
    """Robust grades of all runs, the variances of the heights (raised for outliers), and the grade
    of each height; `offsets` and `ring` as in `fit_grades`."""
    run = group_index(offsets)
    variance = _doubt(x, z, variance, offsets)
    grades = fit_grades(x, z, 1 / variance, offsets, ring)
    start = grades.grade(x, run)
    residual = np.abs(z - grades.along(x, run, start)[0])
    variance = variance * np.maximum(residual / (ROBUST.huber_sigmas * np.sqrt(variance)), 1.0)
    return refit(x, z, 1 / variance, grades.at, grades.run, ring), variance, start


def _beside_falls(seen, places, grades, variance, start):
    """Grades of the heights without what the fall of the ground explains, and that fall.

    Parameters
    ----------
    seen : tuple
        Arguments of `_robust_grades`.
    places : ndarray of float, shape (n, 2)
    grades, variance, start
        What it returned.

    Returns
    -------
    grades, variance, start
        Breaks are sought again in runs whose fall explains what a break costs: they need fewer.
    falls : Falls
    """
    x, z, nominal, offsets, ring = seen
    run = group_index(offsets)
    falls = find_falls(x, z, 1 / variance, places, grades, start, (run, ring))
    again = falls.explains > GRADE_BREAKS.break_penalty
    if again.any():
        own = again[run]
        level = z[own] - (falls.slope[run[own]] * places[own]).sum(axis=1)
        fewer, variance[own], _ = _robust_grades(
            x[own], level, nominal[own], offsets_of(np.diff(offsets)[again]), ring[again]
        )
        same = ~again[grades.run]
        at = np.append(grades.at[same], fewer.at)
        of = np.append(grades.run[same], np.flatnonzero(again)[fewer.run])
        order = np.argsort(at, kind="stable")
        grades = refit(x, z, 1 / variance, at[order], of[order], ring)
        start = grades.grade(x, run)
        falls = find_falls(x, z, 1 / variance, places, grades, start, (run, ring))
    return replace(grades, value=falls.level(grades)), variance, start, falls


def _doubt(x, z, variance, offsets):
    """Variances, raised where a height lies far off the line of its nearest neighbours.

    The criterion is the externally studentized residual of a line through five heights (Belsley,
    Kuh and Welsch 1980, Regression Diagnostics). Neighbours that agree better than their noise get
    no credit for that; on and next to ramps they agree less, and the criterion becomes milder.
    """
    size = 2 * PROFILES.neighbours + 1
    run = group_index(offsets)
    first, last = offsets[:-1][run], offsets[1:][run] - 1
    place = np.arange(len(x))
    rim = (place == first) | (place == last)
    # a quick test against the nearest two leaves few heights for the full one
    low = np.clip(place - 1, first, np.maximum(last - 2, first))
    a, b = np.where(place == low, low + 1, low), np.where(place == low + 2, low + 1, low + 2)
    a, b = np.minimum(a, last), np.minimum(b, last)
    chord = np.abs(z - (z[a] + z[b]) / 2)
    look = np.flatnonzero(
        (last - first >= size - 1) & (rim | (chord > PROFILES.doubtful / 2 * np.sqrt(variance)))
    )
    low = np.clip(look - PROFILES.neighbours, first[look], last[look] - size + 1)
    around = low[:, None] + np.arange(size)
    weight = np.where(around == look[:, None], 0.0, 1 / variance[around])
    u, v = x[around] - x[look][:, None], z[around] - z[look][:, None]
    w, wu, wuu, wv, wuv, wvv = (
        np.sum(weight * term, axis=1) for term in (1.0, u, u * u, v, u * v, v * v)
    )
    det = w * wuu - wu * wu
    level, slope = (wuu * wv - wu * wuv) / det, (w * wuv - wu * wv) / det
    left = wvv - level * wv - slope * wuv
    agreed = np.maximum(left / (size - 3), 1.0)  # variance factor of four heights about their line
    studentized = np.abs(level) / np.sqrt(agreed * (variance[look] + wuu / det))
    hit = (studentized > PROFILES.doubtful) & (~rim[look] | (np.abs(level) > PROFILES.end_step))
    out = variance.copy()
    # weights fall off faster than Huber's: such heights must have no influence
    out[look[hit]] *= (studentized[hit] / ROBUST.huber_sigmas) ** PROFILES.doubt_power
    return out


def _line_variance(grades, x, weight, of, place, at):
    """Variance, at places, of a line fitted to the observations of its grade alone; infinite
    without observations.

    `of` and `at`: the grades of the observations and of the places.
    """
    size = len(grades.at)
    total = np.bincount(of, weight, size)
    with np.errstate(invalid="ignore", divide="ignore"):
        way = x - grades.at.take(of)  # from the grade's start
        middle = np.bincount(of, weight * way, size) / total
        square = np.bincount(of, weight * (way - middle.take(of)) ** 2, size)
        # exact: one observation makes a level grade; its square may differ from 0 by rounding
        square = np.where(square * 1e9 > total, square, np.inf)
        return 1 / total.take(at) + (
            place - grades.at.take(at) - middle.take(at)
        ) ** 2 / square.take(at)


def _breaks(grades, x, base):
    """Grade breaks as places between positions: interval, share and height, as in `Profile`."""
    inner = np.flatnonzero((np.diff(grades.run[:-1]) == 0) & (np.diff(grades.run[1:]) == 0)) + 1
    interval = np.searchsorted(x, grades.at[inner], "right") - 1
    share = (grades.at[inner] - x[interval]) / (x[interval + 1] - x[interval])
    onward = share > 1 - PROFILES.same_place
    share = np.where(onward | (share < PROFILES.same_place), 0.0, share)
    return interval + onward, share, grades.value[inner] + base[grades.run[inner]]
