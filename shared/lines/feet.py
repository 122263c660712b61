"""Feet of check points: the nearest point of the nearest line."""

from dataclasses import dataclass

import numpy as np
import shapely

from ..arrays.ragged import stretch_starts
from ..tuning import CROWDS
from .bundles import bundles

LOOK = 500  # check points looked up between two looks at the cancel button


@dataclass(frozen=True)
class Feet:
    """Feet of check points on lines; arrays of shape (n,), NaN and -1 where there is no line.

    Attributes
    ----------
    line : ndarray of int64
    x, y, z : ndarray of float
        The nearest point of the line; z between its vertices.
    offset : ndarray of float
        Metres, + where the check point lies to the right of the line in its direction.
    chainage : ndarray of float
        Metres along the line.
    beyond_end : ndarray of bool
        True if the nearest point is an end and the check point lies beyond it: the offset is then
        not one across the line.
    """

    line: np.ndarray
    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    offset: np.ndarray
    chainage: np.ndarray
    beyond_end: np.ndarray


# long: half of it is the description
# parameters: the four arrays of the lines are one thing, and no class has them as they come
def feet_on_lines(
    check, x, y, z, offsets, greatest=np.inf, names=None, progress=lambda share: None
):
    """The nearest point of the nearest line for each check point.

    Parameters
    ----------
    check : ndarray of float, shape (n, 2)
        Metres; NaN for no position.
    x, y, z : ndarray of float, shape (v,)
        Vertices of all lines, metres.
    offsets : ndarray of int, shape (lines + 1,)
        Line ``i`` holds the vertices ``offsets[i]`` to ``offsets[i + 1] - 1``.
    greatest : float
        Search distance, metres.
    names : tuple of two sequences of str, optional
        Names of the lines and of the check points; if given, only lines of the same name are
        tried.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    Feet

    Notes
    -----
    At a vertex two segments are equally near. The sign is taken from the segment to which the
    check point lies more nearly perpendicular: the other one may give the wrong side at a sharp
    corner.
    """
    size = len(check)
    out = Feet(
        np.full(size, -1, np.int64),
        *(np.full(size, np.nan) for _ in range(5)),
        np.zeros(size, bool),
    )
    count = np.diff(offsets)
    line_of = np.repeat(np.arange(len(count)), count)
    xy = np.column_stack([x, y])
    first = _segments(xy, line_of)
    present = np.flatnonzero(np.isfinite(check).all(axis=1))
    if not (first.size and present.size):
        return out
    if names is None:
        points, found = _near(check[present], _Segments.of(xy, first), greatest, progress)
    else:
        own = names[0], [names[1][row] for row in present.tolist()]
        points, found = _of_same_name(line_of[first], *own)
    points, at, raw, foot, offset = _best_feet(check, xy, present[points], first[found], greatest)
    line, share = line_of[at], np.clip(raw, 0.0, 1.0)
    start, stop = offsets[line], offsets[line + 1] - 1
    step = np.append(0.0, np.hypot(*np.diff(xy, axis=0).T))
    step[~np.isfinite(step)] = 0.0
    run, length = np.cumsum(step), np.hypot(*(xy[at + 1] - xy[at]).T)
    out.line[points] = line
    out.x[points], out.y[points] = foot.T
    out.z[points] = z[at] + share * (z[at + 1] - z[at])
    out.offset[points] = offset
    out.chainage[points] = run[at] - run[start] + share * length
    slack = 1e-6 / length
    # of the segments with a length: where vertices repeat, a line ends in segments without one
    own = line_of[first]
    opening = first[np.searchsorted(own, line, "left")]
    closing = first[np.searchsorted(own, line, "right") - 1]
    out.beyond_end[points] = ~(xy[start] == xy[stop]).all(axis=1) & (
        ((at == opening) & (raw < -slack)) | ((at == closing) & (raw > 1 + slack))
    )
    return out


def _segments(xy, line_of):
    """First vertex of each segment with a length and finite positions."""
    first = np.flatnonzero(line_of[1:] == line_of[:-1]) if len(line_of) else np.zeros(0, np.int64)
    return first[
        (xy[first] != xy[first + 1]).any(axis=1)
        & np.isfinite(xy[first]).all(axis=1)
        & np.isfinite(xy[first + 1]).all(axis=1)
    ]


