"""Several walks of one edge into one weighted edge.

The longest walk leads; where it ends and another one continues, that one takes over. All walks are
intersected at stations along this line, and the merged edge lies at their weighted mean there. A
walk gains and loses its weight gradually, so that there is no step where it begins or ends. Corners
lie where the merged legs meet, so that corners of two walks a few millimetres apart become one.

Where walks differ by more than their uncertainty explains, they are not averaged: the edge follows
those that agree (of two walks, the straighter one), and the stretch of the other walk stays as it
is, as an edge of its own.
"""

from collections import Counter
from dataclasses import dataclass
from functools import partial

import numpy as np
import shapely

from ..arrays.ragged import cumulative, group_index, offsets_from_starts, offsets_of, stretch_starts
from ..arrays.thinning import thin
from ..tuning import CROWDS, OVERLAPS, PASSES
from .lines import Lines, chainages, place_at
from .merge_means import (
    PieceSigmas,
    SeenPieces,
    at_vertices,
    displaced_vertices,
    far_from,
    fill_along,
    heights_along,
    pass_figures,
    path_figures,
    see_pieces,
    shares_of,
)
from .merge_paths import (
    MergePaths,
    PathShape,
    PathStations,
    shape_of,
    stations_of,
    trace_path,
    with_ends_moved,
)
from .merge_results import (
    APART,
    MERGED,
    PASS_STATES,
    REASONS,
    REST,
    SINGLE,
    Disagreements,
    Merge,
    MergedEdges,
    Passes,
)
from .overlaps import cut_pieces, extract, lay_on_each_other, runs_of
from .rays import Index
from .significance import limit_of


@dataclass(frozen=True)
class MergeSettings:
    """What the user can choose; lengths in metres.

    Attributes
    ----------
    max_offset : float
        How far apart two walks of one edge may lie.
    min_overlap : float
        Length that two walks must share to be merged.
    blend : float
        Length over which a walk gains and loses its weight.
    tolerance : float
        Maximum distance between the weighted mean and the line written.
    confidence : float
        Of the tests whether walks differ, from 0.5 to less than 1.

    Raises
    ------
    ValueError
        If a value is outside its range; the message names it.
    """

    max_offset: float = 0.15
    min_overlap: float = 2.0
    blend: float = 2.0
    tolerance: float = 0.003
    confidence: float = 0.95

    def __post_init__(self):
        for name in ("max_offset", "min_overlap", "blend", "tolerance"):
            if not getattr(self, name) > 0:
                raise ValueError(f"{name} must be greater than 0, got {getattr(self, name)}")
        if not 0.5 <= self.confidence < 1:
            raise ValueError(
                f"confidence must be at least 0.5 and less than 1, got {self.confidence}"
            )


def merge_passes(lines, sigma_up=None, group=None, settings=None, progress=lambda share: None):
    """Merge walks of the same edges.

    Parameters
    ----------
    lines : Lines
        Edges; the `sigma` of a row is 0 if unknown.
    sigma_up : ndarray of float, shape (count,), optional
        1-sigma of the heights, metres; NaN if unknown.
    group : ndarray of int, shape (count,), optional
        Rows of different groups are never merged.
    settings : MergeSettings, optional
    progress : callable
        Called with the share that is done, 0 to 1; may raise to stop the work.

    Returns
    -------
    Merge
        Every stretch of the input is in an edge or in a disagreement. The result does not depend on
        the order of rows, and reversing a row moves nothing. An edge runs the way that most of its
        walks ran.

    Notes
    -----
    Weights are 1 / sigma**2. The errors of walks at different times are independent, even the part
    of the receiver's error that stays the same over a minute. So the variance of a mean of walks
    with shares a is the sum of a**2 sigma**2; that of three equally precise walks is sigma**2 / 3.
    """
    settings = settings or MergeSettings()
    pieces, rays, met = _pieces(
        lines, sigma_up, group, settings, lambda share: progress(0.3 * share)
    )
    laid, sigma, sigma_up = lay_on_each_other(
        pieces, rays, met, settings.min_overlap, settings.confidence
    )
    progress(0.4)
    ways = MergePaths(pieces, rays, laid.take(laid.fine))
    ways.find(lambda share: progress(0.4 + 0.2 * share))
    ways.prefer_majority()
    sigmas = PieceSigmas(sigma, sigma_up, settings.confidence)
    result = _Finish(ways, laid, sigmas, settings).run(lambda share: progress(0.6 + 0.4 * share))
    progress(1.0)
    return result


