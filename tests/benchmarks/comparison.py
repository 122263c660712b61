"""Seconds and peak memory of the comparison of two layers of lines; nothing is asserted.

    .venv/bin/python tests/benchmarks/comparison.py             20,000 against 20,000 lines
    .venv/bin/python tests/benchmarks/comparison.py 2k 5k 20k   several sizes, to see how it grows

Each size runs in a process of its own, so that peaks do not mix. The basemap is
`sample_project/basemaps.py`'s: about 42 m and one station a metre to a line. Printed as well: how
far the shift is from the truth, and the share of lines with the right status.
"""

import argparse
import subprocess
import sys
import time

import numpy as np
from measuring import load_clone, parse_size, peak

LINES_PER_CELL = 11 / 6  # over all kinds of cells


def measure(lines, seed):
    load_clone()
    from curbwright.sample_project import basemaps
    from curbwright.shared.lines.comparison import compare
    from curbwright.shared.lines.comparison_results import STATUS_NAMES, ComparisonSettings
    from curbwright.shared.lines.lines import Lines

    made = basemaps.make_basemap(
        np.random.default_rng(seed), round(lines / LINES_PER_CELL), demolished=0.1
    )
    edges, existing = (
        Lines.from_columns(layer.x, layer.y, layer.z, layer.offsets, layer.line, len(layer))
        for layer in (made.edges, made.existing)
    )
    before, stages = peak(), []
    start = time.perf_counter()
    result = compare(
        edges, existing, ComparisonSettings(remove_shift=True), lambda share: stages.append(share)
    )
    seconds = time.perf_counter() - start
    right = [
        STATUS_NAMES[code] == true
        for layer, statistics in (
            (made.edges, result.edge_statistics),
            (made.existing, result.existing_statistics),
        )
        for code, true in zip(statistics.status.tolist(), layer.status)
    ]
    false = sum(
        STATUS_NAMES[code] == "displaced" and true == "agrees"
        for code, true in zip(result.edge_statistics.status.tolist(), made.edges.status)
    )
    length = (edges.length().sum() + existing.length().sum()) / 1000
    error = np.hypot(result.shift.east - made.shift[0], result.shift.north - made.shift[1])
    print(
        f"{len(edges):>7,} × {len(existing):>7,} lines  {length:7.0f} km",
        f"{len(result.stations):>9,} stations",
        f"{seconds:6.1f} s  {peak():6.0f} MB ({before:.0f} before)",
        f"shift off {1000 * error:.1f} mm",
        f"right {100 * np.mean(right):.2f} %",
        f"falsely displaced {false}",
        f"looks at cancel {len(stages)}",
        sep="  ",
    )


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sizes", nargs="*", default=["20k"], help="lines in each layer")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--here", action="store_true", help="run in this process")
    arguments = parser.parse_args()
    for size in arguments.sizes:
        if arguments.here:
            measure(parse_size(size), arguments.seed)
        else:
            subprocess.run(
                [sys.executable, __file__, size, "--here", "--seed", str(arguments.seed)],
                check=True,
            )


if __name__ == "__main__":
    main()
