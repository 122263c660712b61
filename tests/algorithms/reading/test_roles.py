"""Fields found from names, types and values; never a silent guess between two equally good ones."""

import csv

import numpy as np
import pytest
from numpy.testing import assert_array_equal
from walkedlayers import FIELDS, Log, iso, layer_of, reconstruct, table, walk

from curbwright.algorithms.reading import role_words, roles
from curbwright.algorithms.reading.columns import column_of_list, make_column

T = [f"2026-05-04T10:00:{second:02d}Z" for second in range(12)]
MOMENTS = np.array([text[:-1] for text in T], "M8[ms]")
OTHER = [f"2026-05-04T11:30:{second:02d}Z" for second in range(12)]
UNIX = [1777888800 + second for second in range(12)]
FIXES = [4] * 8 + [5, 1, 4, 0]
WORDS = ["fixed"] * 8 + ["float", "single", "RTK Fixed", "none"]
METRES = [0.01 + 0.001 * row for row in range(12)]


def column(kind, values):
    if kind == "datetime":
        return make_column("datetime", np.asarray(values, "M8[ms]"), np.zeros(len(values), bool))
    return column_of_list(kind, list(values))


def find(part, **fields):
    kinds = {name: kind for name, (kind, _) in fields.items()}
    return roles.find(
        part, kinds, {name: column(kind, values) for name, (kind, values) in fields.items()}
    )


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("hAcc", ["h", "acc"]),
        ("h_acc", ["h", "acc"]),
        ("H-ACC", ["h", "acc"]),
        ("HACC", ["hacc"]),
        ("GPSTime", ["gps", "time"]),
        ("utc_2", ["utc"]),
        ("Zeit", ["zeit"]),
        ("fixQuality2", ["fix", "quality"]),
        ("højde", ["højde"]),
        ("", []),
        ("42", []),
        ("HØJDE", ["højde"]),
        ("ŘešeníTyp", ["řešení", "typ"]),
        ("ТочностьВПлане", ["точность", "в", "плане"]),
        ("測位時刻", ["測位時刻"]),
        ("pre\u0301cision", ["précision"]),
        ("sdn(m)", ["sdn"]),
        ("Zeit [s]", ["zeit"]),
        ("hAcc (mm)", ["h", "acc", "mm"]),
        ("Genauigkeit (Lage)", ["genauigkeit", "lage"]),
        ("(m)", ["m"]),
    ],
)
def test_words_of_names(name, words):
    assert role_words.words_of(name) == words


@pytest.mark.parametrize(
    "name", ["time", "UTC", "timestamp", "date_time", "gpsTime", "utc_time", "capturedAt"]
)
@pytest.mark.parametrize(
    ("kind", "values"),
    [("text", T), ("datetime", MOMENTS), ("int", UNIX), ("double", [u * 1000.0 for u in UNIX])],
)
def test_time_by_name_whatever_its_type(name, kind, values):
    found = find(
        roles.TIME, **{name: (kind, values), "note": ("text", ["x"] * 12), "n": ("int", range(12))}
    )
    assert (found.names, found.how) == ((name,), "name")


def test_well_known_name_comes_before_words():
    assert find(roles.TIME, utc=("text", T), time_of_day_local=("text", OTHER)).names == ("utc",)


@pytest.mark.parametrize(("kind", "values"), [("text", T), ("datetime", MOMENTS)])
def test_time_by_its_values(kind, values):
    found = find(roles.TIME, quand=(kind, values), note=("text", ["x"] * 12), number=("int", UNIX))
    assert (found.names, found.how) == (("quand",), "values")


@pytest.mark.parametrize(
    "name", ["start_time", "time_zone", "end_time", "time_offset", "edited", "update_time"]
)
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


