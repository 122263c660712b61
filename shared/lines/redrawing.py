"""Existing lines drawn anew between their junctions, hosts before the lines that end on them."""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import rows_by_value
from ..tuning import UPDATE
from .edge_pieces import onto_ends, pieces_along
from .junction_targets import Targets, find_targets
from .linestrings import nearest_place
from .rebuild import rebuild, with_vertex
from .stretches import Stretches
from .update_layers import UpdateLayers

NO_ROWS = np.zeros(0, np.int64)


@dataclass(frozen=True)
class _Changes:
    """What is to change: stretches with their rows by part, pieces of edges by part, and the new
    places of junctions."""

    layers: UpdateLayers
    stretches: Stretches
    rows_of: dict
    pieces: dict
    targets: Targets


def redraw(layers, stretches, rings, blend, follow, check_cancel):
    """Draw anew what an update changes.

    Parameters
    ----------
    layers : UpdateLayers
    stretches : Stretches
        Those that are redrawn.
    rings : dict of int to Piece
        Rings that a closed edge replaces as a whole, by part.
    blend : float
        Length of the transition between an edge and the old line, metres.
    follow : float
        How far the end of an untouched neighbour may move with a junction, metres.
    check_cancel : callable
        Called for every junction and part; may raise.

    Returns
    -------
    dict of int to ndarray of float, shape (v, 3)
        New vertices by part of the existing lines, metres: of those that are redrawn, that follow a
        junction, or that another line ends on; hosts come first.
    """
    rows_of = rows_by_value(stretches.part)
    targets = find_targets(layers, stretches, rings, follow, check_cancel)
    pieces = {}
    for part, rows in rows_of.items():
        check_cancel()
        if part in rings and layers.nodes.of_end[part, 0] not in targets.stays:
            pieces[part] = [rings[part]]
        else:
            pieces[part] = pieces_along(layers, stretches, rows, targets.stays, blend)
    changes = _Changes(layers, stretches, rows_of, pieces, targets)
    return _with_junctions(layers, _in_order(changes, blend, check_cancel), check_cancel)


def _in_order(changes, blend, check_cancel):
    """Draw hosts before the lines that end on them."""
    drawn, waiting = {}, _affected(changes)
    while waiting:
        ready = [part for part in waiting if _hosts_of(part, changes).isdisjoint(waiting)]
        for part in sorted(ready or [min(waiting)]):
            check_cancel()
            new = _draw_part(part, changes, drawn, blend)
            if new is not None:
                drawn[part] = new
            waiting.discard(part)
    return drawn


def _affected(changes):
    """Parts that are redrawn, whose end moves, or that end on such a part."""
    nodes, out, ends_on = changes.layers.nodes, set(changes.pieces), {}
    for part, ends in enumerate(nodes.of_end.tolist()):
        if any(node in changes.targets.place for node in ends):
            out.add(part)
        for node in ends:
            if nodes.host[node] >= 0:
                ends_on.setdefault(int(nodes.host[node]), set()).add(part)
    todo = list(out)
    while todo:
        for other in ends_on.get(todo.pop(), ()):
            if other not in out:
                out.add(other)
                todo.append(other)
    return out


def _hosts_of(part, changes):
    """Other parts that a part ends on."""
    nodes = changes.layers.nodes
    return {int(nodes.host[node]) for node in nodes.of_end[part]} - {-1, part}


def _draw_part(part, changes, drawn, blend):
    """New vertices of a part, None if nothing moves it."""
    old, moves = changes.layers.old[part], []
    for end, node in zip((0, -1), changes.layers.nodes.of_end[part].tolist()):
        place = _node_place(node, changes, drawn)
        moves.append(np.zeros(3) if place is None else np.append(place - old[end, :2], 0.0))
    pieces = changes.pieces.get(part, [])
    if not pieces and not np.any(moves):
        return None
    return rebuild(old, onto_ends(pieces, old, moves), *moves, blend)


def _node_place(node, changes, drawn):
    """New place of a junction, None if it stays."""
    nodes = changes.layers.nodes
    host, here = int(nodes.host[node]), changes.targets.place.get(node)
    if host < 0 or (here is None and host not in drawn):
        return here
    if here is None:
        here = nodes.place[node] + _host_move(node, changes, drawn)
    place = nearest_place(drawn.get(host, changes.layers.old[host]), here)
    unmoved = np.hypot(*(place - nodes.place[node])) <= UPDATE.same_place
    return None if unmoved else place


def _host_move(node, changes, drawn):
    """Move of a host where a line ends on it: that of its nearest station, else the way to its new
    line."""
    layers, stretches = changes.layers, changes.stretches
    host, chainage = int(layers.nodes.host[node]), layers.nodes.host_chainage[node]
    rows = changes.rows_of.get(host, NO_ROWS)
    inside = rows[(stretches.low[rows] <= chainage) & (chainage <= stretches.high[rows])]
    if not inside.size:
        place = layers.nodes.place[node]
        return nearest_place(drawn[host], place) - place
    row = inside[0]
    first, count = stretches.first[row], stretches.last[row] - stretches.first[row]
    length = max(stretches.high[row] - stretches.low[row], 1e-9)
    share = (chainage - stretches.low[row]) / length
    return layers.move[first + int(np.clip(round(share * count), 0, count))]


def _with_junctions(layers, drawn, check_cancel):
    """Add a vertex to each redrawn host where another line ends on it."""
    for part, ends in enumerate(layers.nodes.of_end.tolist()):
        for end, node in zip((0, -1), ends):
            host = int(layers.nodes.host[node])
            if host in drawn:
                check_cancel()
                place = drawn.get(part, layers.old[part])[end]
                drawn[host] = with_vertex(drawn[host], place)
    return drawn
