"""Every tuned number of the core, by stage: value, unit, meaning and origin.

A number that steers a result stands here and nowhere else. Settings that the user chooses are not
tuned numbers; see `epochs.settings`. Numbers that follow from a definition (a half, a right angle
in radians, the normal's quantiles) stay beside the formula that they belong to.

Each stage is a frozen dataclass with one instance. Code reads ``SCREENING.spike_sigmas``; nothing
keeps a copy, so that `override` can try another value in a benchmark:
``tests/benchmarks/accuracy.py --set SCREENING.spike_sigmas=5``.
"""

import math
from contextlib import contextmanager
from dataclasses import dataclass, field, fields

import numpy as np


def tuned(value, unit, meaning, origin):
    """Field of a stage: a number with what one must know of it.

    Parameters
    ----------
    value : float or int
    unit : str
        ``"m"``, ``"s"``, ``"sigma"``, ``"sigma2"`` (squared sigmas), ``"epochs"``...; ``"1"`` for
        a plain ratio.
    meaning : str
        What the number decides, in one sentence.
    origin : str
        A derivation, a published source, the trial sets with their seeds, "common practice, no
        source", or "from memory".

    Returns
    -------
    dataclasses.Field
    """
    return field(default=value, metadata={"unit": unit, "meaning": meaning, "origin": origin})


CARRIED = "carried over; chosen on trial sets 1 to 25 before origins were kept"
_COMMON = "common practice, no source"
_MEMORY = "walks along real outlines at 2, 4 and 8 Hz, tuning half; not varied"
_SIMULATED = "that of the simulated walks along real outlines"
_BEFORE = "carried over from before origins were kept"
_BOUNDS = "bounds the memory; carried over from before origins were kept"


# --- arrays -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Running:
    """Running sums and maxima over all groups at once."""

    step: float = tuned(
        2.0**-30,
        "m",
        "grid to which values are rounded, so that sums are exact and no group changes another's"
        " digits",
        "derivation: about a nanometre, and 53 binary digits then reach 8,000 km",
    )


RUNNING = Running()


@dataclass(frozen=True)
class Robust:
    """Weights of observations that deviate, in screening, in the fit and in heights."""

    huber_sigmas: float = tuned(
        2.5,
        "sigma",
        "residual beyond which an observation loses weight",
        "Huber 1964, Robust estimation of a location parameter; the value is " + CARRIED,
    )


ROBUST = Robust()


@dataclass(frozen=True)
class Spline:
    """Smoothing splines."""

    block: int = tuned(
        1 << 17, "epochs", "knots in one banded solve, which bounds the memory", _BOUNDS
    )
    through_variance: float = tuned(
        1e-14,
        "m2",
        "variance with which a smoothing spline counts as passing through its values",
        "derivation: a tenth of a micrometre, squared",
    )


SPLINE = Spline()


@dataclass(frozen=True)
class Thinning:
    """Choice of vertices."""

    block: int = tuned(
        1 << 16,
        "epochs",
        "samples inspected at once, but for those of a longer chord, which bounds the memory",
        _BOUNDS,
    )
    equal: float = tuned(
        1e-6,
        "1",
        "share of the tolerance by which two samples count as equally far from a chord",
        "derivation: on an arc two samples lie equally far off, but for the last digits",
    )


THINNING = Thinning()


# --- parallel -----------------------------------------------------------------------------------


@dataclass(frozen=True)
class Pool:
    """Worker processes. These numbers steer no result, only time and memory."""

    most_workers: int = tuned(
        8, "1", "most processes at a time", "more would wait for memory, and each needs its own"
    )
    poll: float = tuned(0.05, "s", "time between two checks whether the work must stop", _BEFORE)
    pipe_size: int = tuned(
        1 << 20,
        "bytes",
        "size of a pipe's buffer",
        "a part of a table goes through in a third of the time",
    )
    end_wait: int = tuned(
        5000, "ms", "longest wait for an ended process to close its pipe", _BEFORE
    )
    mmap_threshold: int = tuned(
        32 << 20,
        "bytes",
        "arrays up to this size stay with the process when they are freed",
        "fetching arrays anew took a tenth of the time",
    )
    trim_threshold: int = tuned(
        64 << 20, "bytes", "free memory above which it goes back to the system", _BEFORE
    )
    top_pad: int = tuned(16 << 20, "bytes", "memory fetched from the system at once", _BEFORE)


POOL = Pool()


# --- epochs -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Plausibility:
    """Whether lines without times can be a stream."""

    least_step: float = tuned(0.05, "m", "steps below are ignored: standing still", _COMMON)
    few: int = tuned(8, "1", "least number of steps for a verdict", _COMMON)
    longest_step: float = tuned(
        6.0,
        "m",
        "greatest median step of a walk",
        "five seconds of an adult's walk; common practice, no source",
    )
    coarse: float = tuned(
        0.02,
        "m",
        "least step of rounded positions of which the run warns",
        "derivation: a step over the root of 12 is 6 mm, the sigma of edges",
    )
    few_steps: int = tuned(3, "1", "how often each of two steps must occur", _COMMON)
    least_rounding: float = tuned(
        0.005,
        "m",
        "least step of rounded coordinates of lines that counts in their uncertainty",
        "derivation: a step over the root of 12 is 1.4 mm, a quarter of the sigma of edges",
    )
    multiples: int = tuned(
        10,
        "1",
        "least number of different multiples of such a step between vertices",
        "lines drawn at regular places have fewer; common practice, no source",
    )
    spread: float = tuned(
        2.5,
        "1",
        "greatest ratio of the 90th percentile of a walk's steps to their median",
        "outlines of a city's map, ten at a time: 3.7 and more; 800 simulated walks: 1.9 at most",
    )


PLAUSIBILITY = Plausibility()


@dataclass(frozen=True)
class Times:
    """Numbers as times: seconds up to `milliseconds`, then by size; dates from `earliest_date`."""

    earliest: float = tuned(
        315532800.0,
        "s",
        "earliest time that ticks can mean",
        "derivation: the time of GPS starts on 1980-01-06 (IS-GPS-200)",
    )
    latest: float = tuned(4102444800.0, "s", "latest time that ticks can mean: 2100", _COMMON)
    wild: float = tuned(
        1.26e9,
        "s",
        "distance from the median beyond which a time is discarded",
        "40 years: 1970, 1980 or the year 1 in place of a date; common practice, no source",
    )
    most: float = tuned(
        0.9, "1", "share of the numbers that must be digits of a date to read all so", _COMMON
    )
    few: int = tuned(
        20,
        "1",
        "least number of values, and of different seconds, to distinguish days and digits of a"
        " clock from seconds",
        "derivation: two in five of so many plain seconds would lie beyond 59",
    )
    most_days: float = tuned(
        3e6, "days", "greatest number of days", "derivation: Julian days are at 2.5 million"
    )
    day_step: float = tuned(
        0.004,
        "1",
        "median step below which numbers are days",
        "derivation: as seconds they would mean 250 epochs a second",
    )
    turn: float = tuned(
        3600.0, "s", "time around the start of a day or week that may be unrecorded", _COMMON
    )
    most_turns: int = tuned(
        60, "1", "most starts of days or weeks in a layer; more means another order", _COMMON
    )
    milliseconds: float = tuned(
        1e11,
        "s",
        "numbers above it are milliseconds since 1970",
        "derivation: as seconds they would lie past the year 5138",
    )
    microseconds: float = tuned(
        1e14,
        "s",
        "numbers above it are microseconds since 1970",
        "derivation: as milliseconds they would lie past the year 5138",
    )
    nanoseconds: float = tuned(
        1e17,
        "s",
        "numbers above it are nanoseconds since 1970",
        "derivation: as microseconds they would lie past the year 5138",
    )
    earliest_date: float = tuned(
        1e8,
        "s",
        "seconds since 1970 below which numbers count from some other origin",
        "March 1973; " + _BEFORE,
    )


TIMES = Times()


@dataclass(frozen=True)
class Accuracies:
    """Which values can be the accuracy of a fixed solution in metres."""

    few: int = tuned(8, "1", "least number of second differences for the scatter", _COMMON)
    poorest_fixed: float = tuned(
        0.5,
        "m",
        "1-sigma that no fixed solution reports in metres",
        "a fixed solution is good to centimetres; common practice, no source",
    )
    ratio: float = tuned(
        20.0,
        "1",
        "ratio of accuracy to scatter from epoch to epoch beyond which the unit is not metres",
        "derivation: millimetres give a thousand times, centimetres a hundred times the number",
    )


ACCURACIES = Accuracies()


@dataclass(frozen=True)
class Heights:
    """Which heights no epoch of a walk can have."""

    lowest: float = tuned(
        -1000.0,
        "m",
        "lowest height that counts",
        "the deepest dry land lies at about -430 m; memory",
    )
    highest: float = tuned(
        9000.0, "m", "greatest height that counts", "the highest mountain has about 8,850 m; memory"
    )
    off_nought: float = tuned(
        0.5, "m", "median height of the others beyond which zeros are no heights", _COMMON
    )
    few: int = tuned(
        3,
        "epochs",
        "least size of a block of wrong heights, or number of zeros",
        "derivation: one and two are found as height spikes",
    )
    least_step: float = tuned(
        1.0, "m", "step in height, beyond what the way allows, that nobody walks", _COMMON
    )
    climb: float = tuned(
        1.0,
        "m/s",
        "climb that the time between epochs allows, in addition to a metre per metre of way",
        "stairs, and lifts in streets; common practice, no source",
    )


HEIGHTS = Heights()


@dataclass(frozen=True)
class Walkers:
    """When a capture holds several walks at a time."""

    few: int = tuned(5, "1", "least number of epochs of a walk, or of impossible steps", _COMMON)
    pace: float = tuned(3.0, "m/s", "greatest speed of a step", "a run; common practice, no source")
    margin: float = tuned(1.0, "m", "added to a step, for noise and float epochs", _COMMON)
    jumps: float = tuned(
        0.2,
        "1",
        "share of impossible steps from which on a capture is examined",
        "derivation: of two walks at once every other step or more; spikes are fewer",
    )
    reach: int = tuned(
        8,
        "epochs",
        "number of following epochs with which one may be linked",
        "derivation: two or three walks, and a lost epoch or two of each",
    )
    waiting: float = tuned(
        0.3, "m/s", "weight of time against distance in the choice of the nearest epoch", _COMMON
    )
    pause: float = tuned(15.0, "s", "longest time that a link spans", _COMMON)
    covered: float = tuned(
        0.9,
        "1",
        "share of a capture's epochs that must be in walks for it to be split",
        "derivation: a fast vehicle links hardly any",
    )
    most_falls: float = tuned(
        0.02,
        "1",
        "share of rows with falling times beyond which rows are not in time order",
        _COMMON,
    )
    least_fall: float = tuned(
        1.5, "1", "least fall of the clock, in intervals; less is a row that came late", _COMMON
    )
    repeated: int = tuned(
        3, "epochs", "least number of repeated times after the clock was set back", _COMMON
    )


WALKERS = Walkers()


