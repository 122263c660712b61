"""Which field of a layer of epochs is what: as chosen or found, and all of it said."""

import pytest
from qgis.core import QgsProcessingException
from walkedlayers import FIELDS, Log, iso, layer_of, source_of, walk

from curbwright.algorithms.reading import role_words, roles
from curbwright.algorithms.reading.epoch_fields import (
    Choices,
    choose_fields,
    found_in_words,
    height_field,
)

pytestmark = pytest.mark.usefixtures("provider")
PARTS = roles.TIME, roles.CAPTURE, roles.FIX, roles.H_ACCURACY, roles.V_ACCURACY
LABELS = {**{part: f"Field of the {part}" for part in PARTS}, "fixed_values": "Fixed values"}


def choices(**given):
    plain = {"time": "", "capture": [], "fix": "", "fixed_values": "", "h_accuracy": "",
             "v_accuracy": ""}  # fmt: skip
    return Choices(**{**plain, **given}, parameters=LABELS)


def found(layer, is_line=False, log=None, **given):
    return choose_fields(
        source_of(layer), choices(**given), is_line, role_words.vocabulary(), log or Log()
    )


@pytest.fixture
def layer():
    return layer_of(walk(captures=1))


def test_every_part_is_found_and_said(layer):
    log = Log()
    names = {part: one.names for part, one in found(layer, log=log).items()}
    assert names == {
        roles.TIME: ("time",), roles.CAPTURE: ("capture",), roles.FIX: ("fix",),
        roles.H_ACCURACY: ("h_acc",), roles.V_ACCURACY: (),
    }  # fmt: skip
    said = "\n".join(log.infos)
    for name in ("time", "capture", "fix", "h_acc"):
        assert f"“{name}” (found by" in said
    assert "Vertical accuracy: no field found." in said and "first values: " in said


def test_what_is_chosen_is_taken_as_the_layer_spells_it(layer):
    log = Log()
    taken = found(layer, log=log, capture=["CAPTURE", "fix", "capture"])
    assert taken[roles.CAPTURE].names == ("capture", "fix")
    assert any("(as chosen)" in text for text in log.infos)
    with pytest.raises(QgsProcessingException, match="“clock”.*Field of the time"):
        found(layer, time="clock")


def test_without_a_time_there_is_no_order():
    bare = layer_of(walk(captures=1), fields=FIELDS[1:], values=lambda row: [4, 0.01, "a"])
    with pytest.raises(QgsProcessingException, match="no field that looks like a time. Choose"):
        found(bare)


def test_without_a_fix_all_count_as_fixed_and_it_is_warned_of():
    log, fields = Log(), (FIELDS[0], FIELDS[3])
    bare = layer_of(
        walk(captures=1), fields=fields, values=lambda row: [iso(row["seconds"]), row["capture"]]
    )
    assert found(bare, log=log)[roles.FIX].names == ()
    assert any("ALL epochs are taken as fixed" in text for text in log.warnings)
    with pytest.raises(QgsProcessingException, match="“Fixed values” names “4”, but no field"):
        found(bare, fixed_values="4")


def test_a_field_cannot_give_a_time_to_the_vertices_of_a_line(layer):
    log = Log()
    taken = found(layer, is_line=True, log=log)
    assert taken[roles.TIME].names == taken[roles.CAPTURE].names == ()
    assert "Capture: each line is one." in log.infos
    with pytest.raises(QgsProcessingException, match="would give one time to all vertices"):
        found(layer, is_line=True, time="time")


def test_the_dialogue_says_what_would_be_found(layer):
    said = [found_in_words(layer, part) for part in PARTS]
    assert said == ["time", "capture", "fix", "h_acc", "nothing"]


def status_layer(states, called="Status", field="string"):
    """Epochs whose fix stands in a field that no table knows by its name."""
    states = iter(states * 100)
    fields = (FIELDS[0], (called, field), FIELDS[3])
    return layer_of(
        walk(captures=1),
        fields=fields,
        values=lambda row: [iso(row["seconds"]), next(states), row["capture"]],
    )


