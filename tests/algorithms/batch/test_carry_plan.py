"""Where a change made by hand goes, without any layer."""

import numpy as np
import pytest
import shapely

from curbwright.algorithms.batch.carry_plan import plan_lines, plan_return, plan_rows, renamed
from curbwright.algorithms.batch.run_state import Changes, Row


def row(fid, line, capture="walk 1", start=0.0, **values):
    said = {
        "layer": "quay", "capture": capture, "started_unix": start, "ended_unix": start + 100.0,
        "decision": None, **values,
    }  # fmt: skip
    return Row(fid, said, shapely.to_wkb(shapely.LineString(line)))


def place(rows, is_former):
    return np.array([shapely.from_wkb(one.wkb) for one in rows], dtype=object)


def changes(**what):
    return Changes("edges", "", True, ["layer", "capture", "decision"], **what)


WHOLE = [(0, 0), (40, 0)]
HALVES = [(0, 0), (22, 0)], [(22.5, 0), (40, 0)]


def test_a_decision_goes_to_every_heir():
    written = row(1, WHOLE)
    now = row(1, WHOLE, decision="hold")
    plan = plan_lines(
        changes(edited=[(written, now)]), [row(8, HALVES[0]), row(9, HALVES[1])], place
    )
    assert plan.fields == {8: {"decision": "hold"}, 9: {"decision": "hold"}}
    assert not plan.shapes and not plan.removed and not plan.superseded
    assert plan.carried == {"edited": 1, "deleted": 0, "added": 0}


def test_a_new_shape_takes_the_place_of_all_heirs():
    written, now = row(1, WHOLE), row(1, [(0, 0.3), (40, 0.3)])
    plan = plan_lines(
        changes(edited=[(written, now)]), [row(8, HALVES[1]), row(9, HALVES[0])], place
    )
    assert plan.shapes == {9: now.wkb} and plan.removed == {8}


def test_it_is_the_shape_that_was_written_that_is_recognised():
    """The person's own one may lie anywhere."""
    written, now = row(1, WHOLE), row(1, [(0, 5), (40, 5)])
    plan = plan_lines(changes(edited=[(written, now)]), [row(8, WHOLE)], place)
    assert plan.shapes == {8: now.wkb}


def test_a_row_that_was_saved_without_a_change_is_none():
    plan = plan_lines(changes(edited=[(row(1, WHOLE), row(1, WHOLE))]), [row(8, WHOLE)], place)
    assert plan.carried["edited"] == 0 and not plan.fields and not plan.superseded


def test_what_was_deleted_goes_again_in_all_its_parts():
    plan = plan_lines(
        changes(deleted=[row(1, WHOLE)]),
        [row(7, [(0, 3), (40, 3)]), row(8, HALVES[0]), row(9, HALVES[1])],
        place,
    )
    assert plan.removed == {8, 9} and plan.carried["deleted"] == 1


def reasons(former, *new):
    plan = plan_lines(changes(deleted=[former]), list(new), place)
    assert not plan.removed
    return [why for _, _, why in plan.superseded]


def test_why_there_is_no_counterpart():
    former = row(1, WHOLE)
    away = row(8, [(0, 0.31), (40, 0.31)])
    assert reasons(former, away) == ["the new line lies up to 0.31 m away"]
    longer = row(8, [(-100, 0), (100, 0)])
    assert reasons(former, longer) == ["it is a small part of a longer new line"]
    later = row(8, WHOLE, start=5000.0)
    assert reasons(former, later) == [
        "no new line was walked at its time: its capture was walked anew"
    ]
    other = row(8, WHOLE, capture="walk 2")
    assert reasons(former, other) == ["its capture is not part of the new results"]
    by_place = row(1, WHOLE, captures="walk 1, walk 2")
    assert reasons(by_place, row(8, [(0, 90), (40, 90)], captures="walk 1")) == [
        "there is no new line at its place"
    ]
    now = row(1, WHOLE, decision="hold")
    plan = plan_lines(changes(edited=[(former, now)]), [row(8, HALVES[0])], place)
    assert [why for *_, why in plan.superseded] == ["the new lines cover only 55% of it"]
    assert not plan.fields