@dataclass(frozen=True)
class Nmea:
    """Logs of NMEA 0183 sentences."""

    block: int = tuned(
        1 << 21,
        "bytes",
        "bytes read at once",
        "bounds the memory: the arrays made from a block take about ten times as much",
    )
    longest: int = tuned(
        1024,
        "bytes",
        "longest sentence that is read",
        "NMEA 0183 allows 82 (from memory); proprietary sentences are longer",
    )
    late: float = tuned(
        60.0,
        "s",
        "how late a sentence may be; a greater fall of the time of day is midnight",
        _BEFORE,
    )
    session: float = tuned(600.0, "s", "pause after which the date may differ", _COMMON)
    few_dates: int = tuned(5, "1", "least number of sentences with a right date", _COMMON)
    share_of_dates: float = tuned(
        0.1, "1", "least share of a session's sentences with a right date", _COMMON
    )
    dating_block: int = tuned(
        100_000, "epochs", "sentences dated at once, which bounds the memory", _BOUNDS
    )


NMEA = Nmea()


@dataclass(frozen=True)
class Stream:
    """What is taken for the stream of a capture, and the limits of a gap that follow from it."""

    lost_epochs: float = tuned(
        3.5,
        "1",
        "intervals, or spacings, up to which a pause breaks no line",
        "derivation: one or two epochs may be lost inside a line, by a spike or a float epoch",
    )
    least_time_limit: float = tuned(
        2.0,
        "s",
        "least time limit of a gap",
        "streams faster than 2 Hz lose several epochs in an ordinary hiccup; common practice, no"
        " source",
    )
    least_distance_limit: float = tuned(2.0, "m", "least distance limit of a gap", CARRIED)
    interval: float = tuned(1.0, "s", "interval where no capture is long enough to tell", _COMMON)
    pace: float = tuned(
        1.2,
        "m/s",
        "pace where no capture is long enough to tell",
        "an adult's walk; common practice, no source",
    )
    noise: float = tuned(
        0.012,
        "m",
        "1-sigma across the line, wobble of the aim included, where there are too few epochs to"
        " tell",
        CARRIED,
    )
    noise_up_ratio: float = tuned(
        1.5, "1", "noise in height over noise in plan, where there is too little to tell", CARRIED
    )
    few: int = tuned(
        5, "epochs", "values from which the median of interval and spacing is known", CARRIED
    )
    few_for_noise: int = tuned(8, "epochs", "the same for the noise of the layer", CARRIED)
    least_noise: float = tuned(
        0.002, "m", "least noise: rounded coordinates would pass for perfect ones", CARRIED
    )
    same_height: float = tuned(
        0.0002,
        "m",
        "difference up to which coordinates are equal; the least greater one that recurs is the"
        " step of their rounding",
        "derivation: less than the last digit that receivers give",
    )
    recurring: int = tuned(
        3,
        "1",
        "of the least steps that must be alike to be those of a rounding",
        "a single outlier steps out and back: two",
    )
    same_step: float = tuned(
        1.1, "1", "ratio up to which they are alike", "a grid over a whole layer; own choice"
    )
    odd_step: float = tuned(
        0.05,
        "1",
        "of the least step, by which others may miss its multiples",
        "continuous values do so nine times in ten; own choice",
    )
    odd_share: float = tuned(0.1, "1", "share of the steps that may miss them", "own choice")
    moving_pace: float = tuned(0.2, "m/s", "pace above which a step counts as moving", CARRIED)
    moving_step: float = tuned(0.02, "m", "step above which it counts as moving", CARRIED)
    uneven: float = tuned(
        0.3,
        "1",
        "difference of neighbouring steps, as share of their chord, up to which the spacing is even"
        " enough for the four-point cubic",
        CARRIED,
    )
    layer_values: float = tuned(
        20.0,
        "epochs",
        "values that the layer's noise counts for beside a capture's own",
        "a median of a few values is itself uncertain; " + CARRIED,
    )
    most_ratio: float = tuned(
        2.0, "1", "a capture's noise over the layer's, at most, and the inverse at least", CARRIED
    )
    memory_time: float = tuned(
        1.0,
        "s",
        "time after which noise of aim and receiver is independent, but for what stays"
        " the same for a minute",
        "walks along real outlines at 2, 4 and 8 Hz, tuning half: noise with a memory of half a"
        " second",
    )
    window: int = tuned(
        8,
        "1",
        "epochs of a window over those of a second, in which the memory is measured",
        "long beside the memory, short beside the sides of real outlines; own choice",
    )
    window_lags: int = tuned(
        6, "1", "lags of an eighth, a quarter... of a second to four", "half a window"
    )
    short_octaves: int = tuned(3, "1", "of these lags that are shorter than a second", "an eighth")
    window_time_ratio: float = tuned(
        1.05, "1", "time of a window over that of so many intervals, at most", "a few lost epochs"
    )
    window_headway: float = tuned(
        0.5, "1", "way of a window over that of so many spacings, at least", "who stands sees less"
    )
    window_sigmas: float = tuned(
        1.1,
        "sigma",
        "RMS of the residuals of a window across, in the noise, at most",
        _MEMORY + ", and at 20 Hz; 0.8 to 1.5 times the noise of bends of some metres' radius",
    )
    window_sigmas_up: float = tuned(
        2.5, "sigma", "the same up, where only a dropped curb bends", _MEMORY
    )
    fastest: int = tuned(64, "Hz", "epochs between which noise is measured, at most", _MEMORY)
    lag_time_ratio: float = tuned(
        1.2, "1", "time between neighbours over that of so many intervals, at most", _MEMORY
    )
    lag_step: float = tuned(0.05, "m", "least way to a neighbour", _MEMORY)
    lag_uneven: float = tuned(
        0.5, "1", "difference of the ways to both neighbours, as share of their chord", _MEMORY
    )
    clear_sigmas: float = tuned(
        7.0,
        "sigma",
        "way, in the noise of the stream, that shows whether the walk goes on and where to; faster"
        " streams are judged from every other epoch, every third...",
        "walks along real outlines at 20 Hz, tuning half; those at 8 Hz and a metre a second take"
        " every epoch",
    )
    telling_rate: float = tuned(
        8.0,
        "Hz",
        "rate beyond which more epochs make no surer elements, since they share their noise",
        "walks along real outlines at 20 Hz, tuning half: 0.64 of raw at 10, 8 and 6 Hz, 0.66 at"
        " 4 Hz, 0.67 with none; 8 Hz itself 0.63, and 0.64 with 6",
    )
    least_memory: float = tuned(0.05, "s", "least time constant that is tried", _MEMORY)
    most_memory: float = tuned(6.0, "s", "greatest time constant that is tried", _MEMORY)
    memory_steps: int = tuned(
        25, "1", "time constants, and shares of the variance, that are tried", _MEMORY
    )
    nominal_memory: float = tuned(
        0.5,
        "s",
        "time constant of the memory, where too few lags can tell",
        _SIMULATED,
    )


STREAM = Stream()


_SIDES = "walks along real outlines (tuning half, 0.7 to 4 Hz) and trial sets 26 to 37"


@dataclass(frozen=True)
class ShortSides:
    """Short sides and gross errors of a layer, counted where they are certain."""

    off: float = tuned(
        0.15,
        "m",
        "distance from both legs, and from the curve through its neighbours, of epochs that count",
        _SIDES + "; 0.25 tells the two kinds of layers apart less well",
    )
    sigmas: float = tuned(6.0, "sigma", "the same, in the noise", "as `SCREENING.spike_sigmas`")
    bent_share: float = tuned(
        0.4, "1", "of that distance, by which the middle one of three may lie off its leg", _SIDES
    )
    least_step: float = tuned(0.3, "spacings", "between the epochs of a leg", _SIDES)
    onward: float = tuned(
        14.0, "degrees", "up to which one leg goes on in the direction of the other", _SIDES
    )
    headway: float = tuned(
        0.85,
        "1",
        "way past over what the pace explains, from which no time was spent on a detour",
        _SIDES + ": 0.98 to 1.15 past nine gross errors in ten",
    )
    usual: float = tuned(
        1.1,
        "1",
        "short sides to a gross error in a layer of which nothing is known",
        "walks along real outlines, tuning half, seeds 1 to 3 at 1 Hz: 1.1 to 1.6",
    )
    mistaken: float = tuned(
        0.2,
        "1",
        "short sides that gross errors beside corners seem to be, to a gross error",
        "trial sets 26 to 31, which have no short sides: 32 to 162",
    )
    unknown: float = tuned(0.5, "gross errors", "that the usual share weighs as much as", _SIDES)
    most: float = tuned(8.0, "sigma2", "that a layer may say for gross errors", _SIDES)


SHORT_SIDES = ShortSides()


@dataclass(frozen=True)
class Memory:
    """What the residuals of fast streams show of the noise that their epochs share."""

    farthest: float = tuned(
        2.0,
        "1",
        "greatest lag of their differences over the second from which noise is measured",
        "derivation: at four times the time constant a hundredth is left of the correlation",
    )
    longer: float = tuned(
        3.0,
        "1",
        "epochs of an element over the lag, at least",
        "shorter elements have taken up what they should show; 3 and 6 give bands alike to 0.2 %, "
        + _MEMORY,
    )
    log_variance: float = tuned(
        5.4,
        "1",
        "variance of the logarithm of a variance from the median of as many independent values as"
        " one",
        "derivation: the median has 37 % of the efficiency of the mean square, 2 / 0.37",
    )
    log_time_sigma: float = tuned(
        0.7,
        "1",
        "1-sigma of the logarithm of the time constant about the nominal one",
        "a factor of two either way; 0.4 gives bands alike to 0.1 %, " + _MEMORY,
    )
    nominal_share: float = tuned(
        0.7, "1", "share of the noise that is remembered, where too few lags can tell", _SIMULATED
    )
    share_sigma: float = tuned(
        1.0, "1", "1-sigma of it, so wide that a few seconds tell", "own choice"
    )
    log_time_spread: float = tuned(
        0.4, "1", "1-sigma of the logarithm of a capture's time constant about its layer's", _MEMORY
    )
    share_spread: float = tuned(0.3, "1", "the same of the share that is remembered", _MEMORY)
    lean_on_capture: float = tuned(
        10.0,
        "epochs",
        "that the shape which all chains of a capture lack counts for beside an element's own",
        "walks along real outlines at 8 Hz, tuning half: bands by stations 94.9 % with the"
        " capture's alone, 95.2 with 20, 95.5 with 5",
    )
    most_share: float = tuned(
        0.96, "1", "greatest share of the noise that is remembered", "each position has some noise"
    )
    together: int = tuned(64, "1", "captures tried at once, which bounds the memory", _BOUNDS)
    forgotten: float = tuned(
        1e-6, "1", "correlation that counts as none", "derivation: it changes no sixth digit"
    )


MEMORY = Memory()


@dataclass(frozen=True)
class Screening:
    """Spikes in plan and in height: how far an epoch must stand off, and what is tested again."""

    spike_sigmas: float = tuned(
        6.0, "sigma", "distance from all predictions beyond which an epoch is a spike", CARRIED
    )
    least_spike: float = tuned(0.10, "m", "least such distance", CARRIED)
    least_height_spike: float = tuned(
        0.15,
        "m",
        "least height difference of a height spike",
        "a dropped curb of that height takes several epochs to go down; " + CARRIED,
    )
    height_rounds: int = tuned(3, "1", "rounds in which height spikes are sought", CARRIED)
    height_pause: float = tuned(
        2.0, "1", "time limits up to which one height tells of the next", CARRIED
    )
    still_sigmas: float = tuned(
        4.0, "sigma", "step below which the walk stood still and has no direction", CARRIED
    )
    least_still: float = tuned(0.05, "m", "least such step", CARRIED)
    reach: int = tuned(
        8,
        "epochs",
        "on either side of a spike, tested again without it",
        "a test shows that more change nothing; " + CARRIED,
    )
    many_repeats: float = tuned(
        0.25,
        "1",
        "share of epochs at the time of another, beyond which the run says so",
        "common practice, no source",
    )
    context: int = tuned(
        6,
        "epochs",
        "beyond `reach`, so that no end of what is cut out passes for the end of a stretch",
        CARRIED,
    )
    block: int = tuned(250_000, "epochs", "screened at once, which bounds the memory", _BOUNDS)
    prediction_sigmas: float = tuned(
        1.3,
        "sigma",
        "noise of an epoch's distance from its predictions, in that of one observation",
        "a prediction from four neighbours is itself uncertain; " + CARRIED,
    )


