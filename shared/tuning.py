"""Every tuned number of the core, by stage: value, unit, meaning and origin.

A number that affects results is defined here and nowhere else. Settings of the user are not tuned
numbers; see `epochs.settings`. Numbers that follow from a definition (a half, a right angle in
radians, quantiles of the normal distribution) stay with their formula.

Each stage is a frozen dataclass with one instance, without the methods that nobody calls: making
those took a third of the time of this import. Code reads ``SCREENING.spike_sigmas``; nothing
keeps a copy, so that `override` can try another value in a benchmark:
``tests/benchmarks/accuracy.py --set SCREENING.spike_sigmas=5``.
"""

import math
from contextlib import contextmanager
from dataclasses import dataclass, field, fields

import numpy as np


def tuned(value, unit, meaning, origin):
    """Define a number of a stage, with its unit, meaning and origin.

    Parameters
    ----------
    value : float or int
    unit : str
        ``"m"``, ``"s"``, ``"sigma"``, ``"sigma2"`` (squared sigmas), ``"epochs"``...; ``"1"`` for
        a plain ratio.
    meaning : str
        What the number decides, in one phrase. A maximum or a limit "up to" includes the number.
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
_TRIALS = "trial sets 26 to 400, and what stood out in others up to 825"


# --- arrays -------------------------------------------------------------------------------------


@dataclass(frozen=True, repr=False, eq=False)
class Running:
    """Running sums and maxima over all groups at once."""

    step: float = tuned(
        2.0**-30,
        "m",
        "grid to which values are rounded so that sums are exact, whatever other groups there are",
        "derivation: about a nanometre, and 53 binary digits then reach 8,000 km",
    )


RUNNING = Running()


@dataclass(frozen=True, repr=False, eq=False)
class Robust:
    """Weights of deviating observations, in screening, in the fit and in heights."""

    huber_sigmas: float = tuned(
        2.5,
        "sigma",
        "residual beyond which an observation loses weight",
        "Huber 1964, Robust estimation of a location parameter; the value is " + CARRIED,
    )


ROBUST = Robust()


@dataclass(frozen=True, repr=False, eq=False)
class Spline:
    """Smoothing splines."""

    block: int = tuned(1 << 17, "epochs", "knots in one banded solve; bounds the memory", _BOUNDS)
    through_variance: float = tuned(
        1e-14,
        "m2",
        "variance with which a smoothing spline counts as passing through its values",
        "derivation: a tenth of a micrometre, squared",
    )


SPLINE = Spline()


@dataclass(frozen=True, repr=False, eq=False)
class Thinning:
    """Choice of vertices."""

    block: int = tuned(
        1 << 14,
        "epochs",
        "samples inspected at once, except for a longer chord",
        "by time: what is computed about them fits the processor's second cache",
    )
    equal: float = tuned(
        1e-6,
        "1",
        "share of the tolerance by which the distances of two samples from a chord count as equal",
        "derivation: on an arc two samples are equally far off, apart from rounding",
    )
    fine: float = tuned(
        1 / 64,
        "1",
        "share of the tolerance that lines through the samples tried as vertices may be off",
        "tuning half of real outlines: twice as much makes 0.6 % more vertices, half of it 0.4 %"
        " fewer",
    )
    bow: float = tuned(
        1.8,
        "1",
        "price, in vertices, of a chord whose mean distance from the curve is the tolerance",
        "trial sets 3 and 5, where edges are as near to the truth as with halved sections (6.31 and"
        " 6.30 mm): 1.2 gives 6.36 mm and 8 % fewer vertices, 3 gives 6.27 mm and 7 % more",
    )
    tile: int = tuned(
        1 << 13,
        "1",
        "samples whose chords are compared at once",
        "derivation: at twenty chords from each, they fit the processor's second cache",
    )
    longest: int = tuned(
        1 << 10,
        "1",
        "samples after which a vertex is kept whether needed or not; bounds the steps in a row",
        "derivation: one vertex more in some hundred",
    )


THINNING = Thinning()


# --- parallel -----------------------------------------------------------------------------------


@dataclass(frozen=True, repr=False, eq=False)
class Pool:
    """Worker processes. These numbers affect time and memory only."""

    most_workers: int = tuned(
        8,
        "1",
        "maximum number of processes at one time",
        "more would wait for memory, since each needs its own",
    )
    poll: float = tuned(0.05, "s", "time between two checks whether the work is to stop", _BEFORE)
    pipe_size: int = tuned(
        1 << 20, "bytes", "capacity of a pipe", "a part of a table passes in a third of the time"
    )
    end_wait: int = tuned(
        5000, "ms", "maximum wait for an ended process to close its pipe", _BEFORE
    )
    mmap_threshold: int = tuned(
        32 << 20,
        "bytes",
        "size up to which freed arrays stay with the process",
        "allocating arrays again took a tenth of the time",
    )
    trim_threshold: int = tuned(
        64 << 20, "bytes", "free memory beyond which it is returned to the system", _BEFORE
    )
    top_pad: int = tuned(16 << 20, "bytes", "memory requested from the system at once", _BEFORE)


POOL = Pool()


# --- epochs -------------------------------------------------------------------------------------


@dataclass(frozen=True, repr=False, eq=False)
class Plausibility:
    """Whether a layer can be a stream of epochs: its steps, its extent, how it is rounded."""

    least_step: float = tuned(0.05, "m", "steps below show nothing: standing still", _COMMON)
    few: int = tuned(8, "1", "number of steps below which nothing is decided", _COMMON)
    one_spot: float = tuned(
        0.5, "m", "extent of all positions within which nobody walks an edge", _COMMON
    )
    longest_step: float = tuned(
        6.0,
        "m",
        "greatest median step of a walk",
        "five seconds of an adult's walk; common practice, no source",
    )
    coarse: float = tuned(
        0.02,
        "m",
        "grid of rounded positions from which the log says so",
        "derivation: a step over the root of 12 is 6 mm, the sigma of edges",
    )
    few_steps: int = tuned(3, "1", "how often a step, and another one, must occur", _COMMON)
    least_rounding: float = tuned(
        0.005,
        "m",
        "grid of rounded coordinates of lines from which their uncertainty includes it",
        "derivation: a step over the root of 12 is 1.4 mm, a quarter of the uncertainty of edges",
    )
    multiples: int = tuned(
        10,
        "1",
        "number of different multiples of a step between vertices that shows a grid",
        "lines drawn at regular places have fewer; common practice, no source",
    )
    spread: float = tuned(
        2.5,
        "1",
        "maximum 90th percentile of a walk's steps over their median",
        "outlines of a city's map, ten at a time: 3.7 and more; 800 simulated walks: 1.9 at most",
    )


PLAUSIBILITY = Plausibility()


@dataclass(frozen=True, repr=False, eq=False)
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
        "distance from the median time beyond which a time is none",
        "40 years: 1970, 1980 or the year 1 in place of a date; common practice, no source",
    )
    most: float = tuned(
        0.9,
        "1",
        "share of the numbers that must be digits of a date for all of them to be",
        _COMMON,
    )
    few: int = tuned(
        20,
        "1",
        "numbers, and different seconds among them, from which days and digits of a clock are"
        " told apart from seconds",
        "derivation: two in five of so many plain seconds would lie beyond 59",
    )
    most_days: float = tuned(
        3e6,
        "days",
        "maximum number of days: Julian days have 2.5 million",
        "derivation: Julian days are at 2.5 million",
    )
    day_step: float = tuned(
        0.004,
        "1",
        "median step below which numbers are days",
        "derivation: as seconds they would mean 250 epochs a second",
    )
    turn: float = tuned(
        3600.0, "s", "time around the beginning of a day or week that may be unrecorded", _COMMON
    )
    most_turns: int = tuned(
        60,
        "1",
        "maximum number of days or weeks that begin in one layer; more means another order of rows",
        _COMMON,
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


@dataclass(frozen=True, repr=False, eq=False)
class Accuracies:
    """Which values can be the accuracy of a fixed solution in metres."""

    few: int = tuned(8, "1", "second differences needed to estimate the scatter", _COMMON)
    poorest_fixed: float = tuned(
        0.5,
        "m",
        "1-sigma that no fixed solution reports in metres",
        "a fixed solution is good to centimetres; common practice, no source",
    )
    finest: float = tuned(
        5e-4,
        "m",
        "median 1-sigma below which the unit in the name of a field is doubted",
        "no receiver states less than a millimetre of a walk; common practice, no source",
    )
    ratio: float = tuned(
        20.0,
        "1",
        "accuracy over the scatter from epoch to epoch beyond which the unit is not metres",
        "derivation: millimetres give a thousand times, centimetres a hundred times the number",
    )
    beyond: float = tuned(
        1e7,
        "m",
        "accuracy from which a number can be none",
        "a quarter of a meridian, by which the metre was first defined: nothing on Earth is so far",
    )


ACCURACIES = Accuracies()


@dataclass(frozen=True, repr=False, eq=False)
class Heights:
    """Heights that no epoch of a walk can have."""

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
        0.5, "m", "median of the other heights beyond which a height of zero is none", _COMMON
    )
    few: int = tuned(
        3,
        "epochs",
        "heights in a block, or of zero, from which such blocks are sought",
        "derivation: one and two are found as height spikes",
    )
    least_step: float = tuned(
        1.0, "m", "step in height, beyond what the way explains, that nobody walks", _COMMON
    )
    climb: float = tuned(
        1.0,
        "m/s",
        "climb explained by the time between epochs, in addition to a metre per metre of way",
        "stairs, and lifts in streets; common practice, no source",
    )


HEIGHTS = Heights()


@dataclass(frozen=True, repr=False, eq=False)
class Walkers:
    """Captures that hold several simultaneous walks."""

    few: int = tuned(
        5, "1", "minimum number of epochs of a walk, and of steps that nobody walks", _COMMON
    )
    pace: float = tuned(3.0, "m/s", "greatest speed of a step", "a run; common practice, no source")
    margin: float = tuned(1.0, "m", "way allowed in addition, for noise and float epochs", _COMMON)
    jumps: float = tuned(
        0.2,
        "1",
        "share of steps that nobody walks from which a capture is examined",
        "derivation: of two walks at once every other step or more; spikes are fewer",
    )
    reach: int = tuned(
        8,
        "epochs",
        "number of following epochs to which one may be linked",
        "derivation: two or three walks, and a lost epoch or two of each",
    )
    waiting: float = tuned(
        0.3, "m/s", "way that a second of time counts for in finding the nearest epoch", _COMMON
    )
    pause: float = tuned(15.0, "s", "maximum time that a link spans", _COMMON)
    covered: float = tuned(
        0.9,
        "1",
        "share of a capture's epochs that must lie in walks for it to be split",
        "derivation: a fast vehicle links hardly any",
    )
    most_falls: float = tuned(
        0.02,
        "1",
        "share of rows where time falls beyond which the rows are not in order of time",
        _COMMON,
    )
    least_fall: float = tuned(
        1.5, "1", "fall of the clock, in intervals, that a late row does not explain", _COMMON
    )
    repeated: int = tuned(
        3, "epochs", "minimum number of times that recur after the clock was set back", _COMMON
    )


WALKERS = Walkers()


@dataclass(frozen=True, repr=False, eq=False)
class Copies:
    """Walks that are in a layer twice, with other times."""

    sampled: int = tuned(
        50_000, "epochs", "epochs of which all are looked at; of more, a part", _COMMON
    )
    few: int = tuned(20, "epochs", "copies that may be chance in coarse coordinates", _COMMON)
    same_shift: float = tuned(
        1.5, "s", "difference of shifts that are one", "derivation: coarse times differ by a second"
    )
    most: float = tuned(0.1, "1", "share of copies in a layer that is let pass", _COMMON)


COPIES = Copies()


@dataclass(frozen=True, repr=False, eq=False)
class Nmea:
    """Logs of NMEA 0183 sentences."""

    block: int = tuned(
        1 << 21,
        "bytes",
        "bytes read at once; bounds the memory",
        "memory: the arrays made from a block take about ten times as much",
    )
    longest: int = tuned(
        1024,
        "bytes",
        "maximum length of a sentence",
        "NMEA 0183 allows 82 (from memory); makers' own sentences are longer",
    )
    late: float = tuned(
        60.0,
        "s",
        "maximum time by which a sentence may be behind the one before; more is midnight",
        _BEFORE,
    )
    session: float = tuned(600.0, "s", "pause after which the date may differ", _COMMON)
    few_dates: int = tuned(5, "1", "sentences of one date that make it credible", _COMMON)
    share_of_dates: float = tuned(
        0.1, "1", "share of a session's dates that makes a date credible", _COMMON
    )
    dating_block: int = tuned(
        100_000, "epochs", "sentences dated at once; bounds the memory", _BOUNDS
    )


NMEA = Nmea()


@dataclass(frozen=True, repr=False, eq=False)
class Stream:
    """The stream of a capture: interval, spacing, noise, and the limits of gaps."""

    lost_epochs: float = tuned(
        3.5,
        "1",
        "intervals, or spacings, up to which a pause breaks no line",
        "derivation: one or two epochs may be lost inside a line, by a spike or a float epoch",
    )
    least_time_limit: float = tuned(
        2.0,
        "s",
        "minimum time limit of a gap",
        "streams faster than 2 Hz lose several epochs in an ordinary hiccup; common practice, no"
        " source",
    )
    least_distance_limit: float = tuned(2.0, "m", "minimum distance limit of a gap", CARRIED)
    interval: float = tuned(1.0, "s", "interval if no capture is long enough to show it", _COMMON)
    pace: float = tuned(
        1.2,
        "m/s",
        "pace if no capture is long enough to show it",
        "an adult's walk; common practice, no source",
    )
    noise: float = tuned(
        0.012,
        "m",
        "1-sigma across the line, wobble of the aim included, if there are too few epochs to"
        " estimate it",
        CARRIED,
    )
    noise_up_ratio: float = tuned(
        1.5,
        "1",
        "noise in height over noise in plan, if there are too few epochs to estimate it",
        CARRIED,
    )
    few: int = tuned(
        5, "epochs", "minimum number of values for the median of interval and spacing", CARRIED
    )
    few_for_long: int = tuned(
        20, "epochs", "minimum number of steps that show how long a stream's own are", _COMMON
    )
    even: float = tuned(
        1.5,
        "1",
        "step that one in eight exceeds, over the median, up to which a pace is even",
        "walks at one pace, 0.5 to 20 Hz, have 1.03 to 1.36, a quarter of those along real outlines"
        " at two metres an epoch 1.28 and more; crews that change pace 1.8, aims that sweep 2.1",
    )
    beyond: float = tuned(
        1.25,
        "1",
        "way of a step over the one that one in eight exceeds, from which it is no longer the"
        " stream's own",
        "steps of 0.1 to 2.5 m, evenly by their logarithm, where it is 1.5; limits as for the"
        " spacings of an even stream cover 4 % more, but draw twice as much over 0.10 m off",
    )
    few_for_noise: int = tuned(
        8, "epochs", "minimum number of values for the noise of the layer", CARRIED
    )
    least_noise: float = tuned(
        0.002, "m", "minimum noise: rounded coordinates would seem perfect", CARRIED
    )
    same_height: float = tuned(
        0.0002,
        "m",
        "difference up to which coordinates are equal; the smallest greater one that recurs is"
        " their rounding step",
        "derivation: less than the last digit that receivers give",
    )
    recurring: int = tuned(
        3,
        "1",
        "number of smallest steps that must be alike to be a rounding step",
        "a single outlier steps out and back: two",
    )
    same_step: float = tuned(
        1.1, "1", "ratio up to which two steps are alike", "a grid over a whole layer; own choice"
    )
    row: float = tuned(
        100.0,
        "1",
        "length of a row of a coarse grid, in its cells, over which its positions count as one",
        "straight walks at 1 Hz on grids of 0.05 and 0.11 m come out as one line in any direction;"
        " 50 does so too, but makes edges of own shapes on 0.11 m 4 % worse",
    )
    told_in_row: float = tuned(
        8.0,
        "positions",
        "maximum number that those of a shorter row count as",
        "20 straight walks at 8 Hz and 0.02 rad on 0.11 m: 147 edges without, 20 with it; 4 makes"
        " edges along outlines at 8 Hz 11 % worse",
    )
    most_sharing: float = tuned(
        64.0,
        "positions",
        "maximum number that count as one, since they share a rounding error",
        "derivation: ten positions on either side of a slip of 15 sigmas then still contradict it",
    )
    odd_step: float = tuned(
        0.05,
        "1",
        "share of the smallest step by which others may miss its multiples",
        "nine in ten of continuous values miss them by more; own choice",
    )
    odd_share: float = tuned(
        0.1, "1", "share of the steps that may miss the multiples", "own choice"
    )
    moving_pace: float = tuned(0.2, "m/s", "pace above which a step counts as moving", CARRIED)
    moving_step: float = tuned(0.02, "m", "step above which it counts as moving", CARRIED)
    uneven: float = tuned(
        0.3,
        "1",
        "difference of neighbouring steps over their chord up to which the four-point cubic"
        " applies",
        CARRIED,
    )
    layer_values: float = tuned(
        20.0,
        "epochs",
        "number of values that the layer's noise counts for in the mean with a capture's own",
        "a median of a few values is itself uncertain; " + CARRIED,
    )
    most_ratio: float = tuned(
        2.0, "1", "maximum ratio of a capture's noise to the layer's, either way", CARRIED
    )
    memory_time: float = tuned(
        1.0,
        "s",
        "time after which the noise of aim and receiver is independent, apart from the slow error",
        "walks along real outlines at 2, 4 and 8 Hz, tuning half: noise with a memory of half a"
        " second",
    )
    memory_way: float = tuned(
        0.7,
        "m",
        "way after which it is measured if that takes less time: farther apart, corners and bends"
        " pass for noise",
        "walks along real outlines, tuning half: at 20 Hz and 2 m/s edges have 0.93, 0.80, 0.80 and"
        " 0.77 of raw without, with 0.8, 0.7 and 0.5, at 10 Hz and 1.4 m/s 0.74, 0.74, 0.70 and"
        " 0.70; with less, bands of slower walks whose noise has a memory of 3 s hold less",
    )
    window: int = tuned(
        8,
        "1",
        "windows in which the memory is measured, in units of the epochs in a second",
        "long compared with the memory, short compared with sides of real outlines; own choice",
    )
    window_interval: float = tuned(
        1.5,
        "s",
        "interval from which no windows are looked at",
        "derivation: a memory of half a second has left a twentieth of itself; at 1 Hz an eighth",
    )
    window_lags: int = tuned(
        6, "1", "number of lags: an eighth, a quarter... of a second up to four", "half a window"
    )
    short_octaves: int = tuned(
        3, "1", "number of these lags that are shorter than a second", "from an eighth on"
    )
    window_time_ratio: float = tuned(
        1.05, "1", "maximum time of a window over that of its intervals", "a few lost epochs"
    )
    window_headway: float = tuned(
        0.5,
        "1",
        "minimum way of a window over that of its spacings",
        "standing still shows less noise",
    )
    window_sigmas: float = tuned(
        1.1,
        "sigma",
        "maximum RMS of the residuals of a window across, in the noise",
        _MEMORY + ", and at 20 Hz; 0.8 to 1.5 times the noise of bends of some metres' radius",
    )
    window_sigmas_plan: float = tuned(
        2.5,
        "sigma",
        "maximum RMS of the residuals across of a window of heights: grades change where a walk"
        " turns",
        "as `window_sigmas_up`; walks along real outlines, tuning half, 0.5 to 2 m/s: 1.5 finds the"
        " same memories, none twice that of heights at 2 m/s",
    )
    window_sigmas_up: float = tuned(
        2.5,
        "sigma",
        "maximum RMS of the residuals of a window in height, where only dropped curbs bend",
        _MEMORY,
    )
    fastest: int = tuned(
        64, "Hz", "maximum number of epochs between the neighbours that measure noise", _MEMORY
    )
    lag_time_ratio: float = tuned(
        1.2, "1", "maximum time between neighbours over that of their intervals", _MEMORY
    )
    lag_step: float = tuned(0.05, "m", "minimum way to a neighbour", _MEMORY)
    lag_uneven: float = tuned(
        0.5, "1", "maximum difference of the ways to both neighbours over their chord", _MEMORY
    )
    growth: float = tuned(
        1.5,
        "1",
        "maximum noise between neighbours a second away over that between next neighbours, in roots"
        " of the ratio of times; more is curvature",
        "derivation: 1 for a random walk, less for noise with a memory; walks along real outlines"
        " at 4 to 20 Hz reach 1.3 (19 of 20 captures, tuning half), and 1.2 makes those at 2 Hz 1 %"
        " worse",
    )
    clear_sigmas: float = tuned(
        7.0,
        "sigma",
        "way, in the noise of the stream, that shows whether and where the walk goes on; faster"
        " streams are judged from every second epoch, every third...",
        "walks along real outlines at 20 Hz, tuning half; those at 8 Hz and a metre a second take"
        " every epoch",
    )
    telling_rate: float = tuned(
        8.0,
        "Hz",
        "rate beyond which more epochs do not make elements surer, since they share their noise",
        "walks along real outlines at 20 Hz, tuning half: 0.64 of raw at 10, 8 and 6 Hz, 0.66 at"
        " 4 Hz, 0.67 with none; 8 Hz itself 0.63, and 0.64 with 6",
    )
    least_memory: float = tuned(0.05, "s", "minimum time constant that is tried", _MEMORY)
    most_memory: float = tuned(6.0, "s", "maximum time constant that is tried", _MEMORY)
    memory_steps: int = tuned(
        25, "1", "number of time constants, and of shares of the variance, that are tried", _MEMORY
    )
    nominal_memory: float = tuned(0.5, "s", "prior time constant of the memory", _SIMULATED)


STREAM = Stream()


_SIDES = "walks along real outlines (tuning half, 0.7 to 4 Hz) and trial sets 26 to 37"


@dataclass(frozen=True, repr=False, eq=False)
class ShortSides:
    """Counts of the certain short sides and the certain gross errors in a layer."""

    off: float = tuned(
        0.15,
        "m",
        "distance from both legs, and from the curve through its neighbours, of epochs that are"
        " counted",
        _SIDES + "; 0.25 separates the two kinds of layers less well",
    )
    sigmas: float = tuned(
        6.0, "sigma", "minimum of that distance in the noise", "as `SCREENING.spike_sigmas`"
    )
    bent_share: float = tuned(
        0.4,
        "1",
        "share of that distance by which the middle one of three epochs may lie off its leg",
        _SIDES,
    )
    least_step: float = tuned(0.3, "spacings", "minimum step between the epochs of a leg", _SIDES)
    onward: float = tuned(
        14.0, "degrees", "difference of directions up to which one leg continues the other", _SIDES
    )
    headway: float = tuned(
        0.85,
        "1",
        "ratio of the way past to the way expected at the pace, from which no time was spent on"
        " a detour",
        _SIDES + ": 0.98 to 1.15 past nine gross errors in ten",
    )
    usual: float = tuned(
        1.1,
        "1",
        "prior ratio of short sides to gross errors",
        "walks along real outlines, tuning half, seeds 1 to 3 at 1 Hz: 1.1 to 1.6",
    )
    mistaken: float = tuned(
        0.2,
        "1",
        "share of gross errors that look like short sides beside corners",
        "trial sets 26 to 31, which have no short sides: 32 to 162",
    )
    unknown: float = tuned(
        0.5, "gross errors", "number of gross errors that the prior ratio counts for", _SIDES
    )
    most: float = tuned(
        8.0, "sigma2", "maximum evidence for gross errors that a layer gives", _SIDES
    )


SHORT_SIDES = ShortSides()


_BENDS = "walks along real outlines (tuning half, seeds 1 and 2)"


@dataclass(frozen=True, repr=False, eq=False)
class Bends:
    """Epochs far off the cubic through their neighbours, which tell how common corners and bends
    are in a layer."""

    sigmas: float = tuned(
        2.5, "sigma", "distance from the cubic in the noise of the capture", _BENDS + "; not varied"
    )
    few: float = tuned(
        0.07,
        "1",
        "share of such epochs up to which nothing changes; also the prior share",
        "trial sets 3, 26, 27 and 30, and the sample project: 0.03 to 0.05",
    )
    many: float = tuned(
        0.12,
        "1",
        "share of such epochs from which corners and bends are common",
        _BENDS + ": 0.14 at 1 Hz, 0.16 and 0.17 at 8 and 2 Hz",
    )
    unknown: float = tuned(
        1000.0,
        "epochs",
        "number of epochs that the prior share counts for",
        "a few captures of corners alone, among shapes that have few, must not tell; not varied",
    )
    noise: float = tuned(
        0.7,
        "1",
        "factor on sigmas where corners and bends are common",
        _BENDS + ": 1, 0.7, 0.6 and 0.5 give 0.94, 0.84, 0.82 and 0.81 of raw without doubtful"
        " stretches, and 10.8, 12.8, 13.6 and 15.0 % doubtful",
    )
    interval: float = tuned(
        0.5,
        "s",
        "time between epochs below which the factor is nearer to 1",
        "walks along real outlines (tuning half, 60 outlines): better by the whole factor at 2 Hz,"
        " at 8 Hz by a third of it only",
    )
    memory_power: float = tuned(
        0.3,
        "1",
        "power of the factor of correlated noise on variances where bends are few and streams fast",
        "generated streets and one published layer of surfaces at 8 Hz, seeds 1 and 2: straights"
        " have 0.51, 0.43, 0.40 and 0.40 of raw with 0, 0.3, 0.6 and 1, blocks 0.54, 0.52, 0.52"
        " and 0.58; at 2 Hz it is worse by 0.01",
    )


BENDS = Bends()


@dataclass(frozen=True, repr=False, eq=False)
class Memory:
    """Correlated noise and lack of fit, estimated from residuals of fast streams."""

    farthest: float = tuned(
        2.0,
        "1",
        "maximum lag of the differences, in seconds",
        "derivation: at four times the time constant a hundredth is left of the correlation",
    )
    longer: float = tuned(
        3.0,
        "1",
        "minimum ratio of an element's epochs to the lag",
        "shorter elements have absorbed part of the noise; 3 and 6 give bands alike to 0.2 %, "
        + _MEMORY,
    )
    log_variance: float = tuned(
        5.4,
        "1",
        "variance of the logarithm of a variance estimated from a median, for one independent"
        " value",
        "derivation: the median has 37 % of the efficiency of the mean square, 2 / 0.37",
    )
    log_time_sigma: float = tuned(
        0.7,
        "1",
        "1-sigma of the logarithm of a layer's time constant about the nominal one",
        "a factor of two either way; 0.4 gives bands alike to 0.1 %, " + _MEMORY,
    )
    nominal_share: float = tuned(
        0.7, "1", "prior share of the noise that is correlated", _SIMULATED
    )
    share_sigma: float = tuned(
        1.0,
        "1",
        "1-sigma of a layer's share about the nominal one, so wide that a few seconds of data"
        " decide",
        "own choice",
    )
    log_time_spread: float = tuned(
        0.4, "1", "1-sigma of the logarithm of a capture's time constant about its layer's", _MEMORY
    )
    share_spread: float = tuned(
        0.3, "1", "1-sigma of a capture's correlated share about its layer's", _MEMORY
    )
    prior_values: float = tuned(
        5.0,
        "1",
        "number of differences of residuals that the noise from chords counts for in the mean"
        " with theirs",
        "chords hold bends: along real outlines at 1 Hz, tuning half, 14.5 mm where 11.3 are"
        " simulated; with 20 bands by stations there hold 93.3 %, with 5 93.6",
    )
    unseen: float = tuned(
        2.5,
        "1",
        "what chains are off the truth beyond noise, over what their residuals show of it, in"
        " variances: bends lie between epochs as well, and other chains were nearly as good",
        "walks along real outlines, tuning half: 1.9, 2.2, 1.6 and 3 at 1, 2, 4 and 8 Hz; with 2"
        " and 3 bands by stations at 1 Hz hold 93.1 and 93.6 %",
    )
    least_lack: float = tuned(1e-8, "m2", "lack of fit that counts as none", "a numerical guard")
    most_share: float = tuned(
        0.96,
        "1",
        "maximum share of the noise that is correlated",
        "each position has some noise of its own",
    )
    together: int = tuned(64, "1", "captures tried at once; bounds the memory", _BOUNDS)
    forgotten: float = tuned(
        1e-6, "1", "correlation that counts as zero", "derivation: it changes no sixth digit"
    )


MEMORY = Memory()


@dataclass(frozen=True, repr=False, eq=False)
class Screening:
    """Spikes in plan and in height: how far off an epoch must be, and what is tested again."""

    spike_sigmas: float = tuned(
        6.0, "sigma", "distance from all predictions beyond which an epoch is a spike", CARRIED
    )
    least_spike: float = tuned(0.10, "m", "minimum of that distance", CARRIED)
    least_height_spike: float = tuned(
        0.15,
        "m",
        "minimum height difference of a height spike",
        "a dropped curb of that height takes several epochs to go down; " + CARRIED,
    )
    height_rounds: int = tuned(3, "1", "rounds in which height spikes are sought", CARRIED)
    height_pause: float = tuned(
        2.0, "1", "pause, in time limits, up to which heights of neighbours are compared", CARRIED
    )
    still_sigmas: float = tuned(
        4.0, "sigma", "step below which the walk stood still and has no direction", CARRIED
    )
    least_still: float = tuned(0.05, "m", "minimum of that step", CARRIED)
    reach: int = tuned(
        8,
        "epochs",
        "epochs on either side of a spike that are tested again without it",
        "a test shows that more change nothing; " + CARRIED,
    )
    many_repeats: float = tuned(
        0.25,
        "1",
        "share of epochs with the time of another one beyond which the log says so",
        _COMMON,
    )
    context: int = tuned(
        6,
        "epochs",
        "epochs beyond `reach` that are included, so that the end of a cut-out does not pass for"
        " the end of a stretch",
        CARRIED,
    )
    block: int = tuned(250_000, "epochs", "epochs screened at once; bounds the memory", _BOUNDS)
    prediction_sigmas: float = tuned(
        1.3,
        "sigma",
        "noise of an epoch's distance from its predictions, in that of one observation",
        "a prediction from four neighbours is itself uncertain; " + CARRIED,
    )


SCREENING = Screening()


@dataclass(frozen=True, repr=False, eq=False)
class Spikes:
    """The individual tests for spikes. A floor is the smallest distance that can be a spike."""

    hidden_turn: float = tuned(
        0.25,
        "1",
        "share of the turn at an epoch that a neighbouring turn must reach, where a corner hides"
        " the other one",
        CARRIED,
    )
    detour: float = tuned(
        1.25,
        "1",
        "minimum ratio of the way over the epoch to the way past it, next to a corner",
        CARRIED,
    )
    cubic_way: float = tuned(
        3.0,
        "1",
        "way past an epoch, in steps of standing still, from which the cubic counts",
        CARRIED,
    )
    long_step: float = tuned(1.5, "1", "nominal steps beyond which a step is long", CARRIED)
    long_step_more: float = tuned(0.3, "m", "what such a step must exceed in addition", CARRIED)
    flung: float = tuned(
        4.0,
        "1",
        "distance across, in floors, of an epoch flung out between two long steps",
        CARRIED,
    )
    flung_return: float = tuned(
        0.75, "1", "maximum way past such an epoch over the shorter of its two steps", CARRIED
    )
    calm: float = tuned(
        0.5,
        "1",
        "distance from the chord, in floors, allowed for the neighbours of a single spike",
        CARRIED,
    )
    led: float = tuned(
        0.35, "1", "share of a spike's size by which the last epoch may miss the aim", CARRIED
    )
    least_end: float = tuned(
        0.15, "m", "minimum distance of a spike at the end of a stretch", CARRIED
    )
    least_block: float = tuned(
        0.20, "m", "minimum distance across of epochs displaced together", CARRIED
    )
    block_floors: float = tuned(1.5, "1", "minimum of that distance in floors", CARRIED)
    block_left_over: float = tuned(
        0.35, "1", "share of the step in that the step back may leave over", CARRIED
    )
    block_slack: float = tuned(0.5, "1", "floors allowed in addition to that share", CARRIED)
    block_turn: float = tuned(
        50.0,
        "degrees",
        "maximum turn around such a block, so that square corners do not count",
        CARRIED,
    )
    end_turn: float = tuned(
        30.0, "degrees", "maximum turn between the steps around a pair at an end", CARRIED
    )
    end_pace: float = tuned(
        1.12,
        "1",
        "minimum pace of the step to the end over that of the step before",
        "round a corner the step is shorter, to a spike it is longer; " + CARRIED,
    )
    pace_slack: float = tuned(0.05, "1", "nominal paces added in such comparisons", CARRIED)
    lone: float = tuned(
        1.5,
        "1",
        "ratio of the time before an end to the time before that, from which an epoch was lost",
        CARRIED,
    )
    end_rest: float = tuned(
        0.5, "1", "share of the end's distance by which the epoch before it may be off", CARRIED
    )
    stride: float = tuned(1.25, "1", "ratio of a stride to the longest step around it", CARRIED)
    least_stride: float = tuned(
        0.3, "m", "minimum distance from the segment of what lies between two strides", CARRIED
    )
    standing_pace: float = tuned(
        0.35,
        "1",
        "share of the nominal pace below which the steps around show nothing of the walk",
        CARRIED,
    )
    stride_past: float = tuned(
        1.1, "1", "maximum way past the block over that number of steps", CARRIED
    )
    against: float = tuned(
        0.7, "1", "cosine of the angle at which a step runs against another", CARRIED
    )
    against_still: float = tuned(
        2.0, "1", "minimum of such a step, in steps of standing still", CARRIED
    )
    jump: float = tuned(1.4, "1", "nominal steps that the other step must exceed", CARRIED)


SPIKES = Spikes()


@dataclass(frozen=True, repr=False, eq=False)
class HeightEvidence:
    """Evidence of heights for gross errors of the aim: twice log-likelihood ratios."""

    other: float = tuned(
        6.0,
        "sigma2",
        "evidence of a height that deviates",
        "derivation: 2 ln(0.4 / 0.02). The ground next to a curb is lower or higher by the"
        " curb's face (0.1 to 0.15 m), and a tilt of pole or aim changes the height: assume that"
        " two gross errors in five show, and one good epoch in fifty. Common practice, no source",
    )
    same: float = tuned(
        -1.0,
        "sigma2",
        "evidence of a height in line with its neighbours",
        "derivation: 2 ln(0.6 / 0.98), with the shares of `other`",
    )
    telling: float = tuned(3.0, "sigma2", "evidence that alone makes an epoch a candidate", CARRIED)
    in_line: float = tuned(
        3.0, "sigma", "height difference up to which the evidence is `same`", CARRIED
    )
    off_line: float = tuned(
        6.0, "sigma", "height difference from which the evidence is `other`", CARRIED
    )
    slope: float = tuned(
        0.05, "m/m", "grade assumed where heights are known on one side only", CARRIED
    )
    most_rise: float = tuned(0.5, "m", "maximum rise by that grade", CARRIED)
    extrapolated: float = tuned(
        1.9,
        "1",
        "noise of a height difference from an extrapolation over three, in that of one height",
        "derivation: sqrt(1 + 1.5**2 + 0.5**2)",
    )


HEIGHT_EVIDENCE = HeightEvidence()


@dataclass(frozen=True, repr=False, eq=False)
class Standing:
    """Epochs taken while standing still, and the part of the noise that does not average out."""

    extent: float = tuned(
        0.15, "m", "a group of epochs that creeps farther than this is cut", CARRIED
    )
    radius_sigmas: float = tuned(
        4.0, "sigma", "step up to which two epochs are at one place, over sqrt(2)", CARRIED
    )
    least_radius: float = tuned(0.06, "m", "minimum of that step", CARRIED)
    spacing_share: float = tuned(
        0.4, "1", "maximum of that step over the spacing of the walk", CARRIED
    )
    rounds: int = tuned(
        2,
        "1",
        "rounds of grouping",
        "the second with the means, which are surer than single epochs",
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
        "share of the reported variance that is constant over a minute, and so does not show in"
        " residuals",
        _COMMON,
    )
    correlated_sigma: float = tuned(
        0.005, "m", "1-sigma of that error in plan if none is reported", _COMMON
    )
    correlated_sigma_up: float = tuned(
        0.008, "m", "1-sigma of that error in height if none is reported", _COMMON
    )


STANDING = Standing()


@dataclass(frozen=True, repr=False, eq=False)
class Occupations:
    """Spot points from epochs taken standing still."""

    still_pace: float = tuned(
        0.3,
        "m/s",
        "pace up to which the receiver stands still",
        "a slow walk is twice as fast; " + _COMMON,
    )
    still_step: float = tuned(
        0.03,
        "m",
        "step up to which it stands still, however short the interval",
        "what noise makes of standing; " + _BEFORE,
    )
    spike_limit: float = tuned(
        3.44,
        "sigma",
        "distance from the median in plan beyond which an epoch is a gross error",
        "root of the 99.7 % quantile of chi-square with two degrees of freedom, as 3 sigma in one",
    )
    height_limit: float = tuned(
        3.0,
        "sigma",
        "distance from the median in height beyond which an epoch is a gross error",
        "99.7 % of the normal distribution",
    )
    least_scale: float = tuned(
        0.005,
        "m",
        "minimum scale in plan: with equal values any other one would be a gross error",
        _BEFORE,
    )
    least_scale_up: float = tuned(0.008, "m", "minimum scale in height", _BEFORE)
    small_sample: float = tuned(
        2.0,
        "epochs",
        "limits are widened by this over the number of epochs",
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
        "degrees of freedom that the layer's scatter counts for in the mean with a point's own",
        _BEFORE,
    )
    mostly: float = tuned(
        0.8, "1", "share of a run's epochs from which it is a stop, not a stop on a walk", _BEFORE
    )
    least_on_the_way: int = tuned(
        3, "epochs", "minimum number of epochs of a stop on a walk", _BEFORE
    )
    astray: int = tuned(3, "epochs", "epochs in a row elsewhere that do not end a stop", _BEFORE)
    few_steps: int = tuned(
        20,
        "1",
        "minimum number of steps between epochs that show a grid of rounding",
        "the smallest of so many continuous values is small; own choice",
    )


OCCUPATIONS = Occupations()


# --- alignment ----------------------------------------------------------------------------------

BY_SPEED = "carried over; chosen by the time and memory that a million epochs take"
NUMERICAL = "a numerical guard, carried over"


@dataclass(frozen=True, repr=False, eq=False)
class Rejection:
    """What counts as an outlier of the aim, in all stages that look for one."""

    sigmas: float = tuned(
        6.0, "sigma", "distance from the line below which no position is an outlier", CARRIED
    )
    min_distance: float = tuned(
        0.08, "m", "minimum of that distance, however small the noise seems to be", CARRIED
    )
    penalty: float = tuned(
        10.0,
        "sigma2",
        "what a position must cost to be rejected",
        _TRIALS,
    )
    explained: float = tuned(
        3.0,
        "sigma",
        "RMS of an element's other positions beyond which the element is wrong, not one position",
        CARRIED,
    )
    neighbour_factor: float = tuned(
        2.5, "1", "ratio of an outlier's distance to those of both neighbours", CARRIED
    )
    confirming_run: int = tuned(
        8,
        "epochs",
        "positions of a run from which its ends are judged",
        _TRIALS,
    )


REJECTION = Rejection()


@dataclass(frozen=True, repr=False, eq=False)
class Search:
    """Dynamic programme over spans of positions; elements need not join."""

    span_lengths: tuple = tuned(
        (*range(1, 13), 14, 16),
        "epochs",
        "numbers of positions in one span of the search; longer elements are found by merging",
        CARRIED,
    )
    block: int = tuned(
        128,
        "epochs",
        "positions searched as one chain; spans across a block's end are found by merging",
        BY_SPEED,
    )
    tangent_penalty: float = tuned(
        10.0, "sigma2", "what one more tangent must explain (minimum description length)", CARRIED
    )
    arc_penalty: float = tuned(14.0, "sigma2", "what one more arc must explain", CARRIED)
    element_noise: float = tuned(
        1.15,
        "1",
        "factor on sigmas: white noise alone leaves out the drift that neighbours share",
        CARRIED,
    )
    min_radius: float = tuned(0.5, "m", "default minimum radius of arcs", CARRIED)
    max_radius: float = tuned(400.0, "m", "default maximum radius of arcs", CARRIED)
    min_saving: float = tuned(
        1e-6, "sigma2", "saving below which elements are not merged", NUMERICAL
    )
    tie: float = tuned(
        1e-7, "sigma2", "spread added to equal savings, so that every other one is taken", NUMERICAL
    )
    max_merged: int = tuned(3, "1", "maximum number of neighbouring elements tried as one", CARRIED)
    merge_rounds: int = tuned(24, "1", "maximum number of rounds of merging", NUMERICAL)
    good_enough: float = tuned(
        1.0,
        "sigma",
        "standard deviations of chi-square up to which a tangent fits so well that no arc is tried",
        "saves time; " + CARRIED,
    )
    summed_together: int = tuned(
        3 << 13,
        "epochs",
        "positions whose moments are summed at once: more exceed the processor's caches",
        BY_SPEED,
    )
    searched_together: int = tuned(
        1 << 16, "epochs", "positions searched at once; bounds the memory", BY_SPEED
    )
    lengths_together: int = tuned(
        2, "1", "number of span lengths whose arcs are tried at once", BY_SPEED
    )
    window: int = tuned(
        10, "epochs", "positions on either side that decide on a doubtful one", CARRIED
    )
    windows_together: int = tuned(
        1600, "1", "windows searched at once; bounds the memory", BY_SPEED
    )
    max_between: int = tuned(
        5, "epochs", "maximum number of positions between two elements that may be one", CARRIED
    )
    max_in_one: int = tuned(
        2, "epochs", "maximum number of positions in each element between these two", CARRIED
    )
    circle_rounds: int = tuned(12, "1", "steps of a geometric circle fit", NUMERICAL)
    circle_damping: float = tuned(
        1e-9, "1", "first relative damping of a geometric circle fit", NUMERICAL
    )
    circle_damping_floor: float = tuned(
        1e-12, "1", "minimum damping of a geometric circle fit", NUMERICAL
    )
    circle_easing: float = tuned(
        10.0, "1", "divisor of the damping of a circle fit after a successful step", NUMERICAL
    )
    circle_stiffening: float = tuned(
        100.0, "1", "factor on that damping after a failed step", NUMERICAL
    )
    circle_damping_failed: float = tuned(
        1e-6, "1", "minimum damping after a failed step", NUMERICAL
    )

    @property
    def radii(self):
        """Least and greatest radius, m."""
        return self.min_radius, self.max_radius


SEARCH = Search()


@dataclass(frozen=True, repr=False, eq=False)
class Chain:
    """Penalties of elements and joints, and where joints may lie."""

    parameter_penalty: float = tuned(
        6.0,
        "sigma2",
        "penalty of one free parameter, which it must explain to be accepted",
        "found on trial sets; before changing it, run sets 1 to 25, and again after",
    )
    shallow_angle: float = tuned(
        math.radians(8.0),
        "rad",
        "deflection below which a corner of two tangents is shallow",
        CARRIED,
    )
    shallow_penalty: float = tuned(10.0, "sigma2", "penalty of a shallow corner", CARRIED)
    unmet_penalty: float = tuned(
        16.0, "sigma2", "penalty of two elements that do not meet near their positions", CARRIED
    )
    sharp_penalty: float = tuned(
        5.0, "sigma2", "penalty of a corner at an arc, which usually joins tangentially", CARRIED
    )
    first_corner: float = tuned(
        math.radians(30.0),
        "rad",
        "deflection beyond which a joint of an arc starts as a corner",
        CARRIED,
    )
    max_corner: float = tuned(
        math.radians(165.0),
        "rad",
        "maximum deflection of a corner: sides that turn back have no definite intersection",
        CARRIED,
    )
    slack: float = tuned(0.10, "m", "how far positions may lie beyond their joint", CARRIED)
    slack_of_step: float = tuned(
        0.25, "1", "share of the step between the two positions that is added to that", CARRIED
    )
    detour: float = tuned(
        1.8, "1", "maximum way by a corner between two positions over their distance", CARRIED
    )
    detour_slack: float = tuned(0.3, "m", "what is added to that way", CARRIED)
    corner_rest: float = tuned(1e-9, "m", "Newton step below which a corner is at rest", NUMERICAL)
    corner_rounds: int = tuned(6, "1", "Newton steps to a corner", NUMERICAL)
    corners_moving: float = tuned(
        0.7,
        "1",
        "share of corners still moving below which only these are worked on",
        "by speed: results are the same whatever it is",
    )
    corner_step: float = tuned(5.0, "m", "maximum Newton step to a corner", NUMERICAL)
    corner_sine: float = tuned(
        1e-4, "1", "minimum sine of the angle between two elements in a Newton step", NUMERICAL
    )
    corner_miss: float = tuned(
        1e-6, "m", "maximum distance of a corner from its two elements", NUMERICAL
    )
    min_corner_sine: float = tuned(
        0.01, "1", "minimum sine of the angle between two elements that meet in a corner", CARRIED
    )
    reach: int = tuned(
        3, "epochs", "positions on either side of a joint that may change their element", CARRIED
    )
    keep_bound: float = tuned(
        0.01,
        "epochs",
        "preference for the old bound, in positions on the wrong side per position moved",
        NUMERICAL,
    )


CHAIN = Chain()


_SIFTED = "tuning half of the outlines, seeds 1 and 2: cost found and time"


@dataclass(frozen=True, repr=False, eq=False)
class LocalSearch:
    """Moves of the local search."""

    rounds: int = tuned(3, "1", "rounds of the local search", CARRIED)
    together: int = tuned(
        30_000, "elements", "elements of proposals compared at once; bounds the memory", BY_SPEED
    )
    min_saving: float = tuned(0.01, "sigma2", "saving below which no move is made", NUMERICAL)
    first_steps: tuple = tuned(
        (1, 0, 0),
        "1",
        "maximum steps of a proposal's adjustment in each stage before positions are reassigned",
        _SIFTED,
    )
    last_steps: tuple = tuned((0, 1, 1), "1", "the same after that", _SIFTED)
    behind: float = tuned(
        5.0,
        "sigma2",
        "how much less than nothing, and than the best one beside it, a proposal may save then",
        _SIFTED,
    )
    behind_of_cost: float = tuned(
        0.5,
        "1",
        "share of the cost now by which this margin grows",
        "0.25 and 1 take as long along outlines, but 0.25 leaves a line 0.25 m off along generated"
        " bends at 2 Hz (0.99 in place of 0.63 of raw, seed 1)",
    )
    shared: int = tuned(
        8,
        "epochs",
        "maximum number of positions of a short element, which may be divided or change its kind",
        CARRIED,
    )
    undecided: int = tuned(
        2,
        "epochs",
        "number of positions up to which tangent and arc fit alike",
        "two points fit either",
    )
    may_be_arc: float = tuned(
        40.0,
        "sigma2",
        "excess of a tangent's sum over that of the arc expected, up to which the arc is tried",
        "rather too many than too few; " + CARRIED,
    )
    may_be_arc_factor: float = tuned(
        4.0, "1", "multiple of the tangent's own sum that is added to that", CARRIED
    )
    far_bound: int = tuned(
        3, "epochs", "maximum shift of a bound into the longer of two elements", CARRIED
    )
    near_bound: int = tuned(
        2, "epochs", "maximum shift of a bound between two new tangents, either way", CARRIED
    )
    corner_arc: tuple = tuned(
        (1, 2), "epochs", "positions on either side that an arc instead of a corner takes", CARRIED
    )


LOCAL_SEARCH = LocalSearch()


@dataclass(frozen=True, repr=False, eq=False)
class Fit:
    """Reweighting, free forms, and confirmed runs."""

    robust_rounds: int = tuned(2, "1", "rounds of reweighting", CARRIED)
    free_form_penalty: float = tuned(
        4.0,
        "sigma2",
        "by how much elements that need not join must explain a stretch better to make it a free"
        " form",
        CARRIED,
    )
    free_form_positions: int = tuned(
        6, "epochs", "minimum number of positions of a free-form stretch", CARRIED
    )
    anchor: int = tuned(
        10, "epochs", "positions from which a tangent is certain, whatever lies next to it", CARRIED
    )
    confirmed_run: int = tuned(
        6,
        "epochs",
        "positions from which a run is an edge, whatever its elements",
        _TRIALS,
    )
    together: int = tuned(
        300_000, "epochs", "positions fitted at once; bounds the memory", BY_SPEED
    )


FIT = Fit()


@dataclass(frozen=True, repr=False, eq=False)
class Adjustment:
    """Damped Gauss-Newton steps of the joint least squares."""

    joint_sigmas: tuple = tuned(
        (1e-3, 1e-4, 1e-5),
        "m",
        "1-sigma of tangential joints, stage by stage: with stiff joints from the start, steps"
        " stay small",
        CARRIED,
    )
    cold_rounds: tuple = tuned(
        (4, 2, 1), "1", "maximum number of steps in each stage, from first estimates", CARRIED
    )
    warm_rounds: tuple = tuned(
        (0, 1, 1), "1", "maximum number of steps in each stage, if little has changed", CARRIED
    )
    covariance_joint_sigma: float = tuned(
        1e-4, "m", "1-sigma of tangential joints in covariances", NUMERICAL
    )
    max_turn: float = tuned(0.3, "rad", "maximum turn of an element in one step", CARRIED)
    max_shift: float = tuned(1.0, "m", "maximum shift of an element in one step", CARRIED)
    max_curvature_factor: float = tuned(
        2.0, "1", "maximum factor on a curvature in one step, either way", CARRIED
    )
    at_rest: float = tuned(
        1e-9, "1", "relative change of the sum at which a group has converged", NUMERICAL
    )
    first_damping: float = tuned(
        1e-4,
        "1",
        "first damping, for unknowns scaled to a unit diagonal",
        "Marquardt 1963 for the scaling; a numerical guard, carried over",
    )
    min_damping: float = tuned(
        1e-9, "1", "minimum damping, for what positions do not determine", NUMERICAL
    )
    max_damping: float = tuned(
        1e4, "1", "damping beyond which a group counts as converged", NUMERICAL
    )
    damping_factor: float = tuned(
        10.0, "1", "factor on the damping after each step", "Marquardt 1963"
    )
    few_active: float = tuned(
        0.7, "1", "share of groups still moving below which only these are worked on", BY_SPEED
    )
    min_curvature: float = tuned(1e-4, "1/m", "default minimum curvature of an arc", NUMERICAL)
    max_curvature: float = tuned(4.0, "1/m", "default maximum curvature of an arc", NUMERICAL)
    covariance_damping: tuple = tuned(
        (1e-9, 1e-6), "1", "relative and absolute damping that makes covariances exist", NUMERICAL
    )


ADJUSTMENT = Adjustment()


@dataclass(frozen=True, repr=False, eq=False)
class Sampling:
    """Positions made from vertices of edges or from epochs."""

    panel: float = tuned(
        5.0, "m", "length of segments beyond which they are sampled in several pieces", CARRIED
    )
    independent: float = tuned(
        2.0,
        "m",
        "length of an edge that counts as one observation: nearer places err alike",
        CARRIED,
    )
    max_observations: float = tuned(
        0.5,
        "1",
        "maximum number of observations in one piece: a chord of an arc errs alike along its"
        " length",
        CARRIED,
    )
    min_weight: float = tuned(1e-3, "1", "minimum weight of a sample", NUMERICAL)
    closed_within: float = tuned(
        0.001, "m", "distance up to which first and last vertex make a ring", CARRIED
    )
    ring_steps: float = tuned(1.5, "1", "maximum gap of a ring of epochs in typical steps", CARRIED)
    ring_length: float = tuned(
        6.0, "1", "minimum length of a ring of epochs in typical steps, or in gaps", CARRIED
    )
    ring_epochs: int = tuned(5, "epochs", "number of epochs that a ring must exceed", CARRIED)
    min_noise: float = tuned(
        0.001, "m", "minimum 1-sigma of white noise; a receiver resolves no more", CARRIED
    )
    default_noise: float = tuned(
        0.01, "m", "1-sigma of white noise if there are too few epochs to estimate it", CARRIED
    )
    few: int = tuned(8, "epochs", "minimum number of differences for an estimate of noise", CARRIED)
    even_steps: float = tuned(
        1.6, "1", "ratio of steps up to which five neighbours are evenly spaced", CARRIED
    )
    same_place: float = tuned(
        1e-6, "m", "distance below which vertices, or chainages, are the same", NUMERICAL
    )
    knot_spacing: float = tuned(
        0.01, "m", "added to each step in profiles, where chainages must increase", CARRIED
    )
    min_spacing: float = tuned(0.05, "m", "minimum typical spacing in profiles", CARRIED)


SAMPLING = Sampling()


@dataclass(frozen=True, repr=False, eq=False)
class ElementRows:
    """The table of elements."""

    nearly_back: float = tuned(
        179.9,
        "deg",
        "deflection from which the point of intersection is left out",
        "tan(89.95 deg) = 1146: it lies more than a thousand radii away",
    )


ELEMENT_ROWS = ElementRows()


@dataclass(frozen=True, repr=False, eq=False)
class Tracing:
    """Points along elements."""

    max_sweep: float = tuned(
        math.radians(270.0),
        "rad",
        "maximum sweep of an arc given by three points; a fuller one is written in two pieces",
        CARRIED,
    )
    max_pieces: int = tuned(
        256,
        "1",
        "maximum number of pieces of one element in another CRS",
        "carried over; bounds the work",
    )
    run_spacing: float = tuned(
        1e7, "m", "distance between runs on one axis of interpolation", "longer than any run"
    )
    same_place: float = tuned(
        1e-6, "m", "distance along an element below which points are the same", NUMERICAL
    )


TRACING = Tracing()


@dataclass(frozen=True, repr=False, eq=False)
class GradeBreaks:
    """Grade breaks of vertical profiles."""

    break_penalty: float = tuned(10.0, "sigma2", "what one more break must explain", CARRIED)
    memory_power: float = tuned(
        0.75,
        "1",
        "power of the factor of correlated noise on variances while breaks are sought; sigmas"
        " have the full factor",
        "walks along real outlines, tuning half, seeds 1 to 3, rounded or not: with 1, bands of"
        " heights rounded at 1 Hz hold the truth in 96.9 % instead of 94.2 %, at 8 Hz in 94.3 %"
        " instead of 92.4 %; 0.5 makes a tenth more vertices at 20 Hz",
    )
    cell: float = tuned(
        2.0, "m", "spacing of the breaks with which the search starts, as short as a ramp", CARRIED
    )
    min_length: float = tuned(0.5, "m", "minimum distance between breaks", CARRIED)
    rounds: tuple = tuned(
        (1, 2, 1, 1),
        "1",
        "number of breaks that one in a better place replaces, round by round",
        CARRIED,
    )
    looks: int = tuned(
        3, "1", "passes over one fit for breaks to be removed, none next to another", BY_SPEED
    )
    reach: float = tuned(4.0, "m", "maximum move of a break in one round, either way", CARRIED)
    min_reach: int = tuned(
        2, "epochs", "minimum number of observations over which a break may move", CARRIED
    )
    first_shares: tuple = tuned(
        (0.25, 0.75),
        "1",
        "places of a break on the way from one observation to the next that are tried first",
        CARRIED,
    )
    finer: tuple = tuned(
        (1 / 4, 1 / 8, 1 / 16), "1", "steps by which the place of a break is refined", CARRIED
    )
    before_next: float = tuned(
        1e-6, "1", "minimum share of that way between a break and the next observation", NUMERICAL
    )
    near_zero: float = tuned(1e-9, "1", "relative size that counts as zero", NUMERICAL)
    min_gain: float = tuned(0.2, "sigma2", "gain below which no break is moved", CARRIED)


GRADE_BREAKS = GradeBreaks()


@dataclass(frozen=True, repr=False, eq=False)
class Profiles:
    """Profiles of heights along runs."""

    sawtooth: float = tuned(
        0.25,
        "1",
        "share of the variance of rounded heights that is left along a grade of many levels",
        "walks along real outlines, tuning half, seed 2, heights rounded to 0.1 m: bands hold 96.1,"
        " 96.2, 95.3 and 94.5 % at 1, 2, 4 and 8 Hz, with 0.2 95.5, 95.9, 95.2 and 94.5 %; with 1"
        " and `FALLS.search_factor` 1.2 99.6, 99.3, 98.9 and 96.1 %",
    )
    search_factor: float = tuned(
        1.35,
        "1",
        "factor on a profile's sigma where the fall of the ground is not looked for: breaks were"
        " searched for, and noise drifts",
        "measured on simulated walks",
    )
    doubtful: float = tuned(
        5.0,
        "sigma",
        "distance from the line of its neighbours beyond which a height loses weight",
        CARRIED,
    )
    doubt_power: int = tuned(
        4,
        "1",
        "power by which that weight decreases, faster than Huber's: such heights must have no"
        " influence",
        CARRIED,
    )
    neighbours: int = tuned(2, "epochs", "neighbours on either side that define that line", CARRIED)
    end_step: float = tuned(
        0.12,
        "m",
        "step at the end of a run up to which it may be the start of a dropped curb",
        CARRIED,
    )
    same_place: float = tuned(
        1e-6, "1", "share of an interval within which a break lies at a position", NUMERICAL
    )
    min_closing: float = tuned(
        1e-6, "m", "minimum length of the step that closes a ring", NUMERICAL
    )


PROFILES = Profiles()


@dataclass(frozen=True, repr=False, eq=False)
class Falls:
    """Fall of the ground across runs."""

    usual: float = tuned(
        0.02,
        "1",
        "1-sigma of the fall of the ground across a run, along each axis",
        "common practice, no source: paved ground falls by 1 to 3 % across",
    )
    search_factor: float = tuned(
        1.1,
        "1",
        "factor on a profile's sigma where the fall of the ground is known: breaks were searched"
        " for, and noise drifts",
        "walks along real outlines, tuning half, seed 2: bands of heights hold 94.3, 95.3, 96.5 and"
        " 94.8 % at 1, 2, 4 and 8 Hz, with 1.2 95.0, 96.0, 97.0 and 95.7 %, with 1 93.6 to 96.1 %",
    )


FALLS = Falls()


# --- reconstruction -----------------------------------------------------------------------------


@dataclass(frozen=True, repr=False, eq=False)
class Execution:
    """Parts of the work. These numbers affect time and memory only."""

    stream_epochs: int = tuned(
        80_000, "epochs", "epochs in the parts whose streams are measured together", _BOUNDS
    )
    smallest_part: int = tuned(
        40_000,
        "epochs",
        "epochs below which a part is not worth a process",
        "each part costs a tenth of a second for its calls of array functions alone",
    )
    part_epochs: int = tuned(250_000, "epochs", "maximum number of epochs fitted together", _BOUNDS)
    block: int = tuned(
        1 << 16,
        "epochs",
        "epochs of which the host's process asks something at once",
        "by time: memory that is used again need not be fetched from the system",
    )
    epochs_at_work: int = tuned(
        500_000, "epochs", "maximum number of epochs in all parts fitted in parallel", _BOUNDS
    )


EXECUTION = Execution()


@dataclass(frozen=True, repr=False, eq=False)
class Runs:
    """Runs of positions."""

    shortest: float = tuned(
        1e-3, "m", "minimum length of a run, whatever the user's minimum is", CARRIED
    )


RUNS = Runs()


@dataclass(frozen=True, repr=False, eq=False)
class RepairLimits:
    """Repairs: what a person decided about epochs and stretches."""

    same_time: float = tuned(
        2e-3,
        "s",
        "difference up to which two times name the same epoch",
        "times stored with three decimals; the fastest streams have 100 epochs a second",
    )
    longest_bridge: float = tuned(
        20.0,
        "m",
        "length up to which a gap is bridged on request",
        "obstacles at a curb: road trains of at most 18.75 m (Council Directive 96/53/EC, Annex"
        " I, 1.1, as amended)",
    )
    side: int = tuned(
        3,
        "positions",
        "positions on either side of a corner that decide to which side its own epoch belongs",
        "the fewest that check a line",
    )
    fewest: int = tuned(
        2,
        "positions",
        "minimum number of positions between two places that were asked for",
        "the fewest that define a line",
    )
    reach: int = tuned(
        2,
        "positions",
        "distance from an epoch to its corner, or to the joint that is made smooth",
        "a joint lies between two positions, and the search moves it by one",
    )
    alone: int = tuned(
        20,
        "epochs",
        "captures with fewer epochs are fitted alone together with a straight walk, as they"
        " would be in a layer",
        "derivation: more than the tests of the screening and the search for gross errors need",
    )
    smooth_arc: tuple = tuned(
        (2, 3, 4),
        "positions",
        "positions on either side that an arc instead of a corner may take; the cheapest is used",
        "the fewest that make an arc, and a curb return walked a metre from epoch to epoch",
    )


REPAIR_LIMITS = RepairLimits()


@dataclass(frozen=True, repr=False, eq=False)
class Breaks:
    """Pauses and ways back."""

    reversal: float = tuned(150.0, "degrees", "turn from which a walk has turned round", CARRIED)
    beside: float = tuned(
        0.15, "m", "distance up to which the way back runs next to the way there", CARRIED
    )
    beside_sigmas: float = tuned(
        6.0, "sigma", "minimum of that distance in the noise of the stream", CARRIED
    )
    pause_on_the_spot: float = tuned(
        1.5,
        "spacings",
        "step after a pause up to which nothing was left out",
        CARRIED,
    )
    pause_straight_on: float = tuned(
        3.0,
        "spacings",
        "such a step if the walk goes straight on, as when an epoch or two are lost",
        CARRIED,
    )
    unseen_on_the_spot: float = tuned(
        0.5,
        "m",
        "maximum of such a step in fast streams, where spacings are short",
        "own choice: little lies beside so short a chord. 1.5 m draws chords through noses: along"
        " generated islands at 8 Hz (seed 1) edges are at 1.05 of raw in place of 0.59",
    )
    unseen_straight_on: float = tuned(
        1.0, "m", "the same if the walk goes straight on", "own choice"
    )
    straight_on: float = tuned(30.0, "degrees", "turn up to which a walk goes straight on", CARRIED)
    brief_steps: float = tuned(
        5.0, "steps", "length up to which a way back is a correction, not another walk", CARRIED
    )
    step_time: float = tuned(
        1.0,
        "s",
        "minimum duration of such a step",
        "derivation: a walk is the same at any rate; streams of one epoch a second stay as they"
        " were",
    )
    arm: float = tuned(
        0.5,
        "steps",
        "minimum length of the ways to and from a turn that show whether it leads back",
        "own choice: shorter steps are those of somebody who slows down and settles",
    )
    longest_arm: int = tuned(
        40, "positions", "number of positions within which such a way is sought", "own choice"
    )
    overshoot: int = tuned(
        5, "positions", "maximum number by which a walk overshoots a place to stand at", _COMMON
    )
    overshoot_rounds: int = tuned(
        3, "1", "how often overshoots are sought, each time without those found", "own choice"
    )
    shortest_way_back: float = tuned(1e-6, "m", "minimum length of a way back", CARRIED)


BREAKS = Breaks()


@dataclass(frozen=True, repr=False, eq=False)
class Rings:
    """Walks that come back to their start."""

    near: float = tuned(
        1.5,
        "spacings",
        "maximum distance between the start and the first position that is back",
        CARRIED,
    )
    min_steps: float = tuned(
        6.0,
        "spacings",
        "minimum length of a ring, in spacings and in distances from its start",
        CARRIED,
    )
    min_positions: int = tuned(
        5,
        "positions",
        "minimum number of positions before a ring can be back at its start",
        CARRIED,
    )
    beside: float = tuned(0.15, "m", "maximum distance of the second lap from the first", CARRIED)
    beside_sigmas: float = tuned(
        4.0, "sigma", "minimum of that distance, in the noise of two positions", CARRIED
    )
    met: float = tuned(
        1e-6,
        "m",
        "distance up to which a line ends where it starts",
        "derivation: a line that was closed by hand repeats its first vertex",
    )
    max_overlap: float = tuned(0.5, "laps", "maximum length walked twice, in laps", CARRIED)
    overlap_steps: float = tuned(
        3.0, "spacings", "length of the first lap that is compared beyond the overlap", CARRIED
    )
    back_steps: float = tuned(
        0.5, "spacings", "step back along the first lap that noise explains", CARRIED
    )


RINGS = Rings()


@dataclass(frozen=True, repr=False, eq=False)
class Outliers:
    """Gross errors that only the shape of the run reveals. Savings are costs of the alignment."""

    return_spacings: float = tuned(
        0.25,
        "spacings",
        "distance up to which the walk returns to the same place after two positions elsewhere",
        CARRIED,
    )
    end_ratio: float = tuned(
        0.5,
        "1",
        "share of the end's distance from the rest by which its neighbour may be off",
        CARRIED,
    )
    saving: float = tuned(
        7.5,
        "sigma2",
        "what leaving out an outlier must save",
        "simulated walks: a real short side saves less, an outlier an element or two; " + _TRIALS,
    )
    straight_saving: float = tuned(
        4.0,
        "sigma2",
        "what leaving out an outlier must save where the line goes straight on",
        _TRIALS,
    )
    second_saving: float = tuned(
        4.0, "sigma2", "what leaving out a pair must save in addition", _TRIALS
    )
    aligned_pair: float = tuned(
        2.0,
        "sigma2",
        "by how much less a pair must save that runs along the way of the others",
        _TRIALS,
    )
    pair_rank: float = tuned(
        2.0,
        "sigma2",
        "rank that a pair loses against one of the two",
        "if the second of a pair is no outlier, it saves about nothing; " + _TRIALS,
    )
    height_pair_saving: float = tuned(
        4.0,
        "sigma2",
        "what the shape must save if heights alone made the pair a candidate",
        _TRIALS,
    )
    size_unit: float = tuned(
        0.2, "m", "distance off its neighbours that raises a candidate's rank by one", _TRIALS
    )
    size_bonus: float = tuned(4.0, "sigma2", "maximum rank gained by that distance", _TRIALS)
    reach: int = tuned(
        2, "positions", "positions next to an outlier that may be the outlier instead", _TRIALS
    )
    same_way: float = tuned(
        50.0,
        "degrees",
        "angle up to which the step inside a pair runs the way of the others",
        _TRIALS,
    )
    turn_back: float = tuned(
        5.0,
        "degrees",
        "turn against that of a neighbour from which the path turns out and back",
        CARRIED,
    )
    straight_share: float = tuned(
        0.9, "1", "share of the expected way from which the way past goes straight on", CARRIED
    )
    detour_share: float = tuned(
        1.12, "1", "multiple of the expected way from which the way through is a detour", CARRIED
    )
    retested: int = tuned(
        4,
        "positions",
        "positions on either side of an outlier that are tested again without it",
        CARRIED,
    )
    retest_context: int = tuned(
        12,
        "positions",
        "positions beyond these that are included, so that the end of a cut-out does not pass"
        " for the end of a run",
        CARRIED,
    )


OUTLIERS = Outliers()


@dataclass(frozen=True, repr=False, eq=False)
class Dropouts:
    """Lost epochs inside runs."""

    intervals: float = tuned(1.5, "intervals", "pause from which an epoch was lost", CARRIED)


DROPOUTS = Dropouts()


@dataclass(frozen=True, repr=False, eq=False)
class Confirmation:
    """Sides, arcs and ends that rest on too few positions."""

    rounds: int = tuned(
        4,
        "1",
        "how often runs are fitted again without what is unconfirmed",
        "the rest may change without what was removed; " + _TRIALS,
    )
    epochs: int = tuned(
        3,
        "epochs",
        "number of epochs of one position that confirm each other",
        "gross errors of the aim sometimes last for two epochs",
    )
    scatter: float = tuned(
        6.6,
        "sigma2",
        "sum of squares beyond which three positions do not confirm their line",
        "derivation: noise exceeds it in one case of a hundred (chi-square of one degree of"
        " freedom)",
    )
    few_at_end: int = tuned(
        5,
        "positions",
        "positions of the next side up to which a pair at the end of a run is unconfirmed",
        _TRIALS,
    )
    few_for_arc: int = tuned(
        4,
        "positions",
        "positions of an arc up to which it must join its neighbours tangentially",
        _TRIALS,
    )
    free_positions: int = tuned(
        10, "positions", "minimum number of positions of a free form", _TRIALS
    )
    long_link: float = tuned(
        0.1, "m", "length of a piece without positions beyond which the edge breaks", _TRIALS
    )
    straight_on: float = tuned(
        5.0,
        "degrees",
        "turn up to which a piece without positions goes straight on",
        "derivation: a step of 1.2 m between tangents 0.1 m apart turns by 5 degrees",
    )
    far_off: float = tuned(
        0.25, "m", "distance beyond which a position is no part of its element", _TRIALS
    )
    long_step: float = tuned(2.0, "spacings", "step that counts as a dropout", _TRIALS)
    sharp: float = tuned(
        30.0, "degrees", "deflection beyond which two sides of a free form do not meet", _TRIALS
    )
    min_sine: float = tuned(
        0.3, "1", "minimum sine of the deflection of tangents that meet in a corner", _TRIALS
    )
    end_sigmas: float = tuned(
        4.0, "sigma", "residual beyond which the end of a run is doubtful", _TRIALS
    )
    square_sigmas: float = tuned(
        3.0,
        "sigma",
        "deviation from square, in the sigmas of both directions, that counts as square",
        _TRIALS,
    )
    square: float = tuned(
        1.0,
        "degrees",
        "accuracy with which sides are built square, in addition to the noise",
        _COMMON,
    )


CONFIRMATION = Confirmation()


_REAL = "walks along real outlines, tuning half, and trial sets 3 to 8, together"


@dataclass(frozen=True, repr=False, eq=False)
class Headway:
    """Evidence of the times between positions, and what becomes of doubtful positions."""

    reach: int = tuned(6, "steps", "steps on either side whose median pace is the local one", _REAL)
    few: int = tuned(3, "steps", "minimum number of steps for the local pace", _REAL)
    block: int = tuned(
        1 << 13,
        "1",
        "stretches whose steps are sorted at once",
        "derivation: their paces fit the processor's second cache",
    )
    spread: float = tuned(0.15, "1", "standard deviation of the pace, as share of it", _REAL)
    slow_share: float = tuned(0.5, "1", "probability that a walker hesitates or stops", _REAL)
    late: float = tuned(
        1.6, "1", "ratio of the time to that of the steps beyond which times show nothing", _REAL
    )
    most_against: float = tuned(
        3.0, "sigma2", "maximum evidence of times against an outlier", _REAL
    )
    most_for: float = tuned(9.0, "sigma2", "maximum evidence of times for an outlier", _REAL)
    prior: float = tuned(
        1.5,
        "sigma2",
        "what leaving out an outlier must save in addition, since short sides are common",
        _REAL,
    )
    clear: float = tuned(
        3.0, "sigma2", "evidence of times and heights that needs no confirmation", _REAL
    )
    longer: float = tuned(
        4.0,
        "sigma2",
        "additional evidence needed for each further position of a stretch",
        "aims slip for one epoch, rarely for two; " + _REAL,
    )
    widest: float = tuned(
        100.0,
        "degrees",
        "maximum turn of an arc between two positions; beyond it a chord is drawn",
        "a circle through a gross error and its neighbours goes far astray; " + _REAL,
    )
    together: float = tuned(
        7.0,
        "sigma2",
        "additional evidence needed to contradict two doubtful positions together",
        "of pairs that nothing confirms, one in fifty is a gross error; " + _SIDES,
    )
    most_together: int = tuned(
        3, "positions", "maximum number of positions contradicted together", _SIDES
    )
    sure: float = tuned(
        4.0,
        "sigma2",
        "evidence of the layer from which short elements are tried without their positions, and"
        " lines break where these are rejected",
        _SIDES,
    )
    telling: float = tuned(
        2.5,
        "sigma2",
        "evidence of the layer from which the pace of single steps counts, and short sides are"
        " taken to be square",
        "trial sets 26 to 60: with 2 one more epoch is settled rightly; along outlines at 1 Hz,"
        " where layers say nothing, 0.03 % more good epochs are rejected without it",
    )
    contradicted: float = tuned(
        0.5, "sigma2", "evidence that contradicts a doubtful position", _REAL
    )
    doubtful_sigma: float = tuned(
        0.04,
        "m",
        "1-sigma across of what nothing confirms, at one metre an epoch",
        _REAL + ": 38 mm, and 37 on trial sets 3 to 8",
    )
    doubtful_power: float = tuned(
        0.75,
        "1",
        "power of the spacing by which that sigma grows",
        _REAL + ": 10, 15, 24, 38 and 78 mm at 0.125, 0.25, 0.5, 1 and 2 m",
    )


HEADWAY = Headway()


_SQUARE = "trial sets 26 to 60: all 14 epochs on which it changes its mind are right; not varied"


@dataclass(frozen=True, repr=False, eq=False)
class SquareSides:
    """Short sides square to their legs, which tell the gross errors beside them."""

    most_slips: int = tuned(
        2,
        "positions",
        "maximum number of positions that slip together",
        "as an aim slips, rarely longer",
    )
    reach: int = tuned(
        3, "positions", "maximum number on the side before and after a suspected one", _SQUARE
    )
    margin: float = tuned(
        2.0, "sigma2", "minimum saving of an account over what was suspected", _SQUARE
    )
    least_leg: float = tuned(1.5, "m", "minimum length of the four positions of a leg", _SQUARE)
    least_depth: float = tuned(0.5, "m", "minimum length of a side", _SQUARE)
    parallel: float = tuned(4.0, "degrees", "maximum angle between parallel legs", _SQUARE)
    haste: float = tuned(
        1.35, "1", "maximum ratio of the pace along a side to that of its legs", _SQUARE
    )
    alike: float = tuned(
        0.35, "m", "maximum difference between offsets of two positions that slip together", _SQUARE
    )
    oblique: float = tuned(
        6.0,
        "sigma2",
        "cost of a side of three positions that is not square to its legs",
        "without it two of three on an oblique side would go; not varied",
    )
    slip: float = tuned(10.0, "sigma2", "cost of a gross error", "as `REJECTION.penalty`")
    second: float = tuned(
        4.0,
        "sigma2",
        "additional cost of another one right after it",
        "2 ln of one over the chance of 0.15 that an aim stays off, common practice, no source",
    )


SQUARE_SIDES = SquareSides()


_CUT = "walks along real outlines at 1 Hz, tuning half, seeds 1 to 3, and trial sets 26 to 33"


@dataclass(frozen=True, repr=False, eq=False)
class SmallReturns:
    """Corners drawn as arcs, since the way round them would have taken longer."""

    least_inside: float = tuned(
        0.06,
        "m",
        "minimum distance from the corner to the middle of the arc; else a corner is drawn",
        "of 192 corners more than 0.10 m off 144 are found, and 7 of 3,500 right ones; " + _CUT,
    )
    alike: float = tuned(
        1.4,
        "1",
        "ratio of the paces before and after up to which their mean counts, else the greater one",
        _CUT,
    )
    most: float = tuned(
        150.0, "degrees", "maximum deflection of a corner that may be an arc", _COMMON
    )


SMALL_RETURNS = SmallReturns()


@dataclass(frozen=True, repr=False, eq=False)
class Corners:
    """Corners between straight parts of runs whose curve is a spline."""

    windows: tuple = tuned(
        (3, 4, 6, 9), "positions", "positions on either side that lie on a straight line", CARRIED
    )
    candidate_share: float = tuned(
        0.8,
        "1",
        "share of the corner angle by which single steps must turn",
        "single steps are noisy; " + CARRIED,
    )
    step_noise: float = tuned(0.05, "m", "noise of a step that may hide part of the turn", CARRIED)
    sharpest: float = tuned(
        165.0,
        "degrees",
        "deflection from which sides that turn back have no definite intersection",
        CARRIED,
    )
    meet_slack: float = tuned(
        0.10,
        "m",
        "distance by which lines may meet outside the gap between the two positions",
        CARRIED,
    )
    meet_sigmas: float = tuned(
        2.0, "sigma", "what is added to that distance, in the noise of positions", CARRIED
    )
    detour_share: float = tuned(
        1.8, "1", "maximum way over the corner, in steps between the two positions", CARRIED
    )
    detour: float = tuned(0.3, "m", "what is added to that way", CARRIED)
    shortest_side: float = tuned(
        0.8, "m", "minimum length of a side", "over less, noise alone makes any angle; " + CARRIED
    )
    side_spacings: float = tuned(
        0.6, "spacings", "minimum length of a side per step, if that is less", CARRIED
    )
    side_sigmas: float = tuned(8.0, "sigma", "minimum length of a side in the noise", CARRIED)
    same_corner: int = tuned(
        2, "positions", "distance up to which two corners found are the same one", CARRIED
    )
    ring_padding: int = tuned(
        8,
        "positions",
        "positions of a ring that are repeated at both ends, so that its seam is no end",
        CARRIED,
    )


CORNERS = Corners()


_CHAINS = "walks along real outlines at 1 Hz, tuning half, 120 outlines, seeds 1 to 3"


_MEANS = "walks along real outlines at 1 Hz, tuning half, seeds 1 to 3"


@dataclass(frozen=True, repr=False, eq=False)
class MeanFeet:
    """Feet of positions in free forms as means over all chains of elements."""

    longest: int = tuned(
        12,
        "positions",
        "of one element",
        _BENDS + ": 6, 8, 10 and 16 give 0.830, 0.825, 0.824 and 0.823 of raw without doubtful"
        " stretches",
    )
    least: float = tuned(
        0.02,
        "1",
        "probability of an element up to which it is left out",
        "saves time: half of it against 0.001, where feet differ by 0.4 mm; " + _BENDS,
    )
    context: int = tuned(
        6, "positions", "next to a free form that are searched with it", "not varied"
    )
    detail_power: float = tuned(
        0.5,
        "1",
        "power of the layer's factor on sigmas in means: 1 would follow noise",
        _MEANS
        + ": 0.5 gives 0.818 in place of 0.823 of raw without doubtful stretches, and 1.17 in"
        " place of 1.18 vertices",
    )


MEAN_FEET = MeanFeet()


@dataclass(frozen=True, repr=False, eq=False)
class MeanCurves:
    """Curves of tangents and arcs moved towards means over all chains, in layers of many bends."""

    share: float = tuned(
        2.3,
        "1",
        "share of the way to the means, for each unit by which the layer's factor on sigmas lies"
        " below 1",
        _MEANS + ": 1.8, 2.3 and 2.8, with a least of 0.2, 0.4 and 0.4, give 0.822, 0.822 and 0.820"
        " of raw without doubtful stretches, 0 0.843",
    )
    least: float = tuned(
        0.4,
        "sigma",
        "distance from the mean up to which a foot stays",
        "saves vertices: 0.2 takes 1.17 of what is needed in place of 1.16, and gives 0.819; "
        + _MEANS,
    )
    together: float = tuned(
        0.8,
        "sigma",
        "mean residual of a position and its neighbours from which feet move",
        "saves time: 0, 0.6 and 0.8 give 0.822, 0.824 and 0.825; " + _MEANS,
    )
    reach: int = tuned(
        2,
        "positions",
        "next to such a one whose feet move",
        "3 gives 0.824 in place of 0.825; " + _MEANS,
    )
    straight: int = tuned(
        16,
        "positions",
        "number from which a tangent stays as it is",
        "saves vertices and time: without, 1.17 in place of 1.16, and 0.819; 24 gives 0.820; "
        + _MEANS,
    )
    min_sine: float = tuned(
        0.3,
        "1",
        "sine of the deflection up to which a corner moves with the feet next to it, not to where"
        " both sides meet",
        "not varied",
    )


MEAN_CURVES = MeanCurves()


@dataclass(frozen=True, repr=False, eq=False)
class Sides:
    """Chains of short sides in free forms, whose corners are drawn."""

    context: int = tuned(
        4,
        "positions",
        "next to a free form that are searched with it",
        "6 gives the same; " + _CHAINS,
    )
    side_lengths: tuple = tuned(
        (2, 3, 4), "positions", "of a side", "up to 16 gives no more corners; " + _CHAINS
    )
    arc_lengths: tuple = tuned(
        (4, 5, 6),
        "positions",
        "of an arc",
        "up to 10 gives as many corners, and 0.050 in place of 0.048 % over 0.10 m; " + _CHAINS,
    )
    arc_penalty: float = tuned(
        22.0,
        "sigma2",
        "what an arc must explain",
        "18 and 26 differ by 0.1 % of corners; " + _CHAINS,
    )
    corner_saving: float = tuned(
        6.0,
        "sigma2",
        "that a corner costs less than a joint where two sides go on in each other",
        "0: 0.8 % of corners less, 9: 0.2 % more and more of the length over 0.10 m; " + _CHAINS,
    )
    firm_penalty: float = tuned(
        10.0,
        "sigma2",
        "of anything but two sides where longer ones meet in a corner",
        "30 gives the same; " + _CHAINS,
    )
    square_share: float = tuned(
        0.6,
        "1",
        "of corners that are square",
        "of 1,200 corners of long sides 54 % are so within 2 degrees; 0 (no such prior): 0.3 % of"
        " corners less; " + _CHAINS,
    )
    square_sigma: float = tuned(
        1.5, "degrees", "by which these are not quite", "3 gives the same; " + _CHAINS
    )
    short_angle: float = tuned(
        60.0,
        "degrees",
        "deflection from which sides of two positions make a corner",
        "50: 0.5 % of corners more, and more of the length over 0.10 m; " + _CHAINS,
    )


SIDES = Sides()


@dataclass(frozen=True, repr=False, eq=False)
class PlanCurves:
    """Nodes, samples and vertices of fitted curves."""

    up_tolerance: float = tuned(
        2.0, "1", "tolerance of heights, in that of plan", "heights are half as sure"
    )
    sample_share: float = tuned(
        1 / 16, "1", "share of the tolerance spent on sampling the curve", CARRIED
    )
    most_samples: int = tuned(64, "1", "maximum number of samples in one interval", CARRIED)
    in_line: float = tuned(1e-9, "m", "distance up to which a node lies on a line", CARRIED)
    shortest_step: float = tuned(
        1e-6, "m", "minimum step between the knots of a spline, which must increase", CARRIED
    )
    corner_trust: float = tuned(
        0.25,
        "m",
        "distance between two estimates of a corner beyond which the intersection of the"
        " tangents is not used",
        CARRIED,
    )
    min_sine: float = tuned(
        0.15, "1", "minimum sine of the deflection of tangents that are intersected", CARRIED
    )
    block: int = tuned(1 << 16, "samples", "samples whose heights are found at once", _BOUNDS)


PLAN_CURVES = PlanCurves()


@dataclass(frozen=True, repr=False, eq=False)
class StationPlaces:
    """Stations along the edges."""

    rounding: float = tuned(
        1e-9,
        "1",
        "share of the spacing by which the last whole station may lie beyond the end",
        CARRIED,
    )
    shortest_rest: float = tuned(
        1e-3,
        "m",
        "rest beyond the last whole station from which the end has a station of its own",
        CARRIED,
    )


STATION_PLACES = StationPlaces()


# --- partitions ---------------------------------------------------------------------------------


@dataclass(frozen=True, repr=False, eq=False)
class Partitions:
    """The run over many files."""

    text_block: int = tuned(
        100_000,
        "epochs",
        "texts of times that are read at once",
        "bounds the memory: they need some hundred bytes per character",
    )
    cell: float = tuned(
        0.01,
        "degrees",
        "cells in which positions are counted to find the centre of the frame",
        "counts have the same sum in any order; " + _BEFORE,
    )
    widest: float = tuned(
        1_000_000.0,
        "m",
        "distance from the frame's meridian up to which the frame is used",
        _BEFORE,
    )
    far_share: float = tuned(
        0.001, "1", "share of the epochs that may lie beyond, being wrong coordinates", _BEFORE
    )


PARTITIONS = Partitions()


# --- lines --------------------------------------------------------------------------------------


@dataclass(frozen=True, repr=False, eq=False)
class Matching:
    """Correspondence of stretches of lines; stations and the search for lines."""

    max_angle: float = tuned(
        40.0,
        "deg",
        "maximum angle between the directions of two lines that match",
        "half the deflection of a coarsely digitised arc fits in",
    )
    min_stations: int = tuned(
        4, "1", "minimum number of stations on a part, however short it is", CARRIED
    )
    longest_segment: float = tuned(
        25.0,
        "m",
        "length to which segments are cut for the index",
        "a longer slanting one would have a large bounding box",
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
        "rays looked up and candidates judged at once",
        "bounds the memory; the work can be stopped between blocks",
    )
    first_block: int = tuned(
        2_000, "1", "rays looked up at once before it is known how much each finds", _BOUNDS
    )
    hits: int = tuned(
        1_000_000,
        "1",
        "approximate number of segments found by the rays that are looked up at once",
        "bounds the memory: 200 bytes each",
    )
    window: float = tuned(
        5.0, "m", "length to either side over which distances are averaged", CARRIED
    )
    section_break: float = tuned(
        3.0,
        "m",
        "length without a candidate, or jump along the other line, that ends a section",
        "twice the offset is allowed in addition, as corners require",
    )
    short_section_penalty: float = tuned(
        0.3, "m2", "penalty of a candidate times the length of its section", CARRIED
    )
    dominant_length: float = tuned(
        1.25, "1", "ratio of lengths from which one direction wins, whatever the distance", CARRIED
    )
    max_rounds: int = tuned(12, "1", "rounds of mutual assignment", CARRIED)
    min_section_share: float = tuned(
        0.3, "1", "share of a section below which its remainder is discarded", CARRIED
    )
    min_run: float = tuned(
        1.5,
        "m",
        "length below which a stretch is no counterpart, unless it coincides with the line",
        CARRIED,
    )
    duplicate: float = tuned(
        0.2,
        "m",
        "distance within which a second line shows the same thing as an assigned one",
        CARRIED,
    )

    @property
    def min_cosine(self):
        """Cosine of `max_angle`."""
        return np.cos(np.radians(self.max_angle))


MATCHING = Matching()


@dataclass(frozen=True, repr=False, eq=False)
class Comparison:
    """Status of lines from the offsets of their stations."""

    whole: float = tuned(0.8, "1", "share of a line that counts as the whole of it", CARRIED)
    hardly: float = tuned(0.2, "1", "share of a line that counts as none of it", CARRIED)
    min_matched: float = tuned(
        0.5, "1", "least matched share of a line that is displaced as a whole", CARRIED
    )
    length_change: float = tuned(
        0.5,
        "1",
        "change of length over the move up to which a line that moved as a whole kept its length",
        CARRIED,
    )
    min_limit: float = tuned(
        1e-05,
        "m",
        "minimum limit of a test",
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
        "determinant of the normal matrix over its squared trace from which a move is determined",
        "the smaller eigenvalue is then at least about 4 % of the larger",
    )
    block: int = tuned(
        100_000,
        "1",
        "pairs of point and segment computed at once",
        "bounds the memory; the work can be stopped between blocks",
    )
    curve_points: int = tuned(201, "1", "half widths of buffers on the cumulative curve", CARRIED)


COMPARISON = Comparison()


@dataclass(frozen=True, repr=False, eq=False)
class Shift:
    """The shift of a whole layer of lines."""

    directions: int = tuned(
        90,
        "1",
        "classes of directions, over 180 degrees, in the search for a first estimate",
        CARRIED,
    )
    bin_width: float = tuned(0.01, "m", "bin width of the histograms of offsets", CARRIED)
    blur: float = tuned(0.05, "m", "1-sigma of the kernel that smooths the histograms", CARRIED)
    grid: float = tuned(
        0.02, "m", "spacing of the shifts that are tried; larger if they reach far", CARRIED
    )
    max_grid: int = tuned(150, "1", "maximum number of shifts tried to either side", CARRIED)
    size_penalty: float = tuned(
        0.3, "1", "share of its votes that a shift as large as the search distance loses", CARRIED
    )
    biweight: float = tuned(
        4.685,
        "sigma",
        "residual beyond which Tukey's biweight gives no weight",
        "95 % efficient for normal residuals (from memory; recomputed by a test of the shift)",
    )
    first_scale: float = tuned(3.0, "1", "first scale of the residuals in kernel sigmas", CARRIED)
    turn_scale: float = tuned(
        0.25,
        "1",
        "scale of the residuals, over the search distance, when rotation or scale is added",
        "a rotation of the layer is hidden in the offsets until it is fitted",
    )
    shrink: float = tuned(
        0.6, "1", "minimum ratio of a round's scale to that of the round before", CARRIED
    )
    growth: float = tuned(
        1.2, "1", "maximum ratio of a round's scale to that of the round before", CARRIED
    )
    max_rounds: int = tuned(60, "1", "maximum number of rounds of reweighting", CARRIED)
    min_noise: float = tuned(
        0.0001,
        "m",
        "minimum scale of the residuals",
        "layers that agree to the last digit have no noise to divide by",
    )
    min_information: float = tuned(
        0.003,
        "1",
        "eigenvalue, over the greatest, below which a direction is undetermined",
        CARRIED,
    )
    max_hidden: float = tuned(
        0.01,
        "1",
        "share of a parameter in undetermined directions up to which the parameter is determined",
        CARRIED,
    )
    min_slope: float = tuned(
        0.2, "1", "minimum mean derivative of psi over its weight in the sandwich", CARRIED
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
        3.0, "m", "length of line whose chord defines the direction at a station", CARRIED
    )
    turned_cosine: float = tuned(
        0.87,
        "1",
        "cosine of the angle between chord and segment below which there is a corner",
        "30 degrees",
    )


SHIFT = Shift()


@dataclass(frozen=True, repr=False, eq=False)
class Overlaps:
    """Overlaps of walks."""

    spacing: float = tuned(0.5, "m", "distance between stations", CARRIED)
    cell: float = tuned(
        3.0, "m", "length over which differences are averaged before they are tested", CARRIED
    )
    min_difference: float = tuned(
        0.03,
        "m",
        "horizontal difference up to which lines agree",
        "the foot of the pole and its tilt: a repeat walk falls on the first line within a few"
        " centimetres (common practice, no source)",
    )
    min_difference_up: float = tuned(
        0.05,
        "m",
        "difference of heights up to which lines agree",
        "as for `min_difference` (common practice, no source)",
    )
    min_sigma: float = tuned(0.003, "m", "minimum sigma found from the differences", CARRIED)
    max_sigma: float = tuned(0.03, "m", "maximum sigma found from the differences", CARRIED)
    short_piece_share: float = tuned(
        0.8,
        "1",
        "share of a piece shorter than the minimum overlap that must lie on another",
        CARRIED,
    )
    max_differing_share: float = tuned(
        0.5,
        "1",
        "share of what two lines have in common over which they may differ and still be one edge",
        CARRIED,
    )
    lap_distance: float = tuned(
        2.0, "m", "distance along a line below which it is expected to be near itself", CARRIED
    )
    fill: float = tuned(
        1.0, "m", "length of a gap inside an overlap that is ignored", "rays miss next to corners"
    )
    ring_gap: float = tuned(
        1e-06, "m", "distance of first and last vertex up to which a line is a ring", CARRIED
    )
    copy_tolerance: float = tuned(
        0.0001, "m", "grid on which equal vertices make a line a copy, not another walk", CARRIED
    )


OVERLAPS = Overlaps()


@dataclass(frozen=True, repr=False, eq=False)
class Crowds:
    """Places where very many lines coincide."""

    side: float = tuned(
        2.0, "m", "side of the squares in which lines are counted", "four stations of each line"
    )
    most: int = tuned(
        32,
        "1",
        "lines in a square from which a few of them represent all",
        "more than anybody walks one edge; a thousand comparisons in a square are still quick",
    )
    most_met: int = tuned(
        32,
        "1",
        "maximum number of lines of the other layer that a station is compared with, the nearest"
        " ones",
        "more than lie within a search distance in any town, or than anybody walks an edge",
    )
    rays: tuple = tuned(
        (1 / 16, 1 / 8, 1 / 4, 1 / 2, 1.0),
        "1",
        "lengths of rays, over the search distance, tried in turn until enough is met",
        "derivation: none meets much more than twice as much as is enough",
    )
    most_listed: int = tuned(
        16,
        "1",
        "maximum number of other edges listed beside one walk",
        "more than anybody inspects",
    )
    direction: float = tuned(
        30.0, "deg", "interval in which directions count as alike", "as for corners"
    )
    longest_visit: float = tuned(
        1.5,
        "1",
        "length of a line in a square, in sides, from which it has come back to it",
        "derivation: the diagonal is 1.41",
    )
    bundle_side: float = tuned(
        0.1,
        "m",
        "side of the squares that are turned into the direction of their lines",
        "on a circle of 5 m a line leaves its tangent there by 1 mm; changes the work, no result",
    )
    bundle_margin: float = tuned(
        0.03,
        "m",
        "distance from a square up to which what lies round it is known there",
        "most lines of hundreds in one place have 32 others within; changes the work, no result",
    )
    bundle_places: int = tuned(
        8, "1", "minimum number of places in a square that is turned", "changes the work, no result"
    )
    bundle_segments: int = tuned(
        128,
        "1",
        "minimum number of segments in a square that is turned",
        "four times what a station keeps; changes the work, no result",
    )
    bundle_width: float = tuned(
        0.25,
        "1",
        "maximum mean width of the segments of a square across its direction, over its radius",
        "lines of all directions, as in a star, stay as they are; changes the work, no result",
    )


CROWDS = Crowds()


@dataclass(frozen=True, repr=False, eq=False)
class Passes:
    """Merging the walks of one edge."""

    corner: float = tuned(
        30.0,
        "deg",
        "deflection from which a vertex is a corner and stays",
        "as in the reconstruction",
    )
    end_reach: float = tuned(
        1.5, "m", "distance from the end of a walk within which another one can take over", CARRIED
    )
    bridge: float = tuned(
        0.5, "m", "length over which the path passes from one walk to the next", CARRIED
    )
    min_edge: float = tuned(
        1.0,
        "m",
        "minimum length of a stretch next to a merged edge that becomes an edge of its own",
        CARRIED,
    )
    min_continuation: float = tuned(
        0.05, "m", "minimum length by which a walk must continue to be followed", CARRIED
    )
    up_tolerance_ratio: float = tuned(
        2.0,
        "1",
        "tolerance of heights over that of positions in thinning",
        "heights are half as precise as positions",
    )
    progress_step: int = tuned(
        200, "1", "edges between two calls of the progress callback", CARRIED
    )

    @property
    def corner_cosine(self):
        """Cosine of `corner`."""
        return np.cos(np.radians(self.corner))


PASSES = Passes()


@dataclass(frozen=True, repr=False, eq=False)
class Joins:
    """Ends of edges joined."""

    window: float = tuned(
        3.0,
        "m",
        "length before an end from which its tangent is estimated, at most the whole edge",
        CARRIED,
    )
    stations: int = tuned(30, "1", "number of intervals in which the window is sampled", CARRIED)
    shares: tuple = tuned(
        (6, 10, 18, 30),
        "1",
        "intervals in the shares of the window that are fitted; the longest that fits is used",
        CARRIED,
    )
    max_rms: float = tuned(
        0.01,
        "m",
        "RMS of a share about its line or parabola up to which it fits",
        "about the tolerance with which edges are thinned",
    )
    parabola_gain: float = tuned(
        1.2,
        "1",
        "ratio of lengths from which a parabola is used instead of a line, and the end is curved",
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
        150.0, "deg", "deflection beyond which one edge would run back along the other", CARRIED
    )
    clear_ratio: float = tuned(
        1.5, "1", "ratio by which the second best partner must be more expensive", CARRIED
    )
    clear_margin: float = tuned(
        0.03, "m", "what the second best partner must cost in addition", CARRIED
    )
    cost_per_degree: float = tuned(0.1 / 90, "m/deg", "cost of a degree of deflection", CARRIED)
    cost_per_height: float = tuned(
        2.0, "1", "cost of a difference of heights over that of a horizontal distance", CARRIED
    )
    min_crossing: float = tuned(
        0.02, "m", "length of a connection from which edges in between are sought", CARRIED
    )
    max_ring_gap_share: float = tuned(
        0.25, "1", "maximum gap over which a ring closes, over its length", CARRIED
    )
    kink: float = tuned(
        2.0, "deg", "maximum deflection that spreading the move of an end may make", CARRIED
    )
    grade_kink: float = tuned(0.02, "1", "maximum change of grade that it may make", CARRIED)
    max_blend_share: float = tuned(
        0.45, "1", "maximum share of an edge for trimming and spreading", CARRIED
    )
    same: float = tuned(0.001, "m", "distance below which two places are one", CARRIED)
    near_vertex: float = tuned(
        0.01, "m", "distance from a vertex within which no further one is inserted", CARRIED
    )
    most_ends: int = tuned(
        200,
        "1",
        "ends in a square as wide as the reach of joins beyond which none of them is joined",
        "no place has so many edges; pairs would grow with the square of their number",
    )
    end_block: int = tuned(
        5_000,
        "1",
        "ends whose tangents are fitted at once",
        "bounds the memory; the work can be stopped between blocks",
    )
    path_block: int = tuned(
        50_000,
        "1",
        "connections tested for crossings at once",
        "bounds the memory; the work can be stopped between blocks",
    )

    @property
    def kink_slope(self):
        """Tangent of `kink`."""
        return np.tan(np.radians(self.kink))


JOINS = Joins()


@dataclass(frozen=True, repr=False, eq=False)
class Parallels:
    """Parallels to edges."""

    smooth: float = tuned(
        30.0,
        "deg",
        "deflection up to which a vertex is part of a curve",
        "as in the reconstruction",
    )
    rounding: float = tuned(
        30.0, "deg", "maximum angle between the vertices of a rounded corner", CARRIED
    )
    max_offset: float = tuned(100.0, "m", "maximum offset or height in a cross-section", CARRIED)
    sagitta_slack: float = tuned(
        1.25,
        "1",
        "tolerances by which an arc may depart from its chords before that counts",
        CARRIED,
    )
    same: float = tuned(0.0005, "m", "distance within which two vertices are one", CARRIED)
    min_piece: float = tuned(0.001, "m", "minimum length of a piece", CARRIED)
    slack: float = tuned(1e-06, "m", "allowance for rounding", CARRIED)
    block: int = tuned(
        500,
        "1",
        "edges tested at once",
        "bounds the memory; the work can be stopped between blocks",
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


@dataclass(frozen=True, repr=False, eq=False)
class Revisits:
    """Findings combined into places in walking order."""

    neighbours: int = tuned(
        10, "1", "number of neighbours of each place that are tried as the next one", CARRIED
    )
    same: float = tuned(
        1e-06,
        "m",
        "allowance added to the reach",
        "places exactly at the limit are within it, in whichever frame they were computed",
    )
    min_gain: float = tuned(1e-09, "m", "minimum shortening of a tour", CARRIED)
    interval_share: float = tuned(
        0.1,
        "1",
        "quantile of the times between rejected epochs that is their interval",
        "most of the shortest times lie between neighbours in the stream",
    )
    max_interval: float = tuned(
        2.0, "s", "maximum of that interval", "slower streams are not assumed"
    )
    in_a_row: float = tuned(
        1.5,
        "1",
        "intervals up to which two findings are consecutive",
        "an epoch or station between them would make two",
    )
    block: int = tuned(500, "1", "places between two reports of progress", CARRIED)


REVISITS = Revisits()


@dataclass(frozen=True, repr=False, eq=False)
class CheckPoints:
    """Accuracy against check points; the standards' own numbers stand in the module."""

    equal_ratio: float = tuned(
        0.99,
        "1",
        "ratio of the two RMSEs from which they count as equal",
        "both formulas then agree to 1e-4 of the value",
    )
    min_spread: float = tuned(
        0.001,
        "m",
        "minimum robust standard deviation, and bias that is never reported",
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
        "mean, in its own standard deviations, beyond which a bias is reported",
        _COMMON,
    )