def test_a_line_of_several_walks_is_known_by_its_place():
    former = row(1, WHOLE, captures="walk 1")
    new = row(8, WHOLE, capture=None, start=90000.0, captures="walk 1, walk 2")
    plan = plan_lines(changes(deleted=[former]), [new], place)
    assert plan.removed == {8}


def test_equal_rows_are_taken_one_by_one():
    marks = {b"a": [4, 5], b"b": [6]}
    now = Row(1, {"note": "seen"}, None)
    plan = plan_rows(
        changes(edited=[(b"a", now), (b"c", now)], deleted=[b"a", b"a", b"b"], added=[now]), marks
    )
    assert plan.fields == {4: {"note": "seen"}} and plan.removed == {5, 6}
    assert [why for *_, why in plan.superseded] == ["the new results have no such row"]
    assert plan.carried == {"edited": 1, "deleted": 2, "added": 1} and plan.copied == [now]


def test_what_was_kept_aside_goes_back_where_nobody_has_decided_since():
    aside = [("edited", row(1, WHOLE, decision="hold", remark="look"))]
    plan, returned = plan_return("edges", aside, [row(8, HALVES[0]), row(9, HALVES[1])], place)
    assert returned == [0] and set(plan.fields) == {8, 9}
    assert (plan.fields[8]["decision"], plan.fields[8]["remark"]) == ("hold", "look")
    plan, returned = plan_return("edges", aside, [row(8, WHOLE, decision="accept")], place)
    assert returned == [0] and not plan.fields  # what was decided since holds, once for all
    assert not any(plan.carried.values())
    plan, returned = plan_return("edges", aside, [row(8, WHOLE, start=500.0)], place)  # walked anew
    assert returned == []
    plan, returned = plan_return("edges", aside, [row(8, HALVES[0])], place)  # half of it alone
    assert returned == [] and not plan.fields
    plan, returned = plan_return("edges", [("deleted", row(1, WHOLE))], [row(8, WHOLE)], place)
    assert returned == [0] and plan.removed == {8}


def test_a_layer_is_known_by_its_walks_where_it_is_called_otherwise():
    former = [row(1, WHOLE), row(2, HALVES[0], "walk 2", 500.0)]
    new = [row(8, WHOLE, layer="quay 2"), row(9, HALVES[0], "walk 2", 500.0, layer="quay 2")]

    def names(now):
        return renamed(former, place(former, True), now, place(now, False))

    assert names(new) == {("quay", "walk 1"): "quay 2", ("quay", "walk 2"): "quay 2"}
    assert names([row(8, WHOLE, start=9.0, layer="quay 2")]) == {}  # walked anew
    assert names([row(8, [(0, 9), (40, 9)], layer="quay 2")]) == {}  # somewhere else
    assert names(former) == {}
    new[1].values["layer"] = "mole"  # shared out
    assert names(new) == {("quay", "walk 1"): "quay 2", ("quay", "walk 2"): "mole"}
    new[0].values["layer"] = "quay"  # only one of them left
    assert names(new) == {("quay", "walk 2"): "mole"}
    again = row(10, HALVES[0], "walk 2", 500.0, layer="mole, copy")
    assert names([*new, again]) == {}  # which one it is, nobody knows


def line(fid, number, name, **values):
    """A row of the status of the existing lines."""
    return Row(
        fid,
        {"line_id": number, "name": name, "status": "agrees", "decision": None, **values},
        shapely.to_wkb(shapely.LineString(WHOLE)),
    )


