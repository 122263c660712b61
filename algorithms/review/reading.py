"""The worklist of a review, read from its layers."""

import json
from dataclasses import dataclass, field

import numpy as np
from qgis.core import QgsFeatureRequest, QgsProcessingException

from ...shared.arrays.ragged import group_index
from ...shared.review import worklist as work
from ...shared.tuning import REVIEW
from ..host.feedback import looked_through, raise_if_cancelled
from ..host.fields import is_null, spelling
from ..host.figures import translate
from ..reading.layer_frame import locate
from . import layers as parts
from .line_stream import read_lines

EDGE, OLD, DAY = 0, 1, 2  # what a row of the worklist is: an edge, an existing line, a whole day
CONTROL = "control"  # section of the run's log that says which days are off
DECISION, REMARK = "decision", "remark"
_TEXTS = (
    "capture",
    "captures",
    "layer",
    "status",
    "sources",
    DECISION,
    REMARK,
    "name",
    "decided_by",
)
_NUMBERS = (
    "edge_id", "line_id", "partner_id", "length", "sigma_cross", "sigma_up", "moved",
    "offset_median", "allowed", "matched_share", "visited_share", "started_unix", "ended_unix",
)  # fmt: skip


def tr(text):
    return translate("ReviewReading", text)


@dataclass
class Review:
    """Rows of a worklist, one for each line and one for each day that is off; lists and arrays of
    one length.

    Attributes
    ----------
    found : Worklist
        Its rows are those of the lists below.
    what : ndarray of int
        `EDGE`, `OLD` or `DAY`.
    fid : ndarray of int
        Feature id in the layer of its part; -1 for a day.
    label, capture : list of str
        How people call it, and the captures that it comes from.
    days : list of tuple of str
        Capture days.
    decision, remark : list of str
        Empty where there is none.
    length : ndarray of float
        Metres on the ground.
    members : dict of int to ndarray
        Rows of the lines that a day stands for.
    sigma, sigma_up : ndarray of float
        1-sigma across and up, metres; NaN where unknown.
    line_id : ndarray of int
        What stations call the line, -1 for none.
    sources : list of tuple of int
        Ids of the edges as walked that it was made of.
    walks : dict of int to tuple
        By id of an edge as walked: capture layer, capture, start and end in seconds since 1970.
    """

    found: object
    what: np.ndarray
    fid: np.ndarray
    label: list
    capture: list
    days: list
    decision: list
    remark: list
    length: np.ndarray
    sigma: np.ndarray
    sigma_up: np.ndarray
    line_id: np.ndarray
    sources: list
    members: dict = field(default_factory=dict)
    walks: dict = field(default_factory=dict)

    def __len__(self):
        return len(self.what)


@dataclass
class _Table:
    """Columns of a layer of lines; of fields that it lacks, empty ones."""

    ids: np.ndarray
    texts: dict
    numbers: dict
    days: list
    ends: np.ndarray
    closed: np.ndarray

    def __len__(self):
        return len(self.ids)


def read_review(given, feedback):
    """Read the lines of a review and find what deserves a look.

    Parameters
    ----------
    given : dict of str to Snapshot
        By part; only `layers.LINES` must be there.
    feedback : QgsProcessingFeedback

    Returns
    -------
    Review

    Raises
    ------
    QgsProcessingException
        If there is no line at all.
    CancelledError
    """
    lines = _read_lines(given[parts.LINES], feedback, 0, 50)
    existing = given.get(parts.EXISTING)
    old = _read_lines(existing, feedback, 50, 65) if existing is not None else _none()
    if not len(lines) and not len(old):
        raise QgsProcessingException(
            tr("Layer “{}” has no line to review.").format(given[parts.LINES].sourceName())
        )
    days = _days_off(given.get(parts.RUN_LOG))
    sources = _sources(lines)
    edges = _walked(given, lines, feedback)
    feedback.setProgress(75)
    findings = [
        *_of_edges(lines),
        *_of_existing(old, len(lines)),
        _doubtful(given, lines, edges, sources, feedback),
        _disagreements(given.get(parts.DISAGREEMENTS), lines, feedback),
    ]
    feedback.setProgress(95)
    first = len(lines) + len(old)
    if days:
        findings.append(
            work.days_off(
                first + np.arange(len(days)),
                *(
                    np.array([day.get(name, np.nan) for day in days], float)
                    for name in ("plan", "up", "sigma", "sigma_up")
                ),
            )
        )
    feedback.setProgress(100)
    found = work.make_worklist(findings, first + len(days))
    return _review(found, lines, old, days, sources, _walks_of(edges))


