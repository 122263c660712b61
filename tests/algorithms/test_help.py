"""Every parameter and every algorithm explains itself, and says its units."""

import re
from html import escape

import pytest
from qgis.core import (
    QgsApplication,
    QgsProcessingParameterDistance,
    QgsProcessingParameterFeatureSink,
    QgsProcessingParameterField,
    QgsUnitTypes,
)

from curbwright.algorithms.base.algorithm import Algorithm
from curbwright.plugin.provider import ALGORITHMS

pytestmark = pytest.mark.usefixtures("provider")

# names and defaults that checks outside the project rely on (design.md, section 2)
RELIED_ON = {
    "reconstructedges": {
        "INPUT": None,
        "TIME_FIELD": None,
        "CAPTURE_FIELDS": None,
        "FIX_FIELD": None,
        "FIXED_VALUES": "",
        "H_ACCURACY_FIELD": None,
        "V_ACCURACY_FIELD": None,
        "MAX_H_ACCURACY": 0.05,
        "MAX_TIME_GAP": 0,
        "MAX_DISTANCE_GAP": 0,
        "CORNER_ANGLE": 30,
        "TOLERANCE": 0.01,
        "MIN_LENGTH": 0.5,
        "CURVE_MODEL": 0,
        "DOUBTFUL": 0,
        "REPAIRS": None,
        "STATION_SPACING": 1.0,
        "WORKING_CRS": None,
        "TAKE_AS_STREAM": False,
        "OUTPUT": None,
        "GAPS": None,
        "REJECTED": None,
        "KEPT": None,
        "STATIONS": None,
    },
    "screenepochs": {
        "INPUT": None,
        "TIME_FIELD": None,
        "CAPTURE_FIELDS": None,
        "FIX_FIELD": None,
        "FIXED_VALUES": "",
        "H_ACCURACY_FIELD": None,
        "V_ACCURACY_FIELD": None,
        "MAX_H_ACCURACY": 0.05,
        "MAX_TIME_GAP": 0,
        "MAX_DISTANCE_GAP": 0,
        "WORKING_CRS": None,
        "TAKE_AS_STREAM": False,
        "OUTPUT": None,
        "REJECTED": None,
    },
}


def algorithm(name):
    return QgsApplication.processingRegistry().createAlgorithmById(f"curbwright:{name}")


ALL = [made().name() for made in ALGORITHMS]


@pytest.mark.parametrize("name", ALL)
def test_every_parameter_has_help(name):
    own = algorithm(name)  # owns the definitions
    for parameter in own.parameterDefinitions():
        assert len(parameter.help()) > 20, parameter.name()
        assert parameter.description(), parameter.name()
        if parameter.name() in own.FOUND_FIELDS:  # the host's batch and models say no more
            assert "eft empty" in parameter.help(), parameter.name()
            assert "automatic" in parameter.description(), parameter.name()


@pytest.mark.parametrize("name", ALL)
def test_algorithm_explains_itself(name):
    own = algorithm(name)
    assert len(own.shortHelpString()) > 200
    assert (
        own.displayName()
        and own.shortDescription()
        and own.group()
        and own.groupId()
        and own.tags()
    )
    assert not own.icon().isNull()
    assert own.name() == name.lower() and " " not in own.name()


@pytest.mark.parametrize("name", ALL)
def test_a_dialogue_has_brief_help_with_headings(name, monkeypatch):
    whole = algorithm(name).shortHelpString()
    monkeypatch.setattr(Algorithm, "brief_help", True)
    own = algorithm(name)
    brief = own.shortHelpString()
    assert "\n" not in brief  # of which the host would make paragraphs
    plain = re.sub(r"<[^>]*>", "", brief)
    assert 200 < len(plain) < 1500 and "For example<h3" not in brief
    headings = re.findall(r"<h3>(.*?)</h3>", brief)
    assert headings[0] == "What comes out" and headings[-1] == "More"
    assert ("Caution" in headings) == ("mapping grade" in whole or name == "readnmealog")
    for output in own.destinationParameterDefinitions():
        assert escape(output.description()) in brief


@pytest.mark.parametrize("name", RELIED_ON)
def test_parameters(name):
    own = algorithm(name)  # owns the definitions
    definitions = {parameter.name(): parameter for parameter in own.parameterDefinitions()}
    assert set(definitions) == set(RELIED_ON[name])
    for key, default in RELIED_ON[name].items():
        parameter = definitions[key]
        if default is not ...:
            assert parameter.defaultValue() == default or (
                default is None and parameter.defaultValue() is None
            ), key
        if isinstance(parameter, QgsProcessingParameterDistance):
            assert "(m)" in parameter.description()
            assert parameter.defaultUnit() == QgsUnitTypes.DistanceUnit.DistanceMeters
            assert parameter.parentParameterName() == ""  # else it would mean the layer's units
        if isinstance(parameter, QgsProcessingParameterField):
            assert parameter.dataType() == QgsProcessingParameterField.DataType.Any
            assert parameter.parentLayerParameterName() == "INPUT"
    optional = {
        key
        for key, parameter in definitions.items()
        if parameter.flags() & parameter.Flag.FlagOptional
    }
    assert optional == set(RELIED_ON[name]) & {
        "TIME_FIELD",
        "CAPTURE_FIELDS",
        "FIX_FIELD",
        "FIXED_VALUES",
        "H_ACCURACY_FIELD",
        "V_ACCURACY_FIELD",
        "WORKING_CRS",
        "TAKE_AS_STREAM",
        "DOUBTFUL",
        "REPAIRS",
        "GAPS",
        "REJECTED",
        "KEPT",
        "STATIONS",
    }
    for parameter in definitions.values():
        if isinstance(parameter, QgsProcessingParameterFeatureSink):
            assert parameter.createByDefault() == (
                parameter.name() in ("OUTPUT", "GAPS", "REJECTED")
            )


@pytest.mark.parametrize("name", ALL)
def test_it_can_run_here(name):
    assert algorithm(name).canExecute() == (True, "")
