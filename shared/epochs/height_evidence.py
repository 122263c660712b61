"""What heights say about slips of the aim: who slips with the aim mostly hits another height as
well."""

import numpy as np

from ..arrays.plane import distance

# Squared sigmas: twice the logarithm of odds. The ground beside a curb lies lower or higher by the
# curb's face (0.1 to 0.15 m), and whatever tilts the pole or the aim changes the height with it:
# say that two slips in five show. Of good epochs one in fifty stands off: a bad height alone, or
# the short bottom of a dropped curb. (Common practice, no source.)
JUMP = 6.0  # 2 ln(0.4 / 0.02)
QUIET = -1.0  # 2 ln(0.6 / 0.98)
TELLING = 3.0  # heights that make an epoch worth a look by themselves
IN_LINE, OFF_LINE = 3.0, 6.0  # sigmas
# m/m, m; what edges may rise or fall by where the height is known on one side only
SLOPE, MOST_SLOPE = 0.05, 0.5
# noise of `going_on` and of the height it is compared with, in that of one height: sqrt(1 + 1.5**2
# + 0.5**2)
EXTRAPOLATED = 1.9


def height_odds(x, y, z, capture, noise_up):
    """By how much heights speak for slips of the aim.

    Parameters
    ----------
    x, y, z : ndarray of float, shape (m,)
        Positions in time order, metres; all heights that were recorded, NaN where there is none.
    capture : ndarray of int, shape (m,)
    noise_up : ndarray of float, shape (captures,)
        White noise of the heights, metres.

    Returns
    -------
    ndarray of float, shape (m,)
        Squared sigmas, from `QUIET` to `JUMP`; 0 where nothing is known.

    Notes
    -----
    A height is off by as much as it lies outside the medians of the three before it and the three
    after it: one bad height does not spoil its neighbours, and a ramp lies between the two. At the
    ends of a capture it may also go on along the line over the next three.
    """
    m = len(z)
    out = np.zeros(m)
    if m < 4:
        return out
    a, b, c = z[:-2], z[1:-1], z[2:]
    middle = np.maximum(np.minimum(a, b), np.minimum(np.maximum(a, b), c))
    before, after = np.full(m, np.nan), np.full(m, np.nan)
    alike = capture[3:] == capture[:-3]
    before[3:][alike] = middle[:-1][alike]
    after[:-3][alike] = middle[1:][alike]
    off = np.maximum(np.fmin(before, after) - z, z - np.fmax(before, after))
    sigma = noise_up[capture]
    out[np.isfinite(off)] = QUIET
    far = np.flatnonzero(off > IN_LINE * sigma)
    one_sided = far[np.isnan(before[far]) | np.isnan(after[far])]
    way = np.where(np.isnan(before[one_sided]), 1, -1)
    off[one_sided] -= np.minimum(
        SLOPE
        * distance(x[one_sided + 2 * way] - x[one_sided], y[one_sided + 2 * way] - y[one_sided]),
        MOST_SLOPE,
    )
    off[one_sided] = np.fmin(
        off[one_sided], np.abs(z[one_sided] - going_on(x, y, z, one_sided, way)) / EXTRAPOLATED
    )
    out[far] = np.interp(off[far] / sigma[far], [IN_LINE, OFF_LINE], [QUIET, JUMP])
    return out


def going_on(x, y, z, end, way):
    """Heights, shape (q,), that positions `end` would have if the line over the next three, towards
    `way` (1 or -1), went on as far as them."""
    a, b = end + way, end + 3 * way
    step, base = distance(x[end] - x[a], y[end] - y[a]), distance(x[b] - x[a], y[b] - y[a])
    return z[a] + (z[a] - z[b]) * np.minimum(step / np.maximum(base, 1e-9), 1.0)
