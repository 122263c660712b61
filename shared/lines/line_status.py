"""The status of lines from the stretches that are matched."""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import group_median
from ..tuning import COMPARISON
from . import offsets
from .comparison_results import (
    AGREES,
    DISPLACED,
    NOT_VISITED,
    PARTLY,
)
from .significance import beyond_chance, limit_of


@dataclass(frozen=True)
class MatchedStations:
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


def status_of(layer, m, progress=lambda share: None):
    """The status of one layer's lines.

    Parameters
    ----------
    layer : OneLayer
    m : MatchedStations
        Of it.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    ndarray of uint8, shape (count,)
        Place in `STATUS_NAMES`.
    """
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


def displace_both(edges, existing):
    """Call both of two lines that are each other's counterpart displaced if either is.

    Parameters
    ----------
    edges, existing : LineStatistics
        Their `status` is changed in place.
    """
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
