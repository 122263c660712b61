"""Gaps between consecutive edges, and why the edges end there."""

import numpy as np

from ..arrays.plane import distance
from ..epochs.reasons import Reason
from .breaks import BREAK_ASKED, END, NEW_CAPTURE, START, break_reasons
from .results import Gaps


def find_gaps(edges, ends, reason, order, time_limit, asked=None):
    """Find the gaps between edges, which are in the order of their start.

    Parameters
    ----------
    edges : Edges
    ends : EdgeEnds
    reason : ndarray of uint8, shape (n,)
        Of each source row.
    order : ndarray of int
        Rows with a time, by capture and time.
    time_limit : ndarray of float, shape (captures,)
        Seconds.
    asked : ndarray of int, optional
        Rows after which a person asked for a break.

    Returns
    -------
    gaps : Gaps
    columns : dict of str to ndarray, shape (e,)
        `start_reason`, `end_reason` and `epochs_rejected` of the edges.
    """
    first, last = places_in(order, np.stack([ends.first_row, ends.last_row]))
    why = reason[order]
    code, pause = _reasons_between(edges, ends, why, first, last, time_limit)
    if asked is not None and asked.size:
        there = np.sort(places_in(order, asked))
        between = np.searchsorted(there, first[1:]) > np.searchsorted(there, last[:-1])
        code[between & (edges.capture[1:] == edges.capture[:-1])] = BREAK_ASKED
    start_reason = np.append(START, code)[: len(edges)].astype(np.uint8)
    end_reason = np.append(code, END)[: len(edges)].astype(np.uint8)
    out = np.flatnonzero(why)
    columns = {
        "start_reason": start_reason,
        "end_reason": end_reason,
        # the rows at both ends are not rejected
        "epochs_rejected": np.searchsorted(out, last) - np.searchsorted(out, first),
    }
    # captures that overlap in time have no gap between them
    a = np.flatnonzero((edges.capture[1:] == edges.capture[:-1]) | (pause >= 0))
    b = a + 1
    rims = np.stack([ends.rims[a, 1], ends.rims[b, 0]], axis=1)
    step = distance(rims[:, 1, 0] - rims[:, 0, 0], rims[:, 1, 1] - rims[:, 0, 1])
    gaps = Gaps(
        x=rims[:, :, 0],
        y=rims[:, :, 1],
        z=rims[:, :, 2],
        seconds=pause[a],
        metres=step / ((ends.scale[a] + ends.scale[b]) / 2),
        reason=code[a],
        capture=edges.capture[a],
        after_edge=a,
        before_edge=b,
    )
    return gaps, columns


def _reasons_between(edges, ends, why, first, last, time_limit):
    """Reasons for the breaks between neighbouring edges, shape (e - 1,), and their pauses in
    seconds.

    `why`: reasons of the rows in order; `first` and `last` are places in that order.
    """
    same = edges.capture[1:] == edges.capture[:-1]
    pause = edges.started[1:] - edges.ended[:-1]
    rejected = {
        each: np.flatnonzero(why == each)
        for each in (Reason.NOT_FIXED, Reason.POOR_ACCURACY, Reason.SPIKE)
    }
    code = np.full(len(same), NEW_CAPTURE, np.uint8)
    code[same] = break_reasons(
        rejected,
        last[:-1][same],
        first[1:][same],
        pause[same],
        time_limit[edges.capture[:-1][same]],
        ends.turned[:-1][same],
        ends.lost[:-1][same],
    )
    return code, pause


def places_in(order, rows):
    """Places of some rows in an order of rows.

    Parameters
    ----------
    order : ndarray of int, shape (k,)
        Rows, each at most once.
    rows : ndarray of int
        Some of them, in any shape.

    Returns
    -------
    ndarray of int
        Of the shape of `rows`.
    """
    if (order[1:] > order[:-1]).all():
        return np.searchsorted(order, rows)
    place = np.empty(order.max() + 1, np.int64)
    place[order] = np.arange(len(order))
    return place[rows]
