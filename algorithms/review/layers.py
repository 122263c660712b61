"""Which layer plays which part in a review, and what of it can be read in another thread."""

from dataclasses import dataclass

from qgis.core import QgsFeatureRequest, QgsVectorLayerFeatureSource, QgsWkbTypes

from ..host.fields import spelling
from ..host.figures import translate
from ..reading.layer_stream import file_behind

LINES, EXISTING = "lines", "existing"
EDGES, KEPT, REJECTED = "edges", "kept", "rejected"
STATIONS, EDGE_STATIONS, DISAGREEMENTS = "stations", "edge_stations", "disagreements"
UPDATED, CHANGES, RUN_LOG, REPAIRS = "updated", "changes", "run_log", "repairs"
# layers of a results folder by part; of several the first one that is there
OF_FOLDER = {
    LINES: ("comparison", "merged", "edges"),
    EXISTING: ("existing_status",),
    EDGES: ("edges",),
    KEPT: ("kept",),
    REJECTED: ("rejected",),
    STATIONS: ("stations",),
    DISAGREEMENTS: ("disagreements",),
    UPDATED: ("updated",),
    CHANGES: ("changes",),
    RUN_LOG: ("run_log",),
    REPAIRS: ("repairs",),
}
DECIDED = (LINES, EXISTING)  # layers that people decide on
POINT, LINE = QgsWkbTypes.GeometryType.PointGeometry, QgsWkbTypes.GeometryType.LineGeometry
# fields that only a layer of that part has, and some that it must not have
_KNOWN_BY = (
    (CHANGES, LINE, ("change_id", "what", "existing_id"), ()),
    (UPDATED, LINE, ("update", "update_edges", "updated_at"), ()),
    (DISAGREEMENTS, LINE, ("disagreement_id", "offset_max"), ()),
    (EXISTING, LINE, ("status", "line_id", "visited_share"), ("sigma_cross", "epochs_used")),
    (LINES, LINE, ("edge_id", "sigma_cross"), ("gap_id", "element")),
    (KEPT, POINT, ("edge_id", "chainage", "residual_cross"), ()),
    (REJECTED, POINT, ("reason", "detail"), ("edge_id",)),
    (STATIONS, POINT, ("edge_line_id", "edge_chainage", "offset"), ()),
    (EDGE_STATIONS, POINT, ("edge_id", "chainage", "slope", "sigma_cross"), ("role",)),
)

# what a layer must have to be read in a part at all, where that is less than what tells it
_READ_BY = {
    LINES: ("edge_id",),
    EDGES: ("edge_id",),
    EXISTING: ("status",),
    KEPT: ("edge_id",),
    REJECTED: ("reason",),
}


def tr(text):
    return translate("ReviewLayers", text)


def part_of(layer):
    """Part that a layer can play, by its geometry and fields; empty where it can play none.

    Parameters
    ----------
    layer : QgsVectorLayer

    Returns
    -------
    str
    """
    fields, form = layer.fields(), layer.geometryType()
    for part, geometry, needed, without in _KNOWN_BY:
        if (
            form == geometry
            and all(spelling(fields, name) for name in needed)
            and not any(spelling(fields, name) for name in without)
        ):
            return part
    return ""


def can_play(layer, part):
    """Whether a layer can play a part: its geometry and fields allow it, and do not say that it is
    made for another one.

    Parameters
    ----------
    layer : QgsVectorLayer
    part : str
        One with a geometry.

    Returns
    -------
    bool
    """
    told = part_of(layer)
    if told:
        return told == (LINES if part == EDGES else part)
    known = {name: (geometry, needed, without) for name, geometry, needed, without in _KNOWN_BY}
    geometry, needed, without = known[LINES if part == EDGES else part]
    return (
        layer.geometryType() == geometry
        and all(spelling(layer.fields(), name) for name in _READ_BY.get(part, needed))
        and not any(spelling(layer.fields(), name) for name in without)
    )


def preference(layer):
    """Smaller for lines that tell more: compared, then merged, then others."""
    names = [bool(spelling(layer.fields(), name)) for name in ("status", "passes")]
    return 0 if names[0] else 1 if names[1] else 2


@dataclass(frozen=True)
class Snapshot:
    """A layer as it stands, edits not yet saved included; may be read in any thread.

    The methods are those of a source of features, so that what reads sources reads it as well.
    """

    features: QgsVectorLayerFeatureSource
    names: object  # QgsFields
    crs: object
    title: str
    count: int
    form: object  # WKB type
    transforms: object  # QgsCoordinateTransformContext
    file: object = None  # that may be streamed in its place

    def fields(self):
        return self.names

    def sourceCrs(self):
        return self.crs

    def sourceName(self):
        return self.title

    def featureCount(self):
        return self.count

    def wkbType(self):
        return self.form

    def getFeatures(self, request=None, flags=None):
        return self.features.getFeatures(request or QgsFeatureRequest())

    def filtered(self, expression, rectangle=None):
        """The same layer with only what an expression lets pass, and what a rectangle meets."""
        return _Filtered(self, expression, rectangle)


class _Filtered:
    """A snapshot with a filter; see `Snapshot`."""

    def __init__(self, whole, expression, rectangle):
        self._whole, self._expression, self._rectangle = whole, expression, rectangle

    def __getattr__(self, name):
        return getattr(self._whole, name)

    def featureCount(self):
        return -1

    def getFeatures(self, request=None, flags=None):
        request = request or QgsFeatureRequest()
        if self._expression:
            request.setFilterExpression(self._expression)
        if self._rectangle is not None:
            request.setFilterRect(self._rectangle)
        return self._whole.features.getFeatures(request)


def snapshot(layer, transforms):
    """Take a layer as it stands. For the thread that the layer lives in.

    Parameters
    ----------
    layer : QgsVectorLayer
    transforms : QgsCoordinateTransformContext

    Returns
    -------
    Snapshot
    """
    return Snapshot(
        QgsVectorLayerFeatureSource(layer),
        layer.fields(),
        layer.crs(),
        layer.name(),
        layer.featureCount(),
        layer.wkbType(),
        transforms,
        file_behind(layer, layer),
    )
