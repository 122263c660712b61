"""The work on one part of the epoch table: from epochs of some captures to edges, step by step."""

from dataclasses import replace
from functools import partial

import numpy as np

from ..alignment.fit import FitOptions, fit_chains, ring_start
from ..alignment.fitted_chains import Chains
from ..alignment.mean_feet import with_mean_feet
from ..alignment.outlier_rejection import AskedMask
from ..alignment.search import fit_elements, project
from ..arrays.plane import steps
from ..arrays.ragged import (
    group_index,
    group_max,
    group_sum,
    offsets_from_starts,
    offsets_of,
    places_around,
    ranges,
    stretch_starts,
)
from ..epochs.predictions import downweight_outliers
from ..epochs.reasons import Reason
from ..epochs.standing import collapse_standing
from ..tuning import (
    CONFIRMATION,
    CORNERS,
    HEADWAY,
    HEIGHT_EVIDENCE,
    MEAN_FEET,
    OUTLIERS,
    REJECTION,
    RINGS,
    RUNS,
    SCREENING,
    SEARCH,
)
from .breaks import find_runs, find_turnings, may_leave_out
from .confirmation import unconfirmed
from .corners import find_corners
from .drawing import draw_runs, memory_of
from .dropouts import find_dropouts, open_dropouts
from .headway import (
    evidence_in_layer,
    outlier_evidence,
    rim_evidence,
    stretches,
    stride_evidence,
)
from .mean_curves import towards_means
from .outliers import find_outliers
from .part_repairs import screen_part
from .pauses import unseen_ways
from .plan_curves import curves_of_chains, curves_of_splines, mix_curves, unroll, with_chords
from .remembered import with_memory
from .results import EpochOutcomes
from .rings import find_rings
from .runs import PartWork, Runs, last_kept
from .shapes import put_shapes, shapes_of
from .side_chains import with_side_corners
from .small_returns import with_small_returns
from .square_sides import settle_square_sides


def fit(part, progress, settings, numbers):
    """Turn the epochs of a part into edges.

    Parameters
    ----------
    part : tuple of (EpochTable, Stream, PlacedRepairs)
        Whole captures, their streams and their repairs; the last one is None without repairs.
    progress : callable
        Called with the share of work done, 0 to 1; may raise to stop it.
    settings : Settings
    numbers : bool
        As in `reconstruct.reconstruct`.

    Returns
    -------
    outcomes : EpochOutcomes
        Of the part's rows, with edges numbered from 0.
    order : ndarray of int
        Rows with a time, by capture and time.
    drawn : DrawnRuns
        Numbered by the part's rows and captures.

    Notes
    -----
    Epochs are screened. Those taken standing still become one position. Gross errors that only the
    shape of the walk reveals are rejected. Positions form runs, cut where the walk paused, jumped
    or turned back, and closed where it came back to its start. Chains of tangents and arcs are
    fitted to the runs, and what no other epoch confirms is rejected. Stretches that splines explain
    better become splines. Heights, thinned lines, statistics and stations follow from these curves.
    """
    table = part[0]
    screened, in_runs, curved = 0.04, 0.25, 0.75  # exact: shares of the work
    progress(0.0)
    screening, repairs = screen_part(part, settings, lambda share: progress(screened * share))
    outcomes = replace(
        EpochOutcomes.empty(len(table), numbers),
        reason=screening.reason,
        amount=screening.amount if numbers else None,
        overruled=None if repairs is None else repairs.spared.overruled,
        shape=None if repairs is None else np.zeros(len(table), np.uint8),
    )
    work = PartWork(table, screening, outcomes, settings, repairs)
    runs = _broken_as_asked(_close_rings(_find_runs(work), work), work)
    progress(in_runs)
    runs, curves, by_elements = _fit_curves(
        runs, work, lambda share: progress(in_runs + (curved - in_runs) * share)
    )
    drawn = draw_runs(
        runs, curves, by_elements, work, lambda share: progress(curved + (1 - curved) * share)
    )
    return outcomes, screening.order, drawn


# --- positions to runs --------------------------------------------------------------------------


def _find_runs(work):
    """Runs of positions that are long enough, all of them open."""
    positions = collapse_standing(work.table, work.screening)
    positions = _without_outliers(positions, work)
    positions, turned = _without_ways_back(positions, work)
    bridged = work.repairs.bridged(positions) if work.repairs else None
    offsets = find_runs(positions, work.stream, turned, bridged)
    extent = _extent(positions, offsets)
    long = _long_enough(positions, offsets, extent, work.settings)
    long |= _taken_back(positions, offsets, extent, work)
    run = group_index(offsets)
    work.outcomes.reject(positions, ~long[run], Reason.TOO_SHORT, extent[run])
    positions, number = positions.take(long[run]), np.count_nonzero(long)
    return Runs(
        positions=positions,
        variance=positions.variance,
        bridged=np.zeros(len(positions), bool),
        doubtful=np.zeros(len(positions), bool),
        offsets=offsets_of(np.diff(offsets)[long]),
        closed=np.zeros(number, bool),
        turned=turned[offsets[1:] - 1][long],
        lost=np.zeros(number, bool),
    )


