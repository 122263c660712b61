"""Errors of GDAL are heard; a call that cannot be stopped is not waited for."""

import threading
import time

import pytest
from osgeo import gdal
from qgis.core import QgsFeedback

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
