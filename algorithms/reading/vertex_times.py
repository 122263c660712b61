"""Times of the vertices of streamed lines: from M where it is a time, else from the order of the
vertices."""

from dataclasses import dataclass

import numpy as np
from qgis.PyQt.QtCore import QCoreApplication

from ...shared.epochs.times import kind_in_words, parse_times
from ...shared.language import speaking
from ..host.figures import printed, translate

NO_DATA = -1e37  # shapefiles: M below -1e38 is none (Shapefile Technical Description, 1998, p. 2)
DAY, WEEK = 86400.0, 604800.0
# m/s of a capture, half of all steps: slower is read as milliseconds, faster is no time
SLOWEST, FASTEST = 0.01, 30.0
MOVING = 0.2  # m: shorter steps are noise of standing and tell no speed
NO_STEP = 1e-9  # s or ms; no clock tells less, and to divide by it would overflow
SAME_RATIO, SAME_STEP = 0.02, 0.05  # spreads, as shares of the median, that tell chainage from time


@dataclass(frozen=True)
class VertexTimes:
    """Times of vertices.

    Attributes
    ----------
    seconds : ndarray of float, shape (n,)
        NaN where there is none.
    by_order : bool
        True where the order of the vertices stands for the time, one second to a vertex, from 0 in
        each part.
    infos, warnings : tuple of str
        What is to be said of it.
    """

    seconds: np.ndarray
    by_order: bool
    infos: tuple = ()
    warnings: tuple = ()


def tr(text):
    return translate("VertexTimes", text)


def times_of_vertices(m, ids, part, x, y):
    """Times of the vertices of lines, in the order in which they stand in each line.

    Parameters
    ----------
    m : ndarray of float, shape (n,)
        Seconds, or milli-, micro- or nanoseconds since 1970, told apart by size; or seconds or
        milliseconds from any origin, a day's or a week's beginning say, which may run over. NaN for
        none.
    ids, part : ndarray of int64, shape (n,)
        Line and part of each vertex; vertices of a part stand together.
    x, y : ndarray of float, shape (n,)
        Metres.

    Returns
    -------
    VertexTimes
    """
    m = np.where(np.isfinite(m) & (m > NO_DATA), m, np.nan)
    if not np.isfinite(m).any():
        return _by_order(ids, part, tr("no vertex has an M value"))
    warnings = []
    if np.nanmax(np.abs(m)) > 1000 * WEEK:  # above the milliseconds of a week
        filled = m == 0
        if filled.any():  # what is written where a value was missing; as a time it would be 1970
            warnings.append(
                tr(
                    "Vertices with the M value 0 among times since 1970, which count as having no"
                    " time: {}."
                ).format(np.count_nonzero(filled))
            )
        seconds, kind = parse_times(np.where(filled, np.nan, m))
        with speaking(QCoreApplication.translate):
            what = kind_in_words(kind)
    else:
        seconds, what, why = _from_any_origin(m, ids, part, x, y)
        if why:
            return _by_order(ids, part, why)
    without = np.count_nonzero(np.isnan(m))
    if without:
        warnings.append(
            tr("Vertices without an M value, which count as having no time: {}.").format(without)
        )
    infos = tr("Time: the M values of the vertices, read as: {}.").format(what), _first_values(m)
    return VertexTimes(seconds, False, infos, tuple(warnings))


def _first_values(m):
    return "    " + tr("first values: {}").format(
        "; ".join(printed(f"{value:.15g}") for value in m[np.isfinite(m)][:3].tolist())
    )


def _by_order(ids, part, why):
    """The number of each vertex in its part for a time."""
    first = np.append(True, (np.diff(ids) != 0) | (np.diff(part) != 0))
    starts = np.flatnonzero(first)
    seconds = np.arange(len(ids)) - np.repeat(starts, np.diff(np.append(starts, len(ids))))
    return VertexTimes(
        seconds.astype(float),
        True,
        (),
        (
            tr(
                "Time: {}, so the order of the vertices stands for it, one second to a vertex."
                " Lines are broken at long steps, not at pauses; fields of time stay empty, and"
                " “seconds” counts vertices. Every part of a line is a capture by itself."
            ).format(why),
        ),
    )


def _from_any_origin(m, ids, part, x, y):
    """Seconds, what they are, and why they are no time where they are none."""
    rows = np.flatnonzero(np.isfinite(m))
    joined = (np.diff(ids[rows]) == 0) & (np.diff(part[rows]) == 0)
    m, turned = _unrolled(m, rows, ids)
    step = np.diff(m[rows])[joined]
    step[np.abs(step) < NO_STEP] = 0.0
    far = np.hypot(np.diff(x[rows]), np.diff(y[rows]))[joined]
    if not (step != 0).any():
        return m, "", tr("M is the same at all vertices of a line")
    # up or down: a line may have been turned round
    line = np.cumsum(np.append(True, ~joined))[1:][joined]
    up, down = (
        np.bincount(line[step > 0], minlength=line[-1] + 1),
        np.bincount(line[step < 0], minlength=line[-1] + 1),
    )
    if np.maximum(up, down).sum() < 0.9 * (up + down).sum():
        return m, "", tr("M goes up and down along the lines")
    step = np.abs(step)
    moving = (far > MOVING) & (step > 0)
    if np.count_nonzero(moving) >= 3:
        if _spread(step[moving] / far[moving]) < SAME_RATIO and _spread(step[moving]) > SAME_STEP:
            return (
                m,
                "",
                tr("M grows with the distance ({:.4g} to a metre), as chainage does").format(
                    np.median(step[moving] / far[moving])
                ),
            )
        speed = float(np.median(far[moving] / step[moving]))
        if speed > FASTEST:
            return m, "", tr("M as seconds would mean {:.4g} m/s").format(speed)
        thousandths = speed < SLOWEST
        if speed * 1000 < SLOWEST:
            return m, "", tr("M as milliseconds would still mean {:.2g} m/s").format(speed * 1000)
    else:
        thousandths = np.nanmax(np.abs(m)) > WEEK and np.median(step) >= 20
    what = (
        (tr("milliseconds") if thousandths else tr("seconds"))
        + " "
        + tr("from an origin of their own")
    )
    if turned:
        what += ", " + tr("overruns: {}").format(turned)
    return (m / 1000.0 if thousandths else m), what, ""


def _unrolled(m, rows, ids):
    """M without the falls where a day or a week begins anew inside a line, and their number."""
    greatest = np.nanmax(m)
    period = next(
        (period for period in (DAY, WEEK, 1000 * DAY, 1000 * WEEK) if greatest <= period), None
    )
    if period is None or np.nanmin(m) < 0:
        return m, 0
    # a fall from the last hour of the period into its first: a line turned round does not fall by
    # so much
    margin = 3600 * (1 if period <= WEEK else 1000)
    value = m[rows]
    falls = np.append(
        False, (value[1:] < margin) & (value[:-1] > period - margin) & (np.diff(ids[rows]) == 0)
    )
    turns = np.cumsum(falls)
    first = np.append(True, np.diff(ids[rows]) != 0)
    turns -= np.maximum.accumulate(np.where(first, turns, 0))
    out = m.copy()
    out[rows] = value + turns * period
    return out, int(np.count_nonzero(falls))


def _spread(values):
    """Range of the middle four fifths as a share of the median."""
    low, middle, high = np.quantile(values, (0.1, 0.5, 0.9))
    return (high - low) / middle
