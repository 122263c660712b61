"""Which processes of this system still run."""

import time
from pathlib import Path


def lives(process):
    """Whether the process with this number, which is looked up in /proc, runs."""
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] not in "ZX"
    except OSError:
        return False


def gone(processes, seconds):
    """Whether all processes end within so many seconds."""
    until = time.monotonic() + seconds
    while any(map(lives, processes)) and time.monotonic() < until:
        time.sleep(0.01)
    return not any(map(lives, processes))
