"""Layers of every kind, field and geometry that QGIS can open; what comes out is held against the
truth, or against what the same epochs give from a plain layer."""

import math
import shutil
import zipfile

import numpy as np
from frame import RIGHT, case
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCoordinateTransformContext,
    QgsFeature,
    QgsField,
    QgsGeometry,
    QgsPoint,
    QgsProcessingFeatureSourceDefinition,
    QgsProject,
    QgsVectorFileWriter,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QVariant
from truths import ROWS, TRUTH, as_walked, edges, opened, plumb
from walkedlayers import ORIGIN, iso, layer_of, to_file, walk


def whole(box, source, **how):
    """All outputs of the main job from a source, held against the truth."""
    judged = {
        key: how.pop(key)
        for key in ("rows", "least", "limit", "screened", "crs", "origin")
        if key in how
    }
    outputs = dict.fromkeys(("OUTPUT", "KEPT", "REJECTED", "GAPS"), "memory:")
    outcome = box.run("reconstructedges", INPUT=source, **{**outputs, **how})
    as_walked(box, outcome, **judged)
    kept, rejected = (opened(outcome[name]).featureCount() for name in ("KEPT", "REJECTED"))
    box.right(kept == outcome["EPOCHS_KEPT"], f"{kept} rows of {outcome['EPOCHS_KEPT']} kept")
    box.right(rejected == outcome["EPOCHS_REJECTED"], f"{rejected} rows rejected")
    return RIGHT


DRIVERS = {
    "gpkg": "GPKG",
    "geojson": "GeoJSON",
    "fgb": "FlatGeobuf",
    "shp": QgsVectorFileWriter.driverForExtension("shp"),
    "sqlite": "SQLite",
    "gml": "GML",
    "csv": "CSV",
    "tab": "MapInfo File",
    "kml": "KML",
    "gdb": "OpenFileGDB",
    "geojsonl": "GeoJSONSeq",
    "gmt": "OGR_GMT",
    "jml": "JML",
    "ods": "ODS",
}


@case("sources of all kinds", each=tuple(DRIVERS))
def written_as(box, suffix):
    """The walk through the host's own writer of each format, and back."""
    path = box.folder / f"walk.{suffix}"
    options = {}
    if suffix in ("csv",):
        options["layerOptions"] = ["GEOMETRY=AS_WKT"]
    try:
        source = to_file(plumb(), path, DRIVERS[suffix], **options)
    except AssertionError:
        box.skip("the host writes no such file")
    if not source.isSpatial():
        return box.refused(box.run("reconstructedges", INPUT=source, OUTPUT="memory:"), "quay walk")
    if source.geometryType() == 4:
        box.skip("no geometry type")
    if not source.crs().isValid() or suffix == "csv":
        source.setCrs(QgsCoordinateReferenceSystem("EPSG:32632"))
    return whole(box, source)


@case("sources of all kinds", each=("zip", "folder in zip", "gz", "tar"))
def packed_geopackage(box, how):
    path = box.folder / "walk.gpkg"
    to_file(plumb(), path)
    if how == "gz":
        import gzip

        (box.folder / "walk.gpkg.gz").write_bytes(gzip.compress(path.read_bytes()))
        source = f"/vsigzip/{box.folder}/walk.gpkg.gz"
    elif how == "tar":
        shutil.make_archive(str(box.folder / "walk"), "tar", box.folder, "walk.gpkg")
        source = f"/vsitar/{box.folder}/walk.tar/walk.gpkg"
    else:
        inside = "a b/walk.gpkg" if how == "folder in zip" else "walk.gpkg"
        with zipfile.ZipFile(box.folder / "walk.zip", "w") as archive:
            archive.write(path, inside)
        source = f"/vsizip/{box.folder}/walk.zip/{inside}"
    path.unlink()
    layer = QgsVectorLayer(source, "a", "ogr")
    if not layer.isValid():
        box.skip("the host cannot open it")
    return whole(box, layer)


@case("sources of all kinds", each=(";", "\t", "|", ","))
def delimited_text(box, mark):
    rows = walk()
    path = box.folder / "walk.csv"
    with open(path, "w", encoding="utf-8") as out:
        out.write(mark.join(("time", "fix", "h_acc", "capture", "x", "y", "z")) + "\n")
        for row in rows:
            cells = (
                iso(row["seconds"]),
                row["fix"],
                row["h_acc"],
                row["capture"],
                ORIGIN[0] + row["x"],
                ORIGIN[1] + row["y"],
                row["z"],
            )
            out.write(mark.join(map(str, cells)) + "\n")
    from urllib.parse import quote

    source = QgsVectorLayer(
        f"file://{path}?delimiter={quote(mark)}&xField=x&yField=y&zField=z&crs=EPSG:32632"
        "&detectTypes=yes",
        "text",
        "delimitedtext",
    )
    if not source.isValid():
        box.skip("no delimited text here")
    return whole(box, source)


