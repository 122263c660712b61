"""Layers into arrays: by GDAL's Arrow stream where the layer is a file, else feature by feature.

Both ways give identical arrays. Only the columns that are wanted are read.
"""

from qgis.core import (
    QgsWkbTypes,
)

from .features import read_lines, read_points
from .layer_stream import CannotStreamError, read_stream


def read_rows(source, file, names, feedback, progress):
    """Read geometry and some fields of a point or line source.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    file : File or None
        From `file_behind`.
    names : sequence of str
        Fields to read; each must be in the source.
    feedback : QgsProcessingFeedback
    progress : callable
        Called with the share that is done, 0 to 1.

    Returns
    -------
    Rows
        In the order of the source's features.

    Raises
    ------
    CancelledError
    """
    names = list(dict.fromkeys(names))
    points = QgsWkbTypes.geometryType(source.wkbType()) == QgsWkbTypes.GeometryType.PointGeometry
    if points and file is not None:
        try:
            return read_stream(file, source, names, feedback, progress)
        except CannotStreamError:
            pass  # the features give the same, only more slowly
    return (read_points if points else read_lines)(source, names, feedback, progress)
