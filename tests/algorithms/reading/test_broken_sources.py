"""A source that ends before it has given all that it promised is an error, however it is read."""

import time

import pytest
from linelayers import line_layer, straight
from qgis.core import QgsFeatureRequest, QgsProcessingException, QgsVectorLayer
from qgis.core import QgsProcessingFeatureSourceDefinition as Definition
from walkedlayers import Log, layer_of, run, source_of, to_file, walk

from curbwright.algorithms.host.feedback import CancelledError
from curbwright.algorithms.reading.features import iterate
from curbwright.algorithms.reading.layer_rows import read_rows
from curbwright.algorithms.reading.layer_stream import file_behind

pytestmark = pytest.mark.usefixtures("provider")
PAGE = 4096


@pytest.fixture(scope="module")
def damaged(tmp_path_factory, provider):
    """A GeoPackage of 6,000 epochs, eight pages of which were overwritten."""
    path = tmp_path_factory.mktemp("damaged") / "day.gpkg"
    to_file(layer_of(walk(captures=100)), path, layerName="walk")
    data = bytearray(path.read_bytes())
    middle = len(data) // 2 // PAGE * PAGE
    data[middle : middle + 8 * PAGE] = bytes(8 * PAGE)
    path.write_bytes(data)
    return path


@pytest.mark.parametrize("by_arrow", [True, False])
@pytest.mark.parametrize("algorithm", ["reconstructedges", "screenepochs"])
def test_a_damaged_geopackage_is_an_error_and_ends(damaged, algorithm, by_arrow):
    source = f"{damaged}|layername=walk"
    if not by_arrow:
        source = Definition(source, False, 100_000)
    start = time.monotonic()
    with pytest.raises(QgsProcessingException) as raised:
        run(algorithm, {"INPUT": source, "OUTPUT": "memory:"})
    assert time.monotonic() - start < 30.0
    for piece in ("of 6000 rows", "broke off", "malformed", "whole"):
        assert piece in str(raised.value)


def test_a_damaged_geopackage_can_be_cancelled(damaged):
    layer = QgsVectorLayer(f"{damaged}|layername=walk", "walk", "ogr")
    log = Log()
    log.cancel()
    with pytest.raises(CancelledError):
        read_rows(source_of(layer), file_behind(layer, layer), [], log, lambda share: None)


@pytest.fixture
def quay():
    return layer_of(walk())


class Ending:
    """A source that gives fewer rows than it promises."""

    def __init__(self, source, promised, again):
        self.source, self.promised, self.left = source, promised, [None, again]

    def __getattr__(self, name):
        return getattr(self.source, name)

    def featureCount(self):
        return self.promised

    def getFeatures(self, request, flag):
        rows = self.left.pop(0)
        for number, feature in enumerate(self.source.getFeatures(request, flag)):
            if rows is not None and number >= rows:
                return
            yield feature


@pytest.mark.parametrize(
    ("promised", "again", "fine"),
    [
        pytest.param(120, None, True, id="as promised"),
        pytest.param(-1, None, True, id="nobody knows how many"),
        pytest.param(150, None, True, id="roughly counted"),
        pytest.param(90, None, True, id="rows were added"),
        pytest.param(150, 119, False, id="broke off at another place"),
        pytest.param(150, 0, False, id="gone"),
    ],
)
def test_rows_read_are_counted_against_rows_promised(promised, again, fine, quay):
    source = Ending(source_of(quay), promised, again)
    if fine:
        assert sum(1 for _ in iterate(source, QgsFeatureRequest())) == 120
    else:
        with pytest.raises(QgsProcessingException, match="“quay walk” gave 120 of 150 rows"):
            list(iterate(source, QgsFeatureRequest()))


def test_rows_that_broke_off_after_more_than_was_counted_are_missed(quay):
    source = Ending(source_of(quay), 90, None)
    source.left[0] = 100
    with pytest.raises(QgsProcessingException, match="“quay walk” gave 100 of 120 rows"):
        list(iterate(source, QgsFeatureRequest()))


def test_what_asks_for_some_rows_only_is_not_counted(quay):
    source = Ending(source_of(quay), 10**6, 0)
    assert len(list(iterate(source, QgsFeatureRequest().setLimit(3)))) == 3


def test_lines_of_a_damaged_file_are_an_error(tmp_path):
    path = tmp_path / "lines.gpkg"
    to_file(line_layer([straight(3.0 * row) for row in range(3000)]), path)
    data = bytearray(path.read_bytes())
    middle = len(data) // 3 // PAGE * PAGE
    data[middle : middle + 8 * PAGE] = bytes(8 * PAGE)
    path.write_bytes(data)
    for names in ("INPUT", "EXISTING"):
        given = {"INPUT": line_layer([straight(0.1)]), "EXISTING": line_layer([straight(0.0)])}
        with pytest.raises(QgsProcessingException, match="lines.* broke off"):
            run("estimateshift", {**given, names: str(path), "OUTPUT": "memory:"})