@pytest.mark.parametrize(
    "states", [["Fixed", "Float", "Auto"], ["FIX", "FIX", "Single"], ["RTK Fixed"], ["fixed"]]
)
def test_a_fix_is_known_by_its_values(states):
    log = Log()
    taken = found(status_layer(states), log=log)[roles.FIX]
    assert (taken.names, taken.how) == (("Status",), "values")
    assert "Fix: field “Status” (found by its values)." in log.infos


@pytest.mark.parametrize("states", [["RTK"], ["fixed", "Fix"]])
def test_a_fix_of_fixed_values_alone_is_doubted(states):
    log = Log()
    assert found(status_layer(states, "method"), log=log)[roles.FIX].names == ("method",)
    (doubt,) = log.warnings
    assert "“method” was taken as the fix by its values alone" in doubt and states[0] in doubt
    log = Log()
    found(status_layer(["fixed", "float"]), log=log)
    assert log.warnings == []


def test_a_remark_here_and_there_makes_no_fix():
    log = Log()
    remarks = [None, None, "fixed"]
    assert found(status_layer(remarks, "remark"), log=log)[roles.FIX].names == ()
    assert any("ALL epochs are taken as fixed" in text for text in log.warnings)


@pytest.mark.parametrize(
    "states", [["fixed", "none"], ["yes", "no"], ["float", "single"], ["Fixed", "Post", "Wall"]]
)
def test_other_words_make_no_fix(states):
    assert found(status_layer(states))[roles.FIX].names == ()


def test_of_two_fields_with_states_none_is_taken():
    log, fields = Log(), (FIELDS[0], ("one", "string"), ("other", "string"))
    states = layer_of(
        walk(captures=1), fields=fields, values=lambda row: [iso(row["seconds"]), "fixed", "float"]
    )
    assert found(states)[roles.FIX].names == ("one",)
    states = layer_of(
        walk(captures=1), fields=fields, values=lambda row: [iso(row["seconds"]), "fixed", "fixed"]
    )
    assert found(states, log=log)[roles.FIX].names == ()
    assert any("“one” and “other” are equally good" in text for text in log.warnings)


@pytest.mark.parametrize(
    "name", ["HRMS (mm)", "h_acc_mm", "Lagegenauigkeit [mm]", "HAcc mm", "accuracy, mm"]
)
def test_the_unit_in_the_name_of_an_accuracy_is_said(name):
    log, fields = Log(), (FIELDS[0], (name, "double"))
    metres = layer_of(walk(captures=1), fields=fields, values=lambda row: [iso(row["seconds"]), 8])
    assert found(metres, log=log)[roles.H_ACCURACY].names == (name,)
    assert "    unit by the name: mm" in log.infos


@pytest.mark.parametrize("name", ["hacc_m", "HRMS m", "accuracy/m"])
def test_metres_behind_the_name_of_an_accuracy_change_nothing(name):
    log, fields = Log(), (FIELDS[0], (name, "double"))
    metres = layer_of(walk(captures=1), fields=fields, values=lambda row: [iso(row["seconds"]), 1])
    assert found(metres, log=log)[roles.H_ACCURACY].names == (name,)
    assert not any("unit by the name" in text for text in log.infos)


def test_units_behind_the_names_of_axes_are_said():
    log, fields = Log(), (FIELDS[0], ("sdn_mm", "double"), ("sde (mm)", "double"))
    axes = layer_of(walk(captures=1), fields=fields, values=lambda row: [iso(row["seconds"]), 8, 8])
    assert found(axes, log=log)[roles.H_ACCURACY].names == ("sdn_mm", "sde (mm)")
    assert "    unit by the name: mm" in log.infos


@pytest.mark.parametrize("name", ["antenna_height", "Höhe Antenne", "ver", "z_status"])
def test_a_height_of_something_else_is_no_height_of_the_ground(name):
    other = layer_of(walk(captures=1), fields=((name, "double"),), values=lambda row: [1.8])
    assert height_field(source_of(other), role_words.vocabulary()) == ""


def test_a_field_of_heights_is_found(layer):
    known = role_words.vocabulary()
    assert height_field(source_of(layer), known) == ""
    fields = (("VRMS", "double"), ("h_acc", "double"), ("Höhe [m]", "double"), ("elev", "double"))
    other = layer_of(walk(captures=1), fields=fields, values=lambda row: [1, 2, 3, 4])
    assert height_field(source_of(other), known) == "Höhe [m]"
