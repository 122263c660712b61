"""Runs of positions, what becomes of source rows, and what is known of the edges of a part, as they
go from one process to another."""

from dataclasses import dataclass, fields, replace

import numpy as np

from ..arrays.ragged import group_index, group_max, group_min, group_sum, join_offsets, ranges
from ..epochs.standing import Positions


@dataclass(frozen=True)
class Part:
    """Runs of some captures. Vertices flat in `xyz`, `vertices` of them in each run, and likewise
    `corners`, (c, 2), and `stations`, (k, 7), in the order of `Stations` without the edge; other
    arrays have shape (runs,), `rims` (runs, 2, 3)."""

    xyz: np.ndarray
    vertices: np.ndarray
    corners: np.ndarray
    corner_number: np.ndarray
    capture: np.ndarray
    started: np.ndarray
    ended: np.ndarray
    first_row: np.ndarray
    last_row: np.ndarray
    rims: np.ndarray
    turned: np.ndarray
    lost: np.ndarray
    scale: np.ndarray
    epochs_used: np.ndarray
    length: np.ndarray
    rms_residual: np.ndarray
    max_residual: np.ndarray
    sigma_cross: np.ndarray
    sigma_up: np.ndarray
    closed: np.ndarray
    by_elements: np.ndarray
    stations: np.ndarray
    station_number: np.ndarray

    def placed(self, captures, source):
        """The same runs by the captures and rows of a whole table; `source` gives its rows for
        those of the part."""
        return replace(
            self,
            capture=captures[self.capture],
            first_row=source(self.first_row),
            last_row=source(self.last_row),
        )


@dataclass(frozen=True)
class Rows:
    """What becomes of each source row, filled in part by part; arrays of shape (n,). The numbers,
    which are floats, are None where nobody asks for them."""

    reason: np.ndarray
    amount: np.ndarray
    role: np.ndarray
    height_used: np.ndarray
    run: np.ndarray
    chainage: np.ndarray
    cross: np.ndarray
    up: np.ndarray

    @classmethod
    def empty(cls, size, numbers):
        """Rows of which nothing is known, with or without numbers."""
        amount, *others = (np.full(size, np.nan) if numbers else None for _ in range(4))
        run = np.zeros(size, np.int64)  # zeros for the system's sake: see DEVELOPERS.md, Measure
        run -= 1
        return cls(
            np.zeros(size, np.uint8),
            amount,
            np.zeros(size, np.uint8),
            np.zeros(size, bool),
            run,
            *others,
        )

    def put(self, here, part):
        """Put the rows of a part in their place, runs numbered as there."""
        for column in fields(self):
            if getattr(self, column.name) is not None:
                getattr(self, column.name)[here] = getattr(part, column.name)

    def number_on(self, parts, places, first):
        """Number the runs of parts on, from `first`; `places` are the parts' rows."""
        for part, here in zip(parts, places):
            self.run[here] += np.where(self.run[here] >= 0, first, 0)
            first += len(part.capture)

    def reject(self, positions, mask, why, number):
        """Give the epochs of the masked positions their reason and amount."""
        owner = group_index(positions.offsets)
        epochs = mask[owner]
        rows = positions.rows[epochs]
        self.reason[rows] = why
        if self.amount is not None:
            self.amount[rows] = number[owner][epochs]


@dataclass(frozen=True)
class Runs:
    """Runs of positions; `variance`, (m,), is raised for doubtful ones; `bridged`, (m,): between it
    and the next one lay what nothing confirmed. Of shape (runs,): `closed`, `turned` and `lost`,
    whether it ends in a turn for good or at a hole that leaves open how the edge goes on."""

    positions: Positions
    variance: np.ndarray
    bridged: np.ndarray
    offsets: np.ndarray
    closed: np.ndarray
    turned: np.ndarray
    lost: np.ndarray

    def __len__(self):
        return len(self.offsets) - 1

    def take(self, positions, runs):
        """Some positions (mask) of some runs (mask), in which all of them lie."""
        number = group_sum(positions.astype(np.int64), self.offsets)[runs]
        bridged = (
            last_kept(self.bridged, positions, self.offsets, self.closed)
            if self.bridged.any()
            else self.bridged
        )
        return Runs(
            self.positions.take(positions),
            self.variance[positions],
            bridged[positions],
            np.concatenate([[0], np.cumsum(number)]),
            self.closed[runs],
            self.turned[runs],
            self.lost[runs],
        )

    @classmethod
    def concatenate(cls, parts):
        """The runs of all parts."""
        joined = {
            name: np.concatenate([getattr(part, name) for part in parts])
            for name in ("variance", "bridged", "closed", "turned", "lost")
        }
        return cls(
            positions=Positions.concatenate([part.positions for part in parts]),
            offsets=join_offsets([part.offsets for part in parts]),
            **joined,
        )

    def placed(self, captures, source):
        """The same runs by the captures and rows of a whole table, as in `Part`."""
        return replace(
            self,
            positions=replace(
                self.positions,
                capture=captures[self.positions.capture],
                rows=source(self.positions.rows),
            ),
        )

    def pick(self, runs):
        """Some runs, in the order of their numbers."""
        size = np.diff(self.offsets)[runs]
        index = ranges(self.offsets[:-1][runs], size)
        return Runs(
            self.positions.sort(index),
            self.variance[index],
            self.bridged[index],
            np.concatenate([[0], np.cumsum(size)]),
            self.closed[runs],
            self.turned[runs],
            self.lost[runs],
        )

    def cut(self, after):
        """The runs broken after some positions (mask).

        A ring that is broken starts where it was broken first.
        """
        m, size = len(self.positions), np.diff(self.offsets)
        run = group_index(self.offsets)
        broken = group_max(after, self.offsets, False)
        rings = np.flatnonzero(broken & self.closed)
        order = np.arange(m)
        if rings.size:
            first = self.offsets[:-1][rings]
            place = (
                group_min(np.where(after, np.arange(m), m), self.offsets, m)[rings].astype(np.int64)
                + 1
                - first
            )
            index = ranges(first, size[rings])
            order[index] = np.repeat(first, size[rings]) + (
                index - np.repeat(first - place, size[rings])
            ) % np.repeat(size[rings], size[rings])
        ends = after[order]
        ends[self.offsets[1:][size > 0] - 1] = True
        offsets = np.concatenate([[0], np.flatnonzero(ends) + 1])
        source = run[offsets[:-1]]
        last = np.append(source[1:] != source[:-1], True)[: len(source)]
        return Runs(
            self.positions.sort(order),
            self.variance[order],
            self.bridged[order],
            offsets,
            (self.closed & ~broken)[source],
            self.turned[source] & last,
            np.where(last, self.lost[source], True),
        )


def last_kept(flag, keep, offsets, closed):
    """Flags (mask) of positions moved to the last kept one of their run that is not behind them; in
    a closed run once round, if need be."""
    run = group_index(offsets)
    place = np.maximum.accumulate(np.where(keep, np.arange(len(keep)), -1))
    last = group_max(np.where(keep, np.arange(len(keep)), -1), offsets, -1).astype(np.int64)[run]
    place = np.where(place < offsets[:-1][run], np.where(closed[run], last, -1), place)
    out = np.zeros(len(keep), bool)
    out[place[flag & (place >= 0)]] = True
    return out