CHECK_POINTS = CheckPoints()


@dataclass(frozen=True, repr=False, eq=False)
class RigidMoves:
    """The rigid motion of each compared line."""

    rounds: int = tuned(
        5, "1", "rounds of reweighting", "the weights converge in three or four; checked by a test"
    )
    biweight: float = tuned(
        4.685,
        "sigma",
        "residual beyond which a station has no influence",
        "Tukey's biweight at 95 % efficiency (from memory)",
    )
    least_scale: float = tuned(
        0.001, "m", "minimum scale of the residuals", "below the millimetre nothing is known"
    )
    least_eigenvalue: float = tuned(
        0.02,
        "1",
        "eigenvalue, over the greatest, below which a direction is undetermined",
        "a bend of 16 degrees shows a move along the line with a fiftieth of the weight; common"
        " practice, no source",
    )


RIGID_MOVES = RigidMoves()


@dataclass(frozen=True, repr=False, eq=False)
class Visited:
    """The area that was surveyed."""

    spacing_share: float = tuned(
        0.125,
        "1",
        "spacing of points along edges over the reach",
        "derivation: see `lines.visits.places_along`",
    )


VISITED = Visited()


# --- review -------------------------------------------------------------------------------------


@dataclass(frozen=True, repr=False, eq=False)
class Review:
    """What deserves a look: limits that put findings of different kinds on one scale."""

    sigma: float = tuned(0.03, "m", "1-sigma across from which an edge is listed", _COMMON)
    disagreement: float = tuned(
        0.03,
        "m",
        "difference of two walks that is listed if the layer does not state what is allowed",
        _COMMON,
    )
    doubtful: float = tuned(
        3.0,
        "epochs",
        "number of doubtful or unconfirmed epochs from which a line is listed",
        "derivation: fewer cannot make a side and an arc by themselves",
    )
    length: float = tuned(
        10.0,
        "m",
        "length that a new, lost or unmatched stretch is measured by on the common scale",
        _COMMON,
    )
    end_reach: float = tuned(
        0.5, "m", "distance up to which two open ends are next to each other", _COMMON
    )
    end_height: float = tuned(
        0.08,
        "m",
        "greatest difference of heights between two ends of one edge",
        "common practice: top and foot of a low curb, no source",
    )
    near: float = tuned(
        5.0, "m", "distance across up to which a rejected epoch is shown with a line", _COMMON
    )
    block: int = tuned(
        1_000_000, "1", "pairs of epoch and segment worked on at once", "bounds the memory"
    )


