"""Names in the quotation marks of the language."""

from qgis.PyQt.QtCore import QCoreApplication


def quoted(text):
    """A name of a field, a layer or a value in quotation marks."""
    return QCoreApplication.translate("Quotes", "“{}”").format(text)
