"""What algorithms with a report have in common: its parameters, writing and printing it."""

from pathlib import Path

from qgis.core import (
    QgsProcessingParameterFileDestination,
    QgsProcessingParameterString,
    QgsProcessingUtils,
)
from qgis.PyQt.QtCore import QCoreApplication, QDateTime

from ...shared.language import speaking
from ..host.feedback import raise_if_cancelled
from ..host.figures import translate
from ..host.watching import in_background
from ..writing import targets
from ..writing.opened import Opened
from ..writing.printing import PrintError, print_report
from ..writing.staging import unwritten
from .parameters import Parameters

PRINTED = "REPORT_PDF"  # output of algorithms with a report


class Reports(Parameters):
    """Base of `Algorithm`: reports in HTML and as PDF. Of the run it uses `begun`, its outputs, and
    `told`, its feedback."""

    TITLE_BLOCK = "TITLE", "AREA_NAME", "AUTHOR"

    def add_report(self, help_text):
        """The report as a page, and as PDF; what its title block says."""
        self.add(
            QgsProcessingParameterFileDestination(
                "REPORT",
                translate("Algorithm", "Report"),
                translate("Algorithm", "HTML files (*.html)"),
                None,
                True,
                False,
            ),
            help_text,
        )
        self.add_printed_report()
        self.add_title_block()

    def add_printed_report(self):
        """The report as PDF as well."""
        self.add(
            QgsProcessingParameterFileDestination(
                PRINTED,
                translate("Algorithm", "Report as PDF"),
                translate("Algorithm", "PDF files (*.pdf)"),
                None,
                True,
                False,
            ),
            translate(
                "Algorithm",
                "The same page printed, on the paper usual in your country (A4 or Letter). Where"
                " QGIS cannot print it here, the log says why: then print the HTML file from a"
                " browser, which numbers the pages as well.",
            ),
        )

    def add_title_block(self):
        """What the title block of a report says; left empty it is filled in by hand."""
        for name, label, help_text in (
            (
                "TITLE",
                translate("Algorithm", "Project in the report"),
                translate("Algorithm", "Stands in the report's title block."),
            ),
            (
                "AREA_NAME",
                translate("Algorithm", "Area in the report"),
                translate(
                    "Algorithm",
                    "Stands in the report's title block, such as a quarter or a street.",
                ),
            ),
            (
                "AUTHOR",
                translate("Algorithm", "Author in the report"),
                translate("Algorithm", "Stands in the report's title block."),
            ),
        ):
            self.add(
                QgsProcessingParameterString(name, label, "", False, True),
                help_text,
                advanced=True,
                left_empty=translate("Algorithm", "by hand"),
            )

    def title_block(self, parameters, context):
        """The title block of the report, as far as it was given."""
        from ...shared.report import TitleBlock  # late: needs numpy, which may be missing

        project, area, author = (
            self.parameterAsString(parameters, name, context).strip() for name in self.TITLE_BLOCK
        )
        return TitleBlock(project=project, area=area, author=author)

    def crs_title(self, source):
        crs = source.sourceCrs()
        return (
            crs.userFriendlyIdentifier()
            if crs.isValid()
            else translate("Algorithm", "none (plane metres)")
        )

    @staticmethod
    def now():
        """Date and time as reports have them."""
        return QDateTime.currentDateTimeUtc().toString("yyyy-MM-dd HH:mm 'UTC'")

    def report_targets(self, parameters, context):
        """Where the report goes, by output; empty where none is asked for."""
        return {
            name: targets.local_path(self.parameterAsFileOutput(parameters, name, context))
            for name in ("REPORT", PRINTED)
            if self.wanted(parameters, name)
        }

    def write_report(self, asked, write, looks=False):
        """Write the report.

        Parameters
        ----------
        asked : dict of str to str
            As `report_targets` gives it.
        write : callable
            Takes the path to write to. It is called with the language of the host.
        looks : bool
            True where it looks at the cancel button itself; else it runs in a thread beside that.

        Returns
        -------
        dict of str to str
            What was written, by output. Files are put into their places with the other outputs.

        Raises
        ------
        QgsProcessingException
            Where the file cannot be written, in words.
        """
        path, done = asked.get("REPORT"), {}
        if path:
            _, page = self._begin_file("REPORT", path)
            done["REPORT"] = path
        else:
            page = Path(QgsProcessingUtils.generateTempFilename("report.html"))

        def written():
            with speaking(QCoreApplication.translate):
                write(page)

        try:
            if looks:
                written()
            else:
                in_background(written, self.told)
        except OSError as error:
            label, place = self.label("REPORT"), path or page
            raise unwritten(label, place, error.strerror or error) from error
        return {**done, **self.print_report(page, asked.get(PRINTED), bool(path))}

    def print_report(self, page, path, kept=True):
        """Print a report that was written; where that cannot be done, say so and go on.

        Parameters
        ----------
        page : path
        path : str
            Of the PDF; empty or None for none.
        kept : bool
            The page was asked for as well, and stays.

        Returns
        -------
        dict of str to str
            The output, where it was printed.
        """
        if not path:
            return {}
        label, told = self.label(PRINTED), self.told
        opened, target = self._begin_file(PRINTED, path)
        try:
            pages = print_report(page, target, progress=lambda share: raise_if_cancelled(told))
        except PrintError as error:
            self.begun.remove(opened)
            if opened.staged is not None:
                opened.discard()
            said = translate("Algorithm", "“{}” was not printed to “{}”: {}.")
            instead = (
                translate("Algorithm", "Print the HTML file from a browser instead.")
                if kept
                else translate(
                    "Algorithm", "Run again with “{}”, and print that from a browser."
                ).format(self.label("REPORT"))
            )
            told.pushWarning(f"{said.format(label, path, error)} {instead}")
            return {}
        told.pushInfo(translate("Algorithm", "Report printed. Pages: {}.").format(pages))
        return {PRINTED: path}

    def _begin_file(self, name, path):
        """Take down that an output is written to a file; where to write it until it is whole, which
        for a device is that itself."""
        device = Path(path).exists() and not Path(path).is_file()
        opened = Opened(self.label(name), path, None if device else Path(path))
        opened.destination = path
        self.begun.append(opened)
        return opened, Path(path) if device else opened.staged.path
