"""Single lines as line strings of shapely."""

import numpy as np
import shapely


def nearest_place(xyz, place):
    """The point of one line that is nearest to a place.

    Parameters
    ----------
    xyz : ndarray of float, shape (v, 3) or (v, 2)
        Metres.
    place : ndarray of float, shape (2,)

    Returns
    -------
    ndarray of float, shape (2,)
    """
    line = shapely.LineString(xyz[:, :2])
    where = shapely.line_locate_point(line, shapely.points(place))
    return shapely.get_coordinates(shapely.line_interpolate_point(line, where))[0]


def shapes_of(parts):
    """Lines in plan from their vertices; of a single vertex, a line without a length.

    Parameters
    ----------
    parts : iterable of ndarray of float, shape (v, 3) or (v, 2)
        Metres.

    Returns
    -------
    ndarray of shapely LineString, shape (parts,)
    """
    return np.array(
        [shapely.LineString((xyz if len(xyz) > 1 else xyz[[0, 0]])[:, :2]) for xyz in parts],
        dtype=object,
    )
