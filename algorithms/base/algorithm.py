"""What the algorithms have in common: what they say of themselves, and how they run."""

from collections import Counter
from html import escape
from math import isnan
from numbers import Number
from os import PathLike
from pathlib import Path

from qgis.core import (
    QgsProcessingAlgorithm,
    QgsProcessingException,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP, QCoreApplication, QThread
from qgis.PyQt.QtGui import QIcon

from ...shared.parallel.imports import load
from ..host import dependencies
from ..host.feedback import (
    CancelledError,
    Remembering,
    progress_between,
    raise_if_cancelled,
)
from ..host.figures import printed, spoken, translate
from ..host.quotes import quoted
from ..host.watching import without_raising
from ..writing import targets
from ..writing.layer_tree import free_name
from ..writing.styles import ORIGIN, STYLES
from .run_sinks import RunSinks

ICONS = STYLES.parent / "icons"
HELP_PAGES = STYLES.parent / "help"
MOST_NAMES = 2  # of inputs in the name of a result
GROUPS = {  # by id
    "epochstoedges": QT_TRANSLATE_NOOP("Groups", "Epochs to edges"),
    "comparison": QT_TRANSLATE_NOOP("Groups", "Comparison"),
    "linework": QT_TRANSLATE_NOOP("Groups", "Linework"),
}


class Algorithm(RunSinks):
    """Base of all algorithms: metadata, help, and the run from its checks to its last words.

    A class states what it is in attributes; texts are marked by `QT_TRANSLATE_NOOP` and
    translated when they are asked for.

    Attributes
    ----------
    NAME : str
        The id of the algorithm, which is part of the public interface: never translated or changed.
    GROUP : str
        A key of `GROUPS`.
    TITLE, SHORT_DESCRIPTION, HELP : str
        Display name, one sentence, and the help.
    TAGS : str
        Words that people search for, separated by commas.
    HELP_VALUES : tuple
        What is filled into the help.
    NEEDS : tuple of str
        Python packages without which it cannot run.
    LOADS : tuple of str
        Modules of these that are loaded before the work begins, as `parallel/imports.py` does.
    FIELD_TABLES : dict of str to tuple of NewField
        The fields that it writes, by output parameter (or name of the layer where one output holds
        several).
    WITH_SOURCE_FIELDS : tuple of str
        Those outputs whose rows also carry every field of the source's rows.
    BRIEF_PARAGRAPHS : int
        How many paragraphs of the help, from the first, a dialogue shows.
    CAUTION_LAST : bool
        Whether the last paragraph of the help is a caution.
    DECIMALS : dict of str to int
        Of numbers that are returned, in the closing summary, by output; 3 for any other.
    RENEWS : bool
        Whether layers of the project that the run has replaced are read anew at its end.
    """

    NAME, GROUP = "", "epochstoedges"
    TITLE, SHORT_DESCRIPTION, HELP, TAGS = "", "", "", ""
    HELP_VALUES = ()
    NEEDS = ("numpy",)
    LOADS = ("scipy.spatial",)
    FIELD_TABLES = {}
    WITH_SOURCE_FIELDS = ()
    BRIEF_PARAGRAPHS = 1
    CAUTION_LAST = True
    DECIMALS = {}
    RENEWS = True

    # set by the plugin where there is a window: takes the name of the algorithm, its warnings, its
    # id and its results
    say_in_window = None
    # likewise, where there are no warnings: takes the id of the algorithm and its results
    offer_in_window = None
    replaced = ()  # places of the outputs
    warned, returned = (), None  # warnings of the run, and what it returned
    brief_help = False  # likewise: whether the help is that of a dialogue
    closing = None  # lines that the log of a dialogue is to end with
    begun = ()  # outputs of the run
    told = None  # its feedback
    left = ()  # labels of those that a run which failed or was cancelled could not take away
    refusal = ""  # why it may not write where it was asked to
    origin = result_group = ""  # of a run: what its input is called, and the group of its results

    # Metadata, as the host asks for it

    def createInstance(self):
        return type(self)()

    def tr(self, text):
        """Translate a text of this class or of one of its bases, each of which is a context of its
        own to the tools that collect texts."""
        for kind in type(self).__mro__:
            if kind is QgsProcessingAlgorithm:
                break
            translated = translate(kind.__name__, text)
            if translated != text:
                return translated
        return spoken(text)

    def name(self):
        return self.NAME

    def displayName(self):
        return self.tr(self.TITLE)

    def groupId(self):
        return self.GROUP

    def group(self):
        return translate("Groups", GROUPS[self.GROUP])

    def shortDescription(self):
        return self.tr(self.SHORT_DESCRIPTION)

    def shortHelpString(self):
        """The whole help as plain text; in a window the brief one of the dialogue."""
        text = self.tr(self.HELP)
        text = text.format(*self.HELP_VALUES) if self.HELP_VALUES else text
        return self._brief(text.split("\n\n")) if Algorithm.brief_help else text

    def _brief(self, paragraphs):
        """What a dialogue has room for, with headings: the rest is on the page that its button
        opens. Without a line break, of which the host makes a paragraph."""
        outputs = [one for one in self.parameterDefinitions() if one.isDestination()]
        parts = ["<br><br>".join(map(escape, paragraphs[: self.BRIEF_PARAGRAPHS]))]
        if outputs:
            heading = translate("Algorithm", "What comes out")
            # not <b>, which the host's style writes dark on dark
            lines = (
                f"<strong>{escape(one.description())}</strong>: {escape(one.help())}"
                for one in outputs
            )
            parts.append(f"<h3>{heading}</h3>{'<br>'.join(lines)}")
        if self.CAUTION_LAST and len(paragraphs) > 1:
            heading = translate("Algorithm", "Caution")
            parts.append(f"<h3>{heading}</h3>{escape(paragraphs[-1])}")
        heading = translate("Algorithm", "More")
        more = translate(
            "Algorithm",
            "Each field explains itself when the pointer rests on it. The Help button opens the"
            " whole page: when to use it, sensible values, all fields of the results, limits.",
        )
        parts.append(f"<h3>{heading}</h3>{more}")
        return "".join(parts).replace("\n", " ")

    def helpUrl(self):
        page = HELP_PAGES / f"{self.name()}.html"
        return page.as_uri() if page.is_file() else ""

    def tags(self):
        return self.tr(self.TAGS).split(",")

    def icon(self):
        return QIcon(self.svgIconPath())

    def svgIconPath(self):
        return str(ICONS / f"{self.name()}.svg")

    def canExecute(self):
        missing = dependencies.problems(self.NEEDS)
        return not missing, "\n".join(missing)

    def checkParameterValues(self, parameters, context):
        fine, why = super().checkParameterValues(parameters, context)
        if fine:
            fine, why = self._check_numbers(parameters, context)
        if fine:
            why = self.harm(parameters, context)
        return fine and not why, why

    @without_raising()
    def processAlgorithm(self, parameters, context, feedback):
        """Do the work; nothing comes out of one that was cancelled, and what it had begun to write
        is taken away."""
        fine, why = self.canExecute()  # the command line of QGIS 3.22 does not ask
        if fine:  # nor does a model check the numbers that it computes
            fine, why = self._check_numbers(parameters, context)
        if not fine or self.refusal:
            raise QgsProcessingException(why or self.refusal)
        if "scipy" in self.NEEDS:
            load(*self.LOADS)
        self.begun, self.warned = [], ()  # an `Opened` for each output
        self.returned, self.closing, self.left = None, [], ()
        told = self.told = Remembering(feedback)
        try:
            results = self.work(parameters, context, told)
            self._complete(told)
            self.warned = tuple(told.warnings)
            self._close(results, context, feedback)
            self.returned = results
            return results
        except CancelledError:
            self._discard()
            for label in self.left:
                feedback.pushWarning(
                    translate(
                        "Algorithm", "Cancelled while “{}” was written: it is not complete."
                    ).format(label)
                )
            return {}
        except BaseException as error:
            self._discard()
            if not isinstance(error, QgsProcessingException):
                raise
            said = str(error).replace("\0", "\\0")  # the host ends a text there
            raise QgsProcessingException(f"{said} {self.left_by_failure()}".rstrip()) from error
        finally:
            self.begun = []

    def _complete(self, feedback):
        """See that all outputs are there to the last row, then put them into their places: all of
        them, or where somebody cancels before, none."""
        for opened in self.begun:
            opened.check(feedback)
        for opened in self.begun:
            opened.settle(feedback)
        raise_if_cancelled(feedback)
        # a layer of a GeoPackage is copied, which takes its time; files are but renamed
        for opened in sorted(self.begun, key=lambda opened: not opened.is_copied):
            opened.commit(feedback)
            feedback.settled = True

    def _discard(self):
        """Take away what was begun to be written, and note what cannot be taken away."""
        self.left = [opened.label for opened in self.begun if not opened.discard()]

    def left_by_failure(self):
        """What a run that failed left behind, in a sentence."""
        if not self.left:
            return translate("Algorithm", "“{}” failed; nothing was written.").format(
                self.displayName()
            )
        return translate("Algorithm", "“{}” failed while it wrote; not complete: {}.").format(
            self.displayName(), ", ".join(quoted(label) for label in self.left)
        )

    def _close(self, results, context, feedback):
        """Sum up the run in words as the end of the log, and repeat its warnings there."""
        written, numbers = [], []
        for output in self.outputDefinitions():
            value = results.get(output.name())
            if value is None or value == "":
                continue
            if isinstance(value, Number):
                if not isnan(value):  # a number that this run does not have
                    numbers.append(f"{output.description()}: {self._number(output.name(), value)}")
                continue
            in_memory = context.temporaryLayerStore().mapLayer(str(value)) is not None
            where = translate("Algorithm", "temporary layer")
            written.append(f"{output.description()}: {where if in_memory else value}")
        done = translate("Algorithm", "Done: {}.").format(self.displayName())
        last = self._last_words()
        for line in ("", done, *(f"    {line}" for line in written + numbers), *last):
            feedback.pushInfo(line)
        self.closing += ["", f"{done} {last[0]}", *last[1:]]

    def _last_words(self):
        """Number of warnings, and each of them once."""
        if not self.warned:
            return [translate("Algorithm", "No warnings.")]
        counted = Counter(self.warned).items()
        return [
            translate("Algorithm", "Warnings: {}.").format(len(self.warned)),
            *(f"    {text}" + (f" (× {count})" if count > 1 else "") for text, count in counted),
        ]

    def _number(self, name, value):
        """A number that a run returns, as people read it."""
        if isinstance(value, bool):
            return self.tr("yes") if value else self.tr("no")
        if not isinstance(value, float):
            return str(value)
        return printed(f"{value:.{self.DECIMALS.get(name, 3)}f}")

    def postProcessAlgorithm(self, context, feedback):
        """Have a window, where there is one, offer what can be done with the results, and say that
        there were warnings: in one message, since the host shows but the uppermost of several."""
        here = QThread.currentThread() == QCoreApplication.instance().thread()
        if here and self.RENEWS:
            for layer in targets.layers_at(self.replaced, context.project()):
                layer.dataProvider().reloadData()  # it would go on with what was replaced
                layer.reload()
        shown = self._shown(context) if here else {}
        if self.warned and here and Algorithm.say_in_window is not None:
            Algorithm.say_in_window(self.displayName(), self.warned, self.name(), shown)
        elif shown and Algorithm.offer_in_window is not None:
            Algorithm.offer_in_window(self.name(), shown)
        return super().postProcessAlgorithm(context, feedback)

    def _shown(self, context):
        """What a run returned of folders, and of layers that are in the project or come into
        it."""
        there = set(context.layersToLoadOnCompletion())
        project = context.project()
        for layer in () if project is None else project.mapLayers().values():
            there |= {layer.id(), layer.source(), layer.source().split("|")[0]}
        return {
            name: value
            for name, value in (self.returned or {}).items()
            if isinstance(value, str) and (name == "FOLDER" or value in there)
        }

    def prepareAlgorithm(self, parameters, context, feedback):
        """Find out, in the main thread, what the input is called."""
        # scripts and models do not ask for a check of the parameters
        self.refusal = self.harm(parameters, context)
        self.replaced = [place for _, place in self.written(parameters, context)]
        self.origin = self._origin(parameters, context)
        self.result_group = self.origin
        project, application = context.project(), QCoreApplication.instance()
        if project is not None and QThread.currentThread() == application.thread():
            self.result_group = self._free_group(project.layerTreeRoot())
        return super().prepareAlgorithm(parameters, context, feedback)

    def _free_group(self, root):
        """Name of the group of this run: that of its input, where no former run has it, else that
        of the algorithm before it."""
        if root.findGroup(self.origin) is None:
            return self.origin
        named = translate("Algorithm", "{}: {}").format(self.displayName(), self.origin)
        return free_name(root, named)

    def _origin(self, parameters, context):
        """What the first input is called, or what that one was made of; empty without one."""
        for definition in self.parameterDefinitions():
            name, value = definition.name(), parameters.get(definition.name())
            if definition.type() not in ("source", "vector", "multilayer") or value in (None, ""):
                continue
            if definition.type() == "multilayer":
                files = value if isinstance(value, (list, tuple)) else str(value).split(";")
                names = [
                    Path(file).stem if isinstance(file, (str, PathLike)) else file.name()
                    for file in files
                ]
                return ", ".join(names[:MOST_NAMES]) + "…" * (len(names) > MOST_NAMES)
            layer = self.parameterAsVectorLayer(parameters, name, context)
            if layer is not None:
                return layer.customProperty(ORIGIN) or self.title(parameters, name, context)
            source = self.parameterAsSource(parameters, name, context)
            return source.sourceName() if source is not None else ""
        return ""

    @staticmethod
    def progress(feedback, start, stop):
        """See `feedback.progress_between`."""
        return progress_between(feedback, start, stop)
