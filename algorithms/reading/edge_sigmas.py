"""The uncertainty of edges from a field of their layer, and what is said about it."""

import numpy as np
from qgis.core import QgsProcessingException

from ..host.fields import spelling
from ..host.figures import printed, translate
from . import roles
from .columns import refuse_no_numbers
from .layer_frame import MAX_SIGMA, chosen_field

POOR_SIGMA = 0.15  # m; edges from fixed epochs are known better
SIGMA_NAME = "sigma_cross"  # as `reconstructedges` writes it


def tr(text):
    return translate("EdgeSigmas", text)


def chosen_sigma_field(source, chosen, label):
    """The field with the uncertainty of the edges.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    chosen : str or None
        Empty to look for `SIGMA_NAME`, None for no use of it.
    label : str
        Of the parameter that chooses it, for messages.

    Returns
    -------
    str
        As the layer spells it; empty for none.

    Raises
    ------
    QgsProcessingException
        If the layer has no such field.
    """
    if chosen is None:
        return ""
    return chosen_field(source, chosen, label) if chosen else spelling(source.fields(), SIGMA_NAME)


def sigma_of_edges(read, called, used, log):
    """Uncertainty of every edge, 1-sigma.

    Parameters
    ----------
    read : Linework
    called : tuple of str
        The field, empty for none; the layer and the parameter, for messages.
    used : bool
        False where no uncertainty is asked for, so that nothing is said of a missing one.
    log : object
        Its `say` takes a sentence, and True for a warning.

    Returns
    -------
    ndarray of float, shape (rows,)
        Metres; the median of the others where a row has none, 0 without a field.

    Raises
    ------
    QgsProcessingException
        If what stands there can be no uncertainty; the text names layer and field.
    """
    field = called[0]
    if not field:
        if used:
            log.say(
                tr("Uncertainty of the edges: no field; only that of the existing lines counts.")
            )
        return np.zeros(len(read.ids))
    sigma = _numbers(read.columns[field], called)
    known = np.isfinite(sigma)
    middle = float(np.median(sigma[known])) if known.any() else 0.0
    _say_doubts(sigma[known], middle, called, log)
    if known.all():
        log.say(
            tr("Uncertainty of the edges: field “{}”, median {} m.").format(
                field, printed(f"{middle if len(sigma) else np.nan:.3f}")
            )
        )
        return sigma
    log.say(
        tr(
            "Uncertainty of the edges: field “{}”, rows without a value: {}; for these {} m is"
            " taken."
        ).format(field, int(np.count_nonzero(~known)), printed(f"{middle:.4g}")),
        True,
    )
    return np.where(known, sigma, middle)


def _numbers(column, called):
    """A column as metres, NaN where it is empty; raises where it holds anything else."""
    field, name, label = called
    refuse_no_numbers(column, name, field, label)
    sigma = roles.as_metres(column, field)
    wrong = np.flatnonzero(np.isnan(sigma) & ~column.missing | (sigma < 0) | np.isinf(sigma))
    if wrong.size:
        raise QgsProcessingException(
            tr(
                "Layer “{}”: field “{}” must hold an uncertainty in metres, 0 or greater, for"
                " “{}”, but holds “{}” (rows: {}). Choose another field, correct the values, or"
                " leave it empty."
            ).format(name, field, label, column.take(wrong[:1]).texts()[0], wrong.size)
        )
    return sigma


def _say_doubts(known, middle, called, log):
    """Refuse, or doubt, what can hardly be the uncertainty of edges; `known`: those that are
    stated, `middle`: their median."""
    field, name, label = called
    if middle > MAX_SIGMA:
        raise QgsProcessingException(
            tr(
                "Layer “{}”: field “{}”, chosen in “{}”, has a median of {:.4g}, which cannot be"
                " the uncertainty of an edge in metres. Bring it into metres, choose another field,"
                " or leave it empty."
            ).format(name, field, label, middle)
        )
    if middle > POOR_SIGMA:
        log.say(
            tr(
                "Field “{}” says that edges are known to {} m only (1-sigma): displacements up to"
                " twice that much do not count. If it is in another unit, bring it into metres."
            ).format(field, printed(f"{middle:.3f}")),
            True,
        )
    wild = known[known > MAX_SIGMA]
    if wild.size:
        log.say(
            tr(
                "Field “{0}”: edges with an uncertainty of up to {2} m (1-sigma): {1}. Nothing"
                " along them can count as displaced. Correct the values."
            ).format(field, wild.size, printed(f"{float(wild.max()):.4g}")),
            True,
        )
    if known.size and not known.any():
        log.say(
            tr("Field “{}” is 0 in all rows: edges count as free of errors.").format(field), True
        )
