"""Junctions of a layer of lines: shared ends, and ends that lie on another line."""

from dataclasses import dataclass

import numpy as np
import shapely
from scipy.sparse import coo_matrix
from scipy.sparse.csgraph import connected_components
from scipy.spatial import cKDTree

from ..tuning import UPDATE


@dataclass(frozen=True)
class Nodes:
    """Nodes: ends of the parts of a layer, those at one place taken as one.

    Attributes
    ----------
    of_end : ndarray of int, shape (parts, 2)
        Node of the start and of the end of each part.
    place : ndarray of float, shape (nodes, 2)
        Metres.
    host : ndarray of int, shape (nodes,)
        Part that the node lies on without being its end, -1 for none.
    host_chainage : ndarray of float, shape (nodes,)
        Chainage of the node along its host, metres; NaN for none.
    """

    of_end: np.ndarray
    place: np.ndarray
    host: np.ndarray
    host_chainage: np.ndarray

    def __len__(self):
        return len(self.place)


def find_nodes(lines, shapes):
    """Find the junctions of a layer.

    Parameters
    ----------
    lines : Lines
        Parts of two vertices and more.
    shapes : ndarray of shapely LineString, shape (parts,)
        The same parts.

    Returns
    -------
    Nodes
        Ends within `UPDATE.touch` of each other are one node; its host is the nearest part that
        passes as close to it.
    """
    first, last = lines.offsets[:-1], lines.offsets[1:] - 1
    ends = np.column_stack([first, last]).ravel()
    xy = np.column_stack([lines.x[ends], lines.y[ends]])
    if not len(xy):
        none = np.zeros(0)
        return Nodes(np.zeros((0, 2), np.int64), np.zeros((0, 2)), none.astype(np.int64), none)
    pairs = cKDTree(xy).query_pairs(UPDATE.touch, output_type="ndarray")
    graph = coo_matrix((np.ones(len(pairs)), pairs.T), shape=(len(xy), len(xy)))
    count, node = connected_components(graph, directed=False)
    number = np.bincount(node, minlength=count)
    place = np.column_stack([np.bincount(node, axis, count) / number for axis in xy.T])
    host, host_chainage = _hosts(place, node.reshape(-1, 2), shapes)
    return Nodes(node.reshape(-1, 2), place, host, host_chainage)


def _hosts(place, of_end, shapes):
    """Host of each node, and the chainage along it."""
    host, chainage = np.full(len(place), -1, np.int64), np.full(len(place), np.nan)
    points = shapely.points(place)
    boxes = shapely.box(*(place - UPDATE.touch).T, *(place + UPDATE.touch).T)
    node, part = shapely.STRtree(shapes).query(boxes)
    other = (of_end[part] != node[:, None]).all(axis=1)
    node, part = node[other], part[other]
    away = shapely.distance(points[node], shapes[part])
    order = np.lexsort((part, -away))
    order = order[away[order] <= UPDATE.touch]
    host[node[order]] = part[order]  # the nearest comes last
    inside = np.flatnonzero(host >= 0)
    chainage[inside] = shapely.line_locate_point(shapes[host[inside]], points[inside])
    return host, chainage


def corner_of(first, second, near, reach):
    """Where two edges meet, or would meet if they were extended.

    Parameters
    ----------
    first, second : ndarray of float, shape (v, 3)
        Edges, metres.
    near : tuple of ndarray of float, shape (2,)
        The place on each edge that the corner is sought from.
    reach : float
        How far from both the corner may lie, metres.

    Returns
    -------
    ndarray of float, shape (2,), or None
        None if they are nearly parallel or meet too far away.
    """
    a, b = _direction(first, near[0]), _direction(second, near[1])
    sine = a[0] * b[1] - a[1] * b[0]
    if abs(sine) < np.sin(np.radians(UPDATE.least_corner)):
        return None
    gap = near[1] - near[0]
    along = (gap[0] * b[1] - gap[1] * b[0]) / sine
    corner = near[0] + along * a
    far = max(np.hypot(*(corner - near[0])), np.hypot(*(corner - near[1])))
    return corner if far <= reach else None


def _direction(edge, place):
    """Unit direction of an edge over some metres about a place on it."""
    away = np.hypot(*(edge[:, :2] - place).T)
    shape = shapely.LineString(edge[:, :2])
    at = shapely.line_locate_point(shape, shapely.points(place))
    low, high = max(at - UPDATE.chord, 0.0), min(at + UPDATE.chord, shape.length)
    a, b = (shapely.get_coordinates(shape.interpolate(where))[0] for where in (low, high))
    size = np.hypot(*(b - a))
    return (b - a) / size if size > 0 else (edge[-1, :2] - edge[0, :2]) / max(away.max(), 1e-12)
