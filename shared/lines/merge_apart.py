"""Stretches of walks that disagree with the others of their path: listed, and those that disagree
in plan become edges of their own."""

import numpy as np

from ..tuning import PASSES
from .merge_edges import led_onto
from .merge_records import Made, Stretch, listed_of, lone_edge, pass_of
from .merge_results import APART, PASS_STATES
from .pieces import extract


def list_apart(met, ways, edges, sigmas, max_offset, blend):
    """List stretches that disagree with the others.

    Parameters
    ----------
    met : MetPaths
    ways : MergePaths
    edges : list of MadeEdge
        Of all paths, in their order.
    sigmas : PieceSigmas
    max_offset : float
        How far apart two walks of one edge may lie, metres.
    blend : float
        Length over which an edge of its own leaves the merged one, metres.

    Returns
    -------
    Made
        Its edges follow `edges`.
    """
    made = Made()
    for reason, flag in (("plan", met.seen.out), ("height", met.seen.out_up)):
        for run in _runs(met, np.flatnonzero(flag)):
            path = int(met.number[met.stations.rays.part[met.seen.station[run[0]]]])
            stretch = _stretch_of(met.seen, ways, run)
            own = -1
            if reason == "plan" and stretch.stop - stretch.start >= PASSES.min_edge:
                own = len(edges) + len(made.edges)
                made.edges.append(
                    _edge_apart(ways, sigmas, stretch, edges[path].xyz, max_offset, blend)
                )
                made.passes.append(pass_of(ways, stretch, own, PASS_STATES[APART]))
            made.listed.append(
                _listed_run(met.seen, ways.pieces, stretch, run, reason, (path, own), edges[path])
            )
    return made


def _runs(met, rows):
    """Runs of rows of what was seen: one piece at stations that follow each other on one path."""
    if not len(rows):
        return []
    seen, rays = met.seen, met.stations.rays
    broken = (
        (np.diff(rows) > 1)
        | (np.diff(seen.piece[rows]) != 0)
        | (np.diff(seen.station[rows]) != 1)
        | (np.diff(rays.part[seen.station[rows]]) != 0)
    )
    return np.split(rows, np.flatnonzero(broken) + 1)


def _listed_run(seen, pieces, stretch, run, reason, edges, merged):
    """The disagreement of a run of rows; `edges`: numbers of the merged edge and of its own."""
    sign = -1.0 if merged.turned else 1.0
    return listed_of(
        pieces,
        stretch,
        edges,
        reason,
        offset=sign * seen.from_others[run],
        up=seen.up_from_others[run],
        allowed=(float(np.mean(seen.limit[run])), _mean(seen.limit_up[run])),
    )


def _stretch_of(seen, ways, run):
    """The stretch of a piece that a run of rows stands for."""
    piece = int(seen.piece[run[0]])
    ring, size = bool(ways.pieces.closed[piece]), float(ways.length[piece])
    low, high = sorted((seen.chainage[run[0]], seen.chainage[run[-1]]))
    if ring and high - low > size / 2:  # over the seam
        low, high = high, low + size
    half = ways.weight(piece) / 2
    if ring:
        return Stretch(piece, low - half, high + half)
    return Stretch(piece, max(low - half, 0.0), min(high + half, size))


def _edge_apart(ways, sigmas, stretch, target, max_offset, blend):
    """An edge of a stretch as walked, led from the merged edge and back to it on either side."""
    pieces, piece = ways.pieces, stretch.piece
    ring, size = bool(pieces.closed[piece]), float(ways.length[piece])
    start, stop = stretch.start - blend, stretch.stop + blend
    if not ring:
        start, stop = max(start, 0.0), min(stop, size)
    targets = (
        target if ring or start > 0.0 else None,
        target if ring or stop < size else None,
    )
    xyz = led_onto(extract(pieces.lines, piece, start, stop, ring), targets, max_offset, blend)
    return lone_edge(
        pieces,
        sigmas,
        piece,
        xyz=xyz[::-1] if pieces.backwards[piece] else xyz,
        state=APART,
        closed=False,
        ends=np.full((2, 2), -1),
    )


def _mean(values):
    """Mean of the finite values, NaN for none."""
    values = values[np.isfinite(values)]
    return float(values.mean()) if len(values) else np.nan
