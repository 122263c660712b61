"""Walks that lie within reach of each other but belong to two edges: listed."""

from collections import Counter
from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import offsets_from_starts, stretch_starts
from ..tuning import CROWDS, OVERLAPS
from .merge_records import Stretch, listed_of, stations_of_piece
from .merge_results import MERGED
from .overlaps import runs_of
from .significance import limit_of


def main_paths(ways):
    """Path that most stations of each piece belong to.

    Parameters
    ----------
    ways : MergePaths

    Returns
    -------
    ndarray of int, shape (p,)
        -1 for none; of equally many stations the path with the lowest number.
    """
    out = np.full(len(ways.pieces), -1)
    order = np.lexsort((ways.owner, ways.rays.part))
    part, owner = ways.rays.part[order], ways.owner[order]
    first = np.flatnonzero(stretch_starts(part, owner))
    number = np.diff(np.append(first, len(order)))
    # the last one written stays: that with the most stations, and of equals the first
    rising = first[np.lexsort((-owner[first], number))]
    out[part[rising]] = owner[rising]
    return np.maximum(out, -1)


def list_others(ways, laid, sigmas, made, main, check_cancel):
    """List pieces that lie within reach of each other but show two edges.

    Each piece is listed once next to an edge, however many walks that has, and in a crowd next to a
    few edges only.

    Parameters
    ----------
    ways : MergePaths
    laid : Laid
    sigmas : PieceSigmas
    made : Made
        All edges and passes but those of copies.
    main : ndarray of int, shape (p,)
        See `main_paths`.
    check_cancel : callable
        Called before each pair that is listed; may raise.

    Returns
    -------
    list of Listed
    """
    pairs = _pairs(ways, laid)
    allowed = _allowed(sigmas, pairs.own, pairs.other)
    senses = _senses(made.passes)
    out, listed, count = [], set(), Counter()
    for place in np.lexsort((pairs.other, pairs.own, -np.diff(pairs.starts))).tolist():
        own, other = int(pairs.own[place]), int(pairs.other[place])
        edge, beside = int(main[own]), int(main[other])
        # a third walk may show that they belong together
        if edge == beside or (own, beside) in listed or count[own] == CROWDS.most_listed:
            continue
        check_cancel()
        listed.add((own, beside))
        count[own] += 1
        rows = pairs.rows[pairs.starts[place] : pairs.starts[place + 1]]
        against = _runs_against(ways.pieces, other, made.edges, beside, senses)
        sign = -1.0 if against else 1.0
        for stretch, offset, up in _differences(ways, laid, own, rows):
            out.append(
                listed_of(
                    ways.pieces,
                    stretch,
                    (beside, edge),
                    "other_edge",
                    offset=sign * offset,
                    up=up,
                    allowed=allowed[place],
                )
            )
    return out


@dataclass(frozen=True)
class _Pairs:
    """Pieces next to each other that are not walks of one edge, each pair once, by the shorter one:
    pair ``k`` has the rows of `Laid` ``rows[starts[k]:starts[k + 1]]``."""

    own: np.ndarray
    other: np.ndarray
    rows: np.ndarray
    starts: np.ndarray


def _pairs(ways, laid):
    """Pairs of pieces from the rows that are not of one edge: `_Pairs`."""
    rows = np.flatnonzero(~laid.fine)
    own, other = ways.rays.part[laid.station[rows]], laid.other[rows]
    shorter = own > other  # pieces are numbered from the longest on
    rows, own, other = rows[shorter], own[shorter], other[shorter]
    order = np.lexsort((rows, other, own))
    rows, own, other = rows[order], own[order], other[order]
    starts = offsets_from_starts(stretch_starts(own, other))
    return _Pairs(own=own[starts[:-1]], other=other[starts[:-1]], rows=rows, starts=starts)


def _allowed(sigmas, own, other):
    """Differences allowed between pairs of pieces in plan and in height, metres."""
    plan, up = (
        np.maximum(limit_of(sigmas.confidence, sigma[own], sigma[other]), least)
        for sigma, least in (
            (sigmas.plan, OVERLAPS.min_difference),
            (sigmas.up, OVERLAPS.min_difference_up),
        )
    )
    return np.column_stack([plan, up]).tolist()


def _differences(ways, laid, piece, rows):
    """Stretches of a piece next to another one, and how far it is off it, + to the right of the
    other in its own direction, and in height; `rows`: of `laid`."""
    rays, length = ways.rays, float(ways.length[piece])
    own = stations_of_piece(rays, piece)
    place = laid.station[rows] - own.start
    flag = np.zeros(own.stop - own.start, bool)
    flag[place] = True
    for first, last, start, stop in runs_of(
        flag,
        rays.chainage[own],
        float(rays.weight[own.start]),
        length,
        bool(ways.pieces.closed[piece]),
    ):
        part = rows[(place - first) % len(flag) <= last - first]
        # the other piece lies to the right by `offset`, so this one to the left of it
        offset = -laid.offset[part] * np.where(laid.same[part], 1.0, -1.0)
        yield Stretch(piece, start, stop), offset, -laid.up[part]


def _senses(passes):
    """By edge and part of the source: whether the first pass runs along the edge."""
    senses = {}
    for one in passes:
        senses.setdefault((one.edge, one.part), one.same)
    return senses


def _runs_against(pieces, piece, edges, edge, senses):
    """Whether a piece runs against the edge that it is in, or without a merged one against its
    part of the source."""
    backwards = bool(pieces.backwards[piece])
    if edge < 0 or edges[edge].state != MERGED:
        return backwards
    same = senses.get((edge, int(pieces.part[piece])))
    return same is not None and same == backwards
