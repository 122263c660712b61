"""What a run is going to write, and that it writes nothing over what it reads.

Places are compared by what the file system says they are, not by how they are spelled: two paths,
links or spellings of a file are one. Nothing is opened for writing here.
"""

import os
import re
from dataclasses import dataclass
from pathlib import Path

from qgis.core import (
    QgsDataSourceUri,
    QgsMapLayer,
    QgsProcessing,
    QgsProcessingFeatureSourceDefinition,
    QgsProcessingOutputLayerDefinition,
    QgsProcessingUtils,
    QgsProperty,
    QgsProviderRegistry,
    QgsVectorFileWriter,
    QgsVectorLayer,
    QgsVirtualLayerDefinition,
)
from qgis.PyQt.QtCore import QUrl

from ..host.fields import is_null
from ..host.figures import translate
from ..host.quotes import quoted
from ..host.watching import open_file

SINKS, FILES, FOLDERS = ("sink", "vectorDestination"), ("fileDestination",), ("folderDestination",)
CONTAINERS = (".gpkg", ".sqlite", ".db")  # files of several layers
JOURNALS = ("-wal", "-shm", "-journal")  # that lie beside them
# files that together are one layer, or that go with it
FAMILIES = (
    (".shp", ".shx", ".dbf", ".prj", ".cpg", ".qix", ".sbn", ".sbx", ".qpj", ".idm"),
    (".tab", ".dat", ".map", ".id", ".ind"),
    (".mif", ".mid"),
    (".gml", ".gfs", ".xsd"),
    (".csv", ".csvt"),
)
OF_STYLES = ("layer_styles", "qgis_projects")  # tables that QGIS keeps in a GeoPackage
_PROVIDER = re.compile(r"^(.{3,}?):(.*)$", re.S)  # as the host tells a provider in a destination
_CODED = re.compile("%[0-9A-Fa-f]{2}")
_PAGE = re.compile(rb"\s*(<!doctype html|<html)", re.I)


def tr(text):
    return translate("Targets", text)


@dataclass(frozen=True)
class Place:
    """Where something is read or written.

    Attributes
    ----------
    text : str
        As people know it.
    files : frozenset
        Keys of the file and of those that go with it; what is one file has one key. A table of a
        data base server has one that is no file's.
    layer : str
        In the file, lower case; empty where all of the file is meant.
    """

    text: str
    files: frozenset
    layer: str = ""

    def meets(self, other):
        """True where writing one of them would harm the other."""
        apart = self.layer and other.layer and self.layer != other.layer
        return not apart and bool(self.files & other.files)


def folds_case(folder):
    """True where the file system takes “A” and “a” for one name in a folder."""
    folder = Path(folder)
    other = folder.with_name(folder.name.swapcase())
    try:
        return other.name != folder.name and os.path.samefile(folder, other)
    except OSError:
        return False


def key_of(path):
    """What tells one file from another; a file that is not there is told by folder and name."""
    path = os.path.realpath(path)
    try:
        found = os.stat(path)
        if found.st_ino:
            return found.st_dev, found.st_ino
    except OSError:
        pass
    folder, name = os.path.split(path)
    return folder, name.casefold() if folds_case(folder) else os.path.normcase(name)


def beside(path):
    """A file and those that go with it, whether they are there or not."""
    path = Path(os.path.realpath(path))
    found, suffix = [path], path.suffix.lower()
    if suffix in CONTAINERS:
        found += [path.with_name(path.name + end) for end in JOURNALS]
    for family in FAMILIES:
        if suffix in family:  # the driver may write capitals or not, whatever was asked for
            found += [path.with_suffix(one) for end in family for one in (end, end.upper())]
    return found


def file_place(path, layer="", text=""):
    """The place of a file, or of a layer in it."""
    path = str(path)
    names = [path] if path.startswith("/vsi") else map(str, beside(path))
    keys = frozenset(name if name.startswith("/vsi") else key_of(name) for name in names)
    return Place(text or path, keys, layer.lower())


def local_path(text):
    """A path from a path or a ``file:`` address."""
    return QUrl(text).toLocalFile() if text.lower().startswith("file:") else text


