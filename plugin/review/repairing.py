"""Repairs of the chosen walk: written to the layer `repairs`, tried at once, shown on map and
plot."""

import os
from dataclasses import dataclass
from functools import partial

import numpy as np
from qgis.core import Qgis, QgsFeature, QgsGeometry, QgsPoint, QgsPointXY, QgsVectorLayer
from qgis.PyQt.QtCore import QDateTime, QObject, Qt, QTimer

from ...algorithms.host.fields import spelling
from ...algorithms.reading.layer_stream import file_behind
from ...algorithms.review import layers as parts
from ...algorithms.review.reading import EDGE
from ...algorithms.review.repairing import (
    Walk,
    read_capture_layer,
    refit,
    rows_of,
    run_settings,
)
from ...algorithms.writing.decisions import who_decides
from . import tasks
from .repairs_bar import RepairsBar, RepairsList, titles, wanted_repair
from .words import tr

SETTLE = 50  # ms in which several changes of the repairs are taken as one


@dataclass(frozen=True)
class Subject:
    """What is repaired: the row of the review, and the walk."""

    row: int
    walk: Walk


class Repairing(QObject):
    """Repairs of one walk after the other.

    The capture layer is read once and kept as long as the review is open. What is changed in the
    layer of repairs, here or elsewhere, by undo too, has the capture fitted anew.
    """

    def __init__(self, controller):
        super().__init__(controller)
        self.controller, self.panel = controller, controller.panel
        self.session, self.map = controller.session, controller.map
        self.bar, self.list = RepairsBar(self.panel), RepairsList(self.panel)
        self.subject = self.refitted = None
        self._captures = {}  # read already, by name
        self._work, self._followed = None, None
        self._settle = QTimer(self)
        self._settle.setSingleShot(True)
        self._settle.setInterval(SETTLE)
        self._settle.timeout.connect(self._fit)
        self.bar.switched.connect(self._switched)
        self.bar.walks.currentIndexChanged.connect(lambda place: self._begin())
        self.bar.asked.connect(self.ask)
        self.list.removed.connect(self.remove)

    # on and off

    @property
    def is_on(self):
        return self.bar.switch.isChecked()

    @property
    def shows_evidence(self):
        """The evidence comes of fitting a walk anew: it is fitted, or will be."""
        return self.is_on and (self.refitted is not None or self._work is not None)

    def forget(self):
        """Leave repairing, and let go of what was read."""
        self.end()
        self._captures = {}

    def renew(self):
        """The review was read anew: so are the capture layers, and how the run read them."""
        self._stop()
        self._captures, self.subject, self.refitted = {}, None, None

    def end(self):
        """Switch repairing off."""
        if self.is_on:
            self.bar.switch.setChecked(False)
        self._stop()
        self._unfollow()
        self.subject = self.refitted = None

    def _stop(self):
        self._settle.stop()
        if self._work is not None:
            self._work.drop()
            self._work = None

    def _switched(self, is_on):
        if is_on:
            self.controller.read_evidence()
            return
        self._stop()
        self.subject = self.refitted = None
        self.bar.set_on(False)
        self.map.show_refit(None, [])
        self.list.show_rows([], [], {})
        self.controller.read_evidence()

    def take(self, row):
        """Repair the line of a row of the review; says why where it cannot be repaired.

        Returns
        -------
        bool
            It is being repaired.
        """
        self._stop()
        self.subject = self.refitted = None
        self.map.show_refit(None, [])
        review = self.session.review
        if review is None or row < 0 or review.what[row] != EDGE:
            self._refuse(tr("Choose an edge: there is nothing to repair in this line."))
            return False
        walks = [
            (f"{walk.capture or walk.layer}, {ident}", walk)
            for ident, walk in (
                (ident, Walk(*review.walks[ident]))
                for ident in review.sources[row]
                if ident in review.walks
            )
        ]
        if not walks or self.session.layer(parts.RUN_LOG) is None:
            self._refuse(
                tr("Only edges that “Process captures of a project” made can be repaired: its"
                   " folder of results says how. Run it, then open that folder here.")
            )  # fmt: skip
            return False
        self.bar.set_walks(walks)
        self.bar.set_on(True)
        self._begin()
        return self.subject is not None

    def _refuse(self, why):
        self.bar.set_walks([])
        self.bar.set_on(True)
        self.bar.show_tools(False)
        self.bar.say.setText(why)

    def _begin(self):
        walk = self.bar.walks.currentData()
        if walk is None or not self.is_on:
            return
        self._stop()
        self.refitted = None  # what is asked for meanwhile must not name epochs of another walk
        self.subject = Subject(self.panel.list.row(), walk)
        shown = self.panel.plot.evidence
        if shown is not None and shown.row != self.subject.row:
            self.panel.show_evidence(None)  # nobody must decide by the evidence of another line
        self._follow()
        if walk.layer in self._captures:
            self._fit()
            return
        self.bar.say.setText(tr("Reading the epochs of “{}”…").format(walk.layer))
        log = self.session.snapshots()[parts.RUN_LOG]
        self._work = tasks.start(
            tr("Review: how the edges were made"),
            partial(run_settings, log),
            self._read,
            self._failed,
        )

    def _read(self, found):
        """The log is read: read the capture layer."""
        self._work = None
        parameters, sources = found
        name = self.subject.walk.layer
        layer = self._capture_layer(name, sources.get(name, ""))
        if layer is None:
            self._failed(
                tr("The capture layer “{}” is not there: {}. Load it into the project.").format(
                    name, sources.get(name) or tr("the log names no such layer")
                )
            )
            return
        source = parts.snapshot(layer, self.session.project.transformContext())
        file = file_behind(layer, layer)
        self._work = tasks.start(
            tr("Review: reading the epochs of a capture layer"),
            lambda feedback: read_capture_layer(name, source, file, parameters, feedback),
            self._have,
            self._failed,
        )

    def _capture_layer(self, name, source):
        """The capture layer: one of the project, or the file that the log names."""
        layers = [
            layer
            for layer in self.session.project.mapLayers().values()
            if isinstance(layer, QgsVectorLayer)
        ]
        of_source = [layer for layer in layers if source and layer.source() == source]
        for layer in (*of_source, *(layer for layer in layers if layer.name() == name)):
            return layer
        if source and not os.path.isabs(source) and self.session.path:
            beside = os.path.join(os.path.dirname(self.session.path), source)
            source = beside if os.path.exists(beside.split("|")[0]) else source
        layer = QgsVectorLayer(source, name, "ogr") if source else None
        return layer if layer is not None and layer.isValid() else None

    def _have(self, captures):
        self._work = None
        self._captures[captures.name] = captures
        self._fit()

    def _failed(self, text):
        self._work = self.refitted = None
        self.bar.show_tools(False)
        self.bar.say.setText(text)
        self.session.look_at(self.panel.list.row())  # what was written is to be seen all the same

    # the layer of repairs

    def layer(self):
        """Layer of repairs; None where the results have none (any more)."""
        return self.session.layer(parts.REPAIRS)

    def _follow(self):
        """See every change of the layer of repairs, whoever makes it."""
        layer = self.layer()
        if layer is None or self._followed == layer.id():
            return
        self._unfollow()
        for signal in (layer.featureAdded, layer.featureDeleted, layer.attributeValueChanged,
                       layer.afterRollBack, layer.dataSourceChanged):  # fmt: skip
            signal.connect(self._later)
        self._followed = layer.id()

    def _unfollow(self):
        layer = self.layer()
        if layer is not None and self._followed == layer.id():
            for signal in (layer.featureAdded, layer.featureDeleted, layer.attributeValueChanged,
                           layer.afterRollBack, layer.dataSourceChanged):  # fmt: skip
                signal.disconnect(self._later)
        self._followed = None

    def _later(self, *values):
        if self.is_on and self.subject is not None:
            self._settle.start()

    # fitting anew

    def _fit(self):
        given = self._captures.get(self.subject.walk.layer) if self.subject is not None else None
        snapshots = self.session.snapshots()
        if given is None or parts.LINES not in snapshots:
            return
        if self._work is not None:
            self._work.drop()
        subject, line, layer = self.subject, snapshots[parts.LINES], self.layer()
        rows, ids = rows_of(layer, given.name) if layer is not None else ([], [])
        name = subject.walk.capture or subject.walk.layer
        self.bar.say.setText(tr("Fitting “{}” anew…").format(name))
        self._work = tasks.start(
            tr("Review: fitting a capture anew"),
            lambda feedback: refit(given, subject.walk, rows, subject.row, line, feedback),
            lambda result: self._fitted(subject, rows, ids, result),
            self._failed,
        )

    def _fitted(self, subject, rows, ids, result):
        self._work = None
        if subject is not self.subject or not self.is_on:
            return
        self.refitted = result
        self.bar.show_tools(True)
        self.list.show_rows(rows, ids, {place: (state, why) for place, state, why in result.said})
        place, view = self.panel.plot.epoch, self.panel.plot.view
        former = self.panel.plot.evidence
        self.panel.show_evidence(
            result.evidence, tr("Nothing is left of this walk with these repairs; undo the last.")
        )
        self.map.set_evidence(result.evidence)
        if former is not None and result.evidence is not None and former.row == subject.row:
            if view != (0.0, former.axis.length):  # else the whole line stays in sight
                self.panel.plot.show_stretch(*view)
            if place >= 0:
                self.panel.plot.choose_epoch(min(place, len(result.evidence.epochs) - 1))
        line = self.session.layer(parts.LINES)
        self.map.show_refit(
            line,
            [
                QgsGeometry.fromPolylineXY([QgsPointXY(x, y) for x, y in points.tolist()])
                for points in result.lines
                if np.isfinite(points).all()
            ],
        )
        self._say(result)

    def _say(self, result):
        number = len(result.said)
        if not number:
            sigma = tr("{:.1f} mm").format(1000 * result.sigma)
            self.bar.say.setText(tr("As it was fitted. Sigma across {}.").format(sigma))
            return
        idle = sum(state != "applied" for _, state, _ in result.said)
        text = tr("Repairs of this capture: {}. Sigma across {:.1f} mm.").format(
            number, 1000 * result.sigma
        )
        if idle:
            text += " " + tr("{} without effect: see the list.").format(idle)
        self.bar.say.setText(text)

    # asking for repairs

    def ask(self, kind, element):
        """Repair the chosen epoch or stretch.

        Parameters
        ----------
        kind : str
            One of `repairs.KINDS`.
        element : str
            Of a stretch.
        """
        if self.refitted is None or self.refitted.evidence is None:
            return
        times, why = wanted_repair(kind, self.panel.plot, self.refitted.gaps)
        if times is None:
            self.bar.say.setText(why)
            return
        layer = self._open_layer()
        if layer is None:
            return
        title = tr("Repair: {}").format(titles()[element or kind])
        layer.beginEditCommand(title)
        if layer.addFeature(self._feature(layer, kind, element, times)):
            layer.endEditCommand()
            self.session.steps.add([layer])
        else:
            layer.destroyEditCommand()
            self.controller.say_problem(
                tr("Layer “{}” refused the repair; it is as it was.").format(layer.name())
            )

    def _open_layer(self):
        """The layer of repairs, in the project and open for editing; None where that cannot be."""
        layer = self.layer()
        if layer is None:
            self.controller.say_problem(
                tr("These results hold no layer of repairs. Process the captures again with this"
                   " version, then repair.")
            )  # fmt: skip
            return None
        if parts.REPAIRS in self.session.own:  # the host's undo and save need it in the project
            self._unfollow()
            self.session.adopt(parts.REPAIRS)
            self._follow()
        if not layer.isEditable() and not layer.startEditing():
            self.controller.say_problem(
                tr("Layer “{}” does not open for editing.").format(layer.name())
            )
            return None
        return layer

    def _feature(self, layer, kind, element, times):
        feature = QgsFeature(layer.fields())
        walk, plot = self.subject.walk, self.panel.plot
        values = {
            "layer": walk.layer,
            "capture": walk.capture,
            "kind": kind,
            "value": element or None,
            "time": times[0],
            "until": times[1],
            "decided_by": who_decides(),
            "decided_at": QDateTime.currentDateTimeUtc().toString(Qt.DateFormat.ISODate),
            "remark": self.panel.remark.text().strip() or None
            if self.panel.remark.isModified()
            else None,
        }
        for name, value in values.items():
            own = spelling(layer.fields(), name)
            if own and value is not None:
                feature.setAttribute(own, value)
        if plot.epoch >= 0 and kind != "element":
            row = int(plot.evidence.epochs.rows[plot.epoch])
            table = plot.evidence.table
            height = float(plot.evidence.epochs.height[plot.epoch])
            point = QgsGeometry(QgsPoint(float(table.x[row]), float(table.y[row]), height))
            point.convertToMultiType()
            feature.setGeometry(point)
        return feature

    def remove(self, fid):
        """Take a repair out again, as a step that can be undone."""
        layer = self._open_layer()
        if layer is None:
            return
        layer.beginEditCommand(tr("Repair removed"))
        if layer.deleteFeature(fid):
            layer.endEditCommand()
            self.session.steps.add([layer])
        else:
            layer.destroyEditCommand()

    def say_saved(self):
        """Say what comes next, once repairs are saved."""
        self.panel.messages.pushMessage(
            "",
            tr("Repairs are saved. The next run of the captures carries them out."),
            Qgis.MessageLevel.Success,
            6,
        )