@pytest.mark.parametrize(
    "name", ["fix", "Fix_Quality", "quality", "gnssQuality", "solution", "rtk_status", "fix_type"]
)
@pytest.mark.parametrize(
    ("kind", "values"),
    [("int", FIXES), ("text", WORDS), ("text", [str(f) for f in FIXES]), ("double", FIXES)],
)
def test_fix_by_name_and_vocabulary(name, kind, values):
    assert find(roles.FIX, **{name: (kind, values), "note": ("text", ["x"] * 12)}).names == (name,)


@pytest.mark.parametrize(
    ("name", "kind", "values"),
    [
        ("quality", "double", METRES),
        ("quality", "text", ["good", "bad"] * 6),
        ("fix_time", "text", T),
        ("fix", "int", range(100, 112)),
        ("fixed_by", "text", ["Ada"] * 12),
        ("colour", "int", FIXES),
        ("photo_quality", "int", FIXES),
    ],
)
def test_what_is_no_fix(name, kind, values):
    assert find(roles.FIX, **{name: (kind, values)}).names == ()


def test_words_of_the_users_own_count_as_a_fix():
    fields = {"fix": ("text", ["bestes"] * 12)}
    assert find(roles.FIX, **fields).names == ()
    found = roles.find(
        roles.FIX, {"fix": "text"}, {"fix": column("text", ["bestes"] * 12)}, "bestes, 4"
    )
    assert found.names == ("fix",)


def test_two_fixes_are_not_guessed_between():
    with pytest.raises(roles.UndecidedError) as raised:
        find(roles.FIX, fix=("int", FIXES), solution=("text", WORDS))
    assert raised.value.part == roles.FIX


def test_yes_no_field_is_a_fix():
    assert find(roles.FIX, rtk_fixed=("bool", [True, False] * 6)).names == ("rtk_fixed",)


@pytest.mark.parametrize(
    "name",
    [
        "hacc",
        "h_acc",
        "hAccuracy",
        "horizontal_accuracy",
        "sigma_h",
        "HRMS",
        "hor_err",
        "accuracy",
        "sd_xy",
    ],
)
def test_horizontal_accuracy(name):
    found = find(
        roles.H_ACCURACY,
        **{name: ("double", METRES), "vacc": ("double", METRES), "hdop": ("double", METRES)},
    )
    assert found.names == (name,)


@pytest.mark.parametrize(
    "name",
    [
        "vacc",
        "v_acc",
        "vertical_accuracy",
        "sigma_z",
        "VRMS",
        "height_sd",
        "up_sigma",
        "elevation_error",
    ],
)
def test_vertical_accuracy(name):
    found = find(
        roles.V_ACCURACY,
        **{name: ("double", METRES), "hacc": ("double", METRES), "accuracy": ("double", METRES)},
    )
    assert found.names == (name,)


def test_accuracy_must_be_numbers():
    assert find(roles.H_ACCURACY, hacc=("text", ["good"] * 12)).names == ()
    assert find(roles.H_ACCURACY, hacc=("text", [str(value) for value in METRES])).names == (
        "hacc",
    )
    assert find(roles.H_ACCURACY, hacc=("double", [-1.0] * 12)).names == ()


def test_the_state_in_a_solution_file():
    fields = dict.fromkeys(("sdn(m)", "sde(m)", "sdu(m)"), "double")
    assert roles.solution_state({**fields, "Q": "int", "ns": "int"}) == "Q"
    assert roles.solution_state({**fields, "Q": "int"}) == ""
    assert roles.solution_state({**fields, "ns": "int"}) == ""
    assert roles.solution_state({"Q": "int", "ns": "int"}) == ""


def test_two_accuracies_are_left_alone():
    found = find(roles.H_ACCURACY, hacc=("double", METRES), hrms=("double", METRES))
    assert (found.names, found.rivals) == ((), ("hacc", "hrms"))


