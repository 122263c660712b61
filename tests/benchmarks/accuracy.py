"""How near the edges come to the truth, on simulated walks; one column per kind of shape and one
over all.

    .venv/bin/python tests/benchmarks/accuracy.py    the trial set of 80 captures
        --seeds 1 2 3 4 5      several trial sets taken together; --each: each alone as well
        --seeds 1 2 --limits   ends with an error where a limit is not kept
        --port                 the captures of the sample project
        --fitpack --host       compared with FITPACK's splprep and QGIS's own smoothing
        --calibration a.png    a plot of how often the uncertainty holds the truth
        --set SCREENING.spike_sigmas=5   another value of a number of shared/tuning.py; repeatable
        --edges FILE --rates 1 4   walks along the lines of a file; see real_walks.py

Every figure is taken from the lines as written, sampled every 0.1 m, against the true edge of the
same capture. What was "seen" is the stretch of true edge between good fixed epochs that no gap over
both limits (3.5 s and 4.5 m) separates.

Elements are those of the fit of tangents and arcs to the kept epochs, as "Fit tangents and arcs"
makes it. The elements of an edge count as right where they are as many tangents and arcs, in the
same order, as those of the true edge from the first to the last position. True elements at either
end that hold fewer than 3 positions, and others that hold none, may be there or not. On a closed
edge the elements of a whole lap are compared, from whichever one they start. An arc counts as seen
where it and both elements beside it hold 3 positions or more; its radius is that of the fitted arc,
turning to the same side, that holds most of its positions, half of them at least.

FITPACK is told the true corners and which epochs are good, and its smoothing is the one that suits
it best. QGIS's chain is what one would do without this plugin: points to path by capture in the
order of time, then smooth with its defaults. "host, fixed" takes all fixed epochs of a capture, as
a filter would leave them; "host, kept" the kept epochs of each edge, so that slips and gaps are
already dealt with.
"""

import argparse
import ast
import atexit
import os
import re
import sys
import tempfile
import time
from dataclasses import dataclass, field, fields, replace
from pathlib import Path

import numpy as np
import shapely

if "curbwright" not in sys.modules:  # run as a script
    from measuring import load_clone

    load_clone()

from curbwright.sample_project import port
from curbwright.sample_project.simulation import SHAPES, seen_corners, seen_intervals, trial_set
from curbwright.shared import tuning
from curbwright.shared.alignment.fit import fit_chains, ring_start
from curbwright.shared.alignment.fitted_chains import merge_splines
from curbwright.shared.alignment.samples import sample_epochs
from curbwright.shared.arrays.ragged import group_index
from curbwright.shared.epochs.fix_values import is_fixed
from curbwright.shared.epochs.table import EpochTable
from curbwright.shared.reconstruction.reconstruct import Settings, reconstruct

STEP = 0.1  # m between samples along edges and truth
FAR = 0.10  # m, farther is an excursion
COVERED = 0.15  # m, truth that has an edge within this distance is covered
CORNER = 0.04  # m
RADIUS_SHARE, RADIUS_SLACK = 0.02, 0.05  # of the radius, or m, whichever is more
SEEN = 3  # positions that an element needs to be seen
GAP_MARGIN = 0.3  # m, how far an edge may reach into a gap
FINE = 1e-4  # m, sagitta of the line that stands for the truth
OVERRUN = 1.0  # m added to both ends of open truth, so that only what lies across counts
BAND = 1.96  # sigmas that hold 95 % of a normal error


@dataclass(frozen=True)
class Elements:
    """Tangents and arcs fitted to the edges of one capture.

    `edges` of them, `right` with the elements of the truth. `radius`, `error`, `sigma`, shape (a,):
    true radius of each arc that was seen, by how much the fitted one is greater (NaN where there is
    none), and its 1-sigma; metres.
    """

    edges: int = 0
    right: int = 0
    radius: np.ndarray = field(default_factory=lambda: np.zeros(0))
    error: np.ndarray = field(default_factory=lambda: np.zeros(0))
    sigma: np.ndarray = field(default_factory=lambda: np.zeros(0))


@dataclass(frozen=True)
class Score:
    """One capture against its truth.

    Distances in metres. `raw` and `raw_spiky`, shape (n,): fixed epochs from the true edge, without
    and with the slips of the aim. `edge`, `weight`, `edge_up`, `chainage`, `sigma`, `sigma_up`,
    shape (k,): samples of the edges, their share of length, error in height, true chainage, and the
    uncertainty of the edge that they belong to. `farthest`: greatest distance of any vertex or
    sample. `corner_line`, `corner_vertex`, shape (c,): corners that were seen, from the nearest
    edge and from its nearest vertex. `needed`: vertices of the seen truth after Douglas-Peucker in
    plan; `needed_up`: the same with the knots of its height profile.
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
    elements: Elements = field(default_factory=Elements)


@dataclass(frozen=True)
class Summary:
    """Scores of many captures taken together; `name` is the kind of shape. Metres, shares from 0 to
    1."""

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
    ratio_up: float
    elements_right: float
    arcs: int
    radius_share: float
    radius_within_sigmas: float


@dataclass(frozen=True)
class Report:
    """`summaries` by kind of shape, the last one ("all") over everything; `seconds` spent in
    `reconstruct`."""

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
    return (
        float(np.sqrt(np.average(np.square(values), weights=weight)))
        if len(values)
        else float("nan")
    )


def epoch_table(walks):
    """Rows of all walks as one `EpochTable`; capture codes follow the order of the names."""
    columns = {
        name: np.concatenate([getattr(walk, name) for walk in walks])
        for name in ("x", "y", "z", "seconds", "h_acc", "v_acc", "fix")
    }
    names, code = np.unique(
        np.concatenate([np.full(len(walk), walk.capture) for walk in walks]), return_inverse=True
    )
    assert len(names) == len(walks), "two walks have one capture name"
    return EpochTable.from_columns(
        columns["x"],
        columns["y"],
        columns["z"],
        columns["seconds"] - np.nanmin(columns["seconds"]),
        code,
        is_fixed(columns["fix"]),
        columns["h_acc"],
        columns["v_acc"],
    )


def sample(xyz, step=STEP):
    """Middles of equal parts of a line, each at most `step` long: points (k, 3) and the length of
    one part."""
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
        return np.interp(
            shapely.line_locate_point(self.line, shapely.points(xy[:, :2])),
            self.along,
            self.chainage,
        )


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
    return (
        shapely.multilinestrings([shapely.linestrings(line[:, :2]) for line in lines])
        if lines
        else shapely.MultiLineString()
    )


def _true_elements(truth, xy, true_line):
    """Kinds of the true elements between the first and the last position of a run, and how many
    positions each holds.

    Returns
    -------
    element : numpy.ndarray of int, shape (p,)
        Of each position, counted in the direction of travel from the first one met.
    curvature : numpy.ndarray, shape (e,)
        + to the left in the direction of travel.
    number : numpy.ndarray of int, shape (e,)
    """
    chainage = true_line.locate(xy)
    joints, curvature = truth.joints[1:-1], truth.curvatures
    if truth.closed:
        chainage = np.unwrap(np.mod(chainage, truth.length), period=truth.length)
        if len(curvature) > 1 and curvature[0] == curvature[-1] and truth.turns[-1] == 0:
            curvature = curvature[:-1]  # the seam lies inside one element
        else:
            joints = np.append(joints, truth.length)
        lap = np.floor(chainage / truth.length)
        element = (len(joints) * lap).astype(int) + np.searchsorted(
            joints, chainage - lap * truth.length, "right"
        )
    else:
        element = np.searchsorted(joints, chainage, "right")
    forward = chainage[-1] >= chainage[0]
    met = np.arange(element.min(), element.max() + 1)
    number = np.bincount(element - met[0])
    curvature = curvature[met % len(curvature)] if truth.closed else curvature[met]
    if forward:
        return element - met[0], curvature, number
    return met[-1] - element, -curvature[::-1], number[::-1]


def _as_true(fitted, curvature, number, closed):
    """Whether fitted elements, a text of T, A and S, are the true ones."""
    kinds = ["A" if bend else "T" for bend in curvature]
    if closed:
        return len(fitted) == len(kinds) and fitted in 2 * "".join(kinds)
    enough = np.flatnonzero(number >= SEEN)
    first, last = (enough[0], enough[-1]) if enough.size else (0, len(kinds) - 1)
    before = after = ""
    for kind in kinds[:first]:
        before = f"(?:{before}{kind})?"
    for kind in reversed(kinds[last + 1 :]):
        after = f"(?:{kind}{after})?"
    between = "".join(
        kind + ("" if count else "?")
        for kind, count in zip(kinds[first : last + 1], number[first : last + 1])
    )
    return re.fullmatch(before + between + after, fitted) is not None


def element_scores(walks, table, result):
    """Fit tangents and arcs to the kept epochs of all edges and compare them with the truth.

    Returns
    -------
    list of Elements
        One for each walk, in the order of `walks`, whose captures are the table's codes.
    """
    kept = result.edge >= 0
    if not kept.any():
        return [Elements() for _ in walks]
    samples, _, _ = sample_epochs(
        table.x[kept],
        table.y[kept],
        np.full(kept.sum(), np.nan),
        result.chainage[kept],
        result.role[kept] == 2,
        result.edge[kept],
    )
    order = ring_start(samples.x, samples.y, samples.variance, samples.offsets, samples.closed)
    x, y = samples.x[order], samples.y[order]
    chains = merge_splines(
        fit_chains(x, y, samples.variance[order], samples.offsets, closed=samples.closed)
    )
    owner, kinds = (
        group_index(chains.bounds),
        np.where(chains.spline, "S", np.where(chains.turn != 0, "A", "T")),
    )
    parts = [{"edges": 0, "right": 0, "radius": [], "error": [], "sigma": []} for _ in walks]
    lines = [TrueLine(walk.truth) for walk in walks]
    for edge in range(len(samples)):
        code, own = (
            result.edges.capture[edge],
            slice(samples.offsets[edge], samples.offsets[edge + 1]),
        )
        truth, part = walks[code].truth, parts[code]
        element, curvature, number = _true_elements(
            truth, np.column_stack([x[own], y[own]]), lines[code]
        )
        closed = bool(samples.closed[edge])
        if closed and truth.closed:  # one lap, however often an end of it was met
            lap = len(truth.curvatures) - 1
            element, curvature, number = (
                element % lap,
                np.resize(curvature, lap),
                np.bincount(element % lap, minlength=lap),
            )
        first, last = chains.offsets[edge : edge + 2]
        part["edges"] += 1
        part["right"] += _as_true(
            "".join(kinds[first:last]), curvature, number, closed and truth.closed
        )
        seen = number >= SEEN
        whole = np.roll(seen, 1) & seen & np.roll(seen, -1)
        if not closed:
            whole[[0, -1]] = False
        for arc in np.flatnonzero(whole & (curvature != 0)):
            holds = np.bincount(owner[own][element == arc] - first, minlength=last - first) * (
                chains.turn[first:last] == np.sign(curvature[arc])
            )
            most = int(holds.argmax())
            found = 2 * holds[most] >= number[arc]
            radius = 1 / abs(curvature[arc])
            part["radius"].append(radius)
            part["error"].append(chains.radius[first + most] - radius if found else np.nan)
            part["sigma"].append(chains.radius_sigma[first + most] if found else np.nan)
    return [
        Elements(
            part["edges"],
            part["right"],
            *(np.array(part[name], float) for name in ("radius", "error", "sigma")),
        )
        for part in parts
    ]


def _needed(truth, intervals, tolerance):
    """Vertices that the seen truth needs: in plan (Douglas-Peucker), and with the knots of the
    heights."""
    plan, up = 0, 0
    for first, last in intervals[np.ptp(intervals, axis=1) > 0.5]:
        points, _ = truth.polyline(FINE, (first, last))
        line = shapely.simplify(
            shapely.linestrings(points[:, :2]), tolerance, preserve_topology=False
        )
        plan += shapely.get_num_coordinates(line)
        up += int(((truth.drops[:, 0] > first) & (truth.drops[:, 0] < last)).sum())
    return int(plan), int(plan) + up


def score(walk, lines, sigma_cross, sigma_up, tolerance, elements=None):
    """Compare the edges of one capture with its truth.

    Parameters
    ----------
    walk : Walk
    lines : list of numpy.ndarray, shape (v, 3)
        Edges as written.
    sigma_cross, sigma_up : numpy.ndarray, shape (len(lines),)
    tolerance : float
        Thinning tolerance that the lines were written with, metres.
    elements : Elements, optional
        Passed on.
    """
    truth, true_line = walk.truth, TrueLine(walk.truth)
    intervals = np.sort(seen_intervals(walk), axis=1)
    intervals = intervals[np.argsort(intervals[:, 0])]
    good = walk.is_good
    recorded = np.column_stack([walk.x, walk.y])
    spiky = good | (
        walk.is_spike & ~walk.is_repeat & np.isfinite(walk.x) & np.isfinite(walk.seconds)
    )
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
        walk.kind,
        walk.capture,
        true_line.distance(recorded[good]),
        true_line.distance(recorded[spiky]),
        (walk.z - walk.true_z)[level],
        distance,
        weight,
        points[:, 2] - truth.at(chainage)[:, 2],
        chainage,
        np.repeat(sigma_cross, count),
        np.repeat(sigma_up, count),
        float(max(distance.max(initial=0.0), true_line.distance(vertices).max(initial=0.0))),
        np.nan_to_num(shapely.distance(edges, corners), nan=np.inf),
        np.nan_to_num(shapely.distance(nodes, corners), nan=np.inf),
        STEP * len(truth_s),
        STEP * float(near.sum()),
        float(weight[_in_gap(chainage, intervals, truth)].sum()),
        len(vertices),
        plan,
        up,
        len(lines),
        len(walk),
        elements or Elements(),
    )


def summarise(name, scores):
    """One `Summary` over a list of `Score`."""

    def join(attribute):
        return np.concatenate([getattr(one, attribute) for one in scores])

    def total(attribute):
        return sum(getattr(one, attribute) for one in scores)

    edge, weight, corner = join("edge"), join("weight"), join("corner_line")
    raw, length = rmse(join("raw")), max(weight.sum(), 1e-9)
    up, sigma_up, raw_up = join("edge_up"), join("sigma_up"), rmse(join("raw_up"))
    up_rmse = rmse(up, weight)
    fits = [one.elements for one in scores]
    fitted = sum(one.edges for one in fits)
    radius, error, sigma = (
        np.concatenate([getattr(one, name) for one in fits])
        for name in ("radius", "error", "sigma")
    )
    found = np.isfinite(error)
    none = float("nan")
    return Summary(
        name,
        len(scores),
        total("epochs"),
        total("edges"),
        raw,
        rmse(join("raw_spiky")),
        rmse(edge, weight),
        rmse(edge, weight) / raw,
        float(weight[edge > FAR].sum() / length),
        max(one.farthest for one in scores),
        len(corner),
        float((corner <= CORNER).mean()) if len(corner) else none,
        float((join("corner_vertex") <= CORNER).mean()) if len(corner) else none,
        float(np.quantile(corner, 0.95, method="higher")) if len(corner) else none,
        total("covered") / max(total("seen"), 1e-9),
        total("across_gaps"),
        total("vertices") / max(total("needed"), 1),
        total("vertices") / max(total("needed_up"), 1),
        raw_up,
        up_rmse,
        float(weight[edge <= BAND * join("sigma")].sum() / length),
        float(weight[np.abs(up) <= BAND * sigma_up].sum() / length),
        up_rmse / raw_up,
        sum(one.right for one in fits) / fitted if fitted else none,
        len(radius),
        (
            float((np.abs(error) <= np.maximum(RADIUS_SHARE * radius, RADIUS_SLACK)).mean())
            if len(radius)
            else none
        ),
        float((np.abs(error) <= 2 * sigma)[found].mean()) if found.any() else none,
    )


def port_walks():
    """The captures of the sample project, in ground metres."""
    return [capture.walk for capture in port.captures()]


def edge_lines(edges, capture):
    """Edges of one capture as a list of arrays of shape (v, 3), and their indices."""
    index = np.flatnonzero(edges.capture == capture)
    xyz = np.column_stack([edges.x, edges.y, edges.z])
    return [xyz[edges.offsets[i] : edges.offsets[i + 1]] for i in index], index


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
    walks = sorted(walks, key=lambda walk: walk.capture)
    for code, (walk, elements) in enumerate(zip(walks, element_scores(walks, table, result))):
        lines, index = edge_lines(result.edges, code)
        scores.append(
            score(
                walk,
                lines,
                result.edges.sigma_cross[index],
                result.edges.sigma_up[index],
                settings.tolerance,
                elements,
            )
        )
    return report(scores, seconds, len(table), int((result.reason == 0).sum()))


def report(scores, seconds, rows, kept):
    """Sort scores by kind of shape and sum them up."""
    kinds = [kind for kind in SHAPES if any(one.kind == kind for one in scores)]
    summaries = {
        kind: summarise(kind, [one for one in scores if one.kind == kind]) for kind in kinds
    }
    summaries["all"] = summarise("all", scores)
    return Report(scores, summaries, seconds, rows, kept)


def fitpack_rmse(walks, result, share):
    """Distance from the truth of FITPACK's `splprep` on the same kept epochs, cut at the true
    corners.

    Parameters
    ----------
    share : float
        Smoothing s in units of m (sigma_x^2 + sigma_y^2), m points, sigma the white noise of the
        walks.

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
            xy = (
                np.column_stack(
                    [np.bincount(np.cumsum(new) - 1, axis[rows]) for axis in (walk.x, walk.y)]
                )
                / number[:, None]
            )
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
    """RMSE of FITPACK by kind and over all ("all"), with the smoothing share that suits it best, in
    metres; the share."""
    table = epoch_table(walks)
    result = reconstruct(table, settings or Settings())
    best = None
    for share in (0.4, 0.6, 0.8, 1.0, 1.2):
        samples = fitpack_rmse(walks, result, share)
        column = {kind: rmse(*values) for kind, values in samples.items()}
        column["all"] = rmse(
            *(np.concatenate([values[i] for values in samples.values()]) for i in (0, 1))
        )
        if best is None or column["all"] < best[0]["all"]:
            best = column, share
    return best


def start_qgis():
    """QGIS without a window and with a profile to throw away, unless it runs already; False where
    it is not installed."""
    try:
        from qgis.core import QgsApplication
    except ImportError:
        return False
    if QgsApplication.instance() is None:
        profile = tempfile.TemporaryDirectory()
        os.environ.update(
            QT_QPA_PLATFORM="offscreen",
            QGIS_CUSTOM_CONFIG_PATH=profile.name,
            XDG_RUNTIME_DIR=profile.name,
        )
        application = QgsApplication([], False)
        application.initQgis()
        atexit.register(lambda: (application.exitQgis(), profile.cleanup()))
    plugins = str(Path(QgsApplication.pkgDataPath()) / "python" / "plugins")
    if plugins not in sys.path:
        sys.path.append(plugins)
    from processing.core.Processing import Processing

    Processing.initialize()
    return True


def host_lines(x, y, group, rank):
    """What QGIS makes of epochs: points to path by `group` in the order of `rank`, smoothed with
    the defaults.

    Returns
    -------
    dict of int to numpy.ndarray, shape (v, 2)
        The line of each group that has two places at least.
    """
    import processing
    from qgis.core import QgsFeature, QgsGeometry, QgsPointXY, QgsVectorLayer

    layer = QgsVectorLayer(
        "Point?crs=EPSG:32632&field=edge:integer&field=rank:double", "epochs", "memory"
    )
    features = []
    for place in np.flatnonzero(np.isfinite(x + y + rank)):
        feature = QgsFeature(layer.fields())
        feature.setGeometry(QgsGeometry.fromPointXY(QgsPointXY(float(x[place]), float(y[place]))))
        feature.setAttributes([int(group[place]), float(rank[place])])
        features.append(feature)
    layer.dataProvider().addFeatures(features)
    path = processing.run(
        "native:pointstopath",
        {
            "INPUT": layer,
            "GROUP_EXPRESSION": '"edge"',
            "ORDER_EXPRESSION": '"rank"',
            "OUTPUT": "memory:",
        },
    )["OUTPUT"]
    smooth = processing.run("native:smoothgeometry", {"INPUT": path, "OUTPUT": "memory:"})["OUTPUT"]
    lines = {}
    for feature in smooth.getFeatures():
        geometry = feature.geometry()  # vertices die with it
        line = np.array([(vertex.x(), vertex.y()) for vertex in geometry.vertices()])
        if len(line) > 1:
            lines[int(feature["edge"])] = line
    return lines


