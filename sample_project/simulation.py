"""Invented kerb edges with known truth, and simulated walks along them.

Only numpy is needed. A `Truth` is a chain of straight lines, circular arcs and sharp corners that
can be evaluated exactly at any chainage; a `Walk` is what a receiver would have recorded along it,
with the truth of every epoch kept beside it. Everything random comes from the generator that the
caller passes in: same seed, same walk.

The noise figures are those of the trial set that the fit was designed on: 12.4 mm across the track,
of which 5 mm per axis is receiver error correlated over a minute. How often receivers lose their
fix, how often an aim slips and how people walk is common practice, no source.
"""

import math
from dataclasses import dataclass, field
from functools import cached_property
from typing import Optional

import numpy as np

FIXED, FLOAT, AUTONOMOUS = 4, 5, 1
"""NMEA 0183 GGA quality: 4 RTK with fixed integers, 5 RTK with float integers, 1 autonomous."""

CORRELATED_SIGMA = 0.005
CORRELATION_TIME = 60.0
WHITE_SIGMA = math.sqrt(0.0124**2 - CORRELATED_SIGMA**2)
UP_FACTOR = 1.5

MAX_GAP_SECONDS = 3.5
MAX_GAP_METRES = 4.5

SHAPES = ("straight", "block", "island", "bay", "bend", "zigzag")
SORTS = ("plumb", "aimed")


@dataclass(frozen=True)
class Truth:
    """A chain of elements, each a straight line or an arc, with an optional sharp corner at its
    end.

    Attributes
    ----------
    kind : str
        One of `SHAPES`, or any word for shapes made by hand.
    start : tuple of float
        x and y of the first point, metres.
    heading : float
        Direction of the first element, radians counter-clockwise from the x axis.
    lengths, curvatures, turns : numpy.ndarray, shape (m,)
        Metres along each element; 1/radius (+ to the left, 0 straight); deflection at the end of
        the element, radians (+ to the left, 0 where the next element goes on smoothly).
    closed : bool
        True if the last element ends where the first one starts, with the same direction.
    ground : tuple of float
        Height at `start` and the two slopes of the ground plane (metres per metre along x and y).
    drops : numpy.ndarray, shape (k, 2)
        Chainage and height against the ground plane, the knots of a linear profile (dropped kerbs);
        empty for none.
    """

    kind: str
    start: tuple
    heading: float
    lengths: np.ndarray
    curvatures: np.ndarray
    turns: np.ndarray
    closed: bool = False
    ground: tuple = (0.0, 0.0, 0.0)
    drops: np.ndarray = field(default_factory=lambda: np.empty((0, 2)))

    @property
    def length(self):
        """Length in plan, metres."""
        return float(self.lengths.sum())

    @cached_property
    def joints(self):
        """Chainage at the start of every element and at the end of the last, shape (m + 1,)."""
        return np.concatenate([[0.0], np.cumsum(self.lengths)])

    @cached_property
    def _frames(self):
        """x, y and heading at the start of every element, shape (m, 3)."""
        swing = self.lengths * self.curvatures
        heading = self.heading + np.concatenate([[0.0], np.cumsum(swing + self.turns)[:-1]])
        step = _advance(heading, self.curvatures, self.lengths)
        xy = np.asarray(self.start, float) + np.concatenate(
            [[[0.0, 0.0]], np.cumsum(step, axis=0)[:-1]]
        )
        return np.column_stack([xy, heading])

    def _locate(self, chainage):
        chainage = np.asarray(chainage, float)
        if self.closed:
            chainage = np.mod(chainage, self.length)
        element = np.clip(
            np.searchsorted(self.joints, chainage, "right") - 1, 0, len(self.lengths) - 1
        )
        return chainage, element, chainage - self.joints[element]

    def at(self, chainage):
        """True x, y and z at a chainage, shape (..., 3); closed shapes go round, open ones go on
        straight or round."""
        chainage, element, along = self._locate(chainage)
        frame = self._frames[element]
        xy = frame[..., :2] + _advance(frame[..., 2], self.curvatures[element], along)
        base, slope_x, slope_y = self.ground
        z = base + slope_x * (xy[..., 0] - self.start[0]) + slope_y * (xy[..., 1] - self.start[1])
        if len(self.drops):
            z = z + np.interp(chainage, self.drops[:, 0], self.drops[:, 1])
        return np.concatenate([xy, z[..., None]], axis=-1)

    def heading_at(self, chainage):
        """Direction of the edge, radians counter-clockwise from the x axis; at a corner that of the
        leg which leaves."""
        _, element, along = self._locate(chainage)
        return self._frames[element, 2] + self.curvatures[element] * along

    def curvature_at(self, chainage):
        """1/radius at a chainage, 1/m, + to the left."""
        return self.curvatures[self._locate(chainage)[1]]

    @cached_property
    def corner_chainage(self):
        """Chainage of the sharp corners, shape (c,)."""
        return self.joints[1:][self.turns != 0.0]

    @cached_property
    def corners(self):
        """True x, y and z of the sharp corners, shape (c, 3)."""
        return self.at(self.corner_chainage)

    def polyline(self, sagitta=0.001, between=None):
        """The edge as vertices that leave it by no more than `sagitta`.

        Parameters
        ----------
        sagitta : float
            Maximum distance between an arc and its chord, metres; chord of angle a: r (1 -
            cos(a/2)).
        between : tuple of float, optional
            First and last chainage; the whole edge if left out. May pass the end of a closed shape.

        Returns
        -------
        points : numpy.ndarray, shape (n, 3)
        chainage : numpy.ndarray, shape (n,)
        """
        first, last = (0.0, self.length) if between is None else between
        with np.errstate(divide="ignore"):
            radius = 1.0 / np.abs(self.curvatures)
        pieces = []
        for start, length, r in zip(self.joints[:-1], self.lengths, radius):
            count = 1
            if np.isfinite(r):
                count = max(
                    1, math.ceil(length / r / (2.0 * math.acos(max(1.0 - sagitta / r, -1.0))))
                )
            pieces.append(start + length * np.arange(count) / count)
        lap = np.union1d(np.concatenate(pieces), self.drops[:, 0])
        if self.closed:
            turns = np.arange(math.floor(first / self.length), math.ceil(last / self.length) + 1)
            lap = (turns[:, None] * self.length + lap[lap < self.length]).ravel()
        chainage = np.concatenate(
            [[first], lap[(lap > first + 1e-9) & (lap < last - 1e-9)], [last]]
        )
        points = self.at(chainage)
        if self.closed and between is None:
            points[-1] = points[0]
        return points, chainage

    @cached_property
    def points(self):
        """Vertices at 1 mm sagitta, shape (n, 3)."""
        return self.polyline()[0]


