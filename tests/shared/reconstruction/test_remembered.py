"""Sigmas of edges: what repeated walks show, and odd epochs against even ones."""

import numpy as np
import pytest
import shapely
from epochwalks import table_of_captures
from scipy.spatial import cKDTree

from curbwright.sample_project import simulation as sim
from curbwright.shared.reconstruction.reconstruct import Settings, reconstruct
from curbwright.shared.reconstruction.remembered import _lacking
from curbwright.shared.tuning import MEMORY

SIGMA = 0.012
BAND = 1.96  # sigmas that hold 95 % of a normal error
TRUTH = sim.chain(
    "test",
    [("line", 14.0), ("arc", 6.0, 60.0), ("line", 9.0), ("corner", 70.0), ("line", 11.0)],
    (3e5, 6e6),
    0.4,
)


def walks(rate, count=24, remembered=0.7, time=0.5, seed=5):
    """Walks of 1 m/s along one edge. A `remembered` share of the noise has a memory; nothing stays
    the same over a minute, and the reported accuracy says so."""
    out = []
    for number in range(count):
        rng = np.random.default_rng([seed, number])
        s = np.arange(0.0, TRUTH.length, 1 / rate)
        kept = [sim.gauss_markov(len(s), rng, 1.0, time, 1 / rate) for _ in range(3)]
        own = rng.normal(size=(3, len(s)))
        error = np.sqrt(remembered) * np.array(kept) + np.sqrt(1 - remembered) * own
        x, y, z = TRUTH.at(s).T + SIGMA * error
        out.append(
            {
                "x": x,
                "y": y,
                "z": z,
                "seconds": s + 3600.0 * number,
                "sigma_h": np.full(len(s), 1e-5),
            }
        )
    return out


def fitted(captures):
    """The result for captures, with stations."""
    return reconstruct(table_of_captures(captures)[0], Settings(station_spacing=0.5))


def true_distance(stations):
    """Distances of stations from the true edge, metres."""
    line = shapely.linestrings(TRUTH.at(np.arange(-1.0, TRUTH.length + 1.0, 0.01))[:, :2])
    return shapely.distance(line, shapely.points(stations.x, stations.y))


def differences(one, other):
    """Distances of stations of one result from the edges of the other, capture by capture, and
    the 1-sigma of these distances."""
    off, sigma = [], []
    for capture in np.unique(one.edges.capture):
        here, there = (
            np.flatnonzero(each.edges.capture[each.stations.edge] == capture)
            for each in (one, other)
        )
        a, b = (
            np.column_stack([each.stations.x, each.stations.y])[rows]
            for each, rows in ((one, here), (other, there))
        )
        inner = slice(3, -3)  # beyond its end, nothing is known of the other
        _, nearest = cKDTree(b).query(a[inner])
        edges = np.flatnonzero(other.edges.capture == capture)
        lines = shapely.multilinestrings(
            [
                np.column_stack([other.edges.x, other.edges.y])[first:last]
                for first, last in zip(other.edges.offsets[edges], other.edges.offsets[edges + 1])
            ]
        )
        off.append(shapely.distance(lines, shapely.points(a[inner])))
        sigma.append(
            np.hypot(
                one.stations.sigma_cross[here][inner], other.stations.sigma_cross[there][nearest]
            )
        )
    return np.concatenate(off), np.concatenate(sigma)


@pytest.mark.one_host
@pytest.mark.one_in(2)
@pytest.mark.parametrize("rate", [2, 4, 8])
def test_sigma_is_what_repeated_walks_show(rate):
    result = fitted(walks(rate))
    off, sigma = true_distance(result.stations), result.stations.sigma_cross
    # of 24 walks, seeds 5 to 12 24.9 on average: noise with a memory makes no elements to doubt
    assert len(result.edges) <= 26
    assert 0.8 < np.sqrt(np.mean(off**2)) / np.sqrt(np.mean(sigma**2)) < 1.15
    assert 0.91 < np.mean(off < BAND * sigma) < 0.985


def test_white_noise_of_a_fast_stream_averages_out():
    white, remembered = (fitted(walks(8, 12, share)) for share in (0.0, 0.7))
    assert np.median(white.edges.sigma_cross) < 0.7 * np.median(remembered.edges.sigma_cross)


@pytest.mark.parametrize("rate", [2, 8])
def test_odd_and_even_epochs_agree_within_their_sigmas(rate):
    captures = walks(rate)
    odd, even = (
        fitted([{name: column[first::2] for name, column in one.items()} for one in captures])
        for first in (0, 1)
    )
    off, sigma = differences(odd, even)
    assert np.mean(off < BAND * sigma) > 0.93
    assert np.sqrt(np.mean(off**2)) > 0.2 * np.sqrt(np.mean(sigma**2))  # no sigma that says all


def lacking(true, elements=400, size=15, seed=8):
    """What `_lacking` finds where elements of one capture lack as much as `true` (m2, of a noise of
    1 m2), element by element."""
    rng = np.random.default_rng(seed)
    element = np.repeat(np.arange(elements), size)
    lack = np.broadcast_to(true, elements)[element]
    left = (1 + lack) * rng.normal(size=len(element)) ** 2 - 1
    one = np.ones(len(element))
    capture = element // 10  # elements
    return _lacking(left, one, one, one, (element, capture))[::size]


def test_chance_is_no_lack_of_fit():
    # means of elements scatter by 0.37: those above 0 alone would come to 0.15, times the factor
    assert lacking(0.0).mean() < 0.05 * MEMORY.unseen


def test_what_elements_lack_is_found():
    true = np.tile([0.0, 0.0, 0.0, 0.0, 3.0], 80)
    found = lacking(true)
    assert found[true == 0].mean() < 1 < 2.5 < found[true > 0].mean()


def straight_walk(length, seed=3):
    """A walk of 1 Hz along a straight line; by the accuracy reported 0.02 m stay the same."""
    rng = np.random.default_rng(seed)
    s = np.arange(length)
    x, y, z = np.column_stack([3e5 + s, np.full(length, 6e6), np.zeros(length)]).T + rng.normal(
        0.0, 0.003, (3, length)
    )
    return {"x": x, "y": y, "z": z, "seconds": s, "sigma_h": np.full(length, 0.02 * np.sqrt(2))}


def test_long_elements_average_the_slow_error():
    long, short = (fitted([straight_walk(length)]).edges.sigma_cross[0] for length in (300, 12))
    assert short == pytest.approx(0.02, rel=0.06)
    # a mean over 300 s has 0.56 of it, a fitted straight line more
    assert 0.56 * 0.02 < long < 0.8 * 0.02