def _best_feet(check, xy, points, at, greatest):
    """Nearest candidate of each check point: check point, segment, place along it (0 to 1 between
    its ends), foot and signed offset."""
    along = xy[at + 1] - xy[at]
    length = np.hypot(*along.T)
    away = check[points] - xy[at]
    raw = (away * along).sum(axis=1) / length**2
    foot = xy[at] + np.clip(raw, 0.0, 1.0)[:, None] * along
    distance = np.hypot(*(check[points] - foot).T)
    across = (away[:, 0] * along[:, 1] - away[:, 1] * along[:, 0]) / length  # + to the right
    best = np.lexsort((at, -np.abs(across), np.round(distance, 9), points))
    best = best[stretch_starts(points[best])]
    best = best[distance[best] <= greatest]
    return points[best], at[best], raw[best], foot[best], np.copysign(distance, across)[best]


@dataclass(frozen=True)
class _Segments:
    """Segments as `bundles` takes them: `start` and `step` of shape (n, 2), `length` of shape (n,),
    and `tree` with one box for each."""

    start: np.ndarray
    step: np.ndarray
    length: np.ndarray
    tree: object

    @classmethod
    def of(cls, xy, first):
        """The segments that start at some vertices."""
        step = xy[first + 1] - xy[first]
        tree = shapely.STRtree(shapely.linestrings(np.stack([xy[first], xy[first + 1]], axis=1)))
        return cls(xy[first], step, np.hypot(*step.T), tree)

    def distance(self, p, k):
        """From points, shape (n, 2), to segments `k`."""
        away = p - self.start[k]
        share = np.clip((away * self.step[k]).sum(axis=1) / self.length[k] ** 2, 0.0, 1.0)
        return np.hypot(*(away - share[:, None] * self.step[k]).T)


def _near(check, segments, greatest, progress):
    """Pairs of check points and segments that include the nearest ones."""
    pairs, left = [], np.ones(len(check), bool)
    slack = 1e-9  # rounding may give different distances to two segments that meet in a vertex
    for bundle in bundles(segments, *check.T, progress):
        p = check[bundle.place]
        beside = bundle.beside(*p.T, bundle.square)
        near = np.min([segments.distance(p, k) for k in beside.T], axis=0) + slack
        rows = np.flatnonzero(near <= CROWDS.bundle_margin)
        i, k = bundle.around(*p[rows].T, bundle.square[rows], near[rows])
        fine = segments.distance(p[rows[i]], k) <= near[rows[i]]
        pairs.append((bundle.place[rows[i[fine]]], k[fine]))
        left[bundle.place[rows]] = False
    left = np.flatnonzero(left)
    limit = None if not np.isfinite(greatest) else max(greatest, slack) * 1.000001
    for start in range(0, len(left), LOOK):
        progress(start / len(left))
        rows = left[start : start + LOOK]
        points = shapely.points(check[rows])
        near = segments.tree.query_nearest(points, max_distance=limit, all_matches=True)
        least = np.full(len(rows), np.nan)
        least[near[0]] = shapely.distance(points[near[0]], segments.tree.geometries[near[1]])
        some = np.flatnonzero(np.isfinite(least))
        i, k = segments.tree.query(
            points[some], predicate="dwithin", distance=least[some] * (1 + slack) + slack
        )
        pairs.append((rows[some[i]], k))
    return tuple(np.concatenate(side) for side in zip(*pairs))


def _of_same_name(line_of, of_lines, of_points):
    """Pairs of check points and segments whose lines have the point's name."""
    lines_of = {}
    for line, name in enumerate(of_lines):
        lines_of.setdefault(name, []).append(line)
    start = np.searchsorted(line_of, np.arange(len(of_lines) + 1))
    pairs = [
        (point, np.arange(start[line], start[line + 1]))
        for point, name in enumerate(of_points)
        if name
        for line in lines_of.get(name, ())
    ]
    if not pairs:
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    return (
        np.concatenate([np.full(len(found), point) for point, found in pairs]),
        np.concatenate([found for _, found in pairs]),
    )
