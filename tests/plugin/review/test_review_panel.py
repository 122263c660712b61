"""The review as people work with it: list, map, decisions, undo, themes, layers that go."""

import json

import numpy as np
import pytest
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsFeature,
    QgsFeatureRequest,
    QgsGeometry,
    QgsPointXY,
    QgsProcessingException,
    QgsProject,
    QgsVectorFileWriter,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QEvent, QPointF, Qt
from qgis.PyQt.QtGui import QColor, QMouseEvent, QPalette
from qgis.PyQt.QtWidgets import QApplication, QMessageBox, QPushButton
from reviewresults import LENGTH, place

from curbwright.algorithms.review import layers as parts
from curbwright.algorithms.writing.styles import AS_COMPARED
from curbwright.plugin.review import updating
from curbwright.plugin.review.map_link import LINE as LINES_ONLY
from curbwright.plugin.review.worklist_model import DECISION, LINE, NUMBER, REASON
from curbwright.shared.review.worklist import Kind

pytestmark = pytest.mark.usefixtures("qgis_processing")


def shown(controller, column):
    model = controller.panel.list.model
    role = Qt.ItemDataRole.AccessibleTextRole if column == DECISION else Qt.ItemDataRole.DisplayRole
    return [model.data(model.index(row, column), role) for row in range(model.rowCount())]


def decision_in(layer, fid):
    feature = layer.getFeature(fid)
    return feature["decision"] or "", feature["remark"] or "", feature["decided_by"] or ""


def stored(path, layer="comparison"):
    """Decisions in the file, by feature id."""
    read = QgsVectorLayer(f"{path}|layername={layer}", "stored", "ogr")
    return {one.id(): one["decision"] for one in read.getFeatures() if one["decision"]}


def look_at(controller, hand, row):
    with hand.signals(controller.session.evidence_read):
        assert controller.panel.list.look_at(row, reveal=True)


# the list


def test_the_list_holds_what_deserves_a_look_worst_first(opened):
    texts = list(zip(shown(opened, NUMBER), shown(opened, REASON), shown(opened, LINE)))
    assert texts[0] == ("250 mm", "shifted against control points", "all of 2025-05-13")
    assert texts[1] == ("1.08 m", "moved", "edge 77")  # the farther, the higher
    assert ("40.0 m", "new", "edge 2") in texts and (
        "20.0 m",
        "without counterpart",
        "edge 4",
    ) in texts
    assert ("30.0 m", "gone", "existing old fence") in texts
    assert ("3", "epochs doubtful or unconfirmed", "edge 3") in texts
    assert not any(line == "existing quay" for *_, line in texts)  # nothing was found there
    ratios = opened.session.review.found.ratio[opened.panel.list.model.shown]
    assert (np.diff(ratios) <= 0).all()


def test_an_unconfirmed_epoch_goes_to_its_edge_by_its_time(opened):
    review = opened.session.review
    row = review.label.index("4")
    assert review.found.others[row] == 1  # three doubtful and one unconfirmed, beside the part


def test_filters_by_reason_day_capture_and_decision(opened):
    view, model = opened.panel.list, opened.panel.list.model
    view.show_kinds([Kind.GONE])
    assert shown(opened, LINE) == ["existing old fence"]
    view.clear_filter()
    view.days.setCurrentIndex(view.days.findData("2025-05-14"))
    assert {model.review.days[row] for row in model.shown} == {("2025-05-14",)}
    view.captures.setCurrentIndex(view.captures.findData("c1"))
    assert shown(opened, LINE) == ["edge 4"]
    opened.decide("hold")
    view.clear_filter()
    view.states.setCurrentIndex(view.states.findData(True))
    assert shown(opened, LINE) == ["edge 4"]
    view.states.setCurrentIndex(view.states.findData(False))
    assert "edge 4" not in shown(opened, LINE)


def test_columns_sort(opened):
    model = opened.panel.list.model
    model.sort(LINE, Qt.SortOrder.AscendingOrder)
    assert shown(opened, LINE) == [model.title(row) for row in model.shown]
    labels = [model.review.label[row] for row in model.shown]
    assert labels == sorted(labels)


# links