def _review(found, lines, old, days, sources, walks):
    """The rows of a worklist: those of edges, of existing lines and of days."""
    known_days = [set(some) for some in lines.days]
    members = {
        len(lines) + len(old) + number: np.array(
            [row for row, some in enumerate(known_days) if day["day"] in some], np.int64
        )
        for number, day in enumerate(days)
    }

    def numbers(name):
        return np.concatenate([lines.numbers[name], old.numbers[name], np.full(len(days), np.nan)])

    def texts(name):
        return [*lines.texts[name], *old.texts[name], *[""] * len(days)]

    return Review(
        found=found,
        what=np.repeat([EDGE, OLD, DAY], [len(lines), len(old), len(days)]),
        fid=np.concatenate([lines.ids, old.ids, np.full(len(days), -1)]).astype(np.int64),
        label=[*_labels(lines, "edge_id"), *_labels(old, "line_id"), *(day["day"] for day in days)],
        capture=[*_captures(lines), *_captures(old), *(", ".join(day["layers"]) for day in days)],
        days=[*lines.days, *old.days, *((day["day"],) for day in days)],
        decision=texts(DECISION),
        remark=texts(REMARK),
        length=numbers("length"),
        sigma=numbers("sigma_cross"),
        sigma_up=numbers("sigma_up"),
        line_id=_whole(numbers("line_id")),
        sources=[*sources, *[()] * (len(old) + len(days))],
        members=members,
        walks=walks,
    )


def _none():
    empty = np.zeros(0)
    return _Table(
        np.zeros(0, np.int64),
        {name: [] for name in _TEXTS},
        dict.fromkeys(_NUMBERS, empty),
        [],
        np.zeros((0, 2, 3)),
        np.zeros(0, bool),
    )


def _read_lines(source, feedback, start, stop):
    """Columns, ends and ground lengths of a layer of lines."""

    def progress(share):
        raise_if_cancelled(feedback)
        feedback.setProgress(start + (stop - start) * share)

    names = source.fields()
    own = {
        name: spelling(names, name) for name in (*_TEXTS, *_NUMBERS, "started", "ended", "closed")
    }
    read = read_lines(source, [name for name in own.values() if name], feedback, progress)
    count = len(read.ids)

    def column(name):
        return read.columns[own[name]] if own[name] else None

    texts = {name: column(name).texts().tolist() if own[name] else [""] * count for name in _TEXTS}
    numbers = {name: _numbers_of(column(name), count) for name in _NUMBERS}
    ends, closed = _ends(source, read, count, feedback)
    unknown = ~np.isfinite(numbers["length"])
    if unknown.any():
        length = _lengths(source, read, count, feedback)
        numbers["length"] = np.where(unknown, length, numbers["length"])
    if own["closed"]:
        closed |= _numbers_of(column("closed"), count) == 1
    days = _days(column("started"), column("ended"), count)
    return _Table(read.ids, texts, numbers, days, ends, closed)


def _numbers_of(column, count):
    """A column as floats, NaN where it is missing or no number."""
    if column is None:
        return np.full(count, np.nan)
    if column.kind in ("bool", "int", "double"):
        return column.numbers().copy()
    out = np.full(count, np.nan)
    for row, text in enumerate(column.texts().tolist()):
        try:
            out[row] = float(text)
        except ValueError:
            continue  # a field of that name that holds words says nothing here
    return out


