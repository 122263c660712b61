"""Reconstruct the edges of the sample project through QGIS's command line, fit tangents and arcs,
compare: GeoPackages, a map, reports, a table."""

import os
import sys
import tempfile
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import shapely
from host import Host
from osgeo import gdal, ogr, osr
from picture import draw

gdal.UseExceptions()

HERE = Path(__file__).resolve().parent
DATA = HERE / "data" / "tern_ness.gpkg"
LOG = HERE / "data" / "tern_ness_walk.nmea"
CRS = "EPSG:32631"  # of the results; captures come in others as well
ALIGNMENTS = {"alignments": "OUTPUT", "elements": "ELEMENTS"}
OUTPUTS = {"edges": "OUTPUT", "gaps": "GAPS", "rejected": "REJECTED", "kept": "KEPT"}
MERGED = {"merged": "OUTPUT", "passes": "PASSES", "disagreements": "DISAGREEMENTS"}
SPOTS = {"spot_points": "POINTS", "epochs_left_out": "REJECTED"}
COMPARED = {"OUTPUT": "edges_compared", "EXISTING_STATUS": "basemap_status", "STATIONS": "stations"}
UPDATED = {"UPDATED": "basemap", "CHANGES": "changes", "HELD": "held"}
REVISITS = {"OUTPUT": "revisits", "REASONS": "reasons"}
JOINED = {"OUTPUT": "joined", "CHANGES": "changes", "POLYGONS": "islands"}
# of the port's kerbs, of 0.12 m: `port.UPSTAND`
SECTION = "flow line: 0.02 -0.12; gutter lip: 0.32 -0.11"
BASEMAP_SIGMA = 0.05  # m, 1-sigma: digitising and generalising of the legacy basemap
BASEMAP_SHIFT = (0.35, -0.20)  # m, with which it was made: `port.BASEMAP_SHIFT`
CHECK_SIGMA = 0.008  # m, of the check points: `port.CHECK_SIGMA`
STATION_SPACING = 0.1  # metres between the places where edges are compared with the truth


@dataclass
class Row:
    """What came of one layer of captures."""

    name: str
    epochs: int
    kept: int
    reasons: Counter
    edges: int
    length: float
    epochs_off: np.ndarray
    edges_off: np.ndarray

    @property
    def rejected(self):
        return sum(self.reasons.values())


def layers(path, prefix=""):
    """Names of the layers in a file that begin with a prefix."""
    dataset = gdal.OpenEx(str(path), gdal.OF_VECTOR)
    names = [dataset.GetLayer(index).GetName() for index in range(dataset.GetLayerCount())]
    return [name for name in names if name.startswith(prefix)]


def read(path, layer, where=None):
    """Attributes, a list of dicts, and geometries, an array of shapely."""
    dataset = gdal.OpenEx(str(path), gdal.OF_VECTOR)
    source = dataset.GetLayerByName(layer)
    source.SetAttributeFilter(where)
    attributes, shapes = [], []
    for feature in source:
        geometry = feature.GetGeometryRef()
        attributes.append(feature.items())
        shapes.append(None if geometry is None else bytes(geometry.ExportToIsoWkb()))
    return attributes, shapely.from_wkb(np.array(shapes, dtype=object))


def count(path, layer):
    """Number of rows of a layer in a file."""
    dataset = gdal.OpenEx(str(path), gdal.OF_VECTOR)  # a layer is nothing without its dataset
    return dataset.GetLayerByName(layer).GetFeatureCount()


def append(source, target, name, capture_layer):
    """Append the only layer of the file `source` to the layer `name` of the GeoPackage `target`, in
    its CRS."""
    dataset = gdal.OpenEx(str(source), gdal.OF_VECTOR | gdal.OF_UPDATE)
    layer = dataset.GetLayer(0)
    layer.CreateField(ogr.FieldDefn("capture_layer", ogr.OFTString))
    dataset.ExecuteSQL(f"UPDATE \"{layer.GetName()}\" SET capture_layer = '{capture_layer}'")
    # QGIS writes a row without position as an empty point, which GDAL refuses to reproject.
    dataset.ExecuteSQL(
        f'UPDATE "{layer.GetName()}" SET "{layer.GetGeometryColumn()}" = NULL '
        f'WHERE ST_IsEmpty("{layer.GetGeometryColumn()}")'
    )
    # Without fid, which starts at 1 in every file.
    fields = [
        layer.GetLayerDefn().GetFieldDefn(index).GetName()
        for index in range(layer.GetLayerDefn().GetFieldCount())
    ]
    dataset = layer = None
    gdal.VectorTranslate(
        str(target),
        str(source),
        format="GPKG",
        layerName=name,
        dstSRS=CRS,
        reproject=True,
        accessMode="append" if target.exists() else None,
        addFields=True,
        selectFields=fields,
    )


