"""Vertices of joined edges: how ends move to where they meet, and how that is spread along them."""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import (
    cumulative,
    group_index,
    group_sum,
    offsets_of,
    place_in_group,
    ranges,
)
from ..tuning import JOINS
from .lines import points_at


@dataclass(frozen=True)
class EndMoves:
    """How ends move, shape (2 * edges,), metres.

    `to`, (m, 3): new place, NaN for an end that stays; `trim`: length taken off; `ahead`: length
    that is added, and `onward`, (m, 3), that extension as a vector.
    """

    to: np.ndarray
    trim: np.ndarray
    ahead: np.ndarray
    onward: np.ndarray


def end_moves(ends, pairs, chosen, length):
    """Moves of all ends to the meeting points of the chosen pairs.

    Parameters
    ----------
    ends : Ends
    pairs : Pairs
    chosen : ndarray of bool, shape (pairs,)
    length : ndarray of float, shape (edges,)
        Metres.

    Returns
    -------
    EndMoves
    """
    count = 2 * len(length)
    to = np.full((count, 3), np.nan)
    moves = np.zeros(count, bool)
    for end in (pairs.i, pairs.j):
        to[end[chosen]] = np.column_stack([pairs.x, pairs.y, pairs.z])[chosen]
        moves[end[chosen]] = True
    hook = np.where(moves, np.minimum(ends.hook, JOINS.max_blend_share * ends.length), 0.0)
    bx, by = (
        np.where(hook > 0, f - t * hook, p)
        for f, t, p in (
            (ends.from_x, ends.tangent_x, ends.x),
            (ends.from_y, ends.tangent_y, ends.y),
        )
    )
    along = np.where(
        moves, (to[:, 0] - bx) * ends.tangent_x + (to[:, 1] - by) * ends.tangent_y, 0.0
    )
    trim = np.minimum(hook + np.maximum(-along, 0.0), JOINS.max_blend_share * ends.length)
    ahead = np.maximum(along, 0.0)
    return EndMoves(
        to,
        np.where(moves, trim, 0.0),
        ahead,
        ahead[:, None] * np.column_stack([ends.tangent_x, ends.tangent_y, ends.grade]),
    )


def assemble(lines, length, moves, chains):
    """Vertices of the joined edges.

    Parameters
    ----------
    lines : Lines
        Each part is an edge.
    length : ndarray of float, shape (edges,)
        Metres.
    moves : EndMoves
    chains : tuple of ndarray
        Edges in the order in which they follow each other, True where one is turned, offsets of the
        chains, True for rings.

    Returns
    -------
    x, y, z : ndarray of float, shape (v,)
        Metres.
    vertex : ndarray of int, shape (v,)
        Of the input; -1 for a new one.
    offsets : ndarray of int, shape (chains + 1,)
    """
    part, turned, part_offsets, closed = chains
    edges = len(length)
    moved = np.isfinite(moves.to[:, 0])
    spread = _Spread.of(lines, length, moves, moved)
    all_run, all_at, all_xyz, vertex = _vertices_left(lines, length, moves, moved, spread)
    for side in (0, 1):
        end = 2 * all_run + side
        share = np.clip(1 - np.abs(all_at - spread.at[end]) / spread.reach[end], 0.0, 1.0)
        share = share * moved[end]
        all_xyz = all_xyz + share[:, None] * spread.shift[end]
        vertex = np.where(
            share * (spread.aside[end] + np.abs(spread.shift[end, 2])) > 0, -1, vertex
        )
    offsets = np.searchsorted(all_run, np.arange(edges + 1))
    all_xyz, vertex, offsets = _put_meeting_points(all_xyz, vertex, offsets, moves.to, moved)
    # one after the other
    size = np.diff(offsets)
    taken = ranges(offsets[part], size[part])
    place = offsets_of(size[part])
    back = np.repeat(turned, size[part])
    within = place_in_group(place)
    taken = np.where(back, np.repeat(offsets[part] + size[part] - 1, size[part]) - within, taken)
    repeated = np.zeros(len(part), bool)
    repeated[1:] = True
    repeated[part_offsets[:-1]] = False
    keep = np.ones(len(taken), bool)
    keep[place[:-1][repeated]] = False
    number = group_sum(group_sum(keep.astype(np.int64), place), part_offsets)
    out = offsets_of(number)
    xyz, vertex = all_xyz[taken[keep]], vertex[taken[keep]]
    rings = np.flatnonzero(closed)
    xyz[out[1:][rings] - 1], vertex[out[1:][rings] - 1] = (
        xyz[out[:-1][rings]],
        vertex[out[:-1][rings]],
    )
    return (*xyz.T, vertex, out)