def test_capture():
    assert find(roles.CAPTURE, capture=("text", ["a"] * 6 + ["b"] * 6), name=("text", T)).names == (
        "capture",
    )
    assert find(roles.CAPTURE, walk_no=("int", [1] * 6 + [2] * 6)).names == ("walk_no",)
    assert find(roles.CAPTURE, capture=("int", range(12))).names == ()  # numbers the epochs
    found = find(roles.CAPTURE, capture=("text", ["a"] * 12), walk=("text", ["b"] * 12))
    assert (found.names, found.rivals) == ((), ("capture", "walk"))
    assert find(
        roles.CAPTURE, track_fid=("int", [1] * 12), track_seg_id=("int", [0] * 12)
    ).names == ("track_fid", "track_seg_id")


def test_a_well_known_name_is_taken_though_the_sample_is_empty():
    assert find(roles.FIX, fix=("text", [None] * 12)).names == ("fix",)
    assert find(roles.FIX, quality_note=("text", [None] * 12)).names == ()


def test_a_field_without_values_is_no_rival():
    assert find(roles.TIME, timestamp=("text", [None] * 12), time=("text", T)).names == ("time",)
    assert find(roles.TIME, timestamp=("text", [None] * 12), time_of_fix=("text", T)).names == (
        "time_of_fix",
    )


def test_numbers_from_text():
    numbers = roles.as_numbers(column("text", ["0.01", " 2 ", None, "", "x", "1e-3"]))
    assert_array_equal(numbers, [0.01, 2, np.nan, np.nan, np.nan, 1e-3])


# Languages: the rows of the table itself are the cases, so that a row that can never be found shows

with role_words.TABLE.open(encoding="utf-8") as _file:
    ROWS = list(csv.reader(line for line in _file if not line.startswith("#")))[1:]
VALUES = {
    roles.TIME: ("text", T),
    roles.CAPTURE: ("int", [1] * 6 + [2] * 6),
    roles.FIX: ("int", FIXES),
    roles.H_ACCURACY: ("double", METRES),
    roles.V_ACCURACY: ("double", METRES),
}
LANGUAGES = sorted({language for _, _, language, _ in ROWS})


def words_of_table(role, match, language=None):
    return [
        word
        for own, how, tongue, words in ROWS
        if (own, how) == (role, match) and language in (None, tongue)
        for word in words.split()
    ]


def test_the_table_speaks_many_languages():
    assert {"cs", "da", "de", "en", "es", "fi", "fr", "it", "nl", "no", "pl", "pt", "sv"} <= set(
        LANGUAGES
    )
    for language in LANGUAGES:
        assert words_of_table(roles.TIME, "name", language) and words_of_table(
            roles.FIX, "fixed", language
        ), language
        assert words_of_table(roles.H_ACCURACY, "name", language) or language == "en", language


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("part", list(VALUES))
def test_every_name_of_the_table_is_found_and_is_no_other_part(language, part):
    for written in words_of_table(part, "name", language):
        folded = role_words.fold(written)
        for name in {
            written,
            written.upper(),
            written.lower(),
            written.replace("_", " "),
            written.replace("_", "-"),
            folded,
            folded.upper(),
            folded + "_2",
        }:
            fields = {
                name: VALUES[part],
                "note": ("text", ["x"] * 12),
                "number": ("int", range(12)),
            }
            found = find(part, **fields)
            assert (found.names, found.how) == ((name,), "name"), name
            assert [word for word, _ in found.words]
        for other in set(VALUES) - {part}:
            assert (
                find(
                    other, **{written: ("int", UNIX) if other == roles.TIME else VALUES[other]}
                ).names
                == ()
            )


@pytest.mark.parametrize("language", LANGUAGES)
@pytest.mark.parametrize("part", [roles.TIME, roles.CAPTURE, roles.FIX])
def test_every_word_is_found_within_a_name_and_every_other_rules_it_out(language, part):
    for word in words_of_table(part, "word", language):
        assert find(part, **{f"rover_{word}": VALUES[part]}).names == (f"rover_{word}",)
        for against in words_of_table(part, "without", language):
            assert find(part, **{f"rover_{word}_{against}": VALUES[part]}).names == (), (
                word,
                against,
            )