SCREENING = Screening()


@dataclass(frozen=True)
class Spikes:
    """The single tests for spikes, each named by what it looks for."""

    hidden_turn: float = tuned(
        0.25,
        "1",
        "share of the turn at an epoch that the turn next to it must reach, where a corner hides"
        " the other one",
        CARRIED,
    )
    detour: float = tuned(
        1.25, "1", "way over the epoch by the way past it, next to a corner", CARRIED
    )
    cubic_way: float = tuned(
        3.0, "1", "way past an epoch, in steps that stand still, where the cubic counts", CARRIED
    )
    long_step: float = tuned(1.5, "1", "nominal steps beyond which a step is long", CARRIED)
    long_step_more: float = tuned(0.3, "m", "added to that", CARRIED)
    flung: float = tuned(
        4.0, "1", "floors that an epoch between two long steps must lie across", CARRIED
    )
    flung_return: float = tuned(
        0.75, "1", "way past such an epoch over the shorter of its steps, at most", CARRIED
    )
    calm: float = tuned(
        0.5, "1", "floors that the neighbours of a single spike may lie off the chord", CARRIED
    )
    led: float = tuned(
        0.35, "1", "share of a spike's size by which the last epoch may miss the aim", CARRIED
    )
    least_end: float = tuned(
        0.15, "m", "least distance of a spike that is the end of a stretch", CARRIED
    )
    least_block: float = tuned(
        0.20, "m", "least distance across of epochs that were shoved aside together", CARRIED
    )
    block_floors: float = tuned(1.5, "1", "floors of these at least", CARRIED)
    block_left_over: float = tuned(
        0.35, "1", "share of the step in that the step back may leave over", CARRIED
    )
    block_slack: float = tuned(0.5, "1", "floors added to that", CARRIED)
    block_turn: float = tuned(
        50.0, "degrees", "most turn around such a block: square corners are not for this", CARRIED
    )
    end_turn: float = tuned(
        30.0, "degrees", "most turn between the steps around a pair at an end", CARRIED
    )
    end_pace: float = tuned(
        1.12,
        "1",
        "pace of the step to the end over that of the step before it",
        "round a corner the step is shorter, to a spike it is longer; " + CARRIED,
    )
    pace_slack: float = tuned(0.05, "1", "nominal paces added to such a comparison", CARRIED)
    lone: float = tuned(
        1.5, "1", "time before an end over the time before that, where an epoch is lost", CARRIED
    )
    end_rest: float = tuned(
        0.5, "1", "share of the end's distance that the epoch before it may be off", CARRIED
    )
    stride: float = tuned(1.25, "1", "stride over the longest step around", CARRIED)
    least_stride: float = tuned(
        0.3, "m", "least distance from the segment of what lies between two strides", CARRIED
    )
    standing_pace: float = tuned(
        0.35,
        "1",
        "share of the nominal pace below which the steps around say nothing of the walk",
        CARRIED,
    )
    stride_past: float = tuned(
        1.1, "1", "way past the block over as many steps as it has, at most", CARRIED
    )
    against: float = tuned(
        0.7, "1", "cosine of the turn by which a step runs against another one", CARRIED
    )
    against_still: float = tuned(
        2.0, "1", "such a step in steps that stand still, at least", CARRIED
    )
    jump: float = tuned(1.4, "1", "nominal steps that the other step must exceed", CARRIED)


SPIKES = Spikes()


@dataclass(frozen=True)
class HeightEvidence:
    """What heights say about gross errors of the aim: twice log-likelihood ratios."""

    other: float = tuned(
        6.0,
        "sigma2",
        "evidence of a height that stands off",
        "derivation: 2 ln(0.4 / 0.02). The ground next to a curb lies lower or higher by the"
        " curb's face (0.1 to 0.15 m), and what tilts the pole or the aim changes the height: say"
        " that two gross errors in five show, and one good epoch in fifty. Common practice, no"
        " source",
    )
    same: float = tuned(
        -1.0,
        "sigma2",
        "evidence of a height in line with its neighbours",
        "derivation: 2 ln(0.6 / 0.98), with the shares of `other`",
    )
    telling: float = tuned(
        3.0, "sigma2", "evidence that makes an epoch a candidate by itself", CARRIED
    )
    in_line: float = tuned(
        3.0, "sigma", "height difference up to which the evidence is `same`", CARRIED
    )
    off_line: float = tuned(
        6.0, "sigma", "height difference from which the evidence is `other`", CARRIED
    )
    slope: float = tuned(
        0.05, "m/m", "rise of an edge where the height is known on one side only", CARRIED
    )
    most_rise: float = tuned(0.5, "m", "most of that rise", CARRIED)
    extrapolated: float = tuned(
        1.9,
        "1",
        "noise of a height against one extrapolated over three, in that of one height",
        "derivation: sqrt(1 + 1.5**2 + 0.5**2)",
    )


HEIGHT_EVIDENCE = HeightEvidence()


@dataclass(frozen=True)
class Standing:
    """Epochs taken while standing still, and the part of the noise that does not average out."""

    extent: float = tuned(0.15, "m", "a group that creeps on farther than this is cut", CARRIED)
    radius_sigmas: float = tuned(
        4.0, "sigma", "step up to which two epochs are of one place, over sqrt(2)", CARRIED
    )
    least_radius: float = tuned(0.06, "m", "least such step", CARRIED)
    spacing_share: float = tuned(
        0.4, "1", "such a step over the spacing of the walk, at most", CARRIED
    )
    rounds: int = tuned(
        2, "1", "rounds of grouping", "once more with the means, which are surer than single epochs"
    )
    lean: float = tuned(
        0.3,
        "1",
        "share of the white noise (1-sigma) that does not average out while standing",
        "the hand that holds the receiver, or the aim, leans one way for a while; common practice,"
        " no source",
    )
    correlated_share: float = tuned(
        0.5,
        "1",
        "share of the reported variance that stays the same over a minute of walking, so that it"
        " does not show in the residuals",
        _COMMON,
    )
    correlated_sigma: float = tuned(
        0.005, "m", "1-sigma of that error in plan where nothing is reported", _COMMON
    )
    correlated_sigma_up: float = tuned(
        0.008, "m", "1-sigma of that error in height where nothing is reported", _COMMON
    )


STANDING = Standing()


@dataclass(frozen=True)
class Occupations:
    """Spot points from epochs taken standing still."""

    still_pace: float = tuned(
        0.3, "m/s", "pace up to which one stands", "a slow walk is twice as fast; " + _COMMON
    )
    still_step: float = tuned(
        0.03,
        "m",
        "step up to which one stands, however short the interval",
        "what noise makes of standing; " + _BEFORE,
    )
    spike_limit: float = tuned(
        3.44,
        "sigma",
        "distance from the median in plan beyond which an epoch is gross",
        "root of the 99.7 % quantile of chi-square with two degrees of freedom, as 3 sigma in one",
    )
    height_limit: float = tuned(
        3.0, "sigma", "the same in height", "99.7 % of the normal distribution"
    )
    least_scale: float = tuned(
        0.005, "m", "least scale in plan: equal values would make any other one gross", _BEFORE
    )
    least_scale_up: float = tuned(0.008, "m", "the same in height", _BEFORE)
    small_sample: float = tuned(
        2.0,
        "epochs",
        "limits are wider by this over the number of epochs",
        "the median and the scale of few epochs are themselves uncertain; own choice, tried on"
        " simulated stops",
    )
    rounds: int = tuned(3, "1", "rounds of rejection", _BEFORE)
    correlation_time: float = tuned(
        60.0, "s", "correlation time of the receiver's slow error", _COMMON
    )
    layer_freedom: float = tuned(
        4.0,
        "1",
        "degrees of freedom that the layer's spread counts for beside a point's own",
        _BEFORE,
    )
    mostly: float = tuned(
        0.8, "1", "share of a run's epochs from which it is a stop, and no stop on a walk", _BEFORE
    )
    least_on_the_way: int = tuned(3, "epochs", "least of a stop on a walk", _BEFORE)
    astray: int = tuned(3, "epochs", "elsewhere in a row that do not end a stop", _BEFORE)
    few_steps: int = tuned(
        20,
        "1",
        "steps between epochs that show a grid of rounding",
        "the least of so many continuous values is small; own choice",
    )


OCCUPATIONS = Occupations()


# --- alignment ----------------------------------------------------------------------------------

BY_SPEED = "carried over; chosen by the time and memory that a million epochs take"
NUMERICAL = "a numerical guard, carried over"


@dataclass(frozen=True)
class Rejection:
    """What is an outlier of the aim, for all stages that look for one."""

    sigmas: float = tuned(
        6.0, "sigma", "No position nearer than this to the line is an outlier.", CARRIED
    )
    min_distance: float = tuned(
        0.08, "m", "Nor is one nearer than this, however little noise there seems to be.", CARRIED
    )
    penalty: float = tuned(
        10.0,
        "sigma2",
        "What a position must cost before it is rejected.",
        "trial sets 26 to 400, and what stood out in others up to 825",
    )
    explained: float = tuned(
        3.0,
        "sigma",
        "RMS of an element's other positions; above it the element is wrong, not one of them.",
        CARRIED,
    )
    neighbour_factor: float = tuned(
        2.5, "1", "How many times as far off as both its neighbours an outlier must be.", CARRIED
    )
    confirming_run: int = tuned(
        8,
        "epochs",
        "Positions of a run that say what its ends ought to be.",
        "trial sets 26 to 400, and what stood out in others up to 825",
    )


REJECTION = Rejection()


