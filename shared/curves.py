"""Fitted curves of runs, their samples, and the lines written from them."""

from dataclasses import dataclass

import numpy as np

from .alignment import bend_at, project
from .bandwidth import through
from .ragged import cumulative, group_index, group_sum, ranges
from .spline import Spline
from .thinning import balance, thin

UP_TOLERANCE = 2.0  # heights are half as sure as positions
SAMPLE_SHARE = 1 / 16  # of the tolerance, spent on sampling the curve
MOST_SAMPLES = 64  # in one interval
CORNER_TRUST = 0.25  # m between two ways to find a corner; over that the tangents are not to be trusted
RING_STEPS = 1.5  # usual steps between the two ends of a ring


@dataclass(frozen=True)
class Curves:
    """Samples of the fitted curves of all runs, and where each position lies among them."""

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    run: np.ndarray
    held: np.ndarray
    of_position: np.ndarray


def running_length(step, offsets):
    """Running length inside each group; equal places are set apart so that knots increase."""
    return cumulative(np.maximum(step, 1e-6), offsets)


def fit_plan(elements, positions, pieces, offsets):
    """Curves in plan: splines through the feet of the positions on their tangents and arcs, one for each piece.

    At the ends of runs they bend as their elements do; towards corners they are straight.
    """
    xy = project(elements, positions.x, positions.y)
    step = np.append(np.hypot(np.diff(xy[:, 0]), np.diff(xy[:, 1])), 0.0)
    s = running_length(step, pieces)
    if not len(s):
        return Spline(s, pieces, xy, xy, xy)
    owner = group_index(elements.offsets)
    first, last = pieces[:-1], pieces[1:] - 1
    # a bend fades over the element that it belongs to, as far as that lies inside the piece
    low, high = np.maximum(elements.offsets[owner[last]], first), np.minimum(elements.offsets[owner[first] + 1] - 1, last)
    bend_first = bend_at(elements, owner[first], xy[first]) * np.isin(first, offsets[:-1])[:, None]
    bend_last = bend_at(elements, owner[last], xy[last]) * np.isin(last + 1, offsets[1:])[:, None]
    return through(s, xy, pieces, bend_first, bend_last, s[high] - s[first], s[last] - s[low])


def meet(plan, corners):
    """Corners where the tangents of the two fitted pieces meet; the first estimate where they do not meet well."""
    estimate = np.column_stack([corners.x, corners.y])
    if not len(corners.before):
        return estimate
    a, b = corners.before, corners.before + 1
    piece = group_index(plan.offsets)
    size = np.diff(plan.offsets)
    usable = np.flatnonzero((size[piece[a]] > 1) & (size[piece[b]] > 1))
    a, b = a[usable], b[usable]
    u, v = plan.tangent_before(a), plan.tangent_after(b)
    sine = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    d = plan.values[b] - plan.values[a]
    strong = np.abs(sine) > 0.15 * np.hypot(*u.T) * np.hypot(*v.T)
    along = (d[:, 0] * v[:, 1] - d[:, 1] * v[:, 0]) / np.where(strong, sine, 1.0)
    point = plan.values[a] + along[:, None] * u
    good = strong & (np.hypot(*(point - estimate[usable]).T) < CORNER_TRUST)
    estimate[usable[good]] = point[good]
    return estimate


