"""Places to revisit through the host: what counts, conservation, every CRS, order of rows, GPX,
words, bad input."""

import xml.etree.ElementTree as ElementTree

import numpy as np
import pytest
from linelayers import ORIGIN, UTM, line_layer, straight
from numpy.testing import assert_allclose
from qgis.core import (
    QgsApplication,
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCoordinateTransformContext,
    QgsFeature,
    QgsGeometry,
    QgsPointXY,
    QgsProcessingContext,
    QgsProcessingException,
    QgsProcessingFeatureSourceDefinition,
    QgsProject,
    QgsVectorFileWriter,
    QgsVectorLayer,
    QgsWkbTypes,
)
from walkedlayers import Log, layer_of, reconstruct, run, table, to_file, walk

from curbwright.algorithms.reading.findings.found import KINDS
from curbwright.algorithms.revisits import GPX_FIELDS, PLACE_FIELDS
from curbwright.algorithms.writing import styles

pytestmark = pytest.mark.usefixtures("provider")
GAP_FIELDS = (
    ("metres", "double"),
    ("seconds", "double"),
    ("reason", "string"),
    ("capture", "string"),
    ("after_edge", "integer"),
    ("before_edge", "integer"),
)
EDGE_FIELDS = (
    ("edge_id", "integer"),
    ("capture", "string"),
    ("sigma_cross", "double"),
    ("sigma_up", "double"),
    ("start_reason", "string"),
    ("end_reason", "string"),
)
GPX = "{http://www.topografix.com/GPX/1/1}"


def points(rows, fields, crs=UTM, name="points"):
    """Memory layer of points at metres of UTM from the origin, in any CRS; a row is x, y and
    attributes."""
    layer = QgsVectorLayer(
        f"Point?crs={crs}" + "".join(f"&field={field}:{kind}" for field, kind in fields),
        name,
        "memory",
    )
    way = QgsCoordinateTransform(
        QgsCoordinateReferenceSystem(UTM),
        QgsCoordinateReferenceSystem(crs),
        QgsCoordinateTransformContext(),
    )
    features = []
    for x, y, *values in rows:
        feature = QgsFeature(layer.fields())
        feature.setGeometry(QgsGeometry.fromPointXY(way.transform(ORIGIN[0] + x, ORIGIN[1] + y)))
        feature.setAttributes(values)
        features.append(feature)
    assert layer.dataProvider().addFeatures(features)[0]
    layer.updateExtents()
    return layer


def gaps(crs=UTM, rows=slice(None)):
    """Along one line; in order, those that count by default are 0, 1, 4 (without a reason), at 2,
    32 and 120 m."""
    shapes = [
        straight(0, (0, 4)),
        straight(0, (30, 34)),
        straight(0, (60, 60.4)),
        straight(0, (80, 90)),
        straight(0, (115, 125)),
    ]
    values = [
        (4.0, 9.0, "not_fixed", "a", 1, 2),
        (4.0, 3.0, "paused", "a", 2, 3),
        (0.4, 60.0, "paused", "a", 3, 4),
        (10.0, 5.0, "new_capture", "b", 4, 5),
        (None, None, None, "b", 5, 6),
    ]
    return line_layer(shapes[rows], "gaps", fields=GAP_FIELDS, values=values[rows], crs=crs)


def stations(crs=UTM):
    """Two stretches over the limit across at 200 to 204 and 210 to 211, one of them with poor
    heights at 204; chainage = x - 190."""
    rows = []
    for chainage in range(40):
        sigma = {12: 0.04, 13: 0.09, 11: 0.05, 10: 0.06, 14: 0.04, 20: 0.05, 21: 0.04}.get(
            chainage, 0.01
        )
        rows.append(
            (190 + chainage, 0.0, 7, float(chainage), 0.0, sigma, 0.2 if chainage == 14 else 0.01)
        )
    return points(
        rows,
        (
            ("edge_id", "integer"),
            ("chainage", "double"),
            ("slope", "double"),
            ("sigma_cross", "double"),
            ("sigma_up", "double"),
        ),
        crs,
        "stations",
    )


