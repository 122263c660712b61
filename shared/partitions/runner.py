"""The run: three passes over the partitions, with a small gathering after each."""

import json
from dataclasses import asdict
from pathlib import Path, PurePosixPath

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from pyproj import CRS

from ..epochs.settings import Settings
from ..epochs.stream import Medians, nominal_stream
from . import work
from .columns import choose, fixed_values
from .engine import Here
from .frame import centre_of
from .results import Results

SUFFIXES = (".parquet", ".geoparquet", ".parq", ".pq")
LISTED = 10  # problems, or captures, that are named


class RunError(ValueError):
    """The run cannot go on; the text says why and what to do."""


def partitions_of(source):
    """Paths of the files of a data set relative to it, sorted; hidden ones and those that begin
    with an underscore are passed over.

    Raises
    ------
    RunError
        If there are none, or the results of two of them would have one name.
    """
    source = Path(source)
    if source.is_file():
        return [source.name]
    names = (
        sorted(
            path.relative_to(source).as_posix()
            for path in source.rglob("*")
            if path.suffix.lower() in SUFFIXES and path.is_file()
        )
        if source.is_dir()
        else []
    )
    names = [
        name for name in names if not any(part.startswith((".", "_")) for part in name.split("/"))
    ]
    if not names:
        raise RunError(
            f"“{source}” holds no file called {', '.join('*' + suffix for suffix in SUFFIXES)}."
            " Give the folder of the partitions"
        )
    first = {}
    for name in names:
        other = first.setdefault(_out(name), name)
        if other != name:
            raise RunError(
                f"“{other}” and “{name}” would give results of one name. Rename one of them"
            )
    return names


def _out(name):
    return PurePosixPath(name).with_suffix(".parquet").as_posix()


def run(
    source,
    target,
    settings=None,
    columns=None,
    fixed=None,
    crs=None,
    write_epochs=False,
    engine=None,
    say=lambda text: None,
):
    """Turn partitioned epochs into edges.

    Parameters
    ----------
    source : path
        Folder of GeoParquet files with points, or one such file.
    target : path
        Folder for the results: `edges` and `gaps`, and `epochs` where they are wanted, each with
        one file for each of the source, and `run.json`.
    settings : Settings, optional
        Without stations.
    columns : dict, optional
        From ``time``, ``capture``, ``fix``, ``h_accuracy`` or ``v_accuracy`` to a list of names;
        what is left out is found.
    fixed : str, optional
        Comma-separated values that mean a fixed solution.
    crs : str, optional
        In place of the one that the files name.
    write_epochs : bool
        Write every epoch with its edge, or the reason why it has none.
    engine : Here or Cluster, optional
        This process where left out.
    say : callable
        Called with sentences that tell how it goes.

    Returns
    -------
    dict
        What `run.json` holds.

    Raises
    ------
    RunError
        If the run cannot go on. Former results are as they were.

    Notes
    -----
    The first pass finds captures, extent and times, so that one frame and one origin serve all
    partitions; the second finds what each capture says of its stream, hence what is usual; the
    third reconstructs. A capture that stands in several files goes with the first of them, sorted
    by path. An edge's number follows from its capture's place among all captures, sorted, and from
    what the captures before it could hold at most: the same whatever the partitions and whoever
    works on them.
    """
    settings, engine = settings or Settings(), engine or Here()
    source, target = Path(source).resolve(), Path(target).resolve()
    if not source.exists():
        raise RunError(f"“{source}” does not exist")
    if source == target or source in target.parents or target in source.parents:
        raise RunError(
            f"“{source}” and “{target}” lie in each other. Choose a folder for the results"
            " elsewhere"
        )
    names = partitions_of(source)
    folder = source.parent if source.is_file() else source
    try:
        taken = choose(work.names_of(folder / names[0], names[0]), columns or {})
    except (ValueError, OSError) as error:
        raise RunError(f"“{names[0]}”: {error}") from error
    job = {
        "source": str(folder),
        "taken": taken,
        "fixed_values": fixed_values(fixed),
        "crs": crs,
        "settings": asdict(settings),
        "write_epochs": write_epochs,
    }
    say(
        f"{len(names)} partitions. "
        + ", ".join(f"{part}: {' and '.join(found) or 'none'}" for part, found in taken.items())
    )
    try:
        with Results(target) as results:
            job["target"] = str(results.data)
            engine.prepare(results.work)
            surveys = _pass(
                engine, "survey", job, names, names, say, "pass 1 of 3, looking round", every=True
            )
            units, split = _gather_surveys(job, names, surveys, say)
            rows, counted = sum(part["rows"] for part in surveys), surveys[0]["versions"]
            del surveys
            _gather_streams(
                job,
                _pass(
                    engine, "look", job, units, names, say, "pass 2 of 3, looking at the streams"
                ),
            )
            results.make_folders([unit["out"] for unit in units])
            fits = _pass(engine, "fit", job, units, names, say, "pass 3 of 3, making edges")
            summary = _summary(job, names, fits, split, counted)
            if summary["epochs"] != rows:
                raise RunError(
                    f"{rows} epochs were read at first and {summary['epochs']} at last. Run again"
                    " when nobody changes the files"
                )
            results.complete(summary)
    except OSError as error:
        raise RunError(f"the results cannot be written: {error}") from error
    except RunError:
        raise
    except ValueError as error:
        raise RunError(str(error)) from error
    return summary


