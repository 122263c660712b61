"""A language of its own for tests: every translated text stands in brackets, so that what does not
cannot be translated. What is filled into a text must have brackets of its own."""

import re
from contextlib import contextmanager

from qgis.PyQt.QtCore import QCoreApplication, QTranslator

PLACE = re.compile(r"\{[^{}]*\}")


class Marking(QTranslator):
    """Puts brackets round the words of every text, and none round its placeholders."""

    def translate(self, context, source, disambiguation=None, n=-1):
        return marked(source) if source else ""

    def isEmpty(self):
        return False


def marked(source):
    return "⟦" + PLACE.sub(r"⟧\g<0>⟦", source) + "⟧"


@contextmanager
def marking():
    """The host speaks that language inside the block."""
    translator = Marking()
    QCoreApplication.installTranslator(translator)
    try:
        yield
    finally:
        QCoreApplication.removeTranslator(translator)


def unmarked(told, known=()):
    """Words outside all brackets, without those that are known: names of layers and of fields."""
    before = None
    while before != told:
        before, told = told, re.sub(r"⟦[^⟦⟧]*⟧", " ", told)
    for word in sorted(known, key=len, reverse=True):
        told = re.sub(rf"(?<!\w){re.escape(word)}(?!\w)", " ", told)
    told = re.sub(r"\b[0-9a-f]{16}\b|\b\d+\.\d+\.\d+-\w+", " ", told)  # checksums, versions
    return sorted(set(re.findall(r"[^\W\d]{2,}", told)))
