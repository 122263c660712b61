"""What the crew entered with a capture reaches its edges, and the basemap."""

import numpy as np
import pytest
from linelayers import line_layer
from qgis.core import QgsFeature, QgsVectorLayer
from walkedlayers import ORIGIN, layer_of, reconstruct, run, table, walk

from curbwright.algorithms.host.fields import field

pytestmark = pytest.mark.usefixtures("provider")
ENTERED = (("class", "QString"), ("width", "Double"), ("remark", "QString"), ("point", "Int"))


def with_attributes(layer, of_row):
    """A copy of a layer with further fields; `of_row` gives their values from row number and
    capture."""
    out = QgsVectorLayer(f"PointZ?crs={layer.crs().authid()}", layer.name(), "memory")
    fields = [*layer.fields(), *(field(*one) for one in ENTERED)]
    assert out.dataProvider().addAttributes(fields)
    out.updateFields()
    rows = []
    for number, feature in enumerate(layer.getFeatures()):
        row = QgsFeature(out.fields())
        row.setGeometry(feature.geometry())
        row.setAttributes([*feature.attributes(), *of_row(number, feature["capture"])])
        rows.append(row)
    assert out.dataProvider().addFeatures(rows)[0]
    return out


def of_row(number, capture):
    """Two captures; one word was mistyped, and the number of the point is nobody's attribute."""
    first = capture == "walk 1"
    kind = "kerb" if number == 3 else "curb" if first else "wall"
    return [kind, 0.12 if first else None, None if first else "broken", number]


def test_what_holds_along_an_edge_travels_with_it():
    edges = reconstruct(with_attributes(layer_of(walk()), of_row))["OUTPUT"]
    assert edges.fields().names()[-3:] == ["class", "width", "remark"]
    rows = table(edges)
    assert len(rows) > 2 and {row["capture"] for row in rows} == {"walk 1", "walk 2"}
    for row in rows:
        first = row["capture"] == "walk 1"
        assert row["class"] == ("curb" if first else "wall")
        assert (row["width"] == 0.12) is first and (row["remark"] == "broken") is not first


def test_a_layer_without_any_has_the_fields_of_edges_alone():
    edges = reconstruct(layer_of(walk()))["OUTPUT"]
    assert edges.fields().names()[-1] == "curve_model"


def test_the_chain_to_the_basemap_loses_nothing():
    """Two crews walk a new edge and say what it is; a third says something else of its remark."""
    rng, start, layers = np.random.default_rng(3), walk(captures=1)[0], []
    for day in range(2):
        rows = [
            {
                **start,
                "x": k + noise[0],
                "y": 40.0 + noise[1],
                "z": 4.0,
                "seconds": start["seconds"] + 90_000.0 * day + k,
                "capture": f"day {day + 1}",
            }
            for k, noise in enumerate(rng.normal(0, 0.005, (30, 2)).tolist())
        ]
        told = ["curb", 0.15, ("worn", "cracked")[day]]
        layers.append(with_attributes(layer_of(rows), lambda number, _, told=told: [*told, number]))
    both = QgsVectorLayer("PointZ?crs=EPSG:32632", "both", "memory")
    both.dataProvider().addAttributes(list(layers[0].fields()))
    both.updateFields()
    both.dataProvider().addFeatures([row for layer in layers for row in layer.getFeatures()])
    edges = reconstruct(both)["OUTPUT"]
    merged = run("mergepasses", {"INPUT": edges, "OUTPUT": "memory:"})["OUTPUT"]
    joined = run("joinedges", {"INPUT": merged, "OUTPUT": "memory:"})["OUTPUT"]
    existing = line_layer(
        [np.array([(0.0, 0.0), (30.0, 0.0)])], name="basemap", origin=ORIGIN,
        fields=(("kind", "string"), ("upstand", "double"), ("note", "string")),
        values=[["wall", 0.5, "old"]],
    )  # fmt: skip
    updated = run(
        "updatebasemap",
        {
            "EXISTING": existing, "EDGES": joined, "UPDATED": "memory:", "REACH": 5.0,
            "FIELD_MAP": "kind: class; upstand: width; note: remark",
        },
    )["UPDATED"]  # fmt: skip
    old, new = table(updated)
    assert (old["kind"], old["upstand"], old["note"]) == ("wall", 0.5, "old")
    assert new["update"] == "added" and (new["kind"], new["upstand"]) == ("curb", 0.15)
    assert {"worn", "cracked"} == set(new["note"].replace(";", ",").replace(" ", "").split(","))
