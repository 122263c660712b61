"""The evidence of one line against its chainage, in three strips: residuals across, heights, and
offsets from the existing linework."""

from dataclasses import dataclass

import numpy as np
from qgis.PyQt.QtCore import QPointF, QRectF, QSize, Qt, pyqtSignal
from qgis.PyQt.QtGui import QColor, QPainter, QPalette, QPen, QPixmap, QPolygonF
from qgis.PyQt.QtWidgets import QSizePolicy, QToolTip, QWidget

from ...algorithms.host.figures import printed
from . import marks
from .words import metres, tr

NORMAL_95 = 1.96  # half width of the band that is drawn, in sigmas
ACROSS, HEIGHT, OFFSET = range(3)
MARK = 6.0  # pixels
NEAR = 10  # pixels within which an epoch is pointed at
STEPS = (1, 2, 5)
MOST_ACROSS = 2.0  # times the greatest residual of a kept epoch that the strip shows at most
LEAST = (0.02, 0.05, 0.05)  # m, half the range that a strip shows at least
ROOM = 1.15  # of the range, so that nothing touches the frame
ZOOM = 1.25  # a step of the wheel
LEAST_TICKS = 3.5  # room that a strip is taken to have at least, however low it is


@dataclass(frozen=True)
class Strip:
    """One strip of the plot: where it stands, and the range that it shows."""

    which: int
    box: QRectF
    low: float
    high: float

    def y(self, value):
        """Pixels from metres; what lies beyond stands at the rim."""
        share = (np.clip(value, self.low, self.high) - self.low) / (self.high - self.low)
        return self.box.bottom() - share * self.box.height()


