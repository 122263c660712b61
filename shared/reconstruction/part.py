"""The epochs of some captures to runs, curves and lines: the work on one part of a table."""

from dataclasses import replace

import numpy as np

from ..alignment.fit import FitOptions, fit_chains, ring_start
from ..alignment.fitted_chains import Chains
from ..alignment.profile import fit_heights
from ..alignment.search import fit_elements
from ..arrays.plane import steps
from ..arrays.ragged import (
    apart,
    cumulative,
    group_index,
    group_max,
    group_sum,
    on_grid,
    places_around,
    ranges,
)
from ..epochs.reasons import Reason
from ..epochs.screening import screen_stream, unusable
from ..epochs.spikes import downweight_outliers
from ..epochs.standing import collapse_standing
from ..tuning import SEARCH, STANDING
from .breaks import find_runs, find_turnings, may_leave_out
from .confirmation import unconfirmed
from .corners import find_corners
from .dropouts import holes_between, open_holes
from .plan_curves import (
    mix_plans,
    plan_of_chains,
    plan_of_splines,
    running_length,
    sample,
    unroll,
    write_lines,
)
from .rings import find_rings
from .runs import Part, Rows, Runs, last_kept
from .slips import find_slips

BESIDE = 4  # positions on either side of a slip that are looked at once more
# positions beyond these that have a say, so that no end of what is cut out passes for the end of a
# run
CONTEXT = 12
CONFIRMED_ROUNDS = 4  # what is left may lie otherwise without what was taken out
PADDING = 8  # positions of a ring that are looked at twice


def fit(part, checkpoint, settings, numbers):
    """Rows and runs of the captures of a part; its rows by capture and time; whether rows have a
    usable height; the runs that are to be fitted again."""
    table, stream = part
    checkpoint(0.0)
    screening = screen_stream(
        table,
        unusable(table, settings.max_h_accuracy),
        stream,
        lambda share: checkpoint(0.04 * share),
    )
    rows = replace(
        Rows.empty(len(table), numbers),
        reason=screening.reason,
        amount=screening.amount if numbers else None,
    )
    drawn, again = _fit_part(
        table, screening, rows, settings, lambda share: checkpoint(0.04 + 0.96 * share)
    )
    return rows, drawn, screening.order, screening.height_ok, again


def fit_rest(part, checkpoint, settings, numbers):
    """Rows and runs of what is fitted again, until nothing is left that no other epoch confirms."""
    table, height_ok, runs, stream = part
    checkpoint(0.0)
    rows, done = Rows.empty(len(table), numbers), []
    for left in range(CONFIRMED_ROUNDS - 1, -1, -1):
        runs, chains = _chains_of(runs, stream, rows, lambda share: None)
        again = None
        if left:
            runs, chains, again = _confirm(
                runs, chains, np.zeros(len(runs.positions), bool), stream, rows, left == 1
            )
        done.append((runs, chains))
        checkpoint(0.6 * (1 - left / CONFIRMED_ROUNDS))
        if again is None:
            break
        runs = again
    runs, chains = (kind.concatenate(parts) for kind, parts in zip((Runs, Chains), zip(*done)))
    runs, chains = _long_and_confirmed(runs, chains, rows, settings)
    plan, by_elements = _plan(runs, chains, stream, settings)
    return rows, _draw(
        table,
        height_ok,
        rows,
        runs,
        plan,
        by_elements,
        stream,
        settings,
        lambda share: checkpoint(0.6 + 0.4 * share),
    )


