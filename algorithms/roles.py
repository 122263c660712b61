"""Which field plays which part: found from names, types and values where the user names none."""
import re
from dataclasses import dataclass

import numpy as np

from ..shared.fixes import DEFAULT_FIXED_VALUES, fixed_words, is_fixed
from ..shared.times import parse_times

TIME, CAPTURE, FIX, H_ACCURACY, V_ACCURACY = "time", "capture", "fix", "h_accuracy", "v_accuracy"



def _set(text):
    return frozenset(text.split())


# Names are compared as words: "hAcc", "h_acc" and "H-ACC" are the words h, acc; "hacc" is one word.
_SPREAD = _set("acc accuracy sigma sd std stdev stddev rms rmse error err precision uncertainty")
_FLAT = _set("h hor horiz horizontal xy plan planar")
_UP = _set("v ver vert vertical z up height elevation")
_NOT_A_MOMENT = _set("start started begin end ended stop zone offset age interval duration gap lag edit edited editor modified "
                          "modification updated update upload uploaded exported imported correction corrections week")
_NOT_A_FIX = _set("time age date count number sats satellites photo image signal h v") | _SPREAD


@dataclass(frozen=True)
class Part:
    """How to know a field for one part.

    Attributes
    ----------
    exact : frozenset of str
        Names, words run together, that settle it.
    needs : tuple of frozenset of str
        A name that holds a word of each set is good as well.
    refuses : frozenset of str
        Words that rule a name out.
    kinds : frozenset of str
        Kinds of field that can hold the part.
    must_choose : bool
        Two equally good fields stop the run; otherwise none is taken.
    """

    exact: frozenset
    needs: tuple
    refuses: frozenset
    kinds: frozenset
    must_choose: bool


PARTS = {
    TIME: Part(
        _set("time utc timestamp datetime dateandtime utctime timeutc utcdatetime datetimeutc gpstime gnsstime unixtime unixseconds "
             "epochtime timeofepoch observedat capturedat measuredat recordedat"),
        (_set("time utc timestamp datetime epoch moment instant seconds sec t unix"),),
        _NOT_A_MOMENT, _set("datetime date text int double"), True),
    CAPTURE: Part(
        _set("capture captureid capturename capturenumber captureno walk walkid walkname"),
        (_set("capture walk track string"),),
        _set("time date start end length count quality fix by") | _SPREAD, _set("text int"), False),
    FIX: Part(
        _set("fix fixquality fixtype fixstatus fixmode gpsquality gnssquality gpsfix gnssfix rtkfix rtkstatus solution solutiontype "
             "solutionstatus qualityindicator fixed"),
        (_set("fix fixed rtk solution quality"),),
        _NOT_A_FIX, _set("text int double bool"), True),
    H_ACCURACY: Part(
        _set("hacc haccuracy acch accuracyh horizontalaccuracy horaccuracy sigmah hsigma sdh hsd stdh hstd hrms rmsh herror herr hprecision"),
        (_FLAT, _SPREAD), _UP | _set("max limit"), _set("text int double"), False),
    V_ACCURACY: Part(
        _set("vacc vaccuracy accv accuracyv verticalaccuracy veraccuracy sigmav vsigma sdv vsd stdv vstd vrms rmsv sigmaz sdz sigmaup "
             "verror verr vprecision"),
        (_UP, _SPREAD), _FLAT | _set("max limit"), _set("text int double"), False),
}

