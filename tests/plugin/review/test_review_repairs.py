"""Repairs from the panel: each kind, its preview, undo, and the same bytes as from the core."""

import shutil

import numpy as np
import processing
import pytest
from numpy.testing import assert_array_equal
from qgis.core import QgsProject, QgsVectorLayer
from walkedlayers import layer_of, walk

from curbwright.algorithms.review import layers as parts
from curbwright.algorithms.review.repairing import rows_of
from curbwright.shared.reconstruction.reconstruct import reconstruct
from curbwright.shared.reconstruction.repairs import STATES, Repairs

pytestmark = pytest.mark.usefixtures("provider")


@pytest.fixture(scope="module")
def processed(tmp_path_factory, provider):
    """Results of one capture layer, which is a file beside them; not to be changed."""
    folder = tmp_path_factory.mktemp("processed")
    source = processing.run(
        "native:savefeatures",
        {"INPUT": layer_of(walk()), "OUTPUT": str(folder / "walks.gpkg")},
    )["OUTPUT"]
    processing.run(
        "curbwright:processcaptures",
        {"LAYERS": [source], "FOLDER": str(folder / "results"), "LOAD_RESULTS": False},
    )
    return folder


@pytest.fixture
def repairing(review, processed, tmp_path, hand):
    """The panel with the first edge being repaired."""
    shutil.copytree(processed / "results", tmp_path / "results")
    with hand.signals(review.session.opened):
        review.open_folder(tmp_path / "results")
    review.panel.list.show_kinds(list(review.panel.list.kind_choices))
    assert review.panel.list.look_at(review.session.review.label.index("1"))
    hand.wait(100)
    review.panel.commands["repair"].setChecked(True)
    settled(review, hand)
    return review


def settled(review, hand):
    """Wait until the capture is fitted."""
    for _ in range(500):
        hand.wait(20)
        busy = review.repairing._work is not None or review.repairing._settle.isActive()
        if not busy and review.repairing.refitted is not None:
            return
    raise AssertionError(review.repairing.bar.say.text())


def choose(review, word, nearest=10.0):
    """Choose the epoch of a role or reason that is nearest to a chainage."""
    epochs = review.panel.plot.evidence.epochs
    some = np.flatnonzero(epochs.word == word)
    place = some[np.argmin(np.abs(epochs.chainage[some] - nearest))]
    review.panel.plot.choose_epoch(int(place))
    return float(review.panel.plot.evidence.table.seconds[epochs.rows[place]])


def states(review):
    return [(kind, why) for _, kind, why in review.repairing.refitted.said]


def lines(review):
    return [line.copy() for line in review.repairing.refitted.lines]


def test_without_a_repair_the_capture_is_as_it_was_fitted(repairing):
    review = repairing
    layer = review.session.layer(parts.LINES)
    written = layer.getFeature(int(review.session.review.fid[review.panel.list.row()])).geometry()
    fitted = review.panel.plot.evidence
    vertices = np.array([(v.x(), v.y()) for v in written.vertices()])
    assert_array_equal(np.column_stack([fitted.x, fitted.y]), vertices)
    assert states(review) == [] and review.repairing.list.list.count() == 0


@pytest.mark.parametrize(
    ("kind", "word", "at"),
    [
        ("leave_out", "single", 10.0),
        ("take_back", "not_fixed", 32.0),
        ("corner", "single", 12.0),
        ("smooth", "single", 24.5),
        ("break_here", "single", 12.0),
    ],
)
def test_each_repair_is_one_undo_step_that_is_tried_at_once(repairing, hand, kind, word, at):
    review = repairing
    before = lines(review)
    seconds = choose(review, word, at)
    review.repairing.ask(kind, "")
    settled(review, hand)
    (row,), _ = rows_of(review.repairing.layer(), review.repairing.subject.walk.layer)
    assert (row["kind"], row["time"]) == (kind, seconds)
    assert states(review)[0][0] == "applied", states(review)
    after = lines(review)
    # what was lost broke the line in two
    assert len(after) == len(before) + {"break_here": 1, "take_back": -1}.get(kind, 0)
    if kind == "leave_out":
        assert "left_out" in review.panel.plot.drawing.words()
    layer = review.repairing.layer()
    assert layer.undoStack().count() == 1 and layer.isEditable()
    layer.undoStack().undo()  # the host's own undo
    settled(review, hand)
    assert states(review) == []
    for one, other in zip(lines(review), before):
        assert_array_equal(one, other)
    review.undo()


def test_a_stretch_is_marked_by_the_keyboard_and_made_a_tangent(repairing, hand):
    from qgis.PyQt.QtCore import Qt

    review = repairing
    choose(review, "single", 4.0)
    for _ in range(8):
        hand.key_click(review.panel.plot, Qt.Key.Key_Right, Qt.KeyboardModifier.ShiftModifier)
    low, high = review.panel.plot.span
    assert 4 < high - low < 15
    review.repairing.ask("element", "tangent")
    settled(review, hand)
    assert [state for state, _ in states(review)] == ["applied"]
    (row,), _ = rows_of(review.repairing.layer(), review.repairing.subject.walk.layer)
    assert row["value"] == "tangent" and row["until"] > row["time"]
    assert review.repairing.list.list.item(0).text().startswith("Tangent: 2026-05-04")


