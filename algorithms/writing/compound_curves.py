"""CompoundCurveZ from points along elements, many geometries at once."""

import struct

import numpy as np
from qgis.core import QgsGeometry

# ISO type numbers (OGC 06-103r4, ISO/IEC 13249-3), little endian
_LINE, _ARC, _COMPOUND = (struct.pack("<BI", 1, number) for number in (1002, 1008, 1009))


def compound_curves(x, y, z, offsets, arc, features):
    """Yield a CompoundCurveZ for each feature; an empty one for a feature without paths.

    Parameters
    ----------
    x, y, z : ndarray of float, shape (v,)
        Points of the paths.
    offsets : ndarray of int, shape (paths + 1,)
    arc : ndarray of bool, shape (paths,)
        True where the path's points are those of a CircularString: an odd number of them.
    features : ndarray of int, shape (features + 1,)
        Feature ``f`` holds the paths ``features[f]`` to ``features[f + 1] - 1``. Each one starts at
        the point where the one before ends, and takes over that point's coordinates to the last
        bit. Straight paths in a row become one part.
    """
    flat = np.ascontiguousarray(np.column_stack([x, y, z]), "<f8")
    offsets, arc = np.asarray(offsets).tolist(), np.asarray(arc).tolist()
    for first, last in zip(features[:-1].tolist(), features[1:].tolist()):
        parts, line, before = [], [], None

        def end_line(parts=parts, line=line):
            if line:
                parts.append(_LINE + struct.pack("<I", sum(map(len, line)) // 24) + b"".join(line))
                line.clear()

        for path in range(first, last):
            own = flat[offsets[path] : offsets[path + 1]].tobytes()
            joined = own if before is None else before + own[24:]
            if arc[path]:
                end_line()
                parts.append(_ARC + struct.pack("<I", len(joined) // 24) + joined)
            else:
                line.append(own[24:] if line else joined)
            before = own[-24:]
        end_line()
        geometry = QgsGeometry()
        geometry.fromWkb(_COMPOUND + struct.pack("<I", len(parts)) + b"".join(parts))
        yield geometry
