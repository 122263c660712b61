"""Coordinates that were rounded before they were read: what is said of them, and what they add to
uncertainties."""

import numpy as np
from qgis.core import QgsUnitTypes

from ...shared.epochs.rounding import SIGMA, coordinate_step
from ...shared.tuning import PLAUSIBILITY
from ..host.figures import translate
from .places import DEGREE


def tr(text):
    return translate("CoordinateSteps", text)


def position_step(source, x, y, least, multiples=0):
    """The step that positions were rounded to.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    x, y : ndarray of float, shape (n,)
        In the layer's CRS.
    least : float
        Metres; smaller steps are not looked for.
    multiples : int
        See `coordinate_step`.

    Returns
    -------
    float
        Metres, the greater one of both axes; 0 where they were not.
    """
    steps, units = _steps(source, x, y, least, multiples)
    return max(step * unit for step, unit in zip(steps, units))


def _steps(source, x, y, least, multiples):
    """Steps along both axes in units of the CRS, 0 where there is none, and metres in a unit."""
    crs = source.sourceCrs()
    if crs.isGeographic():
        across = np.cos(np.radians(np.nanmedian(y))) if np.isfinite(y).any() else 1.0
        units = DEGREE * max(across, 1e-6), DEGREE
    else:
        metre = QgsUnitTypes.fromUnitToUnitFactor(
            crs.mapUnits(), QgsUnitTypes.DistanceUnit.DistanceMeters
        )
        units = metre, metre
    steps = tuple(
        coordinate_step(axis, least / unit, multiples) for axis, unit in zip((x, y), units)
    )
    return steps, units


def cell_of_epochs(source, x, y):
    """The cell of the coarse grid that positions of epochs were rounded to.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    x, y : ndarray of float, shape (n,)
        In the layer's CRS.

    Returns
    -------
    ndarray of float, shape (3, 2)
        A place in the middle of them, and those a step along either axis away, in the layer's CRS;
        None where there is no such grid.
    """
    steps, _ = _steps(source, x, y, PLAUSIBILITY.coarse, 0)
    if not any(steps):
        return None
    middle = np.array([np.nanmedian(x), np.nanmedian(y)])
    return middle + np.vstack([np.zeros(2), np.diag(steps)])


def sides_of(cell, frame):
    """Both sides of a cell in a frame, each as x and y, metres.

    Parameters
    ----------
    cell : ndarray of float, shape (3, 2)
        From `cell_of_epochs`, or None.
    frame : Frame

    Returns
    -------
    ndarray of float, shape (2, 2)
        None without a cell.
    """
    if cell is None:
        return None
    x, y, _ = frame.local(*np.ascontiguousarray(cell.T))
    return np.column_stack([x[1:] - x[0], y[1:] - y[0]])


def step_of_epochs(source, x, y, feedback):
    """The step that positions of epochs were rounded to, metres, where it is coarse, which is then
    said; else 0.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    x, y : ndarray of float, shape (n,)
        In the layer's CRS.
    feedback : QgsProcessingFeedback

    Returns
    -------
    float
    """
    step = position_step(source, x, y, PLAUSIBILITY.coarse)
    if not step >= PLAUSIBILITY.coarse:
        return 0.0
    feedback.pushWarning(
        tr(
            "Layer “{}”: its positions are rounded to steps of {:.3g} m, so results may be off by"
            " as much, for which {:.3g} m are added to their uncertainties (1-sigma). Use positions"
            " with more decimals."
        ).format(source.sourceName(), step, SIGMA * step)
    )
    return step


def sigmas_of_lines(source, read, height_unit, say):
    """What rounding of its coordinates adds to the uncertainty of the lines of a layer.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    read : Linework
    height_unit : float
        Metres in a unit of height.
    say : callable
        Takes a sentence on it.

    Returns
    -------
    across, up : float
        1-sigma, metres; 0 where nothing was rounded.
    """
    least, multiples = PLAUSIBILITY.least_rounding, PLAUSIBILITY.multiples
    across = SIGMA * position_step(source, read.x, read.y, least, multiples)
    up = SIGMA * height_unit * coordinate_step(read.z, least / height_unit, multiples)
    if across or up:
        say(
            tr(
                "Layer “{}”: its coordinates are rounded, which adds {:.3g} m across and {:.3g} m"
                " up (1-sigma) to the uncertainty of its lines."
            ).format(source.sourceName(), across, up)
        )
    return across, up


def widened(sigma, own):
    """Uncertainties of rows with that of rounding; 0 and NaN, which stand for unknown, stay.

    Parameters
    ----------
    sigma : ndarray of float, shape (rows,)
        Metres.
    own : float
        1-sigma of rounding, metres.

    Returns
    -------
    ndarray of float, shape (rows,)
    """
    return np.where(sigma > 0, np.hypot(sigma, own), sigma)