@dataclass(frozen=True)
class Search:
    """Dynamic programme over spans of positions: each element for itself."""

    span_lengths: tuple = tuned(
        (*range(1, 13), 14, 16),
        "epochs",
        "Positions in one span of the search; longer elements are found by merging.",
        CARRIED,
    )
    block: int = tuned(
        128,
        "epochs",
        "Positions searched as one chain; spans across a block's end are found by merging.",
        BY_SPEED,
    )
    tangent_penalty: float = tuned(
        10.0,
        "sigma2",
        "What one more tangent must explain (minimum description length).",
        CARRIED,
    )
    arc_penalty: float = tuned(14.0, "sigma2", "What one more arc must explain.", CARRIED)
    element_noise: float = tuned(
        1.15,
        "1",
        "Factor on sigmas: white noise alone leaves out the drift that neighbours share.",
        CARRIED,
    )
    min_radius: float = tuned(
        0.5, "m", "Radius of the tightest arc, where the user gives none.", CARRIED
    )
    max_radius: float = tuned(
        400.0, "m", "Radius of the flattest arc, where the user gives none.", CARRIED
    )
    min_saving: float = tuned(1e-6, "sigma2", "Elements are not merged for less.", NUMERICAL)
    tie: float = tuned(
        1e-7, "sigma2", "Spread of equal savings, so that every other one is taken.", NUMERICAL
    )
    max_merged: int = tuned(3, "1", "Neighbouring elements tried as one.", CARRIED)
    merge_rounds: int = tuned(24, "1", "Rounds of merging at most.", NUMERICAL)
    good_enough: float = tuned(
        1.0,
        "sigma",
        "Standard deviations of chi-square up to which a tangent's fit needs no arc tried.",
        "saves time; " + CARRIED,
    )
    summed_together: int = tuned(
        3 << 13,
        "epochs",
        "Positions whose moments are summed at once: more leave the processor's caches.",
        BY_SPEED,
    )
    searched_together: int = tuned(
        1 << 16, "epochs", "Positions searched at once; bounds the memory.", BY_SPEED
    )
    lengths_together: int = tuned(
        4, "1", "Lengths of spans whose arcs are tried at once.", BY_SPEED
    )
    window: int = tuned(
        10, "epochs", "Positions on either side that decide about a doubtful one.", CARRIED
    )
    windows_together: int = tuned(
        1600, "1", "Windows searched at once; bounds the memory.", BY_SPEED
    )
    max_between: int = tuned(
        5, "epochs", "Positions between two elements that may be one, at most.", CARRIED
    )
    max_in_one: int = tuned(
        2, "epochs", "Positions of each element between two that may be one, at most.", CARRIED
    )
    circle_rounds: int = tuned(12, "1", "Steps of a geometric circle fit.", NUMERICAL)
    circle_damping: float = tuned(
        1e-9, "1", "First damping of a geometric circle fit, relative.", NUMERICAL
    )
    circle_damping_floor: float = tuned(
        1e-12, "1", "Least damping of a geometric circle fit.", NUMERICAL
    )
    circle_easing: float = tuned(
        10.0, "1", "Divides the damping of a circle fit after a step that helped.", NUMERICAL
    )
    circle_stiffening: float = tuned(
        100.0, "1", "Multiplies that damping after a step that did not help.", NUMERICAL
    )
    circle_damping_failed: float = tuned(
        1e-6, "1", "Least damping after a step that did not help.", NUMERICAL
    )

    @property
    def radii(self):
        """Least and greatest radius, m."""
        return self.min_radius, self.max_radius


SEARCH = Search()


@dataclass(frozen=True)
class Chain:
    """Penalties of elements and joints, and where joints may lie."""

    parameter_penalty: float = tuned(
        6.0,
        "sigma2",
        "Penalty of one free parameter: what it must explain to be worth having.",
        "found on trial sets; change it, and run sets 1 to 25 before and after",
    )
    shallow_angle: float = tuned(
        math.radians(8.0), "rad", "A corner of two tangents that turns less is shallow.", CARRIED
    )
    shallow_penalty: float = tuned(
        10.0, "sigma2", "What a shallow corner must explain besides.", CARRIED
    )
    unmet_penalty: float = tuned(
        16.0, "sigma2", "Penalty of two elements that do not meet near their positions.", CARRIED
    )
    sharp_penalty: float = tuned(
        5.0, "sigma2", "Penalty of a corner at an arc, which joins tangentially as a rule.", CARRIED
    )
    first_corner: float = tuned(
        math.radians(30.0),
        "rad",
        "Of two elements fitted alone; a joint of an arc that turns more starts as a corner.",
        CARRIED,
    )
    max_corner: float = tuned(
        math.radians(165.0),
        "rad",
        "A corner that turns more closes on itself: its place would be anywhere.",
        CARRIED,
    )
    slack: float = tuned(0.10, "m", "How far positions may lie beyond their joint.", CARRIED)
    slack_of_step: float = tuned(
        0.25, "1", "And this share of the step from one position to the next.", CARRIED
    )
    detour: float = tuned(
        1.8, "1", "Way by a corner between two positions, in direct steps, at most.", CARRIED
    )
    detour_slack: float = tuned(0.3, "m", "And so much more.", CARRIED)
    corner_rounds: int = tuned(6, "1", "Newton steps to a corner.", NUMERICAL)
    corner_step: float = tuned(5.0, "m", "Newton's step to a corner at most.", NUMERICAL)
    corner_sine: float = tuned(
        1e-4, "1", "Sine of the angle of two elements, below which it is taken as this.", NUMERICAL
    )
    corner_miss: float = tuned(
        1e-6, "m", "Distance of a corner from its two elements at most.", NUMERICAL
    )
    min_corner_sine: float = tuned(
        0.01, "1", "Sine of the angle of two elements that meet in a corner at least.", CARRIED
    )
    reach: int = tuned(
        3, "epochs", "Positions on either side of a joint that may change their element.", CARRIED
    )
    keep_bound: float = tuned(
        0.01, "epochs", "Preference for the former bound, a position's way.", NUMERICAL
    )


CHAIN = Chain()


@dataclass(frozen=True)
class LocalSearch:
    """Other elements that the local search tries."""

    rounds: int = tuned(3, "1", "Rounds of the local search.", CARRIED)
    together: int = tuned(
        30_000, "elements", "Elements of proposals compared at once; bounds the memory.", BY_SPEED
    )
    min_saving: float = tuned(0.01, "sigma2", "No move for less.", NUMERICAL)
    shared: int = tuned(
        8,
        "epochs",
        "Positions of a short element, which may be shared out or become of the other kind.",
        CARRIED,
    )
    undecided: int = tuned(
        2, "epochs", "Positions that do not tell a tangent from an arc.", "two points fit either"
    )
    may_be_arc: float = tuned(
        40.0,
        "sigma2",
        "Excess of a tangent's sum over that of the arc expected, up to which the arc is tried.",
        "rather too much than too little; " + CARRIED,
    )
    may_be_arc_factor: float = tuned(4.0, "1", "And this times the tangent's own sum.", CARRIED)
    far_bound: int = tuned(
        3, "epochs", "How far a bound is shifted towards the longer of two elements.", CARRIED
    )
    near_bound: int = tuned(
        2, "epochs", "How far a bound is shifted between two new tangents, either way.", CARRIED
    )
    corner_arc: tuple = tuned(
        (1, 2),
        "epochs",
        "Positions on either side that an arc in place of a corner takes.",
        CARRIED,
    )


LOCAL_SEARCH = LocalSearch()


@dataclass(frozen=True)
class Fit:
    """Reweighting, free forms, and what is confirmed."""

    robust_rounds: int = tuned(2, "1", "Rounds of reweighting.", CARRIED)
    free_form_penalty: float = tuned(
        4.0,
        "sigma2",
        "By how much elements that need not meet must explain a stretch better to free it.",
        CARRIED,
    )
    free_form_positions: int = tuned(6, "epochs", "Positions of a free-form stretch.", CARRIED)
    anchor: int = tuned(
        10, "epochs", "Positions of a tangent that is one, whatever lies next to it.", CARRIED
    )
    confirmed_run: int = tuned(
        6,
        "epochs",
        "Positions of a run that is an edge, whatever they look like.",
        "trial sets 26 to 400, and what stood out in others up to 825",
    )
    together: int = tuned(
        300_000, "epochs", "Positions fitted at once; bounds the memory.", BY_SPEED
    )


FIT = Fit()


@dataclass(frozen=True)
class Adjustment:
    """Damped Gauss-Newton steps of the joint least squares."""

    joint_sigmas: tuple = tuned(
        (1e-3, 1e-4, 1e-5),
        "m",
        "How closely joints keep a common direction, by stages: a stiff start keeps steps small.",
        CARRIED,
    )
    cold_rounds: tuple = tuned(
        (4, 2, 1), "1", "Steps at most in each stage, from first estimates.", CARRIED
    )
    warm_rounds: tuple = tuned(
        (0, 1, 1), "1", "Steps at most in each stage, where little has changed.", CARRIED
    )
    covariance_joint_sigma: float = tuned(
        1e-4, "m", "How closely joints keep a common direction in covariances.", NUMERICAL
    )
    max_turn: float = tuned(0.3, "rad", "Turn of an element in one step at most.", CARRIED)
    max_shift: float = tuned(1.0, "m", "Shift of an element in one step at most.", CARRIED)
    max_curvature_factor: float = tuned(
        2.0,
        "1",
        "Factor on a curvature in one step at most, either way.",
        CARRIED,
    )
    at_rest: float = tuned(
        1e-9, "1", "Relative change of the sum at which a group has come to rest.", NUMERICAL
    )
    first_damping: float = tuned(
        1e-4, "1", "Of unknowns scaled to unit weight (Marquardt 1963).", NUMERICAL
    )
    min_damping: float = tuned(1e-9, "1", "Never none, for what positions leave open.", NUMERICAL)
    max_damping: float = tuned(1e4, "1", "A group that needs more has come to rest.", NUMERICAL)
    damping_factor: float = tuned(
        10.0, "1", "Factor on the damping after each step (Marquardt 1963).", "Marquardt 1963"
    )
    few_active: float = tuned(
        0.7,
        "1",
        "Share of groups still moving, below which only these are worked on.",
        BY_SPEED,
    )
    min_curvature: float = tuned(
        1e-4, "1/m", "Least curvature of an arc, where the caller gives none.", NUMERICAL
    )
    max_curvature: float = tuned(
        4.0, "1/m", "Greatest curvature of an arc, where the caller gives none.", NUMERICAL
    )
    covariance_damping: tuple = tuned(
        (1e-9, 1e-6), "1", "Relative and absolute, so that covariances exist.", NUMERICAL
    )


ADJUSTMENT = Adjustment()


@dataclass(frozen=True)
class Sampling:
    """Positions made of edges' vertices or of epochs."""

    panel: float = tuned(
        5.0, "m", "Longer segments of an edge are sampled in several pieces.", CARRIED
    )
    independent: float = tuned(
        2.0,
        "m",
        "Length of an edge that counts as one observation: what lies closer errs alike.",
        CARRIED,
    )
    max_observations: float = tuned(
        0.5, "1", "Observations in one piece: a chord of an arc errs alike all along.", CARRIED
    )
    min_weight: float = tuned(1e-3, "1", "Least weight of a sample.", NUMERICAL)
    closed_within: float = tuned(
        0.001, "m", "Distance of the first and the last vertex of a ring.", CARRIED
    )
    ring_steps: float = tuned(
        1.5, "1", "Typical steps between the two ends of a ring of epochs, at most.", CARRIED
    )
    ring_length: float = tuned(
        6.0, "1", "Length of a ring of epochs at least, in typical steps or gaps.", CARRIED
    )
    ring_epochs: int = tuned(5, "epochs", "A ring has more epochs than this.", CARRIED)
    min_noise: float = tuned(
        0.001, "m", "Least 1-sigma of white noise; a receiver resolves no more.", CARRIED
    )
    default_noise: float = tuned(
        0.01, "m", "1-sigma of white noise where epochs are too few to tell.", CARRIED
    )
    few: int = tuned(8, "epochs", "Differences from which a noise is estimated at least.", CARRIED)
    even_steps: float = tuned(
        1.6, "1", "Ratio of steps up to which five neighbours count as evenly spaced.", CARRIED
    )
    same_place: float = tuned(
        1e-6, "m", "Vertices or chainages that are nearer count as one.", NUMERICAL
    )
    knot_spacing: float = tuned(
        0.01, "m", "Added between positions in profiles: their chainages must increase.", CARRIED
    )
    min_spacing: float = tuned(0.05, "m", "Least typical spacing in profiles.", CARRIED)


