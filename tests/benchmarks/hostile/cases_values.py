"""Values that are odd: accuracies, states of the solution, heights, numbers that are none."""

import numpy as np
from frame import case
from walkedlayers import iso, layer_of, table, walk

ACCURACIES, FIXES, HEIGHTS, NUMBERS = "accuracies", "fix words", "heights", "not a number"
NONE = float("nan")


def epochs(change=None, **kinds):
    """A walk with a vertical accuracy; `change` alters the values of row number i."""
    kinds = {"time": "string", "fix": "integer", "h_acc": "double", "v_acc": "double", **kinds}
    rows, count = walk(captures=1), iter(range(1000))

    def values(row):
        own = {"time": iso(row["seconds"]), "fix": row["fix"], "h_acc": row["h_acc"]}
        own["v_acc"] = 0.015
        own = {key: str(one) if kinds[key] == "string" else one for key, one in own.items()}
        own.update(change(next(count), row) if change else {})
        return [own[name] for name in kinds]

    return layer_of(rows, fields=tuple(kinds.items()), values=values)


def screened(box, layer, **parameters):
    outcome = box.run(
        "screenepochs", INPUT=layer, OUTPUT="memory:", REJECTED="memory:", **parameters
    )
    reasons = [] if outcome.error else [row["reason"] for row in table(outcome["REJECTED"])]
    return outcome, reasons


@case(ACCURACIES, each=(-1.0, 0.0, 9999.0, 1e300, float("inf"), -float("inf"), NONE))
def one_odd_accuracy(box, odd):
    outcome, reasons = screened(box, epochs(lambda i, row: {"h_acc": odd} if i == 7 else {}))
    box.done(outcome)
    expected = 1 if np.isnan(odd) else 2  # NaN is no value
    return box.right(reasons.count("poor_accuracy") == expected, f"{reasons}")


@case(ACCURACIES, each=("good", "?", "#VALUE!", "1.2.3", "0,01 0,02", "inf", "-1", "0"))
def one_odd_word_among_accuracies(box, odd):
    layer = epochs(lambda i, row: {"h_acc": odd} if i == 7 else {}, h_acc="string")
    outcome, reasons = screened(box, layer)
    box.right(reasons.count("poor_accuracy") == 2, f"{reasons}")
    return box.warned(outcome, "h_acc", "poor_accuracy")


@case(ACCURACIES, each=("n/a", "NULL", "nan", "-", "None", " "))
def words_for_no_accuracy(box, word):
    layer = epochs(lambda i, row: {"h_acc": word} if i == 7 else {}, h_acc="string")
    outcome, reasons = screened(box, layer)
    box.done(outcome)
    return box.right(reasons.count("poor_accuracy") == 1, f"{reasons}")


FORMS = {
    "comma": lambda metres: f"{metres:.3f}".replace(".", ","),
    "m": lambda metres: f"{metres:.3f} m",
    "metres": lambda metres: f"{metres:.3f} metres",
    "comma and unit": lambda metres: f"{metres:.3f}m".replace(".", ","),
    "mm": lambda metres: f"{1000 * metres:.0f} mm",
    "cm": lambda metres: f"{100 * metres:.1f}cm",
    "plus-minus": lambda metres: f"±{metres:.3f}",
    "exponent": lambda metres: f"{metres:.2e}",
    "feet": lambda metres: f"{metres / 0.3048:.4f} ft",
    "blanks": lambda metres: f"  {metres:.3f}  ",
}


@case(ACCURACIES, each=tuple(FORMS))
def accuracies_written_as(box, form):
    layer = epochs(lambda i, row: {"h_acc": FORMS[form](row["h_acc"])}, h_acc="string")
    outcome, reasons = screened(box, layer)
    box.done(outcome)
    return box.right(reasons.count("poor_accuracy") == 1, f"{reasons}")


@case(
    ACCURACIES, each=tuple((field, value) for field in ("h_acc", "v_acc") for value in (0.0, -1.0))
)
def the_same_nothing_in_all_rows(box, field, value):
    outcome, _ = screened(box, epochs(lambda i, row: {field: value}))
    return box.warned(outcome, field, "not taken|not used")


@case(ACCURACIES, each=(10.0, 100.0, 1000.0))
def horizontal_accuracies_in_another_unit(box, factor):
    layer = epochs(lambda i, row: {"h_acc": factor * row["h_acc"]})
    return box.refused(screened(box, layer)[0], "h_acc", "another unit|metres")


