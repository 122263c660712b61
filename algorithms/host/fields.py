"""Fields of layers: the one place that knows how their types are spelt in different versions of
QGIS."""

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


def fields_of(definitions):
    """QgsFields from tuples that hold the arguments of `field`."""
    fields = QgsFields()
    for definition in definitions:
        fields.append(field(*definition))
    return fields


def is_null(value):
    """True for NULL however this version of QGIS hands it over."""
    return value is None or isinstance(value, QVariant)


def with_new_fields(source_fields, added):
    """Source fields followed by new ones.

    Parameters
    ----------
    source_fields : QgsFields
    added : list of tuple of str
        Name and QMetaType name of each new field. They keep their names: checks and styles rely on
        them.

    Returns
    -------
    fields : QgsFields
    renamed : dict of str to str
        Source fields that had to give way, by old name: those that are called like a new one (in
        any case, as databases see no difference), and ``fid``, which a GeoPackage keeps for itself
        and refuses where it repeats.
    """
    taken = {name.lower() for name, _ in added}
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
    for name, type_name in added:
        fields.append(field(name, type_name))
    return fields, renamed
