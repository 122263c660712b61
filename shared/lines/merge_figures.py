"""What walks of one edge say of their mean: sigmas of merged paths, repeatability, and how far each
walk is off the others."""

from dataclasses import dataclass

import numpy as np


@dataclass(frozen=True)
class PathFigures:
    """Figures of paths, arrays of shape (paths,), metres.

    `sigma`, `sigma_up`: of the mean, over the length; `shared`: length that two or more pieces
    show; `repeatability`, `repeatability_up`: RMS of the differences between two pieces. NaN where
    nothing is known.
    """

    sigma: np.ndarray
    sigma_up: np.ndarray
    shared: np.ndarray
    repeatability: np.ndarray
    repeatability_up: np.ndarray


@dataclass(frozen=True)
class Repeatability:
    """RMS of the differences between two pieces over all paths, and the same as expected from their
    sigmas; metres, NaN if nothing is shared."""

    plan: float = np.nan
    up: float = np.nan
    expected: float = np.nan
    expected_up: float = np.nan


@dataclass(frozen=True)
class Differences:
    """A piece next to others: length that it shares with them, mean difference from the mean of
    the others, RMS of the differences from each of them; metres, NaN without others."""

    shared: float = 0.0
    offset_mean: float = np.nan
    offset_rms: float = np.nan
    up_mean: float = np.nan
    up_rms: float = np.nan


@dataclass(frozen=True)
class PieceOnPath:
    """A piece on a path.

    `path`: number of the path among those that were met; `along`: length of the path that the
    piece shows, metres; `same`: both run the same way over most of it.
    """

    path: int
    piece: int
    along: float
    same: bool
    differences: Differences


def path_figures(seen, stations, shares, sigmas, count):
    """Sigmas, shared length and repeatability of each path, and repeatability over all of them.

    Parameters
    ----------
    seen : SeenPieces
    stations : PathStations
    shares : pair of ndarray of float, shape (r,)
        In plan and in height, see `merge_means.shares_of`.
    sigmas : pair of ndarray of float, shape (p,)
        1-sigma of the pieces in plan and in height, metres.
    count : int
        Number of paths.

    Returns
    -------
    PathFigures
    Repeatability
    """
    plan, up = (
        _agreement(seen, stations.rays, values, share=share, sigma=sigma, count=count)
        for values, share, sigma in zip((seen.offset, seen.z), shares, sigmas)
    )
    figures = PathFigures(
        sigma=plan.sigma,
        sigma_up=up.sigma,
        shared=plan.shared,
        repeatability=plan.repeatability,
        repeatability_up=up.repeatability,
    )
    return figures, Repeatability(plan.overall, up.overall, plan.expected, up.expected)


@dataclass(frozen=True)
class _Agreement:
    """Figures in plan or in height: by path, and over all of them."""

    sigma: np.ndarray
    repeatability: np.ndarray
    shared: np.ndarray
    overall: float
    expected: float


def _agreement(seen, rays, values, share, sigma, count):
    """Figures of `values`, offsets or heights of the rows of `seen`: `_Agreement`."""
    size, used = len(rays), share > 0
    station, piece, value = seen.station[used], seen.piece[used], values[used]
    n = np.bincount(station, minlength=size)

    def by_path(amount):
        return np.bincount(rays.part, rays.weight * amount, count)

    variance = np.bincount(station, share[used] ** 2 * sigma[piece] ** 2, size)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.bincount(station, value, size) / n
        rest = np.bincount(station, (value - mean[station]) ** 2, size)
        # the squared differences of all pairs at a station sum to n times the squared deviations
        # from the mean
        squares = np.bincount(rays.part, rays.weight * n * rest, count)
        pairs = np.bincount(rays.part, rays.weight * n * (n - 1) / 2, count)
        expected = np.bincount(
            rays.part,
            rays.weight * np.maximum(n - 1, 0) * np.bincount(station, sigma[piece] ** 2, size),
            count,
        )
        return _Agreement(
            sigma=np.sqrt(by_path(variance) / by_path(n > 0)),
            repeatability=np.sqrt(squares / pairs),
            shared=by_path(n > 1),
            overall=float(np.sqrt(squares.sum() / pairs.sum())),
            expected=float(np.sqrt(expected.sum() / pairs.sum())),
        )


def pass_figures(seen, stations, pieces):
    """Each piece compared with the others on each path.

    Parameters
    ----------
    seen : SeenPieces
    stations : PathStations
    pieces : int
        Number of pieces.

    Returns
    -------
    list of PieceOnPath
        One for each path and piece, in the order of paths.
    """
    rays = stations.rays
    key = rays.part[seen.station] * pieces + seen.piece
    different, of = np.unique(key, return_inverse=True)
    of, count = of.reshape(-1), len(different)
    shared, offset_mean, offset_rms = _from_others(seen, rays, seen.offset, ~seen.out, of, count)
    agree_up = ~(seen.out | seen.out_up) & np.isfinite(seen.z)
    _, up_mean, up_rms = _from_others(seen, rays, seen.z, agree_up, of, count)
    weight = rays.weight[seen.station]
    along = np.bincount(of, weight, count)
    same = np.bincount(of, weight * seen.same, count) > along / 2
    return [
        PieceOnPath(
            path=int(different[row] // pieces),
            piece=int(different[row] % pieces),
            along=float(along[row]),
            same=bool(same[row]),
            differences=Differences(
                shared=float(shared[row]),
                offset_mean=float(offset_mean[row]),
                offset_rms=float(offset_rms[row]),
                up_mean=float(up_mean[row]),
                up_rms=float(up_rms[row]),
            ),
        )
        for row in range(count)
    ]


def _from_others(seen, rays, values, used, of, count):
    """Shared length, mean and RMS of the differences from others, arrays of shape (count,); `of`:
    path and piece that each row of `seen` belongs to."""
    size, station = len(rays), seen.station
    n = np.bincount(station[used], minlength=size)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.bincount(station[used], values[used], size) / n
        rest = np.bincount(station[used], (values[used] - mean[station[used]]) ** 2, size)
        use = used & (n[station] > 1)
        many, away = n[station[use]], values[use] - mean[station[use]]
        weight = rays.weight[station[use]]

        def total(amount):
            return np.bincount(of[use], weight * amount, count)

        shared = total(np.ones(len(many)))
        return (
            shared,
            total(many / (many - 1.0) * away) / shared,
            np.sqrt(total(many * away**2 + rest[station[use]]) / total(many - 1.0)),
        )
