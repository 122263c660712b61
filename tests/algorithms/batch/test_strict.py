"""Runs that end with an error where not all was done."""

import pytest
from batchruns import process, rows_of
from qgis.core import QgsProcessingException
from walkedlayers import layer_of, walk

pytestmark = pytest.mark.usefixtures("provider", "without_figures", "without_styles")


def test_strict_fails_after_the_others_are_written(tmp_path):
    layers = [layer_of(walk()), str(tmp_path / "missing.gpkg")]
    out = tmp_path / "out"
    with pytest.raises(QgsProcessingException, match="missing.gpkg.*cannot be opened"):
        process(layers, out, STRICT=True)
    assert {row["layer"] for row in rows_of(out, "edges")} == {"quay walk"}
    assert [row["state"] for row in rows_of(out, "summary")][:2] == ["done", "failed"]
    assert (out / "report.html").exists()


def test_strict_fails_where_a_stage_failed(tmp_path):
    control = layer_of([], name="control")
    with pytest.raises(QgsProcessingException, match="“control”"):
        process([layer_of(walk())], tmp_path, STRICT=True, CONTROL=control)
    assert rows_of(tmp_path, "edges")


def test_strict_passes_where_all_was_done(tmp_path):
    assert process([layer_of(walk())], tmp_path, STRICT=True)["LAYERS_DONE"] == 1


def test_not_strict_by_default(tmp_path):
    layers = [layer_of(walk()), str(tmp_path / "missing.gpkg")]
    assert process(layers, tmp_path / "out")["LAYERS_FAILED"] == 1
