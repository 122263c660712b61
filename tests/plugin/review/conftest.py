"""A window with the review panel in it, opened on results made by hand."""

import sys
import time
import traceback
from contextlib import contextmanager

import pytest
from qgis.core import QgsCoordinateReferenceSystem, QgsProject
from qgis.gui import QgsMapCanvas, QgsMessageBar
from qgis.PyQt.QtTest import QTest
from qgis.PyQt.QtWidgets import QApplication, QMainWindow
from reviewresults import make_results


class Window:
    """What the review uses of QGIS's window."""

    def __init__(self):
        self.window = QMainWindow()
        self.canvas = QgsMapCanvas(self.window)
        self.canvas.setDestinationCrs(QgsCoordinateReferenceSystem("EPSG:32631"))
        self.window.setCentralWidget(self.canvas)
        self.bar = QgsMessageBar(self.window)
        self.window.resize(1366, 768)

    def mainWindow(self):
        return self.window

    def mapCanvas(self):
        return self.canvas

    def messageBar(self):
        return self.bar

    def addDockWidget(self, area, dock):
        self.window.addDockWidget(area, dock)

    def removeDockWidget(self, dock):
        self.window.removeDockWidget(dock)


class Hand:
    """Keys, pointer and patience."""

    key_click, key_clicks, move = QTest.keyClick, QTest.keyClicks, QTest.mouseMove
    press, release = QTest.keyPress, QTest.keyRelease

    @contextmanager
    def signals(self, *signals, seconds=10):
        """Wait, after what is done inside, until all signals came."""
        came = [0] * len(signals)
        slots = []
        for number, signal in enumerate(signals):

            def slot(*values, number=number):
                came[number] += 1

            signal.connect(slot)
            slots.append(slot)
        yield
        until = time.monotonic() + seconds
        while not all(came) and time.monotonic() < until:
            QTest.qWait(10)
        for signal, slot in zip(signals, slots):
            signal.disconnect(slot)
        assert all(came), f"signals that did not come: {came}"

    @staticmethod
    def wait(milliseconds):
        """Let the event loop turn for a while."""
        QTest.qWait(milliseconds)


@pytest.fixture(autouse=True)
def no_error_in_a_slot(monkeypatch):
    """Errors in slots end the process unless somebody takes them: here they fail the test."""
    errors = []
    monkeypatch.setattr(
        sys, "excepthook", lambda *error: errors.append("".join(traceback.format_exception(*error)))
    )
    yield
    assert not errors, "\n".join(errors)


@pytest.fixture(scope="session")
def hand(qgis_app):
    return Hand()


@pytest.fixture(scope="session")
def made_results(tmp_path_factory):
    """A folder of results; not to be changed."""
    folder = tmp_path_factory.mktemp("results")
    make_results(folder, 80)
    return folder


@pytest.fixture
def results(made_results, tmp_path):
    """A copy of the results to work on."""
    copy = tmp_path / "results"
    copy.mkdir()
    (copy / "curbwright.gpkg").write_bytes((made_results / "curbwright.gpkg").read_bytes())
    return copy


@pytest.fixture
def window(qgis_new_project):
    made = Window()
    made.window.show()
    yield made
    made.window.close()
    made.window.deleteLater()


@pytest.fixture
def review(window, hand):
    """The controller, with nothing open."""
    from curbwright.plugin.review.controller import ReviewController

    controller = ReviewController(window)
    controller.show()
    yield controller
    controller.close()
    QgsProject.instance().clear()


@pytest.fixture
def opened(review, results, hand):
    """The controller with the results open, the first line chosen and its evidence read."""
    with hand.signals(review.session.opened, review.session.evidence_read):
        review.open_folder(results)
    return review


@pytest.fixture
def press(hand):
    """Presses keys in a widget of the panel, the list where none is given."""

    def keys(controller, *some, widget=None):
        target = widget or controller.panel.list.table
        QApplication.setActiveWindow(controller.panel.window())
        target.setFocus()
        for key in some:
            if isinstance(key, str):
                hand.key_clicks(target, key)
            else:
                hand.key_click(target, key)

    return keys
