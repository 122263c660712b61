"""Seconds and peak memory of bringing many existing lines up to date; nothing is asserted.

    .venv/bin/python tests/benchmarks/update.py            20,000 lines against 20,000 edges
    .venv/bin/python tests/benchmarks/update.py 2k 20k     several sizes, to see how it grows

Each size runs in a process of its own, so that peaks do not mix. The lines are a simulated town
(`tests/shared/towns.py`): a tenth moved, a twentieth gone, a twentieth new.
"""

import argparse
import subprocess
import sys
import time

import numpy as np
from measuring import ROOT, load_clone, parse_size, peak


def measure(lines, seed):
    load_clone()
    sys.path.insert(0, str(ROOT / "tests" / "shared"))
    from towns import BASEMAP_NOISE, make_town

    from curbwright.shared.lines.comparison import ComparisonSettings, compare
    from curbwright.shared.lines.update import WHAT_NAMES, plan_update

    town, before = make_town(seed, lines), peak()
    start = time.perf_counter()
    settings = ComparisonSettings(existing_sigma=BASEMAP_NOISE, remove_shift=True)
    compared = compare(town.edges, town.existing, settings)
    middle = time.perf_counter()
    plan = plan_update(compared)
    end = time.perf_counter()
    counts = np.bincount(plan.what, minlength=len(WHAT_NAMES)).tolist()
    print(
        f"{town.existing.count:>7,} lines  {town.edges.count:>7,} edges  {len(town.edges.x):>9,}"
        f" vertices  compared {middle - start:6.1f} s  planned {end - middle:6.1f} s "
        f" {peak():6.0f} MB ({before:.0f} before)  added {len(plan.added):,}, held"
        f" {len(plan.held):,}, "
        + ", ".join(f"{name} {count:,}" for name, count in zip(WHAT_NAMES, counts) if count)
    )


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sizes", nargs="*", default=["20k"], help="number of existing lines")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--here", action="store_true", help="run in this process")
    arguments = parser.parse_args()
    for size in arguments.sizes:
        if arguments.here:
            measure(parse_size(size), arguments.seed)
        else:
            command = [sys.executable, __file__, size, "--seed", str(arguments.seed), "--here"]
            subprocess.run(command, check=True)


if __name__ == "__main__":
    main()