class Truth:
    """The true edges, to measure distances from."""

    def __init__(self):
        attributes, lines = read(DATA, "truth")
        self.names = np.array([item["edge"] for item in attributes])
        xy, line = shapely.get_coordinates(shapely.force_2d(lines), return_index=True)
        inside = line[1:] == line[:-1]
        self.line = line[1:][inside]  # of each segment in the tree
        self.tree = shapely.STRtree(
            shapely.linestrings(np.stack([xy[:-1][inside], xy[1:][inside]], axis=1))
        )

    def distances(self, xy):
        """Horizontal distance of each position, shape (n, 2), from the nearest true edge, shape
        (n,), metres."""
        found, distance = self.tree.query_nearest(
            shapely.points(xy), return_distance=True, all_matches=False
        )
        off = np.full(len(xy), np.nan)
        off[found[0]] = distance
        return off

    def name_of(self, line):
        """Name of the true edge that a line runs along most."""
        segments = self.tree.nearest(shapely.points(stations(np.array([line]))))
        return str(self.names[np.bincount(self.line[segments]).argmax()])


def stations(lines):
    """Positions at equal spacing along lines, shape (n, 2)."""
    lines = shapely.force_2d(lines)
    numbers = np.maximum(np.ceil(shapely.length(lines) / STATION_SPACING).astype(int), 1)
    line = np.repeat(np.arange(len(lines)), numbers)
    place = np.arange(len(line)) - np.repeat(np.cumsum(numbers) - numbers, numbers)
    return shapely.get_coordinates(
        shapely.line_interpolate_point(lines[line], (place + 0.5) / numbers[line], normalized=True)
    )


def rms(values):
    """Root of the mean square; NaN of nothing."""
    return float(np.sqrt(np.mean(np.square(values)))) if len(values) else float("nan")


def reconstruct(host, folder, target):
    """Run the main job on every layer of captures and gather the results in one GeoPackage."""
    for capture_layer in layers(DATA, "captures"):
        outputs = {
            parameter: folder / f"{capture_layer}_{name}.gpkg"
            for name, parameter in OUTPUTS.items()
        }
        host.run(
            "curbwright:reconstructedges", INPUT=f"{DATA}|layername={capture_layer}", **outputs
        )
        for name, parameter in OUTPUTS.items():
            append(outputs[parameter], target, name, capture_layer)


def fit_alignments(host, folder, target):
    """Fit tangents and arcs to the edges; the curves and their elements go into the same
    GeoPackage. What was found, as text."""
    parts = {parameter: folder / f"{name}.gpkg" for name, parameter in ALIGNMENTS.items()}
    found = host.run("curbwright:fitalignments", INPUT=f"{target}|layername=edges", **parts)
    for name, parameter in ALIGNMENTS.items():
        gdal.VectorTranslate(
            str(target), str(parts[parameter]), format="GPKG", layerName=name, accessMode="update"
        )
    return (
        f"alignments             {found['EDGES']:.0f}: {found['TANGENTS']:.0f} tangents,"
        f" {found['ARCS']:.0f} arcs, {found['CORNERS']:.0f} corners"
    )


def read_log(host, folder, target):
    """Take a receiver's log to edges of its own, in one GeoPackage; the numbers of both steps as a
    dict."""
    parts = {
        name: folder / f"log_{name}.gpkg" for name in ("epochs", "rejected_sentences", *OUTPUTS)
    }
    read = host.run(
        "curbwright:readnmealog",
        INPUT=LOG,
        HEIGHT="orthometric",
        OUTPUT=parts["epochs"],
        REJECTED=parts["rejected_sentences"],
    )
    done = host.run(
        "curbwright:reconstructedges",
        INPUT=parts["epochs"],
        **{parameter: parts[name] for name, parameter in OUTPUTS.items()},
    )
    for name, part in parts.items():
        gdal.VectorTranslate(
            str(target),
            str(part),
            format="GPKG",
            layerName=name,
            accessMode="update" if target.exists() else None,
        )
    return {**read, **done}


