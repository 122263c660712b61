"""The local frame: metres, true to scale at the data's centre, on the layer's own datum."""

from dataclasses import dataclass, replace

import numpy as np
from osgeo import osr
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCoordinateTransformContext,
    QgsUnitTypes,
)

from ..host.figures import translate
from .places import middle_of
from .transforms import NoWayError, Way, blocks, taken_in, transform, transform_smoothly

FARTHEST = 1e9  # m; no plane of a survey reaches beyond


def tr(text):
    return translate("Frames", text)


class FrameError(ValueError):
    """No frame can be made; the text says why and what to do, without the layer's name."""


@dataclass(frozen=True)
class Frame:
    """Way from the layer's CRS to the local frame and back.

    Attributes
    ----------
    to_local, to_layer : Way, QgsCoordinateTransform or None
        None for a layer without a CRS, whose coordinates are taken as a plane.
    to_true : QgsCoordinateTransform or None
        From a working CRS of the user's to the frame that is true to scale.
    origin : tuple of float
        Taken from local coordinates, to keep them small.
    stretch : ndarray of float, shape (2, 2), or None
        Turns steps of a working CRS into true ones at the data's centre. Without it, a projection
        that stretches by direction (web Mercator on the ellipsoid does, by 0.2 % in the middle
        latitudes) could not give true lengths with one scale factor to a point.
    plane_unit : float
        Metres in a unit of a CRS that is a bare plane.
    height_unit : float
        Metres in a unit of the layer's heights.
    said : tuple of str
        What was assumed, for the log.
    """

    to_local: object = None
    to_layer: object = None
    to_true: QgsCoordinateTransform = None
    origin: tuple = (0.0, 0.0)
    stretch: np.ndarray = None
    plane_unit: float = 1.0
    height_unit: float = 1.0
    centre_latitude: float = 0.0
    ellipsoid: tuple = (6378137.0, 1 / 298.257223563)
    said: tuple = ()

    def local(self, x, y, check_cancel=lambda: None, in_place=False):
        """Local coordinates and point scale factors of positions of the layer.

        Parameters
        ----------
        x, y : ndarray of float, shape (n,)
            As in the layer; NaN for none.
        check_cancel : callable
            Called between blocks without arguments; raises to stop.
        in_place : bool
            The positions are not needed any more: their memory is used for what is returned, where
            that can be.

        Returns
        -------
        x, y, scale : ndarray of float, shape (n,)
            NaN (scale 1) where there is no position, or none that the frame can show.
        """
        if self.to_local is None:
            east, north = x * self.plane_unit, y * self.plane_unit
            return east - self.origin[0], north - self.origin[1], np.ones(len(x))
        if self.to_true is None:
            east, north = transform_smoothly(
                self.to_local, x, y, check_cancel, (x, y) if in_place else None
            )
            scale = np.zeros(len(x))
            for here in blocks(len(x), check_cancel):
                scale[here] = self._scale_of_true_frame(east[here], north[here])
        else:
            east, north = transform(self.to_local, x, y, check_cancel)
            scale = self._scale_of_working_frame(east, north, check_cancel)
        lost = np.flatnonzero(~(np.isfinite(scale) & (scale > 0)))
        scale[lost] = 1.0
        east[lost] = north[lost] = np.nan
        if self.origin != (0.0, 0.0):
            east, north = east - self.origin[0], north - self.origin[1]
        if self.stretch is not None:
            east, north = self.stretch @ np.stack([east, north])
        return east, north, scale

    def layer(self, x, y):
        """Positions in the layer's CRS from local coordinates; the inverse of `local`."""
        if self.stretch is not None:
            x, y = np.linalg.solve(self.stretch, np.stack([x, y]))
        east, north = x + self.origin[0], y + self.origin[1]
        if self.to_layer is None:
            return east / self.plane_unit, north / self.plane_unit
        # a working CRS may be on another datum, whose grids have edges, and takes PROJ's own way
        return (transform_smoothly if self.to_true is None else transform)(
            self.to_layer, east, north
        )

    def _scale_of_true_frame(self, east, north):
        """Point scale of a transverse Mercator with scale 1 on its meridian.

        On a sphere it is cosh(E / R) (J. P. Snyder, Map Projections: A Working Manual, USGS PP
        1395, 1987, eq. 8-4 rewritten in E); on the ellipsoid R is the Gaussian mean radius at the
        point's latitude, which leaves less than 1e-6 within 200 km of the meridian.
        """
        a, flattening = self.ellipsoid
        e2 = flattening * (2 - flattening)
        latitude = np.radians(self.centre_latitude) + north / (a * (1 - e2 / 2))
        radius = a * np.sqrt(1 - e2) / (1 - e2 * np.sin(latitude) ** 2)
        with np.errstate(over="ignore", invalid="ignore"):
            return np.cosh(east / radius)

    def _scale_of_working_frame(self, east, north, check_cancel):
        """Point scale of the working frame, its stretch undone, from the areas that it shows true
        or not."""
        steps = true_steps(self.to_true, east, north, check_cancel)
        middle = transform(self.to_true, east, north, check_cancel)
        area = (
            np.abs(steps[0, 0] * steps[1, 1] - steps[1, 0] * steps[0, 1])
            / self._scale_of_true_frame(*middle) ** 2
        )
        with np.errstate(invalid="ignore", divide="ignore"):
            return np.sqrt(abs(np.linalg.det(self.stretch)) / area)


