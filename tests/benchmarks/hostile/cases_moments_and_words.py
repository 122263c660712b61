"""Times, accuracies and fix states in every form that people and programs write."""

import datetime as dt
import math

import numpy as np
from frame import RIGHT, case
from qgis.core import QgsVectorFileWriter
from qgis.PyQt.QtCore import QDate, QDateTime, Qt, QTime
from truths import NOT_FIXED, ROWS, as_walked, opened, plumb
from walkedlayers import START, layer_of, to_file, walk

UNIX = dt.datetime(1970, 1, 1)


def at(seconds):
    return UNIX + dt.timedelta(seconds=seconds)


def since(*origin):
    return (UNIX - dt.datetime(*origin)).total_seconds()


def on(form, shift=0.0):
    return lambda s: at(s + shift).strftime(form)


MONTHS = ["Jan", "Feb", "Mar", "Apr", "Mai", "Jun", "Jul", "Aug", "Sep", "Okt", "Nov", "Dez"]
FORMS = {  # name: (type, seconds since 1970 to the value)
    "z": ("string", on("%Y-%m-%dT%H:%M:%SZ")),
    "zone": ("string", on("%Y-%m-%dT%H:%M:%S+02:00", 7200)),
    "zone without colon": ("string", on("%Y-%m-%d %H:%M:%S -0330", -12600)),
    "slashes year first": ("string", on("%Y/%m/%d %H:%M:%S")),
    "dots": ("string", on("%d.%m.%Y %H:%M:%S")),
    "comma": ("string", lambda s: at(s).strftime("%Y-%m-%dT%H:%M:%S") + ",000"),
    "basic": ("string", on("%Y%m%dT%H%M%SZ")),
    "ordinal day": ("string", on("%Y-%jT%H:%M:%SZ")),
    "mail": ("string", on("%a, %d %b %Y %H:%M:%S GMT")),
    "english month": ("string", on("%d %B %Y %H:%M:%S")),
    "german month": (
        "string",
        lambda s: f"{at(s).day}. {MONTHS[at(s).month - 1]} " + at(s).strftime("%Y %H:%M:%S"),
    ),
    "12 hours": ("string", on("%Y-%m-%d %I:%M:%S %p")),
    "12 hours over noon": ("string", on("%Y-%m-%d %I:%M:%S %p", 7170)),
    "12 hours over midnight": ("string", on("%Y-%m-%d %I:%M:%S %p", 50370)),
    "12 hours without am": ("string", on("%Y-%m-%d %I:%M:%S", 10770)),
    "american": ("string", on("%m/%d/%Y %H:%M:%S")),
    "american 12 hours": ("string", on("%m/%d/%Y %I:%M:%S %p")),
    "two digit year": ("string", on("%d.%m.%y %H:%M:%S")),
    "clock": ("string", on("%H:%M:%S")),
    "clock 12 hours over noon": ("string", on("%I:%M:%S %p", 7170)),
    "clock over midnight": ("string", on("%H:%M:%S", 50370)),
    "clock without seconds": ("string", on("%H:%M")),
    "blanks": ("string", lambda s: f"  {at(s):%Y-%m-%dT%H:%M:%SZ}\u00a0"),
    "zero width": ("string", lambda s: f"\ufeff{at(s):%Y-%m-%dT%H:%M:%SZ}\u200b"),
    "wide digits": (
        "string",
        lambda s: f"{at(s):%Y-%m-%dT%H:%M:%SZ}".translate({48 + i: 0xFF10 + i for i in range(10)}),
    ),
    "arabic digits": (
        "string",
        lambda s: f"{at(s):%Y-%m-%dT%H:%M:%SZ}".translate({48 + i: 0x660 + i for i in range(10)}),
    ),
    "nine decimals": ("string", lambda s: f"{at(s):%Y-%m-%dT%H:%M:%S}.000000001Z"),
    "seconds text": ("string", lambda s: f"{s:.0f}"),
    "seconds comma text": ("string", lambda s: f"{s:.3f}".replace(".", ",")),
    "thousands text": ("string", lambda s: f"{s:,.3f}"),
    "exponent text": ("string", lambda s: f"{s:.12e}"),
    "unix": ("double", lambda s: s),
    "milli": ("double", lambda s: s * 1e3),
    "micro": ("double", lambda s: s * 1e6),
    "nano": ("int8", lambda s: int(s) * 10**9),
    "micro whole": ("int8", lambda s: int(s) * 10**6),
    "float32": ("double", lambda s: float(np.float32(s))),
    "float32 milli": ("double", lambda s: float(np.float32(s * 1e3))),
    "float32 of a day": ("double", lambda s: float(np.float32(s % 86400.0))),
    "1980": ("double", lambda s: s + since(1980, 1, 6) + 18),
    "1980 milli": ("double", lambda s: (s + since(1980, 1, 6) + 18) * 1e3),
    "1904": ("double", lambda s: s + since(1904, 1, 1)),
    "1900": ("double", lambda s: s + since(1900, 1, 1)),
    "2001": ("double", lambda s: s + since(2001, 1, 1)),
    "2000": ("double", lambda s: s + since(2000, 1, 1)),
    "1980 micro": ("double", lambda s: (s + since(1980, 1, 6)) * 1e6),
    "1904 micro": ("double", lambda s: (s + since(1904, 1, 1)) * 1e6),
    "ticks": ("int8", lambda s: int(s + since(1, 1, 1)) * 10**7),
    "filetime": ("int8", lambda s: int(s + since(1601, 1, 1)) * 10**7),
    "days 1899": ("double", lambda s: s / 86400 + 25569),
    "julian": ("double", lambda s: s / 86400 + 2440587.5),
    "modified julian": ("double", lambda s: s / 86400 + 40587),
    "days 1904": ("double", lambda s: s / 86400 + 24107),
    "part of a day": ("double", lambda s: (s % 86400) / 86400),
    "digits": ("double", lambda s: float(on("%Y%m%d%H%M%S")(s))),
    "digits of a clock": ("integer", lambda s: int(on("%H%M%S")(s))),
    "second of the week": ("double", lambda s: (s + 18 - 315964800) % 604800),
    "hours": ("double", lambda s: (s % 86400) / 3600),
    "from zero": ("double", lambda s: s - START),
    "milli from zero": ("double", lambda s: (s - START) * 1000.0),
    "negative": ("double", lambda s: s - START - 5000.0),
    "year 2150": ("double", lambda s: s + 4e9),
    "date field": ("date", lambda s: QDate(2026, 5, 4)),
    "time field": ("time", lambda s: QTime.fromMSecsSinceStartOfDay(int(s % 86400) * 1000)),
    "utc field": (
        "datetime",
        lambda s: QDateTime.fromMSecsSinceEpoch(int(s * 1000), Qt.TimeSpec.UTC),
    ),
    "local field": ("datetime", lambda s: QDateTime.fromMSecsSinceEpoch(int(s * 1000))),
    "offset field": (
        "datetime",
        lambda s: QDateTime.fromMSecsSinceEpoch(int(s * 1000), Qt.TimeSpec.OffsetFromUTC, 19800),
    ),
    "boolean": ("bool", lambda s: int(s) % 2 == 0),
    "words": ("string", lambda s: f"epoch {s:.0f}"),
    "same text": ("string", lambda s: "2026-05-04T10:00:00Z"),
    "same number": ("double", lambda s: START),
    "all null": ("string", lambda s: None),
    "all empty": ("string", lambda s: ""),
    "zero": ("double", lambda s: 0.0),
    "nan": ("double", lambda s: math.nan),
    "counter": ("integer", lambda s: int(s - START)),
}


