"""Every tuned number of the core, by stage: value, unit, meaning and origin.

A number that steers a result stands here and nowhere else. Settings that the user chooses are not
tuned numbers; see `epochs.settings`. Numbers that follow from a definition (a half, a right angle
in radians, the normal's quantiles) stay beside the formula that they belong to.

Each stage is a frozen dataclass with one instance. Code reads ``SCREENING.spike_sigmas``; nothing
keeps a copy, so that `override` can try another value in a benchmark:
``tests/benchmarks/accuracy.py --set SCREENING.spike_sigmas=5``.
"""

from contextlib import contextmanager
from dataclasses import dataclass, field, fields


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


# --- arrays -------------------------------------------------------------------------------------


# --- epochs -------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Plausibility:
    """Whether lines without times can be a stream."""

    least_step: float = tuned(
        0.05, "m", "steps below say nothing: standing still", "common practice, no source"
    )
    few: int = tuned(8, "1", "steps below which nothing can be said", "common practice, no source")
    longest_step: float = tuned(
        6.0,
        "m",
        "median step beyond which nobody walks",
        "five seconds of an adult's walk; common practice, no source",
    )
    spread: float = tuned(
        2.5,
        "1",
        "90th percentile of the steps, of their median, that a walk keeps",
        "outlines of a city's map, ten at a time: 3.7 and more; 800 simulated walks: 1.9 at most",
    )


PLAUSIBILITY = Plausibility()


# --- alignment ----------------------------------------------------------------------------------


# --- reconstruction -----------------------------------------------------------------------------


# --- lines --------------------------------------------------------------------------------------


@dataclass(frozen=True)
class RigidMoves:
    """The rigid motion of each compared line."""

    rounds: int = tuned(
        5, "1", "rounds of reweighting", "the weights settle in three or four; checked by a test"
    )
    biweight: float = tuned(
        4.685,
        "sigma",
        "residual beyond which a station has no say",
        "Tukey's biweight at 95 % efficiency (references: robust statistics, from memory)",
    )
    least_scale: float = tuned(
        0.001, "m", "scale of the residuals at least", "below the millimetre nothing is known"
    )
    least_eigenvalue: float = tuned(
        0.02,
        "1",
        "share of the greatest eigenvalue below which a direction counts as not shown",
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


@dataclass(frozen=True)
class Counterparts:
    """Lines of one run recognised among those of another."""

    tolerance: float = tuned(
        0.05,
        "m",
        "how far a line may lie from its former self and still be it",
        "three sigmas of an edge of 16 mm; common practice, no source",
    )
    share: float = tuned(
        0.8, "1", "share of a line that stands for the whole of it", "common practice, no source"
    )
    spacing: float = tuned(
        0.5, "m", "of the points that lines are compared at", "half a walked metre; no source"
    )


COUNTERPARTS = Counterparts()


@dataclass(frozen=True)
class DayControl:
    """Spot points of each day against control points."""

    few: int = tuned(
        3, "1", "pairs from which their scatter has a say", "common practice, no source"
    )
    nominal: float = tuned(
        0.010, "m", "1-sigma of a spot that states none", "common practice, no source"
    )
    steady: float = tuned(
        0.005,
        "m",
        "error of an axis that stays for a day's visit and does not average out",
        "receiver error correlated over a minute, 5 mm an axis (simulated walks' noise model)",
    )
    least: float = tuned(
        0.02, "m", "shift in plan that is never called off", "common practice, no source"
    )
    least_up: float = tuned(
        0.03, "m", "shift in height that is never called off", "common practice, no source"
    )


DAY_CONTROL = DayControl()


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
