"""Which field plays which part: found from names, types and values where the user names none."""

import re
from dataclasses import dataclass
from functools import partial

import numpy as np

from ...shared.epochs.accuracies import UNITS, length_of_text, possible
from ...shared.epochs.fix_values import is_fixed
from ...shared.epochs.times import AS_TEXT, parse_times
from .role_words import (
    ACCURACY,
    CAPTURE,
    FIX,
    H_ACCURACY,
    OWN,
    TIME,
    V_ACCURACY,
    fold,
    vocabulary,
    words_of,
)

# kinds of field that can hold a part
KINDS = {
    TIME: frozenset(("datetime", "date", "text", "int", "double")),
    CAPTURE: frozenset(("text", "int")),
    FIX: frozenset(("text", "int", "double", "bool")),
    H_ACCURACY: frozenset(("text", "int", "double")),
    V_ACCURACY: frozenset(("text", "int", "double")),
}
DAY = 86400.0
MOST = 0.5  # share of the values that, with the name, decide what a field is
REPEATED = 0.8  # different values to a row, up to which a well-known name makes a capture
# parts without which a run stops where two fields are equally good
MUST_CHOOSE = frozenset((TIME, FIX))
STATES = 0.9  # share of the values that are states of the solution in a field known by them alone
# parts of words that are said of solutions and of little else; common practice, no source
SAID_OF_SOLUTIONS = ("float", "rtk", "single", "autonom", "standalone", "dgps", "dgnss")
# units of length behind the name of an accuracy: “HRMS (mm)”, “h_acc_cm”, “accuracy, m”
_LENGTH_UNIT = re.compile(
    r"(?<=\w)\s*[(\[ _,/.-]\s*(m|met(?:er|re)s?|dm|cm|mm|ft|feet)\s*[)\]]?\s*$", re.IGNORECASE
)


class UndecidedError(Exception):
    """Two fields are equally good for a part that must be known."""

    def __init__(self, part, names):
        super().__init__(part, names)
        self.part, self.names = part, names


@dataclass(frozen=True)
class Found:
    """Field taken for a part.

    Attributes
    ----------
    names : tuple of str
        Empty where none was found.
    how : str
        ``given``, ``name``, ``values``, ``agree`` (several fields say the same) or empty.
    rivals : tuple of str
        Equally good fields: those that agree with the one taken, or those for which none was taken.
    words : tuple of tuple of str
        What the name was known by: entries of the table, each with its language.
    passed_over : tuple of str
        Fields whose names fit less well.
    unfit : tuple of str
        Fields whose names are well known for the part, but most of whose values cannot be it.
    """

    names: tuple = ()
    how: str = ""
    rivals: tuple = ()
    words: tuple = ()
    passed_over: tuple = ()
    unfit: tuple = ()


def length_unit(name):
    """The unit of length, other than metres, that stands behind a name; empty without one."""
    found = _LENGTH_UNIT.search(name)
    unit = found.group(1).lower() if found else ""
    return "" if UNITS[unit] == 1.0 else unit


def _accuracy_words(words, known):
    """Words of a name, and the two halves of compounds of a direction and an accuracy:
    Lagegenauigkeit."""
    spread = known.of(ACCURACY, "word")
    directions = {**known.of(H_ACCURACY, "word"), **known.of(V_ACCURACY, "word")}
    some = set(words)
    for word in words:
        # halves of one or two letters would be found in any word
        for cut in range(3, len(word) - 2):
            left, right = word[:cut], word[cut:]
            if (left in directions and right in spread) or (left in spread and right in directions):
                some |= {left, right}
    return some