@case("sources of all kinds", each=("plain", "where", "join", "expression", "aliased"))
def virtual_layer(box, how):
    base = plumb()
    QgsProject.instance().addMapLayer(base, False)
    text = {
        "plain": "select * from walked",
        "where": "select * from walked where fix > -5",
        "join": "select a.*, 1 as one from walked a join (select 1 as k) b on b.k = 1",
        "expression": "select geometry, time, fix, h_acc, capture || '' as capture from walked",
        "aliased": 'select geometry, time as "select", fix as "a b", h_acc as "H-ACC (m)",'
        ' capture as "group" from walked',
    }[how]
    from urllib.parse import quote

    try:
        source = QgsVectorLayer(
            f"?layer_ref={base.id()}:walked".replace(":walked", "")
            if False
            else f"?layer=memory:&query={quote(text)}",
            "virtual",
            "virtual",
        )
        base.setName("walked")
        source = QgsVectorLayer(f"?query={quote(text)}&geometry=geometry", "virtual", "virtual")
        if not source.isValid():
            box.skip("no virtual layers here")
        given = {}
        if how == "aliased":
            given = {
                "TIME_FIELD": "select",
                "FIX_FIELD": "a b",
                "H_ACCURACY_FIELD": "H-ACC (m)",
                "CAPTURE_FIELDS": ["group"],
            }
        return whole(box, source, **given)
    finally:
        QgsProject.instance().removeMapLayer(base.id())


@case("sources of all kinds", each=("memory", "gpkg", "shp", "geojson"))
def filtered(box, kind):
    """A subset filter: the other capture is not read."""
    source = (
        plumb() if kind == "memory" else to_file(plumb(), box.folder / f"w.{kind}", DRIVERS[kind])
    )
    if not source.setSubsetString("\"capture\" = 'walk 1'"):
        box.skip("no filter here")
    return whole(box, source, rows=60, least=0.45, screened=False)


@case("sources of all kinds", each=("memory", "gpkg", "shp"))
def selected_alone(box, kind):
    source = (
        plumb() if kind == "memory" else to_file(plumb(), box.folder / f"w.{kind}", DRIVERS[kind])
    )
    source.selectByExpression("\"capture\" = 'walk 1'")
    QgsProject.instance().addMapLayer(source, False)
    try:
        given = QgsProcessingFeatureSourceDefinition(source.id(), True)
        return whole(box, given, rows=60, least=0.45, screened=False)
    finally:
        QgsProject.instance().removeMapLayer(source.id())


@case("sources of all kinds")
def selected_alone_and_none_is(box):
    """Nothing selected: nothing to read, and said; not the whole layer."""
    source = plumb()
    QgsProject.instance().addMapLayer(source, False)
    try:
        given = QgsProcessingFeatureSourceDefinition(source.id(), True)
        outcome = box.run("reconstructedges", INPUT=given, OUTPUT="memory:")
        return box.refused(outcome, "quay walk", "selected|no epoch|no row|empty|no feature")
    finally:
        QgsProject.instance().removeMapLayer(source.id())


@case(
    "sources of all kinds",
    each=tuple(
        (kind, what)
        for kind in ("memory", "gpkg", "shp")
        for what in (
            "added",
            "deleted",
            "moved",
            "changed",
            "field added",
            "field deleted",
            "mixed",
        )
    ),
)
def edit_buffer(box, kind, what):
    """What stands in the edit buffer counts, whatever the file holds."""
    rows = walk()
    if what in ("added", "mixed"):
        rows, later = rows[:60], rows[60:]
    layer = layer_of(rows)
    source = layer if kind == "memory" else to_file(layer, box.folder / f"w.{kind}", DRIVERS[kind])
    source.startEditing()
    expected, least = ROWS, 0.9
    ids = [feature.id() for feature in source.getFeatures()]
    index = source.fields().lookupField
    if what in ("added", "mixed"):
        for feature in layer_of(later).getFeatures():
            new = QgsFeature(source.fields())
            new.setGeometry(feature.geometry())
            for name in ("time", "fix", "h_acc", "capture"):
                new.setAttribute(index(name), feature[name])
            source.addFeature(new)
    if what in ("deleted", "mixed"):
        source.deleteFeature(ids[5])
        expected -= 1
    if what == "moved":
        source.changeGeometry(ids[10], QgsGeometry(QgsPoint(ORIGIN[0] + 12, ORIGIN[1] + 300, 4)))
    if what in ("changed", "mixed"):
        for one in ids[12:14]:
            source.changeAttributeValue(one, index("fix"), 5)
    if what == "field added":
        source.addAttribute(QgsField("note", QVariant.String))
    if what == "field deleted":
        source.deleteAttribute(index("h_acc"))
    outcome = box.run("reconstructedges", INPUT=source, OUTPUT="memory:", REJECTED="memory:")
    as_walked(box, outcome, rows=expected, least=least, screened=what != "field deleted")
    reasons = [f["reason"] for f in opened(outcome["REJECTED"]).getFeatures()]
    box.right(what not in ("changed", "mixed") or reasons.count("not_fixed") == 8, f"{reasons}")
    box.right(source.isEditable(), "the edit session was ended")
    source.rollBack()
    return RIGHT


