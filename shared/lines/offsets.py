"""Statistics of offsets: per line, per layer, and the measures that compare lines as wholes."""

from dataclasses import dataclass

import numpy as np

from ..arrays.plane import segment_distance
from ..arrays.ragged import MAD_TO_SIGMA, group_max, group_median, offsets_of, ranges
from ..tuning import COMPARISON
from .lines import points_at
from .rays import Index


@dataclass(frozen=True)
class LayerStatistics:
    """Statistics of all matched stations together, weighted by length; metres, NaN where no station
    is matched.

    `area_per_metre` is the area between both layers' lines per metre of matched existing line (the
    mean absolute offset); McMaster 1986 calls it areal displacement. `typical` is 1.4826 times the
    median absolute offset: what the RMSE would be without the lines that really moved.
    """

    stations: int
    matched_length: float
    offset_mean: float
    offset_median: float
    offset_sd: float
    offset_rmse: float
    offset_p95: float
    offset_max: float
    hausdorff: float
    up_mean: float
    up_rmse: float
    area_per_metre: float
    typical: float


# Per line


def by_line(line, count, offset, up):
    """Statistics of offsets per line, each station counting once.

    Parameters
    ----------
    line : ndarray of int, shape (n,)
    count : int
        Number of lines.
    offset, up : ndarray of float, shape (n,)
        Metres; `up` NaN where unknown.

    Returns
    -------
    dict of str to ndarray, shape (count,)
        ``stations``, ``offset_mean``, ``offset_median``, ``offset_sd`` (divided by n - 1),
        ``offset_rmse`` (by n), ``offset_p95`` (percentile of the absolute offsets, linear between
        ranks), ``offset_max``, ``up_mean``, ``up_rmse``; NaN where undefined.
    """
    number = np.bincount(line, minlength=count)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.bincount(line, offset, count) / number
        rmse = np.sqrt(np.bincount(line, offset**2, count) / number)
        sd = np.sqrt(np.bincount(line, (offset - mean[line]) ** 2, count) / (number - 1.0))
        known = np.isfinite(up)
        heights = np.bincount(line[known], minlength=count)
        up_mean = np.bincount(line[known], up[known], count) / heights
        up_rmse = np.sqrt(np.bincount(line[known], up[known] ** 2, count) / heights)
    sd[number < 2] = np.nan
    size = np.abs(offset)
    order = np.lexsort((size, line))
    starts = offsets_of(number)
    return {
        "stations": number,
        "offset_mean": mean,
        "offset_median": group_median(offset, line, count),
        "offset_sd": sd,
        "offset_rmse": rmse,
        "offset_p95": _percentile(size[order], starts, 0.95),
        "offset_max": group_max(size[order], starts, np.nan),
        "up_mean": up_mean,
        "up_rmse": up_rmse,
    }


def _percentile(ordered, starts, share):
    """Percentile of each group of sorted values, linear between ranks, NaN for an empty one."""
    number = np.diff(starts)
    out = np.full(len(number), np.nan)
    some = number > 0
    rank = share * (number[some] - 1)
    low = np.floor(rank).astype(np.int64)
    high = np.minimum(low + 1, number[some] - 1)
    base = starts[:-1][some]
    out[some] = ordered[base + low] + (rank - low) * (ordered[base + high] - ordered[base + low])
    return out


