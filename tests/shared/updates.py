"""Updates of a basemap by hand: a plan, what becomes of each line, and the lines afterwards."""

import numpy as np

from curbwright.shared.lines.comparison import compare
from curbwright.shared.lines.comparison_results import ComparisonSettings
from curbwright.shared.lines.update import WHAT_NAMES, UpdateSettings, plan_update

FRONT = [[0, 0], [60, 0]]
MOVED = [[0, 0.6], [60, 0.6]]


def plan(existing, edges, remove_shift=False, **settings):
    compared = compare(
        edges, existing, ComparisonSettings(existing_sigma=0.05, remove_shift=remove_shift)
    )
    return plan_update(compared, UpdateSettings(**settings))


def names(found):
    return [WHAT_NAMES[what] for what in found.what]


def updated(existing, found):
    """The lines afterwards."""
    parts = [
        np.column_stack([existing.x, existing.y])[low:high] + found.shift
        for low, high in zip(existing.offsets[:-1], existing.offsets[1:])
    ]
    return [
        found.parts[row][0][:, :2] if row in found.parts else parts[row]
        for row in range(len(parts))
    ]