def _pieces(lines, sigma_up, group, settings, progress):
    """Pieces of the edges, their stations, and where the stations meet other pieces."""
    sigma = np.where(lines.sigma > 0, lines.sigma, np.nan)[lines.line]
    if sigma_up is None:
        sigma_up = np.full(len(lines.line), np.nan)
    else:
        sigma_up = np.where(np.asarray(sigma_up) > 0, sigma_up, np.nan)[lines.line]
    if group is None:
        group = np.zeros(len(lines.line), np.int64)
    else:
        group = np.asarray(group, np.int64)[lines.line]
    return cut_pieces(
        lines, sigma, sigma_up, group, settings.max_offset, settings.min_overlap, progress
    )


@dataclass(frozen=True)
class _Stretch:
    """A stretch of a piece between two chainages, metres."""

    piece: int
    start: float
    stop: float


@dataclass(frozen=True)
class _Met:
    """Paths as lines with their shape and stations, and what pieces show there; `busy`: numbers of
    these paths."""

    busy: np.ndarray
    lines: Lines
    closed: np.ndarray
    shape: PathShape
    stations: PathStations
    seen: SeenPieces


@dataclass(frozen=True)
class _Mean:
    """The weighted mean along paths.

    `xyz`, shape (n, 3): vertices, those of path ``k`` from ``starts[k]`` on; `keep`: the vertices
    that are written; `share`, `share_up`: share of each row of `SeenPieces` in plan and in height.
    """

    xyz: np.ndarray
    keep: np.ndarray
    starts: np.ndarray
    share: np.ndarray
    share_up: np.ndarray


NOTHING_SHARED = {
    "shared": 0.0,
    "offset_mean": np.nan,
    "offset_rms": np.nan,
    "up_mean": np.nan,
    "up_rms": np.nan,
}


def _mean_of(met, sigmas, settings):
    """The weighted mean of what pieces show along their paths: `_Mean`."""
    seen, lines, shape, at = met.seen, met.lines, met.shape, met.stations.rays
    agree_up = ~(seen.out | seen.out_up) & np.isfinite(seen.z)
    share, share_up = (
        shares_of(seen, met.stations, lines, met.closed, use, sigma, settings.blend)
        for use, sigma in ((~seen.out, sigmas.plan), (agree_up, sigmas.up))
    )
    there, there_up = (np.bincount(seen.station, one, len(at)) > 0 for one in (share, share_up))
    offset = np.bincount(seen.station, share * seen.offset, len(at))
    offset = fill_along(offset, there, at.part, at.chainage)
    base = heights_along(lines)
    vertex = shape.vertex[met.stations.segment]
    base_at = base[vertex] + met.stations.local / shape.length[met.stations.segment] * (
        base[vertex + 1] - base[vertex]
    )
    height = np.bincount(seen.station, share_up * np.nan_to_num(seen.z), len(at))
    up = fill_along(height - base_at, there_up, at.part, at.chainage)
    up[far_from(there_up, at, settings.blend)] = np.nan
    x, y = displaced_vertices(lines, shape, met.stations, np.nan_to_num(offset))
    z = base + sum(at_vertices(up, met.stations, shape)) / 2
    along = cumulative(lines.steps(), lines.offsets)
    # corners, ends and stations in order along each path
    extra = shape.corner | (shape.before < 0) | (shape.after < 0)
    part = np.concatenate([group_index(lines.offsets)[extra], at.part])
    order = np.lexsort((np.concatenate([along[extra], at.chainage]), part))
    xyz = np.column_stack(
        [
            np.concatenate([x[extra], at.x + offset * at.along_y]),
            np.concatenate([y[extra], at.y - offset * at.along_x]),
            np.concatenate([z[extra], base_at + up]),
        ]
    )[order]
    keep = np.concatenate([shape.corner[extra], np.zeros(len(at), bool)])[order]
    starts = np.searchsorted(part[order], np.arange(len(met.busy) + 1))
    keep = _thinned(xyz, keep, starts, part[order], settings.tolerance)
    return _Mean(xyz=xyz, keep=keep, starts=starts, share=share, share_up=share_up)


