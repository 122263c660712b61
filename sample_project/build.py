"""Build the data of the sample project, `data/tern_ness.gpkg` and `data/tern_ness_walk.nmea`: the
same rows every time.

    .venv/bin/python sample_project/build.py [FILE]

Needs numpy and GDAL's Python bindings, not QGIS. Everything in it is invented; see `port.py`.
"""

import importlib.util
import sys
from dataclasses import dataclass
from datetime import datetime, timedelta, timezone
from pathlib import Path

import numpy as np
from osgeo import gdal, ogr, osr

ROOT = Path(__file__).resolve().parents[1]
if "curbwright" not in sys.modules:  # the clone as a package, whatever its folder is called
    _spec = importlib.util.spec_from_file_location(
        "curbwright", ROOT / "__init__.py", submodule_search_locations=[str(ROOT)]
    )
    sys.modules["curbwright"] = importlib.util.module_from_spec(_spec)
    _spec.loader.exec_module(sys.modules["curbwright"])

from curbwright.sample_project import port, receiver_log  # noqa: E402
from curbwright.sample_project.simulation import FIXED, FLOAT  # noqa: E402

TARGET = Path(__file__).resolve().parent / "data" / "tern_ness.gpkg"
LOG = "tern_ness_walk.nmea"  # beside it
LAST_CHANGE = "2025-05-15T12:00:00.000Z"  # written into the file in place of the moment of building
SUMMER_TIME = timezone(timedelta(hours=2))
SOLUTION = {FIXED: "fixed", FLOAT: "float"}
GEOGRAPHIC = "EPSG:4326"


@dataclass(frozen=True)
class Table:
    """A layer to write: `fields` maps names to OGR types, `columns` names to values; `xyz` is in
    `port.CRS`.

    `xyz` holds one array of shape (3,) per point, NaN for none, or of shape (n, 3) per line; `m` of
    shape (n,) per line.
    """

    name: str
    kind: int
    crs: str
    fields: dict
    columns: dict
    xyz: list
    description: str
    m: list = None  # of each vertex of each line


def utc_text(seconds, zone=timezone.utc):
    """ISO 8601 text to the tenth of a second; None where there is no time."""

    def text(value):
        moment = datetime.fromtimestamp(round(value, 1), zone).isoformat(timespec="milliseconds")
        return moment.replace("+00:00", "Z")

    return [text(value) if np.isfinite(value) else None for value in seconds]


def _epochs(name, captures, fix, time, crs, description, **more):
    """Table of the epochs of some captures in the order of time of each walker."""
    walks = [capture.walk for capture in captures]
    rng = np.random.default_rng([port.SEED, sum(map(ord, name))])

    def join(attribute):
        return np.concatenate([getattr(walk, attribute) for walk in walks])

    def label(values):
        return np.repeat(values, [len(walk) for walk in walks]).tolist()

    code = join("fix")
    satellites = np.where(
        code == FIXED, rng.integers(14, 27, len(code)), rng.integers(6, 14, len(code))
    )
    columns = {
        time[0]: utc_text(join("seconds"), time[1]),
        "capture": label([walk.capture for walk in walks]),
        "walker": label([capture.walker for capture in captures]),
        fix: (
            code.tolist()
            if fix == "fix_quality"
            else [SOLUTION.get(one, "autonomous") for one in code.tolist()]
        ),
        "satellites": satellites.tolist(),
        "h_sigma": join("h_acc").tolist(),
        "v_sigma": join("v_acc").tolist(),
    }
    kinds = dict.fromkeys(columns, ogr.OFTString)
    kinds.update(satellites=ogr.OFTInteger, h_sigma=ogr.OFTReal, v_sigma=ogr.OFTReal)
    if fix == "fix_quality":
        kinds[fix] = ogr.OFTInteger
    for key, (low, high) in more.items():
        columns[key] = np.round(rng.uniform(low, high, len(code)), 2).tolist()
        kinds[key] = ogr.OFTReal
    xyz = np.column_stack([port.to_grid(np.column_stack([join("x"), join("y")])), join("z")])
    return Table(name, ogr.wkbPoint25D, crs, kinds, columns, list(xyz), description)


def _spots():
    """Table of the epochs of spot points."""
    made = port.spots()
    columns = {
        "utc": utc_text(made["seconds"]),
        "point": made["point"],
        "fix_quality": made["fix"].tolist(),
        "h_sigma": made["h_acc"].tolist(),
        "v_sigma": made["v_acc"].tolist(),
    }
    kinds = {
        "utc": ogr.OFTString,
        "point": ogr.OFTString,
        "fix_quality": ogr.OFTInteger,
        "h_sigma": ogr.OFTReal,
        "v_sigma": ogr.OFTReal,
    }
    return Table(
        "spot_points",
        ogr.wkbPoint25D,
        port.CRS,
        kinds,
        columns,
        list(np.column_stack([port.to_grid(made["xyz"][:, :2]), made["xyz"][:, 2]])),
        "Invented. Epochs of spot points on corners, the pole standing still on a bipod; one point"
        " was occupied again the next day.",
    )


