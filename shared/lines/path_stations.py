"""Segments of paths, and the stations on them at which walks are averaged."""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import cumulative, group_index, offsets_of, place_in_group
from ..tuning import OVERLAPS, PASSES
from .rays import Rays


@dataclass(frozen=True)
class PathStations:
    """Stations along paths: inside segments, where they stand for a length, and at vertices that
    are not corners.

    `segment`: that each station lies on; `local`: how far along it, metres; `first`, `last`: first
    and last station inside each segment.
    """

    rays: Rays
    segment: np.ndarray
    local: np.ndarray
    first: np.ndarray
    last: np.ndarray


@dataclass(frozen=True)
class PathShape:
    """Segments and vertices of paths.

    Of each segment: the `vertex` that it starts at, its `length` in metres, its unit direction
    `ux`, `uy`. Of each vertex: the segments `before` and `after` it (-1 for none; the first and
    last vertex of a ring have both), and whether it is a `corner`.
    """

    vertex: np.ndarray
    length: np.ndarray
    ux: np.ndarray
    uy: np.ndarray
    before: np.ndarray
    after: np.ndarray
    corner: np.ndarray


def shape_of(lines, closed):
    """Segments and corners of paths.

    Parameters
    ----------
    lines : Lines
        The paths.
    closed : ndarray of bool, shape (paths,)

    Returns
    -------
    PathShape
    """
    step = lines.steps()
    last = np.zeros(len(step), bool)
    last[lines.offsets[1:] - 1] = True
    vertex = np.flatnonzero(~last)
    dx, dy = lines.x[vertex + 1] - lines.x[vertex], lines.y[vertex + 1] - lines.y[vertex]
    length = np.maximum(step[vertex], 1e-12)
    ux, uy = dx / length, dy / length
    after, before = np.full(len(step), -1), np.full(len(step), -1)
    after[vertex] = np.arange(len(vertex))
    before[vertex + 1] = np.arange(len(vertex))
    a, b = lines.offsets[:-1][closed], lines.offsets[1:][closed] - 1
    before[a], after[b] = before[b], after[a]
    inner = (before >= 0) & (after >= 0)
    cosine = np.ones(len(step))
    cosine[inner] = ux[before[inner]] * ux[after[inner]] + uy[before[inner]] * uy[after[inner]]
    return PathShape(vertex, length, ux, uy, before, after, cosine < PASSES.corner_cosine)


# long: a third of it is the record of the stations
def stations_of(lines, shape, clear):
    """Stations along paths, clear of corners, where the legs of walks cross.

    Parameters
    ----------
    lines : Lines
        The paths.
    shape : PathShape
    clear : float
        Distance kept from corners, metres.

    Returns
    -------
    PathStations
    """
    start, stop = (
        np.where(shape.corner[shape.vertex + end], np.minimum(clear, shape.length / 3), 0.0)
        for end in (0, 1)
    )
    room = shape.length - start - stop
    number = np.maximum(np.ceil(room / OVERLAPS.spacing), 1).astype(np.int64)
    first = offsets_of(number)
    segment = group_index(first)
    local = start[segment] + (place_in_group(first) + 0.5) * (room / number)[segment]
    vertex = shape.vertex[segment]
    share = local / shape.length[segment]
    of_vertex, chainage = group_index(lines.offsets), cumulative(lines.steps(), lines.offsets)

    def place(values):
        return values[vertex] + share * (values[vertex + 1] - values[vertex])

    smooth = np.flatnonzero((shape.before >= 0) & (shape.after >= 0) & ~shape.corner)
    ux, uy = (
        axis[shape.before[smooth]] + axis[shape.after[smooth]] for axis in (shape.ux, shape.uy)
    )
    size = np.hypot(ux, uy)

    def both(inside, at):
        return np.concatenate([inside, at])

    part, along = (
        both(of_vertex[vertex], of_vertex[smooth]),
        both(chainage[vertex] + local, chainage[smooth]),
    )
    order = np.lexsort((along, part))
    rank = np.empty(len(order), np.int64)
    rank[order] = np.arange(len(order))
    # no segment starts at the last vertex of a ring: it lies at the end of the one before
    last = np.zeros(len(of_vertex), bool)
    last[lines.offsets[1:] - 1] = True
    on = np.where(last[smooth], shape.before[smooth], shape.after[smooth])
    rays = Rays(
        part=part[order],
        chainage=along[order],
        weight=both((shape.length / number)[segment], np.zeros(len(smooth)))[order],
        x=both(place(lines.x), lines.x[smooth])[order],
        y=both(place(lines.y), lines.y[smooth])[order],
        z=both(place(lines.z), lines.z[smooth])[order],
        along_x=both(shape.ux[segment], ux / size)[order],
        along_y=both(shape.uy[segment], uy / size)[order],
        first=np.searchsorted(part[order], np.arange(len(lines.offsets))),
    )
    return PathStations(
        rays=rays,
        segment=both(segment, on)[order],
        local=both(local, np.where(last[smooth], shape.length[on], 0.0))[order],
        first=rank[first[:-1]],
        last=rank[first[1:] - 1],
    )