def clocked(form, captures=True):
    type_, value = FORMS[form]
    fields = (("time", type_), ("fix", "integer"), ("h_acc", "double"), ("capture", "string"))
    return layer_of(
        walk(),
        fields=fields,
        values=lambda row: [value(row["seconds"]), row["fix"], row["h_acc"], row["capture"]],
    )


@case("forms of time", each=tuple(FORMS))
def time_as(box, form):
    return in_good_time(
        box, box.run("reconstructedges", INPUT=clocked(form), OUTPUT="memory:"), form
    )


@case("forms of time", each=tuple(FORMS))
def time_named_as(box, form):
    """The same with the field given by name."""
    outcome = box.run("reconstructedges", INPUT=clocked(form), TIME_FIELD="time", OUTPUT="memory:")
    return in_good_time(box, outcome, form)


def in_good_time(box, outcome, form):
    """Refused by name; or the walk at its time; or at another one with a warning."""
    if outcome.error:
        return box.refused(outcome, "quay walk", "time", "TIME_FIELD|Time|choose|give")
    shift = {
        "12 hours over noon": 7170,
        "clock 12 hours over noon": 7170,
        "12 hours over midnight": 50370,
        "clock over midnight": 50370,
    }.get(form, 0)
    if outcome.log.warnings and any("time" in one.lower() for one in outcome.log.warnings):
        return RIGHT
    as_walked(box, outcome)
    starts = [f["started_unix"] for f in opened(outcome["OUTPUT"]).getFeatures()]
    for one in starts:
        if isinstance(one, float):
            near = min(abs(one - START - shift - 1000.0 * c - 30.0) for c in (0, 1))
            said = form == "days 1904" and "from 2022-05-03" in outcome.text  # one of two readings
            box.right(near < 32.0 or said, f"begins at {at(one)} and nothing is said")
    return RIGHT


