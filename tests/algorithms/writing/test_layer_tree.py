"""Results stand in their group, in their order, on or off, whenever the host puts them into the
tree."""

from types import SimpleNamespace

import processing
import pytest
from qgis.core import (
    QgsFeature,
    QgsLayerTree,
    QgsLayerTreeModel,
    QgsProcessingContext,
    QgsProcessingFeedback,
    QgsProject,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QCoreApplication
from walkedlayers import layer_of, walk

from curbwright.algorithms.writing import layer_tree, styles
from curbwright.algorithms.writing.layer_tree import COUNT, Place, add, put
from curbwright.algorithms.writing.styles import DressOnLoad, Look

pytestmark = pytest.mark.usefixtures("provider")


def names(group):
    return [child.name() for child in group.children()]


def memory_layer(name, values=()):
    layer = QgsVectorLayer("LineString?crs=EPSG:32632&field=status:string", name, "memory")
    for value in values:
        feature = QgsFeature(layer.fields())
        feature.setAttributes([value])
        layer.dataProvider().addFeature(feature)
    return layer


def test_layers_keep_their_order_however_they_come(qgis_app):
    root = QgsLayerTree()
    layers = [memory_layer(name) for name in "cadb"]
    for layer in layers:
        order = "abcd".index(layer.name())
        add(root, layer, Place("run", ("B", 2) if order > 1 else ("A", 1), order, order == 0))
    (group,) = root.children()
    assert names(group) == ["A", "B"]
    assert [names(inner) for inner in group.children()] == [["a", "b"], ["c", "d"]]
    on = [node.name() for node in root.findLayers() if node.itemVisibilityChecked()]
    assert on == ["a"]


def test_a_layer_that_comes_into_the_tree_later_is_placed(qgis_new_project):
    project = QgsProject.instance()
    layer = project.addMapLayer(memory_layer("late"), False)
    put(project, layer, Place("run", visible=False))
    elsewhere = project.layerTreeRoot().addGroup("active")
    elsewhere.addLayer(layer)
    for _ in range(5):
        QCoreApplication.processEvents()
    assert elsewhere.findLayers() == []
    (node,) = project.layerTreeRoot().findGroup("run").findLayers()
    assert not node.itemVisibilityChecked() and project.mapLayer(layer.id()) is not None


def test_features_are_counted_once_all_layers_are_there(qgis_new_project, monkeypatch):
    """Not while another one comes: the host counts in threads, and QGIS 3.22 may end by that."""
    turns = []
    timer = SimpleNamespace(singleShot=lambda wait, turn: turns.append(turn))
    monkeypatch.setattr(layer_tree, "QTimer", timer)
    monkeypatch.setattr(layer_tree, "_uncounted", [])
    project = QgsProject.instance()
    layers = [project.addMapLayer(memory_layer(name)) for name in "abc"]
    for layer in layers:
        put(project, layer, Place("run"))
    project.removeMapLayer(layers[0].id())
    for turn, counted in zip(turns, [0, 0, 2]):
        turn()
        nodes = project.layerTreeRoot().findLayers()
        assert [bool(node.customProperty(COUNT)) for node in nodes].count(True) == counted
    assert len(turns) == 3 and len(nodes) == 2


def test_a_layer_removed_before_it_came_into_the_tree_is_forgotten(qgis_new_project):
    project = QgsProject.instance()
    layer = project.addMapLayer(memory_layer("gone"), False)
    put(project, layer, Place("run"))
    project.removeMapLayer(layer.id())
    for _ in range(5):
        QCoreApplication.processEvents()
    assert project.layerTreeRoot().findGroup("run") is None


def test_classes_without_features_are_not_in_the_legend(qgis_new_project):
    project = QgsProject.instance()
    layer = project.addMapLayer(memory_layer("edges", ("agrees", "partly")))
    dresser = DressOnLoad(Look(styles.COMPARED), Place("run"))
    context = QgsProcessingContext()
    context.setProject(project)
    dresser.postProcessLayer(layer, context, QgsProcessingFeedback())
    model = QgsLayerTreeModel(project.layerTreeRoot())
    node = project.layerTreeRoot().findLayer(layer.id())
    shown = [item.data(0) for item in model.layerLegendNodes(node)]
    assert [text.split(" [")[0] for text in shown] == ["Partly matched", "Agrees"]
    assert len(layer.renderer().categories()) == 5  # drawn all the same if some come


def test_rules_without_features_are_not_in_the_legend(qgis_new_project):
    project = QgsProject.instance()
    layer = QgsVectorLayer("LineString?crs=EPSG:32632&field=reason:string", "gaps", "memory")
    feature = QgsFeature(layer.fields())
    feature.setAttributes(["paused"])
    layer.dataProvider().addFeature(feature)
    layer.loadNamedStyle(str(styles.STYLES / styles.GAPS))
    project.addMapLayer(layer)
    put(project, layer, Place("run"))
    model = QgsLayerTreeModel(project.layerTreeRoot())
    node = project.layerTreeRoot().findLayer(layer.id())
    shown = [item.data(0).split(" [")[0] for item in model.layerLegendNodes(node)]
    assert shown == ["Gap in a walk"]


def test_a_single_run_has_a_group_of_its_own_on_top(qgis_new_project):
    project = QgsProject.instance()
    project.layerTreeRoot().addGroup("mine")
    layer = layer_of(walk(), name="Plumb, one a second")
    project.addMapLayer(layer)
    parameters = {"INPUT": layer, "OUTPUT": "memory:", "GAPS": "memory:", "KEPT": "memory:"}
    for _ in range(2):
        results = processing.runAndLoadResults("curbwright:reconstructedges", parameters)
    root = project.layerTreeRoot()
    again = "Reconstruct edges: Plumb, one a second"  # told from the first, and from other steps
    assert names(root)[:2] == [again, "Plumb, one a second"]
    assert root.findGroup("mine").children() == []
    for group in root.children()[:2]:
        assert names(group) == [
            f"{what} of Plumb, one a second" for what in ("Edges", "Gaps", "Kept epochs")
        ]
    edges = project.mapLayer(results["OUTPUT"])
    place = edges.fields().lookupField("sigma_cross")
    assert edges.attributeAlias(place) == "Sigma cross (m)"
    assert edges.editFormConfig().readOnly(place)
    assert "Plumb, one a second" in edges.metadata().history()[0]

    # what is made of the edges is called after the walk too, and not “Edges of edges of”
    made = processing.runAndLoadResults(
        "curbwright:fitalignments", {"INPUT": edges, "OUTPUT": "memory:"}
    )
    assert project.mapLayer(made["OUTPUT"]).name() == "Alignments of Plumb, one a second"
    assert names(root)[0] == "Fit tangents and arcs: Plumb, one a second"
    processing.runAndLoadResults("curbwright:reconstructedges", parameters)
    assert names(root)[0] == again + " (2)"


def test_gaps_between_captures_are_not_drawn(qgis_app):
    layer = QgsVectorLayer("LineString?field=reason:string", "gaps", "memory")
    layer.loadNamedStyle(str(styles.STYLES / styles.GAPS))
    drawn = {}
    for rule in layer.renderer().rootRule().children():
        drawn[rule.label()] = rule.active()
    assert drawn == {"Gap in a walk": True, "Between captures": False}
