"""The run over partitions: the same result whoever does the work, every epoch in one place, former
results whole."""

import json
from importlib.util import find_spec

import numpy as np
import pytest

pa = pytest.importorskip("pyarrow", reason="bash setup.sh cluster")
pyproj = pytest.importorskip("pyproj", reason="bash setup.sh cluster")

import pyarrow.parquet as pq  # noqa: E402
import shapely  # noqa: E402
from epochfiles import CORNER, HOME, content, read, table_of, walks, with_geo, write  # noqa: E402

from curbwright.shared.epochs.reasons import Reason  # noqa: E402
from curbwright.shared.epochs.settings import Settings  # noqa: E402
from curbwright.shared.epochs.table import EpochTable  # noqa: E402
from curbwright.shared.partitions import results, runner, work  # noqa: E402
from curbwright.shared.partitions.command import main  # noqa: E402
from curbwright.shared.partitions.engine import Cluster, Here  # noqa: E402
from curbwright.shared.partitions.frame import Frame  # noqa: E402
from curbwright.shared.partitions.runner import Reading, RunError, run  # noqa: E402
from curbwright.shared.reconstruction.reconstruct import reconstruct  # noqa: E402

# looked for only: it takes a second to load
pytestmark = pytest.mark.skipif(find_spec("distributed") is None, reason="bash setup.sh cluster")
WALKS = walks(8)
GRADS = """
GEOGCRS["ETRS89 in grads",
    DATUM["European Terrestrial Reference System 1989",
        ELLIPSOID["GRS 1980", 6378137, 298.257222101]],
    CS[ellipsoidal, 2],
    AXIS["latitude", north],
    AXIS["longitude", east],
    ANGLEUNIT["grad", 0.015707963267949]]"""
PARTS = {"a/north.parquet": WALKS[:3], "a/south.parquet": WALKS[3:5], "b.geoparquet": WALKS[5:]}


@pytest.fixture(scope="module")
def source(tmp_path_factory):
    return write(
        tmp_path_factory.mktemp("epochs"), {name: table_of(some) for name, some in PARTS.items()}
    )


@pytest.fixture(scope="module")
def single(source, tmp_path_factory):
    """Results of a run in this process, with all epochs."""
    target = tmp_path_factory.mktemp("single") / "out"
    run(source, target, write_epochs=True)
    return target


class TestCluster:
    """Two processes on this machine; they cost something as long as they are there."""

    @pytest.fixture(scope="class")
    @classmethod
    def cluster(cls):
        with Cluster(2) as workers:
            yield workers

    def test_two_workers_give_the_bytes_of_one_process(self, source, single, cluster, tmp_path):
        run(source, tmp_path / "out", write_epochs=True, engine=cluster)
        assert content(tmp_path / "out") == content(single)

    def test_a_cluster_that_is_there_already_does_as_well(self, source, single, cluster, tmp_path):
        """By the command, which takes its address; it keeps what is doubtful unless told."""
        address = cluster._client.scheduler.address
        choices = ["--doubtful", Settings().doubtful, "--scheduler", address]
        assert main([str(source), str(tmp_path / "out"), *choices]) == 0
        assert read(tmp_path / "out").equals(read(single))

    def test_an_error_of_a_worker_names_its_partition(self, cluster, tmp_path):
        tables = {name: table_of(some) for name, some in PARTS.items()}
        tables["a/south.parquet"] = tables["a/south.parquet"].drop(["h_acc"])
        write(tmp_path / "in", tables)
        with pytest.raises(RunError, match="“a/south.parquet”: it has no column “h_acc”"):
            run(tmp_path / "in", tmp_path / "out", engine=cluster)


def test_one_file_for_each_of_the_source(single):
    assert sorted(content(single)) == sorted(
        [
            "run.json",
            *(
                f"{data}/{name}"
                for data in ("edges", "gaps", "epochs")
                for name in ("a/north.parquet", "a/south.parquet", "b.parquet")
            ),
        ]
    )