def host_samples(walks, result, kept):
    """Distances from the truth of QGIS's smoothed lines, and lengths of the samples, by kind of
    shape.

    With `kept`, of the kept epochs of each edge; else of all fixed epochs of each capture.
    """
    walks = sorted(walks, key=lambda walk: walk.capture)

    def column(name):
        return np.concatenate([getattr(walk, name) for walk in walks])

    x, y, seconds, capture = (
        column("x"),
        column("y"),
        column("seconds"),
        np.repeat(np.arange(len(walks)), [len(walk) for walk in walks]),
    )
    use = result.edge >= 0 if kept else is_fixed(column("fix"))
    group = result.edge if kept else capture
    found = host_lines(x[use], y[use], group[use], seconds[use] - np.nanmin(seconds))
    lines, samples = [TrueLine(walk.truth) for walk in walks], {}
    for number, line in found.items():
        code = result.edges.capture[number] if kept else number
        points, length = sample(np.column_stack([line, np.zeros(len(line))]))
        distances, weights = samples.setdefault(walks[code].kind, ([], []))
        distances.append(lines[code].distance(points))
        weights.append(np.full(len(points), length))
    return {kind: (np.concatenate(a), np.concatenate(b)) for kind, (a, b) in samples.items()}


def host_column(walks, settings=None, kept=True):
    """RMSE of QGIS's chain by kind and over all ("all"), metres; see `host_samples`."""
    result = reconstruct(epoch_table(walks), settings or Settings())
    samples = host_samples(walks, result, kept)
    column = {kind: rmse(*values) for kind, values in samples.items()}
    column["all"] = rmse(
        *(np.concatenate([values[i] for values in samples.values()]) for i in (0, 1))
    )
    return column


