"""Sentences of the report of a comparison."""

import numpy as np

from ..language import counted, marked, number, tr, whole
from ..lines.comparison_results import (
    AGREES,
    DISPLACED,
    NOT_VISITED,
    ONLY_EXISTING,
    ONLY_NEW,
    PARTLY,
)
from ..lines.offsets import of_layer
from .page import displacement, percent

TITLES = {
    AGREES: marked("agrees"),
    DISPLACED: marked("displaced"),
    PARTLY: marked("partly matched"),
    ONLY_NEW: marked("only new"),
    ONLY_EXISTING: marked("only existing"),
    NOT_VISITED: marked("not visited"),
}
_SAID = {  # how many lines have each status, in the singular and the plural
    AGREES: (marked("{} agrees with the edges"), marked("{} agree with the edges")),
    DISPLACED: (marked("{} is displaced"), marked("{} are displaced")),
    PARTLY: (marked("{} matches in part"), marked("{} match in part")),
    ONLY_EXISTING: (marked("{} has no counterpart"), marked("{} have no counterpart")),
    NOT_VISITED: (marked("{} was not visited"), marked("{} were not visited")),
}
MEANINGS = {
    AGREES: marked(
        "has a counterpart, and lies no farther from it than the uncertainty of both allows"
    ),
    DISPLACED: marked(
        "has a counterpart, but lies farther from it than the uncertainty of both allows"
    ),
    PARTLY: marked(
        "less than four fifths of it are of one kind: matched in part, or displaced in part"
    ),
    ONLY_NEW: marked("an edge without a counterpart among the existing lines"),
    ONLY_EXISTING: marked("an existing line without a counterpart among the edges"),
    NOT_VISITED: marked("an existing line outside the surveyed area: nothing is said of it"),
}


def metres(value, decimals=2):
    """A length as printed, with its unit.

    Parameters
    ----------
    value : float
    decimals : int

    Returns
    -------
    str
        Plain text.
    """
    return f"{number(value, decimals)} m"


def present(statistics):
    """Number of lines; rows without length do not count.

    Parameters
    ----------
    statistics : LineStatistics

    Returns
    -------
    int
    """
    return int(np.count_nonzero(statistics.length > 0))


def title(status):
    """Title of a status.

    Parameters
    ----------
    status : int
        Place in `comparison_results.STATUS_NAMES`.

    Returns
    -------
    str
        Plain text.
    """
    return tr(TITLES[status])


def _existing(count):
    """A number of existing lines in words."""
    return counted(count, marked("{} existing line"), marked("{} existing lines"))


def limits(comparison):
    """Median and maximum limit over the matched stations, metres; NaN for none.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    typical, greatest : float
    """
    limit = comparison.stations.limit
    return (float(np.median(limit)), float(np.max(limit))) if len(limit) else (np.nan, np.nan)


def offsets_of(comparison, status):
    """Statistics of the offsets along the existing lines of one status.

    Parameters
    ----------
    comparison : Comparison
    status : int
        Place in `comparison_results.STATUS_NAMES`.

    Returns
    -------
    LayerStatistics
        Without the Hausdorff distance, which is taken over whole layers.
    """
    stations = comparison.stations
    mine = comparison.existing_statistics.status[stations.existing] == status
    return of_layer(stations.offset[mine], stations.up[mine], stations.weight[mine], np.nan)


def verdict(comparison, crs_warning=""):
    """The sentences at the top of the first page.

    Parameters
    ----------
    comparison : Comparison
    crs_warning : str
        Reason to doubt the shift, put next to it; empty for none.

    Returns
    -------
    list of str
        Plain text.
    """
    shift = " ".join(filter(None, (shift_in_words(comparison), crs_warning)))
    if not len(comparison.stations):
        return [counts_in_words(comparison), shift]
    if comparison.shift.significant:
        shift = " ".join((shift, displaced_in_words(comparison)))
    return [counts_in_words(comparison), shift, offsets_in_words(comparison)]


def displaced_in_words(comparison):
    """How many existing lines are displaced with a shift left in, and without it.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    str
        Plain text.
    """
    left_in, taken_out = comparison.displaced_with_shift[0], comparison.displaced_without_shift[0]
    return tr("Displaced with the shift left in: {}; with it taken out: {}.").format(
        _existing(left_in), whole(taken_out)
    )