SAMPLING = Sampling()


@dataclass(frozen=True)
class ElementRows:
    """What is written about elements."""

    nearly_back: float = tuned(
        179.9,
        "deg",
        "Deflection from which the point of intersection is left out.",
        "tan(89.95 deg) = 1146: it lies more than a thousand radii away",
    )


ELEMENT_ROWS = ElementRows()


@dataclass(frozen=True)
class Tracing:
    """Points along elements."""

    max_sweep: float = tuned(
        math.radians(270.0),
        "rad",
        "Sweep of an arc given by three points; a fuller one is written in two.",
        CARRIED,
    )
    max_pieces: int = tuned(
        256, "1", "Pieces of one element in another CRS at most.", "carried over; bounds the work"
    )
    run_spacing: float = tuned(
        1e7, "m", "Keeps runs apart in one interpolation.", "longer than any run"
    )
    same_place: float = tuned(1e-6, "m", "Points that are nearer along the way are one.", NUMERICAL)


TRACING = Tracing()


@dataclass(frozen=True)
class GradeBreaks:
    """Grade breaks of vertical profiles."""

    break_penalty: float = tuned(10.0, "sigma2", "What one more break must explain.", CARRIED)
    memory_power: float = tuned(
        0.75,
        "1",
        "Power of the variance of long means over white noise by which heights count for less while"
        " grades are sought; their sigma has all of it.",
        "walks along real outlines, tuning half, seeds 1 to 3, rounded or not: 1 Hz rounded 94.2 in"
        " place of 96.9 with 1, 8 Hz rounded 92.4 in place of 94.3; 0.5 makes a tenth more vertices"
        " at 20 Hz",
    )
    cell: float = tuned(
        2.0, "m", "The search starts with a break in each cell, as short as a ramp.", CARRIED
    )
    min_length: float = tuned(0.5, "m", "From one break to the next at least.", CARRIED)
    rounds: tuple = tuned(
        (1, 2, 1, 1),
        "1",
        "Breaks taken out together for one in a better place, round by round.",
        CARRIED,
    )
    looks: int = tuned(
        3, "1", "Looks for breaks to take out of one fit, none next to another.", BY_SPEED
    )
    reach: float = tuned(4.0, "m", "How far a break is moved in one round, either way.", CARRIED)
    min_reach: int = tuned(2, "epochs", "And over so many observations at least.", CARRIED)
    first_shares: tuple = tuned(
        (0.25, 0.75),
        "1",
        "Places of a break on the way from one observation to the next that are tried first.",
        CARRIED,
    )
    finer: tuple = tuned(
        (1 / 4, 1 / 8, 1 / 16), "1", "Steps by which the place of a break is refined.", CARRIED
    )
    before_next: float = tuned(
        1e-6, "1", "Share of that way that a break keeps from the next observation.", NUMERICAL
    )
    near_zero: float = tuned(1e-9, "1", "Relative size of what counts as none.", NUMERICAL)
    min_gain: float = tuned(0.2, "sigma2", "No break is moved for less.", CARRIED)


GRADE_BREAKS = GradeBreaks()


@dataclass(frozen=True)
class Profiles:
    """Heights along runs."""

    search_factor: float = tuned(
        1.35,
        "1",
        "Factor on a profile's sigma: breaks were searched for, and noise drifts.",
        "measured on simulated walks",
    )
    doubtful: float = tuned(
        5.0, "sigma", "Heights farther off the line of their neighbours lose weight.", CARRIED
    )
    doubt_power: int = tuned(
        4, "1", "Power of that loss; falls off faster than Huber's: these have no say.", CARRIED
    )
    neighbours: int = tuned(2, "epochs", "Neighbours on either side.", CARRIED)
    end_step: float = tuned(
        0.12,
        "m",
        "At the end of a run, a smaller step may be a dropped curb that goes on outside it.",
        CARRIED,
    )
    same_place: float = tuned(
        1e-6, "1", "Share of an interval within which a break lies at a position.", NUMERICAL
    )
    min_closing: float = tuned(1e-6, "m", "Least step that closes a ring.", NUMERICAL)


PROFILES = Profiles()


# --- reconstruction -----------------------------------------------------------------------------

_TRIALS = "trial sets 26 to 400, and what stood out in others up to 825"


@dataclass(frozen=True)
class Execution:
    """Parts of the work. These numbers steer no result, only time and memory."""

    stream_epochs: int = tuned(
        80_000, "epochs", "size of the parts whose streams are inspected together", _BOUNDS
    )
    smallest_part: int = tuned(
        40_000,
        "epochs",
        "size below which a part is not worth a process",
        "each part costs a tenth of a second for its calls of array functions alone",
    )
    part_epochs: int = tuned(
        250_000, "epochs", "greatest number of epochs that are fitted together", _BOUNDS
    )
    epochs_at_work: int = tuned(
        500_000, "epochs", "greatest number of epochs in all parts fitted side by side", _BOUNDS
    )


EXECUTION = Execution()


@dataclass(frozen=True)
class Runs:
    """Runs of positions."""

    shortest: float = tuned(
        1e-3,
        "m",
        "length that a run needs whatever the user's minimum is",
        CARRIED,
    )


RUNS = Runs()


@dataclass(frozen=True)
class RepairLimits:
    """Repairs: what a person decided about epochs and stretches."""

    same_time: float = tuned(
        2e-3,
        "s",
        "times that differ by less name one epoch",
        "times stored with three decimals; the fastest streams have 100 epochs a second",
    )
    longest_bridge: float = tuned(
        20.0,
        "m",
        "a longer gap is not bridged, whoever asks for it",
        "what stands in the way at a curb: road trains of at most 18.75 m (Council Directive"
        " 96/53/EC, Annex I, 1.1, as amended)",
    )
    side: int = tuned(
        3,
        "positions",
        "on either side of a corner that tell to which side its own epoch belongs",
        "the fewest that check a line",
    )
    fewest: int = tuned(
        2,
        "positions",
        "of an element between two places that were asked for",
        "the fewest that define a line",
    )
    reach: int = tuned(
        2,
        "positions",
        "from an epoch to the joint that is made smooth, or told as its corner",
        "a joint lies between two positions, and the search moves it by one",
    )
    alone: int = tuned(
        20,
        "epochs",
        "a smaller capture is fitted alone in the company of a straight walk, as it would be in a"
        " layer",
        "derivation: more than the tests of the screening and the search for gross errors need",
    )
    smooth_arc: tuple = tuned(
        (2, 3, 4),
        "positions",
        "on either side that an arc in place of a corner may take; the one that costs least does",
        "the fewest that make an arc, and a curb return walked a metre from epoch to epoch",
    )


REPAIR_LIMITS = RepairLimits()


@dataclass(frozen=True)
class Breaks:
    """Where a walk pauses, turns back or goes on."""

    reversal: float = tuned(150.0, "degrees", "turn from which a walk has turned about", CARRIED)
    beside: float = tuned(
        0.15, "m", "distance up to which the way back runs next to the way there", CARRIED
    )
    beside_sigmas: float = tuned(6.0, "sigma", "the same, in the noise of the stream", CARRIED)
    pause_on_the_spot: float = tuned(
        1.5,
        "spacings",
        "step after a pause up to which nothing was left out",
        CARRIED,
    )
    pause_straight_on: float = tuned(
        3.0,
        "spacings",
        "the same where the walk goes straight on, as when an epoch or two are lost",
        CARRIED,
    )
    straight_on: float = tuned(30.0, "degrees", "turn up to which a walk goes straight on", CARRIED)
    brief_steps: float = tuned(
        5.0,
        "spacings",
        "length up to which a way back is a correction, not another walk",
        CARRIED,
    )
    shortest_way_back: float = tuned(1e-6, "m", "way back that counts", CARRIED)


BREAKS = Breaks()


@dataclass(frozen=True)
class Rings:
    """Walks that come back to their start."""

    near: float = tuned(
        1.5,
        "spacings",
        "distance between the start and the first position that is back",
        CARRIED,
    )
    min_steps: float = tuned(
        6.0, "spacings", "length of a ring, also in distances from its start", CARRIED
    )
    min_positions: int = tuned(5, "positions", "before a ring can be back at its start", CARRIED)
    beside: float = tuned(
        0.15, "m", "distance of the second time round from the first one", CARRIED
    )
    beside_sigmas: float = tuned(4.0, "sigma", "the same, in the noise of two positions", CARRIED)
    met: float = tuned(
        1e-6,
        "m",
        "distance up to which a line ends where it starts",
        "derivation: a line that was closed by hand repeats its first vertex",
    )
    max_overlap: float = tuned(0.5, "laps", "what may be walked twice", CARRIED)
    overlap_steps: float = tuned(
        3.0,
        "spacings",
        "by how much more than the overlap of the first lap is compared",
        CARRIED,
    )
    back_steps: float = tuned(
        0.5, "spacings", "step back along the first lap that noise explains", CARRIED
    )


RINGS = Rings()


@dataclass(frozen=True)
class Outliers:
    """Gross errors that only the shape of the run shows. Savings are squared sigmas, as the costs
    of the alignment."""

    fewest: int = tuned(
        6, "positions", "of all captures together, below which nothing is sought", CARRIED
    )
    return_spacings: float = tuned(
        0.25,
        "spacings",
        "distance up to which the walk returns to the same place after two positions away from it",
        CARRIED,
    )
    end_ratio: float = tuned(
        0.5,
        "1",
        "of the end's distance off the rest, what its neighbour may be off",
        CARRIED,
    )
    saving: float = tuned(
        7.5,
        "sigma2",
        "what the run must cost less without an outlier",
        "simulated walks: a real short side saves less, an outlier an element or two; " + _TRIALS,
    )
    straight_saving: float = tuned(
        4.0, "sigma2", "the same where the line goes straight on", _TRIALS
    )
    second_saving: float = tuned(
        4.0, "sigma2", "what a pair must save more than one of the two", _TRIALS
    )
    aligned_pair: float = tuned(
        2.0, "sigma2", "by how much less where a pair walks the way of the others", _TRIALS
    )
    pair_rank: float = tuned(
        2.0,
        "sigma2",
        "rank that a pair loses to one of the two",
        "where the second of a pair is no outlier, it saves about nothing; " + _TRIALS,
    )
    height_pair_saving: float = tuned(
        4.0, "sigma2", "what the shape must save where heights alone named the pair", _TRIALS
    )
    size_unit: float = tuned(
        0.2, "m", "distance off its neighbours that ranks a candidate by one", _TRIALS
    )
    size_bonus: float = tuned(4.0, "sigma2", "greatest rank gained that way", _TRIALS)
    reach: int = tuned(
        2, "positions", "next to an outlier that may be the outlier instead", _TRIALS
    )
    same_way: float = tuned(
        50.0, "degrees", "up to which the step inside a pair runs the way of the others", _TRIALS
    )
    turn_back: float = tuned(
        5.0,
        "degrees",
        "turn against that of a neighbour from which a path turns out and back",
        CARRIED,
    )
    straight_share: float = tuned(
        0.9, "1", "of so many typical steps, from which the way past goes straight on", CARRIED
    )
    detour_share: float = tuned(
        1.12, "1", "of so many typical steps, from which the way through is a detour", CARRIED
    )
    retested: int = tuned(
        4,
        "positions",
        "on either side of an outlier that are tested again without it",
        CARRIED,
    )
    retest_context: int = tuned(
        12,
        "positions",
        "beyond these that are used, so that no end of what is cut out passes for the end of a run",
        CARRIED,
    )


