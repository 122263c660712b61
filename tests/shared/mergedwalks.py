"""Walks of edges by hand, merged, for the tests of the modules that merge them."""

import numpy as np
from epochwalks import table_of_walks
from lineshapes import lines_of, straight

from curbwright.shared.lines.lines import Lines
from curbwright.shared.lines.merge_results import REASONS, STATES
from curbwright.shared.lines.passes import MergeSettings, merge_passes
from curbwright.shared.reconstruction.reconstruct import reconstruct

SIGMA = 0.006


def level(y, x=(0.0, 40.0), z=3.0, step=None):
    line = straight(y, x, step)
    return np.column_stack([line, np.full(len(line), z)])


def merge(*shapes, sigma=SIGMA, sigma_up=0.01, group=None, **settings):
    lines = lines_of(*shapes, sigma=sigma)
    return merge_passes(
        lines,
        np.broadcast_to(np.asarray(sigma_up, float), (len(shapes),)),
        group,
        MergeSettings(**settings),
    )


def shape(edges, number):
    rows = slice(edges.offsets[number], edges.offsets[number + 1])
    return np.column_stack([edges.x[rows], edges.y[rows], edges.z[rows]])


def states(result):
    return [STATES[code] for code in result.edges.state]


def reasons(result):
    return [REASONS[code] for code in result.disagreements.reason]


def at(edges, number, x):
    """y and z of an edge that runs along x."""
    line = shape(edges, number)
    line = line[np.argsort(line[:, 0], kind="stable")]
    return np.interp(x, line[:, 0], line[:, 1]), np.interp(x, line[:, 0], line[:, 2])


def from_walks(walks):
    edges = reconstruct(table_of_walks(walks)).edges
    return (
        Lines.from_columns(
            edges.x,
            edges.y,
            edges.z,
            edges.offsets,
            np.arange(len(edges)),
            len(edges),
            edges.sigma_cross,
        ),
        edges.sigma_up,
    )


def bump(size, y=0.0, x=(14.0, 20.0)):
    return np.array(
        [
            (0, y, 3.0),
            (x[0], y, 3.0),
            (x[0] + 1, y + size, 3.0),
            (x[1] - 1, y + size, 3.0),
            (x[1], y, 3.0),
            (40, y, 3.0),
        ]
    )