def steps_of(low, high, room):
    """Round values for ticks.

    Parameters
    ----------
    low, high : float
    room : float
        Number of ticks there is room for.

    Returns
    -------
    ndarray of float
    """
    rough = (high - low) / max(room, 1)
    power = 10.0 ** np.floor(np.log10(rough)) if rough > 0 else 1.0
    step = next((step * power for step in STEPS if step * power >= rough), 10 * power)
    return np.round(np.arange(np.ceil(low / step), np.floor(high / step) + 1)) * step


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
        self.evidence = self.preview = None
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
        self.evidence, self.preview, self.note = evidence, None, note
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

    # layout

    def strips(self, rect, metrics):
        """Strips that there is something to draw in, one above the other."""
        if self.evidence is None:
            return []
        evidence, epochs = self.evidence, self.evidence.epochs
        left = metrics.horizontalAdvance("-88.88 m") + 6
        line = metrics.height()
        box = QRectF(rect).adjusted(left, line * 2.4, -8, -line * 1.4)
        wanted = []
        if len(epochs):
            wanted.append((ACROSS, *self._range(ACROSS, epochs.across, epochs.kept)))
        if np.isfinite(evidence.axis.z).any():
            low, high = np.nanmin(evidence.axis.z), np.nanmax(evidence.axis.z)
            used = epochs.height[epochs.kept & np.isfinite(epochs.height)]
            if len(used):  # a height spike must not press the others into a line
                low, high = min(low, np.quantile(used, 0.01)), max(high, np.quantile(used, 0.99))
            middle, half = (low + high) / 2, max((high - low) / 2, LEAST[HEIGHT]) * ROOM
            wanted.append((HEIGHT, middle - half, middle + half))
        if len(evidence.offsets.chainage):
            around = np.concatenate([evidence.offsets.offset, evidence.offsets.allowed])
            wanted.append((OFFSET, *self._range(OFFSET, around, np.ones(len(around), bool))))
        if not wanted:
            return []
        gap = line * 1.5
        height = (box.height() - gap * (len(wanted) - 1)) / len(wanted)
        return [
            Strip(which, QRectF(box.left(), box.top() + number * (height + gap), box.width(),
                                max(height, 4.0)), float(low), float(high))
            for number, (which, low, high) in enumerate(wanted)
        ]  # fmt: skip

    def _why_empty(self):
        """Why there is no strip."""
        if self.evidence is None:
            return tr("Choose a line of the list to see the evidence behind it.")
        return tr("Nothing was measured along this line: no epoch, no height, no offset.")

    @staticmethod
    def _range(which, values, kept):
        """Range around nought that holds what is kept, and what is rejected up to a few times
        that; the rest stands at the rim."""
        values = np.abs(values)
        used = values[kept & np.isfinite(values)]
        half = max(float(used.max()) if len(used) else 0.0, LEAST[which])
        others = values[~kept & np.isfinite(values)]
        if len(others):
            half = max(half, min(float(others.max()), MOST_ACROSS * half))
        return -half * ROOM, half * ROOM

    def _x(self, box, chainage):
        low, high = self.view
        return box.left() + (np.asarray(chainage) - low) / (high - low) * box.width()

    def chainage_at(self, x):
        """Chainage at a pixel of the widget, NaN where there is no plot."""
        strips = self.strips(self.rect(), self.fontMetrics())
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
        for strip in self.strips(self.rect(), self.fontMetrics()):
            if strip.which == OFFSET or not strip.box.adjusted(-9, -9, 9, 9).contains(point):
                continue
            values = epochs.across if strip.which == ACROSS else epochs.height
            with np.errstate(invalid="ignore"):
                away = np.hypot(
                    self._x(strip.box, epochs.chainage) - point.x(), strip.y(values) - point.y()
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
            self.draw(painter, QRectF(self.rect()), self.palette())
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

    def draw(self, painter, rect, palette):
        """Draw the plot into any painter, for screen and print.

        Parameters
        ----------
        painter : QPainter
        rect : QRectF
            In the painter's units.
        palette : QPalette
        """
        painter.setRenderHint(QPainter.RenderHint.Antialiasing)
        text = marks.ink_of(palette)
        dark = marks.is_dark(palette)
        painter.setPen(text)
        strips = self.strips(rect, painter.fontMetrics())
        if not strips:
            note = self.note or self._why_empty()
            flags = _number(Qt.AlignmentFlag.AlignCenter) | _number(Qt.TextFlag.TextWordWrap)
            painter.drawText(rect.adjusted(12, 12, -12, -12), flags, note)
            return
        grid = QColor(text)
        grid.setAlphaF(0.16)
        for strip in strips:
            self._draw_frame(painter, strip, text, grid, strip is strips[-1])
            painter.save()
            painter.setClipRect(strip.box.adjusted(-MARK, -MARK, MARK, MARK))
            (self._draw_across, self._draw_heights, self._draw_offsets)[strip.which](
                painter, strip, dark, text
            )
            painter.restore()
        self._draw_key(painter, rect, dark, text)

    def _draw_frame(self, painter, strip, text, grid, last):
        box, metrics = strip.box, painter.fontMetrics()
        title = {
            ACROSS: tr("Across, right +"),
            HEIGHT: tr("Height"),
            OFFSET: tr("Edge from existing line, right +"),
        }[strip.which]
        painter.setPen(text)
        painter.drawText(QPointF(box.left() + 2, box.top() - metrics.descent() - 1), title)
        room = max(box.height() / (1.5 * metrics.height()), LEAST_TICKS)
        for value in steps_of(strip.low, strip.high, room):
            y = float(strip.y(value))
            painter.setPen(QPen(grid, 1))
            painter.drawLine(QPointF(box.left(), y), QPointF(box.right(), y))
            painter.setPen(text)
            value = float(value) + 0.0  # no minus before nought
            label = printed(f"{value:.2f} m") if strip.which == HEIGHT else metres(value)
            where = QRectF(0, y - metrics.height() / 2, box.left() - 4, metrics.height())
            painter.drawText(where, _number(Qt.AlignmentFlag.AlignRight), label)
        room = box.width() / (1.6 * metrics.horizontalAdvance("888.8 m"))
        for value in steps_of(*self.view, room):
            x = float(self._x(box, value))
            painter.setPen(QPen(grid, 1))
            painter.drawLine(QPointF(x, box.top()), QPointF(x, box.bottom()))
            if last:
                painter.setPen(text)
                wide = metrics.horizontalAdvance("88888.8 m")
                where = QRectF(x - wide / 2, box.bottom() + 2, wide, metrics.height())
                flag = _number(Qt.AlignmentFlag.AlignHCenter)
                painter.drawText(where, flag, printed(f"{value:g} m"))
        painter.setPen(QPen(grid, 1))
        painter.setBrush(Qt.BrushStyle.NoBrush)
        painter.drawRect(box)

    def _band(self, painter, strip, middle, half, chainage, dark):
        """A filled band with a dashed rim."""
        fine = np.isfinite(middle) & np.isfinite(half)
        if fine.sum() < 2:
            return
        x = self._x(strip.box, chainage[fine])
        low = strip.y(middle[fine] - half[fine])
        high = strip.y(middle[fine] + half[fine])
        ink = QColor("#8ec5ea" if dark else "#2f6690")
        fill = QColor(ink)
        fill.setAlphaF(0.22)
        painter.setPen(Qt.PenStyle.NoPen)
        painter.setBrush(fill)
        painter.drawPolygon(_polygon([*zip(x, high), *zip(x[::-1], low[::-1])]))
        painter.setPen(QPen(ink, 1, Qt.PenStyle.DashLine))
        for y in (low, high):
            painter.drawPolyline(_polygon(zip(x, y)))

    def _draw_across(self, painter, strip, dark, text):
        band = self.evidence.band
        self._band(
            painter, strip, np.zeros(len(band.chainage)), NORMAL_95 * band.across, band.chainage,
            dark,
        )  # fmt: skip
        painter.setPen(QPen(text, 1.4))
        y = float(strip.y(0.0))
        painter.drawLine(QPointF(strip.box.left(), y), QPointF(strip.box.right(), y))
        self._draw_epochs(painter, strip, self.evidence.epochs.across, dark)

    def _draw_heights(self, painter, strip, dark, text):
        axis, band = self.evidence.axis, self.evidence.band
        at = np.unique(np.concatenate([axis.chainage, band.chainage]))
        fit = np.interp(at, axis.chainage, axis.z)
        half = NORMAL_95 * np.interp(at, band.chainage, band.up)
        self._band(painter, strip, fit, half, at, dark)
        painter.setPen(QPen(text, 1.4))
        fine = np.isfinite(fit)
        x, y = self._x(strip.box, at[fine]), strip.y(fit[fine])
        painter.drawPolyline(_polygon(zip(x, y)))
        self._draw_epochs(painter, strip, self.evidence.epochs.height, dark)

    def _draw_offsets(self, painter, strip, dark, text):
        offsets = self.evidence.offsets
        zero = np.zeros(len(offsets.chainage))
        self._band(painter, strip, zero, offsets.allowed, offsets.chainage, dark)
        painter.setPen(QPen(text, 1.0))
        y = float(strip.y(0.0))
        painter.drawLine(QPointF(strip.box.left(), y), QPointF(strip.box.right(), y))
        x, y = self._x(strip.box, offsets.chainage), strip.y(offsets.offset)
        for beyond, mark in ((False, "single"), (True, "doubtful")):
            some = offsets.beyond == beyond
            points = _distinct(x[some], y[some], strip.box)
            marks.draw(painter, marks.mark_of(mark), dark, MARK * 0.8, points)

    def _draw_epochs(self, painter, strip, values, dark):
        """Marks of the epochs, those that are used first; what would be drawn on the same pixel
        twice is drawn once."""
        epochs = self.evidence.epochs
        x, y = self._x(strip.box, epochs.chainage), strip.y(values)
        for word in self.words():
            some = (epochs.word == word) & np.isfinite(y)
            marks.draw(
                painter, marks.mark_of(word), dark, MARK, _distinct(x[some], y[some], strip.box)
            )

    def words(self):
        """Roles and reasons that there are, most frequent first, so that rare ones lie on top."""
        if self.evidence is None:
            return []
        found, counts = np.unique(self.evidence.epochs.word.astype(str), return_counts=True)
        return found[np.argsort(-counts, kind="stable")].tolist()

    def _draw_key(self, painter, rect, dark, text):
        """Which mark is what, as far as there is room."""
        metrics = painter.fontMetrics()
        x, y = rect.left() + 8.0, rect.top() + metrics.height() * 0.6
        painter.save()
        words = self.words()
        for place, word in enumerate(words):
            title = marks.title_of(word)
            width = metrics.horizontalAdvance(title) + 22
            if x + width > rect.right() - 16:
                painter.setPen(text)
                painter.drawText(QPointF(x, y + metrics.ascent() / 2), f"+ {len(words) - place}")
                break
            marks.draw(painter, marks.mark_of(word), dark, MARK + 1, [(x, y)])
            painter.setPen(text)
            painter.drawText(QPointF(x + 8, y + metrics.ascent() / 2 - 1), title)
            x += width
        painter.restore()

    def _draw_cursor(self, painter):
        strips = self.strips(self.rect(), self.fontMetrics())
        if not strips:
            return
        ink = self.palette().color(QPalette.ColorRole.Highlight)
        top, bottom = strips[0].box.top(), strips[-1].box.bottom()
        if self.span is not None:
            fill = QColor(ink)
            fill.setAlphaF(0.25)
            ends = self._x(strips[0].box, np.array(self.span))
            painter.fillRect(QRectF(ends[0], top, ends[1] - ends[0], bottom - top), fill)
        low, high = self.view
        if np.isfinite(self.cursor) and low <= self.cursor <= high:
            painter.setPen(QPen(ink, 1.5))
            x = float(self._x(strips[0].box, self.cursor))
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
                float(self._x(strip.box, epochs.chainage[self.epoch])),
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
            box = self.strips(self.rect(), self.fontMetrics())[0].box
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
        if self.strips(self.rect(), self.fontMetrics()):
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


def _distinct(x, y, box):
    """Places that differ by half a pixel, inside the stretch that is shown."""
    inside = (x >= box.left() - MARK) & (x <= box.right() + MARK)
    places = np.unique(np.round(2 * np.column_stack([x[inside], y[inside]])), axis=0) / 2
    return places.tolist()


def _polygon(points):
    return QPolygonF([QPointF(float(x), float(y)) for x, y in points])


def _number(flag):
    """A flag as the number that drawText takes in Qt 5 and Qt 6."""
    return int(getattr(flag, "value", flag))


def _position(event):
    """Where the pointer is, in Qt 5 and Qt 6."""
    return event.position() if hasattr(event, "position") else QPointF(event.pos())
