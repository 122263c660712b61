"""Results in a data base that the host's dialogue offers, beside GeoPackage and PostGIS."""

import pytest
from osgeo import ogr
from qgis.core import QgsVectorLayer
from walkedlayers import layer_of, run, walk

pytestmark = pytest.mark.usefixtures("provider")


def test_a_table_of_spatialite_takes_edges(tmp_path):
    """It knows no yes and no: `closed` is 1 or 0 there."""
    path, stream = tmp_path / "survey.sqlite", layer_of(walk(captures=2))
    made = ogr.GetDriverByName("SQLite").CreateDataSource(str(path), ["SPATIALITE=YES"])
    del made  # closes it
    uri = f"dbname='{path}' table=\"edges\" (geom)"
    result = run("reconstructedges", {"INPUT": stream, "OUTPUT": f"spatialite://{uri}"})
    edges = QgsVectorLayer(uri, "edges", "spatialite")
    assert edges.isValid() and edges.featureCount() == result["EDGES"] > 1
    assert {row["closed"] for row in edges.getFeatures()} == {0}