def rejected(crs=UTM, order=None):
    """1 Hz: seven in a row in capture a, five in b of which one repeats, six with a kept one in
    their middle."""
    rows = [
        (300 + i, 0.0, f"2026-05-04T10:00:{i:02d}Z", "a", "not_fixed" if i < 5 else "spike")
        for i in range(7)
    ]
    rows += [
        (320 + i, 0.0, f"2026-05-04T10:00:{7 + i:02d}Z", "b", "repeat" if i == 2 else "not_fixed")
        for i in range(5)
    ]
    rows += [
        (340 + i, 0.0, f"2026-05-04T10:01:{i:02d}Z", "b", "not_fixed") for i in range(7) if i != 3
    ]
    return points(
        rows if order is None else [rows[i] for i in order],
        (("time", "string"), ("capture", "string"), ("reason", "string")),
        crs,
        "rejected",
    )


def revisit(log=None, **parameters):
    result = run("revisits", {"OUTPUT": "memory:", "REASONS": "memory:", **parameters}, log)
    return result, table(result["OUTPUT"]), table(result["REASONS"])


def east(result):
    way = QgsCoordinateTransform(
        result["OUTPUT"].crs(), QgsCoordinateReferenceSystem(UTM), QgsCoordinateTransformContext()
    )
    return [
        way.transform(feature.geometry().asPoint()).x() - ORIGIN[0]
        for feature in result["OUTPUT"].getFeatures()
    ]


def test_parameters():
    own = QgsApplication.processingRegistry().createAlgorithmById("curbwright:revisits")
    definitions = {parameter.name(): parameter for parameter in own.parameterDefinitions()}
    assert set(definitions) == {
        "GAPS",
        "REJECTED",
        "EDGES",
        "STATIONS",
        "DISAGREEMENTS",
        "PASSES",
        "EXISTING_STATUS",
        "CHANGES",
        "TIME_FIELD",
        "CAPTURE_FIELDS",
        "MIN_GAP",
        "MIN_GAP_SECONDS",
        "MIN_REJECTED",
        "MIN_REJECTED_LENGTH",
        "FOLDER",
        "MAX_SIGMA",
        "MAX_SIGMA_UP",
        "MIN_LENGTH",
        "MIN_OPEN",
        "CLUSTER",
        "BREAK_REASONS",
        "DISAGREEMENT_REASONS",
        "STATUSES",
        "START",
        "OUTPUT",
        "REASONS",
    }
    assert own.displayName() == "List places to revisit"
    assert all(
        word in own.shortHelpString()
        for word in ("high-visibility", "Face the traffic", "mapping grade")
    )


def test_gaps():
    log = Log()
    result, places, reasons = revisit(log, GAPS=gaps())
    assert [field.name() for field in result["OUTPUT"].fields()] == [
        new.name for new in PLACE_FIELDS
    ]
    assert (
        result["OUTPUT"].wkbType() == QgsWkbTypes.Type.Point
        and result["OUTPUT"].crs().authid() == UTM
    )
    assert [row["order"] for row in places] == [1, 2, 3] and {row["kind"] for row in places} == {
        "gap"
    }
    assert_allclose(east(result), [2, 32, 120], atol=1e-3)
    assert [row["metres"] for row in places[:2]] == [4.0, 4.0]
    assert_allclose(places[2]["metres"], 10.0, atol=0.005)  # of the geometry, on the ground
    assert (
        places[0]["name"] == "1 gap"
        and places[0]["edge_id"] == "1, 2"
        and places[0]["capture"] == "a"
        and places[0]["seconds"] == 9.0
    )
    assert places[0]["desc"] == "Gap of 4.0 m, 9 s (no fixed solution): walk it from rim to rim"
    assert_allclose([row["leg"] for row in places[1:]], [30, 88], atol=0.05)
    assert_allclose(result["WALK"], 118, atol=0.1)
    assert "no cause to go back: 1" in log.text and "gaps below the limits: 1" in log.text
    assert revisit(GAPS=gaps(), MIN_GAP=0.3)[0]["PLACES"] == 4
    # one of them does not tell how long it took
    assert revisit(GAPS=gaps(), MIN_GAP_SECONDS=5)[0]["PLACES"] == 2
    assert revisit(GAPS=gaps(), BREAK_REASONS=["new_capture"])[0]["PLACES"] == 2
    # only the one that has no reason
    assert revisit(GAPS=gaps(), BREAK_REASONS=["end"])[0]["PLACES"] == 1
    assert len(reasons) == 3


def test_a_reason_that_a_person_wrote_counts():
    values = [(4.0, 9.0, "parked van", "a", 1, 2)]
    layer = line_layer([straight(0, (0, 4))], "gaps", fields=GAP_FIELDS, values=values, crs=UTM)
    _, places, _ = revisit(GAPS=layer)
    assert [row["desc"] for row in places] == [
        "Gap of 4.0 m, 9 s (parked van): walk it from rim to rim"
    ]