def _fits(part, name, known):
    """How well a name fits, and the entries it was known by.

    3 for a whole name that the user listed, 2 for a well-known one, 1 for a name that holds the
    words, 0 for any other.
    """
    if part in (H_ACCURACY, V_ACCURACY):
        name = _LENGTH_UNIT.sub("", name)
    words = [fold(word) for word in words_of(name)]
    together, some = "".join(words), set(words)
    whole = known.of(part, "name").get(together)
    ruled_out = {
        word for word, (_, language) in known.of(part, "without").items() if language == OWN
    } & (some | {together})
    if part in (H_ACCURACY, V_ACCURACY):
        some = _accuracy_words(words, known)
        other = V_ACCURACY if part == H_ACCURACY else H_ACCURACY
        spread = known.of(ACCURACY, "word")
        needs = (known.of(part, "word"), spread)
        own = set(known.of(part, "word"))  # a word may be of both directions in different languages
        refuses = set(known.of(part, "without")) | (set(known.of(other, "word")) - own)
    else:
        spread, needs = {}, (known.of(part, "word"),)
        refuses = set(known.of(part, "without")) | (
            set() if part == TIME else set(known.of(ACCURACY, "word"))
        )
    if whole and (whole[1] == OWN or not ruled_out):
        return (3 if whole[1] == OWN else 2), (whole,)
    if some & refuses or ruled_out:
        return 0, ()
    hits = [sorted(some & set(wanted)) for wanted in needs]
    if all(hits):
        return 1, tuple(wanted[hit[0]] for hit, wanted in zip(hits, needs))
    # for accuracies that do not say of what: the horizontal one is meant (common practice, no
    # source)
    if (
        part == H_ACCURACY
        and some
        and some <= set(spread) | set(known.of(ACCURACY, "beside"))
        and hits[1]
    ):
        return 1, (spread[hits[1][0]],)
    return 0, ()


def fixed_of(column, fixed_values, known):
    """True where a value of a column of text or numbers means fixed.

    A list of the user's own stands alone; where it is empty, the words of the table count.
    """
    wanted = fold(fixed_values) if fixed_values.strip() else known.fixed_values()
    return is_fixed(_folded(column), wanted)


def known_states(column, fixed_values, known):
    """True where a value of a column of text or numbers is known as a state of the solution, fixed
    or not."""
    texts = _folded(column)
    fixed = is_fixed(texts, f"{known.fixed_values()}, {fold(fixed_values)}")
    return fixed | is_fixed(texts, known.other_values())


def _folded(column):
    return np.array([fold(text) for text in column.texts().tolist()], dtype=str)


def plausible(part, column, fixed_values="", known=None):
    """True where a sample of values is what the part needs; None where the sample holds no
    values."""
    present = column.take(~column.missing)
    if not len(present.values):
        return None
    if part == TIME:
        if column.kind in ("date", "datetime"):
            return True
        if column.kind in ("int", "double"):
            seconds = present.numbers()
            few = np.isfinite(seconds) & (np.abs(seconds) <= 24)
            if len(seconds) > 250 and few.all() and (seconds == np.floor(seconds)).all():
                return False  # hours: in many languages the word is the same
            good = np.isfinite(seconds) & (seconds >= 0)
            return bool(
                np.count_nonzero(good) > MOST * len(seconds)
                and (len(seconds) < 3 or np.unique(seconds[good]).size > 1)
            )
        seconds = parse_times(present.texts())[0]
        return bool(np.count_nonzero(np.isfinite(seconds)) > 0.5 * len(seconds))
    if part == FIX:
        if column.kind == "bool":
            return True
        known = vocabulary() if known is None else known
        codes, different = present.factor()
        states = known_states(different, fixed_values, known)[codes]
        return bool(np.count_nonzero(states) > MOST * len(states))
    if part in (H_ACCURACY, V_ACCURACY):
        numbers = as_metres(present)
        return bool(np.count_nonzero(possible(numbers)) > MOST * len(numbers))
    # a capture has many epochs; a field that differs in every row numbers the epochs
    different = len(present.factor()[1].values)
    return different < MOST * len(present.values) or len(present.values) < 4


def _repeats(column):
    """Whether a fair share of the rows has the value of another one."""
    present = column.take(~column.missing)
    return len(present.factor()[1].values) <= REPEATED * len(present.values)


def as_numbers(column, read=float):
    """Values as floats, NaN where missing or no number, whatever the kind of the field; `read`
    makes a number of a text, or raises ValueError."""
    if column.kind in ("int", "double", "bool"):
        return column.numbers()
    codes, different = column.factor()
    numbers = np.full(len(different.values), np.nan)
    for row, text in enumerate(different.texts().tolist()):
        try:
            numbers[row] = read(text)
        except ValueError:
            continue  # stays NaN: the caller says which text it was
    return numbers[codes] if len(codes) else numbers


