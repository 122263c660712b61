"""A layer that is not what it is taken for: asked about, or warned of, and never plausible
nonsense."""

import numpy as np
import pytest
from linelayers import line_layer, straight, upright
from qgis.core import QgsFeature, QgsGeometry, QgsProcessingException, QgsVectorLayer
from walkedlayers import ORIGIN, START, Log, layer_of, reconstruct, run, table, walk

pytestmark = pytest.mark.usefixtures("provider")

BLOCKS = [
    np.array([(0, 0), (60, 0), (60, 35), (48, 35), (48, 38), (3, 38), (0, 35), (0, 0)], float)
    + (90 * number, 0)
    for number in range(4)
]
OF_EDGES = (("edge_id", "integer"), ("sigma_cross", "double"))
EPOCH_ALGORITHMS = ("reconstructedges", "screenepochs", "averageoccupations")


def stream(count=80, seed=3):
    """Positions of a walk round a bend, a step a second."""
    noise = np.random.default_rng(seed).normal(0, 0.006, (count, 2))
    angle = np.linspace(0, np.pi, count)
    return np.column_stack([40 * np.sin(angle), 40 - 40 * np.cos(angle)]) + noise


def run_on(algorithm, layer, log=None, **parameters):
    output = "POINTS" if algorithm == "averageoccupations" else "OUTPUT"
    return run(algorithm, {"INPUT": layer, output: "memory:", **parameters}, log)


@pytest.mark.parametrize("algorithm", EPOCH_ALGORITHMS)
def test_a_basemap_is_no_stream(algorithm):
    layer = line_layer(BLOCKS, name="basemap")
    with pytest.raises(QgsProcessingException) as raised:
        run_on(algorithm, layer)
    for piece in ("“basemap”", "no time", "no fix", "median", "90th percentile", "TAKE_AS_STREAM"):
        assert piece in str(raised.value)


def test_insisting_takes_it_with_a_warning():
    log = Log()
    result = run_on(
        "reconstructedges", line_layer(BLOCKS, name="basemap"), log, TAKE_AS_STREAM=True
    )
    assert result["EPOCHS_READ"] == sum(map(len, BLOCKS))
    assert any("“basemap” does not look like a stream" in text for text in log.warnings)


def test_own_edges_are_no_stream():
    edges = reconstruct(layer_of(walk()))["OUTPUT"]
    edges.setName("edges of the quay")
    with pytest.raises(QgsProcessingException, match="reconstructed already") as raised:
        run_on("reconstructedges", edges)
    assert "“edges of the quay”" in str(raised.value)


def test_own_gaps_are_no_stream():
    gaps = reconstruct(layer_of(walk()))["GAPS"]
    with pytest.raises(QgsProcessingException, match="gaps between edges"):
        run_on("reconstructedges", gaps)


def test_a_streamed_line_without_times_goes_on():
    log = Log()
    result = run_on("reconstructedges", line_layer([stream()], name="walked"), log)
    assert result["EDGES"] >= 1
    assert not any("does not look like a stream" in text for text in log.warnings)


@pytest.mark.usefixtures("without_figures", "without_styles")
def test_the_batch_names_a_basemap_among_its_captures(tmp_path):
    log = Log()
    result = run(
        "processcaptures",
        {
            "LAYERS": [layer_of(walk()), line_layer(BLOCKS, name="basemap")],
            "FOLDER": str(tmp_path),
            "LOAD_RESULTS": False,
        },
        log,
    )
    assert (result["LAYERS_DONE"], result["LAYERS_FAILED"]) == (1, 1)
    assert "is this a stream of epochs?" in log.text


# Polygons


def ring(count=90, radius=20.0, centre=(0.0, 0.0), seed=1):
    noise = np.random.default_rng(seed).normal(0, 0.004, (count, 2))
    angle = np.arange(count) * 2 * np.pi / count
    return np.column_stack([np.cos(angle), np.sin(angle)]) * radius + centre + noise


def polygon_layer(rings, kind="Polygon", times=None):
    layer = QgsVectorLayer(f"{kind}?crs=EPSG:32632", "islands", "memory")
    texts = []
    for number, places in enumerate(rings):
        closed = np.vstack([places, places[:1]]) + ORIGIN
        columns = [closed]
        if times is not None:
            columns.append(np.append(times[number], times[number][0])[:, None])
        texts.append(
            "(" + ", ".join(" ".join(map(repr, row)) for row in np.hstack(columns).tolist()) + ")"
        )
    feature = QgsFeature(layer.fields())
    feature.setGeometry(
        QgsGeometry.fromWkt(f"Polygon{'M' if times is not None else ''} ({', '.join(texts)})")
    )
    assert layer.dataProvider().addFeatures([feature])[0]
    return layer


