"""How near edges come to lines of real ground: what `accuracy.py --edges` prints."""

import time
from dataclasses import dataclass, field

import numpy as np
import shapely

from curbwright.sample_project.simulation import seen_intervals
from curbwright.shared.reconstruction.reconstruct import ROLE_NAMES, reconstruct

from .accuracy import (
    BAND,
    COVERED,
    FAR,
    STEP,
    TrueLine,
    _inside,
    _multiline,
    _needed,
    edge_lines,
    epoch_table,
    rmse,
    sample,
)
from .real_walks import (
    SORTS_OF_STRETCHES,
    distances_to,
    explained_stretches,
    stretches,
    thinned,
    told,
    walks_along,
)

CORNER = 0.04  # m
MOVES = 0.02  # m between two epochs of a walk that moves

ROWS = (
    ("captures", "{:.0f}"),
    ("good epochs", "{:.0f}"),
    ("raw epochs, RMSE mm", "{:.1f}"),
    ("edges, RMSE mm", "{:.1f}"),
    ("edges / raw", "{:.3f}"),
    ("without doubtful stretches / raw", "{:.3f}"),
    ("polyline of kept epochs / raw", "{:.2f}"),
    ("polyline of good epochs / raw", "{:.2f}"),
    ("edges / polyline of good epochs", "{:.2f}"),
    ("without doubtful stretches / polyline", "{:.3f}"),
    ("covered, %", "{:.2f}"),
    ("covered within own limits, %", "{:.2f}"),
    ("covered of explained pieces, %", "{:.2f}"),
    ("doubtful, % of length", "{:.2f}"),
    ("pieces a capture", "{:.2f}"),
    ("explained by losses", "{:.2f}"),
    ("good epochs rejected, %", "{:.2f}"),
    ("slips rejected, %", "{:.1f}"),
    ("corners seen", "{:.0f}"),
    ("vertex within 40 mm, %", "{:.1f}"),
    ("over 0.10 m, %", "{:.3f}"),
    ("over 0.10 m without doubtful, %", "{:.3f}"),
    ("greatest, m", "{:.2f}"),
    ("95 % band in plan, %", "{:.1f}"),
    ("the same by stations, %", "{:.1f}"),
    ("95 % band of heights, %", "{:.1f}"),
    ("vertices / needed", "{:.2f}"),
)


@dataclass(frozen=True)
class RealScore:
    """One walk along an outline against it; samples along the edges, shape (k,), and counts."""

    sort: str
    told: object
    raw: np.ndarray
    edge: np.ndarray
    weight: np.ndarray
    up: np.ndarray
    sigma: np.ndarray
    station_sigma: np.ndarray
    sigma_up: np.ndarray
    doubtful: np.ndarray
    sure_line: np.ndarray
    corner: np.ndarray
    seen: float
    covered: float
    seen_within: float
    covered_within: float
    seen_pieces: float
    covered_pieces: float
    pieces: int
    vertices: int
    needed: int
    name: str = field(default="")


def _along(line):
    return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(line[:, :2], axis=0).T))])


def _sure_samples(line_s, edge_s, doubtful):
    """Samples of a polyline, by chainage along the truth, whose nearest sample of an edge is
    certain."""
    if not len(edge_s):
        return np.zeros(len(line_s), bool)
    order = np.argsort(edge_s, kind="stable")
    edge_s, sure = edge_s[order], ~doubtful[order]
    after = np.clip(np.searchsorted(edge_s, line_s), 1, max(len(edge_s) - 1, 1))
    before = after - 1
    after = np.minimum(after, len(edge_s) - 1)
    nearer = np.abs(edge_s[after] - line_s) < np.abs(edge_s[before] - line_s)
    return sure[np.where(nearer, after, before)]


def score_real(walk, code, rows, result, settings, rate, spacing):
    """Compare the edges of one walk with its outline."""
    truth, true_line = walk.truth, TrueLine(walk.truth)
    lines, index = edge_lines(result.edges, code)
    parts = [sample(line) for line in lines]
    count = np.array([len(part) for part, _ in parts], int)
    points = np.concatenate([part for part, _ in parts] or [np.empty((0, 3))])
    weight = np.repeat(np.array([length for _, length in parts], float), count)
    doubtful, stations = [], []
    name = list(ROLE_NAMES).index("doubtful") if "doubtful" in ROLE_NAMES else 255
    for (part, length), number in zip(parts, index):
        at = (np.arange(len(part)) + 0.5) * length
        here = np.flatnonzero(result.edge[rows] == number)
        chainage, role = result.chainage[rows][here], result.role[rows][here]
        order = np.argsort(chainage, kind="stable")
        chainage, role = chainage[order], role[order] == name
        after = np.clip(np.searchsorted(chainage, at), 1, max(len(chainage) - 1, 1))
        doubtful.append(role[np.minimum(after, len(role) - 1)] | role[after - 1])
        own = np.flatnonzero(result.stations.edge == number)
        stations.append(
            np.interp(at, result.stations.chainage[own], result.stations.sigma_cross[own])
        )

    def join(values, kind):
        return np.concatenate(values) if values else np.zeros(0, kind)

    distance, chainage = true_line.distance(points), true_line.locate(points)
    intervals = np.sort(seen_intervals(walk, 3.5, 4.5 * max(spacing, 0.5)), axis=1)
    intervals = intervals[np.argsort(intervals[:, 0])]
    truth_s = np.arange(STEP / 2, truth.length, STEP)
    truth_s = truth_s[_inside(truth_s, intervals, truth)]
    near = shapely.distance(_multiline(lines), shapely.points(truth.at(truth_s)[:, :2])) <= COVERED
    # No edge may cross a gap over both limits of the program, which are 3.5 intervals and steps.
    own = np.sort(seen_intervals(walk, max(3.5 / rate, 2), max(3.5 * spacing / rate, 2)), axis=1)
    within = _inside(truth_s, own[np.argsort(own[:, 0])], truth)
    whole = np.sort(explained_stretches(walk, rate, spacing), axis=1)
    unbroken = _inside(truth_s, whole, truth)
    row = told(walk, true_line, result, rows, rate, spacing)
    unsure = join(doubtful, bool)
    return RealScore(
        sort=truth.sort,
        told=row,
        raw=true_line.distance(np.column_stack([walk.x, walk.y])[walk.is_good]),
        edge=distance,
        weight=weight,
        up=points[:, 2] - truth.at(chainage)[:, 2],
        sigma=np.repeat(result.edges.sigma_cross[index], count),
        station_sigma=join(stations, float),
        sigma_up=np.repeat(result.edges.sigma_up[index], count),
        doubtful=unsure,
        sure_line=_sure_samples(row.good_line[2], chainage, unsure),
        corner=distances_to(lines, row.corners),
        seen=STEP * len(truth_s),
        covered=STEP * float(near.sum()),
        seen_within=STEP * float(within.sum()),
        covered_within=STEP * float((near & within).sum()),
        seen_pieces=STEP * float(unbroken.sum()),
        covered_pieces=STEP * float((near & unbroken).sum()),
        pieces=len(lines),
        vertices=sum(map(len, lines)),
        needed=_needed(truth, intervals, settings.tolerance)[0],
        name=walk.capture,
    )