# What is shown, the attribute of `Summary`, its unit.
ROWS = (
    ("captures", "captures", "{}"),
    ("epochs", "epochs", "{}"),
    ("edges", "edges", "{}"),
    ("raw epochs, RMSE mm", "raw_rmse", "mm"),
    ("with slips, mm", "raw_spiky_rmse", "mm"),
    ("edges, RMSE mm", "edge_rmse", "mm"),
    ("edges / raw", "ratio", "{:.2f}"),
    ("over 0.10 m, %", "far_share", "{:.3%}"),
    ("farthest, m", "farthest", "{:.3f}"),
    ("corners seen", "corners", "{}"),
    ("line within 40 mm, %", "corner_line_share", "%"),
    ("vertex within 40 mm, %", "corner_vertex_share", "%"),
    ("95 % of corners, mm", "corner_p95", "mm"),
    ("arcs seen", "arcs", "{}"),
    ("radius within 2 % or 50 mm, %", "radius_share", "%"),
    ("radius within 2 sigma, %", "radius_within_sigmas", "%"),
    ("elements right, % of edges", "elements_right", "%"),
    ("covered, %", "coverage", "%"),
    ("across gaps, m", "across_gaps", "{:.2f}"),
    ("vertices / needed", "vertex_ratio", "{:.2f}"),
    ("with those of heights", "vertex_ratio_up", "{:.2f}"),
    ("raw heights, RMSE mm", "raw_up_rmse", "mm"),
    ("heights, RMSE mm", "edge_up_rmse", "mm"),
    ("heights / raw", "ratio_up", "{:.2f}"),
    ("95 % band in plan, %", "band", "%"),
    ("95 % band of heights, %", "band_up", "%"),
)

