"""What the epochs of a table say of each other: heights and accuracies that cannot be."""

from dataclasses import replace

import numpy as np
from qgis.core import QgsProcessingException

from ...shared.epochs.absurd_heights import absurd_heights
from ...shared.epochs.accuracies import beyond_fixed, not_in_metres, possible, scatter
from ...shared.epochs.copies import copied
from ...shared.epochs.walkers import split_walkers
from ...shared.tuning import COPIES
from ..host.figures import translate
from .epoch_values import sorted_texts

MOST_NAMED = 5  # captures that are named one by one


def tr(text):
    return translate("PlausibleTable", text)


def without_doubtful(table, v_field, feedback):
    """Take out heights, and vertical accuracies, that cannot be.

    Parameters
    ----------
    table : EpochTable
    v_field : str
        Field of the vertical accuracies; empty for none.
    feedback : QgsProcessingFeedback
        Told what was taken out.

    Returns
    -------
    EpochTable
    """
    absurd = absurd_heights(table)
    if absurd.any():
        feedback.pushWarning(
            tr(
                "Epochs with heights that do not fit their walk: {}, for example {:.6g} m. They"
                " count as having no height."
            ).format(np.count_nonzero(absurd), table.z[np.flatnonzero(absurd)[0]])
        )
        table = replace(table, z=np.where(absurd, np.nan, table.z))
    if v_field and beyond_fixed(table.sigma_v, table.fixed & possible(table.sigma_v)):
        noise = scatter(table.z, _linked(table))
        sigma = table.sigma_v[table.fixed]
        if not_in_metres(sigma, noise):
            feedback.pushWarning(
                tr(
                    "Field “{}”: a vertical accuracy of {:.4g} m, half of all fixed epochs have a"
                    " greater one, cannot be in metres, as heights differ by {:.3f} m from epoch to"
                    " epoch. It is not used. Bring it into metres."
                ).format(v_field, np.median(sigma[possible(sigma)]), noise)
            )
            table = replace(table, sigma_v=np.full(len(table), np.nan))
    return table


def say_copied(table, name, feedback):
    """Warn where a layer holds a walk twice, with other times: its edges would be double.

    Parameters
    ----------
    table : EpochTable
    name : str
        Of the layer.
    feedback : QgsProcessingFeedback
    """
    share, shift = copied(table)
    if share <= COPIES.most:
        return
    feedback.pushWarning(
        tr(
            "Layer “{}”: {:.0%} of its epochs have the very position of other ones, {:.6g} s"
            " later. A walk seems to be in it twice, with two readings of its times, and its edges"
            " are double. Take one of them out."
        ).format(name, share, shift)
    )


def refuse_other_unit(table, h_field, limit, label):
    """Raise where horizontal accuracies pass the limit but cannot be in metres.

    Parameters
    ----------
    table : EpochTable
    h_field : str
        Field of the accuracies; empty for none.
    limit : float
        Greatest accuracy of a usable epoch, metres.
    label : str
        Of the parameter that sets it.

    Raises
    ------
    QgsProcessingException
        The text names field, values and remedy.
    """
    usable = table.fixed & possible(table.sigma_h) & (table.sigma_h <= limit)
    if not h_field or not beyond_fixed(table.sigma_h, usable):
        return
    linked = _linked(table)
    noise = np.hypot(scatter(table.x, linked), scatter(table.y, linked))
    if not_in_metres(table.sigma_h[usable], noise):
        raise QgsProcessingException(
            tr(
                "Field “{}”: a horizontal accuracy of {:.4g} m, half of the epochs within “{}” have"
                " a greater one, cannot be in metres, as positions scatter by {:.3f} m from epoch"
                " to epoch. Bring it into metres."
            ).format(h_field, np.median(table.sigma_h[usable]), label, noise)
        )


def one_walk_each(table, captures, feedback):
    """Give walks that share a capture at one time a capture each.

    Parameters
    ----------
    table : EpochTable
    captures : list of str
        Text of each capture code.
    feedback : QgsProcessingFeedback
        Told which captures were split.

    Returns
    -------
    table : EpochTable
    captures : list of str
    """
    number = split_walkers(table)
    if number is None:
        return table, captures
    codes = table.capture * (int(number.max()) + 1) + number
    pairs, codes = np.unique(codes, return_inverse=True)
    several = np.bincount(pairs // (int(number.max()) + 1), minlength=len(captures))
    texts = []
    for pair in pairs.tolist():
        capture, walk = divmod(pair, int(number.max()) + 1)
        texts.append(
            f"{captures[capture]} ({walk + 1})".strip()
            if several[capture] > 1
            else captures[capture]
        )
    for capture in np.flatnonzero(several > 1)[:MOST_NAMED].tolist():
        feedback.pushWarning(
            tr(
                "Capture “{}” holds {} walks at the same time (several receivers under one name, or"
                " a clock that was set back): each of them is taken as a capture by itself."
            ).format(captures[capture], several[capture])
        )
    if np.count_nonzero(several > 1) > MOST_NAMED:
        feedback.pushWarning(
            tr("Captures in all that hold several walks at the same time: {}.").format(
                np.count_nonzero(several > 1)
            )
        )
    texts, codes = sorted_texts(texts, codes.reshape(-1))
    return replace(table, capture=codes), texts


def _linked(table):
    """True where an epoch follows another one of its capture in the layer, both fixed."""
    fixed = table.fixed & np.isfinite(table.seconds)
    return (np.diff(table.capture) == 0) & fixed[1:] & fixed[:-1]
