"""Results of a batch stand in their groups, the answer on top and on, all else off."""

import pytest
from qgis.core import QgsProject
from walkedlayers import Log, layer_of, table, walk

from curbwright.algorithms.batch.loading import places

pytestmark = pytest.mark.usefixtures("provider")


def test_layers_that_nobody_named_have_a_place():
    found = places(["edges", "history"])
    assert found["history"].subgroup[0] == "Evidence"
    assert not found["history"].visible and found["edges"].visible


def test_edges_are_off_where_there_is_a_comparison():
    found = places(["edges", "merged", "comparison", "revisits", "gaps"])
    assert [name for name in found if found[name].visible] == ["comparison", "revisits"]


def test_the_batch_map_shows_its_answer(tmp_path, qgis_new_project, monkeypatch):
    """Under the names of the results, also where the folder is none for temporary files: QGIS calls
    what stays by its file otherwise."""
    import processing

    monkeypatch.setenv("TMPDIR", str(tmp_path / "elsewhere"))
    (tmp_path / "elsewhere").mkdir()
    project = QgsProject.instance()
    layer = layer_of(walk())
    project.addMapLayer(layer)
    made = processing.run("curbwright:reconstructedges", {"INPUT": layer, "OUTPUT": "memory:"})
    processing.runAndLoadResults(
        "curbwright:processcaptures",
        {
            "LAYERS": [layer],
            "EXISTING": made["OUTPUT"],
            "MERGE_PASSES": True,
            "FIT_ALIGNMENTS": True,
            "FOLDER": str(tmp_path / "out"),
        },
        feedback=Log(),
    )
    group = project.layerTreeRoot().children()[0]
    assert group.name() == "Curbwright"
    tree = {inner.name(): [node.name() for node in inner.children()] for inner in group.children()}
    assert list(tree) == ["Comparison", "Edges", "Evidence", "To do"]
    assert tree["Comparison"][:2] == ["Compared edges", "Status of existing lines"]
    assert tree["Edges"] == ["Merged edges", "Edges", "Alignments", "Elements"]
    assert tree["To do"] == ["Repairs", "Places to revisit", "Reasons to revisit"]
    on = [node.name() for node in group.findLayers() if node.isVisible()]
    assert on == ["Compared edges", "Status of existing lines", "Places to revisit"]
    shown = {node.name(): node.layer() for node in group.findLayers()}
    compared = shown["Compared edges"]
    place = compared.fields().lookupField("offset_median")
    assert compared.attributeAlias(place) == "Offset median (m)"
    assert layer.name() in compared.metadata().history()[0]
    assert {row["status"] for row in table(compared)} == {"agrees"}
