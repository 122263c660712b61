"""A layer of epochs into the table that the core works on, with everything that is said on the
way."""

from dataclasses import dataclass

import numpy as np
from qgis.core import QgsProcessingException, QgsWkbTypes
from qgis.PyQt.QtCore import QCoreApplication

from ...shared.epochs.table import EpochTable
from ...shared.epochs.times import parse_times
from ..host.feedback import cancel_check, raise_if_cancelled
from ..host.fields import kind
from . import roles
from .columns import read_rows, sample
from .frames import Frame, FrameError, make_frame
from .vertex_times import EARLIEST_DATE, times_of_vertices


def tr(text):
    return QCoreApplication.translate("Layers", text)


@dataclass(frozen=True)
class Choices:
    """What the user said about the fields; empty where it is to be found.

    Attributes
    ----------
    time, fix, h_accuracy, v_accuracy : str
    capture : list of str
    fixed_values : str
    parameters : dict of str to str
        Label of the parameter that chooses the field of each part, for messages.
    """

    time: str
    capture: list
    fix: str
    fixed_values: str
    h_accuracy: str
    v_accuracy: str
    parameters: dict


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


def read_epochs(source, file, choices, working_crs, transform_context, feedback, progress):
    """Read a point or line source as epochs.

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
    name = source.sourceName()
    is_line = _geometry(source, name)
    known = roles.vocabulary()
    if known.own:
        feedback.pushInfo(tr("Names of fields from your table too: “{}”.").format(known.own))
    for problem in known.problems:
        feedback.pushWarning(problem)
    taken = _choose_fields(source, name, choices, is_line, known, feedback)
    wanted = [field for found in taken.values() for field in found.names]
    rows = read_rows(source, file, wanted, feedback, lambda share: progress(0.7 * share))
    if not len(rows):
        raise QgsProcessingException(
            tr(
                "Layer “{}” is empty: there is no epoch to read. If a filter or “selected features"
                " only” is set, check it."
            ).format(name)
        )

    if rows.without_vertices:
        feedback.pushWarning(
            tr("{} lines have no geometry, so there are no vertices to read.").format(
                rows.without_vertices
            )
        )
    seconds = None if is_line else _times(rows, taken[roles.TIME].names, name, choices, feedback)
    fixed = _fixed(rows, taken[roles.FIX].names, choices, known, feedback)
    sigma_h = _accuracy(
        rows, taken[roles.H_ACCURACY].names, name, choices.parameters[roles.H_ACCURACY]
    )
    sigma_v = _accuracy(
        rows, taken[roles.V_ACCURACY].names, name, choices.parameters[roles.V_ACCURACY]
    )
    raise_if_cancelled(feedback)
    progress(0.8)
    x, y = rows.x, rows.y  # changed in place from here on
    stated = np.isfinite(x) & np.isfinite(y)
    infinite = np.isinf(x) | np.isinf(y)
    try:
        frame = make_frame(source.sourceCrs(), x, y, working_crs, transform_context)
    except FrameError as error:
        raise QgsProcessingException(
            tr("Layer “{}” cannot be used: {}.").format(name, error)
        ) from error
    for sentence in frame.said:
        (feedback.pushWarning if not source.sourceCrs().isValid() else feedback.pushInfo)(sentence)
    east, north, scale = frame.local(x, y, cancel_check(feedback), in_place=True)
    lost = np.count_nonzero(stated & ~np.isfinite(east)) + np.count_nonzero(infinite)
    if lost:
        feedback.pushWarning(
            tr(
                "{} epochs have coordinates that are infinite or outside the range of the layer's"
                " CRS; they count as having no position."
            ).format(lost)
        )
    by_order = False
    if is_line:
        times = times_of_vertices(rows.m, rows.ids, rows.part, east / scale, north / scale)
        seconds, by_order = times.seconds, times.by_order
        for say, sentences in (
            (feedback.pushInfo, times.infos),
            (feedback.pushWarning, times.warnings),
        ):
            for sentence in sentences:
                say(sentence)
    captures, codes = _captures(rows, taken[roles.CAPTURE].names, is_line, by_order)
    rows.columns.clear()  # what they say has been taken; a million rows of them need 50 MB
    progress(1.0)
    timed = np.isfinite(seconds)
    first, last = (
        float(extreme(seconds, where=timed, initial=otherwise))
        for extreme, otherwise in ((np.min, np.inf), (np.max, -np.inf))
    )
    start = float(np.floor(first)) if np.isfinite(first) else 0.0
    dated = not np.isfinite(last) or last > EARLIEST_DATE
    if not dated and not by_order:
        feedback.pushWarning(
            tr(
                "The times are seconds from an unknown origin (the last one is {:.6g}): “started”"
                " and “ended” stay empty; their numbers are in “started_unix” and “ended_unix”."
            ).format(last)
        )
    z = rows.z if frame.height_unit == 1 else rows.z * frame.height_unit
    seconds -= start
    table = EpochTable.from_columns(
        east, north, z, seconds, codes, fixed, sigma_h, sigma_v, scale, rows.parts
    )
    return EpochLayer(
        name,
        table,
        rows.ids,
        frame,
        captures,
        np.nan if by_order else start,
        dated,
        is_line,
        *("".join(taken[part].names[:1]) for part in (roles.FIX, roles.H_ACCURACY)),
    )


def _geometry(source, name):
    """True for lines, False for points."""
    what = QgsWkbTypes.geometryType(source.wkbType())
    if what == QgsWkbTypes.GeometryType.PointGeometry:
        return False
    if what == QgsWkbTypes.GeometryType.LineGeometry:
        return True
    raise QgsProcessingException(
        tr(
            "Layer “{}” has no point geometry, so there is no position to read (it holds: {}). If"
            " the coordinates stand in fields, make points of them first with “Create points layer"
            " from table”."
        ).format(name, QgsWkbTypes.displayString(source.wkbType()))
    )


# Fields


def _choose_fields(source, name, choices, is_line, known, feedback):
    fields = source.fields()
    kinds = {field.name(): kind(field) for field in fields}
    given = {
        roles.TIME: [choices.time],
        roles.CAPTURE: list(choices.capture),
        roles.FIX: [choices.fix],
        roles.H_ACCURACY: [choices.h_accuracy],
        roles.V_ACCURACY: [choices.v_accuracy],
    }
    taken = {}
    for part, names in given.items():
        names = [text for text in names if text]
        for text in names:
            if fields.lookupField(text) < 0:
                raise QgsProcessingException(
                    tr("Layer “{}” has no field “{}” (parameter “{}”). It has: {}.").format(
                        name,
                        text,
                        choices.parameters[part],
                        ", ".join(kinds) or tr("no fields at all"),
                    )
                )
        # the layer's own spelling: a look-up does not mind the case
        taken[part] = roles.Found(
            tuple(dict.fromkeys(fields.at(fields.lookupField(text)).name() for text in names)),
            "given" if names else "",
        )
    if is_line:
        if taken[roles.TIME].names:
            raise QgsProcessingException(
                tr(
                    "Layer “{}” holds lines: field “{}” would give one time to all vertices of a"
                    " line. Leave “{}” empty; the M values are taken as time."
                ).format(name, taken[roles.TIME].names[0], choices.parameters[roles.TIME])
            )
        feedback.pushInfo(tr("Lines are read vertex by vertex."))
        if not taken[roles.CAPTURE].names:
            feedback.pushInfo(tr("Capture: each line is one."))
    # A line's own values tell neither the time of a vertex nor which lines belong together.
    open_parts = [
        part
        for part, found in taken.items()
        if not found.names and not (is_line and part in (roles.TIME, roles.CAPTURE))
    ]
    # Only fields whose values can matter are sampled.
    chosen = {text for found in taken.values() for text in found.names}
    named = [
        text
        for text, what in kinds.items()
        if (what not in ("other", "time") if open_parts else text in chosen)
    ]
    columns = sample(source, named) if named else {}
    for part in open_parts:
        try:
            taken[part] = roles.find(part, kinds, columns, choices.fixed_values, known)
        except roles.UndecidedError as undecided:
            raise QgsProcessingException(
                tr("Layer “{}”: the fields {} could each be the {}. Choose one in “{}”.").format(
                    name,
                    tr(" and ").join(f"“{text}”" for text in undecided.names),
                    _called(part),
                    choices.parameters[part],
                )
            ) from undecided
    for part, found in taken.items():
        _say_found(part, found, choices.parameters[part], is_line, feedback)
        _say_values(found, columns, feedback)
    if not is_line and not taken[roles.TIME].names:
        raise QgsProcessingException(
            tr(
                "Layer “{}” has no field that looks like a time. Choose one in “{}”; it may be a"
                " date-time, ISO 8601 text, or seconds or milliseconds as a number. The layer"
                " has: {}."
            ).format(
                name, choices.parameters[roles.TIME], ", ".join(kinds) or tr("no fields at all")
            )
        )
    return taken


def _called(part):
    return {
        roles.TIME: tr("time"),
        roles.CAPTURE: tr("capture"),
        roles.FIX: tr("fix"),
        roles.H_ACCURACY: tr("horizontal accuracy"),
        roles.V_ACCURACY: tr("vertical accuracy"),
    }[part]


def _say_found(part, found, parameter, is_line, feedback):
    called = _called(part)
    called = called[:1].upper() + called[1:]
    if found.names:
        how = {
            "given": tr("as chosen"),
            "name": tr("found by name"),
            "values": tr("found by its values"),
            "agree": tr("found by name; another field says the same"),
        }[found.how]
        feedback.pushInfo(
            tr("{}: field {} ({}).").format(
                called, ", ".join(f"“{text}”" for text in found.names), how
            )
        )
    elif found.rivals:
        feedback.pushWarning(
            tr("{}: the fields {} are equally good, so none is taken. Choose one in “{}”.").format(
                called, tr(" and ").join(f"“{text}”" for text in found.rivals), parameter
            )
        )
    elif part == roles.FIX:
        feedback.pushWarning(
            tr(
                "No field says whether an epoch is RTK fixed: ALL epochs are taken as fixed. Float"
                " and single positions would spoil the edges. Choose the field in “{}” if there is"
                " one."
            ).format(parameter)
        )
    elif part == roles.H_ACCURACY:
        feedback.pushInfo(tr("Horizontal accuracy: no field found; epochs are not screened by it."))
    elif part == roles.V_ACCURACY:
        feedback.pushInfo(tr("Vertical accuracy: no field found."))
    elif part == roles.CAPTURE and not is_line:
        feedback.pushInfo(
            tr(
                "Capture: no field found; the layer is taken as one capture and broken by time and"
                " distance."
            )
        )


def _say_values(found, columns, feedback):
    """Why a field was taken, and its first values."""
    if not found.names:
        return
    if found.words:
        feedback.pushInfo(
            "    "
            + tr("known by {}").format(
                ", ".join(
                    "“{}” ({})".format(
                        word.replace("_", " "),
                        tr("your table") if language == roles.OWN else language,
                    )
                    for word, language in found.words
                )
            )
        )
    if found.how == "agree":
        feedback.pushInfo(
            "    "
            + tr("the same in the rows looked at: {}").format(
                ", ".join(f"“{text}”" for text in found.rivals)
            )
        )
    if found.passed_over:
        feedback.pushInfo(
            "    "
            + tr("names that fit less well: {}").format(
                ", ".join(f"“{text}”" for text in found.passed_over)
            )
        )
    for name in found.names:
        column = columns.get(name)
        if column is None:
            continue
        first = np.flatnonzero(~column.missing)[:3]
        texts = [
            text if len(text) <= 40 else text[:39] + "…"
            for text in column.take(first).texts().tolist()
        ]
        feedback.pushInfo(
            "    "
            + (
                tr("first values: {}").format(", ".join(texts))
                if texts
                else tr("no values in the first {} rows").format(len(column.values))
            )
        )


# Values


def _times(rows, names, name, choices, feedback):
    column = rows.columns[names[0]]
    if column.kind in ("int", "double"):
        seconds, what = parse_times(column.numbers())
    elif column.kind in ("date", "datetime"):
        seconds, what = parse_times(column.values)
    else:
        seconds, what = _times_of_text(column)
    unreadable = np.flatnonzero(~np.isfinite(seconds) & ~column.missing)
    if not np.isfinite(seconds).any():
        if unreadable.size:
            raise QgsProcessingException(
                tr(
                    "Layer “{}”: no time in field “{}” can be read, for example “{}”. Choose"
                    " another field in “{}”, or bring the values into the form"
                    " 2026-05-04T10:00:00Z, or seconds since 1970."
                ).format(
                    name,
                    names[0],
                    column.take(unreadable[:1]).texts()[0],
                    choices.parameters[roles.TIME],
                )
            )
        raise QgsProcessingException(
            tr(
                "Layer “{}”: field “{}” holds no time in any row. Choose the field that does in"
                " “{}”."
            ).format(name, names[0], choices.parameters[roles.TIME])
        )
    feedback.pushInfo(tr("Time is read as: {}.").format(what))
    if unreadable.size:
        feedback.pushWarning(
            tr(
                "{} times in field “{}” cannot be read, for example “{}”; those epochs count as"
                " having no time."
            ).format(unreadable.size, names[0], column.take(unreadable[:1]).texts()[0])
        )
    return seconds


def _times_of_text(column, block=100_000):
    """As `parse_times`, but a block at a time: it needs some hundred bytes to a character of
    text."""
    parts, kinds = [], set()
    for start in range(0, len(column.values), block):
        seconds, what = parse_times(column.take(slice(start, start + block)).texts())
        parts.append(seconds)
        if np.isfinite(seconds).any():
            kinds.add(what)
    if len(kinds) > 1:  # numbers are read by the size of the greatest, so all must be seen at once
        return parse_times(column.texts())
    return np.concatenate(parts), kinds.pop() if kinds else what


def _captures(rows, names, is_line, by_order=False):
    """Texts of the captures, sorted, and the code of each row.

    Where the order of vertices stands for the time, nothing tells in which order lines were walked:
    each part stays by itself.
    """
    if is_line and (by_order or not names):
        different, codes = np.unique(
            np.column_stack([rows.ids, rows.part]), axis=0, return_inverse=True
        )
        several = np.unique(different[different[:, 1] > 0, 0])
        texts = [
            f"{line}/{part + 1}" if line in several else str(line)
            for line, part in different.tolist()
        ]
        lines = _sorted_texts(texts, codes.reshape(-1))
        if not names:
            return lines
        named = _captures(rows, names, False)
        pairs, codes = np.unique(np.column_stack([named[1], lines[1]]), axis=0, return_inverse=True)
        alone = np.bincount(pairs[:, 0], minlength=len(named[0])) == 1
        texts = [
            named[0][own] if alone[own] else f"{named[0][own]} / {lines[0][line]}"
            for own, line in pairs.tolist()
        ]
        return _sorted_texts(texts, codes.reshape(-1))
    if not names:
        return [""], np.zeros(len(rows), np.int64)
    codes, texts = None, None
    for name in names:
        own, different = rows.columns[name].factor()
        own_texts = different.texts().tolist()
        if codes is None:
            codes, texts = own, own_texts
            continue
        pairs, codes = np.unique(codes * len(own_texts) + own, return_inverse=True)
        texts = [
            " / ".join((texts[pair // len(own_texts)], own_texts[pair % len(own_texts)]))
            for pair in pairs.tolist()
        ]
    return _sorted_texts(texts, codes)


def _sorted_texts(texts, codes):
    """Codes in the order of the texts; equal texts get one code."""
    different, place = np.unique(np.array(texts, dtype=str), return_inverse=True)
    return different.tolist(), (
        codes if (place == np.arange(len(place))).all() else place.astype(np.int64)[codes]
    )


def _fixed(rows, names, choices, known, feedback):
    if not names:
        return None
    column = rows.columns[names[0]]
    codes, different = column.factor()
    if column.kind == "bool":
        fixed = different.values & ~different.missing
    else:
        fixed = roles.fixed_of(different, choices.fixed_values, known) & ~different.missing
    counts = np.bincount(codes, minlength=len(fixed))
    texts = [
        tr("no value") if gone else f"“{text}”"
        for text, gone in zip(different.texts().tolist(), different.missing.tolist())
    ]
    for wanted, sentence in (
        (fixed, tr("    Taken as fixed: {}")),
        (~fixed, tr("    Taken as not fixed: {}")),
    ):
        some = [
            place
            for place in np.argsort(-counts, kind="stable").tolist()
            if wanted[place] and counts[place]
        ]
        listed = [f"{texts[place]} ({counts[place]})" for place in some[:8]] + (
            ["…"] if len(some) > 8 else []
        )
        feedback.pushInfo(sentence.format(", ".join(listed) or tr("nothing")))
    return fixed[codes]


def _accuracy(rows, names, name, parameter):
    if not names:
        return None
    column = rows.columns[names[0]]
    if column.kind in ("bool", "date", "datetime", "time"):
        raise QgsProcessingException(
            tr(
                "Layer “{}”: field “{}” holds no numbers, but “{}” needs metres. Choose a numeric"
                " field, or leave it empty."
            ).format(name, names[0], parameter)
        )
    numbers = roles.as_numbers(column)
    wrong = np.flatnonzero(np.isnan(numbers) & ~column.missing)
    if wrong.size:  # not those that say in words that there is no number
        wrong = wrong[
            ~np.isin(
                np.char.lower(np.char.strip(column.take(wrong).texts())),
                ("nan", "null", "none", "n/a", "-"),
            )
        ]
    if wrong.size:
        raise QgsProcessingException(
            tr(
                "Layer “{}”: field “{}” holds text where “{}” needs a number in metres, for example"
                " “{}” ({} rows). Choose a numeric field, correct the values, or leave it empty."
            ).format(name, names[0], parameter, column.take(wrong[:1]).texts()[0], wrong.size)
        )
    return numbers