@pytest.mark.parametrize("pieces", ["one", "cut", "mixed"])
def test_partitions_decide_nothing(single, pieces, tmp_path):
    whole = pa.concat_tables([table_of(some) for some in PARTS.values()])
    if pieces == "mixed":
        whole = whole.take(np.random.default_rng(5).permutation(len(whole)))
    rows = len(whole) if pieces == "one" else 190
    tables = {
        f"{start:05d}.parquet": whole.slice(start, rows) for start in range(0, len(whole), rows)
    }
    summary = run(write(tmp_path / "in", tables), tmp_path / "out")
    for data in ("edges", "gaps"):
        assert read(tmp_path / "out", data).equals(read(single, data)), data
    assert bool(summary["captures_in_several_files"]) == (pieces != "one")
    assert summary["reasons"] == json.loads((single / "run.json").read_text())["reasons"]


def test_edges_are_those_of_the_core(single):
    summary = json.loads((single / "run.json").read_text())
    frame = Frame(f"EPSG:{HOME}", tuple(summary["frame"].values()))

    def column(name):
        return np.concatenate([getattr(walk, name) for walk in WALKS])

    x, y, scale = frame.local(column("x") + CORNER[0], column("y") + CORNER[1])
    result = reconstruct(
        EpochTable.from_columns(
            x,
            y,
            column("z"),
            np.round(column("seconds"), 3),
            np.repeat(np.arange(len(WALKS)), [len(walk) for walk in WALKS]),
            column("fix") == 4,
            column("h_acc"),
            column("v_acc"),
            scale,
        )
    )
    edges = read(single)
    assert np.bincount(result.reason, minlength=len(summary["reasons"])).tolist() == list(
        summary["reasons"].values()
    )
    coordinates = shapely.get_coordinates(
        shapely.from_wkb(edges["geometry"].to_numpy()), include_z=True
    )
    east, north, _ = frame.local(*coordinates[:, :2].T)
    np.testing.assert_allclose(
        np.column_stack([east, north, coordinates[:, 2]]),
        np.column_stack([result.edges.x, result.edges.y, result.edges.z]),
        atol=1e-6,
    )
    np.testing.assert_allclose(edges["length"].to_numpy(), result.edges.length, atol=1e-6)
    assert summary["length"] == pytest.approx(edges["length"].to_numpy().sum())


def test_every_epoch_is_in_one_place(source, single):
    before = pa.concat_tables(
        [pq.read_table(source / name).replace_schema_metadata(None) for name in PARTS]
    )
    epochs, edges = read(single, "epochs"), read(single)
    assert epochs.column_names == [
        "geometry",
        "time",
        "capture",
        "fix",
        "h_acc",
        "v_acc",
        "reason_source",
        *(name for name, _ in work.EPOCH_FIELDS),
    ]
    for name in ("geometry", "time", "capture", "fix"):
        assert epochs[name].equals(before[name]), name
    kept = epochs.filter(pa.compute.is_null(epochs["reason"]))
    assert kept["edge_id"].null_count == 0
    assert pa.compute.is_in(kept["edge_id"], edges["edge_id"].combine_chunks()).to_numpy().all()
    assert len(kept) == edges["epochs_used"].to_numpy().sum()
    lost = epochs.filter(pa.compute.is_valid(epochs["reason"]))
    assert lost["edge_id"].null_count == lost["chainage"].null_count == len(lost)
    assert all(lost["detail"].to_pylist())
    assert set(lost["reason"].to_pylist()) <= {reason.name.lower() for reason in Reason}


def test_edges_have_numbers_of_their_own(single):
    edges = read(single)
    assert len(set(edges["edge_id"].to_pylist())) == len(edges)
    gaps = read(single, "gaps")
    assert len(set(gaps["gap_id"].to_pylist())) == len(gaps)
    for side in ("after_edge", "before_edge"):
        assert pa.compute.is_in(gaps[side], edges["edge_id"].combine_chunks()).to_numpy().all()