def odd_rows(box, change, rows=None, **given):
    rows = walk() if rows is None else rows
    for i, row in enumerate(rows):
        change(i, row)
    return box.run(
        "reconstructedges", INPUT=layer_of(rows), OUTPUT="memory:", REJECTED="memory:", **given
    )


TROUBLES = {
    "one null": lambda i, r: r.update(seconds=None) if i == 20 else None,
    "every third null": lambda i, r: r.update(seconds=None) if i % 3 == 1 else None,
    "decreasing": lambda i, r: r.update(seconds=2 * START - r["seconds"] + 2000),
    "one of 1970": lambda i, r: r.update(seconds=5.0) if i == 20 else None,
    "one of 2070": lambda i, r: r.update(seconds=3.2e9) if i == 20 else None,
    "pairs equal": lambda i, r: r.update(seconds=r["seconds"] - i % 2),
    "summer time": lambda i, r: r.update(seconds=r["seconds"] - (3600 if i >= 90 else 0)),
    "one hour on": lambda i, r: r.update(seconds=r["seconds"] + (3600 if i >= 90 else 0)),
    "jitter": lambda i, r: r.update(seconds=r["seconds"] + 0.3 * (i % 2)),
}


@case("forms of time", each=tuple(TROUBLES))
def times_with(box, trouble):
    import walkedlayers

    rows = walk()
    for i, row in enumerate(rows):
        TROUBLES[trouble](i, row)
    layer = layer_of(
        rows,
        values=lambda r: [
            None if r["seconds"] is None else walkedlayers.iso(r["seconds"]),
            r["fix"],
            r["h_acc"],
            r["capture"],
        ],
    )
    outcome = box.run("reconstructedges", INPUT=layer, OUTPUT="memory:", REJECTED="memory:")
    box.done(outcome)
    from truths import off_truth

    off, _ = off_truth(outcome["OUTPUT"])
    said = any("“repeat”" in one for one in outcome.log.warnings)  # half of the epochs are left
    box.right(off < (0.3 if said else 0.08), f"{off:.3f} m off the truth")
    return box.right(outcome["EPOCHS_READ"] == ROWS, "rows")


@case(
    "forms of time",
    each=(
        ("date", "time"),
        ("Datum", "Uhrzeit"),
        ("fecha", "hora"),
        ("week", "tow"),
        ("day", "clock"),
    ),
)
def two_fields_of_time(box, first, second):
    kinds = ("integer", "double") if first == "week" else ("string", "string")

    def value(s):
        if first != "week":
            return [at(s).strftime("%Y-%m-%d"), at(s).strftime("%H:%M:%S")]
        week, second = divmod(s + 18 - 315964800, 604800)
        return [int(week), second]

    layer = layer_of(
        walk(),
        fields=(
            (first, kinds[0]),
            (second, kinds[1]),
            ("fix", "integer"),
            ("h_acc", "double"),
            ("capture", "string"),
        ),
        values=lambda r: [*value(r["seconds"]), r["fix"], r["h_acc"], r["capture"]],
    )
    return in_good_time(box, box.run("reconstructedges", INPUT=layer, OUTPUT="memory:"), "")


