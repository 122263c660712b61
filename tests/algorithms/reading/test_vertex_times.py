"""Streamed lines: the vertices are epochs, M their time where it is one, else the order of the
vertices."""

import struct
from pathlib import Path

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from markedtexts import marking, unmarked
from numpy.testing import assert_allclose, assert_array_equal
from qgis.core import (
    QgsFeature,
    QgsGeometry,
    QgsPointXY,
    QgsProcessingException,
    QgsVectorFileWriter,
    QgsVectorLayer,
)
from walkedlayers import ORIGIN, START, Log, layer_of, reconstruct, run, table, to_file, walk

from curbwright.algorithms.host.fields import is_null
from curbwright.algorithms.reading.vertex_times import times_of_vertices
from curbwright.shared.epochs.times import parse_times

pytestmark = pytest.mark.usefixtures("provider")
ROWS = [{**row, "fix": 4, "h_acc": 0.01} for row in walk(captures=3)]
NAMES = ["walk 1", "walk 2", "walk 3"]


def parts_of(rows):
    """Rows of each capture."""
    return [
        [row for row in rows if row["capture"] == name]
        for name in NAMES
        if any(row["capture"] == name for row in rows)
    ]


def m_of(scale=1.0, origin=0.0, period=np.inf):
    return lambda row: float(np.mod((row["seconds"] - origin) * scale, period))


def lines_of(lines, geometry="LineStringZM", m=None, fields="field=capture:string", values=None):
    """Layer of lines: `lines` holds the rows of each feature, or lists of rows for a multi-line;
    None for no geometry."""
    layer = QgsVectorLayer(f"{geometry}?crs=EPSG:32632&{fields}", "streamed", "memory")
    m, flat = m or m_of(), geometry.endswith("25D")
    has_z, has_m = "Z" in geometry or flat, geometry.endswith("M")
    more = 0x80000000 if flat else 1000 * has_z + 2000 * has_m

    def line(rows):
        values = [
            (
                ORIGIN[0] + row["x"],
                ORIGIN[1] + row["y"],
                *([row["z"]] if has_z else []),
                *([m(row)] if has_m else []),
            )
            for row in rows
        ]
        return struct.pack("<BII", 1, 2 + more, len(rows)) + np.array(values, "<f8").tobytes()

    features = []
    for number, rows in enumerate(lines):
        feature = QgsFeature(layer.fields())
        several = rows if rows and isinstance(rows[0], list) else [rows]
        if rows:
            made = QgsGeometry()  # from binary: text knows no NaN
            many = geometry.startswith("Multi")
            made.fromWkb(
                (struct.pack("<BII", 1, 5 + more, len(several)) if many else b"")
                + b"".join(map(line, several))
            )
            assert not made.isNull() and len(list(made.vertices())) == sum(map(len, several))
            feature.setGeometry(made)
        feature.setAttributes(
            values[number] if values else [several[0][0]["capture"] if rows else None]
        )
        features.append(feature)
    assert layer.dataProvider().addFeatures(features)[0]
    layer.updateExtents()
    return layer


def points_of(rows, seconds=lambda row: row["seconds"], heights=True):
    flat = (
        {}
        if heights
        else {
            "geometry": "Point",
            "place": lambda x, y, z: QgsGeometry.fromPointXY(
                QgsPointXY(ORIGIN[0] + x, ORIGIN[1] + y)
            ),
        }
    )
    return layer_of(
        rows,
        fields=(("time", "double"), ("capture", "string")),
        values=lambda row: [seconds(row), row["capture"]],
        **flat,
    )


def edges_of(result):
    """Vertices of every edge, sorted by the edge's first vertex: ids of captures come and go."""
    lines = [
        np.array([(v.x(), v.y(), v.z()) for v in feature.geometry().vertices()])
        for feature in result["OUTPUT"].getFeatures()
    ]
    return sorted(lines, key=lambda line: tuple(line[0]))


def same_edges(left, right):
    left, right = edges_of(left), edges_of(right)
    assert len(left) == len(right) > 0
    for one, other in zip(left, right):
        assert_allclose(one, other, rtol=0, atol=1e-6)


