"""The shift of a whole layer of lines, from offsets that are only seen across each line."""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import offsets_from_starts
from ..tuning import SHIFT
from .lines import points_at

MODELS = ("translation", "rigid", "similarity")


@dataclass(frozen=True)
class Shift:
    """Where the existing layer lies as seen from the edges: what is added to the edges to come onto
    the existing lines.

    Attributes
    ----------
    model : str
        One of `MODELS`.
    east, north : float
        Metres, at `origin`. NaN where that component is undetermined; see `known`.
    rotation, scale : float
        Radians counter-clockwise about `origin`; a factor (1 for none). 0 and 1 where the model has
        none, NaN where undetermined.
    sigma_east, sigma_north, sigma_rotation, sigma_scale : float
        1-sigma; lines, not stations, count as independent. NaN where the model has none or nothing
        is determined.
    significant : bool
        True where the whole is more than chance at `confidence`.
    determined : bool
        True where every parameter of the model can be told from the lines.
    undetermined_azimuth : float
        Where lines all run one way: that direction, degrees clockwise from north, 0 to 180; along
        it nothing is seen. NaN else.
    across : float
        In that case: the component that is seen, + to the right of that direction; NaN else.
        `sigma_across` belongs to it.
    known : ndarray of float, shape (4,)
        East, north (metres), rotation (radians) and scale (less 1) as far as they are determined, 0
        for what is not. This is what is removed.
    origin : tuple of float
        Point that rotation and scale leave alone, local frame.
    statistic, critical : float
        Test value (Wald, over degrees of freedom, F distributed) and its limit at `confidence`.
    degrees : tuple of int
        Degrees of freedom of the two: parameters that are determined; independent lines less those.
    confidence : float
    used_length, offered_length : float
        Metres of existing line whose stations had a weight of at least a half, and of all that were
        offered.
    used_lines : int
    noise : float
        Robust 1-sigma of the offsets once the shift is out, metres; NaN where nothing was offered.
    reason : str
        Why nothing could be told; empty where something could.
    """

    model: str
    east: float
    north: float
    rotation: float
    scale: float
    sigma_east: float
    sigma_north: float
    sigma_rotation: float
    sigma_scale: float
    significant: bool
    determined: bool
    undetermined_azimuth: float
    across: float
    sigma_across: float
    known: np.ndarray
    origin: tuple
    statistic: float
    critical: float
    degrees: tuple
    confidence: float
    used_length: float
    offered_length: float
    used_lines: int
    noise: float
    reason: str = ""

    def move(self, x, y):
        """Positions of the edges brought onto the existing layer: what is known of the shift is
        added.

        Parameters
        ----------
        x, y : ndarray of float, shape (n,)
            Local frame, metres.

        Returns
        -------
        x, y : ndarray of float, shape (n,)
        """
        east, north, rotation, scale = self.known
        dx, dy = x - self.origin[0], y - self.origin[1]
        cos, sin = (1 + scale) * np.cos(rotation), (1 + scale) * np.sin(rotation)
        return (
            self.origin[0] + east + cos * dx - sin * dy,
            self.origin[1] + north + sin * dx + cos * dy,
        )

    def across_lines(self, east, north, x, y):
        """What the shift does to offsets: its component along unit vectors at positions; all of
        shape (n,), metres."""
        to_x, to_y = self.move(x, y)
        return (to_x - x) * east + (to_y - y) * north


def layer_shift(existing, rays, met, model, reach, confidence, progress=lambda share: None):
    """The shift that the candidates of the existing lines' stations speak for; see
    `shared.shift.estimate`.

    Returns
    -------
    Shift
    """
    i = met.station
    line = existing.line[rays.part[i]] if len(i) else np.zeros(0, np.int64)
    # Where vertices lie close, the direction of a short segment is mostly noise: the shift is seen
    # across the line as a whole.
    progress(0.0)
    along_x, along_y = _smooth_direction(existing, rays)
    progress(0.1)
    east, north = along_y[i], -along_x[i]
    offset = met.offset * (east * rays.along_y[i] - north * rays.along_x[i])
    return estimate(
        i,
        east,
        north,
        offset,
        rays.weight[i],
        line,
        existing.part_start()[rays.part[i]] + rays.chainage[i],
        rays.x[i],
        rays.y[i],
        model,
        reach,
        confidence,
        lambda share: progress(0.1 + 0.9 * share),
    )