OUTLIERS = Outliers()


@dataclass(frozen=True)
class Dropouts:
    """Lost epochs inside runs."""

    intervals: float = tuned(
        1.5,
        "intervals",
        "pause from which an epoch is lost",
        CARRIED,
    )


DROPOUTS = Dropouts()


@dataclass(frozen=True)
class Confirmation:
    """Sides, arcs and ends that rest on too few positions."""

    rounds: int = tuned(
        4,
        "1",
        "how often runs are fitted again without what nothing confirms",
        "what is left may lie otherwise without what was taken out; " + _TRIALS,
    )
    epochs: int = tuned(
        3,
        "epochs",
        "of a position that confirm each other",
        "a gross error of the aim lasts for two epochs at times",
    )
    scatter: float = tuned(
        6.6,
        "sigma2",
        "sum of squares from which three positions do not confirm their line",
        "derivation: noise exceeds it in one case of a hundred (chi-square of one degree of"
        " freedom)",
    )
    few_at_end: int = tuned(
        5,
        "positions",
        "of the side next to it that leave a pair at the end of a run unconfirmed",
        _TRIALS,
    )
    few_for_arc: int = tuned(
        4,
        "positions",
        "of an arc that must join its neighbours tangentially",
        _TRIALS,
    )
    free_positions: int = tuned(10, "positions", "of a free form that confirm each other", _TRIALS)
    long_link: float = tuned(
        0.1, "m", "length of a piece without positions that is not drawn", _TRIALS
    )
    straight_on: float = tuned(
        5.0,
        "degrees",
        "turn up to which a piece without positions goes straight on",
        "derivation: a step of 1.2 m between tangents 0.1 m apart turns by 5 degrees",
    )
    far_off: float = tuned(
        0.25, "m", "distance from which a position is no part of its element", _TRIALS
    )
    long_step: float = tuned(
        2.0, "spacings", "step from which it is as if epochs had been lost", _TRIALS
    )
    sharp: float = tuned(
        30.0, "degrees", "turn from which two sides of a free form do not meet", _TRIALS
    )
    min_sine: float = tuned(
        0.3, "1", "sine of the deflection of tangents that meet in a corner", _TRIALS
    )
    end_sigmas: float = tuned(
        4.0, "sigma", "residual from which an end where nothing follows is doubtful", _TRIALS
    )
    square_sigmas: float = tuned(
        3.0, "sigma", "of the directions, up to which sides stand square", _TRIALS
    )
    square: float = tuned(
        1.0, "degrees", "within which sides are built square, besides the noise", _COMMON
    )


CONFIRMATION = Confirmation()


_REAL = "walks along real outlines, tuning half, and trial sets 3 to 8, together"


@dataclass(frozen=True)
class Headway:
    """What the time between positions says, and what becomes of doubtful ones."""

    reach: int = tuned(6, "steps", "on either side whose pace is the local one", _REAL)
    few: int = tuned(3, "steps", "that tell the local pace", _REAL)
    spread: float = tuned(0.15, "1", "standard deviation of the pace, as share of it", _REAL)
    slow_share: float = tuned(0.5, "1", "chance that somebody hesitates, down to a stop", _REAL)
    late: float = tuned(
        1.6, "1", "time over that of so many steps from which nothing is known", _REAL
    )
    most_against: float = tuned(3.0, "sigma2", "what times may say against an outlier", _REAL)
    most_for: float = tuned(9.0, "sigma2", "what they may say for one", _REAL)
    prior: float = tuned(
        1.5,
        "sigma2",
        "what more the run must cost less without an outlier, since jogs are common",
        _REAL,
    )
    clear: float = tuned(
        3.0, "sigma2", "evidence that needs no more, of times or with heights", _REAL
    )
    longer: float = tuned(
        4.0,
        "sigma2",
        "evidence asked for each position more that follows an outlier",
        "aims slip for one epoch, rarely for two; " + _REAL,
    )
    widest: float = tuned(
        100.0,
        "degrees",
        "that an arc may turn between two positions; beyond, a chord is drawn",
        "a circle through a gross error and its neighbours goes far astray; " + _REAL,
    )
    together: float = tuned(
        7.0,
        "sigma2",
        "evidence that contradicts two doubtful positions, over that for one",
        "of pairs that nothing confirms, one in fifty is a gross error; " + _SIDES,
    )
    most_together: int = tuned(3, "positions", "that may be contradicted together", _SIDES)
    sure: float = tuned(
        4.0,
        "sigma2",
        "by which a layer must speak for gross errors for its short elements to be tried without"
        " their positions, and for lines to break where these go",
        _SIDES,
    )
    contradicted: float = tuned(
        0.5, "sigma2", "evidence that contradicts a doubtful position", _REAL
    )
    doubtful_sigma: float = tuned(
        0.05, "m", "1-sigma across of what nothing confirms", _REAL + ": chords there are 0.06 off"
    )


HEADWAY = Headway()


_CUT = "walks along real outlines at 1 Hz, tuning half, seeds 1 to 3, and trial sets 26 to 33"


@dataclass(frozen=True)
class SmallReturns:
    """Corners that are drawn as arcs, since the way round them would have taken longer."""

    least_inside: float = tuned(
        0.06,
        "m",
        "from the corner to the middle of the arc; less is left a corner",
        "of 192 corners more than 0.10 m off 144 are found, and 7 of 3,500 right ones; " + _CUT,
    )
    alike: float = tuned(
        1.4,
        "1",
        "greater pace over the lesser one, of the steps before and after, up to which their mean"
        " counts, else the greater",
        _CUT,
    )
    most: float = tuned(150.0, "degrees", "deflection of a corner that may be an arc", _COMMON)


SMALL_RETURNS = SmallReturns()


_SHORT = "walks along real outlines at 1 Hz, tuning half, seeds 1 and 2"


@dataclass(frozen=True)
class Corners:
    """Corners between straight parts of runs whose curve is a spline."""

    windows: tuple = tuned(
        (3, 4, 6, 9), "positions", "on either side that lie on a straight line", CARRIED
    )
    candidate_share: float = tuned(
        0.8,
        "1",
        "of the corner angle, by which single steps must turn",
        "single steps are noisy; " + CARRIED,
    )
    step_noise: float = tuned(0.05, "m", "noise of a step that may hide part of the turn", CARRIED)
    sharpest: float = tuned(
        165.0,
        "degrees",
        "deflection from which sides that close on themselves meet anywhere",
        CARRIED,
    )
    meet_slack: float = tuned(
        0.10, "m", "by which lines may meet outside the gap between the two positions", CARRIED
    )
    meet_sigmas: float = tuned(2.0, "sigma", "the same, in the noise of positions", CARRIED)
    detour_share: float = tuned(1.8, "1", "of the step, length of the way over the corner", CARRIED)
    detour: float = tuned(0.3, "m", "what may be added to that", CARRIED)
    shortest_side: float = tuned(
        0.8, "m", "length of a side", "over less, noise alone makes any angle; " + CARRIED
    )
    side_spacings: float = tuned(
        0.6, "spacings", "length of a side for each of its steps, where that is less", CARRIED
    )
    side_sigmas: float = tuned(8.0, "sigma", "length of a side in the noise", CARRIED)
    short_angle: float = tuned(
        60.0, "degrees", "deflection from which sides of two positions make a corner", _SHORT
    )
    short_saving: float = tuned(
        20.0, "sigma2", "that such a corner must cost less than a circle", _SHORT
    )
    short_score: float = tuned(
        5.0,
        "1",
        "by which the score of a corner is worse for each position that its sides lack of three",
        "not varied; " + _SHORT,
    )
    same_corner: int = tuned(2, "positions", "up to which two finds are the same corner", CARRIED)
    ring_padding: int = tuned(
        8,
        "positions",
        "of a ring that are fitted twice, so that there is no end at its seam",
        CARRIED,
    )


CORNERS = Corners()


@dataclass(frozen=True)
class PlanCurves:
    """Nodes, samples and vertices of fitted curves."""

    up_tolerance: float = tuned(
        2.0, "1", "tolerance of heights, in that of positions", "heights are half as sure"
    )
    sample_share: float = tuned(
        1 / 16, "1", "of the tolerance, spent on sampling the curve", CARRIED
    )
    most_samples: int = tuned(64, "1", "samples in one interval", CARRIED)
    in_line: float = tuned(1e-9, "m", "distance up to which a node lies in line", CARRIED)
    shortest_step: float = tuned(
        1e-6, "m", "between knots of a spline, which must increase", CARRIED
    )
    corner_trust: float = tuned(
        0.25,
        "m",
        "distance between two estimates of a corner from which the tangents are not trusted",
        CARRIED,
    )
    min_sine: float = tuned(
        0.15, "1", "sine of the deflection of tangents that meet in a corner", CARRIED
    )
    block: int = tuned(
        1 << 16, "samples", "number of samples whose heights are found together", _BOUNDS
    )


PLAN_CURVES = PlanCurves()


@dataclass(frozen=True)
class StationPlaces:
    """Stations along the edges."""

    rounding: float = tuned(
        1e-9,
        "1",
        "of the spacing, by which the last whole station may lie beyond the end",
        CARRIED,
    )
    shortest_rest: float = tuned(
        1e-3,
        "m",
        "rest behind the last whole station from which the end is a station of its own",
        CARRIED,
    )


STATION_PLACES = StationPlaces()


# --- partitions ---------------------------------------------------------------------------------


@dataclass(frozen=True)
class Partitions:
    """The run over many files."""

    text_block: int = tuned(
        100_000,
        "epochs",
        "texts of times that are read together",
        "bounds the memory: they need some hundred bytes per character",
    )
    cell: float = tuned(
        0.01,
        "degrees",
        "cells in which positions are counted for the centre of the frame",
        "counts do not depend on the order of the partitions; " + _BEFORE,
    )
    widest: float = tuned(
        1_000_000.0, "m", "greatest distance of epochs from the frame's meridian", _BEFORE
    )
    far_share: float = tuned(
        0.001, "1", "share of the epochs that may lie beyond, as wrong coordinates do", _BEFORE
    )


PARTITIONS = Partitions()