# Name, kind of shape, attribute, least and greatest value allowed.
LIMITS = (
    ("edges / raw", "all", "ratio", None, 0.65),
    ("length over 0.10 m", "all", "far_share", None, 0.0005),
    ("farthest, m", "all", "farthest", None, 0.25),
    ("corners within 40 mm", "all", "corner_vertex_share", 0.95, None),
    ("radii of curb returns within 2 % or 50 mm", "block", "radius_share", 0.95, None),
    ("radii of curb returns within 2 sigma", "block", "radius_within_sigmas", 0.95, None),
    ("elements right", "all", "elements_right", 0.90, None),
    ("vertices / needed", "all", "vertex_ratio", None, 1.2),
    ("heights / raw", "all", "ratio_up", None, 0.75),
    ("95 % band in plan", "all", "band", 0.90, 0.98),
    ("95 % band of heights", "all", "band_up", 0.90, 0.98),
)


def check_limits(total):
    """Each of `LIMITS` with the figure of a `Report`: name, figure, least, greatest, and whether it
    is kept.

    What was not seen at all keeps its limit.
    """
    rows = []
    for name, kind, attribute, least, greatest in LIMITS:
        value = (
            getattr(total.summaries[kind], attribute) if kind in total.summaries else float("nan")
        )
        rows.append(
            (
                name,
                value,
                least,
                greatest,
                not (
                    (least is not None and value < least)
                    or (greatest is not None and value > greatest)
                ),
            )
        )
    return rows


def format_limits(total):
    """The limits as text, one line each."""

    def text(value):
        return "-" if value is None or np.isnan(value) else f"{value:.4f}".rstrip("0").rstrip(".")

    rows = [
        (name, text(value), f"{text(least)} to {text(greatest)}", "" if good else "NOT KEPT")
        for name, value, least, greatest, good in check_limits(total)
    ]
    wide = [max(map(len, column)) for column in zip(*rows)]
    return "\n".join(
        f"{name:<{wide[0]}}  {value:>{wide[1]}}  limit {limit:<{wide[2]}}  {good}".rstrip()
        for name, value, limit, good in rows
    )


def format_table(summaries, others=None, markdown=False):
    """The summaries as text, one column each; `others`: RMSE of other methods by kind of shape, a
    dict by title."""

    def cell(value, form):
        if isinstance(value, float) and np.isnan(value):
            return "-"
        if form in ("mm", "%"):
            return f"{1e3 * value:.1f}" if form == "mm" else f"{100 * value:.1f}"
        return form.format(value).rstrip("%")

    rows = [["", *summaries]]
    for title, name, form in ROWS:
        rows.append([title] + [cell(getattr(one, name), form) for one in summaries.values()])
        if name == "ratio":
            rows += [
                [key] + [cell(column.get(kind, float("nan")), "mm") for kind in summaries]
                for key, column in (others or {}).items()
            ]
    if markdown:
        return "\n".join(
            "| " + " | ".join(row) + " |"
            for row in [*rows[:1], ["---", *("---:" for _ in summaries)], *rows[1:]]
        )
    width = [max(map(len, column)) for column in zip(*rows)]
    return "\n".join(
        "  ".join(
            [row[0].ljust(width[0])] + [text.rjust(size) for text, size in zip(row[1:], width[1:])]
        )
        for row in rows
    )


NOMINAL = np.arange(0.50, 0.995, 0.01)


