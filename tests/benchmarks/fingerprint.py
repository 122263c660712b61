"""SHA-256 of results, so that a change can be shown to change nothing.

    .venv/bin/python tests/benchmarks/fingerprint.py                  trial sets 1 to 25
    .venv/bin/python tests/benchmarks/fingerprint.py 3 901            these trial sets
        --model spline         another curve model
        --set STAGE.NAME=5     another value of a number of shared/tuning.py; repeatable
    .venv/bin/python tests/benchmarks/fingerprint.py --layers FOLDER  a run of the sample project

A line for each trial set: its seed, its edges, and one sum over edges, gaps, stations and what is
said of every row. `--layers` takes the folder that `sample_project/run.sh FOLDER` has filled: a
line for each layer of edges, gaps and epochs with their reasons, with its rows and one sum over
attributes and geometries. Compare the lines before and after with diff. Sums hold on one machine
with one version of numpy and scipy: linear algebra differs in its last digits elsewhere.
"""

import argparse
import dataclasses
import hashlib
import sqlite3
import sys
from contextlib import closing
from pathlib import Path

import numpy as np

if "curbwright" not in sys.modules:  # run as a script
    from measuring import load_clone

    load_clone()

from curbwright.sample_project.simulation import trial_set
from curbwright.shared import tuning
from curbwright.shared.epochs.settings import Settings
from curbwright.shared.reconstruction.reconstruct import reconstruct
from curbwright.tests.benchmarks.accuracy import epoch_table, tuned_value

LAYERS = ("edges", "gaps", "rejected", "kept", "alignments", "elements")


def add_value(total, name, value):
    """Add an array, or a record with its fields by name, to a sum; None adds nothing."""
    if value is None:
        return
    if dataclasses.is_dataclass(value):
        for column in sorted(dataclasses.fields(value), key=lambda column: column.name):
            add_value(total, f"{name}.{column.name}", getattr(value, column.name))
        return
    values = np.asarray(value)
    if values.dtype.kind in "biu":
        values = values.astype(np.int64)  # the same on every system
    total.update(f"{name}{values.shape}{values.dtype.str}".encode())
    total.update(np.ascontiguousarray(values).tobytes())


def of_result(result):
    """Sum over a result of `reconstruct`.

    Returns
    -------
    str
        64 hexadecimal digits.
    """
    total = hashlib.sha256()
    add_value(total, "result", result)
    return total.hexdigest()


def of_trial_set(seed, settings, captures=80):
    """Number of edges of a trial set, and the sum over its result."""
    result = reconstruct(epoch_table(trial_set(seed, captures)), settings)
    return len(result.edges), of_result(result)


def of_layers(path):
    """Yield name, number of rows and sum of each layer that a GeoPackage has of `LAYERS`.

    The order of rows counts, and so do all columns.
    """
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as database:
        found = {name for (name,) in database.execute("SELECT table_name FROM gpkg_contents")}
        for name in LAYERS:
            if name not in found:
                continue
            columns = [row[1] for row in database.execute(f'PRAGMA table_info("{name}")')]
            rows = database.execute(f'SELECT * FROM "{name}" ORDER BY 1').fetchall()
            total = hashlib.sha256(repr((columns, rows)).encode()).hexdigest()
            yield name, len(rows), total


def main(arguments=None):
    """Print one line for each trial set or layer."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("seeds", type=int, nargs="*", default=list(range(1, 26)))
    parser.add_argument("--captures", type=int, default=80, help="in each trial set (default 80)")
    parser.add_argument("--model", choices=("automatic", "elements", "spline"), default="automatic")
    parser.add_argument(
        "--set",
        action="append",
        default=[],
        metavar="STAGE.NAME=VALUE",
        help="try another value of a tuned number",
    )
    parser.add_argument("--layers", metavar="FOLDER", help="of a run of the sample project")
    options = parser.parse_args(arguments)
    if options.layers:
        for path in sorted(Path(options.layers).glob("*.gpkg")):
            for name, rows, digest in of_layers(path):
                print(f"{path.name} {name} {rows} {digest}")
        return
    settings = Settings(station_spacing=1.0, curve_model=options.model)
    try:
        trial = dict(map(tuned_value, options.set))
        with tuning.override(**trial):
            for seed in options.seeds:
                edges, digest = of_trial_set(seed, settings, options.captures)
                print(f"{seed} {edges} {digest}", flush=True)
    except ValueError as error:
        parser.error(str(error))


if __name__ == "__main__":
    main()
