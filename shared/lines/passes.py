"""Several walks of one edge into one weighted edge.

The longest walk leads; where it ends and another one continues, that one takes over. All walks are
intersected at stations along this line, and the merged edge lies at their weighted mean there. A
walk gains and loses its weight gradually, so that there is no step where it begins or ends. Corners
lie where the merged legs meet, so that corners of two walks a few millimetres apart become one.

Where walks differ by more than their uncertainty explains, they are not averaged: the edge follows
those that agree (of two walks, the straighter one), and the stretch of the other walk stays as it
is, as an edge of its own.
"""

from dataclasses import dataclass

import numpy as np

from ..tuning import PASSES
from .merge_apart import list_apart
from .merge_beyond import list_far, list_parted
from .merge_edges import alone, attach, merged
from .merge_figures import Repeatability, pass_figures, path_figures
from .merge_majority import prefer_majority
from .merge_means import PieceSigmas
from .merge_others import list_others, main_paths
from .merge_paths import MergePaths
from .merge_records import Made, Stretch, pass_of
from .merge_tables import collect
from .overlaps import lay_on_each_other
from .path_means import average, meet_paths
from .pieces import cut_pieces


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
    prefer_majority(ways)
    sigmas = PieceSigmas(sigma, sigma_up, settings.confidence)
    telling = _Telling(lambda share: progress(0.6 + 0.4 * share))
    result = _finish(ways, laid, sigmas, settings, telling)
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


class _Telling:
    """Reports progress, and the same share again to let the caller stop."""

    def __init__(self, progress):
        self.progress, self.share = progress, 0.0

    def __call__(self, share):
        self.share = share
        self.progress(share)

    def again(self):
        """Report the last share once more."""
        self.progress(self.share)


def _finish(ways, laid, sigmas, settings, telling):
    """Edges, passes and disagreements from paths: `Merge`."""
    reach, blend = settings.max_offset, settings.blend
    merged_paths, passes, met, repeatability = _merged(ways, sigmas, settings, telling)
    made = Made(passes=passes)
    for number in range(len(ways.paths)):
        if number % PASSES.progress_step == 0:
            telling(0.5 + 0.3 * number / len(ways.paths))
        edge = merged_paths.get(number)
        if edge is None:
            edge, own = alone(ways, number, sigmas)
            made.passes.append(own)
        made.edges.append(edge)
    attach(made.edges, reach, blend, telling.again)
    if met is not None:
        made.add(list_apart(met, ways, made.edges, sigmas, reach, blend))
    made.add(list_parted(ways, made.edges, reach))
    made.add(
        list_far(
            ways,
            made.edges,
            reach,
            settings.tolerance,
            lambda share: telling(0.8 + 0.1 * share),
        )
    )
    main = main_paths(ways)
    made.listed += list_others(ways, laid, sigmas, made, main, telling.again)
    for part, piece in ways.pieces.copies.tolist():
        whole = Stretch(piece, 0.0, float(ways.length[piece]))
        made.passes.append(pass_of(ways, whole, int(main[piece]), "copy", part=part))
    return collect(made, repeatability)


def _merged(ways, sigmas, settings, telling):
    """Edges that several walks show, by path, their passes, what was seen along them (None if there
    is none), and the repeatability over all."""
    busy = np.flatnonzero(_shown_by_several(ways))
    if not len(busy):
        return {}, [], None, Repeatability()
    met = meet_paths(ways, busy, sigmas, settings.max_offset, lambda share: telling(0.5 * share))
    telling.again()
    mean = average(met, sigmas, settings.blend, settings.tolerance)
    telling.again()
    figures, repeatability = path_figures(
        met.seen, met.stations, (mean.share, mean.share_up), (sigmas.plan, sigmas.up), len(busy)
    )
    walks = [[] for _ in busy]
    for one in pass_figures(met.seen, met.stations, len(ways.pieces)):
        walks[one.path].append(one)
    edges, passes = {}, []
    for place, number in enumerate(busy.tolist()):
        telling.again()
        edges[number], own = merged(ways, number, mean.written(place), walks[place], place, figures)
        passes += own
    return edges, passes, met, repeatability


def _shown_by_several(ways):
    """Mask of the paths that stations of several pieces belong to, or that go on along another."""
    taken = ways.owner >= 0
    wide = max(len(ways.pieces), 1)
    pairs = np.unique(ways.owner[taken] * wide + ways.rays.part[taken])
    several = np.bincount(pairs // wide, minlength=len(ways.paths)) > 1
    return several | np.array([len(path.chain) > 1 for path in ways.paths], bool)
