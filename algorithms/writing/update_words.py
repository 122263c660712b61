"""What a report of an update calls lines: by the same rule as the report of a comparison."""

import numpy as np

from ..host.fields import is_null
from .update_rows import CHANGE_FIELDS


class UpdateWords:
    """Changes and held cases as the report lists them.

    Parameters
    ----------
    outcome : Outcome
    plan : UpdatePlan
    pair : LinePair
        Whose labels the lines have.
    keyed : bool
        The existing lines are called by the field of their ids, as in the table of changes.
    """

    def __init__(self, outcome, plan, pair, keyed):
        self.outcome, self.plan, self.pair, self.keyed = outcome, plan, pair, keyed

    def changes(self):
        """A tuple of `Change`."""
        return tuple(map(self._change, self.outcome.changes, self.outcome.places))

    def held(self):
        """A tuple of existing line, edge and why, as text."""
        return tuple(
            (
                self._line(held.existing, row["existing_id"]),
                self._edges([held.edge] if held.edge >= 0 else []),
                str(row["why"]),
            )
            for row, held in zip(self.outcome.held, self.plan.held)
        )

    def _change(self, row, place):
        from ...shared.report.basemap import Change

        existing, edge = place
        values = {definition.name: row[definition.name] for definition in CHANGE_FIELDS[1:-1]}
        for definition in CHANGE_FIELDS[1:-1]:
            if is_null(values[definition.name]):
                values[definition.name] = np.nan if definition.type_name == "Double" else ""
        values["existing_id"] = self._line(existing, values["existing_id"])
        values["edge_ids"] = self._edges(
            self.plan.edges_of.get(existing, []) if existing >= 0 else [edge]
        )
        return Change(**values, existing=existing, edge=edge)

    def _line(self, row, key):
        return str(key) if self.keyed or row < 0 else self.pair.existing_labels[row]

    def _edges(self, rows):
        return ", ".join(self.pair.edge_labels[row] for row in rows)
