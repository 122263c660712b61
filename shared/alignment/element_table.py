"""Table of the tangents, circular curves and corners along edges, with the figures of route
surveying handbooks."""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import group_index, group_sum, offsets_of, place_in_group
from ..tuning import ELEMENT_ROWS

KINDS = ("tangent", "arc", "corner", "spline")
TANGENT, ARC, CORNER, SPLINE = range(len(KINDS))


@dataclass(frozen=True)
class CircularCurve:
    """Parts of simple circular curves, metres; arrays of one shape.

    `length` along the arc, `chord` its long chord, `sagitta` its middle ordinate, `tangent_length`
    from either end to where the tangents meet (the point of intersection), `external` from there to
    the middle of the arc. The last two are NaN for deflections of `ELEMENT_ROWS.nearly_back` and
    more: the tangents then do not meet ahead of the curve, or very far away.
    """

    length: np.ndarray
    chord: np.ndarray
    sagitta: np.ndarray
    tangent_length: np.ndarray
    external: np.ndarray


def circular_curve(radius, deflection):
    """Parts of simple circular curves.

    Parameters
    ----------
    radius : array_like of float
        Metres.
    deflection : array_like of float
        Angle between the tangents at both ends, equal to the central angle, degrees; its sign is
        ignored.

    Returns
    -------
    CircularCurve

    Notes
    -----
    With D the deflection: L = R D (radians), LC = 2 R sin(D/2), M = R (1 - cos(D/2)), T = R
    tan(D/2), E = R (sec(D/2) - 1); route surveying handbooks, for example Army FM 5-233,
    Construction Surveying, chapter 3.
    """
    radius, deflection = np.broadcast_arrays(
        np.asarray(radius, float), np.abs(np.asarray(deflection, float))
    )
    half = np.radians(deflection) / 2
    meets = deflection < ELEMENT_ROWS.nearly_back
    ahead = np.where(meets, half, np.nan)
    # 1 - cos and sec - 1 by half angles, which keeps the digits of slight curves
    versed = 2 * np.sin(half / 2) ** 2
    return CircularCurve(
        2 * radius * half,
        np.abs(2 * radius * np.sin(half)),
        radius * versed,
        radius * np.tan(ahead),
        radius * versed / np.cos(ahead),
    )


@dataclass(frozen=True)
class ElementTable:
    """Tangents, arcs, corners and splines in order along each run; arrays of shape (rows,).

    Attributes
    ----------
    run : ndarray of int
    position : ndarray of int
        1, 2, 3 ... along the run; corners count.
    kind : ndarray of int
        Index in `KINDS`.
    element : ndarray of int
        Element of the chains; for a corner, the one before it.
    onward : ndarray of int
        Element after a corner; else the same as `element`.
    length : ndarray of float
        Metres along the element, 0 for a corner.
    bearing : ndarray of float
        Direction of travel at the start, degrees clockwise from grid north, 0 to 360; for a corner,
        that after it.
    radius, radius_sigma : ndarray of float
        Metres; NaN except for arcs.
    deflection : ndarray of float
        Change of direction along the element or at the corner, degrees, + to the right: 0 for a
        tangent, -180 to 180 for a corner, NaN for a spline.
    chord, sagitta, tangent_length, external : ndarray of float
        See `CircularCurve`; NaN except for arcs.
    centre : ndarray of float, shape (rows, 2)
        Metres in the frame of the chains; NaN except for arcs.
    start, end : ndarray of float, shape (rows, 2)
    """

    run: np.ndarray
    position: np.ndarray
    kind: np.ndarray
    element: np.ndarray
    onward: np.ndarray
    length: np.ndarray
    bearing: np.ndarray
    radius: np.ndarray
    radius_sigma: np.ndarray
    deflection: np.ndarray
    chord: np.ndarray
    sagitta: np.ndarray
    tangent_length: np.ndarray
    external: np.ndarray
    centre: np.ndarray
    start: np.ndarray
    end: np.ndarray

    def __len__(self):
        return len(self.run)


def next_element(chains):
    """The element after each one in its run.

    Parameters
    ----------
    chains : Chains

    Returns
    -------
    ndarray of int, shape (elements,)
        -1 at the end of an open run.
    """
    first, last = chains.offsets[:-1], chains.offsets[1:] - 1
    onward = np.arange(1, len(chains.turn) + 1)
    filled = last >= first
    onward[last[filled]] = np.where(chains.closed, first, -1)[filled]
    return onward


