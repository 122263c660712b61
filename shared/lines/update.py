"""A basemap brought up to date: lines redrawn where edges show that they moved, added, retired.

Junctions come first. Lines that share an end, or of which one ends on the other, must still do so
afterwards: so the place of every junction is decided first, and each line is then drawn between its
junctions.
"""

from dataclasses import dataclass, field
from typing import Optional

import numpy as np
import shapely

from ..arrays.ragged import stretch_starts
from ..language import number as printed
from ..language import tr
from ..tuning import COMPARISON, STRETCHES, UPDATE
from .additions import Ground
from .comparison import AGREES, DISPLACED, ONLY_EXISTING, ONLY_NEW, PARTLY
from .leftovers import cut_out, find_leftovers, length_away
from .lines import chainages, place_at
from .nodes import corner_of, find_nodes
from .rebuild import Piece, rebuild, with_vertex
from .stretches import find_stretches, stations_by_parts

UNCHANGED, SHIFTED, FOLLOWED, PARTLY_REPLACED, REPLACED, ADDED, RETIRED = range(7)
WHAT_NAMES = ("unchanged", "shifted", "followed", "partly", "replaced", "added", "retired")
NONE, ACCEPT, HOLD, REJECT = range(4)
DECISIONS = ("", "accept", "hold", "reject")
NO_ROWS = np.zeros(0, np.int64)


@dataclass(frozen=True)
class UpdateSettings:
    """What the user can choose.

    Attributes
    ----------
    replace_all : bool
        Redraw all that is matched, not only what is displaced.
    add_new : bool
        Add edges that have no counterpart.
    retire : bool
        Mark lines that are gone.
    needs_decision : bool
        Adopt only what a person accepted.
    blend : float
        Length of the transition between an edge and the old line, metres.
    follow : float
        How far the end of an untouched neighbour may move with a junction, metres.

    Raises
    ------
    ValueError
        If a length is negative or not finite; the message names it.
    """

    replace_all: bool = False
    add_new: bool = True
    retire: bool = True
    needs_decision: bool = False
    blend: float = 2.0
    follow: float = 1.0

    def __post_init__(self):
        for name in ("blend", "follow"):
            if not (getattr(self, name) >= 0 and np.isfinite(getattr(self, name))):
                raise ValueError(f"{name} must be 0 m or greater, got {getattr(self, name)}")


@dataclass
class Held:
    """Something that waits for a person: `existing` or `edge` is a row, -1 for none."""

    existing: int
    edge: int
    why: str


@dataclass
class Added:
    """A new line: the edge, and its vertices, shape (v, 3), metres."""

    edge: int
    xyz: np.ndarray


@dataclass
class UpdatePlan:
    """What becomes of every line.

    Attributes
    ----------
    what : ndarray of int, shape (existing,)
        Place in `WHAT_NAMES`.
    parts : dict of int to list of ndarray of float, shape (v, 3)
        New vertices of the parts of each line that changed in more than the shift, metres of the
        frame.
    edges_of : dict of int to list of int
        Edges from which each changed line was drawn.
    added : list of Added
    held : list of Held
    shift : ndarray of float, shape (2,)
        Added to every existing line first: minus what the comparison removed.
    adopted : ndarray of bool, shape (edges,)
        Edges that went into a line; each edge is adopted, held, refused or not needed.
    """

    what: np.ndarray
    parts: dict = field(default_factory=dict)
    edges_of: dict = field(default_factory=dict)
    added: list = field(default_factory=list)
    held: list = field(default_factory=list)
    shift: np.ndarray = field(default_factory=lambda: np.zeros(2))
    adopted: Optional[np.ndarray] = None


