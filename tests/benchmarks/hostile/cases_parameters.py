"""Numbers, choices, fields and texts that nobody should give as a parameter."""

import math

from frame import RIGHT, case
from truths import as_walked, edges, opened, plumb

EPOCHS = ("MAX_H_ACCURACY", "MAX_TIME_GAP", "MAX_DISTANCE_GAP")
NUMBERS = {
    "reconstructedges": (*EPOCHS, "CORNER_ANGLE", "TOLERANCE", "MIN_LENGTH", "STATION_SPACING"),
    "screenepochs": EPOCHS,
    "averageoccupations": ("MAX_H_ACCURACY", "MIN_EPOCHS", "RADIUS", "MIN_DWELL", "MAX_TIME_GAP"),
    "checkaccuracy": ("SEARCH_DISTANCE", "CHECK_SIGMA_H", "CHECK_SIGMA_V"),
    "compareedges": ("MAX_OFFSET", "STATION_SPACING", "EXISTING_SIGMA", "REACH", "CONFIDENCE"),
    "curbheight": ("MIN_HEIGHT", "MAX_HEIGHT", "MAX_DISTANCE", "STATION_SPACING", "SIGMA"),
    "estimateshift": ("MAX_OFFSET",),
    "fitalignments": ("TOLERANCE", "MIN_RADIUS", "MAX_RADIUS"),
    "joinedges": ("TOLERANCE", "MAX_EXTENSION", "MIN_CORNER_ANGLE", "MAX_HEIGHT_STEP"),
    "mergepasses": ("MAX_OFFSET", "MIN_OVERLAP", "BLEND", "TOLERANCE", "CONFIDENCE"),
    "offsetedges": ("TOLERANCE", "MITRE_LIMIT"),
    "processcaptures": (
        *EPOCHS,
        "CORNER_ANGLE",
        "TOLERANCE",
        "MIN_LENGTH",
        "MAX_OFFSET",
        "STATION_SPACING",
        "EXISTING_SIGMA",
        "REACH",
        "CLEAR_MATCHED",
        "CLEAR_SIGMA",
        "BLEND",
        "FOLLOW",
        "CONTROL_DISTANCE",
    ),
    "revisits": (
        "MIN_GAP",
        "MIN_GAP_SECONDS",
        "MIN_REJECTED",
        "MIN_REJECTED_LENGTH",
        "MAX_SIGMA",
        "MAX_SIGMA_UP",
        "MIN_LENGTH",
        "MIN_OPEN",
        "CLUSTER",
    ),
    "updatebasemap": ("MAX_OFFSET", "EXISTING_SIGMA", "CONFIDENCE", "REACH", "BLEND", "FOLLOW"),
}
EVERY = tuple((one, name) for one, names in NUMBERS.items() for name in names)


def asked(box, algorithm):
    """Parameters that the algorithm runs well with, every output asked for."""
    files = {key: str(box.folder / f"{key}.gpkg") for key in ("OUTPUT", "KEPT", "CHANGES")}
    given = {
        "reconstructedges": lambda: {
            "INPUT": plumb(),
            "STATIONS": "memory:",
            "GAPS": "memory:",
            "KEPT": files["KEPT"],
        },
        "screenepochs": lambda: {"INPUT": plumb(), "REJECTED": "memory:"},
        "averageoccupations": lambda: {"INPUT": plumb(), "POINTS": "memory:", "USED": "memory:"},
        "checkaccuracy": lambda: {"INPUT": edges(), "CHECK_POINTS": spots()},
        "compareedges": lambda: {
            "INPUT": edges(),
            "EXISTING": edges((0.1, 0.3), "existing"),
            "STATIONS": "memory:",
            "EXISTING_STATUS": "memory:",
            "SUMMARY": "memory:",
            "REPORT": str(box.folder / "report.html"),
        },
        "curbheight": lambda: {"INPUT": edges((0, 0.3)), "FLOW_LINE": low(), "STATIONS": "memory:"},
        "estimateshift": lambda: {"INPUT": edges(), "EXISTING": edges((0.1, 0.3), "existing")},
        "fitalignments": lambda: {"INPUT": edges(), "ELEMENTS": "memory:"},
        "joinedges": lambda: {"INPUT": edges(), "CHANGES": "memory:", "POLYGONS": "memory:"},
        "mergepasses": lambda: {"INPUT": passes(), "PASSES": "memory:", "DISAGREEMENTS": "memory:"},
        "offsetedges": lambda: {"INPUT": edges()},
        "processcaptures": lambda: {
            "LAYERS": [plumb()],
            "EXISTING": basemap(),
            "CONTROL": spots(),
            "UPDATE_BASEMAP": 2,
            "FOLDER": str(box.folder / "results"),
        },
        "revisits": lambda: {"GAPS": gaps(), "EDGES": edges(), "REASONS": "memory:"},
        "updatebasemap": lambda: {
            "EDGES": edges((0.1, 0.3)),
            "EXISTING": edges(name="existing"),
            "UPDATED": "memory:",
            "CHANGES": files["CHANGES"],
            "HELD": "memory:",
        },
    }[algorithm]()
    if not {"UPDATED", "POINTS", "FOLDER"} & set(given):
        given["OUTPUT"] = files["OUTPUT"]
    return given