@dataclass(frozen=True)
class _Spread:
    """How the move of each end is spread along its edge, shape (2 * edges,), metres.

    `at`: chainage where the edge is trimmed; `reach`: length over which the move fades from there;
    `shift`, (m, 3): the move at the end; `aside`: its horizontal length.
    """

    at: np.ndarray
    reach: np.ndarray
    shift: np.ndarray
    aside: np.ndarray

    @classmethod
    def of(cls, lines, length, moves, moved):
        """The trimmed ends, and how they must shift."""
        run = np.repeat(np.arange(len(length)), 2)
        last = np.tile([False, True], len(length))
        at = np.where(last, length[run] - moves.trim, moves.trim)
        here = np.column_stack(points_at(lines, run, at)[:3])
        extended = moves.ahead >= JOINS.same
        shift = np.where(moved[:, None], moves.to - here - extended[:, None] * moves.onward, 0.0)
        shift[:, 2] = np.where(np.isfinite(shift[:, 2]), shift[:, 2], 0.0)
        aside = np.hypot(shift[:, 0], shift[:, 1])
        reach = np.maximum(aside / JOINS.kink_slope, np.abs(shift[:, 2]) / JOINS.grade_kink)
        left = length - moves.trim.reshape(-1, 2).sum(axis=1)
        reach = np.minimum(np.maximum(reach, JOINS.same), JOINS.max_blend_share * left[run])
        return cls(at=at, reach=reach, shift=shift, aside=aside)


def _vertices_left(lines, length, moves, moved, spread):
    """Vertices that are left, and new ones at trimmed ends and where a spread begins, in order:
    run, chainage, position, vertex of the input."""
    run = group_index(lines.offsets)
    chainage = cumulative(lines.steps(), lines.offsets)
    trim = moves.trim.reshape(-1, 2)
    end_run = np.repeat(np.arange(len(length)), 2)
    last = np.tile([False, True], len(length))
    inside = (chainage > trim[run, 0] + np.where(trim[run, 0] > 0, JOINS.same, -1)) & (
        chainage < (length - trim[:, 1])[run] - np.where(trim[run, 1] > 0, JOINS.same, -1)
    )
    begins = np.where(last, spread.at - spread.reach, spread.at + spread.reach)
    cut = np.flatnonzero(moves.trim > 0)
    bends = np.flatnonzero(moved & (spread.aside + np.abs(spread.shift[:, 2]) > JOINS.same))
    bends = bends[~_near_vertex(chainage, run, end_run[bends], begins[bends], lines.offsets)]
    new = np.concatenate([cut, bends])
    new_at = np.concatenate([spread.at[cut], begins[bends]])
    own = np.flatnonzero(inside)
    all_run = np.concatenate([run[own], end_run[new]])
    all_at = np.concatenate([chainage[own], new_at])
    new_xyz = np.column_stack(points_at(lines, end_run[new], new_at)[:3])
    all_xyz = np.concatenate([np.column_stack([lines.x, lines.y, lines.z])[own], new_xyz])
    vertex = np.concatenate([own, np.full(len(new), -1)])
    order = np.lexsort((vertex, all_at, all_run))
    return all_run[order], all_at[order], all_xyz[order], vertex[order]


def _near_vertex(chainage, run, of, at, offsets):
    """True where a chainage of a run lies within `JOINS.near_vertex` of one of its vertices."""
    lift = 1e7  # m; no edge is as long
    flat = chainage + lift * run
    place = np.searchsorted(flat, at + lift * of)
    before, after = np.clip(place - 1, offsets[of], None), np.clip(place, None, offsets[of + 1] - 1)
    return (
        np.minimum(np.abs(chainage[before] - at), np.abs(chainage[after] - at)) < JOINS.near_vertex
    )


def _put_meeting_points(xyz, vertex, offsets, to, moved):
    """The runs with the meeting points put in at the ends that move."""
    for side in (0, 1):
        rows = np.flatnonzero(moved[side::2])
        if not len(rows):
            continue
        goal = to[2 * rows + side]
        end = offsets[1:][rows] - 1 if side else offsets[:-1][rows]
        inner = end - 1 if side else end + 1
        # an end on the straight way to the meeting point is replaced by it
        way, own = goal[:, :2] - xyz[inner, :2], xyz[end, :2] - xyz[inner, :2]
        size = np.maximum(np.hypot(*way.T), 1e-12)
        off = np.abs(way[:, 0] * own[:, 1] - way[:, 1] * own[:, 0]) / size
        share = np.clip((own * way).sum(axis=1) / size**2, 0.0, 1.0)
        up = np.abs(xyz[inner, 2] + share * (goal[:, 2] - xyz[inner, 2]) - xyz[end, 2])
        apart = np.hypot(*(goal[:, :2] - xyz[end, :2]).T)
        same = (apart < 1e-9) & ~(np.abs(goal[:, 2] - xyz[end, 2]) > 1e-9)
        replace = (off < JOINS.same) & ~(up > 2 * JOINS.same) | (apart < JOINS.same)
        xyz[end[replace]] = goal[replace]
        vertex[end[replace & ~same]] = -1
        grow = ~replace
        place = (end + 1 if side else end)[grow]
        xyz = np.insert(xyz, place, goal[grow], axis=0)
        vertex = np.insert(vertex, place, -1)
        more = np.zeros(len(offsets) - 1, np.int64)
        more[rows[grow]] = 1
        offsets = offsets + offsets_of(more)
    return xyz, vertex, offsets
