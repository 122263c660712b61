"""Edges against existing linework: what agrees, what moved, what is new, what is gone.

Words used throughout: an *edge* is a line of the new, surveyed layer, an *existing line* one of the
layer that is being judged. Offsets are perpendicular to the existing line, + where the edge lies to
its right. The *shift* is the position of the existing layer relative to the edges: adding it to the
edges, or subtracting it from the existing lines, brings both together.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..arrays.ragged import group_median
from ..tuning import COMPARISON, CROWDS
from . import offsets
from .lines import Lines
from .matching import Side, match
from .offsets import BufferOverlay, LayerStatistics
from .rays import Index, stations_along
from .rigid_moves import rigid_moves
from .shift import Shift, layer_shift
from .significance import beyond_chance, limit_of
from .visits import Visits, visits_of

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


def compare(edges, existing, settings=None, progress=None, survey=None):
    """Compare two layers of lines.

    Parameters
    ----------
    edges, existing : Lines
        In one frame that is true to scale, metres. `sigma` of the edges is their uncertainty; that
        of an existing line counts if it is greater than `ComparisonSettings.existing_sigma`.
    settings : ComparisonSettings, optional
    progress : callable, optional
        Called with the share of work done, 0 to 1, between steps and inside the long ones. It may
        raise to stop the work.
    survey : Survey, optional
        What was visited; without it all existing lines count as visited.

    Returns
    -------
    Comparison
    """
    settings = settings or ComparisonSettings()
    progress = progress or (lambda share: None)
    sides = _match_layers(edges, existing, settings, progress, survey)
    stations = _stations(sides)
    worst = offsets.farthest_of_side(
        existing, sides.judged, sides.existing_side, _part(progress, 0.61, 0.68)
    )
    worst_back = offsets.farthest_of_side(
        sides.judged, existing, sides.edge_side, _part(progress, 0.68, 0.75)
    )
    of_existing = _line_statistics(
        sides.of_existing((worst, worst_back)), stations, _part(progress, 0.75, 0.77)
    )
    of_edges = _line_statistics(
        sides.of_edges((worst_back, worst)), stations, _part(progress, 0.77, 0.8)
    )
    _displace_both(of_edges, of_existing)
    progress(0.8)
    far = max(float(worst.max(initial=0.0)), float(worst_back.max(initial=0.0)))
    layer, before, after = _layers(stations, sides.shift, sides.removed, far)
    progress(0.8)
    overlay = offsets.overlay(
        sides.judged,
        existing,
        (sides.edge_index, sides.existing_index),
        float(sides.visits.length.sum()),
        settings.station_spacing,
        settings.max_offset,
        _part(progress, 0.8, 1.0),
    )
    progress(1.0)
    return _comparison(
        sides, edges, of_edges, of_existing, stations, (layer, before, after), overlay
    )


def _part(progress, low, high):
    """Progress of a step that takes the share of the work from `low` to `high`."""
    return lambda share: progress(low + (high - low) * share)


@dataclass(frozen=True)
class _Sides:
    """Both layers, matched; `judged`: the edges, moved by the shift if it was `removed`."""

    judged: Lines
    existing: Lines
    edge_index: Index
    existing_index: Index
    edge_side: Side
    existing_side: Side
    edge_sigma: np.ndarray
    existing_sigma: np.ndarray
    shift: Shift
    removed: bool
    settings: ComparisonSettings
    visits: Visits

    def of_existing(self, worst):
        """The existing lines as the layer whose statistics are wanted."""
        return _OneLayer(
            own=self.existing,
            other=self.judged,
            side=self.existing_side,
            other_side=self.edge_side,
            worst=worst,
            sigma=self.existing_sigma,
            other_sigma=self.edge_sigma,
            alone=ONLY_EXISTING,
            visits=self.visits,
            sides=self,
        )

    def of_edges(self, worst):
        """The edges likewise."""
        return _OneLayer(
            own=self.judged,
            other=self.existing,
            side=self.edge_side,
            other_side=self.existing_side,
            worst=worst,
            sigma=self.edge_sigma,
            other_sigma=self.existing_sigma,
            alone=ONLY_NEW,
            visits=visits_of(None, self.judged, self.judged, self.edge_side),
            sides=self,
        )

    def otherwise(self):
        """The same matches with the shift left in the offsets if it was removed, and removed if it
        was not."""
        sign = -1.0 if self.removed else 1.0
        return replace(
            self,
            removed=not self.removed,
            existing_side=_shifted(self.existing_side, self.shift, sign),
            edge_side=_shifted(self.edge_side, self.shift, -sign),
        )

    def limit(self, east, north, sigma, other_sigma):
        """Limit of offsets along unit vectors at stations, with the uncertainty of the shift."""
        shift_sigma = _shift_sigma(self.shift, self.removed, east, north)
        return limit_of(self.settings.confidence, sigma, other_sigma, shift_sigma)


@dataclass(frozen=True)
class _OneLayer:
    """One of the two layers, `own`, and the other one.

    `worst`: greatest distances of the matched intervals of either side; `alone`: status of a line
    without a counterpart; `visits`: what was visited of the lines, and so is judged.
    """

    own: Lines
    other: Lines
    side: Side
    other_side: Side
    worst: tuple
    sigma: np.ndarray
    other_sigma: np.ndarray
    alone: int
    visits: Visits
    sides: _Sides


def _match_layers(edges, existing, settings, progress, survey):
    """Estimate the shift, remove it if asked for, and match both layers: `_Sides`."""
    reach, spacing = settings.max_offset, settings.station_spacing
    progress(0.0)
    edge_index = Index(edges, None, _part(progress, 0.0, 0.03))
    # the shift may carry the edges farther than the search distance, by its diagonal
    close = edge_index.near(existing, 3 * reach + spacing)
    existing_rays = stations_along(existing, spacing, close)
    existing_index = Index(existing, close, _part(progress, 0.03, 0.05))
    most = CROWDS.most_met
    met = edge_index.meet(existing_rays, reach, _part(progress, 0.05, 0.25), most=most)
    shift = layer_shift(
        existing,
        existing_rays,
        met,
        "translation",
        reach,
        settings.confidence,
        _part(progress, 0.25, 0.3),
    )
    removed = bool(settings.remove_shift and shift.significant)
    judged = edges
    if removed:
        judged = edges.moved(*shift.known[:2])
        edge_index = Index(judged, None, _part(progress, 0.3, 0.32))
        met = edge_index.meet(existing_rays, reach, _part(progress, 0.32, 0.4), most=most)
    edge_rays = stations_along(judged, spacing, existing_index.near(judged, reach))
    met_back = existing_index.meet(edge_rays, reach, _part(progress, 0.4, 0.5), most=most)
    # a shift left in the offsets must not let a neighbour be taken for the counterpart
    still_in = shift.known[:2] if shift.significant and not removed else np.zeros(2)
    existing_side, edge_side = match(
        existing_rays, edge_rays, met, met_back, still_in, _part(progress, 0.5, 0.6)
    )
    return _Sides(
        judged=judged,
        existing=existing,
        edge_index=edge_index,
        existing_index=existing_index,
        edge_side=edge_side,
        existing_side=existing_side,
        edge_sigma=judged.sigma,
        existing_sigma=np.maximum(existing.sigma, settings.existing_sigma),
        shift=shift,
        removed=removed,
        settings=settings,
        visits=visits_of(survey, edges, existing, existing_side),
    )


def _shifted(side, shift, sign):
    """A side with the shift's component across the line, times `sign`, added to each offset."""
    rays, c = side.rays, side.candidates
    across = shift.across_lines(rays.along_y, -rays.along_x, rays.x, rays.y)
    return replace(side, candidates=replace(c, offset=c.offset + sign * across[c.station]))