@case(
    "sources of all kinds", each=("joined", "expression", "alias", "hidden", "default", "read only")
)
def layer_with(box, what):
    """Joined fields, expression fields, aliases and the like: the roles from there."""
    rows = walk()
    if what == "joined":
        fields = (("number", "integer"), ("time", "string"), ("capture", "string"))
        source = layer_of(
            rows,
            fields=fields,
            values=lambda row: [rows.index(row), iso(row["seconds"]), row["capture"]],
        )
        other = layer_of(
            rows,
            geometry="NoGeometry",
            crs="",
            name="extra",
            fields=(("number", "integer"), ("fix", "integer"), ("h_acc", "double")),
            values=lambda row: [rows.index(row), row["fix"], row["h_acc"]],
            place=lambda *_: QgsGeometry(),
        )
        from qgis.core import QgsVectorLayerJoinInfo

        project = QgsProject.instance()
        project.addMapLayers([source, other], False)
        try:
            join = QgsVectorLayerJoinInfo()
            join.setJoinLayer(other)
            join.setJoinFieldName("number")
            join.setTargetFieldName("number")
            join.setUsingMemoryCache(True)
            join.setPrefix("")
            source.addJoin(join)
            return whole(box, source)
        finally:
            project.removeMapLayers([source.id(), other.id()])
    source = to_file(plumb(), box.folder / "w.gpkg")
    if what == "expression":
        source.addExpressionField('"fix" * 1', QgsField("fix_quality", QVariant.Int))
        return whole(box, source, FIX_FIELD="fix_quality")
    if what == "alias":
        source.setFieldAlias(source.fields().lookupField("fix"), "time")
    if what == "hidden":
        from qgis.core import QgsEditorWidgetSetup

        source.setEditorWidgetSetup(
            source.fields().lookupField("fix"), QgsEditorWidgetSetup("Hidden", {})
        )
    if what == "default":
        from qgis.core import QgsDefaultValue

        source.setDefaultValueDefinition(
            source.fields().lookupField("fix"), QgsDefaultValue("5", True)
        )
    if what == "read only":
        source.setReadOnly(True)
    return whole(box, source)


NAMES = (
    "geom",
    "geometry",
    "the_geom",
    "GEOMETRY",
    "_ogr_geometry_",
    "fid",
    "FID",
    "ogc_fid",
    "id",
    "rowid",
    "oid",
    "_rowid_",
    "select",
    "table",
    "order",
    "group",
    "from",
    "index",
    'a"b',
    "a'b",
    " ",
    " lead",
    "trail ",
    "a b",
    "a;b",
    "a,b",
    "a:b",
    "a|b",
    "a\\b",
    "a/b",
    "%",
    "%1",
    "{x}",
    "#",
    "n" * 200,
    "ü" * 60,
    "\u9053\u8def",
    "\U0001f6a7",
    "\u202e",
    "edge_id",
    "reason",
    "detail",
    "role",
    "chainage",
    "Edge_ID",
    "REASON",
    "edge_id_source",
    "fid_source",
    "x",
    "y",
    "z",
    "m",
    "wkt",
    "shape",
    "1st",
    "--",
    "a--b",
    "/*",
    "null",
    "NULL",
    "true",
    "$geometry",
    "@row",
    "ROWID",
    "row",
    "layer",
    "styles",
    "a\tb",
)


def named(name):
    rows = walk()
    return (
        layer_of(
            rows,
            fields=(),
        )
        if False
        else _with_field(rows, name, QVariant.String)
    )


def _with_field(rows, name, kind, values=None, sub=None):
    source = layer_of(rows)
    field = QgsField(name, kind) if sub is None else QgsField(name, kind, subType=sub)
    assert source.dataProvider().addAttributes([field])
    source.updateFields()
    index = source.fields().count() - 1
    changes = {
        feature.id(): {index: f"v{i}" if values is None else values(i)}
        for i, feature in enumerate(source.getFeatures())
    }
    assert source.dataProvider().changeAttributeValues(changes)
    return source


@case("fields of odd names", each=tuple((suffix, name) for suffix in ("gpkg",) for name in NAMES))
def name_of_a_field(box, suffix, name):
    """What stands in the field is in `KEPT` and `REJECTED`, row by row, whatever it is called."""
    source = named(name)
    kept, rejected = (box.folder / f"{one}.{suffix}" for one in ("kept", "rejected"))
    outcome = box.run(
        "reconstructedges", INPUT=source, OUTPUT="memory:", KEPT=str(kept), REJECTED=str(rejected)
    )
    as_walked(box, outcome)
    found = []
    for path in (kept, rejected):
        layer = QgsVectorLayer(str(path), "a", "ogr")
        box.whole(layer.isValid(), f"{path.name} cannot be opened")
        for feature in layer.getFeatures():
            found += [
                v
                for v in feature.attributes()
                if isinstance(v, str) and v[:1] == "v" and v[1:].isdigit()
            ]
    return box.right(sorted(found) == sorted(f"v{i}" for i in range(ROWS)), f"{len(found)} values")


ODD = ("geom", "fid", 'a"b', "n" * 200, "select", " ", "edge_id", "ü" * 60, "id", "a;b")


@case(
    "fields of odd names",
    each=tuple(
        (suffix, name)
        for suffix in ("shp", "csv", "geojson", "fgb", "sqlite", "kml", "gml")
        for name in ODD
    ),
)
def name_of_a_field_elsewhere(box, suffix, name):
    """Kept in the other formats, or the loss is said by name."""
    source = named(name)
    path = box.folder / f"kept.{suffix}"
    outcome = box.run("screenepochs", INPUT=source, OUTPUT=str(path))
    if outcome.error:
        return box.refused(outcome, suffix, "layer|field|format|driver|file")
    layer = QgsVectorLayer(str(path), "a", "ogr")
    box.whole(layer.isValid(), "cannot be opened")
    count = outcome["EPOCHS_KEPT"]
    found = [
        v
        for f in layer.getFeatures()
        for v in f.attributes()
        if isinstance(v, str) and v[:1] == "v" and v[1:].isdigit()
    ]
    box.whole(layer.featureCount() == count, f"{layer.featureCount()} rows of {count}")
    return box.right(len(found) == count, f"{len(found)} values of {count}")