def test_a_line_that_is_chosen_is_brought_into_the_map_gently(opened, hand, window):
    canvas = window.canvas
    look_at(opened, hand, 0)
    extent = canvas.extent()
    x, y = place(0)
    assert extent.contains(QgsPointXY(x, y)) and extent.contains(QgsPointXY(x + LENGTH, y))
    scale = canvas.scale()
    look_at(opened, hand, 1)  # 20 m beside: a move at most, the scale stays
    assert canvas.scale() == pytest.approx(scale)
    opened.panel.commands["follow"].setChecked(False)
    extent = canvas.extent()
    look_at(opened, hand, 79)
    assert canvas.extent() == extent


def test_a_click_on_the_map_chooses_in_the_list(opened, hand):
    look_at(opened, hand, 0)
    x, y = place(1)
    with hand.signals(opened.session.evidence_read):
        opened.choice.tool.choose(QgsPointXY(x + 10, y + 0.2))
    assert opened.session.review.label[opened.panel.list.row()] == "2"
    opened.session.layer(parts.LINES).selectByIds([8])  # by the host's own tools as well
    assert opened.session.review.label[opened.panel.list.row()] == "8"


def test_a_click_inside_a_ring_is_not_on_it(opened, monkeypatch):
    size = 100 * opened.choice.tool.canvas().mapUnitsPerPixel()
    layer = QgsVectorLayer("LineString", "ring", "memory")
    layer.setCrs(opened.choice.tool.canvas().mapSettings().destinationCrs())
    ring = QgsFeature()
    ring.setGeometry(
        QgsGeometry.fromPointXY(QgsPointXY(0, 0)).buffer(size, 8).convertToType(LINES_ONLY)
    )
    layer.dataProvider().addFeature(ring)
    found = []
    monkeypatch.setattr(opened.choice.tool, "layers", lambda: [layer])
    opened.choice.tool.chosen.connect(lambda *what: found.append(what))
    opened.choice.tool.choose(QgsPointXY(0, 0))
    assert not found
    opened.choice.tool.choose(QgsPointXY(size, 0))
    assert len(found) == 1


def test_clicks_are_measured_on_the_map_whatever_the_units_of_the_layers(opened, monkeypatch):
    """A degree is no metre: the line that looks nearer is chosen."""
    x, y = place(1)
    pixel = opened.choice.tool.canvas().mapUnitsPerPixel()
    layers = []
    for name, crs, off in (("degrees", "EPSG:4326", 9), ("metres", "EPSG:32631", 3)):
        layer = QgsVectorLayer("LineString", name, "memory")
        layer.setCrs(QgsCoordinateReferenceSystem(crs))
        way = QgsCoordinateTransform(
            opened.choice.tool.canvas().mapSettings().destinationCrs(),
            layer.crs(),
            QgsProject.instance(),
        )
        line = QgsFeature()
        at = y + off * pixel
        ends = [QgsPointXY(x - 50 * pixel, at), QgsPointXY(x + 50 * pixel, at)]
        geometry = QgsGeometry.fromPolylineXY(ends)
        geometry.transform(way)
        line.setGeometry(geometry)
        layer.dataProvider().addFeature(line)
        layers.append(layer)
    found = []
    monkeypatch.setattr(opened.choice.tool, "layers", lambda: layers)
    opened.choice.tool.chosen.connect(lambda ident, fid: found.append(ident))
    opened.choice.tool.choose(QgsPointXY(x, y))
    assert found == [layers[1].id()]


def test_a_line_that_the_filter_hides_is_shown_when_it_is_chosen_on_the_map(opened):
    opened.panel.list.show_kinds([Kind.GONE])
    opened.session.layer(parts.LINES).selectByIds([3])
    assert opened.session.review.label[opened.panel.list.row()] == "3"


def test_pointing_at_the_plot_marks_the_map_and_the_other_way_round(opened, hand, window):
    look_at(opened, hand, 0)
    plot, marker = opened.panel.plot, opened.map
    plot.resize(400, 300)
    box = plot.strips()[0].box
    middle = QPointF(box.center().x(), box.bottom() - 1)
    assert plot.chainage_at(middle.x()) == pytest.approx(LENGTH / 2, rel=1e-3)
    hand.move(plot, middle.toPoint())
    plot.pointed.emit(plot.chainage_at(middle.x()))
    x, y = place(0)
    at = marker._items["place"]
    assert at.isVisible() and at.center().x() == pytest.approx(x + LENGTH / 2, abs=0.2)
    window.canvas.xyCoordinates.emit(QgsPointXY(x + 10, y))
    assert plot.cursor == pytest.approx(10, abs=0.01)
    window.canvas.xyCoordinates.emit(QgsPointXY(x + 10, y + 900))
    assert np.isnan(plot.cursor) and not at.isVisible()