REVIEW = Review()


@dataclass(frozen=True, repr=False, eq=False)
class Counterparts:
    """Lines of one run recognised among those of another."""

    tolerance: float = tuned(
        0.05,
        "m",
        "how far a line may lie from its earlier self",
        "three sigmas of an edge of 16 mm; common practice, no source",
    )
    share: float = tuned(0.8, "1", "share of a line that counts as the whole of it", _COMMON)
    spacing: float = tuned(
        0.5,
        "m",
        "spacing of the points at which lines are compared",
        "half a walked metre; common practice, no source",
    )


COUNTERPARTS = Counterparts()


@dataclass(frozen=True, repr=False, eq=False)
class LayerCopies:
    """Walks that are in two layers of one run: a copy of a file, or a layer exported anew."""

    near: float = tuned(
        0.05,
        "m",
        "how far apart the middles of one walk may lie in two layers",
        "more than a transformation there and back changes; common practice, no source",
    )
    near_degrees: float = tuned(
        5e-7,
        "degrees",
        "the same where the results are in degrees",
        "derivation: 0.055 m along a meridian",
    )
    share: float = tuned(
        0.5, "1", "share of a layer's edges in another one, from which it is a copy", _COMMON
    )


LAYER_COPIES = LayerCopies()


@dataclass(frozen=True, repr=False, eq=False)
class DayControl:
    """Spot points of each day against control points."""

    confidence: float = tuned(0.95, "1", "of the tests, over all days together", _COMMON)
    few: int = tuned(3, "1", "pairs from which their scatter counts", _COMMON)
    nominal: float = tuned(0.010, "m", "1-sigma of a spot that states none", _COMMON)
    steady: float = tuned(
        0.005,
        "m",
        "1-sigma of an axis that is constant during a day's visit and does not average out",
        "receiver error correlated over a minute, 5 mm per axis (noise model of simulated walks)",
    )
    least: float = tuned(0.02, "m", "shift in plan up to which a day is never called off", _COMMON)
    least_up: float = tuned(
        0.03, "m", "shift in height up to which a day is never called off", _COMMON
    )


