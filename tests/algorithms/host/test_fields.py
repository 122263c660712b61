"""Fields of layers."""

import pytest
from qgis.core import NULL, Qgis, QgsField, QgsFields

from curbwright.algorithms.host.fields import (
    NewField,
    field,
    fields_of,
    flags_as_numbers,
    is_null,
    kind,
    maps_as_text,
    spelling,
    with_new_fields,
)

OWN = (
    NewField("started_unix", "Double", "A time.", "s", length=20, decimals=3),
    NewField("state", "QString", "A word."),
    NewField("closed", "Bool", "Yes or no."),
)

MAP = "QVariantMap" if Qgis.versionInt() >= 33800 else "QMap"  # as `field` takes it


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
    made, renamed, replaced, kept = with_new_fields(
        fields("STATE", "state_source", "fid", "note"), OWN
    )
    assert replaced == [] and kept == list(range(7))
    assert renamed == {"STATE": "STATE_source2", "fid": "fid_source"}
    assert made.names() == [
        "STATE_source2",
        "state_source",
        "fid_source",
        "note",
        *(new.name for new in OWN),
    ]


def written(*added):
    """Fields of text, followed by ours."""
    made = fields("note")
    for new in added:
        made.append(new.field() if isinstance(new, NewField) else new)
    return made


def test_fields_of_a_former_run_are_replaced():
    made, renamed, replaced, kept = with_new_fields(written(*OWN), OWN)
    assert renamed == {} and replaced == [new.name for new in OWN]
    assert made.names() == ["note", *replaced] and kept == [0, 4, 5, 6]


def test_a_field_that_gave_way_once_does_not_pile_up():
    source = written(OWN[0], field("started_unix_source", "Double"), field("fid", "LongLong"))
    source.append(field("fid_source", "LongLong"))
    made, renamed, replaced, kept = with_new_fields(source, OWN)
    assert renamed == {} and replaced == ["started_unix", "fid"]
    assert made.names() == ["note", "started_unix_source", "fid_source", *(o.name for o in OWN)]
    assert kept == [0, 2, 4, 5, 6, 7]


def test_fields_of_another_kind_or_of_somebody_else_are_kept():
    _, renamed, replaced, _ = with_new_fields(written(OWN[0], OWN[1]), OWN)
    assert replaced == [] and set(renamed) == {"started_unix", "state"}
    source = fields("started_unix", "state", "closed")  # all texts
    assert with_new_fields(source, OWN).replaced == []


def test_the_layers_own_spelling():
    assert spelling(fields("Edge_ID"), "edge_id") == "Edge_ID"
    assert spelling(fields("Edge_ID"), "capture") == ""


def test_null_is_seen_however_it_comes():
    assert is_null(None)
    assert is_null(NULL)
    assert not is_null(0)
    assert not is_null("")


@pytest.mark.parametrize(
    ("name", "what"),
    [
        ("Bool", "bool"),
        ("Int", "int"),
        ("LongLong", "int"),
        ("Double", "double"),
        ("QString", "text"),
        ("QDate", "date"),
        ("QTime", "time"),
        ("QDateTime", "datetime"),
    ],
)
def test_kinds_of_fields(name, what):
    made = field("f", name)
    assert isinstance(made, QgsField)
    assert kind(made) == what


@pytest.mark.parametrize(
    ("change", "before", "after"),
    [(maps_as_text, MAP, "text"), (flags_as_numbers, "Bool", "int")],
)
def test_what_a_format_lacks_becomes_another_type(change, before, after):
    given = QgsFields()
    for name, what in (("a", "Double"), ("b", before), ("c", "QString")):
        given.append(field(name, what))
    made, places = change(given)
    assert made.names() == ["a", "b", "c"] and places == [1]
    assert [kind(one) for one in made] == ["double", after, "text"]