@pytest.mark.parametrize(
    "language", [language for language in LANGUAGES if language not in ("zh", "ja", "ko")]
)
@pytest.mark.parametrize("part", [roles.H_ACCURACY, roles.V_ACCURACY])
def test_accuracies_from_a_direction_and_a_word_of_accuracy(language, part):
    other = roles.V_ACCURACY if part == roles.H_ACCURACY else roles.H_ACCURACY
    for direction in words_of_table(part, "word", language):
        for spread in words_of_table(role_words.ACCURACY, "word", language):
            for name in (
                f"{direction}_{spread}",
                f"rover {spread} {direction}",
                *([f"{direction}{spread}"] if min(len(direction), len(spread)) > 2 else []),
            ):
                assert find(part, **{name: VALUES[part]}).names == (name,)
                assert find(other, **{name: VALUES[part]}).names == ()


@pytest.mark.parametrize(
    ("name", "part"),
    [
        ("Hoehengenauigkeit", roles.V_ACCURACY),
        ("HÖHENGENAUIGKEIT", roles.V_ACCURACY),
        ("Hohengenauigkeit", roles.V_ACCURACY),
        ("GNSS_Lagegenauigkeit", roles.H_ACCURACY),
        ("noejagtighed_hoejde", roles.V_ACCURACY),
        ("Losung", roles.FIX),
        ("LOESUNG", roles.FIX),
        ("qualite_solution", roles.FIX),
        ("rozwiazanie", roles.FIX),
        ("Datum/Uhrzeit", roles.TIME),
        ("fecha_y_hora", roles.TIME),
        ("tidsstampel", roles.TIME),
        ("Genauigkeit", roles.H_ACCURACY),
    ],
)
def test_spellings_of_keyboards_without_the_letter(name, part):
    assert find(part, **{name: VALUES[part]}).names == (name,)


@pytest.mark.parametrize("language", LANGUAGES)
def test_fixed_solutions_in_words(language):
    known = role_words.vocabulary()
    fixed, other = (words_of_table(roles.FIX, match, language) for match in ("fixed", "other"))
    for change in (
        str,
        str.upper,
        role_words.fold,
        lambda word: word.replace("_", " "),
        lambda word: word.replace("_", "-"),
    ):
        fix = [change(word) for word in fixed + other]
        assert find(roles.FIX, fix=("text", fix)).names == ("fix",)
        means = roles.fixed_of(column("text", fix), "", known)
        # the English row lists all states of NMEA, the fixed ones 4 and R among them
        assert means.tolist() == [True] * len(fixed) + [word in ("4", "r") for word in other]


def test_a_list_of_fixed_values_of_the_users_own_stands_alone():
    texts = column("text", ["fixiert", "fixed", "4", "Réglé", "regle"])
    known = role_words.vocabulary()
    assert roles.fixed_of(texts, "", known).tolist() == [
        True,
        True,
        True,
        False,
        False,
    ]
    assert roles.fixed_of(texts, " ", known).tolist() == [
        True,
        True,
        True,
        False,
        False,
    ]
    assert roles.fixed_of(texts, "réglé", known).tolist() == [False, False, False, True, True]


def test_two_languages_are_equally_good():
    with pytest.raises(roles.UndecidedError) as raised:
        find(roles.TIME, Zeit=("text", T), heure=("text", OTHER))
    assert raised.value.names == ("Zeit", "heure")
    agreed = find(roles.TIME, Zeit=("text", T), heure=("text", T))
    assert (agreed.names, agreed.how, agreed.rivals) == (("Zeit",), "agree", ("heure",))
    found = find(
        roles.V_ACCURACY,
        Höhengenauigkeit=("double", METRES),
        precisione_verticale=("double", METRES),
    )
    assert (found.names, found.rivals) == ((), ("Höhengenauigkeit", "precisione_verticale"))


def test_what_fits_less_well_is_told():
    found = find(
        roles.FIX, fix=("int", FIXES), rover_solution=("text", WORDS), colour=("int", FIXES)
    )
    assert (found.names, found.passed_over, found.words) == (
        ("fix",),
        ("rover_solution",),
        (("fix", "en"),),
    )