@pytest.mark.parametrize(
    ("crs", "height_unit"),
    [
        ("OGC:CRS84", 1.0),
        ("EPSG:4979", 1.0),
        ("EPSG:3857", 1.0),
        ("EPSG:2263+6360", 1200 / 3937),
        (GRADS, 1.0),
    ],
    ids=["degrees", "three axes", "web Mercator", "US survey feet", "grads"],
)
def test_every_crs_gives_the_same_metres(single, crs, height_unit, tmp_path):
    run(
        write(
            tmp_path / "in",
            {name: table_of(some, crs, height_unit) for name, some in PARTS.items()},
        ),
        tmp_path / "out",
    )
    edges, metric = read(tmp_path / "out"), read(single)
    assert edges["edge_id"].equals(metric["edge_id"])
    for name in ("epochs_used", "start_reason", "end_reason", "closed", "curve_model"):
        assert edges[name].equals(metric[name]), name
    # 1 mm in 100 m, as the contract says of lengths
    for name in ("length", "rms_residual", "sigma_cross", "sigma_up"):
        np.testing.assert_allclose(
            edges[name].to_numpy(), metric[name].to_numpy(), rtol=1e-5, atol=1e-4
        )
    there = shapely.get_coordinates(shapely.from_wkb(edges["geometry"].to_numpy()), include_z=True)[
        ::7
    ]
    home = shapely.get_coordinates(shapely.from_wkb(metric["geometry"].to_numpy()), include_z=True)[
        ::7
    ]
    x, y = pyproj.Transformer.from_crs(crs, HOME, always_xy=True).transform(*there[:, :2].T)
    np.testing.assert_allclose(np.column_stack([x, y, there[:, 2] * height_unit]), home, atol=2e-3)
    assert pyproj.CRS.from_json_dict(
        geo_of(next((tmp_path / "out").rglob("edges/**/*.parquet")))["columns"]["geometry"]["crs"]
    ) == pyproj.CRS(crs)


def geo_of(path):
    return json.loads(pq.read_schema(path).metadata[b"geo"])


def test_metadata_are_those_of_the_specification(single):
    """GeoParquet 1.1.0, sections “File metadata” and “Column metadata”, and its JSON schema (OGC,
    geoparquet.org)."""
    for path in [*single.glob("edges/**/*.parquet"), *single.glob("gaps/**/*.parquet")]:
        geo = geo_of(path)
        assert geo["version"] == "1.1.0"
        assert list(geo["columns"]) == [geo["primary_column"]]
        column = geo["columns"]["geometry"]
        assert column["encoding"] == "WKB"
        assert column["geometry_types"] == ["LineString Z"]
        assert pyproj.CRS.from_json_dict(column["crs"]) == pyproj.CRS(HOME)
        file = pq.ParquetFile(path)
        schema = file.schema.column(file.schema.names.index("geometry"))
        assert (schema.physical_type, schema.max_repetition_level) == ("BYTE_ARRAY", 0)
        geometries = shapely.from_wkb(file.read()["geometry"].to_numpy())
        assert (shapely.get_type_id(geometries) == 1).all()
        assert shapely.has_z(geometries).all()
        if len(geometries):
            assert column["bbox"] == pytest.approx(shapely.total_bounds(geometries), abs=0)
    geo = geo_of(single / "epochs" / "b.parquet")
    assert (geo["primary_column"], geo["columns"]["geometry"]["geometry_types"]) == (
        "geometry",
        ["Point Z"],
    )


def test_the_host_reads_the_edges(single):
    ogr = pytest.importorskip("osgeo.ogr")
    if ogr.GetDriverByName("Parquet") is None:
        pytest.skip("this GDAL has no Parquet driver")
    dataset = ogr.Open(str(single / "edges" / "b.parquet"))
    assert dataset.GetLayer(0).GetGeomType() == ogr.wkbLineString25D
    assert dataset.GetLayer(0).GetSpatialRef().GetAuthorityCode(None) == str(HOME)


def test_names_of_folders_are_columns(single, tmp_path):
    tables = {
        f"capture={walk.capture}/x.parquet": table_of([walk]).drop(["capture"]) for walk in WALKS
    }
    run(write(tmp_path / "in", tables), tmp_path / "out")
    assert read(tmp_path / "out").equals(read(single))