def _streamed():
    """Table of the lines that were drawn while walking, the time of each vertex in M."""
    made, xyz, m = port.streamed(), [], []
    for walk in (capture.walk for capture in made):
        there = (walk.fix == FIXED) & np.isfinite(walk.x) & np.isfinite(walk.seconds)
        order = np.flatnonzero(there)[np.argsort(walk.seconds[there], kind="stable")]
        xyz.append(
            np.column_stack([port.to_grid(np.column_stack([walk.x, walk.y])[order]), walk.z[order]])
        )
        m.append(np.round(walk.seconds[order], 1))
    columns = {
        "capture": [f"{capture.day}-L{number}" for number, capture in enumerate(made, 1)],
        "walker": [capture.walker for capture in made],
    }
    return Table(
        "streamed_lines",
        ogr.wkbLineStringZM,
        port.CRS,
        dict.fromkeys(columns, ogr.OFTString),
        columns,
        xyz,
        "Invented. Lines whose vertices are the fixed epochs of a walk, M their time in seconds"
        " since 1970.",
        m,
    )


def tables():
    """The layers of the sample project, in the order in which they are written."""
    made = port.captures()
    by_layer = {
        name: [capture for capture in made if capture.layer == name]
        for name in ("captures_plumb", "captures_aimed", "captures_geographic")
    }
    utc, local = ("utc", timezone.utc), ("local_time", SUMMER_TIME)
    edges = port.edges()
    lines, corners, of_edge = [], [], []
    for name, truth in edges.items():
        points, _ = truth.polyline()
        lines.append(np.column_stack([port.to_grid(points[:, :2]), points[:, 2]]))
        corners.extend(np.column_stack([port.to_grid(truth.corners[:, :2]), truth.corners[:, 2]]))
        of_edge.extend([name] * len(truth.corners))
    old_names, fates, old_lines = port.basemap()
    check_names, checks = port.check_points()
    return [
        _epochs(
            "captures_plumb",
            by_layer["captures_plumb"],
            "fix_quality",
            utc,
            port.CRS,
            "Invented. Pole held plumb on the edge, one epoch a second, never released.",
        ),
        _epochs(
            "captures_aimed",
            by_layer["captures_aimed"],
            "solution",
            utc,
            port.CRS,
            "Invented. Pole tip aimed at the edge while walking; the trigger is released now and"
            " then.",
            aim_distance=(0.8, 2.6),
        ),
        _epochs(
            "captures_geographic",
            by_layer["captures_geographic"],
            "fix_quality",
            local,
            GEOGRAPHIC,
            "Invented. As captures_plumb, in degrees and local time.",
        ),
        Table(
            "truth",
            ogr.wkbLineString25D,
            port.CRS,
            {"edge": ogr.OFTString, "kind": ogr.OFTString, "ground_length": ogr.OFTReal},
            {
                "edge": list(edges),
                "kind": [truth.kind for truth in edges.values()],
                "ground_length": [round(truth.length, 4) for truth in edges.values()],
            },
            lines,
            "Invented. The true edges, within 1 mm; ground_length in metres on the ground.",
        ),
        Table(
            "truth_corners",
            ogr.wkbPoint25D,
            port.CRS,
            {"edge": ogr.OFTString},
            {"edge": of_edge},
            corners,
            "Invented. The true corners.",
        ),
        Table(
            "basemap",
            ogr.wkbLineString,
            port.CRS,
            {"name": ogr.OFTString, "fate": ogr.OFTString},
            {"name": old_names, "fate": fates},
            [
                np.column_stack([port.to_grid(line), np.full(len(line), np.nan)])
                for line in old_lines
            ],
            "Invented. Legacy lines, digitised long ago; fate says what became of them since, which"
            " no real basemap would.",
        ),
        Table(
            "check_points",
            ogr.wkbPoint25D,
            port.CRS,
            {"name": ogr.OFTString},
            {"name": check_names},
            list(np.column_stack([port.to_grid(checks[:, :2]), checks[:, 2]])),
            f"Invented. Points on edges from an independent survey, 1-sigma {port.CHECK_SIGMA} m in"
            " each axis.",
        ),
        _spots(),
        _streamed(),
    ]


