"""What the benchmarks share when they run as scripts: the clone as a package, sizes as people write
them, peak memory."""

import importlib.util
import os
import resource
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]


def load_clone():
    """The clone as the package ``curbwright``, whatever its folder is called."""
    if "curbwright" not in sys.modules:
        spec = importlib.util.spec_from_file_location(
            "curbwright", ROOT / "__init__.py", submodule_search_locations=[str(ROOT)]
        )
        sys.modules["curbwright"] = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(sys.modules["curbwright"])
    return sys.modules["curbwright"]


def start_host():
    """QGIS with the provider, as a script has it."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    from qgis.core import QgsApplication
    from qgis.testing import start_app

    start_app()
    sys.path.append(os.path.join(QgsApplication.pkgDataPath(), "python", "plugins"))
    from processing.core.Processing import Processing

    Processing.initialize()
    plugin = load_clone().classFactory(None)
    plugin.initProcessing()
    return plugin


def parse_size(text):
    """Number of rows from a text such as 100k or 1M."""
    return int(float(text.lower().replace("k", "e3").replace("m", "e6")))


def peak():
    """Peak memory of this process so far, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def tree_of(process):
    """Numbers of a process and of all that it started, those that ended meanwhile left out
    (Linux)."""
    tree, there = [process], []
    for member in tree:
        try:
            for thread in Path(f"/proc/{member}/task").iterdir():
                tree += map(int, (thread / "children").read_text().split())
        except OSError:  # ended meanwhile
            continue
        there.append(member)
    return there


def memory_of(processes):
    """Memory of processes, MB; what they share counts once (Linux)."""
    total = 0
    for member in processes:
        try:
            lines = Path(f"/proc/{member}/smaps_rollup").read_text().splitlines()
            total += next(int(line.split()[1]) for line in lines if line.startswith("Pss:"))
        except (OSError, StopIteration):  # ended meanwhile
            continue
    return total / 1024


def seconds_of(processes):
    """Seconds of the processor that each process has taken so far, by its number (Linux)."""
    taken = {}
    for member in processes:
        try:
            fields = Path(f"/proc/{member}/stat").read_text().rpartition(")")[2].split()
        except OSError:  # ended meanwhile
            continue
        taken[member] = (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    return taken