def _verdicts(sides, of_edges, of_existing):
    """Number of existing lines and edges displaced with the shift left in, and without it."""

    def displaced(*layers):
        return tuple(
            int(np.count_nonzero((one.status == DISPLACED) & (one.length > 0))) for one in layers
        )

    judged = displaced(of_existing, of_edges)
    if not sides.shift.significant:
        return judged, judged
    other = sides.otherwise()
    edges, existing = (
        replace(statistics, status=_status_of(layer, _Matched.of(layer)))
        for statistics, layer in (
            (of_edges, other.of_edges(())),
            (of_existing, other.of_existing(())),
        )
    )
    _displace_both(edges, existing)
    counted = displaced(existing, edges)
    return (counted, judged) if sides.removed else (judged, counted)


def _layers(stations, shift, removed, hausdorff):
    """Statistics of all stations: as judged, with the shift, without it."""
    layer = offsets.of_layer(stations.offset, stations.up, stations.weight, hausdorff)
    if removed:
        offset = stations.offset_before
    else:
        offset = stations.offset + shift.across_lines(
            stations.east, stations.north, stations.x, stations.y
        )
    other = offsets.of_layer(offset, stations.up, stations.weight, np.nan)
    return (layer, other, layer) if removed else (layer, layer, other)


def _comparison(sides, edges, of_edges, of_existing, stations, layers, overlay):
    """Put the result together."""
    edge_length, existing_length = float(of_edges.length.sum()), float(of_existing.length.sum())
    layer, before, after = layers
    with_shift, without_shift = _verdicts(sides, of_edges, of_existing)
    return Comparison(
        settings=sides.settings,
        edges=edges,
        existing=sides.existing,
        edge_statistics=of_edges,
        existing_statistics=of_existing,
        stations=stations,
        layer=layer,
        before=before,
        after=after,
        shift=sides.shift,
        shift_removed=sides.removed,
        buffer=overlay,
        edge_length=edge_length,
        existing_length=existing_length,
        edge_matched_share=(
            float(of_edges.matched_length.sum()) / edge_length if edge_length else np.nan
        ),
        existing_matched_share=(
            float(of_existing.matched_length.sum()) / existing_length if existing_length else np.nan
        ),
        visited_length=float(sides.visits.length.sum()),
        displaced_with_shift=with_shift,
        displaced_without_shift=without_shift,
        sigma_assumed=not edges.sigma.any(),
    )


