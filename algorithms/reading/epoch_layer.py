"""A layer of epochs into the table that the core works on, with everything that is said on the
way."""

from dataclasses import dataclass, replace
from typing import Optional

import numpy as np
from qgis.core import QgsProcessingException, QgsWkbTypes

from ...shared.epochs.table import EpochTable
from ...shared.tuning import TIMES
from ..host.feedback import raise_if_cancelled
from ..host.figures import translate
from . import role_words, roles
from .coordinate_steps import cell_of_epochs, sides_of, step_of_epochs
from .epoch_fields import choose_fields, height_field, with_known_states
from .epoch_values import accuracy_of, captures_of, fixed_of_rows, parts_of_walks, times_of
from .frames import Frame
from .layer_frame import locate, refuse_empty
from .layer_rows import read_rows
from .line_chains import ids_of_walks
from .places import take_out_strays
from .plausible_table import one_walk_each, say_copied, without_doubtful
from .stream_check import refuse_map
from .vertex_times import times_of_vertices

SHARE_OF_READING = 0.7  # of the progress


def tr(text):
    return translate("Layers", text)


@dataclass(frozen=True)
class EpochLayer:
    """Epochs of a layer.

    Attributes
    ----------
    name : str
        Of the layer, for messages.
    table : EpochTable
    ids : ndarray of int64, shape (n,)
        Feature id of each row. The rest of what was read is let go, to leave the memory to the
        core.
    frame : Frame
    captures : list of str
        Text of each capture code.
    origin : float
        Seconds from 1970, or from where the layer's own times start, to the table's zero; NaN where
        the order of vertices stands for the time, so that no moment can be told.
    dated : bool
        False where times are seconds from an unknown origin, so that no date can be told.
    is_line : bool
        True where the rows are vertices of lines.
    fix_field : str
        Empty where none was found.
    h_field : str
        Empty where none was found.
    role_fields : frozenset of str
        Fields whose values are in the table or name the captures, in lower case. Of several that
        name captures together none is among them.
    step : float
        That positions were rounded to, metres, where it is coarse; else 0.
    grid : ndarray of float, shape (2, 2)
        Both sides of a cell of that grid in the frame, each as x and y, metres; None where `step`
        is 0.
    height_field : str
        Field that may hold heights, where no position has one; else empty.
    """

    name: str
    table: EpochTable
    ids: np.ndarray
    frame: Frame
    captures: list
    origin: float
    dated: bool
    is_line: bool
    fix_field: str
    h_field: str
    role_fields: frozenset = frozenset()
    step: float = 0.0
    grid: Optional[np.ndarray] = None
    height_field: str = ""


def read_epochs(source, file, choices, working_crs, transform_context, feedback, progress):
    """Read a source of points, lines or polygons as epochs; each ring of a polygon is a capture.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    file : File or None
        The file that may be streamed in its place.
    choices : Choices
    working_crs : QgsCoordinateReferenceSystem
        Invalid for the frame of our own.
    transform_context : QgsCoordinateTransformContext
    feedback : QgsProcessingFeedback
        What was found and assumed is said here.
    progress : callable
        Called with the share that is done, 0 to 1.

    Returns
    -------
    EpochLayer

    Raises
    ------
    QgsProcessingException
        If the layer cannot be used; the text names layer, field and remedy.
    CancelledError
    """
    is_line = _is_of_lines(source)
    known = _known_words(feedback)
    taken = choose_fields(source, choices, is_line, known, feedback)
    given = choices, taken = with_known_states(source, taken, choices, feedback), taken
    rows = _read(source, file, taken, feedback, lambda share: progress(SHARE_OF_READING * share))
    values = _values(source, rows, taken, choices, known, is_line, feedback)
    progress(0.8)
    located, step, grid = _locate(source, rows, working_crs, transform_context, feedback)
    seconds, by_order = values.seconds, False
    if is_line:
        seconds, by_order = _times_of_lines(source, rows, located, given, feedback)
    captures, codes = _captures(source, rows, seconds, located, by_order, given, feedback)
    rows.columns.clear()  # what they say has been taken; a million rows of them need 50 MB
    progress(1.0)
    start, dated = _from_start(seconds, by_order, feedback)
    table = _table(rows, values, located, seconds, codes)
    table, captures = _plausible(source, table, captures, taken, by_order, feedback)
    return EpochLayer(
        name=source.sourceName(),
        table=table,
        ids=rows.ids,
        frame=located.frame,
        captures=captures,
        origin=np.nan if by_order else start,
        dated=dated,
        is_line=is_line,
        fix_field=_first_field(taken, roles.FIX),
        h_field=_first_field(taken, roles.H_ACCURACY),
        role_fields=_fields_of_roles(taken),
        step=step,
        grid=grid,
        height_field="" if np.isfinite(table.z).any() else height_field(source, known),
    )


