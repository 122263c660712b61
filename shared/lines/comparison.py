"""Edges against existing linework: what agrees, what moved, what is new, what is gone.

Words used throughout: an *edge* is a line of the new layer (surveyed, the better one), an *existing
line* one of the layer that is being judged. Offsets are perpendicular to the existing line, + where
the edge lies to its right. A shift is where the existing layer lies as seen from the edges: add it
to the edges to come onto the existing lines, take it from the existing lines to come onto the
edges.
"""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import group_median
from .matching import DUPLICATE, Index, match, points_at, stations_along

AGREES, DISPLACED, ONLY_NEW, ONLY_EXISTING, PARTLY = range(5)
STATUS_NAMES = ("agrees", "displaced", "only_new", "only_existing", "partly")
WHOLE = 0.8  # share of a line that stands for the whole of it
HARDLY = 0.2  # and one that stands for none of it
SAME_LENGTH = 0.5  # of its move: a line that moved as a whole kept its length
CHORD = 3.0  # m of line that tell its direction at a station
TURNED = 0.87  # cosine; where chord and segment differ by more than 30 degrees there is a corner
LEAST_LIMIT = 1e-5  # m; coordinates that went through a transformation and back differ by less
BENT = 0.1  # of its move: on a bend the offset is not quite the component of the move