# What is read


def places_of_layer(layer):
    """Where a map layer keeps its data, and the layers joined to it keep theirs."""
    if layer is None:
        return []
    if layer.providerType() == "virtual":
        return _of_virtual(layer)
    found = _of_uri(layer.providerType(), layer.source())
    if isinstance(layer, QgsVectorLayer):
        for join in layer.vectorJoins():
            found += places_of_layer(join.joinLayer())
    return found


def _of_virtual(layer):
    found = []
    for source in QgsVirtualLayerDefinition.fromUrl(
        QUrl.fromEncoded(layer.source().encode())
    ).sourceLayers():
        found += (
            []  # a layer of the project: only its id is known here
            if source.isReferenced()
            else _of_uri(source.provider(), source.source())
        )
    return found


def _of_uri(provider, uri):
    """Where a source of a provider lies; an empty list where it is no file and no table."""
    if provider == "memory":
        return []
    parts = {
        name: "" if is_null(value) else value
        for name, value in QgsProviderRegistry.instance().decodeUri(provider, uri).items()
    }
    if parts.get("table"):
        return [_table(parts)]
    path = local_path(str(parts.get("path", "")))
    if not path:
        return []
    if parts.get("vsiPrefix"):
        return [file_place(path.lstrip("{"))]
    layer = parts.get("layerName") or ""
    if os.path.isdir(path):
        inside = [file for file in sorted(Path(path).iterdir()) if not layer or file.stem == layer]
        return [file_place(file) for file in inside]
    if Path(path).suffix.lower() == ".vrt":
        data = open_file(path)
        files = data.GetFileList() if data is not None else None
        return [file_place(file) for file in files or [path]]
    if not layer and Path(path).suffix.lower() in CONTAINERS and os.path.isfile(path):
        names = layers_in(path)
        number = parts.get("layerId") or 0
        layer = names[int(number)] if int(number) < len(names) else ""
    return [file_place(path, layer if Path(path).suffix.lower() in CONTAINERS else "")]


def _table(parts):
    named = tuple(str(parts.get(name, "")) for name in ("host", "port", "dbname", "service"))
    schema = str(parts.get("schema") or "public")
    return Place(f"{schema}.{parts['table']}", frozenset([(*named, schema, str(parts["table"]))]))


def layers_in(path):
    """Names of the layers in a file; none where it cannot be opened."""
    data = open_file(path)
    if data is None:
        return []
    return [data.GetLayer(number).GetName() for number in range(data.GetLayerCount())]


def places_of_value(value, context):
    """Where the data lies that the value of an input parameter names."""
    if isinstance(value, QgsProcessingFeatureSourceDefinition):
        value = value.source
    if isinstance(value, QgsProperty):
        value, _ = value.valueAsString(context.expressionContext(), "")
    if isinstance(value, (list, tuple)):
        return [place for one in value for place in places_of_value(one, context)]
    if isinstance(value, QgsMapLayer):
        return places_of_layer(value)
    if not isinstance(value, (str, os.PathLike)) or not str(value).strip():
        return []
    text = str(value)
    known = QgsProcessingUtils.mapLayerFromString(text, context, False)
    if known is not None:
        return places_of_layer(known)
    if ";" in text and not os.path.exists(text):
        return places_of_value(text.split(";"), context)
    provider, uri = QgsProviderRegistry.instance(), text
    found = _PROVIDER.match(text)
    if found and found.group(1) in provider.providerList():
        return _of_uri(found.group(1), found.group(2))
    return _of_uri("ogr", local_path(uri))


# What is written


def text_of_target(value, context):
    """A destination as text; empty for none, and for a temporary one."""
    if isinstance(value, QgsProcessingOutputLayerDefinition):
        value = value.sink
    if isinstance(value, QgsProperty):
        value, _ = value.valueAsString(context.expressionContext(), "")
    text = "" if value is None or is_null(value) else str(value)
    return "" if text == QgsProcessing.TEMPORARY_OUTPUT or text.startswith("memory:") else text