def _captures(source, rows, seconds, located, by_order, given, feedback):
    """Texts of the captures and the code of each row; `given`: the choices, and the fields that
    were taken."""
    is_line, (choices, taken) = _is_of_lines(source), given
    names, parameter = taken[roles.CAPTURE].names, choices.parameters[roles.CAPTURE]
    alone = by_order or _is_polygon(source)  # rings and parts without times stay by themselves
    part = parts_of_walks(rows, seconds) if is_line and not alone else None
    walk = None
    if part is not None and not names:
        walk = _walks(rows, seconds, part, located, parameter, feedback)
    return captures_of(rows, names, is_line, alone, part, walk)


def _plausible(source, table, captures, taken, by_order, feedback):
    """The table without doubtful values, and with a capture for each of several who walked at once;
    copies are said."""
    table = without_doubtful(table, _first_field(taken, roles.V_ACCURACY), feedback)
    if not by_order:
        table, captures = one_walk_each(table, captures, feedback)
        say_copied(table, source.sourceName(), feedback)
    return table, captures


def _first_field(taken, role):
    """The field of a role; empty without one."""
    return "".join(taken[role].names[:1])


def _fields_of_roles(taken):
    """Names in lower case of the fields that have a role; where several name captures together,
    without these."""
    return frozenset(
        name.lower()
        for role, found in taken.items()
        if role != roles.CAPTURE or len(found.names) == 1
        for name in found.names
    )


def _table(rows, values, located, seconds, codes):
    """The epochs as a table in the frame; an accuracy that cannot be one stays infinite."""
    unit = located.frame.height_unit
    odd = None if values.sigma_h is None else np.isposinf(values.sigma_h)
    table = EpochTable.from_columns(
        located.x,
        located.y,
        rows.z if unit == 1 else rows.z * unit,
        seconds,
        codes,
        values.fixed,
        values.sigma_h,
        values.sigma_v,
        located.scale,
        rows.parts,
    )
    if odd is not None and odd.any():
        table = replace(table, sigma_h=np.where(odd, np.inf, table.sigma_h))
    return table


@dataclass(frozen=True)
class _Values:
    """What the fields say of each row; None where there is no field."""

    seconds: np.ndarray
    fixed: np.ndarray
    sigma_h: np.ndarray
    sigma_v: np.ndarray


def _known_words(feedback):
    """Names and words that are known; the user's own table is named."""
    known = role_words.vocabulary()
    if known.own:
        feedback.pushInfo(tr("Names of fields from your table too: “{}”.").format(known.own))
    for problem in known.problems:
        feedback.pushWarning(problem)
    return known


def _read(source, file, taken, feedback, progress):
    """Read geometry and the fields that were taken."""
    wanted = [field for found in taken.values() for field in found.names]
    rows = read_rows(source, file, wanted, feedback, progress)
    refuse_empty(source, rows, tr("epoch"))
    if rows.without_vertices:
        feedback.pushWarning(
            tr("Lines without a geometry, so without vertices to read: {}.").format(
                rows.without_vertices
            )
        )
    return rows


def _values(source, rows, taken, choices, known, is_line, feedback):
    """Times (of points), states of the solution and accuracies."""
    name = source.sourceName()
    seconds = None
    if not is_line:
        seconds = times_of(rows, taken[roles.TIME].names, name, choices, feedback)
    fixed = fixed_of_rows(rows, taken[roles.FIX].names, choices, known, feedback)
    sigma_h, sigma_v = (
        accuracy_of(rows, taken[part].names, (name, choices.parameters[part]), fate, feedback)
        for part, fate in (
            (roles.H_ACCURACY, tr("these epochs are rejected as “poor_accuracy”")),
            (roles.V_ACCURACY, tr("of these epochs none is taken as known")),
        )
    )
    return _Values(seconds, fixed, sigma_h, sigma_v)