# the evidence


def test_evidence_shows_every_epoch_of_the_edge_with_its_reason(opened, hand):
    row = opened.session.review.label.index("4")
    look_at(opened, hand, row)
    evidence, table = opened.panel.plot.evidence, opened.panel.epoch_model
    kept = evidence.epochs.kept
    assert kept.sum() == 20 and set(evidence.epochs.word[kept]) == {"single", "doubtful"}
    assert {"spike", "unconfirmed", "not_fixed"} <= set(evidence.epochs.word[~kept])
    assert table.rowCount() == len(evidence.epochs)
    assert (np.diff(evidence.epochs.chainage) >= 0).all()
    # a reason stands in the table in words, and a spike lies where it was measured
    spike = list(evidence.epochs.word).index("spike")
    assert table.data(table.index(spike, 6)) == "why spike"
    assert evidence.epochs.across[spike] == pytest.approx(-0.5, abs=1e-3)


def test_the_plot_is_dragged_until_its_evidence_goes(opened, hand):
    look_at(opened, hand, 0)
    plot = opened.panel.plot
    plot.resize(400, 300)
    plot.zoom(0.5)
    low, high = plot.view
    box = plot.strips()[0].box
    at = QPointF(box.center().x(), box.top() - 12.0)  # above the marks
    left, none = Qt.MouseButton.LeftButton, Qt.KeyboardModifier.NoModifier

    def send(kind, x):
        where = at + QPointF(x, 0.0)
        QApplication.sendEvent(plot, QMouseEvent(kind, where, where, left, left, none))

    send(QEvent.Type.MouseButtonPress, 0.0)
    send(QEvent.Type.MouseMove, 20.0)
    assert plot.view[0] < low and np.diff(plot.view) == pytest.approx(high - low)
    plot.set_evidence(None, "reading")
    send(QEvent.Type.MouseMove, 40.0)
    assert plot.view == (0.0, 1.0) and np.isnan(plot.cursor)


def test_an_epoch_that_is_chosen_in_the_table_is_chosen_in_the_plot(opened, hand):
    look_at(opened, hand, 0)
    opened.panel.epochs.selectRow(7)
    assert opened.panel.plot.epoch == 7
    hand.key_click(opened.panel.plot, Qt.Key.Key_Right)
    assert opened.panel.plot.epoch == 8 and opened.panel.epochs.currentIndex().row() == 8


def test_every_role_and_reason_has_a_shape_or_filling_of_its_own():
    from curbwright.plugin.review import marks
    from curbwright.shared.epochs.reasons import REASON_NAMES
    from curbwright.shared.review.evidence import KEPT_ROLES

    words = [*KEPT_ROLES, *(name for name in REASON_NAMES if name)]
    looks = [(marks.mark_of(word).shape, marks.mark_of(word).hollow) for word in words]
    known = [look for word, look in zip(words, looks) if marks.mark_of(word).title]
    without_place = [("square", True)]  # no time and no position: neither is ever drawn
    assert len(set(known)) == len(known) - known.count(without_place[0]) + 1
    assert all(marks.mark_of(word).title for word in words)


# deciding


def test_a_decision_is_one_undo_step_of_the_layer(opened, hand, press):
    layer = opened.session.layer(parts.LINES)
    assert opened.panel.list.step(1) is None
    row = opened.panel.list.row()
    fid = int(opened.session.review.fid[row])
    press(opened, "a")
    assert decision_in(layer, fid)[0] == "accept" and layer.getFeature(fid)["decided_at"]
    assert opened.panel.list.row() != row  # it goes on to the next one
    assert opened.session.review.decision[row] == "accept"
    assert layer.undoStack().count() == 1
    layer.undoStack().undo()  # the host's own undo
    assert decision_in(layer, fid) == ("", "", "") and opened.session.review.decision[row] == ""
    press(opened, "h")
    assert "not saved yet" in opened.panel.list.said.text()
    press(opened, "u")
    assert opened.panel.list.model.progress()[0] == 0
    opened.undo(back=False)
    assert opened.panel.list.model.progress()[0] == 1


