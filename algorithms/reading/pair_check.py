"""Doubts about two layers of lines that are to be compared: the same twice, swapped, or gaps."""

import numpy as np

from ...shared.epochs.plausibility import judge_stream
from ..host.figures import translate
from .stream_check import OF_EDGES, OF_GAPS, has_fields

OF_CHANGES = ("change_id", "what", "undo")
SAME_SHARE = 0.5  # of the edges, that the other layer holds to the millimetre


def tr(text):
    return translate("PairCheck", text)


def doubts(sources, edges, existing, roles=True):
    """What makes doubtful that two layers are edges and existing lines.

    Parameters
    ----------
    sources : sequence of QgsProcessingFeatureSource
        Of the edges and of the existing lines.
    edges, existing : Lines
        In one frame.
    roles : bool
        False where either may be a map, or both: which is to be moved, say, is the user's choice.

    Returns
    -------
    list of str
        Sentences that name the layers and the remedy; empty where there is no doubt.
    """
    names = [source.sourceName() for source in sources]
    found = [
        tr(
            "Layer “{}” holds gaps between edges (fields {}), no edges: a comparison with them"
            " means nothing. Choose the layer of edges."
        ).format(name, ", ".join(OF_GAPS))
        for name, source in zip(names, sources)
        if has_fields(source, OF_GAPS)
    ]
    found += [
        tr(
            "Layer “{}” is a table of changes of an update (fields {}): its lines are as they were"
            " before. Choose the layer of lines itself."
        ).format(name, ", ".join(OF_CHANGES))
        for name, source in zip(names, sources)
        if has_fields(source, OF_CHANGES)
    ]
    same = _same_share(edges, existing)
    if same >= SAME_SHARE:
        found.append(
            tr(
                "“{}” and “{}” are the same lines ({:.0f} % of the first are in the second to the"
                " millimetre): a layer that is compared with itself always agrees. Check which"
                " layers are chosen."
            ).format(*names, 100 * same)
        )
    elif roles and _swapped(sources, edges, existing):
        found.append(
            tr(
                "“{}” and “{}” may be swapped: the existing lines look like edges from epochs, the"
                " edges like a map. Check which layer is which."
            ).format(*names)
        )
    return found


def _same_share(edges, existing):
    """Share of the edges that are also existing lines."""
    known = set(_prints(existing))
    own = _prints(edges)
    return sum(one in known for one in own) / len(own) if own else 0.0


def _prints(lines):
    """Each line's positions, whole millimetres, as bytes."""
    places = np.rint(np.column_stack([lines.x, lines.y]) * 1000).astype(np.int64)
    return [
        places[start:stop].tobytes()
        for start, stop in zip(lines.offsets[:-1].tolist(), lines.offsets[1:].tolist())
    ]


def _swapped(sources, edges, existing):
    """True where the existing lines look like edges, and the edges do not."""

    def streamed(lines):
        return len(lines.x) > 0 and judge_stream(lines.x, lines.y, lines.offsets).plausible

    if has_fields(sources[0], OF_EDGES):
        return False
    if has_fields(sources[1], OF_EDGES):
        return not streamed(edges)
    return streamed(existing) and not streamed(edges)
