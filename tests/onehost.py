"""One QGIS that runs the sample project's algorithms one after the other, in place of a command
each: nearly all of a command's time goes into the start of QGIS."""

import atexit
import json
import subprocess
import sys

from otherprocess import STARTED

SERVER = f"""{STARTED}
import json
import processing
for line in sys.stdin:
    algorithm, parameters = json.loads(line)
    print(json.dumps(processing.run(algorithm, parameters), default=str), flush=True)
"""


class OneHost:
    """Takes the place of `sample_project.host.Host`; values come as text, as in a command.

    Its process keeps to the profile of the environment, and ends before the one that started it.
    """

    def __init__(self, folder, plugin):
        self.process = subprocess.Popen(
            [sys.executable, "-c", SERVER],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
            encoding="utf-8",
        )
        atexit.register(self.end)

    def end(self):
        """End the process."""
        self.process.stdin.close()
        self.process.wait()

    def enable(self):
        """Nothing to do: the provider is registered."""

    def run(self, algorithm, **parameters):
        """Run an algorithm and return its results as a dict; where it fails, say so and end."""
        values = {
            key: list(map(str, value)) if isinstance(value, (list, tuple)) else str(value)
            for key, value in parameters.items()
        }
        self.process.stdin.write(json.dumps([algorithm, values]) + "\n")
        self.process.stdin.flush()
        answer = self.process.stdout.readline()
        if not answer:
            raise SystemExit(f"{algorithm} failed; the lines above say why.")
        return json.loads(answer)
