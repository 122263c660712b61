"""Fall of the ground across runs: what heights show where a line turns aside."""

from dataclasses import dataclass

import numpy as np

from ..tuning import FALLS
from .grades import refit


@dataclass(frozen=True)
class Falls:
    """Fall of the ground beside the grades of runs.

    Attributes
    ----------
    slope : float, shape (runs, 2)
        Along both axes, m/m.
    covariance : float, shape (3, runs)
        Variance of the first, covariance, and variance of the second one.
    explains : float, shape (runs,)
        By how much the fall reduces the sum of squares, in squared sigmas.
    aside : tuple of Grades
        What the grades explain of the places along both axes.
    """

    slope: np.ndarray
    covariance: np.ndarray
    explains: np.ndarray
    aside: tuple

    def level(self, grades):
        """Values at the knots of `grades` without what the fall explains."""
        own = self.slope[grades.run]
        return grades.value - sum(own[:, k] * self.aside[k].value for k in (0, 1))

    def variance(self, places, x, run, at):
        """Variance that the fall adds at places, shape (q, 2), m2; the rest as in
        `Grades.along`."""
        u, v = (places[:, k] - self.aside[k].along(x, run, at)[0] for k in (0, 1))
        own, both, other = self.covariance[:, run]
        return own * u * u + 2 * both * u * v + other * v * v


def find_falls(x, z, weight, places, grades, start, runs):
    """Falls by least squares, with a prior.

    Parameters
    ----------
    x, z, weight : ndarray of float, shape (n,)
        As in `fit_grades`.
    places : ndarray of float, shape (n, 2)
        In plan, metres.
    grades : Grades
        Of these heights.
    start : ndarray of int, shape (n,)
        As `Grades.grade` gives it.
    runs : tuple of ndarray
        Run of each height, and lengths of rings, as in `fit_grades`.

    Returns
    -------
    Falls
    """
    run, ring = runs
    count = int(grades.run[-1]) + 1
    aside = tuple(refit(x, column, weight, grades.at, grades.run, ring) for column in places.T)
    left = z - grades.along(x, run, start)[0]
    u, v = (places[:, k] - aside[k].along(x, run, start)[0] for k in (0, 1))

    def total(values):
        return np.bincount(run, weight * values, count)

    prior = 1 / FALLS.usual**2
    uu, uv, vv = total(u * u) + prior, total(u * v), total(v * v) + prior
    ul, vl = total(u * left), total(v * left)
    det = uu * vv - uv * uv
    slope = np.column_stack([vv * ul - uv * vl, uu * vl - uv * ul]) / det[:, None]
    explains = slope[:, 0] * ul + slope[:, 1] * vl
    return Falls(slope, np.stack([vv, -uv, uu]) / det, explains, aside)
