"""Tern Ness ferry port: an invented place, its kerbs and footway edges, and the captures made
there.

Neither the port nor its walkers exist. The site lies on open water of the North Sea, at round
coordinates of UTM zone 31 north, on the zone's central meridian. There the grid is 0.9996 of the
ground in every direction and north is grid north, so that the port is laid out in ground metres
east and north of `ORIGIN` and scaled on the way out.
"""

import math
from dataclasses import dataclass
from datetime import datetime, timezone

import numpy as np

from .simulation import (
    CORRELATED_SIGMA,
    CORRELATION_TIME,
    FIXED,
    FLOAT,
    UP_FACTOR,
    Disturbances,
    Walk,
    chain,
    gauss_markov,
    island_parts,
    walk,
)

CRS = "EPSG:32631"
ORIGIN = (500000.0, 6200000.0)
GRID_SCALE = 0.9996
SEED = 20250538  # one with which nearly everything that can go wrong does so in every layer

GROUND = (3.4, 0.004, -0.003)  # height at the origin, slopes to the east and north
UPSTAND = 0.12  # of islands above the carriageway
ROUNDABOUT = (380.0, 95.0)
DAYS = {
    1: datetime(2025, 5, 13, 7, 10, tzinfo=timezone.utc),
    2: datetime(2025, 5, 14, 6, 45, tzinfo=timezone.utc),
}
HABITS = Disturbances(
    stands_per_metre=1 / 110,
    pauses_per_metre=1 / 70,
    float_spells=1 / 170,
    autonomous_spells=1 / 1100,
    poor_spells=1 / 1000,
    spikes=1 / 130,
    height_spikes=1 / 220,
    repeats=1 / 220,
    no_time=1 / 800,
    no_position=1 / 800,
    missing=1 / 300,
)


@dataclass(frozen=True)
class Capture:
    """A walk in the port: which layer it goes to, and who walked it."""

    layer: str
    edge: str
    walker: str
    day: int
    walk: Walk


def to_grid(xy):
    """Ground metres from the origin to grid coordinates in `CRS`, shape (n, 2)."""
    return np.asarray(ORIGIN) + GRID_SCALE * np.asarray(xy)


def _edge(kind, parts, start, degrees, closed=False, drops=(), upstand=0.0):
    base, east, north = GROUND
    height = base + east * start[0] + north * start[1] + upstand
    return chain(kind, parts, start, math.radians(degrees), closed, (height, east, north), drops)


def _island(x, y, side, radius, degrees):
    """A kerbed island centred on a place, its length in a direction."""
    turn = math.radians(degrees)
    # middle of the right-hand side
    start = (x + radius * math.sin(turn), y - radius * math.cos(turn))
    return _edge("island", island_parts(side, radius), start, degrees, True, upstand=UPSTAND)


def _between_arms(first, second, deflection, half_width=4.0, outer=20.0, entry=8.0, degrees=0.0):
    """Outer kerb of the roundabout from one arm to the next, the centre on its right.

    The entry arc (radius r, tangent to the arm's kerb at offset h) touches the outer circle (radius
    R) where their centres are R + r apart; so it turns by 90 degrees - asin((h + r) / (R + r)).
    """
    away = half_width + entry
    turn = 90.0 - math.degrees(math.asin(away / (outer + entry)))
    along = -math.sqrt((outer + entry) ** 2 - away**2) - first
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    start = (ROUNDABOUT[0] + c * along - s * half_width, ROUNDABOUT[1] + s * along + c * half_width)
    parts = [
        ("line", first),
        ("arc", entry, turn),
        ("arc", outer, deflection - 2.0 * turn),
        ("arc", entry, turn),
        ("line", second),
    ]
    return _edge("block", parts, start, degrees)


def _bay(depth, length):
    return [
        ("corner", -90.0),
        ("line", depth),
        ("corner", 90.0),
        ("line", length),
        ("corner", 90.0),
        ("line", depth),
        ("corner", -90.0),
    ]


