"""Where anyone looked: polygons, or what lies near edges and epochs, as the comparison takes it."""

import numpy as np
from qgis.core import QgsFeatureRequest, QgsGeometry, QgsProcessingException, QgsWkbTypes

from ..host.feedback import raise_if_cancelled
from ..host.figures import translate
from ..host.watching import in_background
from .features import iterate
from .layer_frame import refuse_mixed_crs, way_into
from .transforms import transform


def tr(text):
    return translate("SurveyArea", text)


def survey_words(reach, area, epochs=False):
    """What counts as surveyed, in words.

    Parameters
    ----------
    reach : float
        Metres.
    area : QgsProcessingFeatureSource or None
    epochs : bool
        Whether epochs count beside edges.

    Returns
    -------
    str
    """
    if area is not None:
        return tr("the polygons of “{}”, and what has a counterpart").format(area.sourceName())
    if epochs:
        return tr("what lies within {:g} m of any epoch or edge").format(reach)
    return tr("what lies within {:g} m of any edge").format(reach)


def read_survey(pair, edges, area, reach, places, transform_context, feedback):
    """The surveyed area in the frame of a pair of layers.

    Parameters
    ----------
    pair : LinePair
    edges : QgsProcessingFeatureSource
        The edges of the pair.
    area : QgsProcessingFeatureSource or None
        Polygons, in any CRS.
    reach : float
        Metres.
    places : tuple of ndarray of float, shape (n,), or None
        x and y of epochs in the CRS of the edges.
    transform_context : QgsCoordinateTransformContext
    feedback : QgsProcessingFeedback

    Returns
    -------
    Survey

    Raises
    ------
    QgsProcessingException
        If the polygons cannot be used; the text names the layer.
    CancelledError
    """
    from ...shared.lines.visits import Survey

    if area is not None:
        return Survey(reach, inside=_inside(pair, edges, area, transform_context, feedback))
    if places is None:
        return Survey(reach)
    return Survey(reach, *pair.local(*places))


def _inside(pair, edges, area, transform_context, feedback):
    """A test whether places lie in the polygons."""
    import shapely

    refuse_mixed_crs(edges, area)
    shapes = _polygons(area, feedback)
    xy = shapely.get_coordinates(shapes)
    x, y = xy[:, 0].copy(), xy[:, 1].copy()
    if area.sourceCrs() != edges.sourceCrs():
        x, y = transform(way_into(edges.sourceCrs(), area, transform_context), x, y)
    local = np.column_stack(pair.local(x, y))
    if not np.isfinite(local).all():
        raise QgsProcessingException(
            tr("Layer “{}” has vertices without a place in the CRS of “{}”.").format(
                area.sourceName(), edges.sourceName()
            )
        )
    shapes = shapely.set_coordinates(shapes, local)
    crossed = int(np.count_nonzero(~shapely.is_valid(shapes)))
    if crossed:
        feedback.pushWarning(
            tr(
                "Layer “{}”: {} of its polygons cross themselves or lie in each other; what is"
                " inside is guessed. Repair them (“Fix geometries” of QGIS)."
            ).format(area.sourceName(), crossed)
        )
    whole = in_background(lambda: shapely.union_all(shapely.make_valid(shapes)), feedback)
    if not whole.intersects(_box_of(pair)):
        feedback.pushWarning(
            tr(
                "No line lies in the surveyed area “{}”: nothing counts as visited but what has a"
                " counterpart. Check its CRS and place."
            ).format(area.sourceName())
        )
    shapely.prepare(whole)
    return lambda x, y: shapely.intersects_xy(whole, x, y)


def _box_of(pair):
    """The box around all lines of a pair of layers, shapely."""
    import shapely

    x, y = (
        np.concatenate([getattr(pair.edges, axis), getattr(pair.existing, axis)]) for axis in "xy"
    )
    return shapely.box(x.min(), y.min(), x.max(), y.max()) if len(x) else shapely.Polygon()


def _polygons(area, feedback):
    """All polygons of a layer, an array of shapely; raises where there is none."""
    import shapely

    if QgsWkbTypes.geometryType(area.wkbType()) != QgsWkbTypes.GeometryType.PolygonGeometry:
        raise QgsProcessingException(
            tr("Layer “{}” holds no polygons ({}), so it cannot be the surveyed area.").format(
                area.sourceName(), QgsWkbTypes.displayString(area.wkbType())
            )
        )
    blobs = []
    request = QgsFeatureRequest().setSubsetOfAttributes([])
    for feature in iterate(area, request):
        raise_if_cancelled(feedback)
        geometry = feature.geometry()
        if geometry.isNull() or geometry.isEmpty():
            continue
        flat = geometry.constGet().segmentize()
        flat.dropZValue()
        flat.dropMValue()
        blobs.append(bytes(QgsGeometry(flat).asWkb().data()))
    if not blobs:
        raise QgsProcessingException(
            tr(
                "Layer “{}” holds no polygon. Choose another surveyed area, or leave it empty to"
                " take what lies near the edges."
            ).format(area.sourceName())
        )
    return shapely.from_wkb(np.array(blobs, dtype=object))
