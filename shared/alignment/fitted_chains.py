"""Fitted chains of tangents and arcs, as the rest of the program reads them."""

from dataclasses import dataclass, fields, replace

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import (
    cumulative,
    group_index,
    group_max,
    join_offsets,
    offsets_of,
    ranges,
)
from ..tuning import FIT
from .primitives import Primitives

# columns of shape (elements,) or (elements, 2), and of shape (m,) or (m, 2)
OF_ELEMENTS = (
    "x",
    "y",
    "ux",
    "uy",
    "radius",
    "turn",
    "smooth",
    "start",
    "end",
    "length",
    "radius_sigma",
    "spline",
)
OF_POSITIONS = "chainage", "residual", "sigma", "outlier", "feet"


@dataclass(frozen=True)
class Chains:
    """Runs as tangents and arcs that meet; metres throughout.

    An arc has its centre and radius here, as setting out needs them. `Primitives`, the form of the
    adjustment, has points, directions and curvatures. Both exist since a radius turned into a
    curvature and back may differ in its last digit.

    Attributes
    ----------
    offsets : int, shape (runs + 1,)
        Elements of each run.
    bounds : int, shape (elements + 1,)
        Positions that each element explains; none for a link, which joins two elements that do not
        meet.
    x, y : float, shape (elements,)
        A point of the tangent, or the centre of the arc.
    ux, uy : float, shape (elements,)
        Unit direction of travel of a tangent; 0 for an arc.
    radius : float, shape (elements,)
        Infinite for a tangent.
    turn : int, shape (elements,)
        1 for an arc to the left, -1 to the right, 0 for a tangent.
    smooth : bool, shape (elements,)
        The joint after the element is tangential; False for the last one of an open run.
    start, end : float, shape (elements, 2)
        Each element ends where the next one starts, the last one of a closed run where the first
        one starts.
    length : float, shape (elements,)
    radius_sigma : float, shape (elements,)
        1-sigma, NaN for a tangent.
    closed : bool, shape (runs,)
    chainage : float, shape (m,)
        Of each position's foot, measured from the start of its run.
    residual : float, shape (m,)
        Signed distance of each position from the chain, + to the right.
    sigma : float, shape (m,)
        1-sigma of the chain across its direction, at each position, from white noise alone.
    spline : bool, shape (elements,)
        Part of a free-form stretch, which a spline explains better; `merge_splines` makes one
        element of each such stretch.
    outlier : bool, shape (m,)
        Positions that were rejected.
    feet : float, shape (m, 2)
        Feet of the positions; in a free-form stretch, on the tangents and arcs of the search, which
        need not join.
    """

    offsets: np.ndarray
    bounds: np.ndarray
    x: np.ndarray
    y: np.ndarray
    ux: np.ndarray
    uy: np.ndarray
    radius: np.ndarray
    turn: np.ndarray
    smooth: np.ndarray
    start: np.ndarray
    end: np.ndarray
    length: np.ndarray
    radius_sigma: np.ndarray
    closed: np.ndarray
    chainage: np.ndarray
    residual: np.ndarray
    sigma: np.ndarray
    spline: np.ndarray
    outlier: np.ndarray
    feet: np.ndarray

    def __len__(self):
        return len(self.radius)

    @classmethod
    def without_elements(cls, closed):
        """Chains of runs without positions; `closed`, bool, shape (runs,)."""
        none, pairs, never = np.zeros(0), np.zeros((0, 2)), np.zeros(0, bool)
        return cls(
            offsets=np.zeros(len(closed) + 1, np.int64),
            bounds=np.zeros(1, np.int64),
            x=none,
            y=none,
            ux=none,
            uy=none,
            radius=none,
            turn=none.astype(int),
            smooth=never,
            start=pairs,
            end=pairs,
            length=none,
            radius_sigma=none,
            closed=closed,
            chainage=none,
            residual=none,
            sigma=none,
            spline=never,
            outlier=never,
            feet=pairs,
        )

    def take(self, keep):
        """The same elements with some of their positions only; `keep`, shape (m,), is a mask."""
        bounds = offsets_of(keep)[self.bounds]
        return replace(
            self, bounds=bounds, **{name: getattr(self, name)[keep] for name in OF_POSITIONS}
        )

    def take_runs(self, runs):
        """The runs with the numbers `runs`, int of shape (q,), in that order."""
        size = np.diff(self.offsets)[runs]
        element = ranges(self.offsets[:-1][runs], size)
        first, number = self.bounds[:-1][element], np.diff(self.bounds)[element]
        position = ranges(first, number)
        return Chains(
            offsets=offsets_of(size),
            bounds=offsets_of(number),
            closed=self.closed[runs],
            **{name: getattr(self, name)[element] for name in OF_ELEMENTS},
            **{name: getattr(self, name)[position] for name in OF_POSITIONS},
        )

    def confirmed(self):
        """Runs (mask) that are confirmed: they have many positions, or three on one element.
        Otherwise nothing distinguishes a corner from an outlier."""
        most = group_max(np.diff(self.bounds), self.offsets, 0)
        return (np.diff(self.bounds[self.offsets]) >= FIT.confirmed_run) | (most > 2)

    @classmethod
    def concatenate(cls, parts):
        """The runs of all parts, in the order of the parts."""
        columns = {
            column.name: np.concatenate([getattr(part, column.name) for part in parts])
            for column in fields(cls)
        }
        for name in ("offsets", "bounds"):
            columns[name] = join_offsets([getattr(part, name) for part in parts])
        return cls(**columns)

    @property
    def curvature(self):
        """Curvature, 1/m, + to the left, shape (elements,)."""
        return self.turn / np.where(self.turn != 0, self.radius, 1.0)

    @property
    def primitives(self):
        """The elements as `Primitives`, whose points are their starts."""
        # the direction at the start of an arc is perpendicular to the radius
        rx, ry = self.start[:, 0] - self.x, self.start[:, 1] - self.y
        radius = np.maximum(distance(rx, ry), 1e-12)
        arc = self.turn != 0
        ux = np.where(arc, -self.turn * ry / radius, self.ux)
        uy = np.where(arc, self.turn * rx / radius, self.uy)
        return Primitives(*self.start.T, ux, uy, self.curvature)

    def at(self, s, element):
        """Places and unit directions, shape (q, 2) each, at distances `s` along elements from their
        starts."""
        x, y, vx, vy = self.primitives.at(s, element)
        return np.column_stack([x, y]), np.column_stack([vx, vy])


