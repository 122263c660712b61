"""Values that are odd: a field's name and most of its values decide, and the others are rejected,
or asked about, by name."""

import re

import numpy as np
import pytest
from qgis.core import QgsApplication, QgsGeometry, QgsPoint, QgsProcessingException
from walkedlayers import Log, iso, layer_of, reconstruct, run, table, walk

pytestmark = pytest.mark.usefixtures("provider")
TEXTS = ("fix", "h_acc", "v_acc")


def epochs(change=None, kinds=None, crs="EPSG:32632"):
    """A walk with a vertical accuracy; `change` alters the values, by field, of row number i."""
    kinds = {
        "time": "string",
        "fix": "integer",
        "h_acc": "double",
        "v_acc": "double",
        **(kinds or {}),
    }
    rows, count = walk(captures=1), iter(range(1000))

    def values(row):
        own = {
            "time": iso(row["seconds"]),
            "fix": row["fix"],
            "h_acc": row["h_acc"],
            "v_acc": 0.015,
        }
        for name, kind in kinds.items():
            own[name] = str(own[name]) if kind == "string" else own[name]
        own.update(change(next(count), row) if change else {})
        return [own[name] for name in kinds]

    return layer_of(rows, fields=tuple(kinds.items()), values=values, crs=crs)


def screened(layer, **parameters):
    log = Log()
    rejected = table(reconstruct(layer, log, **parameters)["REJECTED"])
    return [row["reason"] for row in rejected], log


# one odd value makes a well-named field vanish


@pytest.mark.parametrize("odd", [-1.0, 0.0, float("inf"), 1e300])
def test_one_odd_accuracy_does_not_make_the_field_vanish(odd):
    reasons, log = screened(epochs(lambda i, row: {"h_acc": odd} if i == 7 else {}))
    assert reasons.count("poor_accuracy") == 2  # the one that is poor, and the odd one
    assert any("“h_acc”: rows that hold" in text and ": 1, " in text for text in log.warnings)


def test_one_word_among_accuracies_does_not_make_the_field_vanish():
    layer = epochs(lambda i, row: {"h_acc": "good"} if i == 7 else {}, {"h_acc": "string"})
    reasons, log = screened(layer)
    assert reasons.count("poor_accuracy") == 2
    assert any("“good”" in text for text in log.warnings)


@pytest.mark.parametrize(
    "write",
    [
        lambda metres: f"{metres:.3f}".replace(".", ","),
        lambda metres: f"{metres:.3f} m",
        lambda metres: f"± {1000 * metres:.0f} mm",
        lambda metres: f"{100 * metres:.1f}cm",
    ],
    ids=["decimal commas", "metres", "millimetres", "centimetres"],
)
def test_accuracies_with_decimal_commas_and_units_are_read(write):
    layer = epochs(lambda i, row: {"h_acc": write(row["h_acc"])}, {"h_acc": "string"})
    reasons, _ = screened(layer)
    assert reasons.count("poor_accuracy") == 1


@pytest.mark.parametrize("value", [0.0, -1.0])
def test_an_accuracy_that_is_the_same_nothing_in_all_rows_is_said(value):
    reasons, log = screened(epochs(lambda i, row: {"h_acc": value}))
    assert "poor_accuracy" not in reasons
    assert any("“h_acc”" in text and "not taken" in text for text in log.warnings)


@pytest.mark.parametrize(
    ("kind", "odd"), [("integer", 12), ("string", "?"), ("string", "RTX"), ("string", "4 float")]
)
def test_one_odd_fix_does_not_make_the_field_vanish(kind, odd):
    layer = epochs(lambda i, row: {"fix": odd} if i == 7 else {}, {"fix": kind})
    reasons, log = screened(layer)
    assert reasons.count("not_fixed") == 4  # three are float
    assert any(f"“{odd}” (1)" in text and "mean fixed" in text for text in log.warnings)


def test_unknown_fix_words_are_asked_about():
    layer = epochs(lambda i, row: {"fix": "bestes" if i else "?"}, {"fix": "string"})
    with pytest.raises(QgsProcessingException, match="“fix”.*“bestes”.*mean fixed.*“Fix”"):
        screened(layer)
    assert screened(layer, FIXED_VALUES="bestes")[0].count("not_fixed") == 1


