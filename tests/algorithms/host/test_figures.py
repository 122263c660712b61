"""Numbers in texts have the marks of the host's language, as in reports."""

from math import inf, nan

import pytest
from qgis.PyQt.QtCore import QCoreApplication, QTranslator

from curbwright.algorithms.host.figures import finite_or_none, printed, spoken, translate

OFFSET = "“{}” lies {:+.3f} m east"


class German(QTranslator):
    def translate(self, context, text, disambiguation=None, n=-1):
        texts = {"1,234.5": "1.234,5", OFFSET: "„{}“ liegt {:+.3f} m östlich"}
        return texts.get(text, "")


@pytest.fixture
def german(qgis_app):
    translator = German()
    QCoreApplication.installTranslator(translator)
    yield
    QCoreApplication.removeTranslator(translator)


def test_numbers_in_texts_have_the_marks_of_the_language(german):
    text = translate("Any", OFFSET)
    assert text.format("v3.22", 1.25) == "„v3.22“ liegt +1,250 m östlich"
    assert type(text.format("v3.22", 1.25)) is str  # the host keeps no other as text
    assert printed("1,234.5") == "1.234,5" and spoken("{} of {:,}").format(0.05, 1234) == (
        "0,05 of 1.234"
    )


def test_names_and_counts_stay_as_they_are(german):
    assert spoken("{} {}: {}").format("quay.edges", 1234, True) == "quay.edges 1234: True"


@pytest.mark.parametrize(
    ("spec", "value", "shown"),
    [
        ("+.3f", -0.0004, "0.000"),
        ("+.3f", 0.0, "0.000"),
        (".2f", -0.004, "0.00"),
        ("+.3f", -0.0006, "-0.001"),
        ("+.3f", 0.01, "+0.010"),
        (".0%", -0.001, "0%"),
        (".3f", nan, "nan"),
        ("+.3f", -inf, "-inf"),
    ],
)
def test_nought_has_no_sign(qgis_app, spec, value, shown):
    assert spoken("{:" + spec + "}").format(value) == shown
    assert printed(format(value, spec)) == shown


def test_a_text_without_numbers_is_a_plain_string(qgis_app):
    assert type(translate("Any", "Edges")) is str


def test_a_number_that_is_none_is_told_as_none():
    assert finite_or_none(1) == 1.0 and [finite_or_none(one) for one in (nan, inf)] == [None] * 2