def spots():
    from walkedlayers import layer_of

    places = ((0, 0.02), (40, 0.01), (40, 30), (0, 30))
    rows = [{"x": 100000.0 + x, "y": y, "z": 4.0} for x, y in places]
    return layer_of(rows, fields=(("name", "string"),), values=lambda row: ["a"], name="spots")


def low():
    layer = edges(name="flow line")
    layer.startEditing()
    for feature in list(layer.getFeatures()):
        shape = feature.geometry().constGet().clone()
        for index in range(shape.nCoordinates()):
            shape.setZAt(index, shape.zAt(index) - 0.12)
        from qgis.core import QgsGeometry

        layer.changeGeometry(feature.id(), QgsGeometry(shape))
    layer.commitChanges()
    return layer


def passes():
    layer = edges(name="passes")
    layer.dataProvider().addFeatures(edges((0.01, 0.02)).getFeatures())
    return layer


def basemap():
    import numpy as np
    from linelayers import line_layer
    from truths import CORNER
    from walkedlayers import ORIGIN

    return line_layer(
        [np.array([(100.0 * c, 0.4), (100.0 * c + CORNER, 0.4)]) for c in (0, 1)],
        name="basemap",
        fields=(("number", "integer"),),
        values=[(1,), (2,)],
        origin=ORIGIN,
    )


def gaps():
    import numpy as np
    from linelayers import line_layer

    return line_layer(
        [np.array([(0.0, 0.0), (5.0, 0.0)]), np.array([(50.0, 0.0), (59.0, 0.0)])],
        name="gaps",
        fields=(
            ("gap_id", "integer"),
            ("reason", "string"),
            ("seconds", "double"),
            ("metres", "double"),
        ),
        values=[(1, "paused", 9.0, 5.0), (2, "jump", 9.0, 9.0)],
    )


def finite(box, outcome):
    """No layer that came out has a number or a place that is none."""
    for name, value in outcome.results.items():
        if isinstance(value, float):
            box.right(not math.isinf(value), f"{name} is {value}")
        if isinstance(value, (int, float, type(None))) or str(value).endswith(("html", "results")):
            continue
        layer = opened(value)
        box.whole(layer.isValid(), f"{name} cannot be opened: {value}")
        for feature in layer.getFeatures():
            for vertex in feature.geometry().vertices():
                box.right(math.isfinite(vertex.x() + vertex.y()), f"{name}: a vertex of NaN")
    return RIGHT


def named(box, outcome, algorithm, name):
    """The error must name the parameter, by its id or its label."""
    import re

    from qgis.core import QgsApplication

    made = QgsApplication.processingRegistry().createAlgorithmById(f"curbwright:{algorithm}")
    label = made.parameterDefinition(name).description()
    return box.refused(outcome, f"{name}|{re.escape(label)}")


@case("bounds of parameters", each=tuple(NUMBERS))
def as_it_should_be(box, algorithm):
    outcome = box.run(algorithm, **asked(box, algorithm))
    box.done(outcome)
    return finite(box, outcome)


@case("bounds of parameters", each=EVERY)
def number_that_is_none(box, algorithm, name):
    outcome = box.run(algorithm, **{**asked(box, algorithm), name: math.nan})
    return box.refused(outcome, name)


