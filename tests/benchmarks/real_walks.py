"""Simulated walks along lines of real ground, at any rate and spacing, and what became of them.

Lines come from a file of LineStrings in metres; one stretch of each is the truth of a walk. The
noise, the slips and the losses are those of `sample_project.simulation`, per second where it says
per epoch. The wobble of the aim and of the receiver has a memory of half a second, so that epochs a
second apart are next to independent and those of a fast stream are not.
"""

import math
from dataclasses import dataclass, field, fields, replace

import numpy as np
import shapely
from scipy.signal import lfilter

from curbwright.sample_project.simulation import (
    AUTONOMOUS,
    CORRELATED_SIGMA,
    CORRELATION_TIME,
    FIXED,
    FLOAT,
    SORTS,
    UP_FACTOR,
    WHITE_SIGMA,
    Disturbances,
    Truth,
    Walk,
    gauss_markov,
)

STRETCH = 120.0  # m, longest stretch of a line that is walked
LEFT_OPEN = 8.0  # m of a closed outline that are not walked
SHORTEST = 25.0  # m
CORNER = math.radians(30.0)  # what counts as a corner
LEG_END = math.radians(10.0)  # a leg beside a corner ends where the line turns by more
JOG = 2.0  # m between two corners of a jog
WOBBLE_TIME = 0.5  # s, memory of the aim's wobble
RECEIVER_SHARE = 0.3  # of the variance of the wobble, without any memory
STEP_EVERY = 30.0  # s between two steps of the receiver's position
SORTS_OF_STRETCHES = ("jogs", "corners", "curved", "straight")


@dataclass(frozen=True)
class Wobble:
    """The noise of aim and receiver, other than the slow part of the latter.

    `memory`, seconds, of all but a share `white` of the variance; `tails`, degrees of freedom of
    Student's t, 0 for normal noise; `drift`, metres a root second, of a random walk; `steps`,
    metres, of the receiver's position, half to all of it off or back, every `STEP_EVERY` seconds.
    """

    memory: float = WOBBLE_TIME
    white: float = RECEIVER_SHARE
    tails: float = 0.0
    drift: float = 0.0
    steps: float = 0.0

    def of(self, count, rng, sigma, interval):
        """Noise of one sigma on one axis, shape (count,)."""
        remembered = self._remembered(count, rng, interval)
        alone = self._values(count, rng)
        out = math.sqrt(1 - self.white) * remembered + math.sqrt(self.white) * alone
        out = sigma * out
        if self.drift:
            out += self.drift * math.sqrt(interval) * np.cumsum(rng.normal(0.0, 1.0, count))
        if self.steps:
            spell = np.cumsum(rng.random(count) < interval / STEP_EVERY)
            size = self.steps * rng.uniform(0.5, 1.0, count) * rng.choice([-1.0, 0.0, 1.0], count)
            out += size[spell]
        return out

    def _values(self, count, rng):
        """Independent values of the variance 1."""
        if not self.tails:
            return rng.normal(0.0, 1.0, count)
        return rng.standard_t(self.tails, count) * math.sqrt(1 - 2 / self.tails)

    def _remembered(self, count, rng, interval):
        """First-order Gauss-Markov noise of the variance 1, or what such tails make of it."""
        if not self.tails:
            return gauss_markov(count, rng, 1.0, self.memory, interval)
        kept = math.exp(-interval / self.memory)
        new = self._values(count, rng)
        new[1:] *= math.sqrt(1 - kept**2)
        return lfilter([1.0], [1.0, -kept], new)


@dataclass(frozen=True)
class Outline(Truth):
    """A line of straight pieces as a `Truth`; only vertices that turn by 30 degrees are corners."""

    sort: str = ""

    @property
    def corner_chainage(self):
        """Chainage of the corners, shape (c,)."""
        return self.joints[1:][np.abs(self.turns) >= CORNER]

    @property
    def corners(self):
        """x, y and z of the corners, shape (c, 3)."""
        return self.at(self.corner_chainage)


