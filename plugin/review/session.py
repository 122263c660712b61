"""One review: its layers, what was read of them, and the decisions that are written back."""

from functools import partial
from pathlib import Path

from qgis.core import (
    QgsProcessingException,
    QgsProject,
    QgsProviderRegistry,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QCoreApplication, QObject, QTimer, pyqtSignal

from ...algorithms.batch.loading import places, shown_layers
from ...algorithms.batch.result_folder import GEOPACKAGE
from ...algorithms.batch.titles import title_of
from ...algorithms.review import layers as parts
from ...algorithms.review.line_evidence import read_evidence
from ...algorithms.review.reading import EDGE, OLD, read_review
from ...algorithms.writing import decisions, layer_tree
from . import tasks
from .steps import Steps
from .words import decided, tr

SETTLE = 300  # ms in which several changes of a layer are taken as one


class Session(QObject):
    """Follows the layers of a review, whatever is done to them elsewhere.

    Layers are known by their ids, so that a new name does no harm. One that is removed leaves the
    list as it is; nothing can be decided on its lines until it is loaded again.

    Signals
    -------
    opened : object
        Review.
    failed : str
    changed : list
        Rows of the review whose decision or presence changed.
    evidence_read : object
    saved
        A layer of decisions or repairs, by whomever.
        LineEvidence, or None.
    layers_changed
    """

    opened = pyqtSignal(object)
    failed = pyqtSignal(str)
    changed = pyqtSignal(list)
    evidence_read = pyqtSignal(object)
    saved = pyqtSignal()
    layers_changed = pyqtSignal()
    busy = pyqtSignal(bool)

    def __init__(self, project=None, parent=None):
        super().__init__(parent)
        self.project = project or QgsProject.instance()
        self.review, self.path = None, ""
        self.ids = {}  # of layers of the project, by part
        self.own = {}  # layers that only the review has open, by part
        self.sources = {}  # by part: source and name, to load a layer again
        self.lost = set()  # rows whose feature was deleted
        self.steps = Steps(self.project)
        self._row_of, self._work, self._looking, self._writing = {}, None, None, False
        self._connected, self._fresh = [], False
        self._renewal = QTimer(self)
        self._renewal.setSingleShot(True)
        self._renewal.setInterval(SETTLE)
        self._renewal.timeout.connect(self.renew)
        self.project.layersWillBeRemoved.connect(self._removed)

    # layers

    def layer(self, part):
        """The layer that plays a part, None where there is none (any more)."""
        if part in self.own:
            return self.own[part]
        return self.project.mapLayer(self.ids.get(part, ""))

    def open_folder(self, folder):
        """Review the results in a folder, or in a GeoPackage.

        Raises
        ------
        QgsProcessingException
            If there are none; the text says where they were looked for.
        """
        path = Path(folder)
        path = path if path.suffix.lower() == ".gpkg" else path / GEOPACKAGE
        if not path.is_file():
            raise QgsProcessingException(
                tr("“{}” is not there. Choose a folder that “{}” wrote its results to.").format(
                    path, tr("Process captures of a project")
                )
            )
        names = _tables(path)
        found = {
            part: next((name for name in some if name in names), None)
            for part, some in parts.OF_FOLDER.items()
        }
        if found[parts.LINES] is None:
            raise QgsProcessingException(
                tr("“{}” holds no edges to review. It holds: {}.").format(
                    path, ", ".join(sorted(names)) or tr("nothing")
                )
            )
        self.forget()
        self.path = str(path)
        shown = shown_layers(self.project, str(path))
        stands = places([name for name in found.values() if name])
        for part, name in found.items():
            if name is None:
                continue
            if name in shown:
                self.ids[part] = shown[name][0].id()
                continue
            layer = QgsVectorLayer(f"{path}|layername={name}", _title(name), "ogr")
            if not layer.isValid():
                continue  # a table that this host cannot read takes no part
            if part in parts.DECIDED:
                self.ids[part] = self.project.addMapLayer(layer).id()
                if name in stands:
                    layer_tree.put(self.project, layer, stands[name])
            else:
                self.own[part] = layer
        self._begin()

    def open_layers(self, chosen):
        """Review layers of the project.

        Parameters
        ----------
        chosen : dict of str to QgsVectorLayer
            By part.
        """
        self.forget()
        self.ids = {part: layer.id() for part, layer in chosen.items() if layer is not None}
        self._begin()

    def _begin(self):
        for part in (*self.ids, *self.own):
            self._remember(part)
        self._follow()
        self.layers_changed.emit()
        self.renew()

    def _remember(self, part):
        """Where a layer is to be loaded from, should it be removed."""
        layer = self.layer(part)
        self.sources[part] = (layer.source(), layer.name(), layer.providerType())

    def _moved_elsewhere(self, part):
        """The data of a layer stand elsewhere now, as after *Make Permanent*."""
        self._remember(part)
        self._renewal.start()

    def forget(self):
        """Leave the review: stop what runs, let go of all layers."""
        self._renewal.stop()
        for work in (self._work, self._looking):
            if work is not None:
                work.drop()
        self._work = self._looking = None
        self._unfollow()
        self.ids, self.own, self.sources, self.path = {}, {}, {}, ""
        self.review, self._row_of, self.lost = None, {}, set()
        self.steps.forget()

    def close(self):
        """End for good."""
        self.forget()
        self.project.layersWillBeRemoved.disconnect(self._removed)

    def adopt(self, part):
        """Put a layer that only the review has open into the project, switched off."""
        layer = self.own.pop(part)
        # decisions may have opened the file for writing since, of which this connection is not told
        layer.dataProvider().reloadData()
        self.ids[part] = layer.id()
        self.project.addMapLayer(layer, False)
        stands = places([Path(self.path).stem, part])
        if part in stands:
            layer_tree.add(self.project.layerTreeRoot(), layer, stands[part])
            layer_tree.count_when_calm(self.project, layer.id())
        else:
            self.project.layerTreeRoot().addLayer(layer)
        self._hear(layer, layer.afterCommitChanges, partial(self._committed, part))
        return layer

    def missing(self):
        """Parts that people decide on whose layer was removed."""
        return [part for part in parts.DECIDED if part in self.sources and self.layer(part) is None]

    def loadable(self, some):
        """Those of some parts that are stored; a temporary layer is gone for good."""
        return [part for part in some if self.sources[part][2] != "memory"]

    def load_again(self):
        """Load layers that were removed from the project."""
        problems = []
        for part in self.loadable(self.missing()):
            source, name, provider = self.sources[part]
            layer = QgsVectorLayer(source, name, provider)
            if not layer.isValid():
                problems.append(tr("“{}” cannot be loaded again from {}.").format(name, source))
                continue
            self.ids[part] = self.project.addMapLayer(layer).id()
        self._follow()
        self.layers_changed.emit()
        for problem in problems:  # after what is said of layers that are still missing
            self.failed.emit(problem)
        self.renew()

    # following the layers

    def _follow(self):
        self._unfollow()
        for part in parts.DECIDED:
            layer = self.layer(part)
            if layer is None:
                continue
            for signal, slot in (
                (layer.attributeValueChanged, partial(self._value_changed, part)),
                (layer.featureDeleted, partial(self._deleted, part)),
                (layer.featureAdded, partial(self._added, part)),
                (layer.geometryChanged, partial(self._moved, part)),
                (layer.afterRollBack, self._renewal.start),
                (layer.dataSourceChanged, partial(self._moved_elsewhere, part)),
                (layer.afterCommitChanges, partial(self._committed, part)),
            ):
                self._hear(layer, signal, slot)

    def _hear(self, layer, signal, slot):
        """Connect a signal of a layer, until the review lets go of it."""
        signal.connect(slot)
        self._connected.append((layer.id(), signal, slot))

    def _unfollow(self):
        for ident, signal, slot in self._connected:
            if self.project.mapLayer(ident) is None:
                continue  # it is gone, and its connections with it
            signal.disconnect(slot)
        self._connected = []

    def _removed(self, layers):
        # the host has two signals of that name, with ids and with layers
        gone_ids = {one if isinstance(one, str) else one.id() for one in layers}
        gone = [part for part, ident in self.ids.items() if ident in gone_ids]
        if not gone:
            return
        kept = []
        for ident, signal, slot in self._connected:
            if ident in gone_ids:
                signal.disconnect(slot)
            else:
                kept.append((ident, signal, slot))
        self._connected = kept
        for part in gone:
            self.ids.pop(part)
        self.steps.forget(gone_ids)
        self.layers_changed.emit()

    def _row(self, part, fid):
        return self._row_of.get((part, fid), -1)

    def _value_changed(self, part, fid, place, value):
        row, layer = self._row(part, fid), self.layer(part)
        if row < 0 or self._writing or layer is None:
            return
        name = layer.fields().at(place).name().lower()
        text = "" if not isinstance(value, str) else value
        if name == decisions.REVIEW[0]:
            self.review.decision[row] = text
        elif name == decisions.REVIEW[1]:
            self.review.remark[row] = text
        else:
            return
        self.changed.emit([row])

    def _deleted(self, part, fid):
        row = self._row(part, fid)
        if row >= 0:
            self.lost.add(row)
            self.changed.emit([row])

    def _added(self, part, fid):
        row = self._row(part, fid)
        if row >= 0:  # a deletion was undone
            self.lost.discard(row)
            self.changed.emit([row])
        else:
            self._fresh = True

    def _moved(self, part, fid, geometry):
        if self._row(part, fid) >= 0:
            self._fresh = True

    def _committed(self, part):
        """After saving: nothing is left to undo, and lines that were added have their ids."""
        self.steps.forget({self.ids.get(part)})
        self.saved.emit()
        if self._fresh:
            self._fresh = False
            self._renewal.start()

    # reading

    def snapshots(self):
        """Layers of the review as they stand, by part."""
        transforms = self.project.transformContext()
        return {
            part: parts.snapshot(self.layer(part), transforms)
            for part in (*self.ids, *self.own)
            if self.layer(part) is not None
        }

    def renew(self):
        """Read the list anew."""
        given = self.snapshots()
        if parts.LINES not in given:
            return
        if self._work is not None:
            self._work.drop()
        for layer in self.own.values():
            layer.dataProvider().reloadData()  # a run may have written the file anew
        self.busy.emit(True)
        self._work = tasks.start(
            tr("Review: reading the list"), partial(read_review, given), self._read, self._not_read
        )

    def _read(self, review):
        self._work = None
        self.busy.emit(False)
        self.review, self.lost = review, set()
        of = {EDGE: parts.LINES, OLD: parts.EXISTING}
        self._row_of = {
            (of[what], fid): row
            for row, (what, fid) in enumerate(zip(review.what.tolist(), review.fid.tolist()))
            if what in of
        }
        self.opened.emit(review)

    def _not_read(self, text):
        self._work = None
        self.busy.emit(False)
        self.failed.emit(text)

    def look_at(self, row):
        """Read the evidence behind a row; `evidence_read` tells when it is there."""
        if self._looking is not None:
            self._looking.drop()
            self._looking = None
        given = self.snapshots()
        if self.review is None or parts.LINES not in given:
            self.evidence_read.emit(None)
            return
        review = self.review
        self._looking = tasks.start(
            tr("Review: reading the evidence"),
            lambda feedback: read_evidence(given, review, row, feedback),
            self._seen,
            self._not_seen,
        )

    def _seen(self, evidence):
        self._looking = None
        self.evidence_read.emit(evidence)

    def _not_seen(self, text):
        self._looking = None
        self.failed.emit(text)

    def feature(self, row):
        """Layer and feature of a row; None and None where there is none."""
        if self.review is None or row in self.lost:
            return None, None
        part = {EDGE: parts.LINES, OLD: parts.EXISTING}.get(int(self.review.what[row]))
        layer = self.layer(part) if part else None
        if layer is None:
            return None, None
        feature = layer.getFeature(int(self.review.fid[row]))
        return (layer, feature) if feature.isValid() else (None, None)

    def row_of(self, layer, fid):
        """Row of a feature, -1 where it is not in the list."""
        for part in parts.DECIDED:
            if self.ids.get(part) == layer.id():
                return self._row(part, fid)
        return -1

    # deciding

    def lines_of(self, rows):
        """Rows of lines: those given, and for a day all its lines."""
        out = {}
        for row in rows:
            for one in self.review.members.get(row, (row,)):
                if int(one) not in self.lost:
                    out[int(one)] = None
        return list(out)

    def decide(self, rows, decision, remark=None):
        """Decide on lines, as one undo step a layer; nothing is saved.

        Parameters
        ----------
        rows : sequence of int
            Of the review; a day stands for all its lines.
        decision : str or None
            `accept`, `hold`, `reject`, empty to take a decision back; None leaves it.
        remark : str, optional
            None leaves the one that is there.

        Returns
        -------
        list of int
            Rows of the lines decided on.

        Raises
        ------
        QgsProcessingException
            If a layer does not take it; what other layers took stays.
        """
        lines = self.lines_of(rows)
        step, done = [], []
        try:
            for what, part in ((EDGE, parts.LINES), (OLD, parts.EXISTING)):
                some = [row for row in lines if self.review.what[row] == what]
                if some:
                    self._decide_in(part, some, decision, remark)
                    step.append(self.layer(part))
                    done += some
        finally:
            if step:
                self.steps.add(step)
                self.changed.emit(done)
        return done

    def _decide_in(self, part, rows, decision, remark):
        layer = self.layer(part)
        said = {
            row: (
                self.review.decision[row] if decision is None else decision,
                self.review.remark[row] if remark is None else remark,
            )
            for row in rows
        }
        title = tr("Remark") if decision is None else decided(decision)
        if len(rows) > 1:
            title = tr("{} ({} lines)").format(title, len(rows))
        self._writing = True  # each value would be told one by one
        try:
            decisions.decide(
                layer, {int(self.review.fid[row]): pair for row, pair in said.items()}, title
            )
        finally:
            self._writing = False
        for row, (word, text) in said.items():
            self.review.decision[row], self.review.remark[row] = word, text

    def unsaved(self):
        """Layers of decisions that hold changes which are not saved."""
        layers = [self.layer(part) for part in (*parts.DECIDED, parts.REPAIRS)]
        return [layer for layer in layers if layer is not None and layer.isModified()]

    def edited(self):
        """Layers of lines with unsaved edits beside decisions: saving saves these as well."""
        layers = [self.layer(part) for part in parts.DECIDED]
        return [layer for layer in layers if layer is not None and decisions.edited(layer)]

    def save(self):
        """Save the decisions and end editing; returns sentences on what could not be saved.

        A layer is saved as a whole, with other edits of it (see `edited`).
        """
        problems = []
        for layer in self.unsaved():
            if not layer.commitChanges():
                problems.append(
                    tr("“{}” could not be saved: {}.").format(
                        layer.name(), "; ".join(layer.commitErrors())
                    )
                )
        return problems


def _tables(path):
    """Names of the layers and tables of a file."""
    found = QgsProviderRegistry.instance().querySublayers(str(path))
    return {one.name() for one in found}


def _title(name):
    """What a run calls a layer of its results."""
    return title_of(name, partial(QCoreApplication.translate, "Algorithm"))
