"""What all algorithms have in common."""

import pytest
from qgis.PyQt.QtCore import QCoreApplication, QTranslator

from curbwright.algorithms.base.algorithm import GROUPS, Algorithm
from curbwright.algorithms.reconstructedges import ReconstructEdges
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


@pytest.mark.parametrize("kind", ALGORITHMS, ids=lambda kind: kind.NAME)
def test_metadata_stand_in_attributes(kind):
    assert issubclass(kind, Algorithm) and kind.GROUP in GROUPS
    own = kind().createInstance()
    assert type(own) is kind and own.name() == kind.NAME
    assert own.tags() == kind.TAGS.split(",") and len(own.tags()) > 3
    assert all((kind.TITLE, kind.SHORT_DESCRIPTION, kind.HELP))
    assert "{}" not in own.shortHelpString()