def test_no_usable_epoch_gives_empty_files(tmp_path):
    table = table_of(WALKS[:1])
    table = table.set_column(
        table.column_names.index("fix"), "fix", pa.array(np.full(len(table), 5))
    )
    summary = run(write(tmp_path / "in", {"a.parquet": table}), tmp_path / "out")
    assert (summary["edges"], summary["gaps"], summary["reasons"]["kept"]) == (0, 0, 0)
    assert len(read(tmp_path / "out")) == 0


def test_times_from_an_unknown_origin_are_no_dates(tmp_path):
    table = table_of(WALKS[:1])
    table = table.set_column(1, "time", pa.array(WALKS[0].seconds, from_pandas=True))
    run(write(tmp_path / "in", {"a.parquet": table}), tmp_path / "out")
    edges = read(tmp_path / "out")
    assert edges["started"].null_count == len(edges) > 0
    assert edges["started_unix"].null_count == 0


# What stops a run


def spoilt(**changes):
    tables = {name: table_of(some) for name, some in PARTS.items()}
    for name, change in changes.items():
        key = {"north": "a/north.parquet", "south": "a/south.parquet", "b": "b.geoparquet"}[name]
        tables[key] = change(tables[key])
    return tables


def with_column(name, values):
    return lambda table: table.set_column(table.column_names.index(name), name, values(len(table)))


@pytest.mark.parametrize(
    ("tables", "columns", "words"),
    [
        (spoilt(south=lambda table: table.drop(["h_acc"])), {}, ("a/south.parquet", "“h_acc”")),
        (
            spoilt(b=lambda table: table.replace_schema_metadata(None)),
            {},
            ("b.geoparquet", "“geo”", "GeoParquet 1.0 or 1.1"),
        ),
        (
            spoilt(b=lambda table: with_geo(table, "LineString Z")),
            {},
            ("b.geoparquet", "points are needed"),
        ),
        (spoilt(b=lambda table: with_geo(table, crs=None)), {}, ("b.geoparquet", "--crs")),
        (
            spoilt(b=lambda table: with_geo(table, crs=pyproj.CRS(3857).to_json_dict())),
            {},
            ("a/north.parquet", "b.geoparquet", "UTM zone 32N", "Pseudo-Mercator"),
        ),
        (
            spoilt(b=with_column("time", lambda count: pa.array(["soon"] * count))),
            {},
            ("b.geoparquet", "“time”", "soon", "--time"),
        ),
        (
            spoilt(b=with_column("time", lambda count: pa.array(np.arange(count)))),
            {},
            ("b.geoparquet", "date-time", "seconds"),
        ),
        (
            spoilt(b=with_column("h_acc", lambda count: pa.array(["good"] * count))),
            {},
            ("b.geoparquet", "“h_acc”", "good", "--h-accuracy"),
        ),
        (
            spoilt(b=with_column("capture", lambda count: pa.array(np.full(count, 0.5)))),
            {},
            ("b.geoparquet", "“capture”", "--capture"),
        ),
        (spoilt(), {"capture": ["who"]}, ("a/north.parquet", "“who”")),
        (spoilt(), {"time": []}, ("--time",)),
        ({"a.parquet": table_of(WALKS[:1]).drop(["fix"])}, {}, ("--fix ''",)),
        (
            {
                "a.parquet": (
                    table_of(WALKS[:1]).append_column("timestamp", table_of(WALKS[:1])["time"])
                )
            },
            {},
            ("“time” and “timestamp”", "--time"),
        ),
        ({}, {}, ("*.parquet",)),
    ],
    ids=[
        "column",
        "metadata",
        "lines",
        "no crs",
        "two crs",
        "text",
        "kinds of time",
        "accuracy",
        "capture",
        "no such column",
        "no time",
        "no fix",
        "two times",
        "no files",
    ],
)
def test_an_error_names_file_column_and_remedy(tables, columns, words, tmp_path):
    (tmp_path / "in").mkdir()
    with pytest.raises(RunError) as error:
        run(write(tmp_path / "in", tables), tmp_path / "out", reading=Reading(columns))
    for word in words:
        assert word in str(error.value)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["in"]