def merge_splines(chains):
    """Merge the elements of each free-form stretch into one.

    Parameters
    ----------
    chains : Chains

    Returns
    -------
    Chains
        A merged element is neither tangent nor arc: its curve runs through the feet of its
        positions, and chainages along it are sums of distances from foot to foot.
    """
    if not chains.spline.any():
        return chains
    run = group_index(chains.offsets)
    again = np.append(False, chains.spline[1:] & chains.spline[:-1] & (run[1:] == run[:-1]))
    keep = ~again
    last = np.append(np.flatnonzero(keep)[1:], len(chains)) - 1
    free = chains.spline[keep]
    bounds = np.append(chains.bounds[:-1][keep], chains.bounds[-1])
    offsets = offsets_of(np.bincount(run[keep], minlength=len(chains.offsets) - 1))
    within, length = _lengths_by_feet(chains, keep, last, bounds)
    chainage = cumulative(length, offsets)[group_index(bounds)] + within
    smooth = np.where(free, False, chains.smooth[keep])
    smooth[:-1] &= ~free[1:] | (run[keep][1:] != run[keep][:-1])
    chord = chains.end[last] - chains.start[keep]
    chord /= np.maximum(distance(*chord.T), 1e-12)[:, None]

    def pick(values, instead):
        return np.where(free, instead, values[keep])

    return replace(
        chains,
        offsets=offsets,
        bounds=bounds,
        chainage=chainage,
        x=pick(chains.x, chains.start[keep, 0]),
        y=pick(chains.y, chains.start[keep, 1]),
        ux=pick(chains.ux, chord[:, 0]),
        uy=pick(chains.uy, chord[:, 1]),
        radius=pick(chains.radius, np.inf),
        turn=pick(chains.turn, 0),
        smooth=smooth,
        start=chains.start[keep],
        end=chains.end[last],
        length=length,
        radius_sigma=pick(chains.radius_sigma, np.nan),
        spline=free,
    )


def _lengths_by_feet(chains, keep, last, bounds):
    """Distances of positions from the starts of the merged elements, and the lengths of these; in
    free forms measured from foot to foot.

    `keep` (mask) and `last`: the first and the last of the elements merged into one; `bounds`:
    positions of the merged elements.
    """
    owner = group_index(bounds)
    free = chains.spline[keep]
    within = (
        chains.chainage - cumulative(chains.length, chains.offsets)[np.flatnonzero(keep)][owner]
    )
    before = np.where(
        (np.arange(len(owner)) == bounds[:-1][owner])[:, None],
        chains.start[keep][owner],
        np.roll(chains.feet, 1, axis=0),
    )
    step = distance(*(chains.feet - before).T)
    walked = cumulative(step, bounds) + step
    within = np.where(free[owner], walked, within)
    seen = np.diff(bounds) > 0
    final = np.zeros(len(seen))
    end = bounds[1:][seen] - 1
    final[seen] = walked[end] + distance(*(chains.end[last][seen] - chains.feet[end]).T)
    length = np.where(free & seen, final, np.add.reduceat(chains.length, np.flatnonzero(keep)))
    return within, length