def edges():
    """The true edges of the port by name, in ground metres from the origin."""
    x, y = ROUNDABOUT
    port = {
        # along the quay, with two dropped kerbs where passengers cross
        "quay footway": _edge(
            "bend",
            [
                ("line", 140.0),
                ("arc", 60.0, -25.0),
                ("line", 45.0),
                ("arc", 110.0, 25.0),
                ("line", 70.0),
            ],
            (40.0, 228.0),
            0.0,
            drops=[(52.0, 2.4, 0.12, 1.2), (216.0, 3.0, 0.12, 1.5)],
        ),
        "yard kerb": _edge(
            "block",
            [
                ("line", 118.0),
                ("arc", 6.0, -90.0),
                ("line", 78.0),
                ("arc", 9.0, -90.0),
                ("line", 62.0),
                ("arc", 4.0, 90.0),
                ("line", 24.0),
            ],
            (76.0, 72.0),
            90.0,
            drops=[(30.0, 3.0, 0.10, 1.0)],
        ),
        "service road": _edge(
            "bay",
            [
                ("line", 62.0),
                *_bay(2.5, 22.0),
                ("line", 48.0),
                *_bay(3.0, 14.0),
                ("line", 55.0),
                ("arc", 90.0, -22.0),
                ("line", 34.0),
                ("arc", 140.0, 22.0),
                ("line", 60.0),
            ],
            (40.0, 52.0),
            0.0,
            drops=[(30.0, 4.0, 0.12, 1.5)],
        ),
        "terminal footway": _edge(
            "zigzag",
            [
                ("line", 30.0),
                ("corner", -45.0),
                ("line", 8.0),
                ("corner", -45.0),
                ("line", 25.0),
                ("corner", -90.0),
                ("line", 10.0),
                ("corner", 90.0),
                ("line", 12.0),
                ("corner", -90.0),
                ("line", 28.0),
            ],
            (206.0, 112.0),
            90.0,
        ),
        "roundabout north-west": _between_arms(70.0, 60.0, 90.0),
        "roundabout north-east": _between_arms(60.0, 75.0, 90.0, degrees=-90.0),
        "roundabout south": _between_arms(75.0, 70.0, 0.0, degrees=180.0),
        "roundabout centre": _edge(
            "island", [("arc", 8.0, 180.0)] * 2, (x, y - 8.0), 0.0, True, upstand=UPSTAND
        ),
        "splitter west": _island(x - 34.0, y, 9.0, 1.0, 0.0),
        "splitter north": _island(x, y + 33.0, 7.0, 1.0, 90.0),
        "splitter east": _island(x + 35.0, y, 10.0, 1.2, 0.0),
    }
    for lane, (side, radius, shift) in enumerate(
        [
            (44.0, 1.5, 0.0),
            (46.0, 1.0, 3.0),
            (46.0, 1.0, 6.0),
            (44.0, 1.25, 9.0),
            (38.0, 1.0, 12.0),
            (30.0, 2.0, 15.0),
        ],
        1,
    ):
        port[f"lane island {lane}"] = _island(78.0 + 11.0 * lane, 126.0 + shift, side, radius, 90.0)
    return port


PLAN = (
    # layer, edge, sort, walker, day; walked against the direction of the truth where marked with <
    ("captures_plumb", "quay footway", "plumb", "walker A", 1),
    ("captures_plumb", "yard kerb", "plumb", "walker A", 1),
    ("captures_plumb", "lane island 1", "plumb", "walker A", 1),
    ("captures_plumb", "lane island 2", "plumb", "walker A", 1),
    ("captures_plumb", "lane island 3", "plumb", "walker A", 1),
    ("captures_plumb", "roundabout centre", "plumb", "walker A", 1),
    ("captures_aimed", "service road", "aimed", "walker B", 1),
    ("captures_aimed", "lane island 6", "aimed", "walker B", 1),
    ("captures_aimed", "lane island 5", "aimed", "walker B", 1),
    ("captures_aimed", "lane island 4", "aimed", "walker B", 1),
    ("captures_aimed", "roundabout north-east", "aimed", "walker B", 2),
    ("captures_aimed", "roundabout south", "aimed", "walker B", 2),
    (
        "captures_plumb",
        "<quay footway",
        "plumb",
        "walker C",
        2,
    ),  # walked again the next day, by another walker
    ("captures_plumb", "roundabout north-west", "plumb", "walker C", 2),
    ("captures_geographic", "terminal footway", "plumb", "walker D", 2),
    ("captures_geographic", "splitter west", "plumb", "walker D", 2),
    ("captures_geographic", "splitter north", "plumb", "walker D", 2),
    ("captures_geographic", "splitter east", "plumb", "walker D", 2),
)


BASEMAP_SHIFT = (0.35, -0.20)
"""Where the legacy basemap lies as seen from the truth, metres on the ground."""
DIGITISED = 0.03  # m, per axis: how well its vertices were drawn
GENERALISED = 0.05  # m, within which it follows curves
MOVED = {"terminal footway": (0.9, -1.2), "lane island 6": (1.2, 0.9)}  # rebuilt since, metres
NOT_DRAWN = ("lane island 5", "splitter north")  # built since
DEMOLISHED = {
    "old weighbridge kerb": [(56.0, 14.0), (96.0, 14.0), (96.0, 22.0)],
    "old fence foot": [(250.0, 205.0), (318.0, 212.0)],
}
CHECK_SIGMA = 0.008  # m, per axis and in height, of the surveyed check points

# name, edge and number of its corner, day, epochs; spot points on corners, one of them occupied
# again the next day
SPOTS = (
    ("S1", "service road", 0, 1, 12),
    ("S2", "service road", 3, 1, 5),
    ("S3", "service road", 6, 1, 2),
    ("S4", "terminal footway", 2, 2, 30),
    ("S1 again", "service road", 0, 2, 15),
)
# edge, walker, day, of the lines that an app drew while it walked
STREAMED = (("service road", "walker A", 2), ("<lane island 6", "walker A", 2))
# m, per axis: white noise of a pole on a bipod, and how it leans while it stands there
SPOT_NOISE, SPOT_LEAN = 0.005, 0.002