def _without_outliers(positions, work):
    """Positions without gross errors, sought twice: an outlier next to another one may only show
    without that one."""
    timed = work.settings.keeps_doubtful
    size = find_outliers(positions, work.stream, timed)
    found = np.isfinite(size)
    if not found.any():
        return positions
    near, around = (
        places_around(np.flatnonzero(found), len(found), reach, positions.capture)[~found]
        for reach in (OUTLIERS.retested, OUTLIERS.retested + OUTLIERS.retest_context)
    )
    left = np.flatnonzero(~found)
    again = np.full(len(left), np.nan)
    again[around] = find_outliers(positions.take(~found).take(around), work.stream, timed)
    again[~near] = np.nan
    size[left] = again
    found[left] = np.isfinite(again)
    if timed:
        found &= ~_too_many(positions, work.stream, found)
        found, size = _settled(positions, found, size, work)
    found = work.spare(positions, found, Reason.SPIKE)
    work.outcomes.reject(positions, found, Reason.SPIKE, size)
    return positions.take(~found)


def _too_many(positions, stream, found):
    """Suspected positions (mask) in stretches too long for gross errors, given their evidence."""
    out = np.zeros(len(found), bool)
    first, last = stretches(found, positions.capture)
    number = last - first + 1
    offsets = offsets_from_starts(stretch_starts(positions.capture))
    evidence = evidence_in_layer(positions, stream, offsets, first, last)
    many = (number > 1) & (evidence < HEADWAY.longer * (number - 1))
    out[ranges(first[many], number[many])] = True
    return out


def _settled(positions, found, size, work):
    """Gross errors (mask) and their sizes, so that short sides are square to their legs where the
    layer shows few other ones."""
    suspected = found & _telling_of_slips(positions, work.stream)
    if not suspected.any():
        return found, size
    run = group_index(find_runs(positions, work.stream, np.zeros(len(found), bool)))
    noise = work.stream.noise[positions.capture]
    floor = np.maximum(REJECTION.sigmas * noise, REJECTION.min_distance)
    settled = settle_square_sides(positions, run, floor, suspected)
    work.vouched[positions.rows[positions.offsets[:-1][settled.vouched]]] = True
    return settled.found | (found & ~suspected), np.fmax(size, settled.off)


def _without_ways_back(positions, work):
    """Positions without short ways back, and those (mask) after which the walk turned for good."""
    turnings = find_turnings(positions, work.stream)
    back = work.spare(positions, turnings.walked_back > 0, Reason.BACKTRACK)
    work.outcomes.reject(positions, back, Reason.BACKTRACK, turnings.walked_back)
    # if the last position before a turn for good is rejected, the run ends at the one before it
    turned = last_kept(turnings.turned, ~back, np.array([0, len(back)]), np.zeros(1, bool))
    return positions.take(~back), turned[~back]


def _close_rings(runs, work):
    """Runs with doubtful positions down-weighted; those that close become rings that start at a
    joint."""
    positions, offsets = runs.positions, runs.offsets
    variance = downweight_outliers(
        positions.x,
        positions.y,
        np.diff(group_index(offsets)) == 0,
        np.full(len(positions), SCREENING.least_still),
        positions.variance,
    )
    if work.repairs:
        variance = np.where(work.repairs.held(positions), positions.variance, variance)
    stream = work.stream
    # no ring closes over a step beyond the limit that a person set
    spacing = np.minimum(stream.spacing, stream.distance_limit / RINGS.near)[positions.capture]
    closed, order = find_rings(positions.x, positions.y, variance, offsets, spacing)
    if closed.any():
        x, y = positions.x[order], positions.y[order]
        order = order[ring_start(x, y, variance[order], offsets, closed)]
        positions, variance = positions.sort(order), variance[order]
    return replace(runs, positions=positions, variance=variance, closed=closed)


def _broken_as_asked(runs, work):
    """Runs broken where a person asked for it."""
    after = work.repairs.breaks(runs.positions) if work.repairs else None
    return runs if after is None or not after.any() else runs.cut(after)


