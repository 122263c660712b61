"""Ways to walk along an outline other than at one pace: what a crew does, second by second.

Every crew is a `Crew`; `CREWS` names those that `accuracy.py --crew` knows. How crews walk and aim
is common practice, no source.
"""

import math
from dataclasses import dataclass

import numpy as np

ASIDE = 3.0, 1.5  # m, how far a crew that aims stands beside the curb, and behind its aim at most


@dataclass(frozen=True)
class Crew:
    """What a crew does, and what its receiver makes of times.

    `moves`: function of (rng, pace) that yields (metres, seconds, silent) without end; `pace` in
    metres a second, `silent` where nothing is recorded. `lag`: seconds by which the range finder is
    late. `jitter`: 1-sigma of the times recorded, in intervals; `stamp`: seconds to whose multiples
    they are cut, 0 for none.
    """

    moves: object
    lag: float = 0.0
    jitter: float = 0.0
    stamp: float = 0.0
    even: bool = False

    def timetable(self, truth, rng, pace):
        """Seconds and chainages of the walk's knots, and which stretches between them are not
        recorded."""
        seconds, metres, silent = [0.0], [0.0], []
        moves = self.moves(rng, pace)
        while metres[-1] < truth.length - 1e-9:
            way, lasts, quiet = next(moves)
            room = truth.length - metres[-1]
            share = min(1.0, room / way) if way > 0 else 1.0
            seconds.append(seconds[-1] + max(lasts * share, 1e-3))
            metres.append(max(metres[-1] + way * share, 0.0))
            silent.append(quiet)
        return np.array(seconds), np.array(metres), np.array(silent)

    def late(self, truth, t, seconds, metres):
        """Error in plan of a range finder that is late, shape (n, 2)."""
        if not self.lag:
            return np.zeros((len(t), 2))
        now, before = (np.interp(t - lag, seconds, metres) for lag in (0.0, self.lag))
        behind = np.interp(t - ASIDE[0], seconds, metres)  # the crew follows its aim
        stands = np.clip(behind, now - ASIDE[1], now + ASIDE[1])
        heading = truth.heading_at(stands)
        place = truth.at(stands)[:, :2]
        place += ASIDE[0] * np.column_stack([-np.sin(heading), np.cos(heading)])
        ray = truth.at(now)[:, :2] - place
        size = np.hypot(*ray.T)
        was = np.hypot(*(truth.at(before)[:, :2] - place).T)
        return ray * ((was - size) / size)[:, None]

    def times(self, t, rng, interval):
        """The times that are recorded, seconds."""
        t = t + rng.normal(0.0, self.jitter * interval, len(t)) if self.jitter else t
        return np.floor(t / self.stamp + 1e-6) * self.stamp if self.stamp else t


def _log_uniform(rng, low, high):
    return math.exp(rng.uniform(math.log(low), math.log(high)))


def _evenly(rng, pace):
    while True:
        yield pace * rng.uniform(0.9, 1.1), 1.0, False


def _unevenly(rng, pace):
    """Steps of 0.1 to 2.5 m at a metre a second."""
    while True:
        yield pace * _log_uniform(rng, 0.1, 2.5), 1.0, False


def _sweeping(rng, pace):
    """The aim sweeps along the curb, holds, and the trigger is let go now and then."""
    while True:
        lasts = rng.uniform(1.5, 4.0)
        yield pace * _log_uniform(rng, 0.3, 2.0) * lasts, lasts, False
        if rng.random() < 0.4:
            yield 0.0, rng.uniform(0.5, 4.0), False
        if rng.random() < 0.2:
            yield rng.uniform(0.0, 1.5), rng.uniform(1.0, 8.0), True


def _in_bursts(rng, pace):
    """Recorded for some seconds, then not for one or two."""
    while True:
        lasts = rng.uniform(2.0, 6.0)
        yield pace * lasts, lasts, False
        lasts = rng.uniform(0.5, 2.5)
        yield pace * lasts, lasts, True


def _changing(rng, pace):
    """Walks at one pace, then at another, slows down, stops, runs back a little."""
    while True:
        own = pace * _log_uniform(rng, 0.4, 1.6)
        way = rng.uniform(4.0, 25.0)
        yield way, way / own, False
        chance = rng.random()
        if chance < 0.4:
            for share in (0.6, 0.3):
                yield 0.8 * share * own, 0.8, False
            yield 0.0, rng.uniform(3.0, 20.0), False
        elif chance < 0.5:
            back = rng.uniform(1.0, 3.0)
            yield -back, back / 2.5, False
            yield 0.0, rng.uniform(1.0, 3.0), False


CREWS = {
    "steady": None,
    "uneven": Crew(_unevenly),
    "sweeps": Crew(_sweeping),
    "late": Crew(_sweeping, lag=0.05),
    "bursts": Crew(_in_bursts),
    "paces": Crew(_changing),
    "jitter": Crew(_evenly, jitter=0.15, even=True),
    "tenths": Crew(_evenly, stamp=0.1, even=True),
    "whole": Crew(_evenly, stamp=1.0, even=True),
}