def _ends(source, read, count, feedback):
    """First and last vertex of each feature of one part, and whether it is a ring."""
    ends, closed = np.full((count, 2, 3), np.nan), np.zeros(count, bool)
    single = np.flatnonzero(np.bincount(read.feature, minlength=count)[read.feature] == 1)
    if not len(single):
        return ends, closed
    first, last = read.offsets[:-1][single], read.offsets[1:][single] - 1
    both = np.concatenate([first, last])
    at = locate(source, read.x[both].copy(), read.y[both].copy(), source.transforms, feedback)
    height = read.z[both] * at.frame.height_unit
    ends[read.feature[single]] = (
        np.column_stack([at.x, at.y, height]).reshape(2, -1, 3).swapaxes(0, 1)
    )
    meets = (read.x[first] == read.x[last]) & (read.y[first] == read.y[last])
    closed[read.feature[single[meets]]] = True
    return ends, closed


def _lengths(source, read, count, feedback):
    """Length of each feature on the ground."""
    if not len(read.x):
        return np.zeros(count)
    at = locate(source, read.x.copy(), read.y.copy(), source.transforms, feedback)
    line = group_index(read.offsets)
    step = np.hypot(np.diff(at.x), np.diff(at.y)) * (line[1:] == line[:-1]) / at.scale[1:]
    return np.bincount(read.feature[line[1:]], np.nan_to_num(step), count)


def _days(started, ended, count):
    """Capture days of each line, as dates."""

    def dates(column):
        if column is None:
            return [""] * count
        if column.kind == "datetime":
            days = column.values.astype("datetime64[D]").astype(str)
            return np.where(column.missing, "", days).tolist()
        return [text[:10].replace("/", "-") for text in column.texts().tolist()]

    return [
        tuple(sorted({day for day in pair if day})) for pair in zip(dates(started), dates(ended))
    ]


def _labels(table, name):
    return [
        text or (str(int(number)) if np.isfinite(number) else str(ident))
        for text, number, ident in zip(
            table.texts["name"], table.numbers[name].tolist(), table.ids.tolist()
        )
    ]


def _captures(table):
    return [
        one or several or layer
        for one, several, layer in zip(
            table.texts["capture"], table.texts["captures"], table.texts["layer"]
        )
    ]


def _whole(numbers):
    return np.where(np.isfinite(numbers), np.nan_to_num(numbers), -1).astype(np.int64)


def _sources(lines):
    """Ids of the edges as walked behind each line: those that were merged, else itself."""
    found = []
    for text, ident in zip(lines.texts["sources"], _whole(lines.numbers["edge_id"]).tolist()):
        named = [int(word) for word in text.replace(";", ",").split(",") if word.strip().isdigit()]
        found.append(tuple(named) if named else (ident,) if ident >= 0 else ())
    return found


def _walked(given, lines, feedback):
    """The edges as walked, where the lines were made of several of them."""
    if parts.EDGES not in given or not any(lines.texts["sources"]):
        return lines
    return _read_lines(given[parts.EDGES], feedback, 65, 75)


def _walks_of(edges):
    """Layer, capture, start and end of each edge as walked, by its id."""
    return dict(
        zip(
            _whole(edges.numbers["edge_id"]).tolist(),
            zip(
                edges.texts["layer"],
                edges.texts["capture"],
                edges.numbers["started_unix"].tolist(),
                edges.numbers["ended_unix"].tolist(),
            ),
        )
    )


# findings


def _of_edges(lines):
    number, row = lines.numbers, np.arange(len(lines))
    status = np.array(lines.texts["status"], dtype=object)
    displaced, new = status == "displaced", status == "only_new"
    partly = status == "partly"
    unmatched = number["length"] * (1 - np.nan_to_num(number["matched_share"]))
    return [
        work.moved_lines(
            row[displaced],
            number["moved"][displaced],
            number["offset_median"][displaced],
            number["allowed"][displaced],
        ),
        work.stated(work.Kind.NEW, row[new], number["length"][new], REVIEW.length),
        work.stated(work.Kind.PARTLY, row[partly], unmatched[partly], REVIEW.length),
        work.over_limit(work.Kind.UNCERTAIN, row, number["sigma_cross"], REVIEW.sigma),
        work.open_ends(lines.ends, lines.closed),
    ]


def _of_existing(old, first):
    status = np.array(old.texts["status"], dtype=object)
    gone, partly = status == "only_existing", status == "partly"
    row, number = first + np.arange(len(old)), old.numbers
    seen = number["length"] * np.nan_to_num(number["visited_share"], nan=1.0)
    unmatched = seen * (1 - np.nan_to_num(number["matched_share"]))
    return [
        work.stated(work.Kind.GONE, row[gone], seen[gone], REVIEW.length),
        work.stated(work.Kind.PARTLY, row[partly], unmatched[partly], REVIEW.length),
    ]