def basemap(seed=SEED):
    """The legacy basemap: names, what became of each line, and vertices in ground metres from the
    origin, without heights."""
    rng = np.random.default_rng([seed, 3])
    names, fates, lines = [], [], []
    for name, truth in edges().items():
        if name in NOT_DRAWN:
            continue
        line = truth.polyline(GENERALISED)[0][:, :2]
        drawn = (
            line
            + np.asarray(BASEMAP_SHIFT)
            - np.asarray(MOVED.get(name, (0.0, 0.0)))
            + rng.normal(0.0, DIGITISED, line.shape)
        )
        if truth.closed:
            drawn[-1] = drawn[0]
        names.append(name)
        fates.append("moved" if name in MOVED else "unchanged")
        lines.append(drawn)
    for name, line in DEMOLISHED.items():
        names.append(name)
        fates.append("demolished")
        lines.append(
            np.asarray(line)
            + np.asarray(BASEMAP_SHIFT)
            + rng.normal(0.0, DIGITISED, (len(line), 2))
        )
    return names, fates, lines


def check_points(seed=SEED):
    """Points on edges from an independent survey: names and positions, shape (n, 3), in ground
    metres from the origin."""
    rng = np.random.default_rng([seed, 4])
    names, points = [], []
    for truth in edges().values():
        on_edge = truth.at(rng.uniform(0.1, 0.9, 2) * truth.length)
        for point in (*truth.corners, *on_edge):
            names.append(f"P{len(names) + 1:02d}")
            points.append(np.asarray(point) + rng.normal(0.0, CHECK_SIGMA, 3))
    return names, np.array(points)


def spots(seed=SEED):
    """Epochs of the spot points, one a second: columns by name, `xyz` in ground metres from the
    origin.

    Noise, and what goes wrong: the first two epochs of S4 are float, an epoch of S1 slips, one of
    “S1 again” has a wrong height.
    """
    rng, port = np.random.default_rng([seed, 6]), edges()
    made = {name: [] for name in ("point", "seconds", "fix", "h_acc", "v_acc", "xyz")}
    for number, (name, edge, corner, day, epochs) in enumerate(SPOTS):
        error = np.column_stack(
            [gauss_markov(epochs, rng, CORRELATED_SIGMA, CORRELATION_TIME) for _ in range(3)]
        )
        error += rng.normal(0.0, SPOT_NOISE, (epochs, 3)) + rng.normal(0.0, SPOT_LEAN, 3)
        error[:, 2] *= UP_FACTOR
        fix, accuracy = np.full(epochs, FIXED), np.round(rng.uniform(0.006, 0.009, epochs), 3)
        if name == "S1":
            error[7, :2] += 0.31, -0.22
        elif name == "S4":
            fix[:2], accuracy[:2] = FLOAT, 0.21
            error[:2] += 0.18, 0.12, -0.25
        elif name == "S1 again":
            error[4, 2] += 0.19
        made["point"] += [name] * epochs
        made["seconds"].append(
            DAYS[day].timestamp() + 6.0 * 3600.0 + 240.0 * number + np.arange(epochs)
        )
        made["xyz"].append(port[edge].corners[corner] + error)
        for key, values in (
            ("fix", fix),
            ("h_acc", accuracy),
            ("v_acc", np.round(1.5 * accuracy, 3)),
        ):
            made[key].append(values)
    return {
        key: values if key == "point" else np.concatenate(values) for key, values in made.items()
    }


def streamed(seed=SEED):
    """Walks of which an app kept a line: the fixed epochs that have a position and a time, as a
    list of `Capture`."""
    port, begin, made = edges(), DAYS[2].timestamp() + 4.0 * 3600.0, []
    for number, (name, walker, day) in enumerate(STREAMED, 1):
        rng, truth = np.random.default_rng([seed, 7, number]), port[name.lstrip("<")]
        between = (truth.length, 0.0) if name.startswith("<") else None
        walked = walk(truth, rng, "plumb", f"{day}-L{number}", begin, between, HABITS)
        begin = math.ceil(np.nanmax(walked.seconds)) + 90.0
        made.append(Capture("streamed_lines", name.lstrip("<"), walker, day, walked))
    return made


def captures(seed=SEED):
    """All captures of the port, positions in ground metres from the origin, as a list of
    `Capture`."""
    port, clock, made = edges(), {}, []
    for number, (layer, name, sort, walker, day) in enumerate(PLAN, 1):
        # one of its own, so that a change to one leaves the others
        rng = np.random.default_rng([seed, number])
        truth = port[name.lstrip("<")]
        between = (truth.length, 0.0) if name.startswith("<") else None
        begin = clock.get((walker, day), DAYS[day].timestamp() + 60.0 * float(rng.integers(0, 30)))
        walked = walk(truth, rng, sort, f"{day}-{number:02d}", begin, between, HABITS)
        clock[walker, day] = math.ceil(np.nanmax(walked.seconds)) + float(rng.integers(40, 200))
        made.append(Capture(layer, name.lstrip("<"), walker, day, walked))
    return made
