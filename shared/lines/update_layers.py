"""Both layers of an update by parts: vertices, junctions, and where lines run along edges."""

from dataclasses import dataclass

import numpy as np

from .comparison_results import Comparison
from .lines import Lines
from .linestrings import shapes_of
from .nodes import Nodes, find_nodes
from .stretches import Stretches, find_stretches, stations_by_parts


@dataclass(frozen=True)
class UpdateLayers:
    """What is known before anything is redrawn; metres of the frame.

    Attributes
    ----------
    comparison : Comparison
    shift : ndarray of float, shape (2,)
        Added to the existing lines: minus what the comparison removed.
    existing : Lines
        With the shift.
    old, edges : list of ndarray of float, shape (v, 3)
        Vertices of each part of the existing lines with the shift, of the edges.
    shapes : ndarray of shapely LineString, shape (parts,)
        Of `old`.
    nodes : Nodes
        Junctions of the existing lines.
    part_length : ndarray of float, shape (parts,)
    first_part : ndarray of int, shape (existing + 1,)
        First part of each existing line.
    move : ndarray of float, shape (stations, 2)
        From the existing line to the edge, by stations as `stretches` counts them.
    stretches : Stretches
        All of them, whether they will be redrawn or not.
    """

    comparison: Comparison
    shift: np.ndarray
    existing: Lines
    old: list
    edges: list
    shapes: np.ndarray
    nodes: Nodes
    part_length: np.ndarray
    first_part: np.ndarray
    move: np.ndarray
    stretches: Stretches

    def parts_of(self, line):
        """Parts of an existing line."""
        return np.arange(self.first_part[line], self.first_part[line + 1])

    def edges_along(self, stretches):
        """Rows of the edges that stretches run along, each once, rising."""
        return np.unique(self.comparison.edges.line[stretches.edge_part])


def layers_of(comparison):
    """Prepare both layers of a comparison for an update.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    UpdateLayers
    """
    removed = comparison.shift_removed
    shift = -np.asarray(comparison.shift.known[:2]) if removed else np.zeros(2)
    existing = comparison.existing.moved(*shift)
    old = existing.vertices()
    shapes = shapes_of(old)
    stations = stations_by_parts(comparison)
    return UpdateLayers(
        comparison=comparison,
        shift=shift,
        existing=existing,
        old=old,
        edges=comparison.edges.vertices(),
        shapes=shapes,
        nodes=find_nodes(existing, shapes),
        part_length=existing.part_length(),
        first_part=np.searchsorted(existing.line, np.arange(existing.count + 1)),
        move=stations.move,
        stretches=find_stretches(stations, existing),
    )
