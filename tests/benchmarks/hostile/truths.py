"""Layers whose truth is known, for the hostile cases that judge what comes out by it."""

import numpy as np
import shapely
from linelayers import line_layer
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCoordinateTransformContext,
    QgsVectorLayer,
)
from walkedlayers import ORIGIN, layer_of, to_file, walk

ROWS = 120  # of `walk()`: two captures of 60
NOT_FIXED, POOR, SPIKES = 6, 2, 2  # of them
ALONG = 52 * 1.2  # m that each capture walks: the last epochs stand still
CORNER = 0.4 * ALONG
TRUTH = shapely.MultiLineString(
    [[(c, 0.0), (c + CORNER, 0.0), (c + CORNER, ALONG - CORNER)] for c in (0.0, 100.0)]
)  # from `ORIGIN`, m


def opened(given):
    """A layer from what a run returned, or from its path."""
    return given if isinstance(given, QgsVectorLayer) else QgsVectorLayer(str(given), "a", "ogr")


def shapes(layer, crs="EPSG:32632", origin=ORIGIN):
    """Geometries of a layer in metres of a CRS from an origin, as arrays of coordinates."""
    layer = opened(layer)
    way = QgsCoordinateTransform(
        layer.crs(), QgsCoordinateReferenceSystem(crs), QgsCoordinateTransformContext()
    )
    found = []
    for feature in layer.getFeatures():
        shape = feature.geometry()
        if shape.isNull():
            continue
        if layer.crs().isValid():
            shape.transform(way)
        found.append(
            np.array([(v.x() - origin[0], v.y() - origin[1], v.z()) for v in shape.vertices()])
        )
    return found


def off_truth(layer, truth=TRUTH, **how):
    """How far the lines of a layer lie off the truth at most, and their length; m."""
    found = shapes(layer, **how)
    if not found:
        return np.inf, 0.0
    lines = [shapely.LineString(one[:, :2]) for one in found]
    at = np.concatenate([shapely.get_coordinates(shapely.segmentize(line, 0.5)) for line in lines])
    distance = shapely.distance(shapely.points(at), truth)
    return float(distance.max()), float(sum(line.length for line in lines))


def as_walked(box, outcome, rows=ROWS, least=0.9, limit=0.05, truth=TRUTH, screened=True, **how):
    """The run must have ended well with the edges of `walk()`, and have counted all its rows.

    `least` is the share of the true length that must be there; `screened` asks for the epochs
    without fix and of poor accuracy to be rejected.
    """
    box.done(outcome)
    off, length = off_truth(outcome["OUTPUT"], truth, **how)
    box.right(off <= limit, f"edges {off:.3f} m off the truth")
    box.right(
        least * truth.length <= length <= 1.05 * truth.length,
        f"{length:.1f} m of {truth.length:.1f} m",
    )
    read, kept = outcome["EPOCHS_READ"], outcome["EPOCHS_KEPT"]
    box.right(read == rows, f"{read} epochs read of {rows}")
    box.right(kept + outcome["EPOCHS_REJECTED"] == read, f"{kept} kept")
    if screened:
        box.right(
            outcome["EPOCHS_REJECTED"] >= NOT_FIXED + POOR,
            f"only {outcome['EPOCHS_REJECTED']} rejected",
        )
    return "right"


def plumb(rows=None, **how):
    """The layer of `walk()`."""
    return layer_of(walk() if rows is None else rows, **how)


def edges_file(path, **how):
    """Four parallel edges in a file."""
    return to_file(edges(**how), path)


def edges(shift=(0.0, 0.0), name="edges", **how):
    """Five lines with fields: three streets, a square, one apart."""
    shapes_ = [
        np.array([(0.0, 0.0, 4.0), (40.0, 0.0, 4.2)]),
        np.array([(40.0, 0.0, 4.2), (40.0, 30.0, 4.3)]),
        np.array([(0.0, 10.0, 4.0), (30.0, 10.0, 4.1)]),
        np.array([(0.0, 0.0, 4.0), (0.0, 30.0, 4.4)]),
        np.array([(60.0, 0.0, 4.0), (90.0, 20.0, 4.1)]),
    ]
    shapes_ = [one + np.array([*shift, 0.0]) for one in shapes_]
    values = [(i + 1, f"kerb {i + 1}", 0.01) for i in range(5)]
    return line_layer(
        shapes_,
        name=name,
        kind="LineStringZ",
        fields=(("number", "integer"), ("name", "string"), ("sigma_cross", "double")),
        values=values,
        **how,
    )
