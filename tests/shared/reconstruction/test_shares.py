"""The table in parts of whole captures."""

import numpy as np
import pytest
from epochwalks import table_of
from numpy.testing import assert_array_equal

from curbwright.shared.epochs.stream import Medians
from curbwright.shared.reconstruction.results import EpochOutcomes
from curbwright.shared.reconstruction.shares import CaptureShares, part_count
from curbwright.shared.tuning import override

CODES = [3, 3, 3, 7, 7, 0, 0, 0, 0, 3]


def shares_of(codes, count):
    table = table_of(np.arange(len(codes)), np.zeros(len(codes)), capture=codes)
    return CaptureShares(table).split(count)


@pytest.mark.parametrize("count", [1, 2, 3, 9])
@pytest.mark.parametrize("codes", [CODES, sorted(CODES), [5] * 4])
def test_parts_are_whole_captures_and_all_of_them(codes, count):
    shares = shares_of(codes, count)
    assert 1 <= len(shares) <= min(count, len(set(codes)))
    rows = [np.arange(len(codes))[shares.rows(number)] for number in range(len(shares))]
    assert_array_equal(np.sort(np.concatenate(rows)), np.arange(len(codes)))
    own = [set(np.array(codes)[some]) for some in rows]
    assert sum(map(len, own)) == len(set(codes))
    for number, some in enumerate(rows):
        assert_array_equal(shares.captures(number), sorted(own[number]))
        assert_array_equal(shares[number].x, some)
        # numbered anew, in the order of the codes
        assert_array_equal(shares.captures(number)[shares[number].capture], np.array(codes)[some])


def test_an_empty_table_is_one_empty_part():
    shares = shares_of([], 3)
    assert len(shares) == 1 and len(shares[0]) == 0 and len(shares.captures(0)) == 0
    assert shares.gather_medians([Medians(np.zeros((5, 0)), np.zeros((5, 0)))]).value.shape == (
        5,
        0,
    )


def test_medians_go_to_their_captures():
    shares = shares_of(CODES, 2)
    parts = []
    for number in range(len(shares)):
        codes = shares.captures(number)
        parts.append(Medians(np.tile(codes + 0.5, (5, 1)), np.tile(codes + 1, (5, 1))))
    medians = shares.gather_medians(parts)
    known = np.isin(np.arange(8), CODES)
    assert_array_equal(medians.value[2, known], [0.5, 3.5, 7.5])
    assert np.isnan(medians.value[:, ~known]).all()
    assert_array_equal(medians.number[4], np.where(known, np.arange(8) + 1, 0))


@pytest.mark.parametrize("codes", [CODES, sorted(CODES)])
def test_results_of_a_part_are_put_in_their_place(codes):
    class Drawn:
        def placed(self, captures, rows_of):
            return captures, rows_of(np.array([0, 1]))

    shares = shares_of(codes, 2)
    assert len(shares) == 2
    whole = EpochOutcomes.empty(len(codes), numbers=False)
    for number in (1, 0):  # in any order
        size = len(shares[number])
        own = EpochOutcomes.empty(size, numbers=False)
        own.reason[:] = 10 * number + np.arange(size)
        order, (captures, rows) = shares.put(whole, number, (own, np.arange(size)[::-1], Drawn()))
        here = np.arange(len(codes))[shares.rows(number)]
        assert_array_equal(order, here[::-1])
        assert_array_equal(rows, here[:2])
        assert_array_equal(captures, shares.captures(number))
        assert_array_equal(whole.reason[here], 10 * number + np.arange(size))


@pytest.mark.parametrize(
    ("epochs", "workers", "count"),
    [
        (0, 2, 1),
        (79, 2, 1),
        (80, 2, 2),  # enough for both
        (500, 2, 2),
        (501, 2, 4),  # whole rounds
        (501, 1, 3),
        (1001, 4, 12),  # all that is worked on at once is bounded too
    ],
)
def test_number_of_parts(epochs, workers, count):
    with override(
        EXECUTION__part_epochs=250, EXECUTION__epochs_at_work=500, EXECUTION__smallest_part=40
    ):
        assert part_count(epochs, workers) == count
