"""Names and words by which fields are known.

They stand in a table, `roles.csv` beside this file, and in a table of the user's own in the
profile.
"""

import csv
import re
import unicodedata
from dataclasses import dataclass
from functools import cache
from pathlib import Path

from qgis.core import QgsApplication

from ..host.figures import translate

TIME, CAPTURE, FIX, H_ACCURACY, V_ACCURACY = "time", "capture", "fix", "h_accuracy", "v_accuracy"
ACCURACY = "accuracy"  # no part, but words that two parts have in common
TABLE = Path(__file__).with_name("roles.csv")
OWN_TABLE = "curbwright/roles.csv"  # in the folder of the QGIS profile
OWN = "own"  # stands for the user's table in place of a language
COLUMNS = ("role", "match", "language", "words")
MATCHES = {
    TIME: ("name", "word", "without"),
    CAPTURE: ("name", "word", "without"),
    FIX: ("name", "word", "without", "fixed", "other"),
    H_ACCURACY: ("name", "word", "without"),
    V_ACCURACY: ("name", "word", "without"),
    ACCURACY: ("word", "beside"),
}

# Letters that fold to others beside losing their accents; the second spelling is that of keyboards
# without the letter.
_FOLDED = str.maketrans(
    {"ø": "o", "æ": "ae", "œ": "oe", "ł": "l", "đ": "d", "ð": "d", "þ": "th", "ı": "i"}
)
_SPELT_OUT = str.maketrans({"ä": "ae", "ö": "oe", "ü": "ue", "å": "aa", "ø": "oe"})
# a unit behind a name: “sdn(m)”, “Time [s]”; other ones stay, as the values are of another size
_UNIT = re.compile(r"(?<=\w)\s*[(\[]\s*(m|met(er|re)s?|s|sec|deg)\s*[)\]]\s*$", re.IGNORECASE)


def tr(text):
    return translate("RoleWords", text)


@dataclass(frozen=True)
class Vocabulary:
    """Names and words by role.

    Attributes
    ----------
    entries : dict
        From (role, match) to a dict of folded word to (word as written, language).
    own : str
        Path of the user's table; empty where there is none.
    problems : tuple of str
        What is wrong with the user's table, in sentences that name file and line.
    """

    entries: dict
    own: str = ""
    problems: tuple = ()

    def of(self, role, match):
        return self.entries.get((role, match), {})

    def fixed_values(self):
        """Values of a fix field that mean a fixed solution, comma-separated, folded."""
        return ", ".join(self.of(FIX, "fixed"))

    def other_values(self):
        """Values of a fix field that mean any other state."""
        fixed = self.of(FIX, "fixed")
        return ", ".join(word for word in self.of(FIX, "other") if word not in fixed)


def fold(text):
    """Lower case without accents, other letters of the alphabet as the nearest of a to z:
    ``"Höjd"`` gives hojd."""
    text = text.casefold()
    if text.isascii():  # as most are
        return text
    text = unicodedata.normalize("NFKD", text)
    return "".join(letter for letter in text if not unicodedata.combining(letter)).translate(
        _FOLDED
    )


def _spellings(text):
    """A word folded, and folded from its spelling without umlauts and the like: hohe, hoehe."""
    lower = unicodedata.normalize("NFC", text.lower())
    spelt_out = lower.translate(_SPELT_OUT)
    return {fold(lower)} if spelt_out == lower else {fold(lower), fold(spelt_out)}


def own_table():
    """Path of the user's own table; it need not exist."""
    return Path(QgsApplication.qgisSettingsDirPath()) / OWN_TABLE


def vocabulary():
    """The names and words that come with the plugin, and those of the user."""
    shipped, path = _shipped(), own_table()
    try:
        data = path.read_bytes()
    except FileNotFoundError:
        return shipped
    except OSError as error:
        return Vocabulary(
            shipped.entries,
            "",
            (
                tr("“{}” cannot be read ({}); your own names of fields are not used.").format(
                    path, error.strerror or error
                ),
            ),
        )
    own, problems = read_table(data, str(path))
    entries = {key: dict(words) for key, words in shipped.entries.items()}
    for key, words in own.items():
        entries.setdefault(key, {}).update((word, (text, OWN)) for word, (text, _) in words.items())
    return Vocabulary(entries, str(path), tuple(problems))


