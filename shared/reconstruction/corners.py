"""Square corners: where two straight parts of a run meet at an angle."""

from dataclasses import dataclass

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import group_index, place_in_group

WINDOWS = (3, 4, 6, 9)  # positions on either side that must lie on a straight line
SHORTEST_SIDE = 0.8  # m; over less, noise alone makes any angle
SAME_CORNER = 2  # gaps; nearer finds are the same corner
# 99.9 % quantiles of chi-square for 1 to 14 degrees of freedom (handbook table)
CHI_SQUARE_999 = np.array(
    [
        0,
        10.83,
        13.82,
        16.27,
        18.47,
        20.52,
        22.46,
        24.32,
        26.12,
        27.88,
        29.59,
        31.26,
        32.91,
        34.53,
        36.12,
    ]
)


@dataclass(frozen=True)
class Corners:
    """Corners between positions ``before[c]`` and ``before[c] + 1``, at `x`, `y` (metres), turning
    by `angle` (radians)."""

    before: np.ndarray
    x: np.ndarray
    y: np.ndarray
    angle: np.ndarray


def find_corners(x, y, variance, offsets, spacing, corner_angle):
    """Find corners inside runs.

    Parameters
    ----------
    x, y : ndarray of float, shape (m,)
        Positions, metres.
    variance : ndarray of float, shape (m,)
        Of each position and axis, m2.
    offsets : ndarray of int, shape (runs + 1,)
    spacing : ndarray of float, shape (m,)
        Usual spacing, metres.
    corner_angle : float
        Least deflection, degrees.

    Returns
    -------
    Corners
        In order of `before`.

    Notes
    -----
    A corner lies between two positions if three or more on either side lie on straight lines within
    their noise (chi-square, 99.9 %), the lines meet between the two positions at more than
    `corner_angle`, and the two lines explain all of them better than one circle does. A side of
    only two positions counts where a corner of the opposite sense, or the end of the run, bounds
    it: the short flank of a bay.
    """
    m = len(x)
    gap = _candidates(x, y, offsets, spacing, corner_angle)
    if not gap.size:
        none = np.zeros(0)
        return Corners(gap, none, none, none)
    place = place_in_group(offsets)
    size = np.diff(offsets)[group_index(offsets)]
    # positions before and after each gap
    to_start, to_end = place[gap] + 1, size[gap] - place[gap] - 1
    best = _Best(len(gap))
    for window in WINDOWS:
        rows = np.flatnonzero((to_start >= window) & (to_end >= window))
        best.offer(
            rows, *_two_lines(x, y, variance, gap[rows], window, window, spacing, corner_angle)
        )
    # sides of two positions: at the ends of a run
    for left, right, rows in (
        (2, 3, np.flatnonzero((to_start == 2) & (to_end >= 3))),
        (3, 2, np.flatnonzero((to_start >= 3) & (to_end == 2))),
    ):
        best.offer(rows, *_two_lines(x, y, variance, gap[rows], left, right, spacing, corner_angle))
    # and between two corners of opposite sense
    entry, leave = _Best(len(gap)), _Best(len(gap))
    rows = np.flatnonzero((to_start >= 3) & (to_end >= 5))
    entry.offer(rows, *_two_lines(x, y, variance, gap[rows], 3, 2, spacing, corner_angle))
    rows = np.flatnonzero((to_start >= 5) & (to_end >= 3))
    leave.offer(rows, *_two_lines(x, y, variance, gap[rows], 2, 3, spacing, corner_angle))
    index_of = np.full(m, -1)
    index_of[gap] = np.arange(len(gap))
    partner = index_of[np.minimum(gap + 2, m - 1)]
    pair = (partner >= 0) & entry.found
    pair[pair] &= leave.found[partner[pair]]
    pair[pair] &= entry.angle[pair] * leave.angle[partner[pair]] < 0
    best.copy_where_better(entry, np.flatnonzero(pair), np.flatnonzero(pair))
    best.copy_where_better(leave, partner[pair], partner[pair])

    chosen = _strongest(gap, best)
    return Corners(gap[chosen], best.x[chosen], best.y[chosen], best.angle[chosen])


