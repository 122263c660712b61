"""What the panel shows on the map: the chosen line, the place pointed at, before and after."""

import numpy as np
from qgis.core import (
    QgsCoordinateTransform,
    QgsCsException,
    QgsFeatureRequest,
    QgsGeometry,
    QgsPointXY,
    QgsProject,
    QgsRectangle,
    QgsUnitTypes,
    QgsWkbTypes,
)
from qgis.gui import QgsMapTool, QgsRubberBand, QgsVertexMarker
from qgis.PyQt.QtCore import QObject, Qt, pyqtSignal
from qgis.PyQt.QtGui import QColor

from ...shared.review import evidence as ground

LINE = QgsWkbTypes.GeometryType.LineGeometry
CHOSEN, CASING = QColor(255, 176, 0), QColor(20, 24, 32)
BEFORE, AFTER = QColor(217, 95, 14), QColor(0, 92, 160)
FILL = 0.6  # of the map that a line fills when the map goes to it
LEAST_SHARE = 1 / 12  # of the map below which a line is too small to be looked at
LEAST_WIDTH = 20.0  # m of ground that the map shows at least
REACH = 30  # pixels within which the pointer is at the line
CLICK = 12  # pixels within which a click means a line


class MapLink(QObject):
    """Canvas items of the review, and what the pointer does there.

    Signals
    -------
    pointed : float
        Chainage on the chosen line near the pointer, NaN away from it.
    """

    pointed = pyqtSignal(float)

    def __init__(self, canvas, parent=None):
        super().__init__(parent)
        self.canvas = canvas
        self._items = {}
        self.evidence, self._axis, self._axis_crs = None, None, None
        canvas.xyCoordinates.connect(self._moved)

    def close(self):
        """Take everything off the map."""
        self.canvas.xyCoordinates.disconnect(self._moved)
        for item in self._items.values():
            self.canvas.scene().removeItem(item)
        self._items = {}

    def _band(self, name, colour, width, style=Qt.PenStyle.SolidLine, z=10):
        if name not in self._items:
            band = QgsRubberBand(self.canvas, LINE)
            band.setColor(colour)
            band.setWidth(width)
            band.setLineStyle(style)
            band.setZValue(z)
            self._items[name] = band
        return self._items[name]

    # the chosen line

    def show_line(self, layer, geometry):
        """Mark a line of a layer; None for none."""
        casing = self._band("casing", CASING, 7, z=8)
        chosen = self._band("chosen", CHOSEN, 4, z=9)
        for band in (casing, chosen):
            if geometry is None:
                band.reset(LINE)
            else:
                band.setToGeometry(geometry, layer)

    def go_to(self, layer, geometry):
        """Bring a line into the map, as gently as that can be done: not at all where it can be
        seen well, by a move where its size is right, else by scale too."""
        box = self.to_map(layer.crs(), geometry.boundingBox())
        if box is None:
            return
        extent = self.canvas.extent()
        if not (extent.width() > 0 and extent.height() > 0):  # a map that showed nothing yet
            self.canvas.setExtent(box.buffered(self._least_width()))
            self.canvas.refresh()
            return
        size = max(box.width() / extent.width(), box.height() / extent.height())
        inside = QgsRectangle(extent)
        inside.scale(0.95)
        if size >= LEAST_SHARE and inside.contains(box):
            return
        least = self._least_width()
        if not LEAST_SHARE <= size <= FILL * 1.5:
            share = extent.width() / extent.height()
            width = max(box.width() / FILL, box.height() / FILL * share, least)
            extent = QgsRectangle(0, 0, width, width / share)
        centre = box.center()
        self.canvas.setExtent(
            QgsRectangle.fromCenterAndSize(centre, extent.width(), extent.height())
        )
        self.canvas.refresh()

    def _least_width(self):
        """Least width of the map, in its units."""
        return LEAST_WIDTH * QgsUnitTypes.fromUnitToUnitFactor(
            QgsUnitTypes.DistanceUnit.DistanceMeters, self.canvas.mapSettings().mapUnits()
        )

    def transform_from(self, crs):
        """From a layer's CRS into that of the map."""
        settings = self.canvas.mapSettings()
        return QgsCoordinateTransform(crs, settings.destinationCrs(), QgsProject.instance())

    def to_map(self, crs, box):
        """A rectangle in the CRS of the map, None where it has no place there."""
        try:
            return self.transform_from(crs).transformBoundingBox(box)
        except QgsCsException:
            return None

    # the place pointed at

    def set_evidence(self, evidence):
        """Follow the pointer along the line of some evidence; None for none."""
        self.evidence, self._axis, self._axis_crs = evidence, None, None
        self.mark(np.nan)

    def mark(self, chainage):
        """Mark a chainage on the map, NaN for none."""
        if "place" not in self._items:
            marker = QgsVertexMarker(self.canvas)
            marker.setIconType(QgsVertexMarker.IconType.ICON_CIRCLE)
            marker.setColor(CASING)
            marker.setFillColor(CHOSEN)
            marker.setIconSize(13)
            marker.setPenWidth(2)
            marker.setZValue(20)
            self._items["place"] = marker
        marker = self._items["place"]
        if self.evidence is None or not np.isfinite(chainage):
            marker.hide()
            return
        try:
            point = self.transform_from(self.evidence.crs).transform(
                QgsPointXY(*self.evidence.place(chainage))
            )
        except QgsCsException:
            marker.hide()
            return
        marker.setCenter(point)
        marker.show()

    def _map_axis(self):
        """The line in the CRS of the map."""
        crs = self.canvas.mapSettings().destinationCrs()
        if self._axis is None or self._axis_crs != crs:
            evidence = self.evidence
            way = self.transform_from(evidence.crs)
            line = QgsGeometry.fromPolylineXY(
                [QgsPointXY(x, y) for x, y in zip(evidence.x.tolist(), evidence.y.tolist())]
            )
            try:
                line.transform(way)
            except QgsCsException:
                return None
            points = np.array([(p.x(), p.y()) for p in line.vertices()])
            starts = np.append(np.flatnonzero(evidence.axis.starts), len(points))
            self._axis = ground.make_axis(
                points[:, 0], points[:, 1], np.full(len(points), np.nan), starts
            )
            self._axis_crs = crs
        return self._axis

    def chainage_at(self, point, reach=REACH):
        """Chainage of the chosen line next to a place of the map, NaN away from it."""
        if self.evidence is None:
            return np.nan
        axis = self._map_axis()
        if axis is None:
            return np.nan
        along, across = ground.project(axis, np.array([point.x()]), np.array([point.y()]))
        if abs(across[0]) > reach * self.canvas.mapUnitsPerPixel():
            return np.nan
        return float(np.interp(along[0], axis.chainage, self.evidence.axis.chainage))

    def _moved(self, point):
        if self.evidence is None:
            return
        chainage = self.chainage_at(point)
        self.mark(chainage)
        self.pointed.emit(chainage)

    # what a change does

    def show_change(self, layer, before, after, share):
        """Show lines before and after a change.

        Parameters
        ----------
        layer : QgsVectorLayer or None
            Whose CRS both are in.
        before, after : list of QgsGeometry
        share : float
            0 before, 1 after.
        """
        for name, geometries, colour, style, alpha in (
            ("before", before, BEFORE, Qt.PenStyle.DashLine, 1 - share),
            ("after", after, AFTER, Qt.PenStyle.SolidLine, share),
        ):
            band = self._band(name, colour, 3, style, z=12)
            band.reset(LINE)
            ink = QColor(colour)
            ink.setAlphaF(alpha)
            band.setColor(ink)
            band.setSecondaryStrokeColor(QColor(255, 255, 255, int(200 * alpha)))
            for geometry in geometries:
                band.addGeometry(geometry, layer)
            band.setVisible(alpha > 0 and bool(geometries))

    def fade(self, share):
        """Change how much of before and after is seen."""
        for name, colour, alpha in (("before", BEFORE, 1 - share), ("after", AFTER, share)):
            if name in self._items:
                ink = QColor(colour)
                ink.setAlphaF(alpha)
                self._items[name].setColor(ink)
                self._items[name].setSecondaryStrokeColor(QColor(255, 255, 255, int(200 * alpha)))
                self._items[name].setVisible(alpha > 0 and self._items[name].size() > 0)
                self._items[name].update()

    def show_refit(self, layer, geometries):
        """Show lines as a repair would make them; an empty list takes them away."""
        band = self._band("refit", AFTER, 3, Qt.PenStyle.DashDotLine, z=13)
        band.reset(LINE)
        for geometry in geometries:
            band.addGeometry(geometry, layer)


