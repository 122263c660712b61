"""Python in a process of its own, with QGIS and the provider started where wanted."""

import os
import subprocess
import sys
from pathlib import Path

TESTS = Path(__file__).parent

PATHS = f"""
import sys
sys.path[:0] = [{str(TESTS)!r}, {str(TESTS / "algorithms")!r}]
import conftest
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