def _shift_sigma(shift, removed, east, north):
    """Uncertainty of the removed shift across each line, metres."""
    if not removed:
        return np.zeros(len(east))
    if np.isfinite(shift.sigma_across):
        return np.full(len(east), shift.sigma_across)
    return np.hypot(east * shift.sigma_east, north * shift.sigma_north)


def _stations(sides):
    """The matched stations of the existing lines."""
    existing, edges, side = sides.existing, sides.judged, sides.existing_side
    matched = side.matched
    rays, c, rows = side.rays, side.candidates, side.chosen[side.matched]
    part = rays.part[matched]
    line, edge = existing.line[part], edges.line[c.part[rows]]
    first_part = np.searchsorted(existing.line, line, "left")
    east, north = rays.along_y[matched], -rays.along_x[matched]
    scale = existing.scale[line]
    offset = c.offset[rows] / scale
    before = offset
    if sides.removed:
        before = offset - sides.shift.across_lines(east, north, rays.x[matched], rays.y[matched])
    limit = sides.limit(east, north, sides.edge_sigma[edge], sides.existing_sigma[line])
    return StationOffsets(
        existing=line,
        edge=edge,
        part=part - first_part,
        chainage=(existing.part_start()[part] + rays.chainage[matched]) / scale,
        edge_chainage=((edges.part_start()[c.part[rows]] + c.chainage[rows]) / edges.scale[edge]),
        offset=offset,
        offset_before=before,
        up=c.z[rows] - rays.z[matched],
        limit=limit,
        displaced=np.abs(offset) > limit,
        weight=rays.weight[matched] / scale,
        x=rays.x[matched],
        y=rays.y[matched],
        z=rays.z[matched],
        east=east,
        north=north,
    )