def true_steps(to_true, east, north, check_cancel=lambda: None):
    """What a metre of the working CRS is in the true frame.

    Returns
    -------
    ndarray of float, shape (2, 2, n)
        ``[:, 0]`` is a step to the working CRS's east, ``[:, 1]`` one to its north.
    """
    step = 5.0
    ends = [
        np.stack(transform(to_true, east + de, north + dn, check_cancel))
        for de, dn in ((-step, 0), (step, 0), (0, -step), (0, step))
    ]
    return np.stack([ends[1] - ends[0], ends[3] - ends[2]], axis=1) / (2 * step)


def _spatial_reference(crs):
    reference = osr.SpatialReference()
    if not taken_in(
        reference.ImportFromWkt, crs.toWkt(QgsCoordinateReferenceSystem.WktVariant.WKT_PREFERRED)
    ):
        raise FrameError(
            tr("its CRS “{}” cannot be understood by PROJ").format(crs.userFriendlyIdentifier())
        )
    return reference


def _crs_of(reference):
    return QgsCoordinateReferenceSystem.fromWkt(reference.ExportToWkt(["FORMAT=WKT2_2019"]))


def _median_longitude(x, turn):
    """Median that does not break at the antimeridian."""
    angle = x * 2 * np.pi / turn
    middle = np.arctan2(np.sin(angle).mean(), np.cos(angle).mean())
    return (middle + np.median(np.angle(np.exp(1j * (angle - middle))))) * turn / (2 * np.pi)


def short_step(crs):
    """About a metre in a CRS's unit, by which directions are told.

    Parameters
    ----------
    crs : QgsCoordinateReferenceSystem
        May be invalid.

    Returns
    -------
    float
    """
    degree_step = 1e-5  # exact: about a metre of a meridian
    return degree_step if crs.isValid() and crs.isGeographic() else 1.0


def axis_turn(frame, crs, x, y):
    """Direction of the x axis of the layer's CRS in its frame.

    Parameters
    ----------
    frame : Frame
    crs : QgsCoordinateReferenceSystem
        Of the layer.
    x, y : ndarray of float, shape (n,)
        Positions in the layer's CRS.

    Returns
    -------
    ndarray of float, shape (n,)
        Radians counter-clockwise.
    """
    step = short_step(crs)
    (west, south, _), (east, north, _) = (frame.local(x + way, y) for way in (-step, step))
    return np.arctan2(north - south, east - west)


