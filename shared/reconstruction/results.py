"""The tables that the main job returns, and how those of parts are joined.

Each part of the epoch table is worked on by some process, which returns parts of the final tables,
numbered by the part's own rows, captures and edges.
"""

from dataclasses import dataclass, fields, replace
from typing import Optional

import numpy as np

from ..arrays.ragged import group_index, join_offsets, offsets_of, ranges
from ..epochs.rounding import SIGMA
from ..epochs.stream import Stream
from .repairs import RepairOutcome

ROLE_NAMES = ("", "single", "standing", "doubtful")


def _joined(parts, names):
    """Concatenated columns of several tables of one kind, by name."""
    return {name: np.concatenate([getattr(part, name) for part in parts]) for name in names}


def _names(kind, *left_out):
    """Names of the columns of a kind of table, some left out."""
    return [column.name for column in fields(kind) if column.name not in left_out]


@dataclass(frozen=True)
class Edges:
    """Edges as ragged arrays; vertices of edge ``e`` are ``offsets[e]`` to ``offsets[e + 1] - 1``.

    Attributes
    ----------
    x, y, z : float, shape (v,)
        Vertices, metres; z NaN without heights.
    offsets : int, shape (e + 1,)
    capture : int, shape (e,)
    run : int, shape (e,)
        Number in its capture, from 1; 0 in the tables of a part.
    started, ended : float, shape (e,)
        The table's seconds.
    epochs_used, epochs_rejected : int, shape (e,)
        `epochs_rejected` is 0 in the tables of a part.
    length, rms_residual, max_residual, sigma_cross, sigma_up : float, shape (e,)
        Metres.
    closed : bool, shape (e,)
    start_reason, end_reason : uint8, shape (e,)
        Indices in `breaks.BREAK_NAMES`; 0 in the tables of a part.
    by_elements : bool, shape (e,)
        The whole curve is made of tangents and arcs; else there is a spline in it.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    offsets: np.ndarray
    capture: np.ndarray
    run: np.ndarray
    started: np.ndarray
    ended: np.ndarray
    epochs_used: np.ndarray
    epochs_rejected: np.ndarray
    length: np.ndarray
    rms_residual: np.ndarray
    max_residual: np.ndarray
    sigma_cross: np.ndarray
    sigma_up: np.ndarray
    closed: np.ndarray
    start_reason: np.ndarray
    end_reason: np.ndarray
    by_elements: np.ndarray

    def __len__(self):
        return len(self.offsets) - 1

    @classmethod
    def concatenate(cls, parts):
        """Join the edges of several parts.

        Parameters
        ----------
        parts : sequence of Edges

        Returns
        -------
        Edges
        """
        offsets = join_offsets([part.offsets for part in parts])
        return cls(offsets=offsets, **_joined(parts, _names(cls, "offsets")))

    def take(self, order):
        """Take some edges, in any order.

        Parameters
        ----------
        order : ndarray of int, shape (k,)
            Numbers of the edges.

        Returns
        -------
        Edges
        """
        size = np.diff(self.offsets)[order]
        vertices = ranges(self.offsets[:-1][order], size)
        columns = {name: getattr(self, name)[vertices] for name in "xyz"}
        for name in _names(Edges, "offsets", *"xyz"):
            columns[name] = getattr(self, name)[order]
        return Edges(offsets=offsets_of(size), **columns)


@dataclass(frozen=True)
class Stations:
    """Places along the edges; arrays of shape (k,).

    Attributes
    ----------
    x, y, z : float
        On the line written, metres.
    edge : int
        Index of the edge; stations of one edge are contiguous.
    chainage : float
        Ground metres.
    slope : float
        Along the edge, m/m, + rising.
    sigma_cross, sigma_up : float
        1-sigma of the edge there, metres, the slow error of the receiver included.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    edge: np.ndarray
    chainage: np.ndarray
    slope: np.ndarray
    sigma_cross: np.ndarray
    sigma_up: np.ndarray

    def __len__(self):
        return len(self.x)

    @classmethod
    def none(cls):
        """An empty table.

        Returns
        -------
        Stations
        """
        columns = {name: np.zeros(0) for name in _names(cls, "edge")}
        return cls(edge=np.zeros(0, np.int64), **columns)


