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


def kind(field):
    """Kind of a QgsField: bool, int, double, text, date, time, datetime or other."""
    number = field.type()
    return _KINDS.get(int(getattr(number, "value", number)), "other")


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


def with_new_fields(source_fields, added):
    """Source fields followed by new ones.

    Parameters
    ----------
    source_fields : QgsFields
    added : sequence of NewField
        They keep their names: checks and styles rely on them.

    Returns
    -------
    fields : QgsFields
    renamed : dict of str to str
        Source fields that had to give way, by old name: those that are called like a new one (in
        any case, as databases see no difference), and ``fid``, which a GeoPackage keeps for itself
        and refuses where it repeats.
    """
    taken = {definition.name.lower() for definition in added}
    names = {name.lower() for name in source_fields.names()}
    fields, renamed = QgsFields(), {}
    for old in source_fields:
        new = QgsField(old)
        if old.name().lower() in taken or old.name().lower() == "fid":
            name, number = f"{old.name()}_source", 2
            while name.lower() in taken or name.lower() in names:
                name, number = f"{old.name()}_source{number}", number + 1
            new.setName(name)
            renamed[old.name()] = name
        taken.add(new.name().lower())
        fields.append(new)
    for definition in added:
        fields.append(definition.field())
    return fields, renamed
