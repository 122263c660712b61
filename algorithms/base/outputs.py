"""What one run writes: all sinks are made first, so that one that cannot be made stops the run
before anything is written; then they are filled."""

import numpy as np
from qgis.core import QgsFields

from ..host.feedback import raise_if_cancelled
from ..host.fields import fields_of, with_new_fields
from ..host.figures import translate
from ..reading.layer_stream import is_whole
from ..writing import sinks


class Outputs:
    """The outputs of one run.

    Parameters
    ----------
    algorithm : Algorithm
    parameters : dict
    context : QgsProcessingContext
    feedback : QgsProcessingFeedback

    Attributes
    ----------
    results : dict
        What the run returns: destinations and numbers by name.
    """

    def __init__(self, algorithm, parameters, context, feedback):
        self.algorithm, self.parameters = algorithm, parameters
        self.context, self.feedback = context, feedback
        self.results, self.layers, self.kept = {}, [], {}

    def wanted(self, name):
        """True where an optional output is asked for."""
        return self.algorithm.wanted(self.parameters, name)

    def fields(self, name, source, added):
        """The fields of a source followed by new ones; renamed and replaced ones are named in the
        log. The output's writer takes the attributes of all source fields, and leaves out those of
        the replaced ones.

        Parameters
        ----------
        name : str
            Of the output.
        source : QgsProcessingFeatureSource
        added : sequence of NewField

        Returns
        -------
        QgsFields
        """
        fields, renamed, replaced, kept = with_new_fields(source.fields(), added)
        self.kept[name] = kept if replaced else None
        if replaced:
            self.feedback.pushInfo(
                translate("Outputs", "Fields of a former run replaced in “{}”: {}.").format(
                    self.algorithm.label(name), ", ".join(replaced)
                )
            )
        if renamed:
            self.feedback.pushInfo(
                translate("Outputs", "Source fields renamed in “{}”: {}.").format(
                    self.algorithm.label(name),
                    ", ".join("{} → {}".format(*pair) for pair in renamed.items()),
                )
            )
        return fields

    def writer(self, name, fields, geometry_type, crs, style):
        """Make a sink; returns the writer that fills it.

        Parameters
        ----------
        name : str
            Of the output.
        fields : QgsFields
        geometry_type : QgsWkbTypes.Type
        crs : QgsCoordinateReferenceSystem
        style : str or None
            File name; a table has none.
        """
        sink, self.results[name] = self.algorithm.sink(
            self.parameters, name, self.context, fields, geometry_type, crs, style
        )
        writer = self.algorithm.writer(sink, self.parameters, name)
        writer.kept = self.kept.get(name)
        return writer

    def add(self, name, fields, form, style, geometries, columns):
        """Make a sink that `write` fills.

        Parameters
        ----------
        name : str
        fields : QgsFields or sequence of NewField
        form : tuple
            Geometry type and CRS.
        style : str or None
        geometries : iterable of QgsGeometry, or None for a table
        columns : sequence
            One iterable of values for each field.
        """
        if not isinstance(fields, QgsFields):
            fields = fields_of(fields)
        writer = self.writer(name, fields, *form, style)
        self.layers.append((writer, fields, geometries, columns))

    def write(self, start=None, step=0):
        """Fill what `add` made, with progress from `start` percent on by `step` a layer."""
        for number, layer in enumerate(self.layers):
            if start is not None:
                self.feedback.setProgress(start + step * number)
            sinks.write_lines(*layer, self.feedback)
        self.layers.clear()

    def add_source(self, name, of, source, ids, added, style):
        """Make a sink for all rows of a source with further fields.

        Parameters
        ----------
        name : str
            Of the output.
        of : str
            Of the parameter that chose the source.
        source : QgsProcessingFeatureSource
        ids : ndarray of int64, shape (n,)
            Feature ids as they were read.
        added : sequence of NewField
        style : str

        Returns
        -------
        callable
            Takes the columns of the new fields and a progress callback, and writes the rows.
        """
        fields = self.fields(name, source, added)
        writer = self.writer(name, fields, source.wkbType(), source.sourceCrs(), style)
        whole = is_whole(self.parameters.get(of))

        def write(columns, progress):
            targets = [(writer, np.ones(len(ids), bool), columns)]
            sinks.pass_on(source, ids, False, whole, targets, self.feedback, progress)

        return write

    def add_rows(self, source, targets):
        """Make the sinks for those rows of a layer of epochs that go to each output.

        Parameters
        ----------
        source : QgsProcessingFeatureSource
        targets : list of tuple
            Parameter name, mask of the rows (n,), new fields, their columns for the chosen rows,
            style.

        Returns
        -------
        list of tuple
            As `sinks.pass_on` takes it.
        """
        raise_if_cancelled(self.feedback)
        form = sinks.row_geometry_type(source), source.sourceCrs()
        return [
            (self.writer(name, self.fields(name, source, added), *form, style), wanted, columns)
            for name, wanted, added, columns, style in targets
        ]
