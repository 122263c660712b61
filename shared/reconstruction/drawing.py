"""Edges drawn from fitted runs: lines, statistics, places of the epochs, stations."""

from dataclasses import dataclass, replace

import numpy as np

from ..alignment.profile import Heights, fit_heights
from ..arrays.plane import steps
from ..arrays.ragged import (
    apart,
    cumulative,
    group_index,
    group_max,
    group_min,
    group_sum,
    offsets_of,
    on_grid,
    ranges,
)
from ..epochs.standing import height_weights
from ..tuning import GRADE_BREAKS, HEADWAY, PROFILES, STANDING, STATION_PLACES, STREAM
from .pauses import unseen_ways
from .plan_curves import PlanCurves, running_length, sample, write_lines
from .results import DrawnRuns, EdgeEnds, Edges, Stations
from .runs import Runs


@dataclass(frozen=True)
class _Drawing:
    """Fitted runs and the lines written from them.

    `xyz`, shape (v, 3), are vertices; those of a run from `vertex_offsets`. `epochs`, shape (runs +
    1,), are offsets of the runs' epochs; `scale` and `length` (ground metres), shape (runs,);
    `chainage`, shape (m,), of the positions along the line written, ground metres.
    """

    runs: Runs
    curves: PlanCurves
    heights: Heights
    xyz: np.ndarray
    vertex_offsets: np.ndarray
    epochs: np.ndarray
    scale: np.ndarray
    length: np.ndarray
    chainage: np.ndarray

    @property
    def of_epoch(self):
        """Position of each epoch."""
        return group_index(self.runs.positions.offsets)

    @property
    def z(self):
        """Heights of the positions' feet."""
        run = group_index(self.runs.offsets)
        return self.heights.profile.values[:, 0] + _fall(
            self.heights, self.curves, *self.curves.feet.T, run
        )

    def mean(self, values):
        """Mean over the epochs of each run."""
        return _mean(values, self.epochs)


def draw_runs(runs, curves, by_elements, work, progress):
    """Draw the lines of runs, and describe them and their epochs.

    Parameters
    ----------
    runs : Runs
    curves : PlanCurves
        Of these runs.
    by_elements : ndarray of bool, shape (runs,)
        Runs that are made of tangents and arcs throughout.
    work : PartWork
        Its outcomes are filled in.
    progress : callable
        Called with the share of work done, 0 to 1.

    Returns
    -------
    DrawnRuns
        Edges in the order of the runs.
    """
    heights = _heights_of(runs, curves, work.stream)
    progress(0.6)  # exact: share of the work
    tolerance = work.settings.tolerance
    samples = sample(curves, heights.profile, tolerance)
    samples = replace(
        samples, z=samples.z + _fall(heights, curves, samples.x, samples.y, samples.run)
    )
    xyz, vertex_offsets = write_lines(samples, curves, tolerance)
    progress(0.9)  # exact: share of the work
    drawing = _measured(runs, curves, heights, xyz, vertex_offsets, work.table)
    cross = _place_epochs(drawing, work)
    fitted, steady = _variances(drawing, work)
    corner_order = np.argsort(curves.corner_run, kind="stable")
    return DrawnRuns(
        edges=_edges(drawing, by_elements, cross, fitted, steady),
        ends=_ends(drawing),
        corners=curves.corners[corner_order],
        corner_edge=curves.corner_run[corner_order],
        stations=_stations(drawing, fitted, steady, work.settings.station_spacing),
    )


def _heights_of(runs, curves, stream):
    """Vertical profiles of runs."""
    positions, offsets = runs.positions, runs.offsets
    memory = memory_of(positions, stream.memory_up)
    sought = memory**GRADE_BREAKS.memory_power
    closing = (
        curves.length - curves.chainage[offsets[1:] - 1] + curves.chainage[offsets[:-1]]
        if len(runs)
        else None
    )
    heights = fit_heights(
        running_length(np.diff(curves.chainage, append=0.0), offsets),
        positions.z,
        positions.variance_up * sought,
        offsets,
        stream.spacing[positions.capture],
        curves.closed,
        closing,
        curves.feet - _begin(curves)[group_index(offsets)],
    )
    along = np.column_stack([-curves.normal[:, 1], curves.normal[:, 0]])
    slope = heights.slope + (heights.fall[group_index(offsets)] * along).sum(axis=1)
    left = _left_of_rounding(positions, offsets, memory, stream)
    return replace(heights, sigma=heights.sigma * np.sqrt(left / sought), slope=slope)


