"""The plot of the evidence by itself: its strips, what lies under the pointer, wheel and keys."""

import numpy as np
import pytest
from qgis.PyQt.QtCore import QPoint, QPointF, Qt
from qgis.PyQt.QtGui import QWheelEvent
from qgis.PyQt.QtWidgets import QApplication

from curbwright.algorithms.review.line_evidence import EpochTable, LineEvidence
from curbwright.plugin.review.evidence_drawing import ACROSS, HEIGHT, steps_of
from curbwright.plugin.review.evidence_plot import NEAR, EvidencePlot
from curbwright.shared.review import evidence as ground

LENGTH, COUNT = 100.0, 11


def evidence(across, kept):
    x, empty = np.linspace(0.0, LENGTH, COUNT), np.zeros(0)
    axis = ground.make_axis(x, np.zeros(COUNT), np.full(COUNT, 3.0), [0, COUNT])
    words = np.where(kept, "single", "spike").astype(object)
    epochs = ground.Epochs(
        kept, words, x, across, np.zeros(COUNT), np.full(COUNT, 3.0), np.arange(COUNT)
    )
    table = EpochTable(empty, empty, empty, empty, [""] * COUNT, [""] * COUNT, empty)
    offsets = ground.Offsets(empty, empty, empty, np.zeros(0, bool))
    band = ground.steady_band(axis, 0.005, 0.01)
    return LineEvidence(0, axis, x, np.zeros(COUNT), None, epochs, table, band, offsets)


def plot_of(across, kept):
    plot = EvidencePlot()
    plot.resize(420, 300)
    plot.set_evidence(evidence(np.asarray(across, float), np.asarray(kept, bool)))
    return plot


@pytest.fixture
def plot(qgis_app):
    across, kept = np.full(COUNT, 0.01), np.ones(COUNT, bool)
    across[5], kept[5] = 0.9, False
    return plot_of(across, kept)


def strips(plot):
    return {strip.which: strip for strip in plot.strips()}


def test_a_spike_stands_at_the_rim_and_does_not_press_the_others_into_a_line(plot):
    across = strips(plot)[ACROSS]
    assert across.high == -across.low == pytest.approx(0.046)  # twice the least range, and room
    assert across.y(0.9) == pytest.approx(across.box.top()) and across.y(0.01) > across.y(0.9) + 9
    assert strips(plot)[HEIGHT].low < 3.0 < strips(plot)[HEIGHT].high


def test_an_epoch_is_pointed_at_within_some_pixels(plot):
    across = strips(plot)[ACROSS]
    x = across.box.left() + 0.3 * across.box.width()
    y = float(across.y(0.01))
    assert plot.epoch_at(QPointF(x, y)) == 3
    assert plot.epoch_at(QPointF(x, y + NEAR - 1)) == 3
    assert plot.epoch_at(QPointF(x, y + NEAR + 2)) == -1
    assert plot.chainage_at(x) == pytest.approx(30.0, abs=0.1)


def test_what_is_shown_stays_within_the_line(plot):
    for low, high, shown in (
        (-20.0, 30.0, (0.0, 50.0)),
        (90.0, 140.0, (50.0, 100.0)),
        (-5.0, 500.0, (0.0, 100.0)),
        (40.0, 40.1, (40.0, 40.5)),  # no less than half a metre
    ):
        plot.show_stretch(low, high)
        assert plot.view == pytest.approx(shown)


def test_the_wheel_zooms_about_the_place_under_the_pointer(plot):
    box = strips(plot)[ACROSS].box
    at = QPointF(box.left() + 0.3 * box.width(), box.center().y())
    none = Qt.KeyboardModifier.NoModifier
    event = QWheelEvent(
        at, at, QPoint(0, 0), QPoint(0, 120), Qt.MouseButton.NoButton, none,
        Qt.ScrollPhase.NoScrollPhase, False,
    )  # fmt: skip
    QApplication.sendEvent(plot, event)
    assert np.diff(plot.view)[0] == pytest.approx(LENGTH / 1.25)
    assert plot.chainage_at(at.x()) == pytest.approx(30.0, abs=0.1)
    plot.show_all()
    assert plot.view == (0.0, LENGTH)


@pytest.mark.parametrize("room", [1, 3, 10])
@pytest.mark.parametrize(("low", "high"), [(0.0, 1.0), (-0.046, 0.046), (3.0, 1204.0)])
def test_ticks_are_round_and_not_too_many(low, high, room):
    ticks = steps_of(low, high, room)
    assert ((ticks >= low) & (ticks <= high)).all() and len(ticks) <= room + 1
    if len(ticks) > 1:
        step = ticks[1] - ticks[0]
        assert step / 10 ** np.floor(np.log10(step) + 1e-9) == pytest.approx(
            round(step / 10 ** np.floor(np.log10(step) + 1e-9))
        )


def test_without_evidence_there_is_nothing_to_point_at(plot):
    plot.set_evidence(None, "reading")
    assert strips(plot) == {} and plot.epoch_at(QPointF(50.0, 50.0)) == -1
    assert np.isnan(plot.chainage_at(50.0)) and plot.drawing.words() == []
