"""Draw the map of the sample project's result."""

from pathlib import Path

from qgis.core import (
    QgsApplication,
    QgsFillSymbol,
    QgsLayerTree,
    QgsLayoutExporter,
    QgsLayoutItemLabel,
    QgsLayoutItemLegend,
    QgsLayoutItemMap,
    QgsLayoutItemMapOverview,
    QgsLayoutItemPicture,
    QgsLayoutItemScaleBar,
    QgsLayoutPoint,
    QgsLayoutSize,
    QgsLegendStyle,
    QgsLineSymbol,
    QgsMarkerSymbol,
    QgsPrintLayout,
    QgsProject,
    QgsRectangle,
    QgsSingleSymbolRenderer,
    QgsTextFormat,
    QgsUnitTypes,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import Qt
from qgis.PyQt.QtGui import QColor, QFont

STYLES = Path(__file__).resolve().parents[1] / "plugin" / "styles"
PAGE = (280.0, 292.0)  # millimetres, as all that follow
MARGIN = 6.0
OVERVIEW = 112.0  # height
INSET = (88.0, 66.0)
RESOLUTION = 150  # dots per inch
# Title, centre and width in metres, metres of a part of the scale bar.
INSETS = (
    ("A curb return", 500171.0, 6200124.0, 14.0, 2),
    ("Standing still at the roundabout's island", 500374.4, 6200100.81, 0.5, 0.1),
)
INK = QColor("#22303a")


def _font(size, bold=False):
    form = QgsTextFormat()
    font = QFont("DejaVu Sans")
    font.setBold(bold)
    form.setFont(font)
    form.setSize(size)
    form.setColor(INK)
    return form


def _layer(path, name, title, style=None, symbol=None, only=None):
    source = f"{path}|layername={name}" + (f"|subset={only}" if only else "")
    layer = QgsVectorLayer(source, title, "ogr")
    if not layer.isValid():
        raise SystemExit(f"{path} has no layer “{name}”.")
    if style is not None:
        message, ok = layer.loadNamedStyle(str(STYLES / style))
        if not ok:
            raise SystemExit(f"{style}: {message}")
        layer.setName(title)
    if symbol is not None:
        layer.setRenderer(QgsSingleSymbolRenderer(symbol))
    return layer


class Page:
    """A layout page on which items are placed in millimetres."""

    def __init__(self, project):
        self.layout, self.trees = QgsPrintLayout(project), []
        self.layout.initializeDefaults()
        self.layout.pageCollection().page(0).setPageSize(QgsLayoutSize(*PAGE))

    def place(self, item, x, y, width=None, height=None):
        self.layout.addLayoutItem(item)
        item.attemptMove(QgsLayoutPoint(x, y))
        if width is not None:
            item.attemptResize(QgsLayoutSize(width, height))
        return item

    def text(self, text, x, y, width, height, size, bold=False, align=Qt.AlignmentFlag.AlignLeft):
        label = QgsLayoutItemLabel(self.layout)
        label.setText(text)
        form = _font(size, bold)
        if hasattr(label, "setTextFormat"):  # QGIS 3.24
            label.setTextFormat(form)
        else:
            font = form.font()
            font.setPointSizeF(size)
            label.setFont(font)
            label.setFontColor(INK)
        label.setHAlign(align)
        label.setMarginX(0)
        return self.place(label, x, y, width, height)

    def map(self, layers, extent, x, y, width, height):
        item = QgsLayoutItemMap(self.layout)
        self.place(item, x, y, width, height)
        item.setLayers(layers)
        item.setKeepLayerSet(True)
        item.setFrameEnabled(True)
        item.setFrameStrokeColor(INK)
        # Widened to the shape of the item, which would else take the shape of the extent.
        half_height = max(extent.height(), extent.width() * height / width) / 2
        centre, half_width = extent.center(), half_height * width / height
        item.setCrs(layers[0].crs())
        item.setExtent(
            QgsRectangle(
                centre.x() - half_width,
                centre.y() - half_height,
                centre.x() + half_width,
                centre.y() + half_height,
            )
        )
        return item

    def scale_bar(self, linked, metres, x, y):
        bar = QgsLayoutItemScaleBar(self.layout)
        bar.setStyle("Line Ticks Up")
        bar.setLinkedMap(linked)
        bar.setUnits(QgsUnitTypes.DistanceUnit.DistanceMeters)
        bar.setUnitLabel("m")
        bar.setNumberOfSegments(2)
        bar.setNumberOfSegmentsLeft(0)
        bar.setUnitsPerSegment(metres)
        bar.setTextFormat(_font(7))
        bar.update()
        return self.place(bar, x, y)

    def north_arrow(self, linked, x, y):
        arrow = QgsLayoutItemPicture(self.layout)
        arrow.setPicturePath(QgsApplication.pkgDataPath() + "/svg/arrows/NorthArrow_04.svg")
        arrow.setLinkedMap(linked)
        arrow.setSvgFillColor(INK)
        arrow.setSvgStrokeColor(INK)
        return self.place(arrow, x, y, 13, 13)

    def letter(self, letter, x, y):
        self.text(letter, x, y, 7, 6, 11, True)

    def legend(self, layers, x, y):
        tree = QgsLayerTree()
        for layer in layers:
            tree.addLayer(layer)
        legend = QgsLayoutItemLegend(self.layout)
        legend.setAutoUpdateModel(False)
        legend.model().setRootGroup(tree)
        for style in (QgsLegendStyle.Style.Subgroup, QgsLegendStyle.Style.SymbolLabel):
            part = legend.style(style)
            if hasattr(part, "setTextFormat"):  # QGIS 3.30
                part.setTextFormat(_font(7.5, style == QgsLegendStyle.Style.Subgroup))
            else:
                font = _font(7.5, style == QgsLegendStyle.Style.Subgroup).font()
                font.setPointSizeF(7.5)
                part.setFont(font)
            legend.setStyle(style, part)
        legend.setColumnCount(2)
        legend.setColumnSpace(1)
        legend.setSplitLayer(True)
        legend.setBackgroundEnabled(False)
        legend.setBoxSpace(0)
        self.trees.append(tree)  # the legend does not own it
        return self.place(legend, x, y)

    def export(self, path):
        settings = QgsLayoutExporter.ImageExportSettings()
        settings.dpi = RESOLUTION
        settings.generateWorldFile = False
        settings.exportMetadata = False
        result = QgsLayoutExporter(self.layout).exportToImage(str(path), settings)
        if result != QgsLayoutExporter.ExportResult.Success:
            raise SystemExit(f"The map could not be written to {path}.")


def draw(data, results, basemap, image):
    """Draw the map.

    Parameters
    ----------
    data, results, basemap : path
        The sample project's GeoPackage, the one with the layers edges, gaps, rejected and kept, and
        the one with the basemap that was brought up to date.
    image : path
        Where the PNG goes.
    """
    application = QgsApplication([], False)
    application.initQgis()
    try:
        _draw(Path(data), Path(results), Path(basemap), Path(image))
    finally:
        QgsProject.instance().clear()
        application.exitQgis()


def _mark(page, overview, insets):
    """Show on the overview where the insets lie, and their letters beside."""
    frame = QgsFillSymbol.createSimple(
        {"color": "255,255,255,0", "outline_color": INK.name(), "outline_width": "0.4"}
    )
    extent, corner = overview.extent(), overview.pagePos()
    for letter, inset in zip("AB", insets):
        item = QgsLayoutItemMapOverview(f"Inset {letter}", overview)
        item.setLinkedMap(inset)
        item.setFrameSymbol(frame.clone())
        overview.overviews().addOverview(item)
        window = inset.extent()
        scale = overview.rect().width() / extent.width()
        page.letter(
            letter,
            corner.x() + (window.xMaximum() - extent.xMinimum()) * scale + 1,
            corner.y() + (extent.yMaximum() - window.yMaximum()) * scale - 6,
        )


def _draw_basemap(page, data, basemap, extent, top):
    """The basemap as it was and as it is; the layers, which must outlive the page."""
    former = _layer(
        data,
        "basemap",
        "Legacy basemap",
        symbol=QgsLineSymbol.createSimple(
            {"line_color": "#8a949c", "line_width": "0.3", "line_style": "dot"}
        ),
    )
    updated = _layer(basemap, "basemap", "Updated basemap", "updated.qml")
    width = 2 * INSET[0] + 4
    page.text("The legacy basemap brought up to date", MARGIN, top - 6, width, 5, 8, True)
    shown = page.map([updated, former], extent, MARGIN, top, width, INSET[1])
    page.scale_bar(shown, 25, MARGIN + 1, top + INSET[1] - 12)
    return [updated, former]


def _draw(data, results, basemap, image):
    project = QgsProject.instance()
    edges = _layer(results, "edges", "Edges", "edges.qml")
    # The ways from one capture to the next would only cover the map.
    gaps = _layer(
        results, "gaps", "Gaps inside captures", "gaps.qml", only="reason <> 'new_capture'"
    )
    kept = _layer(results, "kept", "Epochs kept", "kept.qml")
    rejected = _layer(results, "rejected", "Epochs rejected", "rejected.qml")
    truth = _layer(
        data,
        "truth",
        "Truth",
        symbol=QgsLineSymbol.createSimple(
            {"line_color": "#e9a23b", "line_width": "0.35", "line_style": "dash"}
        ),
    )
    # On the overview a metre is less than a millimetre: the same colours, but finer.
    fine_edges = _layer(
        results,
        "edges",
        "Edges",
        symbol=QgsLineSymbol.createSimple(
            {
                "line_color": "#1d3557",
                "line_width": "0.55",
                "capstyle": "round",
                "joinstyle": "round",
            }
        ),
    )
    dots = _layer(
        results,
        "rejected",
        "Epochs rejected (overview)",
        symbol=QgsMarkerSymbol.createSimple(
            {"color": "200,85,61,170", "size": "1.1", "outline_style": "no"}
        ),
    )
    layers = (edges, gaps, kept, rejected, truth, fine_edges, dots)
    for layer in layers:
        project.addMapLayer(layer, False)
    project.setCrs(edges.crs())

    page = Page(project)
    inner = PAGE[0] - 2 * MARGIN
    length = sum(feature["length"] for feature in edges.getFeatures())
    page.text(
        "Tern Ness ferry port (invented): edges from streamed epochs", MARGIN, 4, inner, 9, 15, True
    )
    page.text(
        f"{edges.featureCount()} edges, {length:,.0f} m on the ground, from {kept.featureCount():,}"
        f" epochs. {rejected.featureCount():,} more were rejected, each with its reason.",
        MARGIN,
        12,
        inner,
        6,
        9,
    )

    everything = edges.extent()
    everything.grow(0.03 * everything.width())
    overview = page.map([dots, fine_edges, gaps], everything, MARGIN, 20, inner, OVERVIEW)
    top = 20 + OVERVIEW + 10
    insets = []
    for number, (name, x, y, size, bar) in enumerate(INSETS):
        left = MARGIN + number * (INSET[0] + 4)
        page.text(name, left, top - 6, INSET[0], 5, 8, True)
        window = QgsRectangle(x - size / 2, y, x + size / 2, y)
        inset = page.map([rejected, kept, truth, edges, gaps], window, left, top, *INSET)
        page.scale_bar(inset, bar, left + INSET[0] - 48, top + INSET[1] - 12)
        page.letter("AB"[number], left + INSET[0] - 8, top + 1.5)
        insets.append(inset)
    _mark(page, overview, insets)
    page.scale_bar(overview, 25, MARGIN + 1, 20 + OVERVIEW - 13)
    page.north_arrow(overview, MARGIN + inner - 15, 22)
    beside = MARGIN + 2 * (INSET[0] + 4) + 1
    page.legend([edges, truth, gaps, dots, kept, rejected], beside, top - 6)
    below = top + INSET[1] + 10
    lines = _draw_basemap(page, data, basemap, everything, below)
    for layer in lines:
        project.addMapLayer(layer, False)
    page.legend(lines, beside, below - 6)
    page.export(image)
