"""Capture layers found in a folder or by a file pattern."""

import glob
import os
from dataclasses import dataclass
from pathlib import Path

from qgis.core import (
    QgsProcessingException,
    QgsProviderRegistry,
    QgsWkbTypes,
)

from ..host.figures import translate
from .result_folder import GEOPACKAGE, REPORT, RUN_LOG, RUN_STATE, WORK

# files that belong to others: no layers of their own, and nothing to speak of
BESIDE = (".shx", ".dbf", ".prj", ".cpg", ".qpj", ".qix", ".sbn", ".sbx", ".qmd", ".qml", ".sld")
BESIDE += ("-wal", "-shm", "-journal", ".aux.xml", ".shp.xml", ".csvt")
OF_RUN = {RUN_LOG, RUN_STATE}  # tables that tell the results of a run
TRACK_POINTS = "track_points"  # of a GPX file: the same points are its tracks as well


def tr(text):
    return translate("Intake", text)


@dataclass(frozen=True)
class Intake:
    """What a folder or a file pattern holds.

    Attributes
    ----------
    layers : tuple of str
        Sources of the layers that may be epochs, by path and name.
    files : int
        Files that they are in.
    passed : tuple of (str, str)
        File, or file and layer, that cannot be epochs, and why.
    """

    layers: tuple
    files: int
    passed: tuple


def take_in(text, folder, used):
    """Find the layers of a folder, or of files by a pattern.

    Parameters
    ----------
    text : str
        A folder, whose files are taken but not those of folders in it, or a pattern: `*` and `?`
        within a name, `**` for any folders between.
    folder : path
        Of the results, which are never taken.
    used : dict of (str, str) to str
        Layers that the run uses already, by real path and name of the layer (empty for all of the
        file), and what for; empty where they are given as captures.

    Returns
    -------
    Intake

    Raises
    ------
    QgsProcessingException
        If there is no such folder, and it is no pattern.
    """
    layers, files, passed = [], set(), []
    for path in _files(text):
        if _of_results(path, folder):
            continue
        sources, refused = _layers_of(path, used)
        passed += refused
        if sources:
            files.add(path)
            layers += sources
    return Intake(tuple(layers), len(files), tuple(passed))


def _files(text):
    """Files by a stable order, without hidden ones and those that belong to others."""
    place = Path(text).expanduser()
    if place.is_dir():
        found = list(place.iterdir())
    elif glob.has_magic(text):
        found = [Path(one) for one in glob.glob(str(place), recursive=True)]
    else:
        found = [place]
        if not place.exists():
            raise QgsProcessingException(
                tr("“{}” is no folder, no file and no file pattern. Check the path.").format(text)
            )
    return sorted(
        (
            path
            for path in found
            if path.is_file()
            and not path.name.startswith(".")
            and not path.name.lower().endswith(BESIDE)
        ),
        key=lambda path: (str(path).casefold(), str(path)),
    )


def _of_results(path, folder):
    real, results = os.path.realpath(path), os.path.realpath(folder)
    inside = {os.path.join(results, name) for name in (GEOPACKAGE, REPORT)}
    return real in inside or real.startswith(os.path.join(results, WORK) + os.sep)


def _layers_of(path, used):
    """Sources of the layers of a file by name, and what was passed over, with the reason."""
    registry = QgsProviderRegistry.instance()
    found = [
        one
        for one in registry.querySublayers(str(path))
        if one.providerKey() == "ogr"  # which has vector layers alone
    ]
    if not found:
        return [], [(path.name, _why_nothing(path))]
    if {one.name() for one in found} & OF_RUN:
        return [], [(path.name, tr("results of a run"))]
    real, sources, passed = os.path.realpath(path), [], []
    for one in sorted(found, key=lambda one: (one.name().casefold(), one.name())):
        what = used.get((real, one.name()), used.get((real, "")))
        why = _why_not(one, path, what)
        if why:
            label = path.name if len(found) == 1 else f"{path.name}, {one.name()}"
            passed.append((label, why))
        elif what is None:
            sources.append(one.uri())
    return sources, passed


def _why_nothing(path):
    if path.suffix.lower() in (".nmea", ".log", ".ubx", ".txt"):
        return tr("no vector layer; logs of a receiver are read with “Read NMEA log” first")
    return tr("no vector layer")


def _why_not(one, path, what):
    """Why a layer cannot be epochs; empty where it may."""
    kinds, kind = QgsWkbTypes.GeometryType, QgsWkbTypes.geometryType(one.wkbType())
    if what:
        return tr("used as “{}”").format(what)
    if kind == kinds.NullGeometry:
        return tr("a table without geometry")
    if kind not in (kinds.PointGeometry, kinds.LineGeometry, kinds.UnknownGeometry):
        return tr("neither points nor lines")
    if path.suffix.lower() == ".gpx" and one.name() != TRACK_POINTS:
        return tr("of a GPX file the track points are taken")
    return ""


def layer_key(layer):
    """Real path and name of a layer of a file, None for any other layer.

    Parameters
    ----------
    layer : QgsMapLayer

    Returns
    -------
    tuple of str or None
    """
    parts = QgsProviderRegistry.instance().decodeUri(layer.providerType(), layer.source())
    path = parts.get("path")
    return (os.path.realpath(path), parts.get("layerName") or "") if path else None


def once(pairs, feedback):
    """Leave out layers that were given before: their epochs would count twice.

    Parameters
    ----------
    pairs : list of (object, QgsMapLayer or None)
        What was given, and the layer that it is.
    feedback : QgsProcessingFeedback
        Told which were left out.

    Returns
    -------
    list of (object, QgsMapLayer or None)
    """
    left, seen = [], set()
    for given, layer in pairs:
        key = _identity(layer) if layer is not None else None
        if key is not None and key in seen:
            feedback.pushWarning(
                tr("Layer “{}” is given more than once; it is taken once.").format(layer.name())
            )
            continue
        seen.add(key)
        left.append((given, layer))
    return left


def _identity(layer):
    """What a layer shows: the layer itself, or the part of a file, whatever it is called."""
    key = layer_key(layer)
    if key is None or not os.path.exists(key[0]):
        return layer.id()
    path, name = key
    if not name:
        found = QgsProviderRegistry.instance().querySublayers(path)
        name = found[0].name() if len(found) == 1 else ""
    subset = layer.subsetString() if hasattr(layer, "subsetString") else ""
    edited = layer.id() if getattr(layer, "isModified", lambda: False)() else ""
    parts = QgsProviderRegistry.instance().decodeUri(layer.providerType(), layer.source())
    return path, name, parts.get("layerId"), subset, edited


def sentences(text, intake):
    """What to say in the log of what was found.

    Parameters
    ----------
    text : str
        Folder or pattern.
    intake : Intake

    Returns
    -------
    list of str
    """
    said = [tr("Intake “{}”: layers {}, files {}.").format(text, len(intake.layers), intake.files)]
    return said + [tr("    Passed over: “{}” ({}).").format(*one) for one in intake.passed]
