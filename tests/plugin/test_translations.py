"""Translations: every text of the plugin, with its placeholders, and compiled."""

import importlib.util
import re
from pathlib import Path

import pytest
from qgis.core import QgsVectorLayer
from qgis.PyQt.QtCore import QCoreApplication, QTranslator
from walkedlayers import Log, layer_of, run, walk

from curbwright.algorithms.writing.legend import translate_legend
from curbwright.algorithms.writing.styles import STYLES
from curbwright.plugin import translation

pytestmark = pytest.mark.one_host

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


def test_no_comma_stands_between_numbers_with_a_decimal_comma():
    """“1,5, 2,5” does not read as two numbers."""
    said = translations.read(translations.FOLDER / "curbwright_de.ts").values()
    assert [text for text in said if re.search(r"\{[^}]*[efg]\},\s\{[^}]*[efg]\}", text)] == []


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


# what German has the same word for, names of layers and of formats
SAME = {"Spline", "Layer", "GeoPackage", "Start", "RMSE", "Curbwright", "RTK float"}


@pytest.fixture
def german():
    """A function that switches to German, until the test ends."""
    translator = QTranslator()
    assert translator.load(str(translations.FOLDER / "curbwright_de.qm"))
    yield lambda: QCoreApplication.installTranslator(translator)
    QCoreApplication.removeTranslator(translator)


def shown(algorithm):
    """All that the dialogue of an algorithm shows, without the values that scripts use."""
    found = [algorithm.displayName(), algorithm.group(), algorithm.shortDescription()]
    found += [one.description() for one in algorithm.outputDefinitions()]
    for one in algorithm.parameterDefinitions():
        found += [one.description(), one.help()]
        if one.type() == "enum" and not one.usesStaticStrings():
            # of reasons and statuses the words of the fields are chosen, which stay
            found += [text for text in one.options() if text[:1].isupper()]
    return found


def test_no_dialogue_mixes_languages(german, provider):
    names = [one.name() for one in provider.algorithms() if hasattr(one, "FIELD_TABLES")]
    english = {name: shown(provider.algorithm(name).create()) for name in names}
    german()
    for name in names:
        both = zip(english[name], shown(provider.algorithm(name).create()))
        left = {one for one, other in both if one == other and re.search("[a-z]{3}", one)}
        assert left <= SAME, name


def test_a_log_has_the_quotation_marks_of_one_language(german, provider):
    german()
    log = Log()
    run("reconstructedges", {"INPUT": layer_of(walk(captures=1)), "OUTPUT": "memory:"}, log)
    said = "".join(log.infos)
    assert "„" in said and "”" not in said


@pytest.mark.parametrize("path", sorted(STYLES.glob("*.qml")), ids=lambda path: path.stem)
def test_legends_are_translated(path, german):
    kind = re.search(r'<symbol[^>]* type="(\w+)"', path.read_text("utf-8")).group(1)
    geometry = {"marker": "Point", "line": "LineString", "fill": "Polygon"}[kind]
    layer = QgsVectorLayer(geometry, "layer", "memory")
    assert layer.loadNamedStyle(str(path))[1]
    before = labels(layer)
    german()
    translate_legend(layer)
    after = labels(layer)
    assert len(after) == len(before)
    assert {one for one, other in zip(before, after) if one == other} <= SAME


def labels(layer):
    """Labels in a legend, without the empty one of a single symbol."""
    return [item.label() for item in layer.renderer().legendSymbolItems() if item.label()]
