"""Parts of the work side by side."""
import threading
import time

import pytest

from curbwright.shared import parts
from curbwright.shared.parts import run_parts


@pytest.mark.parametrize("count", [0, 1, 2, 9])
def test_results_in_the_order_of_the_parts(count):
    def work(part, ahead):
        ahead(0.5)
        time.sleep(0.01 * (count - part))  # the first ones end last
        return part * part

    shares = []
    assert run_parts(work, range(count), shares.append) == [part * part for part in range(count)]
    assert shares == sorted(shares)
    assert all(0 <= share <= 1 for share in shares)


def test_checkpoint_is_called_in_the_calling_thread():
    seen = set()
    run_parts(lambda part, ahead: ahead(0.5), range(4), lambda share: seen.add(threading.get_ident()))
    assert seen == {threading.get_ident()}


@pytest.mark.parametrize("count", [1, 5])
def test_an_error_of_a_part_comes_through(count):
    def work(part, ahead):
        ahead(0.1)
        if part == count - 1:
            raise ZeroDivisionError("of the part")

    with pytest.raises(ZeroDivisionError, match="of the part"):
        run_parts(work, range(count), lambda share: None)


@pytest.mark.parametrize("count", [1, 6])
def test_checkpoint_stops_all_parts(count, monkeypatch):
    monkeypatch.setattr(parts, "POLL", 0.01)
    begun, ended = [], []

    def work(part, ahead):
        begun.append(part)
        for _ in range(2000):
            ahead(0.0)
            time.sleep(0.002)
        ended.append(part)

    class CancelledError(Exception):
        pass

    def checkpoint(share):
        raise CancelledError

    start = time.monotonic()
    with pytest.raises(CancelledError):
        run_parts(work, range(count), checkpoint)
    assert time.monotonic() - start < 2.0  # one part alone would take four seconds
    assert begun and not ended
