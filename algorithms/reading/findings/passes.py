"""Walks that disagree, and walks that lie off all others."""

import numpy as np
from qgis.core import QgsProcessingException

from ...host.figures import translate
from .found import DISAGREEMENT, PASS_OFF
from .layers import placed


def tr(text):
    return translate("Findings", text)


def find_disagreements(layer, limits, found):
    """Stretches where walks differ, by the reasons that count."""
    where, length = placed(layer.lines())
    reason, words = layer.texts("reason"), layer.texts("detail")
    wanted = np.isin(reason, limits.disagreements)
    found.leave(
        layer,
        tr("disagreements whose reason is no cause to go back: {}"),
        np.count_nonzero(~wanted),
    )
    rows = np.flatnonzero(wanted)
    metres = np.where(np.isfinite(layer.numbers("length")), layer.numbers("length"), length)[rows]
    detail = [
        tr("Walks differ over {:.1f} m ({}): walk it once more{}").format(
            size, why, f" ({text.rstrip('.')})" if text else ""
        )
        for size, why, text in zip(metres.tolist(), reason[rows].tolist(), words[rows].tolist())
    ]
    found.add(
        DISAGREEMENT,
        layer,
        rows,
        where.of(rows),
        detail,
        metres=metres,
        edge_id=layer.texts("edge_id")[rows].tolist(),
        capture=layer.texts("capture")[rows].tolist(),
    )


def find_passes(layer, edges, limits, found):
    """Walks that lie off the others as wholes; the places are the middles of the edges that were
    merged."""
    offset, up, source = (
        layer.numbers("offset_mean"),
        layer.numbers("up_mean"),
        layer.numbers("source_id"),
    )
    rows = np.flatnonzero((np.abs(offset) > limits.sigma) | (np.abs(up) > limits.sigma_up))
    place = {ident: row for row, ident in enumerate(edges.ids.tolist())}
    of_edge = [
        place.get(int(ident), -1) if ident == ident else -1 for ident in source[rows].tolist()
    ]
    if -1 in of_edge:
        raise QgsProcessingException(
            tr(
                "Layer “{}” names rows in “source_id” that “{}” does not have ({} of {}). Choose as"
                " “{}” the layer whose walks were merged."
            ).format(layer.name, edges.name, of_edge.count(-1), len(of_edge), edges.label)
        )
    of_edge = np.array(of_edge, np.int64)
    where, length = placed(edges.lines())
    detail = [
        tr(
            "This walk lies {:+.3f} m across{} from the others: check base and antenna height, and"
            " walk it once more"
        ).format(across, tr(" and {:+.3f} m up").format(height) if height == height else "")
        for across, height in zip(offset[rows].tolist(), up[rows].tolist())
    ]
    found.add(
        PASS_OFF,
        layer,
        rows,
        where.of(of_edge),
        detail,
        metres=length[of_edge],
        edge_id=edges.texts("edge_id")[of_edge].tolist(),
        capture=layer.texts("capture")[rows].tolist(),
    )