def test_all_files_that_cannot_be_read_are_named_at_once(tmp_path):
    tables = spoilt(south=lambda table: table.drop(["fix"]), b=lambda table: table.drop(["fix"]))
    with pytest.raises(RunError) as error:
        run(write(tmp_path / "in", tables), tmp_path / "out")
    assert "a/south.parquet" in str(error.value)
    assert "b.geoparquet" in str(error.value)


def test_a_crs_of_the_users_own_goes_before_that_of_the_files(single, tmp_path):
    tables = {name: with_geo(table_of(some), crs=None) for name, some in PARTS.items()}
    run(write(tmp_path / "in", tables), tmp_path / "out", reading=Reading(crs=f"EPSG:{HOME}"))
    assert read(tmp_path / "out").equals(read(single))
    written = geo_of(tmp_path / "out" / "edges" / "b.parquet")["columns"]["geometry"]["crs"]
    assert pyproj.CRS.from_json_dict(written) == pyproj.CRS(HOME)


@pytest.mark.parametrize("where", ["in/out", "in", "."])
def test_results_do_not_go_among_the_epochs(source, where, tmp_path):
    write(tmp_path / "in", {"a.parquet": table_of(WALKS[:1])})
    with pytest.raises(RunError, match="lie in each other"):
        run(tmp_path / "in", tmp_path / where)


# Former results


class Failing(Here):
    """Fails at one partition of one pass."""

    def __init__(self, at, partition):
        self.at, self.partition = at, partition

    def run(self, name, job, tasks):
        for number, result, error in super().run(name, job, tasks):
            hit = name == self.at and number == self.partition
            yield number, None if hit else result, OSError("the disk is gone") if hit else error


def test_a_run_that_fails_names_the_partition_and_leaves_the_former_results(source, tmp_path):
    run(source, tmp_path / "out", Settings(tolerance=0.05))
    before = content(tmp_path / "out")
    with pytest.raises(RunError, match="“a/south.parquet”: the disk is gone"):
        run(source, tmp_path / "out", engine=Failing("fit", 1))
    assert content(tmp_path / "out") == before
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_a_rerun_replaces_the_former_results(source, single, tmp_path):
    run(source, tmp_path / "out", Settings(tolerance=0.05))
    assert content(tmp_path / "out") != content(single)
    run(source, tmp_path / "out", write_epochs=True)
    assert content(tmp_path / "out") == content(single)
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_what_no_run_wrote_is_left_alone(source, tmp_path):
    run(source, tmp_path / "out")
    (tmp_path / "out" / "edges" / "notes.txt").write_text("mine")
    with pytest.raises(RunError, match="edges/notes.txt"):
        run(source, tmp_path / "out")
    assert (tmp_path / "out" / "edges" / "notes.txt").read_text() == "mine"
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


def test_a_run_killed_between_the_moves_is_put_right(source, single, tmp_path):
    run(source, tmp_path / "out")
    (tmp_path / "out").rename(tmp_path / ".out.former")
    (tmp_path / ".out.unfinished" / "edges").mkdir(parents=True)
    (tmp_path / ".out.unfinished" / "edges" / "half.parquet").write_bytes(b"half")
    with pytest.raises(RunError, match="the disk is gone"):
        run(source, tmp_path / "out", engine=Failing("streams", 0))
    assert read(tmp_path / "out").equals(read(single))
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.skipif(results.fcntl is None, reason="no such locks on this system")
def test_two_runs_keep_apart(source, tmp_path):
    with results.Results(tmp_path / "out"), pytest.raises(RunError, match="another run"):
        run(source, tmp_path / "out")


def test_partitions_of_one_name_are_refused(tmp_path):
    write(tmp_path, {"a.parquet": table_of(WALKS[:1]), "a.geoparquet": table_of(WALKS[1:2])})
    with pytest.raises(RunError, match="one name"):
        runner.partitions_of(tmp_path)
