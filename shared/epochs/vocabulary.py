"""Words of the algorithms' table `roles.csv`, read without the host."""

import csv
from pathlib import Path

TABLE = Path(__file__).resolve().parents[2] / "algorithms" / "reading" / "roles.csv"


def words_of(role, match):
    """Words of `roles.csv` for a role and a match.

    Parameters
    ----------
    role, match : str

    Returns
    -------
    list of str
    """
    with TABLE.open(encoding="utf-8", newline="") as file:
        lines = csv.DictReader(line for line in file if not line.startswith("#"))
        return [
            word
            for line in lines
            if (line["role"], line["match"]) == (role, match)
            for word in line["words"].split()
        ]


def fixed_values(given=None):
    """Values that mean a fixed solution: those that the user gave, else those of `roles.csv`.

    Parameters
    ----------
    given : str, optional
        Comma-separated.

    Returns
    -------
    str
        Comma-separated.
    """
    return given or ", ".join(dict.fromkeys(words_of("fix", "fixed")))