def test_of_existing_lines_one_on_the_other_each_keeps_its_own():
    """The edge of a road lies on the face of its curb, in one layer; the second was decided on."""
    written, now = line(2, 2, "road"), line(2, 2, "road", decision="reject")
    reviewed = changes(edited=[(written, now)], deleted=[line(3, 3, "footway")])
    reviewed.layer = "existing_status"
    both = [line(7, 1, "curb"), line(8, 2, "road"), line(9, 3, "footway")]
    plan = plan_lines(reviewed, both, place)
    assert plan.fields == {8: {"decision": "reject"}} and plan.removed == {9}
    anew = [line(7, 2, "curb"), line(8, 3, "road"), line(9, 1, "footway")]  # numbered anew
    plan = plan_lines(reviewed, anew, place)
    assert plan.fields == {8: {"decision": "reject"}} and plan.removed == {9}
    plan = plan_lines(reviewed, both[:1], place)
    assert not plan.fields and not plan.removed and len(plan.superseded) == 2
    plan, returned = plan_return("existing_status", [("edited", now)], both, place)
    assert returned == [0] and set(plan.fields) == {8}
    plan, returned = plan_return("existing_status", [("edited", now)], both[:1], place)
    assert returned == [] and not plan.fields


def test_rows_of_the_updated_basemap_one_on_the_other_keep_their_own():
    def road(fid, name, at):
        return Row(
            fid, {"name": name, "update": "replaced", "updated_at": at}, shapely.to_wkb(LINE)
        )

    now = road(2, "road", "monday")
    now.values["name"] = "lane"
    reviewed = changes(
        edited=[(road(2, "road", "monday"), now)], deleted=[road(3, "old", "monday")]
    )
    reviewed.layer = "updated"
    new = [road(number, name, "tuesday") for number, name in enumerate(("curb", "road", "old"), 7)]
    plan = plan_lines(reviewed, new, place)
    assert plan.fields == {8: {"name": "lane"}} and plan.removed == {9}


def test_consent_is_to_one_act():
    """Who lets a line be retired has not let it be redrawn; caution holds whatever comes."""
    was, seen = line(2, 2, "road", status="only_existing"), line(2, 2, "road", decision="accept")
    seen.values.update(status="only_existing", remark="gone")
    reviewed = changes(edited=[(was, seen)])
    reviewed.layer = "existing_status"
    now = [line(8, 2, "road", status="displaced")]
    plan = plan_lines(reviewed, now, place)
    assert not plan.fields and plan.carried["edited"] == 0
    ((_, row_aside, why),) = plan.superseded
    assert row_aside is seen and why == "it was accepted as “only_existing”, and is “displaced” now"
    assert plan_return("existing_status", [("edited", seen)], now, place)[1] == []
    same = [line(9, 2, "road", status="only_existing")]
    plan, returned = plan_return("existing_status", [("edited", seen)], same, place)
    assert returned == [0] and plan.fields[9]["decision"] == "accept"
    seen.values["decision"] = "hold"
    plan = plan_lines(reviewed, now, place)
    assert plan.fields[8]["decision"] == "hold" and not plan.superseded


@pytest.mark.parametrize(("one", "other", "taken"), [
    ("accept", "reject", None), ("accept", "later", None), ("hold", "reject", None),
    ("reject", "accept", "reject"), ("accept", "accept", "accept"), ("accept", None, "accept"),
])  # fmt: skip
def test_a_line_that_takes_in_two_is_decided_on_as_the_more_cautious_or_not(one, other, taken):
    most, rest = [(0, 0), (36, 0)], [(36, 0), (40, 0)]
    edited = [
        (row(1, most), row(1, most, decision=one, remark="a")),
        (row(2, rest, start=100.0), row(2, rest, start=100.0, decision=other, remark="b")),
    ]
    new = [row(8, WHOLE)]
    new[0].values["ended_unix"] = 200.0
    plan = plan_lines(changes(edited=edited), new, place)
    assert plan.fields.get(8, {}).get("decision") == taken
    assert len(plan.superseded) == (1 if taken else 2)
    aside = [(what, now) for what, now, _ in plan.superseded]
    assert taken or plan_return("edges", aside, new, place)[1] == []


LINE = shapely.LineString(WHOLE)
