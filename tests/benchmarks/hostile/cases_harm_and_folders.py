"""Targets that are sources in other spellings, targets that cannot be, folders of results in the
way, updates of layers that cannot be changed, and changes to take back that do not fit."""

import os
import sqlite3
import subprocess
from pathlib import Path

from cases_parameters import asked, basemap
from frame import RIGHT, case
from qgis.core import (
    QgsFeature,
    QgsField,
    QgsGeometry,
    QgsProject,
    QgsVectorFileWriter,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QVariant
from truths import edges, opened, plumb
from walkedlayers import layer_of, to_file, walk

FILES = {
    "gpkg": "GPKG",
    "shp": QgsVectorFileWriter.driverForExtension("shp"),
    "geojson": "GeoJSON",
    "fgb": "FlatGeobuf",
    "csv": "CSV",
    "sqlite": "SQLite",
}


def spelled(box, path, how):
    """The same file, said in another way; None where this machine knows none."""
    name = path.name
    if how == "same":
        return str(path)
    if how == "dot":
        return f"{path.parent}/./{name}"
    if how == "dots":
        (path.parent / "sub").mkdir(exist_ok=True)
        return f"{path.parent}/sub/../{name}"
    if how == "slashes":
        return f"{path.parent}//{name}"
    if how == "relative":
        return os.path.relpath(path)
    if how == "url":
        return path.as_uri()
    if how == "url one slash":
        return f"file:{path}"
    if how == "url coded":
        return path.as_uri().replace("walked", "w%61lked")
    if how == "trailing":
        return f"{path}/"
    if how == "blank":
        return f" {path} "
    if how == "quotes":
        return f'"{path}"'
    if how == "home":
        return str(path).replace(str(Path.home()), "~")
    if how == "layer":
        return f"{path}|layername={path.stem}"
    if how == "ogr":
        return f"ogr:dbname='{path}' table=\"{path.stem}\" (geom)"
    if how == "ogr other":
        return f"ogr:dbname='{path}' table=\"other\" (geom)"
    if how == "symlink":
        link = path.parent / f"link{path.suffix}"
        link.symlink_to(path)
        return str(link)
    if how == "chain":
        one, two = path.parent / "one", path.parent / f"two{path.suffix}"
        one.symlink_to(path)
        two.symlink_to(one)
        return str(two)
    if how == "hard link":
        link = path.parent / f"hard{path.suffix}"
        os.link(path, link)
        return str(link)
    if how == "folder link":
        link = box.folder / "folderlink"
        link.symlink_to(path.parent, target_is_directory=True)
        return str(link / name)
    if how == "proc":
        return f"/proc/self/cwd/{os.path.relpath(path)}"
    if how == "without suffix":
        return str(path.with_suffix(""))
    if how == "capitals":
        return str(path.with_suffix(path.suffix.upper()))
    if how == "mounted":
        there = box.folder / "mounted"
        there.mkdir()
        if os.geteuid() or subprocess.call(
            ["mount", "--bind", path.parent, there], stderr=subprocess.DEVNULL
        ):
            box.skip("cannot mount")
        return str(there / name)
    raise ValueError(how)


SPELLINGS = (
    "same",
    "dot",
    "dots",
    "slashes",
    "relative",
    "url",
    "url one slash",
    "url coded",
    "trailing",
    "blank",
    "quotes",
    "layer",
    "ogr",
    "symlink",
    "chain",
    "hard link",
    "folder link",
    "proc",
    "without suffix",
    "capitals",
    "mounted",
)


def unharmed(box, outcome, source_path, rows, target):
    """Refused, or done elsewhere; the source is as it was and opens with all its rows."""
    layer = QgsVectorLayer(str(source_path), "again", "ogr")
    if not (layer.isValid() and layer.featureCount() == rows):
        from frame import LOST, VerdictError

        raise VerdictError(LOST, f"the source has {layer.featureCount()} rows of {rows}")
    if outcome.error:
        return box.refused(outcome, "Choose|another|cannot|read|not|same")
    return RIGHT


@case(
    "targets that are sources",
    each=tuple((suffix, how) for suffix in ("gpkg", "shp", "csv") for how in SPELLINGS)
    + tuple((s, "same") for s in ("geojson", "fgb", "sqlite")),
)
def written_over_what_is_read(box, suffix, how):
    there = box.folder / "data"
    there.mkdir()
    path = there / f"walked.{suffix}"
    options = {"layerOptions": ["GEOMETRY=AS_WKT"]} if suffix == "csv" else {}
    source = to_file(plumb(name="walked"), path, FILES[suffix], **options)
    from qgis.core import QgsCoordinateReferenceSystem

    source.setCrs(QgsCoordinateReferenceSystem("EPSG:32632"))
    before = path.read_bytes()
    target = spelled(box, path, how)
    try:
        outcome = box.run("screenepochs", INPUT=source, OUTPUT="memory:", REJECTED=target)
        if path.read_bytes() != before and suffix != "gpkg":
            from frame import LOST, VerdictError

            raise VerdictError(LOST, "bytes of the source changed")
        return unharmed(box, outcome, path, 120, target)
    finally:
        if how == "mounted":
            subprocess.call(["umount", box.folder / "mounted"])


@case(
    "targets that are sources",
    each=(
        "compareedges",
        "updatebasemap",
        "joinedges",
        "estimateshift",
        "offsetedges",
        "fitalignments",
        "mergepasses",
        "checkaccuracy",
        "curbheight",
        "revisits",
    ),
)
def each_source_as_each_target(box, algorithm):
    """Every output that is written over every input, one after the other."""
    given = asked(box, algorithm)
    from qgis.core import QgsApplication

    made = QgsApplication.processingRegistry().createAlgorithmById(f"curbwright:{algorithm}")
    sources, targets = {}, [d.name() for d in made.destinationParameterDefinitions()]
    for key, value in list(given.items()):
        if isinstance(value, QgsVectorLayer):
            path = box.folder / f"source {key}.gpkg"
            sources[key] = path, value.featureCount()
            given[key] = to_file(value, path)
    for key, (path, rows) in sources.items():
        for target in targets:
            outcome = box.run(algorithm, **{**given, target: str(path)})
            if outcome.error is None:
                return box.right(False, f"{target} over {key} was done")
            unharmed(box, outcome, path, rows, target)
    return box.refused(outcome, "is read|reads|read|same")


@case("targets that are sources")
def two_outputs_into_one_file(box):
    path = str(box.folder / "both.gpkg")
    outcome = box.run("reconstructedges", INPUT=plumb(), OUTPUT=path, KEPT=path)
    return box.refused(outcome, "Edges|Kept")


@case("targets that are sources")
def other_layer_of_the_source(box):
    """The other layers of a GeoPackage stay."""
    path = box.folder / "walked.gpkg"
    source = to_file(plumb(name="walked"), path)
    outcome = box.run(
        "screenepochs", INPUT=source, OUTPUT=f"ogr:dbname='{path}' table=\"fine\" (geom)"
    )
    box.done(outcome)
    return unharmed(box, outcome, f"{path}|layername=walked", 120, path)


WRONG = (
    "missing folder",
    "folder",
    "full",
    "null",
    "stdout",
    "read only",
    "no suffix",
    "unknown suffix",
    "dxf",
    "kml",
    "gpx",
    "parquet",
    "csv",
    "xlsx",
    "ods",
    "dgn",
    "pdf",
    "gml",
    "tab",
    "mif",
    "json",
    "vrt",
    "html",
    "png",
    "txt",
    "long",
    "nul",
    "newline",
    "unicode",
    "percent",
    "hash",
    "question",
    "zip",
    "vsizip",
    "vsimem",
    "dangling",
    "fifo",
    "dot file",
    "only suffix",
    "empty file",
    "garbage file",
    "empty",
    "database url",
    "http",
    "foreign gpkg",
    "locked gpkg",
)


@case("targets that cannot be", each=WRONG)
def written_to(box, what):
    """Done, and it opens with all rows; or refused by the target's name, and nothing is left."""
    base = box.folder / "out"
    base.mkdir()
    target = {
        "missing folder": base / "a" / "b" / "c.gpkg",
        "folder": base / "d.gpkg",
        "full": "/dev/full",
        "null": "/dev/null",
        "stdout": "/vsistdout/",
        "read only": base / "ro.gpkg",
        "no suffix": base / "plain",
        "unknown suffix": base / "a.qwx",
        "long": base / ("n" * 300 + ".gpkg"),
        "nul": f"{base}/a\x00b.gpkg",
        "newline": base / "a\nb.gpkg",
        "unicode": base / "\u9053\u8def \u2713.gpkg",
        "percent": base / "100%20 %s.gpkg",
        "hash": base / "a#b.gpkg",
        "question": base / "a?b.gpkg",
        "zip": base / "a.zip",
        "vsizip": f"/vsizip/{base}/a.zip/a.gpkg",
        "vsimem": "/vsimem/a.gpkg",
        "dangling": base / "dangling.gpkg",
        "fifo": base / "fifo.gpkg",
        "dot file": base / ".gpkg",
        "only suffix": base / ".csv",
        "empty file": base / "e.gpkg",
        "garbage file": base / "g.gpkg",
        "empty": "",
        "database url": 'postgres://host=127.0.0.1 port=1 dbname=a table="b"',
        "http": "http://127.0.0.1:1/a.gpkg",
        "foreign gpkg": base / "f.gpkg",
        "locked gpkg": base / "l.gpkg",
    }.get(what, base / f"a.{what}")
    held = None
    if what == "folder":
        target.mkdir()
        (target / "mine.txt").write_text("mine")
        box.guard(target)
    elif what == "read only":
        target.write_bytes(b"mine")
        target.chmod(0o444)
        base.chmod(0o555)
        if os.geteuid() == 0:
            box.skip("root writes all")
    elif what == "dangling":
        target.symlink_to(base / "nowhere" / "x.gpkg")
    elif what == "fifo":
        os.mkfifo(target)
    elif what == "empty file":
        target.touch()
    elif what == "garbage file":
        target.write_bytes(os.urandom(5000))
    elif what in ("foreign gpkg", "locked gpkg"):
        to_file(edges(name="mine"), target)
        if what == "locked gpkg":
            held = sqlite3.connect(target)
            held.execute("begin exclusive")
            target = f"ogr:dbname='{target}' table=\"new\" (geom)"
    outcome = box.run("screenepochs", INPUT=plumb(), OUTPUT=str(target))
    if held is not None:
        held.close()
    if outcome.error:
        box.refused(
            outcome,
            "Kept epochs|OUTPUT",
            "choose|make sure|cannot|could not|folder|format|another|must",
        )
        left = [
            one
            for one in box.folder.rglob("*")
            if one.is_file()
            and one.name not in ("mine.txt", "f.gpkg", "l.gpkg", "g.gpkg", "e.gpkg")
        ]
        return box.whole(not left, f"left: {left}") and "clear error"
    layer = opened(outcome["OUTPUT"])
    box.whole(layer.isValid(), f"cannot be opened: {outcome['OUTPUT']}")
    count, want = layer.featureCount(), outcome["EPOCHS_KEPT"]
    return box.whole(count == want, f"{count} rows of {want}: {outcome['OUTPUT']}")


@case("targets that cannot be", each=("REPORT", "REPORT_PDF"))
def report_into_a_folder(box, name):
    path = box.folder / "r.html"
    path.mkdir()
    (path / "mine.txt").write_text("mine")
    box.guard(path)
    return box.refused(
        box.run("compareedges", **{**asked(box, "compareedges"), name: str(path)}), "Report"
    )


@case(
    "targets that cannot be",
    each=tuple(
        (n, w)
        for n in ("REPORT", "REPORT_PDF")
        for w in ("/dev/full", "missing/a/b.html", "mine.docx", "mine.txt", "mine.gpkg")
    ),
)
def report_written_to(box, name, where):
    """Nothing that is no report may be replaced by one."""
    path = Path(where) if where.startswith("/") else box.folder / where
    if where.startswith("mine"):
        path.write_bytes(b"mine" * 50)
        box.guard(path)
    outcome = box.run("compareedges", **{**asked(box, "compareedges"), name: str(path)})
    if outcome.error:
        return box.refused(outcome, "Report")
    if name not in outcome.results:
        return box.warned(outcome, "PDF", "not printed")
    return box.right(path.is_file() and path.stat().st_size > 1000, "no report there")


# Wrong layers for a parameter


@case(
    "wrong layers",
    each=(
        "gaps as edges",
        "edges as epochs",
        "basemap as epochs",
        "edges twice",
        "epochs as edges",
        "kept as epochs",
        "stations as epochs",
        "report fields",
        "changes as edges",
        "rejected as epochs",
        "area as lines",
    ),
)
def given_as(box, what):
    first = box.run(
        "reconstructedges",
        INPUT=plumb(),
        **dict.fromkeys(("OUTPUT", "GAPS", "KEPT", "REJECTED", "STATIONS"), "memory:"),
    )
    box.done(first)
    out = {
        key: opened(value)
        for key, value in first.results.items()
        if isinstance(value, QgsVectorLayer)
    }
    if what == "gaps as edges":
        outcome = box.run("compareedges", INPUT=out["GAPS"], EXISTING=basemap(), OUTPUT="memory:")
        return box.refused(outcome, "gap") if outcome.error else box.warned(outcome, "gap")
    if what in ("edges as epochs", "basemap as epochs"):
        outcome = box.run(
            "reconstructedges",
            INPUT=out["OUTPUT"] if what[0] == "e" else basemap(),
            OUTPUT="memory:",
        )
        return box.refused(outcome, "drawn|stream|reconstruct|edges")
    if what == "edges twice":
        outcome = box.run(
            "updatebasemap", EDGES=out["OUTPUT"], EXISTING=out["OUTPUT"], UPDATED="memory:"
        )
        return box.refused(outcome, "same") if outcome.error else box.warned(outcome, "same")
    if what == "epochs as edges":
        return box.refused(box.run("joinedges", INPUT=plumb(), OUTPUT="memory:"), "quay walk|INPUT")
    if what == "changes as edges":
        one = box.run(
            "updatebasemap",
            EDGES=out["OUTPUT"],
            EXISTING=basemap(),
            UPDATED="memory:",
            CHANGES="memory:",
        )
        outcome = box.run(
            "updatebasemap", EDGES=one["CHANGES"], EXISTING=basemap(), UPDATED="memory:"
        )
        return box.refused(outcome, "change") if outcome.error else box.warned(outcome, "change")
    if what in ("kept as epochs", "rejected as epochs", "stations as epochs"):
        key = {"k": "KEPT", "r": "REJECTED", "s": "STATIONS"}[what[0]]
        outcome = box.run("reconstructedges", INPUT=out[key], OUTPUT="memory:")
        if outcome.error:
            return box.refused(outcome, "time|epoch|reject|fix")
        if what[0] == "k":
            return box.right(outcome["LENGTH"] > 100, f"{outcome['LENGTH']} m")
        return box.warned(outcome, "reject|station|capture|time|few|fix|most|walk")
    if what == "area as lines":
        area = QgsVectorLayer("Polygon?crs=EPSG:32632", "area", "memory")
        feature = QgsFeature()
        feature.setGeometry(
            QgsGeometry.fromWkt(
                "Polygon((500000 6200000,500100 6200000,500100 6200100,500000 6200000))"
            )
        )
        area.dataProvider().addFeatures([feature])
        return box.refused(
            box.run("compareedges", INPUT=out["OUTPUT"], EXISTING=area, OUTPUT="memory:"),
            "area|EXISTING",
        )
    return RIGHT


@case(
    "wrong layers",
    each=("lines", "points", "table", "empty", "bow tie", "far away", "no crs", "curve", "null"),
)
def area_given_as(box, what):
    kind = {
        "lines": "LineString",
        "points": "Point",
        "table": "NoGeometry",
        "curve": "CurvePolygon",
    }.get(what, "Polygon")
    area = QgsVectorLayer(
        f"{kind}?crs={'' if what == 'no crs' else 'EPSG:32632'}", "searched", "memory"
    )
    wkt = {
        "lines": "LineString(600000 6200000, 600050 6200050)",
        "points": "Point(600000 6200000)",
        "bow tie": "Polygon((599990 6199990, 600100 6200100, 600100 6199990, 599990 6200100,"
        " 599990 6199990))",
        "far away": "Polygon((100000 100000,100010 100000,100010 100010,100000 100000))",
        "curve": "CurvePolygon(CircularString(599900 6200000, 600050 6200150, 600200 6200000,"
        " 600050 6199850,"
        " 599900 6200000))",
        "no crs": "Polygon((599900 6199900, 600200 6199900, 600200 6200200, 599900 6200200,"
        " 599900 6199900))",
    }.get(what)
    if what != "empty":
        feature = QgsFeature()
        if wkt:
            feature.setGeometry(QgsGeometry.fromWkt(wkt))
        area.dataProvider().addFeatures([feature])
    outcome = box.run(
        "compareedges",
        INPUT=edges(),
        EXISTING=edges((0.1, 0.3), "existing"),
        AREA=area,
        OUTPUT="memory:",
    )
    if what == "curve":
        box.done(outcome)
        return box.right(outcome["MATCHED_LENGTH"] > 150, f"{outcome['MATCHED_LENGTH']} m")
    if outcome.error:
        return box.refused(outcome, "searched|AREA|Surveyed area")
    return box.warned(outcome, "searched|area")


# Updating


def pair(box, *, shift=(0.0, 0.5), file=True, **fields):
    existing = edges(name="existing")
    if file:
        existing = to_file(existing, box.folder / "existing.gpkg")
    new = edges(shift)
    return existing, new


@case(
    "updates",
    each=(
        "nonsense",
        "name",
        "name:",
        ":name",
        "name: nowhere",
        "nowhere: name",
        "name: name; name: number",
        "number: name",
        "fid: number",
        "name:name:name",
        ";;;",
        "NAME: Name",
        "name = name",
        "\u0000: a",
        "name: 'const'",
    ),
)
def field_map(box, text):
    existing, new = pair(box, file=False)
    extra = edges((300.0, 300.0))
    new.dataProvider().addFeatures(extra.getFeatures())
    outcome = box.run(
        "updatebasemap", EXISTING=existing, EDGES=new, FIELD_MAP=text, UPDATED="memory:"
    )
    if outcome.error:
        return box.refused(outcome, "FIELD_MAP|Field mapping for added lines")
    if any("field" in one.lower() for one in outcome.log.warnings):
        return RIGHT
    box.right(text in ("", ";;;", "NAME: Name"), f"“{text}” was taken")
    names = {f["name"] for f in opened(outcome["UPDATED"]).getFeatures()}
    return box.right(text != "NAME: Name" or "kerb 1" in names, f"{names}")


DECISIONS = (
    "accept",
    "ACCEPT",
    " accept ",
    "accepted",
    "yes",
    "ok",
    "ja",
    "reject",
    "hold",
    "REJECT!",
    "",
    None,
    "1",
    "true",
    "akzeptiert",
    "\u200baccept",
    "accept\n",
    "n/a",
    "<b>accept</b>",
)


@case("updates", each=DECISIONS)
def decided_as(box, word):
    """Only the three words decide; what is none of them is named and held, never taken for one."""
    existing, new = pair(box, file=False)
    new.dataProvider().addAttributes([QgsField("decision", QVariant.String)])
    new.updateFields()
    index = new.fields().lookupField("decision")
    new.dataProvider().changeAttributeValues({f.id(): {index: word} for f in new.getFeatures()})
    outcome = box.run(
        "updatebasemap",
        EXISTING=existing,
        EDGES=new,
        NEEDS_DECISION=True,
        REMOVE_SHIFT=False,
        UPDATED="memory:",
        HELD="memory:",
    )
    if outcome.error:
        return box.refused(outcome, "decision")
    taken = outcome["REPLACED"] + outcome["PARTLY"]
    plain = str(word or "").strip().strip("\u200b").lower()
    if plain == "accept":
        return box.right(taken > 0, "nothing taken") if taken else box.warned(outcome, "decision")
    box.right(taken == 0, f"{taken} taken over")
    return RIGHT if plain in ("reject", "hold", "") else box.warned(outcome, "decision")


@case(
    "updates",
    each=(
        "read only layer",
        "csv",
        "virtual",
        "filter",
        "edit session",
        "edited by hand",
        "read only file",
        "constraint",
        "unique",
        "memory",
        "selection",
        "shp",
    ),
)
def in_place(box, what):
    """The layer itself is changed wholly, or left as it was and said."""
    existing, new = pair(box)
    path = box.folder / "existing.gpkg"
    if what == "csv":
        path = box.folder / "existing.csv"
        existing = to_file(edges(name="existing"), path, "CSV", layerOptions=["GEOMETRY=AS_WKT"])
        from qgis.core import QgsCoordinateReferenceSystem

        existing.setCrs(QgsCoordinateReferenceSystem("EPSG:32632"))
    elif what == "shp":
        existing = to_file(
            edges(name="existing"),
            box.folder / "existing.shp",
            QgsVectorFileWriter.driverForExtension("shp"),
        )
    elif what == "memory":
        existing = edges(name="existing")
    elif what == "virtual":
        existing = QgsVectorLayer(
            "?query=select 1 as number, make_line(make_point(600000,6200000),"
            " make_point(600040,6200000)) as geometry&geometry=geometry:2:32632",
            "existing",
            "virtual",
        )
    elif what == "read only layer":
        existing.setReadOnly(True)
    elif what == "filter":
        existing.setSubsetString("number < 3")
    elif what in ("edit session", "edited by hand"):
        existing.startEditing()
        if what == "edited by hand":
            existing.deleteFeature(next(existing.getFeatures()).id())
    elif what == "constraint":
        from qgis.core import QgsFieldConstraints

        existing.setFieldConstraint(
            existing.fields().lookupField("name"), QgsFieldConstraints.ConstraintNotNull
        )
    elif what == "unique":
        base = sqlite3.connect(path)
        base.execute("create unique index u on existing(name)")
        base.commit()
        base.close()
    elif what == "selection":
        existing.selectByIds([1])
    if what == "read only file":
        if os.geteuid() == 0:
            box.skip("root writes all")
        path.chmod(0o444)
    if not existing.isValid():
        box.skip("no such layer here")
    before = sorted(f.geometry().asWkt(3) for f in existing.getFeatures())
    QgsProject.instance().addMapLayer(existing, False)
    try:
        outcome = box.run(
            "updatebasemap",
            EXISTING=existing,
            EDGES=new,
            REMOVE_SHIFT=False,
            IN_PLACE=True,
            UPDATED="memory:",
            CHANGES="memory:",
        )
        after = sorted(f.geometry().asWkt(3) for f in existing.getFeatures())
        if outcome.error:
            box.right(after == before, "was changed all the same")
            return box.refused(outcome, "existing")
        updated = sorted(f.geometry().asWkt(3) for f in opened(outcome["UPDATED"]).getFeatures())
        if after == before:
            return box.warned(outcome, "existing")
        return box.right(after == updated, "the layer is not as “UPDATED”")
    finally:
        QgsProject.instance().removeMapLayer(existing.id())


@case(
    "updates",
    each=(
        "fitting",
        "twice",
        "of another layer",
        "edited",
        "row missing",
        "undo emptied",
        "undo nonsense",
        "no fields",
        "the edges",
        "updated edited",
        "empty",
    ),
)
def taken_back(box, what):
    """The former lines come back, or it is refused; never a mixture in silence."""
    existing, new = pair(box, file=False)
    one = box.run(
        "updatebasemap",
        EXISTING=existing,
        EDGES=new,
        REMOVE_SHIFT=False,
        UPDATED="memory:",
        CHANGES="memory:",
    )
    box.done(one)
    updated, changes = opened(one["UPDATED"]), opened(one["CHANGES"])
    former = sorted(f.geometry().asWkt(3) for f in existing.getFeatures())
    ids = [f.id() for f in changes.getFeatures()]
    provider = changes.dataProvider()
    undo = changes.fields().lookupField("undo")
    if what == "of another layer":
        updated = edges((900.0, 900.0), "other")
    elif what == "edited":
        provider.changeGeometryValues(
            {ids[0]: QgsGeometry.fromWkt("LineStringZ(600000 6200000 0, 600001 6200001 0)")}
        )
    elif what == "row missing":
        provider.deleteFeatures(ids[:1])
    elif what in ("undo emptied", "undo nonsense"):
        provider.changeAttributeValues(
            {ids[0]: {undo: "" if what.endswith("ied") else "{'a': <b>"}}
        )
    elif what == "no fields":
        provider.deleteAttributes([undo])
        changes.updateFields()
    elif what == "the edges":
        changes = new
    elif what == "empty":
        provider.truncate()
    elif what == "updated edited":
        first = next(updated.getFeatures())
        updated.dataProvider().changeGeometryValues(
            {first.id(): QgsGeometry.fromWkt("LineStringZ(600000 6200005 0, 600040 6200005 0)")}
        )
    outcome = box.run("updatebasemap", EXISTING=updated, UNDO=changes, UPDATED="memory:")
    if what == "twice" and outcome.error is None:
        outcome = box.run(
            "updatebasemap", EXISTING=outcome["UPDATED"], UNDO=changes, UPDATED="memory:"
        )
    if outcome.error:
        return box.refused(outcome, "change|UNDO|undo|layer|edges")
    after = sorted(f.geometry().asWkt(3) for f in opened(outcome["UPDATED"]).getFeatures())
    if after == former:
        return RIGHT
    return box.warned(outcome, "change|back|undo")


# Folders of results


def results(box, **how):
    folder = box.folder / "results"
    given = {"LAYERS": [plumb()], "FOLDER": str(folder), **how}
    return box.run("processcaptures", **given), folder


def whole_results(box, outcome, folder, layers=("edges", "kept", "rejected", "gaps")):
    box.done(outcome)
    path = folder / "curbwright.gpkg"
    for name in layers:
        base = sqlite3.connect(path)  # the host may keep an older list of a file that is open
        try:
            box.whole(base.execute(f'select count(*) from "{name}"').fetchone()[0], f"no {name}")
        except sqlite3.OperationalError as error:
            box.whole(False, f"{name} is not there: {error}")
        finally:
            base.close()
    return box.whole((folder / "report.html").is_file(), "no report")


@case(
    "folders of results",
    each=(
        "file",
        "link",
        "link to mine",
        "dangling",
        "foreign files",
        "foreign gpkg",
        "garbage gpkg",
        "empty gpkg",
        "gpkg is folder",
        "report is folder",
        "report is mine",
        "hidden is link",
        "hidden is file",
        "locked",
        "read only",
        "trailing",
        "relative",
        "unicode",
        "missing parents",
        "source inside",
        "source is the gpkg",
        "url",
    ),
)
def batch_into(box, what):
    folder = box.folder / "results"
    mine = box.folder / "mine"
    mine.mkdir()
    (mine / "precious.txt").write_text("precious")
    box.guard(mine)
    gpkg = folder / "curbwright.gpkg"
    if what == "file":
        folder.write_text("mine")
        box.guard(folder)
    elif what in ("link", "link to mine"):
        folder.symlink_to(mine, target_is_directory=True)
        box.guarded.clear()
        box.guard(mine / "precious.txt")
    elif what == "dangling":
        folder.symlink_to(box.folder / "nowhere")
    elif what not in ("missing parents", "unicode", "relative"):
        folder.mkdir()
    held, given, wanted = None, {}, ["edges", "kept", "rejected"]
    if what == "foreign files":
        for name in ("a.txt", "curbwright.qgz", "edges.gpkg", ".curbwright.txt"):
            (folder / name).write_text("mine")
            box.guard(folder / name)
    elif what == "foreign gpkg":
        to_file(edges(name="my own"), gpkg, layerName="my own")
        wanted.append("my own")
    elif what == "garbage gpkg":
        gpkg.write_bytes(os.urandom(9000))
    elif what == "empty gpkg":
        gpkg.touch()
    elif what == "gpkg is folder":
        gpkg.mkdir()
        (gpkg / "a").write_text("mine")
        box.guard(gpkg)
    elif what == "report is folder":
        (folder / "report.html").mkdir()
        (folder / "report.html" / "a").write_text("mine")
        box.guard(folder / "report.html")
    elif what == "report is mine":
        (folder / "report.html").write_text("not a page of ours")
        box.guard(folder / "report.html")
    elif what == "hidden is link":
        (folder / ".curbwright").symlink_to(mine, target_is_directory=True)
    elif what == "hidden is file":
        (folder / ".curbwright").write_text("mine")
        box.guard(folder / ".curbwright")
    elif what == "locked":
        to_file(edges(name="edges"), gpkg, layerName="edges")
        held = sqlite3.connect(gpkg)
        held.execute("begin exclusive")
    elif what == "read only":
        if os.geteuid() == 0:
            box.skip("root writes all")
    elif what == "source inside":
        given["LAYERS"] = [to_file(plumb(), folder / "walk.gpkg")]
        box.guard(folder / "walk.gpkg")
    elif what == "source is the gpkg":
        given["LAYERS"] = [to_file(plumb(name="walk"), gpkg, layerName="walk")]
        wanted.append("walk")
    if what == "trailing":
        given["FOLDER"] = f"{folder}//"
    elif what == "relative":
        given["FOLDER"] = os.path.relpath(folder)
    elif what == "unicode":
        folder = box.folder / "\u9053 \u2713 'a\" b"
        given["FOLDER"] = str(folder)
    elif what == "missing parents":
        folder = box.folder / "a" / "b" / "c"
        given["FOLDER"] = str(folder)
    elif what == "url":
        given["FOLDER"] = folder.as_uri()
    outcome, _ = results(box, **given)
    if held is not None:
        held.close()
    if what == "garbage gpkg" and outcome.error is None:
        return box.right(False, "garbage of the user's was replaced")
    if outcome.error:
        return box.refused(outcome, "results|curbwright|FOLDER|folder")
    return whole_results(box, outcome, folder, wanted)


@case(
    "folders of results",
    each=(
        "crs changed",
        "other layer",
        "fewer layers",
        "settings",
        "version row",
        "summary gone",
        "edges gone",
        "extra columns",
        "fits broken",
        "history broken",
        "edited geometry",
        "wrong types",
    ),
)
def second_run_after(box, what):
    """An old folder of results in another state: results whole, nothing edited lost in silence."""
    first, folder = results(box)
    box.done(first)
    path = folder / "curbwright.gpkg"
    given = {}
    if what == "crs changed":
        layer = plumb()
        source = layer_of(walk(), crs="EPSG:25832")
        given = {"LAYERS": [source], "TARGET_CRS": "EPSG:3857"}
        del layer
    elif what == "other layer":
        given = {
            "LAYERS": [layer_of([{**r, "y": r["y"] + 500} for r in walk(3)], name="other walk")]
        }
    elif what == "fewer layers":
        given = {"LAYERS": [layer_of(walk()[:60])]}
    elif what == "settings":
        given = {"TOLERANCE": 0.05, "MAX_H_ACCURACY": 0.5}
    base = sqlite3.connect(path)
    statement = {
        "version row": "delete from run_log",
        "summary gone": "drop table summary",
        "fits broken": "update fits set rowid = rowid + 5",
        "extra columns": "alter table edges add column mine text default 'precious'",
        "history broken": "drop table history",
    }.get(what)
    if statement:
        try:
            base.execute(statement)
            base.commit()
        except sqlite3.Error as error:
            base.close()
            box.skip(str(error))
    base.close()
    if what == "edges gone":
        layer = QgsVectorLayer(f"{path}|layername=edges", "e", "ogr")
        layer.startEditing()
        layer.deleteFeatures([f.id() for f in layer.getFeatures()])
        layer.commitChanges()
    if what == "edited geometry":
        layer = QgsVectorLayer(f"{path}|layername=edges", "e", "ogr")
        layer.startEditing()
        feature = next(layer.getFeatures())
        layer.changeGeometry(
            feature.id(), QgsGeometry.fromWkt("LineStringZ(500000 6200000.5 4, 500020 6200000.5 4)")
        )
        layer.changeAttributeValue(feature.id(), layer.fields().lookupField("remark"), "mine")
        layer.commitChanges()
    outcome, _ = results(box, **given)
    if outcome.error:
        return box.refused(outcome, "results|curbwright|FOLDER|folder|layer")
    wanted = [] if what == "edges gone" else ["edges"]
    whole_results(box, outcome, folder, (*wanted, "kept", "rejected"))
    if what == "edited geometry":
        rows = [
            f["remark"]
            for name in ("edges", "superseded")
            for f in QgsVectorLayer(f"{path}|layername={name}", "e", "ogr").getFeatures()
        ]
        box.right("mine" in rows, "the remark is lost")
    if what == "extra columns":
        found = []
        for name in ("edges", "superseded"):
            layer = QgsVectorLayer(f"{path}|layername={name}", name, "ogr")
            found += [
                v for f in layer.getFeatures() for v in f.attributes() if "precious" in str(v)
            ]
        if not found:
            return box.warned(outcome, "mine|column|field")
    return RIGHT


@case(
    "folders of results",
    each=(
        "same twice",
        "same file twice",
        "one bad",
        "all bad",
        "none",
        "table",
        "lines drawn",
        "raster",
        "missing",
        "empty layer",
        "same names",
        "odd names",
    ),
)
def batch_of(box, what):
    walked = plumb()
    path = box.folder / "walk.gpkg"
    layers = {
        "same twice": lambda: [walked, walked],
        "same file twice": lambda: [
            to_file(plumb(), path),
            QgsVectorLayer(f"{path}", "again", "ogr"),
        ],
        "one bad": lambda: [walked, edges(name="odd layer")],
        "all bad": lambda: [edges(name="odd layer")],
        "none": list,
        "table": lambda: [
            walked,
            QgsVectorLayer("NoGeometry?field=a:string", "odd layer", "memory"),
        ],
        "lines drawn": lambda: [walked, basemap()],
        "raster": lambda: [walked, str(box.folder / "odd layer.tif")],
        "missing": lambda: [walked, str(box.folder / "odd layer.gpkg")],
        "empty layer": lambda: [walked, layer_of([], name="odd layer")],
        "same names": lambda: [walked, layer_of([{**r, "y": r["y"] + 300} for r in walk(2)])],
        "odd names": lambda: [
            layer_of(walk(), name="'; drop table edges; -- <b> \u9053"),
            layer_of([{**r, "y": r["y"] + 300} for r in walk(2)], name="a|b/c\\d"),
        ],
    }[what]()
    outcome, folder = results(box, LAYERS=layers)
    if outcome.error:
        return box.refused(outcome, "odd layer|quay walk|LAYERS|Captures|again|layer")
    whole_results(box, outcome, folder)
    kept = QgsVectorLayer(f"{folder}/curbwright.gpkg|layername=kept", "k", "ogr").featureCount()
    rejected = QgsVectorLayer(
        f"{folder}/curbwright.gpkg|layername=rejected", "k", "ogr"
    ).featureCount()
    rows = 240 if what in ("same names", "odd names") else 120
    box.right(kept + rejected == rows, f"{kept} + {rejected} epochs of {rows}")
    if what in ("one bad", "table", "raster", "missing", "empty layer", "lines drawn"):
        said = "\n".join([*outcome.log.warnings, *outcome.log.errors])
        return (
            box.right("odd layer" in said or "basemap" in said, "the bad layer is not named")
            and RIGHT
        )
    return RIGHT