def log_line(numbers, target):
    """What came of the log, as text."""
    srs = osr.SpatialReference()
    srs.SetFromUserInput(CRS)
    srs.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
    dataset, parts = gdal.OpenEx(str(target), gdal.OF_VECTOR), []
    for feature in dataset.GetLayerByName("edges"):
        geometry = feature.GetGeometryRef()
        geometry.TransformTo(srs)
        parts.append(bytes(geometry.ExportToIsoWkb()))
    lines = shapely.from_wkb(parts)
    return (
        f"NMEA log               {numbers['SENTENCES']:.0f} sentences,"
        f" {numbers['REJECTED_SENTENCES']:.0f} rejected, {numbers['EPOCHS']:.0f} epochs,"
        f" {numbers['EPOCHS_KEPT']:.0f} kept; edges {numbers['EDGES']:.0f}, {numbers['LENGTH']:.1f}"
        f" m, RMSE {1000 * rms(Truth().distances(stations(lines))):.1f} mm from the truth"
    )


def linework(host, folder, edges, target):
    """Join the edges, derive their flow lines and gutter lips, and measure the curb between both
    again; what came of it, as text."""
    parts = {
        name: folder / f"linework_{name}.gpkg"
        for name in (*JOINED.values(), "parallels", "curb_heights", "height_stations")
    }
    joined = host.run(
        "curbwright:joinedges",
        INPUT=f"{edges}|layername=edges",
        **{key: parts[name] for key, name in JOINED.items()},
    )
    derived = host.run(
        "curbwright:offsetedges", INPUT=parts["joined"], SECTION=SECTION, OUTPUT=parts["parallels"]
    )
    height = host.run(
        "curbwright:curbheight",
        INPUT=parts["joined"],
        FLOW_LINE=f"{parts['parallels']}|subset=line = 'flow line'",
        MAX_DISTANCE=0.05,
        OUTPUT=parts["curb_heights"],
        STATIONS=parts["height_stations"],
    )
    for name, part in parts.items():
        gdal.VectorTranslate(
            str(target),
            str(part),
            format="GPKG",
            layerName=name,
            accessMode="update" if target.exists() else None,
        )
    return (
        f"linework               {joined['EDGES_READ']:.0f} edges make {joined['EDGES']:.0f}:"
        f" {joined['JOINED']:.0f} ends joined, {joined['EXTENDED']:.0f} corners,"
        f" {joined['LEFT_OPEN']:.0f} left open; {count(target, 'islands')} islands;"
        f" {derived['LINES']:.0f} parallels, derived kerb {height['HEIGHT_MEAN']:.3f} m"
    )


def merge_passes(host, folder, edges, target):
    """Merge the walks of the edge that was walked on both days; edges, passes and disagreements in
    one GeoPackage. What came of it, as text."""
    parts = {parameter: folder / f"merged_{name}.gpkg" for name, parameter in MERGED.items()}
    found = host.run("curbwright:mergepasses", INPUT=f"{edges}|layername=edges", **parts)
    for name, parameter in MERGED.items():
        gdal.VectorTranslate(
            str(target),
            str(parts[parameter]),
            format="GPKG",
            layerName=name,
            accessMode="update" if target.exists() else None,
        )
    rows, lines = read(target, "merged", "state = 'merged'")
    truth = Truth()
    together = [row["source_id"] for row in read(target, "passes", "state = 'merged'")[0]]
    _, alone = read(edges, "edges", f"fid IN ({', '.join(map(str, together))})")
    return (
        f"repeat passes          {len(together)} edges make {len(rows)},"
        f" {sum(row['shared_length'] for row in rows):.1f} m seen twice; RMS between two walks"
        f" {1000 * found['REPEATABILITY']:.1f} mm, up {1000 * found['REPEATABILITY_UP']:.1f} mm;"
        f" {count(target, 'disagreements')} disagreements; RMSE from the truth"
        f" {1000 * rms(truth.distances(stations(alone))):.1f} mm alone,"
        f" {1000 * rms(truth.distances(stations(lines))):.1f} mm merged"
    )


