"""Runs inside QGIS, started by `tutorial_pictures.py`: follows plugin/help/tutorial.md step by step
in the window and takes the pictures. What a user would press is pressed; only the dialogue for a
folder, which is the system's, is answered for."""

import json
import math
import os
import re
import time
import traceback
from pathlib import Path

from qgis.core import QgsProject
from qgis.PyQt.QtCore import QCoreApplication, QItemSelectionModel, QPoint, QRect, QSize, Qt, QTimer
from qgis.PyQt.QtGui import QCursor, QGuiApplication
from qgis.PyQt.QtWidgets import (
    QAbstractButton,
    QApplication,
    QComboBox,
    QDockWidget,
    QFileDialog,
    QGroupBox,
    QLabel,
    QLineEdit,
    QMenu,
    QMenuBar,
    QMessageBox,
    QPushButton,
    QScrollArea,
    QTabBar,
    QTreeView,
)
from qgis.utils import iface, plugins

from curbwright.plugin.field_widget import UNIT

FOLDER, WORK = Path(os.environ["TUTORIAL_FOLDER"]), Path(os.environ["TUTORIAL_WORK"])
RESULTS, REPORT = WORK / "results", WORK / "update.html"
CAPTURES = "captures_plumb", "captures_aimed", "captures_geographic"
PATIENCE = 240  # seconds for anything to happen
seen = {"words": set(), "labels": {}, "figures": {}}


# what is seen


def texts_of(widget):
    """Texts that a widget shows, without the marks of keys."""
    if isinstance(widget, QLabel):
        return [widget.text()]
    if isinstance(widget, QAbstractButton):
        return [widget.text(), widget.toolTip()]
    if isinstance(widget, QGroupBox):
        return [widget.title()]
    if isinstance(widget, QComboBox):
        return [widget.currentText()]
    if isinstance(widget, QLineEdit):
        return [widget.text(), widget.placeholderText()]
    if isinstance(widget, QTabBar):
        return [widget.tabText(place) for place in range(widget.count())]
    if isinstance(widget, (QMenu, QMenuBar)):
        return [action.text() for action in widget.actions()]
    if isinstance(widget, QDockWidget):
        return [widget.windowTitle()]
    if isinstance(widget, QTreeView) and widget.model() is not None:
        return list(leaves(widget.model()))
    return []


def leaves(model, parent=None):
    """Texts of the first column of a tree."""
    parents = () if parent is None else (parent,)
    for row in range(model.rowCount(*parents)):
        index = model.index(row, 0, *parents)
        yield str(index.data())
        yield from leaves(model, index)


def remember():
    """Note all texts in the visible windows, without counts of features."""
    found = set()
    for widget in QApplication.allWidgets():
        if widget.isVisible():
            found.update(texts_of(widget))
            if widget.isWindow():
                found.add(widget.windowTitle())
    plain = (re.sub(r" \[\d+\]$", "", text.replace("&", "").strip()) for text in found)
    seen["words"] |= {
        text
        for text in plain
        if text and len(text) < 120 and "<" not in text and str(FOLDER) not in text
    }


def shoot(name, *widgets):
    """A picture of the whole screen, or of the windows alone."""
    QApplication.processEvents()
    picture = QGuiApplication.primaryScreen().grabWindow(0)
    if widgets:
        around = QRect()
        for widget in widgets:
            around = around.united(widget.frameGeometry())
        picture = picture.copy(around)
    picture.save(str(FOLDER / "shots" / f"tutorial_{name}.png"))
    remember()


# what is pressed


def until(fine, what):
    """Wait until something has happened; a step of the session."""
    end = time.monotonic() + PATIENCE
    while not fine():
        if time.monotonic() > end:
            raise RuntimeError(f"waited in vain: {what}")
        yield 0.2


def soon(function):
    """Call what may not come back before a dialogue is closed."""
    QTimer.singleShot(0, function)


def dialogue(algorithm):
    """The open dialogue of an algorithm, or None."""
    for widget in QApplication.topLevelWidgets():
        made = widget.algorithm() if hasattr(widget, "algorithm") else None
        if widget.isVisible() and made is not None and made.name() == algorithm:
            return widget
    return None