PASSING = (
    "joinedges",
    "estimateshift",
    "offsetedges",
    "compareedges",
    "updatebasemap",
    "checkaccuracy",
    "mergepasses",
    "fitalignments",
    "curbheight",
    "averageoccupations",
)


@case(
    "fields of odd names",
    each=tuple(
        (one, name)
        for one in PASSING
        for name in ("geom", "fid", 'a"b', "select", "status", "OUTPUT")
    ),
)
def name_of_a_field_of_lines(box, algorithm, name):
    from cases_parameters import asked

    given = asked(box, algorithm)
    for key in ("INPUT", "EXISTING", "EDGES", "CHECK_POINTS"):
        if key in given:
            source = given[key]
            source.dataProvider().addAttributes([QgsField(name, QVariant.String)])
            source.updateFields()
            index = source.fields().count() - 1
            source.dataProvider().changeAttributeValues(
                {f.id(): {index: f"v{i}"} for i, f in enumerate(source.getFeatures())}
            )
    for key in ("OUTPUT", "UPDATED", "POINTS"):
        if key in given:
            given[key] = str(box.folder / "out.gpkg")
            break
    outcome = box.run(algorithm, **given)
    box.done(outcome)
    layer = QgsVectorLayer(given[key], "a", "ogr")
    box.whole(layer.isValid() and layer.featureCount() > 0, "nothing in it")
    if algorithm in ("mergepasses", "averageoccupations", "fitalignments", "curbheight"):
        return RIGHT
    found = [
        v
        for f in layer.getFeatures()
        for v in f.attributes()
        if isinstance(v, str) and v[:1] == "v" and v[1:].isdigit()
    ]
    return box.right(len(found) >= layer.featureCount() - 1, f"{len(found)} values")


TYPES = {
    "bool": (QVariant.Bool, lambda i: i % 2 == 0),
    "date": (QVariant.Date, None),
    "time": (QVariant.Time, None),
    "datetime": (QVariant.DateTime, None),
    "big": (QVariant.LongLong, lambda i: 2**63 - 1 - i),
    "nan": (QVariant.Double, lambda i: math.nan),
    "infinite": (QVariant.Double, lambda i: math.inf),
    "tiny": (QVariant.Double, lambda i: 5e-324),
    "binary": (QVariant.ByteArray, lambda i: b"\x00\xff" + bytes([i])),
    "list": (QVariant.StringList, lambda i: ["a", f"b{i}"]),
    "map": (QVariant.Map, lambda i: {"a": i}),
    "long text": (QVariant.String, lambda i: "x" * 100_000),
    "nul": (QVariant.String, lambda i: "a\x00b"),
    "lines": (QVariant.String, lambda i: 'a\r\nb,"c";'),
    "empty": (QVariant.String, lambda i: ""),
    "null": (QVariant.String, lambda i: None),
}


@case(
    "fields of odd types",
    each=tuple(
        (kind, suffix) for kind in TYPES for suffix in ("gpkg", "csv", "memory", "shp", "geojson")
    ),
)
def type_of_a_field(box, kind, suffix):
    """A further field of any type stops nothing, and its values come along where they can."""
    type_, values = TYPES[kind]
    from qgis.PyQt.QtCore import QDate, QDateTime, QTime

    values = (
        values
        or {
            "date": lambda i: QDate(2026, 5, 1 + i % 28),
            "time": lambda i: QTime(1, i % 60),
            "datetime": lambda i: QDateTime(QDate(2020, 1, 1), QTime(0, i % 60)),
        }[kind]
    )
    sub = QVariant.String if type_ in (QVariant.Map, QVariant.StringList) else None
    try:
        source = _with_field(walk(), "further", type_, values, sub)
    except (AssertionError, TypeError):
        box.skip("no such field here")
    path = "memory:" if suffix == "memory" else str(box.folder / f"kept.{suffix}")
    outcome = box.run("reconstructedges", INPUT=source, OUTPUT="memory:", KEPT=path)
    as_walked(box, outcome)
    layer = opened(outcome["KEPT"])
    box.whole(layer.isValid(), "cannot be opened")
    count = layer.featureCount()
    box.whole(count == outcome["EPOCHS_KEPT"], f"{count} rows of {outcome['EPOCHS_KEPT']}")
    return RIGHT


# Geometries