def sample(plan, profile, pieces, offsets, corners, corner_xy, s_run, tolerance):
    """Sample the curves so densely that chords between samples stay within a small share of the tolerance."""
    m = len(plan.s)
    inside = np.ones(m, bool)
    inside[pieces[1:] - 1] = False
    bend = np.zeros(m)
    h = np.zeros(m)
    h[:-1] = np.diff(plan.s)
    bend[:-1] = np.maximum(np.hypot(*plan.bend_after[:-1].T), np.hypot(*plan.bend_before[1:].T))
    number = np.ones(m, np.int64)
    dense = np.ceil(h * np.sqrt(bend / (8 * tolerance * SAMPLE_SHARE)))
    number[inside] = np.clip(dense[inside], 1, MOST_SAMPLES).astype(np.int64)
    has_corner = np.zeros(m, bool)
    has_corner[corners.before] = True
    total = number + has_corner
    first = np.concatenate([[0], np.cumsum(total)])[:-1]
    size = int(total.sum())
    x, y, z = np.empty(size), np.empty(size), np.empty(size)
    held = np.zeros(size, bool)

    x[first], y[first], z[first] = plan.values[:, 0], plan.values[:, 1], profile.values[:, 0]
    more = np.flatnonzero(number > 1)
    inner = ranges(first[more] + 1, number[more] - 1)
    knot = np.repeat(more, number[more] - 1)
    share = (inner - first[knot]) / number[knot]
    point = plan.at(knot, share)
    x[inner], y[inner] = point.T
    z[inner] = profile.at(knot, share)[:, 0]
    at = first[corners.before] + 1
    x[at], y[at] = corner_xy.T
    leg = np.hypot(*(corner_xy - plan.values[corners.before]).T)
    rest = s_run[corners.before + 1] - s_run[corners.before] if len(corners.before) else leg
    z[at] = profile.at(corners.before, np.clip(leg / np.maximum(rest, 1e-9), 0, 1))[:, 0] if len(at) else z[at]
    held[at] = True
    held[first[offsets[:-1]]] = True
    held[first[offsets[1:] - 1]] = True
    run = np.repeat(group_index(offsets), total)
    return Curves(x, y, z, run, held, first)


def write_lines(curves, plan, offsets, spacing, stream, positions, settings):
    """Thin the curves; close rings. Vertices, shape (v, 3), their offsets, and which edges are closed."""
    runs = len(offsets) - 1
    if not runs:
        return np.zeros((0, 3)), np.zeros(1, np.int64), np.zeros(0, bool)
    tolerance = settings.tolerance * (1 - SAMPLE_SHARE)
    held = np.flatnonzero(curves.held)
    same = curves.run[held[1:]] == curves.run[held[:-1]]
    sections = np.column_stack([held[:-1], held[1:]])[same]
    keep = thin(curves.x, curves.y, curves.z, curves.held, sections, tolerance, UP_TOLERANCE * tolerance)
    vx, vy = balance(curves.x, curves.y, curves.z, keep, curves.held, curves.run, tolerance, UP_TOLERANCE * tolerance)
    vertex = np.flatnonzero(keep)
    xyz = np.column_stack([vx, vy, curves.z[vertex]])
    number = np.bincount(curves.run[vertex], minlength=runs)
    vertex_offsets = np.concatenate([[0], np.cumsum(number)])

    start, end = offsets[:-1], offsets[1:] - 1
    a, b = plan.values[start], plan.values[end]
    apart = np.hypot(*(a - b).T)
    capture = positions.capture[start]
    extent = group_sum(np.append(np.hypot(np.diff(positions.x), np.diff(positions.y)), 0.0) * ~np.isin(np.arange(len(positions)), end), offsets)
    usual = spacing[start]
    closed = (apart <= np.minimum(RING_STEPS * usual, stream.distance_limit[capture])) & (extent > 6 * np.maximum(usual, apart)) & (np.diff(offsets) > 5)
    if closed.any():  # the step that closes the ring must go on in the direction of travel at both ends
        rows = np.flatnonzero(closed)
        out, back = xyz[vertex_offsets[rows + 1] - 1, :2] - xyz[vertex_offsets[rows + 1] - 2, :2], xyz[vertex_offsets[rows] + 1, :2] - xyz[vertex_offsets[rows], :2]
        gap = a[rows] - b[rows]
        onward = ((gap * out).sum(axis=1) > 0) & ((gap * back).sum(axis=1) > 0)
        closed[rows[~onward]] = False
        rows = np.flatnonzero(closed)
        xyz = np.insert(xyz, vertex_offsets[rows + 1], xyz[vertex_offsets[rows]], axis=0)
        vertex_offsets = vertex_offsets + np.concatenate([[0], np.cumsum(closed)])
    return xyz, vertex_offsets, closed
