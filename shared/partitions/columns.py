"""Columns of a Parquet table as arrays: which one plays which part, and what its values mean."""

import unicodedata
from dataclasses import dataclass

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc

from ..epochs.fix_values import is_fixed
from ..epochs.times import ISO_TEXT, parse_times
from ..epochs.vocabulary import words_of
from ..tuning import PARTITIONS

OPTIONS = {
    "time": "--time",
    "capture": "--capture",
    "fix": "--fix",
    "h_accuracy": "--h-accuracy",
    "v_accuracy": "--v-accuracy",
}
CALLED = {
    "time": "time",
    "capture": "name of the capture",
    "fix": "kind of solution",
    "h_accuracy": "horizontal accuracy",
    "v_accuracy": "vertical accuracy",
}
NEEDED = {
    "time": "",
    "capture": ": without it nothing tells which epochs must stay together",
    "fix": ", or give --fix '' if every epoch is RTK fixed",
}
SEPARATOR = " / "  # between the columns of a capture


def _plain(name):
    """Letters of a name in lower case without accents: nothing else matters in `roles.csv`."""
    return "".join(
        letter for letter in unicodedata.normalize("NFKD", name.casefold()) if letter.isalpha()
    )


def choose(names, given):
    """Choose which column plays which part.

    Parameters
    ----------
    names : list of str
        Columns of the files.
    given : dict
        From part to a list of names; empty for none. Parts left out are found by the whole names in
        `roles.csv`.

    Returns
    -------
    dict
        From part to a list of names.

    Raises
    ------
    ValueError
        If a part that is needed is not found, or several columns are equally good.
    """
    taken = {}
    for part, option in OPTIONS.items():
        known = {_plain(word) for word in words_of(part, "name")}
        found = given[part] if part in given else [name for name in names if _plain(name) in known]
        if len(found) > 1 and part != "capture":
            raise ValueError(
                f"the columns {' and '.join(f'“{name}”' for name in found)} could each be the"
                f" {CALLED[part]}. Choose one with {option}"
            )
        if len(found) > 1 and part not in given:
            raise ValueError(
                f"the columns {' and '.join(f'“{name}”' for name in found)} could each be the"
                f" {CALLED[part]}. Choose with {option}, which takes several"
            )
        if not found and (part in ("time", "capture") or (part == "fix" and part not in given)):
            raise ValueError(
                f"no column is known as the {CALLED[part]}. Name it with {option}{NEEDED[part]}."
                f" There are: {', '.join(names)}"
            )
        taken[part] = found
    return taken


@dataclass(frozen=True)
class Columns:
    """The columns of a file that are used; arrays of shape (n,)."""

    seconds: np.ndarray  # since 1970, or from any origin; NaN if unknown
    kind: str  # how the times were read; empty without times
    capture: np.ndarray  # codes
    captures: np.ndarray  # of object: texts, sorted, by code
    fixed: np.ndarray
    sigma_h: np.ndarray  # None without a column
    sigma_v: np.ndarray


def read_columns(table, taken, values):
    """Read the parts that columns play.

    Parameters
    ----------
    table : pyarrow.Table
    taken : dict
        As `choose` returns it.
    values : str
        Values that mean a fixed solution, comma-separated.

    Returns
    -------
    Columns

    Raises
    ------
    ValueError
        If values do not suit their part; the message names the column and the remedy.
    """

    def one(part, read):
        if not taken[part]:
            return None
        name = taken[part][0]
        try:
            return read(table[name])
        except (ValueError, NotImplementedError) as error:  # pyarrow's own are of both kinds
            raise ValueError(
                f"column “{name}” is no {CALLED[part]}: {error}. Choose another one with"
                f" {OPTIONS[part]}"
            ) from error

    seconds, kind = one("time", _seconds)
    codes, texts = captures_of(table, taken["capture"])
    fixed = one("fix", lambda column: _fixed(column, values))
    return Columns(
        seconds=seconds,
        kind=kind,
        capture=codes,
        captures=texts,
        fixed=np.ones(len(table), bool) if fixed is None else fixed,
        sigma_h=one("h_accuracy", _numbers),
        sigma_v=one("v_accuracy", _numbers),
    )