def placed(kind):
    """Ways to write a point."""
    return {
        "Point": lambda x, y, z: QgsGeometry(QgsPoint(ORIGIN[0] + x, ORIGIN[1] + y)),
        "PointM": lambda x, y, z: QgsGeometry.fromWkt(f"PointM({ORIGIN[0] + x} {ORIGIN[1] + y} 7)"),
        "PointZM": lambda x, y, z: QgsGeometry.fromWkt(
            f"PointZM({ORIGIN[0] + x} {ORIGIN[1] + y} {z} 7)"
        ),
        "MultiPoint": lambda x, y, z: QgsGeometry.fromWkt(
            f"MultiPoint(({ORIGIN[0] + x} {ORIGIN[1] + y}))"
        ),
        "MultiPointZ": lambda x, y, z: QgsGeometry.fromWkt(
            f"MultiPointZ(({ORIGIN[0] + x} {ORIGIN[1] + y} {z}))"
        ),
        "MultiPointZM": lambda x, y, z: QgsGeometry.fromWkt(
            f"MultiPointZM(({ORIGIN[0] + x} {ORIGIN[1] + y} {z} 0))"
        ),
        "Point25D": lambda x, y, z: QgsGeometry(QgsPoint(ORIGIN[0] + x, ORIGIN[1] + y, z)),
    }[kind]


@case(
    "geometries of all kinds",
    each=tuple(
        (kind, where)
        for kind in (
            "Point",
            "PointM",
            "PointZM",
            "MultiPoint",
            "MultiPointZ",
            "MultiPointZM",
            "Point25D",
        )
        for where in ("memory", "gpkg", "fgb", "geojson")
    ),
)
def points_as(box, kind, where):
    source = layer_of(walk(), geometry=kind, place=placed(kind))
    if where != "memory":
        source = to_file(source, box.folder / f"w.{where}", DRIVERS[where])
    return whole(box, source)


@case("geometries of all kinds", each=(2, 3, 7))
def several_points_in_a_row(box, count):
    """Rows of several points each with one time: not silently the first of them."""
    rows = walk()
    layer = QgsVectorLayer(
        "MultiPointZ?crs=EPSG:32632&field=time:string&field=capture:string", "sets", "memory"
    )
    features = []
    for low in range(0, len(rows), count):
        some = rows[low : low + count]
        feature = QgsFeature(layer.fields())
        feature.setGeometry(
            QgsGeometry.fromWkt(
                "MultiPointZ("
                + ", ".join(f"({ORIGIN[0] + r['x']} {ORIGIN[1] + r['y']} {r['z']})" for r in some)
                + ")"
            )
        )
        feature.setAttributes([iso(some[0]["seconds"]), some[0]["capture"]])
        features.append(feature)
    layer.dataProvider().addFeatures(features)
    outcome = box.run("reconstructedges", INPUT=layer, OUTPUT="memory:")
    if outcome.error:
        return box.refused(outcome, "sets", "several|multi|point")
    return box.warned(outcome, "several|multi|points")


@case("geometries of all kinds", each=("none", "null", "empty", "nan", "inf"))
def layer_without_positions(box, what):
    rows = [] if what == "none" else walk()
    if what == "null":
        rows = [{**row, "x": None} for row in rows]
    place = {
        "empty": lambda *_: QgsGeometry.fromWkt("PointZ EMPTY"),
        "nan": lambda *_: QgsGeometry(QgsPoint(math.nan, math.nan, math.nan)),
        "inf": lambda *_: QgsGeometry(QgsPoint(math.inf, math.inf, 1.0)),
    }.get(what)
    outcome = box.run("reconstructedges", INPUT=layer_of(rows, place=place), OUTPUT="memory:")
    return box.refused(outcome, "quay walk", "position|epoch|empty|feature")


@case("geometries of all kinds", each=("nan", "none", "some nan", "huge", "negative"))
def heights_that_are(box, what):
    rows = walk()
    for i, row in enumerate(rows):
        if what == "nan" or (what == "some nan" and i % 3 == 0):
            row["z"] = math.nan
        elif what == "huge":
            row["z"] += 8000.0
        elif what == "negative":
            row["z"] -= 430.0
    return whole(box, layer_of(rows))


EMPTY = (
    ("checkaccuracy", "INPUT"),
    ("checkaccuracy", "CHECK_POINTS"),
    ("compareedges", "INPUT"),
    ("compareedges", "EXISTING"),
    ("curbheight", "INPUT"),
    ("curbheight", "FLOW_LINE"),
    ("estimateshift", "INPUT"),
    ("estimateshift", "EXISTING"),
    ("fitalignments", "INPUT"),
    ("joinedges", "INPUT"),
    ("mergepasses", "INPUT"),
    ("offsetedges", "INPUT"),
    ("updatebasemap", "EXISTING"),
    ("updatebasemap", "EDGES"),
)


def spoilt(kind, name):
    """A layer that holds nothing of use."""
    if kind == "table":
        layer = QgsVectorLayer("NoGeometry?field=name:string", name, "memory")
        layer.dataProvider().addFeatures([QgsFeature(layer.fields())])
        return layer
    wkt = {
        "none": [],
        "null": [None, None],
        "empty": ["LineStringZ EMPTY", "LineStringZ EMPTY"],
        "one vertex": ["LineStringZ(600000 6200000 1, 600000 6200000 1)"] * 2,
        "nan": ["nan"] * 2,
        "points": ["PointZ(600000 6200000 1)"] * 3,
        "polygons": [
            "PolygonZ((600000 6200000 1,600010 6200000 1,600010 6200010 1,600000 6200000 1))"
        ],
        "collection": ["GeometryCollectionZ(PointZ(600000 6200000 1))"],
    }[kind]
    type_ = {"points": "PointZ", "polygons": "PolygonZ", "collection": "GeometryCollectionZ"}.get(
        kind, "LineStringZ"
    )
    layer = QgsVectorLayer(f"{type_}?crs=EPSG:32632&field=name:string", name, "memory")
    features = []
    for text in wkt:
        feature = QgsFeature(layer.fields())
        if text == "nan":
            feature.setGeometry(
                QgsGeometry.fromPolyline([QgsPoint(math.nan, 1, 1), QgsPoint(math.nan, 2, 1)])
            )
        elif text:
            feature.setGeometry(QgsGeometry.fromWkt(text))
        features.append(feature)
    layer.dataProvider().addFeatures(features)
    return layer


