"""Stretches of existing lines that an update redraws; what a decision or a fault holds back."""

import numpy as np

from ..arrays.ragged import rows_by_value
from ..tuning import UPDATE
from .comparison_results import AGREES, DISPLACED, PARTLY
from .update_decisions import Held, held_by_decision


def find_wanted(layers, decisions, replace_all):
    """Find the stretches that may be redrawn.

    Parameters
    ----------
    layers : UpdateLayers
    decisions : UpdateDecisions
    replace_all : bool
        Redraw all that is matched, not only what is displaced.

    Returns
    -------
    stretches : Stretches
        Of them, those at which the edge lies farther away than `UPDATE.least_move`.
    held : list of Held
        Lines with an edge that a decision holds back, or the want of one; each pair once.
    """
    stretches = layers.stretches
    line = layers.existing.line[stretches.part]
    edge = layers.comparison.edges.line[stretches.edge_part]
    moved = _may_have_moved(layers.comparison.existing_statistics, replace_all)[line]
    moved &= _farthest(layers) > UPDATE.least_move
    # the stricter decision of both counts: `DECISIONS` are in order of strictness
    worst = np.maximum(decisions.edge[edge], decisions.line[line])
    free = decisions.allow(worst)
    held = [
        held_by_decision(line[row], edge[row], worst[row]) for row in np.flatnonzero(moved & ~free)
    ]
    return stretches.take(np.flatnonzero(moved & free)), list(dict.fromkeys(held))


def _may_have_moved(statistics, replace_all):
    """Mask of the existing lines whose status asks for a redrawing."""
    status = statistics.status
    moved = status == DISPLACED
    moved |= (status == PARTLY) & (
        np.nan_to_num(statistics.displaced_share) > UPDATE.displaced_share
    )
    if replace_all:
        moved |= (status == AGREES) | (status == PARTLY)
    return moved


def _farthest(layers):
    """Greatest distance from the line to the edge along each stretch, metres."""
    size, stretches = np.hypot(*layers.move.T), layers.stretches
    bounds = zip(stretches.first.tolist(), stretches.last.tolist())
    return np.array([size[first : last + 1].max() for first, last in bounds]).reshape(-1)


def hold_back(layers, stretches, wrong, check_cancel):
    """Take lines that cannot be redrawn out of the stretches: they stay as they are.

    Parameters
    ----------
    layers : UpdateLayers
    stretches : Stretches
        That were to be redrawn.
    wrong : dict of int to str
        Reason by existing line.
    check_cancel : callable
        Called for every line; may raise.

    Returns
    -------
    stretches : Stretches
        Of all other lines.
    held : list of Held
        One for each line and edge.
    """
    line, held = layers.existing.line[stretches.part], []
    rows_of = rows_by_value(line)
    for number, why in wrong.items():
        check_cancel()
        edges = layers.edges_along(stretches.take(rows_of[number]))
        held += [Held(number, edge, why) for edge in edges.tolist()]
    return stretches.take(np.flatnonzero(~np.isin(line, list(wrong)))), held
