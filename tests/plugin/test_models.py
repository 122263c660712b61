"""Models that come with the provider: found, valid, in step with the algorithms, and giving what
these give one by one."""

import json
import sys
from pathlib import Path

import processing
import pytest
from qgis.core import (
    Qgis,
    QgsApplication,
    QgsProcessingModelAlgorithm,
    QgsProcessingModelChildParameterSource,
)

from curbwright.plugin.provider import MODELS

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parent / "algorithms"), str(HERE.parents[1] / "sample_project")]
from host import Host  # noqa: E402
from walkedlayers import Log, layer_of, reconstruct, run, table, to_file, walk  # noqa: E402

pytestmark = pytest.mark.usefixtures("provider")
# moved in 3.34
STATIC = getattr(
    Qgis, "ProcessingModelChildParameterSource", QgsProcessingModelChildParameterSource
).StaticValue
ALIGNMENTS = "curbwright:Epochs to alignments"


def shapes(layer):
    return [feature.geometry().asWkt(6) for feature in layer.getFeatures()]


@pytest.mark.parametrize("path", MODELS, ids=lambda path: path.stem)
def test_model_is_valid_and_uses_the_defaults(path, provider):
    model = QgsProcessingModelAlgorithm()
    assert model.fromFile(str(path))
    assert model.validate() == (True, [])
    assert model.name() in {algorithm.name() for algorithm in provider.algorithms()}
    assert model.canExecute() == (True, "")
    assert "boundary survey" in model.shortHelpString()
    named = model.create()  # owns the definitions
    for definition in named.parameterDefinitions():
        assert definition.description() and definition.help(), definition.name()
    for child in model.childAlgorithms().values():
        # owns the definitions
        own = QgsApplication.processingRegistry().createAlgorithmById(child.algorithmId())
        definitions = {definition.name(): definition for definition in own.parameterDefinitions()}
        for name, sources in child.parameterSources().items():
            for source in sources:
                if source.source() == STATIC:
                    # Hosts from 3.40 on read an empty text back as no value.
                    assert (source.staticValue() or None) == (
                        definitions[name].defaultValue() or None
                    ), name
    for name in ("/home", "/root", "/tmp", str(Path.home())):
        assert name not in path.read_text(encoding="utf-8")


def test_there_are_models():
    assert [path.name for path in MODELS] == ["epochs_to_alignments.model3"]


def test_model_gives_what_the_algorithms_give():
    layer = layer_of(walk())
    single = reconstruct(layer, TOLERANCE=0.02)["OUTPUT"]
    fitted = run(
        "fitalignments",
        {"INPUT": single, "TOLERANCE": 0.02, "OUTPUT": "memory:", "ELEMENTS": "memory:"},
    )
    log = Log()
    results = processing.run(
        ALIGNMENTS,
        {
            "epochs": layer,
            "tolerance": 0.02,
            "reconstruct:edges": "memory:",
            "fit:alignments": "memory:",
            "fit:elements": "memory:",
        },
        feedback=log,
    )
    assert shapes(results["reconstruct:edges"]) == shapes(single), log.text
    assert shapes(results["fit:alignments"]) == shapes(fitted["OUTPUT"])
    assert table(results["fit:elements"]) == table(fitted["ELEMENTS"])


@pytest.mark.long
def test_model_and_batch_run_from_the_command_line(tmp_path):
    """As a new user would, with a profile of its own."""
    layer = to_file(layer_of(walk()), tmp_path / "walk.gpkg")
    (tmp_path / "profile").mkdir()
    host = Host(tmp_path / "profile", plugin=HERE.parents[1])
    host.enable()
    assert (
        ALIGNMENTS
        in json.loads(host.call("--json", "list"))["providers"]["curbwright"]["algorithms"]
    )
    results = host.run(
        ALIGNMENTS,
        **{
            "epochs": layer.source(),
            "reconstruct:edges": tmp_path / "edges.gpkg",
            "fit:alignments": tmp_path / "alignments.gpkg",
        },
    )
    assert (
        Path(results["reconstruct:edges"]).is_file() and Path(results["fit:alignments"]).is_file()
    )
    results = host.run(
        "curbwright:processcaptures",
        LAYERS=[layer.source(), tmp_path / "missing.gpkg"],
        FIT_ALIGNMENTS="true",
        FOLDER=tmp_path / "out",
    )
    assert (results["LAYERS_DONE"], results["LAYERS_FAILED"], results["EDGES"]) == (1, 1, 4)
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [
        "curbwright.gpkg",
        "report.html",
    ]
