"""What a comparison of two layers of lines is asked for and finds."""

from dataclasses import dataclass

import numpy as np

from .lines import Lines
from .offsets import LayerStatistics
from .shift import Shift
from .simple_buffer import BufferOverlay

AGREES, DISPLACED, ONLY_NEW, ONLY_EXISTING, PARTLY, NOT_VISITED = range(6)
STATUS_NAMES = ("agrees", "displaced", "only_new", "only_existing", "partly", "not_visited")


@dataclass(frozen=True)
class ComparisonSettings:
    """What the user can choose; metres.

    Attributes
    ----------
    max_offset : float
        How far apart two lines may lie and still be the same one; also the half width of the simple
        buffer.
    station_spacing : float
        Greatest distance between two stations along a line.
    existing_sigma : float
        Uncertainty of the existing lines across their direction, 1-sigma.
    remove_shift : bool
        Remove a significant shift of the whole layer before anything is judged.
    confidence : float
        Of the test whether an offset exceeds its uncertainty, between 0 and 1.

    Raises
    ------
    ValueError
        If a value is outside its range; the message names it.
    """

    max_offset: float = 2.0
    station_spacing: float = 1.0
    existing_sigma: float = 0.10
    remove_shift: bool = False
    confidence: float = 0.95

    def __post_init__(self):
        for name in ("max_offset", "station_spacing"):
            if not (getattr(self, name) > 0 and np.isfinite(getattr(self, name))):
                raise ValueError(f"{name} must be greater than 0 m, got {getattr(self, name)}")
        if not (self.existing_sigma >= 0 and np.isfinite(self.existing_sigma)):
            raise ValueError(f"existing_sigma must be 0 m or greater, got {self.existing_sigma}")
        if not 0 < self.confidence < 1:
            raise ValueError(f"confidence must lie between 0 and 1, got {self.confidence}")


@dataclass(frozen=True)
class LineStatistics:
    """Statistics of every line of one layer; arrays of shape (lines,) in the layer's order, metres.

    Those of the offsets are taken over the matched stations of the line, each counting once, and
    are NaN where there is none.

    Attributes
    ----------
    status : ndarray of uint8
        Place in `STATUS_NAMES`.
    length : ndarray of float
        On the ground; 0 for a row without geometry.
    matched_length : ndarray of float
        Of it, the length that has a counterpart.
    matched_share : ndarray of float
        Of the visited length, the share that has a counterpart, 0 to 1.
    displaced_share : ndarray of float
        Share of the matched length whose offset, at the line's own stations, exceeds its limit; NaN
        where none is matched.
    stations : ndarray of int
        Number of matched stations of `StationOffsets`, whose offsets are all measured on the
        existing lines.
    offset_mean, offset_median, offset_sd, offset_rmse : ndarray of float
        Of the signed offsets; the standard deviation divides by n - 1, the RMSE by n.
    offset_p95, offset_max : ndarray of float
        95th percentile (interpolated) and maximum of the absolute offsets.
    hausdorff : ndarray of float
        Greatest distance from either line to the other over the matched stretches, both densified.
    up_mean, up_rmse : ndarray of float
        Height of the edge above the existing line, where both have heights.
    sigma : ndarray of float
        Uncertainty across the line that was used, 1-sigma.
    limit : ndarray of float
        Combined uncertainty at the chosen confidence: an offset up to this is no displacement. Mean
        over the stations; for a line without a station, from the median uncertainty of the other
        layer.
    partner : ndarray of int
        Line of the other layer with most of the matched length, -1 for none.
    partners : ndarray of int
        Number of lines of the other layer that it is matched with.
    visited_share : ndarray of float
        Share of the length that was visited, 0 to 1; 1 for edges.
    moved, moved_azimuth : ndarray of float
        Rigid motion that fits the offsets best, from the existing line to the edge: metres, and
        degrees from grid north towards east. NaN where none is matched, and no azimuth without a
        move. See `rigid_moves`.
    """

    status: np.ndarray
    length: np.ndarray
    matched_length: np.ndarray
    matched_share: np.ndarray
    displaced_share: np.ndarray
    stations: np.ndarray
    offset_mean: np.ndarray
    offset_median: np.ndarray
    offset_sd: np.ndarray
    offset_rmse: np.ndarray
    offset_p95: np.ndarray
    offset_max: np.ndarray
    hausdorff: np.ndarray
    up_mean: np.ndarray
    up_rmse: np.ndarray
    sigma: np.ndarray
    limit: np.ndarray
    partner: np.ndarray
    partners: np.ndarray
    visited_share: np.ndarray
    moved: np.ndarray
    moved_azimuth: np.ndarray

    def __len__(self):
        return len(self.status)


