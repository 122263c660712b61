"""What the fields of a layer of epochs say of each row: times, captures, fix and accuracies."""

import time
from collections import Counter

import numpy as np
from qgis.core import QgsProcessingException
from qgis.PyQt.QtCore import QCoreApplication

from ...shared.epochs.accuracies import possible, says_none
from ...shared.epochs.number_times import SECONDS, without_wild
from ...shared.epochs.slash_dates import KINDS, UNDECIDED, iso_of_slashed, slash_maxima, slash_order
from ...shared.epochs.times import kind_in_words, parse_times, zoned
from ...shared.language import speaking
from ...shared.tuning import ACCURACIES, TIMES
from ..host.figures import translate
from ..host.quotes import quoted
from . import role_words, roles
from .columns import refuse_no_numbers

# seconds from 1970 to the origin of GPS time, 1980-01-06 (IS-GPS-200); dates before 2018 could be
# today's seconds of GPS
HALF_DAY, BACK_AT_ONE = 43200.0, -42900.0  # s; with a pause of five minutes at most
AHEAD = 400 * 86400.0  # s; clocks differ, and a year is no matter
FEW_DATES = 5  # rows from which dates alone cannot be times
MANY_DATES = 1000  # rows that are looked at before all are
SEPARATOR = " / "  # between the fields of a capture
GPS_ORIGIN, GPS_IN_DOUBT = 315964800, 1514764800.0


def tr(text):
    return translate("Layers", text)


def times_of(rows, names, name, choices, feedback):
    """Seconds since 1970 of each row, from one field, or from one with dates and one with the time
    of day."""
    column, parameter = rows.columns[names[0]], choices.parameters[roles.TIME]
    seconds, what = _seconds_and_kind(*(rows.columns[one] for one in names))
    if what == UNDECIDED:
        raise QgsProcessingException(
            tr(
                "Layer “{}”: dates in field “{}”, for example “{}”, may have the day or the month"
                " first, and no row tells which. Bring them into the form 2026-05-04T10:00:00Z, or"
                " choose another field in “{}”."
            ).format(
                name,
                names[0],
                _first_text(column, ~column.missing),
                parameter,
            )
        )
    seconds = without_wild(seconds)
    unreadable = ~np.isfinite(seconds) & ~column.missing
    if not np.isfinite(seconds).any():
        _refuse_without_times(column, unreadable, names[0], (name, parameter))
    with speaking(QCoreApplication.translate):
        feedback.pushInfo(tr("Time is read as: {}.").format(kind_in_words(what)))
    if len(names) == 1 and column.kind == "text" and np.nanmax(seconds) > TIMES.earliest_date:
        _say_mixed_zones(column, names[0], feedback)
    _refuse_whole_days(seconds, names, (name, parameter))
    _say_dates(seconds, column, names[0], what, feedback)
    if unreadable.any():
        feedback.pushWarning(
            tr(
                "Times in field “{1}” that cannot be read: {0}, for example “{2}”. Their epochs"
                " count as having no time."
            ).format(np.count_nonzero(unreadable), names[0], _first_text(column, unreadable))
        )
    return seconds


def _seconds_and_kind(column, clock=None):
    """Seconds of a column, and how they were read; `clock`: the column with the time of day."""
    if clock is not None:
        return _times_of_two(column, clock)
    if column.kind == "int":  # not as floats, which do not hold 17 digits
        return parse_times(np.ma.array(column.values, mask=column.missing))
    if column.kind == "double":
        return parse_times(column.numbers())
    if column.kind in ("date", "datetime"):
        return parse_times(column.values)
    return times_of_text(column)


def _refuse_without_times(column, unreadable, field, called):
    """Raise where no row has a time; `called`: of the layer and of the parameter."""
    if unreadable.any():
        raise QgsProcessingException(
            tr(
                "Layer “{}”: no time in field “{}” can be read, for example “{}”. Choose"
                " another field in “{}”, or bring the values into the form"
                " 2026-05-04T10:00:00Z, or seconds since 1970."
            ).format(called[0], field, _first_text(column, unreadable), called[1])
        )
    raise QgsProcessingException(
        tr(
            "Layer “{}”: field “{}” holds no time in any row. Choose the field that does in “{}”."
        ).format(called[0], field, called[1])
    )


