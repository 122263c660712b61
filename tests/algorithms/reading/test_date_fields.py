"""Date-times keep their digits in any time zone: all is checked in a process with `TZ` set."""

import pytest
from otherprocess import STARTED, run_code

LONG = pytest.mark.long  # each zone takes a QGIS of its own
# Instants that are traps: milliseconds, the hour that New York skips in spring (2026-03-08 02:00 to
# 03:00 local digits), the hour that comes twice in autumn, and a day that differs from UTC's.
SECONDS = "[1777888800.25, 1772937000.0, 1793512200.0, 1777939199.0]"

PRELUDE = f"""{STARTED}
import numpy as np
from qgis.core import QgsVectorLayer
from qgis.PyQt.QtCore import QDateTime, Qt
from walkedlayers import *
SECONDS = {SECONDS}
folder = sys.argv[1]
"""

BACK = """
# edges to a GeoPackage and back: the digits are those of UTC, whatever the process's zone
for start in SECONDS:
    rows = [{**row, "seconds": start + index} for index, row in enumerate(walk(captures=1)[:20])]
    path = f"{folder}/{start:.0f}.gpkg"
    result = run("reconstructedges", {"INPUT": layer_of(rows), "OUTPUT": path})
    assert result["EDGES"] == 1, result
    edge = table(QgsVectorLayer(path, "edges", "ogr"))[0]
    for name, seconds in (("started", start), ("ended", start + 19)):
        assert edge[name + "_unix"] == seconds
        when = edge[name]
        digits = when.date().toString("yyyy-MM-dd") + "T" + when.time().toString("HH:mm:ss")
        assert digits == iso(seconds, "")[:19], (digits, iso(seconds), when.timeSpec())
    result = run("reconstructedges", {"INPUT": layer_of(rows), "OUTPUT": "memory:"})
    started = table(result["OUTPUT"])[0]["started"]
    assert started.toMSecsSinceEpoch() == round(start * 1000)
"""

IN = """
# date-time fields in: from memory and from a file, streamed or by features, the same instants
from curbwright.algorithms.reading.layer_rows import read_rows
from curbwright.algorithms.reading.layer_stream import file_behind
from qgis.core import QgsProcessingFeedback
from osgeo import ogr, osr

def read(layer, by_features=False):
    file = None if by_features else file_behind(layer, layer)
    feedback = QgsProcessingFeedback()
    rows = read_rows(source_of(layer), file, ["at"], feedback, lambda share: None)
    return rows.way, (rows.columns["at"].values - np.datetime64(0, "ms")) / np.timedelta64(1, "s")

rows = [{"x": 1.0, "y": 2.0, "z": 3.0, "seconds": seconds} for seconds in SECONDS]
def moment(seconds, spec, *offset):
    return QDateTime.fromMSecsSinceEpoch(round(seconds * 1000), spec, *offset)

def in_utc(seconds):
    return moment(seconds, Qt.TimeSpec.UTC)

def seven_hours_behind(seconds):
    return moment(seconds, Qt.TimeSpec.OffsetFromUTC, -7 * 3600)

def without_zone(seconds):
    return QDateTime(in_utc(seconds).date(), in_utc(seconds).time(), Qt.TimeSpec.LocalTime)

for made in (in_utc, seven_hours_behind, without_zone):
    layer = layer_of(
        rows, fields=(("at", "datetime"),), values=lambda row: [made(row["seconds"])]
    )
    way, seconds = read(layer)
    assert (way, seconds.tolist()) == ("features", SECONDS), (way, seconds.tolist())

reference = osr.SpatialReference()
reference.ImportFromEPSG(32632)
data = ogr.GetDriverByName("GPKG").CreateDataSource(f"{folder}/in.gpkg")
made = data.CreateLayer("in", reference, ogr.wkbPoint25D)
made.CreateField(ogr.FieldDefn("at", ogr.OFTDateTime))
for seconds in SECONDS:
    feature = ogr.Feature(made.GetLayerDefn())
    feature.SetGeometry(ogr.CreateGeometryFromWkt("POINT Z (1 2 3)"))
    feature.SetField("at", iso(seconds).replace("-", "/").replace("T", " ").replace("Z", "+00"))
    made.CreateFeature(feature)
made = data = None
layer = QgsVectorLayer(f"{folder}/in.gpkg|layername=in", "in", "ogr")
for by_features in (False, True):
    way, seconds = read(layer, by_features)
    assert seconds.tolist() == SECONDS, (way, seconds.tolist())
    streamed = not by_features and hasattr(ogr.Layer, "GetArrowStreamAsNumPy")
    assert way == ("arrow" if streamed else "features")
print("done")
"""


@pytest.mark.one_host
@pytest.mark.parametrize(
    "zone",
    # east of Greenwich `test_readnmealog.py` looks, in the short run
    ["America/New_York", *(pytest.param(zone, marks=LONG) for zone in ("Asia/Kolkata", "UTC"))],
)
def test_digits_in_any_time_zone(zone, tmp_path):
    done = run_code(PRELUDE + BACK + IN, tmp_path, tmp_path, TZ=zone)
    assert done.returncode == 0 and done.stdout.endswith("done\n"), done.stderr[-3000:]
