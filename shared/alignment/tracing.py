"""Points along the elements of chains, to be written as lines and as true arcs, with heights."""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import cumulative, group_index, group_sum, offsets_of, ranges
from ..arrays.thinning import thin
from ..tuning import TRACING


@dataclass(frozen=True)
class Paths:
    """Points along stretches of elements; those of path ``p`` are ``offsets[p]`` to ``offsets[p +
    1] - 1``.

    `x`, `y`, shape (v,), in metres; `chainage` of each point along its run, metres, possibly beyond
    the end of a closed run; `element` and `arc`, shape (paths,). A path along an arc has an odd
    number of points: the ends of its pieces and, between them, a point on each piece.
    """

    x: np.ndarray
    y: np.ndarray
    chainage: np.ndarray
    offsets: np.ndarray
    element: np.ndarray
    arc: np.ndarray


def element_starts(chains):
    """Chainage of the start of each element.

    Parameters
    ----------
    chains : Chains

    Returns
    -------
    ndarray of float, shape (elements,)
        Metres.
    """
    return cumulative(chains.length, chains.offsets)


def points_at(chains, element, along, feet):
    """Positions at a distance along elements.

    Parameters
    ----------
    chains : Chains
    element : ndarray of int, shape (k,)
    along : ndarray of float, shape (k,)
        Metres from the start of the element, 0 to its length.
    feet : ndarray of float, shape (m, 2)
        Feet of the positions on the curve; used for spline elements only.

    Returns
    -------
    ndarray of float, shape (k, 2)
    """
    length = np.maximum(chains.length, 1e-12)[element]
    share = np.clip(along / length, 0.0, 1.0)[:, None]
    start, end = chains.start[element], chains.end[element]
    xy = start + share * (end - start)
    arc = chains.turn[element] != 0
    if arc.any():
        own = element[arc]
        centre = np.column_stack([chains.x, chains.y])[own]
        angle = chains.turn[own] * share[arc, 0] * length[arc] / chains.radius[own]
        cos, sin, (dx, dy) = np.cos(angle), np.sin(angle), (chains.start[own] - centre).T
        xy[arc] = centre + np.column_stack([cos * dx - sin * dy, sin * dx + cos * dy])
    free = np.flatnonzero(chains.spline[element])
    if free.size:
        of, at, known = spline_knots(chains, feet)
        place = of * TRACING.run_spacing + at
        xy[free] = np.column_stack(
            [
                np.interp(element[free] * TRACING.run_spacing + along[free], place, column)
                for column in known.T
            ]
        )
    # exact ends: neighbours share them to the last bit
    xy[along <= 0] = start[along <= 0]
    done = along >= chains.length[element]
    xy[done] = end[done]
    return xy


def spline_knots(chains, feet):
    """Points that define the spline elements, in order.

    Parameters
    ----------
    chains : Chains
    feet : ndarray of float, shape (m, 2)
        Feet of the positions on the curve.

    Returns
    -------
    element : ndarray of int, shape (k,)
    along : ndarray of float, shape (k,)
        Metres from the start of the element.
    xy : ndarray of float, shape (k, 2)
    """
    free = np.flatnonzero(chains.spline)
    number = (chains.bounds[1:] - chains.bounds[:-1])[free]
    position = ranges(chains.bounds[free], number)
    of = np.repeat(free, number)
    at = chains.chainage[position] - element_starts(chains)[of]
    inner = (at > TRACING.same_place) & (at < chains.length[of] - TRACING.same_place)
    of = np.concatenate([free, of[inner], free])
    at = np.concatenate([np.zeros(len(free)), at[inner], chains.length[free]])
    xy = np.concatenate([chains.start[free], feet[position[inner]], chains.end[free]])
    order = np.lexsort((at, of))
    return of[order], at[order], xy[order]