def test_each_ring_of_a_streamed_polygon_is_a_capture():
    rings = ring(radius=30.0), ring(radius=12.0, seed=2)
    edges = table(run_on("reconstructedges", polygon_layer(rings))["OUTPUT"])
    assert sorted(row["capture"] for row in edges) == ["1/1", "1/2"]
    assert all(row["closed"] for row in edges)
    assert sorted(row["length"] for row in edges) == pytest.approx(
        [2 * np.pi * 12, 2 * np.pi * 30], rel=0.01
    )


@pytest.mark.usefixtures("without_figures", "without_styles")
def test_streamed_polygons_in_a_batch(tmp_path):
    """Alone, and beside points: all of their vertices are kept or rejected."""
    rings = polygon_layer([ring(radius=30.0)])
    for number, layers in enumerate(([rings], [rings, layer_of(walk())])):
        folder = tmp_path / str(number)
        result = run(
            "processcaptures", {"LAYERS": layers, "FOLDER": str(folder), "LIST_REVISITS": False}
        )
        assert result["LAYERS_DONE"] == len(layers)
        kept = QgsVectorLayer(f"{folder}/curbwright.gpkg|layername=kept", "kept", "ogr")
        assert sum(row["layer"] == rings.name() for row in table(kept)) > 80


def test_m_of_the_vertices_of_a_polygon_is_their_time():
    rings = ring(radius=30.0), ring(radius=12.0, seed=2)
    times = [START + np.arange(90.0), START + 500 + np.arange(90.0)]
    log = Log()
    edges = table(
        run_on("reconstructedges", polygon_layer(rings, "PolygonM", times), log)["OUTPUT"]
    )
    assert sorted(row["started_unix"] for row in edges) == [START, START + 500]
    assert "order of the vertices" not in log.text


# Two layers


def compared(edges, existing, algorithm="compareedges"):
    log = Log()
    name = {"updatebasemap": ("EDGES", "UPDATED")}.get(algorithm, ("INPUT", "OUTPUT"))
    run(algorithm, {name[0]: edges, "EXISTING": existing, name[1]: "memory:"}, log)
    return log.warnings


LINES = [straight(y) for y in (0.0, 10.0, 20.0)] + [upright(5.0), upright(25.0)]
MOVED = [line + (0.2, 0.1) for line in LINES]
PAIRED = ("compareedges", "estimateshift", "updatebasemap")


@pytest.mark.parametrize("algorithm", PAIRED)
def test_a_layer_against_itself_is_warned_of(algorithm):
    layer = line_layer(LINES, name="map")
    assert any("the same lines" in text for text in compared(layer, layer, algorithm))
    copy = line_layer(LINES, name="copy")
    assert any("“copy” and “map”" in text for text in compared(copy, layer, algorithm))


@pytest.mark.parametrize("algorithm", PAIRED)
def test_swapped_layers_are_warned_of(algorithm):
    """Not where the user says which layer is to be moved: that may be the map."""
    edges = line_layer(
        MOVED, name="walked", fields=OF_EDGES, values=[(n, 0.01) for n in range(len(MOVED))]
    )
    basemap = line_layer(LINES, name="map")
    warned = any("may be swapped" in text for text in compared(basemap, edges, algorithm))
    assert warned == (algorithm != "estimateshift")
    assert not any("swapped" in text for text in compared(edges, basemap, algorithm))


def test_swapped_is_seen_by_the_spacing_of_the_vertices():
    walked = [
        np.column_stack([np.arange(0, 40.1, 1.0) + 0.2, np.full(41, y + 0.1)])
        for y in (0.0, 10.0, 20.0)
    ]
    existing = line_layer([*walked, MOVED[3], MOVED[4]], name="walked")
    basemap = line_layer(LINES, name="map")
    assert any("may be swapped" in text for text in compared(basemap, existing))
    assert not any("swapped" in text for text in compared(existing, basemap))


def test_gaps_as_edges_are_warned_of():
    gaps = line_layer(
        MOVED,
        name="gaps",
        fields=(("gap_id", "integer"), ("reason", "string")),
        values=[(n, "paused") for n in range(len(MOVED))],
    )
    assert any("“gaps” holds gaps" in text for text in compared(gaps, line_layer(LINES)))


def test_edges_against_a_map_are_not_warned_of():
    edges = line_layer(
        MOVED, name="walked", fields=OF_EDGES, values=[(n, 0.01) for n in range(len(MOVED))]
    )
    words = ("the same lines", "swapped", "holds gaps")
    assert not [t for t in compared(edges, line_layer(LINES)) if any(word in t for word in words)]
