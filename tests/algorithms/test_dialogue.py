"""What the dialogue says and chooses by itself, and that the command line and models do not follow
it where that would cost time."""

import pytest
from qgis.core import (
    QgsApplication,
    QgsProcessingContext,
    QgsProcessingFeedback,
    QgsProcessingModelAlgorithm,
    QgsProcessingModelChildAlgorithm,
    QgsProcessingModelChildParameterSource,
    QgsProcessingModelOutput,
    QgsProcessingModelParameter,
    QgsProcessingParameterFeatureSource,
    QgsProcessingParameterField,
    QgsProcessingParameterNumber,
    QgsProject,
)
from qgis.gui import QgsProcessingLayerOutputDestinationWidget
from walkedlayers import Log, layer_of, reconstruct, run, table, walk

from curbwright.plugin.provider import ALGORITHMS

pytestmark = pytest.mark.usefixtures("provider")
ALL = [made().name() for made in ALGORITHMS]


def algorithm(name):
    return QgsApplication.processingRegistry().createAlgorithmById(f"curbwright:{name}")


# Rejected epochs and gaps


@pytest.mark.parametrize(("name", "shown"), [("GAPS", True), ("REJECTED", True), ("KEPT", False)])
def test_the_dialogue_makes_gaps_and_rejected_epochs(name, shown):
    own = algorithm("reconstructedges")
    widget = QgsProcessingLayerOutputDestinationWidget(own.parameterDefinition(name), True)
    assert (widget.value() not in (None, "")) is shown


def test_the_command_line_makes_only_what_is_asked_for():
    result = run("reconstructedges", {"INPUT": layer_of(walk()), "OUTPUT": "memory:"})
    assert not {"GAPS", "REJECTED", "KEPT", "STATIONS"} & set(result)


def test_models_make_only_what_is_asked_for():
    model = QgsProcessingModelAlgorithm("only edges", "test")
    model.addModelParameter(
        QgsProcessingParameterFeatureSource("epochs", "Epochs"),
        QgsProcessingModelParameter("epochs"),
    )
    child = QgsProcessingModelChildAlgorithm("curbwright:reconstructedges")
    child.setChildId("edges")
    own = algorithm("reconstructedges")
    for parameter in own.parameterDefinitions():
        if not parameter.isDestination() and parameter.name() != "INPUT":
            child.addParameterSources(
                parameter.name(),
                [QgsProcessingModelChildParameterSource.fromStaticValue(parameter.defaultValue())],
            )
    child.addParameterSources(
        "INPUT", [QgsProcessingModelChildParameterSource.fromModelParameter("epochs")]
    )
    output = QgsProcessingModelOutput("Edges")
    output.setChildId("edges")
    output.setChildOutputName("OUTPUT")
    child.setModelOutputs({"Edges": output})
    model.addChildAlgorithm(child)
    context = QgsProcessingContext()
    context.setProject(QgsProject.instance())
    model.initAlgorithm()
    sink = model.destinationParameterDefinitions()[0].name()
    result, done = model.run(
        {"epochs": layer_of(walk()), sink: "memory:"}, context, QgsProcessingFeedback()
    )
    assert done
    made = result["CHILD_RESULTS"]["edges"]
    assert made["EDGES"] > 0 and not {"GAPS", "REJECTED", "KEPT", "STATIONS"} & set(made)


# What is found by itself


@pytest.mark.parametrize("name", ALL)
def test_fields_that_are_found_say_so_in_label_and_help(name):
    own = algorithm(name)
    for parameter in own.parameterDefinitions():
        if not isinstance(parameter, QgsProcessingParameterField):
            continue
        found = "found" in parameter.help() or "is taken where" in parameter.help()
        if "Left empty" in parameter.help() and found:
            assert "(empty: automatic)" in parameter.description(), parameter.name()


@pytest.mark.parametrize("name", ALL)
def test_0_is_explained_where_it_is_the_default(name):
    own = algorithm(name)
    for parameter in own.parameterDefinitions():
        if not isinstance(parameter, QgsProcessingParameterNumber):
            continue
        if parameter.defaultValue() == 0 and parameter.minimum() == 0:
            assert "0: " in parameter.help() or "0: " in parameter.description(), parameter.name()
        if "0: found" in parameter.help():
            assert "0: automatic" in parameter.description(), parameter.name()


def test_messages_name_a_parameter_without_what_the_dialogue_adds():
    own = algorithm("reconstructedges").create()
    assert own.label("TIME_FIELD") == "Time"
    assert own.parameterDefinition("TIME_FIELD").description() != "Time"


# The words that mean fixed


def test_the_words_that_mean_fixed_are_the_usual_ones_where_none_is_given():
    own = algorithm("reconstructedges")  # owns the definitions
    parameter = own.parameterDefinition("FIXED_VALUES")
    assert parameter.defaultValue() == "" and "usual words" in parameter.description()
    rows = walk(captures=1)
    words = {4: "fixiert", 5: "Float"}
    layer = layer_of(
        rows,
        fields=(("time", "string"), ("fix", "string")),
        values=lambda row: [
            str(row["seconds"]),
            "RTK_INTEGER" if rows.index(row) % 2 and row["fix"] == 4 else words[row["fix"]],
        ],
    )
    for given in ({}, {"FIXED_VALUES": ""}, {"FIXED_VALUES": None}):
        log = Log()
        rejected = table(reconstruct(layer, log, **given)["REJECTED"])
        assert sum(row["reason"] == "not_fixed" for row in rejected) == 3, log.text


# Words that people search for


@pytest.mark.parametrize(
    ("word", "expected"),
    [
        ("conflate", {"compareedges", "updatebasemap", "mergepasses", "estimateshift"}),
        ("vectorise", {"reconstructedges", "fitalignments"}),
        ("kerbline", {"reconstructedges", "compareedges", "curbheight"}),
        ("stakeout check", {"checkaccuracy", "curbheight"}),
        ("as-built", {"reconstructedges", "compareedges", "checkaccuracy"}),
        ("map update", {"updatebasemap", "compareedges", "processcaptures"}),
        ("gps line cleaning", {"screenepochs", "reconstructedges", "mergepasses", "joinedges"}),
    ],
)
def test_words_that_people_search_for_are_tags(word, expected):
    assert expected <= {name for name in ALL if word in algorithm(name).tags()}


@pytest.mark.parametrize("name", ALL)
def test_labels_say_minimum_and_maximum(name):
    own = algorithm(name)
    first = {parameter.description().split()[0] for parameter in own.parameterDefinitions()}
    assert not first & {"Least", "Greatest", "Poorest", "Farthest", "Longest", "Smallest"}
    tags = own.tags()
    assert len(set(tags)) == len(tags) and "" not in tags