@case("forms of time", each=("shp", "csv", "fgb", "geojson"))
def moments_through_a_file(box, suffix):
    """A date-time field in a format that may hold dates only."""
    drivers = {
        "shp": QgsVectorFileWriter.driverForExtension("shp"),
        "csv": "CSV",
        "fgb": "FlatGeobuf",
        "geojson": "GeoJSON",
    }
    options = {"layerOptions": ["GEOMETRY=AS_WKT"]} if suffix == "csv" else {}
    source = to_file(clocked("utc field"), box.folder / f"w.{suffix}", drivers[suffix], **options)
    from qgis.core import QgsCoordinateReferenceSystem

    source.setCrs(QgsCoordinateReferenceSystem("EPSG:32632"))
    return in_good_time(box, box.run("reconstructedges", INPUT=source, OUTPUT="memory:"), "")


# Accuracies

ACCURACIES = {  # name: (type, value of a row, rows that must be rejected at least)
    "minus one": ("double", lambda i, a: -1.0 if i == 10 else a, 9),
    "infinite": ("double", lambda i, a: math.inf if i == 10 else a, 9),
    "nan": ("double", lambda i, a: math.nan if i == 10 else a, 8),
    "one word": ("string", lambda i, a: "poor" if i == 10 else str(a), 9),
    "comma": ("string", lambda i, a: str(a).replace(".", ","), 8),
    "unit": ("string", lambda i, a: f"{a} m", 8),
    "unit close": ("string", lambda i, a: f"{a}m", 8),
    "millimetres said": ("string", lambda i, a: f"{a * 1000:.0f} mm", 8),
    "centimetres said": ("string", lambda i, a: f"{a * 100:.1f} cm", 8),
    "feet said": ("string", lambda i, a: f"{a / 0.3048:.4f} ft", 8),
    "plus minus": ("string", lambda i, a: f"\u00b1{a}", 8),
    "less than": ("string", lambda i, a: f"<{a}", 8),
    "millimetres": ("double", lambda i, a: a * 1000, 8),
    "centimetres": ("double", lambda i, a: a * 100, 8),
    "micrometres": ("double", lambda i, a: a * 1e6, 8),
    "kilometres": ("double", lambda i, a: a / 1000, 8),
    "whole millimetres": ("integer", lambda i, a: round(a * 1000), 8),
    "all zero": ("double", lambda i, a: 0.0, 6),
    "all minus one": ("double", lambda i, a: -1.0, 6),
    "all null": ("double", lambda i, a: None, 6),
    "half null": ("double", lambda i, a: a if i % 2 else None, 7),
    "all 9999": ("double", lambda i, a: 9999.0, 6),
    "some 9999": ("double", lambda i, a: 9999.0 if i % 7 == 0 else a, 20),
    "all same": ("double", lambda i, a: 0.01, 6),
    "exponent": ("string", lambda i, a: f"{a:e}", 8),
    "empty text": ("string", lambda i, a: "" if i == 10 else str(a), 8),
    "dash": ("string", lambda i, a: "-" if i == 10 else str(a), 8),
    "words": ("string", lambda i, a: "good" if a < 0.1 else "poor", 8),
    "boolean": ("bool", lambda i, a: a < 0.1, 6),
    "wide digits": (
        "string",
        lambda i, a: str(a).translate({48 + k: 0xFF10 + k for k in range(10)}),
        8,
    ),
    "huge": ("double", lambda i, a: 1e300 if i == 10 else a, 9),
    "list": ("string", lambda i, a: f"{a};{a}", 8),
}