def _left_of_rounding(positions, offsets, memory, stream):
    """What sigmas of heights have of the factor `memory` of correlated noise, shape (m,).

    Along a grade the errors of rounded levels follow each other as a sawtooth, and cancel; on one
    level they do not.
    """
    smooth = memory_of(positions, stream.memory_smooth)
    if (memory == smooth).all():  # no heights are rounded
        return memory
    z, inner = positions.z, np.diff(group_index(offsets)) == 0
    jump = np.append(np.abs(np.diff(z)), 0.0)
    jump = np.where(np.append(inner, False) & (jump > STREAM.same_height), jump, np.inf)
    known = np.isfinite(z)
    high, low = (
        group(np.where(known, z, otherwise), offsets, otherwise)
        for group, otherwise in ((group_max, -np.inf), (group_min, np.inf))
    )
    levels = 1 + np.maximum(high - low, 0.0) / group_min(jump, offsets, np.inf)  # -inf: no height
    share = PROFILES.sawtooth + (1 - PROFILES.sawtooth) / levels
    return np.maximum(smooth, memory * share[group_index(offsets)])


def _begin(curves):
    """First node of each run, (runs, 2)."""
    return np.column_stack([curves.x, curves.y])[curves.offsets[:-1]]


def _fall(heights, curves, x, y, run):
    """What the fall of the ground adds to the profile at places of runs, metres."""
    begin = _begin(curves)[run]
    return heights.fall[run, 0] * (x - begin[:, 0]) + heights.fall[run, 1] * (y - begin[:, 1])


def memory_of(positions, memory):
    """Factor by which correlated noise raises the variance of what is fitted to many positions.

    Parameters
    ----------
    positions : Positions
    memory : ndarray of float, shape (captures,)
        Factors of the streams (`epochs.noise.memory_factors`).

    Returns
    -------
    ndarray of float, shape (m,)
        1 for positions of several epochs, whose variance holds the factor already.
    """
    several = np.diff(positions.offsets) > 1
    return np.where(several, 1.0, memory[positions.capture])


def _measured(runs, curves, heights, xyz, vertex_offsets, table):
    """The drawing with its ground lengths."""
    positions, offsets = runs.positions, runs.offsets
    run_of_epoch = group_index(offsets)[group_index(positions.offsets)]
    epochs = offsets_of(np.bincount(run_of_epoch, minlength=len(runs)))
    scale = _mean(table.scale[positions.rows], epochs)
    length = group_sum(steps(*xyz[:, :2].T, vertex_offsets), vertex_offsets)
    # chainages are along the line written, which is slightly shorter than the curve
    stretch = length / np.maximum(curves.length, 1e-12) / scale
    return _Drawing(
        runs=runs,
        curves=curves,
        heights=heights,
        xyz=xyz,
        vertex_offsets=vertex_offsets,
        epochs=epochs,
        scale=scale,
        length=length / scale,
        chainage=curves.chainage * stretch[group_index(offsets)],
    )


def _mean(values, epochs):
    """Mean over the epochs of each run."""
    return group_sum(values, epochs) / np.maximum(np.diff(epochs), 1)


