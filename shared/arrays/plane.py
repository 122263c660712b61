"""Lengths of steps in the plane."""

import numpy as np


def distance(dx, dy):
    """Length of steps, as `numpy.hypot` and several times as fast; squares overflow from 1e154 on,
    far beyond any survey."""
    return np.sqrt(dx * dx + dy * dy)


def steps(x, y, offsets):
    """Length of the step from each place to the next one of its group, shape (n,); 0 from the last
    one. No group is empty."""
    out = np.append(distance(np.diff(x), np.diff(y)), 0.0)[: len(x)]
    out[offsets[1:] - 1] = 0.0
    return out


def ray_distance(px, py, ox, oy, dx, dy):
    """Distance of points from rays that start at (ox, oy) and run along (dx, dy)."""
    length = np.maximum(distance(dx, dy), 1e-12)
    along = np.maximum(((px - ox) * dx + (py - oy) * dy) / length, 0.0)
    return distance(px - ox - along * dx / length, py - oy - along * dy / length)


def segment_distance(px, py, ax, ay, bx, by):
    """Distance of points from segments."""
    dx, dy = bx - ax, by - ay
    square = np.maximum(dx * dx + dy * dy, 1e-24)
    share = np.clip(((px - ax) * dx + (py - ay) * dy) / square, 0.0, 1.0)
    return distance(px - ax - share * dx, py - ay - share * dy)


def turn_angle(x, y, a, b, c):
    """Signed turn of the path a, b, c in radians."""
    ux, uy, vx, vy = x[b] - x[a], y[b] - y[a], x[c] - x[b], y[c] - y[b]
    return np.arctan2(ux * vy - uy * vx, ux * vx + uy * vy)