@case(ACCURACIES, each=(1000.0,))
def horizontal_accuracies_in_another_unit_and_a_wide_limit(box, factor):
    layer = epochs(lambda i, row: {"h_acc": factor * row["h_acc"]})
    return box.refused(screened(box, layer, MAX_H_ACCURACY=50.0)[0], "h_acc", "cannot be in metres")


@case(ACCURACIES, each=(1.5, 11.3, 15.0, 40.0))
def vertical_accuracies_in_another_unit(box, value):
    outcome, _ = screened(box, epochs(lambda i, row: {"v_acc": value}))
    return box.warned(outcome, "v_acc", "cannot be in metres")


@case(ACCURACIES, each=("date", "datetime", "time", "bool"))
def an_accuracy_of_another_kind(box, kind):
    layer = epochs(lambda i, row: {"h_acc": None}, h_acc=kind)
    return box.refused(screened(box, layer, H_ACCURACY_FIELD="h_acc")[0], "h_acc", "no numbers")


@case(ACCURACIES)
def words_in_all_rows_of_a_chosen_accuracy(box):
    layer = epochs(lambda i, row: {"h_acc": "good"}, h_acc="string")
    return box.refused(screened(box, layer, H_ACCURACY_FIELD="h_acc")[0], "h_acc", "good", "metres")


# states of the solution


@case(FIXES, each=(12, -1, 99, 40))
def one_odd_quality(box, odd):
    outcome, reasons = screened(box, epochs(lambda i, row: {"fix": odd} if i == 7 else {}))
    box.right(reasons.count("not_fixed") == 4, f"{reasons}")
    return box.warned(outcome, f"“{odd}” .1.", "mean fixed")


@case(FIXES, each=("?", "RTX", "4 float", "fixed?!", "n.v.", "4,5", "#REF!"))
def one_odd_fix_word(box, odd):
    layer = epochs(lambda i, row: {"fix": odd} if i == 7 else {}, fix="string")
    outcome, reasons = screened(box, layer)
    box.right(reasons.count("not_fixed") == 4, f"{reasons}")
    return box.warned(outcome, "not known", "mean fixed")


@case(FIXES, each=("bestes", "green", "A1", "0x4", "✔", "quatre"))
def an_unknown_vocabulary(box, word):
    layer = epochs(lambda i, row: {"fix": word if row["fix"] == 4 else "other"}, fix="string")
    return box.refused(screened(box, layer)[0], "“fix”", word, "mean fixed")


@case(FIXES, each=("bestes", "green", "A1", "✔"))
def an_unknown_vocabulary_that_is_told(box, word):
    layer = epochs(lambda i, row: {"fix": word if row["fix"] == 4 else "other"}, fix="string")
    outcome, reasons = screened(box, layer, FIXED_VALUES=word)
    box.done(outcome)
    return box.right(reasons.count("not_fixed") == 3, f"{reasons}")


SEEN = {
    "no-break": "fixed\u00a0",
    "zero width": "\u200bfixed",
    "byte order": "\ufefffixed",
    "figure space": "RTK\u2007fixed",
    "tab": "\tfixed\t",
    "soft hyphen": "fi\u00adxed",
    "right to left": "\u200ffixed",
    "number first": "4 - RTK fixed",
    "number last": "Fixed (4)",
    "colon": "4: fixed",
    "equals": "4=fixed",
    "quotes": "'4'",
    "decimals": "4.0",
    "zeros": "04",
    "capitals": "RTK_FIXED",
    "full width": "ＦＩＸＥＤ",
}


@case(FIXES, each=tuple(SEEN))
def fix_words_with(box, what):
    word = SEEN[what]
    layer = epochs(lambda i, row: {"fix": word if row["fix"] == 4 else "5"}, fix="string")
    outcome, reasons = screened(box, layer)
    box.done(outcome)
    return box.right(reasons.count("not_fixed") == 3, f"{reasons}")


@case(FIXES)
def fixed_values_given_and_no_such_field(box):
    layer = layer_of(
        walk(captures=1),
        fields=(("time", "string"), ("grade", "string")),
        values=lambda row: [iso(row["seconds"]), "best" if row["fix"] == 4 else "so-so"],
    )
    return box.refused(screened(box, layer, FIXED_VALUES="best")[0], "best", "“Fix”", "grade")