class ChooseTool(QgsMapTool):
    """A click on the map chooses the line there.

    Signals
    -------
    chosen : str, int
        Id of the layer, and of the feature.
    """

    chosen = pyqtSignal(str, int)

    def __init__(self, canvas, layers):
        super().__init__(canvas)
        self.layers = layers  # callable: layers to look in
        self.setCursor(Qt.CursorShape.PointingHandCursor)

    def canvasReleaseEvent(self, event):
        if event.button() == Qt.MouseButton.LeftButton:
            self.choose(self.toMapCoordinates(event.pos()))

    def choose(self, point):
        """Choose the line that is nearest to a place of the map, if one is near."""
        reach = CLICK * self.canvas().mapUnitsPerPixel()
        box = QgsRectangle(
            point.x() - reach, point.y() - reach, point.x() + reach, point.y() + reach
        )
        found, here = [], QgsGeometry.fromPointXY(point)
        for layer in self.layers():
            way = QgsCoordinateTransform(
                layer.crs(), self.canvas().mapSettings().destinationCrs(), QgsProject.instance()
            )
            request = QgsFeatureRequest(self.toLayerCoordinates(layer, box))
            # else all of the box around a line would count as near it
            request.setFlags(QgsFeatureRequest.Flag.ExactIntersect)
            request.setNoAttributes()
            for feature in layer.getFeatures(request):
                shown = QgsGeometry(feature.geometry())
                try:  # as the map shows it: layers of unlike units must be compared
                    shown.transform(way)
                except QgsCsException:
                    continue  # what has no place on the map cannot be clicked on
                found.append((shown.distance(here), layer.id(), feature.id()))
        if found:
            self.chosen.emit(*min(found)[1:])