def test_lines_that_tell_nothing_of_gaps_are_doubted():
    log = Log()
    revisit(log, GAPS=line_layer([straight(0, (0, 4))], "basemap", crs=UTM))
    assert any("“basemap” has none of the fields" in text for text in log.warnings)


def test_edges_tell_of_ends_that_no_gap_tells_of():
    edges = line_layer(
        [
            straight(0, (-20, 0)),
            straight(0, (4, 30)),
            straight(0, (34, 60)),
            np.array([(400, 0), (410, 0), (410, 10), (400, 0)]),
        ],
        fields=EDGE_FIELDS,
        values=[
            (1, "a", 0.01, 0.01, "not_fixed", "not_fixed"),
            (2, "a", 0.05, 0.01, "not_fixed", "paused"),
            (3, "a", 0.01, 0.08, "paused", "end"),
            (4, "b", None, None, "paused", "paused"),
        ],
    )
    result, places, reasons = revisit(EDGES=edges, GAPS=gaps(rows=slice(0, 2)), CLUSTER=0)
    assert sorted(row["kind"] for row in reasons) == [
        "broken_off",
        "gap",
        "gap",
        "uncertain",
        "uncertain_up",
    ]
    assert_allclose(east(result), [-20, 2, 17, 32, 47], atol=1e-3)
    assert "start (no fixed solution)" in places[0]["desc"]
    assert [row["edge_id"] for row in places] == ["1", "1, 2", "2", "2, 3", "3"]
    # without gaps, each broken end counts; a ring has none
    assert revisit(EDGES=edges)[0]["FOUND"] == 7


def test_stations_in_a_row_are_one_place_at_the_worst():
    result, places, reasons = revisit(STATIONS=stations(), CLUSTER=0)
    assert [row["kind"] for row in places] == ["uncertain", "uncertain_up", "uncertain"]
    assert_allclose(east(result), [203, 204, 210], atol=1e-3)
    assert_allclose([row["metres"] for row in places], [5, 1, 2], atol=1e-6)
    assert (
        places[0]["edge_id"] == "7"
        and "up to 0.090 m" in places[0]["desc"]
        and "from chainage 10.0 m" in places[0]["desc"]
    )
    result, places, reasons = revisit(STATIONS=stations(), CLUSTER=5)
    assert (
        len(places) == 2
        and places[0]["kinds"] == "uncertain, uncertain_up"
        and places[0]["reasons"] == 2
        and places[0]["name"].endswith(" +1")
    )
    assert len(reasons) == 3 and [row["order"] for row in reasons] == [1, 1, 2]


@pytest.mark.parametrize(
    "order", [None, np.random.default_rng(5).permutation(18).tolist()], ids=["in order", "mixed up"]
)
def test_rejected_epochs_in_a_row(order):
    log = Log()
    result, places, _ = revisit(log, REJECTED=rejected(order=order))
    assert_allclose(east(result), [303], atol=1e-3)
    assert places[0]["epochs"] == 7 and places[0]["seconds"] == 6 and places[0]["capture"] == "a"
    assert_allclose(places[0]["metres"], 6, atol=0.005)
    assert "7 epochs rejected in a row, 6 s over 6.0 m (not_fixed 5, spike 2)" in places[0]["desc"]
    assert (
        "that were seen (repeat, backtrack): 1" in log.text
        and "epochs in rows shorter than the limit: 10" in log.text
    )
    assert revisit(REJECTED=rejected(order=order), MIN_REJECTED=3, CLUSTER=0)[0]["PLACES"] == 3
    assert revisit(REJECTED=rejected(order=order), MIN_REJECTED=1, CLUSTER=0)[0]["PLACES"] == 5


def test_a_handful_of_epochs_rejected_on_the_spot_is_no_stretch_to_walk_again():
    layer = points(
        [(0.05 * i, 0.0, f"2026-05-04T10:00:{i:02d}Z", "a", "not_fixed") for i in range(7)],
        (("time", "string"), ("capture", "string"), ("reason", "string")),
    )
    log = Log()
    assert revisit(log, REJECTED=layer)[0]["PLACES"] == 0
    assert "epochs in rows over less ground than the limit: 7" in log.text
    assert revisit(REJECTED=layer, MIN_REJECTED_LENGTH=0.25)[0]["PLACES"] == 1
    _, places, _ = revisit(REJECTED=layer, MIN_REJECTED_LENGTH=0)
    assert places[0]["epochs"] == 7


