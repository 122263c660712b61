"""Edges against existing linework: what agrees, what moved, what is new, what is gone.

Words used throughout: an *edge* is a line of the new layer (surveyed, the better one), an *existing line* one of the layer
that is being judged. Offsets are perpendicular to the existing line, + where the edge lies to its right. A shift is where
the existing layer lies as seen from the edges: add it to the edges to come onto the existing lines, take it from the
existing lines to come onto the edges.
"""
from dataclasses import dataclass

import numpy as np

AGREES, DISPLACED, ONLY_NEW, ONLY_EXISTING, PARTLY = range(5)
STATUS_NAMES = ("agrees", "displaced", "only_new", "only_existing", "partly")


@dataclass(frozen=True)
class Settings:
    """What is asked for; metres.

    Attributes
    ----------
    max_offset : float
        How far apart two lines may lie and still be the same one; also the width of the simple buffer.
    station_spacing : float
        Greatest distance between two stations along a line.
    existing_sigma : float
        Uncertainty of the existing lines across their direction, 1-sigma.
    remove_shift : bool
        Take out a shift of the whole layer, where there is a significant one, before anything is judged.
    confidence : float
        Of the test whether an offset is more than uncertainty, between 0 and 1.
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

    Those of the offsets are taken over the matched stations of the line, each counting once, and are NaN where there is none.

    Attributes
    ----------
    status : ndarray of uint8
        Place in `STATUS_NAMES`.
    length : ndarray of float
        On the ground; 0 for a row without geometry.
    matched_length : ndarray of float
        Of it, the length that has a counterpart.
    matched_share : ndarray of float
        The ratio of the two, 0 to 1.
    displaced_share : ndarray of float
        Share of the matched stations whose offset is greater than its limit, by length; NaN where none is matched.
    stations : ndarray of int
        Matched stations (those of `Stations`).
    offset_mean, offset_median, offset_sd, offset_rmse : ndarray of float
        Signed offsets; the standard deviation divides by n - 1, the RMSE by n.
    offset_p95, offset_max : ndarray of float
        95th percentile (interpolated) and greatest of the offsets without sign.
    hausdorff : ndarray of float
        Greatest distance from either line to the other over the stretches that are matched, both densified.
    up_mean, up_rmse : ndarray of float
        Height of the edge above the existing line, where both have heights.
    sigma : ndarray of float
        Uncertainty across the line that was used, 1-sigma.
    limit : ndarray of float
        Combined uncertainty at the chosen confidence: an offset up to this is no displacement. Mean over the stations;
        for a line without any, with the median uncertainty of the other layer.
    partner : ndarray of int
        Line of the other layer with most of the matched length, -1 for none.
    partners : ndarray of int
        Number of lines of the other layer that it is matched with.
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

    def __len__(self):
        return len(self.status)


@dataclass(frozen=True)
class Stations:
    """Matched stations along the existing lines, in the order of lines and chainage; arrays of shape (stations,), metres.

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
        + where the edge lies to the right of the existing line; without the shift where it was removed.
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
class LayerStatistics:
    """Statistics of all matched stations together, weighted by length; metres, NaN where no station is matched.

    `area_per_metre` is the area between the two layers' lines for each metre of matched existing line (mean offset without
    sign); McMaster 1986 calls it areal displacement. `typical` is the normalised median deviation from zero, 1.4826 times the
    median offset without sign: what the RMSE would be without the lines that really moved.
    """

    stations: int
    matched_length: float
    offset_mean: float
    offset_median: float
    offset_sd: float
    offset_rmse: float
    offset_p95: float
    offset_max: float
    hausdorff: float
    up_mean: float
    up_rmse: float
    area_per_metre: float
    typical: float


@dataclass(frozen=True)
class BufferOverlay:
    """The simple buffer method of Goodchild and Hunter (1997, IJGIS 11(3)), both ways, over whole layers.

    Attributes
    ----------
    width : float
        Half width of the buffer for `completeness` and `correctness`, metres (`Settings.max_offset`).
    completeness : float
        Share of the length of the edges that lies within the buffer round the existing lines: how much of what is there
        does the existing layer show? NaN where there are no edges.
    correctness : float
        Share of the length of the existing lines within the buffer round the edges: how much of what the existing layer
        shows is there? NaN where there are no existing lines.
    distance : ndarray of float, shape (k,)
        Half widths from 0 to `width`.
    edges_within, existing_within : ndarray of float, shape (k,)
        The same shares for each of them: p(x).
    edges_x95, existing_x95 : float
        Half width that holds 95 % of the length that lies within `width`.
    """

    width: float
    completeness: float
    correctness: float
    distance: np.ndarray
    edges_within: np.ndarray
    existing_within: np.ndarray
    edges_x95: float
    existing_x95: float


@dataclass(frozen=True)
class Comparison:
    """All that the layers and the report need.

    Attributes
    ----------
    settings : Settings
    edges, existing : Lines
        As given (local frame, metres); see `shared.matching.Lines`.
    edge_statistics, existing_statistics : LineStatistics
    stations : Stations
    layer : LayerStatistics
        As judged: without the shift where it was removed.
    before, after : LayerStatistics
        With and without the shift. Where it was not removed, `after` has it taken from the offsets of the same stations.
    shift : Shift
        See `shared.shift.Shift`: `east`, `north`, `sigma_east`, `sigma_north`, `significant`, `determined`...
    shift_removed : bool
        False too where removal was asked for but no significant shift was found.
    buffer : BufferOverlay
        Of the edges and existing lines as judged.
    edge_length, existing_length : float
        Whole layers, metres.
    edge_matched_share, existing_matched_share : float
        Share of it that has a counterpart; NaN for a layer without length.
    sigma_assumed : bool
        True where no uncertainty of the edges was given, so that only that of the existing lines counts.
    """

    settings: Settings
    edges: "Lines"  # noqa: F821
    existing: "Lines"  # noqa: F821
    edge_statistics: LineStatistics
    existing_statistics: LineStatistics
    stations: Stations
    layer: LayerStatistics
    before: LayerStatistics
    after: LayerStatistics
    shift: "Shift"  # noqa: F821
    shift_removed: bool
    buffer: BufferOverlay
    edge_length: float
    existing_length: float
    edge_matched_share: float
    existing_matched_share: float
    sigma_assumed: bool = False

    def count(self, statistics, status):
        """Number of lines of `edge_statistics` or `existing_statistics` with a status (place in `STATUS_NAMES`)."""
        return int(np.count_nonzero(statistics.status == status))

    def length_of(self, statistics, status):
        """Their length, metres."""
        return float(statistics.length[statistics.status == status].sum())