def _fit_part(table, screening, rows, settings, checkpoint):
    """Runs of the captures of a part, and those that are to be fitted again; fills `rows`, run
    numbers from 0."""
    stream = screening.stream
    runs = _runs_of(table, screening, rows, settings)
    checkpoint(0.22)
    chains, again = None, None
    if settings.curve_model != "spline":
        runs, chains = _chains_of(runs, stream, rows, lambda share: checkpoint(0.22 + 0.5 * share))
        checkpoint(0.72)
        runs, chains, again = _confirm(
            runs, chains, _turning_points(runs, rows, screening.order), stream, rows
        )
        runs, chains = _long_and_confirmed(runs, chains, rows, settings)
    plan, by_elements = _plan(runs, chains, stream, settings)
    del chains  # what is not needed any more makes room
    checkpoint(0.75)
    return (
        _draw(
            table,
            screening.height_ok,
            rows,
            runs,
            plan,
            by_elements,
            stream,
            settings,
            lambda share: checkpoint(0.75 + 0.25 * share),
        ),
        again,
    )


def _runs_of(table, screening, rows, settings):
    """The runs of a part; rings start at a joint."""
    positions, offsets, turned = _find_runs(table, screening, rows, settings)
    spacing = screening.stream.spacing[positions.capture]
    variance = downweight_outliers(
        positions.x,
        positions.y,
        np.diff(group_index(offsets)) == 0,
        np.full(len(positions), 0.05),
        positions.variance,
    )
    closed, order = find_rings(positions.x, positions.y, variance, offsets, spacing)
    if closed.any():
        order = order[
            ring_start(positions.x[order], positions.y[order], variance[order], offsets, closed)
        ]
        positions, variance = positions.sort(order), variance[order]
    return Runs(
        positions,
        variance,
        np.zeros(len(positions), bool),
        offsets,
        closed,
        turned,
        np.zeros(len(turned), bool),
    )


def _find_runs(table, screening, rows, settings):
    """Positions in runs that are long enough, offsets of the runs, and which of them end in a turn
    for good."""
    stream = screening.stream
    positions = collapse_standing(table, screening)
    slip = find_slips(positions, stream)
    hit = np.isfinite(slip)
    if hit.any():  # a slip beside a slip is seen once the first one is out
        rows.reject(positions, hit, Reason.SPIKE, slip)
        beside, around = (
            places_around(np.flatnonzero(hit), len(hit), reach, positions.capture)[~hit]
            for reach in (BESIDE, BESIDE + CONTEXT)
        )
        positions = positions.take(~hit)
        again = np.full(len(positions), np.nan)
        again[around] = find_slips(positions.take(around), stream)
        again[~beside] = np.nan
        rows.reject(positions, np.isfinite(again), Reason.SPIKE, again)
        positions = positions.take(~np.isfinite(again))
    turnings = find_turnings(positions, stream)
    back = turnings.walked_back > 0
    rows.reject(positions, back, Reason.BACKTRACK, turnings.walked_back)
    # where the last position before a turn for good is itself taken out, the one before it is the
    # last
    turned = last_kept(turnings.turned, ~back, np.array([0, len(back)]), np.zeros(1, bool))[~back]
    positions = positions.take(~back)
    offsets = find_runs(positions, stream, turned)
    run = group_index(offsets)
    extent = _extent(positions, offsets)
    short = ~_long_enough(positions, offsets, extent, settings)
    rows.reject(positions, short[run], Reason.TOO_SHORT, extent[run])
    run_turned = turned[offsets[1:] - 1]
    return (
        positions.take(~short[run]),
        np.concatenate([[0], np.cumsum(np.diff(offsets)[~short])]),
        run_turned[~short],
    )


def _chains_of(runs, stream, rows, checkpoint):
    """The chains of runs, and the runs without the slips that they leave out."""
    positions, offsets = runs.positions, runs.offsets
    chains = fit_chains(
        positions.x,
        positions.y,
        positions.variance,
        offsets,
        runs.closed,
        FitOptions(
            may_reject=may_leave_out(positions, stream, offsets),
            variance_factor=runs.variance / positions.variance,
            height_llr=positions.height_llr,
        ),
        checkpoint,
    )
    slip = chains.outlier & may_leave_out(positions, stream, offsets, chains.outlier)
    rows.reject(positions, slip, Reason.SPIKE, np.abs(chains.residual))
    if slip.any():
        runs, chains = runs.take(~slip, np.ones(len(runs), bool)), chains.take(~slip)
    return runs, chains