@case(
    "accuracies in all forms",
    each=tuple((one, given) for one in ACCURACIES for given in ("found", "given")),
)
def accuracy_as(box, form, given):
    """Poor epochs are rejected whatever the field looks like; or it is asked about, or warned."""
    kind, value, least = ACCURACIES[form]
    rows = walk()
    for i, row in enumerate(rows):
        row["i"] = i
    layer = layer_of(
        rows,
        fields=(("time", "string"), ("fix", "integer"), ("h_acc", kind), ("capture", "string")),
        values=lambda r: [
            at(r["seconds"]).strftime("%Y-%m-%dT%H:%M:%SZ"),
            r["fix"],
            value(r["i"], r["h_acc"]),
            r["capture"],
        ],
    )
    more = {"H_ACCURACY_FIELD": "h_acc"} if given == "given" else {}
    outcome = box.run("reconstructedges", INPUT=layer, OUTPUT="memory:", REJECTED="memory:", **more)
    if outcome.error:
        return box.refused(outcome, "quay walk", "h_acc")
    if any("h_acc" in one for one in outcome.log.warnings):
        return RIGHT
    as_walked(box, outcome, screened=False, least=0.6)
    found = outcome["EPOCHS_REJECTED"]
    return box.right(found >= least, f"{found} rejected of {least} at least, and nothing said")


# Fix words

SAID = {  # what 4 is and what 5 is
    "numbers text": ("4", "5"),
    "decimals": ("4.0", "5.0"),
    "english": ("Fixed", "Float"),
    "capitals": ("RTK FIXED", "RTK FLOAT"),
    "fix": ("FIX", "FLOAT"),
    "german": ("fixiert", "Gleitlösung"),
    "german plain": ("Fest", "Float"),
    "french": ("fixe", "flottant"),
    "french accent": ("fixé", "flottante"),
    "spanish": ("fijo", "flotante"),
    "italian": ("fisso", "mobile"),
    "dutch": ("vast", "zwevend"),
    "portuguese": ("fixo", "flutuante"),
    "polish": ("ustalone", "pływające"),
    "russian": ("фиксированное", "плавающее"),
    "chinese": ("固定解", "浮点解"),
    "japanese": ("フィックス", "フロート"),
    "invisible": ("\u200bfixed\u00a0", "float\ufeff"),
    "tab": ("fixed\t", "\tfloat"),
    "prefix": ("4 - RTK fixed", "5 - RTK float"),
    "bracket": ("RTK (fixed)", "RTK (float)"),
    "paren": ("Fixed (4)", "Float (5)"),
    "camel": ("RtkFixed", "RtkFloat"),
    "underscore": ("rtk_fixed", "rtk_float"),
    "code": ("R", "F"),
    "rtk": ("RTK", "FRTK"),
    "rtk and dgps": ("RTK", "DGPS"),
    "yes": ("yes", "no"),
    "ja": ("ja", "nein"),
    "true": ("true", "false"),
    "integer words": ("integer", "real"),
    "ambiguity": ("ambiguity fixed", "ambiguity float"),
    "narrow": ("NARROW_INT", "NARROW_FLOAT"),
    "l1": ("L1_INT", "L1_FLOAT"),
    "unknown": ("qwx", "zzt"),
    "ok": ("ok", "bad"),
    "green": ("green", "amber"),
    "negated": ("fixed", "not fixed"),
    "unfixed": ("fixed", "unfixed"),
    "no fix": ("fix", "no fix"),
    "nonfix": ("fix", "nonfix"),
    "wide": ("ＦＩＸＥＤ", "ＦＬＯＡＴ"),
    "turkish": ("FİXED", "FLOAT"),
    "cyrillic look": ("fіxed", "float"),
    "quoted": ('"fixed"', '"float"'),
    "quality": ("Q1", "Q2"),
    "one two": ("1", "2"),
    "zero one": ("1", "0"),
    "three": ("3", "2"),
    "50": ("50", "34"),
    "percent": ("100%", "60%"),
    "null": ("fixed", None),
    "empty": ("fixed", ""),
    "3d": ("3D fix", "2D fix"),
    "ppk": ("PPK fixed", "PPK float"),
    "static": ("static", "kinematic"),
    "sbas": ("RTK fixed", "SBAS"),
    "autonomous": ("fixed", "autonomous"),
    "single": ("fix", "single"),
    "json": ('{"fix": 4}', '{"fix": 5}'),
}


