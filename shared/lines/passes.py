"""Several walks of one edge into one weighted edge.

The longest walk leads; where it ends and another one goes on, that one leads on. Along this line
all walks are met at stations, and the merged edge lies at the weighted mean of what they show
there. A walk gains and loses its weight gradually, so that there is no step where it begins or
ends. Corners are where the merged legs meet: two walks' corners a few millimetres apart make one
corner.

Where walks differ by more than their uncertainty explains, they are not averaged: the edge follows
those that agree (of two walks, the surer one), and the other walk's stretch stays as it is, as an
edge of its own.
"""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import cumulative, group_index, offsets_of
from ..arrays.thinning import thin
from ..tuning import OVERLAPS, PASSES
from .lines import Lines
from .merge_means import (
    PieceSigmas,
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
from .merge_paths import MergePaths, eased, shape_of, stations_of, trace_path
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
        Edges; `sigma` of each row 0 where it is unknown.
    sigma_up : ndarray of float, shape (count,), optional
        1-sigma of the heights, metres, NaN where unknown.
    group : ndarray of int, shape (count,), optional
        Rows of different groups are never merged.
    settings : MergeSettings, optional
    progress : callable
        Called with the share that is done, 0 to 1; may raise to stop the work.

    Returns
    -------
    Merge
        Every stretch of the input is in an edge or in a disagreement. The result does not depend on
        the order of rows; reversing a row leaves all places as they are. An edge runs the way that
        most of its walks ran.

    Notes
    -----
    Weights are 1 / sigma**2. The errors of walks at other times are independent of one another,
    those of the receiver that stay the same over a minute too: so the variance of a mean of walks
    with shares a is the sum of a**2 sigma**2, and three like walks have sigma / sqrt(3).
    """
    settings = settings or MergeSettings()
    per_part = lambda values: values[lines.line]  # noqa: E731
    sigma = per_part(np.where(lines.sigma > 0, lines.sigma, np.nan))
    sigma_up = (
        np.full(len(lines.line), np.nan)
        if sigma_up is None
        else per_part(np.where(np.asarray(sigma_up) > 0, sigma_up, np.nan))
    )
    group = (
        np.zeros(len(lines.line), np.int64)
        if group is None
        else per_part(np.asarray(group, np.int64))
    )
    pieces, rays, met = cut_pieces(
        lines,
        sigma,
        sigma_up,
        group,
        settings.max_offset,
        settings.min_overlap,
        lambda share: progress(0.3 * share),
    )
    laid, sigma, sigma_up = lay_on_each_other(
        pieces, rays, met, settings.min_overlap, settings.confidence
    )
    progress(0.4)
    ways = MergePaths(pieces, rays, laid.take(laid.fine))
    ways.find(lambda share: progress(0.4 + 0.2 * share))
    ways.prefer_majority()
    result = _Finish(lines, pieces, rays, laid, ways, sigma, sigma_up, settings).run(
        lambda share: progress(0.6 + 0.4 * share)
    )
    progress(1.0)
    return result


class _Finish:
    """From axes to edges, passes and disagreements."""

    def __init__(self, lines, pieces, rays, laid, ways, sigma, sigma_up, settings):
        self.source, self.pieces, self.rays, self.laid, self.ways = lines, pieces, rays, laid, ways
        self.sigma, self.sigma_up, self.settings = sigma, sigma_up, settings
        self.has_z = (
            np.isfinite(pieces.lines.z[pieces.lines.offsets[:-1]])
            if len(pieces)
            else np.zeros(0, bool)
        )
        self.edges, self.passes, self.listed = [], [], []

    def run(self, progress):
        ways, count = self.ways, len(self.ways.axes)
        taken = ways.owner >= 0
        wide = max(len(self.pieces), 1)
        busy = (
            np.bincount(
                np.unique(ways.owner[taken] * wide + self.rays.part[taken]) // wide, minlength=count
            )
            > 1
        )
        busy |= np.array([len(made.chain) > 1 for made in ways.axes], bool)
        merged = self.merge(np.flatnonzero(busy), lambda share: progress(0.5 * share))
        for axis, made in enumerate(ways.axes):
            if axis % PASSES.progress_step == 0:
                progress(0.5 + 0.3 * axis / max(count, 1))
            if busy[axis]:
                self.edges.append(merged[axis])
            else:
                self.add_alone(axis, made)
        self.attach()
        self.list_apart()
        self.list_parted()
        self.list_far(progress)
        self.list_others()
        for part, piece in self.pieces.copies.tolist():
            edge = max(int(np.bincount(ways.owner[rays_of(self.rays, piece)] + 2).argmax()) - 2, -1)
            self.add_pass(
                edge,
                piece,
                PASS_STATES.index("copy"),
                0.0,
                float(ways.length[piece]),
                True,
                part=part,
            )
        return self.collect()

    # Edges

    def scale_of(self, piece):
        return float(self.pieces.lines.scale[piece])

    def ends_of(self, axis):
        """Source part and its end at either end of the axis' chain, -1 where the axis begins or
        ends inside a walk."""
        out = np.full((2, 2), -1)
        for side, (piece, at) in enumerate(
            ()
            if axis.closed
            else ((axis.chain[0][0], axis.chain[0][1]), (axis.chain[-1][0], axis.chain[-1][2]))
        ):
            end = 0 if abs(at) < 1e-6 else 1 if abs(at - self.ways.length[piece]) < 1e-6 else -1
            if end >= 0 and self.pieces.whole[piece]:
                out[side] = self.pieces.part[piece], end ^ int(self.pieces.backwards[piece])
        return out

    def add_alone(self, axis, made):
        """An edge that one walk alone shows."""
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
                "sigma": self.sigma[piece],
                "sigma_up": self.sigma_up[piece] if self.has_z[piece] else np.nan,
                "repeatability": np.nan,
                "repeatability_up": np.nan,
                "closed": bool(made.closed),
                "ends": ends[::-1] if turn else ends,
                "scale": self.scale_of(piece),
                "attached": made.attached[::-1] if turn else made.attached,
            }
        )
        self.add_pass(axis, piece, state, start, stop, True)

    def merge(self, busy, progress):
        """Merged edges by axis."""
        if not len(busy):
            self.overall = (np.nan,) * 4
            self.seen = None
            return {}
        ways, settings = self.ways, self.settings
        traced = [
            trace_path(self.pieces.lines, self.pieces.closed, ways.axes[axis]) for axis in busy
        ]
        offsets = offsets_of([len(one) for one in traced])
        flat = np.concatenate(traced)
        lines = Lines(
            flat[:, 0].copy(),
            flat[:, 1].copy(),
            flat[:, 2].copy(),
            offsets,
            np.arange(len(busy)),
            len(busy),
            np.zeros(len(busy)),
        )
        closed = np.array([ways.axes[axis].closed for axis in busy])
        shape = shape_of(lines, closed)
        stations = stations_of(lines, shape, settings.max_offset)
        at = stations.rays
        seen = see_pieces(
            stations,
            busy,
            ways,
            PieceSigmas(self.sigma, self.sigma_up, settings.confidence),
            2 * settings.max_offset,
            progress,
        )
        self.seen, self.stations, self.busy = seen, stations, busy

        share = shares_of(seen, stations, lines, closed, ~seen.out, self.sigma, settings.blend)
        share_up = shares_of(
            seen,
            stations,
            lines,
            closed,
            ~(seen.out | seen.out_up) & np.isfinite(seen.z),
            self.sigma_up,
            settings.blend,
        )
        total = lambda values: np.bincount(seen.station, values, len(at))  # noqa: E731
        there, there_up = total(share) > 0, total(share_up) > 0
        offset = fill_along(total(share * seen.offset), there, at)
        base = heights_along(lines)
        base_at = base[shape.vertex[stations.segment]] + stations.local / shape.length[
            stations.segment
        ] * (base[shape.vertex[stations.segment] + 1] - base[shape.vertex[stations.segment]])
        up = fill_along(total(share_up * np.nan_to_num(seen.z)) - base_at, there_up, at)
        up[far_from(there_up, at, settings.blend)] = np.nan
        x, y = displaced_vertices(lines, shape, stations, np.nan_to_num(offset))
        z = base + sum(at_vertices(up, stations, shape)) / 2
        along = cumulative(lines.steps(), lines.offsets)
        # corners, ends and stations in order along each axis
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
        starts = np.searchsorted(part[order], np.arange(len(busy) + 1))
        keep[starts[:-1]] = keep[starts[1:] - 1] = True
        held = np.flatnonzero(keep)
        sections = np.column_stack([held[:-1], held[1:]])[
            part[order][held[:-1]] == part[order][held[1:]]
        ]
        keep = thin(
            *xyz.T,
            keep,
            sections,
            settings.tolerance,
            PASSES.up_tolerance_ratio * settings.tolerance,
        )

        figures = path_figures(
            seen, stations, share, share_up, self.sigma, self.sigma_up, len(busy)
        )
        self.overall = figures.pop("overall")
        per_pass = [[] for _ in busy]
        for one in pass_figures(seen, stations, len(self.pieces)):
            per_pass[one["axis"]].append(one)
        out = {}
        for number, axis in enumerate(busy.tolist()):
            rows = slice(starts[number], starts[number + 1])
            line = xyz[rows][keep[rows]]
            made = ways.axes[axis]
            votes = per_pass[number]
            turn = sum(one["along"] * self.forward(one) for one in votes) < 0
            sign = -1.0 if turn else 1.0
            ends = self.ends_of(made)
            out[axis] = {
                "xyz": line[::-1] if turn else line,
                "state": MERGED,
                "unchanged": -1,
                "passes": len(votes),
                "closed": bool(made.closed),
                "ends": ends[::-1] if turn else ends,
                "attached": made.attached[::-1] if turn else made.attached,
                "scale": self.scale_of(made.chain[0][0]),
                "turned": turn,
                **{name: float(values[number]) for name, values in figures.items()},
            }
            for one in votes:
                rows = rays_of(self.rays, one["piece"])
                own = np.flatnonzero(ways.owner[rows] == axis)
                weight = float(self.rays.weight[rows.start])
                self.add_pass(
                    axis,
                    one["piece"],
                    MERGED,
                    own[0] * weight,
                    (own[-1] + 1) * weight,
                    self.forward(one) == sign,
                    shared=one["shared"],
                    figures=(
                        sign * one["offset_mean"],
                        one["offset_rms"],
                        one["up_mean"],
                        one["up_rms"],
                    ),
                )
        return out

    def forward(self, one):
        """1 where the walk, in its own direction, runs along the axis, -1 against it."""
        return (1 if one["same"] else -1) * (-1 if self.pieces.backwards[one["piece"]] else 1)

    def attach(self):
        """Let the ends of what branches off begin on the line that it leaves."""
        import shapely

        for number, edge in enumerate(self.edges):
            targets = [
                self.edges[axis]["xyz"] if axis >= 0 and axis != number else None
                for axis in edge["attached"]
            ]
            if any(target is not None for target in targets):
                edge["xyz"] = _onto(shapely, edge["xyz"], targets, self.settings)

    # Lists

    def add_pass(
        self, edge, piece, state, start, stop, same, shared=0.0, figures=(np.nan,) * 4, part=None
    ):
        pieces = self.pieces
        low, high = start, stop
        if pieces.backwards[piece]:
            low, high = self.ways.length[piece] - stop, self.ways.length[piece] - start
        scale = self.scale_of(piece)
        begin = pieces.start[piece]
        self.passes.append(
            (
                edge,
                int(pieces.part[piece]) if part is None else part,
                state,
                (begin + low) / scale,
                (begin + high) / scale,
                bool(same),
                shared / scale,
                *(value / scale if index < 2 else value for index, value in enumerate(figures)),
            )
        )

    def add_listed(self, xyz, edge, own, piece, reason, length, figures):
        self.listed.append(
            (
                xyz,
                edge,
                own,
                int(self.pieces.part[piece]),
                REASONS.index(reason),
                length / self.scale_of(piece),
                *figures,
            )
        )

    def list_apart(self):
        """Stretches that are not of one mind with the others: in plan, edges of their own; in
        height, listed."""
        import shapely

        seen = self.seen
        if seen is None:
            return
        rays = self.stations.rays
        blend = self.settings.blend
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
                piece, number = int(seen.piece[run[0]]), int(rays.part[seen.station[run[0]]])
                axis = int(self.busy[number])
                ring, size = bool(self.pieces.closed[piece]), float(self.ways.length[piece])
                low, high = sorted((seen.chainage[run[0]], seen.chainage[run[-1]]))
                if ring and high - low > size / 2:  # over the seam
                    low, high = high, low + size
                half = self.rays.weight[self.rays.first[piece]] / 2
                low, high = (
                    (low - half, high + half)
                    if ring
                    else (max(low - half, 0.0), min(high + half, size))
                )
                walked = extract(self.pieces.lines, piece, low, high, ring)
                turn = bool(self.pieces.backwards[piece])
                sign = -1.0 if self.edges[axis]["turned"] else 1.0
                offset, up = sign * seen.from_others[run], seen.up_from_others[run]
                own = -1
                if reason == "plan" and high - low >= PASSES.min_edge:
                    # the stretch as walked, and on either side of it the way from the merged edge
                    # and back to it
                    ends = (
                        (low - blend, high + blend)
                        if ring
                        else (max(low - blend, 0.0), min(high + blend, size))
                    )
                    xyz = extract(self.pieces.lines, piece, *ends, ring)
                    target = self.edges[axis]["xyz"]
                    xyz = _onto(
                        shapely,
                        xyz,
                        (
                            target if ring or ends[0] > 0.0 else None,
                            target if ring or ends[1] < size else None,
                        ),
                        self.settings,
                    )
                    own = len(self.edges)
                    self.edges.append(
                        {
                            "xyz": xyz[::-1] if turn else xyz,
                            "state": APART,
                            "unchanged": -1,
                            "passes": 1,
                            "shared": 0.0,
                            "sigma": self.sigma[piece],
                            "sigma_up": self.sigma_up[piece] if self.has_z[piece] else np.nan,
                            "repeatability": np.nan,
                            "repeatability_up": np.nan,
                            "closed": False,
                            "ends": np.full((2, 2), -1),
                            "scale": self.scale_of(piece),
                        }
                    )
                    self.add_pass(own, piece, APART, low, high, True)
                self.add_listed(
                    walked[::-1] if turn else walked,
                    axis,
                    own,
                    piece,
                    reason,
                    high - low,
                    (
                        *_mean_and_most(offset),
                        *_mean_and_most(up),
                        float(np.mean(seen.limit[run])),
                        _mean(seen.limit_up[run]),
                    ),
                )

    def list_parted(self):
        """Ways that leave a merged edge beyond reach and come back to it, and remnants."""
        import shapely

        for axis, made in enumerate(self.ways.axes):
            if self.edges[axis]["state"] == REST and made.attached[0] == made.attached[1] >= 0:
                piece, start, stop = made.chain[0]
                self._list_beside(shapely, piece, start, stop, made.attached[0], axis, "parted")
        for piece, start, stop, attached in self.ways.remnants:
            self.add_pass(-1, piece, PASS_STATES.index("remnant"), start, stop, True)
            self._list_beside(shapely, piece, start, stop, max(attached), -1, "remnant")

    def list_far(self, progress):
        """What an overlap bridged and no edge shows: every place of the source is within reach of
        an edge, or listed."""
        import shapely

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
                self.add_pass(-1, piece, PASS_STATES.index("remnant"), start, stop, True)
                self._list_beside(shapely, piece, start, stop, edge, -1, "remnant")

    def _list_beside(self, shapely, piece, start, stop, edge, own, reason):
        xyz = extract(self.pieces.lines, piece, start, stop, bool(self.pieces.closed[piece]))
        xyz = xyz[::-1] if self.pieces.backwards[piece] else xyz
        target = self.edges[edge]["xyz"]
        with np.errstate(invalid="ignore"):  # GEOS leaves the flag set
            away = shapely.distance(
                shapely.points(xyz[:, :2]), shapely.linestrings(target[:, :2])
            ) * _side(target, xyz)
        self.add_listed(
            xyz,
            edge,
            own,
            piece,
            reason,
            stop - start,
            (*_mean_and_most(away), np.nan, np.nan, self.settings.max_offset, np.nan),
        )

    def list_others(self):
        """Pieces that lie beside one another within reach, but show two edges."""
        rows = np.flatnonzero(~self.laid.fine)
        own, other = self.rays.part[self.laid.station[rows]], self.laid.other[rows]
        rows = rows[own > other]  # told once, by the shorter one
        own, other = self.rays.part[self.laid.station[rows]], self.laid.other[rows]
        main = lambda piece: (
            int(np.bincount(self.ways.owner[rays_of(self.rays, piece)] + 2).argmax()) - 2
        )
        pairs, number = np.unique(np.column_stack([own, other]), axis=0, return_counts=True)
        told = set()
        for pair in pairs[np.lexsort((pairs[:, 1], -number))].tolist():
            edges = [max(main(piece), -1) for piece in pair]
            # nothing where a third walk showed that they belong together; each walk once beside an
            # edge, however many walks that has
            if edges[0] == edges[1] or (pair[0], edges[1]) in told:
                continue
            told.add((pair[0], edges[1]))
            mine = rows[(own == pair[0]) & (other == pair[1])]
            stations = self.laid.station[mine]
            flag = np.zeros(self.rays.first[pair[0] + 1] - self.rays.first[pair[0]], bool)
            flag[stations - self.rays.first[pair[0]]] = True
            weight = float(self.rays.weight[self.rays.first[pair[0]]])
            for first, last, start, stop in runs_of(
                flag,
                self.rays.chainage[rays_of(self.rays, pair[0])],
                weight,
                float(self.ways.length[pair[0]]),
                bool(self.pieces.closed[pair[0]]),
            ):
                base = self.rays.first[pair[0]]
                part = mine[np.isin(stations, base + np.arange(first, last + 1) % len(flag))]
                sense = np.where(self.laid.same[part], 1.0, -1.0) * (
                    -1.0 if self.reverse_of(pair[1], edges[1]) else 1.0
                )
                # the other lies to the right by `offset`: this one to its left, in the direction of
                # its own edge
                offset, up = -self.laid.offset[part] * sense, -self.laid.up[part]
                xyz = extract(
                    self.pieces.lines, pair[0], start, stop, bool(self.pieces.closed[pair[0]])
                )
                self.add_listed(
                    xyz[::-1] if self.pieces.backwards[pair[0]] else xyz,
                    edges[1],
                    edges[0],
                    pair[0],
                    "other_edge",
                    stop - start,
                    (
                        *_mean_and_most(offset),
                        *_mean_and_most(up),
                        max(
                            float(
                                limit_of(
                                    self.settings.confidence,
                                    self.sigma[pair[0]],
                                    self.sigma[pair[1]],
                                )
                            ),
                            OVERLAPS.min_difference,
                        ),
                        max(
                            float(
                                limit_of(
                                    self.settings.confidence,
                                    self.sigma_up[pair[0]],
                                    self.sigma_up[pair[1]],
                                )
                            ),
                            OVERLAPS.min_difference_up,
                        ),
                    ),
                )

    def reverse_of(self, piece, edge):
        """True where a piece runs against the edge that it is in."""
        if edge < 0 or self.edges[edge]["state"] != MERGED:
            return bool(self.pieces.backwards[piece])
        for found, part, _, _, _, same, *_ in self.passes:
            if found == edge and part == self.pieces.part[piece]:
                return same == bool(self.pieces.backwards[piece])
        return False

    def collect(self):
        edges = self.edges
        column = lambda name, kind: np.array([edge[name] for edge in edges], kind)  # noqa: E731
        offsets = offsets_of(np.array([len(edge["xyz"]) for edge in edges], np.int64)).astype(
            np.int64
        )
        x, y, z = (
            np.concatenate([edge["xyz"] for edge in edges]).T.copy() if edges else np.zeros((3, 0))
        )
        scale = column("scale", float)
        length = (
            np.array([np.hypot(*np.diff(edge["xyz"][:, :2], axis=0).T).sum() for edge in edges])
            / scale
            if edges
            else np.zeros(0)
        )
        merged = MergedEdges(
            x,
            y,
            z,
            offsets,
            column("state", np.int64),
            column("unchanged", np.int64),
            column("passes", np.int64),
            np.minimum(column("shared", float) / scale, length),
            length,
            *(
                column(name, float)
                for name in ("sigma", "sigma_up", "repeatability", "repeatability_up")
            ),
            column("closed", bool),
            np.array([edge["ends"] for edge in edges], np.int64).reshape(-1, 2, 2),
        )
        rows = sorted(
            self.passes, key=lambda row: (row[0] if row[0] >= 0 else len(edges), row[1], row[3])
        )
        kinds = (np.int64, np.int64, np.int64, float, float, bool, *[float] * 5)
        passes = Passes(
            *(np.array([row[index] for row in rows], kind) for index, kind in enumerate(kinds))
        )
        listed = sorted(self.listed, key=lambda row: (row[1], row[4], row[3], -row[5]))
        sizes = offsets_of(np.array([len(row[0]) for row in listed], np.int64))
        flat = np.concatenate([row[0] for row in listed]) if listed else np.zeros((0, 3))
        disagreements = Disagreements(
            *flat.T.copy(),
            sizes,
            *(
                np.array([row[index] for row in listed], np.int64 if index < 5 else float)
                for index in range(1, 12)
            ),
        )
        return Merge(merged, passes, disagreements, *self.overall)


def rays_of(rays, piece):
    return slice(rays.first[piece], rays.first[piece + 1])


def _mean(values):
    values = values[np.isfinite(values)]
    return float(values.mean()) if len(values) else np.nan


def _mean_and_most(values):
    """Mean, and the value farthest from 0 with its sign; NaN where there is none."""
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


def _onto(shapely, xyz, targets, settings):
    """A line whose ends lie on others (None for an end that stays); it comes away from them over
    the blend length, or a third of its own."""
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
            steps = offsets_of(np.hypot(*np.diff(target[:, :2], axis=0).T))
            vector = np.array([np.interp(along, steps, column) for column in target.T]) - end
            # else there is nothing to come away from
            if np.hypot(*vector[:2]) <= 2 * settings.max_offset:
                vectors[-1] = vector
    length = float(np.hypot(*np.diff(xyz[:, :2], axis=0).T).sum())
    return eased(xyz, min(settings.blend, length / 3), *vectors)
