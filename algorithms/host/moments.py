"""Dates and times in words."""

from qgis.PyQt.QtCore import QDateTime, Qt

LAST = 253402300799.0  # exact: seconds since 1970 at the end of the year 9999


def days_in_words(first, last):
    """First and last time of a capture as reports have them.

    Parameters
    ----------
    first, last : float
        Seconds since 1970, UTC.

    Returns
    -------
    str
        Empty where they are no times, as the least and the greatest of no rows are not.
    """
    if not (abs(first) <= LAST and abs(last) <= LAST):
        return ""
    moments = (QDateTime.fromSecsSinceEpoch(int(end), Qt.TimeSpec.UTC) for end in (first, last))
    words = (moment.toString("yyyy-MM-dd HH:mm") for moment in moments)
    return " – ".join(dict.fromkeys(words)) + " UTC"