def directions(chains):
    """Directions of travel at the ends of elements.

    Parameters
    ----------
    chains : Chains

    Returns
    -------
    list of ndarray of float, shape (elements, 2)
        Unit directions at the start and at the end of each element; of a spline, that of its chord.
    """
    tangent = np.column_stack([chains.ux, chains.uy])
    chord = chains.end - chains.start
    length = np.hypot(*chord.T)
    chord = chord / np.maximum(length, 1e-12)[:, None]
    ends = []
    for point in (chains.start, chains.end):
        x, y = point[:, 0] - chains.x, point[:, 1] - chains.y
        away = np.maximum(np.hypot(x, y), 1e-12)
        across = np.column_stack([-y, x]) * (chains.turn / away)[:, None]
        ends.append(
            np.where(
                (chains.turn != 0)[:, None],
                across,
                np.where(chains.spline[:, None], chord, tangent),
            )
        )
    return ends


def describe_elements(chains, north=0.0):
    """Rows for the elements of all runs and for the corners between them.

    Parameters
    ----------
    chains : Chains
    north : float or ndarray of float, shape (elements,)
        Direction of grid north at the start of each element, degrees clockwise from the frame's own
        y axis.

    Returns
    -------
    ElementTable

    Notes
    -----
    Deflections are counted from the back tangent produced, as in route surveying, and + to the
    right in the direction of travel, like offsets elsewhere in this package.
    """
    onward, (leaves, ends) = next_element(chains), directions(chains)
    element, corner = _rows(chains, onward)
    leaving = np.where(corner, onward[element], element)
    run = group_index(chains.offsets)[element]
    size = np.bincount(run, minlength=len(chains.offsets) - 1)
    arc = ~corner & (chains.turn[element] != 0)
    straight = np.where(chains.spline[element], SPLINE, TANGENT)
    kind = np.where(corner, CORNER, np.where(arc, ARC, straight))
    length = np.where(corner, 0.0, chains.length[element])
    radius = np.where(arc, chains.radius[element], np.nan)
    back, ahead = ends[element], leaves[leaving]
    cross = back[:, 1] * ahead[:, 0] - back[:, 0] * ahead[:, 1]
    turned = np.degrees(np.arctan2(cross, (back * ahead).sum(axis=1)))
    deflection = np.where(kind == CORNER, turned, np.where(kind == TANGENT, 0.0, np.nan))
    deflection[arc] = np.degrees(-chains.turn[element[arc]] * length[arc] / radius[arc])
    curve = circular_curve(radius, np.where(arc, deflection, np.nan))
    centre = np.column_stack([chains.x, chains.y])[element]
    centre[~arc] = np.nan
    end = chains.end[element]
    return ElementTable(
        run=run,
        position=place_in_group(offsets_of(size)) + 1,
        kind=kind,
        element=element,
        onward=leaving,
        length=length,
        bearing=_bearings(ahead, np.broadcast_to(north, onward.shape)[leaving]),
        radius=radius,
        radius_sigma=np.where(arc, chains.radius_sigma[element], np.nan),
        deflection=deflection,
        chord=curve.chord,
        sagitta=curve.sagitta,
        tangent_length=curve.tangent_length,
        external=curve.external,
        centre=centre,
        start=np.where(corner[:, None], end, chains.start[element]),
        end=end,
    )


def _rows(chains, onward):
    """Element of each row, and whether the row is the corner after it (mask)."""
    count = len(chains.turn)
    arrives = np.flatnonzero((onward >= 0) & ~chains.smooth)
    element = np.concatenate([np.arange(count), arrives])
    corner = np.arange(len(element)) >= count
    order = np.lexsort((corner, element))
    return element[order], corner[order]


def _bearings(direction, north):
    """Degrees clockwise from grid north, 0 to 360, of unit directions, (rows, 2)."""
    bearing = np.mod(np.degrees(np.arctan2(direction[:, 0], direction[:, 1])) - north, 360.0)
    bearing[bearing >= 360.0] = 0.0  # a tiny negative angle, rounded
    return bearing


def run_lengths(chains):
    """Length of each run along its elements.

    Parameters
    ----------
    chains : Chains

    Returns
    -------
    ndarray of float, shape (runs,)
        Metres.
    """
    return group_sum(chains.length, chains.offsets).astype(float)
