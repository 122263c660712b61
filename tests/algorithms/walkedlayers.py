"""Layers of simulated epochs for the tests of the algorithms."""

import struct

import numpy as np
from qgis.core import (
    QgsApplication,
    QgsCoordinateTransformContext,
    QgsFeature,
    QgsGeometry,
    QgsPoint,
    QgsProcessingContext,
    QgsProcessingFeedback,
    QgsProject,
    QgsVectorFileWriter,
    QgsVectorLayer,
)

START = 1777888800.0  # 2026-05-04T10:00:00Z
ORIGIN = (500000.0, 6200000.0)


class Log(QgsProcessingFeedback):
    """Keeps what an algorithm says; can cancel at a percentage or after a number of looks."""

    def __init__(self, cancel_at=None):
        super().__init__(False)
        self.infos, self.warnings, self.errors = [], [], []
        self.cancel_at, self.highest = cancel_at, 0.0
        self.progressChanged.connect(self._watch)

    def _watch(self, percent):
        self.highest = max(self.highest, percent)
        if self.cancel_at is not None and percent >= self.cancel_at:
            self.cancel()

    def pushInfo(self, text):
        self.infos.append(text)

    def pushWarning(self, text):
        self.warnings.append(text)

    def reportError(self, text, fatalError=False):
        self.errors.append(text)

    @property
    def text(self):
        return "\n".join(self.infos + self.warnings + self.errors)


def walk(seed=1, captures=2, epochs=60):
    """Epochs along an L of two captures: columns of x, y, z (metres), seconds, fix, h_acc, capture.

    With a float spell, a poor spell, a spike and standing still, so that most reasons occur.
    """
    rng = np.random.default_rng(seed)
    rows = []
    for capture in range(captures):
        along = np.minimum(np.arange(epochs), epochs - 8) * 1.2  # the last epochs stand still
        corner = 0.4 * along[-1]
        x = np.minimum(along, corner) + 100.0 * capture
        y = np.maximum(along - corner, 0.0)
        noise = rng.normal(0, 0.006, (3, epochs))
        x, y, z = x + noise[0], y + noise[1], 4.0 + 0.01 * along + 1.5 * noise[2]
        fix = np.full(epochs, 4)
        fix[25:28] = 5
        accuracy = np.full(epochs, 0.008)
        accuracy[33] = 0.2
        y[38] += 1.5
        for i in range(epochs):
            rows.append(
                (
                    float(x[i]),
                    float(y[i]),
                    float(z[i]),
                    START + 1000.0 * capture + i,
                    int(fix[i]),
                    float(accuracy[i]),
                    f"walk {capture + 1}",
                )
            )
    return [dict(zip(("x", "y", "z", "seconds", "fix", "h_acc", "capture"), row)) for row in rows]


def iso(seconds, suffix="Z"):
    return str(np.datetime64(round(seconds * 1000), "ms")) + suffix


FIELDS = (("time", "string"), ("fix", "integer"), ("h_acc", "double"), ("capture", "string"))


def layer_of(
    rows,
    geometry="PointZ",
    crs="EPSG:32632",
    fields=FIELDS,
    place=None,
    name="quay walk",
    values=None,
):
    """Memory layer of epochs.

    `place` turns (x, y, z) in metres into a QgsGeometry; `values` turns a row into its attributes.
    """
    definition = (
        geometry
        + (f"?crs={crs}" if crs else "?crs=")
        + "".join(f"&field={field}:{kind}" for field, kind in fields)
    )
    layer = QgsVectorLayer(definition, name, "memory")
    assert layer.isValid()
    features = []
    for row in rows:
        feature = QgsFeature(layer.fields())
        if row.get("x") is not None:
            if place is not None:
                feature.setGeometry(place(row["x"], row["y"], row["z"]))
            else:
                feature.setGeometry(
                    QgsGeometry(QgsPoint(ORIGIN[0] + row["x"], ORIGIN[1] + row["y"], row["z"]))
                )
        if values is not None:
            feature.setAttributes(values(row))
        else:
            feature.setAttributes([iso(row["seconds"]), row["fix"], row["h_acc"], row["capture"]])
        features.append(feature)
    done, _ = layer.dataProvider().addFeatures(features)
    assert done, layer.dataProvider().lastError()
    layer.updateExtents()
    return layer


def to_file(layer, path, driver="GPKG", **options):
    """Write a layer to a file and open it."""
    choices = QgsVectorFileWriter.SaveVectorOptions()
    choices.driverName = driver
    for key, value in options.items():
        setattr(choices, key, value)
    error = QgsVectorFileWriter.writeAsVectorFormatV3(
        layer, str(path), QgsCoordinateTransformContext(), choices
    )
    assert error[0] == QgsVectorFileWriter.WriterError.NoError, error
    opened = QgsVectorLayer(str(path), layer.name(), "ogr")
    assert opened.isValid()
    return opened


def raw_point(x, y, z):
    """A point of any coordinates, NaN and infinite ones too."""
    geometry = QgsGeometry()
    geometry.fromWkb(struct.pack("<BI3d", 1, 1001, x, y, z))
    return geometry


def run(algorithm, parameters, log=None):
    """Run an algorithm of ours; memory outputs come back as layers."""
    import processing

    return processing.run(f"curbwright:{algorithm}", parameters, feedback=log or Log())


def reconstruct(layer, log=None, **parameters):
    outputs = dict.fromkeys(("OUTPUT", "GAPS", "REJECTED", "KEPT"), "memory:")
    return run("reconstructedges", {"INPUT": layer, **outputs, **parameters}, log)


def source_of(layer, definition=None):
    """The feature source that an algorithm gets for a layer."""
    algorithm = QgsApplication.processingRegistry().createAlgorithmById("curbwright:screenepochs")
    context = QgsProcessingContext()
    context.setProject(QgsProject.instance())
    source = algorithm.parameterAsSource(
        {"INPUT": definition if definition is not None else layer}, "INPUT", context
    )
    source.kept_alive = (algorithm, context)
    return source


def table(layer):
    """Attributes of all features, in order, as a list of dicts."""
    names = layer.fields().names()
    return [dict(zip(names, feature.attributes())) for feature in layer.getFeatures()]
