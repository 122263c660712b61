"""Work in the background: nothing of it is left when QGIS is left."""

import ast
import sys
import threading
import time

import pytest
from otherprocess import STARTED, run_code
from qgis.core import QgsTask

from curbwright.algorithms.host.feedback import raise_if_cancelled
from curbwright.plugin.review import tasks


def until(fine, qgis_app, seconds=10.0):
    """Let the host go on until something is true."""
    end = time.monotonic() + seconds
    while not fine() and time.monotonic() < end:
        qgis_app.processEvents()
        time.sleep(0.01)
    return fine()


def test_the_end_waits_for_threads_and_asks_nobody(qgis_app):
    begun, left, heard = threading.Event(), threading.Event(), []

    def work(feedback):
        begun.set()
        try:
            while True:
                raise_if_cancelled(feedback)
                time.sleep(0.01)
        finally:
            time.sleep(0.1)
            left.set()

    one = tasks.start("reading", work, heard.append, heard.append)
    assert one.flags() & QgsTask.Flag.CancelWithoutPrompt
    assert begun.wait(10.0)
    tasks.end()
    assert left.is_set()
    assert until(lambda: not tasks._held, qgis_app) and heard == []


def test_the_end_of_work_that_has_not_begun(qgis_app):
    heard = []
    some = [tasks.start("reading", heard.append, heard.append, heard.append) for _ in range(20)]
    tasks.end()
    before = list(heard)
    assert until(lambda: not tasks._held, qgis_app)
    assert heard == before and len(some) == 20


POOL = (
    STARTED
    + """
import threading, time
from qgis.core import QgsTask
from curbwright.plugin.review import tasks
from curbwright.shared.report import plots

who = []
class Listening:
    def find_spec(self, name, path, target=None):
        if name in ("scipy.spatial", "matplotlib.figure"):
            who.append((name, threading.current_thread().name))
sys.meta_path.insert(0, Listening())
over = []
tasks.start("reading", lambda feedback: plots.available(), over.append, over.append)
end = time.monotonic() + 60
while not over and time.monotonic() < end:
    application.processEvents()
    time.sleep(0.01)
print((over, who))
"""
)


@pytest.mark.skipif(sys.platform == "win32", reason="starts Debian's QGIS")
def test_no_thread_of_the_pool_is_the_first_to_load_what_keeps_its_mark(tmp_path):
    """Else the second such package that a thread of the pool loads may end QGIS."""
    done = run_code(POOL, tmp_path)
    assert done.returncode == 0, done.stderr[-2000:]
    over, who = ast.literal_eval(done.stdout)
    assert len(over) == 1
    threads = {thread for _, thread in who}
    # none where packages are missing, or the host had loaded them
    assert threads <= {"curbwright-imports", "MainThread"}, who
