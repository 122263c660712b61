"""GeoParquet files of simulated walks, for the tests of the partitioned run."""

import json

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pyproj
import shapely

from curbwright.sample_project import simulation as sim

HOME = 25832  # EPSG code of the zone that the walks are made in
CORNER = (500_000.0, 6_000_000.0)


def walks(captures, seed=3):
    """Walks of all kinds, 200 m apart, with everything that goes wrong on them."""
    rng = np.random.default_rng(seed)
    return [
        sim.walk(
            sim.random_truth(sim.SHAPES[number % len(sim.SHAPES)], rng, (200.0 * number, 0.0)),
            rng,
            sim.SORTS[number % 2],
            f"c{number:02d}",
            3600.0 * number,
            disturbances=sim.Disturbances(),
        )
        for number in range(captures)
    ]


def table_of(some, crs=HOME, height_unit=1.0, **entry):
    """A table of walks in any CRS with heights in any unit, with the ``geo`` metadata of GeoParquet
    1.1.0."""

    def column(name):
        return np.concatenate([getattr(walk, name) for walk in some])

    x, y = pyproj.Transformer.from_crs(HOME, crs, always_xy=True).transform(
        column("x") + CORNER[0], column("y") + CORNER[1]
    )
    points = shapely.to_wkb(
        shapely.points(
            np.where(np.isfinite(x), x, np.nan),
            np.where(np.isfinite(y), y, np.nan),
            column("z") / height_unit,
        ),
        flavor="iso",
    )
    table = pa.table(
        {
            "geometry": points,
            "time": pa.array(
                np.round((column("seconds") + 1.7e9) * 1000).astype("M8[ms]"),
                pa.timestamp("ms", "UTC"),
                from_pandas=True,
            ),
            "capture": np.repeat([walk.capture for walk in some], [len(walk) for walk in some]),
            "fix": column("fix"),
            "h_acc": column("h_acc"),
            "v_acc": column("v_acc"),
            "reason": np.arange(len(x)),
        }
    )
    return with_geo(table, crs=pyproj.CRS.from_user_input(crs).to_json_dict(), **entry)


def with_geo(table, kind="Point Z", encoding="WKB", **entry):
    geo = {
        "version": "1.1.0",
        "primary_column": "geometry",
        "columns": {"geometry": {"encoding": encoding, "geometry_types": [kind], **entry}},
    }
    return table.replace_schema_metadata({b"geo": json.dumps(geo)})


def write(folder, tables):
    """Write tables under their names, into folders of their own where the names have any; the
    folder."""
    for name, table in tables.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        pq.write_table(table, path)
    return folder


def read(folder, data="edges"):
    """All rows of a result, by their number, without the metadata."""
    tables = [
        pq.read_table(path, partitioning=None).replace_schema_metadata(None)
        for path in sorted((folder / data).rglob("*.parquet"))
    ]
    table = pa.concat_tables(tables)
    return (
        table
        if data == "epochs"
        else table.sort_by([({"edges": "edge_id", "gaps": "gap_id"}[data], "ascending")])
    )


def content(folder):
    """Bytes of every file below a folder, by path."""
    return {
        path.relative_to(folder).as_posix(): path.read_bytes()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }
