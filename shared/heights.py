"""Vertical profiles of runs."""

from dataclasses import dataclass

import numpy as np

from .bandwidth import fit_adaptive, lessen_outliers
from .ragged import group_index
from .screening import height_off
from .spline import Spline, leverage

WEIGHTLESS = 1e4  # sigmas; an epoch without height stands for nothing in the profile


@dataclass(frozen=True)
class Heights:
    """Fitted heights of the positions of all runs.

    `profile`, one column, NaN in runs without any height; arrays of shape (m,): `sigma`, 1-sigma of the profile at
    each position, metres, of the white noise alone; `variance` of each observed height, m2, infinite where there is none.
    """

    profile: Spline
    sigma: np.ndarray
    variance: np.ndarray


def fit_heights(s, positions, offsets, spacing):
    """Height profile of all runs; NaN for runs without any height.

    Parameters
    ----------
    s : ndarray of float, shape (m,)
        Chainage of the positions along their run, metres, increasing.
    positions : Positions
        Of which `z` and `variance_up` are used; either may be NaN.
    offsets : ndarray of int, shape (runs + 1,)
    spacing : ndarray of float, shape (m,)
        Usual spacing of the capture that each position belongs to, metres.

    Returns
    -------
    Heights
    """
    z, variance = positions.z.copy(), positions.variance_up.copy()
    known = np.isfinite(z) & np.isfinite(variance)
    run = group_index(offsets)
    any_height = np.zeros(len(offsets) - 1, bool)
    any_height[run[known]] = True
    if known.any():
        # unknown heights lie on the line between their neighbours and have no weight
        lift = s + run * 1e7  # keeps runs apart in one interpolation
        z[~known] = np.interp(lift[~known], lift[known], z[known])
        usual = np.median(variance[known])
        variance[~known] = usual * WEIGHTLESS**2
        base = np.zeros(len(offsets) - 1)
        place = np.flatnonzero(known)
        base[run[place][::-1]] = z[place][::-1]
        z -= base[run]
        z[~any_height[run]] = 0.0
        off = np.where(known, height_off(z, np.diff(run) == 0), 0.0)
        variance = lessen_outliers(off, variance)
        profile, band = fit_adaptive(s, z, variance, offsets, spacing)
        values = profile.values + base[run][:, None]
    else:
        zero = np.zeros((len(s), 1))
        profile, band, values = Spline(s, offsets, zero, zero, zero), np.ones(len(s)), zero
    values = np.where(any_height[run][:, None], values, np.nan)
    variance = np.where(known, variance, np.inf)
    profile = Spline(s, offsets, values, profile.bend_after, profile.bend_before)
    return Heights(profile, np.sqrt(leverage(band, s, offsets) * np.where(known, variance, 0.0)), variance)
