"""What the steps of the work on a part pass on: its epochs, and runs of positions."""

from dataclasses import dataclass, field
from typing import Optional

import numpy as np

from ..arrays.ragged import (
    group_index,
    group_max,
    group_min,
    group_sum,
    join_offsets,
    offsets_of,
    ranges,
)
from ..epochs.screening import Screening
from ..epochs.settings import Settings
from ..epochs.standing import Positions
from ..epochs.table import EpochTable
from .part_repairs import PartRepairs
from .results import EpochOutcomes


@dataclass(frozen=True)
class PartWork:
    """The epochs of a part, on which all steps work.

    Attributes
    ----------
    table : EpochTable
    screening : Screening
        With the streams of the captures.
    outcomes : EpochOutcomes
        Filled in step by step.
    settings : Settings
    repairs : PartRepairs
        None without repairs.
    vouched : bool, shape (rows,)
        Epochs that no later step may take for gross errors; filled in by the search for these.
    """

    table: EpochTable
    screening: Screening
    outcomes: EpochOutcomes
    settings: Settings
    repairs: Optional[PartRepairs] = None
    vouched: np.ndarray = field(init=False)

    def __post_init__(self):
        object.__setattr__(self, "vouched", np.zeros(len(self.table), bool))

    @property
    def stream(self):
        """Streams of the captures."""
        return self.screening.stream

    def vouched_for(self, positions):
        """Positions (mask) that are no gross errors."""
        return self.vouched[positions.rows[positions.offsets[:-1]]]

    def spare(self, positions, hit, why):
        """Positions to be rejected (mask) that no repair protects; see
        `part_repairs.PartRepairs.spare`."""
        return self.repairs.spare(positions, hit, why) if self.repairs else hit


@dataclass(frozen=True)
class Runs:
    """Runs of positions.

    Attributes
    ----------
    positions : Positions
        In the order along each run.
    variance : float, shape (m,)
        Of each position and axis, m2; raised for doubtful ones.
    bridged : bool, shape (m,)
        Unconfirmed positions between this one and the next were rejected.
    doubtful : bool, shape (m,)
        Nothing confirms the position, or the course of the line next to it.
    offsets : int, shape (runs + 1,)
    closed : bool, shape (runs,)
        Rings.
    turned : bool, shape (runs,)
        The run ends where the walk turned back for good.
    lost : bool, shape (runs,)
        The run ends at a dropout that leaves its course unknown.
    """

    positions: Positions
    variance: np.ndarray
    bridged: np.ndarray
    doubtful: np.ndarray
    offsets: np.ndarray
    closed: np.ndarray
    turned: np.ndarray
    lost: np.ndarray

    def __len__(self):
        return len(self.offsets) - 1

    @classmethod
    def concatenate(cls, parts):
        """Join the runs of several parts.

        Parameters
        ----------
        parts : sequence of Runs

        Returns
        -------
        Runs
        """
        joined = {
            name: np.concatenate([getattr(part, name) for part in parts])
            for name in ("variance", "bridged", "doubtful", "closed", "turned", "lost")
        }
        return cls(
            positions=Positions.concatenate([part.positions for part in parts]),
            offsets=join_offsets([part.offsets for part in parts]),
            **joined,
        )

    def take(self, positions, runs):
        """Take some positions of some runs.

        Parameters
        ----------
        positions : ndarray of bool, shape (m,)
        runs : ndarray of bool, shape (runs,)
            Runs to be kept; they hold all of these positions.

        Returns
        -------
        Runs
        """
        number = group_sum(positions.astype(np.int64), self.offsets)[runs]
        bridged = self.bridged
        if bridged.any():
            bridged = last_kept(bridged, positions, self.offsets, self.closed)
        return Runs(
            positions=self.positions.take(positions),
            variance=self.variance[positions],
            bridged=bridged[positions],
            doubtful=self.doubtful[positions],
            offsets=offsets_of(number),
            closed=self.closed[runs],
            turned=self.turned[runs],
            lost=self.lost[runs],
        )

    def pick(self, runs):
        """Take some whole runs.

        Parameters
        ----------
        runs : ndarray of int
            Their numbers, in any order.

        Returns
        -------
        Runs
        """
        size = np.diff(self.offsets)[runs]
        index = ranges(self.offsets[:-1][runs], size)
        return Runs(
            positions=self.positions.sort(index),
            variance=self.variance[index],
            bridged=self.bridged[index],
            doubtful=self.doubtful[index],
            offsets=offsets_of(size),
            closed=self.closed[runs],
            turned=self.turned[runs],
            lost=self.lost[runs],
        )

    def cut(self, after):
        """Break the runs after some positions; a ring then starts after its first break.

        Parameters
        ----------
        after : ndarray of bool, shape (m,)

        Returns
        -------
        Runs
        """
        size, run = np.diff(self.offsets), group_index(self.offsets)
        broken = group_max(after, self.offsets, False)
        order = self._from_first_break(after, np.flatnonzero(broken & self.closed))
        ends = after[order]
        ends[self.offsets[1:][size > 0] - 1] = True
        offsets = np.concatenate([[0], np.flatnonzero(ends) + 1])
        source = run[offsets[:-1]]
        last = np.append(source[1:] != source[:-1], True)[: len(source)]
        return Runs(
            positions=self.positions.sort(order),
            variance=self.variance[order],
            bridged=self.bridged[order],
            doubtful=self.doubtful[order],
            offsets=offsets,
            closed=(self.closed & ~broken)[source],
            turned=self.turned[source] & last,
            lost=np.where(last, self.lost[source], True),
        )

    def _from_first_break(self, after, rings):
        """Order of the positions, shape (m,), with some rings starting after their first break."""
        m = len(self.positions)
        order = np.arange(m)
        if not rings.size:
            return order
        first, size = self.offsets[:-1][rings], np.diff(self.offsets)[rings]
        broken_at = group_min(np.where(after, order, m), self.offsets, m)[rings].astype(np.int64)
        index = ranges(first, size)
        turned = index + np.repeat(broken_at + 1 - 2 * first, size)
        order[index] = np.repeat(first, size) + turned % np.repeat(size, size)
        return order


def last_kept(flag, keep, offsets, closed):
    """Move flags to the last kept position at or before each flagged one in its run.

    Parameters
    ----------
    flag, keep : ndarray of bool, shape (m,)
    offsets : ndarray of int, shape (runs + 1,)
    closed : ndarray of bool, shape (runs,)
        Runs in which flags may move round past the start.

    Returns
    -------
    ndarray of bool, shape (m,)
    """
    run = group_index(offsets)
    kept = np.where(keep, np.arange(len(keep)), -1)
    place = np.maximum.accumulate(kept)
    last = group_max(kept, offsets, -1).astype(np.int64)[run]
    place = np.where(place < offsets[:-1][run], np.where(closed[run], last, -1), place)
    out = np.zeros(len(keep), bool)
    out[place[flag & (place >= 0)]] = True
    return out
