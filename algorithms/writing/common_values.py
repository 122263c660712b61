"""One value of a field for an edge that was made of several."""

from ..host.fields import is_null
from .presentation import DECISIONS

REMARK, DECISION = "remark", "decision"


def common_value(name, values):
    """One value of a field for several rows.

    Parameters
    ----------
    name : str
        Of the field, in any case.
    values : sequence
        One for each row.

    Returns
    -------
    object
        The value that all of them have, else None. Of remarks all that differ, since none may be
        lost; of decisions the most cautious one, and no consent where one of them has none.
    """
    known = [value for value in values if not is_null(value)]
    if name.lower() == REMARK and all(isinstance(value, str) for value in known):
        return "; ".join(dict.fromkeys(value for value in known if value.strip())) or None
    if name.lower() == DECISION:
        for word in reversed(DECISIONS[1:]):  # reject, hold
            if word in known:
                return word
    alike = known and len(known) == len(values) and all(value == known[0] for value in known)
    return known[0] if alike else None