@dataclass(frozen=True)
class Settings:
    """What is asked for; metres.

    Attributes
    ----------
    max_offset : float
        How far apart two lines may lie and still be the same one; also the width of the simple
        buffer.
    station_spacing : float
        Greatest distance between two stations along a line.
    existing_sigma : float
        Uncertainty of the existing lines across their direction, 1-sigma.
    remove_shift : bool
        Take out a shift of the whole layer, where there is a significant one, before anything is
        judged.
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
        The ratio of the two, 0 to 1.
    displaced_share : ndarray of float
        Share of the matched length whose offset, from the line's own stations, is greater than its
        limit; NaN where none is matched.
    stations : ndarray of int
        Matched stations (those of `Stations`): the offsets are all measured on the existing lines.
    offset_mean, offset_median, offset_sd, offset_rmse : ndarray of float
        Signed offsets; the standard deviation divides by n - 1, the RMSE by n.
    offset_p95, offset_max : ndarray of float
        95th percentile (interpolated) and greatest of the offsets without sign.
    hausdorff : ndarray of float
        Greatest distance from either line to the other over the stretches that are matched, both
        densified.
    up_mean, up_rmse : ndarray of float
        Height of the edge above the existing line, where both have heights.
    sigma : ndarray of float
        Uncertainty across the line that was used, 1-sigma.
    limit : ndarray of float
        Combined uncertainty at the chosen confidence: an offset up to this is no displacement. Mean
        over the stations; for a line without any, with the median uncertainty of the other layer.
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
class LayerStatistics:
    """Statistics of all matched stations together, weighted by length; metres, NaN where no station
    is matched.

    `area_per_metre` is the area between the two layers' lines for each metre of matched existing
    line (mean offset without sign); McMaster 1986 calls it areal displacement. `typical` is the
    normalised median deviation from zero, 1.4826 times the median offset without sign: what the
    RMSE would be without the lines that really moved.
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
    """The simple buffer method of Goodchild and Hunter (1997, IJGIS 11(3)), both ways, over whole
    layers.

    Attributes
    ----------
    width : float
        Half width of the buffer for `completeness` and `correctness`, metres
        (`Settings.max_offset`).
    completeness : float
        Share of the length of the edges that lies within the buffer round the existing lines: how
        much of what is there does the existing layer show? NaN where there are no edges.
    correctness : float
        Share of the length of the existing lines within the buffer round the edges: how much of
        what the existing layer shows is there? NaN where there are no existing lines.
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
        With and without the shift. Where it was not removed, `after` has it taken from the offsets
        of the same stations.
    shift : Shift
        See `shared.shift.Shift`: `east`, `north`, `sigma_east`, `sigma_north`, `significant`,
        `determined`...
    shift_removed : bool
        False too where removal was asked for but no significant shift was found.
    buffer : BufferOverlay
        Of the edges and existing lines as judged.
    edge_length, existing_length : float
        Whole layers, metres.
    edge_matched_share, existing_matched_share : float
        Share of it that has a counterpart; NaN for a layer without length.
    sigma_assumed : bool
        True where no uncertainty of the edges was given, so that only that of the existing lines
        counts.
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
        """Number of lines of `edge_statistics` or `existing_statistics` with a status (place in
        `STATUS_NAMES`); rows without length have none."""
        return int(np.count_nonzero((statistics.status == status) & (statistics.length > 0)))

    def length_of(self, statistics, status):
        """Their length, metres."""
        return float(statistics.length[statistics.status == status].sum())


def compare(edges, existing, settings=None, checkpoint=None):
    """Compare two layers of lines.

    Parameters
    ----------
    edges, existing : Lines
        In one frame that is true to scale, metres. `sigma` of the edges is their uncertainty; that
        of the existing lines is taken where it is greater than `Settings.existing_sigma`.
    settings : Settings, optional
    checkpoint : callable, optional
        Called with the share of work done, 0 to 1, between the stages and inside the long ones. It
        may raise to stop the work.

    Returns
    -------
    Comparison
    """
    from . import offsets  # late: they need scipy

    settings = settings or Settings()
    checkpoint = checkpoint or (lambda share: None)
    part = lambda low, high: lambda share: checkpoint(low + (high - low) * share)  # noqa: E731
    checkpoint(0.0)
    edge_index = Index(edges, None, part(0.0, 0.03))
    # the shift may carry the edges farther than the search distance, by its diagonal
    close = edge_index.near(existing, 3 * settings.max_offset + settings.station_spacing)
    existing_rays = stations_along(existing, settings.station_spacing, close)
    existing_index = Index(existing, close, part(0.03, 0.05))
    met = edge_index.meet(existing_rays, settings.max_offset, part(0.05, 0.25))
    shift = layer_shift(
        existing,
        existing_rays,
        met,
        "translation",
        settings.max_offset,
        settings.confidence,
        part(0.25, 0.3),
    )
    removed = bool(settings.remove_shift and shift.significant)
    judged = edges
    if removed:
        judged = edges.moved(*shift.known[:2])
        edge_index = Index(judged, None, part(0.3, 0.32))
        met = edge_index.meet(existing_rays, settings.max_offset, part(0.32, 0.4))
    edge_rays = stations_along(
        judged, settings.station_spacing, existing_index.near(judged, settings.max_offset)
    )
    met_back = existing_index.meet(edge_rays, settings.max_offset, part(0.4, 0.5))
    # a shift that stays in the offsets must not make neighbours of counterparts
    still_in = shift.known[:2] if shift.significant and not removed else np.zeros(2)
    existing_side, edge_side = match(
        existing_rays, edge_rays, met, met_back, still_in, DUPLICATE, part(0.5, 0.6)
    )

    sigma = {"edges": judged.sigma, "existing": np.maximum(existing.sigma, settings.existing_sigma)}
    stations = _stations(
        existing, judged, existing_side, sigma, shift, removed, settings.confidence
    )
    worst = offsets.farthest_of_side(existing, judged, existing_side, part(0.61, 0.68))
    worst_back = offsets.farthest_of_side(judged, existing, edge_side, part(0.68, 0.75))
    of_existing = _line_statistics(
        existing,
        judged,
        existing_side,
        edge_side,
        (worst, worst_back),
        sigma["existing"],
        sigma["edges"],
        stations,
        stations.existing,
        ONLY_EXISTING,
        shift,
        removed,
        settings.confidence,
        part(0.75, 0.77),
    )
    of_edges = _line_statistics(
        judged,
        existing,
        edge_side,
        existing_side,
        (worst_back, worst),
        sigma["edges"],
        sigma["existing"],
        stations,
        stations.edge,
        ONLY_NEW,
        shift,
        removed,
        settings.confidence,
        part(0.77, 0.8),
    )
    _of_one_mind(of_edges, of_existing)
    checkpoint(0.8)
    far = max(float(worst.max(initial=0.0)), float(worst_back.max(initial=0.0)))
    layer = offsets.of_layer(stations.offset, stations.up, stations.weight, far)
    checkpoint(0.8)
    taken_out = stations.offset
    if not removed:
        taken_out = stations.offset + shift.across_lines(
            stations.east, stations.north, stations.x, stations.y
        )
    other = offsets.of_layer(
        stations.offset_before if removed else taken_out, stations.up, stations.weight, np.nan
    )
    before, after = (other, layer) if removed else (layer, other)
    overlay = offsets.overlay(
        judged,
        existing,
        edge_index,
        existing_index,
        settings.station_spacing,
        settings.max_offset,
        part(0.8, 1.0),
    )
    edge_length, existing_length = float(of_edges.length.sum()), float(of_existing.length.sum())
    checkpoint(1.0)
    return Comparison(
        settings,
        edges,
        existing,
        of_edges,
        of_existing,
        stations,
        layer,
        before,
        after,
        shift,
        removed,
        overlay,
        edge_length,
        existing_length,
        float(of_edges.matched_length.sum()) / edge_length if edge_length else np.nan,
        float(of_existing.matched_length.sum()) / existing_length if existing_length else np.nan,
        not edges.sigma.any(),
    )


def layer_shift(existing, rays, met, model, reach, confidence, checkpoint=lambda share: None):
    """The shift that the candidates of the existing lines' stations speak for; see
    `shared.shift.estimate`.

    Returns
    -------
    Shift
    """
    from .shift import estimate

    i = met.station
    line = existing.line[rays.part[i]] if len(i) else np.zeros(0, np.int64)
    # Where vertices lie close, the direction of a short segment is mostly noise: the shift is seen
    # across the line as a whole.
    checkpoint(0.0)
    along_x, along_y = _smooth_direction(existing, rays)
    checkpoint(0.1)
    east, north = along_y[i], -along_x[i]
    offset = met.offset * (east * rays.along_y[i] - north * rays.along_x[i])
    return estimate(
        i,
        east,
        north,
        offset,
        rays.weight[i],
        line,
        existing.part_start()[rays.part[i]] + rays.chainage[i],
        rays.x[i],
        rays.y[i],
        model,
        reach,
        confidence,
        lambda share: checkpoint(0.1 + 0.9 * share),
    )


def _smooth_direction(lines, rays):
    """Unit vectors of the chord to either side of each station, or of its segment where the line
    turns."""
    if not len(rays):
        return rays.along_x, rays.along_y
    length = rays.weight * np.diff(rays.first)[rays.part]
    low, high = (
        points_at(lines, rays.part, np.clip(rays.chainage + side * CHORD / 2, 0.0, length))[:2]
        for side in (-1, 1)
    )
    dx, dy = high[0] - low[0], high[1] - low[1]
    size = np.hypot(dx, dy)
    fine = size > 0.9 * np.minimum(CHORD, length)
    dx, dy = (
        np.where(fine, dx / np.maximum(size, 1e-12), rays.along_x),
        np.where(fine, dy / np.maximum(size, 1e-12), rays.along_y),
    )
    alike = dx * rays.along_x + dy * rays.along_y > TURNED
    return np.where(alike, dx, rays.along_x), np.where(alike, dy, rays.along_y)


def limit_of(confidence, *sigmas):
    """Greatest offset that uncertainty explains: a perpendicular offset is one normal value, so the
    factor is that of the normal distribution (1.9600 at 0.95), not that of the circular error."""
    from scipy.special import ndtri

    return np.maximum(
        ndtri((1 + confidence) / 2) * np.sqrt(sum(np.square(sigma) for sigma in sigmas)),
        LEAST_LIMIT,
    )


def beyond_chance(ratio, tested, confidence):
    """Which displacements are left when one asks how many of them chance alone would show among so
    many lines.

    One line in twenty passes a limit at 0.95 by chance. Of the lines called displaced no more than
    that share may be chance finds (false discovery rate, Benjamini and Hochberg 1995, J. R. Stat.
    Soc. B 57): with one line this is the limit itself, with many lines of which few moved it is
    stricter.

    Parameters
    ----------
    ratio : ndarray of float, shape (count,)
        Typical offset of each line over its limit at `confidence`; 0 or NaN for lines that are not
        called displaced.
    tested : int
        Number of lines that could have been.
    confidence : float

    Returns
    -------
    ndarray of bool, shape (count,)
    """
    from scipy.special import ndtr, ndtri

    ratio = np.where(np.isnan(ratio), 0.0, ratio)
    if not len(ratio):
        return np.zeros(0, bool)
    with np.errstate(invalid="ignore"):
        chance = np.where(ratio > 0, 2 * ndtr(-ratio * ndtri((1 + confidence) / 2)), 1.0)
    ranked = np.sort(chance)
    fine = np.flatnonzero(
        ranked <= (1 - confidence) * np.arange(1, len(ranked) + 1) / max(tested, 1)
    )
    return (ratio > 1) & (chance <= (ranked[fine[-1]] if len(fine) else -1.0))


def _shift_sigma(shift, removed, east, north):
    """Uncertainty of the shift that was taken out, across each line."""
    if not removed:
        return np.zeros(len(east))
    if np.isfinite(shift.sigma_across):
        return np.full(len(east), shift.sigma_across)
    return np.hypot(east * shift.sigma_east, north * shift.sigma_north)


def _stations(existing, edges, side, sigma, shift, removed, confidence):
    """The matched stations of the existing lines."""
    matched = side.matched
    rays, c, rows = side.rays, side.candidates, side.chosen[side.matched]
    part = rays.part[matched]
    line, edge = existing.line[part], edges.line[c.part[rows]]
    first_part = np.searchsorted(existing.line, line, "left")
    east, north = rays.along_y[matched], -rays.along_x[matched]
    scale = existing.scale[line]
    offset = c.offset[rows] / scale
    before = (
        offset - shift.across_lines(east, north, rays.x[matched], rays.y[matched])
        if removed
        else offset
    )
    limit = limit_of(
        confidence,
        sigma["edges"][edge],
        sigma["existing"][line],
        _shift_sigma(shift, removed, east, north),
    )
    return Stations(
        line,
        edge,
        part - first_part,
        (existing.part_start()[part] + rays.chainage[matched]) / scale,
        (edges.part_start()[c.part[rows]] + c.chainage[rows]) / edges.scale[edge],
        offset,
        before,
        c.z[rows] - rays.z[matched],
        limit,
        np.abs(offset) > limit,
        rays.weight[matched] / scale,
        rays.x[matched],
        rays.y[matched],
        rays.z[matched],
        east,
        north,
    )


def _line_statistics(
    own,
    other,
    side,
    other_side,
    worst,
    sigma,
    other_sigma,
    stations,
    line_of_station,
    alone,
    shift,
    removed,
    confidence,
    checkpoint,
):
    """Statistics and status of one layer's lines."""
    from . import offsets

    checkpoint(0.0)
    count = own.count
    length = own.length()
    matched, rows = side.matched, side.chosen[side.matched]
    rays, c = side.rays, side.candidates
    line, partner_line = own.line[rays.part[matched]], other.line[c.part[rows]]
    weight = rays.weight[matched] / own.scale[line]
    east, north = rays.along_y[matched], -rays.along_x[matched]
    offset = c.offset[rows] / own.scale[line]
    limit = limit_of(
        confidence,
        sigma[line],
        other_sigma[partner_line],
        _shift_sigma(shift, removed, east, north),
    )
    beyond = np.abs(offset) > limit
    matched_length = np.bincount(line, weight, count)
    partner, partner_length, partners = _partners(line, partner_line, weight, count)
    with np.errstate(invalid="ignore", divide="ignore"):
        share = np.where(length > 0, np.minimum(matched_length / length, 1.0), 0.0)
        displaced = np.bincount(line, weight * beyond, count) / matched_length
        mean_limit = np.bincount(line, weight * limit, count) / matched_length
    usual = float(np.median(other_sigma)) if len(other_sigma) else 0.0
    mean_limit = np.where(matched_length > 0, mean_limit, limit_of(confidence, sigma, usual))
    status = np.full(count, PARTLY, np.uint8)
    whole = share >= WHOLE
    with np.errstate(invalid="ignore", divide="ignore"):
        rmse = np.sqrt(np.bincount(line, weight * offset**2, count) / matched_length)
    # single vertices that were digitised badly do not make a line that is partly displaced
    status[whole & ((displaced <= HARDLY) | (rmse <= mean_limit))] = AGREES
    status[whole & (displaced >= WHOLE)] = DISPLACED
    status[share < HARDLY] = alone

    # A line that moved as a whole shows no offset on its sides along the move, and rays from its
    # ends and corners may miss. What tells it from one of which a part was rebuilt: it kept its
    # length, and one move explains all its offsets.
    checkpoint(0.3)
    move, seen = offsets.translations(line, count, east, north, offset, weight)
    size = np.where(
        seen,
        np.hypot(*move.T),
        np.abs(np.bincount(line, weight * offset, count)) / np.maximum(matched_length, 1e-12),
    )
    rest = np.abs(offset - east * move[line, 0] - north * move[line, 1]) > limit + BENT * size[line]
    unexplained = np.bincount(line, weight * rest, count) / np.maximum(matched_length, 1e-12)
    with np.errstate(invalid="ignore"):
        alike = (partner_length >= WHOLE * matched_length) & (partner >= 0) & (share >= 0.5)
        if other.count:
            alike &= np.abs(length - other.length()[partner]) < SAME_LENGTH * size
        explained = (
            seen & (displaced > 0) & (unexplained <= HARDLY / 2) & (unexplained < displaced / 2)
        )
        moved = alike & (size > mean_limit) & (explained | (displaced >= WHOLE))
    status[moved] = DISPLACED
    called = status == DISPLACED
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = group_median(np.abs(offset) / limit, line, count)
    ratio = np.where(explained & moved, np.maximum(ratio, size / mean_limit), ratio)
    tested = np.count_nonzero(share >= 0.5)
    status[called & whole & ~beyond_chance(np.where(called, ratio, 0.0), tested, confidence)] = (
        AGREES
    )

    checkpoint(0.6)
    figures = offsets.by_line(line_of_station, count, stations.offset, stations.up)
    checkpoint(0.9)
    far = np.full(count, -np.inf)
    np.maximum.at(far, line, worst[0])
    back = other_side.matched
    np.maximum.at(far, own.line[other_side.candidates.part[other_side.chosen[back]]], worst[1])
    far[~np.isfinite(far)] = np.nan
    far /= own.scale
    return LineStatistics(
        status,
        length,
        np.minimum(matched_length, length),
        share,
        displaced,
        figures["stations"],
        figures["offset_mean"],
        figures["offset_median"],
        figures["offset_sd"],
        figures["offset_rmse"],
        figures["offset_p95"],
        figures["offset_max"],
        far,
        figures["up_mean"],
        figures["up_rmse"],
        sigma,
        mean_limit,
        partner,
        partners,
    )


def _of_one_mind(edges, existing):
    """Where one of two lines that are each other's counterpart was seen to have moved as a whole,
    the other has too."""
    mate = np.where(edges.partner >= 0, edges.partner, 0)
    if not len(existing):
        return
    mutual = (edges.partner >= 0) & (existing.partner[mate] == np.arange(len(edges)))
    mutual &= np.minimum(edges.matched_share, existing.matched_share[mate]) >= 0.5
    mutual &= np.abs(edges.length - existing.length[mate]) < (1 - WHOLE) * edges.length
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
