"""The language of the plugin: a file of translations for the language that QGIS speaks."""

from pathlib import Path

from qgis.core import QgsApplication
from qgis.PyQt.QtCore import QCoreApplication, QTranslator

FOLDER = Path(__file__).parent / "i18n"


def file_for(locale):
    """The compiled translations for a locale such as “de_AT”; None where there are none."""
    for name in dict.fromkeys((locale, locale.split("_")[0])):
        path = FOLDER / f"curbwright_{name}.qm"
        if name and path.is_file():
            return path
    return None


def install():
    """Install the translations for QGIS's language.

    Returns
    -------
    QTranslator or None
        To be kept, and given to `remove`.
    """
    application = QgsApplication.instance()
    path = file_for(application.locale()) if application is not None else None
    translator = QTranslator()
    if path is None or not translator.load(str(path)):
        return None
    QCoreApplication.installTranslator(translator)
    return translator


def remove(translator):
    """Take the translations away again."""
    if translator is not None:
        QCoreApplication.removeTranslator(translator)
