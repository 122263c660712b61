"""Chains drawn by hand, as a setting-out would have them: so much straight on, so far round with
such a radius, so sharp a corner."""

import numpy as np

from curbwright.shared.alignment.fitted_chains import Chains
from curbwright.shared.alignment.primitives import Primitives


def tangent(length):
    return "tangent", length


def arc(radius, deflection):
    """An arc; deflection in degrees, + to the right."""
    return "arc", radius, deflection


def corner(deflection):
    """A turn on the spot, in degrees, + to the right."""
    return "corner", deflection


def chain(*runs, positions=3):
    """Chains of runs: each is a dict of `pieces`, `start` (x, y), `bearing` in degrees and
    `closed`, or a list of pieces from the origin northwards.

    `positions` lie evenly on each element, without residuals.
    """
    columns = {
        name: []
        for name in ("x", "y", "ux", "uy", "radius", "turn", "smooth", "start", "end", "length")
    }
    offsets, bounds, chainage, closed = [0], [0], [], []
    for run in runs:
        run = run if isinstance(run, dict) else {"pieces": run}
        at, bearing, along, first = (
            np.array(run.get("start", (0.0, 0.0)), float),
            np.radians(run.get("bearing", 0.0)),
            0.0,
            len(columns["x"]),
        )
        begin = at.copy()
        for what, *numbers in run["pieces"]:
            if what == "corner":
                bearing += np.radians(numbers[0])
                columns["smooth"][-1] = False
                continue
            ahead = np.array([np.sin(bearing), np.cos(bearing)])
            if what == "tangent":
                length, point, radius, turn = numbers[0], at, np.inf, 0
                end = at + length * ahead
            else:
                radius, angle = numbers[0], np.radians(numbers[1])
                turn, length = int(-np.sign(angle)), radius * abs(angle)
                left = np.array([-ahead[1], ahead[0]])
                point = at + turn * radius * left
                bearing += angle
                end = point - turn * radius * np.array([-np.cos(bearing), np.sin(bearing)])
                ahead = np.zeros(2)
            for name, value in (
                ("x", point[0]),
                ("y", point[1]),
                ("ux", ahead[0]),
                ("uy", ahead[1]),
                ("radius", radius),
                ("turn", turn),
                ("smooth", True),
                ("start", at),
                ("end", end),
                ("length", length),
            ):
                columns[name].append(value)
            chainage.extend(along + length * (np.arange(positions) + 0.5) / positions)
            bounds.append(bounds[-1] + positions)
            at, along = end, along + length
        if run.get("closed"):
            assert np.hypot(*(at - begin)) < 1e-6, "the ring does not close"
            columns["end"][-1] = columns["start"][first]
        else:
            columns["smooth"][-1] = False
        offsets.append(len(columns["x"]))
        closed.append(bool(run.get("closed")))
    kinds = {"turn": np.int64, "smooth": bool}
    made = {name: np.array(values, kinds.get(name, float)) for name, values in columns.items()}
    made["start"], made["end"] = made["start"].reshape(-1, 2), made["end"].reshape(-1, 2)
    count, many = len(made["x"]), len(chainage)
    return Chains(
        offsets=np.array(offsets),
        bounds=np.array(bounds),
        **made,
        radius_sigma=np.where(made["turn"] != 0, 0.02, np.nan),
        sigma=np.full(many, 0.005),
        closed=np.array(closed, bool),
        chainage=np.array(chainage, float),
        residual=np.zeros(many),
        spline=np.zeros(count, bool),
        outlier=np.zeros(many, bool),
        feet=np.zeros((many, 2)),
    )


def some_curve(seed=0):
    """Tangents and arcs to both sides, in any position."""
    rng = np.random.default_rng(seed)
    angle = rng.uniform(-np.pi, np.pi, 6)
    return Primitives(
        *rng.normal(0, 5, (2, 6)),
        np.cos(angle),
        np.sin(angle),
        np.array([0.0, 0.2, -0.3, 0.01, -0.5, 0.0]),
    )