def make_frame(crs, x, y, working_crs=None, context=None, middle=None):
    """Make the local frame for positions of a layer.

    Parameters
    ----------
    crs : QgsCoordinateReferenceSystem
        Of the layer; may be invalid.
    x, y : ndarray of float, shape (n,)
        Positions; changed in place: NaN where they are out of the CRS's range.
    working_crs : QgsCoordinateReferenceSystem, optional
        Projected CRS in metres to work in instead.
    context : QgsCoordinateTransformContext, optional
        For the way to a working CRS.
    middle : tuple of float, optional
        Medians of the positions, where they are known already (`places.middle_of`).

    Returns
    -------
    Frame

    Raises
    ------
    FrameError
        If the CRS cannot be used.
    """
    wanted = working_crs is not None and working_crs.isValid()
    if wanted:
        _refuse_bad_working_crs(working_crs)
    x[~np.isfinite(x)] = np.nan
    y[~np.isfinite(y)] = np.nan
    if not crs.isValid():
        if wanted:
            raise FrameError(
                tr(
                    "it has no CRS, so it cannot be brought into the working CRS. Assign its CRS "
                    "(Layer Properties, Source)"
                )
            )
        said = (tr("The layer has no CRS: its coordinates are taken as plane metres."),)
        return _plane_frame(x, y, 1.0, said, guess=True)
    reference = _spatial_reference(crs)
    if reference.IsGeocentric():
        raise FrameError(
            tr(
                "its CRS “{}” is geocentric. Reproject it to a geographic or projected CRS first"
            ).format(crs.userFriendlyIdentifier())
        )
    if not (reference.IsGeographic() or reference.IsProjected()):
        return _frame_without_datum(crs, reference, x, y, wanted)
    geographic = osr.SpatialReference()
    geographic.CopyGeogCSFrom(reference)
    frame, true = _true_frame(crs, reference, geographic, (x, y), middle)
    if not wanted:
        return frame
    # from datum to datum by the ways that the user chose in the host
    context = context if context is not None else QgsCoordinateTransformContext()
    frame = _by_way_of(working_crs, frame, (crs, true, geographic), context)
    origin, stretch = _origin_and_stretch(frame, x, y)
    return replace(frame, origin=origin, stretch=stretch)


def _by_way_of(working_crs, frame, systems, context):
    """The frame with coordinates of a working CRS as local ones; `systems`: the layer's CRS, the
    true frame's and the geographic one below it."""
    crs, true, geographic = systems
    return replace(
        frame,
        to_local=QgsCoordinateTransform(crs, working_crs, context),
        to_layer=QgsCoordinateTransform(working_crs, crs, context),
        to_true=QgsCoordinateTransform(working_crs, _crs_of(true), context),
        said=frame.said + _said_of_datum(working_crs, geographic),
    )


def _refuse_bad_working_crs(crs):
    if crs.isGeographic() or crs.mapUnits() != QgsUnitTypes.DistanceUnit.DistanceMeters:
        raise FrameError(
            tr(
                "the working CRS “{}” is not a projected CRS in metres. Choose one, or leave it"
                " empty"
            ).format(crs.userFriendlyIdentifier())
        )


def _frame_without_datum(crs, reference, x, y, wanted):
    """Frame of a CRS that is a bare plane."""
    if wanted:
        raise FrameError(
            tr(
                "its CRS “{}” has no datum, so it cannot be brought into the working CRS. Leave"
                " that empty"
            ).format(crs.userFriendlyIdentifier())
        )
    said = tr(
        "The CRS “{}” is a plane without a datum: its coordinates are taken as they are."
    ).format(crs.userFriendlyIdentifier())
    return _plane_frame(x, y, reference.GetLinearUnits(), (said,))


def _true_frame(crs, reference, geographic, places, middle):
    """Frame true to scale at the centre of the data, and its reference system: a transverse
    Mercator on the layer's own datum. Positions `places`, x and y, out of range become NaN;
    `middle`: their medians, or None."""
    x, y = places
    height_unit, said = _height_unit(crs, reference)
    if crs.isGeographic():
        turn = 2 * np.pi / reference.GetAngularUnits()
        with np.errstate(invalid="ignore"):
            outside = (np.abs(y) > turn / 4) | (np.abs(x) > turn)
        x[outside] = y[outside] = np.nan
    finite = np.isfinite(x) & np.isfinite(y)
    x[~finite] = y[~finite] = np.nan
    try:
        if not crs.isGeographic():
            centre = _centre_of_projected(Way(reference, geographic), x, y, middle)
        elif finite.any():
            centre = _median_longitude(x[finite], turn), np.median(y[finite])
        else:
            centre = 0.0, 0.0
        true = geographic.Clone()
        true.SetTM(float(centre[1]), float(centre[0]), 1.0, 0.0, 0.0)
        to_local, to_layer = Way(reference, true), Way(true, reference)
    except NoWayError as error:
        raise FrameError(
            tr("no local frame could be made on the datum of its CRS “{}”").format(
                crs.userFriendlyIdentifier()
            )
        ) from error
    flattening = reference.GetInvFlattening()
    frame = Frame(
        to_local=to_local,
        to_layer=to_layer,
        height_unit=height_unit,
        centre_latitude=np.degrees(centre[1] * geographic.GetAngularUnits()),
        ellipsoid=(reference.GetSemiMajor(), 1 / flattening if flattening else 0.0),
        said=said,
    )
    return frame, true


