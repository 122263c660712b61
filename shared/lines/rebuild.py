"""One line redrawn from pieces of edges, pieces of the old line, and transitions between them."""

from dataclasses import dataclass

import numpy as np

from ..tuning import UPDATE
from .lines import chainages, is_closed, place_at


@dataclass(frozen=True)
class Piece:
    """An edge that replaces a stretch of an old line; metres.

    `low`, `high`: the stretch, chainages of the old line. `edge`, shape (v, 3): the edge's
    vertices. `edge_low`, `edge_high`: chainages of the edge next to `low` and `high`; `edge_low` is
    the greater one if the edge runs the other way.
    """

    low: float
    high: float
    edge: np.ndarray
    edge_low: float
    edge_high: float


def rebuild(old, pieces, start_move, end_move, blend):
    """Redraw a line.

    Parameters
    ----------
    old : ndarray of float, shape (v, 3)
        Vertices in metres; z NaN where there is no height.
    pieces : list of Piece
        In the order of the old line, not overlapping.
    start_move, end_move : ndarray of float, shape (3,)
        Moves of the ends of the line, whether a piece reaches there or not.
    blend : float
        Length of the transition from a piece, or from an end that moved, to the old line, metres.

    Returns
    -------
    ndarray of float, shape (w, 3)
        Old vertices that nothing moves are unchanged, bit for bit.
    """
    length = chainages(old)[-1]
    pieces = _with_room(old, pieces, start_move, end_move, blend)
    out = [old[:1] + start_move]
    at, move = 0.0, np.asarray(start_move, float)
    for piece in pieces:
        onto = _edge_places(piece, old)
        out.append(_between(old, at, piece.low, move, onto[0] - place_at(old, piece.low), blend))
        if piece.low > UPDATE.same_place:
            out.append(onto[:1])
        out.append(onto[1:-1])
        if piece.high < length - UPDATE.same_place:
            out.append(onto[-1:])
        at, move = piece.high, onto[-1] - place_at(old, piece.high)
    out.append(_between(old, at, length, move, np.asarray(end_move, float), blend))
    out.append(old[-1:] + end_move)
    return _without_repeats(np.concatenate(out))


def _with_room(old, pieces, start_move, end_move, blend):
    """Pieces cut back where one does not continue from the one before, so that no step remains.

    Between two of them, and between one and an end of the line that it does not meet, there is then
    room for a transition no steeper than `UPDATE.steepness` and no longer than `blend`; no piece
    loses more than a third at either end. Parameters as in `rebuild`.
    """
    if not pieces:
        return pieces
    length = chainages(old)[-1]
    rims = [_edge_places(piece, old)[[0, -1]] for piece in pieces]
    cut = np.zeros((len(pieces), 2))
    open_ended = not is_closed(old)  # a ring is closed by a chord
    if open_ended and pieces[0].low <= UPDATE.same_place:
        cut[0, 0] = _room(_aside(pieces[0], rims[0][0], old[0] + start_move, 0), blend)
    if open_ended and pieces[-1].high >= length - UPDATE.same_place:
        cut[-1, 1] = _room(_aside(pieces[-1], rims[-1][1], old[-1] + end_move, 1), blend)
    for number, (first, second) in enumerate(zip(pieces[:-1], pieces[1:])):
        before = rims[number][1] - place_at(old, first.high)
        after = rims[number + 1][0] - place_at(old, second.low)
        room = _room(float(np.hypot(*(after - before)[:2])), blend)
        cut[number, 1] = cut[number + 1, 0] = max(room - (second.low - first.high), 0.0) / 2
    return [_cut_back(piece, *own) for piece, own in zip(pieces, cut)]


def _aside(piece, rim, place, side):
    """Distance of a place from the end of a piece, across the edge there, metres."""
    along = chainages(piece.edge)[-1]
    at = np.clip(piece.edge_high if side else piece.edge_low, 0.0, along)
    a, b = place_at(piece.edge, np.clip([at - UPDATE.chord, at + UPDATE.chord], 0.0, along))[:, :2]
    size = np.hypot(*(b - a))
    if size == 0:
        return 0.0
    (ux, uy), (dx, dy) = (b - a) / size, place[:2] - rim[:2]
    return abs(ux * dy - uy * dx)


def _room(step, blend):
    """Length of the transition that a step needs, metres."""
    return min(step / UPDATE.steepness, blend) if step > UPDATE.touch else 0.0


