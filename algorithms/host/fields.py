"""Fields of layers: the one place that knows how their types are spelt in different versions of
QGIS."""

from typing import NamedTuple

from qgis.core import Qgis, QgsField, QgsFields
from qgis.PyQt.QtCore import QMetaType, QVariant

# Numbers of QMetaType, the same in Qt 5 and Qt 6.
_KINDS = {
    1: "bool",
    2: "int",
    3: "int",
    4: "int",
    5: "int",
    6: "double",
    10: "text",
    14: "date",
    15: "time",
    16: "datetime",
    32: "int",
    33: "int",
    34: "int",
    35: "int",
    36: "int",
    37: "int",
    38: "double",
    40: "int",
}


# columns that a GeoPackage, as GDAL writes it, has of its own
KEPT_BY_DATABASES = ("fid", "geom")
MAP = 8  # QMetaType::QVariantMap
SEVERAL = 3  # names that nobody else's layer has by chance


def kind(field):
    """Kind of a QgsField: bool, int, double, text, date, time, datetime or other."""
    return _KINDS.get(_number_of_type(field), "other")


def _number_of_type(field):
    """Number of the QMetaType of a QgsField."""
    number = field.type()  # an enum with Qt 6
    return int(getattr(number, "value", number))


def field(name, type_name, length=0, decimals=0):
    """QgsField by the name of its QMetaType, for example ``"Double"``, ``"QString"``, ``"Int"``."""
    if Qgis.versionInt() >= 33800:
        return QgsField(name, getattr(QMetaType.Type, type_name), "", length, decimals)
    return QgsField(name, getattr(QVariant, type_name.lstrip("Q")), "", length, decimals)


class NewField(NamedTuple):
    """A field that an algorithm writes.

    Attributes
    ----------
    name : str
        Part of the public interface.
    type_name : str
        Name of its QMetaType.
    meaning : str
        What it says, for `algorithms/README.md`, which is made from these tables.
    unit : str
        Empty where it has none.
    length, decimals : int
        As the host's fields have them; 0 for the usual ones.
    """

    name: str
    type_name: str
    meaning: str = ""
    unit: str = ""
    length: int = 0
    decimals: int = 0

    def field(self):
        """The QgsField."""
        return field(self.name, self.type_name, self.length, self.decimals)


def fields_of(definitions):
    """QgsFields of a table of `NewField`."""
    fields = QgsFields()
    for definition in definitions:
        fields.append(definition.field())
    return fields


def spelling(fields, name):
    """The layer's own spelling of a field's name, since a look-up does not mind the case; empty
    where there is no such field."""
    place = fields.lookupField(name)
    return fields.at(place).name() if place >= 0 else ""


def is_null(value):
    """True for NULL however this version of QGIS hands it over."""
    return value is None or isinstance(value, QVariant)


class AddedFields(NamedTuple):
    """Fields of a source followed by new ones.

    Attributes
    ----------
    fields : QgsFields
    renamed : dict of str to str
        New name of each source field that had to give way, by old name.
    replaced : list of str
        Source fields left out, since one of ours wrote them before and writes them again.
    kept : list of int
        Places of `fields` among all source fields followed by the new ones.
    """

    fields: QgsFields
    renamed: dict
    replaced: list
    kept: list


def with_new_fields(source_fields, added):
    """Source fields followed by new ones.

    Parameters
    ----------
    source_fields : QgsFields
    added : sequence of NewField
        They keep their names: checks and styles rely on them.

    Returns
    -------
    AddedFields
        Source fields give way that are called like a new one (in any case, as databases see no
        difference), and those that a GeoPackage keeps for itself: ``fid``, which it refuses where
        it repeats, and ``geom``. What one of our runs wrote is not kept beside its successor; see
        `_written_before`.
    """
    taken = {definition.name.lower() for definition in added}
    names = {name.lower() for name in source_fields.names()}
    fields, renamed, kept = QgsFields(), {}, []
    replaced = _written_before(source_fields, added)
    for place, old in enumerate(source_fields):
        if old.name() in replaced:
            continue
        new = QgsField(old)
        if old.name().lower() in taken or old.name().lower() in KEPT_BY_DATABASES:
            name, number = f"{old.name()}_source", 2
            while name.lower() in taken or name.lower() in names:
                name, number = f"{old.name()}_source{number}", number + 1
            new.setName(name)
            renamed[old.name()] = name
        taken.add(new.name().lower())
        fields.append(new)
        kept.append(place)
    for place, definition in enumerate(added, len(source_fields)):
        fields.append(definition.field())
        kept.append(place)
    return AddedFields(fields, renamed, replaced, kept)


def as_database_takes(fields):
    """Fields under names that a database can keep apart from its own and from each other.

    Parameters
    ----------
    fields : QgsFields

    Returns
    -------
    fields : QgsFields
        The same, in the same order; ``geom`` and a ``fid`` that is no number give way, and so does
        what is called like a field before it, in any case.
    renamed : dict of str to str
        New names by old ones.
    """
    names = {name.lower() for name in fields.names()}
    taken, made, renamed = set(), QgsFields(), {}
    for old in fields:
        name = old.name().lower()
        if name in taken or name == "geom" or (name == "fid" and kind(old) != "int"):
            name, number = f"{old.name()}_source", 2
            while name.lower() in names | taken:
                name, number = f"{old.name()}_source{number}", number + 1
            renamed[old.name()] = name
            old = QgsField(old)
            old.setName(name)
        taken.add(old.name().lower())
        made.append(old)
    return made, renamed


def maps_as_text(fields):
    """Fields with text in the place of maps (JSON), which only some formats take.

    Parameters
    ----------
    fields : QgsFields

    Returns
    -------
    fields : QgsFields
        The same, in the same order.
    places : list of int
        Of those that were maps.
    """
    places = [place for place, old in enumerate(fields) if _number_of_type(old) == MAP]
    return _retyped(fields, places, "QString"), places


def flags_as_numbers(fields):
    """Fields with whole numbers in the place of yes and no, which SpatiaLite has not.

    Parameters
    ----------
    fields : QgsFields

    Returns
    -------
    fields : QgsFields
        The same, in the same order.
    places : list of int
        Of those that were yes or no.
    """
    places = [place for place, old in enumerate(fields) if kind(old) == "bool"]
    return _retyped(fields, places, "Int"), places


def _retyped(fields, places, type_name):
    """Fields, those at some places with another type."""
    made = QgsFields()
    for place, old in enumerate(fields):
        made.append(field(old.name(), type_name) if place in places else old)
    return made


def _written_before(source_fields, added):
    """Source fields that one of our runs wrote and that are written again.

    They have the name and the kind of a new one, and either all new ones are there (the layer is a
    result of the same algorithm) or there is one that gave way already, ``length_source`` beside
    ``length``. One or two names may be anybody's.
    """
    kinds = {one.name(): kind(one) for one in source_fields}
    again = [new.name for new in added if kinds.get(new.name) == kind(new.field())]
    if len(again) < len(added) or len(added) < SEVERAL:
        again = [name for name in again if f"{name}_source" in kinds]
    return again + (["fid"] if {"fid", "fid_source"} <= set(kinds) else [])
