"""Texts in the host's language, and numbers in them as reports print them: with the marks of that
language, and never “-0.000”."""

from math import isfinite

from qgis.PyQt.QtCore import QCoreApplication

from ...shared.language import localised, speaking, with_figures


def printed(figures):
    """A number that was printed the English way, as reports print it.

    Parameters
    ----------
    figures : str
        Such as “1,234.5”.

    Returns
    -------
    str
    """
    with speaking(QCoreApplication.translate):
        return localised(figures)


def spoken(text):
    """A text of the host's language that was translated already; see `translate`."""
    return with_figures(text, QCoreApplication.translate)


def translate(context, text):
    """A text in the host's language.

    Parameters
    ----------
    context, text : str
        As the files of translations have them.

    Returns
    -------
    str
        Its `format` prints numbers with the marks of the language, and gives a plain string.
    """
    return spoken(QCoreApplication.translate(context, text))


def finite_or_none(value):
    """A number as a cell or a result of a run, None where there is none.

    Parameters
    ----------
    value : float
        NaN or infinite for none.

    Returns
    -------
    float or None
    """
    return float(value) if isfinite(value) else None