def _smooth_direction(lines, rays):
    """Unit vectors of the chord to either side of each station, or of its segment where the line
    turns."""
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


def no_shift(model, reason, confidence=0.95, offered=0.0):
    """A `Shift` that tells nothing, and why."""
    nan = np.nan
    free = {"translation": (0.0, 1.0), "rigid": (nan, 1.0), "similarity": (nan, nan)}[model]
    return Shift(
        model,
        nan,
        nan,
        *free,
        nan,
        nan,
        nan,
        nan,
        False,
        False,
        nan,
        nan,
        nan,
        np.zeros(4),
        (0.0, 0.0),
        nan,
        nan,
        (0, 0),
        confidence,
        0.0,
        offered,
        0,
        nan,
        reason,
    )


def start(east, north, offset, weight, reach):
    """The translation that most stations agree on, roughly: the mode of a vote.

    Every candidate votes for all shifts that would bring its two lines together. Votes are counted
    in one histogram of offsets for each direction of the normals; the score of a shift is the sum
    over the directions, each at the component that it sees (a Hough transform). Parallel lines that
    exist in both layers agree on one shift only.

    Parameters
    ----------
    east, north : ndarray of float, shape (c,)
        Unit normals.
    offset : ndarray of float, shape (c,)
        What the shift must be along the normal, metres.
    weight : ndarray of float, shape (c,)
    reach : float
        Greatest shift that is looked at, metres.

    Returns
    -------
    ndarray of float, shape (2,)
    """
    grid = max(SHIFT.grid, reach / SHIFT.max_grid)
    blur, bin_width = max(SHIFT.blur, 2.5 * grid), max(SHIFT.bin_width, grid / 2)
    angle = np.arctan2(north, east)
    flip = (angle < 0) | (angle >= np.pi)
    angle, offset = np.mod(angle, np.pi), np.where(flip, -offset, offset)
    direction = np.minimum(
        (angle * SHIFT.directions / np.pi).astype(np.int64), SHIFT.directions - 1
    )
    half = int(np.ceil((reach * 1.5 + 5 * blur) / bin_width))
    column = np.clip(np.rint(offset / bin_width).astype(np.int64) + half, 0, 2 * half)
    votes = np.bincount(
        direction * (2 * half + 1) + column, weight, SHIFT.directions * (2 * half + 1)
    ).reshape(SHIFT.directions, -1)
    total = votes.sum(axis=1)
    middle = np.bincount(direction, weight * angle, SHIFT.directions) / np.maximum(total, 1e-300)
    taps = np.arange(-round(4 * blur / bin_width), round(4 * blur / bin_width) + 1) * bin_width
    kernel = np.exp(-0.5 * (taps / blur) ** 2)
    axis = np.arange(-np.floor(reach / grid), np.floor(reach / grid) + 1) * grid
    shift_east, shift_north = np.meshgrid(axis, axis)
    score = np.zeros(shift_east.shape)
    for k in np.flatnonzero(total > 0).tolist():
        smooth = np.convolve(votes[k], kernel, "same")
        place = (
            np.rint(
                (np.cos(middle[k]) * shift_east + np.sin(middle[k]) * shift_north) / bin_width
            ).astype(np.int64)
            + half
        )
        score += smooth[np.clip(place, 0, 2 * half)]
    # of shifts that explain nearly as much, the least
    score *= 1 - SHIFT.size_penalty * np.hypot(shift_east, shift_north) / reach
    best = np.unravel_index(np.argmax(score), score.shape)
    return np.array([shift_east[best], shift_north[best]])


