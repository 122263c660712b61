"""Spot points of each capture day against points with known coordinates.

What is off on a whole day (base, antenna height) moves every edge of that day, so this comes before
all else. The captures are read for it once more: keeping them would need the memory of all layers
together.
"""

from dataclasses import dataclass

import numpy as np
from qgis.core import QgsCoordinateTransform, QgsProcessingException, QgsProcessingFeedback
from qgis.PyQt.QtCore import Qt

from ...shared.arrays.plane import turned
from ..host.feedback import raise_if_cancelled
from ..host.figures import translate
from ..reading.frames import FrameError, axis_turn, make_frame
from ..reading.layer_frame import way_into
from ..reading.layer_rows import read_rows
from ..reading.operations import operation_of, warning_of
from ..reading.transforms import transform

DAY = 86400  # s


def tr(text):
    return translate("Control", text)


@dataclass(frozen=True)
class Day:
    """A capture day against the control points; metres, spot minus control.

    Attributes
    ----------
    name : str
        Date in UTC, or the name of the layer whose times have no date.
    layers : tuple of str
        With spot points on that day.
    number : int
        Control points that were met; without one the numbers are NaN.
    east, north, up, sigma, sigma_up : float
    off, off_up : bool
        In plan, in height.
    """

    name: str
    layers: tuple
    number: int
    east: float
    north: float
    up: float
    sigma: float
    sigma_up: float
    off: bool
    off_up: bool

    @property
    def wrong(self):
        return self.off or self.off_up


@dataclass(frozen=True)
class Difference:
    """Mean of spot minus control over the spot points of one layer, metres."""

    number: int
    east: float
    north: float
    up: float


