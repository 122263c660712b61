"""Numbers of reports that algorithms put into words, with the marks of the host's language."""

from qgis.PyQt.QtCore import QCoreApplication

from ...shared.language import localised, speaking


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