def coverage_curve(scores, up=False):
    """Share of the length whose band holds the truth, for each of the `NOMINAL` shares of a normal
    error."""
    from scipy.stats import norm

    weight = np.concatenate([one.weight for one in scores])
    error, sigma = (
        np.concatenate([getattr(one, name) for one in scores])
        for name in (("edge_up", "sigma_up") if up else ("edge", "sigma"))
    )
    with np.errstate(invalid="ignore"):
        units = np.abs(error) / sigma
    order = np.argsort(units)
    below = np.concatenate([[0.0], np.cumsum(weight[order])])
    return below[np.searchsorted(units[order], norm.ppf((1 + NOMINAL) / 2), "right")] / below[-1]


def draw_calibration(total, path):
    """Draw the share of the length that a band holds against the share that it should hold, for
    plan and heights."""
    import matplotlib

    matplotlib.use("Agg")
    from matplotlib import pyplot

    figure, panels = pyplot.subplots(1, 2, figsize=(9.0, 4.6), sharey=True, layout="constrained")
    dashes = {
        "straight": (1, 1),
        "block": (4, 1),
        "island": (4, 1, 1, 1),
        "bay": (6, 2),
        "bend": (2, 2),
        "zigzag": (6, 1, 1, 1, 1, 1),
    }
    for panel, up in zip(panels, (False, True)):
        panel.plot(
            [50, 100],
            [50, 100],
            color="0.75",
            linewidth=6,
            solid_capstyle="butt",
            label="as stated",
        )
        for number, kind in enumerate(kind for kind in total.summaries if kind != "all"):
            curve = coverage_curve([one for one in total.scores if one.kind == kind], up)
            panel.plot(
                100 * NOMINAL,
                100 * curve,
                color=f"C{number}",
                linewidth=1.2,
                dashes=dashes.get(kind, (None, None)),
                label=kind,
            )
        panel.plot(
            100 * NOMINAL,
            100 * coverage_curve(total.scores, up),
            color="black",
            linewidth=2,
            label="all",
        )
        panel.plot(
            [95, 95],
            [90, 98],
            color="black",
            linewidth=1,
            marker="_",
            markersize=8,
            label="limit at 95 %",
        )
        panel.set(
            title="Heights" if up else "In plan",
            xlabel="Stated coverage, %",
            xlim=(50, 100),
            ylim=(50, 100),
        )
        panel.grid(color="0.9")
    panels[0].set_ylabel("Length whose band holds the truth, %")
    panels[1].legend(loc="lower right", frameon=False, fontsize=8)
    figure.savefig(path, dpi=110, metadata={"Software": None})
    pyplot.close(figure)


def mean_columns(columns, kinds):
    """One dict by kind of several; each set counts alike."""
    return {kind: rmse([column[kind] for column in columns if kind in column]) for kind in kinds}


def main(arguments=None):
    """Print the table; the number of limits that are not kept, where they are asked for."""
    parser = argparse.ArgumentParser(
        description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter
    )
    parser.add_argument("--seeds", type=int, nargs="+", default=[20250506])
    parser.add_argument(
        "--captures", type=int, default=80, help="captures in each trial set (default 80)"
    )
    parser.add_argument(
        "--port",
        action="store_true",
        help="the captures of the sample project in place of trial sets",
    )
    parser.add_argument(
        "--fitpack", action="store_true", help="also FITPACK's splprep on the same epochs"
    )
    parser.add_argument(
        "--host",
        action="store_true",
        help="also QGIS's points to path and smooth on the same epochs",
    )
    parser.add_argument(
        "--limits", action="store_true", help="end with an error where a limit is not kept"
    )
    parser.add_argument("--each", action="store_true", help="also the limits of each trial set")
    parser.add_argument(
        "--markdown", action="store_true", help="print the table for a Markdown file"
    )
    parser.add_argument(
        "--calibration", metavar="FILE", help="draw nominal against observed coverage into a PNG"
    )
    parser.add_argument(
        "--worst",
        type=int,
        default=0,
        metavar="N",
        help="also list the N captures with the greatest distances",
    )
    parser.add_argument(
        "--edges", metavar="FILE", help="walks along the LineStrings of a file, metres, instead"
    )
    parser.add_argument(
        "--half", choices=("tune", "judge"), help="of the file: every other line by id"
    )
    parser.add_argument(
        "--rates", type=float, nargs="+", default=[1.0], help="epochs a second along such lines"
    )
    parser.add_argument("--spacing", type=float, default=1.0, help="metres walked in a second")
    parser.add_argument(
        "--crew", default="steady", help="who walks: a name of CREWS in crews.py (default: steady)"
    )
    parser.add_argument("--count", type=int, help="so many lines, spread over the file")
    parser.add_argument(
        "--rounded", action="store_true", help="heights to 0.1 m, positions to 1e-5 arc minutes"
    )
    parser.add_argument("--thin", type=int, default=1, help="one in so many epochs of such walks")
    for name, default, text in (
        ("memory", 0.5, "time constant of the wobble of such walks, seconds"),
        ("white", 0.3, "share of its variance without memory"),
        ("tails", 0.0, "degrees of freedom of its Student's t; 0: normal"),
        ("drift", 0.0, "random walk besides, metres a root second"),
        ("steps", 0.0, "steps of the receiver's position besides, metres at most"),
    ):
        parser.add_argument(f"--{name}", type=float, default=default, help=text)
    for item in fields(Settings):
        parser.add_argument(
            f"--{item.name.replace('_', '-')}", type=type(item.default), default=item.default
        )
    parser.add_argument(
        "--set",
        action="append",
        default=[],
        metavar="STAGE.NAME=VALUE",
        help="try another value of a tuned number",
    )
    options = parser.parse_args(arguments)
    settings = Settings(**{item.name: getattr(options, item.name) for item in fields(Settings)})
    try:
        trial = dict(map(tuned_value, options.set))
        with tuning.override(**trial):
            pass
    except ValueError as error:
        parser.error(str(error))
    with tuning.override(**trial):
        return measure_and_print(parser, options, settings)