def _seconds(column):
    """Seconds of a column of times, and how they were read."""
    kind = column.type
    if pa.types.is_dictionary(kind):
        column, kind = column.cast(kind.value_type), kind.value_type
    if pa.types.is_date(kind) or pa.types.is_timestamp(kind):
        # stored in UTC, whatever the zone shown
        moments = column.cast(pa.timestamp("us", getattr(kind, "tz", None)), safe=False).cast(
            pa.int64()
        )
        seconds, what = parse_times(
            pc.fill_null(moments, np.iinfo(np.int64).min).to_numpy().view("M8[us]")
        )
    elif _is_number(kind):
        seconds, what = parse_times(_numbers(column))
    elif _is_text(kind):
        seconds, what = [np.zeros(0)], ISO_TEXT
        block = PARTITIONS.text_block
        for start in range(0, len(column), block):
            part, how = parse_times(column.slice(start, block).to_numpy())
            seconds.append(part if how == what else np.full(len(part), np.nan))
        seconds = np.concatenate(seconds)
    else:
        raise ValueError(f"it holds {kind}, where a date-time, a number or ISO 8601 text is needed")
    if column.null_count < len(column) and not np.isfinite(seconds).any():
        raise ValueError(f"no value can be read as a time, for example “{column.drop_null()[0]}”")
    return seconds, what if np.isfinite(seconds).any() else ""


def captures_of(table, names):
    """Captures of a table.

    Parameters
    ----------
    table : pyarrow.Table
    names : list of str
        Columns that identify a capture together.

    Returns
    -------
    codes : ndarray of int, shape (n,)
    texts : ndarray of object, shape (captures,)
        Sorted, by code; a missing value counts as an empty text.

    Raises
    ------
    ValueError
        If a column holds neither text nor whole numbers.
    """
    texts = []
    for name in names:
        kind = table[name].type
        kind = kind.value_type if pa.types.is_dictionary(kind) else kind
        if not (_is_text(kind) or pa.types.is_integer(kind) or pa.types.is_null(kind)):
            raise ValueError(
                f"column “{name}” holds {kind}: captures are told apart by text or whole numbers."
                f" Choose another one with {OPTIONS['capture']}"
            )
        texts.append(table[name].cast(kind).cast(pa.large_string()))
    both = pc.binary_join_element_wise(
        *texts,
        pa.scalar(SEPARATOR, pa.large_string()),
        null_handling="replace",
        null_replacement="",
    )
    codes, different = _factor(both)
    different = np.array(different.to_pylist(), dtype=object)
    order = np.argsort(different, kind="stable")
    place = np.empty(len(order), np.int64)
    place[order] = np.arange(len(order))
    return place[codes], different[order]


def _factor(column):
    """Codes, shape (n,) of int64, and the array of different values; null counts as a value."""
    # large strings, so that the column fits into one chunk of any size
    column = column.cast(pa.large_string()) if _is_text(column.type) else column
    coded = pc.dictionary_encode(column.combine_chunks(), null_encoding="encode")
    return coded.indices.to_numpy().astype(np.int64), coded.dictionary


def _fixed(column, values):
    """Mask of the fixed solutions."""
    kind = column.type
    column = column.cast(kind.value_type) if pa.types.is_dictionary(kind) else column
    if pa.types.is_boolean(column.type):
        return pc.fill_null(column, False).to_numpy().astype(bool)
    if not (_is_number(column.type) or _is_text(column.type)):
        raise ValueError(
            f"it holds {column.type}, where text, a number or true and false is needed"
        )
    codes, different = _factor(column)
    return is_fixed(np.array(different.to_pylist(), dtype=object), values)[codes]


def _numbers(column):
    """A column as floats, NaN for null."""
    if not (_is_number(column.type) or _is_text(column.type) or pa.types.is_null(column.type)):
        raise ValueError(f"it holds {column.type}, where numbers are needed")
    return np.array(column.cast(pa.float64(), safe=False).to_numpy(), dtype=float)


def _is_number(kind):
    return pa.types.is_integer(kind) or pa.types.is_floating(kind) or pa.types.is_decimal(kind)


def _is_text(kind):
    return (
        pa.types.is_string(kind) or pa.types.is_large_string(kind) or pa.types.is_string_view(kind)
    )
