"""The steps that bring a layer into a local frame, shared by all that read layers.

Read, refuse an empty layer, make the frame and say what it assumes, find the local positions, say
which were lost. Every reader takes the steps that it needs from here.
"""

from dataclasses import dataclass

import numpy as np
from qgis.core import QgsCoordinateTransform, QgsProcessingException, QgsWkbTypes

from ...shared.epochs.accuracies import possible
from ..host.feedback import cancel_check
from ..host.fields import kind, spelling
from ..host.figures import translate
from .frames import Frame, FrameError, make_frame
from .line_layer import read_linework
from .places import area_doubt, middle_of, refuse_exchanged, width_doubt

MAX_SIGMA = 1.0  # m; no edge is known as badly


def tr(text):
    return translate("LayerFrame", text)


@dataclass(frozen=True)
class Located:
    """Positions of a layer in a local frame; arrays of shape (n,).

    Attributes
    ----------
    frame : Frame
    x, y : ndarray of float
        Local metres, NaN where there is no position that the frame can show.
    scale : ndarray of float
        Local metres to a metre on the ground.
    """

    frame: Frame
    x: np.ndarray
    y: np.ndarray
    scale: np.ndarray

    @property
    def there(self):
        """True where there is a position, shape (n,)."""
        return np.isfinite(self.x) & np.isfinite(self.y)


# Fields


def chosen_field(source, name, label):
    """A field that the user chose, as the layer spells it.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    name : str
        In any case, as a look-up does not mind it.
    label : str
        Of the parameter, for the message.

    Returns
    -------
    str

    Raises
    ------
    QgsProcessingException
        If the layer has no such field; the text names layer, field and parameter.
    """
    own = spelling(source.fields(), name) or spelling(source.fields(), name.strip())
    if not own:
        raise QgsProcessingException(
            tr("Layer “{}” has no field “{}” (parameter “{}”). It has: {}.").format(
                source.sourceName(), name, label, names_of(source)
            )
        )
    return own


def names_of(source):
    """The names of a layer's fields in one line, for messages."""
    return ", ".join(source.fields().names()) or tr("no fields at all")


def sigma_field(fields, name):
    """A field with an uncertainty as the layer spells it; empty where there is none of numbers."""
    place = fields.lookupField(name)
    if place < 0 or kind(fields.at(place)) not in ("int", "double"):
        return ""
    return fields.at(place).name()


def reported_sigma(read, name, feedback, note=""):
    """Uncertainty that the rows of a line layer bring along.

    Parameters
    ----------
    read : Linework
    name : str
        From `sigma_field`; empty for none.
    feedback : QgsProcessingFeedback
    note : str
        What is said, with ``{}`` for the field's name, where it is used.

    Returns
    -------
    ndarray of float, shape (rows,)
        1-sigma, metres; 0 where nothing is known.
    """
    if not name:
        return np.zeros(len(read.ids))
    sigma = read.columns[name].numbers()
    known = possible(sigma)
    middle = float(np.median(sigma[known])) if known.any() else 0.0
    if middle > MAX_SIGMA:
        feedback.pushWarning(
            tr(
                "Field “{}” holds values up to {:.4g}, which cannot be the uncertainty of an edge"
                " in metres: it is not used. If it is in another unit, bring it into metres."
            ).format(name, float(sigma[known].max()))
        )
        return np.zeros(len(read.ids))
    odd = known & (sigma > MAX_SIGMA) | np.isinf(sigma) | (sigma < 0)
    if odd.any():
        feedback.pushWarning(
            tr(
                "Field “{}”: values that cannot be the uncertainty of an edge in metres: {}, for"
                " example {:.4g}. For these the median of the others, {:.4g} m, is taken."
            ).format(name, np.count_nonzero(odd), sigma[np.flatnonzero(odd)[0]], middle)
        )
        sigma = np.where(odd, middle, sigma)
    if note:
        feedback.pushInfo(note.format(name))
    return np.where(np.isfinite(sigma) & (sigma >= 0), sigma, 0.0)


def part_numbers(feature):
    """Number of each line among those of its row, from 1; `feature` is sorted, shape (lines,)."""
    return np.arange(len(feature)) - np.searchsorted(feature, feature) + 1


# Layers that cannot be used


def refuse_other_kinds(source, kinds, label):
    """Raise where a layer holds geometries of another kind.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    kinds : list of QgsWkbTypes.GeometryType
        Lines, points, or both.
    label : str
        Of the parameter that chose the layer.
    """
    if QgsWkbTypes.geometryType(source.wkbType()) in kinds:
        return
    if len(kinds) > 1:
        lacking = tr("neither lines nor points")
    elif kinds[0] == QgsWkbTypes.GeometryType.LineGeometry:
        lacking = tr("no lines")
    else:
        lacking = tr("no points")
    raise QgsProcessingException(
        tr("Layer “{}” holds {} ({}). Choose another layer in “{}”.").format(
            source.sourceName(), lacking, QgsWkbTypes.displayString(source.wkbType()), label
        )
    )


def refuse_empty(source, rows, what):
    """Raise where a layer has no rows; `what` is that which should have been read."""
    if not len(rows):
        raise QgsProcessingException(
            tr(
                "Layer “{}” is empty: there is no {} to read. If a filter or “selected features"
                " only” is set, check it."
            ).format(source.sourceName(), what)
        )


