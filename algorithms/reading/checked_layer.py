"""Points or lines beside check points: which goes with which, and how far apart they are."""

from dataclasses import dataclass
from typing import Optional

import numpy as np
from qgis.core import QgsProcessingException

from ...shared.arrays.plane import turned
from ..host.feedback import cancel_check
from ..host.figures import translate
from .frames import Frame, FrameError, axis_turn, make_frame
from .layer_frame import refuse_mixed_crs, way_into
from .layer_rows import read_rows
from .line_layer import read_linework
from .line_pair import label_fields, labels_of
from .operations import in_words, warn_of_operation
from .places import area_doubt, middle_of, refuse_exchanged
from .transforms import transform


def tr(text):
    return translate("CheckedLayer", text)


@dataclass(frozen=True)
class CheckPlaces:
    """Where check points lie.

    Attributes
    ----------
    frame : Frame
        Of the tested layer, true to scale at the check points' centre.
    xy : ndarray of float, shape (n, 2)
        In the frame, metres.
    scale, turn : ndarray of float, shape (n,)
        Scale factor of the frame there, and direction of the layer's east axis in it, radians.
    z : ndarray of float, shape (n,)
        Metres.
    transformed : str
        How they were brought into the tested layer's CRS; empty where nothing was done.
    """

    frame: Frame
    xy: np.ndarray
    scale: np.ndarray
    turn: np.ndarray
    z: np.ndarray
    transformed: str


@dataclass(frozen=True)
class Compared:
    """What each check point was compared with.

    Attributes
    ----------
    state : ndarray of int, shape (n,)
        Of `point_pairs`: used, or why not.
    foot : ndarray of float, shape (n, 2)
        The tested place in the frame, metres; NaN without one.
    z, offset, chainage : ndarray of float, shape (n,)
        Its height, and of lines the signed distance and the place along the line, metres.
    tested_id, tested_label : list
        What it is called in the table and in the report; None without one.
    named_by, checksum : str
        By what the tested layer's labels are made, and the checksum of its geometries.
    lines : Lines, optional
        The tested lines, in the frame.
    """

    state: np.ndarray
    foot: np.ndarray
    z: np.ndarray
    offset: np.ndarray
    chainage: np.ndarray
    tested_id: list
    tested_label: list
    named_by: str
    checksum: str
    lines: Optional[object] = None


@dataclass(frozen=True)
class Errors:
    """Tested less check along the axes of the tested layer, where people look for them: the local
    frame's north is another one. Ground metres, NaN without a partner."""

    east: np.ndarray
    north: np.ndarray
    horizontal: np.ndarray
    up: np.ndarray


def locate_check_points(tested, check, rows, transform_context, feedback):
    """Bring check points into the tested layer's CRS, and into a frame at their centre.

    Parameters
    ----------
    tested, check : QgsProcessingFeatureSource
    rows : Rows
        Of the check points.
    transform_context : QgsCoordinateTransformContext
    feedback : QgsProcessingFeedback

    Returns
    -------
    CheckPlaces

    Raises
    ------
    QgsProcessingException
        If there is no check point, or the layers cannot be brought together; the text names both.
    """
    if not len(rows):
        raise QgsProcessingException(
            tr("Layer “{}” is empty: there is no check point.").format(check.sourceName())
        )
    tested_crs, check_crs = tested.sourceCrs(), check.sourceCrs()
    refuse_mixed_crs(tested, check)
    x, y, transformed = rows.x.copy(), rows.y.copy(), ""
    middle = middle_of(x, y)
    refuse_exchanged(check, middle, transform_context)
    outside = area_doubt(check, x, y, middle, transform_context)
    if outside:
        feedback.pushWarning(outside)
    try:
        unit = make_frame(check_crs, x, y, None, transform_context).height_unit
        if tested_crs != check_crs:
            x, y, transformed = _into_tested(tested, check, (x, y), transform_context, feedback)
        frame = make_frame(tested_crs, x, y, None, transform_context)
    except FrameError as error:
        raise QgsProcessingException(
            tr("Layers “{}” and “{}” cannot be compared: {}.").format(
                tested.sourceName(), check.sourceName(), error
            )
        ) from error
    for sentence in frame.said:
        feedback.pushInfo(sentence)
    east, north, scale = frame.local(x, y)
    return CheckPlaces(
        frame=frame,
        xy=np.column_stack([east, north]),
        scale=scale,
        turn=axis_turn(frame, tested_crs, x, y),
        z=rows.z * unit,
        transformed=transformed,
    )


def _into_tested(tested, check, xy, transform_context, feedback):
    """Positions of check points in the tested layer's CRS, and by which operation, in words."""
    crs = tested.sourceCrs()
    way = way_into(crs, check, transform_context)
    x, y = transform(way, *xy)
    feedback.pushInfo(
        tr("Check points are brought from {} into {}.").format(
            check.sourceCrs().userFriendlyIdentifier(), crs.userFriendlyIdentifier()
        )
    )
    warn_of_operation(way, (check.sourceName(), tested.sourceName()), feedback)
    return x, y, in_words(way)


