"""Which layers of a project a review begins with."""

import pytest
from qgis.core import QgsProject, QgsVectorLayer

from curbwright.algorithms.review import layers as parts
from curbwright.algorithms.writing.styles import ORIGIN
from curbwright.plugin.review.choose_layers import beside, guesses, shown_order

FORMS = {
    "compared": "LineString?field=edge_id:integer&field=sigma_cross:double&field=status:string",
    "edges": "LineString?field=edge_id:integer&field=sigma_cross:double",
    "status": "LineString?field=status:string&field=line_id:integer&field=visited_share:double",
    "kept": "Point?field=edge_id:integer&field=chainage:double&field=residual_cross:double",
}

pytestmark = pytest.mark.usefixtures("qgis_new_project")


def add(group, *names, origin="walk"):
    """Layers of a run in a group on top of the tree."""
    project = QgsProject.instance()
    root = project.layerTreeRoot()
    node = root.insertGroup(0, group)
    for name in names:
        layer = QgsVectorLayer(FORMS[name], f"{name} of {group}", "memory")
        layer.setCustomProperty(ORIGIN, origin)
        project.addMapLayer(layer, False)
        node.addLayer(layer)


def named(found):
    return {part: layer.name() for part, layer in found.items()}


@pytest.mark.parametrize("names", [("b", "a"), ("a", "b")])  # whatever the ids are sorted by
def test_the_topmost_run_is_reviewed_with_what_belongs_to_it(names):
    for group in names:
        add(group, "status", "compared")
    found = guesses(shown_order(QgsProject.instance()))
    assert named(found) == {
        parts.LINES: f"compared of {names[1]}", parts.EXISTING: f"status of {names[1]}",
    }  # fmt: skip


def test_layers_of_another_group_do_not_mix_in():
    add("first", "compared", "status")
    add("second", "status")
    add("third", "compared")
    project = QgsProject.instance()
    assert named(guesses(shown_order(project)))[parts.LINES] == "compared of third"
    without = [layer for layer in shown_order(project) if layer.name() != "compared of third"]
    assert named(guesses(without)) == {
        parts.LINES: "compared of first", parts.EXISTING: "status of first",
    }  # fmt: skip


def test_a_comparison_brings_the_epochs_behind_its_edges():
    add("other", "edges", "kept", origin="another walk")
    add("walk", "edges", "kept")
    add("comparison", "compared", "status")
    layers = shown_order(QgsProject.instance())
    assert named(beside(layers[0], layers)) == {
        parts.EDGES: "edges of walk", parts.KEPT: "kept of walk",
    }  # fmt: skip
