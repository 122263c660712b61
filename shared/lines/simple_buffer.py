"""The simple buffer: shares of length within a distance of the other layer."""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import offsets_of
from ..tuning import COMPARISON


@dataclass(frozen=True)
class BufferOverlay:
    """The simple buffer method of Goodchild and Hunter (1997, IJGIS 11(3)), both ways, over whole
    layers.

    Attributes
    ----------
    width : float
        Half width of the buffer for `completeness` and `correctness`, metres
        (`ComparisonSettings.max_offset`).
    completeness : float
        Share of the length of the edges within the buffer round the existing lines: how much of
        what is there does the existing layer show? NaN without edges.
    correctness : float
        Share of the visited length of the existing lines within the buffer round the edges: how
        much of what the existing layer shows is there? NaN if nothing was visited.
    distance : ndarray of float, shape (k,)
        Half widths from 0 to `width`.
    edges_within, existing_within : ndarray of float, shape (k,)
        The same shares for each of them: p(x).
    edges_x95, existing_x95 : float
        Half width that holds 95 % of the length that lies within `width`.
    """

    width: float
    completeness: float
    correctness: float
    distance: np.ndarray
    edges_within: np.ndarray
    existing_within: np.ndarray
    edges_x95: float
    existing_x95: float


class Within:
    """Share of a layer's length that lies within a distance of the other layer: p(x) of Goodchild
    and Hunter (1997).

    Parameters
    ----------
    near, far : ndarray of float, shape (k,)
        Least and greatest distance of each piece of line, metres; between them the distance is
        taken to change linearly, which is exact next to a straight line.
    length : ndarray of float, shape (k,)
        Of each piece, metres.
    elsewhere : float
        Length of line that is known to lie too far away, metres.
    """

    def __init__(self, near, far, length, elsewhere=0.0):
        self.total = float(length.sum()) + elsewhere
        # The length within x is a sum of ramps, one for each piece: from 0 at `near` to its length
        # at `far`.
        sure = np.isfinite(far)  # the rest lies beyond the greatest half width
        near, far, length = near[sure], far[sure], length[sure]
        flat = far - near <= 1e-6
        slope = np.where(flat, 0.0, length / np.where(flat, 1.0, far - near))
        ramp = ~flat
        self.starts, self.ends = _Ramps(near[ramp], slope[ramp]), _Ramps(far[ramp], slope[ramp])
        order = np.argsort(far[flat], kind="stable")
        self.steps, self.lengths = (
            far[flat][order],
            offsets_of(length[flat][order]),
        )

    def share(self, half_width):
        """p(x) at half widths, metres; NaN for a layer without length."""
        x = np.asarray(half_width, float)
        if not self.total > 0:
            return np.full(x.shape, np.nan)
        inside = (
            self.lengths[np.searchsorted(self.steps, x + 1e-9, "right")]
            + self.starts.at(x)
            - self.ends.at(x)
        )
        return np.clip(inside / self.total, 0.0, 1.0)

    def judge_by(self, length, farthest):
        """From now on, take shares of `length` instead of the whole layer's length, or of the
        length within `farthest` if that is more, metres."""
        if self.total > 0:
            inside = float(self.share(farthest)) * self.total
            self.total = min(max(length, inside), self.total)

    def half_width(self, share, farthest):
        """Half width that holds a share of the length that lies within `farthest`; NaN where none
        does."""
        whole = float(self.share(farthest))
        if not whole > 0:
            return np.nan
        low, high = 0.0, farthest
        while high - low > 1e-9 * max(farthest, 1.0):
            middle = (low + high) / 2
            if self.share(middle) >= share * whole:
                high = middle
            else:
                low = middle
        return high


class _Ramps:
    """Sum of ``slope * max(x - start, 0)``."""

    def __init__(self, start, slope):
        order = np.argsort(start, kind="stable")
        self.start = start[order]
        self.slope = offsets_of(slope[order])
        self.moment = offsets_of(slope[order] * start[order])

    def at(self, x):
        place = np.searchsorted(self.start, x, "right")
        return self.slope[place] * x - self.moment[place]


def within(lines, index, spacing, farthest, progress=lambda share: None):
    """p(x) of lines against another layer.

    Parameters
    ----------
    lines : Lines
    index : Index
        Of the other layer.
    spacing : float
        Distances are taken at the vertices and at least this densely between them, metres.
    farthest : float
        Greatest half width that will be asked for, metres.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    Within
    """
    close = index.near(lines, farthest)
    progress(0.0)
    cut = lines.of_parts(close).cut(spacing)
    # a piece that crosses the rim of the buffer needs the distances of both its ends
    distance = index.nearest(cut.x, cut.y, farthest + spacing, lambda share: progress(0.9 * share))
    progress(0.9)
    step = cut.steps()
    start = np.flatnonzero(step > 0)
    a, b = distance[start], distance[start + 1]
    progress(0.95)
    return Within(
        np.minimum(a, b),
        np.where(np.isfinite(a) & np.isfinite(b), np.maximum(a, b), np.inf),
        step[start],
        float(lines.part_length()[~close].sum()),
    )


def overlay(edges, existing, indices, visited, spacing, width, progress=lambda share: None):
    """The simple buffer method of Goodchild and Hunter, each layer in buffers round the other.

    Parameters
    ----------
    edges, existing : Lines
    indices : tuple of Index
        Of the edges and of the existing lines.
    visited : float
        Length of the existing lines that was visited, metres on the ground. Whatever lies in the
        widest buffer counts as visited.
    spacing : float
        Of the places where distances are taken, metres.
    width : float
        Greatest half width, metres.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    BufferOverlay
    """
    edge_index, existing_index = indices
    of_edges = within(edges, existing_index, spacing, width, lambda share: progress(0.5 * share))
    progress(0.5)
    of_existing = within(
        existing, edge_index, spacing, width, lambda share: progress(0.5 + 0.5 * share)
    )
    of_existing.judge_by(visited, width)
    progress(1.0)
    distance = np.linspace(0.0, width, COMPARISON.curve_points)
    edges_within, existing_within = of_edges.share(distance), of_existing.share(distance)
    return BufferOverlay(
        width=width,
        completeness=float(edges_within[-1]),
        correctness=float(existing_within[-1]),
        distance=distance,
        edges_within=edges_within,
        existing_within=existing_within,
        edges_x95=of_edges.half_width(0.95, width),
        existing_x95=of_existing.half_width(0.95, width),
    )
