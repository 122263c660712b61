"""Epochs taken while standing still, collapsed into the one position that they observed."""

from dataclasses import dataclass, fields

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import (
    group_index,
    group_sum,
    join_offsets,
    offsets_from_starts,
    quick_median,
    ranges,
    running_max,
)
from .height_evidence import height_odds

STANDING_EXTENT = 0.15  # m; a group that creeps on farther than this is cut
# Part of the white noise that does not average out while standing: the hand that holds the
# receiver, or the aim, leans one way for a while (common practice, no source).
STEADY_LEAN = 0.3
# Of the receiver's error, what stays the same over a minute of walking does not show in the
# residuals. Half of the reported variance is taken for it; where nothing is reported, 5 mm in plan
# and 8 mm in height (common practice, no source).
STEADY_SHARE = 0.5
STEADY_USUAL, STEADY_USUAL_UP = 0.005, 0.008


@dataclass(frozen=True)
class Positions:
    """Observed positions in time order, each from one epoch or from several taken standing still.

    ``rows[offsets[p]:offsets[p + 1]]`` are the source rows of position ``p``. Other arrays have
    shape (m,): `x`, `y`, `z` in metres (z NaN where no epoch has a usable height); `variance`,
    `variance_up` in m2, of the white part of the noise in each axis; `started`, `ended` in seconds;
    `capture`; `odds` by how much heights speak for a slip of the aim, squared sigmas
    (`heightodds.height_odds`).
    """

    rows: np.ndarray
    offsets: np.ndarray
    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    variance: np.ndarray
    variance_up: np.ndarray
    started: np.ndarray
    ended: np.ndarray
    capture: np.ndarray
    odds: np.ndarray

    def __len__(self):
        return len(self.x)

    def take(self, keep):
        """Only the positions where the mask `keep`, shape (m,), is True."""
        epochs, kept = np.flatnonzero(keep[group_index(self.offsets)]), np.flatnonzero(keep)
        return Positions(
            self.rows.take(epochs),
            np.append(0, np.cumsum(np.diff(self.offsets).take(kept))),
            *self._columns(kept),
        )

    @classmethod
    def concatenate(cls, parts):
        """The positions of all parts."""
        columns = {
            column.name: np.concatenate([getattr(part, column.name) for part in parts])
            for column in fields(cls)
            if column.name != "offsets"
        }
        return cls(offsets=join_offsets([part.offsets for part in parts]), **columns)

    def sort(self, order):
        """The positions in another order; `order`, shape (m,), holds their places."""
        number = np.diff(self.offsets)[order]
        return Positions(
            self.rows[ranges(self.offsets[:-1][order], number)],
            np.append(0, np.cumsum(number)),
            *self._columns(order),
        )

    def _columns(self, places):
        """All but the rows and their offsets, at some places."""
        return (getattr(self, column.name).take(places) for column in fields(self)[2:])


def epoch_variance(sigma, capture, noise):
    """Variance of each epoch: the capture's noise, and more where the receiver says it was worse
    than usual.

    Parameters
    ----------
    sigma : ndarray of float, shape (n,)
        Reported 1-sigma in metres, NaN where unknown.
    capture : ndarray of int, shape (n,)
    noise : ndarray of float, shape (captures,)
        White noise of each capture, metres.

    Returns
    -------
    ndarray of float, shape (n,), m2
    """
    usual = quick_median(sigma, capture, len(noise))[capture]
    with np.errstate(invalid="ignore"):
        worse = np.fmax(sigma**2 - usual**2, 0.0)
    return noise[capture] ** 2 + np.where(np.isfinite(worse), worse, 0.0)


def collapse_standing(table, screening):
    """Collapse epochs taken while standing still.

    Parameters
    ----------
    table : EpochTable
    screening : Screening

    Returns
    -------
    Positions

    Notes
    -----
    Neighbours in time that are nearer than the noise can tell (or than two fifths of the usual
    step) are one group. Weighted means; the variance of a mean keeps a part that does not average
    out.
    """
    rows, stream = screening.kept, screening.stream
    capture = table.capture[rows]
    x, y, seconds = table.x[rows], table.y[rows], table.seconds[rows]
    variance = epoch_variance(table.sigma_h[rows], capture, stream.noise)
    variance_up = epoch_variance(table.sigma_v[rows], capture, stream.noise_up)
    radius = np.minimum(np.maximum(4 * np.sqrt(2) * stream.noise, 0.06), 0.4 * stream.spacing)

    offsets = np.arange(len(rows) + 1)
    mean_x, mean_y = x, y
    for _ in range(2):  # once more with the means, which are surer than single epochs
        if len(offsets) < 3:
            break
        own = capture[offsets[:-1]]
        near = (np.diff(own) == 0) & (distance(np.diff(mean_x), np.diff(mean_y)) < radius[own[1:]])
        if not stream.own_time_limit:  # who sets a limit wants the break, moved or not
            near &= (
                seconds[offsets[1:-1]] - seconds[offsets[1:-1] - 1] <= stream.time_limit[own[1:]]
            )
        offsets = _cut(x, y, offsets[offsets_from_starts(np.concatenate([[True], ~near]))])
        mean_x, mean_y = _weighted(x, variance, offsets), _weighted(y, variance, offsets)

    count = np.diff(offsets)
    first = offsets[:-1]
    lean = np.where(count > 1, STEADY_LEAN**2, 0.0)
    own = capture[first]
    height, recorded = screening.height_ok[rows], table.z[rows]
    weight_up = np.where(height, 1 / variance_up, 0.0)
    total_up = group_sum(weight_up, offsets)
    with np.errstate(invalid="ignore", divide="ignore"):
        z = group_sum(weight_up * np.where(height, recorded, 0.0), offsets) / total_up
        up = 1 / total_up + lean * stream.noise_up[own] ** 2
    odds = height_odds(
        mean_x, mean_y, np.where(np.isfinite(z), z, recorded[first]), own, stream.noise_up
    )
    return Positions(
        rows,
        offsets,
        mean_x,
        mean_y,
        z,
        1 / group_sum(1 / variance, offsets) + lean * stream.noise[own] ** 2,
        np.where(total_up > 0, up, np.inf),
        seconds[first],
        seconds[offsets[1:] - 1],
        own,
        odds,
    )


def _cut(x, y, offsets):
    """Groups cut where they creep on; most hold one epoch."""
    number = np.diff(offsets)
    several = np.flatnonzero(number > 1)
    first, number = offsets[several], number[several]
    index, start = ranges(first, number), np.repeat(first, number)
    away = distance(x[index] - x[start], y[index] - y[start])
    cell = running_max(np.floor(away / STANDING_EXTENT), np.append(0, np.cumsum(number)))
    cut = index[1:][np.diff(cell) > 0.5]
    return np.insert(offsets, np.searchsorted(offsets, cut), cut)


def _weighted(values, variance, offsets):
    """Weighted mean of each group; most hold one value, which is its own mean."""
    first, number = offsets[:-1], np.diff(offsets)
    out = values[first]
    several = np.flatnonzero(number > 1)
    if several.size:
        index = ranges(first[several], number[several])
        inside = np.concatenate([[0], np.cumsum(number[several])])
        # about the first value of each group, so that large coordinates cost no digits
        rest = values[index] - np.repeat(out[several], number[several])
        weight = 1 / variance[index]
        out[several] += group_sum(rest * weight, inside) / group_sum(weight, inside)
    return out