def trace(chains, element, low, high, feet, pieces=None, breaks=None):
    """Points along stretches of elements.

    Parameters
    ----------
    chains : Chains
    element : ndarray of int, shape (paths,)
    low, high : ndarray of float, shape (paths,)
        Where the stretch starts and ends, metres from the start of the element.
    feet : ndarray of float, shape (m, 2)
        Feet of the positions on the curve.
    pieces : ndarray of int, shape (elements,), optional
        Minimum number of equal pieces in the whole of an element.
    breaks : tuple of ndarray, optional
        Further points to be included: elements, and metres from their start.

    Returns
    -------
    Paths
    """
    paths = len(element)
    pieces = np.ones(len(chains.turn), np.int64) if pieces is None else pieces
    path, along = _knots_of_paths(chains, element, low, high, feet, breaks)
    # points between two knots: an odd number on an arc, and on a straight only to divide it
    same = path[1:] == path[:-1]
    arc = chains.turn[element] != 0
    piece = (chains.length / pieces)[element][path[:-1]]
    number = np.ceil(np.diff(along) / np.maximum(piece, 1e-12) - 1e-9)
    number = np.maximum(number, 1).astype(np.int64) * (1 + arc[path[:-1]])
    number = np.append(np.where(same, number, 1), 1)[: len(along)]
    knot = np.repeat(np.arange(len(along)), number)
    share = (np.arange(len(knot)) - np.repeat(np.cumsum(number) - number, number)) / number[knot]
    onward = np.minimum(knot + 1, len(along) - 1)
    all_along = along[knot] + np.where(share > 0, share * (along[onward] - along[knot]), 0.0)
    all_path = path[knot]
    xy = points_at(chains, element[all_path], all_along, feet)
    return Paths(
        x=xy[:, 0],
        y=xy[:, 1],
        chainage=element_starts(chains)[element[all_path]] + all_along,
        offsets=offsets_of(np.bincount(all_path, minlength=paths)),
        element=element,
        arc=arc,
    )


def _knots_of_paths(chains, element, low, high, feet, breaks):
    """Ends of paths and the points required between them: path and distance along its element, in
    order; arguments as in `trace`."""
    paths = len(element)
    of, at = (np.zeros(0, np.int64), np.zeros(0)) if breaks is None else breaks
    knots_of, knots_at, _ = spline_knots(chains, feet)
    of, at = np.concatenate([of, knots_of]), np.concatenate([at, knots_at])
    order = np.lexsort((at, of))
    of, at = of[order], at[order]
    # the required points of each stretch's element, of which those inside the stretch are taken
    first = np.searchsorted(of, element)
    number = np.searchsorted(of, element, "right") - first
    place, path = ranges(first, number), np.repeat(np.arange(paths), number)
    inner = at[place] > low[path] + TRACING.same_place
    inner &= at[place] < high[path] - TRACING.same_place
    path = np.concatenate([np.arange(paths), path[inner], np.arange(paths)])
    along = np.concatenate([low, at[place[inner]], high])
    order = np.lexsort((along, path))
    return path[order], along[order]


def min_pieces(chains):
    """Minimum number of pieces in which each element must be written, whatever the CRS.

    Parameters
    ----------
    chains : Chains

    Returns
    -------
    ndarray of int, shape (elements,)
    """
    sweep = np.where(
        chains.turn != 0, chains.length / np.where(chains.turn != 0, chains.radius, 1.0), 0.0
    )
    return np.maximum(np.ceil(sweep / TRACING.max_sweep - 1e-9), 1).astype(np.int64)


def pieces_kept_true(chains, there, back, tolerance):
    """Number of pieces in which elements must be written in another CRS to keep their place there.

    Parameters
    ----------
    chains : Chains
    there, back : callable
        Transform from the frame of the chains to the other CRS, and back: both take x, y and the
        run of each point, and return x, y.
    tolerance : float
        Greatest distance allowed, metres.

    Returns
    -------
    ndarray of int, shape (elements,)

    Notes
    -----
    The ends of a piece, and the middle of a piece of an arc, are transformed. Halfway between them,
    where the line or arc through them departs most, its distance is measured after transforming
    back. Pieces are halved until all distances are within the tolerance.
    """
    pieces = min_pieces(chains)
    run_of = group_index(chains.offsets)
    pending = np.flatnonzero(~chains.spline & (chains.length > 0))
    feet = np.zeros((len(chains.chainage), 2))
    while len(pending):
        path = trace(
            chains, pending, np.zeros(len(pending)), chains.length[pending], feet, 2 * pieces
        )
        owner = group_index(path.offsets)
        x, y = there(path.x, path.y, run_of[path.element[owner]])
        # traced with twice the pieces: straights have one point inside a piece, arcs three
        step = np.where(path.arc, 4, 2)
        place = np.arange(len(x)) - path.offsets[:-1][owner]
        first = np.flatnonzero(
            (place % step[owner] == 0) & (place < np.diff(path.offsets)[owner] - 1)
        )
        curved = path.arc[owner[first]]
        last = first + step[owner[first]]
        middle = (first + last) // 2
        px, py = (x[first] + x[last]) / 2, (y[first] + y[last]) / 2
        px[curved], py[curved] = _on_circle(
            *((x[k], y[k]) for k in (first[curved], middle[curved], last[curved]))
        )
        px, py = back(px, py, run_of[path.element[owner[first]]])
        element = path.element[owner[first]]
        deviation = np.hypot(px - path.x[middle], py - path.y[middle])
        deviation[curved] = np.abs(
            np.hypot(px - chains.x[element], py - chains.y[element]) - chains.radius[element]
        )[curved]
        far = np.zeros(len(pieces))
        np.maximum.at(far, element, np.where(np.isfinite(deviation), deviation, 0.0))
        pending = pending[(far[pending] > tolerance) & (pieces[pending] < TRACING.max_pieces)]
        pieces[pending] *= 2
    return pieces


