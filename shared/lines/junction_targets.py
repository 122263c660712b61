"""New places of the junctions at which redrawn lines end."""

from dataclasses import dataclass

import numpy as np

from ..tuning import UPDATE
from .lines import is_closed
from .linestrings import nearest_place
from .nodes import corner_of


@dataclass(frozen=True)
class Targets:
    """Where junctions go.

    Attributes
    ----------
    place : dict of int to ndarray of float, shape (2,)
        New place by node, metres.
    stays : set of int
        Nodes that keep their place because others would have to follow too far.
    """

    place: dict
    stays: set


def find_targets(layers, stretches, rings, follow, check_cancel):
    """Find the new places of the junctions at the ends of redrawn lines.

    Parameters
    ----------
    layers : UpdateLayers
    stretches : Stretches
        Those that are redrawn.
    rings : dict of int to Piece
        Rings that a closed edge replaces as a whole, by part.
    follow : float
        How far the end of an untouched neighbour may move with a junction, metres.
    check_cancel : callable
        Called for every junction; may raise.

    Returns
    -------
    Targets
    """
    rows, ends = np.nonzero(np.column_stack([stretches.at_start, stretches.at_end]))
    wanted = {}
    for row, node in zip(rows.tolist(), layers.nodes.of_end[stretches.part[rows], ends].tolist()):
        wanted.setdefault(node, []).append(row)
    untouched = np.ones(layers.nodes.of_end.shape, bool)
    untouched[stretches.part[rows], ends] = False
    followed = set(layers.nodes.of_end[untouched].tolist())
    targets = Targets({}, set())
    for node, rows_there in wanted.items():
        check_cancel()
        ring = _ring_of(rings, stretches.part[rows_there])
        place = _target(layers, stretches, node, rows_there) if ring is None else ring.edge[0, :2]
        if node in followed and np.hypot(*(place - layers.nodes.place[node])) > follow:
            targets.stays.add(node)
        else:
            targets.place[node] = place
    return targets


def _ring_of(rings, parts):
    """The ring that is replaced as a whole if all parts at a junction are this one, else None."""
    return rings.get(int(parts[0])) if (parts == parts[0]).all() else None


def _target(layers, stretches, node, rows):
    """New place of a junction: on its edge, or at the corner of two."""
    feet = [_foot(layers, stretches, node, row) for row in rows]
    parts = stretches.edge_part[rows].tolist()
    several = list(dict.fromkeys(parts))
    edges = [layers.edges[part] for part in several]
    if len(several) == 2:
        near = tuple(feet[parts.index(part)] for part in several)
        corner = corner_of(*edges, near, layers.comparison.settings.max_offset)
        if corner is not None:
            return corner
    middle = np.array(feet).mean(axis=0)
    return _beside(edges[0], middle) if len(several) == 1 else middle


def _foot(layers, stretches, node, row):
    """Where the edge of a stretch lies beside a junction: the last station at that end shows it."""
    at_start = layers.nodes.of_end[stretches.part[row], 0] == node and stretches.at_start[row]
    station = (stretches.first if at_start else stretches.last)[row]
    edge = layers.edges[stretches.edge_part[row]]
    return _beside(edge, layers.nodes.place[node] + layers.move[station])


def _beside(xyz, place):
    """The nearest point of a line, or the place itself if it lies beyond the line's end."""
    nearest = nearest_place(xyz, place)
    if is_closed(xyz):
        return nearest
    rims = np.hypot(*(xyz[[0, -1], :2] - nearest).T)
    return place if rims.min() <= UPDATE.same_place else nearest