def _confirm(runs, chains, turning, stream, rows, last=False):
    """Runs that other epochs confirm throughout, and their chains; and the rest, without what
    nothing confirms and broken where a hole leaves the way open, for another fit (None where there
    are none). With `last`, the rest breaks at what is taken out.

    Where the rest may, by the limits of time and distance, it goes on over what is taken out.
    """
    hole = holes_between(chains.closed, runs.offsets, runs.positions, stream)
    together, after = unconfirmed(
        chains, runs.offsets, runs.positions, runs.variance, hole, runs.bridged, turning, stream
    )
    drop = together > 0
    after |= open_holes(chains, hole)
    if not (drop | after).any():
        return runs, chains, None
    rows.reject(runs.positions, drop, Reason.UNCONFIRMED, together)
    after |= drop & (last | ~may_leave_out(runs.positions, stream, runs.offsets, drop))
    changed = group_max(drop | after, runs.offsets, False)
    inside = changed[group_index(runs.offsets)]
    part, keep = (
        replace(runs, bridged=runs.bridged | drop).pick(np.flatnonzero(changed)),
        ~drop[inside],
    )
    after = last_kept(after[inside], keep, part.offsets, part.closed)
    again = part.take(keep, group_max(keep, part.offsets, False)).cut(after[keep])
    rest = np.flatnonzero(~changed)
    return runs.pick(rest), chains.take_runs(rest), again if len(again) else None


def _long_and_confirmed(runs, chains, rows, settings):
    """The runs that are long enough, and their chains."""
    extent = _extent(runs.positions, runs.offsets)
    confirmed = chains.confirmed() & _long_enough(runs.positions, runs.offsets, extent, settings)
    doubtful = ~confirmed[group_index(runs.offsets)]
    rows.reject(runs.positions, doubtful, Reason.TOO_SHORT, extent[group_index(runs.offsets)])
    if doubtful.any():
        runs, chains = runs.take(~doubtful, confirmed), chains.take_runs(np.flatnonzero(confirmed))
    return runs, chains


def _turning_points(runs, rows, order):
    """Last positions (mask) of open runs after which the walk turned back; `order`: rows by capture
    and time."""
    # the others say nothing
    order = order[(rows.reason[order] == Reason.KEPT) | (rows.reason[order] > Reason.POOR_ACCURACY)]
    place = np.zeros(len(rows.reason), np.int64)
    place[order] = np.arange(len(order))
    back = np.append(rows.reason[order] == Reason.BACKTRACK, [False])
    positions, last = runs.positions, runs.offsets[1:] - 1
    out = np.zeros(len(positions), bool)
    out[last] = ~runs.closed & (
        runs.turned | back[place[positions.rows[positions.offsets[last + 1] - 1]] + 1]
    )
    return out


def _extent(positions, offsets):
    """Metres from position to position, all along each run."""
    return group_sum(steps(positions.x, positions.y, offsets), offsets)


def _long_enough(positions, offsets, extent, settings):
    """Runs (mask) of two positions, three epochs and the least length at least: two epochs alone
    make a line that nothing confirms."""
    return (
        (np.diff(offsets) > 1)
        & (group_sum(np.diff(positions.offsets), offsets) > 2)
        & (extent >= max(settings.min_length, 1e-3))
    )


def _plan(runs, chains, stream, settings):
    """Curves in plan by the model that the settings name, and which of the runs (mask) are chains
    of elements."""
    if chains is None:
        every = np.ones(len(runs), bool)
        return _fit_splines(runs, np.flatnonzero(every), stream, settings), ~every
    plan = plan_of_chains(chains, runs.offsets, settings.corner_angle)
    free = chains.spline[group_index(chains.bounds)] & (settings.curve_model == "automatic")
    mixed = group_max(free, runs.offsets, False)
    if mixed.any():
        which = np.flatnonzero(mixed)
        plan = mix_plans(
            plan, _fit_splines(runs, which, stream, settings), runs.offsets, which, free
        )
    return plan, ~mixed


