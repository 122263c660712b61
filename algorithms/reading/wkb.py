"""Coordinates from well-known binary, many geometries at once."""

import numpy as np
from qgis.core import QgsGeometry

from .arrow import Ragged

# types of well-known binary, OGC 06-103r4
LINE, POLYGON, MULTI_LINE, MULTI_POLYGON = 2, 3, 5, 6


def points_of_wkb(blobs):
    """Coordinates of many points from their well-known binary.

    Parameters
    ----------
    blobs : iterable of bytes or None
        WKB after OGC 06-103r4 (ISO type numbers) or with the older high-bit flag for Z.

    Returns
    -------
    x, y, z, m : ndarray of float, shape (n,)
        NaN where absent.
    parts : ndarray of int32, shape (n,)
        Number of points: 0 for null and empty geometries and for anything that is no point.
    """
    blobs = [blob or b"" for blob in blobs]
    return points_of_ragged(
        Ragged(
            np.frombuffer(b"".join(blobs), np.uint8),
            np.fromiter(map(len, blobs), np.int64, len(blobs)),
        )
    )


def points_of_ragged(blobs):
    """As `points_of_wkb`, of a `Ragged`."""
    data, lengths = blobs.data, blobs.lengths
    size = len(lengths)
    out, parts = [*np.full((3, size), np.nan), None], np.zeros(size, np.int32)  # M is rare
    longest = int(lengths.max(initial=0))
    for length in (
        [longest] if ((lengths == longest) | (lengths == 0)).all() else np.unique(lengths).tolist()
    ):
        if length < 9:
            continue
        rows = _all_or_some(lengths == length)
        if isinstance(rows, slice) or len(rows) * length == len(data):
            matrix = data.reshape(-1, length)
        else:
            matrix = data[(np.cumsum(lengths) - lengths)[rows][:, None] + np.arange(length)]
        _points_of_matrix(matrix, rows, out, parts)
    empty = np.isnan(out[0]) & np.isnan(out[1]) & (parts == 1)
    parts[empty] = 0
    out[2][empty] = np.nan
    if out[3] is None:
        out[3] = np.broadcast_to(np.nan, size)
    else:
        out[3][empty] = np.nan
    return (*out, parts)


def _points_of_matrix(matrix, rows, out, parts):
    """Fill in the points of WKB that all has one length, shape (k, bytes), into `rows`, a slice or
    numbers."""
    for order, letter in ((1, "<"), (0, ">")):
        here = _all_or_some(matrix[:, 0] == order)
        if here is None:
            continue
        types = np.ascontiguousarray(matrix[here, 1:5]).view(letter + "u4")[:, 0]
        for number in (
            types[:1].tolist() if (types == types[0]).all() else np.unique(types).tolist()
        ):
            base, has_z, has_m = dimensions_of(number)
            size = 2 + has_z + has_m
            some = _all_or_some(types == number)
            if not isinstance(here, slice):
                some = here[some]
            start, target = (
                5,
                (rows if isinstance(some, slice) else np.arange(len(parts))[rows][some]),
            )
            if base == 4:
                parts[target] = np.ascontiguousarray(matrix[some, 5:9]).view(letter + "u4")[:, 0]
                if matrix.shape[1] != 9 + 5 + 8 * size:
                    continue  # none or several points: no one position
                start, letter_inner = 14, "<" if matrix[some][0, 9] == 1 else ">"
            elif base == 1 and matrix.shape[1] >= 5 + 8 * size:
                letter_inner = letter
                parts[target] = 1
            else:
                continue
            row = np.dtype(
                {
                    "names": ["values"],
                    "formats": [(letter_inner + "f8", size)],
                    "offsets": [start],
                    "itemsize": matrix.shape[1],
                }
            )
            values = matrix[some].view(row)["values"][:, 0]
            out[0][target], out[1][target] = values[:, 0], values[:, 1]
            if has_z:
                out[2][target] = values[:, 2]
            if has_m:
                out[3] = np.full(len(parts), np.nan) if out[3] is None else out[3]
                out[3][target] = values[:, 2 + has_z]


def _all_or_some(mask):
    """What a mask chooses: a slice where it is all, since that takes no copy; None where it is
    nothing."""
    if mask.all():
        return slice(None)
    some = np.flatnonzero(mask)
    return some if some.size else None


def dimensions_of(number):
    """Base type, and whether Z and M are there, of a WKB type number."""
    has_z, has_m = bool(number & 0x80000000), bool(number & 0x40000000)
    number &= 0x0FFFFFFF
    thousands, base = divmod(number, 1000)
    return base, int(has_z or thousands in (1, 3)), int(has_m or thousands in (2, 3))


def vertices_of_line(geometry):
    """Vertices of a line, polygon or several, shape (v, 4) (x, y, z, m; NaN where absent), and the
    part, or ring, that each belongs to, shape (v,)."""
    if geometry.isNull() or geometry.isEmpty():
        return np.full((0, 4), np.nan), np.zeros(0, np.int64)
    blob = geometry.asWkb().data()
    base, has_z, has_m = dimensions_of(int(np.frombuffer(blob, "<u4", 1, 1)[0]))
    size = 2 + has_z + has_m
    if base not in (LINE, POLYGON, MULTI_LINE, MULTI_POLYGON):
        # curves: their control points are what was observed
        vertices = list(geometry.vertices())
        points = np.array([(v.x(), v.y(), v.z(), v.m()) for v in vertices], float).reshape(-1, 4)
        return points, np.zeros(len(points), np.int64)
    spans = _spans(blob, base, 8 * size)
    flat = [
        np.frombuffer(blob, "<f8", count * size, start).reshape(count, size)
        for start, count in spans
    ]
    values = np.concatenate(flat) if flat else np.zeros((0, size))
    points = np.full((len(values), 4), np.nan)
    points[:, :2] = values[:, :2]
    if has_z:
        points[:, 2] = values[:, 2]
    if has_m:
        points[:, 3] = values[:, 2 + has_z]
    return points, np.repeat(np.arange(len(spans)), [count for _, count in spans])


def _spans(blob, base, width):
    """First byte and number of vertices of each part or ring; a vertex has `width` bytes."""
    spans = []

    def number(place):
        return int(np.frombuffer(blob, "<u4", 1, place)[0])

    def take(place):
        spans.append((place + 4, number(place)))
        return place + 4 + spans[-1][1] * width

    def take_all(place):
        rings, place = number(place), place + 4
        for _ in range(rings):
            place = take(place)
        return place

    one = take if base in (LINE, MULTI_LINE) else take_all
    if base in (LINE, POLYGON):
        one(5)
        return spans
    at = 9
    for _ in range(number(5)):
        at = one(at + 5)  # after the head of the part
    return spans


def point_of_vertex(geometry, number):
    """The geometry of one vertex of a line, Z and M included."""
    return QgsGeometry(geometry.vertexAt(number).clone())
