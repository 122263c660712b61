"""Translations: every text of the plugin, with its placeholders, and compiled."""

import importlib.util
from pathlib import Path

import pytest
from qgis.PyQt.QtCore import QCoreApplication, QTranslator

from curbwright.plugin import translation

ROOT = Path(__file__).resolve().parents[2]
_spec = importlib.util.spec_from_file_location("translations", ROOT / ".ci" / "translations.py")
translations = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(translations)


@pytest.fixture(scope="module")
def texts():
    return translations.collect()


@pytest.mark.parametrize("language", translations.LANGUAGES)
def test_every_text_is_translated_with_its_placeholders(language, texts):
    translated = translations.read(translations.FOLDER / f"curbwright_{language}.ts")
    assert sum(map(len, texts.values())) > 1000
    assert translations.faults(texts, translated) == []


@pytest.mark.parametrize("language", translations.LANGUAGES)
def test_the_compiled_file_says_the_same(language):
    path = translations.FOLDER / f"curbwright_{language}.ts"
    translator = QTranslator()
    assert translator.load(str(path.with_suffix(".qm")))
    QCoreApplication.installTranslator(translator)
    try:
        stale = [
            source
            for (context, source), said in translations.read(path).items()
            if QCoreApplication.translate(context, source) != said
        ]
    finally:
        QCoreApplication.removeTranslator(translator)
    assert stale == [], "run .venv/bin/python .ci/translations.py"


def test_faults_are_found():
    texts = {"One": ["{} of {:.1f} m", "plain"], "Two": ["plain"]}
    good = {("One", "{} of {:.1f} m"): "{} von {:.1f} m", ("One", "plain"): "schlicht"}
    assert translations.faults(texts, good) == ["untranslated (Two): plain"]
    bad = {**good, ("One", "{} of {:.1f} m"): "{} von {} m", ("Two", "plain"): " schlicht",
           ("Two", "former"): "früher"}  # fmt: skip
    assert [fault.split(" (")[0] for fault in translations.faults(texts, bad)] == [
        "other placeholders",
        "other blanks at the ends",
        "gone",
    ]


@pytest.mark.parametrize(
    ("locale", "name"),
    [("de", "curbwright_de.qm"), ("de_AT", "curbwright_de.qm"), ("xx", None), ("", None)],
)
def test_the_file_of_a_locale(locale, name):
    found = translation.file_for(locale)
    assert (found.name if found else None) == name