def _cut_back(piece, at_low, at_high):
    """A piece without its first and last metres."""
    size = piece.high - piece.low
    at_low, at_high = (min(some, size / 3) for some in (at_low, at_high))
    if not (at_low or at_high):
        return piece
    share = (piece.edge_high - piece.edge_low) / size
    return Piece(
        low=piece.low + at_low,
        high=piece.high - at_high,
        edge=piece.edge,
        edge_low=piece.edge_low + share * at_low,
        edge_high=piece.edge_high - share * at_high,
    )


def _edge_places(piece, old):
    """The edge from `edge_low` to `edge_high`, in the direction of the old line, shape (v, 3).

    Heights are those of the old line where the edge has none, and absent where the old line has
    none.
    """
    along = chainages(piece.edge)
    ends = np.clip([piece.edge_low, piece.edge_high], 0.0, along[-1])
    inside = (along > ends.min() + UPDATE.same_place) & (along < ends.max() - UPDATE.same_place)
    at = np.concatenate(
        [ends[:1], np.sort(along[inside])[:: 1 if ends[0] <= ends[1] else -1], ends[1:]]
    )
    places = place_at(piece.edge, at)
    span = max(abs(ends[1] - ends[0]), UPDATE.same_place)
    beside = piece.low + np.abs(at - ends[0]) / span * (piece.high - piece.low)
    height = place_at(old, beside)[:, 2]
    places[:, 2] = np.where(np.isnan(height) | np.isnan(places[:, 2]), height, places[:, 2])
    return places


def _between(old, low, high, move_low, move_high, blend):
    """The old line's vertices between two chainages; the moves of both ends fade away from them."""
    length = high - low
    if length <= UPDATE.same_place:
        return np.zeros((0, 3))
    along = chainages(old)
    move_low, move_high = np.nan_to_num(move_low), np.nan_to_num(move_high)
    moving = [bool(np.any(move != 0)) for move in (move_low, move_high)]
    inner = along[(along > low + UPDATE.same_place) & (along < high - UPDATE.same_place)]
    if not any(moving):
        return old[np.searchsorted(along, inner)]
    # two transitions that would overlap are one
    reach = length if all(moving) and length < 2 * blend else min(blend, length)
    rims = [low + reach] * moving[0] + [high - reach] * moving[1]
    rims = [
        rim for rim in rims if np.abs(along - rim).min() > UPDATE.same_place and low < rim < high
    ]
    at = np.unique(np.concatenate([inner, rims]))
    here = place_at(old, at)
    exact = np.isin(at, inner)
    here[exact] = old[np.searchsorted(along, at[exact])]
    if not reach:
        return here  # no transition: the step stands at the rims
    share_low = np.clip(1 - (at - low) / reach, 0.0, 1.0)[:, None]
    share_high = np.clip(1 - (high - at) / reach, 0.0, 1.0)[:, None]
    return here + share_low * move_low + share_high * move_high


def _without_repeats(xyz):
    """Vertices without those that fall onto the one before; the last one stays."""
    step = np.hypot(*np.diff(xyz[:, :2], axis=0).T)
    keep = np.append(True, step > UPDATE.same_place)
    if not keep[-1] and keep[:-1].sum() > 1:
        keep[np.flatnonzero(keep)[-1]] = False
        keep[-1] = True
    return xyz[keep]


def with_vertex(xyz, place):
    """A line with a vertex added at a point on it.

    Parameters
    ----------
    xyz : ndarray of float, shape (v, 3)
    place : ndarray of float, shape (2,) or (3,)
        On the line but for rounding, metres.

    Returns
    -------
    ndarray of float, shape (v, 3) or (v + 1, 3)
        Unchanged if there is a vertex already.
    """
    if np.hypot(*(xyz[:, :2] - place[:2]).T).min() <= UPDATE.same_place:
        return xyz
    a, b = xyz[:-1, :2], xyz[1:, :2]
    size = np.maximum(((b - a) ** 2).sum(axis=1), 1e-24)
    share = np.clip(((place[:2] - a) * (b - a)).sum(axis=1) / size, 0.0, 1.0)
    segment = int(np.argmin(np.hypot(*(a + share[:, None] * (b - a) - place[:2]).T)))
    height = xyz[segment, 2] + share[segment] * (xyz[segment + 1, 2] - xyz[segment, 2])
    return np.insert(xyz, segment + 1, [place[0], place[1], height], axis=0)
