"""Which displaced lines may pass without anybody looking: those beyond every doubt."""

import dataclasses

import numpy as np
import pytest
from comparisons import comparison

from curbwright.shared.lines.clear_cases import ClearRule, clear_cases
from curbwright.shared.lines.comparison_results import DISPLACED

ANY = ClearRule(0.0, 10.0)


def with_sigma(made, sigma):
    return dataclasses.replace(
        made,
        sigma_assumed=False,
        edge_statistics=dataclasses.replace(made.edge_statistics, sigma=np.asarray(sigma, float)),
    )


@pytest.fixture(scope="module")
def made():
    found = comparison()
    return with_sigma(found, np.full(len(found.edge_statistics), 0.01))


def test_displaced_lines_that_are_matched_and_sure_are_clear(made):
    found = clear_cases(made, ANY)
    statistics = made.existing_statistics
    assert found.any()
    assert (statistics.status[found] == DISPLACED).all()
    displaced = (statistics.status == DISPLACED) & (statistics.matched_share > 0)
    assert found.tolist() == displaced.tolist()
    # each limit takes some away, and none is added by a stricter one
    share = float(np.median(statistics.matched_share[found]))
    stricter = clear_cases(made, ClearRule(share, 10.0))
    assert not (stricter & ~found).any() and (statistics.matched_share[stricter] > share).all()
    assert not clear_cases(made, ClearRule(0.0, 0.009)).any()


@pytest.mark.parametrize("unsure", [0.5, 0.0, np.nan])
def test_one_edge_that_is_not_sure_is_enough_for_doubt(made, unsure):
    stations = made.stations
    row = int(np.flatnonzero(clear_cases(made, ANY))[0])
    edge = int(stations.edge[stations.existing == row][0])
    sigma = made.edge_statistics.sigma.copy()
    sigma[edge] = unsure
    assert not clear_cases(with_sigma(made, sigma), ClearRule(0.0, 0.1))[row]


def test_nothing_is_clear_where_the_uncertainty_is_assumed(made):
    assumed = dataclasses.replace(made, sigma_assumed=True)
    assert not clear_cases(assumed, ANY).any()


@pytest.mark.parametrize(
    ("rule", "named"), [((1.1, 0.02), "min_matched"), ((np.nan, 0.02), "min_matched"),
                        ((0.9, 0.0), "max_sigma"), ((0.9, np.nan), "max_sigma")]
)  # fmt: skip
def test_rules_that_make_no_sense(rule, named):
    with pytest.raises(ValueError, match=named):
        ClearRule(*rule)
