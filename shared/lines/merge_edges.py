"""Edges and passes from the paths of a merge: merged ones, and what one walk alone shows."""

from dataclasses import replace

import numpy as np
import shapely

from .lines import chainages, place_at
from .merge_records import (
    MadeEdge,
    Stretch,
    as_walked,
    lone_edge,
    pass_of,
    stations_of_piece,
)
from .merge_results import MERGED, PASS_STATES, REST, SINGLE
from .path_tracing import with_ends_moved

WHOLE = 1e-6  # metres; nearer than this to its end, a chainage is that of the end


def ends_of(ways, path):
    """Which ends of source parts a path begins and ends with.

    Parameters
    ----------
    ways : MergePaths
    path : MergePath

    Returns
    -------
    ndarray of int, shape (2, 2)
        For its start and its end: the part and which of its ends it is (0 start, 1 end); -1 where
        the path begins or ends inside a walk, or is a ring.
    """
    out = np.full((2, 2), -1)
    if path.closed:
        return out
    pieces, (first, start, _), (last, _, stop) = ways.pieces, path.chain[0], path.chain[-1]
    for side, (piece, at) in enumerate(((first, start), (last, stop))):
        end = 0 if abs(at) < WHOLE else 1 if abs(at - ways.length[piece]) < WHOLE else -1
        if end >= 0 and pieces.whole[piece]:
            out[side] = pieces.part[piece], end ^ int(pieces.backwards[piece])
    return out


def alone(ways, number, sigmas):
    """The edge of a path that only one walk shows, and the pass of that walk.

    Parameters
    ----------
    ways : MergePaths
    number : int
        Of the path.
    sigmas : PieceSigmas

    Returns
    -------
    MadeEdge
    MadePass
    """
    path, pieces = ways.paths[number], ways.pieces
    ((piece, start, stop),) = path.chain
    stretch = Stretch(piece, start, stop)
    whole = pieces.whole[piece] and stop - start >= ways.length[piece] - WHOLE
    turn = -1 if pieces.backwards[piece] else 1
    state = SINGLE if whole and max(path.attached) < 0 else REST
    edge = lone_edge(
        pieces,
        sigmas,
        piece,
        xyz=as_walked(pieces, stretch),
        state=state,
        unchanged=int(pieces.part[piece]) if state == SINGLE else -1,
        closed=bool(path.closed),
        ends=ends_of(ways, path)[::turn],
        attached=tuple(path.attached[::turn]),
    )
    return edge, pass_of(ways, stretch, number, PASS_STATES[state])


def merged(ways, number, xyz, walks, place, figures):
    """A merged edge and the passes of its walks. It runs the way that most of its walks ran.

    Parameters
    ----------
    ways : MergePaths
    number : int
        Of the path.
    xyz : ndarray of float, shape (n, 3)
        Mean along the path, metres.
    walks : list of PieceOnPath
        Its walks.
    place : int
        Of the path in the figures.
    figures : PathFigures

    Returns
    -------
    MadeEdge
    list of MadePass
    """
    path = ways.paths[number]
    turn = sum(one.along * _forward(ways, one) for one in walks) < 0
    sign = -1 if turn else 1
    edge = MadeEdge(
        xyz=xyz[::sign],
        state=MERGED,
        passes=len(walks),
        closed=bool(path.closed),
        ends=ends_of(ways, path)[::sign],
        attached=tuple(path.attached[::sign]),
        scale=float(ways.pieces.lines.scale[path.chain[0][0]]),
        turned=turn,
        **{name: float(values[place]) for name, values in vars(figures).items()},
    )
    return edge, [_merged_pass(ways, number, one, sign) for one in walks]


def _merged_pass(ways, number, one, sign):
    """The pass of a walk of a merged edge; `sign`: -1 if the edge runs against its path."""
    rows = stations_of_piece(ways.rays, one.piece)
    own = np.flatnonzero(ways.owner[rows] == number)
    weight = float(ways.rays.weight[rows.start])
    return pass_of(
        ways,
        Stretch(one.piece, own[0] * weight, (own[-1] + 1) * weight),
        number,
        PASS_STATES[MERGED],
        same=_forward(ways, one) == sign,
        shown=replace(one.differences, offset_mean=sign * one.differences.offset_mean),
    )


def _forward(ways, one):
    """1 if the walk, in its own direction, runs along the path, -1 if against it."""
    return (1 if one.same else -1) * (-1 if ways.pieces.backwards[one.piece] else 1)


def attach(edges, max_offset, blend, check_cancel):
    """Move the ends of edges that branch off onto the edge that they leave, in place.

    Parameters
    ----------
    edges : list of MadeEdge
        Of all paths, in their order.
    max_offset : float
        How far apart two walks of one edge may lie, metres.
    blend : float
        Length over which the move fades, metres.
    check_cancel : callable
        Called before each move; may raise.
    """
    for number, edge in enumerate(edges):
        targets = [
            edges[path].xyz if path >= 0 and path != number else None for path in edge.attached
        ]
        if any(target is not None for target in targets):
            check_cancel()
            edges[number] = replace(edge, xyz=led_onto(edge.xyz, targets, max_offset, blend))


def led_onto(xyz, targets, max_offset, blend):
    """A line whose ends are moved onto other lines; the move fades over the blend length or a third
    of its own length.

    Parameters
    ----------
    xyz : ndarray of float, shape (n, 3)
        Metres.
    targets : pair of ndarray of float, shape (m, 3)
        For the start and the end; None: the end stays.
    max_offset, blend : float
        Metres; an end that is more than twice `max_offset` away stays.

    Returns
    -------
    ndarray of float, shape (k, 3)
    """
    vectors = []
    for end, target in zip((xyz[0], xyz[-1]), targets):
        vectors.append(None)
        if target is not None:
            with np.errstate(invalid="ignore"):  # GEOS leaves the flag set
                along = float(
                    shapely.line_locate_point(
                        shapely.linestrings(target[:, :2]), shapely.points(end[:2])
                    )
                )
            vector = place_at(target, along) - end
            if np.hypot(*vector[:2]) <= 2 * max_offset:  # else it is another edge
                vectors[-1] = vector
    return with_ends_moved(xyz, min(blend, chainages(xyz)[-1] / 3), *vectors)
