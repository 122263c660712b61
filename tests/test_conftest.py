"""The tests start without a screen, however they are called."""

import os
import subprocess
import sys

import clone
import pytest


@pytest.mark.long
@pytest.mark.one_host
def test_a_file_alone_needs_no_screen():
    screens = ("DISPLAY", "WAYLAND_DISPLAY", "QT_QPA_PLATFORM")
    environment = {name: value for name, value in os.environ.items() if name not in screens}
    done = subprocess.run(
        [sys.executable, "-m", "pytest", "--collect-only", "-q", "tests/plugin/test_loading.py"],
        cwd=clone.ROOT,
        env=environment,
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert "test_metadata" in done.stdout