def rounded(value):
    return round(value, 6) if isinstance(value, float) else value


def told_of(result):
    """What a list of places says, and where, whatever the layers are called."""
    names = ("order", "name", "desc", "kinds", "reasons", "metres", "seconds", "epochs", "edge_id")
    return [
        # rounded, as another set of layers has another local frame
        (*(rounded(row[name]) for name in names), feature.geometry().asWkt(3))
        for row, feature in zip(table(result), result.getFeatures())
    ]


def two_captures():
    """Two layers whose fields of time have different names and types, each with epochs that have no
    fixed solution in a row."""

    def floats(seed, north):
        return [
            {**row, "y": row["y"] + north, "fix": 5 if 20 <= index < 27 else row["fix"]}
            for index, row in enumerate(walk(seed=seed, captures=1))
        ]

    other = layer_of(
        floats(2, 100.0),
        name="other walk",
        fields=(("unix_time", "double"), ("fix", "integer")),
        values=lambda row: [row["seconds"], row["fix"]],
    )
    return [layer_of(floats(1, 0.0), name="first walk"), other]


@pytest.mark.usefixtures("without_figures", "without_styles")
def test_results_of_a_batch_give_the_places_that_the_batch_gave(tmp_path):
    captures = two_captures()
    run(
        "processcaptures",
        {"LAYERS": captures, "FOLDER": str(tmp_path / "out"), "MERGE_PASSES": True},
    )
    file = f"{tmp_path}/out/curbwright.gpkg|layername="
    result, _, reasons = revisit(FOLDER=str(tmp_path / "out"))
    assert told_of(result["OUTPUT"]) == told_of(QgsVectorLayer(file + "revisits", "r", "ogr"))
    assert [row["kind"] for row in reasons].count("rejected") == 2


@pytest.mark.usefixtures("without_figures", "without_styles")
def test_layers_of_a_batch_give_the_places_of_single_ones(tmp_path):
    captures = two_captures()
    run("processcaptures", {"LAYERS": captures, "FOLDER": str(tmp_path)})
    of_batch = revisit(REJECTED=f"{tmp_path}/curbwright.gpkg|layername=rejected")[0]["OUTPUT"]
    single = []
    for layer in captures:
        single += told_of(revisit(REJECTED=reconstruct(layer)["REJECTED"])[0]["OUTPUT"])
    # the order is that of each walk
    assert len(single) == 2
    assert sorted(row[2:] for row in told_of(of_batch)) == sorted(row[2:] for row in single)


@pytest.mark.usefixtures("without_figures", "without_styles")
def test_a_layer_that_is_chosen_wins_over_the_folder(tmp_path):
    run("processcaptures", {"LAYERS": two_captures(), "FOLDER": str(tmp_path)})
    _, _, reasons = revisit(FOLDER=str(tmp_path), REJECTED=rejected())
    assert [row["epochs"] for row in reasons if row["kind"] == "rejected"] == [7]
    assert {"gap", "rejected"} <= {row["kind"] for row in reasons}


def test_a_folder_without_results_is_named(tmp_path):
    with pytest.raises(QgsProcessingException, match="Folder of results.*no curbwright.gpkg"):
        revisit(FOLDER=str(tmp_path))


@pytest.mark.parametrize(("lost", "warned"), [(1, False), (5, True)])
def test_rejected_epochs_that_are_in_no_row_are_warned_of_where_they_may_be_one(lost, warned):
    log = Log()
    layer = points(
        [
            (i, 0.0, f"2026-05-04T10:00:{i:02d}Z" if i > lost else None, "not_fixed")
            for i in range(1, 20)
        ],
        (("time", "string"), ("reason", "string")),
        name="r",
    )
    assert revisit(log, REJECTED=layer)[0]["PLACES"] == 1
    said = f"which are in no row: {lost}"
    assert any(said in text for text in log.warnings) == warned
    assert said in log.text


