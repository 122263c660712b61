"""What was written unattended opens styled and grouped, and what people put beside it stays."""

import shutil
import sqlite3
from contextlib import closing
from types import SimpleNamespace

import pytest
from qgis.core import QgsProcessingException, QgsProject, QgsVectorLayer
from walkedlayers import layer_of, run, walk

from curbwright.algorithms.batch import ready_project
from curbwright.algorithms.batch.ready_project import PROJECT, STYLE
from curbwright.algorithms.batch.result_folder import GEOPACKAGE

pytestmark = pytest.mark.usefixtures("provider")
URI = "geopackage:{}?projectName=" + PROJECT


def go(folder):
    layers = [layer_of(walk(captures=2))]
    run("processcaptures", {"LAYERS": layers, "FOLDER": str(folder)})
    return folder / GEOPACKAGE


def texts(path, sql):
    with closing(sqlite3.connect(str(path))) as database:
        return database.execute(sql).fetchall()


def results(path):
    """Names of the layers that the last run says it wrote."""
    return [name for (name,) in texts(path, "SELECT name FROM run_log WHERE section = 'result'")]


@pytest.fixture(scope="module")
def written(tmp_path_factory, provider):
    return go(tmp_path_factory.mktemp("night"))


def test_layers_open_styled_with_names_and_units(written):
    layer = QgsVectorLayer(f"{written}|layername=edges", "edges", "ogr")
    assert layer.renderer().symbol().symbolLayerCount() == 2
    assert layer.attributeAlias(layer.fields().lookupField("sigma_cross")) == "Sigma cross (m)"
    assert layer.editFormConfig().readOnly(layer.fields().lookupField("length"))
    assert "Edge id" in layer.mapTipTemplate()
    kept = QgsVectorLayer(f"{written}|layername=kept", "kept", "ogr")
    assert kept.renderer().type() == "categorizedSymbol"


def test_every_layer_has_one_default_style(written):
    rows = texts(written, "SELECT f_table_name, useAsDefault FROM layer_styles")
    assert sorted(name for name, _ in rows) == sorted(results(written))
    assert all(default for _, default in rows)


def test_the_project_opens_from_the_file_where_it_was_moved(written, tmp_path):
    there = shutil.copy(written, tmp_path / "elsewhere.gpkg")
    stays = shutil.copy(written, tmp_path / GEOPACKAGE)
    project = QgsProject()
    assert project.read(URI.format(stays))
    nodes = project.layerTreeRoot().findLayers()
    assert all(node.layer().isValid() for node in nodes) and len(nodes) == len(results(written))
    assert all(str(stays) in node.layer().source() for node in nodes)
    (group,) = project.layerTreeRoot().children()
    assert [inner.name() for inner in group.children()] == ["Edges", "Evidence", "To do"]
    on = [node.name() for node in nodes if node.isVisible()]
    assert on == ["Edges", "Places to revisit"]
    assert all(node.customProperty("showFeatureCount") for node in nodes)
    edges = next(node.layer() for node in nodes if node.name() == "Edges")
    assert "quay walk" in edges.metadata().history()[0] and edges.metadata().abstract()
    extent = project.viewSettings().defaultViewExtent()
    assert extent.contains(edges.extent())
    project.clear()
    assert there != stays


def test_nothing_is_said_to_be_kept_from_styles_of_runs(written, tmp_path):
    shutil.copy(written, tmp_path / GEOPACKAGE)
    go(tmp_path)
    rows = texts(tmp_path / GEOPACKAGE, "SELECT f_table_name FROM layer_styles")
    assert sorted(name for (name,) in rows) == sorted(results(tmp_path / GEOPACKAGE))
    assert texts(tmp_path / GEOPACKAGE, "SELECT name FROM qgis_projects") == [(PROJECT,)]


@pytest.mark.parametrize("name", ["saveStyleToDatabase", "saveStyleToDatabaseV2"])
def test_a_style_is_stored_the_way_of_the_host(name):
    asked = []

    def save(*arguments):
        asked.append(arguments)
        return "full" if name == "saveStyleToDatabase" else (0, "full")

    about = SimpleNamespace(title="Edges")
    result = SimpleNamespace(look=SimpleNamespace(about=about))
    with pytest.raises(QgsProcessingException, match="full"):
        ready_project._save_style("x.gpkg", result, SimpleNamespace(**{name: save}), True)
    assert asked == [(STYLE, "Edges", True, "")]


def test_styles_and_projects_of_people_stay(written, tmp_path):
    path = tmp_path / GEOPACKAGE
    shutil.copy(written, path)
    layer = QgsVectorLayer(f"{path}|layername=edges", "edges", "ogr")
    layer.renderer().symbol().setOpacity(0.5)
    assert layer.saveStyleToDatabase("mine", "", True, "") == ""
    project = QgsProject()
    project.addMapLayer(layer)
    assert project.write(f"geopackage:{path}?projectName=mine")
    project.clear()

    go(tmp_path)
    assert texts(path, "SELECT name FROM qgis_projects ORDER BY 1") == [(PROJECT,), ("mine",)]
    styles = texts(path, "SELECT styleName FROM layer_styles WHERE f_table_name = 'edges'")
    assert sorted(styles) == [(STYLE,), ("mine",)]
    again = QgsVectorLayer(f"{path}|layername=edges", "edges", "ogr")
    assert again.renderer().symbol().opacity() == 0.5
