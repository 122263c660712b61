"""Take the pictures of the tutorial in a real QGIS, on a screen of its own that nobody sees.

    .venv/bin/python .ci/tutorial_pictures.py                      # into plugin/help/pictures
    .venv/bin/python .ci/tutorial_pictures.py --language de --into FOLDER   # to look at another one

The plugin is built, installed into an empty profile, and used as the tutorial says
(`tutorial_session.py`, inside QGIS). Beside the pictures goes `tutorial.json`: what stood in the
windows, from which `tests/plugin/test_tutorial.py` tells without a screen whether they are stale.
Debian packages: qgis, xvfb, openbox, chromium (for the picture of the report).
"""

import argparse
import hashlib
import json
import os
import shutil
import subprocess
import sys
import sysconfig
import tempfile
import time
import zipfile
from pathlib import Path

import translations
from package import build
from PIL import Image

ROOT = Path(__file__).resolve().parents[1]
TARGET = ROOT / "plugin" / "help" / "pictures"
SAMPLE = ROOT / "sample_project"
SCREEN = 1366, 768  # pixels: the menus must stand beside each other
COLOURS = 96
WORK = Path("/tmp/Tern Ness")  # the user's folder: a name that may stand in pictures
LONGEST = 600  # seconds that a whole session may take
PROFILE = """[PythonPlugins]
curbwright=true
processing=true
[locale]
overrideFlag=true
userLocale={language}
[qgis]
checkVersion=false
legendLayersBold=false
"""


def install(folder, language):
    """A profile that has nothing but the plugin, as the zip installs it."""
    profile = folder / "profiles" / "default"
    (profile / "QGIS").mkdir(parents=True)
    (profile / "QGIS" / "QGIS3.ini").write_text(PROFILE.format(language=language))
    build(folder / "plugin.zip")
    with zipfile.ZipFile(folder / "plugin.zip") as archive:
        archive.extractall(profile / "python" / "plugins")


def screen(folder):
    """A screen without a monitor: the process, and the name of the display."""
    size = "x".join(map(str, (*SCREEN, 24)))
    reading, writing = os.pipe()
    server = subprocess.Popen(
        ["Xvfb", "-displayfd", str(writing), "-screen", "0", size, "-nolisten", "tcp"],
        pass_fds=[writing],
        stderr=(folder / "xvfb.log").open("w"),
    )
    os.close(writing)
    with os.fdopen(reading) as answer:
        return server, f":{answer.readline().strip()}"


def session(folder):
    """Use the plugin as the tutorial says; what stood in the windows, from `tutorial_session.py`.

    Temporary folders get a place of their own: QGIS marks every layer in one as temporary.
    """
    server, display = screen(folder)
    environment = dict(
        os.environ,
        DISPLAY=display,
        QT_QPA_PLATFORM="xcb",
        LANG="C.UTF-8",
        TMPDIR=str(folder / "temporary"),
        XDG_RUNTIME_DIR=str(folder / "temporary"),
        PYTHONPATH=sysconfig.get_paths()["purelib"],
        TUTORIAL_FOLDER=str(folder),
        TUTORIAL_WORK=str(WORK),
    )
    running = [server]
    try:
        running.append(subprocess.Popen(["openbox"], env=environment, stderr=subprocess.DEVNULL))
        command = ["qgis", "--nologo", "--noversioncheck", "--profiles-path", str(folder)]
        command += ["--code", str(ROOT / ".ci" / "tutorial_session.py")]
        with (folder / "qgis.log").open("w") as log:
            qgis = subprocess.Popen(command, env=environment, stdout=log, stderr=log)
        running.append(qgis)
        qgis.wait(timeout=LONGEST)
    finally:
        for process in reversed(running):
            if process.poll() is None:
                process.terminate()
                process.wait()
    seen = folder / "seen.json"
    if not seen.is_file():
        raise SystemExit((folder / "qgis.log").read_text())
    return json.loads(seen.read_text(encoding="utf-8"))


def first_page(folder, report):
    """The beginning of a report as a browser shows it."""
    target = folder / "shots" / "tutorial_report.png"
    command = ["chromium", "--headless", "--no-sandbox", "--disable-gpu", "--hide-scrollbars"]
    command += [f"--user-data-dir={folder / 'browser'}", "--force-device-scale-factor=1"]
    command += ["--window-size=900,1000", f"--screenshot={target}", Path(report).as_uri()]
    subprocess.run(command, check=True, capture_output=True, timeout=120)


def store(folder, target):
    """The pictures in few colours; their checksums by name."""
    sums = {}
    for shot in sorted((folder / "shots").glob("*.png")):
        picture = Image.open(shot).convert("RGB")
        few = picture.quantize(
            COLOURS, method=Image.Quantize.MEDIANCUT, kmeans=2, dither=Image.Dither.NONE
        )
        few.save(target / shot.name, optimize=True)
        sums[shot.name] = checksum(target / shot.name)
    return sums


def checksum(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


def main():
    """Take the pictures; the time that the session took is printed."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--language", default="en_US")
    parser.add_argument("--into", type=Path, default=TARGET)
    given = parser.parse_args()
    if given.language != "en_US" and given.into == TARGET:
        parser.error("The tutorial's own pictures are in English: name another folder (--into).")
    given.into.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(prefix="curbwright-tutorial") as name:
        folder = Path(name)
        for part in ("temporary", "shots"):
            (folder / part).mkdir(mode=0o700)
        install(folder, given.language)
        WORK.mkdir()  # an error where somebody has one
        try:
            began = time.monotonic()
            seen = session(folder)
            print(f"{time.monotonic() - began:.0f} s")
            if "failed" in seen:
                raise SystemExit(seen["failed"])
            first_page(folder, seen.pop("report"))
        finally:
            shutil.rmtree(WORK)
        seen["pictures"] = store(folder, given.into)
    texts = {text for some in translations.collect().values() for text in some}
    seen["ours"] = [word for word in seen["words"] if word in texts]
    seen["sample"] = {
        path: checksum(SAMPLE / path) for path in ("tern_ness.qgz", "data/tern_ness.gpkg")
    }
    text = json.dumps(seen, indent=1, sort_keys=True, ensure_ascii=False)
    (given.into / "tutorial.json").write_text(text + "\n", encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
