"""Draw the pictures of the help pages: before and after, from a run of the sample project.

    bash sample_project/run.sh FOLDER
    .venv/bin/python .ci/help_pictures.py FOLDER

Writes plugin/help/pictures/*.svg. The same results give the same bytes. What the sample project
does not run is run here.
"""

import hashlib
import html
import sys
import tempfile
from dataclasses import dataclass
from pathlib import Path

from osgeo import ogr, osr

ROOT = Path(__file__).resolve().parents[1]
sys.path.insert(0, str(ROOT / "sample_project"))
from host import Host  # noqa: E402

CRS = 32631  # EPSG, of the pictures
LOG = ROOT / "sample_project" / "data" / "tern_ness_walk.nmea"
TARGET = ROOT / "plugin" / "help" / "pictures"
SAMPLE = ROOT / "sample_project" / "data" / "tern_ness.gpkg"
SHIFTED = "tern_ness_shifted.gpkg"
STEPS = 0.05, 0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 50, 100  # metres of a scale bar
SIZE, GAP, HEAD = 460, 20, 30  # pixels of a panel, between two of them, and of their titles
INK, EDGE, SOFT, RED, TEAL, GOLD = "#22303a", "#1d3557", "#9aa6b2", "#c8553d", "#2b7f8c", "#8a6d00"


@dataclass(frozen=True)
class Layer:
    """A layer as it is drawn: its table, colour, width or radius in pixels, dashes, and the rows.

    `mark` is the shape of points: o, x or a diamond (d).
    """

    file: str
    name: str
    colour: str
    width: float = 2.0
    dash: str = ""
    mark: str = "o"
    where: str = ""


@dataclass(frozen=True)
class Sentences:
    """The first lines of the receiver's log, in place of a layer."""

    count: int = 28
    letters: int = 64


@dataclass(frozen=True)
class Picture:
    """Two panels of one place: centre and width in metres; what colours and shapes mean."""

    east: float
    north: float
    width: float
    before: tuple
    after: tuple
    legend: str = ""


EPOCHS = Layer("", "captures_plumb", INK, 3.2)
EDGES = Layer("edges", "edges", EDGE, 2.6)
BASEMAP = Layer("", "basemap", SOFT, 2.0)
RETURN = 500171.0, 6200124.0, 26.0
MOVED = 500130.0, 6200155.0, 110.0
PICTURES = {
    "readnmealog": Picture(
        500330.0,
        6200140.0,
        110.0,
        (Sentences(),),
        (Layer("log", "epochs", INK, 3.2),),
        "left: sentences of the log, right: dots are epochs",
    ),
    "estimateshift": Picture(
        500171.0,
        6200124.0,
        8.0,
        (EDGES, Layer("", "basemap", RED, 2.6, "8 4")),
        (EDGES, Layer("shifted", "shifted", RED, 2.6, "8 4")),
        "full: edges, dashed: existing lines, moved on the right",
    ),
    "reconstructedges": Picture(
        *RETURN,
        (EPOCHS,),
        (EDGES, Layer("edges", "rejected", RED, 4.0, mark="x")),
        "crosses: rejected epochs",
    ),
    "screenepochs": Picture(
        *RETURN,
        (EPOCHS,),
        (
            Layer("edges", "kept", TEAL, 3.2),
            Layer("edges", "rejected", RED, 4.0, mark="x"),
        ),
        "dots: kept, crosses: rejected",
    ),
    "fitalignments": Picture(
        *MOVED,
        (EDGES,),
        (
            Layer("edges", "elements", EDGE, 3.0, where="element = 'tangent'"),
            Layer("edges", "elements", GOLD, 3.0, "7 3", where="element = 'arc'"),
            Layer("edges", "elements", RED, 5.0, where="element = 'corner'"),
        ),
        "full: tangents, dashed: arcs",
    ),
    "joinedges": Picture(
        *MOVED,
        (EDGES,),
        (
            Layer("linework", "joined", EDGE, 2.6),
            Layer("linework", "changes", RED, 4.0, mark="d"),
        ),
        "diamonds: ends that were joined or left open",
    ),
    "offsetedges": Picture(
        *RETURN,
        (EDGES,),
        (
            Layer("linework", "parallels", TEAL, 1.6),
            EDGES,
        ),
        "thin: parallels",
    ),
    "compareedges": Picture(
        *MOVED,
        (BASEMAP, EDGES),
        (
            Layer("comparison", "basemap_status", SOFT, 2.0),
            Layer("comparison", "edges_compared", TEAL, 2.0, where="status = 'agrees'"),
            Layer("comparison", "edges_compared", GOLD, 2.6, "8 3", where="status = 'partly'"),
            Layer("comparison", "edges_compared", EDGE, 4.0, "3 3", where="status = 'only_new'"),
            Layer("comparison", "edges_compared", RED, 4.0, where="status = 'displaced'"),
        ),
        "heavy red: displaced, short dashes: new, thin teal: agrees",
    ),
    "updatebasemap": Picture(
        *MOVED,
        (BASEMAP, Layer("edges", "edges", TEAL, 1.4, "4 3")),
        (
            Layer("basemap", "basemap", INK, 2.0),
            Layer("basemap", "basemap", RED, 3.2, where="\"update\" in ('partly', 'replaced')"),
            Layer("basemap", "basemap", EDGE, 3.6, "3 3", where="\"update\" = 'added'"),
        ),
        "heavy red: redrawn, short dashes: added",
    ),
    "revisits": Picture(
        500230.0,
        6200110.0,
        420.0,
        (EDGES, Layer("edges", "gaps", RED, 1.6, "4 3", where="reason <> 'new_capture'")),
        (
            Layer("edges", "edges", SOFT, 1.6),
            Layer("revisits", "revisits", RED, 5.0, mark="d"),
        ),
        "dashed: gaps, diamonds: places to revisit",
    ),
    "averageoccupations": Picture(
        500102.12,
        6200051.88,
        0.45,
        (Layer("", "spot_points", INK, 5.0),),
        (
            Layer("merged", "spot_points", TEAL, 8.0, mark="d"),
            Layer("merged", "epochs_left_out", RED, 6.0, mark="x"),
        ),
        "diamonds: points of two occupations, crosses: epochs left out",
    ),
    "mergepasses": Picture(
        500264.75,
        6200196.55,
        0.5,
        (EDGES,),
        (Layer("merged", "merged", TEAL, 3.2),),
        "two walks, a centimetre or two apart, become one edge",
    ),
    "curbheight": Picture(
        500168.93,
        6200124.2,
        1.5,
        (EDGES, Layer("linework", "parallels", TEAL, 1.6, where="line = 'flow line'")),
        (
            Layer("linework", "curb_heights", EDGE, 2.6),
            Layer("linework", "height_stations", GOLD, 3.0, mark="d"),
        ),
        "diamonds: stations with a height",
    ),
    "checkaccuracy": Picture(
        500125.0,
        6200085.0,
        110.0,
        (Layer("edges", "edges", SOFT, 1.6), Layer("", "check_points", INK, 5.0)),
        (
            Layer("edges", "edges", SOFT, 1.6),
            Layer("comparison", "check_points", TEAL, 4.0, mark="d", where="state = 'used'"),
            Layer("comparison", "check_points", RED, 4.0, mark="x", where="state <> 'used'"),
        ),
        "diamonds: used, crosses: set aside",
    ),
    "processcaptures": Picture(
        500230.0,
        6200110.0,
        420.0,
        (EPOCHS, Layer("", "captures_aimed", INK, 2.2)),
        (BASEMAP, EDGES),
        "grey: existing lines",
    ),
}


