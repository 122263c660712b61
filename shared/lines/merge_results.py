"""What a merge of walks returns: edges, passes and disagreements."""

from dataclasses import dataclass

import numpy as np

STATES = ("single", "merged", "rest", "apart")
PASS_STATES = ("single", "merged", "rest", "apart", "remnant", "copy")
REASONS = ("plan", "height", "other_edge", "parted", "remnant")
SINGLE, MERGED, REST, APART = range(4)


@dataclass(frozen=True)
class MergedEdges:
    """The resulting edges as ragged arrays: vertices of edge ``e`` are ``offsets[e]`` to
    ``offsets[e + 1] - 1``.

    Attributes
    ----------
    x, y, z : ndarray of float, shape (v,)
        Metres; z NaN where no walk has a height.
    offsets : ndarray of int, shape (e + 1,)
    state : ndarray of int, shape (e,)
        Place in `STATES`: a walk without a partner; merged; what one walk shows beyond the others;
        a stretch that differs from the others.
    unchanged : ndarray of int, shape (e,)
        Part of the source whose vertices the edge has, in the same direction; -1 for others.
    passes : ndarray of int, shape (e,)
        Number of walks that take part.
    shared : ndarray of float, shape (e,)
        Length that two or more walks show, metres.
    length : ndarray of float, shape (e,)
    sigma, sigma_up : ndarray of float, shape (e,)
        1-sigma, metres, mean over the length; NaN where unknown.
    repeatability, repeatability_up : ndarray of float, shape (e,)
        RMS of the differences between two walks, metres; NaN without a partner.
    closed : ndarray of bool, shape (e,)
    ends : ndarray of int, shape (e, 2, 2)
        For the start and the end: part of the source that ends there, and which of its ends it is
        (0 start, 1 end); -1 for none.
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
    """What became of each walk; arrays of shape (k,), metres.

    `edge`: that it is in, -1 for none; `part`: of the source; `state`: place in `PASS_STATES`;
    `start`, `stop`: chainage along the source; `same`: it ran in the direction of the edge;
    `shared`: length next to other walks; `offset_mean`, `up_mean`: mean difference from the mean of
    the others, + to the right of the edge; `offset_rms`, `up_rms`: RMS of the differences from each
    of the others. NaN without others.
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
    """Stretches of walks that differ from an edge by more than uncertainty explains, as walked;
    `x`, `y`, `z` are ragged, all others of shape (k,).

    `edge`: that they differ from; `own`: edge that they are in, -1 for none; `part`: of the source;
    `reason`: place in `REASONS`; `offset_mean`, `offset_max`: + if the stretch lies to the right of
    the edge; `allowed`, `allowed_up`: differences allowed in plan and in height. Metres.
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
    """Result of `merge_passes`.

    `repeatability`, `repeatability_up`: RMS of the differences between two walks, disagreements
    left out; `expected`, `expected_up`: the same as expected from the walks' sigmas. Metres, NaN if
    nothing is shared.
    """

    edges: MergedEdges
    passes: Passes
    disagreements: Disagreements
    repeatability: float
    repeatability_up: float
    expected: float
    expected_up: float