@case("bounds of parameters", each=EVERY)
def number_without_end(box, algorithm, name):
    outcome = box.run(algorithm, **{**asked(box, algorithm), name: math.inf})
    return box.refused(outcome, name)


@case("bounds of parameters", each=EVERY)
def number_of_300_digits(box, algorithm, name):
    """1e300 is a number: either it is refused by its name, or it does as what it says."""
    outcome = box.run(algorithm, **{**asked(box, algorithm), name: 1e300})
    return named(box, outcome, algorithm, name) if outcome.error else finite(box, outcome)


@case("bounds of parameters", each=EVERY)
def number_as_small_as_allowed(box, algorithm, name):
    from qgis.core import QgsApplication

    made = QgsApplication.processingRegistry().createAlgorithmById(f"curbwright:{algorithm}")
    least = made.parameterDefinition(name).minimum()
    given = {**asked(box, algorithm), name: least}
    outcome = box.run(algorithm, **given)
    return named(box, outcome, algorithm, name) if outcome.error else finite(box, outcome)


@case("bounds of parameters", each=EVERY)
def number_in_words(box, algorithm, name):
    outcome = box.run(algorithm, **{**asked(box, algorithm), name: "0,05 m"})
    return box.refused(outcome, name)


@case("bounds of parameters", each=EVERY)
def number_from_data_that_is_none(box, algorithm, name):
    """A data-defined value that comes to nothing must not count as the default."""
    from qgis.core import QgsProperty

    outcome = box.run(
        algorithm, **{**asked(box, algorithm), name: QgsProperty.fromExpression("0/0 - log(-1)")}
    )
    return box.refused(outcome, name)


CHOICES = (
    ("reconstructedges", "CURVE_MODEL"),
    ("reconstructedges", "DOUBTFUL"),
    ("estimateshift", "MODEL"),
    ("joinedges", "KEEP_BREAKS"),
    ("updatebasemap", "REPLACE"),
    ("updatebasemap", "RETIRE"),
    ("updatebasemap", "LIFECYCLE"),
    ("revisits", "BREAK_REASONS"),
    ("revisits", "STATUSES"),
    ("processcaptures", "UPDATE_BASEMAP"),
)


@case("bounds of parameters", each=tuple((*one, odd) for one in CHOICES for odd in (99, -1, "odd")))
def choice_that_is_none(box, algorithm, name, odd):
    outcome = box.run(algorithm, **{**asked(box, algorithm), name: odd})
    return box.refused(outcome, name)


FIELDS = (
    ("reconstructedges", "TIME_FIELD"),
    ("reconstructedges", "CAPTURE_FIELDS"),
    ("reconstructedges", "FIX_FIELD"),
    ("reconstructedges", "H_ACCURACY_FIELD"),
    ("reconstructedges", "V_ACCURACY_FIELD"),
    ("screenepochs", "TIME_FIELD"),
    ("averageoccupations", "FIX_FIELD"),
    ("compareedges", "SIGMA_FIELD"),
    ("fitalignments", "EDGE_FIELDS"),
    ("joinedges", "GROUP_FIELDS"),
    ("mergepasses", "GROUP_FIELDS"),
    ("mergepasses", "SIGMA_FIELD"),
    ("mergepasses", "SIGMA_UP_FIELD"),
    ("offsetedges", "MIRROR_FIELD"),
    ("updatebasemap", "SIGMA_FIELD"),
    ("updatebasemap", "KEY_FIELD"),
    ("processcaptures", "TIME_FIELD"),
    ("processcaptures", "FIX_FIELD"),
    ("processcaptures", "H_ACCURACY_FIELD"),
    ("processcaptures", "CAPTURE_FIELDS"),
    ("processcaptures", "KEY_FIELD"),
)


@case("bounds of parameters", each=FIELDS)
def field_that_is_not_there(box, algorithm, name):
    outcome = box.run(algorithm, **{**asked(box, algorithm), name: "no such <b>field"})
    if outcome.error is None and algorithm == "processcaptures":
        return box.warned(outcome, "no such")
    return box.refused(outcome, "no such", "layer|field")


@case("bounds of parameters", each=("time", "FIX", " fix ", "fix;capture", ""))
def fix_field_in_another_spelling(box, name):
    """Found whatever the case, asked about, or (left empty) found; never without."""
    outcome = box.run("reconstructedges", INPUT=plumb(), FIX_FIELD=name, OUTPUT="memory:")
    if outcome.error:
        return box.refused(outcome, "fix")
    return as_walked(box, outcome)