def _thinned(xyz, keep, starts, part, tolerance):
    """Mask of the vertices that are written: those in `keep`, all ends, and what the tolerance
    needs."""
    keep[starts[:-1]] = keep[starts[1:] - 1] = True
    held = np.flatnonzero(keep)
    sections = np.column_stack([held[:-1], held[1:]])[part[held[:-1]] == part[held[1:]]]
    up_tolerance = PASSES.up_tolerance_ratio * tolerance
    return thin(*xyz.T, keep, sections, tolerance, up_tolerance)


class _Finish:
    """Makes edges, passes and disagreements from paths."""

    def __init__(self, ways, laid, sigmas, settings):
        self.ways, self.pieces, self.rays, self.laid = ways, ways.pieces, ways.rays, laid
        self.sigmas, self.settings = sigmas, settings
        first = ways.pieces.lines.offsets[:-1]
        self.has_z = np.isfinite(ways.pieces.lines.z[first]) if len(ways.pieces) else []
        self.edges, self.passes, self.listed = [], [], []
        self.senses = {}  # by edge and part: True if the first pass runs along the edge
        self.main_paths = {}  # by piece, once the paths are settled
        self.check_cancel = _nothing

    def run(self, progress):
        """The result of the merge: `Merge`."""
        return self._run(partial(self.tell, progress))

    def tell(self, progress, share):
        """Report progress; `check_cancel` reports the same share again, to let the caller stop."""
        self.check_cancel = partial(progress, share)
        progress(share)

    def _run(self, progress):
        ways, count = self.ways, len(self.ways.paths)
        taken = ways.owner >= 0
        wide = max(len(self.pieces), 1)
        busy = (
            np.bincount(
                np.unique(ways.owner[taken] * wide + self.rays.part[taken]) // wide, minlength=count
            )
            > 1
        )
        busy |= np.array([len(made.chain) > 1 for made in ways.paths], bool)
        merged = self.merge(np.flatnonzero(busy), lambda share: progress(0.5 * share))
        for path, made in enumerate(ways.paths):
            if path % PASSES.progress_step == 0:
                progress(0.5 + 0.3 * path / max(count, 1))
            if busy[path]:
                self.edges.append(merged[path])
            else:
                self.add_alone(path, made)
        self.attach()
        self.list_apart()
        self.list_parted()
        self.list_far(progress)
        self.list_others()
        for part, piece in self.pieces.copies.tolist():
            edge = max(self.main_path(piece), -1)
            self.add_pass(
                edge,
                _Stretch(piece, 0.0, float(ways.length[piece])),
                PASS_STATES.index("copy"),
                part=part,
            )
        return self.collect()

    # Edges

    def scale_of(self, piece):
        """Scale factor of the frame where a piece lies."""
        return float(self.pieces.lines.scale[piece])

    def ends_of(self, path):
        """Source part, and which of its ends, at the start and end of a path, shape (2, 2); -1
        where the path begins or ends inside a walk."""
        out = np.full((2, 2), -1)
        for side, (piece, at) in enumerate(
            ()
            if path.closed
            else ((path.chain[0][0], path.chain[0][1]), (path.chain[-1][0], path.chain[-1][2]))
        ):
            end = 0 if abs(at) < 1e-6 else 1 if abs(at - self.ways.length[piece]) < 1e-6 else -1
            if end >= 0 and self.pieces.whole[piece]:
                out[side] = self.pieces.part[piece], end ^ int(self.pieces.backwards[piece])
        return out

    def add_alone(self, path, made):
        """Add an edge that only one walk shows."""
        ((piece, start, stop),) = made.chain
        pieces = self.pieces
        whole = pieces.whole[piece] and stop - start >= self.ways.length[piece] - 1e-6
        xyz = extract(pieces.lines, piece, start, stop, bool(pieces.closed[piece]))
        ends, turn = self.ends_of(made), bool(pieces.backwards[piece])
        state = SINGLE if whole and max(made.attached) < 0 else REST
        self.edges.append(
            {
                "xyz": xyz[::-1] if turn else xyz,
                "state": state,
                "unchanged": int(pieces.part[piece]) if state == SINGLE else -1,
                "passes": 1,
                "shared": 0.0,
                "sigma": self.sigmas.plan[piece],
                "sigma_up": self.sigmas.up[piece] if self.has_z[piece] else np.nan,
                "repeatability": np.nan,
                "repeatability_up": np.nan,
                "closed": bool(made.closed),
                "ends": ends[::-1] if turn else ends,
                "scale": self.scale_of(piece),
                "attached": made.attached[::-1] if turn else made.attached,
            }
        )
        self.add_pass(path, _Stretch(piece, start, stop), state)

    def merge(self, busy, progress):
        """Merged edges, by path."""
        if not len(busy):
            self.overall = (np.nan,) * 4
            self.met = None
            return {}
        self.met = met = self.meet(busy, progress)
        self.check_cancel()
        mean = _mean_of(met, self.sigmas, self.settings)
        self.check_cancel()
        figures = path_figures(
            met.seen,
            met.stations,
            (mean.share, mean.share_up),
            (self.sigmas.plan, self.sigmas.up),
            len(busy),
        )
        self.overall = figures.pop("overall")
        per_path = [[] for _ in busy]
        for one in pass_figures(met.seen, met.stations, len(self.pieces)):
            per_path[one["path"]].append(one)
        out = {}
        for number, path in enumerate(busy.tolist()):
            self.check_cancel()
            rows = slice(mean.starts[number], mean.starts[number + 1])
            xyz, votes = mean.xyz[rows][mean.keep[rows]], per_path[number]
            turn = sum(one["along"] * self.forward(one) for one in votes) < 0
            out[path] = self.merged_edge(path, xyz, len(votes), turn) | {
                name: float(values[number]) for name, values in figures.items()
            }
            self.add_merged_passes(path, votes, -1.0 if turn else 1.0)
        return out

    def meet(self, busy, progress):
        """What pieces show along some paths: `_Met`."""
        ways, settings, pieces = self.ways, self.settings, self.pieces
        traced = []
        for number, path in enumerate(busy):
            progress(0.2 * number / len(busy))
            traced.append(trace_path(pieces.lines, pieces.closed, ways.paths[path]))
        flat = np.concatenate(traced)
        lines = Lines(
            x=flat[:, 0].copy(),
            y=flat[:, 1].copy(),
            z=flat[:, 2].copy(),
            offsets=offsets_of([len(one) for one in traced]),
            line=np.arange(len(busy)),
            count=len(busy),
            sigma=np.zeros(len(busy)),
        )
        closed = np.array([ways.paths[path].closed for path in busy])
        shape = shape_of(lines, closed)
        stations = stations_of(lines, shape, settings.max_offset)
        reach = 2 * settings.max_offset
        seen = see_pieces(
            stations, busy, ways, self.sigmas, reach, lambda share: progress(0.2 + 0.8 * share)
        )
        return _Met(busy, lines, closed, shape, stations, seen)

    def merged_edge(self, path, xyz, passes, turn):
        """A merged edge without its figures; `turn`: it runs against its path."""
        made = self.ways.paths[path]
        ends = self.ends_of(made)
        return {
            "xyz": xyz[::-1] if turn else xyz,
            "state": MERGED,
            "unchanged": -1,
            "passes": passes,
            "closed": bool(made.closed),
            "ends": ends[::-1] if turn else ends,
            "attached": made.attached[::-1] if turn else made.attached,
            "scale": self.scale_of(made.chain[0][0]),
            "turned": turn,
        }

    def add_merged_passes(self, path, votes, sign):
        """List the walks of a merged edge."""
        for one in votes:
            rows = rays_of(self.rays, one["piece"])
            own = np.flatnonzero(self.ways.owner[rows] == path)
            weight = float(self.rays.weight[rows.start])
            shown = {name: one[name] for name in NOTHING_SHARED}
            shown["offset_mean"] = sign * one["offset_mean"]
            self.add_pass(
                path,
                _Stretch(one["piece"], own[0] * weight, (own[-1] + 1) * weight),
                MERGED,
                self.forward(one) == sign,
                shown,
            )

    def forward(self, one):
        """1 if the walk, in its own direction, runs along the path, -1 if against it."""
        return (1 if one["same"] else -1) * (-1 if self.pieces.backwards[one["piece"]] else 1)

    def attach(self):
        """Move the ends of edges that branch off onto the edge that they leave."""
        for number, edge in enumerate(self.edges):
            targets = [
                self.edges[path]["xyz"] if path >= 0 and path != number else None
                for path in edge["attached"]
            ]
            if any(target is not None for target in targets):
                self.check_cancel()
                edge["xyz"] = _onto(edge["xyz"], targets, self.settings)

    # Lists

    def add_pass(self, edge, stretch, state, same=True, shown=None, part=None):
        """List what became of a walk; `shown`: its figures next to the others, `part`: the source
        part if it is a copy."""
        pieces, piece = self.pieces, stretch.piece
        shown = shown or NOTHING_SHARED
        low, high = stretch.start, stretch.stop
        if pieces.backwards[piece]:
            length = self.ways.length[piece]
            low, high = length - stretch.stop, length - stretch.start
        scale = self.scale_of(piece)
        begin = pieces.start[piece]
        part = int(pieces.part[piece]) if part is None else part
        self.senses.setdefault((edge, part), bool(same))
        self.passes.append(
            {
                "edge": edge,
                "part": part,
                "state": state,
                "start": (begin + low) / scale,
                "stop": (begin + high) / scale,
                "same": bool(same),
                "shared": shown["shared"] / scale,
                "offset_mean": shown["offset_mean"] / scale,
                "offset_rms": shown["offset_rms"] / scale,
                "up_mean": shown["up_mean"],
                "up_rms": shown["up_rms"],
            }
        )

    def add_listed(self, xyz, edges, piece, reason, length, differences, allowed):
        """List a disagreement.

        `edges`: the one that it differs from and the one it is in; `differences`: offsets across
        and in height along it, `allowed`: what is allowed of both, metres.
        """
        (offset_mean, offset_max), (up_mean, up_max) = map(_mean_and_most, differences)
        self.listed.append(
            {
                "xyz": xyz,
                "edge": edges[0],
                "own": edges[1],
                "part": int(self.pieces.part[piece]),
                "reason": REASONS.index(reason),
                "length": length / self.scale_of(piece),
                "offset_mean": offset_mean,
                "offset_max": offset_max,
                "up_mean": up_mean,
                "up_max": up_max,
                "allowed": allowed[0],
                "allowed_up": allowed[1],
            }
        )

    def list_apart(self):
        """List stretches that disagree with the others; those that disagree in plan become edges of
        their own."""
        if self.met is None:
            return
        seen, rays = self.met.seen, self.met.stations.rays
        for reason, flag in (("plan", seen.out), ("height", seen.out_up)):
            rows = np.flatnonzero(flag)
            if not len(rows):
                continue
            broken = (
                (np.diff(rows) > 1)
                | (np.diff(seen.piece[rows]) != 0)
                | (np.diff(seen.station[rows]) != 1)
                | (np.diff(rays.part[seen.station[rows]]) != 0)
            )
            for run in np.split(rows, np.flatnonzero(broken) + 1):
                self.list_run_apart(run, reason)

    def list_run_apart(self, run, reason):
        """List a run of rows in which one piece disagrees with the others."""
        seen = self.met.seen
        path = int(self.met.busy[self.met.stations.rays.part[seen.station[run[0]]]])
        stretch = self.stretch_of(run)
        piece, low, high = stretch.piece, stretch.start, stretch.stop
        walked = extract(self.pieces.lines, piece, low, high, bool(self.pieces.closed[piece]))
        sign = -1.0 if self.edges[path]["turned"] else 1.0
        offset, up = sign * seen.from_others[run], seen.up_from_others[run]
        own = -1
        if reason == "plan" and high - low >= PASSES.min_edge:
            own = len(self.edges)
            self.edges.append(self.edge_apart(stretch, self.edges[path]["xyz"]))
            self.add_pass(own, stretch, APART)
        self.add_listed(
            walked[::-1] if self.pieces.backwards[piece] else walked,
            (path, own),
            piece,
            reason,
            high - low,
            (offset, up),
            (float(np.mean(seen.limit[run])), _mean(seen.limit_up[run])),
        )

    def stretch_of(self, run):
        """The stretch of a piece that a run of rows stands for."""
        seen = self.met.seen
        piece = int(seen.piece[run[0]])
        ring, size = bool(self.pieces.closed[piece]), float(self.ways.length[piece])
        low, high = sorted((seen.chainage[run[0]], seen.chainage[run[-1]]))
        if ring and high - low > size / 2:  # over the seam
            low, high = high, low + size
        half = self.rays.weight[self.rays.first[piece]] / 2
        if ring:
            return _Stretch(piece, low - half, high + half)
        return _Stretch(piece, max(low - half, 0.0), min(high + half, size))

    def edge_apart(self, stretch, target):
        """An edge of a stretch as walked, led from the merged edge and back to it on either
        side."""
        piece, blend = stretch.piece, self.settings.blend
        ring, size = bool(self.pieces.closed[piece]), float(self.ways.length[piece])
        ends = (stretch.start - blend, stretch.stop + blend)
        if not ring:
            ends = max(ends[0], 0.0), min(ends[1], size)
        xyz = _onto(
            extract(self.pieces.lines, piece, *ends, ring),
            (
                target if ring or ends[0] > 0.0 else None,
                target if ring or ends[1] < size else None,
            ),
            self.settings,
        )
        return {
            "xyz": xyz[::-1] if self.pieces.backwards[piece] else xyz,
            "state": APART,
            "unchanged": -1,
            "passes": 1,
            "shared": 0.0,
            "sigma": self.sigmas.plan[piece],
            "sigma_up": self.sigmas.up[piece] if self.has_z[piece] else np.nan,
            "repeatability": np.nan,
            "repeatability_up": np.nan,
            "closed": False,
            "ends": np.full((2, 2), -1),
            "scale": self.scale_of(piece),
        }

    def list_parted(self):
        """List walks that leave a merged edge beyond reach and come back to it, and remnants."""
        for path, made in enumerate(self.ways.paths):
            if self.edges[path]["state"] == REST and made.attached[0] == made.attached[1] >= 0:
                piece, start, stop = made.chain[0]
                self.list_beside(_Stretch(piece, start, stop), (made.attached[0], path), "parted")
        for piece, start, stop, attached in self.ways.remnants:
            self.add_pass(-1, _Stretch(piece, start, stop), PASS_STATES.index("remnant"))
            self.list_beside(_Stretch(piece, start, stop), (max(attached), -1), "remnant")

    def list_far(self, progress):
        """List what an overlap bridged and no edge shows, so that every place of the source is
        within reach of an edge or listed."""
        made = [edge["xyz"] for edge in self.edges if edge["state"] != SINGLE]
        pieces = np.unique(
            self.rays.part[
                (self.ways.owner >= 0)
                & np.isin(
                    self.ways.owner,
                    [number for number, edge in enumerate(self.edges) if edge["state"] != SINGLE],
                )
            ]
        )
        if not made or not len(pieces):
            return
        offsets = offsets_of([len(one) for one in made])
        index = Index(Lines.from_columns(*np.concatenate(made)[:, :2].T, None, offsets))
        lines = self.pieces.lines
        of_vertex, along = group_index(lines.offsets), cumulative(lines.steps(), lines.offsets)
        stations, vertices = (
            np.flatnonzero(np.isin(self.rays.part, pieces)),
            np.flatnonzero(np.isin(of_vertex, pieces)),
        )
        reach = self.settings.max_offset + self.settings.tolerance
        away = index.nearest(
            np.concatenate([self.rays.x[stations], lines.x[vertices]]),
            np.concatenate([self.rays.y[stations], lines.y[vertices]]),
            reach,
            lambda share: progress(0.8 + 0.1 * share),
        )
        beyond = np.concatenate([stations, self.rays.at(of_vertex[vertices], along[vertices])])[
            np.isinf(away)
        ]
        far = np.zeros(len(self.rays), bool)
        far[beyond[self.ways.owner[beyond] >= 0]] = True  # remnants are listed already
        for piece in np.unique(self.rays.part[far]).tolist():
            rows = rays_of(self.rays, piece)
            for first, _, start, stop in runs_of(
                far[rows],
                self.rays.chainage[rows],
                float(self.rays.weight[rows.start]),
                float(self.ways.length[piece]),
                bool(self.pieces.closed[piece]),
            ):
                edge = int(self.ways.owner[rows.start + first % (rows.stop - rows.start)])
                self.add_pass(-1, _Stretch(piece, start, stop), PASS_STATES.index("remnant"))
                self.list_beside(_Stretch(piece, start, stop), (edge, -1), "remnant")

    def list_beside(self, stretch, edges, reason):
        """List a stretch that runs next to an edge; `edges`: that one and the one it is in."""
        piece, start, stop = stretch.piece, stretch.start, stretch.stop
        xyz = extract(self.pieces.lines, piece, start, stop, bool(self.pieces.closed[piece]))
        xyz = xyz[::-1] if self.pieces.backwards[piece] else xyz
        target = self.edges[edges[0]]["xyz"]
        with np.errstate(invalid="ignore"):  # GEOS leaves the flag set
            away = shapely.distance(
                shapely.points(xyz[:, :2]), shapely.linestrings(target[:, :2])
            ) * _side(target, xyz)
        self.add_listed(
            xyz,
            edges,
            piece,
            reason,
            stop - start,
            (away, np.zeros(0)),
            (self.settings.max_offset, np.nan),
        )

    def list_others(self):
        """List pieces that lie within reach of each other but show two edges."""
        rows = np.flatnonzero(~self.laid.fine)
        own, other = self.rays.part[self.laid.station[rows]], self.laid.other[rows]
        rows = rows[own > other]  # listed once, by the shorter one
        own, other = self.rays.part[self.laid.station[rows]], self.laid.other[rows]
        order = np.lexsort((rows, other, own))
        rows, own, other = rows[order], own[order], other[order]
        starts = offsets_from_starts(stretch_starts(own, other))
        number, mine = np.diff(starts), starts[:-1]
        allowed = self.allowed_between(own[mine], other[mine])
        listed, count = set(), Counter()
        for place in np.lexsort((other[mine], own[mine], -number)).tolist():
            pair = int(own[mine[place]]), int(other[mine[place]])
            edges = [max(self.main_path(piece), -1) for piece in pair]
            # a third walk may show that they belong together; each walk is listed once next to an
            # edge, however many walks that has, and in a crowd next to a few edges only
            if edges[0] == edges[1] or (pair[0], edges[1]) in listed:
                continue
            if count[pair[0]] == CROWDS.most_listed:
                continue
            self.check_cancel()
            listed.add((pair[0], edges[1]))
            count[pair[0]] += 1
            self.list_pair(pair, edges, rows[starts[place] : starts[place + 1]], allowed[place])

    def main_path(self, piece):
        """Path that most stations of a piece belong to, negative for none."""
        found = self.main_paths.get(piece)
        if found is None:
            owners, number = np.unique(
                self.ways.owner[rays_of(self.rays, piece)], return_counts=True
            )
            found = self.main_paths[piece] = int(owners[number.argmax()])
        return found

    def allowed_between(self, own, other):
        """Differences allowed between pairs of pieces in plan and in height, metres."""
        return np.column_stack([
            np.maximum(limit_of(self.settings.confidence, sigma[own], sigma[other]), least)
            for sigma, least in (
                (self.sigmas.plan, OVERLAPS.min_difference),
                (self.sigmas.up, OVERLAPS.min_difference_up),
            )
        ]).tolist()  # fmt: skip

    def list_pair(self, pair, edges, mine, allowed):
        """List the stretches of a piece next to another one; `mine`: its rows of `laid`."""
        piece, rays = pair[0], rays_of(self.rays, pair[0])
        ring = bool(self.pieces.closed[piece])
        stations = self.laid.station[mine]
        flag = np.zeros(rays.stop - rays.start, bool)
        flag[stations - rays.start] = True
        weight, length = float(self.rays.weight[rays.start]), float(self.ways.length[piece])
        turned = -1.0 if self.reverse_of(pair[1], edges[1]) else 1.0
        for first, last, start, stop in runs_of(
            flag, self.rays.chainage[rays], weight, length, ring
        ):
            part = mine[(stations - rays.start - first) % len(flag) <= last - first]
            sense = np.where(self.laid.same[part], 1.0, -1.0) * turned
            # the other piece lies to the right by `offset`, so this one to the left of it
            offset, up = -self.laid.offset[part] * sense, -self.laid.up[part]
            xyz = extract(self.pieces.lines, piece, start, stop, ring)
            self.add_listed(
                xyz[::-1] if self.pieces.backwards[piece] else xyz,
                (edges[1], edges[0]),
                piece,
                "other_edge",
                stop - start,
                (offset, up),
                allowed,
            )

    def reverse_of(self, piece, edge):
        """True if a piece runs against the edge that it is in."""
        if edge < 0 or self.edges[edge]["state"] != MERGED:
            return bool(self.pieces.backwards[piece])
        same = self.senses.get((edge, int(self.pieces.part[piece])))
        return same is not None and same == bool(self.pieces.backwards[piece])

    def collect(self):
        """The lists as tables: `Merge`."""
        edges = self.edges
        scale = np.array([edge["scale"] for edge in edges], float)
        length = np.array([chainages(edge["xyz"])[-1] for edge in edges], float) / scale
        shared = np.array([edge["shared"] for edge in edges], float)
        merged = MergedEdges(
            **_vertices(edges),
            **_columns(edges, ("state", "unchanged", "passes"), np.int64),
            **_columns(edges, ("sigma", "sigma_up", "repeatability", "repeatability_up"), float),
            **_columns(edges, ("closed",), bool),
            shared=np.minimum(shared / scale, length),
            length=length,
            ends=np.array([edge["ends"] for edge in edges], np.int64).reshape(-1, 2, 2),
        )
        # passes without an edge come last
        self.passes.sort(
            key=lambda row: (
                row["edge"] if row["edge"] >= 0 else len(edges),
                row["part"],
                row["start"],
            )
        )
        figures = ("shared", "offset_mean", "offset_rms", "up_mean", "up_rms")
        passes = Passes(
            **_columns(self.passes, ("edge", "part", "state"), np.int64),
            **_columns(self.passes, ("start", "stop", *figures), float),
            **_columns(self.passes, ("same",), bool),
        )
        self.listed.sort(key=lambda row: (row["edge"], row["reason"], row["part"], -row["length"]))
        figures = ("offset_mean", "offset_max", "up_mean", "up_max", "allowed", "allowed_up")
        disagreements = Disagreements(
            **_vertices(self.listed),
            **_columns(self.listed, ("edge", "own", "part", "reason"), np.int64),
            **_columns(self.listed, ("length", *figures), float),
        )
        return Merge(merged, passes, disagreements, *self.overall)