def test_undo_takes_back_decisions_and_nothing_else(opened):
    layer = opened.session.layer(parts.LINES)
    opened.panel.list.step(1)
    row = opened.panel.list.row()
    opened.decide("accept")
    moved = QgsGeometry.fromWkt("LineString (0 0, 1 1)")
    layer.beginEditCommand("Vertex moved")
    layer.changeGeometry(2, moved)
    layer.endEditCommand()
    opened.undo()
    assert opened.session.review.decision[row] == "accept"
    assert layer.getFeature(2).geometry().length() == pytest.approx(moved.length())
    assert layer.name() in said_last(opened)
    layer.undoStack().undo()
    opened.undo()
    assert opened.session.review.decision[row] == ""
    # what the host took back is passed over, and what came in its place is left
    opened.undo(back=False)
    layer.undoStack().undo()
    layer.beginEditCommand("Vertex moved")
    layer.changeGeometry(2, moved)
    layer.endEditCommand()
    opened.undo()
    assert layer.undoStack().index() == 1 and not opened.session.steps


def said_last(controller):
    return controller.panel.messages.currentItem().text()


def test_saving_asks_where_a_layer_holds_other_edits(opened, monkeypatch):
    layer = opened.session.layer(parts.LINES)
    opened.panel.list.step(1)
    opened.decide("accept")
    assert opened.session.edited() == []
    layer.changeGeometry(2, QgsGeometry.fromWkt("LineString (0 0, 1 1)"))
    asked, choices = [], QMessageBox.StandardButton
    for answer in (choices.Cancel, choices.Save):
        monkeypatch.setattr(
            QMessageBox, "question", lambda *given, answer=answer: asked.append(given) or answer
        )
        assert layer.isModified()
        opened.save()
    assert all(f"“{layer.name()}”" in given[2] for given in asked) and len(asked) == 2
    assert not layer.isModified()


def test_a_day_stands_for_all_its_lines(opened):
    review, model = opened.session.review, opened.panel.list.model
    assert opened.panel.list.row() in review.members
    opened.decide("hold")
    members = review.members[opened.panel.list.model.row_at(0)]
    assert {review.decision[row] for row in members} == {"hold"}
    assert model.decided()[model.row_at(0)]
    opened.undo()
    assert not model.decided().any()


def test_several_lines_are_decided_at_once_with_a_remark(opened, results):
    opened.panel.list.show_kinds([Kind.NEW, Kind.GONE])
    opened.panel.list.table.selectAll()
    opened.panel.remark.setText("seen on site")
    opened.panel.remark.setModified(True)
    opened.decide("reject")
    lines, old = opened.session.layer(parts.LINES), opened.session.layer(parts.EXISTING)
    assert decision_in(lines, 2)[:2] == ("reject", "seen on site")
    assert decision_in(old, 1)[:2] == ("reject", "seen on site")
    assert opened.session.unsaved() == [lines, old]
    assert stored(results / "curbwright.gpkg") == {}  # not before it is saved
    opened.save()
    assert len(stored(results / "curbwright.gpkg")) == 20
    assert stored(results / "curbwright.gpkg", "existing_status") == {1: "reject"}


def test_what_is_decided_elsewhere_is_seen(opened):
    layer = opened.session.layer(parts.LINES)
    layer.startEditing()
    layer.changeAttributeValue(2, layer.fields().lookupField("decision"), "accept")
    row = opened.session.review.label.index("2")
    assert opened.session.review.decision[row] == "accept"
    assert opened.panel.list.said.text().startswith("1 of ")
    with_all = opened.panel.list.model.rowCount()
    layer.deleteFeature(2)
    assert opened.panel.list.model.rowCount() == with_all - 1
    layer.undoStack().undo()
    assert opened.panel.list.model.rowCount() == with_all


def test_thirty_decisions_by_keyboard_alone(opened, hand, results, press):
    wanted = {}
    press(opened, "n")  # past the day
    for number in range(30):
        row = opened.panel.list.row()
        fid, what = int(opened.session.review.fid[row]), int(opened.session.review.what[row])
        if number % 10 == 3:
            press(opened, "m")
            assert opened.panel.remark.hasFocus()
            hand.key_clicks(opened.panel.remark, "ahr nothing of this is a command")
            hand.key_click(opened.panel.remark, Qt.Key.Key_Return)
        press(opened, "ahr"[number % 3])
        wanted[what, fid] = ("accept", "hold", "reject")[number % 3]
        assert opened.panel.list.row() != row
    assert opened.panel.list.said.text().startswith("30 of ")
    press(opened, "s")
    file = results / "curbwright.gpkg"
    assert {(0, fid): word for fid, word in stored(file).items()} == {
        key: word for key, word in wanted.items() if key[0] == 0
    }
    remarks = QgsVectorLayer(f"{file}|layername=comparison", "", "ogr")
    request = QgsFeatureRequest().setFilterExpression("remark IS NOT NULL")
    assert [one["remark"] for one in remarks.getFeatures(request)] == [
        "ahr nothing of this is a command"
    ] * 3