def average_spots(host, folder, target):
    """Average the spot points; they and the epochs left out go into the same GeoPackage. What came
    of it, as text."""
    parts = {parameter: folder / f"spots_{name}.gpkg" for name, parameter in SPOTS.items()}
    found = host.run(
        "curbwright:averageoccupations",
        INPUT=f"{DATA}|layername=spot_points",
        CAPTURE_FIELDS="point",
        **parts,
    )
    for name, parameter in SPOTS.items():
        gdal.VectorTranslate(
            str(target),
            str(parts[parameter]),
            format="GPKG",
            layerName=name,
            accessMode="update" if target.exists() else None,
        )
    rows, points = read(target, "spot_points")
    corners = shapely.STRtree(shapely.force_2d(read(DATA, "truth_corners")[1]))
    off = corners.query_nearest(shapely.force_2d(points), return_distance=True)[1]
    sigma = rms([row["sigma_h"] for row in rows])
    return (
        f"spot points            {found['NUMBER_OF_POINTS']:.0f} of {found['EPOCHS_USED']:.0f}"
        f" epochs, {found['EPOCHS_REJECTED']:.0f} left out; {1000 * rms(off):.1f} mm from the true"
        f" corners (RMS), where their sigma lets expect {1000 * sigma:.1f} mm"
    )


def compare(host, folder, edges, target, report, accuracy_report):
    """Compare the edges with the legacy basemap and check them at the check points; numbers of both
    as dicts."""
    parts = {
        name: folder / f"comparison_{name}.gpkg" for name in (*COMPARED.values(), "check_points")
    }
    numbers = host.run(
        "curbwright:compareedges",
        INPUT=f"{edges}|layername=edges",
        EXISTING=f"{DATA}|layername=basemap",
        SIGMA_FIELD="sigma_cross",
        EXISTING_SIGMA=BASEMAP_SIGMA,
        REPORT=report,
        **{key: parts[name] for key, name in COMPARED.items()},
    )
    # the radial RMSE is that of both axes together
    accuracy = host.run(
        "curbwright:checkaccuracy",
        INPUT=f"{edges}|layername=edges",
        CHECK_POINTS=f"{DATA}|layername=check_points",
        OUTPUT=parts["check_points"],
        CHECK_SIGMA_H=2**0.5 * CHECK_SIGMA,
        CHECK_SIGMA_V=CHECK_SIGMA,
        REPORT=accuracy_report,
    )
    for name, part in parts.items():
        gdal.VectorTranslate(
            str(target),
            str(part),
            format="GPKG",
            layerName=name,
            accessMode="update" if target.exists() else None,
        )
    return numbers, accuracy


def update(host, folder, edges, target, report):
    """Bring the legacy basemap up to date; what came of it, as text."""
    parts = {parameter: folder / f"updated_{name}.gpkg" for parameter, name in UPDATED.items()}
    numbers = host.run(
        "curbwright:updatebasemap",
        EXISTING=f"{DATA}|layername=basemap",
        EDGES=f"{edges}|layername=edges",
        EXISTING_SIGMA=BASEMAP_SIGMA,
        REPORT=report,
        **parts,
    )
    for parameter, name in UPDATED.items():
        gdal.VectorTranslate(
            str(target),
            str(parts[parameter]),
            format="GPKG",
            layerName=name,
            accessMode="update" if target.exists() else None,
        )
    truth = Truth()
    former = {item["name"]: line for item, line in zip(*read(DATA, "basemap"))}
    off = []  # RMSE of redrawn lines and of the others, before and after
    for states in (("replaced", "partly"), ("shifted", "followed")):
        rows = [
            (item, line)
            for item, line in zip(*read(target, "basemap"))
            if item["update"] in states and item["fate"] != "demolished"
        ]
        before = np.array([former[item["name"]] for item, _ in rows])
        after = np.array([line for _, line in rows])
        off += [rms(truth.distances(stations(lines))) for lines in (before, after)]
    words = ("REPLACED", "PARTLY", "FOLLOWED", "SHIFTED", "ADDED", "RETIRED", "HELD_BACK")
    counts = ", ".join(
        f"{word.lower().replace('_', ' ')} {numbers[word]:.0f}" for word in words
    ).replace("partly", "replaced in part")
    return (
        f"updated basemap         {counts}\n"
        "  distance from the truth, RMSE        before       after\n"
        f"    redrawn lines                     {off[0]:6.3f} m    {off[1]:6.3f} m\n"
        f"    all others                        {off[2]:6.3f} m    {off[3]:6.3f} m"
    )


