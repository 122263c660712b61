"""Epochs taken while standing still, collapsed into the one position that they observed."""

from dataclasses import dataclass, fields

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import (
    group_index,
    group_sum,
    join_offsets,
    offsets_from_starts,
    offsets_of,
    quick_median,
    ranges,
    running_max,
)
from ..tuning import STANDING
from .height_evidence import height_llr
from .rounding import sharing_rounding


@dataclass(frozen=True)
class Positions:
    """Observed positions in time order, each from one epoch or from several taken standing still.

    ``rows[offsets[p]:offsets[p + 1]]`` are the source rows of position ``p``. Other arrays have
    shape (m,): `x`, `y`, `z` in metres (z NaN where no epoch has a usable height); `variance`,
    `variance_up` in m2, of the white part of the noise in each axis; `started`, `ended` in seconds;
    `capture`; `height_llr` evidence of heights for a gross error of the aim, squared
    sigmas (`height_evidence.height_llr`).
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
    height_llr: np.ndarray

    def __len__(self):
        return len(self.x)

    def take(self, keep):
        """Some of the positions.

        Parameters
        ----------
        keep : ndarray of bool, shape (m,)

        Returns
        -------
        Positions
        """
        epochs, kept = np.flatnonzero(keep[group_index(self.offsets)]), np.flatnonzero(keep)
        return Positions(
            rows=self.rows.take(epochs),
            offsets=offsets_of(np.diff(self.offsets).take(kept)),
            **self._columns(kept),
        )

    @classmethod
    def concatenate(cls, parts):
        """The positions of all parts, one after the other.

        Parameters
        ----------
        parts : sequence of Positions

        Returns
        -------
        Positions
        """
        columns = {
            column.name: np.concatenate([getattr(part, column.name) for part in parts])
            for column in fields(cls)
            if column.name != "offsets"
        }
        return cls(offsets=join_offsets([part.offsets for part in parts]), **columns)

    def sort(self, order):
        """The positions in another order.

        Parameters
        ----------
        order : ndarray of int, shape (m,)
            Places of the positions.

        Returns
        -------
        Positions
        """
        number = np.diff(self.offsets)[order]
        return Positions(
            rows=self.rows[ranges(self.offsets[:-1][order], number)],
            offsets=offsets_of(number),
            **self._columns(order),
        )

    def _columns(self, places):
        """All but the rows and their offsets, at some places."""
        return {
            column.name: getattr(self, column.name).take(places)
            for column in fields(self)
            if column.name not in ("rows", "offsets")
        }


def epoch_variance(sigma, capture, noise, reference=None):
    """Variance of each epoch: the capture's noise, and more if the reported accuracy is worse than
    its median.

    Parameters
    ----------
    sigma : ndarray of float, shape (n,)
        Reported 1-sigma in metres, NaN if unknown.
    capture : ndarray of int, shape (n,)
    noise : ndarray of float, shape (captures,)
        White noise of each capture, metres.
    reference : tuple of ndarray, shape (q,), optional
        Sigmas and captures of the epochs from which the medians are taken, if these are others.

    Returns
    -------
    ndarray of float, shape (n,)
        m2.
    """
    nominal = quick_median(*(reference or (sigma, capture)), len(noise))[capture]
    with np.errstate(invalid="ignore"):
        worse = np.fmax(sigma**2 - nominal**2, 0.0)
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
    Neighbours in time whose distance is within the noise, and within
    `STANDING.spacing_share` of the spacing, form a group. Its position is the weighted mean, whose
    variance keeps a part that does not average out.
    """
    rows, stream = screening.kept, screening.stream
    capture = table.capture[rows]
    x, y, seconds = table.x[rows], table.y[rows], table.seconds[rows]
    reference = _reference(table, table.sigma_h, screening)
    variance = epoch_variance(table.sigma_h[rows], capture, stream.noise, reference)
    offsets, mean_x, mean_y = _group_standing(x, y, seconds, variance, capture, stream)
    first = offsets[:-1]
    lean = np.where(np.diff(offsets) > 1, STANDING.lean**2, 0.0)
    own = capture[first]
    # epochs that share their noise count for fewer
    memory, memory_up = (
        np.minimum(of_mean[own], np.diff(offsets)) for of_mean in (stream.memory, stream.memory_up)
    )
    z, variance_up = _mean_heights(table, rows, screening, offsets, lean, memory_up)
    llr = height_llr(
        mean_x,
        mean_y,
        np.where(np.isfinite(z), z, table.z[rows[first]]),
        own,
        stream.noise_up,
    )
    of_noise = memory / group_sum(1 / variance, offsets) + lean * stream.noise[own] ** 2
    return Positions(
        rows=rows,
        offsets=offsets,
        x=mean_x,
        y=mean_y,
        z=z,
        variance=of_noise * sharing_rounding(mean_x, mean_y, own, stream.cells),
        variance_up=variance_up,
        started=seconds[first],
        ended=seconds[offsets[1:] - 1],
        capture=own,
        height_llr=llr,
    )


