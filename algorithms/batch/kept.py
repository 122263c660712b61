"""Kept epochs of all layers, written as they come."""

import sqlite3
from contextlib import closing

from qgis.core import QgsWkbTypes

from ..host.feedback import raise_if_cancelled
from ..host.fields import with_new_fields
from ..host.quotes import sql_name
from ..host.watching import listening, open_file
from ..writing.sinks import BLOCK, row_geometry_type
from ..writing.staging import NotWrittenError
from . import gathering
from .kept_copies import FormerKept, Stretch, mark_of, write_stretches


class KeptEpochs:
    """Kept epochs of all layers, written as they come, since they may be many.

    All layers' fields are known beforehand, so that the table is made once. Rows of layers that are
    as they were are copied from the last run.

    Parameters
    ----------
    path, old : Path
        GeoPackages of this run and of the last one.
    captures : list of Capture
    added : sequence of NewField
        What an epoch gets beside the fields of its source.
    run : Run
    """

    name = "kept"

    def __init__(self, path, old, captures, added, run):
        self.path, self.run, self.writer, self.former = path, run, None, None
        self.count = self.written = self.copied = 0
        self.undone, self.stretches, self.last = [], [], None
        kinds = QgsWkbTypes.GeometryType
        self.captures = [
            capture
            for capture in captures
            if capture.child is not None
            and QgsWkbTypes.geometryType(capture.layer.wkbType())
            in (kinds.PointGeometry, kinds.LineGeometry, kinds.PolygonGeometry)
        ]
        if not self.captures:
            self.name = ""
            return
        self.own = [
            with_new_fields(capture.layer.fields(), added).fields for capture in self.captures
        ]
        self.fields, self.places = gathering.all_fields(self.own)
        self.kind = gathering.common_type(
            row_geometry_type(capture.layer) for capture in self.captures
        )
        self.writer = gathering.LayerWriter(
            path, self.name, self.fields, self.kind, run.crs, run.context.transformContext()
        )
        self.former = FormerKept(old, path, lambda: raise_if_cancelled(run.feedback))

    def copy(self, capture, fits, edges):
        """Copy the rows of a layer from the last run.

        Parameters
        ----------
        capture : Capture
        fits : Fits
            Whose last fit is that of the layer.
        edges : int
            Edges of the layers before.

        Returns
        -------
        bool
            False where they must be written.
        """
        number = self.captures.index(capture)
        places = [0, *self.places[number]]  # the first one says which layer
        filled = [self.fields.at(place) for place in places]
        mark = mark_of(capture, fits.last, self.run, (filled, self.kind), self.former.check)
        self.last = Stretch(capture.name, mark, self.written + 1, 0, edges)
        if not (mark and fits.last_taken_over):
            return False
        self.writer.close()
        stretch = self.former.stretch(capture.name, mark)
        if stretch is None:
            return False
        names = [field.name() for field in filled]
        edge_column = names[1 + self.own[number].names().index("edge_id")]
        self.former.copy(stretch, names, edge_column, edges)
        self.written += stretch.count
        self.copied += stretch.count
        return True

    def finish(self):
        """Note where the rows of a layer stand, now that they are all there."""
        lost = self.undone[-1][1].lost if self.undone else 0
        if self.last is not None and self.last.mark and not lost:
            count = self.written + 1 - self.last.first
            self.stretches.append(self.last._replace(count=count))
        self.last = None

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
                self.written += len(block)

        return take

    def release(self):
        if self.writer is not None:
            self.writer.close()
        if self.former is not None:
            self.former.close()
        self.writer = self.run = self.former = None
        for _, rows in self.undone:
            rows.part.stream = None

    def close(self):
        """Finish the table, and take out again what layers wrote that failed later."""
        if self.writer is None:
            return
        self.writer.finish(self.run.feedback)
        self.former.close()
        self.run.say_lost(
            self.name, sum(rows.lost for capture, rows in self.undone if not capture.error)
        )
        failed = [capture.name for capture, _ in self.undone if capture.error]
        with closing(sqlite3.connect(str(self.path))) as database, database:
            table, layer = sql_name(self.name), sql_name(gathering.LAYER)
            database.executemany(
                f"DELETE FROM {table} WHERE {layer} = ?", [(name,) for name in failed]
            )
            self.count = database.execute(f"SELECT count(*) FROM {table}").fetchone()[0]
        if self.copied:
            self._set_extent()
        if failed:
            self.stretches = []  # rows of a layer that failed may have been left out midway

    def _set_extent(self):
        """Tell the format's own table where the rows lie, which SQL that copies them does not."""
        with listening() as said:
            dataset = open_file(self.path, update=True)
            if dataset is not None:
                shape = sql_name(dataset.GetLayerByName(self.name).GetGeometryColumn())
                ends = ", ".join(
                    f"{end}_{axis} = (SELECT {end}(ST_{end.title()}{axis.upper()}({shape}))"
                    f" FROM {self.name})"
                    for end in ("min", "max")
                    for axis in ("x", "y")
                )
                where = f"WHERE table_name = '{self.name}'"
                dataset.ExecuteSQL(f"UPDATE gpkg_contents SET {ends} {where}")
            del dataset
        if said:
            raise NotWrittenError(said[0])

    def write_stretches(self):
        """Tell the next run where the rows of each layer stand."""
        write_stretches(self.path, self.stretches)
