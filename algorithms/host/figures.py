"""Texts in the host's language, and numbers in them as reports print them: with the marks of that
language, and never “-0.000”."""

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