def revisits(host, folder, edges, merged, lines, compared, target, waypoints):
    """List what must be walked again, as a layer and as waypoints; what came of it, as text."""
    lists = {
        "EDGES": f"{edges}|layername=edges",
        "GAPS": f"{edges}|layername=gaps",
        "REJECTED": f"{edges}|layername=rejected",
        "DISAGREEMENTS": f"{merged}|layername=disagreements",
        "CHANGES": f"{lines}|layername=changes",
        "EXISTING_STATUS": f"{compared}|layername=basemap_status",
    }
    parts = {parameter: folder / f"{name}.gpkg" for parameter, name in REVISITS.items()}
    found = host.run("curbwright:revisits", **lists, **parts)
    host.run("curbwright:revisits", **lists, OUTPUT=waypoints)
    for parameter, name in REVISITS.items():
        gdal.VectorTranslate(
            str(target),
            str(parts[parameter]),
            format="GPKG",
            layerName=name,
            accessMode="update" if target.exists() else None,
        )
    kinds = Counter(row["kind"] for row in read(target, "reasons")[0])
    return (
        f"places to revisit      {found['PLACES']:.0f}, {found['WALK']:.0f} m from the first to the"
        f" last; {found['FOUND']:.0f} findings: "
        + ", ".join(f"{count} {kind}" for kind, count in sorted(kinds.items()))
    )


def comparison_table(numbers, accuracy, target):
    """What the comparison found beside what the basemap was made with, as text."""
    old, _ = read(target, "basemap_status")
    fates = {item["name"]: item["fate"] for item in old}
    found = {("lines", fate): Counter() for fate in sorted(set(fates.values()))}
    for item in old:
        found["lines", item["fate"]][item["status"]] += 1
    truth = Truth()
    for item, line in zip(*read(target, "edges_compared")):
        fate = fates.get(truth.name_of(line), "not drawn")
        found.setdefault(("edges", fate), Counter())[item["status"]] += 1
    return "\n".join(
        [
            (
                f"legacy basemap lies {numbers['SHIFT_EAST']:+.3f} m east,"
                f" {numbers['SHIFT_NORTH']:+.3f} m north of the edges (made with"
                f" {BASEMAP_SHIFT[0]:+.2f}, {BASEMAP_SHIFT[1]:+.2f})"
            ),
            (
                f"displaced lines        {numbers['DISPLACED_WITH_SHIFT']:.0f} with that shift left"
                f" in, {numbers['DISPLACED_WITHOUT_SHIFT']:.0f} with it taken out"
            ),
            *(
                f"  {what} {fate:12} "
                + ", ".join(f"{count} {status}" for status, count in sorted(statuses.items()))
                for (what, fate), statuses in sorted(
                    found.items(), key=lambda pair: (pair[0][0] == "edges", pair[0])
                )
            ),
            (
                f"check points           {accuracy['POINTS']:.0f} used, RMSE across the edges"
                f" {1000 * accuracy['RMSE_ACROSS']:.1f} mm, up {1000 * accuracy['RMSE_UP']:.1f} mm"
            ),
        ]
    )


def summary(target):
    """A `Row` for each layer of captures, from what stands in the GeoPackage."""
    truth = Truth()
    rows = []
    for capture_layer in layers(DATA, "captures"):
        mine = f"capture_layer = '{capture_layer}'"
        edges, lines = read(target, "edges", mine)
        _, kept = read(target, "kept", mine)
        rejected, _ = read(target, "rejected", mine)
        row = Row(
            capture_layer,
            count(DATA, capture_layer),
            len(kept),
            Counter(item["reason"] for item in rejected),
            len(edges),
            sum(edge["length"] for edge in edges),
            truth.distances(shapely.get_coordinates(kept)),
            truth.distances(stations(lines)),
        )
        if row.kept + row.rejected != row.epochs:
            raise SystemExit(
                f"{capture_layer}: {row.epochs} epochs read, but {row.kept} kept and {row.rejected}"
                " rejected."
            )
        rows.append(row)
    total = Row(
        "all",
        *(sum(getattr(row, name) for row in rows) for name in ("epochs", "kept")),
        sum((row.reasons for row in rows), Counter()),
        *(sum(getattr(row, name) for row in rows) for name in ("edges", "length")),
        *(
            np.concatenate([getattr(row, name) for row in rows])
            for name in ("epochs_off", "edges_off")
        ),
    )
    return [*rows, total]


