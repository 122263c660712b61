"""What joins two CRS, how well, and what to ask where that is not well enough.

A transformation between two datums is no better than its stated accuracy. One that is known to two
metres, or a plain "ballpark" one, shifts a whole layer by decimetres, which looks like a shift of
the basemap.
"""

import math
from dataclasses import dataclass

from osgeo import osr
from qgis.core import QgsCoordinateReferenceSystem, QgsDatumTransform

from ..host.figures import printed, translate

# m; a shift of a layer is found to a few millimetres, and the basemap is known to a decimetre at
# best (common practice, no source)
GOOD_ENOUGH = 0.10
NAMED = 3  # better operations that are named at most


def tr(text):
    return translate("Operations", text)


@dataclass(frozen=True)
class Operation:
    """The coordinate operation from one CRS to another.

    Attributes
    ----------
    name : str
    accuracy : float
        Stated 1-sigma or so, metres; 0 where nothing is lost, NaN where it is not known.
    ballpark : bool
        No datum shift is applied although the datums differ.
    better : tuple of (str, float, tuple of str)
        Name, stated accuracy in metres and missing grid files of operations that would be better.
    ensembles : tuple of str
        CRS of the two whose datum is an ensemble of several realisations.
    """

    name: str
    accuracy: float
    ballpark: bool
    better: tuple
    ensembles: tuple

    @property
    def doubtful(self):
        """Whether it may shift everything by more than `GOOD_ENOUGH`."""
        return self.ballpark or not self.accuracy <= GOOD_ENOUGH  # NaN is doubtful too


def operation_of(way):
    """The operation that a transform uses.

    Parameters
    ----------
    way : QgsCoordinateTransform

    Returns
    -------
    Operation or None
        None where both CRS are the same or one of them is not known: nothing is transformed.
    """
    crs = way.sourceCrs(), way.destinationCrs()
    if not way.isValid() or way.isShortCircuited():
        return None
    used = way.instantiatedCoordinateOperationDetails()
    name = used.name or way.coordinateOperation() or tr("the only operation there is")
    ballpark = "ballpark" in name.lower()
    accuracy = float(used.accuracy) if used.accuracy >= 0 else math.nan
    if math.isnan(accuracy) and not ballpark and _one_datum(crs):
        accuracy = 0.0
    missing = [
        (
            other.name,
            float(other.accuracy),
            tuple(grid.shortName for grid in other.grids if not grid.isAvailable),
        )
        for other in QgsDatumTransform.operations(*crs)
        if not other.isAvailable and other.accuracy >= 0
    ]
    better = sorted(
        (entry for entry in missing if entry[2] and not accuracy <= entry[1]),
        key=lambda entry: (entry[1], entry[0]),
    )
    ensembles = dict.fromkeys(one.userFriendlyIdentifier() for one in crs if _is_ensemble(one))
    return Operation(
        name=name,
        accuracy=accuracy,
        ballpark=ballpark,
        better=tuple(better[:NAMED]),
        ensembles=tuple(ensembles),
    )


def _one_datum(crs):
    """Whether two CRS rest on one geographic system: a mere conversion joins them, which loses
    nothing. PROJ 9 of the host's later versions states no accuracy of such a one."""
    made = [osr.SpatialReference(), osr.SpatialReference()]
    for one, system in zip(crs, made):
        wkt = one.toWkt(QgsCoordinateReferenceSystem.WktVariant.WKT_PREFERRED)
        if system.ImportFromWkt(wkt) != 0 or system.IsCompound():
            return False
    return bool(made[0].IsSameGeogCS(made[1]))


def _is_ensemble(crs):
    return crs.datumEnsemble().isValid()


def warning_of(operation, labels):
    """What to say where the operation is not good enough.

    Parameters
    ----------
    operation : Operation or None
    labels : tuple of str
        The two layers, in words.

    Returns
    -------
    str
        Empty where there is nothing to warn of.
    """
    if operation is None or not operation.doubtful:
        return ""
    return " ".join(
        (
            _what_joins(operation, labels),
            *_what_is_better(operation),
            *_what_to_ask(operation),
            tr("Until that is settled, do not take a shift between the layers for a change."),
        )
    )


def in_words(way):
    """What a transform does to positions, and how well, for reports.

    Parameters
    ----------
    way : QgsCoordinateTransform

    Returns
    -------
    str
        Empty where nothing is transformed.
    """
    operation = operation_of(way)
    if operation is None:
        return ""
    if operation.ballpark:
        how = tr("no datum shift is applied (“ballpark”)")
    elif math.isnan(operation.accuracy):
        how = tr("accuracy not known")
    elif operation.accuracy == 0:
        how = tr("without loss")
    else:
        how = tr("stated accuracy {} m").format(printed(f"{operation.accuracy:g}"))
    ends = (one.userFriendlyIdentifier() for one in (way.sourceCrs(), way.destinationCrs()))
    return tr("{} to {}, by “{}”: {}").format(*ends, operation.name, how)


def warn_of_operation(way, labels, feedback):
    """Push the warning of a transform's operation, where there is one.

    Parameters
    ----------
    way : QgsCoordinateTransform
    labels : tuple of str
        The two layers, in words.
    feedback : QgsProcessingFeedback

    Returns
    -------
    str
        The warning, empty where the operation is good enough.
    """
    warning = warning_of(operation_of(way), labels)
    if warning:
        feedback.pushWarning(warning)
    return warning


def _what_joins(operation, labels):
    if operation.ballpark:
        how = tr("which applies no datum shift (“ballpark”)")
    elif math.isnan(operation.accuracy):
        how = tr("whose accuracy is not known")
    else:
        how = tr("whose stated accuracy is {} m").format(printed(f"{operation.accuracy:g}"))
    return tr(
        "“{}” and “{}” are joined by the operation “{}”, {}: everything may be shifted by"
        " decimetres or more."
    ).format(*labels, operation.name, how)


def _what_is_better(operation):
    if operation.better:
        yield tr("Better operations only lack a grid file: {}.").format(
            "; ".join(
                tr("“{}” ({} m, {})").format(name, printed(f"{accuracy:g}"), ", ".join(grids))
                for name, accuracy, grids in operation.better
            )
        )


def _what_to_ask(operation):
    if operation.ensembles:
        yield tr(
            "{} stands for several realisations of its datum. Ask in which realisation and at which"
            " epoch the correction service works, and give the layer the CRS of that realisation."
        ).format(", ".join(operation.ensembles))
