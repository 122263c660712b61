"""What a run wrote, and what was changed since."""

import sqlite3
from contextlib import closing

from osgeo import ogr

from curbwright.algorithms.batch import run_state


def test_a_view_in_the_place_of_a_layer_is_no_layer(tmp_path):
    """Nobody changed rows in it: the layer is gone."""
    path = tmp_path / "results.gpkg"
    made = ogr.GetDriverByName("GPKG").CreateDataSource(str(path))
    for name in ("edges", "gaps"):
        layer = made.CreateLayer(name, geom_type=ogr.wkbLineString)
        layer.CreateField(ogr.FieldDefn("remark", ogr.OFTString))
        layer.CreateFeature(ogr.Feature(layer.GetLayerDefn()))
    del layer, made
    run_state.remember(path, ["edges", "gaps"])
    assert not any(run_state.changes(path))
    with closing(sqlite3.connect(str(path))) as database, database:
        database.execute("DROP TABLE gaps")
        database.execute("CREATE VIEW gaps AS SELECT * FROM edges")
    edges, gaps = run_state.changes(path)
    assert gaps.is_gone and not gaps.deleted and not edges
    assert run_state.rows_of(path, "gaps") == [] and len(run_state.rows_of(path, "edges")) == 1
