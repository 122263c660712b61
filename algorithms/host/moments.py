"""Dates and times in words."""

from qgis.PyQt.QtCore import QDateTime, Qt


def days_in_words(first, last):
    """First and last time of a capture as reports have them.

    Parameters
    ----------
    first, last : float
        Seconds since 1970, UTC.

    Returns
    -------
    str
    """
    moments = (QDateTime.fromSecsSinceEpoch(int(end), Qt.TimeSpec.UTC) for end in (first, last))
    words = (moment.toString("yyyy-MM-dd HH:mm") for moment in moments)
    return " – ".join(dict.fromkeys(words)) + " UTC"