@pytest.mark.parametrize("name", ["hora", "heure", "godzina", "time"])
def test_hours_of_the_day_are_no_time(name):
    hours = np.repeat([9, 10, 11], 100)
    moments = np.datetime64("2026-05-04T09:00:00", "ms") + 1000 * np.arange(300)
    assert find(roles.TIME, **{name: ("int", hours)}).names == ()
    assert find(roles.TIME, **{name: ("int", hours), "at": ("datetime", moments)}).names == ("at",)
    # a receiver's own seconds
    assert find(roles.TIME, **{name: ("double", np.arange(300) * 0.05)}).names == (name,)


# The user's own table


@pytest.fixture
def own(tmp_path, monkeypatch):
    """Writes the user's table."""
    path = tmp_path / "profile" / "curbwright" / "roles.csv"
    monkeypatch.setattr(role_words, "own_table", lambda: path)

    def write(text, encoding="utf-8"):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(text.encode(encoding))
        return path

    return write


HEAD = "role,match,language,words\n"


def test_its_place_is_in_the_profile(provider):
    path = role_words.own_table()
    assert path.is_absolute() and path.parts[-2:] == ("curbwright", "roles.csv")


def test_no_own_table_is_nothing_to_talk_of(own):
    assert (role_words.vocabulary().own, role_words.vocabulary().problems) == ("", ())


@pytest.mark.parametrize(
    "text",
    [
        HEAD + "time,name,,Quando_foi\nfix,fixed,xx,best one\nfix,name,xx,state_of_it\n",
        (
            "\ufeff# mine\r\n\r\nRole;Match;Language;Words\r\ntime;name;;quando foi-isso"
            ' Quando-Foi;\r\nfix;FIXED;xx;best;one\r\n"fix";name;xx;"State_of_it"\r\n;;;\r\n'
        ),
        (
            "role\tmatch\tlanguage\twords\ntime\tname\t\tQUANDOFOI\nfix\tfixed\t\tBest"
            " ONE\nfix\tname\t\tstate_OF_it"
        ),
    ],
)
def test_own_words_are_found(own, text):
    path = own(text)
    known = role_words.vocabulary()
    assert (known.own, known.problems) == (str(path), ())
    # before those that come with the plugin
    found = find(roles.TIME, quando_foi=("text", T), time=("text", OTHER))
    assert (found.names, found.passed_over, found.words[0][1]) == (
        ("quando_foi",),
        ("time",),
        role_words.OWN,
    )
    assert find(roles.FIX, StateOfIt=("text", ["BEST", "one", "float"] * 4)).names == ("StateOfIt",)
    assert roles.fixed_of(
        column("text", ["BEST", "one", "float", "fixed"]), "", known
    ).tolist() == [True, True, False, True]
    assert find(roles.TIME, Zeit=("text", T)).names == ("Zeit",)  # and the others stay


def test_own_words_can_rule_out_a_name(own):
    own(HEAD + "time,without,,utc_time\n")
    assert find(roles.TIME, utc_time=("text", T), tijd=("text", OTHER)).names == ("tijd",)


@pytest.mark.parametrize(
    ("line", "pieces"),
    [
        (
            "clock,name,,x",
            ("“clock” is no role", "time, capture, fix, h_accuracy, v_accuracy, accuracy"),
        ),
        ("time,fixed,,x", ("“fixed” is no match for the role time", "name, word, without")),
        ("time,name,de", ("3 columns where 4 are needed",)),
        ("time", ("1 columns",)),
        ("time,name,de,", ("no words",)),
        ("time,name,de,when 42", ("“42” holds no letters",)),
        ('time,name,de,"when', ("cannot be split into columns",)),
        ('time,name,"d"e,when', ("cannot be split into columns",)),
    ],
)
def test_a_bad_line_is_named_and_the_others_are_used(own, line, pieces):
    path = own(f"{HEAD}# a note\n{line}\ntime,name,,quando\n")
    (problem,) = role_words.vocabulary().problems
    for piece in (str(path), "line 3", "not used", *pieces):
        assert piece in problem
    assert find(roles.TIME, quando=("text", T), when=("text", OTHER)).names == ("quando",)