def _line_statistics(layer, stations, progress):
    """Statistics and status of one layer's lines."""
    progress(0.0)
    own, count = layer.own, layer.own.count
    matched = _Matched.of(layer)
    status = _status_of(layer, matched, progress)
    progress(0.6)
    of_station = stations.existing if layer.alone == ONLY_EXISTING else stations.edge
    figures = offsets.by_line(of_station, count, stations.offset, stations.up)
    progress(0.7)
    move = rigid_moves(stations, of_station, count, lambda: progress(0.7))
    progress(0.9)
    far = np.full(count, -np.inf)
    np.maximum.at(far, matched.line, layer.worst[0])
    back = layer.other_side.matched
    part = layer.other_side.candidates.part[layer.other_side.chosen[back]]
    np.maximum.at(far, own.line[part], layer.worst[1])
    far[~np.isfinite(far)] = np.nan
    far /= own.scale
    return LineStatistics(
        status=status,
        length=matched.length,
        matched_length=np.minimum(matched.matched_length, matched.length),
        matched_share=matched.share,
        displaced_share=matched.displaced,
        hausdorff=far,
        sigma=layer.sigma,
        limit=matched.mean_limit,
        partner=matched.partner,
        partners=matched.partners,
        visited_share=layer.visits.share,
        moved=move.moved,
        moved_azimuth=move.azimuth,
        **figures,
    )


@dataclass(frozen=True)
class _Matched:
    """Figures of one layer's own matched stations: up to `limit` by station, shape (m,), the others
    by line, shape (count,)."""

    line: np.ndarray
    weight: np.ndarray
    east: np.ndarray
    north: np.ndarray
    offset: np.ndarray
    limit: np.ndarray
    length: np.ndarray
    matched_length: np.ndarray
    share: np.ndarray
    displaced: np.ndarray
    mean_limit: np.ndarray
    partner: np.ndarray
    partner_length: np.ndarray
    partners: np.ndarray

    @classmethod
    def of(cls, layer):
        """The stations and lines of a layer."""
        own, other, side = layer.own, layer.other, layer.side
        count, length, judged = own.count, own.length(), layer.visits.length
        stations, rows = side.matched, side.chosen[side.matched]
        rays, c = side.rays, side.candidates
        line, partner_line = own.line[rays.part[stations]], other.line[c.part[rows]]
        weight = rays.weight[stations] / own.scale[line]
        east, north = rays.along_y[stations], -rays.along_x[stations]
        offset = c.offset[rows] / own.scale[line]
        limit = layer.sides.limit(east, north, layer.sigma[line], layer.other_sigma[partner_line])
        matched_length = np.bincount(line, weight, count)
        partner, partner_length, partners = _partners(line, partner_line, weight, count)
        with np.errstate(invalid="ignore", divide="ignore"):
            share = np.where(judged > 0, np.minimum(matched_length / judged, 1.0), 0.0)
            displaced = np.bincount(line, weight * (np.abs(offset) > limit), count)
            displaced = displaced / matched_length
            mean_limit = np.bincount(line, weight * limit, count) / matched_length
        typical = float(np.median(layer.other_sigma)) if len(layer.other_sigma) else 0.0
        unmatched = limit_of(layer.sides.settings.confidence, layer.sigma, typical)
        return cls(
            line=line,
            weight=weight,
            east=east,
            north=north,
            offset=offset,
            limit=limit,
            length=length,
            matched_length=matched_length,
            share=share,
            displaced=displaced,
            mean_limit=np.where(matched_length > 0, mean_limit, unmatched),
            partner=partner,
            partner_length=partner_length,
            partners=partners,
        )


def _status_of(layer, m, progress=lambda share: None):
    """Status of one layer's lines, shape (count,)."""
    status = _status_by_share(layer, m)
    progress(0.3)
    _find_moved(layer, m, status)
    return status


def _status_by_share(layer, m):
    """Status of each line by the share of its visited length that is matched, and the share of that
    which is displaced."""
    count = layer.own.count
    status = np.full(count, PARTLY, np.uint8)
    whole = m.share >= COMPARISON.whole
    with np.errstate(invalid="ignore", divide="ignore"):
        rmse = np.sqrt(np.bincount(m.line, m.weight * m.offset**2, count) / m.matched_length)
    # a few badly digitised vertices do not make a line partly displaced
    status[whole & ((m.displaced <= COMPARISON.hardly) | (rmse <= m.mean_limit))] = AGREES
    status[whole & (m.displaced >= COMPARISON.whole)] = DISPLACED
    alone = m.share < COMPARISON.hardly
    status[alone] = layer.alone
    status[alone & (m.length > 0) & (layer.visits.share < COMPARISON.hardly)] = NOT_VISITED
    return status


