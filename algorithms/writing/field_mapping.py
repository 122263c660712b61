"""Which field of one layer fills which field of another."""

from qgis.core import QgsProcessingException

from ..host.fields import is_null, spelling
from ..host.figures import translate


def tr(text):
    return translate("FieldMapping", text)


def same_names(own, other, reserved):
    """The mapping of fields that both layers have.

    Parameters
    ----------
    own, other : QgsFields
        Of the layer that is filled, and of the one that it is filled from.
    reserved : collection of str
        Names in lower case that are not filled.

    Returns
    -------
    dict of str to str
        Field of `other`, as it spells it, by field of `own`.
    """
    both = [(name, spelling(other, name)) for name in own.names()]
    return {name: found for name, found in both if found and name.lower() not in reserved}


def written_mapping(text, label, target, source):
    """A mapping as people write it: ``target: source; ...``.

    Parameters
    ----------
    text : str
    label : str
        Of the parameter, for messages.
    target, source : QgsProcessingFeatureSource

    Returns
    -------
    dict of str to str
        Field of `source` by field of `target`, as they spell them.

    Raises
    ------
    QgsProcessingException
        If an entry cannot be read, a layer has no such field, or one is filled twice.
    """
    mapping = {}
    for entry in filter(None, (part.strip() for part in text.split(";"))):
        to, colon, of = (part.strip() for part in entry.partition(":"))
        for name, layer in ((to, target), (of, source)):
            if not colon or not spelling(layer.fields(), name):
                raise QgsProcessingException(
                    tr(
                        "“{}” of “{}”: layer “{}” has no field “{}”. Write “target: source;"
                        " …”; its fields are: {}."
                    ).format(
                        entry, label, layer.sourceName(), name, ", ".join(layer.fields().names())
                    )
                )
        filled = spelling(target.fields(), to)
        if filled in mapping:
            raise QgsProcessingException(
                tr("“{}” of “{}” fills field “{}” a second time. Name each once.").format(
                    entry, label, to
                )
            )
        mapping[filled] = spelling(source.fields(), of)
    return mapping


def fitting(mapping, target, rows, label, warn):
    """The mapping without fields that cannot take the values of some rows.

    Parameters
    ----------
    mapping : dict of str to str
    target : QgsProcessingFeatureSource
    rows : collection of QgsFeature
    label : str
        Of the parameter that gives a mapping, for messages.
    warn : callable or None
        Takes a sentence on each field that is left out; without it such a field is an error.

    Returns
    -------
    dict of str to str

    Raises
    ------
    QgsProcessingException
        If a field cannot take a value and there is no `warn`.
    """
    found = {}
    for to, of in mapping.items():
        field = target.fields().field(to)
        value = next((row[of] for row in rows if not _takes(field, row[of])), None)
        if value is None:
            found[to] = of
            continue
        sentence = tr(
            "Field “{}” of layer “{}” cannot take “{}”, a value of “{}”. Map another field in “{}”."
        ).format(to, target.sourceName(), value, of, label)
        if warn is None:
            raise QgsProcessingException(sentence)
        warn(sentence + " " + tr("It stays empty in added lines."))
    return found


def _takes(field, value):
    """True where a field can hold a value, or what the host makes of it."""
    if is_null(value):
        return True
    try:
        field.convertCompatible(value)
    except ValueError:
        return False
    return True