def table(rows):
    """The rows as text."""
    width = max(len(row.name) for row in rows)
    reasons = [reason for reason, _ in rows[-1].reasons.most_common()]
    width = max([width, *(len(reason) + 2 for reason in reasons)])
    cell = max(12, *(len(row.name) for row in rows)) + 2

    def line(label, values, form="{}"):
        return f"{label:{width}}" + "".join(f"{form.format(value):>{cell}}" for value in values)

    return "\n".join(
        [
            line("", [row.name for row in rows]),
            line("epochs read", [row.epochs for row in rows], "{:,}"),
            line("kept", [row.kept for row in rows], "{:,}"),
            line("rejected", [row.rejected for row in rows], "{:,}"),
            *(
                line("  " + reason, [row.reasons[reason] for row in rows], "{:,}")
                for reason in reasons
            ),
            line("edges", [row.edges for row in rows], "{:,}"),
            line("length", [row.length for row in rows], "{:,.1f} m"),
            "distance from the truth, RMSE",
            line("  kept epochs", [1000 * rms(row.epochs_off) for row in rows], "{:.1f} mm"),
            line("  edges", [1000 * rms(row.edges_off) for row in rows], "{:.1f} mm"),
        ]
    )


def main(arguments):
    if len(arguments) > 1:
        raise SystemExit("usage: run.sh [FOLDER]")
    out = Path(arguments[0]).resolve() if arguments else HERE / "out"
    out.mkdir(parents=True, exist_ok=True)
    target, image = out / "tern_ness_edges.gpkg", out / "tern_ness_edges.png"
    compared, report, accuracy_report = (
        out / "tern_ness_comparison.gpkg",
        out / "report.html",
        out / "accuracy.html",
    )
    logged, lines, merged = (
        out / "tern_ness_log.gpkg",
        out / "tern_ness_linework.gpkg",
        out / "tern_ness_merged.gpkg",
    )
    updated, update_report = out / "tern_ness_basemap.gpkg", out / "update.html"
    places, waypoints = out / "tern_ness_revisits.gpkg", out / "tern_ness_revisits.gpx"
    for path in (
        target,
        image,
        compared,
        report,
        accuracy_report,
        logged,
        lines,
        merged,
        updated,
        update_report,
        places,
        waypoints,
    ):
        path.unlink(missing_ok=True)
    with tempfile.TemporaryDirectory() as folder:
        folder = Path(folder)
        (folder / "profile").mkdir()
        host = Host(folder / "profile", plugin=HERE.parent)
        host.enable()
        reconstruct(host, folder, target)
        alignments = fit_alignments(host, folder, target)
        passes, spots = (
            merge_passes(host, folder, target, merged),
            average_spots(host, folder, merged),
        )
        joined = linework(host, folder, target, lines)
        log = log_line(read_log(host, folder, logged), logged)
        numbers, accuracy = compare(host, folder, target, compared, report, accuracy_report)
        renewed = update(host, folder, target, updated, update_report)
        again = revisits(host, folder, target, merged, lines, compared, places, waypoints)
    rows, comparison = summary(target), comparison_table(numbers, accuracy, compared)
    with tempfile.TemporaryDirectory() as folder:
        os.environ.setdefault("XDG_RUNTIME_DIR", folder)  # Qt grumbles where there is none
        draw(DATA, target, updated, image)
    print(table(rows))
    print("\n" + alignments)
    print(passes)
    print(spots)
    print(joined)
    print(comparison)
    print(renewed)
    print(log)
    print(again)
    print()
    for path in (target, image, compared, report, accuracy_report, logged, lines, merged):
        print(path)
    print(updated)
    print(update_report)
    print(places)
    print(waypoints)


if __name__ == "__main__":
    main(sys.argv[1:])
