"""What people decided on edges and existing lines, in the fields `decision` and `decided_by`."""

from dataclasses import dataclass, field

import numpy as np
from qgis.core import QgsFeatureRequest, QgsProcessingException

from ..host.feedback import looked_through
from ..host.fields import is_null, spelling
from ..host.figures import translate
from .features import iterate

DECISION, DECIDED_BY = "decision", "decided_by"
LINE_ID = "line_id"  # in the status of existing lines: the feature id of the line


def tr(text):
    return translate("Decisions", text)


@dataclass
class Decisions:
    """Decisions on the rows of a layer: words and names of people, by feature id."""

    words: dict = field(default_factory=dict)
    by: dict = field(default_factory=dict)

    def add(self, ident, word, by):
        """One decision more; of several on one row the strictest counts."""
        from ...shared.lines.update_decisions import DECISIONS

        if not word:
            return
        former = self.words.get(ident, "")
        if DECISIONS.index(word) >= DECISIONS.index(former):
            self.words[ident] = word
            self.by[ident] = by or (self.by.get(ident, "") if word == former else "")

    def merge(self, other):
        """Take over those of others."""
        for ident, word in (other.words if other is not None else {}).items():
            self.add(ident, word, other.by.get(ident, ""))
        return self

    def codes(self, ids):
        """Places in `DECISIONS`, shape (n,), for feature ids."""
        from ...shared.lines.update_decisions import DECISIONS

        return np.array([DECISIONS.index(self.words.get(ident, "")) for ident in ids], np.int64)

    def accepted_by(self, idents):
        """Who accepted one of these rows; None where nobody is named."""
        for ident in idents:
            if self.words.get(ident) == "accept" and self.by.get(ident):
                return self.by[ident]
        return None


def read_decisions(rows, key=None):
    """Decisions of features.

    Parameters
    ----------
    rows : iterable of QgsFeature
    key : str, optional
        Field with the id of the row that is meant; the feature's own where left out. Features
        without a value there are passed over.

    Returns
    -------
    Decisions

    Raises
    ------
    QgsProcessingException
        If a decision is none of the words; the message names field and words.
    """
    from ...shared.lines.update_decisions import DECISIONS

    found, unknown, name = Decisions(), set(), DECISION
    for row in rows:
        name, by = (spelling(row.fields(), one) for one in (DECISION, DECIDED_BY))
        if not name:
            break
        word = "" if is_null(row[name]) else str(row[name]).strip().lower()
        if word not in DECISIONS:
            unknown.add(word)
            continue
        ident = row.id() if key is None else row[key]
        if not is_null(ident):
            found.add(int(ident), word, str(row[by]) if by and not is_null(row[by]) else "")
    if unknown:
        raise QgsProcessingException(
            tr("Field “{}” holds “{}”; decisions are: {}.").format(
                name, "”, “".join(sorted(unknown)), ", ".join(DECISIONS[1:])
            )
        )
    return found


def decisions_elsewhere(source, existing, ids, label, feedback):
    """Decisions on existing lines in the table of their status that a comparison wrote.

    Parameters
    ----------
    source, existing : QgsProcessingFeatureSource
        The table, and the lines that are meant.
    ids : set of int
        Feature ids of these.
    label : str
        Of the parameter that gives the table, for messages.
    feedback : QgsProcessingFeedback

    Returns
    -------
    Decisions
        By feature id of the existing line.

    Raises
    ------
    QgsProcessingException
        If the table does not say which line is meant, or as `read_decisions`.
    """
    key = spelling(source.fields(), LINE_ID)
    if not key:
        raise QgsProcessingException(
            tr(
                "Layer “{}” has no field “{}”, which says which existing line a decision is"
                " on. Choose the “Status of existing lines” of a comparison in “{}”."
            ).format(source.sourceName(), LINE_ID, label)
        )
    rows = looked_through(iterate(source, QgsFeatureRequest()), feedback)
    found = read_decisions(rows, key)
    strange = len(set(found.words) - ids)
    if strange:
        feedback.pushWarning(
            tr(
                "Decisions of “{}” on lines that “{}” has not: {}. They count nowhere. Check"
                " that both belong together."
            ).format(source.sourceName(), existing.sourceName(), strange)
        )
    return found
