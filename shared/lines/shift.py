"""The shift of a whole layer of lines, from offsets that each show only its part across a line."""

from dataclasses import dataclass

import numpy as np
from scipy.special import fdtri

from ..arrays.ragged import MAD_TO_SIGMA, offsets_from_starts, stretch_starts
from ..language import marked
from ..tuning import SHIFT
from .lines import points_at
from .shift_results import MODELS, Shift, no_shift
from .shift_start import start


def layer_shift(existing, rays, met, model, reach, confidence, progress=lambda share: None):
    """Estimate the shift from the candidates of the existing lines' stations.

    Parameters
    ----------
    existing : Lines
    rays : Rays
        Stations of the existing lines.
    met : Candidates
        Of these stations among the edges.
    model : str
        One of `MODELS`.
    reach : float
        Greatest shift that is searched for, metres.
    confidence : float
        Of the test of significance, between 0 and 1.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    Shift
    """
    i = met.station
    line = existing.line[rays.part[i]] if len(i) else np.zeros(0, np.int64)
    # the direction of a short segment between close vertices is mostly noise
    progress(0.0)
    along_x, along_y = _smooth_direction(existing, rays)
    progress(0.1)
    east, north = along_y[i], -along_x[i]
    observations = Observations(
        station=i,
        east=east,
        north=north,
        offset=met.offset * (east * rays.along_y[i] - north * rays.along_x[i]),
        weight=rays.weight[i],
        line=line,
        chainage=existing.part_start()[rays.part[i]] + rays.chainage[i],
        x=rays.x[i],
        y=rays.y[i],
    )
    return estimate(
        observations, model, reach, confidence, lambda share: progress(0.1 + 0.9 * share)
    )


def _smooth_direction(lines, rays):
    """Unit vectors of the chord around each station, or of its segment where the line turns."""
    if not len(rays):
        return rays.along_x, rays.along_y
    length = rays.weight * np.diff(rays.first)[rays.part]
    low, high = (
        points_at(lines, rays.part, np.clip(rays.chainage + side * SHIFT.chord / 2, 0.0, length))[
            :2
        ]
        for side in (-1, 1)
    )
    dx, dy = high[0] - low[0], high[1] - low[1]
    size = np.hypot(dx, dy)
    fine = size > 0.9 * np.minimum(SHIFT.chord, length)
    dx, dy = (
        np.where(fine, dx / np.maximum(size, 1e-12), rays.along_x),
        np.where(fine, dy / np.maximum(size, 1e-12), rays.along_y),
    )
    alike = dx * rays.along_x + dy * rays.along_y > SHIFT.turned_cosine
    return np.where(alike, dx, rays.along_x), np.where(alike, dy, rays.along_y)


@dataclass(frozen=True)
class Observations:
    """Offsets, which show the shift across each line; arrays of shape (c,), in the order of
    stations.

    Attributes
    ----------
    station : ndarray of int
        Station of each candidate, rising; of each station the candidate that fits best counts.
    east, north : ndarray of float
        Unit vectors to the right of the existing line at the station.
    offset : ndarray of float
        Of the edge, + to the right, metres.
    weight : ndarray of float
        Length of line that the station stands for, metres.
    line : ndarray of int
        Existing line of the station.
    chainage : ndarray of float
        Along it, metres.
    x, y : ndarray of float
        Position of the station, local frame, metres.
    """

    station: np.ndarray
    east: np.ndarray
    north: np.ndarray
    offset: np.ndarray
    weight: np.ndarray
    line: np.ndarray
    chainage: np.ndarray
    x: np.ndarray
    y: np.ndarray

    def __len__(self):
        return len(self.station)


def estimate(
    observations,
    model="translation",
    reach=2.0,
    confidence=0.95,
    progress=lambda share: None,
):
    """Estimate the shift by robust least squares on the normals.

    An offset shows only the component of the shift across its line: ``n . (t + rotation * J p +
    scale * p) = -offset``, with n the unit normal, p the position from the centre and J a quarter
    turn. Weights are Tukey's biweight, which gives none to lines that really moved; `start` gives
    the approximation to begin with. The covariance is the sandwich estimator with lines as clusters
    (Liang and Zeger 1986, Biometrika 73; from memory), since stations along a line err together.

    Parameters
    ----------
    observations : Observations
    model : str
        One of `MODELS`.
    reach : float
        Greatest shift that is searched for, metres.
    confidence : float
        Of the test of significance, between 0 and 1.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    Shift

    Raises
    ------
    ValueError
        If `model` is not known.
    """
    if model not in MODELS:
        raise ValueError(f"model must be one of {', '.join(MODELS)}, got {model}")
    if not len(observations):
        return no_shift(
            model,
            marked("no station of the existing lines has a counterpart within the search distance"),
            confidence,
        )
    problem = _Problem.of(observations, model)
    beta = np.zeros(problem.design.shape[1])
    progress(0.1)
    beta[:2] = start(observations.east, observations.north, problem.wanted, problem.weight, reach)
    progress(0.3)
    beta, scale = _reweighted(problem, beta, reach, progress)
    return _assess(problem, beta, scale, model, confidence)