def _taken_back(positions, offsets, extent, work):
    """Runs (mask), however short, that hold epochs taken back in and can be drawn."""
    out = np.zeros(len(offsets) - 1, bool)
    if work.repairs:
        out |= group_max(work.repairs.taken_back(positions), offsets, False)
        work.repairs.spared.spare(
            positions.rows,
            (out & ~_long_enough(positions, offsets, extent, work.settings))[group_index(offsets)][
                group_index(positions.offsets)
            ],
            Reason.TOO_SHORT,
        )
    return out & (np.diff(offsets) > 1) & (extent >= RUNS.shortest)


def _extent(positions, offsets):
    """Length of each run from position to position, metres."""
    return group_sum(steps(positions.x, positions.y, offsets), offsets)


def _long_enough(positions, offsets, extent, settings):
    """Runs (mask) of at least two positions, three epochs and the minimum length: nothing confirms
    a line of two epochs."""
    return (
        (np.diff(offsets) > 1)
        & (group_sum(np.diff(positions.offsets), offsets) > 2)
        & (extent >= max(settings.min_length, RUNS.shortest))
    )


# --- runs to curves -----------------------------------------------------------------------------


def _fit_curves(runs, work, progress):
    """Runs that become edges, their plan curves by the model of the settings, and the runs (mask)
    that consist of tangents and arcs only."""
    if work.settings.curve_model == "spline":
        every = np.ones(len(runs), bool)
        curves = _fit_splines(runs, np.flatnonzero(every), work)
        _note_shapes(runs, None, np.ones(len(runs.positions), bool), curves, work)
        return runs, curves, ~every
    runs, chains = _confirmed_chains(runs, work, progress)
    runs, chains = _long_and_confirmed(runs, chains, work)
    chains, slow = with_memory(runs, chains, work.stream)
    asked = work.repairs.asked(runs.positions, runs.offsets) if work.repairs else None
    curves = curves_of_chains(chains, runs.offsets, work.settings.corner_angle, asked)
    if work.settings.keeps_doubtful:
        curves = with_chords(curves, np.radians(HEADWAY.widest))
    free = chains.spline[group_index(chains.bounds)] & (work.settings.curve_model == "automatic")
    if work.repairs:
        free = work.repairs.free(runs.positions, free)
    mixed = group_max(free, runs.offsets, False)
    if mixed.any():
        which = np.flatnonzero(mixed)
        splines = _fit_splines(runs, which, work, free)
        corners = work.settings.keeps_doubtful
        curves = mix_curves(curves, splines, runs.offsets, which, free, corners)
    if work.settings.curve_model == "automatic":
        fixed = free | work.repairs.held(runs.positions) if work.repairs else free
        curves = towards_means(curves, chains, runs, work.stream, fixed)
    if work.settings.keeps_doubtful:
        held = work.repairs.held(runs.positions) if work.repairs else None
        curves, beside = with_small_returns(curves, runs, held)
        runs = replace(runs, doubtful=runs.doubtful | beside)
    _note_shapes(runs, chains, free, curves, work)
    return runs, replace(curves, slow=np.where(free, 1.0, slow)), ~mixed


def _note_shapes(runs, chains, free, curves, work):
    """Record what the epochs are drawn as, if there are repairs."""
    if work.repairs:
        shapes = shapes_of(runs, chains, free, curves)
        put_shapes(work.outcomes.shape, runs.positions, shapes)


def _confirmed_chains(runs, work, progress):
    """All runs and their chains. Runs with unconfirmed positions are fitted again without these,
    until all is confirmed or the rounds are used up."""
    done, rounds = [], CONFIRMATION.rounds
    for left in range(rounds, -1, -1):
        first = left == rounds
        share_of = progress if first else _ignore
        runs, chains = _chains_of(runs, work, share_of)
        again = None
        if left:
            turning = _turning_points(runs, work) if first else np.zeros(len(runs.positions), bool)
            runs, chains, again = _confirm(runs, chains, turning, work, last=left == 1)
        done.append((runs, chains))
        if again is None:
            break
        runs = again
    runs, chains = zip(*done)
    return Runs.concatenate(runs), Chains.concatenate(chains)


def _ignore(share):
    """Progress that nobody reports."""