def test_layers_as_the_other_algorithms_write_them(tmp_path):
    found = reconstruct(layer_of(walk(captures=2)), STATIONS="memory:")
    layer = to_file(found["REJECTED"], tmp_path / "rejected.gpkg")  # streamed
    _, places, _ = revisit(
        REJECTED=layer,
        GAPS=found["GAPS"],
        EDGES=found["OUTPUT"],
        STATIONS=found["STATIONS"],
        MIN_REJECTED=3,
    )
    # the float spells of both walks, and the gaps that they left; edges that broke off there are
    # told by the gaps
    assert [row["kinds"] for row in places] == ["gap, rejected"] * 2
    assert [row["epochs"] for row in places] == [3, 3] and {row["capture"] for row in places} == {
        "walk 1",
        "walk 2",
    }
    poor = [row for row in table(found["STATIONS"]) if row["sigma_up"] > 0.003]
    _, places, reasons = revisit(STATIONS=found["STATIONS"], MAX_SIGMA=1, MAX_SIGMA_UP=0.003)
    assert (
        poor
        and {row["edge_id"] for row in reasons} == {str(row["edge_id"]) for row in poor}
        and {row["kind"] for row in reasons} == {"uncertain_up"}
    )
    joined = run(
        "joinedges",
        {
            "INPUT": found["OUTPUT"],
            "MAX_EXTENSION": 0,
            "TOLERANCE": 10,
            "KEEP_BREAKS": ["not_fixed"],
            "OUTPUT": "memory:",
            "CHANGES": "memory:",
        },
    )
    left = [row["why"] for row in table(joined["CHANGES"]) if row["what"] == "left_open"]
    assert left and sorted(
        row["detail"].split("(", 1)[1][:-1]
        for row in revisit(CHANGES=joined["CHANGES"], MIN_OPEN=0)[2]
    ) == sorted(left)


def test_disagreements_passes_and_open_ends():
    disagreements = line_layer(
        [straight(0, (0, 10)), straight(0, (20, 30)), straight(0, (40, 50))],
        "disagreements",
        fields=(
            ("reason", "string"),
            ("length", "double"),
            ("detail", "string"),
            ("edge_id", "integer"),
        ),
        values=[
            ("plan", 10.0, "10.0 m lie apart.", 1),
            ("other_edge", 10.0, None, 2),
            ("height", 10.0, None, 3),
        ],
    )
    result, places, _ = revisit(DISAGREEMENTS=disagreements)
    assert_allclose(east(result), [5, 45], atol=1e-3)
    assert (
        places[0]["desc"] == "Walks differ over 10.0 m (plan): walk it once more (10.0 m lie apart)"
    )
    edges = line_layer(
        [straight(0, (0, 40)), straight(0.1, (0, 60))],
        fields=EDGE_FIELDS,
        values=[(8, "a", 0.01, 0.01, "start", "end"), (9, "b", 0.01, 0.01, "start", "end")],
    )
    merged = run(
        "mergepasses",
        {"INPUT": edges, "OUTPUT": "memory:", "PASSES": "memory:", "DISAGREEMENTS": "memory:"},
    )
    passes = QgsVectorLayer(
        "NoGeometry?field=source_id:integer&field=offset_mean:double"
        "&field=up_mean:double&field=capture:string",
        "passes",
        "memory",
    )
    for values in ((1, 0.01, None, "a"), (2, -0.04, None, "b")):
        feature = QgsFeature(passes.fields())
        feature.setAttributes(list(values))
        passes.dataProvider().addFeatures([feature])
    result, places, _ = revisit(EDGES=edges, PASSES=passes)
    assert_allclose(east(result), [30], atol=1e-3)
    assert (
        places[0]["kind"] == "pass_off"
        and places[0]["edge_id"] == "9"
        and "-0.040 m across from the others" in places[0]["desc"]
    )
    assert revisit(EDGES=edges, PASSES=merged["PASSES"], DISAGREEMENTS=merged["DISAGREEMENTS"])[0][
        "FOUND"
    ] == len(
        [
            row
            for row in table(merged["DISAGREEMENTS"])
            if row["reason"] in ("plan", "height", "parted")
        ]
    ) + len([row for row in table(merged["PASSES"]) if (row["offset_mean"] or 0) ** 2 > 0.03**2])
    changes = points(
        [
            (0, 0, "joined", 0.1, "x", "1, 2"),
            (9, 0, "left_open", 0.5, "three ends", "2, 3"),
            (30, 0, "left_open", None, None, "4"),
            (50, 0, "left_open", 0.1, None, "5"),
        ],
        (("what", "string"), ("gap", "double"), ("why", "string"), ("edges", "string")),
    )
    _, places, _ = revisit(CHANGES=changes)
    assert [row["desc"] for row in places] == [
        "Ends left open over 0.50 m: see how the edges meet (three ends)",
        "Ends left open: see how the edges meet",
    ]
    assert [row["edge_id"] for row in places] == ["2, 3", "4"]
    assert revisit(CHANGES=changes, MIN_OPEN=0)[0]["PLACES"] == 3


