"""Stretches of existing lines that run along an edge."""

from dataclasses import dataclass

import numpy as np

from ..tuning import STRETCHES


@dataclass(frozen=True)
class Stretches:
    """Pieces of existing lines along edges; arrays of shape (n,), in the order of the parts and
    along them. Chainages in metres of the frame, from the start of the part or of the edge's part.

    Attributes
    ----------
    part, edge_part : ndarray of int
        Parts of both layers.
    low, high : ndarray of float
        Where the stretch lies along the existing part.
    edge_low, edge_high : ndarray of float
        Where its ends lie along the edge: `edge_low` next to `low`, so that it is the greater one
        if the edge runs the other way.
    first, last : ndarray of int
        First and last station.
    at_start, at_end : ndarray of bool
        True if it reaches the start, the end of the existing part.
    """

    part: np.ndarray
    edge_part: np.ndarray
    low: np.ndarray
    high: np.ndarray
    edge_low: np.ndarray
    edge_high: np.ndarray
    first: np.ndarray
    last: np.ndarray
    at_start: np.ndarray
    at_end: np.ndarray

    def __len__(self):
        return len(self.part)

    def take(self, rows):
        """Some of the stretches; `rows` is a mask or row numbers."""
        return Stretches(**{name: values[rows] for name, values in vars(self).items()})


@dataclass(frozen=True)
class PartStations:
    """Matched stations by parts; arrays of shape (k,), metres of the frame.

    `chainage`, `edge_chainage`: from the start of `part` and `edge_part`; `half`: half the interval
    that a station stands for; `move`, shape (k, 2): from the existing line to the edge.
    """

    part: np.ndarray
    edge_part: np.ndarray
    chainage: np.ndarray
    edge_chainage: np.ndarray
    half: np.ndarray
    move: np.ndarray

    def __len__(self):
        return len(self.part)


def stations_by_parts(comparison):
    """Matched stations of a comparison by the parts of both layers.

    Parameters
    ----------
    comparison : Comparison
        Offsets are taken as judged, without a shift that was removed.

    Returns
    -------
    PartStations
        In the order of the existing parts and along them.
    """
    stations, existing, edges = comparison.stations, comparison.existing, comparison.edges
    part, chainage = _part_of(existing, stations.existing, stations.chainage)
    edge_part, edge_chainage = _part_of(edges, stations.edge, stations.edge_chainage)
    scale = existing.scale[stations.existing]
    size = stations.offset * scale
    order = np.lexsort((chainage, part))
    return PartStations(
        part=part[order],
        edge_part=edge_part[order],
        chainage=chainage[order],
        edge_chainage=edge_chainage[order],
        half=(stations.weight * scale / 2)[order],
        move=np.column_stack([size * stations.east, size * stations.north])[order],
    )


def _part_of(lines, row, chainage):
    """Part that each chainage of a row lies in, and the chainage along it, metres of the frame."""
    along = chainage * lines.scale[row]
    length, start = lines.part_length(), lines.part_start()
    # parts of a row lie end to end: take the last one that starts at or before the place
    first = np.searchsorted(lines.line, row, "left")
    last = np.searchsorted(lines.line, row, "right") - 1
    part = first.copy()
    for _ in range(int(np.max(last - first, initial=0))):
        further = (part < last) & (along >= (start + length)[part])
        if not further.any():
            break
        part[further] += 1
    return part, along - start[part]


def find_stretches(stations, existing):
    """Join matched stations to stretches.

    Parameters
    ----------
    stations : PartStations
    existing : Lines

    Returns
    -------
    Stretches
        Of two or more stations each: one alone does not show which way the edge runs.

    Notes
    -----
    A stretch continues from one station to the next while both lie on the same pair of parts, no
    unmatched station lies between them, and the edge advances in the same direction by about as
    much as the existing line (`STRETCHES.longest_ratio`). Stretches of one edge on either side of a
    corner, where a station finds no counterpart, are joined.
    """
    if not len(stations):
        none, never = np.zeros(0, np.int64), np.zeros(0, bool)
        far = np.zeros(0)
        return Stretches(none, none, far, far, far, far, none, none, never, never)
    step = np.diff(stations.chainage)
    edge_step = np.diff(stations.edge_chainage)
    reach = stations.half[1:] + stations.half[:-1]
    goes_on = (np.diff(stations.part) == 0) & (np.diff(stations.edge_part) == 0)
    goes_on &= step < STRETCHES.longest_step * reach
    goes_on &= np.abs(edge_step) < STRETCHES.longest_ratio * step + STRETCHES.slack
    # a stretch keeps its direction: it breaks where the edge turns back
    turns = np.sign(edge_step[1:]) * np.sign(edge_step[:-1]) < 0
    goes_on[1:] &= ~(turns & goes_on[:-1])
    starts = np.flatnonzero(np.append(True, ~goes_on))
    first, last = starts, np.append(starts[1:], len(stations)) - 1
    several = last > first
    first, last = first[several], last[several]
    low = stations.chainage[first] - stations.half[first]
    high = stations.chainage[last] + stations.half[last]
    first, last, low, high = _bridged(stations, first, last, low, high)
    way = np.sign(stations.edge_chainage[last] - stations.edge_chainage[first])
    length = existing.part_length()[stations.part[first]]
    at_start, at_end = low < STRETCHES.end_slack, high > length - STRETCHES.end_slack
    return Stretches(
        part=stations.part[first],
        edge_part=stations.edge_part[first],
        low=np.where(at_start, 0.0, low),
        high=np.where(at_end, length, high),
        edge_low=stations.edge_chainage[first] - way * stations.half[first],
        edge_high=stations.edge_chainage[last] + way * stations.half[last],
        first=first,
        last=last,
        at_start=at_start,
        at_end=at_end,
    )


def _bridged(stations, first, last, low, high):
    """Join stretches between which an edge only turns a corner."""
    if len(first) < 2:
        return first, last, low, high
    part, edge_part = stations.part[first], stations.edge_part[first]
    way = np.sign(stations.edge_chainage[last] - stations.edge_chainage[first])
    gap = stations.chainage[first[1:]] - stations.chainage[last[:-1]]
    edge_gap = stations.edge_chainage[first[1:]] - stations.edge_chainage[last[:-1]]
    room = gap - stations.half[first[1:]] - stations.half[last[:-1]]
    joined = (part[1:] == part[:-1]) & (edge_part[1:] == edge_part[:-1]) & (way[1:] == way[:-1])
    # as near to the corner from both sides as to the end of a line
    joined &= (room < 2 * STRETCHES.end_slack) & (way[1:] * edge_gap > 0)
    joined &= np.abs(edge_gap) < STRETCHES.longest_ratio * gap + STRETCHES.slack
    starts, ends = np.append(True, ~joined), np.append(~joined, True)
    return first[starts], last[ends], low[starts], high[ends]
