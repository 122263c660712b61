"""One value of a field for an edge that was made of several."""

from ..host.fields import is_null
from .presentation import DECISIONS, REVIEW

DECISION, REMARK, DECIDED_BY, DECIDED_AT = REVIEW


def common_value(name, values, decisions=()):
    """One value of a field for several rows.

    Parameters
    ----------
    name : str
        Of the field, in any case.
    values : sequence
        One for each row.
    decisions : sequence
        What the field “decision” of the rows holds; empty where there is none.

    Returns
    -------
    object
        The value that all of them have, else None. Of remarks all that differ, since none may be
        lost; of decisions the most cautious one, and no consent where one of them has none. Who
        decided, and when, are all who decided so, and the last time.
    """
    name = name.lower()
    if name in (DECIDED_BY, DECIDED_AT):
        values = _of_deciders(values, decisions)
    known = [value for value in values if not is_null(value)]
    alike = known and len(known) == len(values) and all(value == known[0] for value in known)
    if alike or not known:
        return known[0] if alike else None
    if name in (REMARK, DECIDED_BY) and all(isinstance(value, str) for value in known):
        return "; ".join(dict.fromkeys(value for value in known if value.strip())) or None
    if name == DECIDED_AT and len(known) == len(values):
        return _latest(known)
    return _most_cautious(values) if name == DECISION else None


def _word(value):
    return "" if is_null(value) else str(value).strip().lower()


def _most_cautious(values):
    """The most cautious decision; a word that is none, which waits for a person, comes after
    “hold”. None where there is only consent, and not of all."""
    for word in reversed(DECISIONS[1:]):  # reject, hold
        if word in map(_word, values):
            return word
    strange = [value for value in values if _word(value) not in ("", *DECISIONS)]
    if strange:
        return strange[0]
    return DECISIONS[0] if all(map(_word, values)) else None


def _of_deciders(values, decisions):
    """Those values whose rows have the decision that all rows get together."""
    taken = _word(common_value(DECISION, decisions))
    return [one for one, word in zip(values, map(_word, decisions)) if word == taken] or values


def _latest(values):
    """The greatest value; None where they cannot be compared."""
    try:
        return max(values)
    except TypeError:
        return None