@dataclass(frozen=True)
class _Problem:
    """The observation equations ``design @ beta = wanted`` of all candidates.

    `starts`: where each station's candidates begin; `weight`, `line`, `chainage`: of each
    candidate; `radius`: metres by which the columns of rotation and scale are divided; `origin`: of
    positions; `metres`: length of line that each station stands for.
    """

    starts: np.ndarray
    design: np.ndarray
    wanted: np.ndarray
    weight: np.ndarray
    line: np.ndarray
    chainage: np.ndarray
    radius: float
    origin: np.ndarray
    metres: np.ndarray

    @classmethod
    def of(cls, observations, model):
        """The equations of a model."""
        east, north, weight = observations.east, observations.north, observations.weight
        starts = offsets_from_starts(stretch_starts(observations.station))
        first = starts[:-1]
        origin = np.array(
            [
                np.average(observations.x, weights=weight),
                np.average(observations.y, weights=weight),
            ]
        )
        px, py = observations.x - origin[0], observations.y - origin[1]
        # rotation and scale in metres at this distance, so that all columns have one size
        radius = max(float(np.sqrt(np.average(px**2 + py**2, weights=weight))), 1e-6)
        columns = {"translation": 2, "rigid": 3, "similarity": 4}[model]
        design = np.column_stack(
            [east, north, (-py * east + px * north) / radius, (px * east + py * north) / radius]
        )[:, :columns]
        # errors along a line are correlated, so a long line counts for less than its length
        length = np.bincount(observations.line[first], weight[first])
        return cls(
            starts=starts,
            design=design,
            wanted=-observations.offset,
            weight=weight / (1 + length[observations.line] / SHIFT.correlation_length),
            line=observations.line,
            chainage=observations.chainage,
            radius=radius,
            origin=origin,
            metres=weight[first],
        )

    def closest(self, beta):
        """Row of the best-fitting candidate of each station, and its residual."""
        return _closest(self.wanted - self.design @ beta, self.starts)


def _reweighted(problem, beta, reach, progress):
    """Iteratively reweighted least squares: the parameters and the scale of the residuals. It
    starts with the translation; rotation and then scale factor are added."""
    columns = len(beta)
    scale = SHIFT.first_scale * SHIFT.blur
    for seen in range(2, columns + 1):
        if seen > 2:
            scale = max(scale, SHIFT.turn_scale * reach)
        for turn in range(SHIFT.max_rounds):
            progress(0.3 + 0.2 * (seen - 1 - 0.8**turn))  # a few rounds are usually enough
            row, residual = problem.closest(beta)
            psi = _biweight(residual, scale)
            step, _, _ = _solve(problem.design[row, :seen], problem.weight[row] * psi, residual)
            beta[:seen] += step
            row, residual = problem.closest(beta)
            inner = np.abs(residual) < SHIFT.biweight * scale
            spread = max(
                MAD_TO_SIGMA
                * _weighted_median(np.abs(residual[inner]), problem.weight[row][inner]),
                SHIFT.min_noise,
            )
            former = scale
            scale = (
                max(spread, SHIFT.shrink * scale)
                if spread < scale
                else min(spread, SHIFT.growth * scale)
            )
            if np.abs(step).max() < 1e-7 and abs(scale - former) < 1e-3 * former:
                break
        progress(0.3 + 0.2 * (seen - 1))
    return beta, scale


def _closest(residual, starts):
    """Row with the least residual of each station, and that residual."""
    size = np.abs(residual)
    least = np.repeat(np.minimum.reduceat(size, starts[:-1]), np.diff(starts))
    row = np.flatnonzero(size == least)
    station = np.searchsorted(starts, row, "right")
    row = row[stretch_starts(station)]  # the first of equal ones
    return row, residual[row]


def _biweight(residual, scale):
    """Tukey's biweight of residuals."""
    u = residual / (SHIFT.biweight * scale)
    return np.where(np.abs(u) < 1, (1 - u**2) ** 2, 0.0)


def _weighted_median(values, weight):
    """Lower weighted median, 0 for no values."""
    if not len(values):
        return 0.0
    order = np.argsort(values)
    total = np.cumsum(weight[order])
    return float(values[order][np.searchsorted(total, total[-1] / 2)])


def _solve(design, weight, residual):
    """Least squares in the directions that the lines determine: the step, the pseudo-inverse of the
    normal matrix, and the undetermined directions as rows."""
    normal = (design * weight[:, None]).T @ design
    size, axes = np.linalg.eigh(normal)
    seen = size > SHIFT.min_information * max(size[-1], 1e-300)
    inverse = (axes[:, seen] / size[seen]) @ axes[:, seen].T
    return inverse @ (design.T @ (weight * residual)), inverse, axes[:, ~seen].T