@case(
    "fix states in all words",
    each=tuple((one, given) for one in SAID for given in ("found", "given")),
)
def fix_said_as(box, words, given):
    """The float epochs are rejected; or the words are asked about or warned of by name."""
    fixed, other = SAID[words]
    layer = layer_of(
        walk(),
        fields=(("time", "string"), ("fix", "string"), ("h_acc", "double"), ("capture", "string")),
        values=lambda r: [
            at(r["seconds"]).strftime("%Y-%m-%dT%H:%M:%SZ"),
            fixed if r["fix"] == 4 else other,
            r["h_acc"],
            r["capture"],
        ],
    )
    more = {"FIX_FIELD": "fix"} if given == "given" else {}
    outcome = box.run("reconstructedges", INPUT=layer, OUTPUT="memory:", REJECTED="memory:", **more)
    if outcome.error:
        return box.refused(outcome, "quay walk", "fix", "FIXED_VALUES|Values that mean")
    if any("“fix”" in one for one in outcome.log.warnings):
        return RIGHT
    reasons = [f["reason"] for f in opened(outcome["REJECTED"]).getFeatures()]
    box.right(
        reasons.count("not_fixed") == NOT_FIXED,
        f"{reasons.count('not_fixed')} not fixed of {NOT_FIXED}, and nothing said",
    )
    return as_walked(box, outcome)


NUMERIC = {
    "integer": ("integer", 4, 5),
    "double": ("double", 4.0, 5.0),
    "boolean": ("bool", True, False),
    "boolean turned": ("bool", False, True),
    "one five": ("integer", 1, 5),
    "one two": ("integer", 1, 2),
    "rtk code 3": ("integer", 3, 2),
    "half": ("double", 4.5, 5.5),
    "text of 4.0": ("string", "4.000", "5.000"),
    "all four": ("integer", 4, 4),
    "all five": ("integer", 5, 5),
    "negative": ("integer", -4, -5),
    "null for float": ("integer", 4, None),
    "nan for float": ("double", 4.0, math.nan),
    "99 for float": ("integer", 4, 99),
    "8 for float": ("integer", 4, 8),
    "0 for float": ("integer", 4, 0),
    "fixed is null": ("integer", None, 5),
}


@case("fix states in all words", each=tuple(NUMERIC))
def fix_numbered_as(box, form):
    kind, fixed, other = NUMERIC[form]
    layer = layer_of(
        walk(),
        fields=(
            ("time", "string"),
            ("fix_quality", kind),
            ("h_acc", "double"),
            ("capture", "string"),
        ),
        values=lambda r: [
            at(r["seconds"]).strftime("%Y-%m-%dT%H:%M:%SZ"),
            fixed if r["fix"] == 4 else other,
            r["h_acc"],
            r["capture"],
        ],
    )
    outcome = box.run("reconstructedges", INPUT=layer, OUTPUT="memory:", REJECTED="memory:")
    if outcome.error:
        return box.refused(outcome, "quay walk", "fix_quality|fixed")
    if any("fix_quality" in one for one in outcome.log.warnings):
        return RIGHT
    reasons = [f["reason"] for f in opened(outcome["REJECTED"]).getFeatures()]
    want = 0 if form == "all four" else NOT_FIXED
    return box.right(
        reasons.count("not_fixed") == want,
        f"{reasons.count('not_fixed')} not fixed of {want}, and nothing said",
    )


@case(
    "fix states in all words",
    each=(
        "4",
        "4,5",
        " 4 ; 5 ",
        "FIXED",
        "4.0",
        "nonsense",
        ",",
        "  ",
        "4\n",
        "*",
        "4 5",
        "'4'",
        "4-5",
        ">3",
        "!5",
    ),
)
def values_that_mean_fixed(box, values):
    """A list of one's own counts, or is asked about by name."""
    outcome = box.run(
        "reconstructedges", INPUT=plumb(), FIXED_VALUES=values, OUTPUT="memory:", REJECTED="memory:"
    )
    if outcome.error:
        return box.refused(outcome, "FIXED_VALUES|Values that mean|fix")
    if any("fix" in one.lower() for one in outcome.log.warnings):
        return RIGHT
    reasons = [f["reason"] for f in opened(outcome["REJECTED"]).getFeatures()]
    want = 0 if "5" in values and values[0] in "4 " and values != "4 5" else NOT_FIXED
    return box.right(
        reasons.count("not_fixed") == want, f"{reasons.count('not_fixed')} not fixed of {want}"
    )