def _say_mixed_zones(column, name, feedback, block=100_000):
    """Warn where some times name a zone and others do not: these may be local ones."""
    without, there, first = 0, 0, ""
    for start in range(0, len(column.values), block):
        part = column.take(slice(start, start + block))
        texts = part.take(~part.missing).texts()
        bare = ~zoned(texts)
        without, there = without + np.count_nonzero(bare), there + len(texts)
        if bare.any() and not first:
            first = texts[np.flatnonzero(bare)[0]]
    if 0 < without < there:
        feedback.pushWarning(
            tr(
                "Times in field “{2}” that name no zone, where others do: {0} of {1}, for example"
                " “{3}”. They are taken as UTC. If they are local times, their epochs are in the"
                " wrong place in time: write the zone to all of them."
            ).format(without, there, name, first)
        )


def _refuse_whole_days(seconds, names, called):
    """Raise where there are dates and no time of day; `called`: of the layer and of the
    parameter."""
    known = seconds[np.isfinite(seconds)]
    if (
        len(known) < FEW_DATES
        or (known[:MANY_DATES] % roles.DAY).any()  # of most layers the first rows tell
        or np.abs(known).max() < TIMES.earliest_date
        or (known % roles.DAY).any()
    ):
        return
    if np.unique(known).size > len(known) / 2:
        return
    raise QgsProcessingException(
        tr(
            "Layer “{}”: field “{}” holds dates without a time of day (a Shapefile keeps no other"
            " date-times), so epochs cannot be put in order. Choose a field with the time in “{}”,"
            " or save the layer as a GeoPackage, or its times as text or numbers."
        ).format(called[0], names[0], called[1])
    )


def _say_dates(seconds, column, name, what, feedback):
    """First and last date, and a doubt about their origin; `what`: how they were read."""
    first, last = np.nanmin(seconds), np.nanmax(seconds)
    if first < TIMES.earliest_date:
        return
    moments = np.array([first, last]).astype("M8[s]")
    feedback.pushInfo("    " + tr("from {} to {}").format(*moments))
    _say_half_days(seconds, name, feedback)
    now = time.time()
    if last > now + AHEAD:
        feedback.pushWarning(
            tr(
                "Times in field “{}” run to {}, which is yet to come: they may count from another"
                " origin, or the receiver's date may be wrong. The edges are the same, but their"
                " dates are not."
            ).format(name, moments[1])
        )
    of_receiver = {"gps", "gnss", "gpst", "tow"} & {
        role_words.fold(word) for word in role_words.words_of(name)
    }
    counted = "since 1970" in what or what == SECONDS
    in_doubt = (of_receiver and first < GPS_IN_DOUBT) or (
        counted and last < now + AHEAD - GPS_ORIGIN
    )
    if column.kind not in ("date", "datetime") and in_doubt:
        other = (moments[:1] + np.timedelta64(GPS_ORIGIN, "s"))[0]
        feedback.pushWarning(
            tr(
                "Times in field “{}” are read as since 1970, which gives {}. If they are seconds of"
                " GPS, since 1980-01-06, they begin at {} (less leap seconds): the edges are the"
                " same, but their dates are not."
            ).format(name, moments[0], other)
        )


def _say_half_days(seconds, name, feedback):
    """Warn of a clock of twelve hours that does not say which half of the day it is."""
    known = seconds[np.isfinite(seconds)]
    step = np.diff(known)
    back = step[step < 0]
    # from 12:59:59 back to 01:00:00
    turns = np.count_nonzero((back > -HALF_DAY) & (back <= BACK_AT_ONE))
    if not turns or 2 * turns < len(back):
        return
    clock = known % roles.DAY
    if clock.min() >= HALF_DAY / 12 and clock.max() < HALF_DAY * 13 / 12:
        feedback.pushWarning(
            tr(
                "Times in field “{}” go from 12 back to 1, as on a clock of twelve hours without AM"
                " or PM: epochs may be in the wrong order. Write them with 24 hours, or with AM and"
                " PM."
            ).format(name)
        )


