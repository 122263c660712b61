"""Which field of a layer of epochs is what: as chosen, or found; all of it said in the log."""

from dataclasses import dataclass, replace

import numpy as np
from qgis.core import QgsProcessingException, QgsWkbTypes

from ...shared.epochs.times import parse_times
from ..host.fields import kind
from ..host.figures import translate
from ..host.quotes import quoted
from . import role_words, roles
from .features import sample
from .layer_frame import chosen_field, names_of

AT_HAND = ("memory", "ogr", "delimitedtext", "spatialite")  # whose rows come without delay
HEIGHTS = ("alt", "elev", "altitude", "hgt", "ele")  # beside the words of vertical accuracies
# what those words say of more than heights; common practice, no source, as is the next line
DIRECTIONS = {"v", "up", "ver", "vert", "vertical", "vertikal", "vertikale", "verticale"}
NO_GROUND = {
    "antenna", "antenne", "pole", "rod", "staff", "stab", "instrument", "device", "target", "geoid",
    "undulation", "separation", "curb", "kerb", "bord", "step", "status", "type", "system", "datum",
}  # fmt: skip
FIRST = 200  # rows that the dialogue looks at


def tr(text):
    return translate("Layers", text)


@dataclass(frozen=True)
class Choices:
    """What the user said about the fields; empty where it is to be found.

    Attributes
    ----------
    time, fix, h_accuracy, v_accuracy : str
    capture : list of str
    fixed_values : str
    parameters : dict of str to str
        Label of the parameter that chooses the field of each part, for messages; that of
        `take_as_stream` under its own name.
    take_as_stream : bool
        Lines without times are taken as a stream, whatever they look like.
    """

    time: str
    capture: list
    fix: str
    fixed_values: str
    h_accuracy: str
    v_accuracy: str
    parameters: dict
    take_as_stream: bool = False


def choose_fields(source, choices, is_line, known, feedback):
    """The fields of a layer of epochs.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    choices : Choices
    is_line : bool
    known : role_words.Vocabulary
    feedback : QgsProcessingFeedback

    Returns
    -------
    dict of str to roles.Found
        By part.

    Raises
    ------
    QgsProcessingException
        If a chosen field is not there, several could be one part, or none can be the time.
    """
    taken = _given(source, choices)
    if is_line:
        _say_of_lines(source, taken, choices, feedback)
    # A line's own values tell neither the time of a vertex nor which lines belong together.
    open_parts = [
        part
        for part, found in taken.items()
        if not found.names and not (is_line and part in (roles.TIME, roles.CAPTURE))
    ]
    kinds = {field.name(): kind(field) for field in source.fields()}
    columns = _sampled(source, kinds, taken, open_parts)
    for part in open_parts:
        taken[part] = _found(source, part, kinds, columns, choices, known)
    if not taken[roles.FIX].names:
        _refuse_unknown_fix(source, taken[roles.FIX], (kinds, columns), choices, known)
    for part, found in taken.items():
        _say_found(part, found, choices.parameters[part], is_line, feedback)
        _say_unfit(part, found, columns, choices.parameters[part], feedback)
        _say_values(found, columns, feedback)
        _say_unit(part, found, feedback)
        _say_fixed_throughout(part, found, columns, (choices, known), feedback)
    if not is_line and not taken[roles.TIME].names:
        raise QgsProcessingException(
            tr(
                "Layer “{}” has no field that looks like a time. Choose one in “{}”; it may be a"
                " date-time, ISO 8601 text, or seconds or milliseconds as a number. The layer"
                " has: {}."
            ).format(source.sourceName(), choices.parameters[roles.TIME], names_of(source))
        )
    return taken


def _given(source, choices):
    """What the user chose, as the layer spells it."""
    given = {
        roles.TIME: [choices.time],
        roles.CAPTURE: list(choices.capture),
        roles.FIX: [choices.fix],
        roles.H_ACCURACY: [choices.h_accuracy],
        roles.V_ACCURACY: [choices.v_accuracy],
    }
    taken = {}
    for part, names in given.items():
        names = [
            chosen_field(source, text, choices.parameters[part]) for text in names if text.strip()
        ]
        taken[part] = roles.Found(tuple(dict.fromkeys(names)), "given" if names else "")
    return taken


def _say_of_lines(source, taken, choices, feedback):
    """What holds for lines, whose vertices are the epochs."""
    if taken[roles.TIME].names:
        raise QgsProcessingException(
            tr(
                "Layer “{}” holds lines: field “{}” would give one time to all vertices of a"
                " line. Leave “{}” empty; the M values are taken as time."
            ).format(
                source.sourceName(), taken[roles.TIME].names[0], choices.parameters[roles.TIME]
            )
        )
    feedback.pushInfo(tr("Lines are read vertex by vertex."))
    if not taken[roles.CAPTURE].names:
        feedback.pushInfo(tr("Capture: each line is one."))


