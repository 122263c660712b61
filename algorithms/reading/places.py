"""Places that cannot be: vertices at nought or far from their line, east and north exchanged, and
layers too wide for one frame."""

import numpy as np
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCsException,
    QgsPointXY,
    QgsProcessingException,
)

from ..host.figures import printed, translate

STRAY = 1e5  # m; no line of a survey has a vertex so far from those before and after it
DEGREE = 111_000.0  # m in a degree of latitude, roughly
WIDE = 5e5  # m from the middle of a frame, beyond which lengths may be off by some 1e-5
BESIDE = 3.0  # degrees that a CRS may be used beyond its area of use
MANY = 10  # positions from which one spot is a doubt
ONE_SPOT = 1.0  # units; degrees of a town span less, and nobody walks an edge within a metre


def tr(text):
    return translate("Places", text)


def take_out_strays(source, x, y, offsets, feedback):
    """Make NaN, in place, of positions at 0, 0 far from all others, and of vertices far from those
    before and after them; they are counted.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    x, y : ndarray of float, shape (n,)
        In the layer's CRS.
    offsets : ndarray of int, shape (lines + 1,), or None
        Where each line starts; None for points.
    feedback : QgsProcessingFeedback
    """
    unit = DEGREE if source.sourceCrs().isGeographic() else 1.0
    nought = (x == 0) & (y == 0)
    if nought.any():
        nought &= _far_from_all(x[~nought], y[~nought], STRAY / unit)
        if nought.any():
            feedback.pushWarning(
                tr(
                    "Layer “{}”: positions 0, 0, far from all others: {}. They count as having no"
                    " position."
                ).format(source.sourceName(), np.count_nonzero(nought))
            )
            x[nought] = y[nought] = np.nan
    if offsets is None or len(x) < 3:
        return
    stray = _strays(x, y, offsets, STRAY / unit)
    if stray.any():
        first = np.flatnonzero(stray)[0]
        feedback.pushWarning(
            tr(
                "Layer “{0}”: vertices more than {2:.0f} km from those before and after them: {1},"
                " for example at {3:.10g}; {4:.10g}. They count as having no position."
            ).format(source.sourceName(), np.count_nonzero(stray), STRAY / 1000, x[first], y[first])
        )
        x[stray] = y[stray] = np.nan


def _far_from_all(x, y, least):
    """Whether 0, 0 lies away from the box around positions by more than its size and `least`."""
    there = np.isfinite(x) & np.isfinite(y)
    if not there.any():
        return False
    low = np.array([x[there].min(), y[there].min()])
    high = np.array([x[there].max(), y[there].max()])
    away = np.maximum(np.maximum(low, -high), 0.0)
    return bool((away > least + (high - low)).any())


def _strays(x, y, offsets, least):
    """True for single vertices far from their neighbours, in lines most of whose vertices are
    not."""
    size = np.diff(offsets)
    line = np.repeat(np.arange(len(size)), size)
    with np.errstate(invalid="ignore", over="ignore"):
        far = np.hypot(np.diff(x), np.diff(y)) > least
    same = np.diff(line) == 0
    far &= same
    before = np.append(False, far) | np.append(True, ~same)
    after = np.append(far, False) | np.append(~same, True)
    any_far = np.append(False, far) | np.append(far, False)
    stray = before & after & any_far
    share = np.bincount(line, stray, len(size)) / np.maximum(size, 1)
    return stray & (share < 0.5)[line]


def middle_of(x, y):
    """The medians of both coordinates of those positions that are there; None without any.

    Parameters
    ----------
    x, y : ndarray of float, shape (n,)

    Returns
    -------
    tuple of float
    """
    there = np.isfinite(x) & np.isfinite(y)
    if not there.any():
        return None
    return tuple(float(np.median(axis[there], overwrite_input=True)) for axis in (x, y))


