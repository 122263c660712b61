"""Titles of the layers of a run."""

from ..writing.presentation import alias_of


def title_of(name, tr):
    """Title of a layer of the results, for people.

    Parameters
    ----------
    name : str
    tr : callable
        Translates.

    Returns
    -------
    str
    """
    return {
        "superseded": tr("Changes superseded"),
        "updated": tr("Updated lines"),
        "changes": tr("Changes of existing lines"),
        "held": tr("Held back"),
        "repairs": tr("Repairs"),
        "comparison": tr("Compared edges"),
        "existing_status": tr("Status of existing lines"),
        "stations": tr("Stations"),
        "disagreements": tr("Disagreements"),
        "alignments": tr("Alignments"),
        "elements": tr("Elements"),
        "merged": tr("Merged edges"),
        "edges": tr("Edges"),
        "gaps": tr("Gaps"),
        "rejected": tr("Rejected epochs"),
        "kept": tr("Kept epochs"),
        "passes": tr("Passes"),
        "revisits": tr("Places to revisit"),
        "revisit_reasons": tr("Reasons to revisit"),
        "comparison_summary": tr("Summary of the comparison"),
        "summary": tr("Summary"),
        "history": tr("Runs so far"),
    }.get(name, alias_of(name))
