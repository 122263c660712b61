"""The steps from a layer into a local frame."""

import numpy as np
import pytest
from linelayers import UTM, line_layer
from numpy.testing import assert_allclose, assert_array_equal
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransformContext,
    QgsProcessingException,
)
from walkedlayers import Log, source_of

from curbwright.algorithms.host.feedback import CancelledError
from curbwright.algorithms.reading import layer_frame

pytestmark = pytest.mark.usefixtures("provider")

CONTEXT = QgsCoordinateTransformContext()
SQUARE = np.array([(0.0, 0.0), (10.0, 0.0), (10.0, 10.0)])


def source(shapes=(SQUARE,), name="edges", crs=UTM):
    layer = line_layer(shapes, name, crs=crs)
    made = source_of(layer)
    made.layer = layer  # which must outlive it
    return made


def test_lines_and_their_local_positions():
    log = Log()
    read, located = layer_frame.locate_lines(source(), [], CONTEXT, log, lambda share: None)
    assert_allclose(
        np.hypot(np.diff(located.x), np.diff(located.y)) / located.scale[:-1], 10, rtol=1e-3
    )
    assert located.there.all() and len(read.ids) == 1 and log.warnings == []


def test_an_empty_layer_is_refused():
    with pytest.raises(QgsProcessingException, match="“edges” is empty: there is no edge"):
        layer_frame.locate_lines(source(()), [], CONTEXT, Log(), lambda share: None)


def test_cancelling_stops_it():
    log = Log()
    log.cancel()
    with pytest.raises(CancelledError):
        layer_frame.locate_lines(source(), [], CONTEXT, log, lambda share: None)


def test_rows_without_a_length_are_counted_and_refused_where_there_are_no_others():
    log = Log()
    layer_frame.refuse_without_length(source(), 2, 3, log)
    assert "rows left out, with no geometry, or no length: 1." in log.warnings[0]
    with pytest.raises(QgsProcessingException, match="“edges”: no row holds a line with a length"):
        layer_frame.refuse_without_length(source(), 0, 3, log)


def test_a_crs_on_one_side_alone_is_refused():
    layer_frame.refuse_mixed_crs(source(), source(name="old"))
    for first, second in (
        (source(), source(name="old", crs="")),
        (source(name="old", crs=""), source()),
    ):
        with pytest.raises(QgsProcessingException, match="“old” has no CRS but layer “edges” has"):
            layer_frame.refuse_mixed_crs(first, second)
    way = layer_frame.way_into(QgsCoordinateReferenceSystem("EPSG:4326"), source(), CONTEXT)
    assert way.isValid()


def test_vertices_that_are_taken_out():
    offsets = np.array([0, 2, 4, 7])
    there = np.array([True, True, False, False, True, False, True])
    filled, kept = layer_frame.kept_offsets(offsets, there)
    assert filled.tolist() == [True, False, True] and kept.tolist() == [0, 2, 4]
    assert "outside the range of the CRS: 3." in layer_frame.lost_vertices("edges", there)
    assert layer_frame.lost_vertices("edges", there[:2]) == ""


def test_scale_of_rows_and_numbers_of_parts():
    line, offsets = np.array([0, 0, 2]), np.array([0, 1, 3, 4])
    scale = layer_frame.row_scale(line, offsets, np.array([1.0, 2.0, 3.0, 5.0]), 3)
    assert_array_equal(scale, [2.0, 1.0, 5.0])
    assert layer_frame.part_numbers(line).tolist() == [1, 2, 1]
