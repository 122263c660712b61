"""What people decided in the results of a batch, and runs after which it must still be there."""

import numpy as np
from batchruns import moved, opened, process, rows_of
from frame import case
from linelayers import line_layer
from qgis.core import QgsField, QgsProject, QgsVectorLayer
from qgis.PyQt.QtCore import QByteArray, QDate, QVariant
from truths import edges
from walkedlayers import ORIGIN, Log, layer_of, to_file, walk

DECIDED = "decisions of people"
SAID = ("accept", "seen on site", "A. Wright")


def captures(names=("quay walk", "island walk"), **how):
    """Two layers of captures."""
    rows = [row for row in walk(seed=1, captures=1) if row["fix"] == 4]
    return [
        layer_of(rows, name=names[0], **how),
        layer_of(moved(rows, 50.0, 4000.0), name=names[1], **how),
    ]


def basemap():
    return line_layer(
        [np.array([(0.0, y), (40.0, y)]) for y in (0.4, 50.4)],
        name="basemap",
        origin=ORIGIN,
    )


def run(box, layers, **how):
    chosen = {"WRITE_EPOCHS": False, "LIST_REVISITS": False, **how}
    log = Log()
    process(layers, box.folder / "out", log, **chosen)
    return log


def decide(box, layer, **values):
    rows = opened(box.folder / "out", layer)
    assert rows.startEditing()
    for row in rows.getFeatures():
        for name, value in values.items():
            place = rows.fields().lookupField(name)
            assert rows.changeAttributeValue(row.id(), place, value)
    assert rows.commitChanges(), rows.commitErrors()


def decided(box, layer="edges"):
    decision, remark, by = SAID
    decide(box, layer, decision=decision, remark=remark, decided_by=by)


def said(box, layer="edges"):
    return [
        (row["decision"], row["remark"], row["decided_by"])
        for row in rows_of(box.folder / "out", layer)
    ]


def all_there(box, layer="edges"):
    found = said(box, layer)
    return box.right(found and set(found) == {SAID}, f"{found}")


@case(DECIDED, each=("edges", "comparison", "existing_status"))
def a_capture_is_left_out_for_a_run(box, layer):
    chosen = {"EXISTING": basemap()}
    run(box, captures(), **chosen)
    decided(box, layer)
    run(box, captures()[1:], **chosen)
    run(box, captures(), **chosen)
    return all_there(box, layer)


@case(DECIDED, each=("comparison", "existing_status", "merged"))
def a_stage_is_left_out_for_a_run(box, layer):
    chosen = {"EXISTING": basemap(), "MERGE_PASSES": True}
    run(box, captures(), **chosen)
    decided(box, layer)
    run(box, captures())
    run(box, captures(), **chosen)
    return all_there(box, layer)


@case(DECIDED)
def a_decision_that_was_taken_back_stays_away(box):
    run(box, captures())
    decided(box)
    run(box, captures()[1:])
    run(box, captures())
    decide(box, "edges", decision=None, remark=None, decided_by=None)
    run(box, captures())
    return box.right(not any(map(any, said(box))), f"{said(box)}")


@case(DECIDED, each=("one", "both", "exchanged"))
def layers_are_renamed(box, how):
    run(box, captures())
    decided(box)
    names = {
        "one": ("quay, final", "island walk"),
        "both": ("quay, final", "island, final"),
        "exchanged": ("island walk", "quay walk"),
    }[how]
    run(box, captures(names))
    if how == "exchanged":  # what was walked where is another thing by name
        found = [row["row"] for row in rows_of(box.folder / "out", "superseded")]
        return box.right(found and all("seen on site" in row for row in found), f"{found}")
    return all_there(box)