class _Best:
    """Best corner found so far for each candidate gap; the lowest score wins."""

    def __init__(self, size):
        self.score = np.full(size, np.inf)
        self.x, self.y, self.angle = (np.full(size, np.nan) for _ in range(3))

    @property
    def found(self):
        return np.isfinite(self.score)

    def offer(self, rows, score, x, y, angle):
        better = score < self.score[rows]
        rows = rows[better]
        self.score[rows], self.x[rows], self.y[rows], self.angle[rows] = (
            score[better],
            x[better],
            y[better],
            angle[better],
        )

    def copy_where_better(self, other, rows, source):
        self.offer(rows, other.score[source], other.x[source], other.y[source], other.angle[source])


def _candidates(x, y, offsets, spacing, corner_angle):
    """Gaps across which the path turns by about the corner angle or more."""
    m = len(x)
    group = group_index(offsets)
    i = np.flatnonzero(np.diff(group) == 0)
    i = i[(i >= 1) & (i + 2 < m)]
    i = i[(group[i - 1] == group[i]) & (group[i + 2] == group[i])]
    ax, ay = x[i] - x[i - 1], y[i] - y[i - 1]
    bx, by = x[i + 2] - x[i + 1], y[i + 2] - y[i + 1]
    turn = np.abs(np.arctan2(ax * by - ay * bx, ax * bx + ay * by))
    # single steps are noisy: let them fall short by what noise can do, and settle it with the line
    # fits
    slack = np.arctan2(0.05, np.minimum(distance(ax, ay), distance(bx, by)))
    return i[turn > np.radians(corner_angle) * 0.8 - slack]


def _line(px, py, weight):
    """Weighted total least squares lines through windows, shape (q, w): centre, direction, sum of
    squares / variance."""
    total = weight.sum(axis=1)
    cx, cy = (px * weight).sum(axis=1) / total, (py * weight).sum(axis=1) / total
    dx, dy = px - cx[:, None], py - cy[:, None]
    sxx, syy, sxy = (
        (weight * dx * dx).sum(axis=1),
        (weight * dy * dy).sum(axis=1),
        (weight * dx * dy).sum(axis=1),
    )
    angle = 0.5 * np.arctan2(2 * sxy, sxx - syy)
    ux, uy = np.cos(angle), np.sin(angle)
    back = ux * (px[:, -1] - px[:, 0]) + uy * (py[:, -1] - py[:, 0]) < 0
    ux, uy = np.where(back, -ux, ux), np.where(back, -uy, uy)
    aside = -uy[:, None] * dx + ux[:, None] * dy
    return cx, cy, ux, uy, (weight * aside**2).sum(axis=1)