@dataclass(frozen=True)
class Disturbances:
    """How often things go wrong on a walk; `Disturbances.none()` leaves the noise alone.

    Rates per epoch are probabilities that an event starts at an epoch; rates per metre count along
    the edge.
    """

    stands_per_metre: float = 1 / 150
    pauses_per_metre: float = 1 / 60
    """Trigger released; only on walks of the sort `aimed`."""
    float_spells: float = 1 / 150
    autonomous_spells: float = 1 / 2500
    poor_spells: float = 1 / 1500
    spikes: float = 1 / 120
    height_spikes: float = 1 / 300
    repeats: float = 1 / 400
    no_time: float = 1 / 2000
    no_position: float = 1 / 2000
    missing: float = 1 / 500

    @classmethod
    def none(cls):
        """Noise only: no stops, no spells, no spikes."""
        return cls(*[0.0] * 11)


@dataclass(frozen=True)
class Walk:
    """One capture: rows as recorded, in the order recorded, and the truth of each row.

    All arrays have shape (n,). Metres; seconds are Unix seconds.

    Attributes
    ----------
    capture, kind, sort : str
        Name of the capture; shape of the edge; `plumb` or `aimed`.
    x, y, z, seconds : numpy.ndarray
        As recorded; NaN where the row has no position or no time.
    fix : numpy.ndarray of int
        NMEA quality code.
    h_acc, v_acc : numpy.ndarray
        1-sigma accuracy as reported, metres.
    true_chainage, true_x, true_y, true_z : numpy.ndarray
        Where the epoch was in truth; the chainage of a closed shape runs on past its length.
    is_spike, is_height_spike, is_repeat : numpy.ndarray of bool
        Aim slipped; height alone is wrong; row repeats the one before it.
    is_good : numpy.ndarray of bool
        Fixed, accurate, with time and position, no spike, no repeat. (A height spike leaves the
        position good.)
    """

    capture: str
    kind: str
    sort: str
    truth: Truth
    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    seconds: np.ndarray
    fix: np.ndarray
    h_acc: np.ndarray
    v_acc: np.ndarray
    true_chainage: np.ndarray
    true_x: np.ndarray
    true_y: np.ndarray
    true_z: np.ndarray
    is_spike: np.ndarray
    is_height_spike: np.ndarray
    is_repeat: np.ndarray
    is_good: np.ndarray

    def __len__(self):
        return len(self.x)

    @property
    def cross_error(self):
        """Signed distance of each row from the true edge's tangent, + to the left, metres."""
        heading = self.truth.heading_at(self.true_chainage)
        return (self.y - self.true_y) * np.cos(heading) - (self.x - self.true_x) * np.sin(heading)


