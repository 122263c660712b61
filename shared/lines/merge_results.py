"""What a merge of walks returns: edges, passes and disagreements."""

from dataclasses import dataclass

import numpy as np

STATES = ("single", "merged", "rest", "apart")
PASS_STATES = ("single", "merged", "rest", "apart", "remnant", "copy")
REASONS = ("plan", "height", "other_edge", "parted", "remnant")
SINGLE, MERGED, REST, APART = range(4)


@dataclass(frozen=True)
class MergedEdges:
    """Edges that come out, as ragged arrays: vertices of edge ``e`` are ``offsets[e]`` to
    ``offsets[e + 1] - 1``.

    Attributes
    ----------
    x, y, z : ndarray of float, shape (v,)
        Metres; z NaN where no walk has a height.
    offsets : ndarray of int, shape (e + 1,)
    state : ndarray of int, shape (e,)
        Place in `STATES`: without a partner, merged, what one walk shows beyond the others, a
        stretch that differs from the others.
    unchanged : ndarray of int, shape (e,)
        Part of the source whose vertices the edge has, in its direction; -1 for others.
    passes : ndarray of int, shape (e,)
        Walks that take part.
    shared : ndarray of float, shape (e,)
        Length that two walks or more show, metres.
    length : ndarray of float, shape (e,)
    sigma, sigma_up : ndarray of float, shape (e,)
        1-sigma, metres, mean over the length; NaN where unknown.
    repeatability, repeatability_up : ndarray of float, shape (e,)
        RMS of the differences between two walks, metres; NaN without a partner.
    closed : ndarray of bool, shape (e,)
    ends : ndarray of int, shape (e, 2, 2)
        Of start and end: part of the source that ends there, and which of its ends it is (0 start,
        1 end); -1 where none does.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    offsets: np.ndarray
    state: np.ndarray
    unchanged: np.ndarray
    passes: np.ndarray
    shared: np.ndarray
    length: np.ndarray
    sigma: np.ndarray
    sigma_up: np.ndarray
    repeatability: np.ndarray
    repeatability_up: np.ndarray
    closed: np.ndarray
    ends: np.ndarray

    def __len__(self):
        return len(self.offsets) - 1


@dataclass(frozen=True)
class Passes:
    """What became of each walk; arrays of shape (k,).

    `edge` that comes out (-1 for none), `part` of the source, `state` a place in `PASS_STATES`;
    `start`, `stop` chainage along the source; `same` True where the walk ran in the direction of
    the edge; `shared` length beside other walks; `offset_mean` and `up_mean` of the walk from the
    mean of the others (+ to the right of the edge), `offset_rms`, `up_rms` from each of the others;
    metres, NaN where there are none.
    """

    edge: np.ndarray
    part: np.ndarray
    state: np.ndarray
    start: np.ndarray
    stop: np.ndarray
    same: np.ndarray
    shared: np.ndarray
    offset_mean: np.ndarray
    offset_rms: np.ndarray
    up_mean: np.ndarray
    up_rms: np.ndarray

    def __len__(self):
        return len(self.edge)


@dataclass(frozen=True)
class Disagreements:
    """Stretches of walks that differ from another by more than uncertainty, as walked; ragged `x`,
    `y`, `z`.

    `edge` that they differ from, `own` edge that they are in (-1 for none), `part` of the source,
    `reason` a place in `REASONS`; `length`, `offset_mean`, `offset_max` (+ where the stretch lies
    to the right of the edge), `up_mean`, `up_max`, `allowed`, `allowed_up` in metres.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    offsets: np.ndarray
    edge: np.ndarray
    own: np.ndarray
    part: np.ndarray
    reason: np.ndarray
    length: np.ndarray
    offset_mean: np.ndarray
    offset_max: np.ndarray
    up_mean: np.ndarray
    up_max: np.ndarray
    allowed: np.ndarray
    allowed_up: np.ndarray

    def __len__(self):
        return len(self.edge)


@dataclass(frozen=True)
class Merge:
    """Result of `merge_passes`. `repeatability` and `repeatability_up`: RMS of the differences
    between two walks, without the disagreements; `expected` and `expected_up`: what the sigmas of
    the walks let expect; metres, NaN where nothing is shared."""

    edges: MergedEdges
    passes: Passes
    disagreements: Disagreements
    repeatability: float
    repeatability_up: float
    expected: float
    expected_up: float
