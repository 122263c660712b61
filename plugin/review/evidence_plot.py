"""The plot of the evidence of one line: what pointer, wheel and keys do with the drawing."""

import numpy as np
from qgis.PyQt.QtCore import QPointF, QRectF, QSize, Qt, pyqtSignal
from qgis.PyQt.QtGui import QColor, QPainter, QPalette, QPen, QPixmap
from qgis.PyQt.QtWidgets import QSizePolicy, QToolTip, QWidget

from . import marks
from .evidence_drawing import ACROSS, HEIGHT, MARK, OFFSET, EvidenceDrawing
from .words import metres, tr

NEAR = 10  # pixels within which an epoch is pointed at
ZOOM = 1.25  # a step of the wheel


class EvidencePlot(QWidget):
    """Draws a `LineEvidence`; wheel and drag change the stretch that is shown, arrow keys go from
    epoch to epoch.

    Signals
    -------
    pointed : float
        Chainage under the pointer; NaN where it left.
    chosen : int
        Row of the epoch table that was clicked, -1 for none.
    spanned : float, float
        Stretch that was marked with the right button or Shift and the left one.
    """

    pointed = pyqtSignal(float)
    chosen = pyqtSignal(int)
    spanned = pyqtSignal(float, float)

    def __init__(self, parent=None):
        super().__init__(parent)
        self.evidence = None
        self.view = (0.0, 1.0)  # chainage shown
        self.cursor = np.nan  # chainage pointed at, here or on the map
        self.epoch = -1  # place in `evidence.epochs` of the chosen one
        self.span = None
        self._picture = self._drag = self._spanning = self._anchor = None
        self.note = ""
        self.setMouseTracking(True)
        self.setFocusPolicy(Qt.FocusPolicy.StrongFocus)
        self.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Expanding)
        self.setMinimumSize(220, 150)
        self.setAccessibleName(tr("Evidence against chainage"))

    def sizeHint(self):
        return QSize(420, 300)

    # what is shown

    def set_evidence(self, evidence, note=""):
        """Show the evidence of another line, or nothing but a note."""
        self.evidence, self.note = evidence, note
        self.epoch, self.span, self.cursor = -1, None, np.nan
        self._drag = self._spanning = self._anchor = None  # it may come while a button is down
        self.view = (0.0, evidence.axis.length) if evidence is not None else (0.0, 1.0)
        self.renew()

    def renew(self):
        """Draw all anew."""
        self._picture = None
        self.update()

    def set_cursor(self, chainage):
        """Mark a place that was pointed at elsewhere; NaN for none."""
        self.cursor = chainage
        self.update()

    def choose_epoch(self, place):
        """Choose an epoch by its place in `evidence.epochs`."""
        self.epoch = place
        if self.evidence is not None and 0 <= place < len(self.evidence.epochs):
            self.cursor = float(self.evidence.epochs.chainage[place])
            self._bring_in(self.cursor)
            self.pointed.emit(self.cursor)
        self.update()

    def show_stretch(self, low, high):
        """Show a stretch of chainage."""
        length = self.evidence.axis.length if self.evidence is not None else 1.0
        width = min(max(high - low, min(0.5, length)), length)
        low = min(max(low, 0.0), length - width)
        self.view = (low, low + width)
        self.renew()

    def _bring_in(self, chainage):
        low, high = self.view
        if not low <= chainage <= high:
            half = (high - low) / 2
            self.show_stretch(chainage - half, chainage + half)

    # where things stand

    @property
    def drawing(self):
        """What is shown, as it is drawn."""
        return EvidenceDrawing(self.evidence, self.view, self.note)

    def strips(self):
        """Strips of the widget, one above the other."""
        return self.drawing.strips(self.rect(), self.fontMetrics())

    def chainage_at(self, x):
        """Chainage at a pixel of the widget, NaN where there is no plot."""
        strips = self.strips()
        if not strips:
            return np.nan
        low, high = self.view
        box = strips[0].box
        share = (x - box.left()) / max(box.width(), 1.0)
        return float(low + min(max(share, 0.0), 1.0) * (high - low))

    def epoch_at(self, point):
        """Place of the epoch under a pixel, -1 for none."""
        if self.evidence is None or not len(self.evidence.epochs):
            return -1
        epochs = self.evidence.epochs
        for strip in self.strips():
            if strip.which == OFFSET or not strip.box.adjusted(-9, -9, 9, 9).contains(point):
                continue
            values = epochs.across if strip.which == ACROSS else epochs.height
            with np.errstate(invalid="ignore"):
                away = np.hypot(
                    self.drawing.x(strip.box, epochs.chainage) - point.x(),
                    strip.y(values) - point.y(),
                )
            if np.isfinite(away).any():
                place = int(np.nanargmin(away))
                return place if away[place] <= NEAR else -1
        return -1

    # painting

    def paintEvent(self, event):
        ratio = self.devicePixelRatioF()
        if self._picture is None or self._picture.size() != self.size() * ratio:
            self._picture = QPixmap(self.size() * ratio)
            self._picture.setDevicePixelRatio(ratio)
            self._picture.fill(self.palette().color(QPalette.ColorRole.Base))
            painter = QPainter(self._picture)
            painter.setFont(self.font())
            self.drawing.draw(painter, QRectF(self.rect()), self.palette())
            painter.end()
        painter = QPainter(self)
        painter.drawPixmap(0, 0, self._picture)
        self._draw_cursor(painter)
        painter.end()

    def changeEvent(self, event):
        kinds = type(event).Type
        if event.type() in (kinds.PaletteChange, kinds.FontChange, kinds.StyleChange):
            self.renew()
        super().changeEvent(event)

    def resizeEvent(self, event):
        self.renew()
        super().resizeEvent(event)

    def _draw_cursor(self, painter):
        strips = self.strips()
        if not strips:
            return
        ink = self.palette().color(QPalette.ColorRole.Highlight)
        top, bottom = strips[0].box.top(), strips[-1].box.bottom()
        if self.span is not None:
            fill = QColor(ink)
            fill.setAlphaF(0.25)
            ends = self.drawing.x(strips[0].box, np.array(self.span))
            painter.fillRect(QRectF(ends[0], top, ends[1] - ends[0], bottom - top), fill)
        low, high = self.view
        if np.isfinite(self.cursor) and low <= self.cursor <= high:
            painter.setPen(QPen(ink, 1.5))
            x = float(self.drawing.x(strips[0].box, self.cursor))
            painter.drawLine(QPointF(x, top), QPointF(x, bottom))
        if self.evidence is None or not 0 <= self.epoch < len(self.evidence.epochs):
            return
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        painter.setPen(QPen(ink, 2))
        epochs = self.evidence.epochs
        for strip in strips:
            values = {ACROSS: epochs.across, HEIGHT: epochs.height}.get(strip.which)
            if values is None or not np.isfinite(values[self.epoch]):
                continue
            at = QPointF(
                float(self.drawing.x(strip.box, epochs.chainage[self.epoch])),
                float(strip.y(values[self.epoch])),
            )
            painter.drawEllipse(at, MARK, MARK)

    # pointer and keys

    def mouseMoveEvent(self, event):
        point = _position(event)
        if self._spanning is not None:
            ends = sorted((self._spanning, self.chainage_at(point.x())))
            self.span = tuple(ends)
            self.update()
            return
        if self._drag is not None:
            start, view = self._drag
            box = self.strips()[0].box
            step = (point.x() - start) / max(box.width(), 1.0) * (view[1] - view[0])
            self.show_stretch(view[0] - step, view[1] - step)
            return
        self.cursor = self.chainage_at(point.x())
        self.pointed.emit(self.cursor)
        place = self.epoch_at(point)
        QToolTip.showText(
            event.globalPos() if hasattr(event, "globalPos") else event.globalPosition().toPoint(),
            self.words_on(place) if place >= 0 else "",
            self,
        )
        self.update()

    def words_on(self, place):
        """What is known of an epoch, in a few lines."""
        epochs, table = self.evidence.epochs, self.evidence.table
        row = int(epochs.rows[place])
        said = [marks.title_of(epochs.word[place])]
        if table.detail[row]:
            said.append(table.detail[row])
        said.append(
            tr("at {:.2f} m, across {}").format(
                epochs.chainage[place], metres(float(epochs.across[place])) or tr("unknown")
            )
        )
        if np.isfinite(epochs.up[place]):
            said.append(tr("up {}").format(metres(float(epochs.up[place]))))
        if table.moment[row]:
            said.append(table.moment[row])
        return "\n".join(said)

    def leaveEvent(self, event):
        if self.epoch < 0:
            self.cursor = np.nan
            self.pointed.emit(np.nan)
            self.update()
        super().leaveEvent(event)

    def mousePressEvent(self, event):
        self.setFocus(Qt.FocusReason.MouseFocusReason)
        point = _position(event)
        shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if self.evidence is None:
            return
        if event.button() == Qt.MouseButton.RightButton or shift:
            self._spanning = self.chainage_at(point.x())
            self.span = None
            return
        place = self.epoch_at(point)
        if place >= 0:
            self.span = None
            self.choose_epoch(place)
            self.chosen.emit(int(self.evidence.epochs.rows[place]))
            return
        if self.strips():
            self._drag = (point.x(), self.view)

    def mouseReleaseEvent(self, event):
        if self._spanning is not None:
            self._spanning = None
            if self.span is not None:
                self.spanned.emit(*self.span)
            self.update()
        self._drag = None

    def mouseDoubleClickEvent(self, event):
        self.show_all()

    def show_all(self):
        """Show the whole line."""
        if self.evidence is not None:
            self.show_stretch(0.0, self.evidence.axis.length)

    def zoom(self, factor, middle=None):
        """Show a stretch that is so many times as long, around a chainage."""
        low, high = self.view
        middle = (low + high) / 2 if middle is None or not np.isfinite(middle) else middle
        share = (middle - low) / (high - low)
        width = (high - low) * factor
        self.show_stretch(middle - share * width, middle + (1 - share) * width)

    def wheelEvent(self, event):
        if self.evidence is None:
            return
        steps = event.angleDelta().y() / 120
        point = event.position() if hasattr(event, "position") else event.posF()
        self.zoom(ZOOM**-steps, self.chainage_at(point.x()))
        event.accept()

    def keyPressEvent(self, event):
        key, keys = event.key(), Qt.Key
        if self.evidence is None:
            super().keyPressEvent(event)
            return
        count = len(self.evidence.epochs)
        step = {keys.Key_Right: 1, keys.Key_Left: -1, keys.Key_PageDown: 10, keys.Key_PageUp: -10}
        shift = bool(event.modifiers() & Qt.KeyboardModifier.ShiftModifier)
        if key in step and count and shift:
            self._extend(step[key])
        elif key in step and count:
            self.span = None
            place = self.epoch + step[key] if self.epoch >= 0 else 0
            self.choose_epoch(min(max(place, 0), count - 1))
            self.chosen.emit(int(self.evidence.epochs.rows[self.epoch]))
        elif key in (keys.Key_Plus, keys.Key_Equal):
            self.zoom(1 / ZOOM, self.cursor)
        elif key == keys.Key_Minus:
            self.zoom(ZOOM, self.cursor)
        elif key == keys.Key_0:
            self.show_all()
        else:
            super().keyPressEvent(event)

    def _extend(self, step):
        """Mark the stretch from the chosen epoch on, by the keyboard."""
        chainage = self.evidence.epochs.chainage
        if self._anchor is None or self.span is None:
            self._anchor = max(self.epoch, 0)
        place = min(max(max(self.epoch, 0) + step, 0), len(chainage) - 1)
        self.choose_epoch(place)
        self.chosen.emit(int(self.evidence.epochs.rows[place]))
        self.span = tuple(sorted((float(chainage[self._anchor]), float(chainage[place]))))
        self.spanned.emit(*self.span)
        self.update()


def _position(event):
    """Where the pointer is, in Qt 5 and Qt 6."""
    return event.position() if hasattr(event, "position") else QPointF(event.pos())