def _advance(heading, curvature, along):
    """Step (dx, dy) after `along` metres on an arc: chord 2 sin(a/2)/k in direction heading +
    a/2."""
    half = 0.5 * np.asarray(curvature, float) * along
    chord = along * np.sinc(half / np.pi)
    direction = heading + half
    return np.stack([chord * np.cos(direction), chord * np.sin(direction)], axis=-1)


# --- shapes
# ------------------------------------------------------------------------------------------------


def chain(
    kind, parts, start=(0.0, 0.0), heading=0.0, closed=False, ground=(0.0, 0.0, 0.0), drops=()
):
    """Build a `Truth` from parts as one would say them.

    Parameters
    ----------
    parts : sequence of tuple
        ``("line", metres)``, ``("arc", radius, degrees)`` or ``("corner", degrees)``; + degrees
        turn left.
    drops : sequence of tuple
        ``(chainage, flat, depth, ramp)``: a dropped kerb that begins to fall at `chainage`, falls
        by `depth` over `ramp` metres, stays down for `flat` metres and rises again.
    """
    lengths, curvatures, turns = [], [], []
    for name, *values in parts:
        if name == "line":
            lengths.append(values[0])
            curvatures.append(0.0)
            turns.append(0.0)
        elif name == "arc":
            radius, degrees = values
            lengths.append(radius * abs(math.radians(degrees)))
            curvatures.append(math.copysign(1.0 / radius, degrees))
            turns.append(0.0)
        elif name == "corner" and turns:
            turns[-1] += math.radians(values[0])
        else:
            raise ValueError(
                f"parts: {name!r} is not a line, an arc or a corner after one of these"
            )
    knots = [
        knot
        for chainage, flat, depth, ramp in sorted(drops)
        for knot in (
            (chainage, 0.0),
            (chainage + ramp, -depth),
            (chainage + ramp + flat, -depth),
            (chainage + 2 * ramp + flat, 0.0),
        )
    ]
    return Truth(
        kind,
        tuple(start),
        float(heading),
        np.array(lengths),
        np.array(curvatures),
        np.array(turns),
        closed,
        tuple(ground),
        np.array(knots, float).reshape(-1, 2),
    )


def _tangled(truth, clearance=5.0, apart=14.0):
    """True if the edge comes near itself again, where the nearest point of the truth would be
    ambiguous."""
    s = np.arange(0.0, truth.length, 1.0)
    xy = truth.at(s)[:, :2]
    distance = np.hypot(*(xy[:, None, :] - xy[None, :, :]).transpose(2, 0, 1))
    return bool((distance[np.abs(s[:, None] - s[None, :]) > apart] < clearance).any())


def _sign(rng):
    return 1.0 if rng.random() < 0.5 else -1.0


def _straight_parts(rng):
    return [("line", rng.uniform(60.0, 190.0))]


def _block_parts(rng):
    parts = [("line", rng.uniform(14.0, 38.0))]
    for _ in range(rng.integers(2, 5)):
        parts.append(("arc", rng.uniform(3.0, 9.0), _sign(rng) * rng.uniform(65.0, 110.0)))
        parts.append(("line", rng.uniform(14.0, 38.0)))
    return parts


def _bay_parts(rng):
    side = _sign(rng)
    parts = [("line", rng.uniform(30.0, 55.0))]
    for _ in range(rng.integers(1, 3)):
        depth = rng.uniform(2.0, 3.0)
        parts += [
            ("corner", side * 90.0),
            ("line", depth),
            ("corner", -side * 90.0),
            ("line", rng.uniform(10.0, 25.0)),
            ("corner", -side * 90.0),
            ("line", depth),
            ("corner", side * 90.0),
            ("line", rng.uniform(30.0, 55.0)),
        ]
    return parts