def _two_lines(x, y, variance, gap, left, right, spacing, corner_angle):
    """Score (infinite where there is no corner), place and angle of corners in the given gaps."""
    a = gap[:, None] + np.arange(1 - left, 1)
    b = gap[:, None] + np.arange(1, right + 1)
    weight = 1 / variance
    lx, ly, lu, lv, left_sum = _line(x[a], y[a], weight[a])
    rx, ry, ru, rv, right_sum = _line(x[b], y[b], weight[b])
    sine, cosine = lu * rv - lv * ru, lu * ru + lv * rv
    angle = np.arctan2(sine, cosine)
    safe = np.where(np.abs(sine) < 1e-6, 1e-6, sine)
    along = ((rx - lx) * rv - (ry - ly) * ru) / safe  # from the left centre to where the lines meet
    px, py = lx + along * lu, ly + along * lv
    # from the last position on the left to the corner
    before = (px - x[gap]) * lu + (py - y[gap]) * lv
    after = (x[gap + 1] - px) * ru + (y[gap + 1] - py) * rv
    step = distance(x[gap + 1] - x[gap], y[gap + 1] - y[gap])
    slack = 0.10 + 2 * np.sqrt(variance[gap])
    degrees = left + right - 4
    chi = left_sum + right_sum
    side = np.minimum(
        distance(x[a[:, -1]] - x[a[:, 0]], y[a[:, -1]] - y[a[:, 0]]),
        distance(x[b[:, -1]] - x[b[:, 0]], y[b[:, -1]] - y[b[:, 0]]),
    )
    good = np.abs(angle) >= np.radians(corner_angle)
    # a corner that closes on itself would put the meeting point anywhere
    good &= np.abs(angle) < np.radians(165)
    good &= (before > -slack) & (after > -slack) & (before + after < 1.8 * step + 0.3)
    good &= side >= np.minimum(SHORTEST_SIDE, 0.6 * spacing[gap] * (min(left, right) - 1))
    good &= side >= 8 * np.sqrt(variance[gap])
    good &= chi <= CHI_SQUARE_999[min(max(degrees, 1), len(CHI_SQUARE_999) - 1)]
    rows = np.flatnonzero(good)
    both = np.concatenate([a[rows], b[rows]], axis=1)
    good[rows] &= chi[rows] < _circle_sum(x[both], y[both], weight[both])
    outside = np.maximum(-before, 0) + np.maximum(-after, 0)
    score = np.where(good, chi / max(degrees, 1) + (outside / np.sqrt(variance[gap])) ** 2, np.inf)
    return score, px, py, angle


def _circle_sum(px, py, weight):
    """Sum of squared distances / variance from the algebraic circle through windows, shape (q, w).

    Kasa's fit; that it makes short arcs too small does not matter to a comparison over two right
    angles' sides.
    """
    if not len(px):
        return np.zeros(0)
    w = weight / weight.sum(axis=1, keepdims=True)
    x0, y0 = (w * px).sum(axis=1, keepdims=True), (w * py).sum(axis=1, keepdims=True)
    dx, dy = px - x0, py - y0
    square = dx * dx + dy * dy
    sxx, syy, sxy = (w * dx * dx).sum(axis=1), (w * dy * dy).sum(axis=1), (w * dx * dy).sum(axis=1)
    sxz, syz, sz = (
        (w * dx * square).sum(axis=1),
        (w * dy * square).sum(axis=1),
        (w * square).sum(axis=1),
    )
    det = sxx * syy - sxy**2
    det = np.where(det < 1e-12 * np.maximum(sxx + syy, 1e-12) ** 2, np.nan, det)
    cx, cy = (sxz * syy - syz * sxy) / det / 2, (syz * sxx - sxz * sxy) / det / 2
    radius = np.sqrt(cx**2 + cy**2 + sz)
    off = distance(dx - cx[:, None], dy - cy[:, None]) - radius[:, None]
    total = (weight * off**2).sum(axis=1)
    return np.where(np.isfinite(total), total, np.inf)


def _strongest(gap, best):
    """Indices of the corners that win against those within SAME_CORNER gaps.

    A gap whose neighbours score better gives way. Two gaps apart there may be two corners, if they
    turn opposite ways: the short flank of a bay.
    """
    keep = best.found.copy()
    position = np.full(int(gap[-1]) + 2 * SAME_CORNER + 2, -1)
    position[gap + SAME_CORNER] = np.arange(len(gap))
    score = np.where(keep, best.score, np.inf)
    beaten = np.zeros(len(gap), bool)
    for shift in range(-SAME_CORNER, SAME_CORNER + 1):
        if not shift:
            continue
        other = position[gap + SAME_CORNER + shift]
        there = (other >= 0) & keep
        there[there] &= keep[other[there]]
        rows = np.flatnonzero(there)
        rival = other[rows]
        wins = (score[rival] < score[rows]) | ((score[rival] == score[rows]) & (rival < rows))
        if abs(shift) == 2:
            wins &= best.angle[rival] * best.angle[rows] > 0
        beaten[rows[wins]] = True
    return np.flatnonzero(keep & ~beaten)