def tuned_value(text):
    """Name and value for `tuning.override` from ``STAGE.name=value``."""
    name, equals, value = text.partition("=")
    stage, dot, number = name.partition(".")
    if not (equals and dot):
        raise ValueError(f"“{text}” is not STAGE.name=value")
    try:
        return f"{stage}__{number}", ast.literal_eval(value)
    except (ValueError, SyntaxError):
        raise ValueError(f"“{value}” is no number") from None


def measure_and_print(parser, options, settings):
    """Measure what the options ask for and print it; the number of limits that are not kept."""
    if options.edges:
        from curbwright.tests.benchmarks.crews import CREWS
        from curbwright.tests.benchmarks.real_accuracy import report_real
        from curbwright.tests.benchmarks.real_walks import Wobble

        settings = replace(settings, station_spacing=settings.station_spacing or 1.0)
        seeds = options.seeds if options.seeds != parser.get_default("seeds") else [1]
        report_real(
            options.edges,
            settings,
            options.half,
            seeds,
            options.rates,
            options.count,
            options.thin,
            spacing=options.spacing,
            rounded=options.rounded,
            wobble=Wobble(**{item.name: getattr(options, item.name) for item in fields(Wobble)}),
            crew=CREWS[options.crew],
        )
        return 0
    scores, seconds, rows, kept, others, labels = [], 0.0, 0, 0, {}, []
    host = options.host and start_qgis()
    for seed in [port.SEED] if options.port else options.seeds:
        walks = port_walks() if options.port else trial_set(seed, options.captures)
        labels += [f"seed {seed}"] * len(walks)
        one = measure(walks, settings)
        if options.each:
            print(f"seed {seed}\n{format_limits(one)}\n", flush=True)
        scores, seconds, rows, kept = (
            scores + one.scores,
            seconds + one.seconds,
            rows + one.rows,
            kept + one.kept,
        )
        if options.fitpack:
            others.setdefault("FITPACK splprep, mm", []).append(fitpack_column(walks, settings)[0])
        if options.host:
            for title, of_kept in (("host, kept, mm", True), ("host, fixed, mm", False)):
                others.setdefault(title, []).append(
                    host_column(walks, settings, of_kept) if host else {}
                )
    total = report(scores, seconds, rows, kept)
    print(
        format_table(
            total.summaries,
            {title: mean_columns(columns, total.summaries) for title, columns in others.items()},
            options.markdown,
        )
    )
    print(f"{rows} rows, {kept} kept; reconstruct {seconds:.2f} s\n")
    print(format_limits(total))
    for place in np.argsort([-one.farthest for one in scores])[: options.worst]:
        one = scores[place]
        print(
            f"  {labels[place]} {one.capture} {one.kind}: {one.farthest:.3f} m at chainage"
            f" {one.chainage[one.edge.argmax()] if len(one.edge) else float('nan'):.1f}, across"
            f" gaps {one.across_gaps:.2f} m, {one.covered:.1f} of {one.seen:.1f} m covered,"
            f" {one.vertices} vertices for {one.needed}"
        )
    if options.calibration:
        draw_calibration(total, options.calibration)
    return sum(not good for *_, good in check_limits(total)) if options.limits else 0


if __name__ == "__main__":
    sys.exit(min(main(), 1))