@case(
    "geometries of all kinds",
    each=tuple(
        (*one, kind)
        for one in EMPTY
        for kind in (
            "none",
            "null",
            "empty",
            "one vertex",
            "nan",
            "points",
            "polygons",
            "table",
            "collection",
        )
    ),
)
def lines_that_are_none(box, algorithm, key, kind):
    """Refused by name, or warned of; never a result as if all were well."""
    from cases_parameters import asked

    given = {**asked(box, algorithm), key: spoilt(kind, "odd layer")}
    outcome = box.run(algorithm, **given)
    if outcome.error:
        return box.refused(outcome, "odd layer|" + key)
    return box.warned(outcome, "odd layer|without a partner|no numbers|check points|" + key)


CURVES = (
    "CompoundCurveZ",
    "CircularStringZ",
    "MultiCurveZ",
    "MultiLineStringZ",
    "LineStringZM",
    "LineString",
    "LineStringM",
    "MultiLineStringZM",
    "LineString25D",
)


def curved(kind, name="curved"):
    """A straight of 40 m and a half circle of radius 5 m, in a geometry of a kind."""
    z = "Z" if "Z" in kind or "25D" in kind else ""
    zz = " 4" if z else ""
    m = " 1" if kind.endswith("M") else ""
    o = (600000.0, 6200000.0)

    def at(x, y):
        return f"{o[0] + x} {o[1] + y}{zz}{m}"

    tag = ("Z" if z else "") + ("M" if m else "")
    arc = f"CircularString{tag}({at(40, 0)}, {at(45, 5)}, {at(40, 10)})"
    line = f"({at(0, 0)}, {at(40, 0)})"
    turn = ", ".join(
        at(40 + 5 * math.sin(a), 5 - 5 * math.cos(a)) for a in np.linspace(0, math.pi, 60)
    )
    text = {
        "CompoundCurveZ": f"CompoundCurveZ({line}, {arc})",
        "CircularStringZ": f"CircularStringZ({at(0, 0)}, {at(20, 0)}, {at(40, 0)},"
        f" {at(45, 5)}, {at(40, 10)})",
        "MultiCurveZ": f"MultiCurveZ(CompoundCurveZ({line}, {arc}))",
    }.get(kind) or (
        f"Multi{'LineString' + tag}(({at(0, 0)}, {turn}))"
        if kind.startswith("Multi")
        else f"LineString{tag}({at(0, 0)}, {turn})"
    )
    layer = QgsVectorLayer(f"{kind}?crs=EPSG:32632&field=name:string", name, "memory")
    feature = QgsFeature(layer.fields())
    feature.setGeometry(QgsGeometry.fromWkt(text))
    feature.setAttributes(["a"])
    assert not feature.geometry().isNull(), text
    layer.dataProvider().addFeatures([feature])
    return layer


@case("geometries of all kinds", each=CURVES)
def compared_with_itself_as(box, kind):
    """The same line in every way of writing it: nothing is displaced, the length is right."""
    outcome = box.run(
        "compareedges",
        INPUT=curved("LineStringZ", "edges"),
        EXISTING=curved(kind),
        OUTPUT="memory:",
        EXISTING_STATUS="memory:",
    )
    box.done(outcome)
    length = 40.0 + 5.0 * math.pi
    box.right(
        abs(outcome["MATCHED_LENGTH"] - length) < 0.5, f"{outcome['MATCHED_LENGTH']} m matched"
    )
    return box.right(outcome["RMSE"] < 0.01, f"RMSE {outcome['RMSE']}")


@case(
    "geometries of all kinds",
    each=tuple(
        (a, k)
        for a in ("joinedges", "offsetedges", "fitalignments", "estimateshift", "updatebasemap")
        for k in CURVES
    ),
)
def line_given_as(box, algorithm, kind):
    """Any way of writing a line gives the same length on the ground."""
    given = {"INPUT": curved(kind), "OUTPUT": "memory:"}
    if algorithm == "offsetedges":
        given["SECTION"] = "same: 0 0"
    if algorithm == "estimateshift":
        given["EXISTING"] = curved("LineStringZ", "other")
    if algorithm == "updatebasemap":
        given = {
            "EXISTING": curved(kind),
            "EDGES": edges((0, 300.0)),
            "UPDATED": "memory:",
            "ADD_NEW": False,
            "RETIRE": 2,
            "CHANGES": "memory:",
        }
    outcome = box.run(algorithm, **given)
    if outcome.error:
        return box.refused(outcome, "curved")
    # not `length()`: the host takes arcs whose three points lie in line for nothing
    length = sum(
        f.geometry().constGet().segmentize().length()
        for f in opened(outcome.results.get("OUTPUT") or outcome["UPDATED"]).getFeatures()
    )
    return box.right(abs(length - 40.0 - 5.0 * math.pi) < 0.05, f"{length} m")


