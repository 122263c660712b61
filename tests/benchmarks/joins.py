"""Seconds and peak memory of joining the ends of many edges; nothing is asserted.

    .venv/bin/python tests/benchmarks/joins.py              5,000 edges
    .venv/bin/python tests/benchmarks/joins.py 1k 5k 50k    several sizes, to see how it grows

Each size runs in a process of its own, so that peaks do not mix. The edges are rounded rectangles
of curbs, cut into pieces that lie up to 0.15 m apart, with a vertex every 0.7 m. Printed as well:
how many of the rectangles came back as rings.
"""

import argparse
import subprocess
import sys
import time

import numpy as np
import shapely
from measuring import load_clone, parse_size, peak

PIECES = 4  # of a rectangle


def measure(edges, seed):
    load_clone()
    from curbwright.shared.lines.join_changes import WHAT_NAMES
    from curbwright.shared.lines.joins import join_edges
    from curbwright.shared.lines.lines import Lines

    rng = np.random.default_rng(seed)
    blocks = edges // PIECES
    outline = shapely.buffer(shapely.box(-12, -8, 12, 8), 4.0, quad_segs=12).exterior
    rows, shapes = int(np.sqrt(blocks)) + 1, []
    for block in range(blocks):
        cuts = (np.arange(PIECES + 1) + 0.2) * outline.length / PIECES
        for start, stop in zip(cuts[:-1], cuts[1:]):
            gap = rng.uniform(0, 0.15)
            at = (
                np.concatenate(
                    [[start + gap / 2], np.arange(start + 0.7, stop - 0.3, 0.7), [stop - gap / 2]]
                )
                % outline.length
            )
            shape = (
                shapely.get_coordinates(shapely.line_interpolate_point(outline, at))
                + rng.normal(0, 0.004, (1, 2))
                + [50 * (block % rows), 50 * (block // rows)]
            )
            shapes.append(shape[:: rng.choice([-1, 1])])
    x, y = np.concatenate(shapes).T
    lines = Lines.from_columns(
        x,
        y,
        np.full(len(x), 3.0),
        np.concatenate([[0], np.cumsum([len(shape) for shape in shapes])]),
    )
    before, looks = peak(), []
    start = time.perf_counter()
    result = join_edges(lines, progress=looks.append)
    seconds = time.perf_counter() - start
    counts = np.bincount(result.changes.what, minlength=len(WHAT_NAMES)).tolist()
    # every edge is in exactly one result
    assert (np.sort(result.part) == np.arange(len(shapes))).all()
    print(
        f"{len(shapes):>7,} edges  {len(x):>9,} vertices  {seconds:6.1f} s  {peak():6.0f} MB"
        f" ({before:.0f} before)  rings {result.closed.sum():,} of {blocks:,}  "
        + ", ".join(f"{name} {count:,}" for name, count in zip(WHAT_NAMES, counts))
        + f"  looks at cancel {len(looks)}"
    )


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sizes", nargs="*", default=["5k"], help="number of edges")
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
