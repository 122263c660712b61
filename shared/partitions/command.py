"""The command line of a run."""

import argparse
import os
import sys
from dataclasses import fields
from importlib import import_module

from ..tuning import POOL

PACKAGES = ("numpy", "scipy", "shapely", "dask", "distributed", "pyarrow", "pyproj")
DESCRIPTION = """\
Turns streamed RTK epochs into edges where they are too many for one layer: GeoParquet files in,
GeoParquet files out, one partition at a time on each of Dask's workers. The result does not depend
on how many these are."""
NOTES = """\
IN is a folder of GeoParquet files (1.0 or 1.1) with points in any CRS, in folders of their own if
need be (also capture=7/part.parquet), or one file. All epochs of a capture should stand in one
file; a capture that stands in several is brought together in the first of them, which costs reading
the others once more. Sort them by capture when the files are written.

OUT gets edges/ and gaps/ (LineString Z in the CRS of IN, fields as in the plugin's layers; gaps
between captures are left out), on request epochs/ (every column of IN, then edge_id, reason,
detail, chainage, residual_cross, residual_up, role, height_used), one file for each of IN, and
run.json: counts, reasons, settings, versions. edge_id is unique over the run, though not without
holes, and gap_id is that of the edge before. Results of an earlier run in OUT are replaced when the
new ones are complete, not before. One run at a time.

Repairs are carried out as the plugin carries them out; run.json says what became of them, and
epochs/ which epochs they left out (left_out).

A worker holds one partition in memory at a time, some 0.6 GB for a million epochs, and more with
wide columns and --epochs: files of 0.2 to 2 million epochs do well, and there should be several
times as many as workers. This process holds about 200 bytes for each capture.

An existing cluster: its workers need numpy, scipy, shapely, pyarrow and pyproj in the same
versions, see IN and OUT under the same paths, and work best with one thread each (dask worker
--nthreads 1). The core itself is handed to them.

The result is of mapping grade: it is no boundary survey, and not for stake-out without a licensed
surveyor."""


SETTING_HELP = {
    "max_h_accuracy": "epochs said to be worse are rejected",
    "max_time_gap": "a longer pause ends the edge; 0: from the stream",
    "max_distance_gap": "a longer step ends the edge; 0: from the stream",
    "corner_angle": "sharper deflections stay corners",
    "tolerance": "of the line written",
    "min_length": "shorter edges are left out",
}
REPAIRS_HELP = (
    "CSV or Parquet table of what a person decided about epochs and stretches, as the plugin's"
    " layer “repairs” has it: capture, kind, time and, where the kind needs them, until and value"
)
COLUMN_HELP = {
    "time": "date-time, ISO 8601 text, or seconds or milliseconds since 1970",
    "capture": "text or whole number that tells captures apart; may be given several times",
    "fix": "kind of solution; '' if every epoch is RTK fixed",
    "h_accuracy": "horizontal 1-sigma of the receiver, metres",
    "v_accuracy": "vertical 1-sigma of the receiver, metres",
}


def say(text):
    """Write a message for the user to standard error.

    Parameters
    ----------
    text : str
    """
    sys.stderr.write(f"{text}\n")