def counts_in_words(comparison):
    """How many lines have each status.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    str
        Plain text.
    """
    existing, edges = comparison.existing_statistics, comparison.edge_statistics
    if not len(comparison.stations):
        return tr(
            "Nothing matches: no edge lies within {} m of an existing line that runs its way. Check"
            " the CRS of both layers before anything else."
        ).format(number(comparison.settings.max_offset, 2))
    parts = [
        counted(comparison.count(existing, status), *words)
        for status, words in _SAID.items()
        if status != NOT_VISITED or comparison.count(existing, NOT_VISITED)
    ]
    new = counted(
        comparison.count(edges, ONLY_NEW),
        marked("{} is not in the existing layer"),
        marked("{} are not in the existing layer"),
    )
    text = tr("Of {} ({}), {} and {}. Of {}, {}.").format(
        _existing(present(existing)),
        metres(comparison.existing_length, 0),
        ", ".join(parts[:-1]),
        parts[-1],
        counted(present(edges), marked("{} edge"), marked("{} edges")),
        new,
    )
    moved = comparison.count(edges, DISPLACED)
    if moved <= comparison.count(existing, DISPLACED):
        return text
    # a long line that was walked in part is matched in part, wherever its other part lies
    beside = counted(
        moved,
        marked("{} edge lies beside a displaced part of an existing line."),
        marked("{} edges lie beside displaced parts of existing lines."),
    )
    return f"{text} {beside}"


def limit_in_words(comparison, typical, greatest):
    """The offset from which on a line counts as displaced.

    Parameters
    ----------
    comparison : Comparison
    typical, greatest : float
        Limits over the matched stations, metres.

    Returns
    -------
    str
        Plain text.
    """
    confidence = comparison.settings.confidence
    level = percent(confidence, 1 if round(100 * confidence, 6) % 1 else 0)
    span = (
        f"{number(typical, 2)} m"
        if greatest - typical < 0.005
        else tr("{} m typically, {} m at most").format(number(typical, 2), number(greatest, 2))
    )
    of_edges = (
        tr("none of the edges, since no uncertainty of theirs was given.")
        if comparison.sigma_assumed
        else tr("that of each edge.")
    )
    return tr(
        "An offset counts as a displacement only where it is greater than the combined uncertainty"
        " of both layers at {} confidence: {}. It is made of the stated uncertainty of the existing"
        " lines (1-sigma {} m) and {}"
    ).format(level, span, number(comparison.settings.existing_sigma, 3), of_edges)


def offsets_in_words(comparison):
    """How great the offsets are, separately for lines that agree and lines that moved.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    str
        Plain text.
    """
    agreeing, moved = (offsets_of(comparison, status) for status in (AGREES, DISPLACED))
    said = []
    if agreeing.stations:
        heights = (
            tr("; heights: mean {} m, RMSE {} m").format(
                number(agreeing.up_mean, 3, True), number(agreeing.up_rmse)
            )
            if np.isfinite(agreeing.up_rmse)
            else ""
        )
        said.append(
            tr(
                "Lines that agree lie typically {} m apart over {} (RMSE {} m, 95 % within {} m{})."
            ).format(
                number(agreeing.typical),
                metres(agreeing.matched_length, 0),
                number(agreeing.offset_rmse),
                number(agreeing.offset_p95),
                heights,
            )
        )
    if moved.stations:
        said.append(_moved_in_words(comparison.existing_statistics))
    if not said:
        layer = comparison.layer
        said.append(
            tr("Over {} of matched line offsets are typically {} m, 95 % within {} m.").format(
                metres(layer.matched_length, 0), number(layer.typical), number(layer.offset_p95)
            )
        )
    return " ".join(said)


def _moved_in_words(existing):
    """By how much the displaced lines moved."""
    moved = existing.moved[(existing.status == DISPLACED) & (existing.length > 0)]
    moved = moved[np.isfinite(moved)]
    if not moved.size:
        return tr("How far the displaced lines moved as wholes cannot be determined.")
    least, most = (number(value, 2) for value in (moved.min(), moved.max()))
    span = f"{least} m" if least == most else tr("{} to {} m").format(least, most)
    return counted(
        moved.size,
        marked("{} displaced line moved by {}."),
        marked("{} displaced lines moved by {}."),
        span,
    )


