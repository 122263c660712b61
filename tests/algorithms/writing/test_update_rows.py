"""Who a change is put down to, and which fields say so."""

from types import SimpleNamespace

import pytest
from qgis.core import QgsFields, QgsProcessingException, QgsProject

from curbwright.algorithms.host.fields import field
from curbwright.algorithms.reading.decisions import Decisions
from curbwright.algorithms.writing.decisions import decide
from curbwright.algorithms.writing.update_rows import UpdateRows, with_update_fields

RULE = "clear case"


def decider(line, edge):
    """Of a change of line 1 by edge 2, which these accepted."""
    lines, edges = Decisions(), Decisions()
    if line:
        lines.add(1, "accept", line)
    if edge:
        edges.add(2, "accept", edge)
    basemap = SimpleNamespace(lines_decided=lines, edges_decided=edges, rule=RULE)
    row = SimpleNamespace(id=lambda: 1)
    return UpdateRows._decider(SimpleNamespace(basemap=basemap), [2], row)


def test_a_rule_decided_only_where_no_person_did():
    assert decider(RULE, None) == RULE
    assert decider(RULE, "Ada") == "Ada"
    assert decider("Grace", "Ada") == "Grace"
    assert decider(None, "Ada") == "Ada" and decider(None, None) is None


@pytest.mark.parametrize("name", ["updated_at", "Updated_At"])
def test_the_time_of_an_update_goes_into_a_date_time_of_the_layer(name):
    own = QgsFields()
    own.append(field(name, "QDateTime"))
    assert with_update_fields(own, "curbs").names() == [name, "update", "update_edges"]
    own.append(field("Update", "Int"))
    with pytest.raises(QgsProcessingException, match="“curbs”: its own field “Update”"):
        with_update_fields(own, "curbs")


def test_decisions_go_into_an_open_table_of_postgis(postgis, qgis_new_project):
    """Which has no fields for them yet; the host saves nothing where it reads others."""
    database = postgis.new_database()
    database.run(
        "create table edges (id serial primary key, geom geometry(LineString, 32631));"
        " insert into edges (geom) values (st_geomfromtext('LINESTRING(0 0, 1 1)', 32631))"
    )
    layer = database.layer("edges", kind="LineString", srid=32631)
    QgsProject.instance().addMapLayer(layer)
    decide(layer, {1: ("accept", "seen")}, "Review")
    assert layer.commitChanges(), layer.commitErrors()
    assert database.run("select decision, remark from edges") == [("accept", "seen")]
