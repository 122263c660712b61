"""Walks of the same edges merged: how near the truth they come, how sure they say they are, and how
long it takes; nothing is asserted.

    .venv/bin/python tests/benchmarks/passes.py                      60 edges, 5,000 edges
    .venv/bin/python tests/benchmarks/passes.py --edges 1k 5k 10k    several sizes

Every third walk goes the other way. Distances are taken from the lines as written, every 0.1 m, to
the true edge. What to expect: the errors of walks at other times are independent of one another,
both the part that a fit leaves of the white noise and the part of the receiver's error that stays
the same over a minute. So three like walks have the RMSE of one divided by the root of three
(0.577). If the slow part (5 mm across in the simulation) did not average out at all, sqrt((one**2 -
slow**2) / 3 + slow**2) would be left: "white share alone".
"""

import argparse
import time

import numpy as np
import shapely
from measuring import load_clone, peak

load_clone()

from curbwright.sample_project import simulation as sim  # noqa: E402
from curbwright.shared.epochs.table import EpochTable  # noqa: E402
from curbwright.shared.lines.lines import Lines  # noqa: E402
from curbwright.shared.lines.merge_results import STATES  # noqa: E402
from curbwright.shared.lines.passes import merge_passes  # noqa: E402
from curbwright.shared.reconstruction.reconstruct import reconstruct  # noqa: E402

STEP = 0.1  # m between samples along edges
WALKS = 3
EDGES_PER_TRUTH = 7.3  # of four walks that break off now and then
GRID = 400.0  # m between the edges, so that none comes near another