def test_existing_lines():
    edges = line_layer(
        [straight(0, (0, 40)), straight(0, (70, 100)), straight(31, (0, 100))],
        fields=(("sigma_cross", "double"),),
        values=[(0.01,)] * 3,
    )
    existing = line_layer(
        [
            straight(0, (0, 100)),
            straight(20, (0, 50)),
            straight(20, (60, 61)),
            straight(30, (0, 100)),
        ],
        "basemap",
    )
    compared = run(
        "compareedges",
        {"INPUT": edges, "EXISTING": existing, "OUTPUT": "memory:", "EXISTING_STATUS": "memory:"},
    )["EXISTING_STATUS"]
    assert [row["status"] for row in table(compared)] == [
        "partly",
        "only_existing",
        "only_existing",
        "displaced",
    ]
    result, places, _ = revisit(EXISTING_STATUS=compared, EDGES=edges)
    # the middle of the hole, not of the line
    assert sorted(round(x) for x in east(result)) == [25, 55]
    assert np.allclose(sorted(row["metres"] for row in places), [30, 50], atol=1) and {
        row["kind"] for row in places
    } == {"no_edge"}
    assert sorted(round(x) for x in east(revisit(EXISTING_STATUS=compared)[0])) == [25, 50]
    assert revisit(EXISTING_STATUS=compared, MIN_LENGTH=40)[0]["PLACES"] == 1
    _, places, _ = revisit(EXISTING_STATUS=compared, STATUSES=["displaced"])
    assert [row["kind"] for row in places] == ["displaced"] and "by +1.00 m" in places[0][
        "desc"
    ].replace("-", "+")


@pytest.mark.parametrize("cluster", [0, 5, 50])
def test_every_finding_is_in_exactly_one_place(cluster):
    rng = np.random.default_rng(4)
    start = rng.uniform(0, 200, (300, 2))
    size = rng.uniform(0.2, 4, 300)
    layer = line_layer(
        [np.array([at, at + (metres, 0)]) for at, metres in zip(start, size)],
        "gaps",
        fields=GAP_FIELDS,
        values=[(float(metres), 5.0, "not_fixed", "a", 1, 2) for metres in size],
    )
    result, places, reasons = revisit(
        GAPS=layer, STATIONS=stations(), REJECTED=rejected(), CLUSTER=cluster
    )
    wanted = {feature.id() for feature, metres in zip(layer.getFeatures(), size) if metres >= 1.0}
    listed = [row["source_id"] for row in reasons if row["layer"] == "gaps"]
    assert len(listed) == len(set(listed)) and set(listed) == wanted
    assert (
        result["FOUND"] == len(reasons) == sum(row["reasons"] for row in places) == len(wanted) + 4
    )
    assert result["PLACES"] == len(places) and {row["order"] for row in reasons} == {
        row["order"] for row in places
    } == set(range(1, len(places) + 1))
    assert all(row["away"] <= cluster * 1.001 + 1e-5 for row in reasons)
    for row in places:
        own = [reason for reason in reasons if reason["order"] == row["order"]]
        assert all(reason["detail"] in row["desc"] for reason in own) and {
            reason["kind"] for reason in own
        } == set(row["kinds"].split(", "))
        assert row["kind"] == min((reason["kind"] for reason in own), key=KINDS.index)


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:3857", "EPSG:32631"])
def test_layers_of_several_crs_are_brought_together(crs):
    plain = revisit(GAPS=gaps(), STATIONS=stations(), REJECTED=rejected())
    other = revisit(GAPS=gaps(crs), STATIONS=stations("EPSG:4326"), REJECTED=rejected("EPSG:3857"))
    assert_allclose(east(other[0]), east(plain[0]), atol=2e-3)
    for name in ("metres", "leg"):
        values = [[row[name] or 0.0 for row in places] for places in (plain[1], other[1])]
        # on the ground: web Mercator at 56 degrees north would show 1.8 times as much
        assert_allclose(values[1], values[0], rtol=1e-5, atol=2e-3)
    assert [row["desc"] for row in other[1]] == [row["desc"] for row in plain[1]]