def test_the_update_is_opened_with_the_reviewed_layers(opened, monkeypatch):
    asked = []
    monkeypatch.setattr(updating, "open_dialogue", lambda *given: asked.append(given[:2]))
    opened.panel.commands["update"].trigger()
    ids = {part: opened.session.layer(part).id() for part in (parts.LINES, parts.EXISTING)}
    assert asked == [
        ("curbwright:updatebasemap", {"EDGES": ids["lines"], "EXISTING": ids["existing"]})
    ]
    # where the project holds the layer that was compared: that one, with what was decided on it
    basemap = QgsVectorLayer("LineString?crs=EPSG:32631&field=name:string", "basemap", "memory")
    QgsProject.instance().addMapLayer(basemap)
    run = {"EXISTING": basemap.source(), "EXISTING_SIGMA": "0.05", "AREA": ""}
    monkeypatch.setattr(opened.updating, "_run_parameters", lambda: run)
    assert opened.updating.parameters() == {
        "EDGES": ids["lines"], "EXISTING": basemap.id(), "DECISIONS": ids["existing"],
        "EXISTING_SIGMA": "0.05",
    }  # fmt: skip


def test_the_update_judges_as_a_single_comparison_did(review, hand, results):
    basemap = QgsVectorLayer("LineString?crs=EPSG:32631&field=name:string", "basemap", "memory")
    QgsProject.instance().addMapLayer(basemap)
    file = f"{results}/curbwright.gpkg|layername="
    chosen = {parts.LINES: "comparison", parts.EXISTING: "existing_status"}
    chosen = {
        part: QgsProject.instance().addMapLayer(QgsVectorLayer(file + name, name, "ogr"))
        for part, name in chosen.items()
    }
    said = {"EXISTING": basemap.id(), "EXISTING_SIGMA": "0.05", "REMOVE_SHIFT": "False", "AREA": ""}
    chosen[parts.LINES].setCustomProperty(AS_COMPARED, json.dumps(said))
    assert "to begin" in review.panel.plot.note
    with hand.signals(review.session.opened):
        review.open_layers(chosen)
        assert review.panel.plot.note == "Reading…"  # while it takes its time
    assert review.updating.parameters() == {
        "EDGES": chosen[parts.LINES].id(), "EXISTING": basemap.id(),
        "DECISIONS": chosen[parts.EXISTING].id(), "EXISTING_SIGMA": "0.05", "REMOVE_SHIFT": "False",
    }  # fmt: skip


# themes, layers, ends


def test_a_dark_theme_is_followed_at_once(opened, hand):
    look_at(opened, hand, 0)
    plot = opened.panel.plot
    light = plot.grab().toImage()
    palette = QPalette(opened.panel.palette())
    for role, colour in ((palette.ColorRole.Base, "#1e1e1e"), (palette.ColorRole.Text, "#f0f0f0")):
        palette.setColor(role, QColor(colour))
    opened.panel.setPalette(palette)
    plot.setPalette(palette)
    dark = plot.grab().toImage()
    corner = dark.pixelColor(dark.width() - 2, 2)
    assert corner.lightness() < 60 < light.pixelColor(light.width() - 2, 2).lightness()
    assert opened.panel.epoch_model.dark


@pytest.mark.parametrize("moment", ["while reading", "afterwards"])
def test_a_layer_that_is_removed_under_way_does_no_harm(opened, hand, moment):
    project = QgsProject.instance()
    press_on = opened.panel.list.row()
    if moment == "while reading":
        opened.session.renew()
        opened.session.look_at(1)
    project.removeMapLayer(opened.session.ids[parts.LINES])
    hand.wait(300)
    assert opened.session.missing() == [parts.LINES]
    assert opened.panel.list.model.rowCount() > 0  # the list stays
    assert not opened.panel.commands["accept"].isEnabled()
    opened.panel.list.step(1)
    assert opened.panel.list.row() != press_on
    with hand.signals(opened.session.opened):
        opened.session.load_again()
    assert opened.panel.commands["accept"].isEnabled()
    opened.decide("accept")
    assert opened.session.unsaved()


