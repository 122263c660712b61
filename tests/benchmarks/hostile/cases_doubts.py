"""Figures that look right and are not: copies with other times, mixed zones, layers compared with
themselves, values that hide a move."""

import os

import numpy as np
from cases_times import edges_of, one_straight, straight, timed
from frame import case
from linelayers import line_layer
from qgis.core import QgsGeometry, QgsPoint
from truths import edges
from walkedlayers import START, iso, layer_of

DOUBTS = "figures that look right"


@case(DOUBTS, each=(3600, 7200, 19800, -3600))
def a_walk_twice_with_times_of_another_zone(box, shift):
    rows = straight()
    again = [{**row, "seconds": row["seconds"] + shift} for row in rows]
    outcome, _ = edges_of(box, timed(rows + again, "string", iso))
    return box.warned(outcome, "later", "twice")


@case(DOUBTS, each=("half", "every other", "one"))
def some_times_name_a_zone(box, which):
    rows = straight()
    take = {"half": lambda i: i < 60, "every other": lambda i: i % 2, "one": lambda i: i == 50}
    number = iter(range(len(rows)))
    outcome, _ = edges_of(
        box, timed(rows, "string", lambda s: iso(s, "" if take[which](next(number)) else "Z"))
    )
    return box.warned(outcome, "name no zone", "“time”")


@case(DOUBTS, each=("%Y/%m/%d %H:%M:%S", "%Y/%m/%dT%H:%M:%SZ", "%Y/%m/%d %H:%M:%S.000"))
def dates_with_the_year_first(box, form):
    def write(seconds):
        return np.datetime64(int(seconds), "s").astype(object).strftime(form)

    outcome, found = edges_of(box, timed(straight(), "string", write))
    box.done(outcome)
    box.right(abs(found[0]["started_unix"] - START) < 1, f"{found[0]['started_unix']}")
    return one_straight(box, found)


@case(DOUBTS, each=(" / ", "/", "\\"))
def captures_of_two_fields_that_read_alike(box, between):
    """Two walks, one after the other and end to end, that only both fields together tell apart."""
    first, second = straight(60), straight(60, start=START + 60)
    for row in second:
        row["x"] += 72.0
    one, other = ("a" + between + "b", "c"), ("a", "b" + between + "c")
    rows = [{**row, "street": one[0], "side": one[1]} for row in first]
    rows += [{**row, "street": other[0], "side": other[1]} for row in second]
    layer = layer_of(
        rows,
        fields=(("time", "string"), ("fix", "integer"), ("street", "string"), ("side", "string")),
        values=lambda row: [iso(row["seconds"]), row["fix"], row["street"], row["side"]],
    )
    outcome, found = edges_of(box, layer, CAPTURE_FIELDS=["street", "side"])
    box.done(outcome)
    names = [row["capture"] for row in found]
    return box.right(len(set(names)) == len(names) == 2, f"{names}")


@case(DOUBTS, each=("reconstructedges", "screenepochs", "averageoccupations"))
def degrees_under_a_projected_crs(box, algorithm):
    layer = layer_of(
        straight(), place=lambda x, y, z: QgsGeometry(QgsPoint(9 + x / 6e4, 56 + y / 1e5, z))
    )
    output = "POINTS" if algorithm == "averageoccupations" else "OUTPUT"
    return box.warned(box.run(algorithm, INPUT=layer, **{output: "memory:"}), "degrees")


@case(DOUBTS, each=(5.0, 999.0, 1e12))
def one_sigma_that_hides_a_move(box, sigma):
    fields = (("sigma_cross", "double"),)
    shapes = [np.array([(0.0, y), (40.0, y)]) for y in (0.0, 20.0, 40.0, 60.0, 80.0)]
    new = line_layer(shapes, fields=fields, values=[[0.01]] * 4 + [[sigma]])
    old = line_layer([*shapes[:4], shapes[4] + (0.0, 0.4)], "basemap")
    outcome = box.run(
        "compareedges", INPUT=new, EXISTING=old, OUTPUT="memory:", EXISTING_SIGMA=0.02
    )
    return box.warned(outcome, "sigma_cross", r": 1\. Nothing")


@case(DOUBTS, each=(1000.0, 43.0 / 4.0))
def heights_that_no_curb_has(box, factor):
    top = edges()
    flow = line_layer(
        [np.array([(0.0, -0.05, 4.0 / factor), (40.0, -0.05, 4.0 / factor)])],
        name="flow line",
        kind="LineStringZ",
    )
    outcome = box.run("curbheight", INPUT=top, FLOW_LINE=flow, OUTPUT="memory:")
    return box.warned(outcome, "no curb", "flow line")


def checked(shift=(0.0, 0.0), exchanged=False):
    rows = [
        {"x": 10.0 * (i % 6), "y": 10.0 * (i // 6), "z": 4.0, "seconds": START + i, "fix": 4,
         "h_acc": 0.01, "capture": f"p{i}"}
        for i in range(36)
    ]  # fmt: skip

    def place(x, y, z):
        at = (5e5 + x + shift[0], 6.2e6 + y + shift[1])
        return QgsGeometry(QgsPoint(*(at[::-1] if exchanged else at), z))

    return layer_of(rows, place=place, name="check points")


@case(DOUBTS, each=("by place", "by identifier"))
def check_points_that_are_what_is_tested(box, how):
    by = {"ID_FIELD": "capture", "CHECK_ID_FIELD": "capture"} if how == "by identifier" else {}
    layer = checked()
    outcome = box.run("checkaccuracy", INPUT=layer, CHECK_POINTS=checked(), OUTPUT="memory:", **by)
    return box.warned(outcome, "with itself")


@case(DOUBTS)
def check_points_with_east_and_north_exchanged(box):
    by = {"ID_FIELD": "capture", "CHECK_ID_FIELD": "capture"}
    other = checked(exchanged=True)
    outcome = box.run(
        "checkaccuracy", INPUT=checked((0.02, 0.0)), CHECK_POINTS=other, OUTPUT="memory:", **by
    )
    return box.refused(outcome, "exchanged", "check points")


@case(DOUBTS, each=("GAPS", "CHANGES", "DISAGREEMENTS"))
def a_basemap_for_a_list_of_places(box, which):
    kind = {"CHANGES": checked()}.get(which, edges(name="basemap"))
    outcome = box.run("revisits", **{which: kind}, OUTPUT="memory:")
    if outcome.error is not None:
        return box.refused(outcome, which.capitalize()[:4])
    return box.warned(outcome, "none of the fields")


@case(DOUBTS)
def a_gap_with_a_reason_of_a_persons_own(box):
    fields = (("metres", "double"), ("seconds", "double"), ("reason", "string"))
    layer = line_layer(
        [np.array([(0.0, 0.0), (6.0, 0.0)])],
        "gaps",
        fields=fields,
        values=[[6.0, 20.0, "parked van"]],
    )
    outcome = box.run("revisits", GAPS=layer, OUTPUT="memory:")
    box.done(outcome)
    return box.right(outcome["PLACES"] == 1, f"{outcome['PLACES']}")


@case(DOUBTS, each=("/dev/zero", "pipe", "/dev/random"))
def a_log_that_never_ends(box, what):
    if what == "pipe":
        what = box.folder / "pipe.log"
        os.mkfifo(what)
    outcome = box.run("readnmealog", INPUT=[str(what)], OUTPUT="memory:")
    return box.refused(outcome, "folder or a device")