def _fit_splines(runs, which, stream, settings):
    """Splines for the runs whose numbers are `which`."""
    positions, variance, offsets, closed = runs.positions, runs.variance, runs.offsets, runs.closed
    number = np.diff(offsets)[which]
    # a ring goes on into itself for some positions, so that it has neighbours at its seam
    pad = np.where(closed[which], np.minimum(PADDING, number), 0)
    size = number + 2 * pad
    lap = np.repeat(number, size)
    index = np.repeat(offsets[:-1][which], size) + (ranges(-pad, size) % lap)
    part, variance = positions.sort(index), variance[index]
    bounds = np.concatenate([[0], np.cumsum(size)])
    corners = find_corners(
        part.x, part.y, part.variance, bounds, stream.spacing[part.capture], settings.corner_angle
    )
    elements = fit_elements(part.x, part.y, variance * SEARCH.element_noise**2, bounds)
    return unroll(
        plan_of_splines(elements, part, variance, bounds, corners, settings.tolerance), bounds, pad
    )


def _draw(table, height_ok, rows, runs, plan, by_elements, stream, settings, checkpoint):
    """The lines of runs, and what is to be said of them and of their epochs."""
    positions, offsets = runs.positions, runs.offsets
    closing = (
        plan.length - plan.chainage[offsets[1:] - 1] + plan.chainage[offsets[:-1]]
        if len(offsets) > 1
        else None
    )
    heights = fit_heights(
        running_length(np.diff(plan.chainage, append=0.0), offsets),
        positions,
        offsets,
        stream.spacing[positions.capture],
        plan.closed,
        closing,
    )
    checkpoint(0.6)
    xyz, vertex_offsets = write_lines(
        sample(plan, heights.profile, settings.tolerance), plan, settings.tolerance
    )
    checkpoint(0.9)
    return _describe_runs(
        table, height_ok, rows, runs, plan, heights, xyz, vertex_offsets, by_elements, settings
    )


def _describe_runs(
    table, height_ok, rows, of_runs, plan, heights, xyz, vertex_offsets, by_elements, settings
):
    """Statistics of each run, and the place of each of its epochs."""
    positions, offsets, runs = of_runs.positions, of_runs.offsets, len(of_runs)
    source, of_epoch = positions.rows, group_index(positions.offsets)
    run_of_epoch = group_index(offsets)[of_epoch]
    epochs = np.concatenate([[0], np.cumsum(np.bincount(run_of_epoch, minlength=runs))])
    used = np.diff(epochs)
    mean = lambda values: group_sum(values, epochs) / np.maximum(used, 1)  # noqa: E731
    scale = mean(table.scale[source])

    length = group_sum(steps(*xyz[:, :2].T, vertex_offsets), vertex_offsets)
    # chainage runs along the line written, which is a little shorter than the curve
    stretch = length / np.maximum(plan.length, 1e-12) / scale
    chainage = plan.chainage * stretch[group_index(offsets)]

    feet = np.column_stack([plan.x[plan.node], plan.y[plan.node]])
    residual = np.column_stack([table.x[source], table.y[source]]) - feet[of_epoch]
    cross = (residual * plan.normal[of_epoch]).sum(axis=1) / scale[run_of_epoch]
    rows.run[source] = run_of_epoch
    if rows.chainage is not None:
        rows.chainage[source] = chainage[of_epoch]
        rows.cross[source] = cross
        rows.up[source] = table.z[source] - heights.profile.values[of_epoch, 0]
    rows.height_used[source] = height_ok[source]
    rows.role[source] = np.where(np.diff(positions.offsets) > 1, 2, 1)[of_epoch]

    steady = [
        mean(np.where(np.isfinite(sigma), STANDING.correlated_share * sigma**2, usual**2))
        for sigma, usual in (
            (table.sigma_h[source], STANDING.correlated_sigma),
            (table.sigma_v[source], STANDING.correlated_sigma_up),
        )
    ]
    fitted = plan.sigma**2, np.where(np.isfinite(heights.sigma), heights.sigma**2, np.nan)
    stations, number = _stations(
        chainage,
        heights.slope,
        fitted,
        steady,
        offsets,
        xyz,
        vertex_offsets,
        scale,
        plan.closed,
        settings.station_spacing,
    )
    start, end = _first_and_last(positions, offsets)
    places = np.column_stack([feet, heights.profile.values])
    return Part(
        xyz,
        np.diff(vertex_offsets),
        plan.corners[np.argsort(plan.corner_run, kind="stable")],
        np.bincount(plan.corner_run, minlength=runs),
        positions.capture[start],
        positions.started[start],
        positions.ended[end],
        source[positions.offsets[:-1]][start],
        source[positions.offsets[1:] - 1][end],
        np.stack([places[start], places[end]], axis=1),
        of_runs.turned,
        of_runs.lost,
        scale,
        used,
        length / scale,
        np.sqrt(mean(cross**2)),
        group_max(np.abs(cross), epochs, 0.0),
        *(_sigma(*both, offsets) for both in zip(fitted, steady)),
        plan.closed,
        by_elements,
        stations,
        number,
    )