# Places and walkers


def _moved(change):
    rows = walk()
    for i, row in enumerate(rows):
        change(i, row)
    return rows


PLACED = {
    "swapped": lambda x, y, z: (6200000.0 + y, 500000.0 + x),
    "one at zero": None,
    "all at zero": lambda x, y, z: (0.0, 0.0),
    "negative": lambda x, y, z: (-500000.0 - x, -6200000.0 - y),
    "millimetres": lambda x, y, z: ((500000.0 + x) * 1000, (6200000.0 + y) * 1000),
    "kilometres": lambda x, y, z: ((500000.0 + x) / 1000, (6200000.0 + y) / 1000),
    "zone before": lambda x, y, z: (32500000.0 + x, 6200000.0 + y),
    "1e12 off": lambda x, y, z: (1e12 + x, 1e12 + y),
    "rounded to metres": lambda x, y, z: (round(500000.0 + x), round(6200000.0 + y)),
    "rounded to decimetres": lambda x, y, z: (round(500000.0 + x, 1), round(6200000.0 + y, 1)),
    "mirrored": lambda x, y, z: (500000.0 - x, 6200000.0 + y),
    "float32": lambda x, y, z: (float(np.float32(500000.0 + x)), float(np.float32(6200000.0 + y))),
}


@case("places and walkers", each=tuple(PLACED))
def placed_as(box, how):
    from qgis.core import QgsGeometry, QgsPoint

    count = [0]

    def place(x, y, z):
        count[0] += 1
        if how == "one at zero":
            return QgsGeometry(
                QgsPoint(0, 0, 0) if count[0] == 15 else QgsPoint(500000.0 + x, 6200000.0 + y, z)
            )
        return QgsGeometry(QgsPoint(*PLACED[how](x, y, z), z))

    outcome = box.run(
        "reconstructedges",
        INPUT=layer_of(walk(), place=place),
        OUTPUT="memory:",
        REJECTED="memory:",
    )
    if outcome.error:
        return box.refused(outcome, "quay walk", "position|coordinate|place|CRS|metre|epoch|east")
    if how == "one at zero":
        return as_walked(box, outcome)
    if how in ("mirrored",):
        return box.right(outcome["LENGTH"] > 110, f"{outcome['LENGTH']}")
    if how == "negative":  # far from the zone, yet a place: 1.0 of scale must not be believed
        box.done(outcome)
        return RIGHT if outcome.log.warnings else box.right(False, "nothing said")
    return box.warned(
        outcome, "position|coordinate|round|scale|CRS|area|steps|resolution|far|whole walk"
    )


@case(
    "places and walkers",
    each=("antimeridian", "antimeridian 360", "pole", "south pole", "equator", "null island"),
)
def walked_at(box, where):
    """In degrees on awkward spots of the globe: lengths on the ground are right."""
    from qgis.core import (
        QgsCoordinateReferenceSystem,
        QgsCoordinateTransform,
        QgsCoordinateTransformContext,
        QgsGeometry,
        QgsPoint,
    )

    lon, lat = {
        "antimeridian": (180.0, -17.0),
        "antimeridian 360": (180.0, -17.0),
        "pole": (0.0, 90.0),
        "south pole": (0.0, -90.0),
        "equator": (9.0, 0.0),
        "null island": (0.0, 0.0),
    }[where]
    proj = f"+proj=aeqd +lat_0={lat} +lon_0={lon} +ellps=WGS84 +type=crs"
    local = QgsCoordinateReferenceSystem.fromProj(proj)
    way = QgsCoordinateTransform(
        local, QgsCoordinateReferenceSystem("EPSG:4326"), QgsCoordinateTransformContext()
    )

    def place(x, y, z):
        shape = QgsGeometry(QgsPoint(x - 10.0, y - 10.0, z))
        shape.transform(way)
        point = shape.constGet()
        return QgsGeometry(
            QgsPoint(point.x() % 360.0 if where.endswith("360") else point.x(), point.y(), z)
        )

    outcome = box.run(
        "reconstructedges", INPUT=layer_of(walk(), crs="EPSG:4326", place=place), OUTPUT="memory:"
    )
    if outcome.error:
        return box.refused(outcome, "quay walk", "antimeridian|pole|degree|position|longitude")
    from truths import TRUTH

    return box.right(
        abs(outcome["LENGTH"] - TRUTH.length) < 0.1 * TRUTH.length,
        f"{outcome['LENGTH']} m of {TRUTH.length}",
    )