def _on_circle(a, b, c):
    """Points on the circles through three points each, halfway along the arc from `a` to `b`; all
    are tuples of arrays (k,)."""
    bx, by, cx, cy = b[0] - a[0], b[1] - a[1], c[0] - a[0], c[1] - a[1]
    double = 2 * (bx * cy - by * cx)
    b2, c2 = bx * bx + by * by, cx * cx + cy * cy
    with np.errstate(divide="ignore", invalid="ignore"):
        ux, uy = (cy * b2 - by * c2) / double, (bx * c2 - cx * b2) / double
    radius = np.hypot(ux, uy)
    # from the centre through the middle of the chord: a to b is the minor arc
    wx, wy = bx / 2 - ux, by / 2 - uy
    away = np.hypot(wx, wy)
    with np.errstate(divide="ignore", invalid="ignore"):
        x, y = a[0] + ux + radius * wx / away, a[1] + uy + radius * wy / away
    flat = ~np.isfinite(x) | ~np.isfinite(y)
    return np.where(flat, a[0] + bx / 2, x), np.where(flat, a[1] + by / 2, y)


# Heights


def heights_at(chains, run, chainage, z):
    """Heights along runs, interpolated between those of the positions.

    Parameters
    ----------
    chains : Chains
    run : ndarray of int, shape (k,)
    chainage : ndarray of float, shape (k,)
        Metres along the run.
    z : ndarray of float, shape (m,)
        Heights of the positions; NaN if unknown.

    Returns
    -------
    ndarray of float, shape (k,)
        NaN in runs without any height. Constant beyond the first and the last known height of an
        open run; interpolated across the seam of a closed one.
    """
    runs, at, heights = _profile(chains, z)
    out = np.full(len(run), np.nan)
    known = np.zeros(len(chains.closed), bool)
    known[runs] = True
    some = known[run]
    if not some.any():
        return out
    # each chainage is limited to the range known in its run
    first = np.searchsorted(runs, run[some])
    last = np.searchsorted(runs, run[some], "right") - 1
    held = np.clip(chainage[some], at[first], at[last])
    out[some] = np.interp(
        run[some] * TRACING.run_spacing + held, runs * TRACING.run_spacing + at, heights
    )
    return out


def _profile(chains, z):
    """Known heights in order of run and chainage: run, chainage, height; closed runs are repeated
    one lap before and one after."""
    run = np.searchsorted(chains.bounds[chains.offsets], np.arange(len(z)), "right") - 1
    total = group_sum(chains.length, chains.offsets).astype(float)
    known = np.isfinite(z)
    run, at, z = run[known], chains.chainage[known], z[known]
    ring = np.flatnonzero(chains.closed[run])
    run = np.concatenate([run, run[ring], run[ring]])
    at = np.concatenate([at, at[ring] - total[run[ring]], at[ring] + total[run[ring]]])
    z = np.concatenate([z, z[ring], z[ring]])
    order = np.lexsort((at, run))
    return run[order], at[order], z[order]


def grade_breaks(chains, z, tolerance):
    """Points that elements need so that the heights written keep the tolerance.

    Parameters
    ----------
    chains : Chains
    z : ndarray of float, shape (m,)
        Heights of the positions; NaN if unknown.
    tolerance : float
        Greatest distance in height between the profile through the positions and the one written,
        metres.

    Returns
    -------
    elements : ndarray of int, shape (k,)
    along : ndarray of float, shape (k,)
        Metres from the start of the element.
    """
    starts, run_of = element_starts(chains), group_index(chains.offsets)
    position = np.flatnonzero(np.isfinite(z))
    element = np.searchsorted(chains.bounds, position, "right") - 1
    along = chains.chainage[position] - starts[element]
    inner = (
        (along > TRACING.same_place)
        & (along < chains.length[element] - TRACING.same_place)
        & ~chains.spline[element]
    )
    some = np.unique(element[inner])
    element = np.concatenate([some, element[inner], some])
    along = np.concatenate([np.zeros(len(some)), along[inner], chains.length[some]])
    order = np.lexsort((along, element))
    element, along = element[order], along[order]
    height = heights_at(chains, run_of[element], starts[element] + along, z)
    first, last = np.searchsorted(element, some), np.searchsorted(element, some, "right") - 1
    ends = np.zeros(len(element), bool)
    ends[first] = ends[last] = True
    if not len(some):
        return element, along
    keep = (
        thin(
            along,
            np.zeros(len(along)),
            height,
            ends,
            np.column_stack([first, last]),
            np.inf,
            tolerance,
        )
        & ~ends
    )
    return element[keep], along[keep]
