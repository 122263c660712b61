"""Build the zip that QGIS's plugin manager installs: ``python3 .ci/package.py [FILE]``.

Only what the plugin needs at work goes in: no tests, no sample project, no tools, no caches. Where
git knows the files, only those under version control are taken, so that nothing left lying about
slips in. The same files give the same bytes.
"""

import configparser
import subprocess
import sys
import zipfile
from pathlib import Path, PurePosixPath

ROOT = Path(__file__).resolve().parents[1]
# the folder in the zip is the plugin's name to QGIS: an identifier, never changed
NAME = "curbwright"
TOP_FILES = ("__init__.py", "metadata.txt", "LICENSE", "README.md")
# what “Open the sample project…” copies
SAMPLE = tuple(
    f"sample_project/{name}"
    for name in ("tern_ness.qgz", "data/tern_ness.gpkg", "data/tern_ness_walk.nmea")
)
FOLDERS = ("algorithms", "plugin", "shared")
LEFT_OUT = PurePosixPath("shared/partitions")  # a program of its own, which QGIS never starts
SUFFIXES = (".py", ".csv", ".qml", ".svg", ".png", ".model3", ".qm", ".md", ".html", ".css")


PLACEHOLDER = "example.org"  # a domain that is nobody's (RFC 2606)


def metadata():
    parser = configparser.ConfigParser(interpolation=None)
    parser.read(ROOT / "metadata.txt", encoding="utf-8")
    return parser["general"]


def version():
    return metadata()["version"]


def to_fill_in():
    """Keys of the metadata that still hold a placeholder, which the plugin repository refuses."""
    keys = ("homepage", "tracker", "repository", "email")
    return [key for key in keys if PLACEHOLDER in metadata()[key]]


def tracked_files():
    """Paths under version control relative to the root; None in a copy without git."""
    try:
        # A clone owned by another user is as good as one's own here: nothing of it is run.
        listing = subprocess.run(
            [
                "git",
                "-c",
                "safe.directory=*",
                "-C",
                str(ROOT),
                "ls-files",
                "-z",
                "--",
                *TOP_FILES,
                *SAMPLE,
                *FOLDERS,
            ],
            capture_output=True,
            check=True,
        ).stdout
    except (FileNotFoundError, subprocess.CalledProcessError):
        return None
    return {PurePosixPath(name) for name in listing.decode().split("\0") if name} or None


def files():
    """Paths to pack, relative to the root, sorted."""
    needed = (*TOP_FILES, *SAMPLE)
    found = {PurePosixPath(name) for name in needed if (ROOT / name).is_file()}
    for folder in FOLDERS:
        for path in (ROOT / folder).rglob("*"):
            relative = PurePosixPath(path.relative_to(ROOT).as_posix())
            hidden = any(part.startswith(".") for part in relative.parts)
            if (
                path.is_file()
                and not hidden
                and path.suffix in SUFFIXES
                and LEFT_OUT not in relative.parents
            ):
                found.add(relative)
    tracked = tracked_files()
    if tracked is not None:
        forgotten = sorted(found - tracked)
        if forgotten:
            print(
                "left out, not under version control: " + ", ".join(map(str, forgotten)),
                file=sys.stderr,
            )
        found &= tracked
    absent = sorted(set(map(PurePosixPath, needed)) - found)
    if absent:
        raise SystemExit(
            "The zip needs "
            + ", ".join(map(str, absent))
            + ": missing or not under version control."
        )
    return sorted(found)


def build(target):
    """Write the zip to the path `target` and return the names in it."""
    names = []
    paths = files()  # first: where something is missing no half a zip is left
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in paths:
            # the earliest a zip can hold
            entry = zipfile.ZipInfo(f"{NAME}/{path}", date_time=(1980, 1, 1, 0, 0, 0))
            entry.compress_type = zipfile.ZIP_DEFLATED
            entry.external_attr = 0o644 << 16
            archive.writestr(entry, (ROOT / path).read_bytes())
            names.append(entry.filename)
    return names


def main(arguments):
    if len(arguments) > 1:
        raise SystemExit("usage: package.py [FILE]")
    target = Path(arguments[0]) if arguments else ROOT / f"{NAME}-{version()}.zip"
    names = build(target)
    if to_fill_in():
        print(f"to fill in before publishing: {', '.join(to_fill_in())}", file=sys.stderr)
    print(f"{target}: {len(names)} files, {target.stat().st_size / 1000:.0f} kB")


if __name__ == "__main__":
    main(sys.argv[1:])
