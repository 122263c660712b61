"""Means, gross errors and the effect of time correlation, for many small groups of values at
once."""

import numpy as np

from ..arrays.ragged import MAD_TO_SIGMA, group_index, group_median, group_sum
from ..tuning import OCCUPATIONS

# factors that make the median absolute deviation of 2, 3... normal values unbiased (Croux and
# Rousseeuw 1992, Time-efficient algorithms for two highly robust estimators of scale; from memory);
# n / (n - 0.8) beyond
# exact: published
SMALL_SAMPLE = np.array([1.0, 1.0, 1.196, 1.495, 1.363, 1.206, 1.200, 1.140, 1.129, 1.107])


def weighted_mean(values, sigma, offsets):
    """Weighted mean of each group of consecutive values, with its internal standard error and the
    variance of unit weight.

    Parameters
    ----------
    values, sigma : ndarray of float, shape (n,)
        Values and their 1-sigma, in the same unit.
    offsets : ndarray of int, shape (groups + 1,)

    Returns
    -------
    mean : ndarray of float, shape (groups,)
    internal : ndarray of float, shape (groups,)
        From the sigmas alone: 1 / sqrt(sum of w), w = 1 / sigma**2.
    unit : ndarray of float, shape (groups,)
        Variance of unit weight, sum of w r**2 over n - 1; NaN for a single value. The external
        standard error, from the spread, is ``internal * sqrt(unit)``; with equal sigmas it is the
        standard deviation over the root of n.
    """
    weight = sigma**-2.0
    total, number = group_sum(weight, offsets), np.diff(offsets)
    with np.errstate(invalid="ignore", divide="ignore"):
        # relative to the first value of each group, so that large coordinates cost no digits
        base = (
            values[np.minimum(offsets[:-1], max(len(values) - 1, 0))]
            if len(values)
            else np.zeros(len(number))
        )
        mean = base + group_sum(weight * (values - np.repeat(base, number)), offsets) / total
        square = group_sum(weight * (values - np.repeat(mean, number)) ** 2, offsets)
        return mean, 1 / np.sqrt(total), np.where(number > 1, square / (number - 1.0), np.nan)


def gross_errors(values, scale_floor, offsets, limit):
    """Values that deviate from the median of their group: the Hampel identifier, |x - median| >
    limit * 1.4826 * MAD, wider for few values by `OCCUPATIONS.small_sample` / n.

    Parameters
    ----------
    values : ndarray of float, shape (n,) or (n, k)
        With k axes, the distance counts, and all axes share one scale.
    scale_floor : ndarray of float, shape (n,)
        Minimum scale for each value, as equal or rounded values have a MAD of 0.
    offsets : ndarray of int, shape (groups + 1,)
    limit : float
        Sigmas.

    Returns
    -------
    flag : ndarray of bool, shape (n,)
    away : ndarray of float, shape (n,)
        Distance from the median.

    Notes
    -----
    The MAD of few values is corrected for its bias, and no group's scale is less than the median of
    all groups of three or more.
    """
    values = values[:, None] if values.ndim == 1 else values
    group, number = group_index(offsets), np.diff(offsets)
    deviation = np.column_stack(
        [np.abs(column - group_median(column, group, len(number))[group]) for column in values.T]
    )
    count = deviation.shape[1]
    scale = MAD_TO_SIGMA * group_median(deviation.ravel(), np.repeat(group, count), len(number))
    # exact: the published correction
    with np.errstate(invalid="ignore", divide="ignore"):
        scale *= np.where(
            number < len(SMALL_SAMPLE),
            SMALL_SAMPLE[np.minimum(number, len(SMALL_SAMPLE) - 1)],
            number / (number - 0.8),
        )
    # the MAD of three values can be anything: what is typical of all groups is not gross in one
    if (number > 2).any():
        scale = np.maximum(scale, np.median(scale[number > 2]))
    away = np.sqrt((deviation**2).sum(axis=1))
    wider = (1 + OCCUPATIONS.small_sample / np.maximum(number, 1))[group]
    return away > limit * wider * np.maximum(scale[group], scale_floor), away


def correlated_share(duration, time=None):
    """Share of the variance of a time-correlated error that remains in a mean over a duration.

    Parameters
    ----------
    duration : array_like of float, shape (groups,)
        Seconds.
    time : float or ndarray of float, shape (groups,), optional
        Correlation time, seconds; `OCCUPATIONS.correlation_time` by default.

    Returns
    -------
    ndarray of float, shape (groups,)
        1 for no duration, 0.74 over one correlation time, 0.32 over five.

    Notes
    -----
    2 (r - 1 + exp(-r)) / r**2 with r = duration / correlation time, the variance of the time
    average of a first-order Gauss-Markov process (any textbook on random processes; from memory).
    """
    time = OCCUPATIONS.correlation_time if time is None else time
    # exact: below it the formula loses its digits, and the share is 1
    r = np.maximum(np.asarray(duration, float) / time, 1e-4)
    return np.minimum(2 * (r + np.expm1(-r)) / r**2, 1.0)