def opened(algorithm, size):
    """Wait for the dialogue of an algorithm and put it where all of it can be seen."""
    yield from until(lambda: dialogue(algorithm) is not None, algorithm)
    made = dialogue(algorithm)
    made.resize(QSize(*size))
    made.move(QPoint(160, 30))
    seen["labels"][algorithm] = [
        one.description() for one in made.algorithm().parameterDefinitions()
    ]
    yield 1.0


def run(made):
    """Press Run, wait for the end, and remember what came out."""
    over = []
    made.algorithmFinished.connect(lambda fine, results: over.append((fine, results)))
    made.runButton().click()
    yield from until(lambda: over, "the end of the run")
    if not over[0][0]:
        raise RuntimeError("the run failed")
    yield 2.0
    return over[0][1]


def unfold(made, name):
    """Show the advanced parameters, and scroll to one of them."""
    for box in made.mainWidget().findChildren(QGroupBox):
        box.setProperty("collapsed", False)
    yield 0.5
    label = made.algorithm().parameterDefinition(name).description().replace(UNIT, "")
    shown = next(one for one in made.findChildren(QLabel) if one.text().startswith(label))
    area = made.mainWidget().findChild(QScrollArea)
    place = shown.mapTo(area.widget(), QPoint(0, 0)).y()
    area.verticalScrollBar().setValue(place - area.height() // 2)
    yield 0.5


def layer(name):
    """The layer of the project that reads a table of the sample or of the results."""
    for one in QgsProject.instance().mapLayers().values():
        if one.source().endswith(f"|layername={name}"):
            return one
    raise LookupError(name)


def dock(name):
    """A panel of the window, by the name that no language changes."""
    return iface.mainWindow().findChild(QDockWidget, name)


def menu():
    """The plugin's own menu."""
    return next(
        action.menu()
        for action in iface.pluginMenu().actions()
        if action.menu() is not None and action.text().replace("&", "") == "Curbwright"
    )


def unfolded_menu():
    """Plugins > Curbwright > All steps, as with the mouse."""
    bar = iface.mainWindow().menuBar()
    iface.pluginMenu().popup(
        bar.mapToGlobal(bar.actionGeometry(iface.pluginMenu().menuAction()).bottomLeft())
    )
    yield 0.5
    above = iface.pluginMenu()
    for inner in (menu(), steps()):
        place = above.mapToGlobal(above.actionGeometry(inner.menuAction()).topRight())
        above.setActiveAction(inner.menuAction())
        inner.popup(place)
        yield 0.5
        above = inner


def steps():
    return next(action.menu() for action in menu().actions() if action.menu() is not None)


def whole_map():
    """Show the whole port and wait for it."""
    iface.mapCanvas().setExtent(layer("basemap").extent().buffered(25.0))
    iface.mapCanvas().refresh()
    yield 0.5
    yield from until(lambda: not iface.mapCanvas().isDrawing(), "the map")


# the tutorial


def look():
    """Steps 1 and 2: the sample project and the menu."""
    QFileDialog.getExistingDirectory = staticmethod(lambda *_, **__: str(WORK))
    plugins["curbwright"].open_sample()
    yield 2.0
    dock("Browser").hide()
    iface.mainWindow().resizeDocks([dock("Layers")], [330], Qt.Orientation.Horizontal)
    yield from whole_map()
    yield 1.0
    shoot("project")
    yield from unfolded_menu()
    shoot("menu")
    for open_one in (steps(), menu(), iface.pluginMenu()):
        open_one.hide()
    yield 0.5


def process():
    """Step 2: the whole chain."""
    soon(steps().actions()[0].trigger)
    yield from opened("processcaptures", (900, 690))
    made = dialogue("processcaptures")
    made.setParameters(
        {
            "LAYERS": [layer(name).id() for name in CAPTURES],
            "MERGE_PASSES": True,
            "EXISTING": layer("basemap").id(),
            "EXISTING_SIGMA": 0.05,
            "TITLE": "Tern Ness",
            "FOLDER": str(RESULTS),
        }
    )
    yield 0.5
    shoot("process", made)
    yield from unfold(made, "EXISTING_SIGMA")
    shoot("advanced", made)
    yield from run(made)
    made.close()
    yield from until(lambda: dialogue("processcaptures") is None, "the end of the dialogue")
    yield from whole_map()


def offer():
    """The button in the message bar that offers the review, or None."""
    for one in iface.messageBar().findChildren(QPushButton):
        if one.isVisible() and one.text():
            return one
    return None


def review():
    """Steps 4: the review of what moved."""
    yield 6.0  # what the host says itself goes by then
    while offer() is None:
        iface.messageBar().popWidget()  # the warnings
        yield 1.0
    shoot("results")
    remember_comparison()
    dock("ResultsViewer").hide()
    offer().click()
    controller = plugins["curbwright"].panel()
    table = controller.panel.list.table
    yield from until(lambda: table.model() is not None and table.model().rowCount(), "the list")
    yield 3.0
    choose(table, 0)
    yield 3.0
    yield from until(lambda: not iface.mapCanvas().isDrawing(), "the map")
    shoot("review")
    for decision in ("accept", "accept", "hold"):
        controller.panel.commands[decision].trigger()  # and the list goes on to the next line
        yield 1.0
    controller.panel.commands["save"].trigger()
    yield 2.0


def remember_comparison():
    """The figures of the comparison that the tutorial names."""
    found = {
        (row["subject"], row["measure"]): row["value"]
        for row in layer("comparison_summary").getFeatures()
    }
    shift = found["shift", "east"], found["shift", "north"]
    seen["figures"].update(
        with_shift=int(found["existing", "displaced_with_shift"]),
        displaced=int(found["existing", "displaced_without_shift"]),
        shift=f"{math.hypot(*shift):.2f}",
        towards=f"{math.degrees(math.atan2(*shift)) % 360:.0f}°",
    )


def choose(table, row):
    """Choose a row of the list."""
    flags = QItemSelectionModel.SelectionFlag
    table.selectionModel().setCurrentIndex(
        table.model().index(row, 0), flags.ClearAndSelect | flags.Rows
    )


def update():
    """Step 5: the basemap brought up to date."""
    controller = plugins["curbwright"].panel()
    soon(controller.panel.commands["update"].trigger)
    yield from opened("updatebasemap", (900, 690))
    made = dialogue("updatebasemap")
    filled = made.createProcessingParameters()
    if filled["EXISTING"] != layer("basemap").id() or filled["EXISTING_SIGMA"] != 0.05:
        raise RuntimeError(f"not filled in as the tutorial says: {filled}")
    made.setParameters({**filled, "REPORT": str(REPORT)})
    yield 0.5
    shoot("update", made)
    results = yield from run(made)
    seen["figures"].update(
        {key: value for key, value in results.items() if isinstance(value, (int, float))}
    )
    made.close()
    yield 6.0
    iface.messageBar().clearWidgets()
    dock("ResultsViewer").hide()
    for name in ("Curbwright", "Captures"):
        QgsProject.instance().layerTreeRoot().findGroup(name).setItemVisibilityChecked(False)
    unfold_legends("Legacy basemap", "Curbwright")
    choose(controller.panel.list.table, 0)
    yield 2.0
    yield from until(lambda: not iface.mapCanvas().isDrawing(), "the map")
    yield 1.0
    shoot("updated")


def unfold_legends(shown, folded):
    """Show the symbols of one group of layers, and fold another."""
    root = QgsProject.instance().layerTreeRoot()
    root.findGroup(folded).setExpanded(False)
    for leaf in root.findGroup(shown).findLayers():
        leaf.setExpanded(True)


def go_back():
    """Step 7: nothing is run, but the dialogue is as the tutorial says."""
    soon(steps().actions()[-1].trigger)
    yield from opened("revisits", (900, 690))
    remember()
    dialogue("revisits").close()
    yield 1.0


def follow():
    """All of it."""
    window = iface.mainWindow()
    window.showMaximized()
    QCursor.setPos(5, 5)
    yield 2.0
    for part in (look, process, review, update, go_back):
        yield from part()


def main():
    QMessageBox.question = staticmethod(lambda *_, **__: QMessageBox.StandardButton.Yes)
    session = follow()

    def end():
        seen["report"] = str(RESULTS / "report.html")
        text = json.dumps({**seen, "words": sorted(seen["words"])})
        (FOLDER / "seen.json").write_text(text, encoding="utf-8")
        QgsProject.instance().setDirty(False)
        QCoreApplication.exit(0)

    def step():
        try:
            pause = next(session)
        except StopIteration:
            end()
        except BaseException:
            seen["failed"] = traceback.format_exc()
            end()
        else:
            QTimer.singleShot(int(1000 * pause), step)

    step()


QTimer.singleShot(4000, main)
