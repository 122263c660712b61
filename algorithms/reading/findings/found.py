"""Findings: what is found, of which kind, where, and what the user counts as one."""

from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np

from ...host.figures import translate

# The names that `kind` may have, the one that weighs most first: it gives a place its name.
KINDS = (
    "gap",
    "no_edge",
    "rejected",
    "disagreement",
    "uncertain",
    "uncertain_up",
    "pass_off",
    "broken_off",
    "left_open",
    "displaced",
)
(
    GAP,
    NO_EDGE,
    REJECTED,
    DISAGREEMENT,
    UNCERTAIN,
    UNCERTAIN_UP,
    PASS_OFF,
    BROKEN_OFF,
    LEFT_OPEN,
    DISPLACED,
) = range(len(KINDS))
TOLD = ("metres", "seconds", "epochs", "edge_id", "capture")


def tr(text):
    return translate("Findings", text)


@dataclass(frozen=True)
class RevisitLimits:
    """What the user counts as a finding; metres and seconds, `rejected` epochs in a row, over
    `rejected_length` at least."""

    gap: float
    gap_seconds: float
    sigma: float
    sigma_up: float
    rejected: int
    rejected_length: float
    length: float
    open_gap: float
    reasons: tuple
    disagreements: tuple
    statuses: tuple


class Where(NamedTuple):
    """Places of findings: local coordinates and scale, arrays of shape (k,)."""

    x: np.ndarray
    y: np.ndarray
    scale: np.ndarray

    def of(self, rows):
        """Those of some rows."""
        return Where(self.x[rows], self.y[rows], self.scale[rows])


@dataclass
class Findings:
    """What was found; lists of one length. `rows` are feature ids, `metres`, `seconds` and `epochs`
    are None where they say nothing."""

    kind: list = field(default_factory=list)
    x: list = field(default_factory=list)
    y: list = field(default_factory=list)
    scale: list = field(default_factory=list)
    metres: list = field(default_factory=list)
    seconds: list = field(default_factory=list)
    epochs: list = field(default_factory=list)
    edge_id: list = field(default_factory=list)
    capture: list = field(default_factory=list)
    layer: list = field(default_factory=list)
    row: list = field(default_factory=list)
    detail: list = field(default_factory=list)
    passed_over: list = field(default_factory=list)

    def __len__(self):
        return len(self.kind)

    def add(self, what, layer, rows, where, detail, **told):
        """Add findings of one kind; what has no position is counted and left out.

        Parameters
        ----------
        what : int
            Place in `KINDS`.
        layer : ResultLayer
        rows : ndarray of int, shape (k,)
            Rows of the layer.
        where : Where
        detail : list of str
            What was found and what to do, in words.
        **told : list or ndarray, shape (k,)
            Any of `metres`, `seconds`, `epochs`, `edge_id` and `capture`.
        """
        count = len(rows)
        there = np.isfinite(where.x) & np.isfinite(where.y)
        if not there.all():
            self.leave(
                layer,
                tr("rows without a position, which would have counted: {}"),
                np.count_nonzero(~there),
                True,
            )
        columns = {
            "kind": [what] * count,
            "x": where.x,
            "y": where.y,
            "scale": where.scale,
            "layer": [layer] * count,
            "row": layer.ids[rows],
            "detail": detail,
            **{name: told.pop(name, None) for name in TOLD},
        }
        if told:
            raise TypeError(f"findings do not tell {', '.join(told)}")
        for name, values in columns.items():
            values = [None] * count if values is None else np.asarray(values, object).tolist()
            getattr(self, name).extend(value for value, good in zip(values, there.tolist()) if good)

    def leave(self, layer, text, number, doubtful=False):
        """Remember how many rows were passed over, and why; `doubtful` where something may be
        missing for it."""
        if number:
            self.passed_over.append((layer, text.format(int(number)), doubtful))


def known(values):
    """A column of numbers as a list, None for NaN."""
    return [None if value != value else value for value in np.asarray(values, float).tolist()]
