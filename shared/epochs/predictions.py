"""How far epochs deviate from what their neighbours lead to expect."""

from dataclasses import dataclass

import numpy as np

from ..arrays.plane import distance, ray_distance, segment_distance, turn_angle
from ..tuning import ROBUST, SCREENING, SPIKES


@dataclass(frozen=True)
class _Neighbours:
    """The second neighbours of inner epochs; arrays of shape (q,).

    `p`, `q`: epochs two before and two after, if any; `before`, `after`: they exist and are linked;
    `stood`, `stays`: the walk stood still in the step from `p`, in the step to `q`, which then have
    no direction.
    """

    p: np.ndarray
    q: np.ndarray
    before: np.ndarray
    after: np.ndarray
    stood: np.ndarray
    stays: np.ndarray


def _neighbours(x, y, linked, still, i):
    """Second neighbours of the inner epochs `i`, shape (q,)."""
    n = len(x)
    p, q = np.maximum(i - 2, 0), np.minimum(i + 2, n - 1)
    return _Neighbours(
        p=p,
        q=q,
        before=(i >= 2) & linked[p],
        after=(i + 2 < n) & linked[np.minimum(i + 1, n - 2)],
        stood=distance(x[i - 1] - x[p], y[i - 1] - y[p]) < still[i],
        stays=distance(x[i + 1] - x[q], y[i + 1] - y[q]) < still[i],
    )


def _smallest_distance(x, y, i, across, near):
    """Smallest distance of epochs `i` from the predictions of their neighbours `near`: `across`,
    straight on from those before, straight back from those after; shape (q,)."""
    deviation = across
    for there, far, known, still in (
        (i - 1, near.p, near.before, near.stood),
        (i + 1, near.q, near.after, near.stays),
    ):
        ray = np.where(
            still,
            distance(x[i] - x[there], y[i] - y[there]),
            ray_distance(x[i], y[i], x[there], y[there], x[there] - x[far], y[there] - y[far]),
        )
        deviation = np.where(known, np.minimum(deviation, ray), deviation)
    return deviation


# exact: Lagrange's cubic at even spacing, and neighbours' places
def cubic_residuals(
    values, i=slice(2, -2), near=(slice(1, -3), slice(3, -1)), far=(slice(-4), slice(4, None))
):
    """Differences between the cubics through four neighbours, taken as evenly spaced, and values.

    Parameters
    ----------
    values : ndarray of float, shape (n,)
    i : ndarray of int, shape (q,), or slice
        By default all that have two values on either side.
    near, far : tuple of ndarray of int or of slice
        First and second neighbours, the one before and the one after.

    Returns
    -------
    ndarray of float, shape (q,)
        Lagrange's cubic, (-a + 4 b + 4 c - d) / 6, minus the value. White noise of 1 sigma gives it
        a noise of sqrt(70 / 36) sigma.
    """
    return (
        -values[far[0]] + 4 * values[near[0]] + 4 * values[near[1]] - values[far[1]]
    ) / 6 - values[i]


def prediction_distance(x, y, linked, still, least):
    """Distance of each epoch from all predictions of its neighbours.

    Parameters
    ----------
    x, y : ndarray of float, shape (n,)
        Metres, in time order.
    linked : ndarray of bool, shape (n - 1,)
        False where one epoch says nothing about the next.
    still : ndarray of float, shape (n,)
        Step below which the walk stood still and its direction is meaningless, metres.
    least : ndarray of float, shape (n,)
        Distance up to which an epoch is not tested, metres.

    Returns
    -------
    deviation : ndarray of float, shape (n,)
        Smallest distance from the predictions before, after, across and along the cubic, metres; 0
        if it is not over `least`, if the path does not turn out and back again, or without
        neighbours.
    across : ndarray of float, shape (n,)
        Distance from the segment between the two neighbours, metres; 0 without neighbours.
    """
    n = len(x)
    result, across = np.zeros(n), np.zeros(n)
    if n > 2:
        to_segment = segment_distance(x[1:-1], y[1:-1], x[:-2], y[:-2], x[2:], y[2:])
        across[1:-1] = np.where(linked[:-1] & linked[1:], to_segment, 0.0)
    i = np.flatnonzero(across > least)
    near = _neighbours(x, y, linked, still, i)
    deviation = _smallest_distance(x, y, i, across[i], near)
    deviation = np.where(
        near.before & near.after,
        np.minimum(
            deviation,
            distance(
                *(cubic_residuals(axis, i, (i - 1, i + 1), (near.p, near.q)) for axis in (x, y))
            ),
        ),
        deviation,
    )
    turned = _turns_out_and_back(x, y, i, near)
    result[i] = np.where(turned & (deviation > least[i]), deviation, 0.0)
    return result, across


