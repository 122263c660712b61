"""Spot points of each day against points with known coordinates: was the base where it was said?

A wrong base position or antenna height moves everything of a day alike. No smoothing shows it, and
comparing with an old basemap shows it only mixed with what changed on the ground.
"""

from dataclasses import dataclass

import numpy as np
from scipy.stats import chi2, norm

from ..tuning import DAY_CONTROL
from .check_points import pair_points


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
    """What control says of each day; arrays of shape (days,), metres.

    Attributes
    ----------
    number : ndarray of int
        Control points that the day's spots were compared with.
    east, north, up : ndarray of float
        Mean of spot minus control; NaN where there is no pair (no height).
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


def check_days(spots, control, search_distance, control_sigma=(0.0, 0.0), confidence=0.95):
    """Compare the spot points of each day with control points.

    Parameters
    ----------
    spots : Spots
    control : ndarray of float, shape (c, 3)
        Known coordinates in the same frame, metres; height NaN where unknown.
    search_distance : float
        Farther apart is no pair, metres.
    control_sigma : tuple of float
        1-sigma of the control points, of each axis in plan and of the height, metres.
    confidence : float
        Of the tests, over all days together.

    Returns
    -------
    DayControl

    Raises
    ------
    ValueError
        If `search_distance` is not greater than 0, or `confidence` is not between 0 and 1.

    Notes
    -----
    The mean of n pairs has the greater of what is stated and of what they scatter, over the root of
    n; what the receiver keeps for the day (`DAY_CONTROL.steady`) does not average out. Tested are
    the squares in plan by chi-square of two degrees of freedom and the height by the normal, with
    Bonferroni's share of the risk for each day (standard texts, from memory).
    """
    if not search_distance > 0:
        raise ValueError(f"search_distance must be greater than 0 m, got {search_distance}")
    if not 0 < confidence < 1:
        raise ValueError(f"confidence must lie between 0 and 1, got {confidence}")
    days = int(spots.day.max()) + 1 if len(spots.day) else 0
    paired = _pair_by_day(spots, control, search_distance, days)
    some = np.flatnonzero(paired >= 0)
    difference, day = spots.xyz[some] - control[paired[some]], spots.day[some]
    east, _ = _mean(difference[:, 0], day, days)
    north, number = _mean(difference[:, 1], day, days)
    up, _ = _mean(difference[:, 2], day, days)
    plan = [
        _sigma_of_mean(difference[:, axis], spots.sigma[some], control_sigma[0], day, days)
        for axis in (0, 1)
    ]
    sigma = np.sqrt((plan[0] ** 2 + plan[1] ** 2) / 2)
    sigma_up = _sigma_of_mean(difference[:, 2], spots.sigma_up[some], control_sigma[1], day, days)
    risk = (1 - confidence) / max(np.count_nonzero(number), 1)
    square = east**2 + north**2
    with np.errstate(invalid="ignore"):
        off = (square > chi2.ppf(1 - risk, 2) * sigma**2) & (square > DAY_CONTROL.least**2)
        off_up = np.abs(up) > np.maximum(norm.ppf(1 - risk / 2) * sigma_up, DAY_CONTROL.least_up)
    return DayControl(number, east, north, up, sigma, sigma_up, off, off_up, paired)


def _pair_by_day(spots, control, search_distance, days):
    """Row of the control point of each spot, -1 for none; each day by itself."""
    paired = np.full(len(spots.day), -1, np.int64)
    for day in range(days):
        rows = np.flatnonzero(spots.day == day)
        spot_of = pair_points(spots.xyz[rows, :2], control[:, :2], search_distance)
        found = np.flatnonzero(spot_of >= 0)
        paired[rows[spot_of[found]]] = found
    return paired


def _mean(values, day, days):
    """Mean of the known values of each day, NaN where there is none, and their number."""
    known = np.isfinite(values)
    number = np.bincount(day[known], minlength=days)
    total = np.bincount(day[known], values[known], days)
    return np.where(number > 0, total / np.maximum(number, 1), np.nan), number


def _sigma_of_mean(values, stated, control_sigma, day, days):
    """1-sigma of the mean of each day along one axis, NaN where there is no value."""
    known = np.isfinite(values)
    own = np.where(np.isfinite(stated), stated, DAY_CONTROL.nominal)
    variance, number = _mean(np.where(known, own**2 + control_sigma**2, np.nan), day, days)
    mean, _ = _mean(values, day, days)
    square, _ = _mean((values - mean[day]) ** 2, day, days)
    with np.errstate(invalid="ignore", divide="ignore"):
        scatter = square * number / (number - 1)  # n - 1: the mean was taken out
    enough = number >= DAY_CONTROL.few
    variance = np.where(enough, np.fmax(variance, scatter), variance)
    return np.sqrt(variance / np.maximum(number, 1) + DAY_CONTROL.steady**2)
