"""Which column plays which part, and what its values mean."""

import datetime

import numpy as np
import pytest

pa = pytest.importorskip("pyarrow", reason="bash setup.sh cluster")

from curbwright.shared.epochs.vocabulary import fixed_values  # noqa: E402
from curbwright.shared.partitions.columns import choose, read_columns  # noqa: E402

MOMENT = 1_700_000_000.25
UTC = datetime.datetime.fromtimestamp(MOMENT, datetime.timezone.utc)
NONE = {"time": ["t"], "capture": ["c"], "fix": [], "h_accuracy": [], "v_accuracy": []}


def columns_of(taken=None, **values):
    values = {"t": pa.array([0.0, 1.0]), "c": pa.array(["a", "a"]), **values}
    return read_columns(pa.table(values), {**NONE, **(taken or {})}, fixed_values())


@pytest.mark.parametrize(
    "times",
    [
        pa.array([UTC, None], pa.timestamp("us", "UTC")),
        pa.array([UTC, None], pa.timestamp("ns", "Asia/Tokyo")),
        pa.array([UTC.replace(tzinfo=None), None], pa.timestamp("ms")),
        pa.array([MOMENT, None]),
        pa.array([int(MOMENT * 1000), None]),
        pa.array(["2023-11-14T22:13:20.25Z", None]),
        pa.array(["2023-11-15 07:13:20.25+09:00", ""], pa.large_string()),
        pa.array(["2023-11-14T22:13:20.25", None]).dictionary_encode(),
    ],
    ids=[
        "UTC",
        "zone",
        "no zone",
        "seconds",
        "milliseconds",
        "text",
        "text with zone",
        "dictionary",
    ],
)
def test_times_of_every_kind(times):
    assert columns_of(t=times).seconds == pytest.approx([MOMENT, np.nan], abs=1e-6, nan_ok=True)


def test_a_day_is_a_time():
    assert columns_of(t=pa.array([UTC.date(), None])).seconds[0] == MOMENT // 86400 * 86400


@pytest.mark.parametrize("times", [pa.array(["soon", "later"]), pa.array([True, False])])
def test_what_is_no_time_is_refused(times):
    with pytest.raises(ValueError, match="“t” is no time.*--time"):
        columns_of(t=times)


@pytest.mark.parametrize(
    "fix",
    [
        pa.array([4, 5, None, 4]),
        pa.array([4.0, 5.0, None, 4.0]),
        pa.array(["RTK fixed", "float", None, "4"]),
        pa.array([True, False, None, True]),
        pa.array(["fixed", "single", None, "FIXED"]).dictionary_encode(),
        pa.chunked_array([[4, 5], [None, 4]]),
    ],
)
def test_fixes_of_every_kind(fix):
    found = columns_of({"fix": ["f"]}, f=fix, t=pa.array(np.arange(4.0)), c=pa.array(["a"] * 4))
    assert found.fixed.tolist() == [True, False, False, True]


def test_values_of_the_users_own_stand_alone():
    table = pa.table({"t": [0.0, 1.0], "c": ["a", "a"], "f": ["4", "locked"]})
    assert read_columns(table, {**NONE, "fix": ["f"]}, fixed_values("locked")).fixed.tolist() == [
        False,
        True,
    ]


def test_captures_are_told_apart_by_several_columns():
    found = columns_of(
        {"capture": ["c", "day"]},
        c=pa.chunked_array([["b", "a"], ["b", None]]),
        day=pa.array([2, 2, 1, 2]),
        t=pa.array(np.arange(4.0)),
    )
    assert found.captures.tolist() == [" / 2", "a / 2", "b / 1", "b / 2"]
    assert found.capture.tolist() == [3, 1, 2, 0]


def test_a_number_and_its_text_are_one_capture():
    assert (
        columns_of(c=pa.array([7, 8], pa.int16())).captures.tolist()
        == columns_of(c=pa.array(["7", "8"]).dictionary_encode()).captures.tolist()
    )


def test_accuracies_are_numbers_or_text_that_holds_them():
    taken = {"h_accuracy": ["h"], "v_accuracy": ["v"]}
    found = columns_of(taken, h=pa.array([0.01, None], pa.float32()), v=pa.array(["0.02", None]))
    assert found.sigma_h == pytest.approx([0.01, np.nan], nan_ok=True)
    assert found.sigma_v == pytest.approx([0.02, np.nan], nan_ok=True)
    with pytest.raises(ValueError, match="“h” is no horizontal accuracy.*--h-accuracy"):
        columns_of({"h_accuracy": ["h"]}, h=pa.array([UTC, UTC]))


def test_no_rows():
    found = columns_of(
        {"fix": ["f"]},
        t=pa.array([], pa.timestamp("ms")),
        c=pa.array([], pa.string()),
        f=pa.array([], pa.string()),
    )
    assert len(found.seconds) == len(found.capture) == len(found.captures) == len(found.fixed) == 0


def test_names_are_found_in_any_language():
    found = choose(["geometry", "Zeitstempel", "AUFNAHME", "fix_quality", "h_acc", "lot"], {})
    assert found == {
        "time": ["Zeitstempel"],
        "capture": ["AUFNAHME"],
        "fix": ["fix_quality"],
        "h_accuracy": ["h_acc"],
        "v_accuracy": [],
    }


def test_names_given_go_before_names_found():
    assert choose(["time", "when", "capture", "fix"], {"time": ["when"], "fix": []})["time"] == [
        "when"
    ]
    assert choose(["time", "when", "capture", "fix"], {"fix": []})["fix"] == []