def estimate(
    station,
    east,
    north,
    offset,
    weight,
    line,
    chainage,
    x,
    y,
    model="translation",
    reach=2.0,
    confidence=0.95,
    progress=lambda share: None,
):
    """Robust least squares on the normals.

    An offset sees the shift only across its line: ``n . (t + rotation * J p + scale * p) =
    -offset``, with n the unit normal, p the position from the centre and J a quarter turn. Tukey's
    biweight, which gives no weight at all to lines that really moved, from the start that `start`
    finds. Uncertainty by the sandwich estimator with lines as clusters (Liang and Zeger 1986,
    Biometrika 73; from memory), since stations along one line err together.

    Parameters
    ----------
    station : ndarray of int, shape (c,)
        Station of each candidate, rising; a station takes part with the candidate that fits best.
    east, north : ndarray of float, shape (c,)
        Unit vectors to the right of the existing line at the station.
    offset : ndarray of float, shape (c,)
        Where the edge lies, + to the right, metres.
    weight : ndarray of float, shape (c,)
        Length of line that the station stands for, metres.
    line : ndarray of int, shape (c,)
        Existing line of the station.
    chainage : ndarray of float, shape (c,)
        Along it, metres.
    x, y : ndarray of float, shape (c,)
        Position of the station, local frame, metres.
    model : str
        One of `MODELS`.
    reach : float
        Greatest shift that is looked for, metres.
    confidence : float
    progress : callable

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
    if not len(station):
        return no_shift(
            model,
            "no station of the existing lines has a counterpart within the search distance",
            confidence,
        )
    starts = offsets_from_starts(np.append(True, np.diff(station) > 0))
    first = starts[:-1]
    metres = weight[first]
    wanted = -offset
    origin = np.array([np.average(x, weights=weight), np.average(y, weights=weight)])
    px, py = x - origin[0], y - origin[1]
    # columns of one size: metres at that distance
    radius = max(float(np.sqrt(np.average(px**2 + py**2, weights=weight))), 1e-6)
    columns = {"translation": 2, "rigid": 3, "similarity": 4}[model]
    design = np.column_stack(
        [east, north, (-py * east + px * north) / radius, (px * east + py * north) / radius]
    )[:, :columns]
    # a long line with errors that hang together tells less than its length says
    length = np.bincount(line[first], weight[first])
    weight = weight / (1 + length[line] / SHIFT.correlation_length)

    beta = np.zeros(columns)
    progress(0.1)
    beta[:2] = start(east, north, wanted, weight, reach)
    progress(0.3)
    scale, seen = SHIFT.first_scale * SHIFT.blur, 2
    for stage in range(2, columns + 1) if columns > 2 else (2,):
        seen = stage
        if stage > 2:
            # a turn of the layer hides among the offsets until it is fitted
            scale = max(scale, SHIFT.turn_scale * reach)
        for turn in range(SHIFT.max_rounds):
            progress(0.3 + 0.2 * (stage - 1 - 0.8**turn))  # a few rounds are enough as a rule
            row, residual = _closest(wanted - design @ beta, starts)
            psi = _biweight(residual, scale)
            step, _, _ = _solve(design[row, :seen], weight[row] * psi, residual)
            beta[:seen] += step
            row, residual = _closest(wanted - design @ beta, starts)
            inner = np.abs(residual) < SHIFT.biweight * scale
            settled = max(
                1.4826 * _weighted_median(np.abs(residual[inner]), weight[row][inner]),
                SHIFT.min_noise,
            )
            narrow = (
                max(settled, SHIFT.shrink * scale)
                if settled < scale
                else min(settled, SHIFT.growth * scale)
            )
            done = np.abs(step).max() < 1e-7 and abs(narrow - scale) < 1e-3 * scale
            scale = narrow
            if done:
                break
        progress(0.3 + 0.2 * (stage - 1))
    row, residual = _closest(wanted - design @ beta, starts)
    return _assess(
        beta,
        design[row],
        weight[row],
        residual,
        scale,
        line[row],
        chainage[row],
        radius,
        origin,
        model,
        confidence,
        metres,
    )


def _closest(residual, starts):
    """Row of each station with the least residual, and that residual."""
    size = np.abs(residual)
    least = np.repeat(np.minimum.reduceat(size, starts[:-1]), np.diff(starts))
    row = np.flatnonzero(size == least)
    station = np.searchsorted(starts, row, "right")
    row = row[np.append(True, np.diff(station) > 0)]  # of two that are equal, the first
    return row, residual[row]


def _biweight(residual, scale):
    u = residual / (SHIFT.biweight * scale)
    return np.where(np.abs(u) < 1, (1 - u**2) ** 2, 0.0)


def _weighted_median(values, weight):
    if not len(values):
        return 0.0
    order = np.argsort(values)
    total = np.cumsum(weight[order])
    return float(values[order][np.searchsorted(total, total[-1] / 2)])


def _solve(design, weight, residual):
    """Least squares of the part that is seen; the step, the pseudo-inverse of the normal matrix,
    and the unseen directions (rows)."""
    normal = (design * weight[:, None]).T @ design
    size, axes = np.linalg.eigh(normal)
    seen = size > SHIFT.min_information * max(size[-1], 1e-300)
    inverse = (axes[:, seen] / size[seen]) @ axes[:, seen].T
    return inverse @ (design.T @ (weight * residual)), inverse, axes[:, ~seen].T


def _assess(
    beta, design, weight, residual, scale, line, chainage, radius, origin, model, confidence, metres
):
    """Sigmas, test and what is undetermined."""
    from scipy.special import fdtri

    psi = _biweight(residual, scale)
    used = psi > 0
    if not used.any():
        return no_shift(model, "no two stations agree on a shift", confidence, float(metres.sum()))
    columns = len(beta)
    _, inverse, unseen = _solve(design, weight * psi, residual)
    seen = np.eye(columns) - unseen.T @ unseen
    beta = seen @ beta
    half = psi >= 0.5
    lines = np.unique(line[half])
    cluster = line
    if len(lines) < SHIFT.few_lines:
        cluster = np.unique(
            np.column_stack([line, (chainage / SHIFT.cluster_length).astype(np.int64)]),
            axis=0,
            return_inverse=True,
        )[1].reshape(-1)
    u2 = (residual / (SHIFT.biweight * scale)) ** 2
    slope = np.where(u2 < 1, (1 - u2) * (1 - 5 * u2), 0.0)  # derivative of the biweight's psi
    share = max(float((weight * slope).sum() / (weight * psi).sum()), SHIFT.min_slope)
    score = np.zeros((int(cluster.max()) + 1, columns))
    np.add.at(score, cluster, design * (weight * psi * residual)[:, None])
    number = len(np.unique(cluster[half]))
    parameters = columns - len(unseen)
    free = number - parameters
    covariance = np.full((columns, columns), np.nan)
    statistic = critical = np.nan
    significant = False
    if free > 0:
        bread = inverse / share
        covariance = bread @ (score.T @ score) @ bread * number / free
        covariance += seen * SHIFT.min_noise**2 / number
        statistic = float(
            beta @ np.linalg.pinv(covariance, rcond=1e-10, hermitian=True) @ beta / parameters
        )
        critical = float(fdtri(parameters, free, confidence))
        significant = statistic > critical
    # a parameter is told by the lines where hardly any of it lies in a direction that is not seen
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
    return Shift(
        model,
        float(value[0]),
        float(value[1]),
        float(rotation),
        float(factor),
        float(sigma[0]),
        float(sigma[1]),
        float(sigma[2] / radius),
        float(sigma[3] / radius),
        bool(significant),
        bool(clear.all()),
        azimuth,
        across,
        sigma_across,
        known,
        (float(origin[0]), float(origin[1])),
        statistic,
        critical,
        (int(parameters), int(max(free, 0))),
        confidence,
        float(metres[half].sum()),
        float(metres.sum()),
        len(lines),
        float(scale),
    )


def _turn_and_growth(turn, growth, columns):
    """Rotation (radians) and scale less 1 from the linear parameters b and a - 1 of x' = a x - b y,
    y' = b x + a y."""
    if columns < 4:
        return np.arcsin(np.clip(turn, -1, 1)), 0.0
    return np.arctan2(turn, 1 + growth), np.hypot(1 + growth, turn) - 1