def height_weights(table, screening):
    """Weights of heights in the means of `collapse_standing`.

    Parameters
    ----------
    table : EpochTable
    screening : Screening

    Returns
    -------
    ndarray of float, shape (k,)
        Of each kept row, 1/m2; 0 for a height that is not usable.
    """
    rows = screening.kept
    reference = _reference(table, table.sigma_v, screening)
    noise = screening.stream.noise_up
    variance = epoch_variance(table.sigma_v[rows], table.capture[rows], noise, reference)
    return np.where(screening.height_ok[rows], 1 / variance, 0.0)


def _reference(table, sigma, screening):
    """Sigmas and captures of the epochs from which nominal accuracies are taken; None for those
    that are kept."""
    rows = screening.reference
    return None if rows is None else (sigma[rows], table.capture[rows])


def _group_standing(x, y, seconds, variance, capture, stream):
    """Offsets, shape (m + 1,), of the groups of epochs taken at one place, and their weighted
    means."""
    stride = stream.stride
    radius = np.minimum(
        np.maximum(STANDING.radius_sigmas * np.sqrt(2) * stream.noise, STANDING.least_radius),
        STANDING.spacing_share * stream.spacing * stride,
    )
    offsets = np.arange(len(x) + 1)
    mean_x, mean_y = x, y
    for _ in range(STANDING.rounds):
        if len(offsets) < 3:
            break
        own = capture[offsets[:-1]]
        near = (np.diff(own) == 0) & (distance(np.diff(mean_x), np.diff(mean_y)) < radius[own[1:]])
        fast = stride[own[1:]] > 1
        if fast.any():
            single = np.diff(offsets) == 1
            stays = _stays(mean_x, mean_y, own, stride, radius, single)
            near = np.where(fast, stays, near)
        if not stream.own_time_limit:  # a limit of the user breaks the line, moved or not
            near &= (
                seconds[offsets[1:-1]] - seconds[offsets[1:-1] - 1] <= stream.time_limit[own[1:]]
            )
        offsets = _cut(x, y, offsets[offsets_from_starts(np.concatenate([[True], ~near]))])
        mean_x, mean_y = _weighted(x, variance, offsets), _weighted(y, variance, offsets)
    return offsets, mean_x, mean_y


def _stays(x, y, own, stride, radius, single):
    """Mask of the steps of fast streams during which the walk stood: those on a way of several
    epochs that leads nowhere, and those between two means. Single steps would not do, as they are
    shorter than the noise even while walking."""
    k = np.where(single, stride[own], 1)
    i = np.arange(len(x))
    end = np.minimum(i + k, len(x) - 1)
    near = (i + k < len(x)) & (own[end] == own) & (end > i)
    near &= (k > 1) | ~single[end]
    near &= distance(x[end] - x, y[end] - y) < radius[own]
    begun = near.astype(np.int64)
    ended = np.bincount(end[near], minlength=len(x))
    return np.cumsum(begun - ended)[:-1] > 0


def _mean_heights(table, rows, screening, offsets, lean, memory):
    """Weighted mean of the usable heights of each group and its variance; NaN and infinite for
    none. `lean`: share of a group's variance that does not average out; `memory`: variance of its
    mean over that of white noise."""
    stream, capture = screening.stream, table.capture[rows]
    weight = height_weights(table, screening)
    usable, total = weight > 0, group_sum(weight, offsets)
    with np.errstate(invalid="ignore", divide="ignore"):
        z = group_sum(weight * np.where(usable, table.z[rows], 0.0), offsets) / total
        up = memory / total + lean * stream.noise_up[capture[offsets[:-1]]] ** 2
    return z, np.where(total > 0, up, np.inf)


def _cut(x, y, offsets):
    """Offsets of the groups, cut where they creep on."""
    number = np.diff(offsets)
    several = np.flatnonzero(number > 1)
    first, number = offsets[several], number[several]
    index, start = ranges(first, number), np.repeat(first, number)
    away = distance(x[index] - x[start], y[index] - y[start])
    cell = running_max(np.floor(away / STANDING.extent), offsets_of(number))
    cut = index[1:][np.diff(cell) > 0.5]
    return np.insert(offsets, np.searchsorted(offsets, cut), cut)


def _weighted(values, variance, offsets):
    """Weighted mean of each group; fast, as most groups hold a single value."""
    first, number = offsets[:-1], np.diff(offsets)
    out = values[first]
    several = np.flatnonzero(number > 1)
    if several.size:
        index = ranges(first[several], number[several])
        inside = offsets_of(number[several])
        # about the first value of each group, so that large coordinates cost no digits
        rest = values[index] - np.repeat(out[several], number[several])
        weight = 1 / variance[index]
        out[several] += group_sum(rest * weight, inside) / group_sum(weight, inside)
    return out
