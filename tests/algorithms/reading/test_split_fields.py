"""What two fields, or two parts of a line, say together."""

from collections import Counter

import numpy as np
import pytest
from linelayers import line_layer
from qgis.core import QgsFeature, QgsGeometry, QgsVectorLayer
from walkedlayers import ORIGIN, START, Log, iso, layer_of, reconstruct, run, table, walk

pytestmark = pytest.mark.usefixtures("provider")
DATE, CLOCK = slice(0, 10), slice(11, None)


def read(fields, values):
    """Times at which the edges start, and the log."""
    log = Log()
    rows = walk(captures=1)
    names = (*fields, ("fix", "integer"))
    layer = layer_of(rows, fields=names, values=lambda row: [*values(row), row["fix"]])
    edges = table(reconstruct(layer, log)["OUTPUT"])
    return min(row["started_unix"] for row in edges), log.text


def dotted(seconds):
    year, month, day = iso(seconds, "")[DATE].split("-")
    return f"{day}.{month}.{year}"


@pytest.mark.parametrize("joint", [" ", "T", ", "])
def test_dates_with_dots(joint):
    started, _ = read(
        (("time", "string"),),
        lambda row: [dotted(row["seconds"]) + joint + iso(row["seconds"], "")[CLOCK]],
    )
    assert started == pytest.approx(START, abs=1e-3)


@pytest.mark.parametrize(
    "fields", [(("date", "string"), ("time", "string")), (("day", "date"), ("at", "time"))]
)
@pytest.mark.parametrize("day", [dotted, lambda seconds: iso(seconds)[DATE]])
def test_date_and_time_of_day_in_two_fields(fields, day):
    from qgis.PyQt.QtCore import QDate, QTime

    def values(row):
        text = iso(row["seconds"], "")
        if fields[0][1] == "date":
            clock = QTime.fromString(text[CLOCK][:8], "HH:mm:ss")
            return [QDate.fromString(text[DATE], "yyyy-MM-dd"), clock]
        return [day(row["seconds"]), text[CLOCK]]

    started, text = read(fields, values)
    assert started == pytest.approx(START, abs=1.0)
    assert "date and time of day" in text
    assert f"“{fields[0][0]}”, “{fields[1][0]}”" in text


HEADER = "%  GPST  latitude(deg) longitude(deg) height(m) Q ns sdn(m) sde(m) sdu(m) age(s) ratio"


def test_a_solution_file_is_read_as_it_is(tmp_path):
    """Delimited text by whitespace, in the columns of RTKLIB's solution files (its manual 2.4.2,
    B.1), where 1 is fixed and 4 is not; four epochs a second, date and time of day apart."""
    path, lines = tmp_path / "walk.pos", [HEADER]
    for number, row in enumerate(walk(captures=1, epochs=120)):
        text = iso(START + number / 4, "").replace("-", "/").replace("T", " ")
        place = 55.0 + row["y"] / 444480.0, 3.0 + row["x"] / 255000.0
        state = {4: 1, 5: 4}[row["fix"]]
        sigma = row["h_acc"] / 2**0.5
        lines.append(
            f"{text} {place[0]:.9f} {place[1]:.9f} {row['z']:.4f} {state} 9"
            f" {sigma:.4f} {sigma:.4f} {2 * sigma:.4f} 0.00 9.9"
        )
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    layer = QgsVectorLayer(
        f"{path.as_uri()}?type=whitespace&detectTypes=yes&crs=EPSG:4326"
        "&xField=longitude(deg)&yField=latitude(deg)&zField=height(m)",
        "walk",
        "delimitedtext",
    )
    log = Log()
    result = reconstruct(layer, log)
    assert "Fix: field “Q”" in log.text and "Taken as fixed: “1” (117)" in log.text
    assert "“sdn(m)”, “sde(m)”" in log.text and "Vertical accuracy: field “sdu(m)”" in log.text
    reasons = Counter(row["reason"] for row in table(result["REJECTED"]))
    assert reasons["not_fixed"] == 3 and reasons["poor_accuracy"] == 1
    assert "repeat" not in reasons
    starts = [row["started_unix"] for row in table(result["OUTPUT"])]
    assert min(starts) == pytest.approx(START, abs=1e-3)
    asked = reconstruct(layer, log, FIX_FIELD="Q", FIXED_VALUES="4")
    assert asked["EPOCHS_KEPT"] < 4


def test_a_whole_moment_comes_before_two_fields():
    started, _ = read(
        (("date", "string"), ("clock", "string"), ("time", "string")),
        lambda row: ["2001-01-01", "00:00:01", iso(row["seconds"])],
    )
    assert started == pytest.approx(START, abs=1e-3)


def test_accuracies_by_axis_are_combined():
    rows = walk(captures=1)
    fields = (("time", "string"), ("sd_n", "double"), ("sd_e", "double"), ("sd_u", "double"))
    layer = layer_of(
        rows,
        fields=fields,
        values=lambda row: [iso(row["seconds"]), 0.06, 0.08 if row["x"] > 10 else 0.0, 0.01],
    )
    log = Log()
    rejected = table(reconstruct(layer, log, MAX_H_ACCURACY=0.09)["REJECTED"])
    assert "Horizontal accuracy: field “sd_n”, “sd_e”" in log.text
    assert "Vertical accuracy: field “sd_u”" in log.text
    poor = sum(row["reason"] == "poor_accuracy" for row in rejected)
    assert poor == sum(row["x"] > 10 for row in rows)


def walked_parts(later):
    """A multi-line of two parts, the second one `later` seconds after the first one's end."""
    noise = np.random.default_rng(1).normal(0, 0.005, (80, 2))
    places = np.column_stack([np.arange(80.0), np.zeros(80)]) + noise + ORIGIN
    times = START + np.arange(80.0)
    times[40:] += later
    parts = (
        "(" + ", ".join(f"{x!r} {y!r} {t!r}" for (x, y), t in zip(xy.tolist(), m.tolist())) + ")"
        for xy, m in ((places[:40], times[:40]), (places[40:], times[40:]))
    )
    layer = QgsVectorLayer("MultiLineStringM?crs=EPSG:32632", "walked", "memory")
    feature = QgsFeature(layer.fields())
    feature.setGeometry(QgsGeometry.fromWkt(f"MultiLineStringM ({', '.join(parts)})"))
    assert layer.dataProvider().addFeatures([feature])[0]
    return layer


@pytest.mark.parametrize(("later", "edges"), [(0.0, 1), (-500.0, 2)])
def test_parts_that_follow_on_in_time_are_one_walk(later, edges):
    result = run("reconstructedges", {"INPUT": walked_parts(later), "OUTPUT": "memory:"})
    rows = table(result["OUTPUT"])
    assert len(rows) == edges
    assert {row["capture"] for row in rows} == ({"1"} if edges == 1 else {"1/1", "1/2"})


def test_parts_without_times_stay_by_themselves():
    one = np.column_stack([np.arange(40.0), np.zeros(40)])
    layer = line_layer([[one, one + (0, 30)]], kind="MultiLineString")
    result = run("reconstructedges", {"INPUT": layer, "OUTPUT": "memory:"})
    assert {row["capture"] for row in table(result["OUTPUT"])} == {"1/1", "1/2"}
