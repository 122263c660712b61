"""What the report of a comparison says in sentences."""

import numpy as np

from ..lines.comparison import (
    AGREES,
    DISPLACED,
    NOT_VISITED,
    ONLY_EXISTING,
    ONLY_NEW,
    PARTLY,
)
from ..lines.offsets import of_layer
from .page import number, percent

TITLES = {
    AGREES: "agrees",
    DISPLACED: "displaced",
    PARTLY: "partly matched",
    ONLY_NEW: "only new",
    ONLY_EXISTING: "only existing",
    NOT_VISITED: "not visited",
}
MEANINGS = {
    AGREES: "has a counterpart, and lies no farther from it than the uncertainty of both allows",
    DISPLACED: "has a counterpart, but lies farther from it than the uncertainty of both allows",
    PARTLY: "less than four fifths of it are of one kind: matched in part, or displaced in part",
    ONLY_NEW: "an edge without a counterpart among the existing lines",
    ONLY_EXISTING: "an existing line without a counterpart among the edges",
    NOT_VISITED: "an existing line outside the surveyed area: nothing is said of it",
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
    """Number of lines; rows without length are none.

    Parameters
    ----------
    statistics : LineStatistics

    Returns
    -------
    int
    """
    return int(np.count_nonzero(statistics.length > 0))


def _counted(count, one, several):
    return f"{count:,} {one if count == 1 else several}"


def _lines(count, what="existing line"):
    return f"{count:,} {what}{'' if count == 1 else 's'}"


def limits(comparison):
    """Median and maximum limit over the matched stations, metres; NaN where there are none.

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
        Place in `comparison.STATUS_NAMES`.

    Returns
    -------
    LayerStatistics
        Without the greatest distance, which is taken over whole layers.
    """
    stations = comparison.stations
    mine = comparison.existing_statistics.status[stations.existing] == status
    return of_layer(stations.offset[mine], stations.up[mine], stations.weight[mine], np.nan)


def findings(comparison):
    """The answer in a few sentences of plain text.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    list of str
    """
    said = [counts_in_words(comparison), shift_in_words(comparison)]
    if len(comparison.stations):
        said.insert(0, verdicts_in_words(comparison))
    typical, greatest = limits(comparison)
    if np.isfinite(typical):
        said += [limit_in_words(comparison, typical, greatest), offsets_in_words(comparison)]
    return said


def verdict(comparison, crs_warning=""):
    """What stands first on the first page; what makes the shift doubtful stands beside it.

    Parameters
    ----------
    comparison : Comparison
    crs_warning : str

    Returns
    -------
    list of str
        Plain text.
    """
    said = [counts_in_words(comparison), shift_in_words(comparison)]
    if len(comparison.stations):
        said.insert(0, verdicts_in_words(comparison))
    if crs_warning:
        said.append(crs_warning)
    if len(comparison.stations):
        said.append(offsets_in_words(comparison))
    return said


def verdicts_in_words(comparison):
    """How many existing lines are displaced with the shift left in, and without it.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    str
        Plain text.
    """
    left_in, taken_out = comparison.displaced_with_shift[0], comparison.displaced_without_shift[0]
    if not comparison.shift.significant:
        return (
            f"Displaced: {_lines(taken_out)}. The layer as a whole is not shifted significantly, so"
            " there is one verdict only."
        )
    return (
        f"Displaced: {_lines(left_in)} with the shift of the whole layer left in, {taken_out:,}"
        " with it taken out. What follows has it"
        f" {'taken out' if comparison.shift_removed else 'left in'}."
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
        return (
            f"Nothing matches: no edge lies within {number(comparison.settings.max_offset, 2)} m of"
            " an existing line that runs its way. Check the CRS of both layers before anything"
            " else."
        )
    parts = [
        _counted(comparison.count(existing, status), *words)
        for status, words in (
            (AGREES, ("agrees with the edges", "agree with the edges")),
            (DISPLACED, ("is displaced", "are displaced")),
            (PARTLY, ("matches in part", "match in part")),
            (ONLY_EXISTING, ("has no counterpart", "have no counterpart")),
            (NOT_VISITED, ("was not visited", "were not visited")),
        )
        if status != NOT_VISITED or comparison.count(existing, NOT_VISITED)
    ]
    new = _counted(
        comparison.count(edges, ONLY_NEW),
        "is not in the existing layer",
        "are not in the existing layer",
    )
    return (
        f"Of {_lines(present(existing))} ({metres(comparison.existing_length, 0)}),"
        f" {', '.join(parts[:-1])} and {parts[-1]}. Of {_lines(present(edges), 'edge')},"
        f" {new}."
    )


def limit_in_words(comparison, typical, greatest):
    """From which offset on a line counts as displaced.

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
        else f"{number(typical, 2)} m typically, {number(greatest, 2)} m at most"
    )
    of_edges = (
        "none of the edges, since no uncertainty of theirs was given."
        if comparison.sigma_assumed
        else "that of each edge."
    )
    return (
        "An offset counts as a displacement only where it is greater than the combined"
        f" uncertainty of both layers at {level} confidence: {span}. It is made of the stated"
        " uncertainty of the existing lines (1-sigma"
        f" {number(comparison.settings.existing_sigma, 3)} m) and {of_edges}"
    )


def offsets_in_words(comparison):
    """How great the offsets are: what agrees and what moved have figures of their own.

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
            f"; heights: mean {number(agreeing.up_mean, 3, True)} m, RMSE"
            f" {number(agreeing.up_rmse)} m"
            if np.isfinite(agreeing.up_rmse)
            else ""
        )
        said.append(
            f"Lines that agree lie typically {number(agreeing.typical)} m apart over"
            f" {metres(agreeing.matched_length, 0)} (RMSE {number(agreeing.offset_rmse)} m, 95 %"
            f" within {number(agreeing.offset_p95)} m{heights})."
        )
    if moved.stations:
        said.append(_moved_in_words(comparison.existing_statistics))
    if not said:
        layer = comparison.layer
        said.append(
            f"Over {metres(layer.matched_length, 0)} of matched line offsets are typically"
            f" {number(layer.typical)} m, 95 % within {number(layer.offset_p95)} m."
        )
    return " ".join(said)


def _moved_in_words(existing):
    """By how much the displaced lines moved."""
    moved = existing.moved[(existing.status == DISPLACED) & (existing.length > 0)]
    moved = moved[np.isfinite(moved)]
    if not moved.size:
        return "How far the displaced lines moved as wholes cannot be determined."
    least, most = (number(value, 2) for value in (moved.min(), moved.max()))
    span = f"{least} m" if least == most else f"{least} to {most} m"
    return f"{_counted(moved.size, 'displaced line moved', 'displaced lines moved')} by {span}."


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
        return (
            f"Whether the existing layer as a whole is shifted cannot be determined: {shift.reason}"
        )
    if not shift.determined and np.isfinite(shift.across):
        seen = (
            f"The lines all run one way (azimuth {number(shift.undetermined_azimuth, 0)}°), so a"
            " shift along it is undetermined. Across it the existing layer lies"
            f" {number(shift.across, 3, True)} m to the right (1-sigma"
            f" {number(shift.sigma_across)} m)"
        )
    elif shift.determined:
        seen = (
            f"As a whole the existing layer lies {_towards(shift.east, 'east', 'west')} and"
            f" {_towards(shift.north, 'north', 'south')} of the edges (1-sigma"
            f" {number(shift.sigma_east)} and {number(shift.sigma_north)} m)"
        )
    else:
        return (
            "Whether the existing layer as a whole is shifted cannot be determined from these"
            " lines."
        )
    if not shift.significant:
        return (
            f"{seen}. That is no more than chance: there is no shift of the whole layer to"
            " speak of."
        )
    if comparison.shift_removed:
        return (
            f"{seen}. That is more than chance: a shift of the whole layer, which was taken out"
            " before anything was judged."
        )
    return (
        f"{seen}. That is more than chance: a shift of the whole layer. It was not taken out, so"
        " part of what counts as displaced below is the shift and no change of the place."
    )


def _towards(value, positive, negative):
    return f"{number(abs(value))} m to the {positive if value >= 0 else negative}"


def method(comparison):
    """How it was done and after whom, a paragraph each.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    list of str
        Plain text.
    """
    settings = comparison.settings
    return [
        (
            "Lines are matched along their length, not feature to feature: by direction, overlap"
            " and continuity, within the search distance. One edge may lie along several existing"
            " lines and the other way round; the direction of digitising does not matter."
        ),
        (
            f"Offsets are taken at stations no farther than {metres(settings.station_spacing)}"
            " apart, perpendicular to the existing line, + where the edge lies to its right. All"
            " figures are metres on the ground; heights are the edge's minus the existing line's,"
            " where both have them."
        ),
        (
            "Significance: the limit at each station is the normal quantile at the chosen"
            " confidence times the combined 1-sigma of both lines, √(edge² + existing²). An offset"
            " is one signed value, so factors of the one-dimensional normal distribution apply"
            " (1.9600 at 95 %). Among many lines a few pass the limit by chance: lines are called"
            " displaced only as far as such finds stay below one minus the confidence of all so"
            " called (Y. Benjamini and Y. Hochberg, J. R. Stat. Soc. B 57, 1995)."
        ),
        (
            "Shift: robust least squares on the normals of the lines, so that lines which really"
            " moved do not spoil it; lines, not stations, count as independent."
        ),
        (
            "Completeness and correctness: simple buffer method (M. F. Goodchild and G. J. Hunter,"
            " A simple positional accuracy measure for linear features, IJGIS 11(3), 1997). In the"
            " terms of ISO 19157, what is only new is omission and what is only existing is"
            " commission of the existing layer, by length."
        ),
        (
            "Robust spread (“typically”): 1.4826 times the median offset without sign, which is"
            " what the RMSE would be without the lines that really moved."
        ),
        (
            "Moved: the shortest rigid motion (translation and rotation) that explains the offsets"
            " of a line best, from the existing line to the edge, with the azimuth from north of"
            " the edges' CRS towards east. A line that was visited in part is judged on that part."
        ),
        (
            "Area between the lines: mean offset without sign for each metre of matched existing"
            " line. Hausdorff distance: over the matched stretches, both lines densified."
        ),
    ]


def own_cautions(comparison):
    """Cautions that belong to comparisons alone.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    list of str
        Plain text.
    """
    said = [
        "“Only existing” means that no edge was found there although it lies in the surveyed area:"
        " the thing may be gone, or it was passed over. Look before lines are deleted. “Not"
        " visited” says nothing of a line."
    ]
    if comparison.sigma_assumed:
        said.append(
            "No uncertainty of the edges was given: it counts as zero, and offsets look more"
            " significant than they are."
        )
    said.append(
        f"The uncertainty of the existing lines ({number(comparison.settings.existing_sigma, 3)} m)"
        " is an assumption of whoever ran the comparison. Everything that is called displaced"
        " rests on it."
    )
    return said
