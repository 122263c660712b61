"""Errors of GDAL are heard; a call that cannot be stopped is not waited for."""

import re
import threading
import time
from itertools import permutations
from pathlib import Path

import pytest
from osgeo import gdal, ogr, osr
from qgis.core import QgsFeedback, QgsProcessingException
from walkedlayers import layer_of, run, to_file, walk

from curbwright.algorithms.host import watching
from curbwright.algorithms.host.feedback import CancelledError


@pytest.fixture(params=[False, True], ids=["silent", "raising"])
def gdal_raises(request):
    """Whether GDAL raises errors, as another plugin may have set it."""
    before = gdal.GetUseExceptions()
    (gdal.UseExceptions if request.param else gdal.DontUseExceptions)()
    yield request.param
    (gdal.UseExceptions if before else gdal.DontUseExceptions)()


def test_errors_of_the_driver_are_heard_and_the_handler_goes(gdal_raises):
    with watching.listening() as said:
        assert gdal.OpenEx("/no/such/file.gpkg", gdal.OF_VECTOR | gdal.OF_VERBOSE_ERROR) is None
    assert said and "/no/such/file.gpkg" in said[0]
    with watching.listening() as said:
        pass
    assert said == []
    assert bool(gdal.GetUseExceptions()) == gdal_raises


def test_cancelling_does_not_wait_for_a_call_that_cannot_be_stopped():
    feedback, done = QgsFeedback(), threading.Event()
    threading.Timer(0.2, feedback.cancel).start()
    start = time.monotonic()
    with pytest.raises(CancelledError):
        watching.in_background(lambda: done.wait(20.0), feedback)
    assert time.monotonic() - start < 1.0
    done.set()


def test_a_call_in_the_background_gives_its_result_or_its_error():
    assert watching.in_background(lambda: 7, QgsFeedback()) == 7
    for error in (KeyError, TimeoutError):

        def fail(error=error):
            raise error("why")

        with pytest.raises(error):
            watching.in_background(fail, QgsFeedback())


def test_files_are_opened_in_one_place():
    """Elsewhere a file that cannot be opened is a traceback where GDAL was told to raise."""
    root = Path(__file__).resolve().parents[3]
    calls = [
        str(path.relative_to(root))
        for folder in ("algorithms", "plugin")
        for path in sorted((root / folder).rglob("*.py"))
        if re.search(r"\b(gdal|ogr)\.Open", path.read_text(encoding="utf-8"))
    ]
    assert calls == ["algorithms/host/watching.py"]


def test_a_file_that_cannot_be_opened_is_none(gdal_raises, tmp_path):
    (tmp_path / "a.gpkg").write_text("no GeoPackage")
    assert watching.open_file(tmp_path / "a.gpkg") is None
    assert bool(gdal.GetUseExceptions()) == gdal_raises


@pytest.mark.parametrize("module", [gdal, ogr, osr], ids=lambda module: module.__name__[6:])
def test_nothing_of_gdal_raises_during_a_run(module):
    before = module.GetUseExceptions()
    module.UseExceptions()
    try:
        with watching.without_raising():
            assert not module.GetUseExceptions()
        assert module.GetUseExceptions()
    finally:
        if not before:
            module.DontUseExceptions()


@pytest.mark.parametrize("order", list(permutations((gdal, ogr, osr))))
def test_nothing_of_gdal_raises_whatever_was_told_to_first(order):
    """GDAL 3.6 takes that back from the last to the first alone."""
    told = [module for module in order if not module.GetUseExceptions()]
    for module in told:
        module.UseExceptions()
    try:
        with watching.without_raising():
            assert not any(module.GetUseExceptions() for module in order)
        assert all(module.GetUseExceptions() for module in order)
    finally:
        for module in reversed(told):
            module.DontUseExceptions()


@pytest.mark.usefixtures("provider")
def test_runs_are_the_same_where_gdal_raises(gdal_raises, tmp_path):
    walked = to_file(layer_of(walk()), tmp_path / "walk.gpkg")
    (tmp_path / "broken.gpkg").write_text("no GeoPackage")
    for target, missing in (("edges.gpkg", ""), ("broken.gpkg", ""), ("no/edges.gpkg", "no")):
        given = {"INPUT": walked, "OUTPUT": str(tmp_path / target)}
        if missing:
            with pytest.raises(QgsProcessingException, match="there is no folder"):
                run("reconstructedges", given)
        else:
            assert run("reconstructedges", given)["EDGES"] == 4
    given = {"LAYERS": [walked, str(tmp_path / "gone.gpkg")], "FOLDER": str(tmp_path / "out")}
    assert run("processcaptures", {**given, "LOAD_RESULTS": False})["EDGES"] == 4
    assert bool(gdal.GetUseExceptions()) == gdal_raises