# --- lines --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Matching:
    """Correspondence of stretches of lines; stations and the search for lines."""

    max_angle: float = tuned(
        40.0,
        "deg",
        "greatest angle between two directions of one line",
        "half the deflection of a coarsely digitised arc fits in",
    )
    min_stations: int = tuned(4, "1", "stations on a part, however short it is", CARRIED)
    longest_segment: float = tuned(
        25.0,
        "m",
        "length to which segments are cut for the index",
        "a slanting longer one would fill a great bounding box",
    )
    wide_search: float = tuned(
        5.0,
        "m",
        "search distance beyond which nearest segments are queried point by point",
        CARRIED,
    )
    block: int = tuned(
        50_000,
        "1",
        "rays queried and candidates judged at once",
        "bounds memory; the work can be stopped between blocks",
    )
    first_block: int = tuned(
        2_000, "1", "rays in the first query, before their hits are known", _BOUNDS
    )
    hits: int = tuned(
        1_000_000,
        "1",
        "approximate number of segments that the rays of one query may find",
        "bounds memory: 200 bytes each",
    )
    window: float = tuned(
        5.0, "m", "length to either side over which distances are averaged", CARRIED
    )
    section_break: float = tuned(
        3.0,
        "m",
        "length without a candidate, or jump along the other line, that ends a section",
        "twice the offset is allowed in addition, as corners need",
    )
    short_section_penalty: float = tuned(
        0.3, "m2", "divided by a section's length: the distance added to it in the ranking", CARRIED
    )
    dominant_length: float = tuned(
        1.25,
        "1",
        "ratio of lengths from which on one direction wins regardless of distance",
        CARRIED,
    )
    max_rounds: int = tuned(12, "1", "rounds of mutual assignment", CARRIED)
    min_section_share: float = tuned(
        0.3, "1", "share of a section that must be left for its matches to stay", CARRIED
    )
    min_run: float = tuned(
        1.5, "m", "least length of a counterpart, unless it lies on the line", CARRIED
    )
    duplicate: float = tuned(
        0.2, "m", "distance within which a second line is a duplicate of a matched one", CARRIED
    )

    @property
    def min_cosine(self):
        """Cosine of `max_angle`."""
        return np.cos(np.radians(self.max_angle))


MATCHING = Matching()


@dataclass(frozen=True)
class Comparison:
    """Status of lines from the offsets of their stations."""

    whole: float = tuned(0.8, "1", "share of a line from which on it counts as whole", CARRIED)
    hardly: float = tuned(0.2, "1", "share of a line up to which it counts as none", CARRIED)
    min_matched: float = tuned(
        0.5, "1", "least matched share of a line that is displaced as a whole", CARRIED
    )
    length_change: float = tuned(
        0.5,
        "1",
        "greatest change of length, relative to its move, of a line that moved as a whole",
        CARRIED,
    )
    min_limit: float = tuned(
        1e-05,
        "m",
        "smallest limit of a test",
        "coordinates that are transformed and back differ by less",
    )
    curvature_slack: float = tuned(
        0.1,
        "1",
        "share of the move by which an offset may differ from the move's component",
        "on a curve the offset is not exactly the component of the move",
    )
    min_eigenvalue: float = tuned(
        0.04,
        "1",
        "least determinant of the normal matrix over its squared trace for a determined move",
        "the lesser eigenvalue is then at least about 4 % of the greater",
    )
    block: int = tuned(
        100_000,
        "1",
        "pairs of point and segment computed at once",
        "bounds memory; the work can be stopped between blocks",
    )
    curve_points: int = tuned(201, "1", "half widths of buffers on the cumulative curve", CARRIED)


COMPARISON = Comparison()


@dataclass(frozen=True)
class Shift:
    """The shift of a whole layer of lines."""

    directions: int = tuned(90, "1", "classes of direction over 180 degrees in the vote", CARRIED)
    bin_width: float = tuned(0.01, "m", "of the histograms of offsets", CARRIED)
    blur: float = tuned(0.05, "m", "1-sigma of the kernel that smooths the histograms", CARRIED)
    grid: float = tuned(
        0.02, "m", "spacing of the shifts tried, coarser for a long search distance", CARRIED
    )
    max_grid: int = tuned(150, "1", "shifts tried to either side", CARRIED)
    size_penalty: float = tuned(
        0.3, "1", "share of its votes that a shift as great as the search distance loses", CARRIED
    )
    biweight: float = tuned(
        4.685,
        "sigma",
        "residual beyond which Tukey's biweight gives no weight",
        "95 % efficient at the normal (from memory; recomputed by a test of the shift)",
    )
    first_scale: float = tuned(
        3.0, "1", "scale of the residuals at the start, in kernel sigmas", CARRIED
    )
    turn_scale: float = tuned(
        0.25,
        "1",
        "scale of the residuals over the search distance when rotation or scale is added",
        "a turn of the layer hides among the offsets until it is fitted",
    )
    shrink: float = tuned(0.6, "1", "least ratio of the scales of two successive rounds", CARRIED)
    growth: float = tuned(
        1.2, "1", "greatest ratio of the scales of two successive rounds", CARRIED
    )
    max_rounds: int = tuned(60, "1", "rounds of reweighting", CARRIED)
    min_noise: float = tuned(
        0.0001,
        "m",
        "smallest scale of the residuals",
        "layers that agree to the last digit have no noise to divide by",
    )
    min_information: float = tuned(
        0.003,
        "1",
        "eigenvalue, relative to the greatest, below which a direction is undetermined",
        CARRIED,
    )
    max_hidden: float = tuned(
        0.01, "1", "greatest share of a determined parameter in undetermined directions", CARRIED
    )
    min_slope: float = tuned(
        0.2,
        "1",
        "lower bound of the mean derivative of psi over its weight in the sandwich",
        CARRIED,
    )
    correlation_length: float = tuned(
        10.0, "m", "length of line over which digitising errors are correlated", _COMMON
    )
    few_lines: int = tuned(
        6,
        "1",
        "number of lines below which stretches of `cluster_length` are the clusters",
        CARRIED,
    )
    cluster_length: float = tuned(20.0, "m", "length of such a stretch", CARRIED)
    chord: float = tuned(
        3.0, "m", "length of the chord that gives the direction at a station", CARRIED
    )
    turned_cosine: float = tuned(
        0.87, "1", "cosine between chord and segment below which there is a corner", "30 degrees"
    )


SHIFT = Shift()


@dataclass(frozen=True)
class Overlaps:
    """Overlaps of walks."""

    spacing: float = tuned(0.5, "m", "distance between stations", CARRIED)
    cell: float = tuned(
        3.0, "m", "length over which differences are averaged before they are tested", CARRIED
    )
    min_difference: float = tuned(
        0.03,
        "m",
        "horizontal difference up to which walks are never called different",
        "how the foot of the pole is placed, and a pole not quite plumb: a repeated walk falls"
        " on the former line within a few centimetres (common practice, no source)",
    )
    min_difference_up: float = tuned(
        0.05,
        "m",
        "difference of heights up to which walks are never called different",
        "as for `min_difference` (common practice, no source)",
    )
    min_sigma: float = tuned(
        0.003, "m", "lower bound of a sigma found from the differences", CARRIED
    )
    max_sigma: float = tuned(
        0.03, "m", "upper bound of a sigma found from the differences", CARRIED
    )
    short_piece_share: float = tuned(
        0.8,
        "1",
        "share of a piece shorter than the minimum overlap that must lie on another",
        CARRIED,
    )
    max_differing_share: float = tuned(
        0.5,
        "1",
        "share of their common length over which two walks of one edge may differ",
        CARRIED,
    )
    lap_distance: float = tuned(
        2.0, "m", "distance along a line within which nearness to itself means nothing", CARRIED
    )
    fill: float = tuned(
        1.0, "m", "longest gap inside an overlap that is filled", "rays miss next to corners"
    )
    ring_gap: float = tuned(
        1e-06, "m", "greatest distance between first and last vertex of a ring", CARRIED
    )
    copy_tolerance: float = tuned(
        0.0001, "m", "grid on which the vertices of copies agree", CARRIED
    )


OVERLAPS = Overlaps()


@dataclass(frozen=True)
class Crowds:
    """Places where very many lines coincide."""

    side: float = tuned(
        2.0, "m", "side of the squares in which lines are counted", "four stations of each line"
    )
    most: int = tuned(
        32,
        "1",
        "number of lines in a square beyond which a few represent all",
        "more than anybody walks one edge; a thousand comparisons in a square are still quick",
    )
    most_met: int = tuned(
        32,
        "1",
        "number of nearest lines of the other layer with which a station is compared",
        "more than lie within a search distance anywhere in a town, or than anybody walks an edge",
    )
    rays: tuple = tuned(
        (1 / 16, 1 / 8, 1 / 4, 1 / 2, 1.0),
        "1",
        "lengths of rays over the search distance, tried in turn until enough is met",
        "derivation: none meets much more than twice as many as are enough",
    )
    most_listed: int = tuned(
        16, "1", "most other edges next to one walk that are listed", "more than anybody inspects"
    )
    direction: float = tuned(
        30.0, "deg", "interval in which directions count as equal", "the least corner"
    )
    longest_visit: float = tuned(
        1.5,
        "1",
        "length in a square, in sides, from which on a line has come back to it",
        "derivation: the diagonal is 1.41",
    )


CROWDS = Crowds()


@dataclass(frozen=True)
class Passes:
    """Merging the walks of one edge."""

    corner: float = tuned(
        30.0, "deg", "deflection from which on a vertex stays sharp", "as in the reconstruction"
    )
    end_reach: float = tuned(
        1.5, "m", "distance from the end of a walk within which another one can take over", CARRIED
    )
    bridge: float = tuned(
        0.5, "m", "length over which the lead passes from one walk to the next", CARRIED
    )
    min_edge: float = tuned(
        1.0, "m", "least length of a separate edge next to a merged one", CARRIED
    )
    min_continuation: float = tuned(
        0.05, "m", "length by which a walk must continue to be followed", CARRIED
    )
    up_tolerance_ratio: float = tuned(
        2.0,
        "1",
        "tolerance of heights over that of positions in thinning",
        "heights are half as precise as positions",
    )
    progress_step: int = tuned(200, "1", "edges between two reports of progress", CARRIED)

    @property
    def corner_cosine(self):
        """Cosine of `corner`."""
        return np.cos(np.radians(self.corner))


PASSES = Passes()


@dataclass(frozen=True)
class Joins:
    """Ends of edges joined."""

    window: float = tuned(
        3.0, "m", "length at an end from which its tangent is estimated, or the whole edge", CARRIED
    )
    stations: int = tuned(30, "1", "number of intervals of the window", CARRIED)
    shares: tuple = tuned(
        (6, 10, 18, 30),
        "1",
        "intervals of the shares of the window that are fitted; the longest that fits wins",
        CARRIED,
    )
    max_rms: float = tuned(
        0.01,
        "m",
        "greatest RMS of a line or parabola that fits",
        "about the tolerance with which edges are thinned",
    )
    parabola_gain: float = tuned(
        1.2,
        "1",
        "ratio of lengths from which on a parabola replaces the line, and the end is curved",
        CARRIED,
    )
    hook: float = tuned(
        0.02,
        "m",
        "distance of a last vertex from the tangent beyond which it is a gross error",
        CARRIED,
    )
    max_sagitta: float = tuned(
        0.05,
        "m",
        "distance by which the tangent of a curved end may depart from the curve",
        CARRIED,
    )
    min_grade_window: float = tuned(1.0, "m", "length below which no grade is estimated", CARRIED)
    reversal: float = tuned(
        150.0, "deg", "deflection beyond which one edge runs back along the other", CARRIED
    )
    clear_ratio: float = tuned(
        1.5, "1", "ratio by which the second best partner must be worse", CARRIED
    )
    clear_margin: float = tuned(
        0.03, "m", "distance by which it must be worse in addition", CARRIED
    )
    cost_per_degree: float = tuned(0.1 / 90, "m/deg", "cost of a degree of deflection", CARRIED)
    cost_per_height: float = tuned(
        2.0, "1", "cost of a difference of heights, as horizontal distance", CARRIED
    )
    min_crossing: float = tuned(
        0.02, "m", "least length of a connection that is tested for edges in between", CARRIED
    )
    max_ring_gap_share: float = tuned(
        0.25, "1", "greatest gap over which a ring closes, of its length", CARRIED
    )
    kink: float = tuned(
        2.0, "deg", "greatest deflection due to spreading the move of an end", CARRIED
    )
    grade_kink: float = tuned(0.02, "1", "greatest change of grade due to it", CARRIED)
    max_blend_share: float = tuned(
        0.45, "1", "greatest share of an edge for trimming and for spreading", CARRIED
    )
    same: float = tuned(0.001, "m", "distance below which two places are one", CARRIED)
    near_vertex: float = tuned(
        0.01, "m", "distance from a vertex within which none is added", CARRIED
    )
    most_ends: int = tuned(
        200,
        "1",
        "number of ends in a square, as wide as joins reach, beyond which none is joined",
        "no place has so many edges; pairs would grow with the square of their number",
    )
    end_block: int = tuned(
        5_000,
        "1",
        "ends whose tangents are fitted at once",
        "bounds memory; the work can be stopped between blocks",
    )
    path_block: int = tuned(
        50_000,
        "1",
        "connections tested for crossings at once",
        "bounds memory; the work can be stopped between blocks",
    )

    @property
    def kink_slope(self):
        """Tangent of `kink`."""
        return np.tan(np.radians(self.kink))