@dataclass(frozen=True)
class StationOffsets:
    """Matched stations along the existing lines, in the order of lines and chainage; arrays of
    shape (stations,), metres.

    Attributes
    ----------
    existing, edge : ndarray of int
        Row of the line in each layer.
    part : ndarray of int
        Number of the part of a multi-part existing line, from 0.
    chainage : ndarray of float
        Along the existing line, parts laid end to end.
    edge_chainage : ndarray of float
        Along the edge, likewise, where the perpendicular meets it.
    offset : ndarray of float
        + where the edge lies to the right of the existing line; without the shift where it was
        removed.
    offset_before : ndarray of float
        The same with the shift still in it. Equal to `offset` where none was removed.
    up : ndarray of float
        Height of the edge above the existing line, NaN where one has none.
    limit : ndarray of float
        Combined uncertainty at the chosen confidence.
    displaced : ndarray of bool
        True where the offset is greater than the limit.
    weight : ndarray of float
        Length of existing line that the station stands for.
    x, y, z : ndarray of float
        On the existing line, local frame.
    east, north : ndarray of float
        Unit vector to the right of the existing line.
    """

    existing: np.ndarray
    edge: np.ndarray
    part: np.ndarray
    chainage: np.ndarray
    edge_chainage: np.ndarray
    offset: np.ndarray
    offset_before: np.ndarray
    up: np.ndarray
    limit: np.ndarray
    displaced: np.ndarray
    weight: np.ndarray
    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    east: np.ndarray
    north: np.ndarray

    def __len__(self):
        return len(self.offset)


@dataclass(frozen=True)
class Comparison:
    """Result of `compare`.

    Attributes
    ----------
    settings : ComparisonSettings
    edges, existing : Lines
        As given (local frame, metres); see `lines.Lines`.
    edge_statistics, existing_statistics : LineStatistics
    stations : StationOffsets
    layer : LayerStatistics
        As judged: without the shift if it was removed.
    before, after : LayerStatistics
        With and without the shift. If it was not removed, `after` is computed from the offsets of
        the same stations less the shift.
    shift : Shift
        See `shift.Shift`: `east`, `north`, `sigma_east`, `sigma_north`, `significant`,
        `determined`...
    shift_removed : bool
        False as well if removal was asked for but no significant shift was found.
    buffer : BufferOverlay
        Of the edges and existing lines as judged.
    edge_length, existing_length : float
        Whole layers, metres.
    edge_matched_share, existing_matched_share : float
        Share of it that has a counterpart; NaN for a layer without length.
    visited_length : float
        Of the existing lines, what was visited, metres.
    displaced_with_shift, displaced_without_shift : tuple of int
        Number of existing lines and of edges that are displaced with the shift left in the offsets,
        and with it removed; equal if there is no significant shift.
    sigma_assumed : bool
        True where no uncertainty of the edges was given, so that only that of the existing lines
        counts.
    """

    settings: ComparisonSettings
    edges: Lines
    existing: Lines
    edge_statistics: LineStatistics
    existing_statistics: LineStatistics
    stations: StationOffsets
    layer: LayerStatistics
    before: LayerStatistics
    after: LayerStatistics
    shift: Shift
    shift_removed: bool
    buffer: BufferOverlay
    edge_length: float
    existing_length: float
    edge_matched_share: float
    existing_matched_share: float
    visited_length: float
    displaced_with_shift: tuple
    displaced_without_shift: tuple
    sigma_assumed: bool = False

    def count(self, statistics, status):
        """Number of lines with a status (place in `STATUS_NAMES`) in `edge_statistics` or
        `existing_statistics`; rows without length do not count."""
        return int(np.count_nonzero((statistics.status == status) & (statistics.length > 0)))

    def length_of(self, statistics, status):
        """Length of the lines with a status, as in `count`, metres."""
        return float(statistics.length[statistics.status == status].sum())
