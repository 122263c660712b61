"""Spot points from epochs taken standing still: weighted means and their spread, without gross
errors."""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import group_max, group_sum, offsets_of
from ..tuning import OCCUPATIONS, STANDING, STREAM
from .group_statistics import correlated_share, gross_errors, weighted_mean
from .reasons import MOVING, TOO_FEW, Reason, describe
from .rounding import SIGMA, grid_of, left_of_rounding, step_of
from .screening import time_order, unusable
from .settings import OccupationSettings
from .stops import Outcome, find_stops


@dataclass(frozen=True)
class Points:
    """Averaged points in order of captures and time; arrays of shape (p,), metres and seconds.

    `x`, `y`, `z`: weighted means (z NaN without heights); `started`, `ended`: times of the first
    and last epoch used; `epochs`: number used; `rejected`: number not used in that time; `sd_east`,
    `sd_north`, `sd_up`: standard deviation of one epoch (divided by n - 1); `rms_horizontal`,
    `max_horizontal`: of the distances of epochs from the mean; `sigma_east`, `sigma_north`,
    `sigma_up`: 1-sigma of the mean. East and north are those of the frame.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    capture: np.ndarray
    started: np.ndarray
    ended: np.ndarray
    epochs: np.ndarray
    rejected: np.ndarray
    sd_east: np.ndarray
    sd_north: np.ndarray
    sd_up: np.ndarray
    rms_horizontal: np.ndarray
    max_horizontal: np.ndarray
    sigma_east: np.ndarray
    sigma_north: np.ndarray
    sigma_up: np.ndarray

    def __len__(self):
        return len(self.x)


@dataclass(frozen=True)
class Occupations:
    """Points, and what became of every epoch; arrays of shape (n,) by source row.

    `reason`: place in `OCCUPATION_REASONS`, 0 for epochs that were used; `amount`: number that goes
    with it; `point`: that the epoch belongs to, -1 for none; `east`, `north`, `up`: epoch minus
    point, metres, NaN if not used; `noise`, `noise_up`: 1-sigma of one epoch over the layer,
    metres.
    """

    points: Points
    reason: np.ndarray
    amount: np.ndarray
    point: np.ndarray
    east: np.ndarray
    north: np.ndarray
    up: np.ndarray
    noise: float
    noise_up: float


def average(table, settings=None, progress=lambda share: None, step=0.0):
    """Average epochs taken standing still.

    Parameters
    ----------
    table : EpochTable
    settings : OccupationSettings, optional
    progress : callable
        Called with the share that is done, 0 to 1; may raise to stop the work.
    step : float
        Of the grid that the layer's positions lie on, metres; 0: what epochs taken standing still
        show of it. They show none where each stop lies in one cell.

    Returns
    -------
    Occupations
        Every row is used for one point or rejected with a reason. The order of rows does not
        matter.
    """
    settings = settings or OccupationSettings()
    reason, amount, _, kept = unusable(table, settings.max_h_accuracy)
    outcome = Outcome(reason, amount)
    progress(0.2)  # exact: share of the time
    stop = find_stops(table, kept, outcome, settings)
    progress(0.5)
    kept, stop = kept[stop >= 0], stop[stop >= 0]
    order = np.argsort(stop, kind="stable")
    kept, stop = kept[order], stop[order]
    grid = np.maximum(_grid_of(table, kept, stop), (step, step, 0.0))
    kept, stop = _without_gross_errors(table, kept, stop, outcome, settings, grid)
    progress(0.8)  # exact: share of the time
    result = _averaged(table, kept, stop, outcome, grid)
    progress(1.0)
    return result


def describe_reasons(reason, amount):
    """A sentence for each rejected epoch; empty for those that were used.

    Parameters
    ----------
    reason : array_like of int, shape (n,)
    amount : array_like of float, shape (n,)

    Returns
    -------
    list of str
    """
    own = {
        Reason.SPIKE: "{:.3f} m from the middle of its stop",
        Reason.HEIGHT_SPIKE: "height {:.3f} m from the middle of its stop",
        MOVING: "taken on the way, not standing still",
        TOO_FEW: "one of {:.0f}, too few for a point",
    }
    plain = describe(np.where(np.asarray(reason) < MOVING, reason, 0), amount)
    return [
        own[why].format(number) if why in own else text
        for why, number, text in zip(
            np.asarray(reason).tolist(), np.asarray(amount).tolist(), plain
        )
    ]


def _grid_of(table, kept, stop):
    """Steps along x, along y and in height to which epochs taken standing still were rounded,
    metres; 0 if they were not. `kept`: rows by stop and time."""
    same = np.diff(stop) == 0
    dx, dy, dz = (np.diff(axis[kept])[same] for axis in (table.x, table.y, table.z))
    return np.append(np.abs(grid_of(dx, dy)).max(axis=0), step_of(dz))


def _without_gross_errors(table, kept, stop, outcome, settings, grid):
    """Reject epochs that deviate from their stop, then stops that are left with too few.

    `kept`, `stop`: rows by stop, and their stops; `grid` as in `_grid_of`.

    Returns
    -------
    kept, stop : ndarray of int, shape (m,)
        Rows by stop, and their stops, numbered from 0.
    """
    for _ in range(OCCUPATIONS.rounds):
        if not len(kept):
            break
        offsets = np.searchsorted(stop, np.arange(stop.max() + 2))
        gross, away = _gross_in_plan(table, kept, stop, offsets, settings, grid[:2].max())
        gross_up, away_up = _gross_in_height(table, kept, stop, offsets, grid[2])
        gross_up &= ~gross
        outcome.reject(kept[gross], Reason.SPIKE, away[gross])
        outcome.reject(kept[gross_up], Reason.HEIGHT_SPIKE, away_up[gross_up])
        fine = ~(gross | gross_up)
        if fine.all():
            break
        kept, stop = kept[fine], stop[fine]
    epochs = np.bincount(stop, minlength=1)[stop]
    few = epochs < settings.min_epochs
    outcome.reject(kept[few], TOO_FEW, epochs[few])
    kept, stop = kept[~few], stop[~few]
    return kept, np.unique(stop, return_inverse=True)[1].reshape(-1)


def _gross_in_plan(table, kept, stop, offsets, settings, step):
    """Mask of the gross errors in plan, and distances from the middle of the stop, in ground
    metres; both of shape (m,). `step`: of the rounding; an epoch in the next cell is no gross
    error."""
    scale = table.scale[kept]
    xy = np.column_stack([table.x[kept] / scale, table.y[kept] / scale])
    xy -= xy[offsets[:-1][np.minimum(stop, len(offsets) - 2)]]
    floor = np.fmax(np.nan_to_num(table.sigma_h[kept]), max(OCCUPATIONS.least_scale, step))
    gross, away = gross_errors(xy, floor, offsets, OCCUPATIONS.spike_limit)
    gross |= away > settings.radius
    gross &= np.diff(offsets)[stop] > 2  # of two, it is unknown which one is wrong
    return gross, away


def _gross_in_height(table, kept, stop, offsets, step):
    """As `_gross_in_plan`, in height; epochs without height are no gross errors."""
    z = table.z[kept]
    known = np.isfinite(z)
    floor = np.fmax(np.nan_to_num(table.sigma_v[kept]), max(OCCUPATIONS.least_scale_up, step))
    up_offsets = offsets_of(np.bincount(stop[known], minlength=len(offsets) - 1))
    gross, away = np.zeros(len(kept), bool), np.full(len(kept), np.nan)
    gross[known], away[known] = gross_errors(
        z[known], floor[known], up_offsets, OCCUPATIONS.height_limit
    )
    gross[known] &= np.diff(up_offsets)[stop[known]] > 2
    return gross, away


@dataclass(frozen=True)
class _AxisMeans:
    """Means on one axis; arrays of shape (p,) unless said otherwise.

    `number`: of epochs with a value; `sd`: of one epoch; `internal`: standard error from the
    sigmas; `unit`: variance of unit weight; `correlated`: variance of the slowly varying error;
    `square`, float: mean squared sigma used as weight; `rest`, shape (m,): epochs minus mean, NaN
    without a value. Metres, spreads on the ground.
    """

    number: np.ndarray
    mean: np.ndarray
    sd: np.ndarray
    internal: np.ndarray
    unit: np.ndarray
    correlated: np.ndarray
    square: float
    rest: np.ndarray

    @property
    def freedom(self):
        """Degrees of freedom of each point, shape (p,)."""
        return np.maximum(self.number - 1, 0)


def _axis_means(values, reported, nominal, stop, scale):
    """Means of the stops on one axis.

    `values`, `reported`, shape (m,): values of the epochs and their 1-sigma, NaN if unknown;
    `nominal`: 1-sigma used if none is reported at all; `scale`: of the frame at each epoch, 1 for
    heights.
    """
    count = int(stop.max()) + 1 if len(stop) else 0
    known = np.isfinite(values)
    offsets = offsets_of(np.bincount(stop[known], minlength=count)).astype(np.int64)
    own, sigma = stop[known], reported[known]
    weight_sigma = _filled_sigmas(sigma, nominal)
    number = np.diff(offsets)
    mean, internal, unit = weighted_mean(values[known], weight_sigma, offsets)
    unit = unit / np.square(scale[np.searchsorted(stop, np.arange(count))])
    mean = np.where(number > 0, mean, np.nan)
    away = (values[known] - mean[own]) / scale[known]
    rest = np.full(len(values), np.nan)
    rest[known] = away
    with np.errstate(invalid="ignore", divide="ignore"):
        plain = group_sum(away, offsets) / number
        sd = np.where(
            number > 1,
            np.sqrt(group_sum((away - plain[own]) ** 2, offsets) / (number - 1)),
            np.nan,
        )
        correlated = np.where(np.isfinite(sigma), STANDING.correlated_share * sigma**2, nominal**2)
        correlated = group_sum(correlated, offsets) / number
    square = float(np.mean(weight_sigma**2)) if len(weight_sigma) else nominal**2
    return _AxisMeans(number, mean, sd, internal, unit, correlated, square, rest)


def _filled_sigmas(reported, nominal):
    """Reported 1-sigma of each epoch; unknown ones are the median of the others or, without any,
    `nominal`."""
    known = np.isfinite(reported)
    return np.where(known, reported, np.median(reported[known]) if known.any() else nominal)


def _sigmas_of_means(axes, left, grid):
    """1-sigma of the means on axes that share one spread, and 1-sigma of one epoch over the layer.

    The spread of the whole layer is the prior for points of a few epochs. `left`, shape (p,): share
    of the time-correlated variance that remains in the mean; `grid`: step of the rounding of each
    axis, metres.

    Returns
    -------
    sigmas : list of ndarray of float, shape (p,)
    noise : float
        NaN if no point has two epochs.
    """
    freedom = sum(axis.freedom for axis in axes)
    total = sum(np.nan_to_num(axis.unit) * axis.freedom for axis in axes)
    square = axes[0].square
    floor = max(STREAM.least_noise, SIGMA * max(grid)) ** 2 / square
    pooled = max(float(total.sum() / max(freedom.sum(), 1)), floor)
    layer = OCCUPATIONS.layer_freedom
    unit = np.maximum((total + layer * pooled) / (freedom + layer), floor)
    sigmas = []
    for axis, step in zip(axes, grid):
        with np.errstate(invalid="ignore"):
            lean = np.where(axis.number > 1, STANDING.lean**2, 0.0) * unit * square
            variance = unit * axis.internal**2 + lean + left * axis.correlated
            variance += left_of_rounding(step, axis.sd)
            sigmas.append(np.where(axis.number > 0, np.sqrt(variance), np.nan))
    return sigmas, float(np.sqrt(pooled * square)) if freedom.sum() else np.nan


def _averaged(table, kept, stop, outcome, grid):
    """Points of the stops of the rows `kept`: means, spreads and sigmas; `grid` as in
    `_grid_of`."""
    count = int(stop.max()) + 1 if len(stop) else 0
    offsets = np.searchsorted(stop, np.arange(count + 1))
    seconds, scale = table.seconds[kept], table.scale[kept]
    started, ended = seconds[offsets[:-1]], seconds[offsets[1:] - 1]
    x, y, z = (
        _axis_means(getattr(table, name)[kept], reported[kept], nominal, stop, size)
        for name, reported, nominal, size in (
            ("x", table.sigma_h, STANDING.correlated_sigma, scale),
            ("y", table.sigma_h, STANDING.correlated_sigma, scale),
            ("z", table.sigma_v, STANDING.correlated_sigma_up, np.ones(len(kept))),
        )
    )
    left = correlated_share(ended - started)
    (sigma_east, sigma_north), noise = _sigmas_of_means((x, y), left, grid[:2])
    (sigma_up,), noise_up = _sigmas_of_means((z,), left, grid[2:])
    away = np.hypot(x.rest, y.rest)
    size = np.diff(offsets)
    points = Points(
        x=x.mean,
        y=y.mean,
        z=z.mean,
        capture=table.capture[kept][offsets[:-1]],
        started=started,
        ended=ended,
        epochs=size,
        rejected=_others_between(table, kept, offsets),
        sd_east=x.sd,
        sd_north=y.sd,
        sd_up=z.sd,
        rms_horizontal=np.sqrt(group_sum(away**2, offsets) / np.maximum(size, 1)),
        max_horizontal=group_max(away, offsets, 0.0),
        sigma_east=sigma_east,
        sigma_north=sigma_north,
        sigma_up=sigma_up,
    )
    point = np.full(len(table), -1, np.int64)
    point[kept] = stop
    east, north, up = (np.full(len(table), np.nan) for _ in range(3))
    east[kept], north[kept], up[kept] = x.rest, y.rest, z.rest
    return Occupations(
        points=points,
        reason=outcome.reason,
        amount=outcome.amount,
        point=point,
        east=east,
        north=north,
        up=up,
        noise=noise,
        noise_up=noise_up,
    )


def _others_between(table, kept, offsets):
    """Number of epochs of the same capture, between the first and last one of each point, that were
    not used for it."""
    order = time_order(table, np.flatnonzero(np.isfinite(table.seconds)))
    place = np.full(len(table), -1)
    place[order] = np.arange(len(order))
    first, last = kept[offsets[:-1]], kept[offsets[1:] - 1]
    return place[last] - place[first] + 1 - np.diff(offsets)