# Reference systems

SYSTEMS = (
    "EPSG:4326",
    "EPSG:4979",
    "EPSG:3857",
    "EPSG:25832",
    "EPSG:2263",
    "EPSG:31466",
    "EPSG:31467",
    "EPSG:2326",
    "EPSG:2193",
    "EPSG:2048",
    "EPSG:22234",
    "EPSG:5514",
    "EPSG:2056",
    "EPSG:27700",
    "EPSG:3031",
    "EPSG:3413",
    "EPSG:5041",
    "EPSG:5070",
    "EPSG:3035",
    "EPSG:3571",
    "EPSG:32761",
    "EPSG:2225",
    "EPSG:6675",
    "EPSG:4978",
    "EPSG:7789",
    "EPSG:6360",
    "EPSG:7415",
    "EPSG:6349",
    "EPSG:8228",
    "EPSG:54009",
    "PROJ:+proj=moll +lon_0=0 +datum=WGS84 +units=m +type=crs",
    "EPSG:2000",
    "PROJ:+proj=tmerc +lat_0=0 +lon_0=9 +k=1 +x_0=0 +y_0=0 +ellps=GRS80 +units=km +type=crs",
    "PROJ:+proj=tmerc +lat_0=0 +lon_0=9 +axis=wsu +ellps=GRS80 +type=crs",
    "PROJ:+proj=omerc +lat_0=55 +lonc=9 +alpha=33 +ellps=GRS80 +units=m +type=crs",
    "PROJ:+proj=longlat +ellps=GRS80 +pm=paris +type=crs",
    "PROJ:+proj=aeqd +lat_0=90 +ellps=WGS84 +type=crs",
)
# places where a system is used: longitude, latitude
PLACES = {
    "EPSG:2263": (-73.95, 40.7),
    "EPSG:2326": (114.2, 22.3),
    "EPSG:2193": (174.8, -41.3),
    "EPSG:2048": (19.0, -33.9),
    "EPSG:22234": (34.0, -33.0),
    "EPSG:5514": (15.0, 50.0),
    "EPSG:2056": (7.4, 46.9),
    "EPSG:27700": (-1.5, 53.8),
    "EPSG:3031": (40.0, -75.0),
    "EPSG:3413": (-45.0, 78.0),
    "EPSG:5041": (10.0, 86.0),
    "EPSG:5070": (-96.0, 39.0),
    "EPSG:3571": (180.0, 71.0),
    "EPSG:32761": (100.0, -82.0),
    "EPSG:2225": (-122.0, 40.5),
    "EPSG:6675": (139.7, 35.7),
    "EPSG:31466": (6.8, 51.2),
    "EPSG:31467": (9.2, 48.8),
    "EPSG:6349": (-96.0, 39.0),
    "EPSG:8228": (-122.0, 40.5),
    "EPSG:2000": (-63.0, 18.2),
    "PROJ:+proj=aeqd +lat_0=90 +ellps=WGS84 +type=crs": (20.0, 89.0),
}


@case("reference systems", each=SYSTEMS)
def walked_in(box, system):
    """The walk laid out in true metres and written in a system: the lines come back on the truth,
    and their lengths are lengths on the ground."""
    crs = QgsCoordinateReferenceSystem(system)
    if not crs.isValid():
        box.skip("not known here")
    lon, lat = PLACES.get(system, (9.0, 55.9))
    local = QgsCoordinateReferenceSystem.fromProj(
        f"+proj=tmerc +lat_0={lat} +lon_0={lon} +k=1 +ellps=GRS80 +units=m +type=crs"
    )
    way = QgsCoordinateTransform(local, crs, QgsCoordinateTransformContext())

    def place(x, y, z):
        shape = QgsGeometry(QgsPoint(x, y, z))
        shape.transform(way)
        return shape

    try:
        source = layer_of(walk(), crs="EPSG:32632", place=place)
        source.setCrs(crs)
    except Exception:
        box.skip("the host has no way to it")
    outcome = box.run("reconstructedges", INPUT=source, OUTPUT="memory:")
    if outcome.error:
        return box.refused(outcome, "quay walk", "CRS|reference system")
    layer = opened(outcome["OUTPUT"])
    back = QgsCoordinateTransform(crs, local, QgsCoordinateTransformContext())
    import shapely

    total, ground = 0.0, 0.0
    for feature in layer.getFeatures():
        shape = feature.geometry()
        shape.transform(back)
        at = np.array([(v.x(), v.y()) for v in shape.vertices()])
        line = shapely.LineString(at)
        off = shapely.distance(shapely.points(at), TRUTH).max()
        box.right(off < 0.06, f"{off:.3f} m off")
        total, ground = total + line.length, ground + feature["length"]
    box.right(abs(total - ground) < 0.02, f"{ground:.3f} m said of {total:.3f} m")
    return box.right(total > 0.9 * TRUTH.length, f"{total:.1f} m")