@cache
def _shipped():
    entries, problems = read_table(TABLE.read_bytes(), str(TABLE))
    if problems:
        raise ValueError("\n".join(problems))  # a broken installation
    return Vocabulary(entries)


def read_table(data, path):
    """Read a table of names and words.

    Parameters
    ----------
    data : bytes
        CSV in UTF-8 with the columns role, match, language, words; comma, semicolon or tab between
        them. Blank lines and lines that start with ``#`` are passed over. Words are separated by
        blanks.
    path : str
        For the sentences about what is wrong.

    Returns
    -------
    entries : dict
        As `Vocabulary` has them. Lines that cannot be used are left out.
    problems : list of str
    """
    entries, problems, delimiter = {}, [], None
    for number, line in enumerate(data.removeprefix(b"\xef\xbb\xbf").splitlines(), 1):
        where = tr("“{}”, line {}: ").format(path, number)
        try:
            text = line.decode("utf-8")
        except UnicodeDecodeError:
            problems.append(
                where
                + tr("this is no UTF-8 text; save the file as “CSV UTF-8”. The line is not used.")
            )
            continue
        if not text.strip(' \t,;"') or text.lstrip(' "').startswith("#"):
            continue
        if delimiter is None:
            delimiter = next(
                (
                    sign
                    for sign in ",;\t"
                    if [cell.strip(' "').lower() for cell in text.split(sign)][:4] == list(COLUMNS)
                ),
                None,
            )
            if delimiter is None:
                problems.append(
                    where
                    + tr("the first line must be “{}”. The file is not used.").format(
                        ",".join(COLUMNS)
                    )
                )
                return {}, problems
            continue
        problem = _read_line(text, delimiter, entries)
        if problem:
            problems.append(where + problem + " " + tr("The line is not used."))
    return entries, problems


def _read_line(text, delimiter, entries):
    """Add the words of a line to the entries; what is wrong with it, else an empty text."""
    try:
        cells = [
            cell.strip() for cell in next(csv.reader([text], delimiter=delimiter, strict=True))
        ]
    except csv.Error as error:
        return tr("it cannot be split into columns ({}).").format(error)
    if len(cells) < len(COLUMNS):
        return tr("it has {} columns where {} are needed ({}).").format(
            len(cells), len(COLUMNS), ", ".join(COLUMNS)
        )
    role, match, language = (cell.lower() for cell in cells[:3])
    if role not in MATCHES:
        return tr("“{}” is no role; use one of {}.").format(cells[0], ", ".join(MATCHES))
    if match not in MATCHES[role]:
        return tr("“{}” is no match for the role {}; use one of {}.").format(
            cells[1], role, ", ".join(MATCHES[role])
        )
    words = " ".join(cells[3:]).split()
    value = match in ("fixed", "other")
    read = {}
    for word in words:
        for spelling in (
            {fold(word.replace("_", " "))} if value else _spellings("".join(words_of(word.lower())))
        ):
            read[spelling.strip(" ,;")] = word, language
    if not words or "" in read:
        return (
            tr("it holds no words.")
            if not words
            else tr("“{}” holds no letters.").format(read[""][0])
        )
    for spelling, entry in read.items():
        entries.setdefault((role, match), {}).setdefault(spelling, entry)
    return ""


def words_of(name):
    """Lower-case words of a field name: ``"gpsTime_utc2"`` gives gps, time, utc."""
    name = _UNIT.sub("", unicodedata.normalize("NFC", name))
    # Capitals of any alphabet: the name's shape in U (upper), l (any other letter) and blanks,
    # letter by letter.
    if name.isascii() and name.isalpha() and name.islower():
        return [name]
    shape = "".join(
        "U" if sign.isupper() else "l" if sign.isalpha() or unicodedata.combining(sign) else " "
        for sign in name
    )
    return [
        name[found.start() : found.end()].lower() for found in re.finditer(r"U+(?!l)|U?l+", shape)
    ]