def test_a_file_that_is_no_such_table(own):
    path = own("name,role\nquando,time\n")
    (problem,) = role_words.vocabulary().problems
    assert (
        f"“{path}”, line 1" in problem
        and "role,match,language,words" in problem
        and "The file is not used" in problem
    )
    assert find(roles.TIME, Zeit=("text", T)).names == ("Zeit",)


def test_another_encoding(own):
    own(HEAD + "time,name,de,Prüfmoment\ntime,name,de,Moment\n", "latin-1")
    (problem,) = role_words.vocabulary().problems
    assert "line 2" in problem and "UTF-8" in problem


def test_a_folder_in_place_of_the_file(own):
    path = own("")
    path.unlink()
    path.mkdir()
    (problem,) = role_words.vocabulary().problems
    assert f"“{path}” cannot be read" in problem


# What is said


def test_the_log_shows_fields_reasons_and_values(provider, own):
    own(HEAD + "time,name,,quando\nclock,name,,x\n")
    log = Log()
    fields = (
        ("Quando", "string"),
        ("Lösung", "string"),
        ("précision_horizontale", "double"),
        ("time_of_day", "string"),
    )
    layer = layer_of(
        walk(captures=1),
        fields=fields,
        values=lambda row: [
            iso(row["seconds"]),
            "fixiert" if row["fix"] == 4 else "gleitend",
            row["h_acc"],
            "ten",
        ],
    )
    result = reconstruct(layer, log)
    assert (
        result["EDGES"] > 0
        and sum(row["reason"] == "not_fixed" for row in table(result["REJECTED"])) == 3
    )
    for piece in (
        "Time: field “Quando” (found by name).",
        "“quando” (your table)",
        "first values: 2026-05-04T10:00:00.000Z, 2026-05-04T10:00:01.000Z",
        "Fix: field “Lösung”",
        "“Lösung” (de)",
        "first values: fixiert, fixiert, fixiert",
        "Taken as fixed: “fixiert” (57)",
        "Taken as not fixed: “gleitend” (3)",
        "Horizontal accuracy: field “précision_horizontale”",
        "“précision horizontale” (fr)",
        "first values: 0.008",
    ):
        assert piece in log.text, piece
    assert any("line 3" in text and "“clock” is no role" in text for text in log.warnings)


def test_chosen_fields_are_shown_too(provider):
    log = Log()
    reconstruct(
        layer_of(walk(captures=1)),
        log,
        TIME_FIELD="time",
        FIX_FIELD="fix",
        H_ACCURACY_FIELD="h_acc",
        V_ACCURACY_FIELD="h_acc",
        CAPTURE_FIELDS=["capture"],
    )
    assert len(FIELDS) == 4 and log.text.count("(as chosen)") == 5
    for piece in (
        "first values: walk 1, walk 1, walk 1",
        "first values: 4, 4, 4",
        "first values: 0.008, 0.008, 0.008",
    ):
        assert piece in log.text


def test_the_example_of_the_guide_is_a_good_table(own):
    text = (role_words.TABLE.parents[1] / "GUIDE.md").read_text(encoding="utf-8")
    start = text.index("    " + HEAD)
    example = text[start : text.index("\n\n", start)]
    own("\n".join(line[4:] for line in example.splitlines()))
    known = role_words.vocabulary()
    assert known.own and known.problems == ()
    assert find(roles.TIME, moment_of_epoch=("text", T), upload_time=("text", OTHER)).names == (
        "moment_of_epoch",
    )
    assert find(roles.FIX, fix=("text", ["locked in", "SEARCHING"] * 6)).names == ("fix",)
