"""Layers of results read for a review: by the stream and by features alike, edits included."""

from dataclasses import fields, replace
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.testing import assert_array_equal
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransformContext,
    QgsProcessingException,
    QgsProcessingFeedback,
    QgsProject,
    QgsVectorLayer,
)
from reviewresults import make_results

from curbwright.algorithms.host.feedback import CancelledError
from curbwright.algorithms.review import layers as parts
from curbwright.algorithms.review.line_evidence import _around
from curbwright.algorithms.review.line_stream import read_lines
from curbwright.algorithms.review.reading import read_review

pytestmark = pytest.mark.usefixtures("qgis_app")


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    return make_results(tmp_path_factory.mktemp("read"), 30)


def opened(path, name):
    return QgsVectorLayer(f"{path}|layername={name}", name, "ogr")


@pytest.fixture
def some_layers(path):
    names = {part: some[0] for part, some in parts.OF_FOLDER.items()}
    found = {part: opened(path, name) for part, name in names.items()}
    return {part: layer for part, layer in found.items() if layer.isValid()}


def snapshots(layers):
    transforms = QgsProject.instance().transformContext()
    return {part: parts.snapshot(layer, transforms) for part, layer in layers.items()}


def test_layers_are_known_by_their_fields(some_layers):
    known = {part: parts.part_of(layer) for part, layer in some_layers.items()}
    assert known.pop(parts.EDGES) == parts.LINES  # edges as walked can be reviewed themselves
    assert known.pop(parts.RUN_LOG) == ""
    assert all(part == found for part, found in known.items()) and len(known) == 5


def test_stream_and_features_give_the_same(some_layers):
    streamed = snapshots(some_layers)
    assert streamed[parts.LINES].file is not None
    by_feature = {part: replace(one, file=None) for part, one in streamed.items()}
    names = ["edge_id", "capture", "started", "decision", "sigma_cross"]
    first, second = (
        read_lines(given[parts.LINES], names, QgsProcessingFeedback(), lambda share: None)
        for given in (streamed, by_feature)
    )
    for column in fields(first):
        if column.name != "columns":
            assert_array_equal(getattr(first, column.name), getattr(second, column.name))
    for name in names:
        assert_array_equal(first.columns[name].values, second.columns[name].values)
        assert_array_equal(first.columns[name].missing, second.columns[name].missing)
    reviews = [read_review(given, QgsProcessingFeedback()) for given in (streamed, by_feature)]
    for column in fields(reviews[0].found):
        assert_array_equal(*(getattr(one.found, column.name) for one in reviews))
    assert reviews[0].label == reviews[1].label and reviews[0].days == reviews[1].days


def test_edits_that_are_not_saved_are_seen(some_layers):
    layer = some_layers[parts.LINES]
    layer.startEditing()
    layer.changeAttributeValue(3, layer.fields().lookupField("decision"), "hold")
    layer.deleteFeature(5)
    read = read_review(snapshots(some_layers), QgsProcessingFeedback())
    layer.rollBack()
    assert read.decision[read.label.index("3")] == "hold"
    assert "5" not in read.label


def test_reading_stops_where_it_is_cancelled(some_layers):
    feedback = QgsProcessingFeedback()
    feedback.cancel()
    with pytest.raises(CancelledError):
        read_review(snapshots(some_layers), feedback)


def test_lines_of_several_parts_have_no_ends_but_a_length(qgis_app):
    layer = QgsVectorLayer(
        "MultiLineString?crs=EPSG:32631&field=edge_id:integer&field=sigma_cross:double",
        "parts",
        "memory",
    )
    from qgis.core import QgsFeature, QgsGeometry

    wkt = (
        "MULTILINESTRING ((500000 0, 500010 0), (500010.1 0, 500020 0))",
        "MULTILINESTRING ((500020.1 0, 500030 0))",
        "MULTILINESTRING ((500030.1 0, 500040 0))",
    )
    features = []
    for number, text in enumerate(wkt):
        feature = QgsFeature(layer.fields())
        feature.setAttributes([number + 1, 0.001])
        feature.setGeometry(QgsGeometry.fromWkt(text))
        features.append(feature)
    layer.dataProvider().addFeatures(features)
    read = read_review(snapshots({parts.LINES: layer}), QgsProcessingFeedback())
    assert_array_equal(read.found.kind > 0, [False, True, True])  # left open beside each other
    # a UTM zone is 0.4 mm short in a metre at its centre
    np.testing.assert_allclose(read.length, np.array([19.9, 9.9, 9.9]) / 0.9996, rtol=1e-4)


def test_a_layer_that_the_line_cannot_be_brought_into_is_named(qgis_app):
    """A gnomonic projection shows one half of the earth: Europe is not in one about New Zealand."""
    far = QgsVectorLayer("Point", "epochs", "memory")
    far.setCrs(QgsCoordinateReferenceSystem.fromProj("+proj=gnom +lat_0=-45 +lon_0=175"))
    near = QgsVectorLayer("LineString?crs=EPSG:32631", "edges", "memory")
    own, source = (parts.snapshot(one, QgsCoordinateTransformContext()) for one in (near, far))
    frame = SimpleNamespace(layer=lambda x, y: (x + 5e5, y + 5.8e6))
    axis = SimpleNamespace(x=np.zeros(2), y=np.array([0.0, 10.0]))
    with pytest.raises(QgsProcessingException, match="CRS of layer “epochs”"):
        _around(source, (own, None, frame, axis))
