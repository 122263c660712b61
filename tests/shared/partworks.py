"""Work that a process of its own can import; see parallel/test_pool.py."""

import os
import time


def square(part, progress):
    progress(0.5)
    print("a line that must not get among the answers")
    time.sleep(0.002 * (8 - part))  # the first ones end last
    return part * part, os.getpid()


def twice(part, progress):
    return 2 * part


def fail(part, progress):
    if part == 2:
        raise ZeroDivisionError("of the part")
    return part


def die(part, progress, caller):
    """Ends the process that it runs in, unless that is the caller's."""
    if os.getpid() != caller and part == 1:
        os._exit(3)
    return part


def linger(part, progress):
    for _ in range(600):
        progress(0.0)
        time.sleep(0.05)
    return part
