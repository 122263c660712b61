"""Fields found from names, types and values; never a silent guess between two equally good ones."""
import numpy as np
import pytest
from numpy.testing import assert_array_equal

from curbwright.algorithms import roles
from curbwright.algorithms.columns import _column, _column_of_list

T = [f"2026-05-04T10:00:{second:02d}Z" for second in range(12)]
MOMENTS = np.array([text[:-1] for text in T], "M8[ms]")
OTHER = [f"2026-05-04T11:30:{second:02d}Z" for second in range(12)]
UNIX = [1777888800 + second for second in range(12)]
FIXES = [4] * 8 + [5, 1, 4, 0]
WORDS = ["fixed"] * 8 + ["float", "single", "RTK Fixed", "none"]
METRES = [0.01 + 0.001 * row for row in range(12)]


def column(kind, values):
    if kind == "datetime":
        return _column("datetime", np.asarray(values, "M8[ms]"), np.zeros(len(values), bool))
    return _column_of_list(kind, list(values))


def find(part, **fields):
    kinds = {name: kind for name, (kind, _) in fields.items()}
    return roles.find(part, kinds, {name: column(kind, values) for name, (kind, values) in fields.items()})


@pytest.mark.parametrize(
    ("name", "words"),
    [("hAcc", ["h", "acc"]), ("h_acc", ["h", "acc"]), ("H-ACC", ["h", "acc"]), ("HACC", ["hacc"]), ("GPSTime", ["gps", "time"]),
     ("utc_2", ["utc"]), ("Zeit", ["zeit"]), ("fixQuality2", ["fix", "quality"]), ("højde", ["højde"]), ("", []), ("42", [])],
)
def test_words_of_names(name, words):
    assert roles.words_of(name) == words


@pytest.mark.parametrize("name", ["time", "UTC", "timestamp", "date_time", "gpsTime", "utc_time", "capturedAt"])
@pytest.mark.parametrize(("kind", "values"), [("text", T), ("datetime", MOMENTS), ("int", UNIX), ("double", [u * 1000.0 for u in UNIX])])
def test_time_by_name_whatever_its_type(name, kind, values):
    found = find(roles.TIME, **{name: (kind, values), "note": ("text", ["x"] * 12), "n": ("int", range(12))})
    assert (found.names, found.how) == ((name,), "name")


def test_well_known_name_comes_before_words():
    assert find(roles.TIME, utc=("text", T), time_of_day_local=("text", OTHER)).names == ("utc",)


@pytest.mark.parametrize(("kind", "values"), [("text", T), ("datetime", MOMENTS)])
def test_time_by_its_values(kind, values):
    found = find(roles.TIME, quand=(kind, values), note=("text", ["x"] * 12), number=("int", UNIX))
    assert (found.names, found.how) == (("quand",), "values")


@pytest.mark.parametrize("name", ["start_time", "time_zone", "end_time", "time_offset", "edited", "update_time"])
def test_other_times_are_not_the_epochs(name):
    assert find(roles.TIME, **{name: ("text", T)}).names == ()


def test_text_that_is_no_time_is_not_taken():
    assert find(roles.TIME, time=("text", ["noon"] * 12)).names == ()
    assert find(roles.TIME, time=("text", ["noon"] * 12), utc=("text", T)).names == ("utc",)


def test_two_times_that_differ_are_not_guessed_between():
    with pytest.raises(roles.UndecidedError) as raised:
        find(roles.TIME, time=("text", T), timestamp=("text", OTHER))
    assert raised.value.names == ("time", "timestamp")
    with pytest.raises(roles.UndecidedError):
        find(roles.TIME, quand=("text", T), wann=("text", OTHER))


def test_two_times_that_agree_are_one():
    found = find(roles.TIME, utc=("text", T), timestamp=("int", UNIX), time=("datetime", MOMENTS))
    assert (found.names, found.how) == (("utc",), "agree")


@pytest.mark.parametrize("name", ["fix", "Fix_Quality", "quality", "gnssQuality", "solution", "rtk_status", "fix_type"])
@pytest.mark.parametrize(("kind", "values"), [("int", FIXES), ("text", WORDS), ("text", [str(f) for f in FIXES]), ("double", FIXES)])
def test_fix_by_name_and_vocabulary(name, kind, values):
    assert find(roles.FIX, **{name: (kind, values), "note": ("text", ["x"] * 12)}).names == (name,)