@pytest.mark.parametrize(
    "word",
    [
        "\u200bfixed",
        "fixed\u00a0",
        "\ufeffRTK\u2007fixed",
        "4 - RTK fixed",
        "Fixed (4)",
        "4: fixed",
        " '4' ",
    ],
)
def test_fix_words_with_invisible_blanks_and_numbers_are_known(word):
    layer = epochs(
        lambda i, row: {"fix": word if row["fix"] == 4 else "5 (float)"}, {"fix": "string"}
    )
    reasons, log = screened(layer)
    assert reasons.count("not_fixed") == 3
    assert not any("not known" in text for text in log.warnings)


def test_fixed_values_given_mean_that_a_fix_field_is_wanted():
    rows = walk(captures=1)
    layer = layer_of(
        rows,
        fields=(("time", "string"), ("grade", "string")),
        values=lambda row: [iso(row["seconds"]), "best" if row["fix"] == 4 else "so-so"],
    )
    with pytest.raises(QgsProcessingException, match="“best”.*“Fix”.*stand in: grade"):
        screened(layer, FIXED_VALUES="best")
    assert screened(layer, FIXED_VALUES="best", FIX_FIELD="grade")[0].count("not_fixed") == 3


# units


def test_a_vertical_accuracy_in_millimetres_is_not_used():
    log = Log()
    edges = table(reconstruct(epochs(lambda i, row: {"v_acc": 11.3}), log)["OUTPUT"])
    assert any("“v_acc”" in text and "cannot be in metres" in text for text in log.warnings)
    assert max(row["sigma_up"] for row in edges) < 0.1


def test_a_horizontal_accuracy_in_millimetres_is_refused_whatever_the_limit():
    layer = epochs(lambda i, row: {"h_acc": 1000 * row["h_acc"]})
    with pytest.raises(QgsProcessingException, match="“h_acc”.*cannot be in metres"):
        screened(layer, MAX_H_ACCURACY=50.0)


# heights


@pytest.mark.parametrize("height", [0.0, -9999.0, 1e4, 1e8, 1e300, 60.0])
@pytest.mark.parametrize("where", [range(10, 22), range(8), range(10, 48, 4)])
def test_sentinel_heights_are_no_heights(height, where):
    rows = walk(captures=1)
    for number in where:
        rows[number]["z"] = height
    log = Log()
    edges = reconstruct(layer_of(rows), log)["OUTPUT"]
    assert any("heights that do not fit" in text for text in log.warnings)
    heights = np.array(
        [vertex.z() for one in edges.getFeatures() for vertex in one.geometry().vertices()]
    )
    assert np.isfinite(heights).all() and ((heights > 3.9) & (heights < 5.0)).all()


def test_heights_about_nought_are_heights():
    rows = walk(captures=1)
    for row in rows:
        row["z"] = round(row["z"] - 4.3, 2)
    log = Log()
    reconstruct(layer_of(rows), log)
    assert not any("heights" in text for text in log.warnings)


# NaN as a parameter


def number_parameters():
    registry = QgsApplication.processingRegistry()
    for algorithm in registry.providerById("curbwright").algorithms():
        if not hasattr(algorithm, "NAME"):
            continue  # a model, whose parts check theirs
        for definition in algorithm.parameterDefinitions():
            if definition.type() in ("number", "distance"):
                yield algorithm, definition.name()


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_not_a_number_as_a_parameter_is_refused(value, provider):
    from qgis.core import QgsProcessingContext

    found = list(number_parameters())
    assert len(found) > 20
    for algorithm, name in found:
        fine, message = algorithm._check_numbers({name: value}, QgsProcessingContext())
        assert not fine and name in message, (algorithm.name(), name)


def test_not_a_number_ends_in_a_message():
    with pytest.raises(QgsProcessingException, match=re.escape("(TOLERANCE) must be a number")):
        run("reconstructedges", {"INPUT": epochs(), "OUTPUT": "memory:", "TOLERANCE": float("nan")})


# copies


def test_a_walk_that_is_in_the_layer_twice_with_times_of_another_zone_is_said():
    rows = walk(captures=1)
    again = [{**row, "seconds": row["seconds"] + 7200} for row in rows]
    log = Log()
    reconstruct(layer_of(rows + again), log)
    assert any("7200 s later" in text for text in log.warnings)


# places


def test_a_walk_on_one_spot_is_told_from_one_that_captures_part():
    def place(x, y, z):
        return QgsGeometry(QgsPoint(9.0 + 1e-5 * x, 55.9 + 1e-5 * y, z))

    log = Log()
    reconstruct(layer_of(walk(captures=1), place=place), log)
    assert any("check the CRS of the layer" in text for text in log.warnings)
    assert not any("parts what belongs together" in text for text in log.warnings)
