"""Quotation marks follow the language."""

from qgis.PyQt.QtCore import QCoreApplication, QTranslator

from curbwright.algorithms.host import quotes


class German(QTranslator):
    def translate(self, context, text, disambiguation=None, n=-1):
        return "„{}“" if (context, text) == ("Quotes", "“{}”") else ""


def test_quotation_marks_are_those_of_the_language(qgis_app):
    assert quotes.quoted("utc") == "“utc”"
    translator = German()
    QCoreApplication.installTranslator(translator)
    try:
        assert quotes.quoted("utc") == "„utc“"
    finally:
        QCoreApplication.removeTranslator(translator)