@case(
    "reference systems",
    each=("none", "wrong zone", "degrees called metres", "metres called degrees"),
)
def said_to_be_in(box, what):
    rows = walk()
    if what == "none":
        source = layer_of(rows, crs="")
        source.setCrs(QgsCoordinateReferenceSystem())
    elif what == "wrong zone":
        source = layer_of(rows, crs="EPSG:2263")
    elif what == "metres called degrees":
        source = layer_of(rows, crs="EPSG:4326")
    else:
        source = layer_of(
            rows,
            crs="EPSG:25832",
            place=lambda x, y, z: QgsGeometry(QgsPoint(9.0 + x / 62000.0, 55.9 + y / 111300.0, z)),
        )
    outcome = box.run("reconstructedges", INPUT=source, OUTPUT="memory:")
    if outcome.error:
        return box.refused(outcome, "quay walk", "CRS|degree|coordinate|reference")
    return box.warned(
        outcome, "CRS|degree|unit|reference|metre|scale|coordinate|feet|foot|step|walk"
    )


@case(
    "reference systems",
    each=("EPSG:4326", "EPSG:2263", "EPSG:31466", "EPSG:3857", "EPSG:4978", "none"),
)
def existing_lines_in(box, system):
    """Lines in another system than the edges."""
    existing = edges((0.1, 0.3), "existing")
    if system == "none":
        existing.setCrs(QgsCoordinateReferenceSystem())
        outcome = box.run("compareedges", INPUT=edges(), EXISTING=existing, OUTPUT="memory:")
        if outcome.error:
            return box.refused(outcome, "existing", "CRS")
        return box.warned(outcome, "existing", "CRS")
    way = QgsCoordinateTransform(
        existing.crs(), QgsCoordinateReferenceSystem(system), QgsCoordinateTransformContext()
    )
    provider = existing.dataProvider()
    moved = {}
    for feature in existing.getFeatures():
        shape = feature.geometry()
        shape.transform(way)
        moved[feature.id()] = shape
    provider.changeGeometryValues(moved)
    existing.setCrs(QgsCoordinateReferenceSystem(system))
    outcome = box.run(
        "compareedges", INPUT=edges(), EXISTING=existing, OUTPUT="memory:", REMOVE_SHIFT=True
    )
    if outcome.error:
        return box.refused(outcome, "existing", "CRS")
    east, north = outcome["SHIFT_EAST"], outcome["SHIFT_NORTH"]
    return box.right(abs(east - 0.1) < 0.01 and abs(north - 0.3) < 0.01, f"{east}, {north}")


@case("sources of all kinds", each=("trkpt", "wpt"))
def gps_exchange(box, kind):
    """A track or way points of GPX: no fix, no accuracy, and times of whole seconds."""
    way = QgsCoordinateTransform(
        QgsCoordinateReferenceSystem("EPSG:32632"),
        QgsCoordinateReferenceSystem("EPSG:4326"),
        QgsCoordinateTransformContext(),
    )
    lines = []
    for row in walk():
        point = way.transform(ORIGIN[0] + row["x"], ORIGIN[1] + row["y"])
        lines.append(
            f'<{kind} lat="{point.y():.9f}" lon="{point.x():.9f}"><ele>{row["z"]:.3f}</ele>'
            f"<time>{iso(row['seconds'])}</time></{kind}>"
        )
    inner = "".join(lines)
    if kind == "trkpt":
        inner = f"<trk><trkseg>{inner}</trkseg></trk>"
    path = box.folder / "walk.gpx"
    path.write_text(f'<?xml version="1.0"?><gpx version="1.1" creator="x">{inner}</gpx>')
    layer = "track_points" if kind == "trkpt" else "waypoints"
    source = QgsVectorLayer(f"{path}|layername={layer}", "track", "ogr")
    outcome = box.run("reconstructedges", INPUT=source, OUTPUT="memory:")
    box.done(outcome)
    box.warned(outcome, "fix")
    read = outcome["EPOCHS_READ"]
    return box.right(read == ROWS and outcome["LENGTH"] > 100, f"{read} epochs, {outcome.results}")


@case("sources of all kinds", each=("cp1252", "cp437", "utf-8", "cp1251"))
def shapefile_in(box, encoding):
    """Captures with letters of a code page: as many captures as there are, by any spelling."""
    rows = walk()
    for row in rows:
        row["capture"] = row["capture"].replace("walk", "Stra\u00dfe" if "125" in encoding else "a")
    source = layer_of(rows)
    try:
        opened_ = to_file(
            source,
            box.folder / "w.shp",
            QgsVectorFileWriter.driverForExtension("shp"),
            fileEncoding=encoding,
        )
    except (AssertionError, UnicodeError):
        box.skip("not written here")
    outcome = box.run("reconstructedges", INPUT=opened_, OUTPUT="memory:")
    as_walked(box, outcome)
    captures = {f["capture"] for f in opened(outcome["OUTPUT"]).getFeatures()}
    return box.right(len(captures) == 2, f"{captures}")


@case("sources of all kinds")
def results_once_more(box):
    """Results as the source of the next run, several times over: no field piles up."""
    source = plumb()
    for turn in range(3):
        outcome = box.run("screenepochs", INPUT=source, OUTPUT=str(box.folder / "kept.gpkg"))
        box.done(outcome)
        names = opened(outcome["OUTPUT"]).fields().names()
        box.right(len(names) == len(set(names)) and len(names) < 20, f"{names}")
        copied = box.folder / f"again {turn}.gpkg"
        shutil.copy(outcome["OUTPUT"], copied)
        source = QgsVectorLayer(str(copied), "again", "ogr")
    return RIGHT