def parser():
    """Make the parser of the command's options.

    Returns
    -------
    argparse.ArgumentParser
    """
    parse = argparse.ArgumentParser(
        prog="partitions",
        description=DESCRIPTION,
        epilog=NOTES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    parse.add_argument("source", metavar="IN", help="folder of the epochs")
    parse.add_argument("target", metavar="OUT", help="folder for the results")
    _add_workers(parse.add_argument_group("workers"))
    _add_columns(
        parse.add_argument_group(
            "columns",
            "Found by their names (algorithms/reading/roles.csv) where they are not given; '' for"
            " none.",
        )
    )
    parse.add_argument(
        "--epochs",
        action="store_true",
        help="write every epoch with its edge, or the reason why it has none",
    )
    parse.add_argument("--repairs", metavar="FILE", help=REPAIRS_HELP)
    _add_settings(
        parse.add_argument_group(
            "settings", "As in the plugin's main job: metres, seconds, degrees."
        )
    )
    return parse


def _add_workers(group):
    """Options for the workers."""
    processes = min(POOL.most_workers, os.cpu_count() or 1)
    group.add_argument(
        "--workers",
        type=int,
        default=processes,
        metavar="N",
        help=f"processes on this machine (default here: {processes}); 0 for none but this one",
    )
    group.add_argument(
        "--memory",
        default="auto",
        metavar="SIZE",
        help="each of them may take, for example 4GiB (default: its share of what there is)",
    )
    group.add_argument(
        "--scheduler",
        metavar="ADDRESS",
        help="of a Dask cluster that is there already, for example tcp://host:8786, in place of"
        " --workers",
    )


def _add_columns(group):
    """Options for reading the files."""
    for part, text in COLUMN_HELP.items():
        group.add_argument(
            f"--{part.replace('_', '-')}",
            metavar="NAME",
            action="append" if part == "capture" else "store",
            help=text,
        )
        if part == "fix":
            group.add_argument(
                "--fixed-values",
                metavar="LIST",
                help="its values that mean fixed, comma-separated (default: NMEA quality 4 and the"
                " common words)",
            )
    group.add_argument(
        "--crs",
        help="CRS of the epochs, where the files name none or a wrong one, for example EPSG:25832",
    )


def _add_settings(group):
    """Options of the main job."""
    from ..epochs.settings import CURVE_MODELS, DOUBTFUL, Settings

    for setting in fields(Settings):
        if setting.name in SETTING_HELP:
            group.add_argument(
                f"--{setting.name.replace('_', '-')}",
                type=float,
                default=setting.default,
                metavar="NUMBER",
                help=f"{SETTING_HELP[setting.name]} (default {setting.default:g})",
            )
    group.add_argument(
        "--curve-model",
        choices=CURVE_MODELS,
        default="automatic",
        help="what edges are made of (default automatic)",
    )
    group.add_argument(
        "--doubtful",
        choices=DOUBTFUL,
        default="keep",
        help="what becomes of positions that nothing confirms (default keep)",
    )


def main(arguments=None):
    """Run the command.

    Parameters
    ----------
    arguments : list of str, optional
        Those of this process by default.

    Returns
    -------
    int
        Exit code: 0 when done, 1 if the run could not go on, 130 if it was stopped, 2 if something
        is missing or misspelt.
    """
    absent = _absent_packages()
    if absent:
        say(
            f"Missing here: {', '.join(absent)}. Install what this command needs with\n    bash"
            " setup.sh cluster\nand start it with .venv/bin/python, both in Curbwright's own"
            " folder."
        )
        return 2
    from .engine import Cluster, Here
    from .partition_repairs import read_repairs
    from .runner import Reading, RunError, run

    parse = parser()
    given = parse.parse_args(arguments)
    if given.workers < 0:
        parse.error("--workers must be 0 or greater")
    settings = _settings_of(given, parse)
    spread = given.workers or given.scheduler
    try:
        repairs = read_repairs(given.repairs) if given.repairs else []
        reading = Reading(_columns_of(given), given.fixed_values, given.crs, repairs)
        with Cluster(given.workers, given.scheduler, given.memory) if spread else Here() as engine:
            summary = run(given.source, given.target, settings, reading, given.epochs, engine, say)
    except (RunError, ValueError) as error:
        say(str(error))
        return 1
    except KeyboardInterrupt:
        say("Stopped. Former results are as they were.")
        return 130
    _say_summary(summary, given.target)
    return 0


def _absent_packages():
    """Packages that cannot be imported, with the reason if that is not their absence."""
    absent = []
    for name in PACKAGES:
        try:
            import_module(name)
        except ImportError as error:
            absent.append(name if getattr(error, "name", None) == name else f"{name} ({error})")
    return absent


def _columns_of(given):
    """Names of the columns that the user chose, by part; an empty name means none."""
    chosen = {part: getattr(given, part) for part in COLUMN_HELP}
    return {
        part: [name for name in (names if isinstance(names, list) else [names]) if name]
        for part, names in chosen.items()
        if names is not None
    }


def _settings_of(given, parse):
    """Settings from the options; ends the process if one is out of range."""
    from ..epochs.settings import Settings

    names = [setting.name for setting in fields(Settings) if hasattr(given, setting.name)]
    try:
        return Settings(**{name: getattr(given, name) for name in names})
    except ValueError as error:
        return parse.error(str(error))


def _say_summary(summary, target):
    """Tell the user the result in short."""
    kept = summary["reasons"]["kept"]
    lost = ", ".join(
        f"{reason} {count:,}"
        for reason, count in summary["reasons"].items()
        if count and reason != "kept"
    )
    say(f"{summary['epochs']:,} epochs, {kept:,} kept" + (f"; rejected: {lost}" if lost else ""))
    say(
        f"{summary['edges']:,} edges, {summary['length']:,.1f} m on the ground, {summary['gaps']:,}"
        f" gaps in {target}"
    )
    found = summary["repairs"]
    if any(found[state] for state in ("applied", "lost", "no_effect")):
        say(
            f"repairs: {found['applied']} applied, {found['lost']} lost, {found['no_effect']}"
            " without effect (run.json says why)"
        )
