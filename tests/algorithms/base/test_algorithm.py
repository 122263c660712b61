"""What all algorithms have in common."""

import processing
import pytest
from qgis.core import QgsProcessingContext, QgsProcessingException, QgsProject
from qgis.PyQt.QtCore import QCoreApplication, QTranslator
from walkedlayers import Log, layer_of, run, walk

from curbwright.algorithms.base.algorithm import GROUPS, Algorithm
from curbwright.algorithms.reconstructedges import ReconstructEdges
from curbwright.algorithms.writing.opened import Opened
from curbwright.plugin.provider import ALGORITHMS

pytestmark = pytest.mark.usefixtures("provider")


class Words(QTranslator):
    """Translates what it is given, by context and text."""

    def __init__(self, words):
        super().__init__()
        self.words = words

    def isEmpty(self):
        return False

    def translate(self, context, text, *_):
        return self.words.get((context, text))  # None: no such text


@pytest.fixture
def translated():
    installed = []

    def install(words):
        installed.append(Words(words))
        QCoreApplication.installTranslator(installed[-1])

    yield install
    for one in installed:
        QCoreApplication.removeTranslator(one)


def test_texts_of_a_base_class_are_translated_too(translated):
    translated(
        {
            ("ReconstructEdges", "Reconstruct edges"): "Kanten bilden",
            ("EpochAlgorithm", "Epochs"): "Epochen",
            ("Groups", "Epochs to edges"): "Epochen zu Kanten",
        }
    )
    own = ReconstructEdges()
    own.initAlgorithm()
    assert own.displayName() == "Kanten bilden"
    assert own.parameterDefinition("INPUT").description() == "Epochen"
    assert own.group() == "Epochen zu Kanten" and own.groupId() == "epochstoedges"
    assert own.name() == "reconstructedges" and own.tr("no such text") == "no such text"


@pytest.mark.parametrize(
    "kind",
    [kind for kind in ALGORITHMS if getattr(kind, "NUMBERS", ())],
    ids=lambda kind: kind.NAME,
)
def test_labels_of_numbers_are_translated(translated, kind):
    translated({(kind.__name__, label): f"<{name}>" for name, label in kind.NUMBERS})
    own = kind()
    own.initAlgorithm()
    for name, _ in kind.NUMBERS:
        assert own.outputDefinition(name).description() == f"<{name}>"


@pytest.mark.parametrize("kind", ALGORITHMS, ids=lambda kind: kind.NAME)
def test_metadata_stand_in_attributes(kind):
    assert issubclass(kind, Algorithm) and kind.GROUP in GROUPS
    own = kind().createInstance()
    assert type(own) is kind and own.name() == kind.NAME
    assert own.tags() == kind.TAGS.split(",") and len(own.tags()) > 3
    assert all((kind.TITLE, kind.SHORT_DESCRIPTION, kind.HELP))
    assert "{}" not in own.shortHelpString()


class Teller(Algorithm):
    """Says what it is told to say."""

    NAME, TITLE = "teller", "Tell things"
    says = ()

    def createInstance(self):
        return self

    def work(self, parameters, context, feedback):
        for text in self.says:
            feedback.pushWarning(text)
        feedback.setProgress(40)
        return {}


def told_by(*says):
    own, log = Teller(), Log()
    own.says = says
    assert own.run({}, QgsProcessingContext(), log)[1] is True
    return log


def test_the_log_ends_with_a_summary_that_repeats_each_warning():
    log = told_by("First thing.", "Second thing.", "First thing.")
    assert log.warnings == ["First thing.", "Second thing.", "First thing."]
    assert log.infos[-4:] == [
        "Done: Tell things.",
        "Warnings: 3.",
        "    First thing. (× 2)",
        "    Second thing.",
    ]
    assert log.highest == 40
    assert told_by().infos[-2:] == ["Done: Tell things.", "No warnings."]


def test_the_summary_says_what_was_written_and_how_much(tmp_path):
    log, file = Log(), tmp_path / "rejected.gpkg"
    result = run(
        "reconstructedges",
        {"INPUT": layer_of(walk()), "OUTPUT": "memory:", "REJECTED": str(file)},
        log,
    )
    end = log.infos[log.infos.index("Done: Reconstruct edges.") :]
    end = [line for line in end if not line.startswith("Results: ")]  # the host's own last word
    assert "    Edges: temporary layer" in end
    assert f"    Rejected epochs: {file}" in end
    assert f"    Number of edges: {result['EDGES']}" in end
    assert end[-1] == "No warnings." or end[-1].startswith("    ")
    assert not any("{" in line for line in end)


class Stuck(Opened):
    """An output that cannot be taken away."""

    def discard(self):
        return False


def test_a_run_that_fails_says_what_it_left(tmp_path):
    class Failing(Teller):
        def work(self, parameters, context, feedback):
            self.begun += [Stuck(name, "") for name in self.writing]
            raise QgsProcessingException("The layer is of stone.")

    failing = Failing()
    for failing.writing, end in (
        ([], " “Tell things” failed; nothing was written."),
        (["Output"], " “Tell things” failed while it wrote; not complete: “Output”."),
    ):
        with pytest.raises(QgsProcessingException) as raised:
            failing.processAlgorithm({}, QgsProcessingContext(), Log())
        assert str(raised.value) == "The layer is of stone." + end


@pytest.mark.usefixtures("provider")
def test_the_last_word_comes_again_once_layers_are_loaded(qgis_new_project):
    """In the dialogue the values returned come after the summary."""
    log, layer = Log(), layer_of(walk())
    context = QgsProcessingContext()
    context.setProject(QgsProject.instance())
    context.setFeedback(log)
    processing.runAndLoadResults(
        "curbwright:reconstructedges", {"INPUT": layer, "OUTPUT": "memory:"}, log, context
    )
    assert sum(text.startswith("Done: Reconstruct edges.") for text in log.infos) == 2
    assert log.infos[-1].startswith("Done: Reconstruct edges. No warnings.")


def test_a_window_is_told_of_warnings_once_the_run_is_over(monkeypatch):
    told = []
    monkeypatch.setattr(Algorithm, "say_in_window", lambda *what: told.append(what))
    told_by()
    assert told == []
    told_by("First thing.")
    ((name, warnings, ident, results),) = told
    assert (name, warnings) == ("Tell things", ("First thing.",)) and ident and results == {}


@pytest.mark.parametrize("loaded", [True, False])
def test_a_window_is_offered_only_layers_that_the_project_shows(monkeypatch, loaded):
    """As the host's batch, which need not load what it wrote."""
    offered = []
    monkeypatch.setattr(Algorithm, "offer_in_window", lambda *what: offered.append(what))
    algorithm, context = Teller(), QgsProcessingContext()
    algorithm.returned = {"OUTPUT": "edges_1", "KEPT": "kept_1", "LENGTH": 3.5}
    if loaded:
        details = QgsProcessingContext.LayerDetails("Edges", QgsProject.instance(), "OUTPUT")
        context.addLayerToLoadOnCompletion("edges_1", details)
    algorithm.postProcessAlgorithm(context, Log())
    assert offered == [(algorithm.name(), {"OUTPUT": "edges_1"})] * loaded


def test_a_run_is_cancelled_through_the_feedback_that_remembers():
    class Cancelled(Teller):
        def work(self, parameters, context, feedback):
            self.progress(feedback, 0, 100)(0.5)
            self.progress(feedback, 0, 100)(0.6)
            raise AssertionError("not cancelled")

    log = Log(cancel_at=50)
    assert Cancelled().run({}, QgsProcessingContext(), log) == ({}, True)
    assert not any("Done" in text for text in log.infos)