def as_metres(column, name=""):
    """As `as_numbers`, of lengths: text may have a decimal comma and a unit after the number, and
    numbers are in the unit that stands behind the name of the field."""
    unit = UNITS[length_unit(name)]
    if column.kind == "text":
        return as_numbers(column, partial(length_of_text, unit=unit))
    return as_numbers(column) * unit


def find(part, kinds, columns, fixed_values="", known=None):
    """Find the field for a part.

    Parameters
    ----------
    part : str
    kinds : dict of str to str
        Kind of every field of the layer, by name.
    columns : dict of str to Column
        Sample of the fields, by name.
    fixed_values : str
        Values that the user takes for fixed, empty for the usual ones: a fix field may hold them.
    known : Vocabulary, optional
        By default that of `vocabulary`.

    Returns
    -------
    Found

    Raises
    ------
    UndecidedError
        If two fields are equally good for the time or the fix.
    """
    known = vocabulary() if known is None else known
    ranks, words, unfit = _ranked(part, kinds, columns, fixed_values, known)
    best = max(ranks.values(), default=0)
    good = tuple(name for name, rank in ranks.items() if rank == best)
    less = tuple(name for name, rank in ranks.items() if rank < best)
    if part == CAPTURE and best < 3 and {"track_fid", "track_seg_id"} <= set(kinds):
        # GDAL's names for a GPX track and its segments
        return Found(("track_fid", "track_seg_id"), "name", (), (), tuple(ranks))
    if len(good) == 1:
        return Found(good, "name", (), words[good[0]], less)
    if part == TIME and not good:
        good = _times_by_value(kinds, columns, known)
        if len(good) == 1:
            return Found(good, "values")
    if not good:
        return Found(unfit=unfit)
    if part == TIME and _say_the_same([columns[name] for name in good]):
        return Found(good[:1], "agree", good[1:], words.get(good[0], ()), less)
    if part in MUST_CHOOSE:
        raise UndecidedError(part, good)
    return Found((), "", good)


def _ranked(part, kinds, columns, fixed_values, known):
    """Ranks by name of the fields that fit a part, the words of it in each name, and the fields
    that fit by name alone."""
    ranks, words, empty, unfit = {}, {}, [], []
    for name, kind in kinds.items():
        if kind not in KINDS[part] or name.lower() == "fid":
            continue
        rank, words[name] = _fits(part, name, known)
        sensible = (
            plausible(part, columns[name], fixed_values, known)
            if rank and name in columns
            else None
        )
        if rank and (sensible or (sensible is None and rank >= 2)):
            ranks[name] = rank
            if sensible is None:
                empty.append(name)
        elif rank >= 2 and part == CAPTURE and _repeats(columns[name]):
            ranks[name] = rank  # captures of an epoch or two
        elif rank >= 2:
            unfit.append(name)
    if len(ranks) > len(empty):  # a field without values is no rival of one with values
        ranks = {name: rank for name, rank in ranks.items() if name not in empty}
    return ranks, words, tuple(unfit)


# Accuracies by axis, north and east; common practice, no source.
BY_AXIS = (("sdn", "sde"), ("nsd", "esd"), ("sdnorth", "sdeast"), ("sigman", "sigmae"))


_CLOCK = re.compile(r"\s*([01]?\d|2[0-3]):[0-5]\d(:[0-6]\d([.,]\d+)?)?\s*Z?\s*$", re.IGNORECASE)
# Columns of the solution files of RTKLIB (its manual 2.4.2, B.1), and the state that is fixed
# there: 1 fixed, 2 float, 3 reserved, 4 differential, 5 single
SOLUTION_FILE, SOLUTION_STATE, SOLUTION_FIXED = frozenset(("ns", "sdn", "sde", "sdu")), "q", "1"


def solution_state(kinds):
    """The field with the state of the solution, where the fields are those of a solution file;
    empty for any other layer.

    Parameters
    ----------
    kinds : dict of str to str
        Kind of every field, by name.
    """
    folded = {fold("".join(words_of(name))): name for name in kinds}
    state = folded.get(SOLUTION_STATE, "")
    fits = set(folded) >= SOLUTION_FILE and kinds.get(state) in ("int", "double", "text")
    return state if fits else ""


