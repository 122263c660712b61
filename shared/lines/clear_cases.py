"""Clear cases: displaced lines that a person may accept without inspecting each."""

from dataclasses import dataclass

import numpy as np

from .comparison_results import DISPLACED


@dataclass(frozen=True)
class ClearRule:
    """When a displaced line is a clear case.

    `min_matched`: share of its visited length that has an edge along it, 0 to 1. `max_sigma`:
    uncertainty of every edge along it, 1-sigma across, metres.

    Raises
    ------
    ValueError
        If the share does not lie between 0 and 1, or the uncertainty is not greater than 0.
    """

    min_matched: float = 0.9
    max_sigma: float = 0.020

    def __post_init__(self):
        if not 0 <= self.min_matched <= 1:
            raise ValueError(f"min_matched must lie between 0 and 1, got {self.min_matched}")
        if not self.max_sigma > 0:
            raise ValueError(f"max_sigma must be greater than 0 m, got {self.max_sigma}")


def clear_cases(comparison, rule):
    """Mask of the existing lines that are displaced beyond doubt.

    Parameters
    ----------
    comparison : Comparison
    rule : ClearRule

    Returns
    -------
    ndarray of bool, shape (existing,)
        Lines displaced by more than their limit, matched over the share asked for, with edges that
        are all precise enough. None if the uncertainty of the edges is not known.
    """
    statistics = comparison.existing_statistics
    clear = (statistics.status == DISPLACED) & (statistics.matched_share > rule.min_matched)
    if comparison.sigma_assumed:
        return np.zeros_like(clear)
    sigma = comparison.edge_statistics.sigma
    precise = (sigma > 0) & (sigma < rule.max_sigma)  # 0 and NaN are unknown
    clear[comparison.stations.existing[~precise[comparison.stations.edge]]] = False
    return clear
