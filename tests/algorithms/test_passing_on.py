"""What a crew wrote on edges, and what was decided, is passed on by every single algorithm."""

import numpy as np
import pytest
from qgis.core import NULL, QgsFeature, QgsGeometry, QgsLineString, QgsVectorLayer
from walkedlayers import ORIGIN, run, table

from curbwright.algorithms.writing.common_values import common_value

CREW = ("class", "surface", "remark", "decision", "decided_by")
FIELDS = "&".join(f"field={name}:string" for name in ("capture", *CREW))


def edges(*some, name="edges"):
    """Straight edges given as (x, y, x, y of the ends, capture, remark, decision)."""
    layer = QgsVectorLayer(
        f"LineStringZ?crs=EPSG:32632&{FIELDS}&field=decided_at:datetime", name, "memory"
    )
    features = []
    for x0, y0, x1, y1, capture, remark, decision in some:
        x, y = np.linspace(x0, x1, 30) + ORIGIN[0], np.linspace(y0, y1, 30) + ORIGIN[1]
        feature = QgsFeature(layer.fields())
        feature.setGeometry(QgsGeometry(QgsLineString(x.tolist(), y.tolist(), [5.0] * 30)))
        values = [capture, "curb", "granite", remark, decision, "Kim", "2026-05-04T10:00:00"]
        feature.setAttributes(values)
        features.append(feature)
    layer.dataProvider().addFeatures(features)
    layer.updateExtents()
    return layer


def passed_on(algorithm, output="OUTPUT", **parameters):
    result = run(algorithm, {output: "memory:", "OUTPUT": "memory:", **parameters})
    rows = table(result[output])
    assert all(row["decided_at"] not in (None, NULL) for row in rows)
    return sorted([row[name] for name in CREW] for row in rows)


ALONG, UP = (0, 0, 30, 0, "a", "wet", "accept"), (30.2, 0, 30.2, 25, "a", "wet", "accept")
OTHER = (0, 60, 30, 60, "b", "by the crane", "hold")
SAID = ["curb", "granite", "wet", "accept", "Kim"]
SAID_OF_OTHER = ["curb", "granite", "by the crane", "hold", "Kim"]


@pytest.mark.usefixtures("provider")
@pytest.mark.parametrize(
    ("algorithm", "parameters", "same"),
    [
        ("joinedges", {}, 1),
        ("offsetedges", {"SECTION": "flow line: 0.02 -0.15"}, 2),
        ("fitalignments", {}, 2),
        ("compareedges", {"EXISTING": (0, 0.3, 30, 0.3, "", "", "")}, 2),
        ("estimateshift", {"EXISTING": (0, 0.3, 30, 0.3, "", "", "")}, 2),
        ("mergepasses", {}, 2),
    ],
)
def test_what_a_crew_wrote_is_passed_on(algorithm, parameters, same):
    if "EXISTING" in parameters:
        parameters = {"EXISTING": edges(parameters["EXISTING"], name="old")}
    found = passed_on(algorithm, INPUT=edges(ALONG, UP, OTHER), **parameters)
    assert found == sorted([SAID] * same + [SAID_OF_OTHER])


@pytest.mark.usefixtures("provider")
def test_existing_lines_keep_theirs():
    old = edges((0, 0.3, 30, 0.3, "", "old kerb", "reject"), name="old")
    found = passed_on("compareedges", "EXISTING_STATUS", INPUT=edges(ALONG), EXISTING=old)
    assert found == [["curb", "granite", "old kerb", "reject", "Kim"]]


@pytest.mark.usefixtures("provider")
@pytest.mark.parametrize(
    ("algorithm", "second"),
    [
        ("joinedges", (30.2, 0, 30.2, 25, "a", "dry", "hold")),
        ("mergepasses", (0, 0.02, 30, 0.02, "b", "dry", "hold")),
    ],
)
def test_of_edges_that_become_one_no_remark_is_lost(algorithm, second):
    ((_, _, remark, decision, _),) = passed_on(algorithm, INPUT=edges(ALONG, second))
    assert sorted(remark.split("; ")) == ["dry", "wet"] and decision == "hold"


@pytest.mark.parametrize(
    ("name", "values", "one"),
    [
        ("class", ["curb", "curb"], "curb"),
        ("class", ["curb", NULL], None),
        ("class", [], None),
        ("Remark", ["wet", NULL, "wet", "dry", " "], "wet; dry"),
        ("remark", [NULL, None], None),
        ("remark", [3, 4], None),
        ("decision", ["accept", "hold"], "hold"),
        ("decision", ["hold", "reject", "accept"], "reject"),
        ("decision", ["accept", NULL], None),
        ("decision", ["accept", "accept"], "accept"),
        ("decision", ["Accept", "accept "], "accept"),
        ("decision", ["Hold", "accept"], "hold"),
        ("Decision", ["accept", "REJECT "], "reject"),
        ("decision", ["later", "accept"], "later"),
        ("decided_by", ["Kim", "Ada"], "Kim; Ada"),
        ("decided_at", ["2026-05-04", NULL], None),
    ],
)
def test_one_value_for_several(name, values, one):
    assert common_value(name, values) == one


def test_who_decided_is_who_decided_so():
    words = ["accept", "hold", NULL, "Hold"]
    assert common_value("decided_by", ["Kim", "Ada", NULL, "Bo"], words) == "Ada; Bo"
    assert common_value("decided_at", [9, 3, NULL, 4], words) == 4
    assert common_value("decided_by", ["Kim", NULL], ["accept", NULL]) is None  # no consent
