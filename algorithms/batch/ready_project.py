"""Styles and a ready project in the GeoPackage itself, so that what was written unattended opens as
it would be shown."""

import sqlite3
from contextlib import closing

from qgis.core import (
    Qgis,
    QgsProcessingException,
    QgsProject,
    QgsReferencedRectangle,
    QgsVectorLayer,
)

from ..host.feedback import raise_if_cancelled
from ..host.figures import translate
from ..writing.layer_tree import COUNT, add
from ..writing.presentation import lineage_of, metadata_of
from ..writing.styles import dress

PROJECT = STYLE = "curbwright"  # names in the GeoPackage
STYLES, PROJECTS = "layer_styles", "qgis_projects"  # tables that QGIS makes
MARGIN = 1.1  # of the extent shown


def tr(text):
    return translate("ReadyProject", text)


def store(path, results, crs, title, feedback):
    """Store the default style of each layer, and a project with all of them, in a GeoPackage.

    Paths in the project are relative: it may be moved with the file.

    Parameters
    ----------
    path : path
        The GeoPackage.
    results : list of Result
    crs : QgsCoordinateReferenceSystem
        Of the project.
    title : str
    feedback : QgsProcessingFeedback

    Raises
    ------
    QgsProcessingException
        If it cannot be written.
    CancelledError
    """
    kept = _forget(path)
    _store_beside(path, [result for result in results if result.name in kept], feedback)
    project = QgsProject()
    project.setTitle(title)
    project.setCrs(crs)
    project.setFilePathStorage(Qgis.FilePathType.Relative)
    try:
        opened = []
        for result in results:
            raise_if_cancelled(feedback)
            layer = _opened(path, result, result.name in kept)
            if result.name not in kept:
                opened.append((result, layer))
            project.addMapLayer(layer, False)
            add(project.layerTreeRoot(), layer, result.place).setCustomProperty(COUNT, 1)
        _look_at(project)
        if not project.write(f"geopackage:{path}?projectName={PROJECT}"):
            raise _cannot_be_stored(path, project.error())
        for result, layer in opened:
            raise_if_cancelled(feedback)
            _save_style(path, result, layer, True)
    finally:
        opened = layer = None  # nothing that an error holds on to may be a layer
        project.clear()  # lets the file go
    _describe(path, results)
    _close_log(path)


def _opened(path, result, look_of_people):
    """A layer in its own look, or in the one that people made its default. (To open a layer takes
    as long as to write it: each is opened once, for its style and for the project.)"""
    options = QgsVectorLayer.LayerOptions()
    options.loadDefaultStyle = look_of_people
    layer = QgsVectorLayer(f"{path}|layername={result.name}", result.title, "ogr", options)
    if not look_of_people:
        message = dress(layer, result.look)
        if message:
            raise _cannot_be_stored(path, message)
        # a style without times took away the fields of time that QGIS had found
        layer.temporalProperties().guessDefaultsFromFields(layer.fields())
    layer.setMetadata(metadata_of(layer, result.look.about))
    return layer


def _save_style(path, result, layer, default):
    asked = STYLE, result.look.about.title, default, ""
    if hasattr(layer, "saveStyleToDatabaseV2"):  # of later hosts, which warn of the other one
        _, message = layer.saveStyleToDatabaseV2(*asked)
    else:
        message = layer.saveStyleToDatabase(*asked)
    if message:
        raise _cannot_be_stored(path, message)


def _store_beside(path, results, feedback):
    """Styles of layers that people gave another default: beside that one."""
    for result in results:
        raise_if_cancelled(feedback)
        layer = _opened(path, result, False)
        try:
            _save_style(path, result, layer, False)
        finally:
            layer = None  # as above


def _describe(path, results):
    """Say in the GeoPackage's own table of contents what each layer is."""
    with closing(sqlite3.connect(str(path))) as database, database:
        for result in results:
            about = result.look.about
            database.execute(
                "UPDATE gpkg_contents SET description = ? WHERE table_name = ?",
                (f"{about.abstract} {lineage_of(about)}", result.name),
            )


def _close_log(path):
    """Bring all into the file itself, which is moved without its log."""
    with closing(sqlite3.connect(str(path))) as database:
        database.execute("PRAGMA journal_mode=DELETE").fetchall()


def _cannot_be_stored(path, why):
    return QgsProcessingException(
        tr("Styles and project cannot be stored in “{}”: {}.").format(path, why)
    )


def _look_at(project):
    """Show the places of what is on, when the project is opened."""
    extent = None
    for node in project.layerTreeRoot().findLayers():
        layer = node.layer()
        if node.itemVisibilityChecked() and layer.isSpatial() and layer.featureCount() > 0:
            extent = extent or layer.extent()
            extent.combineExtentWith(layer.extent())
    if extent is not None:
        extent.scale(MARGIN)
        project.viewSettings().setDefaultViewExtent(QgsReferencedRectangle(extent, project.crs()))


def _forget(path):
    """Take out the styles that former runs stored; layers that people gave another default."""
    with closing(sqlite3.connect(str(path))) as database, database:
        if not database.execute(
            "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?", (STYLES,)
        ).fetchone():
            return set()
        database.execute(f"DELETE FROM {STYLES} WHERE styleName = ?", (STYLE,))
        return {
            name
            for (name,) in database.execute(f"SELECT f_table_name FROM {STYLES} WHERE useAsDefault")
        }
