"""Existing lines that are gone: they were visited, and no edge runs along them."""

import numpy as np

from ..language import number as printed
from ..language import tr
from ..tuning import COMPARISON
from .comparison_results import ONLY_EXISTING
from .update_decisions import ACCEPT, Held, held_by_decision


def find_gone(statistics, decisions):
    """Find the existing lines that may be retired.

    Parameters
    ----------
    statistics : LineStatistics
        Of the existing lines.
    decisions : UpdateDecisions

    Returns
    -------
    gone : list of int
        Lines visited as a whole (`COMPARISON.whole`) and not held back by a decision, and accepted
        ones.
    held : list of Held
        The other lines that have no edge.
    """
    gone, held = [], []
    for line in np.flatnonzero((statistics.status == ONLY_EXISTING) & (statistics.length > 0)):
        decision, seen = decisions.line[line], statistics.visited_share[line]
        if not decisions.allow(decision):
            held.append(held_by_decision(line, -1, decision))
        elif seen < COMPARISON.whole and decision != ACCEPT:
            why = tr("no edge runs along it, but only {} % of it was visited")
            held.append(Held(int(line), -1, why.format(printed(100 * seen, 0))))
        else:
            gone.append(int(line))
    return gone, held