def test_the_order_of_rows_has_no_say():
    def told(rows, order):
        result, places, _ = revisit(
            GAPS=gaps(rows=rows), REJECTED=rejected(order=order), MIN_REJECTED=1
        )
        return [(row["order"], row["name"], row["desc"], row["leg"]) for row in places], east(
            result
        )

    forwards = told(slice(None), None)
    backwards = told(slice(None, None, -1), list(range(17, -1, -1)))
    assert forwards == backwards


def test_the_walk_begins_where_it_is_told():
    start = QgsPointXY(ORIGIN[0] + 200, ORIGIN[1])
    result, places, _ = revisit(GAPS=gaps(), START=f"{start.x()},{start.y()} [{UTM}]")
    assert_allclose(east(result), [120, 32, 2], atol=1e-3)
    assert_allclose(places[0]["leg"], 80, atol=0.05)
    way = QgsCoordinateTransform(
        QgsCoordinateReferenceSystem(UTM),
        QgsCoordinateReferenceSystem("EPSG:4326"),
        QgsCoordinateTransformContext(),
    )
    there = way.transform(start)
    assert_allclose(
        east(revisit(GAPS=gaps(), START=f"{there.x()},{there.y()} [EPSG:4326]")[0]),
        [120, 32, 2],
        atol=1e-3,
    )


def waypoints(path):
    """Of a GPX 1.1 file (Topografix, GPX 1.1 Schema Documentation): latitude, longitude and texts
    of each `wpt`."""
    root = ElementTree.parse(str(path)).getroot()
    assert root.tag == GPX + "gpx" and root.get("version") == "1.1"
    return [
        (
            float(one.get("lat")),
            float(one.get("lon")),
            {child.tag.replace(GPX, ""): child.text for child in one},
        )
        for one in root.findall(GPX + "wpt")
    ]


@pytest.mark.parametrize("way", ["exported", "written"])
def test_waypoints(tmp_path, way):
    path = tmp_path / "places.gpx"
    result, places, _ = revisit(GAPS=gaps())
    layer = result["OUTPUT"]
    to_gpx = QgsCoordinateTransform(
        layer.crs(), QgsCoordinateReferenceSystem("EPSG:4326"), QgsCoordinateTransformContext()
    )
    if way == "exported":  # as the help says: EPSG:4326, three fields
        choices = QgsVectorFileWriter.SaveVectorOptions()
        choices.driverName, choices.ct = "GPX", to_gpx
        choices.attributes = [layer.fields().lookupField(new.name) for new in GPX_FIELDS]
        error = QgsVectorFileWriter.writeAsVectorFormatV3(
            layer, str(path), QgsCoordinateTransformContext(), choices
        )
        assert error[0] == QgsVectorFileWriter.WriterError.NoError, error
    else:
        assert run("revisits", {"GAPS": gaps(), "OUTPUT": str(path)})["OUTPUT"] == str(path)
    found = waypoints(path)
    for (latitude, longitude, texts), row, feature in zip(found, places, layer.getFeatures()):
        point = to_gpx.transform(feature.geometry().asPoint())
        assert_allclose((latitude, longitude), (point.y(), point.x()), atol=1e-8)
        assert texts == {"name": row["name"], "cmt": row["cmt"], "desc": row["desc"]}
    assert len(found) == 3


def test_nothing_to_revisit():
    log = Log()
    result, places, _ = revisit(
        log, GAPS=gaps(), MIN_GAP=1000, STATIONS=stations(), MAX_SIGMA=1, MAX_SIGMA_UP=1
    )
    assert result["PLACES"] == result["FOUND"] == result["WALK"] == 0 and not places
    assert any("Nothing passes the limits" in text for text in log.warnings)
    empty = line_layer([], "gaps", fields=GAP_FIELDS)
    assert revisit(GAPS=empty)[0]["PLACES"] == 0


def test_only_what_is_selected_counts():
    layer = gaps()
    layer.selectByIds([1])
    QgsProject.instance().addMapLayer(layer, False)
    chosen = QgsProcessingFeatureSourceDefinition(layer.id(), True)
    assert revisit(GAPS=chosen)[0]["PLACES"] == 1
    QgsProject.instance().removeMapLayer(layer.id())


def test_rows_without_a_position_are_told():
    log = Log()
    layer = line_layer(
        [straight(0, (0, 4)), None],
        "gaps",
        fields=GAP_FIELDS,
        values=[(4.0, 9.0, "paused", "a", 1, 2), (4.0, 9.0, "paused", "a", 1, 2)],
    )
    assert revisit(log, GAPS=layer)[0]["PLACES"] == 1
    assert "which would have counted: 1" in "".join(log.warnings)


