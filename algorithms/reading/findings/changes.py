"""Ends that were left open."""

import numpy as np

from ...host.figures import translate
from .found import LEFT_OPEN, known


def tr(text):
    return translate("Findings", text)


def find_open_ends(layer, limits, found):
    """Ends that were left open, by the distance that they were told with."""
    what, gap, words = layer.texts("what"), layer.numbers("gap"), layer.texts("why")
    left = what == "left_open"
    found.leave(
        layer,
        tr("ends left open nearer to each other than the limit: {}"),
        np.count_nonzero(left & (gap < limits.open_gap)),
    )
    rows = np.flatnonzero(left & ~(gap < limits.open_gap))
    detail = [
        tr("Ends left open{}: see how the edges meet{}").format(
            tr(" over {:.2f} m").format(size) if size == size else "", f" ({text})" if text else ""
        )
        for size, text in zip(gap[rows].tolist(), words[rows].tolist())
    ]
    found.add(
        LEFT_OPEN,
        layer,
        rows,
        layer.at(rows),
        detail,
        metres=known(gap[rows]),
        edge_id=layer.texts("edges")[rows].tolist(),
    )