@case(
    "places and walkers",
    each=(
        "two walkers",
        "three walkers",
        "two walkers far",
        "same walk twice",
        "capture per epoch",
        "capture of two",
        "one capture",
        "capture null",
        "capture number",
        "capture time",
    ),
)
def captures_of(box, what):
    from truths import off_truth

    rows = walk()
    if what in ("two walkers", "three walkers", "two walkers far"):
        more = []
        for k in range(1, 3 if what == "three walkers" else 2):
            more += [
                {**r, "y": r["y"] + (4.0 if what != "two walkers far" else 900.0) * k}
                for r in walk(seed=1 + k)
            ]
        rows = rows + more
        import shapely
        from shapely.affinity import translate
        from truths import TRUTH

        step = 900.0 if what == "two walkers far" else 4.0
        truth = shapely.union_all([translate(TRUTH, 0, step * k) for k in range(3)])
        rows.sort(key=lambda r: r["seconds"])
        outcome = box.run("reconstructedges", INPUT=layer_of(rows), OUTPUT="memory:")
        box.done(outcome)
        off, length = off_truth(outcome["OUTPUT"], truth)
        if outcome.log.warnings and off >= 0.08:
            return box.warned(outcome, "capture")
        box.right(off < 0.08, f"{off:.2f} m off the truth")
        return box.right(length > 0.8 * len(rows) / 120 * TRUTH.length, f"{length:.0f} m")
    if what == "same walk twice":
        rows = rows + walk()
    for i, row in enumerate(rows):
        row["capture"] = {
            "capture per epoch": f"c{i}",
            "capture of two": f"c{i // 2}",
            "one capture": "all",
            "capture null": None,
            "capture number": i // 60,
            "capture time": at(row["seconds"]).strftime("%H:%M:%S"),
        }.get(what, row["capture"])
    fields = (
        ("time", "string"),
        ("fix", "integer"),
        ("h_acc", "double"),
        ("capture", "integer" if what == "capture number" else "string"),
    )
    outcome = box.run(
        "reconstructedges",
        INPUT=layer_of(rows, fields=fields),
        OUTPUT="memory:",
        REJECTED="memory:",
    )
    if outcome.error:
        return box.refused(outcome, "quay walk", "capture")
    if any("capture" in one.lower() for one in outcome.log.warnings):
        return RIGHT
    off, length = off_truth(outcome["OUTPUT"])
    box.right(off < 0.08, f"{off:.2f} m off the truth")
    from truths import TRUTH

    return box.right(
        0.85 * TRUTH.length < length < 1.1 * TRUTH.length,
        f"{length:.0f} m of {TRUTH.length:.0f}, and nothing said",
    )


HEIGHTS = {
    "zeros": 0.0,
    "sentinel": -9999.0,
    "ten thousand": 10000.0,
    "1e8": 1e8,
    "1e300": 1e300,
    "nan": math.nan,
    "minus inf": -math.inf,
    "one metre": 5.3,
}


@case("places and walkers", each=tuple(HEIGHTS))
def heights_for_a_while(box, what):
    rows = walk()
    for row in rows[10:22]:
        row["z"] = HEIGHTS[what]
    from walkedlayers import raw_point

    layer = layer_of(rows, place=lambda x, y, z: raw_point(500000.0 + x, 6200000.0 + y, z))
    outcome = box.run("reconstructedges", INPUT=layer, OUTPUT="memory:", KEPT="memory:")
    as_walked(box, outcome)
    from truths import shapes

    z = np.concatenate([one[:, 2] for one in shapes(outcome["OUTPUT"])])
    known = z[np.isfinite(z)]
    if what == "one metre":
        return RIGHT
    return box.right(
        known.size and known.min() > 3.8 and known.max() < 4.8,
        f"heights {known.min()} to {known.max()}",
    )
