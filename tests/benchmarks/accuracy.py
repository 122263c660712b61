"""How near the edges come to the truth, on simulated walks; one row per kind of shape and one over all.

    .venv/bin/python tests/benchmarks/accuracy.py                        the trial set of 80 captures
    .venv/bin/python tests/benchmarks/accuracy.py --seeds 1 2 3 4 5      several trial sets taken together
    .venv/bin/python tests/benchmarks/accuracy.py --port                 the captures of the sample project
    .venv/bin/python tests/benchmarks/accuracy.py --fitpack              beside FITPACK's splprep, told the true corners

Every figure is taken from the lines as written, sampled every 0.1 m, against the true edge of the same capture. What was
"seen" is the stretch of true edge between good fixed epochs that no gap over both limits (3.5 s and 4.5 m) separates.
"""
import argparse
import importlib.util
import sys
import time
from dataclasses import dataclass, field, fields
from pathlib import Path

import numpy as np
import shapely

ROOT = Path(__file__).resolve().parents[2]
if "curbwright" not in sys.modules:  # the clone as a package, whatever its folder is called
    _spec = importlib.util.spec_from_file_location(
        "curbwright", ROOT / "__init__.py", submodule_search_locations=[str(ROOT)])
    sys.modules["curbwright"] = importlib.util.module_from_spec(_spec)
    _spec.loader.exec_module(sys.modules["curbwright"])

from curbwright.sample_project import port  # noqa: E402
from curbwright.sample_project.simulation import SHAPES, seen_corners, seen_intervals, trial_set  # noqa: E402
from curbwright.shared.epochs import EpochTable  # noqa: E402
from curbwright.shared.fixes import is_fixed  # noqa: E402
from curbwright.shared.reconstruction import Settings, reconstruct  # noqa: E402

STEP = 0.1  # m between samples along edges and truth
FAR = 0.10  # m, farther is an excursion
COVERED = 0.15  # m, truth that has an edge within this distance is covered
CORNER = 0.06  # m
GAP_MARGIN = 0.3  # m, how far an edge may reach into a gap
FINE = 1e-4  # m, sagitta of the line that stands for the truth
OVERRUN = 1.0  # m added to both ends of open truth, so that only what lies across counts
BAND = 1.96  # sigmas that hold 95 % of a normal error


@dataclass(frozen=True)
class Score:
    """One capture against its truth.

    Distances in metres. `raw` and `raw_spiky`, shape (n,): fixed epochs from the true edge, without and with the slips
    of the aim. `edge`, `weight`, `edge_up`, `chainage`, `sigma`, `sigma_up`, shape (k,): samples of the edges, their
    share of length, error in height, true chainage, and the uncertainty of the edge that they belong to. `farthest`:
    greatest distance of any vertex or sample. `corner_line`, `corner_vertex`, shape (c,): corners that were seen, from
    the nearest edge and from its nearest vertex. `needed`: vertices of the seen truth after Douglas-Peucker in plan;
    `needed_up`: the same with the knots of its height profile.
    """

    kind: str
    capture: str
    raw: np.ndarray
    raw_spiky: np.ndarray
    raw_up: np.ndarray
    edge: np.ndarray
    weight: np.ndarray
    edge_up: np.ndarray
    chainage: np.ndarray
    sigma: np.ndarray
    sigma_up: np.ndarray
    farthest: float
    corner_line: np.ndarray
    corner_vertex: np.ndarray
    seen: float
    covered: float
    across_gaps: float
    vertices: int
    needed: int
    needed_up: int
    edges: int
    epochs: int


@dataclass(frozen=True)
class Summary:
    """Scores of many captures taken together; `name` is the kind of shape. Metres, shares from 0 to 1."""

    name: str
    captures: int
    epochs: int
    edges: int
    raw_rmse: float
    raw_spiky_rmse: float
    edge_rmse: float
    ratio: float
    far_share: float
    farthest: float
    corners: int
    corner_line_share: float
    corner_vertex_share: float
    corner_p95: float
    coverage: float
    across_gaps: float
    vertex_ratio: float
    vertex_ratio_up: float
    raw_up_rmse: float
    edge_up_rmse: float
    band: float
    band_up: float


