"""The fields of results that say what a line was walked as, and the mark that tells one walk from
another by them."""

from ..host.fields import is_null

# a line of several walks has no mark: it is known by its place alone
SOURCE, CAPTURE, SEVERAL, STARTED, ENDED = (
    "layer",
    "capture",
    "captures",
    "started_unix",
    "ended_unix",
)
DECIMALS = 3  # of seconds; what a table or a transformation leaves of them


def walk_mark(value_of, moments):
    """The capture of a walk, and some of its times to the millisecond.

    Parameters
    ----------
    value_of : callable
        Gives the value of a field by its name.
    moments : sequence of str
        Fields of the times, seconds since 1970.

    Returns
    -------
    tuple or None
        None where a time is missing: nothing tells such a walk from others.
    """
    times = [value_of(name) for name in moments]
    if any(map(is_null, times)):
        return None
    return (str(value_of(CAPTURE)), *(round(time, DECIMALS) for time in times))