def _said_of_datum(working_crs, geographic):
    """What to say where the working CRS is on another datum than the layer."""
    own = osr.SpatialReference()
    own.CopyGeogCSFrom(_spatial_reference(working_crs))
    if own.IsSameGeogCS(geographic):
        return ()
    return (
        tr(
            "The working CRS “{}” is on another datum than the layer; the edges come back to the"
            " layer's own."
        ).format(working_crs.userFriendlyIdentifier()),
    )


def _origin_and_stretch(frame, x, y):
    """Origin of a frame in a working CRS, and what turns its steps into true ones there."""
    origin, stretch = (0.0, 0.0), np.eye(2)
    finite = np.isfinite(x) & np.isfinite(y)
    if not finite.any():
        return origin, stretch
    # a few hundred positions tell the centre as well as a million
    some = np.flatnonzero(finite)[:: max(1, np.count_nonzero(finite) // 500)]
    east, north = transform(frame.to_local, x[some], y[some])
    if not np.isfinite(east).any():
        return origin, stretch
    origin = (float(np.nanmedian(east)), float(np.nanmedian(north)))
    found = true_steps(frame.to_true, np.array(origin[:1]), np.array(origin[1:]))[:, :, 0]
    usable = np.isfinite(found).all() and abs(np.linalg.det(found)) > 1e-6
    return origin, found if usable else stretch


def _centre_of_projected(way, x, y, middle):
    """Longitude and latitude of the middle of positions; `middle`: their medians, where these are
    known already."""
    middle = middle_of(x, y) if middle is None else middle
    if middle is None:
        return 0.0, 0.0
    centre = transform(way, *np.array(middle)[:, None])
    if np.isfinite(centre[0][0]):
        return centre[0][0], centre[1][0]
    finite = np.isfinite(x) & np.isfinite(y)
    some = np.flatnonzero(finite)[:: max(1, np.count_nonzero(finite) // 500)]
    east, north = transform(way, x[some], y[some])
    if not np.isfinite(east).any():
        return 0.0, 0.0
    return np.nanmedian(east), np.nanmedian(north)


def _height_unit(crs, reference):
    """Metres in a unit of the heights, and what to say about it."""
    if not reference.IsCompound():
        # QGIS before 3.38 knows the horizontal part of a compound CRS only; its identifier still
        # tells the whole
        whole = osr.SpatialReference()
        if (
            crs.authid()
            and not crs.authid().startswith("USER:")
            and taken_in(whole.SetFromUserInput, crs.authid())
            and whole.IsCompound()
        ):
            reference = whole
    if reference.IsCompound():
        unit = reference.GetTargetLinearUnits("VERT_CS")
        if abs(unit - 1) > 1e-9:
            return unit, (
                tr(
                    "Heights: {:.7g} m to a unit, as the layer's CRS says; they are written in that"
                    " unit."
                ).format(unit),
            )
        return 1.0, ()
    if reference.IsProjected() and abs(reference.GetLinearUnits() - 1) > 1e-9:
        return 1.0, (
            tr("Heights: the layer's CRS says nothing about their unit; they are taken as metres."),
        )
    return 1.0, ()


def _plane_frame(x, y, unit, said, guess=False):
    with np.errstate(invalid="ignore"):
        finite = (np.abs(x) * unit < FARTHEST) & (np.abs(y) * unit < FARTHEST)
    x[~finite] = y[~finite] = np.nan
    if not finite.any():
        return Frame(plane_unit=unit, said=said)
    if guess:
        width, height = np.ptp(x[finite]), np.ptp(y[finite])
        in_range = (np.abs(x[finite]) <= 180).all() and (np.abs(y[finite]) <= 90).all()
        # No survey in metres is less than a metre wide; one in degrees nearly always is.
        if in_range and 0 < max(width, height) < 1:
            raise FrameError(
                tr(
                    "it has no CRS and its coordinates look like degrees. Assign its CRS (Layer"
                    " Properties, Source), for example EPSG:4326"
                )
            )
    return Frame(
        origin=(float(np.median(x[finite]) * unit), float(np.median(y[finite]) * unit)),
        plane_unit=unit,
        said=said,
    )