@case(FIXES, each=(" ", ",", " ; "))
def fixed_values_of_blanks(box, text):
    outcome, reasons = screened(box, epochs(), FIXED_VALUES=text)
    if outcome.error:
        return box.refused(outcome, "mean fixed", "at least one value")
    return box.right(reasons.count("not_fixed") == 3, f"{reasons}")


@case(FIXES)
def no_epoch_is_fixed(box):
    outcome, _ = screened(box, epochs(lambda i, row: {"fix": 5}))
    return box.refused(outcome, "not_fixed", "“Fix”", "mean fixed")


# heights

WHERE = {
    "a while": range(10, 22),
    "the start": range(8),
    "most": range(40),
    "each fourth": range(8, 48, 4),
}


@case(
    HEIGHTS,
    each=tuple(
        (height, where)
        for height in (0.0, -9999.0, 9999.0, 1e4, 1e8, 1e300, -32768.0, 60.0, -120.0)
        for where in WHERE
    ),
)
def sentinel_heights(box, height, where):
    rows = walk(captures=1)
    for number in WHERE[where]:
        rows[number]["z"] = height
    outcome = box.run("reconstructedges", INPUT=layer_of(rows), OUTPUT="memory:")
    box.warned(outcome, "heights that do not fit")
    heights = [
        vertex.z()
        for one in outcome["OUTPUT"].getFeatures()
        for vertex in one.geometry().vertices()
    ]
    known = np.array(heights)[np.isfinite(heights)]
    return box.right(len(known) and ((known > 3.9) & (known < 5.0)).all(), f"{heights}")


@case(HEIGHTS)
def heights_about_nought_are_kept(box):
    rows = [{**row, "z": round(row["z"] - 4.3, 2)} for row in walk(captures=1)]
    outcome = box.run("reconstructedges", INPUT=layer_of(rows), OUTPUT="memory:")
    box.done(outcome)
    return box.right("heights that do not fit" not in outcome.text, outcome.text)


@case(HEIGHTS)
def no_heights_at_all(box):
    rows = [{**row, "z": NONE} for row in walk(captures=1)]
    outcome = box.run("reconstructedges", INPUT=layer_of(rows), OUTPUT="memory:")
    return box.warned(outcome, "height")


# not a number

PARAMETERS = {
    "reconstructedges": ("MAX_H_ACCURACY", "MAX_TIME_GAP", "MAX_DISTANCE_GAP", "CORNER_ANGLE",
                         "TOLERANCE", "MIN_LENGTH"),
    "screenepochs": ("MAX_H_ACCURACY", "MAX_TIME_GAP", "MAX_DISTANCE_GAP"),
    "averageoccupations": ("MAX_H_ACCURACY",),
}  # fmt: skip


@case(
    NUMBERS,
    each=tuple(
        (algorithm, name, value)
        for algorithm, names in PARAMETERS.items()
        for name in names
        for value in (NONE, float("inf"), -float("inf"))
    ),
)
def not_a_number_for(box, algorithm, name, value):
    outcome = box.run(
        algorithm, INPUT=epochs(), OUTPUT="memory:", POINTS="memory:", **{name: value}
    )
    return box.refused(outcome, name)


@case(
    NUMBERS,
    each=tuple(
        (algorithm, name, value)
        for algorithm, names in (
            (
                "compareedges",
                ("MAX_OFFSET", "STATION_SPACING", "EXISTING_SIGMA", "CONFIDENCE", "REACH"),
            ),
            ("estimateshift", ("MAX_OFFSET",)),
            ("updatebasemap", ("MAX_OFFSET", "BLEND", "FOLLOW")),
            ("mergepasses", ("MAX_OFFSET",)),
            ("fitalignments", ("TOLERANCE", "MIN_RADIUS", "MAX_RADIUS")),
        )
        for name in names
        for value in (NONE, float("inf"))
    ),
)
def not_a_number_for_lines(box, algorithm, name, value):
    from linelayers import line_layer

    lines = line_layer([np.array([(0.0, 0.0), (50.0, 0.0)])])
    inputs = {"INPUT": lines, "EXISTING": lines, "EDGES": lines}
    outcome = box.run(algorithm, **inputs, OUTPUT="memory:", UPDATED="memory:", **{name: value})
    return box.refused(outcome, name)
