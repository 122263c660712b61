"""The changes that a comparison found, numbered once for the map and all lists."""

from dataclasses import dataclass

import numpy as np

from ..lines.comparison_results import DISPLACED, ONLY_EXISTING, ONLY_NEW, PARTLY


@dataclass(frozen=True)
class Changes:
    """Changes, the longest first; arrays of shape (changes,). The first has the number 1.

    Attributes
    ----------
    status : ndarray of uint8
        Place in `comparison_results.STATUS_NAMES`.
    edge, existing : ndarray of int
        Rows of the lines; -1 for none.
    length : ndarray of float
        Length that is displaced, new or gone, metres.
    moved, azimuth : ndarray of float
        Displacement from the existing line to the edge, metres, and degrees from north; NaN for
        none.
    edge_number : ndarray of int, shape (edges,)
    existing_number : ndarray of int, shape (existing,)
        Number of the change that a line belongs to; 0 for none.
    """

    status: np.ndarray
    edge: np.ndarray
    existing: np.ndarray
    length: np.ndarray
    moved: np.ndarray
    azimuth: np.ndarray
    edge_number: np.ndarray
    existing_number: np.ndarray

    def __len__(self):
        return len(self.status)


def find_changes(comparison):
    """Find the changes and number them by their length.

    A displaced edge and the existing line along which most of it lies are one change.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    Changes
    """
    edges, existing = comparison.edge_statistics, comparison.existing_statistics
    of_edge = np.flatnonzero(_displaced(edges) | _alone(edges, ONLY_NEW))
    partner = np.where(edges.status[of_edge] == ONLY_NEW, -1, edges.partner[of_edge])
    paired = np.isin(np.arange(len(existing)), partner)
    rest = np.flatnonzero((_displaced(existing) & ~paired) | _alone(existing, ONLY_EXISTING))
    other = np.where(existing.status[rest] == ONLY_EXISTING, -1, existing.partner[rest])

    length = np.append(_changed_length(edges)[of_edge], _changed_length(existing)[rest])
    order = np.argsort(-length, kind="stable")
    edge, line = np.append(of_edge, other)[order], np.append(partner, rest)[order]
    return Changes(
        status=np.append(edges.status[of_edge], existing.status[rest])[order],
        edge=edge,
        existing=line,
        length=length[order],
        moved=np.append(edges.moved[of_edge], existing.moved[rest])[order],
        azimuth=np.append(edges.moved_azimuth[of_edge], existing.moved_azimuth[rest])[order],
        edge_number=_numbers(edge, len(edges)),
        existing_number=_numbers(line, len(existing)),
    )


def _displaced(statistics):
    """Mask of the lines that are displaced, as a whole or in part."""
    in_part = (statistics.status == PARTLY) & (np.nan_to_num(statistics.displaced_share) > 0)
    return (statistics.length > 0) & ((statistics.status == DISPLACED) | in_part)


def _alone(statistics, status):
    """Mask of the lines without a counterpart, which have `status`."""
    return (statistics.length > 0) & (statistics.status == status)


def _changed_length(statistics):
    """Length of each line that is displaced or, without a counterpart, that was visited."""
    alone = np.isin(statistics.status, (ONLY_NEW, ONLY_EXISTING))
    displaced = np.nan_to_num(statistics.displaced_share) * statistics.matched_length
    return np.where(alone, statistics.length * statistics.visited_share, displaced)


def _numbers(rows, count):
    """Number of the first change of each line; 0 for none."""
    number = np.zeros(count, int)
    known = np.flatnonzero(rows >= 0)[::-1]
    number[rows[known]] = known + 1  # in reverse, so that the first change of a line stays
    return number
