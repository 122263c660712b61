"""What becomes of the changes that a person made in a layer of lines, when a new run has its own
lines: which new line each one goes to, or why it goes to none."""

from dataclasses import dataclass, field

import numpy as np

from ...shared.tuning import COUNTERPARTS
from ..reading.decisions import LINE_ID
from ..writing.comparison_tables import LINE_FIELDS
from .run_state import Row
from .walk_marks import CAPTURE, ENDED, SEVERAL, SOURCE, STARTED, walk_mark

EDITED, DELETED, ADDED = "edited", "deleted", "added"
DECIDED = ("decision", "remark", "decided_by", "decided_at")  # fields that people decide with
STATUS = "existing_status"
# layers of existing lines, which are no walks: of two that lie one on the other each has rows
OF_EXISTING = (STATUS, "updated", "changes", "held")
ACCEPT, CAUTION = "accept", ("", "accept", "hold", "reject")
# what is done with a line that was accepted, by its status; nothing where it is none of these
ACTS = {
    "only_existing": "retired", "displaced": "redrawn", "partly": "redrawn", "only_new": "added",
}  # fmt: skip
CONTESTED = "another line that the new one takes in was decided on more cautiously"


@dataclass
class Plan:
    """What is to be done to a new layer.

    Attributes
    ----------
    fields : dict of int to dict
        Values to be set, by number of the new row.
    shapes : dict of int to bytes
        Geometries to be set, by number of the new row.
    removed : set of int
        Rows to be taken out.
    copied : list of Row
        Rows to be added.
    superseded : list of tuple
        (what was done, the row, why there is no place for it).
    carried : dict of str to int
        Number of rows whose change lives on, by what was done.
    """

    fields: dict = field(default_factory=dict)
    shapes: dict = field(default_factory=dict)
    removed: set = field(default_factory=set)
    copied: list = field(default_factory=list)
    superseded: list = field(default_factory=list)
    carried: dict = field(default_factory=lambda: dict.fromkeys((EDITED, DELETED, ADDED), 0))


def plan_lines(changes, new, place):
    """Where the changes in a layer of lines go.

    Parameters
    ----------
    changes : Changes
        Of a layer whose rows are known whole.
    new : list of Row
        Rows of the new layer.
    place : callable
        Turns a list of well-known binaries, and True for those of the former layer, into an array
        of geometries in metres, of one frame for both; None for none.

    Returns
    -------
    Plan
    """
    plan = Plan(copied=list(changes.added))
    plan.carried[ADDED] = len(plan.copied)
    import shapely  # late: it may be missing, and the plugin loads all the same

    edits = [(*pair, *changes.of(*pair)) for pair in changes.edited]
    edits = [edit for edit in edits if edit[2] or edit[3]]
    former = [edit[0] for edit in edits] + list(changes.deleted)
    if not former:
        return plan
    own, other, found = _matched(changes.layer, former, new, place)
    heirs = [np.flatnonzero(found.heir_of == number) for number in range(len(former))]
    lengths = shapely.length(other.geometry)
    contested = {former[one].fid for one in _contested(found, [edit[1] for edit in edits])}
    for number, (_, now, _, reshaped) in enumerate(edits):
        if not found.kept[number]:
            why = reason(own, other, found, number, heirs[number])
            plan.superseded.append((EDITED, now, why))
            continue
        taken, why = _fields_taken(edits[number], [new[heir] for heir in heirs[number]], contested)
        if why:
            plan.superseded.append((EDITED, now, why))
        if not any(taken.values()) and not reshaped:
            continue
        plan.carried[EDITED] += 1
        rows = list(taken)
        for row, values in taken.items():
            plan.fields.setdefault(row, {}).update(values)
        if reshaped:
            longest = rows[int(np.argmax(lengths[heirs[number]]))]
            plan.shapes[longest] = now.wkb
            plan.removed.update(row for row in rows if row != longest)
    for number, written in enumerate(changes.deleted, len(edits)):
        if heirs[number].size:
            plan.carried[DELETED] += 1
            plan.removed.update(new[heir].fid for heir in heirs[number])
        else:
            why = reason(own, other, found, number, heirs[number])
            plan.superseded.append((DELETED, written, why))
    return plan


def _matched(layer, former, new, place):
    """Former and new rows as lines, and how they correspond."""
    from ...shared.lines.counterparts import find_counterparts  # late: see `plan_lines`

    shapes, new_shapes = place(former, True), place(new, False)
    own = result_lines(former, shapes, renamed(former, shapes, new, new_shapes))
    other = result_lines(new, new_shapes)
    return own, other, find_counterparts(own, other, likeness(layer, former, new))