def _locate(source, rows, working_crs, transform_context, feedback):
    """Local positions, in the memory of `rows`, and the coarse step and grid that they were rounded
    to; positions that were lost are counted."""
    raise_if_cancelled(feedback)
    x, y = rows.x, rows.y  # changed in place from here on
    stated = np.isfinite(x) & np.isfinite(y)
    infinite = np.isinf(x) | np.isinf(y)
    take_out_strays(source, x, y, None, feedback)
    stated &= np.isfinite(x)
    step = step_of_epochs(source, x, y, feedback)
    cell = cell_of_epochs(source, x, y) if step else None
    located = locate(source, x, y, transform_context, feedback, working_crs, in_place=True)
    lost = np.count_nonzero(stated & ~np.isfinite(located.x)) + np.count_nonzero(infinite)
    if lost:
        feedback.pushWarning(
            tr(
                "Epochs with coordinates that are infinite or outside the range of the layer's"
                " CRS: {}. They count as having no position."
            ).format(lost)
        )
    return located, step, sides_of(cell, located.frame)


def _times_of_lines(source, rows, located, given, feedback):
    """Seconds of each vertex, and whether the order of the vertices stands for them; a map is
    refused then. `given`: the choices, and the fields that were taken."""
    times = times_of_vertices(
        rows.m, rows.ids, rows.part, located.x / located.scale, located.y / located.scale
    )
    for sentence in times.infos:
        feedback.pushInfo(sentence)
    for sentence in times.warnings:
        feedback.pushWarning(sentence)
    if times.by_order:
        choices, taken = given
        refuse_map(source, rows, located, choices, _first_field(taken, roles.FIX), feedback)
    return times.seconds, times.by_order


def _walks(rows, seconds, part, located, parameter, feedback):
    """The walk of each vertex of lines: the id of its first line."""
    walk, joined = ids_of_walks(
        rows, seconds, part, located.x / located.scale, located.y / located.scale
    )
    if joined:
        feedback.pushInfo(
            tr(
                "Lines that begin where and when another one ended go on with it as one walk: {}."
                " To keep them apart, choose a field in “{}” that has another value in each."
            ).format(joined, parameter)
        )
    return walk


def _from_start(seconds, by_order, feedback):
    """Make times, in place, count from the whole second of the first; returns that, and whether a
    date can be told."""
    timed = np.isfinite(seconds)
    first = float(np.min(seconds, where=timed, initial=np.inf))
    last = float(np.max(seconds, where=timed, initial=-np.inf))
    dated = not np.isfinite(last) or last > TIMES.earliest_date
    if not dated and not by_order:
        feedback.pushWarning(
            tr(
                "The times are seconds from an unknown origin (the last one is {:.6g}): “started”"
                " and “ended” stay empty; their numbers are in “started_unix” and “ended_unix”."
            ).format(last)
        )
    start = float(np.floor(first)) if np.isfinite(first) else 0.0
    seconds -= start
    return start, dated


def _is_polygon(source):
    """True where the vertices are those of rings."""
    what = QgsWkbTypes.geometryType(source.wkbType())
    return what == QgsWkbTypes.GeometryType.PolygonGeometry


def _is_of_lines(source):
    """True for lines and for rings, which are read alike; False for points."""
    what = QgsWkbTypes.geometryType(source.wkbType())
    if what == QgsWkbTypes.GeometryType.PointGeometry:
        return False
    if what == QgsWkbTypes.GeometryType.LineGeometry or _is_polygon(source):
        return True
    raise QgsProcessingException(
        tr(
            "Layer “{}” has no point geometry, so there is no position to read (it holds: {}). If"
            " the coordinates stand in fields, make points of them first with “Create points layer"
            " from table”."
        ).format(source.sourceName(), QgsWkbTypes.displayString(source.wkbType()))
    )
