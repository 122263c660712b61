"""The table of epochs that every step of the core works on."""

from dataclasses import dataclass, fields

import numpy as np

from ..arrays.ragged import offsets_of


@dataclass(frozen=True)
class EpochTable:
    """Epochs of one layer, one row each, in the order in which the layer was read.

    All arrays have shape (n,). Row ``i`` keeps its number through every step, so that each row
    can be accounted for at the end.

    Attributes
    ----------
    x, y : float
        Position in metres in a local frame that is true to scale; NaN where there is none.
    z : float
        Height in metres; NaN where there is none.
    seconds : float
        Time in seconds since an origin of the caller's choice; NaN where there is none.
    capture : int
        Code of the capture that the epoch belongs to, 0 or greater.
    fixed : bool
        True where the solution was RTK fixed.
    sigma_h, sigma_v : float
        Horizontal and vertical 1-sigma reported by the receiver, metres; NaN if unknown. An
        infinite `sigma_h` marks a reported value that cannot be an accuracy.
    scale : float
        Point scale factor of the frame at the epoch: lengths in the frame divided by it are lengths
        on the ellipsoid.
    parts : int
        Number of points in the row's geometry: 1 for a point, 0 for none, more for a multi-point.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    seconds: np.ndarray
    capture: np.ndarray
    fixed: np.ndarray
    sigma_h: np.ndarray
    sigma_v: np.ndarray
    scale: np.ndarray
    parts: np.ndarray

    def __post_init__(self):
        shape = np.shape(self.x)
        if len(shape) != 1:
            raise ValueError(f"x must have shape (n,), got {shape}")
        for column in fields(self):
            if np.shape(getattr(self, column.name)) != shape:
                raise ValueError(
                    f"{column.name} must have shape {shape} like x, got"
                    f" {np.shape(getattr(self, column.name))}"
                )
        if self.capture.size and self.capture.min() < 0:
            raise ValueError("capture codes must be 0 or greater")

    def __len__(self):
        return len(self.x)

    def take(self, rows):
        """Some of the rows, with captures renumbered.

        Parameters
        ----------
        rows : slice, ndarray of bool, shape (n,), or ndarray of int, shape (m,)

        Returns
        -------
        EpochTable
            Codes without a row are dropped.
        """
        columns = {column.name: getattr(self, column.name)[rows] for column in fields(self)}
        codes = columns["capture"]
        step = np.diff(codes)
        columns["capture"] = (
            offsets_of(step > 0)[: len(codes)]
            if (step >= 0).all()
            else np.unique(codes, return_inverse=True)[1]
        )
        return EpochTable(**columns)

    # parameters: one for each column of the table
    # long: the signature and the docstring name every column; the code has 25 lines
    @classmethod
    def from_columns(
        cls,
        x,
        y,
        z=None,
        seconds=None,
        capture=None,
        fixed=None,
        sigma_h=None,
        sigma_v=None,
        scale=None,
        parts=None,
    ):
        """Build a table. Missing columns get a neutral default; columns that need no change are not
        copied.

        Parameters
        ----------
        x, y : array_like of float, shape (n,)
            Metres. Infinite values count as absent.
        z, seconds, sigma_h, sigma_v : array_like of float, shape (n,), optional
            NaN by default. Infinite values, and sigmas that are not positive, count as absent.
        capture : array_like of int, shape (n,), optional
            By default a single capture.
        fixed : array_like of bool, shape (n,), optional
            By default all are fixed.
        scale : array_like of float, shape (n,), optional
            1 by default.
        parts : array_like of int, shape (n,), optional
            By default 1 with a position, 0 without.

        Returns
        -------
        EpochTable

        Raises
        ------
        ValueError
            If the columns differ in length or a capture code is negative.
        """

        def number(values, positive=False):
            if values is None:
                return np.full(len(x), np.nan)
            values = np.asarray(values, dtype=float)
            with np.errstate(invalid="ignore"):
                absent = np.isinf(values) | (values <= 0) if positive else np.isinf(values)
            return np.where(absent, np.nan, values) if absent.any() else values

        x, y = number(x), number(y)
        size = len(x)
        if parts is None:
            parts = np.isfinite(x) & np.isfinite(y) if y.shape == x.shape else np.zeros(size)
        parts = np.asarray(parts)
        return cls(
            x=x,
            y=y,
            z=number(z),
            seconds=number(seconds),
            capture=np.zeros(size, np.int64) if capture is None else np.asarray(capture, np.int64),
            fixed=np.ones(size, bool) if fixed is None else np.asarray(fixed, bool),
            sigma_h=number(sigma_h, positive=True),
            sigma_v=number(sigma_v, positive=True),
            scale=np.ones(size) if scale is None else np.asarray(scale, float),
            parts=parts if parts.dtype.kind in "iu" else parts.astype(np.int64),
        )
