"""Corners of free forms: where two straight parts of a run meet at an angle."""

from dataclasses import dataclass

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import group_index, place_in_group
from ..tuning import CORNERS

# exact: 99.9 % quantiles of chi-square for 1 to 14 degrees of freedom (handbook table)
CHI_SQUARE_999 = np.array(
    [0, 10.83, 13.82, 16.27, 18.47, 20.52, 22.46, 24.32]
    + [26.12, 27.88, 29.59, 31.26, 32.91, 34.53, 36.12]
)


@dataclass(frozen=True)
class Corners:
    """Corners of runs; arrays of shape (c,).

    Attributes
    ----------
    before : int
        A corner lies between this position and the next one.
    x, y : float
        Metres.
    angle : float
        Deflection, radians, + to the left.
    """

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
        Nominal spacing, metres.
    corner_angle : float
        Minimum deflection, degrees.

    Returns
    -------
    Corners
        In order of `before`.

    Notes
    -----
    A corner lies between two positions if three or more on either side lie on straight lines within
    their noise (chi-square, 99.9 %), the lines meet between the two positions at more than
    `corner_angle`, and the two lines fit all of them better than one circle does. A side of only
    two positions counts if it ends at a corner of the opposite sense, as the short flank of a bay
    does, or at the end of the run.
    """
    gap = _candidates(x, y, offsets, corner_angle)
    if not gap.size:
        none = np.zeros(0)
        return Corners(gap, none, none, none)
    place = place_in_group(offsets)
    size = np.diff(offsets)[group_index(offsets)]
    sides = _Sides(
        x=x,
        y=y,
        variance=variance,
        spacing=spacing,
        angle=np.radians(corner_angle),
        gap=gap,
        before=place[gap] + 1,
        after=size[gap] - place[gap] - 1,
    )
    best = _Best(len(gap))
    _offer_sides(sides, best)
    _offer_flanks(sides, best)
    chosen = _strongest(gap, best)
    return Corners(gap[chosen], best.x[chosen], best.y[chosen], best.angle[chosen])


@dataclass(frozen=True)
class _Sides:
    """Positions, and the gaps that may hold a corner: `gap`, the position before each; `before` and
    `after`, the number of positions before and after it in its run. `angle`: minimum deflection,
    radians."""

    x: np.ndarray
    y: np.ndarray
    variance: np.ndarray
    spacing: np.ndarray
    angle: float
    gap: np.ndarray
    before: np.ndarray
    after: np.ndarray


def _offer_sides(sides, best):
    """Try sides of three positions and more, and of two at the ends of a run."""
    for window in CORNERS.windows:
        rows = np.flatnonzero((sides.before >= window) & (sides.after >= window))
        best.offer(rows, *_two_lines(sides, rows, window, window))
    # sides of two positions: at the ends of a run
    for left, right, rows in (
        (2, 3, np.flatnonzero((sides.before == 2) & (sides.after >= 3))),
        (3, 2, np.flatnonzero((sides.before >= 3) & (sides.after == 2))),
    ):
        best.offer(rows, *_two_lines(sides, rows, left, right))


def _offer_flanks(sides, best):
    """Try sides of two positions between two corners of opposite sense: the short flank of a
    bay."""
    gap, both = sides.gap, 2 + 3  # positions of the flank and of the side beyond it
    entry, leave = _Best(len(gap)), _Best(len(gap))
    rows = np.flatnonzero((sides.before >= 3) & (sides.after >= both))
    entry.offer(rows, *_two_lines(sides, rows, 3, 2))
    rows = np.flatnonzero((sides.before >= both) & (sides.after >= 3))
    leave.offer(rows, *_two_lines(sides, rows, 2, 3))
    index_of = np.full(len(sides.x), -1)
    index_of[gap] = np.arange(len(gap))
    partner = index_of[np.minimum(gap + 2, len(sides.x) - 1)]
    pair = (partner >= 0) & entry.found
    pair[pair] &= leave.found[partner[pair]]
    pair[pair] &= entry.angle[pair] * leave.angle[partner[pair]] < 0
    best.copy_where_better(entry, np.flatnonzero(pair))
    best.copy_where_better(leave, partner[pair])


class _Best:
    """Best corner found so far for each candidate gap; the lowest score wins."""

    def __init__(self, size):
        self.score = np.full(size, np.inf)
        self.x, self.y, self.angle = (np.full(size, np.nan) for _ in range(3))

    @property
    def found(self):
        """Gaps (mask) with a corner."""
        return np.isfinite(self.score)

    def offer(self, rows, score, x, y, angle):
        """Keep corners at gaps `rows` where they score better."""
        better = score < self.score[rows]
        rows = rows[better]
        self.score[rows], self.angle[rows] = score[better], angle[better]
        self.x[rows], self.y[rows] = x[better], y[better]

    def copy_where_better(self, other, rows):
        """Keep the corners of another search at gaps `rows` where they score better."""
        self.offer(rows, other.score[rows], other.x[rows], other.y[rows], other.angle[rows])


def _candidates(x, y, offsets, corner_angle):
    """Gaps across which the path turns by about the corner angle or more."""
    m = len(x)
    group = group_index(offsets)
    i = np.flatnonzero(np.diff(group) == 0)
    i = i[(i >= 1) & (i + 2 < m)]
    i = i[(group[i - 1] == group[i]) & (group[i + 2] == group[i])]
    ax, ay = x[i] - x[i - 1], y[i] - y[i - 1]
    bx, by = x[i + 2] - x[i + 1], y[i + 2] - y[i + 1]
    turn = np.abs(np.arctan2(ax * by - ay * bx, ax * bx + ay * by))
    # single steps are noisy: let them turn less by what noise can do, the line fits decide
    shorter = np.minimum(distance(ax, ay), distance(bx, by))
    slack = np.arctan2(CORNERS.step_noise, shorter)
    return i[turn > np.radians(corner_angle) * CORNERS.candidate_share - slack]


def _line(px, py, weight):
    """Total least squares lines through windows, shape (q, w): centre, direction, weighted sum of
    squares."""
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


def _two_lines(sides, rows, left, right):
    """Score (infinite where there is no corner), place and angle of corners in some of the gaps, by
    lines through so many positions on either side."""
    x, y, variance, gap = sides.x, sides.y, sides.variance, sides.gap[rows]
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
    slack = CORNERS.meet_slack + CORNERS.meet_sigmas * np.sqrt(variance[gap])
    longest = CORNERS.detour_share * step + CORNERS.detour
    degrees, chi = left + right - 4, left_sum + right_sum
    good = (np.abs(angle) >= sides.angle) & (np.abs(angle) < np.radians(CORNERS.sharpest))
    good &= (before > -slack) & (after > -slack) & (before + after < longest)
    good &= _long_sides(sides, gap, a, b)
    good &= chi <= CHI_SQUARE_999[min(max(degrees, 1), len(CHI_SQUARE_999) - 1)]
    found = np.flatnonzero(good)
    both = np.concatenate([a[found], b[found]], axis=1)
    good[found] &= chi[found] < _circle_sum(x[both], y[both], weight[both])
    outside = np.maximum(-before, 0) + np.maximum(-after, 0)
    score = np.where(good, chi / max(degrees, 1) + (outside / np.sqrt(variance[gap])) ** 2, np.inf)
    return score, px, py, angle


def _long_sides(sides, gap, a, b):
    """Gaps (mask) whose sides, through positions `a` and `b`, are long enough to have a
    direction."""
    x, y = sides.x, sides.y
    side = np.minimum(
        distance(x[a[:, -1]] - x[a[:, 0]], y[a[:, -1]] - y[a[:, 0]]),
        distance(x[b[:, -1]] - x[b[:, 0]], y[b[:, -1]] - y[b[:, 0]]),
    )
    steps = min(a.shape[1], b.shape[1]) - 1
    least = np.minimum(CORNERS.shortest_side, CORNERS.side_spacings * sides.spacing[gap] * steps)
    return (side >= least) & (side >= CORNERS.side_sigmas * np.sqrt(sides.variance[gap]))


def _circle_sum(px, py, weight):
    """Weighted sum of squared distances from Kasa's circles through windows, shape (q, w).

    Kasa's bias towards small radii on short arcs does not matter for comparison with the two sides
    of a corner.
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
    """Numbers of the corners that score best among those within `CORNERS.same_corner` gaps.

    Two gaps apart both may be corners if they turn opposite ways: the short flank of a bay.
    """
    keep, near = best.found.copy(), CORNERS.same_corner
    position = np.full(int(gap[-1]) + 2 * near + 2, -1)
    position[gap + near] = np.arange(len(gap))
    score = np.where(keep, best.score, np.inf)
    beaten = np.zeros(len(gap), bool)
    for shift in range(-near, near + 1):
        if not shift:
            continue
        other = position[gap + near + shift]
        there = (other >= 0) & keep
        there[there] &= keep[other[there]]
        rows = np.flatnonzero(there)
        rival = other[rows]
        wins = (score[rival] < score[rows]) | ((score[rival] == score[rows]) & (rival < rows))
        if abs(shift) == 2:
            wins &= best.angle[rival] * best.angle[rows] > 0
        beaten[rows[wins]] = True
    return np.flatnonzero(keep & ~beaten)