def test_layers_have_the_titles_that_a_run_gives_them(opened):
    names = {part: opened.session.layer(part).name() for part in parts.DECIDED}
    assert names == {parts.LINES: "Compared edges", parts.EXISTING: "Status of existing lines"}


def test_a_layer_may_be_renamed(opened):
    opened.session.layer(parts.LINES).setName("something else")
    opened.panel.list.step(1)
    opened.decide("accept")
    assert opened.panel.list.model.progress()[0] == 1


def test_closing_the_project_closes_the_review(opened, hand):
    opened.session.renew()  # something is being read
    opened.panel.remark.setText("of this line alone")
    QgsProject.instance().clear()
    hand.wait(100)
    assert opened.session.review is None and opened.panel.list.model.rowCount() == 0
    assert not opened.panel.remark.text()
    assert not opened.panel.commands["next"].isEnabled()
    assert opened.panel.commands["folder"].isEnabled()


def test_what_is_no_folder_of_results_is_said(review, tmp_path):
    review.open_folder(tmp_path)
    item = review.panel.messages.currentItem()
    assert "curbwright.gpkg" in item.text() and "is not there" in item.text()


def test_layers_of_the_project_are_reviewed_by_their_fields(review, results, hand):
    from curbwright.plugin.review.choose_layers import ChooseLayers

    for name in ("edges", "kept", "rejected"):
        path = f"{results / 'curbwright.gpkg'}|layername={name}"
        QgsProject.instance().addMapLayer(QgsVectorLayer(path, name, "ogr"))
    dialogue = ChooseLayers(QgsProject.instance(), review.panel)
    chosen = dialogue.chosen()
    assert {part: layer.name() for part, layer in chosen.items()} == {
        parts.LINES: "edges", parts.KEPT: "kept", parts.REJECTED: "rejected",
    }  # fmt: skip
    with hand.signals(review.session.opened):
        review.open_layers(chosen)
    assert "epochs doubtful or unconfirmed" in shown(review, REASON)
    dialogue.deleteLater()


def test_evidence_follows_the_list_where_nothing_can_be_repaired(review, results, hand):
    path = f"{results / 'curbwright.gpkg'}|layername=edges"
    layer = QgsVectorLayer(path, "edges", "ogr")
    QgsProject.instance().addMapLayer(layer)
    with hand.signals(review.session.opened):
        review.open_layers({parts.LINES: layer})
    # nothing to compare with: an empty list tells how to see the lines
    assert "tick “nothing found”" in review.panel.plot.note
    review.panel.list.show_kinds(list(review.panel.list.kind_choices))
    with hand.signals(review.session.evidence_read):
        review.panel.list.look_at(0)
    assert "Kept epochs are not shown" in review.panel.hint.text()
    with hand.signals(review.session.evidence_read):
        review.panel.commands["repair"].setChecked(True)
    assert "Process captures of a project" in review.repairing.bar.say.text()
    with hand.signals(review.session.evidence_read):
        review.panel.list.look_at(1)
    assert review.panel.plot.evidence.row == 1


def test_messages_move_no_row_from_under_the_pointer(opened, hand):
    table = opened.panel.list.table
    hand.wait(50)
    before = table.mapToGlobal(table.rect().topLeft())
    opened.say_problem("Something is wrong.")
    hand.wait(50)
    assert opened.panel.messages.isVisible()
    assert table.mapToGlobal(table.rect().topLeft()) == before


def test_only_layers_with_the_fields_of_a_part_are_offered(review, results):
    from curbwright.plugin.review.choose_layers import ChooseLayers

    path = f"{results / 'curbwright.gpkg'}|layername="
    made = [
        QgsVectorLayer("Point?crs=EPSG:32631&field=name:string", "trees", "memory"),
        QgsVectorLayer("LineString?crs=EPSG:32631&field=name:string", "pipes", "memory"),
        # of another run: what belongs to the lines goes first
        QgsVectorLayer(
            "Point?crs=EPSG:32631&field=reason:string&field=detail:string", "others", "memory"
        ),
        *(QgsVectorLayer(path + name, name, "ogr") for name in ("edges", "kept", "rejected")),
    ]
    for layer in made:
        QgsProject.instance().addMapLayer(layer)
    dialogue = ChooseLayers(QgsProject.instance(), review.panel)
    offered = {
        part: [box.layer(place).name() for place in range(box.count()) if box.layer(place)]
        for part, box in dialogue.boxes.items()
    }
    assert not any({"trees", "pipes"} & set(names) for names in offered.values())
    assert offered[parts.EDGE_STATIONS] == offered[parts.STATIONS] == []
    assert sorted(offered[parts.REJECTED]) == ["others", "rejected"]
    assert dialogue.chosen()[parts.REJECTED].name() == "rejected"
    dialogue.deleteLater()