def _turns_out_and_back(x, y, i, near):
    """Mask of the epochs `i` to which the path turns out and back again, shape (q,)."""
    here, out, home = (
        turn_angle(x, y, i - 1, i, i + 1),
        turn_angle(x, y, near.p, i - 1, i),
        turn_angle(x, y, i, i + 1, near.q),
    )
    before, after = near.before, near.after
    against_out = ~before | near.stood | (out * here < 0)
    against_home = ~after | near.stays | (home * here < 0)
    found = (before | after) & against_out & against_home
    # next to a corner one of the two turns is hidden by the corner's own
    hidden = SPIKES.hidden_turn * np.abs(here)
    clear_out = before & against_out & (near.stood | (np.abs(out) > hidden))
    clear_home = after & against_home & (near.stays | (np.abs(home) > hidden))
    detour = distance(x[i] - x[i - 1], y[i] - y[i - 1]) + distance(x[i + 1] - x[i], y[i + 1] - y[i])
    return found | (
        (clear_out | clear_home)
        & before
        & after
        & (detour > SPIKES.detour * distance(x[i + 1] - x[i - 1], y[i + 1] - y[i - 1]))
    )


def cubic_distance(x, y, linked, still, i):
    """Distance of epochs from the cubic through two neighbours on either side, across the way.

    Parameters
    ----------
    x, y, linked, still
        As in `prediction_distance`.
    i : ndarray of int, shape (q,)

    Returns
    -------
    ndarray of float, shape (q,)
        Metres; without a cubic, from the neighbours' other predictions, and 0 if a neighbour is
        missing. The path need not turn out and back.
    """
    n = len(x)
    result = np.zeros(len(i))
    inner = np.flatnonzero((i > 0) & (i < n - 1))
    inner = inner[linked[i[inner] - 1] & linked[i[inner]]]
    i = i[inner]
    near = _neighbours(x, y, linked, still, i)
    way_x, way_y = x[i + 1] - x[i - 1], y[i + 1] - y[i - 1]
    way = distance(way_x, way_y)
    both = near.before & near.after
    residual_x, residual_y = (
        cubic_residuals(axis, i, (i - 1, i + 1), (near.p, near.q)) for axis in (x, y)
    )
    aside = np.abs(residual_x * way_y - residual_y * way_x) / np.maximum(way, 1e-9)
    across = segment_distance(x[i], y[i], x[i - 1], y[i - 1], x[i + 1], y[i + 1])
    deviation = _smallest_distance(x, y, i, across, near)
    deviation = np.where(both, np.minimum(deviation, distance(residual_x, residual_y)), deviation)
    result[inner] = np.where(both & (way > SPIKES.cubic_way * still[i]), aside, deviation)
    return result


def downweight_outliers(x, y, linked, still, variance):
    """Raise the variance of observations that deviate from their neighbours' predictions.

    Parameters
    ----------
    x, y, linked, still
        As in `prediction_distance`.
    variance : ndarray of float, shape (n,)
        Of each observation, m2.

    Returns
    -------
    ndarray of float, shape (n,)
        m2; as Huber's weights (1964, Robust estimation of a location parameter, Annals of
        Mathematical Statistics 35), squared.
    """
    limit = SCREENING.prediction_sigmas * ROBUST.huber_sigmas * np.sqrt(variance)
    deviation = prediction_distance(x, y, linked, still, limit)[0]
    return variance * np.maximum(deviation / limit, 1.0) ** 2


def height_distance(z, linked):
    """Distance of each height from its neighbours and from their predictions.

    Parameters
    ----------
    z : ndarray of float, shape (n,)
        Metres, in time order.
    linked : ndarray of bool, shape (n - 1,)
        False where one height says nothing about the next.

    Returns
    -------
    ndarray of float, shape (n,)
        Metres; 0 without neighbours.
    """
    n = len(z)
    result = np.zeros(n)
    if n < 3:
        return result
    before, here, after = z[:-2], z[1:-1], z[2:]
    deviation = np.maximum(
        np.maximum(np.minimum(before, after) - here, here - np.maximum(before, after)), 0.0
    )
    # straight on from the two before, and straight back from the two after
    deviation[1:] = np.where(
        linked[:-2],
        np.minimum(deviation[1:], np.abs(2 * z[1:-2] - z[:-3] - z[2:-1])),
        deviation[1:],
    )
    deviation[:-1] = np.where(
        linked[2:],
        np.minimum(deviation[:-1], np.abs(2 * z[2:-1] - z[3:] - z[1:-2])),
        deviation[:-1],
    )
    result[1:-1] = np.where(linked[:-1] & linked[1:], deviation, 0.0)
    return result