@case(DECIDED, each=("text", "whole", "date", "bytes", "empty"))
def a_column_of_their_own_stays_as_it_is(box, kind):
    kinds = {
        "text": (QVariant.Type.String, "granite ü"),
        "whole": (QVariant.Type.LongLong, 2**53 + 1),
        "date": (QVariant.Type.Date, QDate(2026, 5, 4)),
        "bytes": (QVariant.Type.ByteArray, QByteArray(b"a\x00\xff")),
        "empty": (QVariant.Type.Double, None),
    }
    type_, value = kinds[kind]
    run(box, captures())
    layer = opened(box.folder / "out")
    assert layer.startEditing()
    assert layer.addAttribute(QgsField("own", type_))
    layer.updateFields()
    if value is not None:
        for row in layer.getFeatures():
            layer.changeAttributeValue(row.id(), layer.fields().lookupField("own"), value)
    assert layer.commitChanges(), layer.commitErrors()
    of_type = layer.fields().field("own").type()
    del layer
    run(box, captures())
    layer = opened(box.folder / "out")
    if layer.fields().lookupField("own") < 0:
        return box.right(False, "the column is gone")
    plain = bytes if kind == "bytes" else str
    own = {None if value is None else plain(row["own"]) for row in layer.getFeatures()}
    fine = layer.fields().field("own").type() == of_type
    return box.right(fine and own == {None if value is None else plain(value)}, f"{own}")


@case(DECIDED, each=("Accepted", "yes", "réject"))
def a_decision_that_is_no_known_word(box, word):
    chosen = {"EXISTING": basemap(), "UPDATE_BASEMAP": 1}
    run(box, captures(), **chosen)
    decide(box, "existing_status", decision=word)
    log = run(box, captures(), **chosen)
    named = any(word in text and "existing_status" in text for text in log.warnings)
    return box.right(named and {row[0] for row in said(box, "existing_status")} == {word},
                     f"{log.warnings}")  # fmt: skip


def shown(box, capital=False):
    """Edges in a GeoPackage, shown in the open project."""
    path = box.folder / "mine.gpkg"
    to_file(edges(), path, layerName="Edges" if capital else "edges")
    layer = QgsVectorLayer(str(path), "shown", "ogr")
    QgsProject.instance().addMapLayer(layer)
    return path, layer


@case(DECIDED, each=("reconstructedges", "joinedges", "offsetedges"))
def a_layer_with_unsaved_edits_is_the_target(box, algorithm):
    path, layer = shown(box)
    assert layer.startEditing()
    layer.deleteFeature(layer.allFeatureIds()[0])
    source = captures()[0] if algorithm == "reconstructedges" else edges()
    outcome = box.run(algorithm, INPUT=source, OUTPUT=f"ogr:dbname='{path}' table=\"edges\" (geom)")
    verdict = box.refused(outcome, "shown", "not saved")
    box.whole(layer.commitChanges() and layer.featureCount() == 4, "the edits were lost")
    QgsProject.instance().clear()
    return verdict


@case(DECIDED)
def a_layer_that_is_shown_is_replaced(box):
    path, layer = shown(box)
    target = f"ogr:dbname='{path}' table=\"edges\" (geom)"
    outcome = box.run("reconstructedges", INPUT=captures()[0], OUTPUT=target)
    box.done(outcome)
    names = layer.fields().names()
    verdict = box.right("capture" in names and layer.featureCount() == outcome["EDGES"], f"{names}")
    QgsProject.instance().clear()
    return verdict


@case(DECIDED, each=("edges", "EDGES", "eDges"))
def a_layer_whose_name_differs_in_capitals_is_the_target(box, name):
    path, _ = shown(box, capital=True)
    QgsProject.instance().clear()
    box.guard(path)
    target = f"ogr:dbname='{path}' table=\"{name}\" (geom)"
    return box.refused(
        box.run("reconstructedges", INPUT=captures()[0], OUTPUT=target), "Edges", "capitals"
    )


@case(DECIDED, each=("same name", "another name"))
def the_same_captures_in_two_layers(box, how):
    names = ("monday", "tuesday" if how == "another name" else "monday")
    layers = [captures((name, "x"))[0] for name in names]
    log = run(box, layers)
    return box.right(any("hold the same walks" in text for text in log.warnings), f"{log.warnings}")