def test_the_panel_leaves_a_narrow_screen_room_for_the_map(opened):
    scale = opened.panel.logicalDpiX() / 96
    assert opened.panel.minimumSizeHint().width() <= 330 * scale
    room = [box.sizeHint().width() for box in (opened.panel.list.days, opened.panel.list.states)]
    assert min(room) > 80 * scale  # what they take where there is some


def test_the_panel_shares_the_place_of_docks_that_leave_it_no_room(review, window, hand):
    from qgis.PyQt.QtWidgets import QDockWidget

    review.panel.setUserVisible(False)
    other = QDockWidget("Other", window.window)
    other.setMinimumHeight(400)
    window.addDockWidget(Qt.DockWidgetArea.RightDockWidgetArea, other)
    hand.wait(50)
    assert window.window.tabifiedDockWidgets(review.panel) == []
    review.show()
    hand.wait(50)
    assert window.window.tabifiedDockWidgets(review.panel) == [other]
    assert review.panel.isVisible() and window.window.height() <= 768


def test_a_panel_that_is_closed_leaves_nothing_on_the_map(opened, hand):
    chosen = opened.map._items["chosen"]
    opened.panel.list.step(1)
    hand.wait(100)
    assert chosen.asGeometry().length() > 0
    opened.panel.close()
    assert chosen.asGeometry().isEmpty() and not opened.map._items["place"].isVisible()
    with hand.signals(opened.session.evidence_read):
        opened.show()
    assert chosen.asGeometry().length() > 0  # as it was, once it is open again


def test_a_layer_without_fields_for_decisions_gets_them(review, hand):
    layer = QgsVectorLayer(
        "LineStringZ?crs=EPSG:32631&field=edge_id:integer&field=sigma_cross:double",
        "mine",
        "memory",
    )
    feature = QgsFeature(layer.fields())
    feature.setGeometry(QgsGeometry.fromWkt("LINESTRING Z (500000 0 1, 500010 0 1)"))
    feature.setAttributes([1, 0.09])
    layer.dataProvider().addFeatures([feature])
    QgsProject.instance().addMapLayer(layer)
    with hand.signals(review.session.opened):
        review.show()
        review.open_layers({parts.LINES: layer})
    assert shown(review, NUMBER) == ["90 mm"]
    review.decide("accept")
    assert [one["decision"] for one in layer.getFeatures()] == ["accept"]
    review.undo()
    assert layer.fields().lookupField("decision") < 0
    review.decide("accept")
    review.save()  # into a layer that QGIS forgets
    assert "Make Permanent…" in review.panel.messages.currentItem().text()
    assert "“mine”" in review.panel.messages.currentItem().toolTip()
    QgsProject.instance().removeMapLayer(layer.id())
    gone = review.panel.messages.currentItem()
    assert gone.text() == "“mine” was removed." and "temporary" in gone.toolTip()
    assert not gone.findChildren(QPushButton)  # nothing that could be loaded again


def test_a_layer_made_permanent_can_be_loaded_again(opened, hand, tmp_path):
    layer = opened.session.layer(parts.LINES)
    options = QgsVectorFileWriter.SaveVectorOptions()
    target = str(tmp_path / "kept.gpkg")
    context = QgsProject.instance().transformContext()
    done = QgsVectorFileWriter.writeAsVectorFormatV3(layer, target, context, options)
    assert done[0] == QgsVectorFileWriter.WriterError.NoError
    with hand.signals(opened.session.opened):
        layer.setDataSource(target, layer.name(), "ogr")  # as the host does
    QgsProject.instance().removeMapLayer(layer.id())
    (button,) = opened.panel.messages.currentItem().findChildren(QPushButton)
    with hand.signals(opened.session.opened):
        button.click()
    assert opened.session.layer(parts.LINES).source().startswith(target)


def test_what_cannot_be_loaded_again_is_said(opened, hand):
    _, name, provider = opened.session.sources[parts.LINES]
    QgsProject.instance().removeMapLayer(opened.session.ids[parts.LINES])
    opened.session.sources[parts.LINES] = "/missing/file.gpkg", name, provider
    opened.session.load_again()
    assert "cannot be loaded again from /missing/file.gpkg" in said_last(opened)


