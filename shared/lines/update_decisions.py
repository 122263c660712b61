"""What a person decided about edges and existing lines, and what waits for a person."""

from dataclasses import dataclass

import numpy as np

from ..language import tr

NONE, ACCEPT, HOLD, REJECT = range(4)
DECISIONS = ("", "accept", "hold", "reject")  # in order of strictness


@dataclass(frozen=True)
class Held:
    """Something that waits for a person: `existing` or `edge` is a row, -1 for none."""

    existing: int
    edge: int
    why: str


@dataclass(frozen=True)
class UpdateDecisions:
    """Decisions of a person.

    Attributes
    ----------
    edge : ndarray of int, shape (edges,)
        Place in `DECISIONS`.
    line : ndarray of int, shape (existing,)
        The same of each existing line.
    needed : bool
        Nothing changes that was not accepted.
    """

    edge: np.ndarray
    line: np.ndarray
    needed: bool

    def allow(self, decision):
        """True where a decision lets something change; places in `DECISIONS`, one or an array."""
        return (decision == ACCEPT) | ((decision == NONE) & (not self.needed))


def decisions_of(given, count):
    """Decisions as an array.

    Parameters
    ----------
    given : ndarray of int, shape (count,), optional
        Place in `DECISIONS`.
    count : int

    Returns
    -------
    ndarray of int, shape (count,)
        `NONE` throughout if none are given.
    """
    return np.full(count, NONE, np.int64) if given is None else np.asarray(given, np.int64)


def held_by_decision(line, edge, decision):
    """What a decision holds back, or the want of one.

    Parameters
    ----------
    line, edge : int
        Row, -1 for none.
    decision : int
        Place in `DECISIONS`.

    Returns
    -------
    Held
    """
    why = {HOLD: tr("a person holds it back"), REJECT: tr("a person rejected it")}
    return Held(int(line), int(edge), why.get(decision, tr("it waits for a decision")))