def _bend_parts(rng):
    parts = [("line", rng.uniform(15.0, 40.0))]
    for _ in range(rng.integers(1, 3)):
        radius = math.exp(rng.uniform(math.log(20.0), math.log(250.0)))
        degrees = min(math.degrees(rng.uniform(20.0, 80.0) / radius), 120.0)
        parts += [("arc", radius, _sign(rng) * degrees), ("line", rng.uniform(15.0, 40.0))]
    return parts


def _zigzag_parts(rng):
    parts = [("line", rng.uniform(5.0, 15.0))]
    for _ in range(rng.integers(7, 12)):
        parts += [
            ("corner", _sign(rng) * rng.uniform(35.0, 90.0)),
            ("line", rng.uniform(5.0, 15.0)),
        ]
    return parts


def island_parts(side, radius):
    """A kerbed island of width 2 `radius`, counter-clockwise from the middle of one straight
    side."""
    return [
        ("line", side / 2),
        ("arc", radius, 180.0),
        ("line", side),
        ("arc", radius, 180.0),
        ("line", side / 2),
    ]


_PARTS = {
    "straight": _straight_parts,
    "block": _block_parts,
    "bay": _bay_parts,
    "bend": _bend_parts,
    "zigzag": _zigzag_parts,
    "island": lambda rng: island_parts(rng.uniform(6.0, 30.0), rng.uniform(1.0, 2.5)),
}


def random_truth(kind, rng, centre=(0.0, 0.0)):
    """One edge of a kind of `SHAPES`, of random size and direction, that does not come near itself
    again."""
    heading = rng.uniform(-math.pi, math.pi)
    ground = (rng.uniform(2.0, 8.0), rng.uniform(-0.02, 0.02), rng.uniform(-0.02, 0.02))
    for _ in range(1000):
        parts = _PARTS[kind](rng)
        truth = chain(kind, parts, centre, heading, kind == "island", ground)
        if kind == "island" or not _tangled(truth):
            break
    else:
        raise RuntimeError(f"No clear edge of kind {kind!r} was found in 1000 tries")
    drops = []
    if kind in ("straight", "block", "bend") and rng.random() < 0.5:
        ramp, flat = rng.uniform(1.0, 2.0), rng.uniform(1.2, 4.0)
        drops = [
            (
                rng.uniform(0.1, 0.8) * (truth.length - 2 * ramp - flat),
                flat,
                rng.uniform(0.10, 0.15),
                ramp,
            )
        ]
    return chain(kind, parts, centre, heading, kind == "island", ground, drops)


# --- walks
# ------------------------------------------------------------------------------------------------


def gauss_markov(count, rng, sigma, correlation_time, interval=1.0):
    """First-order Gauss-Markov noise, shape (count,): e[k] = a e[k-1] + w[k], a = exp(-interval /
    correlation_time)."""
    a = math.exp(-interval / correlation_time)
    white = rng.normal(0.0, sigma, count)
    white[1:] *= math.sqrt(1.0 - a * a)
    out, carried = np.empty(count), 0.0
    block = max(1, int(300.0 / -math.log(a)))  # a**-block must stay far from overflow
    for begin in range(0, count, block):
        part = white[begin : begin + block]
        power = a ** np.arange(1, len(part) + 1)
        out[begin : begin + block] = power * (carried + np.cumsum(part / power))
        carried = out[min(begin + block, count) - 1]
    return out