def path_of_sink(text):
    """The file that the host makes for a destination of a sink, None where it makes none that is a
    file alone."""
    if not text or text.startswith("/vsi") or _PROVIDER.match(text) or "|layername=" in text:
        return None
    if os.path.exists(text) and not os.path.isfile(text) and not os.path.isdir(text):
        return Path(text)  # a device
    suffix = Path(text).suffix
    known = QgsVectorFileWriter.driverForExtension(suffix.lstrip("."))
    if not suffix or not known:
        return Path(text + ".gpkg")
    driver = QgsVectorFileWriter.MetaData()
    own = driver.ext.split() if QgsVectorFileWriter.driverMetadata(known, driver) else []
    if own and suffix[1:].lower() not in (*own, "dbf"):
        return Path(f"{text}.{own[0]}")  # the host adds the one that the driver is known by
    if any(suffix.lower() in family for family in FAMILIES[:2]):  # the driver writes no capitals
        return Path(text).with_suffix(suffix.lower())
    return Path(text)


def is_database(text):
    """True where rows go into a data base, as a GeoPackage is one."""
    path = path_of_sink(text)
    if path is not None:
        return path.suffix.lower() in CONTAINERS
    return bool(text) and (inner_layer(text) is not None or bool(_PROVIDER.match(text)))


def has_no_flags(text):
    """True for a data base of the host's that knows no yes and no: SpatiaLite."""
    found = _PROVIDER.match(text)
    return bool(found) and found.group(1) == "spatialite"


def inner_layer(text):
    """File and name of the layer for a destination that is a layer of a file; None for others."""
    found = _PROVIDER.match(text)
    if found and found.group(1) == "ogr":
        uri = QgsDataSourceUri(found.group(2))
        if uri.database() and uri.table():
            return Path(uri.database()), uri.table()
    path, sign, layer = text.partition("|layername=")
    return (Path(local_path(path)), layer) if sign and layer else None


def shape_of(text):
    """Name of the geometry column for such a destination; empty where it names none."""
    found = _PROVIDER.match(text)
    return QgsDataSourceUri(found.group(2)).geometryColumn() if found else ""


def place_of_sink(text):
    """Where a sink writes, None where that harms no file."""
    if not text:
        return None
    inner = inner_layer(text)
    if inner:
        return file_place(*inner, text=text)
    path = path_of_sink(text)
    if path is not None:
        return file_place(path)
    found = _PROVIDER.match(text)
    if not found:
        return file_place(text)
    provider, uri = found.groups()
    if provider.lower() == "file":
        return file_place(local_path(text))
    places = _of_uri({"postgis": "postgres"}.get(provider, provider), uri)
    return places[0] if places else None


def harm_of_name(label, text):
    """Why an output may not have a name; empty where it may."""
    if text.startswith("/vsi") and not text.startswith("/vsimem/"):
        return tr(
            "“{}” cannot be written to “{}”: what is written into an archive or over a network"
            " cannot be taken back when it fails. Choose a file of its own for “{}”."
        ).format(label, text, label)
    if not any(ord(letter) < ord(" ") for letter in text):
        return ""
    shown = "".join(letter if letter >= " " else " " for letter in text)
    return tr(
        "“{}” cannot be written to “{}”: the name holds control characters. Choose another file for"
        " “{}”."
    ).format(label, shown, label)


def harm_of(targets, sources):
    """Why a run may not begin: the first of its targets that is one of its sources or another
    target; empty where there is none.

    Parameters
    ----------
    targets, sources : sequence of tuple
        Label of the parameter and `Place`.
    """
    for label, target in targets:
        for read_as, source in sources:
            if target.meets(source):
                return tr(
                    "“{}” would be written over “{}”, which is read as “{}”. Choose another file"
                    " for “{}”; in a GeoPackage another layer will do as well."
                ).format(label, source.text, read_as, label)
    for number, (label, target) in enumerate(targets):
        for other, earlier in targets[:number]:
            if target.meets(earlier):
                return tr(
                    "“{}” and “{}” would both be written to “{}”. Choose a file of its own for each"
                    " of them."
                ).format(other, label, target.text)
    return ""