PLAIN = (("x", "string"),)


@pytest.mark.parametrize(
    ("parameters", "message"),
    [
        (dict, "No layer is given.*Gaps"),
        (
            lambda: {"EDGES": line_layer([straight(0)], "kerbs", fields=PLAIN)},
            "kerbs.*“sigma_cross” or “sigma_up”.*Reconstruct edges.*It has: x",
        ),
        (
            lambda: {"EXISTING_STATUS": line_layer([straight(0)], "basemap", fields=PLAIN)},
            "basemap.*“status”.*Compare edges",
        ),
        (
            lambda: {"DISAGREEMENTS": line_layer([straight(0)], "d", fields=PLAIN)},
            "“reason”.*Merge repeat passes",
        ),
        (lambda: {"CHANGES": points([(0, 0, "a")], PLAIN, name="c")}, "“what”.*Join edge ends"),
        (
            lambda: {"STATIONS": points([(0, 0, 0.1)], (("sigma_up", "double"),), name="s")},
            "“s” has no field “edge_id”",
        ),
        (
            lambda: {"GAPS": points([(0, 0, "a")], PLAIN, name="spots")},
            "spots.*Point.*“Gaps”, which are lines",
        ),
        (
            lambda: {"REJECTED": points([(0, 0, "spike")], (("reason", "string"),), name="r")},
            "“r” has no field that looks like a time.*Time of rejected epochs",
        ),
        (
            lambda: {"REJECTED": rejected(), "TIME_FIELD": "when"},
            "rejected.*“when”.*Time of rejected epochs.*time, capture, reason",
        ),
        (
            lambda: {
                "PASSES": points(
                    [(0, 0, 1, 0.1)], (("source_id", "integer"), ("offset_mean", "double"))
                )
            },
            "Passes.*no positions.*Edges",
        ),
        (
            lambda: {
                "PASSES": points(
                    [(0, 0, 77, 0.1)],
                    (("source_id", "integer"), ("offset_mean", "double")),
                    name="p",
                ),
                "EDGES": line_layer(
                    [straight(0)],
                    "e",
                    fields=EDGE_FIELDS,
                    values=[(1, "a", 0.01, 0.01, "start", "end")],
                ),
            },
            "“p” names rows.*“e” does not have \\(1 of 1\\)",
        ),
        (
            lambda: {
                "GAPS": line_layer([straight(0)], "bare", crs="", fields=GAP_FIELDS),
                "STATIONS": stations(),
            },
            "“bare” has no CRS.*“stations”",
        ),
    ],
)
def test_bad_input_is_named(parameters, message):
    with pytest.raises(QgsProcessingException, match=message):
        revisit(**parameters())


def test_a_script_that_skips_the_checks_is_told_too():
    own = QgsApplication.processingRegistry().createAlgorithmById("curbwright:revisits")
    log = Log()
    assert own.run({"OUTPUT": "memory:"}, QgsProcessingContext(), log)[1] is False
    assert "No layer is given" in log.text


def test_gpx_needs_a_crs(tmp_path):
    layer = line_layer(
        [straight(0)], "bare", crs="", fields=GAP_FIELDS, values=[(4.0, 9.0, "paused", "a", 1, 2)]
    )
    with pytest.raises(QgsProcessingException, match="GPX.*Assign it"):
        revisit(GAPS=layer, OUTPUT=str(tmp_path / "x.gpx"))


def test_cancel_gives_nothing():
    own = QgsApplication.processingRegistry().createAlgorithmById("curbwright:revisits")
    log, context = Log(), QgsProcessingContext()
    log.cancel()
    assert own.run({"GAPS": gaps(), "OUTPUT": "memory:"}, context, log) == ({}, True)


def test_places_are_numbered_on_the_map(qgis_new_project):
    import processing

    project, layer = QgsProject.instance(), gaps()
    project.addMapLayer(layer)
    results = processing.runAndLoadResults(
        "curbwright:revisits", {"GAPS": layer, "OUTPUT": "memory:"}
    )
    loaded = project.mapLayer(results["OUTPUT"])
    assert loaded.name() == "Places to revisit of gaps" and loaded.labelsEnabled()
    assert (
        loaded.labeling().settings().fieldName == '"order"'
        and loaded.renderer().symbol().symbolLayer(0).size() > 4
    )
    plain = QgsVectorLayer("Point?field=order:integer", "l", "memory")
    assert plain.loadNamedStyle(str(styles.STYLES / styles.REVISITS))[1]
