"""Build the sample project's QGIS project, `tern_ness.qgz`, on the data that `build.py` writes.

.venv/bin/python sample_project/build_project.py
"""

import os
import re
import zipfile
from pathlib import Path

from qgis.core import (
    QgsApplication,
    QgsCategorizedSymbolRenderer,
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsLineSymbol,
    QgsMarkerSymbol,
    QgsPalLayerSettings,
    QgsProject,
    QgsProjectMetadata,
    QgsRectangle,
    QgsReferencedRectangle,
    QgsRendererCategory,
    QgsSingleSymbolRenderer,
    QgsTextBufferSettings,
    QgsTextFormat,
    QgsVectorLayer,
    QgsVectorLayerSimpleLabeling,
)
from qgis.PyQt.QtCore import QDateTime, Qt
from qgis.PyQt.QtGui import QColor, QFont

HERE = Path(__file__).resolve().parent
DATA, TARGET = HERE / "data" / "tern_ness.gpkg", HERE / "tern_ness.qgz"
CRS = "EPSG:32631"
SAVED = "2025-05-15T12:00:00"
TITLE = "Tern Ness ferry port (invented)"
ABSTRACT = (
    "Sample data of Curbwright. The port, its walkers and every coordinate are invented; the site"
    " lies on open water. Captures are epochs at one a second along kerbs and footway edges, with"
    " what goes wrong in the field; the truth is beside them, so that one can see how near a result"
    " comes."
)

FIXED, FLOAT, OTHER = QColor("#2f6f4f"), QColor("#e08a1e"), QColor("#b3303a")
TRUTH = QColor("#4a5560")
OLD = QColor("#8a6d3b")
PAPER = QColor("#f7f5f0")
MARGIN = 15.0  # metres around the port

# Group, then its layers: name in the GeoPackage, title, field of the fix (None for a single
# symbol), shape of marker. Surveys never see the truth: it is not shown at first.
HIDDEN = ("Truth",)
TREE = (
    (
        "Truth",
        (
            ("truth_corners", "True corners", None, "square"),
            ("truth", "True edges", None, "line"),
        ),
    ),
    (
        "Other surveys",
        (
            ("check_points", "Check points", None, "cross_fill"),
            ("basemap", "Legacy basemap", None, "dashes"),
        ),
    ),
    (
        "Captures",
        (
            ("captures_plumb", "Plumb, one a second", "fix_quality", "circle"),
            ("captures_aimed", "Aimed, with pauses", "solution", "triangle"),
            ("captures_geographic", "Plumb, in degrees and local time", "fix_quality", "diamond"),
            ("spot_points", "Spot points", "fix_quality", "square"),
            ("streamed_lines", "Streamed lines, M as time", None, "path"),
        ),
    ),
)
STATES = {
    "fix_quality": ((4, "fixed", FIXED), (5, "float", FLOAT), (1, "autonomous", OTHER)),
    "solution": (
        ("fixed", "fixed", FIXED),
        ("float", "float", FLOAT),
        ("autonomous", "autonomous", OTHER),
    ),
}


def _marker(shape, colour, size=1.2):
    return QgsMarkerSymbol.createSimple(
        {
            "name": shape,
            "color": colour.name(),
            "size": str(size),
            "outline_color": "#ffffff",
            "outline_width": "0.1",
        }
    )


def _renderer(field, shape):
    if field is not None:
        return QgsCategorizedSymbolRenderer(
            field,
            [
                QgsRendererCategory(value, _marker(shape, colour), label)
                for value, label, colour in STATES[field]
            ],
        )
    if shape == "dashes":
        return QgsSingleSymbolRenderer(
            QgsLineSymbol.createSimple(
                {"line_color": OLD.name(), "line_width": "0.4", "line_style": "dash"}
            )
        )
    if shape == "path":
        return QgsSingleSymbolRenderer(
            QgsLineSymbol.createSimple({"line_color": FIXED.name(), "line_width": "0.5"})
        )
    if shape == "line":
        return QgsSingleSymbolRenderer(
            QgsLineSymbol.createSimple({"line_color": TRUTH.name(), "line_width": "0.3"})
        )
    return QgsSingleSymbolRenderer(_marker(shape, TRUTH, 1.6))