def layers_at(places, project):
    """Layers of a project that lie where something is written.

    Parameters
    ----------
    places : sequence of Place
    project : QgsProject or None
        To be asked in its own thread.

    Returns
    -------
    list of QgsVectorLayer
    """
    if project is None or not places:
        return []
    return [
        layer
        for layer in project.mapLayers().values()
        if isinstance(layer, QgsVectorLayer)
        and any(own.meets(place) for own in places_of_layer(layer) for place in places)
    ]


def harm_to_edits(written, project):
    """Why a run may not begin: a layer that it would replace has edits that are not saved, which
    would go to other rows; empty where there is none.

    Parameters
    ----------
    written : sequence of tuple
        Label of the parameter and `Place`.
    project : QgsProject or None
    """
    for label, place in written:
        for layer in layers_at([place], project):
            if layer.isModified():
                return tr(
                    "“{}” would be written over layer “{}” of this project, which has edits that"
                    " are not saved. Save them or take them back, or choose another place for"
                    " “{}”."
                ).format(label, layer.name(), label)
    return ""


def harm_to_layer(label, text):
    """Why an output may not be a layer of a file: another one's name differs from it in capitals
    alone, and a GeoPackage takes both for one; empty where it may."""
    inner = inner_layer(text)
    if inner is None or not inner[0].is_file():
        return ""
    names = layers_in(inner[0])
    for name in names if inner[1] not in names else ():
        if name.lower() == inner[1].lower():
            return tr(
                "“{}” would replace layer “{}” of “{}”, whose name differs from “{}” in capitals"
                " alone. Choose another name, or write “{}” if that is the one to replace."
            ).format(label, name, inner[0], inner[1], name)
    return ""


def harm_to_file(label, path, is_sink):
    """Why an output may not be written to a file, whatever is read; empty where it may."""
    path, remedy = Path(path), tr("Choose another file for “{}”.").format(label)
    try:
        path.stat()
    except FileNotFoundError:
        pass
    except OSError as error:
        return tr("“{}” cannot be written to “{}”: {}. {}").format(
            label, path, error.strerror, remedy
        )
    if path.is_dir():
        return tr("“{}” cannot be written to “{}”: that is a folder. {}").format(
            label, path, remedy
        )
    if is_sink and path.exists() and not path.is_file():
        return tr("“{}” cannot be written to “{}”: that is a device. {}").format(
            label, path, remedy
        )
    if not path.parent.is_dir():
        return tr(
            "“{}” cannot be written to “{}”: there is no folder “{}”. Make it, or choose another."
        ).format(label, path, path.parent)
    if is_sink and not path.exists() and path.suffix.lower() not in CONTAINERS:
        others = [one.name for one in beside(path) if one.is_file()]
        if others:
            return tr(
                "“{}” cannot be written to “{}”: its parts would replace {}, which is there and"
                " belongs to something else. {}"
            ).format(label, path, ", ".join(quoted(name) for name in others), remedy)
    if is_sink and path.suffix.lower() in CONTAINERS and _CODED.search(str(path)):
        return tr(
            "“{}” cannot be written to “{}”: GDAL takes the % in the name for a code, so the file"
            " could not be opened again. {}"
        ).format(label, path, remedy)
    if is_sink and path.suffix.lower() in CONTAINERS and path.is_file():
        names = [name for name in layers_in(path) if name not in OF_STYLES]
        if len(names) > 1:
            return tr(
                "“{}” would replace all of “{}”, which holds {} layers ({}). Choose another file,"
                " or write into it as a layer of its own."
            ).format(label, path, len(names), ", ".join(names))
    if not is_sink and path.is_file() and path.stat().st_size:
        with path.open("rb") as file:
            begin = file.read(1024)
        if path.suffix.lower() == ".pdf":
            return (
                ""
                if begin.startswith(b"%PDF")
                else tr("“{}” cannot be written to “{}”: that is there, and is no PDF. {}").format(
                    label, path, remedy
                )
            )
        page = _PAGE.match(begin.lstrip(b"\xef\xbb\xbf"))
        if not page:
            return tr(
                "“{}” cannot be written to “{}”: that is there, and is no HTML page. {}"
            ).format(label, path, remedy)
    return ""
