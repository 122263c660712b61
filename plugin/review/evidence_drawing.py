"""The evidence of one line against its chainage, drawn in three strips: residuals across, heights,
and offsets from the existing linework."""

from dataclasses import dataclass

import numpy as np
from qgis.PyQt.QtCore import QPointF, QRectF, Qt
from qgis.PyQt.QtGui import QColor, QPainter, QPen, QPolygonF

from ...algorithms.host.figures import printed
from . import marks
from .words import metres, tr

NORMAL_95 = 1.96  # half width of the band that is drawn, in sigmas
ACROSS, HEIGHT, OFFSET = range(3)
MARK = 6.0  # pixels
STEPS = (1, 2, 5)
MOST_ACROSS = 2.0  # times the greatest residual of a kept epoch that the strip shows at most
LEAST = (0.02, 0.05, 0.05)  # m, half the range that a strip shows at least
ROOM = 1.15  # of the range, so that nothing touches the frame
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


class EvidenceDrawing:
    """Lays out and draws a stretch of the evidence of a line, on screen or on paper.

    Parameters
    ----------
    evidence : LineEvidence or None
    view : tuple of float
        Chainages between which it is shown.
    note : str
        What is said where there is nothing to draw; empty for the usual words.
    """

    def __init__(self, evidence, view, note=""):
        self.evidence, self.view, self.note = evidence, view, note

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

    def x(self, box, chainage):
        """Pixels from chainages, in the box of a strip."""
        low, high = self.view
        return box.left() + (np.asarray(chainage) - low) / (high - low) * box.width()

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
            x = float(self.x(box, value))
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
        x = self.x(strip.box, chainage[fine])
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
        x, y = self.x(strip.box, at[fine]), strip.y(fit[fine])
        painter.drawPolyline(_polygon(zip(x, y)))
        self._draw_epochs(painter, strip, self.evidence.epochs.height, dark)

    def _draw_offsets(self, painter, strip, dark, text):
        offsets = self.evidence.offsets
        zero = np.zeros(len(offsets.chainage))
        self._band(painter, strip, zero, offsets.allowed, offsets.chainage, dark)
        painter.setPen(QPen(text, 1.0))
        y = float(strip.y(0.0))
        painter.drawLine(QPointF(strip.box.left(), y), QPointF(strip.box.right(), y))
        x, y = self.x(strip.box, offsets.chainage), strip.y(offsets.offset)
        for beyond, mark in ((False, "single"), (True, "doubtful")):
            some = offsets.beyond == beyond
            points = _distinct(x[some], y[some], strip.box)
            marks.draw(painter, marks.mark_of(mark), dark, MARK * 0.8, points)

    def _draw_epochs(self, painter, strip, values, dark):
        """Marks of the epochs, those that are used first; what would be drawn on the same pixel
        twice is drawn once."""
        epochs = self.evidence.epochs
        x, y = self.x(strip.box, epochs.chainage), strip.y(values)
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
