"""Quotation marks follow the language, or SQL."""

import sqlite3
from contextlib import closing

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


def test_a_name_in_sql_may_hold_any_sign():
    with closing(sqlite3.connect(":memory:")) as database:
        for name in ("utc", 'a "b"', "o'clock", "group"):
            database.execute(f"CREATE TABLE {quotes.sql_name(name)} (n)")
            assert database.execute("SELECT name FROM sqlite_master").fetchall() == [(name,)]
            database.execute(f"DROP TABLE {quotes.sql_name(name)}")