def figures(scores):
    """Figures of `ROWS`, a list of float."""

    def join(name):
        return np.concatenate([getattr(one, name) for one in scores])

    def total(name):
        return sum(getattr(one.told, name) for one in scores)

    def own(name):
        return sum(getattr(one, name) for one in scores)

    edge, weight, sure = join("edge"), join("weight"), ~join("doubtful")
    length = max(weight.sum(), 1e-9)
    raw = rmse(join("raw"))
    kept, good = (
        rmse(*(np.concatenate([getattr(one.told, name)[k] for one in scores]) for k in (0, 1)))
        for name in ("kept_line", "good_line")
    )
    corner, sure_line = join("corner"), join("sure_line")
    off, size = (np.concatenate([one.told.good_line[k] for one in scores]) for k in (0, 1))

    def share(mask):
        return 100 * float(weight[mask].sum() / length)

    edges = rmse(edge, weight)
    return [
        len(scores),
        total("good"),
        1e3 * raw,
        1e3 * edges,
        edges / raw,
        rmse(edge[sure], weight[sure]) / raw,
        kept / raw,
        good / raw,
        edges / good,
        rmse(edge[sure], weight[sure]) / rmse(off[sure_line], size[sure_line]),
        100 * own("covered") / own("seen"),
        100 * own("covered_within") / own("seen_within"),
        100 * own("covered_pieces") / own("seen_pieces"),
        share(~sure),
        own("pieces") / len(scores),
        total("explained") / len(scores),
        100 * total("good_lost") / total("good"),
        100 * total("slips_found") / max(total("slips"), 1),
        len(corner),
        100 * float((corner <= CORNER).mean()) if len(corner) else float("nan"),
        share(edge > FAR),
        share((edge > FAR) & sure),
        float(edge.max()),
        share(edge <= BAND * join("sigma")),
        share(edge <= BAND * join("station_sigma")),
        share(np.abs(join("up")) <= BAND * join("sigma_up")),
        own("vertices") / own("needed"),
    ]


def measure_real(walks, settings, rate, spacing):
    """Reconstruct the walks in one go; a list of `RealScore`, and the seconds that it took."""
    table = epoch_table(walks)
    began = time.perf_counter()
    result = reconstruct(table, settings)
    seconds = time.perf_counter() - began
    scores = []
    bounds = np.concatenate([[0], np.cumsum([len(walk) for walk in walks])])
    for code, walk in enumerate(walks):
        rows = slice(bounds[code], bounds[code + 1])
        scores.append(score_real(walk, code, rows, result, settings, rate, spacing))
    return scores, seconds, len(table)


def typical_step(walks):
    """Median way between two epochs of a walk that moves, metres."""
    steps = np.concatenate([np.hypot(np.diff(walk.true_x), np.diff(walk.true_y)) for walk in walks])
    return float(np.median(steps[steps > MOVES]))


def report_real(path, settings, half, seeds, rates, count, thin=1, **of_walks):
    """Print one table for each rate; `of_walks` as `walks_along` takes them, `thin` as `thinned`
    does."""
    spacing, crew = of_walks["spacing"], of_walks.get("crew")
    for rate in rates:
        scores, seconds, epochs = [], 0.0, 0
        for seed in seeds:
            walks = walks_along(stretches(path, half, seed, count), seed, rate, **of_walks)
            walks = thinned(walks, thin, rate) if thin > 1 else walks
            pace = typical_step(walks) * rate / thin if crew and not crew.even else spacing
            one, took, number = measure_real(walks, settings, rate / thin, pace)
            scores, seconds, epochs = scores + one, seconds + took, epochs + number
        columns = {"all": scores}
        columns.update(
            (sort, [one for one in scores if one.sort == sort]) for sort in SORTS_OF_STRETCHES
        )
        columns = {title: figures(some) for title, some in columns.items() if some}
        print(f"{rate / thin:g} Hz, {spacing:g} m/s, {epochs} epochs, reconstruct {seconds:.1f} s")
        width = max(len(title) for title, _ in ROWS)
        print("".ljust(width), *(title.rjust(9) for title in columns))
        for number, (title, form) in enumerate(ROWS):
            cells = (form.format(column[number]).rjust(9) for column in columns.values())
            print(title.ljust(width), *cells)
        print(flush=True)
