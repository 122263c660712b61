"""Names in quotation marks: those of the language, and those of SQL."""

from .figures import translate


def quoted(text):
    """A name of a field, a layer or a value in the quotation marks of the language."""
    return translate("Quotes", "“{}”").format(text)


def sql_name(name):
    """A name of a table or a field as SQL has it."""
    return '"' + name.replace('"', '""') + '"'