@case(
    "bounds of parameters",
    each=(
        "EPSG:999999",
        "nonsense",
        "EPSG:4326",
        "EPSG:4978",
        "EPSG:2263",
        "EPSG:31466",
        "EPSG:3031",
        "EPSG:3857",
        "PROJ:+proj=tmerc +lat_0=56 +lon_0=9 +units=us-ft",
        "EPSG:5773",
    ),
)
def working_frame(box, crs):
    """Refused by name, or the truth."""
    outcome = box.run("reconstructedges", INPUT=plumb(), WORKING_CRS=crs, OUTPUT="memory:")
    if outcome.error:
        return box.refused(outcome, "WORKING_CRS|working CRS")
    return as_walked(box, outcome)


@case(
    "bounds of parameters",
    each=(
        "",
        "   ",
        "nonsense",
        "a: nan 0",
        "a: inf 0",
        "a: 1e300 0",
        "a: 0,5 0,1",
        "a: 1",
        "a: 1 2 3",
        ":",
        "a: 1 2; a: 1 2",
        "a: 1 2;;;b: 2 3",
        "<script>: 1 0",
        "a\n: 1 0",
        "a: -100000 0",
        "a: 0 0",
        "x: 1 0 ; " * 300,
        "kante außen ✓: 0.1 0.0",
    ),
)
def section(box, text):
    """A cross-section: lines that lie where it says, or an error that names the parameter."""
    outcome = box.run("offsetedges", INPUT=edges(), SECTION=text, OUTPUT="memory:")
    if outcome.error:
        return box.refused(outcome, "section")
    box.right("e300" not in text and "nan" not in text and "inf" not in text, "was taken")
    return finite(box, outcome)


@case(
    "bounds of parameters",
    each=(
        "nonsense",
        "nan,nan",
        "inf,0",
        "1e300,1e300",
        "0,0 [EPSG:4326]",
        "500,95 [EPSG:4326]",
        "1,2 [EPSG:999999]",
        "600000,6200000 [EPSG:32632]",
    ),
)
def start_of_the_walk(box, point):
    given = {**asked(box, "revisits"), "START": point}
    outcome = box.run("revisits", **given)
    if outcome.error:
        return box.refused(outcome, "START")
    box.right(
        point[0] in "0156" and "999999" not in point and "300" not in point and "500," not in point,
        f"was taken: {outcome.results}",
    )
    return finite(box, outcome)


TEXTS = (
    "<script>alert(1)</script>",
    "x" * 100_000,
    "a\x00b",
    "\u202eright to left",
    "{TITLE} %s {0}",
    "ü" * 300,
    "\ud83d\ude00",
    "&lt;&amp;",
    "]]>",
    "\r\n\t",
)


@case("bounds of parameters", each=tuple(range(len(TEXTS))))
def title_of_a_report(box, which):
    text = TEXTS[which]
    given = {**asked(box, "compareedges"), "TITLE": text, "AREA_NAME": text, "AUTHOR": text}
    outcome = box.run("compareedges", **given)
    if outcome.error:
        return box.refused(outcome, "TITLE|AREA_NAME|AUTHOR")
    page = (box.folder / "report.html").read_text(encoding="utf-8")
    box.right("<script>alert" not in page, "a script in the page")
    return box.right("\x00" not in page, "a NUL in the page")


@case(
    "bounds of parameters",
    each=(
        "0001-01-01T00:00:00",
        "9999-12-31T23:59:59",
        "nonsense",
        "1969-12-31",
        "2026-02-30",
        "20260504",
    ),
)
def day_of_a_log(box, date):
    path = box.folder / "a.nmea"
    from cases_receiver_logs import gga, log_file

    log_file(path, [gga(i) for i in range(20)])
    outcome = box.run("readnmealog", INPUT=[str(path)], DATE=date, OUTPUT="memory:")
    if outcome.error:
        return box.refused(outcome, "DATE")
    box.right(date not in ("nonsense", "2026-02-30"), "was taken")
    return box.right(outcome["EPOCHS"] == 20, f"{outcome['EPOCHS']} epochs")