def _word(row):
    """The decision in a row."""
    return str(row.values.get("decision") or "").strip().lower()


def _contested(found, rows):
    """Numbers of former lines, decided on, with an heir that takes in another former line on which
    somebody decided more cautiously: nobody decided so on the heir as a whole."""
    # what is none of the words waits for a person, as what is held
    caution = [CAUTION.index(word if word in CAUTION else "hold") for word in map(_word, rows)]
    most = {}
    for number, along in enumerate(found.along[: len(rows)].tolist()):
        most[along] = max(most.get(along, 0), caution[number])
    heirs = [(int(former), heir) for heir, former in enumerate(found.heir_of) if former >= 0]
    return {
        number
        for number, heir in heirs
        if number < len(rows) and 0 < caution[number] < most.get(heir, 0)
    }


def _acts_so(row, heir):
    """Whether what was accepted of a line would be done with its heir."""
    acts = [ACTS.get(str(one.values.get("status"))) for one in (row, heir)]
    return _word(row) != ACCEPT or acts[0] == acts[1]


def _fields_taken(edit, heirs, contested):
    """The fields that each heir of an edited row takes, by its number, and why some stay behind."""
    written, now, fields, _ = edit
    rest = {name: value for name, value in fields.items() if name not in DECIDED}
    if rest == fields:
        return {heir.fid: fields for heir in heirs}, ""
    if written.fid in contested:
        return {heir.fid: rest for heir in heirs}, CONTESTED
    as_decided = Row(now.fid, {**now.values, "status": written.values.get("status")})
    fine = [_acts_so(as_decided, heir) for heir in heirs]
    taken = {heir.fid: fields if one else rest for heir, one in zip(heirs, fine)}
    if any(fine):
        return taken, ""
    states = (one.values.get("status") for one in (written, heirs[0]))
    return taken, "it was accepted as “{}”, and is “{}” now".format(*states)


def plan_return(layer, superseded, new, place):
    """Where decisions and deletions go that had no place in the results of an earlier run, and
    have one again: a capture, or a layer of results, was left out for a while.

    Parameters
    ----------
    layer : str
        Of the results.
    superseded : list of tuple
        (what was done, `Row` as it was), oldest first; of what was edited only the fields that
        people decide with count, as nothing else says what the run itself had written.
    new : list of Row
        Rows of the new layer, with the changes that were carried over.
    place : callable
        As in `plan_lines`.

    Returns
    -------
    plan : Plan
        A line on which somebody has decided since keeps that. Its `carried` counts what is taken
        back.
    returned : list of int
        Numbers of the rows of `superseded` whose lines are there again.
    """
    plan, returned = Plan(), []
    rows = [row for _, row in superseded]
    if not rows or not new:
        return plan, returned
    *_, found = _matched(layer, rows, new, place)
    contested = _contested(found, rows)
    for number, (what, row) in enumerate(superseded):
        heirs = [new[heir] for heir in np.flatnonzero(found.heir_of == number)]
        free = [heir for heir in heirs if not any(heir.values.get(name) for name in DECIDED)]
        if not found.kept[number] or not heirs:
            continue
        if what == EDITED and free:
            free = [heir for heir in free if _acts_so(row, heir) and number not in contested]
            if not free:
                continue
        returned.append(number)  # where none is free too: what was decided since holds from now on
        plan.carried[what] += bool(free)
        if what == DELETED:
            plan.removed.update(heir.fid for heir in free)
            continue
        for heir in free:
            plan.fields[heir.fid] = {name: row.values.get(name) for name in DECIDED}
    return plan, returned


def renamed(former, shapes, new, new_shapes):
    """Captures that are not in their layer any more, with the layer in which the same walks are
    now: a layer was renamed, or its captures were shared out among several.

    Parameters
    ----------
    former, new : list of Row
    shapes, new_shapes : ndarray of shapely geometries
        Of these rows, in metres.

    Returns
    -------
    dict of tuple of str to str
        By layer and capture. A capture is in it if every line of it that is found again, by its
        capture, the time of its first epoch and its place, is in one new layer.
    """
    import shapely  # late: see `plan_lines`

    here, at, names = set(map(_walked_in, new)), {}, {}
    for row, shape in zip(new, new_shapes):
        mark = walk_mark(row.values.get, (STARTED,))
        at.setdefault(mark, []).append((row.values.get(SOURCE), shape))
    for row, shape in zip(former, shapes):
        walked, mark = _walked_in(row), walk_mark(row.values.get, (STARTED,))
        if not walked[0] or walked in here or mark is None:
            continue
        for other, new_shape in at.get(mark, ()):
            if shapely.distance(shape, new_shape) <= COUNTERPARTS.tolerance:
                names.setdefault(walked, set()).add(other)
    return {walked: found.pop() for walked, found in names.items() if len(found) == 1}


