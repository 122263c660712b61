"""Runs of the whole batch on simulated captures, and what they leave in their folder."""

import sqlite3
from contextlib import closing
from pathlib import Path

from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsGeometry,
    QgsPoint,
    QgsProject,
    QgsVectorLayer,
)
from walkedlayers import ORIGIN, layer_of, run, table, walk

UTM = "EPSG:32632"


def process(layers, folder, log=None, **parameters):
    """The results of a run into a folder."""
    return run("processcaptures", {"LAYERS": layers, "FOLDER": str(folder), **parameters}, log)


def moved(rows, north, seconds=0.0):
    return [{**row, "y": row["y"] + north, "seconds": row["seconds"] + seconds} for row in rows]


def in_degrees(rows, name="island walk"):
    way = QgsCoordinateTransform(
        QgsCoordinateReferenceSystem(UTM),
        QgsCoordinateReferenceSystem("EPSG:4326"),
        QgsProject.instance().transformContext(),
    )

    def place(x, y, z):
        geometry = QgsGeometry(QgsPoint(ORIGIN[0] + x, ORIGIN[1] + y, z))
        geometry.transform(way)
        return geometry

    return layer_of(rows, crs="EPSG:4326", place=place, name=name)


def two_layers():
    return [layer_of(walk(seed=1), name="quay walk"), in_degrees(moved(walk(seed=2), 50.0))]


def opened(folder, name="edges"):
    """A result as it is stored, without its style, which takes as long again to load."""
    options = QgsVectorLayer.LayerOptions()
    options.loadDefaultStyle = False
    layer = QgsVectorLayer(f"{folder}/curbwright.gpkg|layername={name}", name, "ogr", options)
    assert layer.isValid(), name
    return layer


def rows_of(folder, name="edges"):
    return table(opened(folder, name))


def shapes_of(folder, name="edges"):
    return [feature.geometry().asWkt(6) for feature in opened(folder, name).getFeatures()]


def layers_in(folder):
    """Layers of the GeoPackage, but for the table of their styles."""
    with closing(sqlite3.connect(str(Path(folder) / "curbwright.gpkg"))) as database:
        names = {name for (name,) in database.execute("SELECT table_name FROM gpkg_contents")}
    return names - {"layer_styles"}