def _pass(engine, name, job, tasks, names, say, what, every=False):
    """Results of all tasks in their order.

    A partition that fails ends the pass; with `every` the others go on, so that all that fail are
    named at once.
    """
    done, failed = [None] * len(tasks), {}
    for count, (number, result, error) in enumerate(engine.run(name, job, tasks), 1):
        if error is not None:
            failed[number] = error
            if not every:
                break
        done[number] = result
        if count * 10 // len(tasks) > (count - 1) * 10 // len(tasks):
            say(f"{what}: {count} of {len(tasks)}")
    if failed:
        texts = [f"“{names[number]}”: {_text(failed[number])}" for number in sorted(failed)]
        more = f"\nand {len(texts) - LISTED} more" if len(texts) > LISTED else ""
        raise RunError("\n".join(texts[:LISTED]) + more)
    return done


def _text(error):
    kind = type(error).__name__
    if kind in ("KilledWorker", "MemoryError"):
        return (
            "its workers ended before their time, most likely for want of memory. Give each more"
            " (fewer workers, --memory), or make smaller partitions"
        )
    return str(error) if isinstance(error, (ValueError, OSError)) else f"{kind}: {error}"


def _gather_surveys(job, names, surveys, say):
    """Complete the job, and say of each partition what is its own; captures that stand in several
    files, too."""
    _demand_alike(
        [part["crs"] for part in surveys],
        names,
        "is in the CRS",
        "Bring all files into one CRS",
        lambda text: CRS.from_user_input(text),
    )
    timed = [number for number, part in enumerate(surveys) if part["kind"]]
    _demand_alike(
        [surveys[number]["kind"] for number in timed],
        [names[number] for number in timed],
        "has its times as",
        "Bring the times of all files into one form",
    )
    _demand_alike(
        [json.dumps(part["versions"]) for part in surveys],
        names,
        "was read by",
        "Give all workers the same versions",
    )
    job["crs_text"] = surveys[0]["crs"]
    job["centre"] = centre_of([part["spread"] for part in surveys])
    first, last = (np.array([part[key] for part in surveys]) for key in ("first", "last"))
    job["origin"] = float(np.floor(np.nanmin(first))) if len(timed) else 0.0
    job["dated"] = not timed or float(np.nanmax(last)) > work.EARLIEST_DATE
    say(f"frame: metres, true to scale at {job['centre'][0]:.2f}, {job['centre'][1]:.2f} degrees")

    # captures of all files as one column, each file's one after the other
    listed = (
        pa.chunked_array([part["captures"] for part in surveys])
        .combine_chunks()
        .dictionary_encode()
    )
    code, texts = listed.indices.to_numpy(), listed.dictionary
    file = np.repeat(np.arange(len(surveys)), [len(part["captures"]) for part in surveys])
    owner = np.full(len(texts), len(surveys))
    np.minimum.at(owner, code, file)
    epochs = np.zeros(len(texts), np.int64)
    np.add.at(epochs, code, np.concatenate([part["epochs"] for part in surveys]))
    order = pc.sort_indices(texts).to_numpy()
    base = np.empty(len(texts), np.int64)
    # an edge has three epochs at least
    base[order] = np.cumsum(epochs[order] // 3) - epochs[order] // 3

    own = owner[code] == file
    units = [{"name": name, "out": _out(name), "without": [], "further": []} for name in names]
    bounds = np.searchsorted(file, np.arange(len(surveys) + 1))
    for number, unit in enumerate(units):
        here = slice(bounds[number], bounds[number + 1])
        unit["base"] = base[code[here][own[here]]]
    for place in np.flatnonzero(~own):  # of captures that stand in several files alone
        text = texts[int(code[place])].as_py()
        units[file[place]]["without"].append(text)
        further = units[owner[code[place]]]["further"]
        if not further or further[-1][0] != names[file[place]]:
            further.append((names[file[place]], []))
        further[-1][1].append(text)
    split = sorted({texts[int(each)].as_py() for each in np.unique(code[~own])})
    if split:
        say(
            f"{len(split)} captures stand in several files and are brought together, each in the"
            f" first one that has it: {', '.join(split[:LISTED])}"
            + (" …" if len(split) > LISTED else "")
        )
    return units, split


def _demand_alike(values, names, what, remedy, meaning=lambda value: value):
    for value, name in zip(values, names):
        if value != values[0] and meaning(value) != meaning(values[0]):
            raise RunError(
                f"“{names[0]}” {what} {_short(meaning(values[0]))}, “{name}”"
                f" {_short(meaning(value))}. {remedy}"
            )


def _short(value):
    return value.name if isinstance(value, CRS) else value


def _gather_streams(job, looked):
    medians = Medians(
        *(np.concatenate([part[place] for part in looked], axis=1) for place in (0, 1))
    )
    job["usual"] = tuple(float(value) for value in asdict(nominal_stream(medians)).values())


def _summary(job, names, fits, split, versions):
    reasons = {
        reason: sum(part["reasons"][reason] for part in fits) for reason in fits[0]["reasons"]
    }
    total = {
        key: sum(part[key] for part in fits)
        for key in ("epochs", "edges", "vertices", "length", "gaps")
    }
    usual = [None if np.isnan(value) else value for value in job["usual"]]
    return {
        **total,
        "reasons": reasons,
        "settings": job["settings"],
        "columns": job["taken"],
        "fixed_values": job["fixed_values"],
        "crs": CRS.from_user_input(job["crs_text"]).name,
        "frame": {"longitude": job["centre"][0], "latitude": job["centre"][1]},
        "origin": job["origin"],
        "usual": dict(zip(("interval", "spacing", "across", "cubic", "up"), usual)),
        "versions": versions,
        "captures_in_several_files": split,
        "partitions": [
            {"file": _out(name), "source": name, **part} for name, part in zip(names, fits)
        ],
    }
