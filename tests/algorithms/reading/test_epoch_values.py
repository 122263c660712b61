"""Values of fields into columns of the table."""

from pathlib import Path
from types import SimpleNamespace

import numpy as np
import pytest
from numpy.testing import assert_array_equal
from qgis.PyQt.QtCore import QTranslator
from walkedlayers import Log

from curbwright.algorithms.reading import epoch_values, role_words
from curbwright.algorithms.reading.columns import column_of_list
from curbwright.algorithms.reading.epoch_fields import Choices
from curbwright.shared.epochs import number_times, slash_dates
from curbwright.shared.epochs.slash_dates import DAY_FIRST, MONTH_FIRST
from curbwright.shared.epochs.times import kind_in_words, parse_times
from curbwright.shared.language import speaking


def test_every_kind_of_time_is_translated():
    tables = number_times._DAYS, number_times._TICKS, number_times._CALENDARS
    kinds = {row[-1] for table in tables for row in table}
    kinds |= {slash_dates.KINDS[order] for order in (DAY_FIRST, MONTH_FIRST)}
    some = ["2026-05-04T10:00:00Z"], ["04.05.2026 10:00"], np.array(["2026-05-04"], "M8[ms]"), [1.0]
    kinds |= {parse_times(values)[1] for values in some}
    translator = QTranslator()
    assert translator.load(
        str(Path(__file__).resolve().parents[3] / "plugin" / "i18n" / "curbwright_de.qm")
    )
    with speaking(translator.translate):
        assert {kind for kind in kinds if not kind_in_words(kind)} == set()
        assert kind_in_words(parse_times(["1777888800"])[1]) == "Sekunden, als Text"


@pytest.mark.parametrize(
    "texts",
    [
        pytest.param([f"2026-05-04T10:00:{second:02d}.5Z" for second in range(10)], id="ISO"),
        pytest.param(
            [
                "noon",
                None,
                "2026-05-04T10:00:00Z",
                "",
                "2026-05-04 12:00:01+02:00",
                "x",
                "2026-05-04T10:00:02,5",
            ],
            id="mixed",
        ),
        pytest.param([str(second) for second in range(10)], id="seconds"),
        pytest.param(["1000"] * 5 + ["1777888800000"] * 5, id="milliseconds that show late"),
        pytest.param([None] * 4 + ["1777888800"] * 4, id="empty at first"),
        pytest.param(["1777888800"] * 4 + ["2026-05-04T10:00:00Z"] * 4, id="numbers, then ISO"),
        pytest.param(["noon"] * 7, id="no time"),
    ],
)
@pytest.mark.parametrize("block", [1, 3, 100])
def test_times_of_text_in_blocks(texts, block):
    column = column_of_list("text", texts)
    seconds, kind = epoch_values.times_of_text(column, block)
    expected, expected_kind = parse_times(column.texts())
    assert_array_equal(seconds, expected)
    assert kind == expected_kind or not np.isfinite(expected).any()


@pytest.mark.parametrize("texts", [["b", "a", "b", ""], ["é", "e", "é"], ["only"]])
def test_captures_are_coded_in_the_order_of_their_texts(texts):
    class Read:
        columns = {"c": column_of_list("text", texts)}

    names, codes = epoch_values.captures_of(Read, ["c"], False)
    assert names == sorted(set(texts))
    assert [names[code] for code in codes] == texts


def test_captures_of_two_fields_that_read_alike():
    class Read:
        columns = {
            "a": column_of_list("text", ["x / y", "x"]),
            "b": column_of_list("text", ["z", "y / z"]),
        }

    names, codes = epoch_values.captures_of(Read, ["a", "b"], False)
    assert names == ["x / y \\/ z", "x \\/ y / z"] and codes.tolist() == [1, 0]


@pytest.mark.parametrize("block", [2, 100])
@pytest.mark.parametrize(
    ("zones", "warned"), [(["Z", "+02:00"], False), (["", ""], False), (["Z", ""], True)]
)
def test_times_of_which_some_name_a_zone_are_warned_of(zones, warned, block):
    texts = [f"2026-05-04T10:00:0{row}{zones[row % 2]}" for row in range(6)] + [None]
    log = Log()
    epoch_values._say_mixed_zones(column_of_list("text", texts), "when", log, block)
    expected = "name no zone, where others do: 3 of 6, for example “2026-05-04T10:00:01”."
    assert len(log.warnings) == warned
    assert all(expected in text for text in log.warnings)


@pytest.mark.parametrize("kind", ["int", "text"])
def test_fixes_without_a_value_are_not_fixed(kind):
    values = [4, None, 5, 4] if kind == "int" else ["4", None, "float", "FIXED"]

    class Read:
        columns = {"f": column_of_list(kind, values)}

    choices = Choices("", [], "", "4, fixed", "", "", {})
    log = Log()
    assert epoch_values.fixed_of_rows(
        Read, ["f"], choices, role_words.vocabulary(), log
    ).tolist() == [
        True,
        False,
        False,
        True,
    ]
    fixed, other = log.infos
    assert "Taken as fixed: " in fixed and "“4” (" in fixed and "5" not in fixed
    assert "Taken as not fixed: " in other and "no value (1)" in other


@pytest.mark.parametrize(
    ("field", "value", "warned"),
    [("HRMS (mm)", 0.012, True), ("h_acc_cm", 0.012, True), ("HRMS (mm)", 12.0, False),
     ("h_acc", 0.0001, False)],
)  # fmt: skip
def test_the_unit_in_a_name_is_doubted_where_it_makes_accuracies_too_fine(field, value, warned):
    log, rows = Log(), SimpleNamespace(columns={field: column_of_list("double", [value] * 3)})
    epoch_values.accuracy_of(rows, [field], ("walks", "Accuracy"), "", log)
    assert [f"“{field}”" in text and "too good" in text for text in log.warnings] == [True] * warned
