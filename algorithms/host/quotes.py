"""Names in the quotation marks of the language."""

from .figures import translate


def quoted(text):
    """A name of a field, a layer or a value in quotation marks."""
    return translate("Quotes", "“{}”").format(text)
