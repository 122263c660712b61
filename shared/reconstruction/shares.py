"""The epoch table in parts of whole captures, which can be worked on in parallel."""

from copy import copy

import numpy as np

from ..arrays.ragged import offsets_from_starts, stretch_starts
from ..epochs.stream import Medians
from ..tuning import EXECUTION


def part_count(epochs, workers):
    """Number of parts for a table: a multiple of the number of workers, so that all are busy to the
    end.

    Parameters
    ----------
    epochs, workers : int

    Returns
    -------
    int
        1 or more.
    """
    largest = min(EXECUTION.part_epochs, EXECUTION.epochs_at_work // workers)
    count = -(-epochs // largest)
    if count > workers:
        return -(-count // workers) * workers
    return max(count, min(workers, epochs // EXECUTION.smallest_part), 1)


class CaptureShares:
    """The table in parts of whole captures of about equal size; a sequence of `EpochTable`.

    It has one part at first (`split`).

    Parameters
    ----------
    table : EpochTable
    """

    def __init__(self, table):
        self.table = table
        codes = table.capture
        self._order = None if (codes[1:] >= codes[:-1]).all() else np.argsort(codes, kind="stable")
        codes = codes if self._order is None else codes[self._order]
        self._ends = offsets_from_starts(stretch_starts(codes))
        self._codes = codes[self._ends[:-1]]
        self._cut(1)

    def _cut(self, count):
        wanted = np.linspace(0, len(self.table), max(count, 1) + 1)
        self._captures = np.unique(np.searchsorted(self._ends, wanted, "left"))
        self._bounds = self._ends[self._captures]

    def split(self, count):
        """The same table in another number of parts.

        Parameters
        ----------
        count : int
            Number of parts wanted; there are fewer if there are fewer captures.

        Returns
        -------
        CaptureShares
        """
        other = copy(self)
        other._cut(count)
        return other

    def __len__(self):
        return max(len(self._bounds) - 1, 1)

    def __getitem__(self, number):
        return self.table.take(self.rows(number))

    def rows(self, number):
        """Rows of a part.

        Parameters
        ----------
        number : int
            Number of the part.

        Returns
        -------
        slice or ndarray of int
        """
        empty = len(self._bounds) < 2
        here = slice(0, 0) if empty else slice(*self._bounds[number : number + 2])
        return here if self._order is None else self._order[here]

    def captures(self, number):
        """Codes of the captures of a part.

        Parameters
        ----------
        number : int
            Number of the part.

        Returns
        -------
        ndarray of int
        """
        if len(self._bounds) < 2:
            return self._codes
        return self._codes[self._captures[number] : self._captures[number + 1]]

    def gather_medians(self, parts):
        """Medians of the table's captures from those of the parts.

        Parameters
        ----------
        parts : sequence of Medians
            Of the captures of each part.

        Returns
        -------
        Medians
            NaN for codes without a row.
        """
        count = int(self._codes[-1]) + 1 if len(self._codes) else 0
        rows = len(parts[0].value)
        value, number = np.full((rows, count), np.nan), np.zeros((rows, count), np.int64)
        for place, part in enumerate(parts):
            own = self.captures(place)
            value[:, own], number[:, own] = part.value, part.number
        return Medians(value, number)

    def put(self, epochs, number, result):
        """Fill the outcomes of a part's epochs in those of the whole table.

        Parameters
        ----------
        epochs : EpochOutcomes
            Of the whole table; changed in place.
        number : int
            Number of the part.
        result : tuple of (EpochOutcomes, ndarray of int, DrawnRuns)
            As `part.fit` returns it.

        Returns
        -------
        order : ndarray of int
            Rows of the part with a time, by capture and time, numbered as in the whole table.
        drawn : DrawnRuns
            Numbered by the captures and rows of the whole table.
        """
        own, order, drawn = result
        here = self.rows(number)
        epochs.put(here, own)

        def rows_of(places):
            return places + here.start if self._order is None else here[places]

        return rows_of(order), drawn.placed(self.captures(number), rows_of)


class SharesWithStreams:
    """Parts of a table, each with the streams and repairs of its captures; a sequence.

    Parameters
    ----------
    shares : CaptureShares
    stream : Stream
        Of all captures.
    repairs : PlacedRepairs, optional
    """

    def __init__(self, shares, stream, repairs=None):
        self._shares, self._stream, self._repairs = shares, stream, repairs

    def __len__(self):
        return len(self._shares)

    def __getitem__(self, number):
        captures, repairs = self._shares.captures(number), self._repairs
        own = None if repairs is None else repairs.of_captures(captures)
        return self._shares[number], self._stream.take(captures), own
