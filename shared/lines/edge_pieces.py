"""Pieces of edges that replace stretches of one part of an existing line."""

import numpy as np
import shapely

from ..arrays.ragged import rows_by_value
from ..tuning import COMPARISON, UPDATE
from .lines import chainages, is_closed
from .linestrings import nearest_place
from .rebuild import Piece, with_vertex


def find_rings(layers, stretches, check_cancel):
    """Find rings that one closed edge replaces as a whole.

    Parameters
    ----------
    layers : UpdateLayers
    stretches : Stretches
        Those that may be redrawn.
    check_cancel : callable
        Called for every part; may raise.

    Returns
    -------
    dict of int to Piece
        By part of the existing lines. The edge starts next to the start of the ring and runs round
        in the same direction.
    """
    out = {}
    for part, rows in rows_by_value(stretches.part).items():
        check_cancel()
        edges = np.unique(stretches.edge_part[rows])
        ring, edge = layers.old[part], layers.edges[edges[0]]
        if edges.size > 1 or not (_is_ring(ring) and _is_ring(edge)):
            continue
        spans = stretches.high[rows] - stretches.low[rows]
        if spans.sum() < COMPARISON.whole * layers.part_length[part]:
            continue
        begun = _begun_at(edge, ring[0, :2] + layers.move[stretches.first[rows[0]]])
        if shapely.LinearRing(begun[:, :2]).is_ccw != shapely.LinearRing(ring[:, :2]).is_ccw:
            begun = begun[::-1]
        out[part] = Piece(0.0, layers.part_length[part], begun, 0.0, chainages(begun)[-1])
    return out


def _is_ring(xyz):
    return len(xyz) > 3 and is_closed(xyz)


def _begun_at(ring, place):
    """A ring that starts at its point nearest to a place."""
    first = nearest_place(ring, place)
    grown = with_vertex(ring, first)[:-1]
    turned = np.roll(grown, -int(np.argmin(np.hypot(*(grown[:, :2] - first).T))), axis=0)
    return np.concatenate([turned, turned[:1]])


def pieces_along(layers, stretches, rows, stays, blend):
    """Pieces of edges along one part, cut back at junctions that stay.

    Parameters
    ----------
    layers : UpdateLayers
    stretches : Stretches
        Those that are redrawn.
    rows : list of int
        Stretches of the part.
    stays : set of int
        Nodes that keep their place.
    blend : float
        Length of the transition from an edge to the old line, metres.

    Returns
    -------
    list of Piece
        In the order of the part.
    """
    out = []
    for row in sorted(rows, key=lambda row: stretches.low[row]):
        low, high, edge_low, edge_high = (
            float(values[row])
            for values in (stretches.low, stretches.high, stretches.edge_low, stretches.edge_high)
        )
        way = np.sign(edge_high - edge_low)
        back = min(blend, (high - low) / 3)
        start, end = layers.nodes.of_end[stretches.part[row]].tolist()
        if stretches.at_start[row] and start in stays:
            low, edge_low = low + back, edge_low + way * back
        if stretches.at_end[row] and end in stays:
            high, edge_high = high - back, edge_high - way * back
        out.append(Piece(low, high, layers.edges[stretches.edge_part[row]], edge_low, edge_high))
    return out


def onto_ends(pieces, old, moves):
    """Let pieces that reach an end of their line start or end next to its new place.

    Parameters
    ----------
    pieces : list of Piece
        In the order of the line.
    old : ndarray of float, shape (v, 3)
        Vertices of the line, metres.
    moves : sequence of two ndarray of float, shape (3,)
        Of its start and of its end.

    Returns
    -------
    list of Piece
    """
    out, length = list(pieces), chainages(old)[-1]
    if out and out[0].low <= UPDATE.same_place and moves[0].any():
        out[0] = _begun(out[0], old[0, :2] + moves[0][:2], True)
    if out and out[-1].high >= length - UPDATE.same_place and moves[1].any():
        out[-1] = _begun(out[-1], old[-1, :2] + moves[1][:2], False)
    return out


def _begun(piece, place, at_low):
    """A piece that starts, or with `at_low` False ends, next to a place."""
    shape = shapely.LineString(piece.edge[:, :2])
    where = float(shapely.line_locate_point(shape, shapely.points(place)))
    here, other = piece.edge_low, piece.edge_high
    if not at_low:
        here, other = other, here
    # the other end of an edge that nearly closes may be the nearest
    if abs(where - here) > abs(other - here) / 2 or abs(where - other) < UPDATE.same_place:
        return piece
    edge_low, edge_high = (where, other) if at_low else (other, where)
    return Piece(piece.low, piece.high, piece.edge, edge_low, edge_high)
