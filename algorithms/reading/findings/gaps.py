"""Gaps that are too long, and why lines broke off."""

import numpy as np

from ...host.figures import translate
from .found import GAP, known
from .layers import placed


def tr(text):
    return translate("Findings", text)


def break_words(reason):
    """Why a line broke off, in words."""
    return _words().get(reason, reason or tr("reason unknown"))


def _words():
    return {
        "paused": tr("the walk paused"),
        "not_fixed": tr("no fixed solution"),
        "spike": tr("spikes"),
        "poor_accuracy": tr("poor accuracy"),
        "jump": tr("a jump"),
        "lost_epochs": tr("too few epochs tell how the edge goes on"),
        "break_asked": tr("a person broke the line"),
        "new_capture": tr("another capture began"),
        "turned_back": tr("the walk turned back"),
        "start": tr("the capture starts"),
        "end": tr("the capture ends"),
    }


def find_gaps(layer, limits, found):
    """Gaps that are long enough, in metres and seconds, and whose reason counts."""
    where, length = placed(layer.lines())
    metres, seconds, reason = (
        layer.numbers("metres"),
        layer.numbers("seconds"),
        layer.texts("reason"),
    )
    metres = np.where(np.isfinite(metres), metres, np.where(np.isfinite(where.x), length, np.nan))
    # a word that a person wrote is a reason that nobody has ruled out
    wanted = np.isin(reason, limits.reasons) | ~np.isin(reason, list(_words()))
    great = ~(metres < limits.gap) & ~(seconds < limits.gap_seconds)
    found.leave(
        layer, tr("gaps whose reason is no cause to go back: {}"), np.count_nonzero(~wanted)
    )
    found.leave(layer, tr("gaps below the limits: {}"), np.count_nonzero(wanted & ~great))
    rows = np.flatnonzero(wanted & great)
    edges = [
        ", ".join(text for text in pair if text)
        for pair in zip(
            layer.texts("after_edge")[rows].tolist(), layer.texts("before_edge")[rows].tolist()
        )
    ]
    detail = [
        tr("Gap of {:.1f} m{} ({}): walk it from rim to rim").format(
            size, tr(", {:.0f} s").format(pause) if pause == pause else "", break_words(why)
        )
        for size, pause, why in zip(
            metres[rows].tolist(), seconds[rows].tolist(), reason[rows].tolist()
        )
    ]
    found.add(
        GAP,
        layer,
        rows,
        where.of(rows),
        detail,
        metres=known(metres[rows]),
        seconds=known(seconds[rows]),
        edge_id=edges,
        capture=layer.texts("capture")[rows].tolist(),
    )