def plan_update(comparison, settings=None, edge_decision=None, line_decision=None, progress=None):
    """Plan how a basemap is brought up to date.

    Parameters
    ----------
    comparison : Comparison
        Of the edges with the existing lines.
    settings : UpdateSettings, optional
    edge_decision, line_decision : ndarray of int, optional
        Place in `DECISIONS` of each edge, of each existing line.
    progress : callable, optional
        Called with the share of work done, 0 to 1. It may raise to stop the work.

    Returns
    -------
    UpdatePlan

    Notes
    -----
    Lines that would newly cross themselves or others, and lines on which another one ends that
    would have to follow too far, are held back; the rest is then planned again without them.
    """
    settings = settings or UpdateSettings()
    progress = progress or (lambda share: None)
    progress(0.0)
    decisions = edge_decision, line_decision
    planner = _Planner(comparison, settings, decisions, lambda: progress(0.5))
    drawn = planner.draw()
    wrong = planner.faults(drawn)
    while wrong:  # each round holds back at least one more line
        planner.hold(wrong)
        drawn = planner.draw()
        wrong = planner.faults(drawn)
    plan = planner.complete(drawn)
    progress(1.0)
    return plan


class _Planner:
    """The lines, their junctions and the stretches that may be redrawn. `check_cancel` is called
    for every line and may raise."""

    def __init__(self, comparison, settings, decisions, check_cancel):
        self.comparison, self.settings, self.check_cancel = comparison, settings, check_cancel
        edge_decision, line_decision = decisions
        shift = comparison.shift
        self.shift = -np.asarray(shift.known[:2]) if comparison.shift_removed else np.zeros(2)
        self.existing = comparison.existing.moved(*self.shift)
        self.old = _vertices(self.existing)
        self.edges = _vertices(comparison.edges)
        self.shapes = _shapes(self.old)
        self.nodes = find_nodes(self.existing, self.shapes)
        self.edge_decision = _decisions(edge_decision, comparison.edges.count)
        self.line_decision = _decisions(line_decision, self.existing.count)
        self.part_length = self.existing.part_length()
        self.held, self.reasons, self.said = {}, [], set()
        self.first_part = np.searchsorted(self.existing.line, np.arange(self.existing.count + 1))
        stations = stations_by_parts(comparison)
        self.move = stations.move
        self.found = find_stretches(stations, self.existing)
        self.stretches = self._wanted(self.found)
        self.rings = self._ring_pieces()

    def _ring_pieces(self):
        """By part, rings that one closed edge replaces as a whole: the edge starts next to the
        start of the ring and runs round in the same direction."""
        out = {}
        for part, rows in _rows_of(self.stretches.part).items():
            self.check_cancel()
            edges = np.unique(self.stretches.edge_part[rows])
            ring, edge = self.old[part], self.edges[edges[0]]
            if edges.size > 1 or not (_is_ring(ring) and _is_ring(edge)):
                continue
            spans = self.stretches.high[rows] - self.stretches.low[rows]
            if spans.sum() < COMPARISON.whole * self.part_length[part]:
                continue
            begun = _begun_at(edge, ring[0, :2] + self.move[self.stretches.first[rows[0]]])
            if shapely.LinearRing(begun[:, :2]).is_ccw != shapely.LinearRing(ring[:, :2]).is_ccw:
                begun = begun[::-1]
            out[part] = Piece(0.0, self.part_length[part], begun, 0.0, chainages(begun)[-1])
        return out

    def _wanted(self, stretches):
        """The stretches that may be redrawn; those held back by a decision are noted."""
        statistics = self.comparison.existing_statistics
        line = self.existing.line[stretches.part]
        edge = self.comparison.edges.line[stretches.edge_part]
        status = statistics.status[line]
        moved = status == DISPLACED
        moved |= (status == PARTLY) & (
            np.nan_to_num(statistics.displaced_share)[line] > UPDATE.displaced_share
        )
        if self.settings.replace_all:
            moved |= (status == AGREES) | (status == PARTLY)
        size = np.hypot(*self.move.T)
        farthest = np.array(
            [size[low : high + 1].max() for low, high in zip(stretches.first, stretches.last)]
        )
        moved &= farthest.reshape(-1) > UPDATE.least_move
        # the stricter decision of both counts: `DECISIONS` are in order of strictness
        worst = np.maximum(self.edge_decision[edge], self.line_decision[line])
        free = worst == ACCEPT
        if not self.settings.needs_decision:
            free |= worst == NONE
        for row in np.flatnonzero(moved & ~free):
            self._say_held(line[row], edge[row], worst[row])
        return stretches.take(np.flatnonzero(moved & free))

    def _say_held(self, line, edge, decision):
        """Note once that a line or edge is held back by a decision, or for want of one."""
        why = {HOLD: tr("a person holds it back"), REJECT: tr("a person rejected it")}
        held = Held(int(line), int(edge), why.get(decision, tr("it waits for a decision")))
        said = held.existing, held.edge, held.why
        if said not in self.said:
            self.said.add(said)
            self.reasons.append(held)

    def parts_of(self, line):
        """Parts of an existing line."""
        return np.arange(self.first_part[line], self.first_part[line + 1])

    def hold(self, wrong):
        """Hold lines back, each for its reason: they stay as they are."""
        rows_of = _rows_of(self.existing.line[self.stretches.part])
        for line, why in wrong.items():
            self.check_cancel()
            self.held[line] = why
            rows = rows_of.get(line, NO_ROWS)
            edges = np.unique(self.comparison.edges.line[self.stretches.edge_part[rows]])
            self.reasons += [Held(line, int(edge), why) for edge in edges.tolist()]
        keep = ~np.isin(self.existing.line[self.stretches.part], list(wrong))
        self.stretches = self.stretches.take(np.flatnonzero(keep))

    # --- drawing

    def draw(self):
        """New vertices of the parts that change, by part."""
        self.rows_of_part = _rows_of(self.stretches.part)
        by_part = {}
        for row, part in enumerate(self.stretches.part.tolist()):
            by_part.setdefault(part, []).append(row)
        targets, stays = self._targets(by_part)
        pieces = {
            part: self._pieces(rows, stays)
            if part not in self.rings or self.nodes.of_end[part, 0] in stays
            else [self.rings[part]]
            for part, rows in by_part.items()
        }
        return self._draw_in_order(pieces, targets)

    def _targets(self, by_part):
        """New places of the junctions at the ends of redrawn lines, by node, and the nodes that
        stay because others would have to follow too far."""
        wanted = {}
        for rows in by_part.values():
            for row in rows:
                for end, there in enumerate((self.stretches.at_start, self.stretches.at_end)):
                    if there[row]:
                        node = int(self.nodes.of_end[self.stretches.part[row], end])
                        wanted.setdefault(node, []).append(row)
        free = self._free_ends(by_part)
        targets, stays = {}, set()
        for node, rows in wanted.items():
            self.check_cancel()
            target = self._target(node, rows)
            if node in free and np.hypot(*(target - self.nodes.place[node])) > self.settings.follow:
                stays.add(node)
            else:
                targets[node] = target
        return targets, stays

    def _free_ends(self, by_part):
        """Nodes at which a line ends that is not redrawn there."""
        drawn = {
            (part, end)
            for part, rows in by_part.items()
            for row in rows
            for end, there in enumerate((self.stretches.at_start, self.stretches.at_end))
            if there[row]
        }
        return {
            int(node)
            for part, ends in enumerate(self.nodes.of_end)
            for end, node in enumerate(ends)
            if (part, end) not in drawn
        }

    def _target(self, node, rows):
        """New place of a junction: on its edge, or at the corner of two."""
        place, feet = self.nodes.place[node], []
        ring = self.rings.get(int(self.stretches.part[rows[0]]))
        if ring is not None and (self.stretches.part[rows] == self.stretches.part[rows[0]]).all():
            return ring.edge[0, :2]
        for row in rows:
            # the last station at that end of the stretch shows where the edge lies
            at_start = self.nodes.of_end[self.stretches.part[row], 0] == node
            at_start &= self.stretches.at_start[row]
            station = (self.stretches.first if at_start else self.stretches.last)[row]
            edge = self.edges[self.stretches.edge_part[row]]
            feet.append(_beside(edge, place + self.move[station]))
        feet = np.array(feet)
        edges = [int(self.stretches.edge_part[row]) for row in rows]
        if len(set(edges)) == 2:
            first, second = (
                edges.index(edges[0]),
                edges.index(next(e for e in edges if e != edges[0])),
            )
            corner = corner_of(
                self.edges[edges[first]],
                self.edges[edges[second]],
                (feet[first], feet[second]),
                self.comparison.settings.max_offset,
            )
            if corner is not None:
                return corner
        middle = feet.mean(axis=0)
        return _beside(self.edges[edges[0]], middle) if len(set(edges)) == 1 else middle

    def _pieces(self, rows, stays):
        """Pieces of edges along a part, cut back at junctions that stay."""
        out = []
        self.check_cancel()
        for row in sorted(rows, key=lambda row: self.stretches.low[row]):
            s = self.stretches
            low, high, edge_low, edge_high = (
                float(values[row]) for values in (s.low, s.high, s.edge_low, s.edge_high)
            )
            way = np.sign(edge_high - edge_low)
            back = min(self.settings.blend, (high - low) / 3)
            ends = self.nodes.of_end[s.part[row]]
            if s.at_start[row] and int(ends[0]) in stays:
                low, edge_low = low + back, edge_low + way * back
            if s.at_end[row] and int(ends[1]) in stays:
                high, edge_high = high - back, edge_high - way * back
            out.append(Piece(low, high, self.edges[s.edge_part[row]], edge_low, edge_high))
        return out

    def _draw_in_order(self, pieces, targets):
        """Draw hosts before the lines that end on them."""
        drawn, waiting = {}, self._affected(pieces, targets)
        while waiting:
            ready = [part for part in waiting if self._hosts_of(part).isdisjoint(waiting)]
            for part in sorted(ready or [min(waiting)]):
                self.check_cancel()
                new = self._draw_part(part, pieces.get(part, []), targets, drawn)
                if new is not None:
                    drawn[part] = new
                waiting.discard(part)
        return self._with_junctions(drawn)

    def _affected(self, pieces, targets):
        """Parts that are redrawn, whose end moves, or that end on such a part."""
        out = set(pieces)
        for part, ends in enumerate(self.nodes.of_end.tolist()):
            if any(node in targets for node in ends):
                out.add(part)
        ends_on = {}
        for part, ends in enumerate(self.nodes.of_end.tolist()):
            for node in ends:
                if self.nodes.host[node] >= 0:
                    ends_on.setdefault(int(self.nodes.host[node]), set()).add(part)
        todo = list(out)
        while todo:
            for other in ends_on.get(todo.pop(), ()):
                if other not in out:
                    out.add(other)
                    todo.append(other)
        return out

    def _hosts_of(self, part):
        hosts = {int(self.nodes.host[node]) for node in self.nodes.of_end[part]}
        return hosts - {-1, part}

    def _draw_part(self, part, pieces, targets, drawn):
        """New vertices of a part, None if nothing moves it."""
        old, moves = self.old[part], []
        for end, node in enumerate(self.nodes.of_end[part].tolist()):
            place = self._node_place(node, targets, drawn)
            here = old[0 if end == 0 else -1]
            moves.append(np.zeros(3) if place is None else np.append(place - here[:2], 0.0))
        if not pieces and not np.any(moves):
            return None
        return rebuild(old, _onto_nodes(pieces, old, moves), *moves, self.settings.blend)

    def _node_place(self, node, targets, drawn):
        """New place of a junction, None if it stays."""
        host, here = int(self.nodes.host[node]), targets.get(node)
        if host < 0 or (here is None and host not in drawn):
            return here
        if here is None:
            here = self.nodes.place[node] + self._host_move(node, host, drawn)
        place = _nearest(drawn.get(host, self.old[host]), here)
        unmoved = np.hypot(*(place - self.nodes.place[node])) <= UPDATE.same_place
        return None if unmoved else place

    def _host_move(self, node, host, drawn):
        """Move of a host where a line ends on it: that of its nearest station, else the way to its
        new line."""
        rows = self.rows_of_part.get(host, NO_ROWS)
        chainage = self.nodes.host_chainage[node]
        inside = rows[
            (self.stretches.low[rows] <= chainage) & (chainage <= self.stretches.high[rows])
        ]
        if inside.size:
            first, last = self.stretches.first[inside[0]], self.stretches.last[inside[0]]
            count = last - first
            share = (chainage - self.stretches.low[inside[0]]) / max(
                self.stretches.high[inside[0]] - self.stretches.low[inside[0]], 1e-9
            )
            return self.move[first + int(np.clip(round(share * count), 0, count))]
        return _nearest(drawn[host], self.nodes.place[node]) - self.nodes.place[node]

    def _with_junctions(self, drawn):
        """Add a vertex to each redrawn host where another line ends on it."""
        for part, ends in enumerate(self.nodes.of_end.tolist()):
            for end, node in zip((0, -1), ends):
                host = int(self.nodes.host[node])
                if host in drawn:
                    self.check_cancel()
                    place = drawn.get(part, self.old[part])[end]
                    drawn[host] = with_vertex(drawn[host], place)
        return drawn

    # --- checks

    def faults(self, drawn):
        """Redrawn lines that cannot stay so, with the reason, by line."""
        wrong = self._followers_too_far(drawn)
        shapes = self.shapes.copy()
        for part, xyz in drawn.items():
            self.check_cancel()
            line = int(self.existing.line[part])
            if len(xyz) < 2 or not np.isfinite(xyz[:, :2]).all():
                wrong[line] = tr("nothing would be left of it")
                continue
            shapes[part] = shapely.LineString(xyz[:, :2])
            if self.shapes[part].is_simple and not shapes[part].is_simple:
                wrong[line] = tr("it would cross itself")
        wrong.update(self._crossings(drawn, shapes, wrong))
        known = set(self.existing.line[self.stretches.part].tolist())
        return {line: why for line, why in wrong.items() if line in known}

    def _followers_too_far(self, drawn):
        """Hosts with a line ending on them that would have to follow too far."""
        wrong = {}
        stretched = set(self.stretches.part.tolist())
        for part, xyz in drawn.items():
            if part in stretched:
                continue
            for end, node in zip((0, -1), self.nodes.of_end[part].tolist()):
                way = np.hypot(*(xyz[end, :2] - self.old[part][end, :2]))
                host = int(self.nodes.host[node])
                if way > self.settings.follow and host >= 0:
                    wrong[int(self.existing.line[host])] = tr(
                        "a line that ends on it would have to follow by {} m"
                    ).format(printed(way, 2))
        return wrong

    def _crossings(self, drawn, shapes, wrong):
        """Redrawn lines that newly cross another line."""
        out = {}
        changed = np.array(sorted(drawn), np.int64)
        if not changed.size:
            return out
        row, other = shapely.STRtree(shapes).query(shapes[changed], predicate="crosses")
        part = changed[row]
        # they did not cross before
        new = ~shapely.crosses(self.shapes[part], self.shapes[other])
        for a, b in zip(part[new].tolist(), other[new].tolist()):
            line = int(self.existing.line[a])
            others = int(self.existing.line[b])
            if line not in wrong and others not in wrong and others not in out:
                out[line] = tr("it would cross another line")
        return out

    # --- the whole

    def complete(self, drawn):
        """The plan: what becomes of every line and edge."""
        count = self.existing.count
        start = SHIFTED if self.shift.any() else UNCHANGED
        plan = UpdatePlan(
            what=np.full(count, start),
            shift=self.shift,
            held=list(self.reasons),
            adopted=np.zeros(self.comparison.edges.count, bool),
        )
        stretched = _rows_of(self.existing.line[self.stretches.part])
        for part in sorted(drawn):
            self.check_cancel()
            line = int(self.existing.line[part])
            own = self.parts_of(line)
            plan.parts[line] = [drawn.get(int(p), self.old[p]) for p in own]
            rows = stretched.get(line, NO_ROWS)
            edges = np.unique(self.comparison.edges.line[self.stretches.edge_part[rows]])
            plan.edges_of[line] = edges.tolist()
            plan.adopted[edges] = True
            plan.what[line] = FOLLOWED if not rows.size else self._how_much(line, rows)
        self._retire(plan)
        if self.settings.add_new:
            self._add(plan)
        return plan

    def _how_much(self, line, rows):
        """REPLACED if a line was redrawn as a whole, else PARTLY_REPLACED."""
        length = self.part_length[self.parts_of(line)].sum()
        drawn = (self.stretches.high[rows] - self.stretches.low[rows]).sum()
        return REPLACED if drawn > length - UPDATE.least_piece / 2 else PARTLY_REPLACED

    def _retire(self, plan):
        """Retire lines that were visited and have no edge, unless a person must decide."""
        gone = self.comparison.existing_statistics.status == ONLY_EXISTING
        gone &= self.comparison.existing_statistics.length > 0
        if not self.settings.retire:
            return
        for line in np.flatnonzero(gone).tolist():
            decision = self.line_decision[line]
            seen = self.comparison.existing_statistics.visited_share[line]
            if decision in (HOLD, REJECT) or (self.settings.needs_decision and decision != ACCEPT):
                self._say_held(line, -1, decision)
            elif seen < COMPARISON.whole and decision != ACCEPT:
                why = tr("no edge runs along it, but only {} % of it was visited").format(
                    printed(100 * seen, 0)
                )
                self.reasons.append(Held(line, -1, why))
            elif plan.what[line] in (UNCHANGED, SHIFTED, FOLLOWED):
                plan.what[line] = RETIRED
        plan.held = list(self.reasons)

    def _add(self, plan):
        """Add edges that are new as a whole, and the pieces of others that existing lines lack."""
        statistics, line = self.comparison.edge_statistics, self.comparison.edges.line
        new = (statistics.status == ONLY_NEW) & (statistics.length > 0) & ~plan.adopted
        after = self._shapes_after(plan)
        stays = plan.what[self.existing.line] != RETIRED
        ground = Ground(after[stays], self.settings.blend)
        wanted = [edge for edge in np.flatnonzero(new).tolist() if self._may_add(edge)]
        coming = np.flatnonzero(np.isin(line, wanted)).tolist()
        ground.expect(_shapes([self.edges[part] for part in coming]))
        numbers_of = _rows_of(line[coming])
        for edge in wanted:
            self.check_cancel()
            numbers = numbers_of.get(edge, NO_ROWS).tolist()
            self._add_edge(plan, ground, edge, [(n, self.edges[coming[n]]) for n in numbers])
        self._add_leftovers(plan, new, ground, after)
        plan.held = list(self.reasons)

    def _add_edge(self, plan, ground, edge, parts):
        """Add an edge that is new as a whole, unless a part of it would cross something."""
        parts = [(number, ground.meeting(xyz, number)) for number, xyz in parts]
        if any(ground.crosses(xyz, number) for number, xyz in parts):
            self.reasons.append(Held(-1, edge, tr("it would cross another line, or itself")))
            return
        plan.adopted[edge] = True
        for number, xyz in parts:
            ground.add(xyz, number)
            plan.added.append(Added(edge, xyz))

    def _may_add(self, edge):
        """True if decisions allow an edge to be added; otherwise it is noted as held back."""
        decision = self.edge_decision[edge]
        if decision in (HOLD, REJECT) or (self.settings.needs_decision and decision != ACCEPT):
            self._say_held(-1, edge, decision)
            return False
        return True

    def _add_leftovers(self, plan, new, ground, lines):
        """Add pieces of edges that go on beyond the end of an existing line, or leave it."""
        lengths = self.comparison.edges.part_length()
        tree = shapely.STRtree(lines)
        reach = self.comparison.settings.max_offset
        for left in find_leftovers(self.found, lengths):
            self.check_cancel()
            edge = int(self.comparison.edges.line[left.edge_part])
            xyz = cut_out(self.edges[left.edge_part], left.low, left.high)
            if new[edge] or length_away(xyz, tree, reach) < UPDATE.least_piece:
                continue
            if not self._may_add(edge):
                continue
            xyz = self._joined(left, lines)
            if ground.crosses(xyz):
                self.reasons.append(
                    Held(-1, edge, tr("what is new of it would cross another line"))
                )
                continue
            ground.add(xyz)
            plan.adopted[edge] = True
            plan.added.append(Added(edge, xyz))

    def _shapes_after(self, plan):
        """Shapes of all parts as they will be."""
        shapes = self.shapes.copy()
        for line, parts in plan.parts.items():
            shapes[self.parts_of(line)] = _shapes(parts)
        return shapes

    def _joined(self, left, lines):
        """A piece of an edge, its ends moved onto the lines that the edge runs along before and
        after it."""
        edge = self.edges[left.edge_part]
        low, high, moves = left.low, left.high, [np.zeros(3), np.zeros(3)]
        if left.before >= 0:
            low, moves[0] = self._joint(left.before, edge, low, lines)
        if left.after >= 0:
            high, moves[1] = self._joint(left.after, edge, high, lines)
        return rebuild(cut_out(edge, low, high), [], *moves, self.settings.blend)

    def _joint(self, row, edge, chainage, lines):
        """Where an edge leaves a line: chainage, and the vector from there onto the line."""
        line = lines[self.found.part[row]]
        here = place_at(edge, chainage)[:2]
        onto = _nearest(shapely.get_coordinates(line), here)
        ends = shapely.get_coordinates(line)[[0, -1]]
        end = ends[np.argmin(np.hypot(*(ends - here).T))]
        if np.hypot(*(end - onto)) <= STRETCHES.end_slack:  # no stub of the line beyond the joint
            onto = end
        shape = shapely.LineString(edge[:, :2])
        at = float(shapely.line_locate_point(shape, shapely.points(onto)))
        if abs(at - chainage) > 2 * STRETCHES.end_slack:
            at = chainage
        return at, np.append(onto - place_at(edge, at)[:2], 0.0)


