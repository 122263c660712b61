"""Spot points of each day against points with known coordinates: was the base set up correctly?

A wrong base position or antenna height shifts everything measured that day alike. No smoothing
shows it, and a comparison with an old basemap shows it only mixed with changes on the ground.
"""

from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2, norm

from ..tuning import DAY_CONTROL
from .point_pairs import pair_points


@dataclass(frozen=True)
class Spots:
    """Points measured standing still; arrays of shape (n,), metres.

    `xyz`, shape (n, 3): in a frame true to scale, height NaN where there is none. `sigma`,
    `sigma_up`: 1-sigma of each axis in plan, and of the height; NaN where unknown. `day`: int code.
    """

    xyz: np.ndarray
    sigma: np.ndarray
    sigma_up: np.ndarray
    day: np.ndarray


@dataclass(frozen=True)
class DayControl:
    """Each day against the control points; arrays of shape (days,), metres.

    Attributes
    ----------
    number : ndarray of int
        Control points that the day's spots were compared with.
    east, north, up : ndarray of float
        Mean of spot minus control; NaN without a pair, or without a height.
    sigma, sigma_up : ndarray of float
        1-sigma of these means, of each axis in plan and of the height.
    off, off_up : ndarray of bool
        The day is off in plan, in height: by more than chance and by more than `DAY_CONTROL.least`.
    control : ndarray of int, shape (spots,)
        Row of the control point that each spot was compared with, -1 for none.
    """

    number: np.ndarray
    east: np.ndarray
    north: np.ndarray
    up: np.ndarray
    sigma: np.ndarray
    sigma_up: np.ndarray
    off: np.ndarray
    off_up: np.ndarray
    control: np.ndarray


def check_days(spots, control, search_distance):
    """Compare the spot points of each day with control points.

    Parameters
    ----------
    spots : Spots
    control : ndarray of float, shape (c, 3)
        Known coordinates in the same frame, taken as free of error, metres; height NaN where
        unknown.
    search_distance : float
        Maximum distance between a spot and its control point, metres.

    Returns
    -------
    DayControl

    Raises
    ------
    ValueError
        If `search_distance` is not greater than 0.

    Notes
    -----
    The variance of a mean of n pairs is the greater of the stated variance and the scatter, over n,
    plus the part of the receiver's error that stays for the day and does not average out
    (`DAY_CONTROL.steady`). The squares in plan are tested by chi-square with two degrees of
    freedom, the height by the normal distribution, with Bonferroni's share of the risk for each day
    (standard texts, from memory).
    """
    if not search_distance > 0:
        raise ValueError(f"search_distance must be greater than 0 m, got {search_distance}")
    days = int(spots.day.max()) + 1 if len(spots.day) else 0
    paired = _pair_by_day(spots, control, search_distance, days)
    some = np.flatnonzero(paired >= 0)
    difference, day = spots.xyz[some] - control[paired[some]], spots.day[some]
    east, _ = _mean(difference[:, 0], day, days)
    north, number = _mean(difference[:, 1], day, days)
    up, _ = _mean(difference[:, 2], day, days)
    plan = [_sigma_of_mean(difference[:, axis], spots.sigma[some], day, days) for axis in (0, 1)]
    sigma = np.sqrt((plan[0] ** 2 + plan[1] ** 2) / 2)
    sigma_up = _sigma_of_mean(difference[:, 2], spots.sigma_up[some], day, days)
    risk = (1 - DAY_CONTROL.confidence) / max(np.count_nonzero(number), 1)
    square = east**2 + north**2
    with np.errstate(invalid="ignore"):
        off = (square > chi2.ppf(1 - risk, 2) * sigma**2) & (square > DAY_CONTROL.least**2)
        off_up = np.abs(up) > np.maximum(norm.ppf(1 - risk / 2) * sigma_up, DAY_CONTROL.least_up)
    return DayControl(number, east, north, up, sigma, sigma_up, off, off_up, paired)


def _pair_by_day(spots, control, search_distance, days):
    """Row of the control point of each spot, -1 for none; days are paired separately."""
    paired = np.full(len(spots.day), -1, np.int64)
    for day in range(days):
        rows = np.flatnonzero(spots.day == day)
        spot_of = pair_points(spots.xyz[rows, :2], control[:, :2], search_distance)
        found = np.flatnonzero(spot_of >= 0)
        paired[rows[spot_of[found]]] = found
    return paired


def _mean(values, day, days):
    """Mean of the known values of each day, NaN for none, and their number."""
    known = np.isfinite(values)
    number = np.bincount(day[known], minlength=days)
    total = np.bincount(day[known], values[known], days)
    return np.where(number > 0, total / np.maximum(number, 1), np.nan), number


def _sigma_of_mean(values, stated, day, days):
    """1-sigma of the mean of each day along one axis, NaN without a value."""
    known = np.isfinite(values)
    own = np.where(np.isfinite(stated), stated, DAY_CONTROL.nominal)
    variance, number = _mean(np.where(known, own**2, np.nan), day, days)
    mean, _ = _mean(values, day, days)
    square, _ = _mean((values - mean[day]) ** 2, day, days)
    with np.errstate(invalid="ignore", divide="ignore"):
        scatter = square * number / (number - 1)  # n - 1: the mean was taken out
    enough = number >= DAY_CONTROL.few
    variance = np.where(enough, np.fmax(variance, scatter), variance)
    return np.sqrt(variance / np.maximum(number, 1) + DAY_CONTROL.steady**2)