def _place_epochs(drawing, work):
    """Fill in the outcomes of the epochs; return their residuals across, + to the right, ground
    metres."""
    positions, curves, table = drawing.runs.positions, drawing.curves, work.table
    source, of_epoch = positions.rows, drawing.of_epoch
    run_of_epoch = group_index(drawing.runs.offsets)[of_epoch]
    feet = curves.feet
    residual = np.column_stack([table.x[source], table.y[source]]) - feet[of_epoch]
    cross = (residual * curves.normal[of_epoch]).sum(axis=1) / drawing.scale[run_of_epoch]
    outcomes = work.outcomes
    outcomes.edge[source] = run_of_epoch
    if outcomes.chainage is not None:
        outcomes.chainage[source] = drawing.chainage[of_epoch]
        outcomes.residual_cross[source] = cross
        z = drawing.z[of_epoch]
        outcomes.residual_up[source] = table.z[source] - z
    outcomes.height_used[source] = work.screening.height_ok[source]
    role = np.where(np.diff(positions.offsets) > 1, 2, 1)
    outcomes.role[source] = np.where(drawing.runs.doubtful, 3, role)[of_epoch]
    return cross


def _variances(drawing, work):
    """Variances across and up, m2: a pair for the fitted values at each position, and a pair for
    the receiver's slow error in each run. What long elements average of it is taken off the
    first."""
    positions, heights, table = drawing.runs.positions, drawing.heights, work.table
    slow, slow_up = (
        np.where(np.isfinite(sigma), STANDING.correlated_share * sigma**2, nominal**2)
        for sigma, nominal in (
            (table.sigma_h[positions.rows], STANDING.correlated_sigma),
            (table.sigma_v[positions.rows], STANDING.correlated_sigma_up),
        )
    )
    weight = np.zeros(len(table))
    weight[work.screening.kept] = height_weights(table, work.screening)
    weight = weight[positions.rows]
    steady = [drawing.mean(slow), _mean_as_fitted(slow_up, weight, drawing.runs)]
    up = np.where(np.isfinite(heights.sigma), heights.sigma**2, np.nan)
    across = drawing.curves.sigma**2
    doubtful = drawing.runs.doubtful
    step = work.stream.spacing[positions.capture[doubtful]]
    if doubtful.any():
        unseen = unseen_ways(positions, work.stream, drawing.runs.offsets)
        step = np.maximum(step, unseen[doubtful])
    if drawing.curves.slow is not None:
        across -= (1 - drawing.curves.slow) * steady[0][group_index(drawing.runs.offsets)]
    across[doubtful] += (HEADWAY.doubtful_sigma * step**HEADWAY.doubtful_power) ** 2
    return (across, up), steady


def _mean_as_fitted(values, of_height, runs):
    """Mean over the epochs of each run, each position with the weight of its height in the fit, and
    each of its epochs with the weight `of_height` in that height.

    No limit rejects epochs for the accuracy of their heights: one that reports a kilometre counts
    for nothing in the heights, and must not count in their uncertainty.
    """
    positions, offsets = runs.positions, runs.offsets
    best = group_min(positions.variance_up, offsets)[group_index(offsets)]
    with np.errstate(invalid="ignore"):
        weight = np.where(np.isfinite(best), best / positions.variance_up, 1.0)
    most = group_max(of_height, positions.offsets)[group_index(positions.offsets)]
    # exact: 1 for the only epoch of a position, and where none has a height
    share = np.where(most > 0, of_height / np.where(most > 0, most, 1.0), 1.0)
    of_position = group_sum(share * values, positions.offsets)
    of_position /= group_sum(share, positions.offsets)
    return group_sum(weight * of_position, offsets) / np.maximum(group_sum(weight, offsets), 1.0)


def _edges(drawing, by_elements, cross, fitted, steady):
    """Edges, with all that is known from their part of the table."""
    positions, offsets, runs = drawing.runs.positions, drawing.runs.offsets, len(drawing.runs)
    start, end = _first_and_last(positions, offsets)
    x, y, z = np.ascontiguousarray(drawing.xyz.T)
    sigma_cross, sigma_up = (_sigma(*both, offsets) for both in zip(fitted, steady))
    return Edges(
        x=x,
        y=y,
        z=z,
        offsets=drawing.vertex_offsets,
        capture=positions.capture[start],
        run=np.zeros(runs, np.int64),
        started=positions.started[start],
        ended=positions.ended[end],
        epochs_used=np.diff(drawing.epochs),
        epochs_rejected=np.zeros(runs, np.int64),
        length=drawing.length,
        rms_residual=np.sqrt(drawing.mean(cross**2)),
        max_residual=group_max(np.abs(cross), drawing.epochs, 0.0),
        sigma_cross=sigma_cross,
        sigma_up=sigma_up,
        closed=drawing.curves.closed,
        start_reason=np.zeros(runs, np.uint8),
        end_reason=np.zeros(runs, np.uint8),
        by_elements=by_elements,
    )