def _values(source, names, expression, feedback):
    """Rows of some fields of what an expression lets pass, as lists; None where the layer or one
    of the fields is missing."""
    if source is None:
        return None
    places = [source.fields().lookupField(name) for name in names]
    if min(places) < 0:
        return None
    request = QgsFeatureRequest().setSubsetOfAttributes(places)
    request.setFlags(QgsFeatureRequest.Flag.NoGeometry)
    rows = []
    for feature in looked_through(source.filtered(expression).getFeatures(request), feedback):
        rows.append([None if is_null(feature[place]) else feature[place] for place in places])
    return rows


def _doubtful(given, lines, edges, sources, feedback):
    """Doubtful and unconfirmed epochs of each line."""
    place = {ident: row for row, ident in enumerate(_whole(edges.numbers["edge_id"]).tolist())}
    counts = np.zeros(max(len(edges), 1))
    kept = _values(given.get(parts.KEPT), ("edge_id",), "\"role\" = 'doubtful'", feedback) or ()
    own = np.array([place.get(row[0], -1) for row in kept], np.int64)
    counts += np.bincount(own[own >= 0], minlength=len(counts))
    for row in _unconfirmed(given.get(parts.REJECTED), edges, feedback):
        counts[row] += 1
    offsets = np.concatenate([[0], np.cumsum([len(some) for some in sources])]).astype(np.int64)
    members = np.array([place.get(one, -1) for some in sources for one in some], np.int64)
    total = work.number_of_each(offsets, members, counts)
    return work.over_limit(work.Kind.DOUBTFUL, np.arange(len(lines)), total, REVIEW.doubtful)


def _unconfirmed(rejected, edges, feedback):
    """Row of the edge that each unconfirmed epoch lies in or next to, in time."""
    rows = _values(
        rejected,
        ("layer", "capture", "epoch_unix_seconds"),
        "\"reason\" = 'unconfirmed'",
        feedback,
    )
    if not rows:
        return []
    names = list(zip(edges.texts["layer"], edges.texts["capture"]))
    code = {name: number for number, name in enumerate(dict.fromkeys(names))}
    found = work.nearest_in_time(
        np.array([code.get((row[0] or "", str(row[1] or "")), -1) for row in rows]),
        np.array([np.nan if row[2] is None else row[2] for row in rows], float),
        np.array([code[name] for name in names], np.int64),
        edges.numbers["started_unix"],
        edges.numbers["ended_unix"],
    )
    return found[found >= 0].tolist()


def _disagreements(source, lines, feedback):
    """Where walks of one edge disagree, in plan or in height."""
    rows = _values(
        source,
        ("edge_id", "offset_max", "allowed", "up_max", "allowed_up"),
        "",
        feedback,
    )
    place = {ident: row for row, ident in enumerate(_whole(lines.numbers["edge_id"]).tolist())}
    rows = [row for row in rows or () if row[0] in place]
    table = np.array(
        [[np.nan if cell is None else float(cell) for cell in row] for row in rows], float
    ).reshape(-1, 5)
    plan, up = np.abs(table[:, 1]), np.abs(table[:, 3])
    limits = [
        np.where(np.isfinite(one), one, REVIEW.disagreement) for one in (table[:, 2], table[:, 4])
    ]
    higher = np.nan_to_num(up / limits[1]) > np.nan_to_num(plan / limits[0])
    return work.stated(
        work.Kind.DISAGREES,
        np.array([place[row[0]] for row in rows], np.int64),
        np.where(higher, up, plan),
        np.where(higher, limits[1], limits[0]),
    )


def _days_off(log):
    """Days that control points show to be off, as the run's log has them."""
    rows = _values(log, ("name", "value"), f"\"section\" = '{CONTROL}'", _Deaf()) or ()
    return [{"day": name, "layers": (), **json.loads(value)} for name, value in rows]


class _Deaf:
    """Feedback of a table of some dozen rows."""

    def isCanceled(self):
        return False