def complete(result, count):
    assert (
        result["EPOCHS_READ"]
        == count
        == result["KEPT"].featureCount() + result["REJECTED"].featureCount()
    )


KINDS = {
    "seconds since 1970": m_of(),
    "milliseconds since 1970": m_of(1e3),
    "microseconds since 1970": m_of(1e6),
    "seconds of the day": m_of(origin=START - 36000.0),
    "milliseconds of the day": m_of(1e3, START - 36000.0),
    "seconds from the start": m_of(origin=START),
    "milliseconds from the start": m_of(1e3, START),
    "seconds of the week": m_of(origin=START - 500000.0),
    "milliseconds of the week": m_of(1e3, START - 500000.0),
}


@pytest.mark.one_in(3)
@pytest.mark.parametrize("m", list(KINDS.values()), ids=list(KINDS))
def test_the_same_walk_as_points_and_as_lines(m):
    log = Log()
    result = reconstruct(lines_of(parts_of(ROWS), m=m), log)
    complete(result, len(ROWS))
    same_edges(result, reconstruct(points_of(ROWS)))
    assert (
        "Time: the M values of the vertices, read as: " in log.text and "first values: " in log.text
    )
    first = next(text for text in log.text.splitlines() if "first values: " in text)
    assert first.count("; ") == 2  # not commas, which some languages write in numbers
    assert ("order of the vertices" in log.text) is False


@pytest.mark.parametrize(
    ("m", "what"),
    [
        (m_of(), "seconds."),
        (m_of(1e3), "milliseconds since 1970"),
        (m_of(1.0, START - 36000.0), "seconds from an origin of their own"),
        (m_of(1e3, START - 36000.0), "milliseconds from an origin of their own"),
    ],
)
def test_what_m_is_taken_for_is_said(m, what):
    log = Log()
    row = table(reconstruct(lines_of(parts_of(ROWS), m=m), log)["OUTPUT"])[0]
    assert f"read as: {what}" in log.text
    since_1970 = "origin" not in what
    assert (row["started_unix"] > 1e9) == since_1970
    assert any("unknown origin" in text for text in log.warnings) != since_1970


@pytest.mark.parametrize(
    ("unit", "period"), [(1.0, 86400.0), (1e3, 86400e3), (1.0, 604800.0), (1e3, 604800e3)]
)
def test_a_day_or_a_week_that_runs_over_within_a_line(unit, period):
    log = Log()
    # 30 s before the end of the period at the first epoch
    over = m_of(unit, START + 30 - period / unit, period)
    result = reconstruct(lines_of(parts_of(ROWS)[:1], m=over), log)
    same_edges(result, reconstruct(points_of(parts_of(ROWS)[0])))
    assert "overruns: 1" in log.text
    assert "paused" not in {row["reason"] for row in table(result["GAPS"])}


@pytest.mark.one_in(3)
@pytest.mark.parametrize(
    "geometry",
    [
        "LineStringZ",
        "LineString25D",
        "LineString",
        "MultiLineStringZ",
        "MultiLineString25D",
        "LineStringM",
        "LineStringZM",
    ],
)
def test_without_a_time_the_order_of_the_vertices_stands_for_it(geometry):
    log = Log()
    layer = lines_of(parts_of(ROWS), geometry, m=lambda row: np.nan)
    assert layer.isValid()
    result = reconstruct(layer, log)
    complete(result, len(ROWS))
    # the walk has one epoch a second
    same_edges(result, reconstruct(points_of(ROWS, heights="Z" in geometry or "25D" in geometry)))
    (warning,) = [text for text in log.warnings if text.startswith("Time: ")]
    assert "no vertex has an M value" in warning and "order of the vertices" in warning
    assert all(
        is_null(row[name])
        for row in table(result["OUTPUT"])
        for name in ("started", "ended", "started_unix", "ended_unix")
    )
    assert not any("unknown origin" in text for text in log.warnings)