def _pace(truth, s, rng):
    """Walking speed at the chainages `s`, m/s: slowly varying, less on tight radii and near
    corners."""
    wave = sum(
        rng.uniform(0.02, 0.06)
        * np.sin(2.0 * np.pi * s / rng.uniform(15.0, 80.0) + rng.uniform(0.0, 2.0 * np.pi))
        for _ in range(3)
    )
    cruise = np.clip(rng.uniform(1.12, 1.35) + wave, 1.07, 1.40)
    caution = rng.uniform(0.5, 0.7)
    with np.errstate(divide="ignore"):
        radius = 1.0 / np.abs(truth.curvature_at(s))
    factor = np.interp(radius, [2.5, 12.0], [caution, 1.0])
    if truth.corner_chainage.size:
        near = np.abs(s[:, None] - truth.corner_chainage).min(axis=1)
        factor = np.minimum(factor, np.interp(near, [0.6, 2.0], [caution, 1.0]))
    width = min(51, len(s) // 2 * 2 - 1)
    padded = np.pad(factor, width // 2, mode="edge")
    return cruise * np.convolve(padded, np.full(width, 1.0 / width), mode="valid")


def _places(rng, rate, first, last):
    return np.sort(rng.uniform(first, last, rng.poisson(rate * (last - first))))


def _clock(truth, between, rng, sort, disturbances):
    """Chainage as a function of time: knots (seconds, metres), and the (start, end) seconds when
    nothing is recorded."""
    first, last = between
    s = np.linspace(first, last, max(3, round((last - first) / 0.02) + 1))
    pace = _pace(truth, s, rng)
    lap = np.diff(s) * 2.0 / (pace[1:] + pace[:-1])
    stops = [
        (place, float(rng.integers(5, 31)), False)
        for place in _places(rng, disturbances.stands_per_metre, first, last)
    ]
    moving = []
    if sort == "aimed":
        for place in _places(rng, disturbances.pauses_per_metre, first, last):
            duration = rng.uniform(5.0, 40.0)
            if rng.random() < 0.3:
                stops.append((place, duration, True))
            else:
                moving.append((place, rng.uniform(0.0, 12.0), duration))
    silent = np.zeros(len(lap), bool)
    for place, metres, duration in moving:
        inside = (s[:-1] >= place) & (s[1:] <= place + metres) & ~silent
        if inside.any():
            lap[inside] *= max(1.0, duration / lap[inside].sum())
            silent |= inside
    stops.sort()
    where = np.clip(np.searchsorted(s, [stop[0] for stop in stops]), 1, len(s) - 1).astype(int)
    lap = np.insert(lap, where, [stop[1] for stop in stops])
    silent = np.insert(silent, where, [stop[2] for stop in stops])
    metres = np.insert(s, where, s[where] if len(where) else [])
    seconds = np.concatenate([[0.0], np.cumsum(lap)])
    return seconds, metres, silent


def _spells(rng, count, rate, longest):
    """Mask of epochs inside spells that start at a rate and last 1 to `longest` epochs, short ones
    more often."""
    number = np.zeros(count, int)
    for spell, begin in enumerate(np.flatnonzero(rng.random(count) < rate), 1):
        number[begin : begin + 1 + int(longest * rng.random() ** 2)] = spell
    return number


def _shove(rng, number, low, high):
    """One horizontal error per spell with its own drift, shape (n, 2): size log-uniform, direction
    any."""
    spells = int(number.max(initial=0)) + 1
    size = np.exp(rng.uniform(math.log(low), math.log(high), spells))
    angle = rng.uniform(0.0, 2.0 * np.pi, spells)
    error = np.column_stack([size * np.cos(angle), size * np.sin(angle)])
    error[0] = 0.0
    drift = rng.normal(0.0, 0.1 * low, (len(number), 2)) * (number > 0)[:, None]
    return error[number] + drift


@dataclass
class _Draft:
    """Epochs in the making, rows of one a second: `error` (n, 3) and what the receiver says of
    them."""

    error: np.ndarray
    fix: np.ndarray
    h_acc: np.ndarray
    v_acc: np.ndarray

    def __len__(self):
        return len(self.fix)


def _paced(truth, rng, sort, between, disturbances):
    """Seconds of the epochs, their chainage, and whether the trigger was held."""
    if between is None:
        begin = rng.uniform(-0.25, 0.25) * truth.lengths[0] if truth.closed else 0.0
        between = (begin, begin + truth.length + (rng.uniform(-0.3, 1.5) if truth.closed else 0.0))
    low, high = min(between), max(between)
    knots_t, knots_s, silent = _clock(truth, (low, high), rng, sort, disturbances)
    if between[1] < between[0]:
        knots_t, knots_s, silent = knots_t[-1] - knots_t[::-1], knots_s[::-1], silent[::-1]
    t = np.arange(math.floor(knots_t[-1]) + 1.0)
    recorded = ~silent[np.clip(np.searchsorted(knots_t, t, "right") - 1, 0, len(silent) - 1)]
    return t, np.interp(t, knots_t, knots_s), recorded


def _received(n, rng, noise):
    """Epochs with a fixed solution: correlated and white noise, and the accuracy reported."""
    scale = noise * np.array([1.0, 1.0, UP_FACTOR])
    error = np.column_stack(
        [gauss_markov(n, rng, CORRELATED_SIGMA, CORRELATION_TIME) for _ in range(3)]
    )
    error = (error + rng.normal(0.0, WHITE_SIGMA, (n, 3))) * scale
    h_acc = np.clip(rng.uniform(0.005, 0.009) + gauss_markov(n, rng, 0.001, 30.0), 0.004, 0.010)
    v_acc = np.clip(h_acc * rng.normal(1.5, 0.1, n), 0.006, 0.018)
    return _Draft(error, np.full(n, FIXED), h_acc, v_acc)


def _lose_fixes(draft, rng, disturbances):
    """Spells of poor, float and single solutions; True for the epochs in them."""
    n = len(draft)
    poor = _spells(rng, n, disturbances.poor_spells, 6)
    floating = _spells(rng, n, disturbances.float_spells, 20)
    alone = _spells(rng, n, disturbances.autonomous_spells, 15)
    for number, code, low_m, high_m in (
        (poor, FIXED, 0.04, 0.12),
        (floating, FLOAT, 0.1, 0.5),
        (alone, AUTONOMOUS, 0.8, 3.0),
    ):
        shove = _shove(rng, number, low_m, high_m)
        up = rng.normal(0.0, UP_FACTOR, int(number.max(initial=0)) + 1)[number] * np.hypot(*shove.T)
        reported = np.maximum(np.hypot(*shove.T) * rng.uniform(0.6, 1.4, n), 0.06)
        inside = number > 0
        draft.error[inside] += np.column_stack([shove, up])[inside]
        draft.fix[inside] = code
        draft.h_acc[inside], draft.v_acc[inside] = reported[inside], 1.5 * reported[inside]
    return (draft.fix != FIXED) | (poor > 0)


def _miss_the_edge(draft, rng, disturbances, lost):
    """Gross errors of the aim and of the height alone; True for the epochs with either."""
    n, error = len(draft), draft.error
    slipped = np.zeros(n, int)
    starts = np.flatnonzero((rng.random(n) < disturbances.spikes) & ~lost)
    slipped[starts] = np.arange(1, len(starts) + 1)
    second = starts[(rng.random(len(starts)) < 0.15) & (starts + 1 < n)]
    slipped[second + 1] = slipped[second]
    slipped[lost] = 0
    is_spike = slipped > 0
    error[:, :2] += np.where(is_spike[:, None], _shove(rng, slipped, 0.2, 5.0), 0.0)
    error[:, 2] += np.where(is_spike, rng.normal(0.0, 0.3, n), 0.0)
    is_height_spike = (rng.random(n) < disturbances.height_spikes) & ~lost & ~is_spike
    jump = np.exp(rng.uniform(math.log(0.15), 0.0, n)) * np.where(rng.random(n) < 0.5, -1.0, 1.0)
    error[:, 2] += np.where(is_height_spike, jump, 0.0)
    return is_spike, is_height_spike


def walk(
    truth,
    rng,
    sort="plumb",
    capture="C001",
    start_seconds=0.0,
    between=None,
    disturbances=None,
    noise=1.0,
):
    """Walk along an edge at 1 Hz.

    Parameters
    ----------
    truth : Truth
    rng : numpy.random.Generator
    sort : {"plumb", "aimed"}
        `aimed` releases the trigger now and then: nothing is recorded while the walker goes on or
        stands.
    capture : str
        Name given to the capture.
    start_seconds : float
        Unix seconds of the first epoch.
    between : tuple of float, optional
        First and last chainage; the whole edge, or a little more than one lap of a closed shape, if
        left out. Last before first walks backwards.
    disturbances : Disturbances, optional
    noise : float
        Factor on all noise, 1 for 12.4 mm across the track.

    Returns
    -------
    Walk
    """
    if sort not in SORTS:
        raise ValueError(f"sort: {sort!r} is not one of {', '.join(SORTS)}")
    disturbances = disturbances or Disturbances()
    t, chainage, recorded = _paced(truth, rng, sort, between, disturbances)
    n, true = len(t), truth.at(chainage)
    recorded &= rng.random(n) >= disturbances.missing
    draft = _received(n, rng, noise)
    lost = _lose_fixes(draft, rng, disturbances)
    is_spike, is_height_spike = _miss_the_edge(draft, rng, disturbances, lost)
    position, seconds = true + draft.error, start_seconds + t
    no_time, no_position = (
        rng.random(n) < disturbances.no_time,
        rng.random(n) < disturbances.no_position,
    )
    position[no_position] = np.nan
    seconds[no_time] = np.nan
    good = ~lost & ~is_spike & ~no_time & ~no_position

    again = (rng.random(n) < disturbances.repeats) & recorded
    rows = np.repeat(np.arange(n), recorded.astype(int) + again)
    is_repeat = np.concatenate([[False], rows[1:] == rows[:-1]]) if len(rows) else np.zeros(0, bool)
    return Walk(
        capture,
        truth.kind,
        sort,
        truth,
        *position[rows].T,
        seconds[rows],
        draft.fix[rows],
        np.round(draft.h_acc[rows], 3),
        np.round(draft.v_acc[rows], 3),
        chainage[rows],
        *true[rows].T,
        is_spike[rows],
        is_height_spike[rows],
        is_repeat,
        good[rows] & ~is_repeat,
    )


def seen_intervals(walked, max_gap_seconds=MAX_GAP_SECONDS, max_gap_metres=MAX_GAP_METRES):
    """Stretches of true chainage that the walk observed.

    Good epochs one after the other belong to one stretch unless the gap between them is over both
    limits.

    Returns
    -------
    numpy.ndarray, shape (k, 2)
        First and last chainage of each stretch, in the order walked (falling where the walk went
        backwards). A stretch of a single epoch has no length.
    """
    rows = np.flatnonzero(walked.is_good)
    if not rows.size:
        return np.empty((0, 2))
    rows = rows[np.argsort(walked.seconds[rows], kind="stable")]
    step = np.hypot(np.diff(walked.true_x[rows]), np.diff(walked.true_y[rows]))
    broken = (np.diff(walked.seconds[rows]) > max_gap_seconds) & (step > max_gap_metres)
    chainage = walked.true_chainage[rows]
    return np.column_stack([chainage[np.r_[True, broken]], chainage[np.r_[broken, True]]])


def seen_corners(walked, within=6.0, epochs=2):
    """Which true corners were seen from both sides.

    A corner counts if at least `epochs` good epochs lie within `within` metres on the leg before it
    and as many on the leg after it (a leg ends at the next corner), all in the stretch of
    `seen_intervals` that holds the corner.

    Returns
    -------
    numpy.ndarray of bool, shape (c,)
        For each row of ``walked.truth.corners``.
    """
    truth = walked.truth
    corners = truth.corner_chainage
    seen = np.sort(seen_intervals(walked), axis=1)
    s = walked.true_chainage[walked.is_good]
    bounds = np.concatenate([[0.0], corners, [truth.length]])
    out = np.zeros(len(corners), bool)
    for i, corner in enumerate(corners):
        for first, last in seen[(seen[:, 0] <= corner) & (seen[:, 1] >= corner)]:
            near = s[(s >= first) & (s <= last) & (np.abs(s - corner) <= within)]
            before = (near < corner) & (near >= bounds[i])
            after = (near > corner) & (near <= bounds[i + 2])
            out[i] |= before.sum() >= epochs and after.sum() >= epochs
    return out


TRIAL_MIX = {
    "block": 0.30,
    "island": 0.175,
    "bay": 0.175,
    "bend": 0.175,
    "zigzag": 0.075,
    "straight": 0.10,
}
"""Share of each shape in the trial set."""


def trial_set(seed, captures=80, disturbances: Optional[Disturbances] = None):
    """Simulated captures of all shapes and both sorts, about 110 epochs each, as a list of `Walk`.

    Names sort in the order of the list and times go on from one capture to the next. The shapes lie
    on a wide grid, so that no capture comes near another.
    """
    rng = np.random.default_rng(seed)
    exact = np.array(list(TRIAL_MIX.values())) * captures
    counts = np.floor(exact).astype(int)
    counts[np.argsort(counts - exact, kind="stable")[: captures - counts.sum()]] += 1
    kinds = rng.permutation(np.repeat(list(TRIAL_MIX), counts))
    clock, walks = 1746518400.0, []  # 2025-05-06T08:00:00Z
    columns = math.ceil(math.sqrt(captures))
    for number, kind in enumerate(kinds):
        centre = (400.0 * (number % columns), 400.0 * (number // columns))
        truth = random_truth(str(kind), rng, centre)
        walks.append(
            walk(
                truth,
                rng,
                SORTS[int(rng.random() < 0.5)],
                f"C{number + 1:04d}",
                clock,
                None,
                disturbances,
            )
        )
        clock += math.ceil(np.nanmax(walks[-1].seconds) - clock) + float(rng.integers(20, 121))
    return walks