def refuse_exchanged(source, middle, transform_context):
    """Raise where positions lie outside the area of use of their CRS and, east and north
    exchanged, inside it.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    middle : tuple of float, or None
        See `middle_of`.
    transform_context : QgsCoordinateTransformContext

    Raises
    ------
    QgsProcessingException
        The text names layer, CRS and remedy.
    """
    crs = source.sourceCrs()
    if not crs.isValid() or crs.bounds().isEmpty() or middle is None:
        return
    area = crs.bounds().buffered(BESIDE)
    if abs(middle[0] - middle[1]) < 1 or _inside(crs, area, middle, transform_context):
        return
    if _inside(crs, area, middle[::-1], transform_context):
        raise QgsProcessingException(
            tr(
                "Layer “{}”: its positions, about {:.10g}, {:.10g}, lie outside the area of use of"
                " {}, but inside it with east and north exchanged. Exchange them (“Swap X and Y"
                " coordinates” of QGIS), or assign the right CRS."
            ).format(source.sourceName(), *middle, crs.userFriendlyIdentifier())
        )


def _inside(crs, area, place, transform_context):
    degrees = QgsCoordinateReferenceSystem("EPSG:4326")
    try:
        point = QgsCoordinateTransform(crs, degrees, transform_context).transform(
            QgsPointXY(*place)
        )
    except QgsCsException:
        return False
    if not (np.isfinite(point.x()) and np.isfinite(point.y())):
        return False
    if not area.contains(point):
        return False
    try:  # a projection repeats its area elsewhere: the way back tells
        back = QgsCoordinateTransform(degrees, crs, transform_context).transform(point)
    except QgsCsException:
        return False
    return back.distance(QgsPointXY(*place)) < 1.0


def area_doubt(source, x, y, middle, transform_context):
    """A sentence on positions outside the area that their CRS is for, or in degrees where it counts
    metres; empty where they lie inside.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    x, y : ndarray of float, shape (n,)
        In the layer's CRS.
    middle : tuple of float, or None
        See `middle_of`.
    transform_context : QgsCoordinateTransformContext

    Returns
    -------
    str
    """
    crs = source.sourceCrs()
    if not crs.isValid() or middle is None:
        return ""
    # if half of them are no degrees, they need not be looked at one by one
    if abs(middle[0]) <= 180 and abs(middle[1]) <= 90 and _seem_degrees(crs, x, y):
        return tr(
            "Layer “{}”: all its positions, about {:.10g}, {:.10g}, lie within {} unit of each"
            " other, as degrees do, but its CRS is {}. Check which CRS they are in."
        ).format(
            source.sourceName(), *middle, printed(f"{ONE_SPOT:g}"), crs.userFriendlyIdentifier()
        )
    if crs.bounds().isEmpty():
        return ""
    if _inside(crs, crs.bounds().buffered(BESIDE), middle, transform_context):
        return ""
    return tr(
        "Layer “{}”: its positions, about {:.10g}, {:.10g}, lie outside the area of use of {}."
        " Check which CRS they are in."
    ).format(source.sourceName(), *middle, crs.userFriendlyIdentifier())


# exact: degrees of the globe
def _seem_degrees(crs, x, y):
    """Whether positions in a projected CRS could be degrees: within the globe's, and all of them on
    what would be one spot."""
    there = np.isfinite(x) & np.isfinite(y)
    x, y = x[there], y[there]
    if crs.isGeographic() or len(x) < MANY:
        return False
    if np.abs(x).max() > 180 or np.abs(y).max() > 90:
        return False
    return bool(np.ptp(x) < ONE_SPOT and np.ptp(y) < ONE_SPOT)


def width_doubt(name, x, y):
    """A sentence on a layer that reaches too far for one frame; empty where it does not.

    Parameters
    ----------
    name : str
        Of the layer.
    x, y : ndarray of float, shape (n,)
        Local metres, NaN where there is no position.

    Returns
    -------
    str
    """
    with np.errstate(invalid="ignore"):
        reach = max(np.fmax.reduce(np.abs(axis), initial=0.0) for axis in (x, y))
    if not reach > WIDE:
        return ""
    return tr(
        "Layer “{}” reaches {:.0f} km from its middle: lengths and offsets that far away may be off"
        " by 0.01 % and more. Work on it in parts, for example by region."
    ).format(name, reach / 1000)