def chainage(rows, unit=1.0, decimals=3, start=0.0):
    """M by row: the distance along the line."""
    at = {}
    for part in parts_of(rows):
        x, y = (np.array([row[name] for row in part]) for name in "xy")
        along = start + np.concatenate([[0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
        at.update(
            {id(row): round(value * unit, decimals) for row, value in zip(part, along.tolist())}
        )
    return lambda row: at[id(row)]


def uneven(rows, seed=5):
    """Every capture with epochs left out, so that its steps differ."""
    rng = np.random.default_rng(seed)
    return [row for row in rows if rng.random() < 0.7]


@pytest.mark.parametrize(
    ("unit", "decimals", "start"),
    [(1.0, 2, 0.0), (1.0, 3, 12345.0), (0.001, 6, 0.0), (3.280839895, 3, 0.0), (100.0, 0, 0.0)],
    ids=["metres", "from km 12", "km", "feet", "centimetres"],
)
def test_chainage_is_no_time(unit, decimals, start):
    log = Log()
    rows = uneven(ROWS)
    result = reconstruct(lines_of(parts_of(rows), m=chainage(rows, unit, decimals, start)), log)
    (warning,) = [text for text in log.warnings if text.startswith("Time: ")]
    assert "as chainage does" in warning and "order of the vertices" in warning
    complete(result, len(rows))
    same_edges(result, reconstruct(lines_of(parts_of(rows), "LineStringZ")))


@pytest.mark.parametrize(
    ("m", "why"),
    [
        (lambda row: 0.0, "the same at all vertices"),
        (lambda row: 7.5, "the same at all vertices"),
        (lambda row: np.sin(row["seconds"] * 2.0), "up and down"),
        (lambda row: row["z"], "up and down"),
        (lambda row: (row["seconds"] - START) / 86400.0, "m/s"),
    ],
)
def test_what_else_is_no_time(m, why):
    log = Log()
    result = reconstruct(lines_of(parts_of(ROWS), m=m), log)
    (warning,) = [text for text in log.warnings if text.startswith("Time: ")]
    assert why in warning
    same_edges(result, reconstruct(points_of(ROWS)))


@pytest.mark.parametrize("unit", [1.0, 1e3])
def test_a_slow_capture_with_pauses_is_a_time(unit):
    """Aimed epochs some seconds apart: neither chainage nor milliseconds."""
    rng = np.random.default_rng(3)
    along = np.cumsum(rng.uniform(0.2, 0.8, 200))
    seconds = 40000.0 + np.cumsum(rng.uniform(2.0, 20.0, 200))
    zero = np.zeros(200)
    found = times_of_vertices(seconds * unit, zero.astype(int), zero.astype(int), along, zero)
    assert not found.by_order
    assert_allclose(found.seconds, seconds)


@pytest.mark.parametrize(
    ("m", "expected"),
    [
        (40000.0 + np.arange(50.0), 40000.0 + np.arange(50.0)),
        (40_000_000 + 200.0 * np.arange(50), 40000 + 0.2 * np.arange(50)),
        (1e9 + np.arange(50.0), 1e9 + np.arange(50.0)),
    ],
)
def test_standing_still_shows_no_speed(m, expected):
    rng = np.random.default_rng(1)
    found = times_of_vertices(
        m, np.zeros(50, int), np.zeros(50, int), *rng.normal(0, 0.005, (2, 50))
    )
    assert not found.by_order
    assert_allclose(found.seconds, expected)


def test_numbers_since_1970_are_those_of_the_rest_of_the_house():
    m = np.array([1777888800.25, np.nan, 1777888801.25, -1.7e308, np.inf])
    found = times_of_vertices(m, np.zeros(5, int), np.zeros(5, int), np.arange(5.0), np.zeros(5))
    assert_array_equal(
        found.seconds, np.where(np.arange(5) < 3, parse_times(m[:3])[0][[0, 1, 2, 0, 0]], np.nan)
    )
    assert "Vertices without an M value, which count as having no time: 3" in found.warnings[0]


def test_order_starts_anew_in_every_part():
    ids, part = np.array([4, 4, 4, 4, 9, 9, 2]), np.array([0, 0, 1, 1, 0, 0, 0])
    found = times_of_vertices(np.full(7, np.nan), ids, part, np.zeros(7), np.zeros(7))
    assert found.by_order
    assert_array_equal(found.seconds, [0, 1, 0, 1, 0, 1, 0])
    assert times_of_vertices(*(np.zeros(0) for _ in range(5))).seconds.shape == (0,)


def test_a_line_turned_round_goes_the_way_it_was_walked():
    for m in (m_of(), m_of(origin=START - 36000.0)):
        same_edges(
            reconstruct(lines_of([part[::-1] for part in parts_of(ROWS)], m=m)),
            reconstruct(points_of(ROWS)),
        )


@pytest.mark.parametrize("m", [m_of(), m_of(1e3), m_of(origin=START - 36000.0)])
def test_vertices_without_m_have_no_time(m):
    log = Log()
    gone = {id(row) for row in ROWS[10:14] + ROWS[70:71]}
    layer = lines_of(parts_of(ROWS), m=lambda row: np.nan if id(row) in gone else m(row))
    result = reconstruct(layer, log)
    complete(result, len(ROWS))
    assert sum(row["reason"] == "no_time" for row in table(result["REJECTED"])) == 5
    assert any(
        "Vertices without an M value, which count as having no time: 5" in text
        for text in log.warnings
    )
    same_edges(
        result,
        reconstruct(points_of(ROWS, lambda row: None if id(row) in gone else row["seconds"])),
    )


def test_zero_among_times_since_1970_is_no_time():
    log = Log()
    gone = {id(row) for row in ROWS[10:14]}
    result = reconstruct(
        lines_of(parts_of(ROWS), m=lambda row: 0.0 if id(row) in gone else row["seconds"]), log
    )
    assert sum(row["reason"] == "no_time" for row in table(result["REJECTED"])) == 4
    assert any("which count as having no time: 4" in text for text in log.warnings)
    assert min(row["started_unix"] for row in table(result["OUTPUT"])) > 1e9


def test_lines_without_geometry_are_counted():
    log = Log()
    result = reconstruct(lines_of([*parts_of(ROWS), None, None]), log)
    complete(result, len(ROWS))
    assert any(
        "Lines without a geometry, so without vertices to read: 2" in text for text in log.warnings
    )
    with pytest.raises(QgsProcessingException, match="“streamed” is empty"):
        reconstruct(lines_of([None]))


@pytest.mark.parametrize("geometry", ["MultiLineStringZM", "MultiLineStringZ"])
def test_parts_of_a_line(geometry):
    halves = [[part[:30], part[30:]] for part in parts_of(ROWS)]
    names = {edge["capture"] for edge in table(reconstruct(lines_of(halves, geometry))["OUTPUT"])}
    if geometry.endswith("M"):  # the parts follow on in time
        assert names == {"1", "2", "3"}
    else:
        assert names == {f"{line}/{part}" for line in (1, 2, 3) for part in (1, 2)}
    result = reconstruct(lines_of(halves, geometry), CAPTURE_FIELDS=["capture"])
    complete(result, len(ROWS))
    if geometry.endswith("M"):  # one capture, in which the time leads from part to part
        assert {edge["capture"] for edge in table(result["OUTPUT"])} == set(NAMES)
        same_edges(result, reconstruct(points_of(ROWS)))
    else:  # nothing tells how parts follow each other
        assert {edge["capture"] for edge in table(result["OUTPUT"])} == {
            f"walk {line} / {line}/{part}" for line in (1, 2, 3) for part in (1, 2)
        }


def test_a_capture_of_several_lines():
    pieces = [piece for part in parts_of(ROWS) for piece in (part[:20], part[20:41], part[41:])]
    same_edges(
        reconstruct(lines_of(pieces[::-1]), CAPTURE_FIELDS=["capture"]),
        reconstruct(points_of(ROWS)),
    )
    without = reconstruct(lines_of(pieces, "LineStringZ"), CAPTURE_FIELDS=["capture"])
    assert len({edge["capture"] for edge in table(without["OUTPUT"])}) == 9
    alone = reconstruct(lines_of(parts_of(ROWS), "LineStringZ"), CAPTURE_FIELDS=["capture"])
    assert {edge["capture"] for edge in table(alone["OUTPUT"])} == set(NAMES)


@pytest.mark.parametrize("geometry", ["LineStringZM", "LineStringZ"])
def test_order_of_the_rows_does_not_matter(geometry):
    same_edges(
        reconstruct(lines_of(parts_of(ROWS)[::-1], geometry)),
        reconstruct(lines_of(parts_of(ROWS), geometry)),
    )


@pytest.mark.parametrize("geometry", ["LineStringZM", "LineStringZ"])
def test_closed_lines_make_rings(geometry):
    rng = np.random.default_rng(8)
    # 0.12 m short of the start, as a walk ends
    angle = np.linspace(0, 2 * np.pi, 91) - 0.01 * (np.arange(91) == 90)
    x, y = (
        12 * np.cos(angle) + rng.normal(0, 0.004, 91),
        12 * np.sin(angle) + rng.normal(0, 0.004, 91),
    )
    rows = [
        {"x": x[i], "y": y[i], "z": 3.0, "seconds": START + i, "capture": "walk 1"}
        for i in range(91)
    ]
    result = reconstruct(lines_of([rows], geometry))
    complete(result, 91)
    assert [row["closed"] for row in table(result["OUTPUT"])] == [True]
    same_edges(result, reconstruct(points_of(rows)))
    rows[-1] = {**rows[-1], "x": rows[0]["x"], "y": rows[0]["y"]}  # and drawn to the start exactly
    exact = reconstruct(lines_of([rows], geometry))
    complete(exact, 91)
    same_edges(exact, reconstruct(points_of(rows)))


def test_fix_and_accuracy_of_whole_lines_are_found():
    log = Log()
    values = [["4", 0.011, "a"], ["float", 0.012, "b"], ["fixiert", 0.3, "c"]]
    layer = lines_of(
        parts_of(ROWS),
        fields="field=Lösung:string&field=hacc:double&field=time:string",
        values=values,
    )
    result = reconstruct(layer, log)
    complete(result, len(ROWS))
    reasons = [row["reason"] for row in table(result["REJECTED"])]
    assert (reasons.count("not_fixed"), reasons.count("poor_accuracy")) == (60, 60)
    assert (
        "Fix: field “Lösung” (found by name)" in log.text
        and "first values: 4, float, fixiert" in log.text
    )
    assert {edge["capture"] for edge in table(result["OUTPUT"])} == {"1"}


def test_two_fixes_of_lines_are_not_guessed_between():
    layer = lines_of(
        parts_of(ROWS), fields="field=fix:int&field=solution:string", values=[[4, "float"]] * 3
    )
    with pytest.raises(QgsProcessingException, match="“fix” and “solution”.*“Fix”"):
        reconstruct(layer)


@pytest.mark.parametrize("geometry", ["LineStringZM", "LineStringZ", "MultiLineStringZM"])
def test_rows_passed_on_are_the_vertices(geometry):
    lines = [[part] for part in parts_of(ROWS)] if geometry.startswith("Multi") else parts_of(ROWS)
    result = reconstruct(lines_of(lines, geometry))
    placed = sorted(
        (
            f.geometry().constGet().x(),
            f.geometry().constGet().y(),
            f.geometry().constGet().z(),
            f["capture"],
        )
        for name in ("KEPT", "REJECTED")
        for f in result[name].getFeatures()
    )
    assert_allclose(
        [row[:3] for row in placed],
        sorted((ORIGIN[0] + row["x"], ORIGIN[1] + row["y"], row["z"]) for row in ROWS),
        atol=1e-9,
    )
    assert {row[3] for row in placed} == set(NAMES)
    screened = run(
        "screenepochs",
        {"INPUT": lines_of(lines, geometry), "OUTPUT": "memory:", "REJECTED": "memory:"},
    )
    assert screened["OUTPUT"].featureCount() + screened["REJECTED"].featureCount() == len(ROWS)


@pytest.mark.parametrize("suffix", ["gpkg", "shp"])
def test_lines_of_files(tmp_path, suffix):
    log, driver = Log(), QgsVectorFileWriter.driverForExtension(suffix)
    # GDAL writes no NaN into a shapefile
    gone = {id(row) for row in ROWS[10:14]} if suffix == "gpkg" else {}
    layer = to_file(
        lines_of(parts_of(ROWS), m=lambda row: np.nan if id(row) in gone else row["seconds"]),
        tmp_path / f"lines.{suffix}",
        driver,
    )
    result = reconstruct(layer, log)
    complete(result, len(ROWS))
    same_edges(
        result,
        reconstruct(points_of(ROWS, lambda row: None if id(row) in gone else row["seconds"])),
    )


def test_lines_in_degrees_have_the_same_times():
    """Chainage, speeds and steps are metres in every CRS."""
    layer = lines_of(parts_of(ROWS), m=m_of(1e3, START))
    moved = run_native("native:reprojectlayer", INPUT=layer, TARGET_CRS="EPSG:4326")
    log = Log()
    lengths = [
        sorted(row["length"] for row in table(reconstruct(which, log)["OUTPUT"]))
        for which in (layer, moved)
    ]
    assert_allclose(*lengths, atol=1e-3)
    assert log.text.count("milliseconds from an origin of their own") == 2


def run_native(name, **parameters):
    import processing

    return processing.run(name, {**parameters, "OUTPUT": "memory:"})["OUTPUT"]


@pytest.mark.parametrize("start", [START, 0.0])
def test_what_m_is_taken_for_is_said_in_the_language_of_the_host(start):
    m, none = start + np.arange(9.0), np.zeros(9, int)
    with marking():
        infos = times_of_vertices(m, none, none, np.arange(9.0), np.zeros(9)).infos
    assert [unmarked(text) for text in infos] == [[]] * len(infos)


def test_the_streamed_lines_of_the_sample_project():
    data = Path(__file__).resolve().parents[3] / "sample_project" / "data" / "tern_ness.gpkg"
    log = Log()
    result = reconstruct(
        QgsVectorLayer(f"{data}|layername=streamed_lines", "streamed lines", "ogr"),
        log,
        CAPTURE_FIELDS=["capture"],
    )
    assert "read as: seconds." in log.text
    edges = {row["capture"]: row for row in table(result["OUTPUT"])}
    assert set(edges) == {"2-L1", "2-L2"} and edges["2-L2"]["closed"]
    assert all(row["started_unix"] > 1747180800 for row in edges.values())  # 2025-05-14


def test_occupations_take_lines_as_they_take_points():
    rng = np.random.default_rng(4)
    rows = [
        {
            "x": float(10 * spot + rng.normal(0, 0.004)),
            "y": float(rng.normal(0, 0.004)),
            "z": 2.0,
            "seconds": START + 60 * spot + i,
            "capture": f"walk {spot + 1}",
        }
        for spot in range(3)
        for i in range(20)
    ]
    outputs = {"POINTS": "memory:"}
    of_lines = run("averageoccupations", {"INPUT": lines_of(parts_of(rows)), **outputs})["POINTS"]
    of_points = run("averageoccupations", {"INPUT": points_of(rows), **outputs})["POINTS"]
    places = [
        sorted(
            (f.geometry().constGet().x(), f.geometry().constGet().y()) for f in layer.getFeatures()
        )
        for layer in (of_lines, of_points)
    ]
    assert len(places[0]) == 3
    assert_allclose(*places, atol=1e-9)


values_of_m = st.lists(
    st.one_of(
        st.floats(),
        st.floats(0, 1e9),
        st.integers(0, 90000),
        st.sampled_from([0.0, 86399.0, 1.7e9]),
    ),
    min_size=1,
    max_size=30,
)


@example([0.0, 1.0, 0.0, 1.0, 0.0, 2.225073858507e-311], 3, 1.0)
@given(values_of_m, st.integers(1, 4), st.floats(0, 10))
def test_any_m_gives_a_time_or_the_order(m, lines, pace):
    m = np.array(m, float)
    ids = np.sort(np.arange(len(m)) % lines)
    with np.errstate(all="raise", under="ignore"):
        found = times_of_vertices(
            m, ids, np.zeros(len(m), int), pace * np.arange(len(m)), np.zeros(len(m))
        )
    assert found.seconds.shape == m.shape
    assert len(found.infos) == 0 if found.by_order else "read as" in found.infos[0]
    assert not np.isinf(found.seconds).any()
    if found.by_order:
        assert np.isfinite(found.seconds).all() and found.warnings
    else:
        assert (np.isnan(found.seconds) >= ~np.isfinite(m)).all()
