"""Lengths, distances and turns in the plane."""

import numpy as np


def distance(dx, dy):
    """Length of vectors.

    Parameters
    ----------
    dx, dy : ndarray of float

    Returns
    -------
    ndarray of float
        As `numpy.hypot`, but several times as fast; squares overflow beyond 1e154, far beyond any
        survey.
    """
    return np.sqrt(dx * dx + dy * dy)


def steps(x, y, offsets):
    """Length of the step from each place to the next one in its group.

    Parameters
    ----------
    x, y : ndarray of float, shape (n,)
    offsets : ndarray of int, shape (groups + 1,)

    Returns
    -------
    ndarray of float, shape (n,)
        0 at the last place of a group.
    """
    out = np.append(distance(np.diff(x), np.diff(y)), 0.0)[: len(x)]
    out[offsets[1:][np.diff(offsets) > 0] - 1] = 0.0
    return out


def ray_distance(px, py, ox, oy, dx, dy):
    """Distance of points from rays.

    Parameters
    ----------
    px, py : ndarray of float, shape (n,)
        Points.
    ox, oy, dx, dy : ndarray of float, shape (n,), or float
        Origin and direction of the rays; the direction may have any length.

    Returns
    -------
    ndarray of float, shape (n,)
        Points behind the origin: their distance from the origin.
    """
    length = np.maximum(distance(dx, dy), 1e-12)
    along = np.maximum(((px - ox) * dx + (py - oy) * dy) / length, 0.0)
    return distance(px - ox - along * dx / length, py - oy - along * dy / length)


def segment_distance(px, py, ax, ay, bx, by):
    """Distance of points from segments.

    Parameters
    ----------
    px, py : ndarray of float, shape (n,)
        Points.
    ax, ay, bx, by : ndarray of float, shape (n,), or float
        Both ends of the segments; they may coincide.

    Returns
    -------
    ndarray of float, shape (n,)
    """
    dx, dy = bx - ax, by - ay
    square = np.maximum(dx * dx + dy * dy, 1e-24)
    share = np.clip(((px - ax) * dx + (py - ay) * dy) / square, 0.0, 1.0)
    return distance(px - ax - share * dx, py - ay - share * dy)


def turn_angle(x, y, a, b, c):
    """Signed turn of the path over three places.

    Parameters
    ----------
    x, y : ndarray of float, shape (n,)
    a, b, c : ndarray of int, shape (q,)
        Places in the order of the path.

    Returns
    -------
    ndarray of float, shape (q,)
        Radians, from -pi to pi, + to the left.
    """
    ux, uy, vx, vy = x[b] - x[a], y[b] - y[a], x[c] - x[b], y[c] - y[b]
    return np.arctan2(ux * vy - uy * vx, ux * vx + uy * vy)


def turned(x, y, angle):
    """Vectors turned to the left.

    Parameters
    ----------
    x, y : float or ndarray of float, shape (n,)
    angle : float or ndarray of float, shape (n,)
        Radians.

    Returns
    -------
    x, y : float or ndarray of float, shape (n,)
    """
    cos, sin = np.cos(angle), np.sin(angle)
    return cos * x - sin * y, sin * x + cos * y
