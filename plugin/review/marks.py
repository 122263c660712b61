"""How epochs are drawn: each role and reason has a shape of its own as well as a colour.

The colours are steps of blue, orange, green and purple that differ in lightness too, so that they
stay apart for colour-blind readers and in grey print; one set for light and one for dark grounds.
"""

from dataclasses import dataclass

from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP, QPointF, Qt
from qgis.PyQt.QtGui import QBrush, QColor, QPainter, QPainterPath, QPen, QPixmap, QPolygonF

from .words import tr

DARK = 128  # lightness of a ground below which it is dark
CONTRAST = 100  # difference of lightness between text and ground that can be read


@dataclass(frozen=True)
class Mark:
    """Shape and colours of a role or reason."""

    title: str
    shape: str
    light: str  # colour on a light ground
    dark: str
    hollow: bool = False


_MARKS = {
    "single": Mark(QT_TRANSLATE_NOOP("Review", "single epoch"), "disc", "#2f6690", "#8ec5ea"),
    "standing": Mark(QT_TRANSLATE_NOOP("Review", "standing"), "square", "#16324f", "#cfe6f7"),
    "doubtful": Mark(QT_TRANSLATE_NOOP("Review", "doubtful"), "triangle", "#b35900", "#ffb366"),
    "unconfirmed": Mark(
        QT_TRANSLATE_NOOP("Review", "unconfirmed"), "triangle", "#b35900", "#ffb366", True
    ),
    "spike": Mark(QT_TRANSLATE_NOOP("Review", "spike"), "saltire", "#8b1e5b", "#f29ac6"),
    "height_spike": Mark(
        QT_TRANSLATE_NOOP("Review", "height spike"), "upright", "#8b1e5b", "#f29ac6"
    ),
    "not_fixed": Mark(
        QT_TRANSLATE_NOOP("Review", "not fixed"), "lozenge", "#5c6b2e", "#c5d68a", True
    ),
    "poor_accuracy": Mark(
        QT_TRANSLATE_NOOP("Review", "poor accuracy"), "disc", "#5c6b2e", "#c5d68a", True
    ),
    "repeat": Mark(QT_TRANSLATE_NOOP("Review", "repeat"), "plus", "#6a7079", "#aab2bd"),
    "backtrack": Mark(QT_TRANSLATE_NOOP("Review", "backtrack"), "left", "#6a7079", "#aab2bd"),
    "too_short": Mark(QT_TRANSLATE_NOOP("Review", "too short"), "level", "#6a7079", "#aab2bd"),
    "no_time": Mark(QT_TRANSLATE_NOOP("Review", "no time"), "square", "#6a7079", "#aab2bd", True),
    "no_position": Mark(
        QT_TRANSLATE_NOOP("Review", "no position"), "square", "#6a7079", "#aab2bd", True
    ),
    "left_out": Mark(
        QT_TRANSLATE_NOOP("Review", "left out by a repair"), "ring", "#8b1e5b", "#f29ac6", True
    ),
}
_CAPS = {"disc": Qt.PenCapStyle.RoundCap, "square": Qt.PenCapStyle.SquareCap}
OTHER = Mark("", "plus", "#6a7079", "#aab2bd")


def mark_of(word):
    """The mark of a role or reason; a plain one for a word that is not known."""
    return _MARKS.get(word, OTHER)


def title_of(word):
    """A role or reason as people read it."""
    mark = mark_of(word)
    return tr(mark.title) if mark.title else word.replace("_", " ")


def is_dark(palette):
    """Whether a palette writes on a dark ground."""
    return palette.color(palette.ColorRole.Base).lightness() < DARK


def ink_of(palette):
    """Colour of text that can be read on the ground of a palette: themes made of style sheets may
    leave the palette's own as it was."""
    text, base = (palette.color(role) for role in (palette.ColorRole.Text, palette.ColorRole.Base))
    if abs(text.lightness() - base.lightness()) < CONTRAST:
        return QColor("#f0f0f0" if is_dark(palette) else "#101010")
    return text


def colour(mark, dark):
    """The colour of a mark on a light ground, or a `dark` one."""
    return QColor(mark.dark if dark else mark.light)


def path_of(shape, size):
    """Outline of a shape around the origin, and whether it is made of strokes alone."""
    half, path = size / 2, QPainterPath()
    if shape in ("disc", "ring"):
        path.addEllipse(QPointF(0, 0), half, half)
        if shape == "ring":
            path.moveTo(-half, half)
            path.lineTo(half, -half)
        return path, False
    corners = {
        "square": [(-1, -1), (1, -1), (1, 1), (-1, 1)],
        "triangle": [(0, -1.2), (1.1, 0.8), (-1.1, 0.8)],
        "lozenge": [(0, -1.3), (1.1, 0), (0, 1.3), (-1.1, 0)],
    }.get(shape)
    if corners:
        path.moveTo(*(half * value for value in corners[0]))
        for corner in corners[1:]:
            path.lineTo(*(half * value for value in corner))
        path.closeSubpath()
        return path, False
    strokes = {
        "saltire": [((-1, -1), (1, 1)), ((-1, 1), (1, -1))],
        "upright": [((0, -1.4), (0, 1.4)), ((-0.7, -1.4), (0.7, -1.4)), ((-0.7, 1.4), (0.7, 1.4))],
        "plus": [((-1, 0), (1, 0)), ((0, -1), (0, 1))],
        "left": [((1, -1), (-0.6, 0)), ((-0.6, 0), (1, 1))],
        "level": [((-1.2, 0), (1.2, 0))],
    }[shape]
    for start, end in strokes:
        path.moveTo(*(half * value for value in start))
        path.lineTo(*(half * value for value in end))
    return path, True


def draw(painter, mark, dark, size, points):
    """Draw a mark at many places.

    Parameters
    ----------
    painter : QPainter
    mark : Mark
    dark : bool
        The ground is dark.
    size : float
        Of the mark, in the painter's units.
    points : sequence of tuple of float
    """
    ink = colour(mark, dark)
    if mark.shape in _CAPS and not mark.hollow:  # one call for all: twenty times as quick
        painter.setPen(QPen(ink, size, Qt.PenStyle.SolidLine, _CAPS[mark.shape]))
        painter.drawPoints(QPolygonF([QPointF(x, y) for x, y in points]))
        return
    path, strokes = path_of(mark.shape, size)
    painter.setPen(QPen(ink, max(size / 5, 1.0)))
    painter.setBrush(Qt.BrushStyle.NoBrush if strokes or mark.hollow else QBrush(ink))
    for x, y in points:
        painter.translate(x, y)
        painter.drawPath(path)
        painter.translate(-x, -y)


def pixmap(mark, dark, size, ratio=1.0):
    """The mark as a small picture, for lists and keys."""
    picture = QPixmap(int(2 * size * ratio), int(2 * size * ratio))
    picture.setDevicePixelRatio(ratio)
    picture.fill(Qt.GlobalColor.transparent)
    painter = QPainter(picture)
    painter.setRenderHint(QPainter.RenderHint.Antialiasing)
    draw(painter, mark, dark, size, [(size, size)])
    painter.end()
    return picture
