"""Seconds and peak memory of bringing many existing lines up to date, and how well towns come out;
nothing is asserted.

    .venv/bin/python tests/benchmarks/update.py               20,000 lines against 20,000 edges
    .venv/bin/python tests/benchmarks/update.py 2k 20k        several sizes, to see how it grows
    .venv/bin/python tests/benchmarks/update.py --towns 20    accuracy and junctions of 20 towns

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

    from curbwright.shared.lines.comparison import compare
    from curbwright.shared.lines.comparison_results import ComparisonSettings
    from curbwright.shared.lines.update import WHAT_NAMES, plan_update

    town, before = make_town(seed, lines), peak()
    start, used = time.perf_counter(), time.process_time()
    settings = ComparisonSettings(existing_sigma=BASEMAP_NOISE, remove_shift=True)
    compared = compare(town.edges, town.existing, settings)
    middle, used_middle = time.perf_counter(), time.process_time()
    plan = plan_update(compared)
    end, used_end = time.perf_counter(), time.process_time()
    counts = np.bincount(plan.what, minlength=len(WHAT_NAMES)).tolist()
    print(
        f"{town.existing.count:>7,} lines  {town.edges.count:>7,} edges  {len(town.edges.x):>9,}"
        f" vertices  compared {middle - start:6.1f} s (processor {used_middle - used:.1f}) "
        f" planned {end - middle:6.1f} s (processor {used_end - used_middle:.1f}) "
        f" {peak():6.0f} MB ({before:.0f} before)  added {len(plan.added):,}, held"
        f" {len(plan.held):,}, "
        + ", ".join(f"{name} {count:,}" for name, count in zip(WHAT_NAMES, counts) if count)
    )


def towns(number):
    """Figures of simulated towns of 200 lines, one row for each and one for all."""
    load_clone()
    sys.path[:0] = [str(ROOT / "tests" / "shared"), str(ROOT / "tests" / "shared" / "lines")]
    from test_update_towns import Case, crossings, dangles, kept_junctions, rms_of_replaced

    rows = []
    for seed in range(number):
        case = Case(seed)
        own, drawn = rms_of_replaced(case)
        kept, all_of_them = kept_junctions(case)
        again = case.again()
        rows.append(
            (
                own,
                drawn,
                kept,
                all_of_them,
                len(dangles(case.after) ^ dangles(case.before)),
                len(crossings(case.after) - crossings(case.before)),
                len(again.parts) + len(again.added) + len(again.held) + (again.what != 0).sum(),
            )
        )
    table = np.array(rows, float)
    own, drawn = np.sqrt((table[:, :2] ** 2).mean(axis=0))
    print(f"{number} towns of {len(case.before)} lines")
    print(f"edges, RMSE across                  {1000 * own:.2f} mm")
    print(f"replaced lines, RMSE across         {1000 * drawn:.2f} mm, ratio {drawn / own:.3f}")
    print(f"greatest ratio of a town            {(table[:, 1] / table[:, 0]).max():.3f}")
    print(
        f"junctions kept                      {table[:, 2].sum():,.0f} of {table[:, 3].sum():,.0f}"
    )
    print(f"dangles come or gone, new crossings {table[:, 4].sum():.0f}, {table[:, 5].sum():.0f}")
    print(f"changes of a second run             {table[:, 6].sum():.0f}")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sizes", nargs="*", default=["20k"], help="number of existing lines")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--here", action="store_true", help="run in this process")
    parser.add_argument("--towns", type=int, help="figures of so many towns instead")
    arguments = parser.parse_args()
    if arguments.towns:
        towns(arguments.towns)
        return
    for size in arguments.sizes:
        if arguments.here:
            measure(parse_size(size), arguments.seed)
        else:
            command = [sys.executable, __file__, size, "--seed", str(arguments.seed), "--here"]
            subprocess.run(command, check=True)


if __name__ == "__main__":
    main()