def _vertices(lines):
    """Vertices of each part, (v, 3)."""
    xyz = np.column_stack([lines.x, lines.y, lines.z])
    return [xyz[low:high] for low, high in zip(lines.offsets[:-1], lines.offsets[1:])]


def _rows_of(values):
    """Dictionary from each value to its rows, values rising."""
    order = np.argsort(values, kind="stable")
    starts = np.flatnonzero(stretch_starts(values[order]))
    return dict(zip(values[order[starts]].tolist(), np.split(order, starts[1:])))


def _shapes(parts):
    return np.array([shapely.LineString(xyz[:, :2]) for xyz in parts], dtype=object)


def _decisions(given, count):
    return np.zeros(count, np.int64) if given is None else np.asarray(given, np.int64)


def _nearest(xyz, place):
    """The point of a line that is nearest to a place, shape (2,)."""
    line = shapely.LineString(xyz[:, :2])
    where = shapely.line_locate_point(line, shapely.points(place))
    return shapely.get_coordinates(shapely.line_interpolate_point(line, where))[0]


def _is_ring(xyz):
    return len(xyz) > 3 and np.array_equal(xyz[0, :2], xyz[-1, :2])


def _begun_at(ring, place):
    """A ring that starts at its point nearest to a place."""
    grown = with_vertex(ring, _nearest(ring, place))[:-1]
    first = int(np.argmin(np.hypot(*(grown[:, :2] - _nearest(ring, place)).T)))
    turned = np.roll(grown, -first, axis=0)
    return np.concatenate([turned, turned[:1]])