def _ends(drawing):
    """Where the runs begin and end, and why."""
    runs, positions = drawing.runs, drawing.runs.positions
    start, end = _first_and_last(positions, runs.offsets)
    places = np.column_stack([drawing.curves.feet, drawing.z])
    return EdgeEnds(
        first_row=positions.rows[positions.offsets[:-1]][start],
        last_row=positions.rows[positions.offsets[1:] - 1][end],
        rims=np.stack([places[start], places[end]], axis=1),
        turned=runs.turned,
        lost=runs.lost,
        scale=drawing.scale,
    )


def _first_and_last(positions, offsets):
    """Positions walked first and last in each run; in a ring they may lie anywhere."""
    run = group_index(offsets)
    first, last = np.lexsort((positions.started, run)), np.lexsort((positions.ended, run))
    return first[offsets[:-1]], last[offsets[1:] - 1]


def _sigma(fitted, steady, offsets):
    """1-sigma of each run: root of the mean variance of the fitted values and the slow part."""
    known = np.isfinite(fitted)
    number = group_sum(known.astype(float), offsets)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.sqrt(group_sum(np.where(known, fitted, 0.0), offsets) / number + steady)


def _stations(drawing, fitted, steady, spacing):
    """Stations of each run; a ring has none at its end, where its first one is."""
    offsets, vertex_offsets = drawing.runs.offsets, drawing.vertex_offsets
    if not spacing or not len(drawing.runs):
        return Stations.none()
    vertex_run = group_index(vertex_offsets)
    along = cumulative(steps(*drawing.xyz[:, :2].T, vertex_offsets), vertex_offsets)
    along /= drawing.scale[vertex_run]
    length = along[vertex_offsets[1:] - 1]
    run, chainage = _places_of_stations(length, drawing.curves.closed, spacing)
    lift = apart(length)  # one order for all runs
    where = on_grid(chainage) + lift[run]
    vertex, share = _between(where, on_grid(along) + lift[vertex_run], vertex_offsets, run)
    x, y, z = (axis[vertex] + share * (axis[vertex + 1] - axis[vertex]) for axis in drawing.xyz.T)
    knots = on_grid(drawing.chainage) + lift[group_index(offsets)]
    before, share = _between(where, knots, offsets, run)
    sigma_cross, sigma_up = (
        np.sqrt(variance[before] + share * (variance[before + 1] - variance[before]) + slow[run])
        for variance, slow in zip(fitted, steady)
    )
    return Stations(
        x=x,
        y=y,
        z=z,
        edge=run,
        chainage=chainage,
        slope=drawing.heights.slope[before] * drawing.scale[run],
        sigma_cross=sigma_cross,
        sigma_up=sigma_up,
    )


def _places_of_stations(length, closed, spacing):
    """Run and chainage of each station: every `spacing` metres, and at the end."""
    whole = np.floor(length / spacing + STATION_PLACES.rounding).astype(np.int64)
    rest = length - whole * spacing > STATION_PLACES.shortest_rest
    # no station at the end of a shorter rest, or of a ring
    number = np.maximum(whole + 1 + (rest & ~closed) - (~rest & closed), 1)
    run = np.repeat(np.arange(len(length)), number)
    place = ranges(np.zeros(len(length), np.int64), number)
    return run, np.minimum(place * spacing, length[run])


def _between(where, knots, offsets, run):
    """The knot before each place in its run (never the last one), and the share of the way to the
    next knot, 0 to 1."""
    before = np.searchsorted(knots, where, "right") - 1
    before = np.clip(before, offsets[:-1][run], offsets[1:][run] - 2)
    length = knots[before + 1] - knots[before]
    return before, np.clip((where - knots[before]) / np.where(length > 0, length, 1.0), 0.0, 1.0)
