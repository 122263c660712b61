"""Kept epochs of all layers, written as they come."""

from osgeo import gdal
from qgis.core import QgsWkbTypes

from ..host.feedback import raise_if_cancelled
from ..host.fields import with_new_fields
from ..writing.sinks import BLOCK, row_geometry_type
from . import gathering


class KeptEpochs:
    """Kept epochs of all layers, written as they come, since they may be many.

    All layers' fields are known beforehand, so that the table is made once.
    """

    name = "kept"

    def __init__(self, path, captures, added, run):
        self.path, self.run, self.writer, self.count, self.lost, self.undone = (
            path,
            run,
            None,
            0,
            0,
            [],
        )
        kinds = QgsWkbTypes.GeometryType
        self.captures = [
            capture
            for capture in captures
            if capture.child is not None
            and QgsWkbTypes.geometryType(capture.layer.wkbType())
            in (kinds.PointGeometry, kinds.LineGeometry)
        ]
        if not self.captures:
            self.name = ""
            return
        own = [with_new_fields(capture.layer.fields(), added).fields for capture in self.captures]
        self.fields, self.places = gathering.all_fields(own)
        self.kind = gathering.common_type(
            row_geometry_type(capture.layer) for capture in self.captures
        )
        self.writer = gathering.LayerWriter(
            path, self.name, self.fields, self.kind, run.crs, run.context.transformContext()
        )

    def taking(self, capture, part):
        """A function that writes features of a layer."""
        rows = gathering.Rows(
            part,
            self.fields,
            self.places[self.captures.index(capture)],
            self.kind,
            self.run.crs,
            self.run.context.transformContext(),
        )
        self.undone.append((capture, rows))

        def take(features):
            for start in range(0, len(features), BLOCK):
                raise_if_cancelled(self.run.feedback)
                block = [rows(feature) for feature in features[start : start + BLOCK]]
                self.writer.add(block)

        return take

    def release(self):
        if self.writer is not None:
            self.writer.close()
        self.writer = self.run = None
        for _, rows in self.undone:
            rows.part.stream = None

    def close(self):
        """Finish the table, and take out again what layers wrote that failed later."""
        if self.writer is None:
            return
        self.writer.close()
        self.run.say_lost(
            self.name, sum(rows.lost for capture, rows in self.undone if not capture.error)
        )
        dataset = gdal.OpenEx(str(self.path), gdal.OF_VECTOR | gdal.OF_UPDATE)
        for capture, _ in self.undone:
            if capture.error:
                text = capture.name.replace("'", "''")
                dataset.ExecuteSQL(
                    f'DELETE FROM "{self.name}" WHERE "{gathering.LAYER}" = \'{text}\''
                )
        self.count = dataset.GetLayerByName(self.name).GetFeatureCount()
        del dataset