class Control:
    """The control points, and what was found of each day and layer.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    distance : float
        Farther apart is no pair, metres.
    crs : QgsCoordinateReferenceSystem
        Of the results; its axes are those of the differences.
    context : QgsProcessingContext
    feedback : QgsProcessingFeedback

    Attributes
    ----------
    days : list of Day
        Those that are off first, else by date.
    of_layer : dict of str to Difference

    Raises
    ------
    QgsProcessingException
        If the control points cannot be used.
    """

    def __init__(self, source, distance, crs, context, feedback):
        self.distance, self.crs = distance, crs
        self.transforms, self.feedback = context.transformContext(), feedback
        self.days, self.of_layer = [], {}
        self.spots = []  # name of the layer, xyz, sigmas in plan and height, names of days
        if source.sourceCrs().isValid() != crs.isValid():
            raise QgsProcessingException(
                tr("either the control points “{}” or the results have no CRS.").format(
                    source.sourceName()
                )
            )
        rows = read_rows(source, None, [], feedback, lambda share: None)
        x, y, z = rows.x.copy(), rows.y.copy(), rows.z.copy()
        if not np.isfinite(x).any():
            raise QgsProcessingException(
                tr("there is no control point in “{}”.").format(source.sourceName())
            )
        try:
            unit = make_frame(source.sourceCrs(), x, y, None, self.transforms).height_unit
            if source.sourceCrs() != crs:
                way = way_into(crs, source, self.transforms)
                self._say_operation(way, source.sourceName())
                x, y = transform(way, x, y)
            self.frame = make_frame(crs, x, y, None, self.transforms)
        except FrameError as error:
            raise QgsProcessingException(
                tr("the control points “{}” cannot be used: {}.").format(source.sourceName(), error)
            ) from error
        middle = np.array([np.nanmean(x)]), np.array([np.nanmean(y)])
        self.turn = float(axis_turn(self.frame, crs, *middle)[0])
        self.points = np.column_stack([*self._local(x, y), z * unit])

    def _say_operation(self, way, name):
        text = warning_of(operation_of(way), (name, tr("results")))
        if text:
            self.feedback.pushWarning(text)

    def _local(self, x, y):
        """Metres along the axes of the results."""
        east, north, _ = self.frame.local(x, y)
        return turned(east, north, -self.turn)

    def add(self, capture, context):
        """Take the spot points of a capture layer.

        Raises
        ------
        QgsProcessingException
            If the layer cannot be read.
        CancelledError
        """
        from ...shared.epochs.occupations import average
        from ...shared.epochs.settings import OccupationSettings

        child, quiet = capture.child, QgsProcessingFeedback(False)
        # Direct: the thread at work has no event loop
        self.feedback.canceled.connect(quiet.cancel, Qt.ConnectionType.DirectConnection)

        def progress(share):
            raise_if_cancelled(self.feedback)

        layer = child.epochs(
            child.source(capture.settings, context), capture.settings, context, quiet, progress
        )
        child.release()
        accuracy = child.parameterAsDouble(capture.settings, child.MAX_H_ACCURACY, context)
        points = average(layer.table, OccupationSettings(accuracy), progress).points
        if not len(points):
            return
        x, y = layer.frame.layer(points.x, points.y)
        own = capture.layer.crs()
        if own.isValid() and self.crs.isValid() and own != self.crs:
            way = QgsCoordinateTransform(own, self.crs, self.transforms)
            self._say_operation(way, capture.name)
            x, y = transform(way, x, y)
        xyz = np.column_stack([*self._local(x, y), points.z])
        sigma = np.sqrt((points.sigma_east**2 + points.sigma_north**2) / 2)
        days = _days_of(points.started + layer.origin, layer.dated, capture.name)
        self.spots.append((capture.name, xyz, sigma, points.sigma_up, days))

    def check(self):
        """Compare all spot points taken; fills `days` and `of_layer`."""
        from ...shared.lines.day_control import Spots, check_days

        if not self.spots:
            return
        names, parts = [one[0] for one in self.spots], list(zip(*self.spots))
        xyz, sigma, sigma_up, days = (np.concatenate(part) for part in parts[1:])
        layer = np.repeat(np.arange(len(names)), [len(one[1]) for one in self.spots])
        titles, day = np.unique(days, return_inverse=True)
        found = check_days(Spots(xyz, sigma, sigma_up, day), self.points, self.distance)
        self.days = [
            Day(
                str(title),
                tuple(names[row] for row in np.unique(layer[day == row_of_day]).tolist()),
                int(found.number[row_of_day]),
                *(
                    float(values[row_of_day])
                    for values in (found.east, found.north, found.up, found.sigma, found.sigma_up)
                ),
                bool(found.off[row_of_day]),
                bool(found.off_up[row_of_day]),
            )
            for row_of_day, title in enumerate(titles)
        ]
        self.days.sort(key=lambda one: not one.wrong)
        difference = xyz - self.points[found.control]
        for row, name in enumerate(names):
            own = difference[(layer == row) & (found.control >= 0)]
            if len(own):
                up = own[np.isfinite(own[:, 2]), 2]
                self.of_layer[name] = Difference(
                    len(own),
                    *(float(value) for value in own[:, :2].mean(axis=0)),
                    float(up.mean()) if len(up) else np.nan,
                )

    def say(self):
        """Say what was found, first the days that are off; returns it in short."""
        met = [day for day in self.days if day.number]
        for day in self.days:
            if day.wrong:
                self.feedback.pushWarning(sentence(day))
            elif day.number:
                self.feedback.pushInfo(sentence(day))
        alone = [day.name for day in self.days if not day.number]
        if alone or not met:
            self.feedback.pushWarning(
                tr(
                    "Not checked, as nobody stood still within {:.4g} m of a control point: {}."
                ).format(self.distance, ", ".join(alone) or tr("all days"))
            )
        wrong = [day.name for day in met if day.wrong]
        text = tr("days checked {}, off {}").format(len(met), len(wrong))
        return f"{text} ({', '.join(wrong)})" if wrong else text


def sentence(day):
    """What control says of a day.

    Parameters
    ----------
    day : Day
        With at least one control point.

    Returns
    -------
    str
    """
    shift = tr("{:+.3f} m east, {:+.3f} m north (± {:.3f} m)").format(
        day.east, day.north, day.sigma
    )
    if np.isfinite(day.up):
        shift += tr(", {:+.3f} m up (± {:.3f} m)").format(day.up, day.sigma_up)
    text = tr("{}: {}. Control points: {}.").format(day.name, shift, day.number)
    if not day.wrong:
        return tr("Control, {} No shift beyond chance.").format(text)
    what = (
        tr("in plan and height")
        if day.off and day.off_up
        else tr("in plan")
        if day.off
        else tr("in height")
    )
    return tr(
        "Control: this day is off {}. {} Check coordinates of the base, antenna height and"
        " correction service before its results are used: {}."
    ).format(what, text, ", ".join(day.layers))


def _days_of(seconds, dated, name):
    """Date of each moment as text; the name of the layer where no date can be told."""
    known = np.isfinite(seconds) & dated
    moment = np.where(known, np.nan_to_num(seconds), 0) // DAY
    return np.where(known, moment.astype("datetime64[D]").astype(str), name)
