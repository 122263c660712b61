"""Which field of the edges fills which field of added lines."""

import pytest
from linelayers import line_layer, straight
from qgis.core import QgsProcessingException
from walkedlayers import source_of

from curbwright.algorithms.writing.field_mapping import fitting, same_names, written_mapping

pytestmark = pytest.mark.usefixtures("provider")


def held(layer):
    """The source of a layer, which lives as long."""
    source = source_of(layer)
    source.layer = layer
    return source


@pytest.fixture
def target():
    fields = (("Name", "string"), ("width", "double"), ("update", "string"))
    return held(line_layer([straight(0.0)], "basemap", fields=fields))


@pytest.fixture
def source():
    fields = (("name", "string"), ("stone", "string"), ("update", "string"))
    rows = [("one", "granite", ""), ("two", None, "")]
    return held(line_layer([straight(0.0), straight(5.0)], fields=fields, values=rows))


def test_fields_of_one_name_are_taken_in_either_case(target, source):
    assert same_names(target.fields(), source.fields(), {"update"}) == {"Name": "name"}


def test_a_mapping_is_read_as_the_layers_spell_it(target, source):
    assert written_mapping(" name : STONE ;", "Map", target, source) == {"Name": "stone"}


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("name", "basemap.*no field"),
        ("colour: stone", "basemap.*“colour”.*Name, width"),
        ("name: colour", "edges.*“colour”.*name, stone"),
        ("name: stone; Name: name", "“Name”.*a second time"),
    ],
)
def test_a_mapping_that_cannot_be_kept_to_is_an_error(target, source, text, said):
    with pytest.raises(QgsProcessingException, match=said):
        written_mapping(text, "Map", target, source)


def test_a_field_that_cannot_take_a_value_is_left_out_or_an_error(target, source):
    rows, mapping, said = list(source.getFeatures()), {"Name": "stone", "width": "stone"}, []
    assert fitting(mapping, target, rows, "Map", said.append) == {"Name": "stone"}
    assert len(said) == 1 and "“width”" in said[0] and "granite" in said[0]
    with pytest.raises(QgsProcessingException, match=r"“width”.*“granite”"):
        fitting(mapping, target, rows, "Map", None)