def read_lines(path):
    """Lines of the first layer of a file, in the order of their ids, as arrays of shape (v, 2)."""
    from osgeo import ogr

    source = ogr.Open(str(path))
    if source is None:  # GDAL is not told to raise: it would do so in all that follows
        raise FileNotFoundError(path)
    lines = [
        (feature.GetFID(), np.array(feature.GetGeometryRef().GetPoints())[:, :2])
        for feature in source.GetLayer(0)
    ]
    return [line for _, line in sorted(lines, key=lambda pair: pair[0])]


def _outline(points, rng, number):
    """The stretch of a line as an `Outline` on its own place of a wide grid."""
    step = np.hypot(*np.diff(points, axis=0).T)
    points = points[np.append(True, step > 0.02)]
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])
    room = along[-1] - (LEFT_OPEN if (points[0] == points[-1]).all() else 0.0)
    length = min(room, STRETCH)
    if length < SHORTEST:
        return None
    begin = rng.uniform(0.0, along[-1] - length)
    inside = (along > begin + 0.02) & (along < begin + length - 0.02)
    at = np.concatenate([[begin], along[inside], [begin + length]])
    xy = np.column_stack([np.interp(at, along, axis) for axis in points.T])
    way = np.diff(xy, axis=0)
    heading = np.arctan2(way[:, 1], way[:, 0])
    turns = np.append((np.diff(heading) + np.pi) % (2 * np.pi) - np.pi, 0.0)
    ground = (rng.uniform(2.0, 8.0), rng.uniform(-0.02, 0.02), rng.uniform(-0.02, 0.02))
    lengths = np.hypot(*way.T)
    start = (500.0 * (number % 40), 500.0 * (number // 40))
    sort = _sort(lengths, turns)
    return Outline(
        sort,
        start,
        float(heading[0]),
        lengths,
        np.zeros(len(lengths)),
        turns,
        ground=ground,
        sort=sort,
    )


def _sort(lengths, turns):
    """One of `SORTS_OF_STRETCHES`, by what the stretch holds most of."""
    place = np.cumsum(lengths)
    corner = np.flatnonzero(np.abs(turns) >= CORNER)
    jogs = np.count_nonzero(np.diff(place[corner]) < JOG)
    if jogs >= max(1.0, lengths.sum() / 40.0):
        return "jogs"
    if len(corner) >= max(1.0, lengths.sum() / 25.0):
        return "corners"
    gentle = np.abs(turns[np.abs(turns) < CORNER]).sum()
    return "curved" if gentle > math.radians(0.6) * lengths.sum() else "straight"


def stretches(path, half=None, seed=1, count=None):
    """Stretches of the lines of a file.

    Parameters
    ----------
    path : str
    half : {"tune", "judge"}, optional
        Every other line by id, the first one to tune on; all where left out.
    seed : int
    count : int, optional
        So many of them, spread over the file; all where left out.

    Returns
    -------
    list of Outline
    """
    lines = read_lines(path)
    if half:
        lines = lines[{"tune": 0, "judge": 1}[half] :: 2]
    if count:
        lines = [lines[int(k)] for k in np.linspace(0, len(lines) - 1, min(count, len(lines)))]
    rng = np.random.default_rng(seed)
    found = [_outline(line, rng, number) for number, line in enumerate(lines)]
    return [one for one in found if one is not None]


def _events(rng, mask, chance, longest=1, seconds=None, interval=1.0):
    """Number of the event of each epoch, 0 for none; events start with a `chance` a second and last
    up to `seconds`, or up to `longest` epochs."""
    out = np.zeros(len(mask), int)
    starts = np.flatnonzero((rng.random(len(mask)) < chance * interval) & mask)
    for number, begin in enumerate(starts, 1):
        if seconds is None:
            size = 1 + (longest > 1 and rng.random() < 0.15)
        else:
            size = max(1, round((1 + int(seconds * rng.random() ** 2)) / interval))
        out[begin : begin + size] = number
    return np.where(mask, out, 0)


def _shoved(rng, number, low, high):
    """One error in plan for each event, with some scatter, shape (n, 2)."""
    events = int(number.max(initial=0)) + 1
    size = np.exp(rng.uniform(math.log(low), math.log(high), events))
    angle = rng.uniform(0.0, 2 * math.pi, events)
    error = np.column_stack([size * np.cos(angle), size * np.sin(angle)])
    error[0] = 0.0
    return error[number] + rng.normal(0.0, 0.1 * low, (len(number), 2)) * (number > 0)[:, None]


def _timetable(truth, rng, sort, spacing, disturbances):
    """Seconds and chainages of the walk's knots, and which stretches between them are not
    recorded."""
    s = np.linspace(0.0, truth.length, max(3, round(truth.length / 0.05) + 1))
    wave = sum(
        rng.uniform(0.02, 0.05)
        * np.sin(2 * np.pi * s / rng.uniform(15.0, 80.0) + rng.uniform(0, 2 * np.pi))
        for _ in range(3)
    )
    pace = spacing * np.clip(1.0 + wave, 0.85, 1.15)
    if truth.corner_chainage.size:
        near = np.abs(s[:, None] - truth.corner_chainage).min(axis=1)
        pace = pace * np.interp(near, [0.6, 2.0], [rng.uniform(0.5, 0.7), 1.0])
    lap = np.diff(s) * 2.0 / (pace[1:] + pace[:-1])
    silent = np.zeros(len(lap), bool)

    def places(rate):
        return rng.uniform(0.0, truth.length, rng.poisson(rate * truth.length))

    stops = [(at, rng.uniform(5.0, 30.0), False) for at in places(disturbances.stands_per_metre)]
    for at in places(disturbances.pauses_per_metre) if sort == "aimed" else ():
        seconds = rng.uniform(5.0, 40.0)
        if rng.random() < 0.3:
            stops.append((at, seconds, True))
            continue
        inside = (s[:-1] >= at) & (s[1:] <= at + rng.uniform(0.0, 12.0)) & ~silent
        if inside.any():
            lap[inside] *= max(1.0, seconds / lap[inside].sum())
            silent |= inside
    stops.sort()
    where = np.clip(np.searchsorted(s, [stop[0] for stop in stops]), 1, len(s) - 1).astype(int)
    lap = np.insert(lap, where, [stop[1] for stop in stops])
    silent = np.insert(silent, where, [stop[2] for stop in stops])
    metres = np.insert(s, where, s[where] if len(where) else [])
    return np.concatenate([[0.0], np.cumsum(lap)]), metres, silent


def walk_at(
    truth,
    rng,
    sort,
    capture,
    start,
    rate=1.0,
    spacing=1.0,
    disturbances=None,
    rounded=False,
    wobble=None,
    crew=None,
):
    """Walk along an outline.

    Parameters
    ----------
    truth : Outline
    rng : numpy.random.Generator
    sort : {"plumb", "aimed"}
        Aimed walks also have steps that are no whole number of intervals.
    capture : str
    start : float
        Unix seconds.
    rate : float
        Epochs a second.
    spacing : float
        Metres walked in a second.
    disturbances : Disturbances, optional
    rounded : bool
        Positions to five decimals of an arc minute (18 by 11 mm), heights to 0.1 m.
    wobble : Wobble, optional
    crew : Crew, optional
        Who walks in another way than at one pace; stands and pauses are the crew's own then.

    Returns
    -------
    Walk
    """
    wobble = wobble or Wobble()
    disturbances = disturbances or Disturbances()
    if crew:
        knots_t, knots_s, silent = crew.timetable(truth, rng, spacing)
    else:
        knots_t, knots_s, silent = _timetable(truth, rng, sort, spacing, disturbances)
    interval = 1.0 / rate
    t = np.arange(math.floor(knots_t[-1] * rate) + 1.0) * interval
    n = len(t)
    chainage = np.interp(t, knots_t, knots_s)
    true = truth.at(chainage)
    recorded = ~silent[np.clip(np.searchsorted(knots_t, t, "right") - 1, 0, len(silent) - 1)]
    recorded &= rng.random(n) >= disturbances.missing
    error = np.column_stack(
        [
            gauss_markov(n, rng, CORRELATED_SIGMA, CORRELATION_TIME, interval)
            + wobble.of(n, rng, WHITE_SIGMA, interval)
            for _ in range(3)
        ]
    ) * np.array([1.0, 1.0, UP_FACTOR])
    fix = np.full(n, FIXED)
    reported = rng.uniform(0.005, 0.009) + gauss_markov(n, rng, 0.001, 30.0, interval)
    h_acc = np.clip(reported, 0.004, 0.010)
    v_acc = np.clip(h_acc * 1.5, 0.006, 0.018)
    lost = np.zeros(n, bool)
    for chance, seconds, code, low, high in (
        (disturbances.poor_spells, 6, FIXED, 0.04, 0.12),
        (disturbances.float_spells, 20, FLOAT, 0.1, 0.5),
        (disturbances.autonomous_spells, 15, AUTONOMOUS, 0.8, 3.0),
    ):
        spell = _events(rng, np.ones(n, bool), chance, seconds=seconds, interval=interval)
        inside = spell > 0
        shove = _shoved(rng, spell, low, high)
        error[inside, :2] += shove[inside]
        fix[inside] = code
        size = np.maximum(np.hypot(*shove.T) * rng.uniform(0.6, 1.4, n), 0.06)
        h_acc[inside], v_acc[inside] = size[inside], 1.5 * size[inside]
        lost |= inside
    slip = _events(rng, ~lost, disturbances.spikes, longest=2, interval=interval)
    is_spike = slip > 0
    error[:, :2] += np.where(is_spike[:, None], _shoved(rng, slip, 0.2, 5.0), 0.0)
    error[:, 2] += np.where(is_spike, rng.normal(0.0, 0.3, n), 0.0)
    is_height_spike = (rng.random(n) < disturbances.height_spikes * interval) & ~lost & ~is_spike
    jump = np.exp(rng.uniform(math.log(0.15), 0.0, n)) * np.where(rng.random(n) < 0.5, -1.0, 1.0)
    error[:, 2] += np.where(is_height_spike, jump, 0.0)
    position = true + error
    stamps = t
    if crew:
        position[:, :2] += crew.late(truth, t, knots_t, knots_s)
        stamps = crew.times(t, rng, interval)
    if rounded:
        grid = np.array([0.0185, 0.0113, 0.1])
        position = np.round(position / grid) * grid
    rows = np.flatnonzero(recorded)
    return Walk(
        capture,
        truth.kind,
        sort,
        truth,
        *position[rows].T,
        start + stamps[rows],
        fix[rows],
        np.round(h_acc[rows], 3),
        np.round(v_acc[rows], 3),
        chainage[rows],
        *true[rows].T,
        is_spike[rows],
        is_height_spike[rows],
        np.zeros(len(rows), bool),
        (~lost & ~is_spike)[rows],
    )


def walks_along(
    truths,
    seed,
    rate=1.0,
    spacing=1.0,
    disturbances=None,
    rounded=False,
    wobble=None,
    crew=None,
):
    """One walk along each outline, half of them aimed, as a list of `Walk`."""
    walks, clock = [], 1746518400.0
    for number, truth in enumerate(truths):
        rng = np.random.default_rng([seed, number])
        sort = SORTS[int(rng.random() < 0.5)]
        name = f"C{number + 1:05d}"
        walks.append(
            walk_at(
                truth, rng, sort, name, clock, rate, spacing, disturbances, rounded, wobble, crew
            )
        )
        clock += 60.0 + math.ceil(walks[-1].seconds[-1] - clock if len(walks[-1]) else 0.0)
    return [one for one in walks if one.is_good.sum() > 10]


def thinned(walks, every, rate, first=0):
    """The same walks with one epoch in so many, as a slower receiver would have recorded them.

    Parameters
    ----------
    walks : list of Walk
    every : int
    rate : float
        Epochs a second of the walks as they are.
    first : int
        Number of the first one that stays.

    Returns
    -------
    list of Walk
    """
    out = []
    for walk in walks:
        number = np.rint((walk.seconds - walk.seconds[0]) * rate).astype(int)
        some = number % every == first
        columns = {
            item.name: getattr(walk, item.name)[some]
            for item in fields(walk)
            if isinstance(getattr(walk, item.name), np.ndarray)
        }
        out.append(replace(walk, **columns))
    return [one for one in out if one.is_good.sum() > 10]


@dataclass(frozen=True)
class Told:
    """What became of the epochs of one walk: counts, and distances of polylines from the truth.

    `kept_line`, `good_line`: distances and lengths of samples of the polylines through the kept
    and through the good epochs, and where the truth is next to them, chainages in metres.
    """

    good: int
    good_lost: int
    slips: int
    slips_found: int
    explained: int
    corners: np.ndarray
    kept_line: tuple = field(repr=False)
    good_line: tuple = field(repr=False)


def explained_stretches(walk, rate, spacing):
    """First and last chainage, shape (k, 2), of the pieces into which losses and pauses cut a walk,
    whatever is done with the rest."""
    rows = np.flatnonzero(walk.is_good)
    pause = np.diff(walk.seconds[rows])
    step = np.hypot(np.diff(walk.true_x[rows]), np.diff(walk.true_y[rows]))
    nominal = spacing / rate
    over = (pause > max(3.5 / rate, 2.0)) & (step > 1.5 * nominal)
    over |= step > max(3.5 * nominal, 2.0)
    chainage = walk.true_chainage[rows]
    return np.column_stack([chainage[np.append(True, over)], chainage[np.append(over, True)]])


def corners_seen(walk, within=6.0, epochs=2):
    """Places of corners with so many good epochs on both straight legs, shape (c, 2)."""
    truth = walk.truth
    s = walk.true_chainage[walk.is_good]
    ends = np.concatenate([[0.0], truth.joints[1:][np.abs(truth.turns) >= LEG_END], [truth.length]])
    out = []
    for corner, place in zip(truth.corner_chainage, truth.corners[:, :2]):
        low = max(ends[ends < corner - 1e-6].max(), corner - within)
        high = min(ends[ends > corner + 1e-6].min(), corner + within)
        before, after = s[(s >= low) & (s < corner)], s[(s > corner) & (s <= high)]
        if min(len(before), len(after)) >= epochs and (
            after.min() - before.max() < 4.5 and np.ptp(before) > 0.4 and np.ptp(after) > 0.4
        ):
            out.append(place)
    return np.array(out).reshape(-1, 2)


def through(xy, group, step=0.1):
    """Samples of polylines through points, one polyline for each value of `group`, and lengths."""
    size = np.hypot(*np.diff(xy, axis=0).T)
    number = np.where(np.diff(group) == 0, np.maximum(1, np.ceil(size / step)), 0).astype(int)
    owner = np.repeat(np.arange(len(number)), number)
    share = (np.arange(len(owner)) - (np.cumsum(number) - number)[owner] + 0.5) / number[owner]
    points = xy[owner] + share[:, None] * (xy[owner + 1] - xy[owner])
    return points, (size / np.maximum(number, 1))[owner]


def told(walk, true_line, result, rows, rate, spacing):
    """`Told` of a walk whose epochs are `rows` of the table that gave `result`."""
    reason, edge = result.reason[rows], result.edge[rows]
    xy = np.column_stack([walk.x, walk.y])
    slip = walk.is_spike & (walk.fix == FIXED)

    def line(mask, group):
        places = np.flatnonzero(mask)
        moved = np.append(True, np.diff(walk.true_chainage[places]) > 0.25 * spacing / rate)
        places = places[moved[: len(places)]]
        if len(places) < 2:
            return np.zeros(0), np.zeros(0), np.zeros(0)
        points, weight = through(xy[places], group[places])
        return true_line.distance(points), weight, true_line.locate(points)

    good = walk.is_good
    pieces = np.zeros(len(walk), int)
    place = np.flatnonzero(good)
    step = np.hypot(np.diff(walk.true_x[place]), np.diff(walk.true_y[place]))
    cut = (np.diff(walk.seconds[place]) > max(3.5 / rate, 2.0)) & (step > 1.5 * spacing / rate)
    pieces[place[1:]] = np.cumsum(cut)
    return Told(
        int(good.sum()),
        int((reason[good] > 0).sum()),
        int(slip.sum()),
        int((reason[slip] > 0).sum()),
        len(explained_stretches(walk, rate, spacing)),
        corners_seen(walk),
        line(edge >= 0, edge),
        line(good, pieces),
    )


def distances_to(lines, places):
    """Distance of places from the nearest vertex of lines, shape (c,)."""
    if not len(places):
        return np.zeros(0)
    vertices = np.concatenate([line[:, :2] for line in lines] or [np.full((1, 2), np.inf)])
    if not np.isfinite(vertices).all():
        return np.full(len(places), np.inf)
    return shapely.distance(shapely.multipoints(vertices), shapely.points(places))
