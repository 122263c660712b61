"""New lines added to existing ones: their ends are snapped to what they nearly meet, and they cross
nothing."""

import numpy as np
import shapely

from ..tuning import UPDATE
from .leftovers import cut_out
from .lines import chainages, place_at
from .rebuild import rebuild


class Ground:
    """The lines of a basemap as they will be, to which new lines are added one by one.

    Parameters
    ----------
    lines : ndarray of shapely LineString, shape (n,)
        Existing lines that stay.
    blend : float
        Length over which the move of an end fades, metres.
    """

    def __init__(self, lines, blend):
        self.lines, self.blend = lines, blend
        self.tree = shapely.STRtree(lines)
        self.coming, self.coming_tree, self.added = [], None, {}

    def expect(self, lines):
        """Announce new lines, shape (m,), that may be added: others can end on the inside of one
        before it is added."""
        self.coming = np.asarray(lines, object)
        self.coming_tree = shapely.STRtree(self.coming)

    def meeting(self, xyz, own=-1):
        """A new line with its ends snapped to what they nearly meet.

        Parameters
        ----------
        xyz : ndarray of float, shape (v, 3)
            Metres.
        own : int
            Its number among the announced lines, -1 for none.

        Returns
        -------
        ndarray of float, shape (w, 3)
            Unchanged if it is a ring or far from all else. An end within `UPDATE.snap` of the end
            of a line is moved there, else onto the line itself; what reaches beyond is cut off.
        """
        if np.array_equal(xyz[0, :2], xyz[-1, :2]):
            return xyz
        length = chainages(xyz)[-1]
        low, at_start = self._met(xyz, 0.0, own)
        high, at_end = self._met(xyz, length, own)
        if high - low < UPDATE.least_piece / 2 or (at_start is None and at_end is None):
            return xyz
        moves = [
            np.zeros(3) if target is None else np.append(target - place_at(xyz, at)[:2], 0.0)
            for target, at in ((at_start, low), (at_end, high))
        ]
        return rebuild(cut_out(xyz, low, high), [], *moves, self.blend)

    def _met(self, xyz, at, own):
        """Chainage at which a line is to end, and the place that its end is moved to; None if it
        stays."""
        end = xyz[0 if at == 0 else -1, :2]
        hosts = list(self._around(shapely.Point(end).buffer(UPDATE.snap), own))
        if not hosts:
            return at, None
        point, edge = shapely.Point(end), shapely.LineString(xyz[:, :2])
        rims = np.concatenate([shapely.get_coordinates(line)[[0, -1]] for line in hosts])
        away = np.hypot(*(rims - end).T)
        if away.min() <= UPDATE.snap:
            target = rims[np.argmin(away)]
        else:
            nearest = min(hosts, key=point.distance)
            if nearest.distance(point) > UPDATE.snap:
                return at, None
            rim = edge.intersection(nearest)
            if rim.is_empty or rim.distance(point) > 2 * UPDATE.snap:
                target = _coordinates(nearest.interpolate(nearest.project(point)))
            else:  # the line reaches beyond: it ends where it meets the other
                beyond = min(shapely.get_parts(rim), key=point.distance)
                target = shapely.get_coordinates(beyond)[0]
        here = float(shapely.line_locate_point(edge, shapely.Point(target)))
        return (here if abs(here - at) <= 2 * UPDATE.snap else at), target

    def crosses(self, xyz, own=-1):
        """True if a new line would cross another one or itself."""
        shape = shapely.LineString(xyz[:, :2])
        if not shape.is_simple:
            return True
        margin = 10 * UPDATE.same_place  # its ends may lie on lines, but for rounding
        if not shape.is_ring and shape.length > 4 * margin:
            shape = shapely.LineString(cut_out(xyz, margin, shape.length - margin)[:, :2])
        return any(shape.crosses(line) for line in self._around(shape, own, coming=False))

    def add(self, xyz, own=-1):
        """Add a new line; `own` as in `meeting`."""
        key = own if own >= 0 else -2 - len(self.added)
        self.added[key] = shapely.LineString(xyz[:, :2])

    def _around(self, shape, own, coming=True):
        """Lines near a shape: existing and added ones and, with `coming`, announced ones unless the
        shape is near one of their ends."""
        yield from self.lines[self.tree.query(shape)]
        if self.coming_tree is not None:
            for number in self.coming_tree.query(shape.buffer(2 * UPDATE.snap)).tolist():
                if number == own:
                    continue
                if number in self.added:
                    yield self.added[number]
                elif coming and not _near_an_end(self.coming[number], shape):
                    yield self.coming[number]
        for number, line in self.added.items():
            if number < 0 and line.intersects(shape):
                yield line


def _near_an_end(line, shape):
    ends = shapely.points(shapely.get_coordinates(line)[[0, -1]])
    return bool((shapely.distance(ends, shape) <= 2 * UPDATE.snap).any())


def _coordinates(point):
    return shapely.get_coordinates(point)[0]
