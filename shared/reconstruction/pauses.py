"""Pauses that break no line, since the sides before and after them show how the edge goes on."""

from dataclasses import dataclass

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import group_index
from ..tuning import PAUSES
from .breaks import limits_exceeded, seen_steps, step_lengths


def bridged_pauses(positions, stream, turned):
    """Find pauses, over the limit of time but not that of distance, that need not break a line.

    Parameters
    ----------
    positions : Positions
        Without those walked back.
    stream : Stream
        Without a limit of time of its own, no pause is bridged: the user's limit holds.
    turned : ndarray of bool, shape (m,)
        A new run starts after such a position.

    Returns
    -------
    ndarray of bool, shape (m,)
        The line goes on from the position to the next one.

    Notes
    -----
    Two straight sides tell what lies between them if they are one line, or if they meet in a corner
    between the positions before and after the pause. Sides are straight lines through the positions
    next to the pause, by total least squares.
    """
    out = np.zeros(len(positions), bool)
    if len(positions) < 2 * PAUSES.fewest or not stream.own_time_limit:
        return out
    other, paused, far = limits_exceeded(positions, stream)
    cut = other | paused | far | turned[:-1]
    pause = np.flatnonzero(paused & ~(other | far | turned[:-1]))
    piece = np.append(0, np.cumsum(cut))
    for reach in PAUSES.sides:
        if not pause.size:
            break
        before, after = (
            _Side.of(positions, stream, piece, rim, way, reach)
            for rim, way in ((pause, -1), (pause + 1, 1))
        )
        good = before.straight & after.straight
        good &= before.goes_on_as(after) | before.meets(after)
        out[pause[good]] = True
        pause = pause[~good]
    return out


def unseen_ways(positions, stream, offsets):
    """Find steps across pauses inside runs, along which an edge may have gone unseen.

    Parameters
    ----------
    positions : Positions
        In the order along each run.
    stream : Stream
    offsets : ndarray of int, shape (runs + 1,)

    Returns
    -------
    ndarray of float, shape (m,)
        Length of such a step from or to each position, the longer one of two, metres; 0 without.
    """
    out = np.zeros(len(positions))
    capture = positions.capture[1:]
    pause = positions.started[1:] - positions.ended[:-1]
    step = distance(np.diff(positions.x), np.diff(positions.y))
    unseen = pause > stream.time_limit[capture]
    unseen &= (step > seen_steps(stream)[capture]) & (np.diff(group_index(offsets)) == 0)
    before = np.flatnonzero(unseen)
    out[before] = step[before]
    out[before + 1] = np.maximum(out[before + 1], step[before])
    return out


@dataclass(frozen=True)
class _Side:
    """Straight lines through the positions on one side of pauses; arrays of shape (q,) or (q, 2).

    `rim`: position next to the pause; `centre` and `u`: a point of the line, and its unit direction
    towards the pause; `length` from the farthest position to the rim; `number`, `spread`, `misfit`:
    of the positions, their sum of squared distances from the centre along the line and off it;
    `noise`: variance of one position, m2; `memory`: as in `Stream`.
    """

    rim: np.ndarray
    centre: np.ndarray
    u: np.ndarray
    length: np.ndarray
    number: np.ndarray
    spread: np.ndarray
    misfit: np.ndarray
    noise: np.ndarray
    memory: np.ndarray

    @classmethod
    def of(cls, positions, stream, piece, rim, way, reach):
        """Sides that reach so many steps from positions `rim` in one direction, `way`."""
        capture = positions.capture[rim]
        spacing = stream.spacing[capture]
        far = reach * step_lengths(stream)[capture]
        most = int(min(PAUSES.most, np.ceil(PAUSES.slow * (far / spacing).max())))
        near = rim[:, None] + way * np.arange(most)
        inside = (near >= 0) & (near < len(piece))
        near = np.where(inside, near, rim[:, None])
        inside &= piece[near] == piece[rim][:, None]
        xy = np.stack([positions.x[near], positions.y[near]], axis=2)
        xy -= xy[:, :1].copy()  # small numbers keep all their digits
        inside &= np.hypot(xy[..., 0], xy[..., 1]) <= far[:, None]
        inside = np.logical_and.accumulate(inside, axis=1)
        number = inside.sum(axis=1)
        weight = (inside / number[:, None])[..., None]
        centre = (weight * xy).sum(axis=1)
        off = np.where(inside[..., None], xy - centre[:, None], 0.0)
        xx, yy, both = (
            (off[..., i] * off[..., k]).sum(axis=1) for i, k in ((0, 0), (1, 1), (0, 1))
        )
        angle = np.arctan2(2 * both, xx - yy) / 2
        u = np.stack([np.cos(angle), np.sin(angle)], axis=1)
        u[(u * centre).sum(axis=1) > 0] *= -1  # from the centre to the rim, which is the origin
        along = (off * u[:, None]).sum(axis=2)
        rim_xy = np.stack([positions.x[rim], positions.y[rim]], axis=1)
        return cls(
            rim=rim_xy,
            centre=centre + rim_xy,
            u=u,
            length=np.ptp(along, axis=1),
            number=number,
            spread=(along**2).sum(axis=1),
            misfit=np.maximum(xx + yy - (along**2).sum(axis=1), 0.0),
            noise=stream.noise[capture] ** 2,
            memory=stream.memory[capture],
        )

    @property
    def straight(self):
        """Sides (mask) of enough positions, all on one line."""
        free = np.maximum(self.number - 2, 1)
        return (self.number >= PAUSES.fewest) & (
            self.misfit <= free * PAUSES.straight**2 * self.noise
        )

    def sigma_at(self, along):
        """1-sigma of the line across it, so many metres from its centre."""
        each = self.memory * self.noise
        return np.sqrt(each / self.number + each * along**2 / np.maximum(self.spread, 1e-12))

    def goes_on_as(self, other):
        """Sides (mask) that one line joins to the `other` ones."""
        way = other.centre - self.centre
        length = np.maximum(distance(way[:, 0], way[:, 1]), 1e-9)
        limit = np.zeros(len(length), bool)
        for side, sign in ((self, 1.0), (other, -1.0)):
            along = sign * (way * side.u).sum(axis=1)
            off = np.abs(way[:, 0] * side.u[:, 1] - way[:, 1] * side.u[:, 0])
            most = PAUSES.in_line * np.hypot(side.sigma_at(along), np.sqrt(self.noise / 2))
            limit |= (along <= 0) | (off > np.minimum(most, PAUSES.most_off))
        return ~limit

    def meets(self, other):
        """Sides (mask) that meet the `other` ones in a corner between both rims."""
        sine = self.u[:, 0] * other.u[:, 1] - self.u[:, 1] * other.u[:, 0]
        certain = np.abs(sine) > np.sin(np.radians(PAUSES.least_turn))
        sine = np.where(certain, sine, 1.0)
        way = other.centre - self.centre
        reach = [
            (way[:, 0] * side.u[:, 1] - way[:, 1] * side.u[:, 0]) / sine for side in (other, self)
        ]
        beyond = []
        for side, along in zip((self, other), reach):
            rim = ((side.rim - side.centre) * side.u).sum(axis=1)
            beyond.append(along - rim)
            certain &= beyond[-1] <= PAUSES.extended * side.length
        step = distance(*(other.rim - self.rim).T)
        certain &= np.minimum(*beyond) >= -PAUSES.overlap
        return certain & (beyond[0] + beyond[1] <= PAUSES.longest_way * step)