def _vertices(rows):
    """Vertices ``xyz`` of rows as ragged arrays, by name."""
    flat = np.concatenate([np.zeros((0, 3)), *(row["xyz"] for row in rows)])
    x, y, z = flat.T.copy()
    sizes = np.array([len(row["xyz"]) for row in rows], np.int64)
    return {"x": x, "y": y, "z": z, "offsets": offsets_of(sizes)}


def _columns(rows, names, kind):
    """Columns of rows as arrays of a kind, by name."""
    return {name: np.array([row[name] for row in rows], kind) for name in names}


def _nothing():
    """Nobody has asked for progress yet."""


def rays_of(rays, piece):
    """Stations of a piece.

    Parameters
    ----------
    rays : Rays
    piece : int

    Returns
    -------
    slice
    """
    return slice(rays.first[piece], rays.first[piece + 1])


def _mean(values):
    """Mean of the finite values, NaN for none."""
    values = values[np.isfinite(values)]
    return float(values.mean()) if len(values) else np.nan


def _mean_and_most(values):
    """Mean of the finite values and, with its sign, the one farthest from 0; NaN for none."""
    values = values[np.isfinite(values)]
    return (
        (float(values.mean()), float(values[np.argmax(np.abs(values))]))
        if len(values)
        else (np.nan, np.nan)
    )


