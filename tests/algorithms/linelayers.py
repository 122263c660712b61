"""Layers of lines for the tests of the algorithms that compare them."""

import numpy as np
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCoordinateTransformContext,
    QgsFeature,
    QgsGeometry,
    QgsVectorLayer,
)

UTM = "EPSG:32632"
ORIGIN = (600000.0, 6200000.0)


def geometry(parts, origin=ORIGIN, crs=UTM):
    """A geometry from a list of parts of (x, y) or (x, y, z) given in metres of UTM from `origin`,
    in any CRS."""
    parts = [np.asarray(part, float) for part in parts]
    tail = " Z" if parts[0].shape[1] == 3 else ""
    text = ", ".join(
        "("
        + ", ".join(
            " ".join(repr(float(c)) for c in (*(vertex[:2] + origin), *vertex[2:]))
            for vertex in part
        )
        + ")"
        for part in parts
    )
    made = QgsGeometry.fromWkt(
        f"MultiLineString{tail} ({text})" if len(parts) > 1 else f"LineString{tail} {text}"
    )
    if crs != UTM:
        way = QgsCoordinateTransform(
            QgsCoordinateReferenceSystem(UTM),
            QgsCoordinateReferenceSystem(crs),
            QgsCoordinateTransformContext(),
        )
        assert made.transform(way) == 0
    return made


def line_layer(
    shapes, name="edges", kind="LineString", crs=UTM, fields=(), values=None, origin=ORIGIN
):
    """Memory layer; a shape is an array, a list of arrays (multi-part), a QgsGeometry, or None."""
    layer = QgsVectorLayer(
        f"{kind}?crs={crs or ''}" + "".join(f"&field={field}:{type_}" for field, type_ in fields),
        name,
        "memory",
    )
    assert layer.isValid()
    features = []
    for row, shape in enumerate(shapes):
        feature = QgsFeature(layer.fields())
        if isinstance(shape, QgsGeometry):
            feature.setGeometry(shape)
        elif shape is not None:
            feature.setGeometry(
                geometry(shape if isinstance(shape, list) else [shape], origin, crs or UTM)
            )
        if values is not None:
            feature.setAttributes(list(values[row]))
        features.append(feature)
    done, _ = layer.dataProvider().addFeatures(features)
    assert done, layer.dataProvider().lastError()
    layer.updateExtents()
    return layer


def straight(y, x=(0.0, 40.0)):
    return np.array([(x[0], y), (x[1], y)])


def upright(x, y=(0.0, 40.0)):
    return np.array([(x, y[0]), (x, y[1])])


def shapes_of(layer):
    """Shapes of a simulated layer of `sample_project.basemaps`, with heights."""
    xyz = np.column_stack([layer.x, layer.y, layer.z])
    return [
        [xyz[layer.offsets[p] : layer.offsets[p + 1]] for p in np.flatnonzero(layer.line == row)]
        for row in range(len(layer))
    ]