def _walked_in(row):
    """Layer and capture of a line."""
    return row.values.get(SOURCE), row.values.get(CAPTURE)


def likeness(layer, former, new):
    """How alike existing lines are, which may lie one on the other: the edge of a road on the face
    of its curb.

    Parameters
    ----------
    layer : str
        Of the results.
    former, new : list of Row
        Of this layer.

    Returns
    -------
    callable or None
        As `find_counterparts` takes it; None for a layer of walks, which their times tell apart. In
        the status of the lines, attributes count for more than the number of a line, which another
        export may change; lines of other attributes and another number are two.
    """
    if layer not in OF_EXISTING:
        return None
    told = set(DECIDED) | ({one.name for one in LINE_FIELDS} if layer == STATUS else set())

    def equal(one, other):
        """Share of the values that both have."""
        names = (one.keys() & other.keys()) - told
        return sum(one[name] == other[name] for name in names) / len(names) if names else 1.0

    def of_pair(one, other):
        share = equal(one, other)
        if layer != STATUS:
            return 1.0 + share
        return 2.0 * (share == 1.0) + (one.get(LINE_ID) == other.get(LINE_ID))

    def alike(i, j):
        pairs = zip(i.tolist(), j.tolist())
        return np.array([of_pair(former[a].values, new[b].values) for a, b in pairs], dtype=float)

    return alike


def result_lines(rows, geometry, names=None):
    """Rows as lines that can be recognised.

    Parameters
    ----------
    rows : list of Row
    geometry : ndarray of shapely geometries, shape (n,)
        In metres.
    names : dict of tuple of str to str, optional
        Captures that are in another layer now, as `renamed` gives them.

    Returns
    -------
    ResultLines
    """
    from ...shared.lines.counterparts import ResultLines

    said, names = [row.values for row in rows], names or {}
    walked = [CAPTURE in one and SEVERAL not in one for one in said]
    return ResultLines(
        geometry=geometry,
        capture=np.array(
            [
                f"{names.get(_walked_in(row), one.get(SOURCE)) or ''}\n{one[CAPTURE] or ''}"
                if by_walk
                else ""
                for row, one, by_walk in zip(rows, said, walked)
            ],
            dtype=str,
        ),
        started=_seconds(said, walked, STARTED),
        ended=_seconds(said, walked, ENDED),
    )


def _seconds(said, walked, name):
    values = [one.get(name) if by_walk else None for one, by_walk in zip(said, walked)]
    return np.array([np.nan if value is None else value for value in values], dtype=float)


def reason(former, new, found, number, heirs):
    """Why a former line has no counterpart, in words.

    Parameters
    ----------
    former, new : ResultLines
    found : Counterparts
    number : int
        Of the former line.
    heirs : ndarray of int
        New lines that carry on from it.

    Returns
    -------
    str
    """
    if heirs.size:
        share = found.carried[number]
        return f"the new lines cover only {share:.0%} of it"
    if np.isfinite(found.moved[number]) and found.moved[number] > COUNTERPARTS.tolerance:
        return f"the new line lies up to {found.moved[number]:.2f} m away"
    if np.isfinite(found.moved[number]):
        return "it is a small part of a longer new line"
    capture = former.capture[number]
    if capture and (new.capture == capture).any():
        return "no new line was walked at its time: its capture was walked anew"
    if capture:
        return "its capture is not part of the new results"
    return "there is no new line at its place"


def plan_rows(changes, marks):
    """Where the changes in a layer go of whose rows only hashes are known: to the new row that is
    the same to the last digit.

    Parameters
    ----------
    changes : Changes
    marks : dict of bytes to list of int
        Numbers of the new rows by hash; those that are taken are removed from it.

    Returns
    -------
    Plan
    """
    plan = Plan(copied=list(changes.added))
    plan.carried[ADDED] = len(plan.copied)
    for mark, now in changes.edited:
        if marks.get(mark):
            row = marks[mark].pop(0)
            plan.fields[row], plan.shapes[row] = dict(now.values), now.wkb
            plan.carried[EDITED] += 1
        else:
            plan.superseded.append((EDITED, now, "the new results have no such row"))
    for mark in changes.deleted:
        if marks.get(mark):
            plan.removed.add(marks[mark].pop(0))
            plan.carried[DELETED] += 1
    return plan
