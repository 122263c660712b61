"""All sinks are made before anything is written."""

import numpy as np
import pytest
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsFields,
    QgsProcessingException,
    QgsProcessingFeedback,
    QgsWkbTypes,
)

from curbwright.algorithms.base.outputs import Outputs
from curbwright.algorithms.host.fields import NewField, field
from curbwright.algorithms.writing import sinks

NUMBER = (NewField("number", "Int", "A number."),)
TABLE = QgsWkbTypes.Type.NoGeometry, QgsCoordinateReferenceSystem()


class Sink:
    """Keeps the rows that it is given."""

    def __init__(self):
        self.rows = []

    def addFeatures(self, features, flags=None):
        self.rows += [feature.attributes() for feature in features]
        return True


class Writes:
    """An algorithm whose sinks can fail."""

    def __init__(self, failing=""):
        self.failing, self.made = failing, {}

    def label(self, name):
        return name.title()

    def wanted(self, parameters, name):
        return name in parameters

    def sink(self, parameters, name, context, fields, geometry_type, crs, style):
        if name == self.failing:
            raise QgsProcessingException(name)
        self.made[name] = Sink()
        return self.made[name], name.lower()

    def writer(self, sink, parameters, name):
        return sinks.Writer(sink, lambda refusing: name)


class Source:
    def fields(self):
        made = QgsFields()
        made.append(field("NUMBER", "QString"))
        return made


def outputs(algorithm):
    return Outputs(algorithm, {"FIRST": 1, "SECOND": 1}, None, QgsProcessingFeedback())


def test_rows_of_all_tables():
    algorithm = Writes()
    out = outputs(algorithm)
    assert out.wanted("FIRST") and not out.wanted("THIRD")
    out.add("FIRST", NUMBER, TABLE, None, None, [[1, 2]])
    out.add("SECOND", NUMBER, TABLE, None, None, [np.array([3]).tolist()])
    assert algorithm.made["FIRST"].rows == []
    out.write(start=50, step=20)
    assert [algorithm.made[name].rows for name in ("FIRST", "SECOND")] == [[[1], [2]], [[3]]]
    assert out.results == {"FIRST": "first", "SECOND": "second"}
    assert out.feedback.progress() == 70


def test_a_sink_that_cannot_be_made_leaves_nothing_written():
    algorithm = Writes(failing="SECOND")
    out = outputs(algorithm)
    out.add("FIRST", NUMBER, TABLE, None, None, [[1, 2]])
    with pytest.raises(QgsProcessingException, match="SECOND"):
        out.add("SECOND", NUMBER, TABLE, None, None, [[3]])
    assert algorithm.made["FIRST"].rows == []


def test_renamed_fields_are_named():
    out = outputs(Writes())
    said = []
    out.feedback.pushInfo = said.append
    assert out.fields("FIRST", Source(), NUMBER).names() == ["NUMBER_source", "number"]
    assert said == ["Source fields renamed in “First”: NUMBER → NUMBER_source."]