@dataclass(frozen=True)
class Gaps:
    """Gaps between edges.

    Attributes
    ----------
    x, y, z : float, shape (g, 2)
        The two rims, metres.
    seconds, metres : float, shape (g,)
        From rim to rim; ground metres.
    reason : uint8, shape (g,)
        Indices in `breaks.BREAK_NAMES`.
    capture : int, shape (g,)
    after_edge, before_edge : int, shape (g,)
        Indices of the edges on either side.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    seconds: np.ndarray
    metres: np.ndarray
    reason: np.ndarray
    capture: np.ndarray
    after_edge: np.ndarray
    before_edge: np.ndarray

    def __len__(self):
        return len(self.seconds)


@dataclass(frozen=True)
class Reconstruction:
    """Edges, gaps, and what became of every epoch; arrays of shape (n,) by source row.

    Attributes
    ----------
    reason, amount
        As in `Screening`; reason 0 if the epoch is in an edge.
    role : uint8
        Index in `ROLE_NAMES`.
    height_used : bool
    edge : int
        Index of the edge, -1 if rejected.
    chainage, residual_cross, residual_up : float
        Metres, NaN if rejected; `residual_cross` is + to the right of the edge.
    edges : Edges
    gaps : Gaps
    stream : Stream
    corners : ndarray of float, shape (c, 2)
        In the order of the edges.
    stations : Stations
        None if the settings ask for none.
    overruled : uint8, optional
        The `Reason` that would have rejected an epoch that was taken back in, 0 elsewhere; None
        without repairs.
    shape : uint8, optional
        What the epoch was drawn as, see `shapes`; None without repairs.
    repairs : RepairOutcome, optional
        What became of the repairs; None without repairs.
    """

    reason: np.ndarray
    amount: np.ndarray
    role: np.ndarray
    height_used: np.ndarray
    edge: np.ndarray
    chainage: np.ndarray
    residual_cross: np.ndarray
    residual_up: np.ndarray
    edges: Edges
    gaps: Gaps
    stream: Stream
    corners: np.ndarray
    stations: Stations
    overruled: Optional[np.ndarray] = None
    shape: Optional[np.ndarray] = None
    repairs: Optional[RepairOutcome] = None

    def with_rounding(self, step):
        """The same with rounding of positions included in the uncertainties across.

        Parameters
        ----------
        step : float
            Grid to which positions are rounded, metres; 0 for none.

        Returns
        -------
        Reconstruction

        Notes
        -----
        Epochs of an edge along the side of a cell all have the same rounding error, and so has the
        edge; their scatter does not show it. For an edge across cells this is cautious.
        """
        if not step:
            return self
        edges, stations = (
            part and replace(part, sigma_cross=np.hypot(part.sigma_cross, SIGMA * step))
            for part in (self.edges, self.stations)
        )
        return replace(self, edges=edges, stations=stations)


@dataclass(frozen=True)
class EpochOutcomes:
    """What became of each source row, as in `Reconstruction`; filled in step by step.

    `amount`, `chainage` and both residuals are None if not asked for, `overruled` and `shape`
    without repairs.
    """

    reason: np.ndarray
    amount: np.ndarray
    role: np.ndarray
    height_used: np.ndarray
    edge: np.ndarray
    chainage: np.ndarray
    residual_cross: np.ndarray
    residual_up: np.ndarray
    overruled: Optional[np.ndarray] = None
    shape: Optional[np.ndarray] = None

    @classmethod
    def empty(cls, size, numbers, repaired=False):
        """Rows before the work.

        Parameters
        ----------
        size : int
        numbers : bool
            With `amount`, `chainage` and the residuals.
        repaired : bool
            With `overruled` and `shape`.

        Returns
        -------
        EpochOutcomes
        """
        edge = np.zeros(size, np.int64)  # zeros, as memory is touched late: see DEVELOPERS.md
        edge -= 1
        floats = ("amount", "chainage", "residual_cross", "residual_up")
        return cls(
            reason=np.zeros(size, np.uint8),
            role=np.zeros(size, np.uint8),
            height_used=np.zeros(size, bool),
            edge=edge,
            overruled=np.zeros(size, np.uint8) if repaired else None,
            shape=np.zeros(size, np.uint8) if repaired else None,
            **{name: np.full(size, np.nan) if numbers else None for name in floats},
        )

    def put(self, here, part):
        """Fill in the rows of a part, with the part's numbers of edges.

        Parameters
        ----------
        here : slice or ndarray of int
            Rows of the part.
        part : EpochOutcomes
        """
        for column in fields(self):
            own, new = getattr(self, column.name), getattr(part, column.name)
            if own is not None and new is not None:  # a part without repairs has no such columns
                own[here] = new

    def number_edges(self, places, sizes, number_of):
        """Replace the edges' numbers in their parts by the final ones.

        Parameters
        ----------
        places : sequence of slice or ndarray of int
            Rows of each part.
        sizes : sequence of int
            Edges of each part.
        number_of : ndarray of int, shape (e,)
            Final numbers of all edges, in the order of the parts.
        """
        first = 0
        for here, size in zip(places, sizes):
            final = np.append(number_of[first : first + size], -1)  # -1 stays -1
            self.edge[here] = final.take(self.edge[here], mode="wrap")
            first += size

    def reject(self, positions, mask, why, amount):
        """Reject the epochs of some positions.

        Parameters
        ----------
        positions : Positions
        mask : ndarray of bool, shape (m,)
            Positions whose epochs are rejected.
        why : Reason
        amount : ndarray of float, shape (m,)
            Number that goes with the reason, as in `Screening`.
        """
        owner = group_index(positions.offsets)
        epochs = mask[owner]
        rows = positions.rows[epochs]
        self.reason[rows] = why
        if self.amount is not None:
            self.amount[rows] = amount[owner][epochs]


@dataclass(frozen=True)
class EdgeEnds:
    """What the search for gaps needs to know of each edge; arrays of shape (e,).

    Attributes
    ----------
    first_row, last_row : int
        Source rows of the epochs walked first and last.
    rims : float, shape (e, 2, 3)
        Places of these two on the curve, metres.
    turned : bool
        The edge ends where the walk turned back for good.
    lost : bool
        The edge ends at a dropout that leaves its course unknown.
    scale : float
        Point scale factor of the frame.
    """

    first_row: np.ndarray
    last_row: np.ndarray
    rims: np.ndarray
    turned: np.ndarray
    lost: np.ndarray
    scale: np.ndarray

    def take(self, order):
        """Take some edges, in any order.

        Parameters
        ----------
        order : ndarray of int, shape (k,)
            Numbers of the edges.

        Returns
        -------
        EdgeEnds
        """
        return EdgeEnds(**{name: getattr(self, name)[order] for name in _names(EdgeEnds)})


@dataclass(frozen=True)
class DrawnRuns:
    """The edges drawn from runs with all their tables, of one part or of all parts.

    Attributes
    ----------
    edges : Edges
    ends : EdgeEnds
    corners : ndarray of float, shape (c, 2)
        Metres.
    corner_edge : ndarray of int, shape (c,)
        Edge of each corner, rising.
    stations : Stations
        `edge` rising.
    """

    edges: Edges
    ends: EdgeEnds
    corners: np.ndarray
    corner_edge: np.ndarray
    stations: Stations

    def placed(self, captures, rows_of):
        """The same, numbered by the captures and rows of the whole table.

        Parameters
        ----------
        captures : ndarray of int
            Code in the whole table of each capture of the part.
        rows_of : callable
            Returns the rows of the whole table for rows of the part.

        Returns
        -------
        DrawnRuns
        """
        return replace(
            self,
            edges=replace(self.edges, capture=captures[self.edges.capture]),
            ends=replace(
                self.ends,
                first_row=rows_of(self.ends.first_row),
                last_row=rows_of(self.ends.last_row),
            ),
        )

    @classmethod
    def concatenate(cls, parts):
        """Join the tables of several parts, with edges numbered consecutively.

        Parameters
        ----------
        parts : sequence of DrawnRuns

        Returns
        -------
        DrawnRuns
        """
        first = offsets_of([len(part.edges) for part in parts])
        stations = _joined([part.stations for part in parts], _names(Stations, "edge"))
        return cls(
            edges=Edges.concatenate([part.edges for part in parts]),
            ends=EdgeEnds(**_joined([part.ends for part in parts], _names(EdgeEnds))),
            corners=np.concatenate([part.corners for part in parts]),
            corner_edge=_numbered_on([part.corner_edge for part in parts], first),
            stations=Stations(
                edge=_numbered_on([part.stations.edge for part in parts], first), **stations
            ),
        )

    def take(self, order):
        """Take edges in another order.

        Parameters
        ----------
        order : ndarray of int, shape (e,)
            Numbers of the edges, each of them once.

        Returns
        -------
        DrawnRuns
        """
        of_corners, corner_edge = _members(self.corner_edge, order)
        of_stations, station_edge = _members(self.stations.edge, order)
        stations = {
            name: getattr(self.stations, name)[of_stations] for name in _names(Stations, "edge")
        }
        return DrawnRuns(
            edges=self.edges.take(order),
            ends=self.ends.take(order),
            corners=self.corners[of_corners],
            corner_edge=corner_edge,
            stations=Stations(edge=station_edge, **stations),
        )


def _numbered_on(edges, first):
    """Edges of the rows of several parts, renumbered consecutively."""
    return np.concatenate([edge + start for edge, start in zip(edges, first)])


def _members(edge, order):
    """Rows of edges taken in another order, and the new number of each row's edge; `edge` rises."""
    number = np.bincount(edge, minlength=len(order))
    rows = ranges(offsets_of(number)[:-1][order], number[order])
    return rows, np.repeat(np.arange(len(order)), number[order])