def accuracies_by_axis(kinds):
    """Two fields with the accuracies north and east; empty where there are none.

    Parameters
    ----------
    kinds : dict of str to str
        Kind of every field, by name.
    """
    known = {
        fold("".join(words_of(_LENGTH_UNIT.sub("", name)))): name
        for name, kind in kinds.items()
        if kind in KINDS[H_ACCURACY]
    }
    return next(
        (tuple(known[one] for one in pair) for pair in BY_AXIS if set(pair) <= set(known)), ()
    )


def date_and_clock(kinds, columns):
    """A field with dates and one with the time of day, where there is just one of each; else empty.

    Parameters
    ----------
    kinds : dict of str to str
        Kind of every field, by name.
    columns : dict of str to Column
        Sample of the fields, by name.
    """
    dates, clocks = [], []
    for name, column in columns.items():
        present = column.take(~column.missing)
        if not len(present.values) or kinds[name] not in ("date", "time", "text"):
            continue
        if kinds[name] == "date":
            dates.append(name)
        elif all(map(_CLOCK.match, present.texts().tolist())):
            clocks.append(name)
        elif kinds[name] == "text":
            seconds, what = parse_times(present.texts())
            read = seconds[np.isfinite(seconds)]
            whole = 2 * len(read) > len(seconds) and (read % DAY == 0).all()
            if not what.endswith(AS_TEXT) and whole:
                dates.append(name)
    return (dates[0], clocks[0]) if len(dates) == 1 == len(clocks) else ()


def states_by_value(kinds, columns, known):
    """Fields of text whose values are states of the solution, whatever the fields are called.

    Some must mean fixed; and where others do not, one must be a word that is said of solutions
    alone: a post may be “fixed”, or “none”. Most rows must have a value: a remark may say “fixed”.

    Parameters
    ----------
    kinds : dict of str to str
        Kind of every field, by name.
    columns : dict of str to Column
        Sample of the fields, by name.
    known : Vocabulary

    Returns
    -------
    tuple of str
    """
    found = []
    for name, column in columns.items():
        present = column.take(~column.missing)
        if kinds[name] != "text" or len(present.values) <= MOST * len(column.values):
            continue
        codes, different = present.factor()
        texts = _folded(different).tolist()
        fixed = fixed_of(different, "", known)
        states = known_states(different, "", known)
        worded = [text for text, is_one in zip(texts, fixed.tolist()) if is_one and len(text) > 2]
        told = any(part in text for text in texts for part in SAID_OF_SOLUTIONS)
        if (
            worded
            and (told or fixed.all())
            and np.count_nonzero(states[codes]) >= STATES * len(codes)
        ):
            found.append(name)
    return tuple(found)


def _times_by_value(kinds, columns, known):
    """Fields that hold moments, whatever they are called; full date-times before text."""
    for wanted in ("datetime", "text"):
        found = []
        for name, kind in kinds.items():
            column = columns.get(name)
            if (
                kind != wanted
                or column is None
                or set(map(fold, words_of(name))) & set(known.of(TIME, "without"))
            ):
                continue
            present = column.take(~column.missing)
            if not len(present.values):
                continue
            seconds, what = parse_times(present.values if kind == "datetime" else present.texts())
            if what.endswith(AS_TEXT) or np.count_nonzero(np.isfinite(seconds)) < 0.9 * len(
                seconds
            ):
                continue
            if len(seconds) > 2 and np.unique(seconds).size < 2:
                continue  # the same moment in all rows: when the file was made, not the epoch
            found.append(name)
        if found:
            return tuple(found)
    return ()


def _say_the_same(columns):
    read = []
    for column in columns:
        if column.kind in ("int", "double"):
            read.append(parse_times(column.numbers())[0])
        elif column.kind in ("date", "datetime"):
            read.append(
                parse_times(np.where(column.missing, np.datetime64("NaT"), column.values))[0]
            )
        else:
            read.append(parse_times(column.texts())[0])
    first = read[0]
    return all(
        np.array_equal(np.isnan(first), np.isnan(other))
        and np.nanmax(np.abs(first - other), initial=0.0) < 1e-3
        for other in read[1:]
    )
