"""Date-times keep their digits in any time zone: each check runs in a process of its own with `TZ`
set."""

import os
import subprocess
import sys
from pathlib import Path

import pytest

FOLDER = Path(__file__).parents[1]
# Instants that are traps: milliseconds, the hour that New York skips in spring (2026-03-08 02:00 to
# 03:00 local digits), the hour that comes twice in autumn, and a day that differs from UTC's.
SECONDS = "[1777888800.25, 1772937000.0, 1793512200.0, 1777939199.0]"

PRELUDE = f"""
import sys
sys.path[:0] = [{str(FOLDER)!r}, {str(FOLDER.parent)!r}, "/usr/share/qgis/python/plugins", "/usr/share/qgis/python"]
import conftest
from qgis.core import QgsApplication
application = QgsApplication([], False)
application.initQgis()
from processing.core.Processing import Processing
Processing.initialize()
plugin = sys.modules["curbwright"].classFactory(None)
plugin.initProcessing()
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
    memory = table(run("reconstructedges", {"INPUT": layer_of(rows), "OUTPUT": "memory:"})["OUTPUT"])[0]
    assert memory["started"].toMSecsSinceEpoch() == round(start * 1000)
"""

IN = """
# date-time fields in: from memory and from a file, streamed or feature by feature, the same instants
from curbwright.algorithms.reading.columns import file_behind, read_rows
from qgis.core import QgsProcessingFeedback
from osgeo import ogr, osr

def read(layer, by_features=False):
    rows = read_rows(source_of(layer), None if by_features else file_behind(layer, layer), ["at"], QgsProcessingFeedback(), lambda share: None)
    return rows.way, (rows.columns["at"].values - np.datetime64(0, "ms")) / np.timedelta64(1, "s")

rows = [{"x": 1.0, "y": 2.0, "z": 3.0, "seconds": seconds} for seconds in SECONDS]
def moment(seconds, spec, *offset):
    return QDateTime.fromMSecsSinceEpoch(round(seconds * 1000), spec, *offset)

utc = layer_of(rows, fields=(("at", "datetime"),), values=lambda row: [moment(row["seconds"], Qt.TimeSpec.UTC)])
offset = layer_of(rows, fields=(("at", "datetime"),), values=lambda row: [moment(row["seconds"], Qt.TimeSpec.OffsetFromUTC, -7 * 3600)])
bare = layer_of(rows, fields=(("at", "datetime"),), values=lambda row: [
    QDateTime(moment(row["seconds"], Qt.TimeSpec.UTC).date(), moment(row["seconds"], Qt.TimeSpec.UTC).time(), Qt.TimeSpec.LocalTime)])
for layer in (utc, offset, bare):
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
    assert way == ("features" if by_features or not hasattr(ogr.Layer, "GetArrowStreamAsNumPy") else "arrow")
"""


@pytest.mark.parametrize("zone", ["America/New_York", "Asia/Kolkata", "UTC"])
@pytest.mark.parametrize("script", [BACK, IN], ids=["out", "in"])
def test_digits_in_any_time_zone(zone, script, tmp_path):
    environment = dict(
        os.environ, TZ=zone, QT_QPA_PLATFORM="offscreen", QGIS_CUSTOM_CONFIG_PATH=str(tmp_path)
    )
    done = subprocess.run(
        [sys.executable, "-c", PRELUDE + script, str(tmp_path)],
        env=environment,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr[-3000:]
