"""A basemap brought up to date: lines redrawn where edges show that they moved, added, retired.

Junctions come first. Lines that share an end, or of which one ends on the other, must still do so
afterwards: so the place of every junction is decided first, and each line is then drawn between its
junctions. Each step has a module of its own; `plan_update` shows their order.
"""

from dataclasses import dataclass, field
from typing import Optional

import numpy as np

from ..arrays.ragged import rows_by_value
from ..tuning import UPDATE
from .additions import add_edges
from .comparison_results import ONLY_NEW
from .edge_pieces import find_rings
from .linestrings import shapes_of
from .redrawing import redraw
from .retirement import find_gone
from .update_decisions import UpdateDecisions, decisions_of
from .update_faults import find_faults
from .update_layers import layers_of
from .wanted_stretches import find_wanted, hold_back

UNCHANGED, SHIFTED, FOLLOWED, PARTLY_REPLACED, REPLACED, ADDED, RETIRED = range(7)
WHAT_NAMES = ("unchanged", "shifted", "followed", "partly", "replaced", "added", "retired")
NO_ROWS = np.zeros(0, np.int64)


@dataclass(frozen=True)
class UpdateSettings:
    """What the user can choose.

    Attributes
    ----------
    replace_all : bool
        Redraw all that is matched, not only what is displaced.
    add_new : bool
        Add edges that have no counterpart.
    retire : bool
        Mark lines that are gone.
    needs_decision : bool
        Adopt only what a person accepted.
    blend : float
        Length of the transition between an edge and the old line, metres.
    follow : float
        How far the end of an untouched neighbour may move with a junction, metres.

    Raises
    ------
    ValueError
        If a length is negative or not finite; the message names it.
    """

    replace_all: bool = False
    add_new: bool = True
    retire: bool = True
    needs_decision: bool = False
    blend: float = 2.0
    follow: float = 1.0

    def __post_init__(self):
        for name in ("blend", "follow"):
            if not (getattr(self, name) >= 0 and np.isfinite(getattr(self, name))):
                raise ValueError(f"{name} must be 0 m or greater, got {getattr(self, name)}")


@dataclass
class UpdatePlan:
    """What becomes of every line.

    Attributes
    ----------
    what : ndarray of int, shape (existing,)
        Place in `WHAT_NAMES`.
    parts : dict of int to list of ndarray of float, shape (v, 3)
        New vertices of the parts of each line that changed in more than the shift, metres of the
        frame.
    edges_of : dict of int to list of int
        Edges from which each changed line was drawn.
    added : list of Added
    held : list of Held
    shift : ndarray of float, shape (2,)
        Added to every existing line first: minus what the comparison removed.
    adopted : ndarray of bool, shape (edges,)
        Edges that went into a line; each edge is adopted, held, refused or not needed.
    """

    what: np.ndarray
    parts: dict = field(default_factory=dict)
    edges_of: dict = field(default_factory=dict)
    added: list = field(default_factory=list)
    held: list = field(default_factory=list)
    shift: np.ndarray = field(default_factory=lambda: np.zeros(2))
    adopted: Optional[np.ndarray] = None


def plan_update(comparison, settings=None, edge_decision=None, line_decision=None, progress=None):
    """Plan how a basemap is brought up to date.

    Parameters
    ----------
    comparison : Comparison
        Of the edges with the existing lines.
    settings : UpdateSettings, optional
    edge_decision, line_decision : ndarray of int, optional
        Place in `DECISIONS` of each edge, of each existing line.
    progress : callable, optional
        Called with the share of work done, 0 to 1. It may raise to stop the work.

    Returns
    -------
    UpdatePlan

    Notes
    -----
    Lines that would newly cross themselves or others, and lines on which another one ends that
    would have to follow too far, are held back; the rest is then planned again without them.
    """
    settings = settings or UpdateSettings()
    progress = progress or (lambda share: None)
    progress(0.0)
    layers = layers_of(comparison)
    decisions = UpdateDecisions(
        edge=decisions_of(edge_decision, comparison.edges.count),
        line=decisions_of(line_decision, comparison.existing.count),
        needed=settings.needs_decision,
    )
    stretches, drawn, held = _settle(layers, decisions, settings, lambda: progress(0.5))
    plan = _redrawn(layers, stretches, drawn, lambda: progress(0.5))
    plan.held += held
    if settings.retire:
        _retire(plan, layers, decisions)
    if settings.add_new:
        _add(plan, layers, decisions, drawn, settings.blend, lambda: progress(0.5))
    progress(1.0)
    return plan


def _settle(layers, decisions, settings, check_cancel):
    """The stretches that are redrawn, the new vertices of all parts that change, and what is held
    back. Each round holds back at least one more line, until no fault is left."""
    stretches, held = find_wanted(layers, decisions, settings.replace_all)
    rings = find_rings(layers, stretches, check_cancel)
    while True:
        drawn = redraw(layers, stretches, rings, settings.blend, settings.follow, check_cancel)
        wrong = find_faults(layers, stretches, drawn, settings.follow, check_cancel)
        if not wrong:
            return stretches, drawn, held
        stretches, more = hold_back(layers, stretches, wrong, check_cancel)
        held += more


def _redrawn(layers, stretches, drawn, check_cancel):
    """The plan with what becomes of redrawn lines and their edges."""
    there = np.diff(layers.first_part) > 0  # what has no place is not shifted
    plan = UpdatePlan(
        what=np.where(there & layers.shift.any(), SHIFTED, UNCHANGED),
        shift=layers.shift,
        adopted=np.zeros(layers.comparison.edges.count, bool),
    )
    rows_of = rows_by_value(layers.existing.line[stretches.part])
    for part in sorted(drawn):
        check_cancel()
        line = int(layers.existing.line[part])
        own = layers.parts_of(line)
        if not layers.part_length[own].any():
            continue  # it would be left with one vertex
        plan.parts[line] = [drawn.get(int(one), layers.old[one]) for one in own]
        along = stretches.take(rows_of.get(line, NO_ROWS))
        edges = layers.edges_along(along)
        plan.edges_of[line] = edges.tolist()
        plan.adopted[edges] = True
        plan.what[line] = _how_much(along, layers.part_length[own].sum())
    return plan


def _how_much(along, length):
    """What became of a redrawn line with its stretches and length."""
    if not len(along):
        return FOLLOWED
    whole = (along.high - along.low).sum() > length - UPDATE.least_piece / 2
    return REPLACED if whole else PARTLY_REPLACED


def _retire(plan, layers, decisions):
    """Retire lines that were visited and have no edge, unless a person must decide."""
    gone, held = find_gone(layers.comparison.existing_statistics, decisions)
    for line in gone:
        if plan.what[line] in (UNCHANGED, SHIFTED, FOLLOWED):
            plan.what[line] = RETIRED
    plan.held += held


def _add(plan, layers, decisions, drawn, blend, check_cancel):
    """Add edges that are new as a whole, and the pieces of others that existing lines lack."""
    statistics = layers.comparison.edge_statistics
    lines = layers.shapes.copy()
    for part, shape in zip(drawn, shapes_of(drawn.values())):
        lines[part] = shape
    plan.added, held = add_edges(
        layers,
        decisions,
        new=(statistics.status == ONLY_NEW) & (statistics.length > 0) & ~plan.adopted,
        lines=lines,
        stays=plan.what[layers.existing.line] != RETIRED,
        blend=blend,
        check_cancel=check_cancel,
    )
    for new in plan.added:
        plan.adopted[new.edge] = True
    plan.held += held