def shapes_of(layer, folder):
    """Parts of the geometries of a layer, as lists of x and y; points are parts of one vertex."""
    path = folder / f"tern_ness_{layer.file}.gpkg" if layer.file else SAMPLE
    source = ogr.Open(str(path))
    table = source.GetLayerByName(layer.name) if source is not None else None
    if table is None:
        raise SystemExit(f"{path} has no layer “{layer.name}”: run sample_project/run.sh first.")
    table.SetAttributeFilter(layer.where or None)
    found, way = [], way_of(table)
    for feature in table:
        geometry = feature.GetGeometryRef()
        if geometry is not None:
            if way is not None:
                geometry.Transform(way)
            found += parts_of(geometry.GetLinearGeometry(1.0))
    return found


def way_of(table):
    """The transformation of a layer into the CRS of the pictures; None where it has that CRS."""
    wanted = osr.SpatialReference()
    wanted.ImportFromEPSG(CRS)
    own = table.GetSpatialRef()
    if own.IsSame(wanted):
        return None
    for one in (own, wanted):
        one.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
    return osr.CoordinateTransformation(own, wanted)


def parts_of(geometry):
    """Vertices of each part of a geometry."""
    count = geometry.GetGeometryCount()
    if count:
        return [part for place in range(count) for part in parts_of(geometry.GetGeometryRef(place))]
    points = geometry.GetPoints() or []
    return [[(point[0], point[1]) for point in points]] if points else []


def beyond(part, picture):
    """True where a part lies beside the window as a whole."""
    reach = picture.width / 2
    return any(
        max(values) < middle - reach or min(values) > middle + reach
        for values, middle in zip(zip(*part), (picture.east, picture.north))
    )