def _find_moved(layer, m, status):
    """Set the status of lines that moved as a whole, and reset it where chance explains them.

    A line that moved as a whole shows no offset on the sides that run along the move, and rays from
    its ends and corners may miss. Unlike one that was rebuilt in part, it kept its length, and a
    single move explains all its offsets.
    """
    count, confidence = layer.own.count, layer.sides.settings.confidence
    move, seen = offsets.translations(m.line, count, m.east, m.north, m.offset, m.weight)
    size = np.where(
        seen,
        np.hypot(*move.T),
        np.abs(np.bincount(m.line, m.weight * m.offset, count))
        / np.maximum(m.matched_length, 1e-12),
    )
    residual = np.abs(m.offset - m.east * move[m.line, 0] - m.north * move[m.line, 1])
    rest = residual > m.limit + COMPARISON.curvature_slack * size[m.line]
    unexplained = np.bincount(m.line, m.weight * rest, count)
    unexplained = unexplained / np.maximum(m.matched_length, 1e-12)
    with np.errstate(invalid="ignore"):
        alike = (
            (m.partner_length >= COMPARISON.whole * m.matched_length)
            & (m.partner >= 0)
            & (m.share >= COMPARISON.min_matched)
        )
        if layer.other.count:
            change = np.abs(m.length - layer.other.length()[m.partner])
            alike &= change < COMPARISON.length_change * size
        explained = (
            seen
            & (m.displaced > 0)
            & (unexplained <= COMPARISON.hardly / 2)
            & (unexplained < m.displaced / 2)
        )
        moved = alike & (size > m.mean_limit) & (explained | (m.displaced >= COMPARISON.whole))
    status[moved] = DISPLACED
    called = status == DISPLACED
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = group_median(np.abs(m.offset) / m.limit, m.line, count)
    ratio = np.where(explained & moved, np.maximum(ratio, size / m.mean_limit), ratio)
    tested = np.count_nonzero(m.share >= COMPARISON.min_matched)
    real = beyond_chance(np.where(called, ratio, 0.0), tested, confidence)
    status[called & (m.share >= COMPARISON.whole) & ~real] = AGREES


def _displace_both(edges, existing):
    """Call both of two lines that are each other's counterpart displaced if either is."""
    mate = np.where(edges.partner >= 0, edges.partner, 0)
    if not len(existing):
        return
    mutual = (edges.partner >= 0) & (existing.partner[mate] == np.arange(len(edges)))
    mutual &= (
        np.minimum(edges.matched_share, existing.matched_share[mate]) >= COMPARISON.min_matched
    )
    mutual &= np.abs(edges.length - existing.length[mate]) < (1 - COMPARISON.whole) * edges.length
    mutual &= (edges.status == DISPLACED) | (existing.status[mate] == DISPLACED)
    edges.status[mutual] = DISPLACED
    existing.status[mate[mutual]] = DISPLACED


def _partners(line, other, weight, count):
    """Line of the other layer with most of the matched length (-1 for none), that length, and the
    number of such lines."""
    best, most, number = np.full(count, -1, np.int64), np.zeros(count), np.zeros(count, np.int64)
    if not len(line):
        return best, most, number
    wide = int(other.max()) + 1
    pair, place = np.unique(line * wide + other, return_inverse=True)
    total = np.bincount(place.reshape(-1), weight)
    order = np.lexsort((total, pair // wide))
    last = np.append(np.diff(pair[order] // wide) > 0, True)
    chosen = order[last]
    best[pair[chosen] // wide] = pair[chosen] % wide
    most[pair[chosen] // wide] = total[chosen]
    return best, most, np.bincount(pair // wide, minlength=count)