def shift_in_words(comparison):
    """Whether the existing layer as a whole is shifted, and what became of the shift.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    str
        Plain text.
    """
    shift = comparison.shift
    if shift.reason:
        return tr(
            "Whether the existing layer as a whole is shifted cannot be determined: {}"
        ).format(tr(shift.reason))
    if not shift.determined and np.isfinite(shift.across):
        seen = tr(
            "The lines all run one way (azimuth {}°), so a shift along it is undetermined. Across"
            " it the existing layer lies {} m to the right (1-sigma {} m)"
        ).format(
            number(shift.undetermined_azimuth, 0),
            number(shift.across, 3, True),
            number(shift.sigma_across),
        )
    elif shift.determined:
        seen = tr(
            "As a whole the existing layer lies {} m towards {} of the edges (1-sigma {} m east, {}"
            " m north)"
        ).format(
            *displacement(shift.east, shift.north),
            number(shift.sigma_east),
            number(shift.sigma_north),
        )
    else:
        return tr(
            "Whether the existing layer as a whole is shifted cannot be determined from these"
            " lines."
        )
    if not shift.significant:
        return tr(
            "{}. That is no more than chance: there is no shift of the whole layer to speak of."
        ).format(seen)
    if comparison.shift_removed:
        return tr(
            "{}. That is more than chance, and was taken out before anything was judged."
        ).format(seen)
    return tr(
        "{}. That is more than chance: a shift of the whole layer. It was not taken out, so part of"
        " what counts as displaced below is the shift and no change of the place."
    ).format(seen)


# method and sources; the second paragraph takes the spacing of the stations
_METHOD = (
    marked(
        "Lines are matched along their length, not feature to feature: by direction, overlap and"
        " continuity, within the search distance. One edge may lie along several existing lines and"
        " the other way round; the direction of digitising does not matter."
    ),
    marked(
        "Offsets are taken at stations no farther than {} apart, perpendicular to the existing"
        " line, + where the edge lies to its right. All figures are metres on the ground; heights"
        " are the edge's minus the existing line's, where both have them."
    ),
    marked(
        "Significance: the limit at each station is the normal quantile at the chosen confidence"
        " times the combined 1-sigma of both lines, √(edge² + existing²). An offset is one signed"
        " value, so factors of the one-dimensional normal distribution apply (1.9600 at 95 %)."
        " Among many lines a few pass the limit by chance: lines are called displaced only as far"
        " as such finds stay below one minus the confidence of all so called (Y. Benjamini and Y."
        " Hochberg, J. R. Stat. Soc. B 57, 1995)."
    ),
    marked(
        "Shift: robust least squares on the normals of the lines, so that lines which really moved"
        " do not spoil it; lines, not stations, count as independent."
    ),
    marked(
        "Completeness and correctness: simple buffer method (M. F. Goodchild and G. J. Hunter, A"
        " simple positional accuracy measure for linear features, IJGIS 11(3), 1997). In the terms"
        " of ISO 19157, what is only new is omission and what is only existing is commission of the"
        " existing layer, by length."
    ),
    marked(
        "Robust spread (“typically”): 1.4826 times the median offset without sign, which is what"
        " the RMSE would be without the lines that really moved."
    ),
    marked(
        "Moved: the shortest rigid motion (translation and rotation) that explains the offsets of a"
        " line best, from the existing line to the edge, with the azimuth from north of the edges'"
        " CRS towards east. A line that was visited in part is judged on that part."
    ),
    marked(
        "Area between the lines: mean offset without sign for each metre of matched existing line."
        " Hausdorff distance: over the matched stretches, both lines densified."
    ),
)


def method(comparison):
    """Method and sources, a paragraph each.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    list of str
        Plain text.
    """
    spacing = metres(comparison.settings.station_spacing)
    return [tr(paragraph).format(spacing) for paragraph in _METHOD]


def own_cautions(comparison):
    """Cautions that apply only to comparisons.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    list of str
        Plain text.
    """
    said = [
        tr(
            "“Only existing” means that no edge was found there although it lies in the surveyed"
            " area: the thing may be gone, or it was passed over. Look before lines are deleted."
            " “Not visited” says nothing of a line."
        )
    ]
    if comparison.sigma_assumed:
        said.append(
            tr(
                "No uncertainty of the edges was given: it counts as zero, and offsets look more"
                " significant than they are."
            )
        )
    said.append(
        tr(
            "The uncertainty of the existing lines ({} m) is an assumption of whoever ran the"
            " comparison. Everything that is called displaced rests on it."
        ).format(number(comparison.settings.existing_sigma, 3))
    )
    return said