def refuse_without_length(source, with_length, total, feedback):
    """Say how many rows of a line layer have no length; raise where all of them have none.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    with_length, total : int
        Numbers of rows.
    feedback : QgsProcessingFeedback

    Raises
    ------
    QgsProcessingException
    """
    if total > with_length:
        feedback.pushWarning(
            tr("Layer “{}”: rows left out, with no geometry, or no length: {}.").format(
                source.sourceName(), total - with_length
            )
        )
    if not with_length:
        raise QgsProcessingException(
            tr(
                "Layer “{}”: no row holds a line with a length. Check its geometry, or choose"
                " another layer."
            ).format(source.sourceName())
        )


# One layer


def locate(source, x, y, transform_context, feedback, working_crs=None, in_place=False):
    """Make the frame of a layer and find its positions there; what is assumed is said.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    x, y : ndarray of float, shape (n,)
        As in the layer; changed where they are out of the CRS's range.
    transform_context : QgsCoordinateTransformContext
    feedback : QgsProcessingFeedback
    working_crs : QgsCoordinateReferenceSystem, optional
        See `frames.make_frame`.
    in_place : bool
        The positions are not needed any more: their memory may be used.

    Returns
    -------
    Located

    Raises
    ------
    QgsProcessingException
        If no frame can be made; the text names the layer.
    CancelledError
    """
    crs, middle = source.sourceCrs(), middle_of(x, y)
    refuse_exchanged(source, middle, transform_context)
    outside = area_doubt(source, x, y, middle, transform_context)
    try:
        frame = make_frame(crs, x, y, working_crs, transform_context, middle)
    except FrameError as error:
        raise QgsProcessingException(
            tr("Layer “{}” cannot be used: {}.").format(source.sourceName(), error)
        ) from error
    for sentence in frame.said:
        (feedback.pushInfo if crs.isValid() else feedback.pushWarning)(sentence)
    located = Located(frame, *frame.local(x, y, cancel_check(feedback), in_place))
    for doubt in (outside, width_doubt(source.sourceName(), located.x, located.y)):
        if doubt:
            feedback.pushWarning(doubt)
    return located


def locate_lines(source, names, transform_context, feedback, progress):
    """Read a line layer and find its vertices in a frame of its own.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    names : sequence of str
        Fields to read.
    transform_context : QgsCoordinateTransformContext
    feedback : QgsProcessingFeedback
    progress : callable
        Called with the share that is done, 0 to 1.

    Returns
    -------
    read : Linework
    located : Located

    Raises
    ------
    QgsProcessingException
        If the layer is empty, or no frame can be made; the text names the layer.
    CancelledError
    """
    read = read_linework(source, names, feedback, progress)
    refuse_empty(source, read.ids, tr("edge"))
    located = locate(source, read.x.copy(), read.y.copy(), transform_context, feedback)
    lost = lost_vertices(source.sourceName(), located.there)
    if lost:
        feedback.pushWarning(lost)
    return read, located


def lost_vertices(name, there):
    """A sentence on vertices that have no position; empty where all have one."""
    if there.all():
        return ""
    return tr(
        "Layer “{}”: vertices left out, with no position, or one outside the range of the CRS: {}."
    ).format(name, int(np.count_nonzero(~there)))


def kept_offsets(offsets, there):
    """Offsets of ragged arrays after the vertices that are not `there` have been taken out.

    Returns
    -------
    filled : ndarray of bool, shape (lines,)
        True for lines of which something is left.
    offsets : ndarray of int, shape (lines left + 1,)
    """
    bounds = np.concatenate([[0], np.cumsum(there)])[offsets]
    filled = np.diff(bounds) > 0
    return filled, np.append(bounds[:-1][filled], bounds[-1])


def row_scale(line, offsets, scale, count):
    """Mean scale of each row from that of its vertices; 1 for a row without any.

    Parameters
    ----------
    line : ndarray of int, shape (lines,)
        Row of each line.
    offsets : ndarray of int, shape (lines + 1,)
    scale : ndarray of float, shape (v,)
    count : int
        Number of rows.

    Returns
    -------
    ndarray of float, shape (count,)
    """
    row = np.repeat(line, np.diff(offsets))
    number = np.bincount(row, minlength=count)
    mean = np.bincount(row, scale, count) / np.maximum(number, 1)
    return np.where(number > 0, mean, 1.0)


# Several layers


def refuse_mixed_crs(first, second):
    """Raise where one of two layers has a CRS and the other has none."""
    own, other = first.sourceCrs().isValid(), second.sourceCrs().isValid()
    if own == other:
        return
    without, with_one = (second, first) if own else (first, second)
    raise QgsProcessingException(
        tr(
            "Layer “{}” has no CRS but layer “{}” has one, so they cannot be brought together."
            " Assign the CRS of “{}” (Layer Properties, Source)."
        ).format(without.sourceName(), with_one.sourceName(), without.sourceName())
    )


def way_into(crs, source, transform_context):
    """The transform from a layer's CRS into another one.

    Parameters
    ----------
    crs : QgsCoordinateReferenceSystem
    source : QgsProcessingFeatureSource
    transform_context : QgsCoordinateTransformContext

    Returns
    -------
    QgsCoordinateTransform

    Raises
    ------
    QgsProcessingException
        If there is none; the text names the layer.
    """
    own = source.sourceCrs()
    way = QgsCoordinateTransform(own, crs, transform_context)
    if not way.isValid():
        raise QgsProcessingException(
            tr("Layer “{}” cannot be brought from {} to {}. Reproject it first.").format(
                source.sourceName(), own.userFriendlyIdentifier(), crs.userFriendlyIdentifier()
            )
        )
    return way
