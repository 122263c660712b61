"""Walks that are in two capture layers of one run: a copy of a file, or a layer exported anew."""

from qgis.core import QgsCsException

from ...shared.tuning import LAYER_COPIES
from .walk_marks import ENDED, STARTED, walk_mark


class Copies:
    """Edges of the layers that came before, by what they were walked as."""

    def __init__(self):
        self.seen = {}

    def of(self, name, edges, way):
        """Layers that hold the same walks as one that comes now.

        Parameters
        ----------
        name : str
            Of the layer.
        edges : list of QgsFeature
        way : QgsCoordinateTransform
            From its CRS to that of the results.

        Returns
        -------
        list of tuple of str and int
            Each other layer that holds `LAYER_COPIES.share` of its edges or more, and how many: of
            the same capture, times, number of epochs and place.
        """
        in_degrees = way.destinationCrs().isGeographic()
        near = LAYER_COPIES.near_degrees if in_degrees else LAYER_COPIES.near
        counts, own = {}, []
        for edge in edges:
            mark = walk_mark(edge.__getitem__, (STARTED, ENDED))
            if mark is None:
                continue
            walked = (*mark, edge["epochs_used"])
            place = _middle(edge, way)
            own.append((walked, place))
            for other in {
                layer
                for layer, there in self.seen.get(walked, ())
                if place is not None and there is not None and place.distance(there) <= near
            }:
                counts[other] = counts.get(other, 0) + 1
        for walked, place in own:
            self.seen.setdefault(walked, []).append((name, place))
        enough = LAYER_COPIES.share * len(edges)
        return [(other, number) for other, number in counts.items() if number >= enough]


def _middle(edge, way):
    """Of the box around an edge, in the CRS of the results; None where it has no place there."""
    middle = edge.geometry().boundingBox().center()
    try:
        return way.transform(middle) if way.isValid() else middle
    except QgsCsException:
        return None
