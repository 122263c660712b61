"""The language of what is written for people: texts stand here in English, and `tr` gives them in
the language of whoever asked for the page.

The host hands its translation in; without one the texts stay English.
"""

import math
import string
from contextlib import contextmanager
from contextvars import ContextVar
from numbers import Real

CONTEXT = "Report"  # where the texts stand in the files of translations


def _english(context, text):
    return text


_translate = ContextVar("translate", default=_english)


@contextmanager
def speaking(translate):
    """The language inside the block, in this thread alone.

    Parameters
    ----------
    translate : callable
        Takes a context and a text, returns the text to show. Placeholders are filled afterwards.
    """
    token = _translate.set(translate)
    try:
        yield
    finally:
        _translate.reset(token)


def tr(text):
    """A text in the language of the page.

    Parameters
    ----------
    text : str
        In English, with placeholders to be filled by `format` afterwards.

    Returns
    -------
    str
    """
    translate = _translate.get()
    return with_figures(translate(CONTEXT, text), translate)


class _Figures(string.Formatter):
    """Fills numbers in as reports print them: with the marks of the language, and no minus before
    nought."""

    def format_field(self, value, spec):
        shown = format(value, spec)
        if not isinstance(value, Real) or (isinstance(value, int) and not spec):
            return shown
        return localised(shown)


class _Template(str):
    """A text with placeholders. `format` gives a plain string: what goes to the host must be one,
    since it keeps no string of another class as text."""

    speech = staticmethod(_english)

    def format(self, *values, **named):
        with speaking(self.speech):
            return _Figures().vformat(self, values, named)


def with_figures(text, translate):
    """A text whose `format` prints numbers with the marks of the language.

    Parameters
    ----------
    text : str
        Already translated.
    translate : callable
        As `speaking` takes it.

    Returns
    -------
    str
    """
    if "{" not in text:
        return text
    template = _Template(text)
    template.speech = translate
    return template


def marked(text):
    """A text that stands in a table of constants, to be translated where it is shown.

    Parameters
    ----------
    text : str

    Returns
    -------
    str
        As it is.
    """
    return text


def localised(figures):
    """A number that was printed the English way, with the marks of the language.

    Parameters
    ----------
    figures : str
        Such as “1,234.5”. Of “-0.000” and “+0.000” the sign is left out.

    Returns
    -------
    str
    """
    if figures[:1] in ("-", "+") and not any("1" <= figure <= "9" for figure in figures):
        figures = figures.lstrip("-+") if "0" in figures else figures  # not of “-inf”
    sample = tr("1,234.5")  # a number: translated by the same number as it is written there
    if len(sample) != 7 or (sample[1], sample[5]) == (",", "."):
        return figures
    return figures.translate(str.maketrans({",": sample[1], ".": sample[5]}))


def number(value, decimals=3, sign=False):
    """A number as printed, a dash where there is none. Never “-0.000”.

    Parameters
    ----------
    value : float or None
    decimals : int
    sign : bool
        Print a plus as well.

    Returns
    -------
    str
    """
    if value is None or not math.isfinite(value):
        return "–"
    value = round(float(value), decimals) + 0.0  # -0.0 becomes 0.0
    return localised(f"{value:{'+' if sign and value else ''},.{decimals}f}").replace("-", "−")


def whole(count):
    """A whole number as printed.

    Parameters
    ----------
    count : int

    Returns
    -------
    str
    """
    return localised(f"{count:,}")


def counted(count, one, several, *more):
    """A sentence that begins with a number, in the singular or the plural.

    Parameters
    ----------
    count : int
    one, several : str
        Marked texts, with a placeholder for the number and one for each of `more`.
    *more : str

    Returns
    -------
    str
    """
    return tr(one if count == 1 else several).format(whole(count), *more)