def compare_points(tested, id_field, names, places, greatest, feedback, progress):
    """Compare points with check points.

    Parameters
    ----------
    tested : QgsProcessingFeatureSource
    id_field : str
        Field by which they are paired; empty for nearness.
    names : list of str or None
        Identifier of each check point.
    places : CheckPlaces
    greatest : float
        Distance within which they are paired, metres.
    feedback : QgsProcessingFeedback
    progress : callable

    Returns
    -------
    Compared
    """
    from ...shared.lines import point_pairs
    from ...shared.report.inputs import checksum_of

    wanted = [id_field] if id_field else label_fields(tested)
    rows = read_rows(tested, None, wanted, feedback, progress)
    frame, xy = places.frame, places.xy
    there = np.column_stack(frame.local(rows.x.copy(), rows.y.copy())[:2])
    labels, named_by = labelled(rows, id_field, wanted)
    if id_field:
        own = rows.columns[id_field].texts().tolist()
        partner = _paired_by_name(own, names, tested)
    else:
        own = [str(ident) for ident in rows.ids.tolist()]
        partner = point_pairs.pair_points(there, xy, greatest)
    paired = partner >= 0
    paired[paired] = np.isfinite(there[partner[paired]]).all(axis=1)
    foot, z, nowhere = np.full(xy.shape, np.nan), *np.full((2, len(xy)), np.nan)
    foot[paired] = there[partner[paired]]
    z[paired] = rows.z[partner[paired]] * frame.height_unit
    partner = np.where(paired, partner, -1)
    state = np.where(paired, point_pairs.USED, point_pairs.NO_PARTNER)
    state[~np.isfinite(xy).all(axis=1)] = point_pairs.NO_POSITION
    return Compared(
        state=state,
        foot=foot,
        z=z,
        offset=nowhere,
        chainage=nowhere,
        tested_id=_taken(own, partner),
        tested_label=_taken(labels, partner),
        named_by=named_by,
        checksum=checksum_of(there, rows.z),
    )


def _paired_by_name(own, names, tested):
    """Row of the tested layer for each check point, -1 for none."""
    from ...shared.lines.point_pairs import pair_names

    try:
        return pair_names(own, names)
    except ValueError as twice:
        raise QgsProcessingException(
            tr(
                "The identifier “{}” stands for several points of one layer (“{}” or the"
                " check points). Identifiers must be unique; choose another field, or leave"
                " both empty to pair by nearness."
            ).format(twice, tested.sourceName())
        ) from twice


def compare_lines(tested, id_field, names, places, greatest, feedback, progress):
    """Compare lines with check points; parameters and result are those of `compare_points`."""
    from ...shared.lines import point_pairs
    from ...shared.lines.feet import feet_on_lines
    from ...shared.lines.lines import Lines
    from ...shared.report.inputs import checksum_of

    wanted = [id_field] if id_field else label_fields(tested)
    linework = read_linework(tested, wanted, feedback, progress)
    labels, named_by = labelled(linework, id_field, wanted)
    frame, xy, scale = places.frame, places.xy, places.scale
    own = (
        linework.columns[id_field].texts().tolist()
        if id_field
        else [str(ident) for ident in linework.ids.tolist()]
    )
    look = cancel_check(feedback)
    east, north, _ = frame.local(linework.x.copy(), linework.y.copy(), look)
    of_line = _taken(own, linework.feature)
    feet = feet_on_lines(
        xy,
        east,
        north,
        linework.z * frame.height_unit,
        linework.offsets,
        greatest,
        (of_line, names) if id_field else None,
        lambda share: look(),
    )
    parts = len(linework.offsets) - 1
    state = np.where(
        feet.line < 0,
        point_pairs.NO_PARTNER,
        np.where(feet.beyond_end, point_pairs.BEYOND_END, point_pairs.USED),
    )
    state[~np.isfinite(xy).all(axis=1)] = point_pairs.NO_POSITION
    return Compared(
        state=state,
        foot=np.column_stack([feet.x, feet.y]),
        z=feet.z,
        offset=feet.offset / scale,
        chainage=feet.chainage / scale,
        tested_id=_taken(of_line, feet.line),
        tested_label=_taken(_taken(labels, linework.feature), feet.line),
        named_by=named_by,
        checksum=checksum_of(linework.offsets, east, north, linework.z),
        lines=Lines(
            x=east,
            y=north,
            z=linework.z,
            offsets=linework.offsets,
            line=np.arange(parts),
            count=parts,
            sigma=np.zeros(parts),
        ),
    )


def errors_of(compared, places):
    """Errors of what was compared: `Errors`."""
    away = (compared.foot - places.xy) / places.scale[:, None]
    east, north = turned(*away.T, -places.turn)
    return Errors(
        east=east,
        north=north,
        horizontal=np.hypot(*away.T),
        up=compared.z - places.z,
    )


def labelled(rows, id_field, names):
    """What each row is called in the report, and by what: the field that was chosen, else as all
    reports do."""
    if id_field:
        return rows.columns[id_field].texts().tolist(), tr("field “{}”").format(id_field)
    return labels_of(rows.ids, rows.columns, names)


def _taken(values, rows):
    """Values of some rows, None for row -1."""
    return [values[row] if row >= 0 else None for row in np.asarray(rows).tolist()]
