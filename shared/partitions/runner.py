"""The run: three passes over the partitions, the first two followed by a small reduction."""

import json
from dataclasses import asdict, dataclass, field
from pathlib import Path, PurePosixPath
from typing import Optional

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
from pyproj import CRS

from ..epochs.settings import Settings
from ..epochs.stream import Medians, nominal_stream
from ..epochs.vocabulary import fixed_values
from ..tuning import TIMES
from . import work
from .columns import choose
from .engine import Here
from .frame import centre_of
from .geoparquet import SUFFIXES
from .partition_repairs import outcomes_of
from .results import Results

LISTED = 10  # most problems or captures that are named


class RunError(ValueError):
    """The run cannot go on; the text says why and what to do."""


def partitions_of(source):
    """Find the files of a data set.

    Parameters
    ----------
    source : path
        Folder, or one file.

    Returns
    -------
    list of str
        Paths relative to the folder, sorted; hidden ones and those that begin with an underscore
        are skipped.

    Raises
    ------
    RunError
        If there are none, or the results of two of them would have the same name.
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
    """Path of the results of a file, relative to their folder."""
    return PurePosixPath(name).with_suffix(".parquet").as_posix()


@dataclass(frozen=True)
class Reading:
    """How the files of a data set are read; what is not given is inferred.

    Attributes
    ----------
    columns : dict
        From ``time``, ``capture``, ``fix``, ``h_accuracy`` or ``v_accuracy`` to a list of names.
    fixed : str
        Comma-separated values that mean a fixed solution.
    crs : str
        Used instead of the CRS that the files name.
    repairs : list of dict
        Decisions of a person about epochs and stretches, see `partition_repairs.read_repairs`.
    """

    columns: dict = field(default_factory=dict)
    fixed: Optional[str] = None
    crs: Optional[str] = None
    repairs: list = field(default_factory=list)


def _silent(text):
    """Report nothing."""


def run(source, target, settings=None, reading=None, write_epochs=False, engine=None, say=_silent):
    """Turn partitioned epochs into edges.

    Parameters
    ----------
    source : path
        Folder of GeoParquet files with points, or one such file.
    target : path
        Folder for the results: `edges` and `gaps`, and on request `epochs`, each with one file per
        source file, and `run.json`.
    settings : Settings, optional
        Without stations.
    reading : Reading, optional
    write_epochs : bool, optional
        Write every epoch with its edge, or the reason why it has none.
    engine : Here or Cluster, optional
        This process by default.
    say : callable, optional
        Called with sentences that report how the run goes.

    Returns
    -------
    dict
        Contents of `run.json`.

    Raises
    ------
    RunError
        If the run cannot go on. Former results are then unchanged.

    Notes
    -----
    The first pass finds captures, extent and times, so that one frame and one time origin serve all
    partitions. The second finds the streams of all captures and thus the nominal values. The third
    reconstructs. A capture in several files is processed with the first of them, sorted by path.
    Edge numbers of a capture start at the greatest number of edges that all captures sorted before
    it could have together: so they do not depend on the partitions or on the workers.
    """
    settings, reading, engine = settings or Settings(), reading or Reading(), engine or Here()
    source, target = _apart(Path(source).resolve(), Path(target).resolve())
    names = partitions_of(source)
    job = _job(source, names, settings, reading, write_epochs)
    found = (f"{part}: {' and '.join(of) or 'none'}" for part, of in job["taken"].items())
    say(f"{len(names)} partitions. " + ", ".join(found))
    try:
        with Results(target) as results:
            job["target"] = str(results.data)
            engine.prepare(results.work)
            return _three_passes(_Passes(engine, job, names, say), results)
    except OSError as error:
        raise RunError(f"the results cannot be written: {error}") from error
    except RunError:
        raise
    except ValueError as error:
        raise RunError(str(error)) from error


def _apart(source, target):
    """Both paths; RunError if one lies in the other, or if there is no source."""
    if not source.exists():
        raise RunError(f"“{source}” does not exist")
    if source == target or source in target.parents or target in source.parents:
        raise RunError(
            f"“{source}” and “{target}” lie in each other. Choose a folder for the results"
            " elsewhere"
        )
    return source, target


def _job(source, names, settings, reading, write_epochs):
    """Settings that all partitions need, as plain values."""
    folder = source.parent if source.is_file() else source
    try:
        taken = choose(work.names_of(folder / names[0], names[0]), reading.columns)
    except (ValueError, OSError) as error:
        raise RunError(f"“{names[0]}”: {error}") from error
    return {
        "source": str(folder),
        "taken": taken,
        "fixed_values": fixed_values(reading.fixed),
        "crs": reading.crs,
        "settings": asdict(settings),
        "write_epochs": write_epochs,
        "repairs": reading.repairs,
    }


@dataclass(frozen=True)
class _Passes:
    """Passes over the partitions: the engine, the job, the files, and where to report."""

    engine: object
    job: dict
    names: list
    say: object

    def results(self, name, tasks, title, every=False):
        """Results of all tasks in their order; `name`: of the function in `work`.

        A partition that fails ends the pass; with `every` the others go on, so that all failures
        are named at once.
        """
        done, failed = [None] * len(tasks), {}
        found = self.engine.run(name, self.job, tasks)
        for count, (number, result, error) in enumerate(found, 1):
            if error is not None:
                failed[number] = error
                if not every:
                    break
            done[number] = result
            if count * 10 // len(tasks) > (count - 1) * 10 // len(tasks):
                self.say(f"{title}: {count} of {len(tasks)}")
        if failed:
            texts = [
                f"“{self.names[number]}”: {_text(failed[number])}" for number in sorted(failed)
            ]
            more = f"\nand {len(texts) - LISTED} more" if len(texts) > LISTED else ""
            raise RunError("\n".join(texts[:LISTED]) + more)
        return done


def _three_passes(passes, results):
    """Survey, streams, edges; returns the contents of `run.json`."""
    job, names = passes.job, passes.names
    surveys = passes.results("survey", names, "pass 1 of 3, surveying", every=True)
    units, split = _gather_surveys(job, names, surveys, passes.say)
    rows, versions = sum(part["rows"] for part in surveys), surveys[0]["versions"]
    del surveys
    _gather_streams(job, passes.results("streams", units, "pass 2 of 3, inspecting the streams"))
    results.make_folders([unit["out"] for unit in units])
    fits = passes.results("fit", units, "pass 3 of 3, making edges")
    summary = _summary(job, names, fits, split, versions)
    if summary["epochs"] != rows:
        raise RunError(
            f"{rows} epochs were read at first and {summary['epochs']} at last. Run again"
            " when nobody changes the files"
        )
    results.complete(summary)
    return summary


def _text(error):
    """What to tell the user about an error of a partition."""
    kind = type(error).__name__
    if kind in ("KilledWorker", "MemoryError"):
        return (
            "its workers ended before their time, most likely for want of memory. Give each more"
            " (fewer workers, --memory), or make smaller partitions"
        )
    return str(error) if isinstance(error, (ValueError, OSError)) else f"{kind}: {error}"


def _gather_surveys(job, names, surveys, say):
    """Complete the job; returns the units of work, one per partition, and the captures that are in
    several files."""
    _demand_one_kind(names, surveys)
    timed = any(part["kind"] for part in surveys)
    job["crs_text"] = surveys[0]["crs"]
    job["centre"] = centre_of([part["spread"] for part in surveys])
    first, last = (np.array([part[key] for part in surveys]) for key in ("first", "last"))
    job["origin"] = float(np.floor(np.nanmin(first))) if timed else 0.0
    job["dated"] = not timed or float(np.nanmax(last)) > TIMES.earliest_date
    say(f"frame: metres, true to scale at {job['centre'][0]:.2f}, {job['centre'][1]:.2f} degrees")
    units, split = _share_out(names, surveys, job["repairs"])
    if split:
        say(
            f"{len(split)} captures stand in several files and are brought together, each in the"
            f" first one that has it: {', '.join(split[:LISTED])}"
            + (" …" if len(split) > LISTED else "")
        )
    return units, split


def _demand_one_kind(names, surveys):
    """Raise RunError if partitions differ in CRS, kind of times or versions."""
    _demand_alike(
        [part["crs"] for part in surveys],
        names,
        "is in the CRS",
        "Bring all files into one CRS",
        CRS.from_user_input,
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


def _share_out(names, surveys, repairs):
    """The units of work, each with the captures that belong to it, and the texts of captures that
    are in several files."""
    # captures of all files as one column, file by file
    listed = pa.chunked_array([part["captures"] for part in surveys])
    listed = listed.combine_chunks().dictionary_encode()
    code, texts = listed.indices.to_numpy(), listed.dictionary
    file = np.repeat(np.arange(len(surveys)), [len(part["captures"]) for part in surveys])
    owner = np.full(len(texts), len(surveys))
    np.minimum.at(owner, code, file)
    epochs = np.zeros(len(texts), np.int64)
    np.add.at(epochs, code, np.concatenate([part["epochs"] for part in surveys]))
    order = pc.sort_indices(texts).to_numpy()
    base = np.empty(len(texts), np.int64)
    # an edge has at least three epochs, unless one of them was taken back in
    most = (epochs // 3 + _taken_back(texts, repairs))[order]
    base[order] = np.cumsum(most) - most

    own = owner[code] == file
    units = [{"name": name, "out": _out(name), "without": [], "further": []} for name in names]
    bounds = np.searchsorted(file, np.arange(len(surveys) + 1))
    for number, unit in enumerate(units):
        here = slice(bounds[number], bounds[number + 1])
        unit["base"] = base[code[here][own[here]]]
    for place in np.flatnonzero(~own):  # only captures in several files
        text = texts[int(code[place])].as_py()
        units[file[place]]["without"].append(text)
        further = units[owner[code[place]]]["further"]
        if not further or further[-1][0] != names[file[place]]:
            further.append((names[file[place]], []))
        further[-1][1].append(text)
    return units, sorted({texts[int(each)].as_py() for each in np.unique(code[~own])})


def _taken_back(texts, repairs):
    """Number of epochs that were taken back in, by capture."""
    rows = [row["capture"] for row in repairs if row["kind"] == "take_back"]
    place = pc.index_in(pa.array(rows, texts.type), texts).drop_null().to_numpy()
    return np.bincount(place, minlength=len(texts))


def _demand_alike(values, names, what, remedy, meaning=lambda value: value):
    """Raise RunError if the value of a file means something else than that of the first one."""
    for value, name in zip(values, names):
        if value != values[0] and meaning(value) != meaning(values[0]):
            raise RunError(
                f"“{names[0]}” {what} {_short(meaning(values[0]))}, “{name}”"
                f" {_short(meaning(value))}. {remedy}"
            )


def _short(value):
    """A value as it is named in an error."""
    return value.name if isinstance(value, CRS) else value


def _gather_streams(job, found):
    """Add the nominal values of the stream to the job."""
    medians = Medians(
        *(np.concatenate([part[place] for part in found], axis=1) for place in (0, 1))
    )
    nominal = asdict(nominal_stream(medians))
    job["nominal"] = tuple(np.asarray(value, float).tolist() for value in nominal.values())


def _summary(job, names, fits, split, versions):
    """Contents of `run.json`."""
    reasons = {
        reason: sum(part["reasons"][reason] for part in fits) for reason in fits[0]["reasons"]
    }
    total = {
        key: sum(part[key] for part in fits)
        for key in ("epochs", "edges", "vertices", "length", "gaps")
    }
    nominal = [None if np.isnan(value) else value for value in job["nominal"][:5]]  # exact: scalars
    return {
        **total,
        "reasons": reasons,
        "settings": job["settings"],
        "columns": job["taken"],
        "fixed_values": job["fixed_values"],
        "crs": CRS.from_user_input(job["crs_text"]).name,
        "frame": {"longitude": job["centre"][0], "latitude": job["centre"][1]},
        "origin": job["origin"],
        "usual": dict(zip(("interval", "spacing", "across", "cubic", "up"), nominal)),
        "versions": versions,
        "captures_in_several_files": split,
        "repairs": outcomes_of(job["repairs"], [part.pop("repairs") for part in fits]),
        "partitions": [
            {"file": _out(name), "source": name, **part} for name, part in zip(names, fits)
        ],
    }
