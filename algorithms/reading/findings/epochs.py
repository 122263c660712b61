"""Rejected epochs in a row."""

import numpy as np

from ....shared.epochs.slash_dates import UNDECIDED
from ....shared.epochs.times import parse_times
from ...host.fields import NewField
from ...host.figures import translate
from .found import REJECTED

# what tells which rejected epochs follow each other, whatever fields the layers have that they come
# from
COMMON_TIME, COMMON_WALK = "epoch_unix_seconds", "epoch_walk"
COMMON_FIELDS = (
    NewField(
        COMMON_TIME,
        "Double",
        "Time of the epoch since 1970, whichever field of its layer holds the time; those of layers"
        " without dates lie on a day of no meaning.",
        "s",
    ),
    NewField(
        COMMON_WALK, "QString", "Layer and capture; epochs of different ones never follow on."
    ),
)
NOTHING_LOST = ("repeat", "backtrack")  # rejected, but the place was seen


def tr(text):
    return translate("Findings", text)


def find_spells(layer, time, captures, limits, found):
    """Rejected epochs in a row."""
    from ....shared.arrays.ragged import group_max, group_min
    from ....shared.lines.revisits import in_a_row, nominal_interval
    from ....shared.tuning import REVISITS

    seconds, reason = _seconds(layer.columns[time]), layer.texts("reason")
    some = _countable(layer, seconds, reason, limits.rejected, found)
    capture = _captures(layer, captures, some)
    _, code = np.unique(capture, return_inverse=True)
    order, offsets = in_a_row(
        code, seconds[some], REVISITS.in_a_row * nominal_interval(code, seconds[some])
    )
    epoch, size = some[order], np.diff(offsets)
    extent = np.hypot(
        *(
            group_max(axis[epoch], offsets) - group_min(axis[epoch], offsets)
            for axis in (layer.x, layer.y)
        )
    )
    extent = extent / layer.scale[epoch[offsets[:-1] + size // 2]]
    many, far = size >= limits.rejected, extent >= limits.rejected_length
    long = np.flatnonzero(many & far)
    found.leave(layer, tr("epochs in rows shorter than the limit: {}"), size[~many].sum())
    found.leave(
        layer, tr("epochs in rows over less ground than the limit: {}"), size[many & ~far].sum()
    )
    middle = epoch[offsets[long] + size[long] // 2]
    lasted = seconds[epoch[offsets[long + 1] - 1]] - seconds[epoch[offsets[long]]]
    metres = extent[long]
    bounds = zip(offsets[long].tolist(), offsets[long + 1].tolist())
    found.add(
        REJECTED,
        layer,
        middle,
        layer.at(middle),
        [
            _words(reason[epoch[start:stop]], pause, reach)
            for (start, stop), pause, reach in zip(bounds, lasted.tolist(), metres.tolist())
        ],
        metres=metres,
        seconds=lasted,
        epochs=size[long],
        capture=capture[order][offsets[long] + size[long] // 2].tolist(),
    )


def _seconds(column):
    """Times of all rows, NaN where there is none."""
    if not len(column.values):
        return np.zeros(0)
    if column.kind in ("int", "double"):
        return parse_times(column.numbers())[0]
    if column.kind in ("date", "datetime"):
        return parse_times(column.values)[0]
    seconds, what = parse_times(column.texts())
    return np.full(len(seconds), np.nan) if what == UNDECIDED else seconds


def _countable(layer, seconds, reason, least, found):
    """Rows that can be in a row, in an order of their own; what is left out is remembered, and
    makes doubt where it could be a row of the least length."""
    seen = np.isin(reason, NOTHING_LOST)
    usable = np.isfinite(seconds) & np.isfinite(layer.x) & np.isfinite(layer.y)
    found.leave(
        layer,
        tr("epochs rejected at places that were seen (repeat, backtrack): {}"),
        np.count_nonzero(seen),
    )
    lost = np.count_nonzero(~usable & ~seen)
    found.leave(
        layer,
        tr("epochs without a time or a position, which are in no row: {}"),
        lost,
        doubtful=lost >= least,
    )
    some = np.flatnonzero(usable & ~seen)
    # for epochs of one time
    return some[np.lexsort((np.round(layer.y[some], 4), np.round(layer.x[some], 4)))]


def _captures(layer, names, some):
    """Text of the capture of some rows."""
    if not names:
        return np.full(len(some), "")
    columns = (layer.texts(name)[some].tolist() for name in names)
    return np.array([" / ".join(texts) for texts in zip(*columns)], dtype=str)


def _words(reasons, seconds, metres):
    """One row of rejected epochs in words."""
    names, counts = np.unique(reasons, return_counts=True)
    told = ", ".join(
        f"{name or tr('no reason')} {count}" for name, count in zip(names.tolist(), counts.tolist())
    )
    return tr(
        "{} epochs rejected in a row, {:.0f} s over {:.1f} m ({}): walk this stretch again"
    ).format(len(reasons), seconds, metres, told)
