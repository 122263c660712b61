"""Results of a run made by hand, with as many edges as wanted, to try a review on."""

import json

import numpy as np
from osgeo import ogr, osr

from curbwright.shared.epochs.reasons import REASON_NAMES

CRS, ORIGIN = 32631, (500_000.0, 5_700_000.0)
LENGTH, APART = 40.0, 25.0  # m
DAYS = ("2025-05-13", "2025-05-14")
START = 1_747_120_860.0  # s
STATUSES = ("displaced", "only_new", "agrees", "partly")
DECISIONS = (
    ("decision", ogr.OFTString), ("remark", ogr.OFTString), ("decided_by", ogr.OFTString),
    ("decided_at", ogr.OFTDateTime),
)  # fmt: skip
TEXT, WHOLE, REAL, TIME = ogr.OFTString, ogr.OFTInteger64, ogr.OFTReal, ogr.OFTDateTime
LINE_FIELDS = (
    ("layer", TEXT), ("edge_id", WHOLE), ("capture", TEXT), ("started", TIME), ("ended", TIME),
    ("started_unix", REAL), ("ended_unix", REAL), ("length", REAL), ("sigma_cross", REAL),
    ("sigma_up", REAL), ("epochs_used", WHOLE),
)  # fmt: skip
COMPARED = (
    ("status", TEXT), ("line_id", WHOLE), ("moved", REAL), ("offset_median", REAL),
    ("allowed", REAL), ("matched_share", REAL), ("visited_share", REAL),
)  # fmt: skip


def place(number):
    """Start of an edge, on a grid of a hundred columns."""
    return ORIGIN[0] + 60.0 * (number % 100), ORIGIN[1] + APART * (number // 100)


def make_results(folder, edges=12, epochs=20):
    """Write a `curbwright.gpkg` as a run leaves it.

    Every fourth edge is displaced (by 1 m and a millimetre for each edge), the next one new, the
    third as it was, the fourth matched in part. Edge 3 has three doubtful epochs, edge 4 an
    unconfirmed one as well; the first day is off on control.
    """
    path = str(folder / "curbwright.gpkg")
    data = ogr.GetDriverByName("GPKG").CreateDataSource(path)
    reference = osr.SpatialReference()
    reference.ImportFromEPSG(CRS)
    data.StartTransaction()

    def table(name, form, fields):
        layer = data.CreateLayer(name, reference if form != ogr.wkbNone else None, form)
        for field, kind in fields:
            layer.CreateField(ogr.FieldDefn(field, kind))
        return layer

    _edges(table("edges", ogr.wkbLineString25D, (*LINE_FIELDS, *DECISIONS)), edges, False)
    _edges(
        table("comparison", ogr.wkbLineString25D, (*LINE_FIELDS, *COMPARED, *DECISIONS)),
        edges, True,
    )  # fmt: skip
    _existing(table("existing_status", ogr.wkbLineString,
                    (("name", TEXT), *COMPARED, *DECISIONS)))  # fmt: skip
    _kept(
        table("kept", ogr.wkbPoint25D, (("layer", TEXT), ("utc", TEXT), ("capture", TEXT),
              ("edge_id", WHOLE), ("chainage", REAL), ("residual_cross", REAL),
              ("residual_up", REAL), ("role", TEXT))),
        edges, epochs,
    )  # fmt: skip
    _rejected(table("rejected", ogr.wkbPoint25D, (("layer", TEXT), ("capture", TEXT),
              ("reason", TEXT), ("detail", TEXT), ("epoch_unix_seconds", REAL))))  # fmt: skip
    _stations(table("stations", ogr.wkbPoint, (("existing_id", WHOLE), ("edge_line_id", WHOLE),
              ("chainage", REAL), ("edge_chainage", REAL), ("offset", REAL),
              ("allowed", REAL))))  # fmt: skip
    log = table("run_log", ogr.wkbNone, (("section", TEXT), ("name", TEXT), ("value", TEXT)))
    off = {"plan": 0.25, "up": 0.01, "sigma": 0.006, "sigma_up": 0.008, "layers": ["walk"]}
    _add(log, None, ("control", DAYS[0], json.dumps(off)))
    data.CommitTransaction()
    return path


def _add(layer, wkt, values):
    feature = ogr.Feature(layer.GetLayerDefn())
    if wkt:
        feature.SetGeometry(ogr.CreateGeometryFromWkt(wkt))
    for number, value in enumerate(values):
        if value is not None:
            feature.SetField(number, value)
    assert layer.CreateFeature(feature) == ogr.OGRERR_NONE


def _edges(layer, count, compared):
    for number in range(count):
        x, y = place(number)
        day = DAYS[number % 2]
        start = START + 100 * number
        values = [
            "walk", number + 1, f"c{number // 2}", f"{day} 10:00:00", f"{day} 10:01:00", start,
            start + 40, LENGTH, 0.005, 0.008, 20,
        ]  # fmt: skip
        if compared:
            status = STATUSES[number % 4]
            moved = 1 + number / 1000 if status == "displaced" else 0.01
            values += [status, number + 1, moved, moved / 2, 0.1, 0.5, 1.0]
        wkt = f"LINESTRING Z ({x} {y} 3, {x + LENGTH / 2} {y} 3.5, {x + LENGTH} {y} 4)"
        _add(layer, wkt, values)


def _existing(layer):
    for number, (name, status) in enumerate((("old fence", "only_existing"), ("quay", "agrees"))):
        x, y = ORIGIN[0], ORIGIN[1] - 20 - 5 * number
        wkt = f"LINESTRING ({x} {y}, {x + 30} {y})"
        _add(layer, wkt, (name, status, number + 1, None, None, 0.1, None, 1.0))


def _kept(layer, edges, epochs):
    rng = np.random.default_rng(1)
    for number in range(min(edges, 12)):
        x, y = place(number)
        for step in range(epochs):
            along = LENGTH * step / max(epochs - 1, 1)
            across = float(rng.normal(0, 0.01))
            role = "doubtful" if number in (2, 3) and step < 3 else "single"
            _add(
                layer,
                f"POINT Z ({x + along} {y - across} {3 + along / 40})",
                ("walk", f"2025-05-13T10:00:{step % 60:02d}Z", f"c{number // 2}", number + 1,
                 along, across, 0.002, role),
            )  # fmt: skip


def _rejected(layer):
    """Near edge 4 (capture c1) one of each reason that has a place."""
    x, y = place(3)
    for number, reason in enumerate(name for name in REASON_NAMES if name):
        _add(
            layer,
            f"POINT Z ({x + 3 * number} {y + 0.1 * number} 3.2)",
            ("walk", "c1", reason, f"why {reason}", START + 300 + number),
        )


def _stations(layer):
    for number in range(4):
        x, y = place(number)
        for step in range(0, 41, 2):
            offset = 0.5 if number == 0 and step > 20 else 0.02
            _add(layer, f"POINT ({x + step} {y})",
                 (number + 1, number + 1, float(step), float(step), offset, 0.1))  # fmt: skip