# States that a fix field may hold beside the fixed one: NMEA 0183 GGA quality 0 to 8 and mode letters
# (field list of the gpsd project), the GPX 1.1 fix types, and words in use (common practice, no source).
_OTHER_STATES = fixed_words(
    "0,1,2,3,4,5,6,7,8,9,a,d,e,m,s,n,f,p,r,none,no fix,nofix,invalid,not available,2d,3d,dgps,pps,float,rtk float,float rtk,single,"
    "autonomous,standalone,stand alone,spp,gps,gnss,dgnss,differential,sbas,ppp,precise,estimated,dead reckoning,manual,simulator,"
    "simulation,unknown,n/a,true,false,yes,no,not fixed,narrow float,wide int,wide float")


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
        Equally good fields, for which reason none was taken.
    """

    names: tuple = ()
    how: str = ""
    rivals: tuple = ()


def words_of(name):
    """Lower-case words of a field name: ``"gpsTime_utc2"`` gives gps, time, utc."""
    words = re.findall(r"[A-Z]+(?![a-z])|[A-Z]?[^\W\d_A-Z]+", name)
    return [word.lower() for word in words]


def _fits(part, name):
    """2 for a well-known name, 1 for a name that holds the words, 0 for any other."""
    words = words_of(name)
    rule = PARTS[part]
    if "".join(words) in rule.exact:
        return 2
    some = set(words)
    if some & rule.refuses:
        return 0
    if all(some & wanted for wanted in rule.needs):
        return 1
    # for accuracies that do not say of what: the horizontal one is meant (common practice, no source)
    if part == H_ACCURACY and words and some <= _SPREAD | _set("position pos gps gnss m metres meters") and some & _SPREAD:
        return 1
    return 0


def plausible(part, column, fixed_values=DEFAULT_FIXED_VALUES):
    """True where a sample of values is what the part needs; None where the sample holds no values."""
    present = column.take(~column.missing)
    if not len(present.values):
        return None
    if part == TIME:
        if column.kind in ("date", "datetime"):
            return True
        if column.kind in ("int", "double"):
            seconds = present.numbers()
            return bool(np.isfinite(seconds).all() and (seconds >= 0).all() and (len(seconds) < 3 or np.unique(seconds).size > 1))
        seconds = parse_times(present.texts())[0]
        return bool(np.count_nonzero(np.isfinite(seconds)) > 0.5 * len(seconds))
    if part == FIX:
        if column.kind == "bool":
            return True
        known = ", ".join(sorted(_OTHER_STATES))
        texts = present.factor()[1].texts()
        return bool((is_fixed(texts, known) | is_fixed(texts, DEFAULT_FIXED_VALUES) | is_fixed(texts, fixed_values)).all())
    if part in (H_ACCURACY, V_ACCURACY):
        numbers = as_numbers(present)
        return bool(np.isfinite(numbers).all() and (numbers >= 0).all())
    # a capture has many epochs; a field that differs in every row numbers the epochs
    different = len(present.factor()[1].values)
    return different < 0.5 * len(present.values) or len(present.values) < 4


def as_numbers(column):
    """Values as floats, NaN where missing or no number, whatever the kind of the field."""
    if column.kind in ("int", "double", "bool"):
        return column.numbers()
    codes, different = column.factor()
    numbers = np.full(len(different.values), np.nan)
    for row, text in enumerate(different.texts().tolist()):
        try:
            numbers[row] = float(text)
        except ValueError:
            continue  # stays NaN: the caller says which text it was
    return numbers[codes] if len(codes) else numbers


def find(part, kinds, columns, fixed_values=DEFAULT_FIXED_VALUES):
    """Find the field for a part.

    Parameters
    ----------
    part : str
    kinds : dict of str to str
        Kind of every field of the layer, by name.
    columns : dict of str to Column
        Sample of the fields, by name.
    fixed_values : str
        Values that the user takes for fixed: a fix field may hold them.

    Returns
    -------
    Found

    Raises
    ------
    UndecidedError
        If two fields are equally good for the time or the fix.
    """
    rule = PARTS[part]
    ranks, empty = {}, []
    for name, kind in kinds.items():
        if kind not in rule.kinds or name.lower() == "fid":
            continue
        rank = _fits(part, name)
        sensible = plausible(part, columns[name], fixed_values) if name in columns else None
        if rank and (sensible or (sensible is None and rank == 2)):
            ranks[name] = rank
            if sensible is None:
                empty.append(name)
    if len(ranks) > len(empty):  # a field without values is no rival of one with values
        ranks = {name: rank for name, rank in ranks.items() if name not in empty}
    best = max(ranks.values(), default=0)
    good = tuple(name for name, rank in ranks.items() if rank == best)
    if part == CAPTURE and {"track_fid", "track_seg_id"} <= set(kinds):
        return Found(("track_fid", "track_seg_id"), "name")  # GDAL's names for a GPX track and its segments
    if len(good) == 1:
        return Found(good, "name")
    if part == TIME and not good:
        good = _times_by_value(kinds, columns)
        if len(good) == 1:
            return Found(good, "values")
    if not good:
        return Found()
    if part == TIME and _say_the_same([columns[name] for name in good]):
        return Found(good[:1], "agree")
    if rule.must_choose:
        raise UndecidedError(part, good)
    return Found((), "", good)


def _times_by_value(kinds, columns):
    """Fields that hold moments, whatever they are called; full date-times before text."""
    for wanted in ("datetime", "text"):
        found = []
        for name, kind in kinds.items():
            column = columns.get(name)
            if kind != wanted or column is None or set(words_of(name)) & _NOT_A_MOMENT:
                continue
            present = column.take(~column.missing)
            if not len(present.values):
                continue
            seconds, what = parse_times(present.values if kind == "datetime" else present.texts())
            if what.endswith("as text") or np.count_nonzero(np.isfinite(seconds)) < 0.9 * len(seconds):
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
            read.append(parse_times(np.where(column.missing, np.datetime64("NaT"), column.values))[0])
        else:
            read.append(parse_times(column.texts())[0])
    first = read[0]
    return all(np.array_equal(np.isnan(first), np.isnan(other)) and np.nanmax(np.abs(first - other), initial=0.0) < 1e-3 for other in read[1:])
