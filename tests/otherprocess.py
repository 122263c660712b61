"""Python in a process of its own, with QGIS and the provider started where wanted."""

import json
import os
import signal
import subprocess
import sys
import tempfile
from contextlib import contextmanager
from pathlib import Path

TESTS = Path(__file__).parent

PATHS = f"""
import sys
sys.path[:0] = [{str(TESTS)!r}, {str(TESTS / "algorithms")!r}]
import clone
"""

STARTED = f"""{PATHS}
sys.path[:0] = ["/usr/share/qgis/python/plugins", "/usr/share/qgis/python"]
from qgis.core import QgsApplication
application = QgsApplication([], False)
application.initQgis()
from processing.core.Processing import Processing
Processing.initialize()
plugin = sys.modules["curbwright"].classFactory(None)
plugin.initProcessing()
"""


def environment(profile, **more):
    """Environment of a process that needs no screen and keeps to a profile of its own."""
    return dict(
        os.environ, QT_QPA_PLATFORM="offscreen", QGIS_CUSTOM_CONFIG_PATH=str(profile), **more
    )


def run_code(code, profile, *arguments, **more):
    """Run code with these arguments; `more` goes into its environment."""
    return subprocess.run(
        [sys.executable, "-c", code, *map(str, arguments)],
        env=environment(profile, **more),
        capture_output=True,
        text=True,
    )


TWINS = f"""{STARTED}
import json
import os
import traceback
import curbwright.shared.reconstruction.part  # what each run would load anew

for line in sys.stdin:
    code, there, back = json.loads(line)
    child = os.fork()
    if child:
        print(child, flush=True)
        print(os.waitpid(child, 0)[1], flush=True)
        continue
    os.dup2(os.open(back, os.O_WRONLY), 1)
    os.dup2(os.open(there, os.O_RDONLY), 0)
    sys.stdin = os.fdopen(0)
    try:
        exec(code)
        sys.stdout.flush()
        os._exit(0)
    except BaseException:
        traceback.print_exc()
        os._exit(1)
"""


class Twins:
    """A process with QGIS and the provider that does nothing but fork itself for each piece of
    code, since a start takes two seconds. It has opened no file and no database by then."""

    def __init__(self, profile):
        self.process = subprocess.Popen(
            [sys.executable, "-c", TWINS],
            env=environment(profile),
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    @contextmanager
    def twin(self, code):
        """Run code in a twin with `pid`, `stdin`, `stdout` and `wait`; one after the other."""
        with tempfile.TemporaryDirectory() as folder:
            pipes = [os.path.join(folder, name) for name in ("there", "back")]
            for pipe in pipes:
                os.mkfifo(pipe)
            print(json.dumps([code, *pipes]), file=self.process.stdin, flush=True)
            with open(pipes[1]) as stdout, open(pipes[0], "w") as stdin:
                twin = Twin(self.process, stdin, stdout)
                try:
                    yield twin
                except BaseException:
                    os.kill(twin.pid, signal.SIGKILL)
                    raise
                finally:
                    twin.wait()

    def end(self):
        """End the process."""
        self.process.stdin.close()
        self.process.wait()
        self.process.stdout.close()


class Twin:
    """A process that was forked, as `subprocess.Popen` would give it."""

    def __init__(self, parent, stdin, stdout):
        self.parent, self.stdin, self.stdout = parent, stdin, stdout
        self.pid, self.returncode = int(parent.stdout.readline()), None

    def wait(self):
        """Its exit code; less than zero where a signal ended it."""
        if self.returncode is None:
            self.returncode = os.waitstatus_to_exitcode(int(self.parent.stdout.readline()))
        return self.returncode
