"""Join edges at the ends that belong together.

See `end_pairs` for which ends those are. What is ambiguous, such as the three ends of a junction,
is left open and listed.
"""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import (
    group_index,
    group_sum,
    offsets_of,
    ranges,
)
from .end_pairs import (
    RING,
    EndProperties,
    JoinLimits,
    choose_pairs,
    exclude_crossed,
    find_ends,
    find_pairs,
    geometries_of,
)
from .join_assembly import assemble, end_moves
from .join_changes import Changes, list_changes
from .lines import is_ring


@dataclass(frozen=True)
class Joined:
    """The joined edges.

    Attributes
    ----------
    x, y, z : ndarray of float, shape (v,)
        Vertices, metres.
    vertex : ndarray of int, shape (v,)
        Vertex of the input, unchanged; -1 for a new or moved one.
    offsets : ndarray of int, shape (edges + 1,)
    part : ndarray of int, shape (parts,)
        Edges of the input in the order in which they make up the result, each once.
    reversed : ndarray of bool, shape (parts,)
        True if the edge of the input is reversed in the result.
    part_offsets : ndarray of int, shape (edges + 1,)
        Where the parts of each edge start in `part`.
    closed : ndarray of bool, shape (edges,)
    changes : Changes
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    vertex: np.ndarray
    offsets: np.ndarray
    part: np.ndarray
    reversed: np.ndarray
    part_offsets: np.ndarray
    closed: np.ndarray
    changes: Changes

    def __len__(self):
        return len(self.closed)


def join_edges(
    lines, limits=None, sigma_up=None, group=None, kept=None, progress=lambda share: None
):
    """Join the ends of edges that belong together.

    Parameters
    ----------
    lines : Lines
        Each part is an edge. Their order is that of the results and decides between equals. `sigma`
        weights the two ends of a join.
    limits : JoinLimits, optional
    sigma_up : array_like of float, shape (edges,), optional
        Weights their heights; 0 if unknown.
    group : array_like of int, shape (edges,), optional
        Edges of different groups are not joined.
    kept : array_like of bool, shape (edges, 2), optional
        True at a start and at an end that must stay open.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    Joined

    Raises
    ------
    ValueError
        If an edge has no length or shapes do not agree.
    """
    limits = JoinLimits() if limits is None else limits
    count = len(lines.offsets) - 1
    length = lines.part_length()
    properties = _properties(lines, sigma_up, group, kept)
    ends = find_ends(lines, limits, lambda share: progress(0.3 * share))
    pairs = find_pairs(ends, limits, properties)
    progress(0.4)
    shapes = geometries_of(lines)
    pairs = exclude_crossed(pairs, ends, shapes, progress)
    chosen = choose_pairs(pairs, 2 * count)
    partner = np.full(2 * count, -1)
    for own, other in ((pairs.i, pairs.j), (pairs.j, pairs.i)):
        partner[own[chosen]] = other[chosen]
    if not limits.close_rings:
        chosen = _without_rings(pairs, chosen, partner, length)
    progress(0.6)
    part, turned, part_offsets, closed = _chains(partner, length)
    closed |= is_ring(lines)[part[part_offsets[:-1]]]
    moves = end_moves(ends, pairs, chosen, length)
    joined = assemble(lines, length, moves, (part, turned, part_offsets, closed))
    progress(0.9)
    edge_of = np.empty(count, np.int64)
    edge_of[part] = group_index(part_offsets)
    changes = list_changes(ends, pairs, chosen, partner, edge_of, closed, shapes, limits)
    progress(1.0)
    return Joined(*joined, part, turned, part_offsets, closed, changes)


def _properties(lines, sigma_up, group, kept):
    """`EndProperties` from the checked arguments of `join_edges`."""
    length = lines.part_length()
    if (length <= 0).any():
        raise ValueError(f"{np.count_nonzero(length <= 0)} edges have no length")
    count = len(length)
    sigma_up = np.zeros(count) if sigma_up is None else np.asarray(sigma_up, float)
    group = np.zeros(count, np.int64) if group is None else np.asarray(group)
    kept = np.zeros((count, 2), bool) if kept is None else np.asarray(kept, bool)
    if sigma_up.shape != (count,) or group.shape != (count,) or kept.shape != (count, 2):
        raise ValueError(
            f"sigma_up, group and kept must have one row for each of {count} edges, got"
            f" {sigma_up.shape}, {group.shape} and {kept.shape}"
        )
    return EndProperties(
        sigma=np.repeat(lines.sigma[lines.line], 2),
        sigma_up=np.repeat(sigma_up, 2),
        group=np.repeat(group, 2),
        kept=kept.ravel(),
    )


def _without_rings(pairs, chosen, partner, length):
    """The choice with each ring of several edges opened where its ends fit worst. Changes
    `partner`, `pairs.valid` and `pairs.fail`."""
    part, _, part_offsets, closed = _chains(partner, length)
    chain = np.empty(len(length), np.int64)
    chain[part] = group_index(part_offsets)
    taken = np.flatnonzero(chosen)
    taken = taken[closed[chain[pairs.i[taken] // 2]]]
    of = chain[pairs.i[taken] // 2]
    order = np.lexsort((taken, pairs.cost[taken], of))
    taken, of = taken[order], of[order]
    worst = taken[np.append(np.diff(of) > 0, True)] if len(of) else taken
    chosen = chosen.copy()
    chosen[worst], pairs.valid[worst], pairs.fail[worst] = False, False, RING
    partner[pairs.i[worst]] = partner[pairs.j[worst]] = -1
    return chosen


def _chains(partner, length):
    """Edges in the order and direction in which they follow each other: edges, True if reversed,
    offsets of chains, True for rings.

    A chain runs the way that most of its length ran; a ring starts at its first edge.
    """
    count = len(length)
    seen = np.zeros(count, bool)
    part, turned, sizes, closed = [], [], [], []
    partner = partner.tolist()
    for first in range(count):
        if seen[first]:
            continue
        at, ring = 2 * first, False  # go back to the start of the chain
        while partner[at] >= 0:
            at = partner[at] ^ 1
            if at == 2 * first:
                ring = True
                break
        edges, ways = [], []
        while True:
            edges.append(at // 2)
            ways.append(bool(at & 1))
            seen[at // 2] = True
            onward = partner[at ^ 1]
            if onward < 0 or seen[onward // 2]:
                break
            at = onward
        ways = np.array(ways)
        sizes_of = length[edges]
        forth, against = sizes_of[~ways].sum(), sizes_of[ways].sum()
        if against > forth * (1 + 1e-9) or (
            abs(against - forth) <= 1e-9 * forth and ways[int(np.argmin(edges))]
        ):
            edges, ways = edges[::-1], ~ways[::-1]
        if ring:
            turn = int(np.argmin(edges))
            edges, ways = edges[turn:] + edges[:turn], np.roll(ways, -turn)
        part += edges
        turned += ways.tolist()
        sizes.append(len(edges))
        closed.append(ring)
    part, turned, closed = np.array(part, np.int64), np.array(turned, bool), np.array(closed, bool)
    part_offsets = offsets_of(np.array(sizes, np.int64))
    lowest = np.minimum.reduceat(part, part_offsets[:-1]) if len(sizes) else np.zeros(0, np.int64)
    order = np.argsort(lowest, kind="stable")
    places = ranges(part_offsets[:-1][order], np.diff(part_offsets)[order])
    return (
        part[places],
        turned[places],
        offsets_of(np.diff(part_offsets)[order]),
        closed[order],
    )


def ring_area(x, y, offsets):
    """Area of rings by the shoelace formula, + if they run counter-clockwise.

    Parameters
    ----------
    x, y : ndarray of float, shape (v,)
        Vertices, metres; the last one of a ring is its first.
    offsets : ndarray of int, shape (rings + 1,)

    Returns
    -------
    ndarray of float, shape (rings,)
        Square metres.
    """
    first = np.repeat(offsets[:-1], np.diff(offsets))
    x, y = x - x[first], y - y[first]  # small numbers, so that no digits cancel
    cross = np.append(x[:-1] * y[1:] - x[1:] * y[:-1], 0.0)[: len(x)]
    cross[offsets[1:] - 1] = 0.0
    return group_sum(cross, offsets) / 2
