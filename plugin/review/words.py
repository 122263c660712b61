"""What the panel calls things, and how numbers are written."""

import math
from pathlib import Path

from qgis.core import QgsApplication
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP
from qgis.PyQt.QtGui import QIcon

from ...algorithms.host.figures import printed, translate
from ...shared.review.worklist import Kind

CONTEXT = "Review"
_REASONS = {
    Kind.NOTHING: QT_TRANSLATE_NOOP("Review", "nothing found"),
    Kind.DAY_OFF: QT_TRANSLATE_NOOP("Review", "shifted against control points"),
    Kind.MOVED: QT_TRANSLATE_NOOP("Review", "moved"),
    Kind.DISAGREES: QT_TRANSLATE_NOOP("Review", "walks disagree"),
    Kind.UNCERTAIN: QT_TRANSLATE_NOOP("Review", "sigma across"),
    Kind.DOUBTFUL: QT_TRANSLATE_NOOP("Review", "epochs doubtful or unconfirmed"),
    Kind.LEFT_OPEN: QT_TRANSLATE_NOOP("Review", "between ends left open"),
    Kind.NEW: QT_TRANSLATE_NOOP("Review", "new"),
    Kind.GONE: QT_TRANSLATE_NOOP("Review", "gone"),
    Kind.PARTLY: QT_TRANSLATE_NOOP("Review", "without counterpart"),
}
_DECISIONS = {
    "": QT_TRANSLATE_NOOP("Review", "undecided"),
    "accept": QT_TRANSLATE_NOOP("Review", "accepted"),
    "hold": QT_TRANSLATE_NOOP("Review", "on hold"),
    "reject": QT_TRANSLATE_NOOP("Review", "rejected"),
}
_CHANGES = {
    "shifted": QT_TRANSLATE_NOOP("Review", "shifted with the layer"),
    "followed": QT_TRANSLATE_NOOP("Review", "end followed a neighbour"),
    "partly": QT_TRANSLATE_NOOP("Review", "replaced in part"),
    "replaced": QT_TRANSLATE_NOOP("Review", "replaced"),
    "added": QT_TRANSLATE_NOOP("Review", "added"),
    "retired": QT_TRANSLATE_NOOP("Review", "marked as retired"),
    "deleted": QT_TRANSLATE_NOOP("Review", "deleted"),
}
DECISION_ICONS = {
    "accept": "mIconSuccess.svg",
    "hold": "",  # the host's own is black on dark themes
    "reject": "mIconDelete.svg",
}
LENGTHS = (Kind.NEW, Kind.GONE, Kind.PARTLY)
PLAIN = 1.0  # m: below it millimetres are read more easily


HOLD = Path(__file__).parents[1] / "icons" / "hold.svg"


def decision_icon(decision):
    """Icon of a decision; an empty one for none."""
    if decision == "hold":
        return QIcon(str(HOLD))
    name = DECISION_ICONS.get(decision)
    return QgsApplication.getThemeIcon(name) if name else QIcon()


def tr(text):
    return translate(CONTEXT, text)


def reason(kind):
    """Why a line deserves a look, in a word or two."""
    return tr(_REASONS[Kind(kind)])


def decided(decision):
    """What was decided, in a word."""
    return tr(_DECISIONS.get(decision, decision))


def changed(what):
    """What an update did to a line, in a word or two; a word that is not known as it is."""
    return tr(_CHANGES.get(what, what))


def metres(value):
    """A length with its unit: 1.21 m, 118 mm; empty where unknown."""
    if not math.isfinite(value):
        return ""
    if abs(value) < PLAIN:
        return tr("{:.0f} mm").format(1000 * value)
    return tr("{:.2f} m").format(value)


def amount(kind, value):
    """The number of a finding with its unit; empty where there is none."""
    if not math.isfinite(value) or kind == Kind.NOTHING:
        return ""
    if kind == Kind.DOUBTFUL:
        return printed(f"{value:.0f}")
    if kind in LENGTHS:
        return tr("{:.1f} m").format(value)
    return metres(value)


def scale(kind, limit, ratio, others):
    """A sentence on how much that is, for a tool tip."""
    if kind == Kind.NOTHING:
        return tr("Nothing was found that deserves a look.")
    if kind == Kind.LEFT_OPEN:
        text = tr("Another end lies within {}.").format(metres(limit))
    elif kind == Kind.DOUBTFUL:
        text = tr("{:.1f} times the number from which a line is listed, {:.0f}.").format(
            ratio, limit
        )
    elif kind in LENGTHS:
        text = tr("Weighs {:.1f}: every {:.0f} m count for one.").format(ratio, limit)
    else:
        text = tr("{:.1f} times the limit of {}.").format(ratio, metres(limit))
    if others:
        text += " " + tr("More findings on this line: {}.").format(int(others))
    return text