@dataclass(frozen=True)
class Report:
    """`summaries` by kind of shape, the last one ("all") over everything; `seconds` spent in `reconstruct`."""

    scores: list = field(repr=False)
    summaries: dict
    seconds: float
    rows: int
    kept: int

    @property
    def overall(self):
        """Summary over all shapes."""
        return self.summaries["all"]


def rmse(values, weight=None):
    """Root of the (weighted) mean square; NaN of nothing."""
    return float(np.sqrt(np.average(np.square(values), weights=weight))) if len(values) else float("nan")


def epoch_table(walks):
    """Rows of all walks as one `EpochTable`; capture codes follow the order of the names."""
    columns = {name: np.concatenate([getattr(walk, name) for walk in walks])
               for name in ("x", "y", "z", "seconds", "h_acc", "v_acc", "fix")}
    names, code = np.unique(np.concatenate([np.full(len(walk), walk.capture) for walk in walks]), return_inverse=True)
    assert len(names) == len(walks), "two walks have one capture name"
    return EpochTable.from_columns(
        columns["x"], columns["y"], columns["z"], columns["seconds"] - np.nanmin(columns["seconds"]), code,
        is_fixed(columns["fix"]), columns["h_acc"], columns["v_acc"])


def sample(xyz, step=STEP):
    """Middles of equal parts of a line, each at most `step` long: points (k, 3) and the length of one part."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xyz[:, :2], axis=0).T))])
    number = max(1, int(np.ceil(along[-1] / step)))
    at = (np.arange(number) + 0.5) * along[-1] / number
    return np.column_stack([np.interp(at, along, axis) for axis in xyz.T]), along[-1] / number


class TrueLine:
    """The true edge as a fine line that answers distances and chainages of points."""

    def __init__(self, truth):
        between = None if truth.closed else (-OVERRUN, truth.length + OVERRUN)
        points, self.chainage = truth.polyline(FINE, between)
        self.line = shapely.linestrings(points[:, :2])
        shapely.prepare(self.line)
        self.along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points[:, :2], axis=0).T))])

    def distance(self, xy):
        """Distances, shape (n,)."""
        return shapely.distance(self.line, shapely.points(xy[:, :2]))

    def locate(self, xy):
        """Chainage of the nearest point of the line, shape (n,)."""
        return np.interp(shapely.line_locate_point(self.line, shapely.points(xy[:, :2])), self.along, self.chainage)


def _inside(chainage, intervals, truth, margin=0.0):
    """True where a chainage lies in any interval; laps of closed shapes count as one."""
    laps = np.arange(-2, 3) * truth.length if truth.closed else np.zeros(1)
    s = chainage[:, None, None] + laps[:, None]
    return ((s >= intervals[:, 0] - margin) & (s <= intervals[:, 1] + margin)).any(axis=(1, 2))


def _in_gap(chainage, intervals, truth):
    """True where a chainage lies between two intervals, and farther than `GAP_MARGIN` from both."""
    gaps = np.column_stack([intervals[:-1, 1], intervals[1:, 0]])
    return _inside(chainage, gaps, truth, -GAP_MARGIN) & ~_inside(chainage, intervals, truth)


def _multiline(lines):
    return shapely.multilinestrings([shapely.linestrings(line[:, :2]) for line in lines]) if lines else shapely.MultiLineString()


def _needed(truth, intervals, tolerance):
    """Vertices that the seen truth needs: in plan (Douglas-Peucker), and with the knots of the heights."""
    plan, up = 0, 0
    for first, last in intervals[np.ptp(intervals, axis=1) > 0.5]:
        points, _ = truth.polyline(FINE, (first, last))
        line = shapely.simplify(shapely.linestrings(points[:, :2]), tolerance, preserve_topology=False)
        plan += shapely.get_num_coordinates(line)
        up += int(((truth.drops[:, 0] > first) & (truth.drops[:, 0] < last)).sum())
    return int(plan), int(plan) + up


def score(walk, lines, sigma_cross, sigma_up, tolerance):
    """Compare the edges of one capture with its truth.

    Parameters
    ----------
    walk : Walk
    lines : list of numpy.ndarray, shape (v, 3)
        Edges as written.
    sigma_cross, sigma_up : numpy.ndarray, shape (len(lines),)
    tolerance : float
        Thinning tolerance that the lines were written with, metres.
    """
    truth, true_line = walk.truth, TrueLine(walk.truth)
    intervals = np.sort(seen_intervals(walk), axis=1)
    intervals = intervals[np.argsort(intervals[:, 0])]
    good = walk.is_good
    recorded = np.column_stack([walk.x, walk.y])
    spiky = good | (walk.is_spike & ~walk.is_repeat & np.isfinite(walk.x) & np.isfinite(walk.seconds))
    level = good & ~walk.is_height_spike

    parts = [sample(line) for line in lines]
    points = np.concatenate([part for part, _ in parts] or [np.empty((0, 3))])
    count = np.array([len(part) for part, _ in parts], int)
    weight = np.repeat(np.array([length for _, length in parts], float), count)
    distance, chainage = true_line.distance(points), true_line.locate(points)
    vertices = np.concatenate(list(lines) or [np.empty((0, 3))])
    edges = _multiline(lines)
    nodes = shapely.multipoints(vertices[:, :2])

    corners = shapely.points(truth.corners[seen_corners(walk), :2].reshape(-1, 2))
    truth_s = np.arange(STEP / 2, truth.length, STEP)
    truth_s = truth_s[_inside(truth_s, intervals, truth)]
    near = shapely.distance(edges, shapely.points(truth.at(truth_s)[:, :2])) <= COVERED
    plan, up = _needed(truth, intervals, tolerance)
    return Score(
        walk.kind, walk.capture, true_line.distance(recorded[good]), true_line.distance(recorded[spiky]),
        (walk.z - walk.true_z)[level], distance, weight, points[:, 2] - truth.at(chainage)[:, 2], chainage,
        np.repeat(sigma_cross, count), np.repeat(sigma_up, count),
        float(max(distance.max(initial=0.0), true_line.distance(vertices).max(initial=0.0))),
        np.nan_to_num(shapely.distance(edges, corners), nan=np.inf),
        np.nan_to_num(shapely.distance(nodes, corners), nan=np.inf),
        STEP * len(truth_s), STEP * float(near.sum()),
        float(weight[_in_gap(chainage, intervals, truth)].sum()), len(vertices), plan, up, len(lines), len(walk))


def summarise(name, scores):
    """One `Summary` over a list of `Score`."""
    def join(attribute):
        return np.concatenate([getattr(one, attribute) for one in scores])

    def total(attribute):
        return sum(getattr(one, attribute) for one in scores)

    edge, weight, corner = join("edge"), join("weight"), join("corner_line")
    raw, length = rmse(join("raw")), max(weight.sum(), 1e-9)
    up, sigma_up = join("edge_up"), join("sigma_up")
    none = float("nan")
    return Summary(
        name, len(scores), total("epochs"), total("edges"), raw, rmse(join("raw_spiky")), rmse(edge, weight),
        rmse(edge, weight) / raw, float(weight[edge > FAR].sum() / length), max(one.farthest for one in scores),
        len(corner), float((corner <= CORNER).mean()) if len(corner) else none,
        float((join("corner_vertex") <= CORNER).mean()) if len(corner) else none,
        float(np.quantile(corner, 0.95, method="higher")) if len(corner) else none,
        total("covered") / max(total("seen"), 1e-9), total("across_gaps"), total("vertices") / max(total("needed"), 1),
        total("vertices") / max(total("needed_up"), 1), rmse(join("raw_up")), rmse(up, weight),
        float(weight[edge <= BAND * join("sigma")].sum() / length),
        float(weight[np.abs(up) <= BAND * sigma_up].sum() / length))


def port_walks():
    """The captures of the sample project, in ground metres."""
    return [capture.walk for capture in port.captures()]


def edge_lines(edges, capture):
    """Edges of one capture as a list of arrays of shape (v, 3), and their indices."""
    index = np.flatnonzero(edges.capture == capture)
    xyz = np.column_stack([edges.x, edges.y, edges.z])
    return [xyz[edges.offsets[i]:edges.offsets[i + 1]] for i in index], index


def measure(walks, settings=None):
    """Reconstruct the walks in one go and score every capture.

    Returns
    -------
    Report
    """
    settings = settings or Settings()
    table = epoch_table(walks)
    began = time.perf_counter()
    result = reconstruct(table, settings)
    seconds = time.perf_counter() - began
    scores = []
    for code, walk in enumerate(sorted(walks, key=lambda walk: walk.capture)):
        lines, index = edge_lines(result.edges, code)
        scores.append(score(walk, lines, result.edges.sigma_cross[index], result.edges.sigma_up[index], settings.tolerance))
    return report(scores, seconds, len(table), int((result.reason == 0).sum()))


def report(scores, seconds, rows, kept):
    """Sort scores by kind of shape and sum them up."""
    kinds = [kind for kind in SHAPES if any(one.kind == kind for one in scores)]
    summaries = {kind: summarise(kind, [one for one in scores if one.kind == kind]) for kind in kinds}
    summaries["all"] = summarise("all", scores)
    return Report(scores, summaries, seconds, rows, kept)


def fitpack_rmse(walks, result, share):
    """Distance from the truth of FITPACK's `splprep` on the same kept epochs, cut at the true corners.

    Parameters
    ----------
    share : float
        Smoothing s in units of m (sigma_x^2 + sigma_y^2), m points, sigma the white noise of the walks.

    Returns
    -------
    dict of str to (numpy.ndarray, numpy.ndarray)
        Distances and lengths of the samples, by kind of shape.
    """
    from scipy.interpolate import splev, splprep

    from curbwright.sample_project.simulation import WHITE_SIGMA

    row, samples = 0, {}
    for walk in sorted(walks, key=lambda walk: walk.capture):
        own = slice(row, row + len(walk))
        row += len(walk)
        edge, standing = result.edge[own], result.role[own] == 2
        piece = np.searchsorted(walk.truth.corner_chainage, walk.true_chainage)
        true_line = TrueLine(walk.truth)
        for key in np.unique(np.column_stack([edge, piece])[edge >= 0], axis=0):
            rows = np.flatnonzero((edge == key[0]) & (piece == key[1]))
            rows = rows[np.argsort(walk.seconds[rows], kind="stable")]
            still = standing[rows]
            new = np.r_[True, ~(still[1:] & still[:-1])] if len(rows) else np.zeros(0, bool)
            number = np.bincount(np.cumsum(new) - 1)
            xy = np.column_stack([np.bincount(np.cumsum(new) - 1, axis[rows]) for axis in (walk.x, walk.y)]) / number[:, None]
            if len(xy) < 2:
                continue
            if len(xy) > 3:
                spline, _ = splprep(xy.T, w=np.sqrt(number), s=share * len(xy) * 2 * WHITE_SIGMA**2)
                xy = np.column_stack(splev(np.linspace(0, 1, 20 * len(xy)), spline))
            points, length = sample(xy)
            distances, weights = samples.setdefault(walk.kind, ([], []))
            distances.append(true_line.distance(points))
            weights.append(np.full(len(points), length))
    return {kind: (np.concatenate(a), np.concatenate(b)) for kind, (a, b) in samples.items()}


def fitpack_column(walks, settings=None):
    """RMSE of FITPACK by kind and over all ("all"), with the smoothing share that suits it best, in metres; the share."""
    table = epoch_table(walks)
    result = reconstruct(table, settings or Settings())
    best = None
    for share in (0.4, 0.6, 0.8, 1.0, 1.2):
        samples = fitpack_rmse(walks, result, share)
        column = {kind: rmse(*values) for kind, values in samples.items()}
        column["all"] = rmse(*(np.concatenate([values[i] for values in samples.values()]) for i in (0, 1)))
        if best is None or column["all"] < best[0]["all"]:
            best = column, share
    return best


COLUMNS = (
    ("shape", "name", "{}"), ("caps", "captures", "{}"), ("epochs", "epochs", "{}"), ("edges", "edges", "{}"),
    ("raw mm", "raw_rmse", "mm"), ("+slips", "raw_spiky_rmse", "mm"), ("edge mm", "edge_rmse", "mm"), ("ratio", "ratio", "{:.2f}"),
    (">0.1m %", "far_share", "%"), ("max m", "farthest", "{:.3f}"), ("corners", "corners", "{}"),
    ("line %", "corner_line_share", "%"), ("vertex %", "corner_vertex_share", "%"), ("p95 mm", "corner_p95", "mm"),
    ("cover %", "coverage", "%"), ("gap m", "across_gaps", "{:.2f}"), ("vert", "vertex_ratio", "{:.2f}"),
    ("vert z", "vertex_ratio_up", "{:.2f}"), ("raw z", "raw_up_rmse", "mm"), ("edge z", "edge_up_rmse", "mm"),
    ("band %", "band", "%"), ("z band", "band_up", "%"),
)


def format_table(summaries, fitpack=None):
    """The summaries as text, one row each."""
    def cell(value, form):
        if isinstance(value, float) and np.isnan(value):
            return "-"
        return {"mm": "{:.1f}", "%": "{:.2f}"}.get(form, form).format(value * {"mm": 1e3, "%": 1e2}[form] if form in ("mm", "%") else value)

    head = [title for title, _, _ in COLUMNS] + (["fitpack"] if fitpack else [])
    rows = [[cell(getattr(one, name), form) for _, name, form in COLUMNS] for one in summaries.values()]
    if fitpack:
        for row, key in zip(rows, summaries):
            row.append(cell(fitpack.get(key, float("nan")), "mm"))
    width = [max(map(len, column)) for column in zip(head, *rows)]
    return "\n".join("  ".join(text.rjust(size) for text, size in zip(row, width)) for row in [head, *rows])


def main(arguments=None):
    """Print the table."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--seeds", type=int, nargs="+", default=[20250506])
    parser.add_argument("--captures", type=int, default=80, help="captures in each trial set (default 80)")
    parser.add_argument("--port", action="store_true", help="the captures of the sample project in place of trial sets")
    parser.add_argument("--fitpack", action="store_true", help="also FITPACK's splprep on the same epochs")
    parser.add_argument("--worst", type=int, default=0, metavar="N", help="also list the N captures with the greatest distances")
    for item in fields(Settings):
        parser.add_argument(f"--{item.name.replace('_', '-')}", type=float, default=item.default)
    options = parser.parse_args(arguments)
    settings = Settings(**{item.name: getattr(options, item.name) for item in fields(Settings)})
    scores, seconds, rows, kept, columns, labels = [], 0.0, 0, 0, [], []
    for seed in [port.SEED] if options.port else options.seeds:
        walks = port_walks() if options.port else trial_set(seed, options.captures)
        labels += [f"seed {seed}"] * len(walks)
        one = measure(walks, settings)
        scores, seconds, rows, kept = scores + one.scores, seconds + one.seconds, rows + one.rows, kept + one.kept
        if options.fitpack:
            columns.append(fitpack_column(walks, settings)[0])
    total = report(scores, seconds, rows, kept)
    fitpack = {key: rmse([column[key] for column in columns if key in column]) for key in total.summaries} if columns else None
    print(format_table(total.summaries, fitpack))
    print(f"{rows} rows, {kept} kept; reconstruct {seconds:.2f} s")
    for place in np.argsort([-one.farthest for one in scores])[:options.worst]:
        one = scores[place]
        print(f"  {labels[place]} {one.capture} {one.kind}: {one.farthest:.3f} m at chainage "
              f"{one.chainage[one.edge.argmax()] if len(one.edge) else float('nan'):.1f}, across gaps {one.across_gaps:.2f} m, "
              f"{one.covered:.1f} of {one.seen:.1f} m covered, {one.vertices} vertices for {one.needed}")


if __name__ == "__main__":
    main()
