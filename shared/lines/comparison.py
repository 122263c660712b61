"""Edges against existing linework: what agrees, what moved, what is new, what is gone.

Words used throughout: an *edge* is a line of the new, surveyed layer, an *existing line* one of the
layer that is being judged. Offsets are perpendicular to the existing line, + where the edge lies to
its right. The *shift* is the position of the existing layer relative to the edges: adding it to the
edges, or subtracting it from the existing lines, brings both together.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..tuning import CROWDS
from . import offsets, simple_buffer
from .comparison_results import (
    DISPLACED,
    ONLY_EXISTING,
    ONLY_NEW,
    Comparison,
    ComparisonSettings,
    LineStatistics,
    StationOffsets,
)
from .line_status import MatchedStations, displace_both, status_of
from .lines import Lines
from .matching import Side, match
from .rays import Index, stations_along
from .rigid_moves import rigid_moves
from .shift import layer_shift
from .shift_results import Shift
from .significance import limit_of
from .visits import Visits, visits_of


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
    displace_both(of_edges, of_existing)
    progress(0.8)
    far = max(float(worst.max(initial=0.0)), float(worst_back.max(initial=0.0)))
    layer, before, after = _layers(stations, sides.shift, sides.removed, far)
    progress(0.8)
    overlay = simple_buffer.overlay(
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
        return OneLayer(
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
        return OneLayer(
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
class OneLayer:
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
        replace(statistics, status=status_of(layer, MatchedStations.of(layer)))
        for statistics, layer in (
            (of_edges, other.of_edges(())),
            (of_existing, other.of_existing(())),
        )
    )
    displace_both(edges, existing)
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
    matched = MatchedStations.of(layer)
    status = status_of(layer, matched, progress)
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