def _beside(xyz, place):
    """The nearest point of a line, or the place itself if it lies beyond the line's end."""
    nearest = _nearest(xyz, place)
    if np.array_equal(xyz[0, :2], xyz[-1, :2]):
        return nearest
    rims = np.hypot(*(xyz[[0, -1], :2] - nearest).T)
    return place if rims.min() <= UPDATE.same_place else nearest


def _onto_nodes(pieces, old, moves):
    """Pieces, those that reach an end of the line starting or ending next to its new place."""
    out, length = list(pieces), chainages(old)[-1]
    if out and out[0].low <= UPDATE.same_place and moves[0].any():
        out[0] = _begun(out[0], old[0, :2] + moves[0][:2], True)
    if out and out[-1].high >= length - UPDATE.same_place and moves[1].any():
        out[-1] = _begun(out[-1], old[-1, :2] + moves[1][:2], False)
    return out


def _begun(piece, place, at_low):
    """A piece that starts, or with `at_low` False ends, next to a place."""
    shape = shapely.LineString(piece.edge[:, :2])
    where = float(shapely.line_locate_point(shape, shapely.points(place)))
    here, other = piece.edge_low, piece.edge_high
    if not at_low:
        here, other = other, here
    # the other end of an edge that nearly closes may be the nearest
    if abs(where - here) > abs(other - here) / 2 or abs(where - other) < UPDATE.same_place:
        return piece
    edge_low, edge_high = (where, other) if at_low else (other, where)
    return Piece(piece.low, piece.high, piece.edge, edge_low, edge_high)
