"""Fields of layers."""

from qgis.core import QgsFields

from curbwright.algorithms.host.fields import (
    NewField,
    field,
    fields_of,
    kind,
    spelling,
    with_new_fields,
)

OWN = (
    NewField("started_unix", "Double", "A time.", "s", length=20, decimals=3),
    NewField("state", "QString", "A word."),
    NewField("closed", "Bool", "Yes or no."),
)


def fields(*names):
    made = QgsFields()
    for name in names:
        made.append(field(name, "QString"))
    return made


def test_a_table_of_fields():
    made = fields_of(OWN)
    assert made.names() == ["started_unix", "state", "closed"]
    assert [kind(one) for one in made] == ["double", "text", "bool"]
    assert (made.at(0).length(), made.at(0).precision()) == (20, 3)


def test_source_fields_give_way_to_new_ones():
    made, renamed = with_new_fields(fields("STATE", "state_source", "fid", "note"), OWN)
    assert renamed == {"STATE": "STATE_source2", "fid": "fid_source"}
    assert made.names() == [
        "STATE_source2",
        "state_source",
        "fid_source",
        "note",
        *(new.name for new in OWN),
    ]


def test_the_layers_own_spelling():
    assert spelling(fields("Edge_ID"), "edge_id") == "Edge_ID"
    assert spelling(fields("Edge_ID"), "capture") == ""
