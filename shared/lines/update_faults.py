"""Redrawn lines that cannot stay so: they cross themselves or others, or pull others too far."""

import numpy as np
import shapely

from ..language import number as printed
from ..language import tr


def find_faults(layers, stretches, drawn, follow, check_cancel):
    """Find the redrawn lines that cannot stay so.

    Parameters
    ----------
    layers : UpdateLayers
    stretches : Stretches
        Those that are redrawn.
    drawn : dict of int to ndarray of float, shape (v, 3)
        New vertices by part of the existing lines, metres.
    follow : float
        How far a line may follow that ends on a redrawn one, metres.
    check_cancel : callable
        Called for every part; may raise.

    Returns
    -------
    dict of int to str
        Reason by existing line, of lines that have a stretch.
    """
    wrong = _followers_too_far(layers, stretches, drawn, follow)
    shapes = layers.shapes.copy()
    for part, xyz in drawn.items():
        check_cancel()
        line = int(layers.existing.line[part])
        if len(xyz) < 2 or not np.isfinite(xyz[:, :2]).all():
            wrong[line] = tr("nothing would be left of it")
            continue
        shapes[part] = shapely.LineString(xyz[:, :2])
        if layers.shapes[part].is_simple and not shapes[part].is_simple:
            wrong[line] = tr("it would cross itself")
    stretched = set(layers.existing.line[stretches.part].tolist())
    wrong = {line: why for line, why in wrong.items() if line in stretched}
    return wrong | _crossings(layers, drawn, shapes, stretched - set(wrong), set(wrong))


def _followers_too_far(layers, stretches, drawn, follow):
    """Hosts with a line ending on them that would have to follow too far."""
    wrong, nodes = {}, layers.nodes
    stretched = set(stretches.part.tolist())
    for part, xyz in drawn.items():
        if part in stretched:
            continue
        for end, node in zip((0, -1), nodes.of_end[part].tolist()):
            way = np.hypot(*(xyz[end, :2] - layers.old[part][end, :2]))
            host = int(nodes.host[node])
            if way > follow and host >= 0:
                wrong[int(layers.existing.line[host])] = tr(
                    "a line that ends on it would have to follow by {} m"
                ).format(printed(way, 2))
    return wrong


def _crossings(layers, drawn, shapes, lines, wrong):
    """Those of some lines that newly cross another line, of two only one; lines that cross one that
    is `wrong` already may be right without it."""
    out = {}
    changed = np.array(sorted(drawn), np.int64)
    if not changed.size:
        return out
    row, other = shapely.STRtree(shapes).query(shapes[changed], predicate="crosses")
    part = changed[row]
    # they did not cross before
    new = ~shapely.crosses(layers.shapes[part], layers.shapes[other])
    for a, b in zip(part[new].tolist(), other[new].tolist()):
        line, others = int(layers.existing.line[a]), int(layers.existing.line[b])
        if line in lines and others not in wrong and others not in out:
            out[line] = tr("it would cross another line")
    return out