def _chains_of(runs, work, progress):
    """Runs without the outliers that their chains reject, and these chains."""
    positions, offsets = runs.positions, runs.offsets
    may_reject = may_leave_out(positions, work.stream, offsets, runs.closed)
    if work.repairs:
        may_reject &= ~work.repairs.held(positions)
    spare_short = None
    if work.settings.keeps_doubtful:
        may_reject &= ~work.vouched_for(positions)
        # evidence of times takes its time, and chains want to reject few positions
        may_reject = AskedMask(may_reject, partial(_off_by_times, runs, work.stream))
        spare_short = ~_sure_of_slips(positions, work.stream)
    chains = fit_chains(
        positions.x,
        positions.y,
        positions.variance * work.stream.telling[positions.capture],
        offsets,
        runs.closed,
        FitOptions(
            may_reject=may_reject,
            variance_factor=runs.variance / positions.variance,
            height_llr=positions.height_llr,
            spare_short=spare_short,
            asked=work.repairs.asked(positions, offsets) if work.repairs else None,
            sigmas=False,  # those of correlated noise follow
        ),
        progress,
    )
    out = chains.outlier & may_leave_out(
        positions, work.stream, offsets, runs.closed, chains.outlier
    )
    out = work.spare(positions, out, Reason.SPIKE)
    work.outcomes.reject(positions, out, Reason.SPIKE, np.abs(chains.residual))
    if out.any():
        runs, chains = runs.take(~out, np.ones(len(runs), bool)), chains.take(~out)
    return runs, chains


def _confirm(runs, chains, turning, work, last):
    """Runs that are confirmed throughout, their chains, and the other runs for another fit (None if
    there are none).

    The others lose their unconfirmed positions and break where a dropout leaves their course
    unknown. They go on over rejected positions within the limits of time and distance; with `last`
    they break there.
    """
    positions, offsets, stream = runs.positions, runs.offsets, work.stream
    dropout = find_dropouts(chains.closed, offsets, positions, stream)
    together, after = unconfirmed(chains, runs, dropout, turning, stream)
    drop = work.spare(positions, together > 0, Reason.UNCONFIRMED)
    after |= open_dropouts(chains, dropout)
    if work.repairs:
        after &= ~work.repairs.inside(positions, offsets)
    if work.settings.keeps_doubtful:
        out = np.zeros(len(drop), bool) if last else _contradicted(runs, drop, stream)
        out &= ~work.vouched_for(positions)
        runs = replace(runs, doubtful=(drop | _next_to(after, offsets)) & ~out)
        after &= _next_to(out, offsets) & _sure_of_slips(positions, stream)
        drop = out
    if work.repairs:
        runs, after = _bridged(runs, after, work)
    if not (drop | after).any():
        return runs, chains, None
    work.outcomes.reject(positions, drop, Reason.UNCONFIRMED, together)
    after |= drop & (last | ~may_leave_out(positions, stream, offsets, runs.closed, drop))
    if work.repairs:
        after &= ~work.repairs.bridged(positions)
    changed = group_max(drop | after, offsets, False)
    inside = changed[group_index(offsets)]
    part = replace(runs, bridged=runs.bridged | drop).pick(np.flatnonzero(changed))
    keep = ~drop[inside]
    after = last_kept(after[inside], keep, part.offsets, part.closed)
    again = part.take(keep, group_max(keep, part.offsets, False)).cut(after[keep])
    rest = np.flatnonzero(~changed)
    return runs.pick(rest), chains.take_runs(rest), again if len(again) else None


def _bridged(runs, after, work):
    """Runs, doubtful at bridges that nothing confirms, and positions (mask) after which they break,
    bridges excepted."""
    bridged = work.repairs.bridged(runs.positions)
    doubtful = runs.doubtful | _next_to(after & bridged, runs.offsets)
    return replace(runs, doubtful=doubtful), after & ~bridged


def _next_to(after, offsets):
    """Positions (mask) on either side of breaks, which lie after the positions `after` (mask)."""
    out = after.copy()
    out[1:] |= after[:-1] & (np.diff(group_index(offsets)) == 0)
    return out


def _sure_of_slips(positions, stream):
    """Positions (mask) of layers in which short excursions are almost always gross errors."""
    return stream.slips[positions.capture] > HEADWAY.sure


def _telling_of_slips(positions, stream):
    """Positions (mask) of streams that show more gross errors than short sides."""
    return stream.slips[positions.capture] > HEADWAY.telling


def _off_by_times(runs, stream, places):
    """Which of the positions `places` have clear evidence of times and heights for a gross error,
    each taken alone (mask)."""
    return evidence_in_layer(runs.positions, stream, runs.offsets, places, places) > HEADWAY.clear