def _side(line, points):
    """+1 where points lie to the right of the nearest segment of a line, -1 to its left."""
    a, d = line[:-1, :2], np.diff(line[:, :2], axis=0)
    to = points[:, None, :2] - a[None]
    share = np.clip((to * d).sum(axis=2) / np.maximum((d * d).sum(axis=1), 1e-24), 0, 1)
    off = np.hypot(*(to - share[:, :, None] * d).transpose(2, 0, 1))
    nearest = off.argmin(axis=1)
    own = to[np.arange(len(points)), nearest]
    return np.where(d[nearest, 0] * own[:, 1] - d[nearest, 1] * own[:, 0] <= 0, 1.0, -1.0)


def _onto(xyz, targets, settings):
    """A line whose ends are moved onto other lines (None: the end stays), fading over the blend
    length or a third of its own length."""
    vectors = []
    for end, target in zip((xyz[0], xyz[-1]), targets):
        vectors.append(None)
        if target is not None:
            with np.errstate(invalid="ignore"):  # GEOS leaves the flag set
                along = float(
                    shapely.line_locate_point(
                        shapely.linestrings(target[:, :2]), shapely.points(end[:2])
                    )
                )
            vector = place_at(target, along) - end
            if np.hypot(*vector[:2]) <= 2 * settings.max_offset:  # else it is another edge
                vectors[-1] = vector
    return with_ends_moved(xyz, min(settings.blend, chainages(xyz)[-1] / 3), *vectors)