def _label(layer, field):
    form = QgsTextFormat()
    # else that of the machine which builds the project, and others warn that they lack it
    form.setFont(QFont("DejaVu Sans"))
    form.setSize(7)
    form.setColor(TRUTH)
    halo = QgsTextBufferSettings()
    halo.setEnabled(True)
    halo.setSize(0.8)
    halo.setColor(PAPER)
    form.setBuffer(halo)
    settings = QgsPalLayerSettings()
    settings.fieldName = field
    settings.setFormat(form)
    settings.placement = QgsPalLayerSettings.Placement.Line
    layer.setLabeling(QgsVectorLayerSimpleLabeling(settings))
    layer.setLabelsEnabled(True)


def _add_layer(project, group, name, title, field, shape):
    layer = QgsVectorLayer(f"{DATA}|layername={name}", title, "ogr")
    if not layer.isValid():
        raise SystemExit(f"{DATA} has no layer “{name}”. Run sample_project/build.py first.")
    layer.setRenderer(_renderer(field, shape))
    if shape == "line":
        _label(layer, "edge")
    project.addMapLayer(layer, False)
    group.addLayer(layer)
    return layer


def _extent(project, layers):
    extent = QgsRectangle()
    for layer in layers:
        transform = QgsCoordinateTransform(layer.crs(), project.crs(), project)
        extent.combineExtentWith(transform.transformBoundingBox(layer.extent()))
    return extent.buffered(MARGIN)


def build(target=TARGET):
    """Write the project file; a QGIS application must be up."""
    project = QgsProject()
    project.setCrs(QgsCoordinateReferenceSystem(CRS))
    project.setTitle(TITLE)
    project.setBackgroundColor(PAPER)
    metadata = QgsProjectMetadata()
    metadata.setTitle(TITLE)
    metadata.setAbstract(ABSTRACT)
    metadata.setCreationDateTime(QDateTime.fromString(SAVED, Qt.DateFormat.ISODate))
    project.setMetadata(metadata)
    layers = []
    for title, members in TREE:
        group = project.layerTreeRoot().addGroup(title)
        layers += [_add_layer(project, group, *member) for member in members]
        group.setItemVisibilityChecked(title not in HIDDEN)
        group.setExpanded(title not in HIDDEN)
        for leaf in group.findLayers():
            leaf.setExpanded(False)  # their symbols: else the tree does not fit a window
    project.viewSettings().setDefaultViewExtent(
        QgsReferencedRectangle(_extent(project, layers), project.crs())
    )
    names = {
        # QGIS reads no id of ten characters or fewer: the tree would lose the layer
        layer.id(): f"tern_ness_{member[0]}"
        for layer, member in zip(layers, (member for _, members in TREE for member in members))
    }
    if not project.write(str(target)):
        raise SystemExit(f"{target} could not be written: {project.error()}")
    project.clear()
    _neutral(target, names)
    return target


def _neutral(target, names):
    """Take out of the file who saved it and when, and give layers ids that stay the same."""
    with zipfile.ZipFile(target) as archive:
        text = archive.read("tern_ness.qgs").decode("utf-8")
    text = re.sub(r' saveUser(Full)?="[^"]*"', "", text)
    text = re.sub(r'saveDateTime="[^"]*"', f'saveDateTime="{SAVED}"', text)
    text = re.sub(r"<author>[^<]*</author>", "<author></author>", text)
    for old, new in names.items():
        text = text.replace(old, new)
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(
            zipfile.ZipInfo("tern_ness.qgs", (2025, 5, 15, 12, 0, 0)),
            text.encode("utf-8"),
            zipfile.ZIP_DEFLATED,
        )


def main():
    """Start QGIS without a screen, build, stop."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    application = QgsApplication([], False)
    application.initQgis()
    try:
        print(build())
    finally:
        application.exitQgis()


if __name__ == "__main__":
    main()
