"""The edges of a run in a frame true to scale, for the map of its report."""

import numpy as np
from qgis.core import QgsGeometry

from ..reading.frames import FrameError, make_frame


def edges_in_frame(features, crs, transform_context):
    """The edges as lines of a map.

    Parameters
    ----------
    features : sequence of QgsFeature
        In the CRS.
    crs : QgsCoordinateReferenceSystem
    transform_context : QgsCoordinateTransformContext

    Returns
    -------
    Lines or None
        None where there are none, or no frame can show them.
    """
    import shapely

    from ...shared.lines.lines import Lines

    shapes = np.array([_flat(feature.geometry()) for feature in features], object)
    parts, rows = shapely.get_parts(shapely.from_wkb(shapes), return_index=True)
    xy, part = shapely.get_coordinates(parts, return_index=True)
    if not len(xy):
        return None
    x, y = xy.T.copy()
    try:
        east, north, _ = make_frame(crs, x, y, None, transform_context).local(x, y)
    except FrameError:
        return None  # said where the captures were read
    count = len(features)
    return Lines(
        x=east,
        y=north,
        z=np.full(len(east), np.nan),
        offsets=np.searchsorted(part, np.arange(len(parts) + 1)),
        line=rows,
        count=count,
        sigma=np.zeros(count),
    )


def _flat(geometry):
    """WKB of a copy without heights and measures; None for none."""
    if geometry.isNull():
        return None
    plain = QgsGeometry(geometry)
    plain.get().dropZValue()
    plain.get().dropMValue()
    return bytes(plain.asWkb())