def translations(line, count, east, north, offset, weight):
    """The move of each line as a whole that explains its offsets best, by least squares on the
    normals.

    Parameters
    ----------
    line : ndarray of int, shape (n,)
        Line of each station.
    count : int
        Number of lines.
    east, north : ndarray of float, shape (n,)
        Unit normals.
    offset, weight : ndarray of float, shape (n,)
        Metres.

    Returns
    -------
    move : ndarray of float, shape (count, 2)
        East and north, metres; zero where the line runs one way only, so that a move along it would
        not be seen.
    seen : ndarray of bool, shape (count,)
        Where there is a move.
    """
    a, b, c, p, q = (
        np.bincount(line, weight * values, count)
        for values in (east * east, east * north, north * north, east * offset, north * offset)
    )
    determinant = a * c - b * b
    trace = a + c
    # the lesser eigenvalue is then at least about 4 % of the greater
    seen = determinant > COMPARISON.min_eigenvalue * np.maximum(trace, 1e-12) ** 2
    with np.errstate(invalid="ignore", divide="ignore"):
        move = np.column_stack([(c * p - b * q) / determinant, (a * q - b * p) / determinant])
    move[~seen] = 0.0
    return move, seen


# Per layer


def of_layer(offset, up, weight, hausdorff):
    """Length-weighted statistics of all matched stations.

    Parameters
    ----------
    offset, up, weight : ndarray of float, shape (n,)
        Metres; `up` NaN where unknown.
    hausdorff : float
        Greatest distance between the matched stretches, metres.

    Returns
    -------
    LayerStatistics
    """
    if not len(offset):
        return LayerStatistics(0, 0.0, *[np.nan] * 11)
    mean = np.average(offset, weights=weight)
    known = np.isfinite(up)
    up_mean = up_rmse = spread = np.nan
    if known.any():
        up_mean = np.average(up[known], weights=weight[known])
        up_rmse = np.sqrt(np.average(up[known] ** 2, weights=weight[known]))
    if len(offset) > 1:
        # as many independent values as stations: the weights are lengths, and nearly equal
        spread = np.sqrt(
            np.average((offset - mean) ** 2, weights=weight) * len(offset) / max(len(offset) - 1, 1)
        )
    size = np.abs(offset)
    return LayerStatistics(
        stations=len(offset),
        matched_length=float(weight.sum()),
        offset_mean=float(mean),
        offset_median=weighted_percentile(offset, weight, 0.5),
        offset_sd=float(spread),
        offset_rmse=float(np.sqrt(np.average(offset**2, weights=weight))),
        offset_p95=weighted_percentile(size, weight, 0.95),
        offset_max=float(size.max()),
        hausdorff=float(hausdorff),
        up_mean=float(up_mean),
        up_rmse=float(up_rmse),
        area_per_metre=float(np.average(size, weights=weight)),
        typical=MAD_TO_SIGMA * weighted_percentile(size, weight, 0.5),
    )


def weighted_percentile(values, weight, share):
    """Percentile of values that each stand for a length, linear between the middles of the lengths.

    With equal weights and a share of 0.5 this is the median.

    Parameters
    ----------
    values : ndarray of float, shape (n,)
    weight : ndarray of float, shape (n,)
        Length that each value stands for, metres.
    share : float
        0 to 1.

    Returns
    -------
    float
    """
    order = np.argsort(values, kind="stable")
    middle = np.cumsum(weight[order]) - weight[order] / 2
    return float(np.interp(share * weight.sum(), middle, values[order]))


# Lines as wholes


def distance_to_stretch(lines, x, y, part, chainage, reach, progress=lambda share: None):
    """Distance from each point to its own stretch of a line.

    Parameters
    ----------
    lines : Lines
    x, y : ndarray of float, shape (k,)
        Metres.
    part : ndarray of int, shape (k,)
        Part of `lines` for each point.
    chainage, reach : ndarray of float, shape (k,)
        The stretch goes from `chainage` - `reach` to `chainage` + `reach` along the part, in whole
        segments, metres; past the seam if the part is a ring.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    ndarray of float, shape (k,)
        Metres.
    """
    out = np.full(len(x), np.inf)
    if not len(x):
        return out
    size = lines.part_length()[part]
    ring = _closed_parts(lines)[part]
    for turn in (0.0, 1.0, -1.0):
        progress(0.0 if turn == 0 else 0.9)
        at = chainage + turn * size
        rows = np.flatnonzero((at + reach >= 0) & (at - reach <= size) & (ring | (turn == 0)))
        low, number = _segments_between(lines, part[rows], at[rows], reach[rows], size[rows])
        for some in _blocks(number):
            progress(0.9 * some.start / len(rows) if turn == 0 else 0.9)
            segment = ranges(low[some], number[some])
            point = np.repeat(rows[some], number[some])
            near = segment_distance(
                x[point],
                y[point],
                lines.x[segment],
                lines.y[segment],
                lines.x[segment + 1],
                lines.y[segment + 1],
            )
            least = np.minimum.reduceat(near, offsets_of(number[some])[:-1])
            out[rows[some]] = np.minimum(out[rows[some]], least)
    return out


