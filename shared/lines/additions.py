"""New lines added to existing ones: their ends are snapped to what they nearly meet, and they cross
nothing."""

from dataclasses import dataclass

import numpy as np
import shapely

from ..arrays.ragged import rows_by_value
from ..language import tr
from ..tuning import UPDATE
from .leftovers import cut_out, find_leftovers, length_away, onto_lines
from .lines import chainages, is_closed, place_at
from .linestrings import shapes_of
from .rebuild import rebuild
from .update_decisions import Held, held_by_decision


@dataclass
class Added:
    """A new line: the edge, and its vertices, shape (v, 3), metres."""

    edge: int
    xyz: np.ndarray


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
        if is_closed(xyz):
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


def add_edges(layers, decisions, new, lines, stays, blend, check_cancel):
    """Add edges that are new as a whole, and the pieces of others that existing lines lack.

    Parameters
    ----------
    layers : UpdateLayers
    decisions : UpdateDecisions
    new : ndarray of bool, shape (edges,)
        Edges that are new as a whole.
    lines : ndarray of shapely LineString, shape (parts,)
        Parts of the existing lines as they will be.
    stays : ndarray of bool, shape (parts,)
        Those that are not retired.
    blend : float
        Length over which the move of an end fades, metres.
    check_cancel : callable
        Called for every edge and every piece; may raise.

    Returns
    -------
    added : list of Added
    held : list of Held
        What a decision holds back, and what would cross something.
    """
    ground = Ground(lines[stays], blend)
    added, held = _add_whole(layers, decisions, new, ground, check_cancel)
    pieces, more = _add_leftovers(layers, decisions, new, lines, ground, check_cancel)
    return added + pieces, held + more


def _add_whole(layers, decisions, new, ground, check_cancel):
    """Add the edges that are new as a whole, unless a part of one would cross something."""
    line, free = layers.comparison.edges.line, new & decisions.allow(decisions.edge)
    held = [
        held_by_decision(-1, edge, decisions.edge[edge]) for edge in np.flatnonzero(new & ~free)
    ]
    coming = np.flatnonzero(free[line])
    ground.expect(shapes_of([layers.edges[part] for part in coming]))
    added = []
    for edge, numbers in rows_by_value(line[coming]).items():
        check_cancel()
        parts = [
            (number, ground.meeting(layers.edges[coming[number]], number))
            for number in numbers.tolist()
        ]
        if any(ground.crosses(xyz, number) for number, xyz in parts):
            held.append(Held(-1, edge, tr("it would cross another line, or itself")))
            continue
        for number, xyz in parts:
            ground.add(xyz, number)
            added.append(Added(edge, xyz))
    return added, held


def _add_leftovers(layers, decisions, new, lines, ground, check_cancel):
    """Add pieces of edges that go on beyond the end of an existing line, or leave it."""
    edges, reach = layers.comparison.edges, layers.comparison.settings.max_offset
    tree, added, held = shapely.STRtree(lines), [], []
    for left in find_leftovers(layers.stretches, edges.part_length()):
        check_cancel()
        edge, whole = int(edges.line[left.edge_part]), layers.edges[left.edge_part]
        away = cut_out(whole, left.low, left.high)
        if new[edge] or length_away(away, tree, reach) < UPDATE.least_piece:
            continue
        decision = decisions.edge[edge]
        if not decisions.allow(decision):
            waits = held_by_decision(-1, edge, decision)
            if waits not in held[-1:]:  # once for all pieces of an edge, which follow each other
                held.append(waits)
            continue
        xyz = onto_lines(left, whole, layers.stretches, lines, ground.blend)
        if ground.crosses(xyz):
            held.append(Held(-1, edge, tr("what is new of it would cross another line")))
            continue
        ground.add(xyz)
        added.append(Added(edge, xyz))
    return added, held