def changes_of(layer_name, rows):
    layer = QgsVectorLayer(f"LineString?crs=EPSG:32631&{layer_name}", "made", "memory")
    features = []
    for values, wkt in rows:
        feature = QgsFeature(layer.fields())
        feature.setAttributes(list(values))
        feature.setGeometry(QgsGeometry.fromWkt(wkt))
        features.append(feature)
    assert layer.dataProvider().addFeatures(features)[0]
    return layer


def test_an_update_is_seen_before_and_after(opened, hand):
    x, y = place(0)
    line = f"LINESTRING ({x} {{0}}, {x + 40} {{0}})"
    project = QgsProject.instance()
    names = "change_id what existing_id edge_ids length_before length_after moved reason"
    changes = changes_of(
        "&".join(f"field={name}:string" for name in names.split()),
        [
            (("1", "replaced", "k7", "1", "40", "40.5", "1.2", "displaced"), line.format(y - 2)),
            (("2", "retired", "k8", "", "40", None, None, "gone"), line.format(y - 9)),
        ],
    )
    updated = changes_of(
        "field=key:string&field=update:string&field=update_edges:string&field=updated_at:string",
        [
            (("k6", "unchanged", "", ""), line.format(y + 50)),
            (("k7", "replaced", "1", ""), line.format(y)),
        ],
    )
    project.addMapLayers([changes, updated])
    with hand.signals(opened.session.opened):
        opened.session.renew()
    view = opened.updating.view
    for _ in range(100):
        hand.wait(20)
        if view.model.rowCount():
            break
    first, second = view.model.rows
    assert first.after.asWkt(0) != first.before.asWkt(0) and not first.after.isNull()
    assert second.after.isNull() and not second.before.isNull()
    opened.panel.tabs.setCurrentWidget(view)
    view.table.selectRow(0)
    before, after = (opened.map._items[name] for name in ("before", "after"))
    assert after.isVisible() and not before.isVisible()
    view.slider.setValue(50)
    assert after.isVisible() and before.isVisible()
    view.slider.setValue(100)
    hand.press(view.table, Qt.Key.Key_B)
    assert before.isVisible() and not after.isVisible()
    hand.release(view.table, Qt.Key.Key_B)
    assert after.isVisible() and not before.isVisible()
    opened.panel.tabs.setCurrentIndex(0)
    assert not after.isVisible() and not before.isVisible()


def test_the_evidence_prints(opened, hand, tmp_path):
    from qgis.PyQt.QtGui import QPdfWriter

    look_at(opened, hand, 0)
    target = tmp_path / "evidence.pdf"
    opened.print_on(QPdfWriter(str(target)))
    assert target.read_bytes().startswith(b"%PDF") and target.stat().st_size > 5000


def test_a_page_that_cannot_be_opened_is_said(opened, tmp_path):
    from qgis.PyQt.QtGui import QPdfWriter

    opened.print_on(QPdfWriter(str(tmp_path / "missing" / "evidence.pdf")))
    assert "Nothing was printed" in said_last(opened)


def test_a_layer_that_is_being_edited_may_be_removed(opened, hand):
    opened.panel.list.step(1)
    opened.decide("hold")
    QgsProject.instance().removeMapLayer(opened.session.ids[parts.LINES])
    hand.wait(200)
    assert opened.session.missing() == [parts.LINES] and not opened.session.steps
    with hand.signals(opened.session.opened):
        opened.session.load_again()
    assert opened.panel.list.model.progress()[0] == 0  # what was not saved went with the layer


def test_evidence_that_cannot_be_read_does_no_harm_to_the_next(opened, hand, monkeypatch):
    from curbwright.plugin.review import session as module

    def refuse(*given):
        raise QgsProcessingException("no such field")

    with monkeypatch.context() as patch, hand.signals(opened.session.failed):
        patch.setattr(module, "read_evidence", refuse)
        opened.session.look_at(opened.panel.list.row())
    hand.wait(50)  # until the host has deleted the task
    with hand.signals(opened.session.evidence_read):
        opened.session.look_at(opened.panel.list.row())


def test_a_reading_stopped_in_the_task_manager_can_be_begun_again(opened, hand):
    with hand.signals(opened.session.failed):
        opened.session.renew()
        opened.session._work.cancel()
    hand.wait(50)
    assert opened.panel.commands["renew"].isEnabled()
    with hand.signals(opened.session.opened):
        opened.session.renew()
