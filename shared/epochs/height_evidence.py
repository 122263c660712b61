"""Evidence of heights for gross errors of the aim: an epoch with the aim off its edge mostly has a
deviating height as well."""

import numpy as np

from ..arrays.plane import distance
from ..tuning import HEIGHT_EVIDENCE


def height_llr(x, y, z, capture, noise_up):
    """Evidence of heights for gross errors of the aim: twice log-likelihood ratios.

    Parameters
    ----------
    x, y, z : ndarray of float, shape (m,)
        Positions in time order, metres, with all recorded heights; NaN for none.
    capture : ndarray of int, shape (m,)
    noise_up : ndarray of float, shape (captures,)
        White noise of the heights, metres.

    Returns
    -------
    ndarray of float, shape (m,)
        Squared sigmas, from `HEIGHT_EVIDENCE.same` to `HEIGHT_EVIDENCE.other`; 0 where nothing is
        known.

    Notes
    -----
    The deviation of a height is its distance outside the interval between the median of the three
    heights before it and that of the three after it: so one bad height does not spoil its
    neighbours, and a ramp lies between the two. At the ends of a capture it may also lie on the
    line through the next three.
    """
    m = len(z)
    out = np.zeros(m)
    if m < 4:
        return out
    before, after = _medians_of_three(z, capture)
    beyond = np.maximum(np.fmin(before, after) - z, z - np.fmax(before, after))
    sigma = noise_up[capture]
    out[np.isfinite(beyond)] = HEIGHT_EVIDENCE.same
    far = np.flatnonzero(beyond > HEIGHT_EVIDENCE.in_line * sigma)
    one_sided = far[np.isnan(before[far]) | np.isnan(after[far])]
    way = np.where(np.isnan(before[one_sided]), 1, -1)
    beyond[one_sided] -= np.minimum(
        HEIGHT_EVIDENCE.slope
        * distance(x[one_sided + 2 * way] - x[one_sided], y[one_sided + 2 * way] - y[one_sided]),
        HEIGHT_EVIDENCE.most_rise,
    )
    beyond[one_sided] = np.fmin(
        beyond[one_sided],
        np.abs(z[one_sided] - extrapolated_height(x, y, z, one_sided, way))
        / HEIGHT_EVIDENCE.extrapolated,
    )
    out[far] = np.interp(
        beyond[far] / sigma[far],
        [HEIGHT_EVIDENCE.in_line, HEIGHT_EVIDENCE.off_line],
        [HEIGHT_EVIDENCE.same, HEIGHT_EVIDENCE.other],
    )
    return out


def _medians_of_three(z, capture):
    """Medians of the three heights before and after each position, NaN if the capture has fewer;
    both of shape (m,)."""
    m = len(z)
    a, b, c = z[:-2], z[1:-1], z[2:]
    middle = np.maximum(np.minimum(a, b), np.minimum(np.maximum(a, b), c))
    before, after = np.full(m, np.nan), np.full(m, np.nan)
    alike = capture[3:] == capture[:-3]
    before[3:][alike] = middle[:-1][alike]
    after[:-3][alike] = middle[1:][alike]
    return before, after


def extrapolated_height(x, y, z, end, way):
    """Heights of end positions, extrapolated linearly from the next three.

    Parameters
    ----------
    x, y, z : ndarray of float, shape (m,)
        Positions in time order, metres.
    end : ndarray of int, shape (q,)
        Positions at the end of a line.
    way : ndarray of int, shape (q,), or int
        1 if the line comes after them, -1 if before.

    Returns
    -------
    ndarray of float, shape (q,)
        Metres; extrapolated over no more than the length of the line.
    """
    a, b = end + way, end + 3 * way
    step, base = distance(x[end] - x[a], y[end] - y[a]), distance(x[b] - x[a], y[b] - y[a])
    return z[a] + (z[a] - z[b]) * np.minimum(step / np.maximum(base, 1e-9), 1.0)