DAY_CONTROL = DayControl()


@dataclass(frozen=True, repr=False, eq=False)
class Stretches:
    """Stretches of existing lines that have a counterpart."""

    longest_step: float = tuned(
        1.01,
        "1",
        "step between two stations of a stretch over the intervals that they represent",
        "equal intervals give exactly 1; a station without a counterpart in between gives 2",
    )
    longest_ratio: float = tuned(
        3.0,
        "1",
        "greatest length of edge per length of existing line within a stretch",
        "a jog as deep as it is wide triples the length; common practice, no source",
    )
    slack: float = tuned(
        1.0, "m", "length of edge allowed in addition to that ratio, for corners", _COMMON
    )
    end_slack: float = tuned(
        2.0,
        "m",
        "distance from the end of a line up to which a stretch reaches it",
        "walks begin and end within two steps of a corner; common practice, no source",
    )


STRETCHES = Stretches()


@dataclass(frozen=True, repr=False, eq=False)
class Update:
    """Existing lines redrawn."""

    touch: float = tuned(
        0.005,
        "m",
        "distance up to which ends are joined to each other or to a line",
        "half a centimetre: more than coordinates lose in a transformation, less than anyone"
        " draws apart on purpose",
    )
    same_place: float = tuned(
        1e-4, "m", "distance up to which vertices are the same", "a tenth of a millimetre"
    )
    least_move: float = tuned(
        1e-3, "m", "move below which a stretch stays as it is", "a millimetre"
    )
    least_corner: float = tuned(
        20.0,
        "degrees",
        "deflection below which two edges make no corner",
        "as for joined edge ends",
    )
    chord: float = tuned(
        2.0, "m", "length of edge on both sides that defines its direction", _COMMON
    )
    least_piece: float = tuned(
        2.0, "m", "length below which the rest of an edge is not added", _COMMON
    )
    snap: float = tuned(
        0.3,
        "m",
        "distance up to which the end of a new line is moved to meet another line",
        "seven times the uncertainty of a walked corner, and no more than a gap that anyone leaves"
        " on purpose; common practice, no source",
    )
    steepness: float = tuned(
        0.1,
        "1",
        "metres by which a line is moved aside per metre along it, where two edges do not meet",
        "a step between two walks of 20 mm over 0.2 m; common practice, no source",
    )
    displaced_share: float = tuned(
        0.2,
        "1",
        "displaced share from which a partly matched line is replaced",
        "the share that counts as none of a line in the comparison",
    )


UPDATE = Update()


# --- all of them --------------------------------------------------------------------------------


def stages():
    """All stages, by the names of their instances.

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
