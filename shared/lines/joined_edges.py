"""What joined edges are like: lengths, uncertainties, moves, and the islands that rings bound."""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import group_sum, offsets_of, place_in_group, ranges
from .joins import ring_area


@dataclass(frozen=True)
class JoinedValues:
    """Values of each joined edge.

    Attributes
    ----------
    scale : ndarray of float, shape (edges,)
        Scale factor of the frame, the mean over the length.
    length : ndarray of float, shape (edges,)
        On the ground, metres.
    moved : ndarray of float, shape (edges,)
        Greatest distance that one of its ends was moved, metres; 0 where none was.
    sigma, sigma_up : ndarray of float, shape (edges,)
        1-sigma across and in height, the root of the mean square over the length, metres; NaN where
        no part has one.
    """

    scale: np.ndarray
    length: np.ndarray
    moved: np.ndarray
    sigma: np.ndarray
    sigma_up: np.ndarray


@dataclass(frozen=True)
class Islands:
    """Areas that joined edges bound, one ring each.

    Attributes
    ----------
    edge : ndarray of int, shape (rings,)
    area : ndarray of float, shape (rings,)
        On the ground, in plan, square metres.
    vertex : ndarray of int, shape (v,)
        Vertices of the joined edges, ring by ring, counter-clockwise.
    offsets : ndarray of int, shape (rings + 1,)
    unsound : ndarray of int, shape (u,)
        Closed edges that cross or touch themselves and bound no area.
    """

    edge: np.ndarray
    area: np.ndarray
    vertex: np.ndarray
    offsets: np.ndarray
    unsound: np.ndarray


def values_of(lines, sigma_up, joined):
    """Values of joined edges.

    Parameters
    ----------
    lines : Lines
        The edges that were joined.
    sigma_up : ndarray of float, shape (lines.count,)
        1-sigma of their heights, metres; 0 where nothing is known.
    joined : Joined

    Returns
    -------
    JoinedValues
    """
    part, offsets = joined.part, joined.part_offsets
    weight = lines.length()[part]
    scale = group_sum(weight * lines.scale[part], offsets) / group_sum(weight, offsets)
    step = np.append(np.hypot(np.diff(joined.x), np.diff(joined.y)), 0.0)
    step[joined.offsets[1:] - 1] = 0.0

    def mean(sigma):
        known = sigma[part] > 0
        with np.errstate(invalid="ignore"):
            return np.sqrt(
                group_sum(np.where(known, weight * sigma[part] ** 2, 0), offsets)
                / group_sum(np.where(known, weight, 0), offsets)
            )

    moved = np.zeros(len(joined))
    made = joined.changes.edge >= 0
    np.maximum.at(moved, joined.changes.edge[made], joined.changes.moved[made])
    return JoinedValues(
        scale=scale,
        length=group_sum(step, joined.offsets) / scale,
        moved=moved,
        sigma=mean(lines.sigma),
        sigma_up=mean(sigma_up),
    )


def find_islands(joined, scale):
    """Areas that closed edges bound; rings within rings make no holes.

    Parameters
    ----------
    joined : Joined
    scale : ndarray of float, shape (edges,)
        Scale factor of the frame where each edge lies.

    Returns
    -------
    Islands
    """
    import shapely

    size = np.diff(joined.offsets)
    rings = np.flatnonzero(joined.closed & (size > 3))
    vertex, offsets = ranges(joined.offsets[rings], size[rings]), offsets_of(size[rings])
    ring = np.repeat(np.arange(len(rings)), size[rings])
    shapes = np.zeros(0, object)
    if len(rings):
        places = np.column_stack([joined.x, joined.y])[vertex]
        shapes = shapely.polygons(shapely.linearrings(places, indices=ring))
    sound = shapely.is_valid(shapes)
    area = ring_area(joined.x[vertex], joined.y[vertex], offsets)
    backwards = (joined.offsets[1:][rings] - 1)[ring] - place_in_group(offsets)
    vertex = np.where(area[ring] < 0, backwards, vertex)[sound[ring]]
    kept = rings[sound]
    return Islands(
        edge=kept,
        area=np.abs(area[sound]) / scale[kept] ** 2,
        vertex=vertex,
        offsets=offsets_of(size[kept]),
        unsound=rings[~sound],
    )