def _times_of_two(dates, clocks):
    """Seconds since 1970 from dates and times of day."""
    days, what = parse_times(dates.values) if dates.kind == "date" else times_of_text(dates)
    texts = np.char.strip(clocks.texts())
    texts = np.where(np.char.find(texts, ":") == 1, np.char.add("0", texts), texts)
    clock = parse_times(np.char.add("1970-01-01T", texts))[0]
    return days + clock, UNDECIDED if what == UNDECIDED else tr("date and time of day")


def times_of_text(column, block=100_000):
    """As `parse_times`, but a block at a time: it needs some hundred bytes to a character of
    text."""
    parts, kinds = [], set()
    order = _order_of_slashes(column, block)
    if order == UNDECIDED:
        return np.full(len(column.values), np.nan), UNDECIDED
    for start in range(0, len(column.values), block):
        texts = column.take(slice(start, start + block)).texts()
        seconds, what = parse_times(iso_of_slashed(texts, order) if order else texts)
        what = KINDS[order] if order else what
        parts.append(seconds)
        if np.isfinite(seconds).any():
            kinds.add(what)
    if len(kinds) > 1:  # numbers are read by the size of the greatest, so all must be seen at once
        return parse_times(column.texts())
    return np.concatenate(parts), kinds.pop() if kinds else what


def _order_of_slashes(column, block):
    """Which stands first in dates with slashes, told by all rows; empty without such dates."""
    if b"/" not in column.values.tobytes():
        return ""
    maxima = [
        slash_maxima(column.take(slice(start, start + block)).texts())
        for start in range(0, len(column.values), block)
    ]
    return slash_order(tuple(map(max, zip(*maxima))))


def parts_of_walks(rows, seconds):
    """Part of each vertex, 0 throughout in lines whose parts follow on in time: one walk, which its
    app cut.

    Parameters
    ----------
    rows : Rows
    seconds : ndarray of float, shape (n,)

    Returns
    -------
    ndarray of int64, shape (n,)
    """
    if not len(rows) or not rows.part.any():
        return rows.part
    first = np.flatnonzero(np.append(True, (np.diff(rows.ids) != 0) | (np.diff(rows.part) != 0)))
    starts, ends = np.fmin.reduceat(seconds, first), np.fmax.reduceat(seconds, first)
    line = rows.ids[first]
    follows = (starts[1:] >= ends[:-1]) | (line[1:] != line[:-1])
    apart = np.unique(line[1:][~follows])
    return np.where(np.isin(rows.ids, apart), rows.part, 0)


