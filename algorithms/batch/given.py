"""Capture layers as they were given to a run."""

from qgis.core import QgsProcessingUtils


def layers_given(value, context):
    """The layers of a parameter of several layers.

    Parameters
    ----------
    value : object
        As the host or a command line gives it: a list, one layer, or a text with semicolons.
    context : QgsProcessingContext

    Returns
    -------
    list of tuple
        What was given and the layer that it is, None where it cannot be opened.
    """
    given = list(value) if isinstance(value, (list, tuple)) else [] if value is None else [value]
    alone = given[0] if len(given) == 1 and isinstance(given[0], str) else ""
    if alone and QgsProcessingUtils.mapLayerFromString(alone, context) is None:
        given = [part for part in alone.split(";") if part]
    return opened(given, context)


def opened(given, context):
    """Likewise of layers, or texts that name them."""
    return [(one, _layer_of(one, context)) for one in given]


def _layer_of(one, context):
    return QgsProcessingUtils.mapLayerFromString(one, context) if isinstance(one, str) else one
