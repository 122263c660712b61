"""Edges, passes and disagreements of a merge, collected into tables."""

import numpy as np

from ..arrays.ragged import offsets_of
from .lines import chainages
from .merge_results import Disagreements, Merge, MergedEdges, Passes


def collect(made, repeatability):
    """The lists as tables.

    Parameters
    ----------
    made : Made
    repeatability : Repeatability

    Returns
    -------
    Merge
        Passes by edge, those without one last; disagreements by edge and reason, the longest first.
    """
    return Merge(
        edges=_edges(made.edges),
        passes=_passes(made.passes, len(made.edges)),
        disagreements=_disagreements(made.listed),
        repeatability=repeatability.plan,
        repeatability_up=repeatability.up,
        expected=repeatability.expected,
        expected_up=repeatability.expected_up,
    )


def _edges(edges):
    """Edges as a table; lengths on the ground."""
    scale = np.array([edge.scale for edge in edges], float)
    length = np.array([chainages(edge.xyz)[-1] for edge in edges], float) / scale
    shared = np.array([edge.shared for edge in edges], float)
    return MergedEdges(
        **_vertices(edges),
        **_columns(edges, ("state", "unchanged", "passes"), np.int64),
        **_columns(edges, ("sigma", "sigma_up", "repeatability", "repeatability_up"), float),
        **_columns(edges, ("closed",), bool),
        shared=np.minimum(shared / scale, length),
        length=length,
        ends=np.array([edge.ends for edge in edges], np.int64).reshape(-1, 2, 2),
    )


def _passes(passes, edges):
    """Passes as a table, in order; `edges`: their number."""

    def place(one):
        return one.edge if one.edge >= 0 else edges, one.part, one.start

    rows = sorted(passes, key=place)
    figures = ("shared", "offset_mean", "offset_rms", "up_mean", "up_rms")
    return Passes(
        **_columns(rows, ("edge", "part", "state"), np.int64),
        **_columns(rows, ("start", "stop", *figures), float),
        **_columns(rows, ("same",), bool),
    )


def _disagreements(listed):
    """Disagreements as a table, in order."""
    rows = sorted(listed, key=lambda one: (one.edge, one.reason, one.part, -one.length))
    figures = ("offset_mean", "offset_max", "up_mean", "up_max", "allowed", "allowed_up")
    return Disagreements(
        **_vertices(rows),
        **_columns(rows, ("edge", "own", "part", "reason"), np.int64),
        **_columns(rows, ("length", *figures), float),
    )


def _vertices(rows):
    """Vertices ``xyz`` of rows as ragged arrays, by name."""
    flat = np.concatenate([np.zeros((0, 3)), *(row.xyz for row in rows)])
    x, y, z = flat.T.copy()
    return {
        "x": x,
        "y": y,
        "z": z,
        "offsets": offsets_of(np.array([len(row.xyz) for row in rows], np.int64)),
    }


def _columns(rows, names, kind):
    """Columns of rows as arrays of a kind, by name."""
    return {name: np.array([getattr(row, name) for row in rows], kind) for name in names}
