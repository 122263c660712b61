"""Shares within a buffer, against shapely's."""

import numpy as np
import pytest
import shapely
from lineshapes import lines_of, wiggle
from numpy.testing import assert_allclose

from curbwright.shared.lines.rays import Index
from curbwright.shared.lines.simple_buffer import Within, within


@pytest.mark.parametrize("seed", range(3))
def test_share_within_is_that_of_shapelys_buffer(seed):
    rng = np.random.default_rng(seed)
    edges, existing = (lines_of(*(wiggle(rng) for _ in range(12))) for _ in range(2))
    found = within(edges, Index(existing), 0.02, 4.0)
    as_one = [
        shapely.multilinestrings(
            [
                shapely.linestrings(np.column_stack([side.x, side.y])[a:b])
                for a, b in zip(side.offsets[:-1], side.offsets[1:])
            ]
        )
        for side in (edges, existing)
    ]
    for x in (0.3, 1.0, 2.5, 4.0):
        buffer = shapely.buffer(as_one[1], x, quad_segs=64)
        expected = sum(
            shapely.length(shapely.intersection(part, buffer))
            for part in shapely.get_parts(as_one[0])
        ) / shapely.length(as_one[0])
        assert float(found.share(x)) == pytest.approx(expected, abs=2e-3)


def test_pieces_that_are_not_reached_count_as_outside():
    found = Within(
        np.array([0.0, 0.5, np.inf]), np.array([1.0, 0.5, np.inf]), np.array([2.0, 1.0, 1.0])
    )
    assert_allclose(found.share(np.array([0.0, 0.25, 0.5, 1.0, 9.0])), [0, 0.125, 0.5, 0.75, 0.75])
    beyond = Within(np.zeros(1), np.ones(1), np.full(1, 2.0), elsewhere=6.0)
    assert beyond.share(1.0) == 0.25
    assert found.half_width(2 / 3, 9.0) == pytest.approx(0.5, abs=1e-6)
    assert np.isnan(Within(np.zeros(0), np.zeros(0), np.zeros(0)).share(1.0))
    assert np.isnan(
        Within(np.array([np.inf]), np.array([np.inf]), np.ones(1)).half_width(0.95, 2.0)
    )
