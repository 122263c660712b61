"""Result layers arrive styled, with the names that the dialog shows, and only where QGIS loads
them."""

import processing
import pytest
from qgis.core import QgsProject, QgsRenderContext, QgsVectorLayer
from walkedlayers import layer_of, table, walk

from curbwright.algorithms.writing import styles
from curbwright.shared.epochs.reasons import REASON_NAMES

pytestmark = pytest.mark.usefixtures("provider")


def path(name):
    return str(styles.STYLES / name)


@pytest.mark.parametrize(
    "styler",
    [styles.EDGES, styles.GAPS, styles.REJECTED, styles.KEPT],
    ids=["edges", "gaps", "rejected", "kept"],
)
def test_style_files_load(styler):
    layer = QgsVectorLayer(
        (
            "LineString?field=reason:string"
            if styler in (styles.EDGES, styles.GAPS)
            else "Point?field=reason:string&field=role:string"
        ),
        "l",
        "memory",
    )
    message, fine = layer.loadNamedStyle(path(styler))
    assert fine, message


def test_every_reason_has_a_look_of_its_own():
    layer = QgsVectorLayer("Point?field=reason:string", "l", "memory")
    layer.loadNamedStyle(path(styles.REJECTED))
    looks = {}
    for category in layer.renderer().categories():
        marker = category.symbol().symbolLayer(0)
        # shape, not colour: grey print
        looks[category.value()] = (marker.shape(), marker.size(), marker.color().alpha())
    assert set(REASON_NAMES[1:]) <= set(looks)
    assert len(set(looks.values())) == len(looks)


def test_edges_and_gaps_differ_without_colour():
    looks = []
    for styler in (styles.EDGES, styles.GAPS):
        layer = QgsVectorLayer("LineString", "l", "memory")
        layer.loadNamedStyle(path(styler))
        symbol = layer.renderer().symbols(QgsRenderContext())[0]
        line = symbol.symbolLayers()[-1]
        looks.append((line.useCustomDashPattern(), line.width()))
    assert looks[0][0] is False and looks[1][0] is True
    assert looks[0][1] > 1.5 * looks[1][1]


@pytest.mark.parametrize("turn", [1, 2])  # QGIS deletes what styled the first time
@pytest.mark.parametrize("algorithm", ["reconstructedges", "screenepochs"])
def test_loaded_layers_are_styled(qgis_new_project, algorithm, turn):
    project = QgsProject.instance()
    layer = layer_of(walk())
    project.addMapLayer(layer)
    outputs = {"OUTPUT": "memory:", "REJECTED": "memory:"}
    if algorithm == "reconstructedges":
        outputs.update(GAPS="memory:", KEPT="memory:")
    results = processing.runAndLoadResults(f"curbwright:{algorithm}", {"INPUT": layer, **outputs})
    loaded = {key: project.mapLayer(results[key]) for key in outputs}
    kinds = {key: other.renderer().type() for key, other in loaded.items()}
    names = {key: other.name() for key, other in loaded.items()}
    if algorithm == "reconstructedges":
        assert kinds == {
            "OUTPUT": "singleSymbol",
            "GAPS": "RuleRenderer",
            "REJECTED": "categorizedSymbol",
            "KEPT": "categorizedSymbol",
        }
        assert names == {
            "OUTPUT": "Edges of quay walk",
            "GAPS": "Gaps of quay walk",
            "REJECTED": "Rejected epochs of quay walk",
            "KEPT": "Kept epochs of quay walk",
        }
        assert loaded["OUTPUT"].renderer().symbol().symbolLayerCount() == 2
    else:
        assert kinds == {"OUTPUT": "categorizedSymbol", "REJECTED": "categorizedSymbol"}
        assert names == {
            "OUTPUT": "Kept epochs of quay walk",
            "REJECTED": "Rejected epochs of quay walk",
        }
    shown = {category.value() for category in loaded["REJECTED"].renderer().categories()}
    assert {row["reason"] for row in table(loaded["REJECTED"])} <= shown
