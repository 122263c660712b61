"""The same walks in two layers of one run."""

import pytest
from batchruns import in_degrees, moved, process
from walkedlayers import Log, layer_of, walk

from curbwright.algorithms.batch.copies import Copies

pytestmark = pytest.mark.usefixtures("provider", "without_figures", "without_styles")


def test_a_copy_in_another_crs_is_said_and_other_walks_are_not(tmp_path):
    rows = walk(captures=1)
    log = Log()
    layers = [
        layer_of(rows, name="monday"),
        layer_of(moved(rows, 40.0), name="beside"),
        layer_of(moved(rows, 0.0, 9000.0), name="tuesday"),
        in_degrees(rows, name="exported"),
    ]
    process(layers, tmp_path, log, WRITE_EPOCHS=False)
    said = [text for text in log.warnings if "hold the same walks" in text]
    assert len(said) == 1 and said[0].startswith("“monday” and “exported”")


def test_edges_without_times_are_no_copies():
    from qgis.core import QgsCoordinateTransform, QgsFeature, QgsFields

    from curbwright.algorithms.host.fields import field

    fields = QgsFields()
    for name in ("capture", "started_unix", "ended_unix", "epochs_used"):
        fields.append(field(name, "QString" if name == "capture" else "Double"))
    copies, edges = Copies(), [QgsFeature(fields)]
    for name in ("one", "other"):
        assert copies.of(name, edges, QgsCoordinateTransform()) == []