def _sampled(source, kinds, taken, open_parts):
    """First values of the fields whose values can matter."""
    chosen = {text for found in taken.values() for text in found.names}
    named = [
        text for text, what in kinds.items() if (what != "other" if open_parts else text in chosen)
    ]
    return sample(source, named) if named else {}


def _found(source, part, kinds, columns, choices, known):
    """The field of one part, or the two that make it up, from names, types and values."""
    try:
        return _sought(part, kinds, columns, choices.fixed_values, known)
    except roles.UndecidedError as undecided:
        raise QgsProcessingException(
            tr("Layer “{}”: the fields {} could each be the {}. Choose one in “{}”.").format(
                source.sourceName(),
                tr(" and ").join(quoted(text) for text in undecided.names),
                _called(part),
                choices.parameters[part],
            )
        ) from undecided


def _sought(part, kinds, columns, fixed_values, known):
    """As `roles.find`, with two fields that make up one part between them, and the state of a
    solution file."""
    found = roles.find(part, kinds, columns, fixed_values, known)
    both = ()
    if part == roles.TIME and not (found.names and _has_clock(columns.get(found.names[0]))):
        both = roles.date_and_clock(kinds, columns)
    if part == roles.H_ACCURACY and not (found.names or found.rivals):
        both = roles.accuracies_by_axis(kinds)
    if part == roles.FIX and not (found.names or found.rivals):
        both = tuple(filter(None, [roles.solution_state(kinds)]))
        if not (both or found.unfit):
            return _by_states(kinds, columns, known)
    return roles.Found(both, "values" if part == roles.TIME else "name") if both else found


def _by_states(kinds, columns, known):
    """The field whose values are states of the solution; of several none is taken."""
    some = roles.states_by_value(kinds, columns, known)
    return roles.Found(some, "values") if len(some) == 1 else roles.Found(rivals=some)


def with_known_states(source, taken, choices, feedback):
    """The choices, with the value that means fixed where the state is that of a solution file and
    the user named none.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    taken : dict of str to roles.Found
        From `choose_fields`.
    choices : Choices
    feedback : QgsProcessingFeedback

    Returns
    -------
    Choices
    """
    names = taken[roles.FIX].names
    state = roles.solution_state({field.name(): kind(field) for field in source.fields()})
    if choices.fixed_values.strip() or names[:1] != (state,):
        return choices
    feedback.pushInfo(
        tr("    beside {}, as in solution files of post-processing: there {} means fixed").format(
            ", ".join(sorted(roles.SOLUTION_FILE)), roles.SOLUTION_FIXED
        )
    )
    return replace(choices, fixed_values=roles.SOLUTION_FIXED)


def found_in_words(layer, part, fixed_values=""):
    """What would be found in a layer, for the dialogue: told by the first rows, and without asking
    a server for them.

    Parameters
    ----------
    layer : QgsVectorLayer
    part : str
        Of `roles`.
    fixed_values : str

    Returns
    -------
    str
    """
    kinds_of = QgsWkbTypes.GeometryType
    if part in (roles.TIME, roles.CAPTURE) and layer.geometryType() != kinds_of.PointGeometry:
        said = tr("M of the vertices, or their order") if part == roles.TIME else tr("each line")
        return said if layer.geometryType() != kinds_of.UnknownGeometry else ""
    kinds = {field.name(): kind(field) for field in layer.fields()}
    columns = {}
    if layer.providerType() in AT_HAND and not layer.subsetString():
        columns = sample(layer, [name for name, what in kinds.items() if what != "other"], FIRST)
    try:
        found = _sought(part, kinds, columns, fixed_values, role_words.vocabulary())
    except roles.UndecidedError as undecided:
        return tr("{}: choose one").format(tr(" or ").join(undecided.names))
    if found.names:
        return tr(" and ").join(found.names)
    if found.rivals:
        return tr("{}: choose one").format(tr(" or ").join(found.rivals))
    return tr("nothing")


def height_field(source, known):
    """A field of numbers that may hold heights, told by its name; empty without one.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    known : role_words.Vocabulary

    Returns
    -------
    str
    """
    up = {*known.of(roles.V_ACCURACY, "word"), *HEIGHTS} - DIRECTIONS
    others = {*known.of(roles.ACCURACY, "word"), *known.of(roles.H_ACCURACY, "word")} - up
    others |= NO_GROUND
    for field in source.fields():
        words = {role_words.fold(word) for word in role_words.words_of(field.name())}
        if kind(field) in ("int", "double") and words & up and not words & others:
            return field.name()
    return ""