def mark(review, low, high):
    """Mark a stretch, as Shift and the mouse do; times of its first and last epoch."""
    review.panel.plot.span = (low, high)
    epochs, table = review.panel.plot.evidence.epochs, review.panel.plot.evidence.table
    inside = epochs.kept & (epochs.chainage >= low) & (epochs.chainage <= high)
    seconds = table.seconds[epochs.rows[inside]]
    return float(seconds.min()), float(seconds.max())


def test_a_break_can_be_bridged_again(repairing, hand):
    review = repairing
    number = len(lines(review))
    choose(review, "single", 12.0)
    review.repairing.ask("break_here", "")
    settled(review, hand)
    review.repairing.ask("bridge", "")  # towards the nearer end
    settled(review, hand)
    gap = review.repairing.refitted.gaps
    assert len(lines(review)) in (number, number + 1) and gap is not None
    review.undo()
    review.undo()
    settled(review, hand)
    assert len(lines(review)) == number and states(review) == []


def test_what_is_not_chosen_is_asked_for(repairing):
    review = repairing
    review.panel.plot.epoch = -1
    review.repairing.ask("corner", "")
    assert "Choose an epoch first" in review.repairing.bar.say.text()
    review.repairing.ask("element", "arc")
    assert "Mark a stretch first" in review.repairing.bar.say.text()
    choose(review, "single")
    review.repairing.ask("take_back", "")
    assert "in already" in review.repairing.bar.say.text()
    assert review.repairing.layer().featureCount() == 0


@pytest.mark.one_host
@pytest.mark.parametrize(
    "asked",
    [
        (("leave_out", "", 6.0), ("corner", "", 12.0)),
        (("element", "arc", (4.0, 14.0)),),
        (("element", "spline", (4.0, 20.0)), ("leave_out", "", 6.0)),
        (("element", "tangent", (15.0, 24.0)), ("smooth", "", 24.5)),
    ],
    ids=["epoch and corner", "arc", "spline", "tangent and joint"],
)
def test_panel_and_core_give_the_same_bytes(repairing, hand, asked):
    """And so does the batch, whose own tests hold it against the core."""
    review = repairing
    wanted = []
    for kind, element, at in asked:
        row = {"kind": kind, "capture": "walk 1", "value": element}
        if element:
            row["time"], row["until"] = mark(review, *at)
        else:
            row["time"] = choose(review, "single", at)
        wanted.append(row)
        review.repairing.ask(kind, element)
        settled(review, hand)
    given = review.repairing._captures[review.repairing.subject.walk.layer]
    layer = given.layer
    repairs = Repairs.from_rows(wanted).placed(layer.captures, layer.origin)
    whole = reconstruct(layer.table, given.settings, repairs=repairs)
    assert [state for state, _ in states(review)] == [
        STATES[state] for state in whole.repairs.state.tolist()
    ]
    assert "applied" in states(review)[0]
    own = np.flatnonzero(whole.edges.capture == layer.captures.index("walk 1"))
    from_panel = lines(review)
    assert len(from_panel) == len(own)
    for edge, line in zip(own, from_panel):
        part = slice(whole.edges.offsets[edge], whole.edges.offsets[edge + 1])
        x, y = layer.frame.layer(whole.edges.x[part], whole.edges.y[part])
        assert_array_equal(line, np.column_stack([x, y]))


def test_repairs_are_saved_with_the_results(repairing, hand):
    review = repairing
    choose(review, "single", 10.0)
    review.repairing.ask("leave_out", "")
    settled(review, hand)
    review.save()
    stored = QgsVectorLayer(f"{review.session.path}|layername=repairs", "stored", "ogr")
    (row,) = stored.getFeatures()
    assert (row["kind"], row["capture"]) == ("leave_out", "walk 1") and row["decided_at"]
    layer = review.repairing.layer()
    assert not layer.isEditable()
    heard = layer.receivers(layer.afterCommitChanges)
    review.forget()  # the layer stays in the project, and outlives the review
    assert layer.receivers(layer.afterCommitChanges) < heard
    layer.startEditing()
    assert layer.commitChanges()


def test_a_walk_without_a_capture_is_called_by_its_layer(repairing):
    walks = repairing.session.review.walks
    walks.update({ident: (layer, "", *times) for ident, (layer, _, *times) in walks.items()})
    assert repairing.repairing.take(repairing.panel.list.row())
    assert repairing.repairing.bar.walks.itemText(0) == f"{walks[1][0]}, 1"
    repairing.panel.commands["repair"].setChecked(False)


def test_the_layer_of_repairs_may_be_removed_under_way(repairing, hand):
    review = repairing
    choose(review, "single", 10.0)
    review.repairing.ask("leave_out", "")
    QgsProject.instance().removeMapLayer(review.repairing.layer().id())
    hand.wait(300)
    review.repairing.ask("leave_out", "")
    assert "no layer of repairs" in review.panel.messages.currentItem().text()
    review.panel.commands["repair"].setChecked(False)


def test_capture_layers_are_read_anew_with_the_review(repairing, hand):
    former = dict(repairing.repairing._captures)
    with hand.signals(repairing.session.opened):
        repairing.session.renew()
    settled(repairing, hand)
    assert all(repairing.repairing._captures[name] is not one for name, one in former.items())
