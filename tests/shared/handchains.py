"""Candidate chains made by hand, with elements as given, and what moves propose for them."""

from copy import copy

import numpy as np
from epochwalks import along
from numpy.testing import assert_array_equal

from curbwright.shared.alignment.chain import (
    CandidateChains,
    reassign_and_adjust,
    total_cost,
)
from curbwright.shared.alignment.moments import Moments
from curbwright.shared.alignment.primitives import Primitives, fit_independent
from curbwright.shared.alignment.proposals import Context, Proposals

SIGMA = 0.01


RADII = 0.5, 400.0


LINE = [("line", 21.0)]


ARC = [("arc", 8.0, 120.0)]


CORNER = [("line", 10.5), ("corner", 70.0), ("line", 10.5)]


RETURN = [("line", 12.0), ("arc", 5.0, 80.0), ("line", 12.0)]


LINE_AND_ARC = [("line", 20.0), ("arc", 6.0, 60.0)]


class Chain:
    """One run with elements as given: `kinds`, a letter each (T tangent, A arc), from positions
    `starts` on; every joint of an arc smooth, but for those after elements `corners`."""

    def __init__(self, shape, starts, kinds, corners=(), seed=0):
        self.x, self.y = along(shape, SIGMA, seed, 1.0)
        self.weight = np.full(len(self.x), SIGMA**-2)
        bounds = np.array([*starts, len(self.x)])
        arc = np.array([kind == "A" for kind in kinds])
        smooth = arc | np.append(arc[1:], False)
        smooth[[*corners, -1]] = False
        moments = Moments.of(self.x, self.y, self.weight, bounds)
        # arcs through straight positions as well
        primitives = fit_independent(
            moments, arc, self.x, self.y, bounds[:-1], bounds[1:], (0.5, 1e6)
        )
        assert_array_equal(primitives.is_arc, arc)
        candidate = CandidateChains(
            bounds=bounds,
            offsets=np.array([0, len(arc)]),
            arc=arc,
            smooth=smooth,
            primitives=primitives,
            closed=np.array([False]),
            chi=np.zeros(len(arc)),
            radii=RADII,
        )
        candidate = reassign_and_adjust(candidate, *self.positions, times=1)
        self.candidate = candidate.with_moments(*self.positions)

    @property
    def positions(self):
        return self.x, self.y, self.weight

    def repeated(self, times):
        """The same with so many runs like this one."""
        out, one, count = copy(self), self.candidate, len(self.x)
        out.x, out.y, out.weight = (np.tile(values, times) for values in self.positions)
        starts = one.bounds[:-1] + count * np.arange(times)[:, None]
        out.candidate = CandidateChains(
            bounds=np.append(starts.ravel(), times * count),
            offsets=len(one) * np.arange(times + 1),
            arc=np.tile(one.arc, times),
            smooth=np.tile(one.smooth, times),
            primitives=Primitives.concatenate([one.primitives] * times),
            closed=np.zeros(times, bool),
            chi=np.tile(one.chi, times),
            radii=RADII,
        ).with_moments(*out.positions)
        return out

    def context(self, near=None):
        return Context(self.candidate, *self.positions, near)

    def cost(self, candidate):
        return total_cost(candidate, self.x, self.y)[0]


def kinds(candidate):
    return "".join(np.where(candidate.arc, "A", "T"))


def proposed(chain, move, near=None):
    """All that a move proposes: tuples of first element, elements removed, first positions of the
    new ones, and their kinds."""
    out = []
    for trial in move(chain.context(near)):
        if isinstance(trial, Proposals):
            ends = np.cumsum(trial.inserted)
            for first, removed, end, count in zip(trial.first, trial.removed, ends, trial.inserted):
                own = slice(end - count, end)
                letters = "".join(np.where(trial.arc[own], "A", "T"))
                out.append((first, removed, tuple(trial.start[own]), letters))
            continue
        arcs = [np.broadcast_to(one, trial.first.shape) for one in trial.arcs]
        for row, first in enumerate(trial.first):
            start = tuple(int(one[row]) for one in trial.start)
            letters = "".join("A" if one[row] else "T" for one in arcs)
            out.append((int(first), trial.removed, start, letters))
    return out