def _closed_parts(lines):
    """True for parts that end where they start, shape (parts,)."""
    first, last = lines.offsets[:-1], lines.offsets[1:] - 1
    ring = np.zeros(len(first), bool)
    filled = last > first
    a, b = first[filled], last[filled]
    ring[filled] = np.hypot(lines.x[a] - lines.x[b], lines.y[a] - lines.y[b]) < 1e-6
    return ring


def _segments_between(lines, part, at, reach, size):
    """First segment of each stretch, and how many it has."""
    total = offsets_of(lines.steps())[:-1]
    first, last = lines.offsets[:-1][part], lines.offsets[1:][part] - 1
    base = total[first]
    low = np.searchsorted(total, base + np.maximum(at - reach, 0.0), "right") - 1
    high = np.searchsorted(total, base + np.minimum(at + reach, size), "left")
    low = np.clip(low, first, last - 1)
    high = np.clip(high, low + 1, last)
    return low, high - low


def _blocks(number):
    """Slices of points whose segments, `number` each, are about `COMPARISON.block`."""
    if not len(number):
        return
    step = COMPARISON.block
    bounds = np.searchsorted(np.cumsum(number), np.arange(step, number.sum(), step))
    start = 0
    for stop in np.append(bounds, len(number)):
        if stop > start:
            yield slice(start, stop)
            start = stop


def farthest_of_side(own, other, side, progress=lambda share: None):
    """Greatest distance of each matched interval from the line that it is matched with.

    An interval is inspected in its middle, at its ends and at its quarters; the distance from a
    straight stretch is greatest at one of the ends.

    Parameters
    ----------
    own, other : Lines
    side : Side
        Stations of `own` and what they are matched with.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    ndarray of float, shape (m,)
        Metres.
    """
    stations = side.matched
    rows = side.chosen[stations]
    rays, c = side.rays, side.candidates
    worst = np.zeros(len(stations))
    reach = 2 * np.abs(c.offset[rows]) + 2 * rays.weight[stations] + 1.0
    for number, share in enumerate((-0.5, -0.25, 0.0, 0.25, 0.5)):

        def part(done, number=number):
            progress((number + done) / 5)

        part(0.0)
        x, y, *_ = points_at(
            own, rays.part[stations], rays.chainage[stations] + share * rays.weight[stations]
        )
        worst = np.maximum(
            worst, distance_to_stretch(other, x, y, c.part[rows], c.chainage[rows], reach, part)
        )
    return worst


def hausdorff(a, b, spacing=0.1):
    """Greatest distance from either layer of lines to the other, both densified.

    Unless it is told to densify, GEOS inspects only vertices and misses a greatest distance that
    lies inside a segment. Here both lines are sampled at least every `spacing`, so that the result
    is too small by no more than half of it.

    Parameters
    ----------
    a, b : Lines
    spacing : float
        Metres.

    Returns
    -------
    float
        Metres; NaN where one of the two is empty.
    """
    if not (a.part_length().any() and b.part_length().any()):
        return np.nan
    a, b = a.cut(spacing), b.cut(spacing)
    return float(
        max(Index(b).nearest(a.x, a.y, np.inf).max(), Index(a).nearest(b.x, b.y, np.inf).max())
    )
