"""The update of the basemap as the panel knows it: its dialogue, and what it changed."""

import json

from qgis.core import Qgis, QgsGeometry, QgsProcessingFeedback, QgsVectorLayer
from qgis.PyQt.QtCore import QObject

from ...algorithms.review import layers as parts
from ...algorithms.review.repairing import run_settings
from ...algorithms.writing.styles import AS_COMPARED
from ..open_dialogue import open_dialogue
from . import tasks
from .changes_view import ChangesView, read_changes
from .choose_layers import guesses, shown_order
from .words import tr

MOST_SHOWN = 3000  # changes shown on the map at once
# of the comparison that was looked at: its update must judge alike
SHARED = "MAX_OFFSET", "EXISTING_SIGMA", "CONFIDENCE", "REMOVE_SHIFT", "AREA", "REACH"


class Updating(QObject):
    """Opens “Update existing linework” and shows what one changed, on the last page of the panel.

    Parameters
    ----------
    controller : ReviewController
    """

    def __init__(self, controller):
        super().__init__(controller)
        self.controller, self.panel = controller, controller.panel
        self.session, self.map = controller.session, controller.map
        self.view = ChangesView(self.panel.commands["update"], self.panel)
        self._reading = None  # work under way
        self.panel.tabs.addTab(self.view, tr("Update"))
        self.view.chosen.connect(self.show)
        self.view.faded.connect(self.map.fade)
        self.panel.tabs.currentChanged.connect(lambda place: self.show(self.view.change()))

    # the dialogue

    def parameters(self):
        """What “Update existing linework” is filled in with."""
        lines, status = self.session.layer(parts.LINES), self.session.layer(parts.EXISTING)
        run = self._run_parameters()
        filled = {name: run[name] for name in SHARED if run.get(name)}
        if lines is not None:
            filled["EDGES"] = lines.id()
        if status is None:
            return filled
        existing = [
            layer.id()
            for layer in self.session.project.mapLayers().values()
            if isinstance(layer, QgsVectorLayer)
            and {layer.source(), layer.id()} & {run.get("EXISTING"), run.get("EXISTING_SOURCE")}
        ]
        if not existing:
            return {**filled, "EXISTING": status.id()}
        # the layer itself: its fields stay, and what was decided on its status counts all the same
        return {**filled, "EXISTING": existing[0], "DECISIONS": status.id()}

    def _run_parameters(self):
        """Parameters of the run that made the results, as their log names them, or as a single
        comparison noted them on its layers."""
        log = self.session.snapshots().get(parts.RUN_LOG)
        if log is not None:
            return run_settings(log, QgsProcessingFeedback())[0]
        lines = self.session.layer(parts.LINES)
        noted = lines.customProperty(AS_COMPARED) if lines is not None else None
        return json.loads(noted) if noted else {}

    def begin(self):
        """Open “Update existing linework” with the reviewed layers filled in."""
        if self.session.unsaved():
            self.panel.messages.pushMessage(
                "",
                tr("Decisions that are not saved yet are taken into account all the same."),
                Qgis.MessageLevel.Info,
                6,
            )
        canvas = self.controller.iface.mapCanvas()
        open_dialogue("curbwright:updatebasemap", self.parameters(), canvas)

    # what it changed

    def read(self):
        """Read what an update changed, where there is one."""
        self._drop()
        given = self.session.snapshots()
        if parts.CHANGES not in given:
            found = guesses(shown_order(self.session.project))
            for part in (parts.CHANGES, parts.UPDATED):
                if part in found:
                    given[part] = parts.snapshot(
                        found[part], self.session.project.transformContext()
                    )
        if parts.CHANGES not in given:
            self.view.set_changes([])
            return
        changes, updated = given[parts.CHANGES], given.get(parts.UPDATED)
        self._reading = tasks.start(
            tr("Review: reading the changes"),
            lambda feedback: read_changes(changes, updated, feedback),
            self.view.set_changes,
            self.controller.say_problem,
        )

    def forget(self):
        """Leave what was read, and what is being read."""
        self._drop()
        self.view.set_changes([])

    def _drop(self):
        if self._reading is not None:
            self._reading.drop()
            self._reading = None

    def show(self, change):
        """Show a change, or all, before and after, as long as that page is open."""
        if self.panel.tabs.currentWidget() is not self.view:
            self.map.show_change(None, [], [], 1.0)
            return
        layer = self.session.layer(parts.CHANGES) or self.session.layer(parts.LINES)
        some = self.view.model.rows[:MOST_SHOWN] if change is None else [change]
        share = self.view.slider.value() / self.view.slider.maximum()
        self.map.show_change(
            layer,
            [one.before for one in some if not one.before.isNull()],
            [one.after for one in some if not one.after.isNull()],
            share,
        )
        if change is not None and layer is not None:
            whole = [one for one in (change.before, change.after) if not one.isNull()]
            if whole:
                self.map.go_to(layer, QgsGeometry.collectGeometry(whole))