def _stations(
    chainage, slope, fitted, steady, offsets, xyz, vertex_offsets, scale, closed, spacing
):
    """Stations of each run, (k, 7), and how many there are in each; a ring has none at its end,
    which is its start."""
    runs = len(offsets) - 1
    if not spacing or not runs:
        return np.zeros((0, 7)), np.zeros(runs, np.int64)
    vertex_run = group_index(vertex_offsets)
    along = cumulative(steps(*xyz[:, :2].T, vertex_offsets), vertex_offsets) / scale[vertex_run]
    length = along[vertex_offsets[1:] - 1]
    whole = np.floor(length / spacing + 1e-9).astype(np.int64)
    rest = length - whole * spacing > 1e-3
    # a rest shorter than a millimetre, or the end of a ring, is no station of its own
    number = whole + 1 + (rest & ~closed) - (~rest & closed)
    number = np.maximum(number, 1)
    run = np.repeat(np.arange(runs), number)
    place = ranges(np.zeros(runs, np.int64), number)
    at = np.minimum(place * spacing, length[run])
    lift = apart(length)  # one order for all runs
    where = on_grid(at) + lift[run]
    vertex, share = _between(where, on_grid(along) + lift[vertex_run], vertex_offsets, run)
    x, y, z = (axis[vertex] + share * (axis[vertex + 1] - axis[vertex]) for axis in xyz.T)
    before, share = _between(where, on_grid(chainage) + lift[group_index(offsets)], offsets, run)
    sigma = [
        np.sqrt(variance[before] + share * (variance[before + 1] - variance[before]) + slow[run])
        for variance, slow in zip(fitted, steady)
    ]
    return np.column_stack([x, y, z, at, slope[before], *sigma]), number


def _between(where, knots, offsets, run):
    """The last knot of their run before places, but for its last one, and the share of the way to
    the next one, 0 to 1."""
    before = np.clip(
        np.searchsorted(knots, where, "right") - 1, offsets[:-1][run], offsets[1:][run] - 2
    )
    length = knots[before + 1] - knots[before]
    return before, np.clip((where - knots[before]) / np.where(length > 0, length, 1.0), 0.0, 1.0)


def _first_and_last(positions, offsets):
    """Positions walked first and last in each run; those of a ring lie anywhere in it."""
    run = group_index(offsets)
    first, last = np.lexsort((positions.started, run)), np.lexsort((positions.ended, run))
    return first[offsets[:-1]], last[offsets[1:] - 1]


def _sigma(fitted, steady, offsets):
    """1-sigma of each run's fitted line: mean variance of the fitted values, and the slow part."""
    known = np.isfinite(fitted)
    number = group_sum(known.astype(float), offsets)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.sqrt(group_sum(np.where(known, fitted, 0.0), offsets) / number + steady)