def walked(seed, truths, walks, disturbances):
    """True edges of all kinds, and edges reconstructed from several walks of each: `Lines`,
    sigma_up, and the number of the truth of each edge."""
    rng, made, captures = np.random.default_rng(seed), [], []
    wide = int(np.ceil(np.sqrt(truths)))
    for number in range(truths):
        truth = sim.random_truth(
            sim.SHAPES[number % len(sim.SHAPES)],
            rng,
            (GRID * (number % wide), GRID * (number // wide)),
        )
        made.append(truth)
        for turn in range(walks):
            between = (
                None if turn % 3 != 1 else (truth.length * (1.01 if truth.closed else 1.0), 0.0)
            )
            captures.append(
                sim.walk(
                    truth,
                    rng,
                    sim.SORTS[turn % 2],
                    "",
                    7200.0 * len(captures),
                    between,
                    disturbances,
                )
            )

    def column(name):
        return np.concatenate([getattr(walk, name) for walk in captures])

    table = EpochTable.from_columns(
        column("x"),
        column("y"),
        column("z"),
        column("seconds"),
        np.repeat(np.arange(len(captures)), [len(walk) for walk in captures]),
        column("fix") == sim.FIXED,
        column("h_acc"),
        column("v_acc"),
    )
    edges = reconstruct(table).edges
    return made, edges, edges.capture // walks


def lines_of(edges):
    return Lines.from_columns(
        edges.x,
        edges.y,
        edges.z,
        edges.offsets,
        np.arange(len(edges)),
        len(edges),
        np.nan_to_num(edges.sigma_cross),
    )


def samples(edges):
    """Positions every `STEP` along edges, shape (n, 3), and the edge of each."""
    lines = shapely.linestrings(
        np.column_stack([edges.x, edges.y, edges.z]),
        indices=np.repeat(np.arange(len(edges)), np.diff(edges.offsets)),
    )
    number = np.maximum((shapely.length(lines) / STEP).astype(int), 1)
    edge = np.repeat(np.arange(len(edges)), number)
    place = np.arange(len(edge)) - np.repeat(np.cumsum(number) - number, number)
    return (
        shapely.get_coordinates(
            shapely.line_interpolate_point(
                lines[edge], (place + 0.5) / number[edge], normalized=True
            ),
            include_z=True,
        ),
        edge,
    )


def off_truth(truths, points):
    """Distance in plan and in height from the nearest of the true edges, shape (n,), metres."""
    lines = [truth.polyline(1e-4)[0] for truth in truths]
    tree = shapely.STRtree(
        shapely.linestrings(
            np.concatenate(lines),
            indices=np.repeat(np.arange(len(lines)), [len(line) for line in lines]),
        )
    )
    found, distance = tree.query_nearest(
        shapely.points(points[:, :2]), return_distance=True, all_matches=False
    )
    lines = tree.geometries[found[1]]
    feet = shapely.get_coordinates(
        shapely.line_interpolate_point(
            lines, shapely.line_locate_point(lines, shapely.points(points[:, :2]))
        ),
        include_z=True,
    )
    return distance, points[:, 2] - feet[:, 2]


def rms(values):
    return float(np.sqrt(np.mean(np.square(values))))


def accuracy(seed, truths):
    made, edges, _ = walked(seed, truths, WALKS, sim.Disturbances.none())
    merged = merge_passes(lines_of(edges), edges.sigma_up)
    alone, alone_up = off_truth(made, samples(edges)[0])
    points, edge = samples(merged.edges)
    many = STATES.index("merged") == merged.edges.state[edge]
    together, together_up = off_truth(made, points[many])
    slow = sim.CORRELATED_SIGMA
    print(
        f"{len(edges)} edges, {WALKS} walks of {truths}:"
        f" {np.bincount(merged.edges.state, minlength=len(STATES)).tolist()} {', '.join(STATES)};"
        f" {len(merged.disagreements)} disagreements"
    )
    print(
        f"{'RMSE, mm':32}{'one walk':>10}{'merged':>10}",
        f"{'ratio':>8}{'expected':>10}{'white share alone':>20}",
        sep="",
    )
    for what, one, three, steady in (
        ("across", alone, together, slow),
        ("up", alone_up, together_up, sim.UP_FACTOR * slow),
    ):
        left = (
            np.sqrt((rms(one) ** 2 - steady**2) / WALKS + steady**2)
            if rms(one) > steady
            else np.nan
        )
        print(
            f"{what:32}{1000 * rms(one):>10.2f}{1000 * rms(three):>10.2f}",
            f"{rms(three) / rms(one):>8.3f}{1000 * rms(one) / np.sqrt(WALKS):>10.2f}",
            f"{1000 * left:>20.2f}",
            sep="",
        )
    sigma, sigma_up = merged.edges.sigma[edge[many]], merged.edges.sigma_up[edge[many]]
    print(
        f"sigma_cross of merged edges {1000 * rms(sigma):.2f} mm, holds the truth at 95 %:"
        f" {100 * np.mean(together < 1.96 * sigma):.1f} %; sigma_up {1000 * rms(sigma_up):.2f} mm,"
        f" {100 * np.mean(np.abs(together_up) < 1.96 * sigma_up):.1f} %"
    )
    print(
        f"RMS between two walks {1000 * merged.repeatability:.2f} mm (their sigmas let expect"
        f" {1000 * merged.expected:.2f}), up {1000 * merged.repeatability_up:.2f}"
        f" ({1000 * merged.expected_up:.2f})"
    )


def speed(seed, number):
    _, edges, _ = walked(seed, round(number / EDGES_PER_TRUTH), 4, sim.Disturbances())
    lines = lines_of(edges)
    before, looks = peak(), []
    start = time.perf_counter()
    merged = merge_passes(lines, edges.sigma_up, progress=looks.append)
    seconds = time.perf_counter() - start
    print(
        f"{len(edges):>7,} edges  {lines.length().sum() / 1000:6.1f} km -> {len(merged.edges):>6,}"
        f" edges  {merged.edges.length.sum() / 1000:6.1f} km  {seconds:6.1f} s  {peak():6.0f} MB"
        f" ({before:.0f} before)  {len(merged.disagreements)} disagreements  looks at cancel"
        f" {len(looks)}"
    )


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--edges", nargs="*", default=["5k"], help="sizes for the time")
    parser.add_argument("--truths", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    arguments = parser.parse_args()
    accuracy(arguments.seed, arguments.truths)
    for size in arguments.edges:
        speed(arguments.seed, int(float(size.lower().replace("k", "e3"))))


if __name__ == "__main__":
    main()
