"""How long one capture takes to be fitted anew after a repair.

    .venv/bin/python tests/benchmarks/repairs.py [EPOCHS ...]

For each number of epochs (1000 where none is given): a simulated walk of so many epochs in a layer
of several, one repair of each kind, and the seconds of the processor and of the clock that
`refit_capture` takes for it, the median of nine; and whether the bytes are those of the whole
layer.
"""

import argparse
import sys
import time

import numpy as np

if "curbwright" not in sys.modules:  # run as a script
    from measuring import load_clone

    load_clone()

from curbwright.sample_project import simulation as sim
from curbwright.shared.epochs.settings import Settings
from curbwright.shared.epochs.table import EpochTable
from curbwright.shared.reconstruction.reconstruct import reconstruct
from curbwright.shared.reconstruction.refit import nominal_of, refit_capture
from curbwright.shared.reconstruction.repairs import Repairs

REPEATS = 9
SETTINGS = Settings(doubtful="keep")
COLUMNS = "reason", "role", "chainage", "residual_cross", "residual_up"


def layer_of(epochs):
    """A table with a capture of so many epochs along blocks and bends, and two others."""
    parts = [("line", 18.0), ("arc", 5.0, 90.0), ("line", 12.0), ("corner", -45.0), ("line", 9.0)]
    parts += [("arc", 40.0, -45.0)]
    captures = []
    for number, count in enumerate((300, epochs, 300)):
        rng = np.random.default_rng(number)
        length = sum(part[1] if part[0] == "line" else 8.0 for part in parts)
        whole = parts * int(np.ceil(1.2 * count / length) + 1)
        truth = sim.chain("walk", whole, (0.0, 400.0 * number), 0.2, False)
        x, y = truth.at(1.2 * np.arange(count))[:, :2].T
        captures.append((x + rng.normal(0, 0.006, count), y + rng.normal(0, 0.006, count)))
    size = [len(x) for x, _ in captures]
    x, y = (np.concatenate(axis) for axis in zip(*captures))
    return EpochTable.from_columns(
        x, y, np.full(len(x), 5.0), np.arange(float(len(x))), np.repeat(np.arange(3), size)
    )


def one_of_each(first):
    """A repair of each kind in the capture whose first epoch is at this time."""
    rows = [
        {"kind": "leave_out", "time": first + 100},
        {"kind": "take_back", "time": first + 110},
        {"kind": "corner", "time": first + 120},
        {"kind": "smooth", "time": first + 130},
        {"kind": "break_here", "time": first + 140},
        {"kind": "bridge", "time": first + 150, "until": first + 151},
        {"kind": "element", "value": "tangent", "time": first + 160, "until": first + 170},
        {"kind": "element", "value": "arc", "time": first + 180, "until": first + 190},
        {"kind": "element", "value": "spline", "time": first + 200, "until": first + 220},
    ]
    return [{"capture": "1", **row} for row in rows]


def measured(table, nominal, placed):
    """Median seconds of the processor and of the clock, and whether the bytes are the whole's."""
    taken = []
    for _ in range(REPEATS):
        cpu, clock = time.process_time(), time.perf_counter()
        refit = refit_capture(table, 1, nominal, SETTINGS, placed)
        taken.append((time.process_time() - cpu, time.perf_counter() - clock))
    whole = reconstruct(table, SETTINGS, repairs=placed)
    same = all(
        getattr(refit.result, name).tobytes() == getattr(whole, name)[refit.rows].tobytes()
        for name in COLUMNS
    )
    return (*np.median(taken, axis=0), same)


def main(arguments=None):
    """Print one line for each kind of repair."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("epochs", type=int, nargs="*", default=[1000])
    print("| epochs | repair | s of the processor | s of the clock | bytes of the whole layer |")
    print("| ---: | --- | ---: | ---: | --- |")
    for epochs in parser.parse_args(arguments).epochs:
        table = layer_of(epochs)
        nominal = nominal_of(table, SETTINGS)
        for row in one_of_each(300.0):
            placed = Repairs.from_rows([row]).placed(["0", "1", "2"], 0.0)
            cpu, clock, same = measured(table, nominal, placed)
            name = f"{row['kind']} {row.get('value', '')}".strip()
            print(f"| {epochs} | `{name}` | {cpu:.3f} | {clock:.3f} | {'yes' if same else 'NO'} |")


if __name__ == "__main__":
    main()