def _refuse_unknown_fix(source, found, fields, choices, known):
    """Raise where a state of the solution is wanted, or plainly there, and cannot be told: all
    epochs taken as fixed would spoil the edges.

    `fields` are kinds and sampled columns of the layer's fields.
    """
    kinds, columns = fields
    name, fix = source.sourceName(), choices.parameters[roles.FIX]
    if choices.fixed_values.strip():
        holding = [
            text
            for text, column in columns.items()
            if kinds[text] in roles.KINDS[roles.FIX]
            and roles.fixed_of(column.take(~column.missing), choices.fixed_values, known).any()
        ]
        raise QgsProcessingException(
            tr(
                "Layer “{}”: “{}” names {}, but no field is known to say whether an epoch is"
                " fixed. Choose the field in “{}”; {}."
            ).format(
                name,
                choices.parameters["fixed_values"],
                quoted(choices.fixed_values.strip()),
                fix,
                tr("such values stand in: {}").format(", ".join(holding))
                if holding
                else tr("the layer has: {}").format(names_of(source)),
            )
        )
    for text in found.unfit:
        column = columns[text]
        different = column.take(~column.missing).factor()[1]
        unknown = different.take(~roles.known_states(different, "", known))
        raise QgsProcessingException(
            tr(
                "Layer “{}”: field “{}” has a name of the state of the solution, but most of its"
                " values are not known, for example {}. Say in “{}” which values mean a fixed"
                " solution, or choose another field in “{}”."
            ).format(
                name,
                text,
                ", ".join(quoted(value) for value in unknown.texts()[:4].tolist()),
                choices.parameters["fixed_values"],
                fix,
            )
        )


def _say_unfit(part, found, columns, parameter, feedback):
    """Fields that are called like a part and are not taken for it."""
    for text in found.unfit:
        column = columns[text]
        values = column.take(~column.missing).texts()
        if part == roles.CAPTURE:
            sentence = tr(
                "Field “{}” has a name of captures, but differs in almost every row, as numbers"
                " of epochs do: it is not taken. If it does tell one walk from another, choose it"
                " in “{}”."
            ).format(text, parameter)
        else:
            sentence = tr(
                "Field “{}” has a name of the {}, but most of its values cannot be it, for example"
                " {}: it is not taken. If it is, correct the values and choose it in “{}”."
            ).format(text, _called(part), quoted(values[0]), parameter)
        feedback.pushWarning(sentence)


def _has_clock(column):
    """True where times are not whole days alone."""
    if column is None or column.kind in ("int", "double"):
        return True
    present = column.take(~column.missing)
    seconds, _ = parse_times(present.values if column.kind != "text" else present.texts())
    return not (seconds % roles.DAY == 0).all()


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
                called, ", ".join(quoted(text) for text in found.names), how
            )
        )
    elif found.rivals:
        feedback.pushWarning(
            tr("{}: the fields {} are equally good, so none is taken. Choose one in “{}”.").format(
                called, tr(" and ").join(quoted(text) for text in found.rivals), parameter
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


def _say_unit(part, found, feedback):
    """The unit of an accuracy, where its name says one."""
    units = {roles.length_unit(name) for name in found.names} - {""}
    if units and part in (roles.H_ACCURACY, roles.V_ACCURACY):
        feedback.pushInfo("    " + tr("unit by the name: {}").format(", ".join(sorted(units))))


def _say_fixed_throughout(part, found, columns, said, feedback):
    """Warn of a field known by values alone that all mean fixed: a mount is so too, and a method is
    “RTK”. `said`: the user's choices and the words that are known."""
    choices, known = said
    if part != roles.FIX or found.how != "values":
        return
    column = columns[found.names[0]]
    different = column.take(~column.missing).factor()[1]
    if roles.fixed_of(different, choices.fixed_values, known).all():
        feedback.pushWarning(
            tr(
                "Field “{}” was taken as the fix by its values alone, and all that were looked at"
                " mean fixed: {}. If it says something else, float and single positions count as"
                " fixed too. Choose the field in “{}” if there is another one."
            ).format(
                found.names[0],
                ", ".join(quoted(text) for text in different.texts()[:4].tolist()),
                choices.parameters[roles.FIX],
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
                    "{} ({})".format(
                        quoted(word.replace("_", " ")),
                        tr("your table") if language == role_words.OWN else language,
                    )
                    for word, language in found.words
                )
            )
        )
    if found.how == "agree":
        feedback.pushInfo(
            "    "
            + tr("the same in the rows looked at: {}").format(
                ", ".join(quoted(text) for text in found.rivals)
            )
        )
    if found.passed_over:
        feedback.pushInfo(
            "    "
            + tr("names that fit less well: {}").format(
                ", ".join(quoted(text) for text in found.passed_over)
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