@pytest.mark.parametrize(
    ("name", "kind", "values"),
    [("quality", "double", METRES), ("quality", "text", ["good", "bad"] * 6), ("fix_time", "text", T), ("fix", "int", range(100, 112)),
     ("fixed_by", "text", ["Ada"] * 12), ("colour", "int", FIXES), ("photo_quality", "int", FIXES)],
)
def test_what_is_no_fix(name, kind, values):
    assert find(roles.FIX, **{name: (kind, values)}).names == ()


def test_words_of_the_users_own_count_as_a_fix():
    fields = {"fix": ("text", ["bestes"] * 12)}
    assert find(roles.FIX, **fields).names == ()
    found = roles.find(roles.FIX, {"fix": "text"}, {"fix": column("text", ["bestes"] * 12)}, "bestes, 4")
    assert found.names == ("fix",)


def test_two_fixes_are_not_guessed_between():
    with pytest.raises(roles.UndecidedError) as raised:
        find(roles.FIX, fix=("int", FIXES), solution=("text", WORDS))
    assert raised.value.part == roles.FIX


def test_yes_no_field_is_a_fix():
    assert find(roles.FIX, rtk_fixed=("bool", [True, False] * 6)).names == ("rtk_fixed",)


@pytest.mark.parametrize("name", ["hacc", "h_acc", "hAccuracy", "horizontal_accuracy", "sigma_h", "HRMS", "hor_err", "accuracy", "sd_xy"])
def test_horizontal_accuracy(name):
    found = find(roles.H_ACCURACY, **{name: ("double", METRES), "vacc": ("double", METRES), "hdop": ("double", METRES)})
    assert found.names == (name,)


@pytest.mark.parametrize("name", ["vacc", "v_acc", "vertical_accuracy", "sigma_z", "VRMS", "height_sd", "up_sigma", "elevation_error"])
def test_vertical_accuracy(name):
    found = find(roles.V_ACCURACY, **{name: ("double", METRES), "hacc": ("double", METRES), "accuracy": ("double", METRES)})
    assert found.names == (name,)


def test_accuracy_must_be_numbers():
    assert find(roles.H_ACCURACY, hacc=("text", ["good"] * 12)).names == ()
    assert find(roles.H_ACCURACY, hacc=("text", [str(value) for value in METRES])).names == ("hacc",)
    assert find(roles.H_ACCURACY, hacc=("double", [-1.0] * 12)).names == ()


def test_two_accuracies_are_left_alone():
    found = find(roles.H_ACCURACY, hacc=("double", METRES), hrms=("double", METRES))
    assert (found.names, found.rivals) == ((), ("hacc", "hrms"))


def test_capture():
    assert find(roles.CAPTURE, capture=("text", ["a"] * 6 + ["b"] * 6), name=("text", T)).names == ("capture",)
    assert find(roles.CAPTURE, walk_no=("int", [1] * 6 + [2] * 6)).names == ("walk_no",)
    assert find(roles.CAPTURE, capture=("int", range(12))).names == ()  # numbers the epochs
    found = find(roles.CAPTURE, capture=("text", ["a"] * 12), walk=("text", ["b"] * 12))
    assert (found.names, found.rivals) == ((), ("capture", "walk"))
    assert find(roles.CAPTURE, track_fid=("int", [1] * 12), track_seg_id=("int", [0] * 12)).names == ("track_fid", "track_seg_id")


def test_a_well_known_name_is_taken_though_the_sample_is_empty():
    assert find(roles.FIX, fix=("text", [None] * 12)).names == ("fix",)
    assert find(roles.FIX, quality_note=("text", [None] * 12)).names == ()


def test_a_field_without_values_is_no_rival():
    assert find(roles.TIME, timestamp=("text", [None] * 12), time=("text", T)).names == ("time",)
    assert find(roles.TIME, timestamp=("text", [None] * 12), time_of_fix=("text", T)).names == ("time_of_fix",)


def test_numbers_from_text():
    numbers = roles.as_numbers(column("text", ["0.01", " 2 ", None, "", "x", "1e-3"]))
    assert_array_equal(numbers, [0.01, 2, np.nan, np.nan, np.nan, 1e-3])