def _contradicted(runs, drop, stream):
    """Unconfirmed positions (mask) that times or heights contradict; where somebody stood, epochs
    confirm each other."""
    positions, offsets = runs.positions, runs.offsets
    out = np.zeros(len(drop), bool)
    drop = drop & (np.diff(positions.offsets) < CONFIRMATION.epochs)
    first, last = stretches(drop, group_index(offsets))
    few = last - first < HEADWAY.most_together
    first, last = first[few], last[few]
    evidence = evidence_in_layer(positions, stream, offsets, first, last)
    telling = _telling_of_slips(positions, stream)[first]
    strides = stride_evidence(positions, stream, offsets, first[telling], last[telling])
    evidence[telling] += strides
    more = last - first
    needed = np.minimum(more, 1) * HEADWAY.together + np.maximum(more - 1, 0) * HEADWAY.longer
    hit = evidence > HEADWAY.contradicted + needed
    out[ranges(first[hit], (last - first + 1)[hit])] = True
    # each by itself if its height is evidence
    each = np.flatnonzero(drop & ~out & (positions.height_llr > HEIGHT_EVIDENCE.telling))
    evidence = outlier_evidence(positions, stream, offsets, each, each)
    out[each[evidence > HEADWAY.contradicted]] = True
    # and at the rim of a run, where those next to it are doubtful for its sake
    rim = drop & ~runs.closed[group_index(offsets)]
    return out | (rim & (rim_evidence(positions, offsets) > HEADWAY.clear))


def _long_and_confirmed(runs, chains, work):
    """The runs that are long enough and confirmed as a whole, and their chains."""
    positions, offsets = runs.positions, runs.offsets
    extent, run = _extent(positions, offsets), group_index(offsets)
    good, confirmed = _long_enough(positions, offsets, extent, work.settings), chains.confirmed()
    back = _taken_back(positions, offsets, extent, work)
    good, confirmed = good | back, confirmed | back
    if work.settings.keeps_doubtful:
        unseen = unseen_ways(positions, work.stream, offsets) > 0
        runs = replace(runs, doubtful=runs.doubtful | unseen | ~confirmed[run])
    else:
        good &= confirmed
    short = ~good[run]
    work.outcomes.reject(positions, short, Reason.TOO_SHORT, extent[run])
    if short.any():
        runs, chains = runs.take(~short, good), chains.take_runs(np.flatnonzero(good))
    return runs, chains


def _turning_points(runs, work):
    """Last positions (mask) of open runs after which the walk turned back."""
    reason, order = work.outcomes.reason, work.screening.order
    # epochs without a fixed, accurate position do not show where the walk went
    order = order[(reason[order] == Reason.KEPT) | (reason[order] > Reason.POOR_ACCURACY)]
    place = np.zeros(len(reason), np.int64)
    place[order] = np.arange(len(order))
    back = np.append(reason[order] == Reason.BACKTRACK, [False])
    positions, last = runs.positions, runs.offsets[1:] - 1
    next_row = place[positions.rows[positions.offsets[last + 1] - 1]] + 1
    out = np.zeros(len(positions), bool)
    out[last] = ~runs.closed & (runs.turned | back[next_row])
    return out


def _fit_splines(runs, which, work, free=None):
    """Splines for the runs whose numbers are `which`; where times tell corners that were cut, with
    corners of short sides where positions are `free` (mask)."""
    positions, variance, offsets = runs.positions, runs.variance, runs.offsets
    number = np.diff(offsets)[which]
    # some positions of a ring are repeated at both ends, so that its seam has neighbours
    pad = np.where(runs.closed[which], np.minimum(CORNERS.ring_padding, number), 0)
    size = number + 2 * pad
    lap = np.repeat(number, size)
    index = np.repeat(offsets[:-1][which], size) + (ranges(-pad, size) % lap)
    part, variance = positions.sort(index), variance[index]
    bounds = offsets_of(size)
    spacing = work.stream.spacing[part.capture]
    angle, pieces = work.settings.corner_angle, bounds
    corners = find_corners(part.x, part.y, part.variance, bounds, spacing, angle)
    if free is not None and work.settings.keeps_doubtful:
        corners = with_side_corners(corners, part, variance, bounds, free[index], angle)
        pieces = np.union1d(bounds, corners.before + 1)
    detail = work.stream.detail[part.capture]
    sought = variance * (SEARCH.element_noise * detail) ** 2
    elements = fit_elements(part.x, part.y, sought, pieces)
    feet = project(elements, part.x, part.y)
    if free is not None:
        sought = variance * (SEARCH.element_noise * detail**MEAN_FEET.detail_power) ** 2
        feet = with_mean_feet(feet, part.x, part.y, sought, pieces, free[index])
    tolerance = work.settings.tolerance
    curves = curves_of_splines(elements, feet, part, variance, bounds, corners, tolerance)
    memory = memory_of(part, work.stream.memory)
    return unroll(replace(curves, sigma=curves.sigma * np.sqrt(memory)), bounds, pad)
