"""Edges, passes and disagreements of a merge, a record each, in the order in which they are
found."""

from dataclasses import dataclass, field

import numpy as np

from .merge_figures import Differences
from .merge_results import PASS_STATES, REASONS
from .pieces import extract


@dataclass(frozen=True)
class Stretch:
    """A stretch of a piece between two chainages, metres."""

    piece: int
    start: float
    stop: float


@dataclass(frozen=True)
class MadeEdge:
    """An edge; metres of the local frame, see `MergedEdges`.

    `xyz`, shape (n, 3); `scale`: of the frame where it lies; `attached`: numbers of the edges that
    its start and end branch off from, -1 for none; `turned`: it runs against its path.
    """

    xyz: np.ndarray
    state: int
    sigma: float
    sigma_up: float
    closed: bool
    ends: np.ndarray
    scale: float
    unchanged: int = -1
    passes: int = 1
    shared: float = 0.0
    repeatability: float = np.nan
    repeatability_up: float = np.nan
    attached: tuple = (-1, -1)
    turned: bool = False


@dataclass(frozen=True)
class MadePass:
    """What became of a stretch of a walk, as a row of `Passes`."""

    edge: int
    part: int
    state: int
    start: float
    stop: float
    same: bool
    shared: float
    offset_mean: float
    offset_rms: float
    up_mean: float
    up_rms: float


@dataclass(frozen=True)
class Listed:
    """A disagreement, as a row of `Disagreements`; `xyz`, shape (n, 3)."""

    xyz: np.ndarray
    edge: int
    own: int
    part: int
    reason: int
    length: float
    offset_mean: float
    offset_max: float
    up_mean: float
    up_max: float
    allowed: float
    allowed_up: float


@dataclass
class Made:
    """What a merge has made so far: lists of `MadeEdge`, `MadePass` and `Listed`."""

    edges: list = field(default_factory=list)
    passes: list = field(default_factory=list)
    listed: list = field(default_factory=list)

    def add(self, other):
        """Append what another one holds."""
        self.edges += other.edges
        self.passes += other.passes
        self.listed += other.listed


def stations_of_piece(rays, piece):
    """Stations of a piece.

    Parameters
    ----------
    rays : Rays
    piece : int

    Returns
    -------
    slice
    """
    return slice(rays.first[piece], rays.first[piece + 1])


def as_walked(pieces, stretch):
    """Vertices of a stretch in the direction of the walk.

    Parameters
    ----------
    pieces : Pieces
    stretch : Stretch

    Returns
    -------
    ndarray of float, shape (n, 3)
        Metres.
    """
    piece = stretch.piece
    xyz = extract(
        pieces.lines, piece, stretch.start, stretch.stop, closed=bool(pieces.closed[piece])
    )
    return xyz[::-1] if pieces.backwards[piece] else xyz


def lone_edge(pieces, sigmas, piece, **values):
    """An edge that one walk shows.

    Parameters
    ----------
    pieces : Pieces
    sigmas : PieceSigmas
    piece : int
    **values
        The other fields of `MadeEdge`.

    Returns
    -------
    MadeEdge
        With the sigmas of the piece, that of the heights only if it has any.
    """
    lines = pieces.lines
    has_z = np.isfinite(lines.z[lines.offsets[piece]])
    return MadeEdge(
        sigma=sigmas.plan[piece],
        sigma_up=sigmas.up[piece] if has_z else np.nan,
        scale=float(lines.scale[piece]),
        **values,
    )


def pass_of(ways, stretch, edge, state, same=True, shown=None, part=None):
    """What became of a stretch of a walk.

    Parameters
    ----------
    ways : MergePaths
    stretch : Stretch
    edge : int
        That it is in, -1 for none.
    state : str
        One of `PASS_STATES`.
    same : bool
        It ran in the direction of the edge.
    shown : Differences, optional
        From the other walks of the edge; None without others.
    part : int, optional
        Part of the source; None for that of the piece.

    Returns
    -------
    MadePass
        Lengths in metres on the ground.
    """
    pieces, piece = ways.pieces, stretch.piece
    shown = shown or Differences()
    low, high = stretch.start, stretch.stop
    if pieces.backwards[piece]:
        length = ways.length[piece]
        low, high = length - stretch.stop, length - stretch.start
    scale = float(pieces.lines.scale[piece])
    begin = pieces.start[piece]
    return MadePass(
        edge=edge,
        part=int(pieces.part[piece]) if part is None else part,
        state=PASS_STATES.index(state),
        start=(begin + low) / scale,
        stop=(begin + high) / scale,
        same=bool(same),
        shared=shown.shared / scale,
        offset_mean=shown.offset_mean / scale,
        offset_rms=shown.offset_rms / scale,
        up_mean=shown.up_mean,
        up_rms=shown.up_rms,
    )


def listed_of(pieces, stretch, edges, reason, offset, up, allowed):
    """A disagreement.

    Parameters
    ----------
    pieces : Pieces
    stretch : Stretch
    edges : pair of int
        Number of the edge that it differs from, and of the one it is in, -1 for none.
    reason : str
        One of `REASONS`.
    offset, up : ndarray of float, shape (n,), shape (m,)
        Differences along it in plan and in height, metres; NaN where unknown.
    allowed : pair of float
        Differences allowed in plan and in height, metres.

    Returns
    -------
    Listed
    """
    (offset_mean, offset_max), (up_mean, up_max) = map(_mean_and_most, (offset, up))
    return Listed(
        xyz=as_walked(pieces, stretch),
        edge=edges[0],
        own=edges[1],
        part=int(pieces.part[stretch.piece]),
        reason=REASONS.index(reason),
        length=(stretch.stop - stretch.start) / float(pieces.lines.scale[stretch.piece]),
        offset_mean=offset_mean,
        offset_max=offset_max,
        up_mean=up_mean,
        up_max=up_max,
        allowed=allowed[0],
        allowed_up=allowed[1],
    )


def _mean_and_most(values):
    """Mean of the finite values and, with its sign, the one farthest from 0; NaN for none."""
    values = values[np.isfinite(values)]
    return (
        (float(values.mean()), float(values[np.argmax(np.abs(values))]))
        if len(values)
        else (np.nan, np.nan)
    )
