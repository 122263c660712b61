"""The weighted mean of all walks along the paths of merged edges."""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import cumulative, group_index, offsets_of
from ..arrays.thinning import thin
from ..tuning import PASSES
from .lines import Lines
from .merge_means import (
    SeenPieces,
    at_vertices,
    displaced_vertices,
    far_from,
    fill_along,
    heights_along,
    see_pieces,
    shares_of,
)
from .path_stations import PathShape, PathStations, shape_of, stations_of
from .path_tracing import trace_path


@dataclass(frozen=True)
class MetPaths:
    """Paths as lines with their shape and stations, and what pieces show there.

    `number`: of each of them among all paths; `closed`: it is a ring; both of shape (paths,).
    """

    number: np.ndarray
    lines: Lines
    closed: np.ndarray
    shape: PathShape
    stations: PathStations
    seen: SeenPieces


@dataclass(frozen=True)
class PathMeans:
    """The weighted mean along paths.

    `xyz`, shape (n, 3), metres: vertices, those of path ``k`` from ``starts[k]`` on; `keep`: the
    vertices that are written; `share`, `share_up`: share of each row of `SeenPieces` in plan and in
    height.
    """

    xyz: np.ndarray
    keep: np.ndarray
    starts: np.ndarray
    share: np.ndarray
    share_up: np.ndarray

    def written(self, path):
        """Vertices of a path that are written, shape (m, 3), metres."""
        rows = slice(self.starts[path], self.starts[path + 1])
        return self.xyz[rows][self.keep[rows]]


def meet_paths(ways, number, sigmas, max_offset, progress):
    """Trace paths and meet all pieces along them.

    Parameters
    ----------
    ways : MergePaths
    number : ndarray of int, shape (paths,)
        Those among all paths that several pieces show; at least one.
    sigmas : PieceSigmas
    max_offset : float
        How far apart two walks may lie, metres.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    MetPaths
    """
    pieces, traced = ways.pieces, []
    for place, path in enumerate(number):
        progress(0.2 * place / len(number))
        traced.append(trace_path(pieces.lines, pieces.closed, ways.paths[path]))
    flat = np.concatenate(traced)
    lines = Lines(
        x=flat[:, 0].copy(),
        y=flat[:, 1].copy(),
        z=flat[:, 2].copy(),
        offsets=offsets_of([len(one) for one in traced]),
        line=np.arange(len(number)),
        count=len(number),
        sigma=np.zeros(len(number)),
    )
    closed = np.array([ways.paths[path].closed for path in number])
    shape = shape_of(lines, closed)
    stations = stations_of(lines, shape, max_offset)
    reach = 2 * max_offset
    seen = see_pieces(
        stations, number, ways, sigmas, reach, lambda share: progress(0.2 + 0.8 * share)
    )
    return MetPaths(
        number=number, lines=lines, closed=closed, shape=shape, stations=stations, seen=seen
    )


def average(met, sigmas, blend, tolerance):
    """The weighted mean of what pieces show along their paths.

    Parameters
    ----------
    met : MetPaths
    sigmas : PieceSigmas
    blend : float
        Length over which a walk gains and loses its weight, metres.
    tolerance : float
        Maximum distance between the mean and the line written, metres.

    Returns
    -------
    PathMeans
    """
    seen = met.seen
    agree_up = ~(seen.out | seen.out_up) & np.isfinite(seen.z)
    share, share_up = (
        shares_of(seen, met.stations, met.lines, met.closed, use, sigma, blend)
        for use, sigma in ((~seen.out, sigmas.plan), (agree_up, sigmas.up))
    )
    vertices, at_stations = _positions(met, _mean_offset(met, share), share_up, blend)
    along = cumulative(met.lines.steps(), met.lines.offsets)
    # corners, ends and stations in order along each path
    shape, at = met.shape, met.stations.rays
    extra = shape.corner | (shape.before < 0) | (shape.after < 0)
    part = np.concatenate([group_index(met.lines.offsets)[extra], at.part])
    order = np.lexsort((np.concatenate([along[extra], at.chainage]), part))
    part = part[order]
    xyz = np.concatenate([vertices[extra], at_stations])[order]
    keep = np.concatenate([shape.corner[extra], np.zeros(len(at), bool)])[order]
    starts = np.searchsorted(part, np.arange(len(met.number) + 1))
    keep = _thinned(xyz, keep, starts, part, tolerance)
    return PathMeans(xyz=xyz, keep=keep, starts=starts, share=share, share_up=share_up)


def _mean_offset(met, share):
    """Offset of the mean from the path at its stations, + to the right, metres."""
    seen, at = met.seen, met.stations.rays
    there = np.bincount(seen.station, share, len(at)) > 0
    offset = np.bincount(seen.station, share * seen.offset, len(at))
    return fill_along(offset, there, at.part, at.chainage)


def _positions(met, offset, share_up, blend):
    """Mean positions of the vertices and of the stations of paths, shapes (v, 3) and (n, 3)."""
    seen, lines, shape, at = met.seen, met.lines, met.shape, met.stations.rays
    base = heights_along(lines)
    vertex = shape.vertex[met.stations.segment]
    base_at = base[vertex] + met.stations.local / shape.length[met.stations.segment] * (
        base[vertex + 1] - base[vertex]
    )
    there_up = np.bincount(seen.station, share_up, len(at)) > 0
    height = np.bincount(seen.station, share_up * np.nan_to_num(seen.z), len(at))
    up = fill_along(height - base_at, there_up, at.part, at.chainage)
    up[far_from(there_up, at, blend)] = np.nan
    x, y = displaced_vertices(lines, shape, met.stations, np.nan_to_num(offset))
    z = base + sum(at_vertices(up, met.stations, shape)) / 2
    moved = at.x + offset * at.along_y, at.y - offset * at.along_x, base_at + up
    return np.column_stack([x, y, z]), np.column_stack(moved)


def _thinned(xyz, keep, starts, part, tolerance):
    """Mask of the vertices that are written: those in `keep`, all ends, and what the tolerance
    needs."""
    keep[starts[:-1]] = keep[starts[1:] - 1] = True
    held = np.flatnonzero(keep)
    sections = np.column_stack([held[:-1], held[1:]])[part[held[:-1]] == part[held[1:]]]
    up_tolerance = PASSES.up_tolerance_ratio * tolerance
    return thin(*xyz.T, keep, sections, tolerance, up_tolerance)