def _spatial_reference(name):
    reference = osr.SpatialReference()
    reference.SetFromUserInput(name)
    reference.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
    return reference


def _geometry(xyz, transform, decimals, m=None):
    xyz = np.atleast_2d(xyz)
    if not np.isfinite(xyz[:, :2]).all():
        return None
    if transform is not None:
        xyz = np.column_stack(
            [np.array(transform.TransformPoints(xyz[:, :2].tolist()))[:, :2], xyz[:, 2]]
        )
    if np.isnan(xyz[:, 2]).all() and len(xyz) > 1:  # drawn without heights
        flat = ogr.Geometry(ogr.wkbLineString)
        for point in np.round(xyz[:, :2], decimals).tolist():
            flat.AddPoint_2D(*point)
        return flat
    xyz = np.column_stack([np.round(xyz[:, :2], decimals), np.round(xyz[:, 2], 4)])
    if len(xyz) == 1:
        geometry = ogr.Geometry(ogr.wkbPoint25D)
        geometry.AddPoint(*xyz[0].tolist())
        return geometry
    geometry = ogr.Geometry(ogr.wkbLineString25D if m is None else ogr.wkbLineStringZM)
    for point in (xyz if m is None else np.column_stack([xyz, m])).tolist():
        (geometry.AddPoint if m is None else geometry.AddPointZM)(*point)
    return geometry


def _write(dataset, table):
    home, target = _spatial_reference(port.CRS), _spatial_reference(table.crs)
    transform = None if table.crs == port.CRS else osr.CoordinateTransformation(home, target)
    decimals = 9 if table.crs == GEOGRAPHIC else 4  # a tenth of a millimetre
    layer = dataset.CreateLayer(
        table.name, target, table.kind, ["GEOMETRY_NAME=geom", f"DESCRIPTION={table.description}"]
    )
    for name, kind in table.fields.items():
        layer.CreateField(ogr.FieldDefn(name, kind))
    for row, xyz in enumerate(table.xyz):
        feature = ogr.Feature(layer.GetLayerDefn())
        for name, values in table.columns.items():
            if values[row] is not None:
                feature.SetField(name, values[row])
        feature.SetGeometry(
            _geometry(xyz, transform, decimals, None if table.m is None else table.m[row])
        )
        layer.CreateFeature(feature)


def log():
    """What the receiver would have logged on one of the walks, bytes."""
    walk = next(
        capture.walk
        for capture in port.captures()
        if (capture.edge, capture.day) == (receiver_log.EDGE, receiver_log.DAY)
    )
    xy = port.to_grid(np.column_stack([walk.x, walk.y]))
    there = np.isfinite(xy).all(axis=1)
    degrees = np.full((len(xy), 2), np.nan)
    to_degrees = osr.CoordinateTransformation(
        _spatial_reference(port.CRS), _spatial_reference(GEOGRAPHIC)
    )
    degrees[there] = np.array(to_degrees.TransformPoints(xy[there].tolist()))[:, :2]
    return receiver_log.log_of(
        walk, degrees[:, 1], degrees[:, 0], np.random.default_rng([port.SEED, 5])
    )


def build(target=TARGET):
    """Write the GeoPackage, and the log beside it, over any older ones."""
    target = Path(target)
    target.parent.mkdir(parents=True, exist_ok=True)
    target.unlink(missing_ok=True)
    before = gdal.GetUseExceptions(), gdal.GetConfigOption("OGR_CURRENT_DATE")
    gdal.UseExceptions()
    gdal.SetConfigOption("OGR_CURRENT_DATE", LAST_CHANGE)
    try:
        dataset = gdal.GetDriverByName("GPKG").Create(str(target), 0, 0, 0, gdal.GDT_Unknown)
        for table in tables():
            dataset.StartTransaction()
            _write(dataset, table)
            dataset.CommitTransaction()
        dataset = None
        target.with_name(LOG).write_bytes(log())
    finally:
        gdal.SetConfigOption("OGR_CURRENT_DATE", before[1])
        if not before[0]:
            gdal.DontUseExceptions()
    return target


def main(arguments):
    """Build, and say what came of it."""
    if len(arguments) > 1:
        raise SystemExit("usage: build.py [FILE]")
    target = build(*arguments)
    dataset = gdal.OpenEx(str(target), gdal.OF_VECTOR)
    for index in range(dataset.GetLayerCount()):
        layer = dataset.GetLayer(index)
        print(f"{layer.GetName():20} {layer.GetFeatureCount():6,} features")
    for path in (target, target.with_name(LOG)):
        print(f"{path} ({path.stat().st_size / 1e6:.2f} MB)")


if __name__ == "__main__":
    main(sys.argv[1:])