def _assess(problem, beta, scale, model, confidence):
    """The `Shift` with its sigmas, its test and its undetermined directions."""
    row, residual = problem.closest(beta)
    design, weight, columns = problem.design[row], problem.weight[row], len(beta)
    psi = _biweight(residual, scale)
    if not (psi > 0).any():
        return no_shift(
            model,
            marked("no two stations agree on a shift"),
            confidence,
            float(problem.metres.sum()),
        )
    _, inverse, unseen = _solve(design, weight * psi, residual)
    seen = np.eye(columns) - unseen.T @ unseen
    beta = seen @ beta
    half = psi >= 0.5
    line = problem.line[row]
    lines = np.unique(line[half])
    cluster = line
    if len(lines) < SHIFT.few_lines:
        stretch = (problem.chainage[row] / SHIFT.cluster_length).astype(np.int64)
        cluster = np.unique(np.column_stack([line, stretch]), axis=0, return_inverse=True)[
            1
        ].reshape(-1)
    number = len(np.unique(cluster[half]))
    parameters = columns - len(unseen)
    free = number - parameters
    covariance = np.full((columns, columns), np.nan)
    statistic = critical = np.nan
    if free > 0:
        bread = inverse / _slope(residual, scale, weight, psi)
        score = np.zeros((int(cluster.max()) + 1, columns))
        np.add.at(score, cluster, design * (weight * psi * residual)[:, None])
        covariance = bread @ (score.T @ score) @ bread * number / free
        covariance += seen * SHIFT.min_noise**2 / number
        statistic = float(
            beta @ np.linalg.pinv(covariance, rcond=1e-10, hermitian=True) @ beta / parameters
        )
        critical = float(fdtri(parameters, free, confidence))
    return Shift(
        **_parameters(beta, covariance, unseen, problem.radius),
        model=model,
        significant=bool(statistic > critical),
        origin=(float(problem.origin[0]), float(problem.origin[1])),
        statistic=statistic,
        critical=critical,
        degrees=(int(parameters), int(max(free, 0))),
        confidence=confidence,
        used_length=float(problem.metres[half].sum()),
        offered_length=float(problem.metres.sum()),
        used_lines=len(lines),
        noise=float(scale),
    )


def _slope(residual, scale, weight, psi):
    """Mean derivative of psi, the biweight's influence function, over its mean weight."""
    u2 = (residual / (SHIFT.biweight * scale)) ** 2
    slope = np.where(u2 < 1, (1 - u2) * (1 - 5 * u2), 0.0)
    return max(float((weight * slope).sum() / (weight * psi).sum()), SHIFT.min_slope)


def _parameters(beta, covariance, unseen, radius):
    """Fields of `Shift` that follow from the parameters and their covariance; NaN if
    undetermined."""
    columns = len(beta)
    # a parameter is determined if hardly any of it lies in an undetermined direction
    clear = (unseen**2).sum(axis=0) < SHIFT.max_hidden if len(unseen) else np.ones(columns, bool)
    value = np.where(clear, beta, np.nan)
    with np.errstate(invalid="ignore"):
        sigma = np.where(clear, np.sqrt(np.diag(covariance)), np.nan)
    value, sigma = (np.concatenate([a, np.full(4 - columns, np.nan)]) for a in (value, sigma))
    azimuth = across = sigma_across = np.nan
    if not clear[:2].all():
        hidden = unseen[np.argmax(np.hypot(unseen[:, 0], unseen[:, 1]))][:2]
        azimuth = float(np.degrees(np.arctan2(hidden[0], hidden[1])) % 180)
        right = np.array([np.cos(np.radians(azimuth)), -np.sin(np.radians(azimuth))])
        across = float(right @ beta[:2])
        sigma_across = float(np.sqrt(right @ covariance[:2, :2] @ right))
    known = np.concatenate([beta, np.zeros(4 - columns)])
    known[2:] = _turn_and_growth(*known[2:] / radius, columns)
    rotation, factor = known[2], 1 + known[3]
    if columns > 2 and not clear[2]:
        rotation = np.nan
    if columns > 3 and not clear[3]:
        factor = np.nan
    return {
        "east": float(value[0]),
        "north": float(value[1]),
        "rotation": float(rotation),
        "scale": float(factor),
        "sigma_east": float(sigma[0]),
        "sigma_north": float(sigma[1]),
        "sigma_rotation": float(sigma[2] / radius),
        "sigma_scale": float(sigma[3] / radius),
        "determined": bool(clear.all()),
        "undetermined_azimuth": azimuth,
        "across": across,
        "sigma_across": sigma_across,
        "known": known,
    }


def _turn_and_growth(turn, growth, columns):
    """Rotation (radians) and scale less 1 from the linear parameters b and a - 1 of x' = a x - b y,
    y' = b x + a y."""
    if columns < 4:
        return np.arcsin(np.clip(turn, -1, 1)), 0.0
    return np.arctan2(turn, 1 + growth), np.hypot(1 + growth, turn) - 1