def panel(picture, layers, folder, left, title):
    """One panel as markup."""
    unit = SIZE / picture.width
    west, north = picture.east - picture.width / 2, picture.north + picture.width / 2

    def place(x, y):
        return f"{left + (x - west) * unit:.1f} {HEAD + (north - y) * unit:.1f}"

    square = f'<rect x="{left}" y="{HEAD}" width="{SIZE}" height="{SIZE}"'
    drawn = [
        f'<clipPath id="c{left}">{square}/></clipPath>',
        f'<text x="{left}" y="20" font-size="16" fill="{INK}">{title}</text>',
        f'<g clip-path="url(#c{left})" fill="none">',
    ]
    for layer in layers:
        if isinstance(layer, Sentences):
            drawn += sentences(layer, left)
            continue
        path = []
        for part in shapes_of(layer, folder):
            if beyond(part, picture):
                continue
            if len(part) == 1:
                path.append(mark(layer, place(*part[0])))
            else:
                path.append("M" + "L".join(place(x, y) for x, y in part))
        dash = f' stroke-dasharray="{layer.dash}"' if layer.dash else ""
        width = layer.width if layer.mark == "o" else 2.0
        drawn.append(
            f'<path d="{"".join(path)}" stroke="{layer.colour}" stroke-width="{width}"{dash}'
            ' stroke-linecap="round" stroke-linejoin="round"/>'
        )
    drawn.append(f'</g>{square} fill="none" stroke="{SOFT}"/>')
    return drawn


def sentences(layer, left):
    """The first lines of the log as markup; long ones are cut."""
    lines = LOG.read_text(encoding="latin-1").splitlines()[: layer.count]
    step = SIZE / (layer.count + 1)
    return [
        f'<text x="{left + 8}" y="{HEAD + step * place:.1f}" font-size="11" fill="{INK}"'
        f' font-family="monospace">{html.escape(line[: layer.letters])}</text>'
        for place, line in enumerate(lines, start=1)
    ]


def mark(layer, at):
    """A point as a piece of a path: a dot, a cross or a diamond."""
    size = layer.width
    if layer.mark == "x":
        return f"M{at}m{-size} {-size}l{2 * size} {2 * size}m0 {-2 * size}l{-2 * size} {2 * size}"
    if layer.mark == "d":
        return f"M{at}m0 {-size}l{size} {size}l{-size} {size}l{-size} {-size}z"
    return f"M{at}h0.01"


def scale_bar(picture):
    """A bar of a round length under the first panel."""
    unit = SIZE / picture.width
    length = max(step for step in STEPS if step * unit <= SIZE / 3)
    y = HEAD + SIZE + 14
    return (
        f'<path d="M0 {y - 5}V{y}H{length * unit:.1f}V{y - 5}" fill="none" stroke="{INK}"/>'
        f'<text x="{length * unit + 8:.1f}" y="{y + 2}" font-size="13" fill="{INK}">'
        f"{length:g} m</text>"
    )


def svg_of(picture, folder):
    """The whole picture."""
    width, height = 2 * SIZE + GAP, HEAD + SIZE + 24
    drawn = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="-2 0 {width + 4} {height}"'
        ' font-family="sans-serif">'
    ]
    drawn += panel(picture, picture.before, folder, 0, "before")
    drawn += panel(picture, picture.after, folder, SIZE + GAP, "after")
    words = (
        f'<text x="{width}" y="{HEAD + SIZE + 16}" font-size="13" text-anchor="end"'
        f' fill="{INK}">{picture.legend}</text>'
    )
    made_from = f"<!-- made from {origin(picture)} -->"
    return "\n".join([*drawn, scale_bar(picture), words, made_from, "</svg>", ""])


def origin(picture):
    """A checksum of what a picture shows: where, which layers, and of which data. A test compares
    it, and so tells when a picture is stale."""
    total = hashlib.sha256(repr(picture).encode())
    for path in (SAMPLE, LOG):
        total.update(path.read_bytes())
    return total.hexdigest()[:16]


def moving(folder):
    """What the sample project does not run: the basemap is moved onto the edges. The algorithm and
    its parameters."""
    return "curbwright:estimateshift", {
        "INPUT": f"{SAMPLE}|layername=basemap",
        "EXISTING": f"{folder / 'tern_ness_edges.gpkg'}|layername=edges",
        "OUTPUT": f'ogr:dbname="{folder / SHIFTED}" table="shifted" (geom)',
    }


def shift(folder):
    """Run that, where it was not run yet."""
    if (folder / SHIFTED).exists():
        return
    algorithm, parameters = moving(folder)
    with tempfile.TemporaryDirectory() as profile:
        host = Host(profile, ROOT)
        host.enable()
        host.run(algorithm, **parameters)


def main():
    """Draw all pictures."""
    if len(sys.argv) != 2:
        raise SystemExit(__doc__)
    ogr.UseExceptions()
    shift(Path(sys.argv[1]).resolve())
    TARGET.mkdir(exist_ok=True)
    for name, picture in PICTURES.items():
        (TARGET / f"{name}.svg").write_text(svg_of(picture, Path(sys.argv[1])), encoding="utf-8")


if __name__ == "__main__":
    main()
