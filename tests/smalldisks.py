"""Small disks for the tests of what is left where a disk is full.

A volume of a few kilobytes is mounted where that is permitted (root); elsewhere the test is
skipped.
"""

import contextlib
import subprocess
import sys

import pytest


@contextlib.contextmanager
def small_disk(folder, kilobytes, read_only=False):
    """A volume of a size at a folder; skips the test where none can be mounted."""
    if not sys.platform.startswith("linux"):
        pytest.skip("a small volume is mounted on Linux only")
    folder.mkdir(parents=True, exist_ok=True)
    options = f"size={kilobytes}k,mode=0777" + (",ro" if read_only else "")
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", options, "small", str(folder)], capture_output=True
    )
    if done.returncode:
        pytest.skip(f"no volume can be mounted here: {done.stderr.decode().strip()}")
    try:
        yield folder
    finally:
        if subprocess.run(["umount", str(folder)], capture_output=True).returncode:
            subprocess.run(["umount", "--lazy", str(folder)], check=True)


def remount_read_only(folder):
    subprocess.run(["mount", "-o", "remount,ro", str(folder)], check=True)