JOINS = Joins()


@dataclass(frozen=True)
class Parallels:
    """Parallels to edges."""

    smooth: float = tuned(
        30.0, "deg", "greatest deflection at a vertex of a curve", "as in the reconstruction"
    )
    rounding: float = tuned(
        30.0, "deg", "greatest angle between vertices of a rounded corner", CARRIED
    )
    max_offset: float = tuned(
        100.0, "m", "offset or height beyond which a cross-section makes no sense", CARRIED
    )
    sagitta_slack: float = tuned(
        1.25, "1", "greatest sagitta of an arc over the tolerance", CARRIED
    )
    same: float = tuned(0.0005, "m", "distance within which two vertices are one", CARRIED)
    min_piece: float = tuned(0.001, "m", "least length of a piece that stays", CARRIED)
    slack: float = tuned(1e-06, "m", "allowed for rounding", CARRIED)
    block: int = tuned(
        500, "1", "edges tested at once", "bounds memory; the work can be stopped between blocks"
    )

    @property
    def smooth_angle(self):
        """`smooth` in radians."""
        return np.radians(self.smooth)

    @property
    def rounding_angle(self):
        """`rounding` in radians."""
        return np.radians(self.rounding)


PARALLELS = Parallels()


@dataclass(frozen=True)
class Revisits:
    """Findings combined into places in walking order."""

    neighbours: int = tuned(10, "1", "nearest places that are tried as the next one", CARRIED)
    same: float = tuned(
        1e-06, "m", "added to the reach", "findings exactly at the limit are within it in any frame"
    )
    min_gain: float = tuned(1e-09, "m", "least shortening that counts", CARRIED)
    interval_share: float = tuned(
        0.1,
        "1",
        "quantile of the times between rejected epochs that is taken as their interval",
        "most of the shortest times are between neighbours in the stream",
    )
    max_interval: float = tuned(
        2.0, "s", "upper bound of that interval", "slower streams are not assumed"
    )
    in_a_row: float = tuned(
        1.5,
        "1",
        "greatest distance of findings in a row, in intervals",
        "a missing epoch or station in between ends the row",
    )
    block: int = tuned(500, "1", "places between two reports of progress", CARRIED)


REVISITS = Revisits()


@dataclass(frozen=True)
class CheckPoints:
    """Accuracy against check points; the standards' own numbers stand in the module."""

    equal_ratio: float = tuned(
        0.99,
        "1",
        "ratio of the two RMSEs from which on they count as equal",
        "both formulas then give the same to 1e-4 of the value",
    )
    min_spread: float = tuned(
        0.001,
        "m",
        "lower bound of the robust standard deviation, and bias that is never reported",
        "rounded coordinates can have a median deviation of zero",
    )
    outlier_limit: float = tuned(
        3.0,
        "sigma",
        "distance from the median beyond which a point is an outlier",
        "Hampel identifier; of n good points some 0.3 % are flagged as well",
    )
    bias_limit: float = tuned(
        3.0,
        "sigma",
        "mean beyond which a bias is reported, in its own standard deviations",
        _COMMON,
    )


CHECK_POINTS = CheckPoints()


@dataclass(frozen=True)
class RigidMoves:
    """The rigid motion of each compared line."""

    rounds: int = tuned(
        5, "1", "rounds of reweighting", "the weights settle in three or four; checked by a test"
    )
    biweight: float = tuned(
        4.685,
        "sigma",
        "residual beyond which a station has no weight",
        "Tukey's biweight at 95 % efficiency (references: robust statistics, from memory)",
    )
    least_scale: float = tuned(
        0.001, "m", "least scale of the residuals", "below the millimetre nothing is known"
    )
    least_eigenvalue: float = tuned(
        0.02,
        "1",
        "share of the greatest eigenvalue below which a direction is undetermined",
        "a bend of 16 degrees shows a move along the line with a fiftieth of the weight; common"
        " practice, no source",
    )


RIGID_MOVES = RigidMoves()


@dataclass(frozen=True)
class Visited:
    """The area that was surveyed."""

    spacing_share: float = tuned(
        0.125, "1", "spacing of points along edges, of the reach", "derivation in places_along"
    )


VISITED = Visited()


# --- review -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Review:
    """What deserves a look: limits that put findings of different kinds on one scale."""

    sigma: float = tuned(0.03, "m", "1-sigma across from which on an edge is listed", _COMMON)
    disagreement: float = tuned(
        0.03, "m", "least difference of two walks that is listed, if the layer gives none", _COMMON
    )
    doubtful: float = tuned(
        3.0, "epochs", "least number of doubtful or unconfirmed epochs of a listed line",
        "derivation: fewer cannot make a side and an arc by themselves",
    )  # fmt: skip
    length: float = tuned(
        10.0,
        "m",
        "length of a new, lost or unmatched stretch that is 1 on the common scale",
        _COMMON,
    )
    end_reach: float = tuned(
        0.5, "m", "greatest distance between two open ends that are listed",
        _COMMON,
    )  # fmt: skip
    end_height: float = tuned(
        0.08,
        "m",
        "greatest difference of heights between two ends of one edge",
        "common practice: top and foot of a low curb, no source",
    )
    near: float = tuned(
        5.0, "m", "greatest distance across of a rejected epoch that is shown with a line", _COMMON
    )
    block: int = tuned(
        1_000_000, "1", "pairs of epoch and segment processed at once", "bounds the memory"
    )


REVIEW = Review()


@dataclass(frozen=True)
class Counterparts:
    """Lines of one run recognised among those of another."""

    tolerance: float = tuned(
        0.05,
        "m",
        "greatest distance of a line from its former self",
        "three sigmas of an edge of 16 mm; common practice, no source",
    )
    share: float = tuned(0.8, "1", "least share of a line on its former self", _COMMON)
    spacing: float = tuned(
        0.5, "m", "of the points at which lines are compared", "half a walked metre; no source"
    )


COUNTERPARTS = Counterparts()


@dataclass(frozen=True)
class DayControl:
    """Spot points of each day against control points."""

    confidence: float = tuned(0.95, "1", "of the tests, over all days together", _COMMON)
    few: int = tuned(3, "1", "pairs from which on their scatter counts", _COMMON)
    nominal: float = tuned(0.010, "m", "1-sigma of a spot that states none", _COMMON)
    steady: float = tuned(
        0.005,
        "m",
        "error per axis that does not average out during a visit",
        "receiver error correlated over a minute, 5 mm per axis (noise model of simulated walks)",
    )
    least: float = tuned(0.02, "m", "greatest shift in plan that is never off", _COMMON)
    least_up: float = tuned(0.03, "m", "greatest shift in height that is never off", _COMMON)


DAY_CONTROL = DayControl()


@dataclass(frozen=True)
class Stretches:
    """Stretches of existing lines that have a counterpart."""

    longest_step: float = tuned(
        1.01,
        "1",
        "greatest step between two stations of a stretch, over the intervals that they stand for",
        "equal intervals give 1 exactly; a station between without a counterpart gives 2",
    )
    longest_ratio: float = tuned(
        3.0,
        "1",
        "greatest length of edge per length of existing line within a stretch",
        "a jog as deep as it is wide triples the length; common practice, no source",
    )
    slack: float = tuned(1.0, "m", "added to that length, for corners", _COMMON)
    end_slack: float = tuned(
        2.0,
        "m",
        "distance from the end of a line within which a stretch reaches it",
        "walks begin and end within two steps of a corner; common practice, no source",
    )


STRETCHES = Stretches()


@dataclass(frozen=True)
class Update:
    """Existing lines redrawn."""

    touch: float = tuned(
        0.005,
        "m",
        "greatest distance between ends, or of an end from a line, that are joined",
        "half a centimetre: more than coordinates lose by a transformation, less than anyone draws"
        " apart on purpose",
    )
    same_place: float = tuned(
        1e-4, "m", "distance within which two vertices are one", "a tenth of a millimetre"
    )
    least_move: float = tuned(1e-3, "m", "least move of a stretch that is redrawn", "a millimetre")
    least_corner: float = tuned(
        20.0, "degrees", "least angle between two edges at a corner", "as for joined edge ends"
    )
    chord: float = tuned(2.0, "m", "length on both sides that gives an edge's direction", _COMMON)
    least_piece: float = tuned(
        2.0, "m", "least length of a piece of an edge that is added", _COMMON
    )
    snap: float = tuned(
        0.3,
        "m",
        "distance within which the end of a new line is moved onto another line",
        "seven times the uncertainty of a walked corner, and no more than a gap that anyone leaves"
        " on purpose; common practice, no source",
    )
    steepness: float = tuned(
        0.1,
        "1",
        "greatest move across per length of a transition between two edges",
        "a step between two walks of 20 mm over 0.2 m; common practice, no source",
    )
    displaced_share: float = tuned(
        0.2,
        "1",
        "least displaced share of a partly matched line that is replaced",
        "as `COMPARISON.hardly`",
    )


UPDATE = Update()


# --- all of them --------------------------------------------------------------------------------


def stages():
    """All stages by the names of their instances.

    Returns
    -------
    dict of str to dataclass instance
    """
    return {
        name: value
        for name, value in globals().items()
        if name.isupper() and hasattr(type(value), "__dataclass_fields__")
    }


@contextmanager
def override(**values):
    """Try other values in this process, worker processes not included.

    Parameters
    ----------
    **values
        ``STAGE__name=value``.

    Raises
    ------
    ValueError
        If there is no such stage or number; the message lists those there are.
    """
    former = []
    try:
        for key, value in values.items():
            stage, name = _find(*key.split("__", 1))
            former.append((stage, name, getattr(stage, name)))
            object.__setattr__(stage, name, value)  # frozen for everybody else
        yield
    finally:
        for stage, name, value in reversed(former):
            object.__setattr__(stage, name, value)


def _find(stage_name, name=""):
    """The stage, and the name of a number in it."""
    known = stages()
    if stage_name not in known:
        raise ValueError(f"no stage “{stage_name}”; there are {', '.join(known)}")
    names = [column.name for column in fields(known[stage_name])]
    if name not in names:
        raise ValueError(f"{stage_name} has no “{name}”; it has {', '.join(names)}")
    return known[stage_name], name