def captures_of(rows, names, is_line, by_order=False, part=None, walk=None):
    """Texts of the captures, sorted, and the code of each row; `part` and `walk` stand for part and
    id of the rows.

    Where the order of vertices stands for the time, nothing tells in which order lines were walked:
    each part stays by itself.
    """
    if is_line and (by_order or not names):
        different, codes = np.unique(
            np.column_stack(
                [rows.ids if walk is None else walk, rows.part if part is None else part]
            ),
            axis=0,
            return_inverse=True,
        )
        several = np.unique(different[different[:, 1] > 0, 0])
        texts = [
            f"{line}/{part + 1}" if line in several else str(line)
            for line, part in different.tolist()
        ]
        lines = sorted_texts(texts, codes.reshape(-1))
        if not names:
            return lines
        named = captures_of(rows, names, False)
        pairs, codes = np.unique(np.column_stack([named[1], lines[1]]), axis=0, return_inverse=True)
        alone = np.bincount(pairs[:, 0], minlength=len(named[0])) == 1
        texts = [
            named[0][own] if alone[own] else f"{named[0][own]} / {lines[0][line]}"
            for own, line in pairs.tolist()
        ]
        return sorted_texts(texts, codes.reshape(-1))
    if not names:
        return [""], np.zeros(len(rows), np.int64)
    codes, texts = None, None
    for name in names:
        own, different = rows.columns[name].factor()
        own_texts = different.texts().tolist()
        if codes is None:
            codes, texts = own, own_texts
            continue
        pairs, codes = np.unique(codes * len(own_texts) + own, return_inverse=True)
        texts = _joined(
            [(texts[pair // len(own_texts)], own_texts[pair % len(own_texts)]) for pair in pairs]
        )
    return sorted_texts(texts, codes)


def _joined(pairs):
    """Texts of two fields with “ / ” between; where others would read alike, what belongs to the
    fields themselves is marked: “a / b”, “c” and “a”, “b / c” are two captures."""
    texts = [SEPARATOR.join(pair) for pair in pairs]
    count = Counter(texts)
    marked = [
        SEPARATOR.join(text.replace("\\", "\\\\").replace("/", "\\/") for text in pair)
        for pair in pairs
    ]
    return [other if count[text] > 1 else text for text, other in zip(texts, marked)]


def sorted_texts(texts, codes):
    """Codes in the order of the texts; equal texts get one code."""
    different, place = np.unique(np.array(texts, dtype=str), return_inverse=True)
    return different.tolist(), (
        codes if (place == np.arange(len(place))).all() else place.astype(np.int64)[codes]
    )


def fixed_of_rows(rows, names, choices, known, feedback):
    """Whether each row has a fixed solution, shape (n,); None where there is no field that says, or
    it is empty, so that all count as fixed."""
    if not names:
        return None
    column = rows.columns[names[0]]
    codes, different = column.factor()
    if not choices.fix.strip() and not choices.fixed_values.strip() and _is_empty(different):
        feedback.pushWarning(
            tr("Field “{}” is empty in all rows: all epochs are taken as fixed.").format(names[0])
        )
        return None
    if column.kind == "bool":
        fixed = different.values & ~different.missing
    else:
        fixed = roles.fixed_of(different, choices.fixed_values, known) & ~different.missing
        _say_unknown_states(codes, different, names[0], (choices, known), feedback)
    counts = np.bincount(codes, minlength=len(fixed))
    texts = [
        tr("no value") if gone else quoted(text)
        for text, gone in zip(different.texts().tolist(), different.missing.tolist())
    ]
    for wanted, sentence in (
        (fixed, tr("    Taken as fixed: {}")),
        (~fixed, tr("    Taken as not fixed: {}")),
    ):
        some = [
            place
            for place in np.argsort(-counts, kind="stable").tolist()
            if wanted[place] and counts[place]
        ]
        listed = [f"{texts[place]} ({counts[place]})" for place in some[:8]] + (
            ["…"] if len(some) > 8 else []
        )
        feedback.pushInfo(sentence.format(", ".join(listed) or tr("nothing")))
    return fixed[codes]


def _is_empty(different):
    """True where none of the different values of a column is one, blanks being none."""
    if different.missing.all():
        return True
    return different.kind == "text" and not (np.char.strip(different.texts()) != "").any()


def _say_unknown_states(codes, different, name, said, feedback):
    """Values of the fix field that no table knows count as not fixed: a list of the user's own
    says all that is to be known. `codes`, `different`: as `Column.factor` gives them; `said`: the
    user's choices and the words that are known."""
    choices, known = said
    if choices.fixed_values.strip():
        return
    unknown = np.flatnonzero(~roles.known_states(different, "", known) & ~different.missing)
    if not unknown.size:
        return
    counts = np.bincount(codes, minlength=len(different.values))
    texts = different.texts()
    feedback.pushWarning(
        tr(
            "Field “{}” holds values that are not known as a state of the solution: {}. These"
            " epochs are taken as not fixed. If such a value means a fixed solution, list all"
            " values that do in “{}”."
        ).format(
            name,
            ", ".join(f"{quoted(texts[place])} ({counts[place]})" for place in unknown[:8].tolist())
            + ("…" if unknown.size > 8 else ""),
            choices.parameters.get("fixed_values", ""),
        )
    )


def accuracy_of(rows, names, called, fate, feedback):
    """Accuracies of each row in metres: NaN where none is known, infinite where what stands there
    can be none; None without a field. `called`: of the layer and of the parameter; `fate`: what
    becomes of rows with what can be none."""
    if not names:
        return None
    if len(names) == 2:  # north and east
        return _of_axes(rows, names, called, fate, feedback)
    name, parameter = called
    column = rows.columns[names[0]]
    refuse_no_numbers(column, name, names[0], parameter)
    numbers = roles.as_metres(column, names[0])
    numbers = np.where(numbers >= ACCURACIES.beyond, np.inf, numbers)
    good, odd = possible(numbers), _odd(column, numbers)
    _doubt_unit(numbers[good], names[0], feedback)
    if odd.any() and not good.any():
        return _no_accuracy(column, odd, names[0], called, feedback)
    if np.count_nonzero(odd) > np.count_nonzero(good) and np.isnan(numbers[odd]).any():
        raise QgsProcessingException(
            tr(
                "Layer “{}”: field “{}” holds text where “{}” needs a number in metres, for"
                " example “{}” (rows: {}). Choose a numeric field, correct the values, or leave"
                " it empty."
            ).format(name, names[0], parameter, _first_text(column, odd), np.count_nonzero(odd))
        )
    if odd.any():
        feedback.pushWarning(
            tr(
                "Field “{}”: rows that hold what can be no accuracy in metres: {}, for example"
                " “{}”; {}."
            ).format(names[0], np.count_nonzero(odd), _first_text(column, odd), fate)
        )
    return np.where(good, numbers, np.where(odd, np.inf, np.nan))


def _doubt_unit(sigma, field, feedback):
    """Warn where the unit in the name of a field makes accuracies finer than any are."""
    unit = roles.length_unit(field)
    if unit and len(sigma) and np.median(sigma) < ACCURACIES.finest:
        feedback.pushWarning(
            tr(
                "Field “{}”: read in {}, as its name says, half of its accuracies are {:.2g} mm or"
                " less, which is too good to be true. If they are in metres, take the unit out of"
                " its name; else the edges seem more certain than they are."
            ).format(field, unit, 1000 * np.median(sigma))
        )


def _of_axes(rows, names, called, fate, feedback):
    """Accuracies from those north and east, of which one may be nought."""
    axes = [accuracy_of(rows, [one], called, fate, feedback) for one in names]
    noughts = [roles.as_metres(rows.columns[one], one) == 0 for one in names]
    north, east = (
        np.where(own & np.isfinite(other), 0.0, axis)
        for own, axis, other in zip(noughts, axes, axes[::-1])
    )
    return np.hypot(north, east)


def _odd(column, numbers):
    """True where something stands that can be no accuracy, and does not say in words that there is
    none."""
    odd = ~column.missing & ~possible(numbers)
    if column.kind == "text":
        codes, different = column.factor()
        none = np.array([says_none(text) for text in different.texts().tolist()], dtype=bool)
        odd &= ~none[codes] if len(codes) else True
    return odd


def _first_text(column, rows):
    return column.take(np.flatnonzero(rows)[:1]).texts()[0]


def _no_accuracy(column, odd, field, called, feedback):
    """Nothing known in all rows, which is said; words are refused. `called`: of the layer and of
    the parameter."""
    if column.kind == "text" and not np.isfinite(roles.as_metres(column)[odd]).any():
        raise QgsProcessingException(
            tr(
                "Layer “{}”: field “{}” holds text where “{}” needs a number in metres, for"
                " example “{}” (rows: {}). Choose a numeric field, correct the values, or leave"
                " it empty."
            ).format(called[0], field, called[1], _first_text(column, odd), np.count_nonzero(odd))
        )
    feedback.pushWarning(
        tr(
            "Field “{}” holds no accuracy in any row, for example “{}”: it is not used. Choose"
            " another one in “{}” if there is one."
        ).format(field, _first_text(column, odd), called[1])
    )
    return np.full(len(odd), np.nan)
