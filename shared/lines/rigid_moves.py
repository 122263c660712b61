"""The rigid motion of each line that explains its offsets best."""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..arrays.ragged import MAD_TO_SIGMA
from ..tuning import RIGID_MOVES


@dataclass(frozen=True)
class RigidMoves:
    """Rigid motion of every line of a layer; arrays of shape (lines,).

    Attributes
    ----------
    east, north : ndarray of float
        Translation of the line's middle, metres; NaN if the line has no station. A component that
        the offsets do not show, such as along a straight line, is 0.
    rotation : ndarray of float
        About that middle, radians, + anticlockwise; NaN likewise.
    left : ndarray of float
        RMS of the offsets that the motion leaves, metres; NaN likewise.
    """

    east: np.ndarray
    north: np.ndarray
    rotation: np.ndarray
    left: np.ndarray

    @cached_property
    def moved(self):
        """Distance by which the middle moved, metres."""
        return np.sqrt(self.east**2 + self.north**2)

    @cached_property
    def azimuth(self):
        """Direction of that move, degrees from north towards east, 0 to 360; NaN without a move."""
        degrees = np.degrees(np.arctan2(self.east, self.north)) % 360.0
        return np.where(self.moved > 0, degrees, np.nan)


def rigid_moves(stations, line, count, check_cancel=lambda: None):
    """Fit a translation and a rotation to the offsets of each line.

    Parameters
    ----------
    stations : object with arrays of shape (k,)
        `x`, `y` (m), the unit vector `east`, `north` to the right of the line, `offset` (m, + to
        the right) and `weight` (m of line that the station stands for), as in
        `comparison_results.StationOffsets`.
    line : ndarray of int, shape (k,)
        Line that each station belongs to.
    count : int
        Number of lines.
    check_cancel : callable
        Called in every round; may raise to stop the work.

    Returns
    -------
    RigidMoves

    Notes
    -----
    Weighted least squares on the normals, one system of three unknowns per line (the linearised
    point-to-line step of Chen and Medioni 1992, from memory), with Tukey's biweight against
    stretches that were rebuilt. The third unknown is the rotation times the line's radius of
    gyration, so that all three are metres and the eigenvalues of the normal matrix are comparable.
    Directions whose eigenvalue is small compared with the greatest are left out, which gives the
    shortest motion that explains the offsets.
    """
    design, radius = _design(stations, line, count)
    weight = stations.weight.astype(float)
    solution = np.zeros((count, 3))
    for _ in range(RIGID_MOVES.rounds):
        check_cancel()
        solution = _solve(design, stations.offset, weight, line, count)
        check_cancel()
        rest = stations.offset - (design * solution[line]).sum(axis=1)
        weight = stations.weight * _biweight(rest, line, count)
    used = np.bincount(line, weight, count)
    square = np.bincount(line, stations.weight * rest**2, count)
    total = np.bincount(line, stations.weight, count)
    with np.errstate(invalid="ignore", divide="ignore"):
        left = np.sqrt(square / total)
        rotation = np.where(radius > 0, solution[:, 2] / radius, 0.0)
    unknown = used == 0
    east, north, rotation = (
        np.where(unknown, np.nan, values) for values in (*solution[:, :2].T, rotation)
    )
    return RigidMoves(east=east, north=north, rotation=rotation, left=left)


def _design(stations, line, count):
    """Design matrix, shape (k, 3), and the radius of gyration of each line, metres."""
    total = np.maximum(np.bincount(line, stations.weight, count), 1e-12)

    def centred(values):
        return values - (np.bincount(line, stations.weight * values, count) / total)[line]

    x, y = centred(stations.x), centred(stations.y)
    radius = np.sqrt(np.bincount(line, stations.weight * (x * x + y * y), count) / total)
    turning = (stations.north * x - stations.east * y) / np.maximum(radius, 1e-12)[line]
    return np.column_stack([stations.east, stations.north, turning]), radius


def _solve(design, offset, weight, line, count):
    """Shortest solution of each line's normal equations, shape (count, 3)."""
    normal, right = np.empty((count, 3, 3)), np.empty((count, 3))
    for i in range(3):
        right[:, i] = np.bincount(line, weight * design[:, i] * offset, count)
        for j in range(i, 3):
            normal[:, i, j] = normal[:, j, i] = np.bincount(
                line, weight * design[:, i] * design[:, j], count
            )
    value, vector = np.linalg.eigh(normal)
    shown = value > RIGID_MOVES.least_eigenvalue * value[:, -1:]
    inverse = np.divide(1.0, value, out=np.zeros_like(value), where=shown & (value > 0))
    return np.einsum("nij,nj,nkj,nk->ni", vector, inverse, vector, right)


def _biweight(rest, line, count):
    """Tukey's biweight of each residual by the robust scale of its line, (k,)."""
    scale = RIGID_MOVES.least_scale + MAD_TO_SIGMA * _median_by_line(np.abs(rest), line, count)
    ratio = rest / (RIGID_MOVES.biweight * scale[line])
    return np.where(np.abs(ratio) < 1, (1 - ratio**2) ** 2, 0.0)


def _median_by_line(values, line, count):
    """Upper median of the values of each line, 0 where there is none, (count,)."""
    order = np.lexsort((values, line))
    number = np.bincount(line, minlength=count)
    start = np.cumsum(number) - number
    middle = np.clip(start + number // 2, 0, max(len(values) - 1, 0))
    ordered = values[order]
    return np.where(number > 0, ordered[middle] if len(values) else 0.0, 0.0)
