"""Curves of tangents and arcs moved towards means over all chains."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import shapely
from epochwalks import along, table_of_captures
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.reconstruction import mean_curves
from curbwright.shared.reconstruction.mean_curves import towards_means
from curbwright.shared.reconstruction.plan_curves import PlanCurves
from curbwright.shared.reconstruction.reconstruct import Settings, reconstruct
from curbwright.shared.tuning import BENDS, MEAN_CURVES, override

KEEP = Settings(doubtful="keep")
CAPTURES = 12
HEAD, SIDE = np.array([1.0, 0.0]), np.array([0.0, -1.0])  # along the first leg, and to its right


def legs(turn=90.0, closed=False):
    """Feet at 1, 2... 5 m before a corner and after it, the corner between them at the origin."""
    angle = np.radians(turn)
    second = np.array([np.cos(angle), np.sin(angle)])
    s = np.arange(-5.0, 6.0)
    xy = np.where((s < 0)[:, None], s[:, None] * HEAD, s[:, None] * second)
    right = np.where((s < 0)[:, None], SIDE, [second[1], -second[0]])
    feet = np.flatnonzero(s != 0)
    curves = PlanCurves(
        x=xy[:, 0],
        y=xy[:, 1],
        s=s + 5.0,
        curvature=np.zeros(11),
        held=np.isin(s, (-5.0, 0.0, 5.0)),
        offsets=np.array([0, 11]),
        node=feet,
        normal=right[feet],
        closed=np.array([closed]),
        sigma=np.full(10, 0.01),
        corners=np.zeros((1, 2)),
        corner_run=np.zeros(1, int),
    )
    return curves, right


def moved(monkeypatch, curves, off, detail=BENDS.noise, fixed=None, kind=0):
    """Curves whose mean feet lie `off` to the right of the feet; two elements of five."""
    target = curves.feet + np.asarray(off)[:, None] * curves.normal

    def means(feet, *arguments):
        return np.where(arguments[-1][:, None], target, feet)

    monkeypatch.setattr(mean_curves, "with_mean_feet", means)
    count = len(off)
    runs = SimpleNamespace(
        positions=SimpleNamespace(capture=np.zeros(count, int), x=target[:, 0], y=target[:, 1]),
        offsets=np.array([0, count]),
        variance=np.full(count, 1e-4),
    )
    chains = SimpleNamespace(turn=np.full(2, kind), bounds=np.array([0, 5, 10]))
    fixed = np.zeros(count, bool) if fixed is None else fixed
    with override(MEAN_CURVES__least=0.0):
        return towards_means(
            curves, chains, runs, SimpleNamespace(detail=np.array([detail])), fixed
        )


SHARE = MEAN_CURVES.share * (1 - BENDS.noise)


@pytest.mark.parametrize("turn", [40.0, 90.0, -120.0])
def test_a_corner_goes_to_where_both_sides_meet(monkeypatch, turn):
    curves, right = legs(turn)
    off = np.repeat([0.02, -0.03], 5)
    out = moved(monkeypatch, curves, off)
    assert_allclose(out.feet, curves.feet + SHARE * off[:, None] * curves.normal, atol=1e-12)
    place = np.array([out.x[5], out.y[5]])
    assert_allclose(place @ right[4], SHARE * 0.02, atol=1e-12)
    assert_allclose(place @ right[6], -SHARE * 0.03, atol=1e-12)
    assert_allclose(out.corners, [place], atol=1e-12)
    length = np.hypot(np.diff(out.x), np.diff(out.y))
    assert_allclose(np.diff(out.s), length, atol=1e-8)


def test_a_corner_does_not_move_past_a_foot(monkeypatch):
    curves, _ = legs()
    last = np.arange(11) == 4
    near = replace(curves, x=np.where(last, -0.004, curves.x), s=np.where(last, 4.996, curves.s))
    out = moved(monkeypatch, near, np.repeat([0.0, -0.03], 5))
    assert (np.diff(out.x[:6]) > 0).all()
    assert np.hypot(out.x[5], out.y[5]) < 0.03


def test_less_detail_moves_less_and_none_keeps_every_digit(monkeypatch):
    curves, _ = legs()
    off = np.full(10, 0.02)
    half = moved(monkeypatch, curves, off, detail=(1 + BENDS.noise) / 2)
    assert_allclose(half.feet, curves.feet + SHARE / 2 * off[:, None] * curves.normal, atol=1e-12)
    assert moved(monkeypatch, curves, off, detail=1.0) is curves


def test_fixed_positions_and_long_tangents_stay(monkeypatch):
    curves, _ = legs()
    off = np.full(10, 0.02)
    fixed = np.arange(10) < 5
    out = moved(monkeypatch, curves, off, fixed=fixed)
    assert_array_equal(out.feet[fixed], curves.feet[fixed])
    assert (out.feet[~fixed] != curves.feet[~fixed]).any(axis=1).all()
    with override(MEAN_CURVES__straight=5):
        assert moved(monkeypatch, curves, off) is curves
        assert moved(monkeypatch, curves, off, kind=1) is not curves


def test_feet_at_one_place_stay(monkeypatch):
    """They belong to positions beyond the end of an element, which may lie at any distance."""
    curves, _ = legs()
    beyond = np.isin(np.arange(11), (3, 4))
    at_end = replace(curves, x=np.where(beyond, -0.5, curves.x), s=np.where(beyond, 4.5, curves.s))
    out = moved(monkeypatch, at_end, np.full(10, 0.02))
    assert_array_equal(out.feet[3:5], at_end.feet[3:5])
    assert (out.feet[:3] != at_end.feet[:3]).any(axis=1).all()


def test_only_what_lies_off_together_moves(monkeypatch):
    curves, _ = legs()
    off = 0.02 * np.array([1, 1, 0, 0, 0, -1, 1, -1, 0, 0])
    out = moved(monkeypatch, curves, off)
    stays = (out.feet == curves.feet).all(axis=1)
    assert_array_equal(stays, np.arange(10) > 1)


def test_a_ring_stays_closed(monkeypatch):
    curves, _ = legs(closed=True)
    out = moved(monkeypatch, curves, np.linspace(0.0, 0.03, 10))
    assert (out.x[0], out.y[0]) == (out.x[-1], out.y[-1])


def test_runs_with_a_corner_at_one_place_keep_each_its_own():
    """Not by the place alone: of two runs of the same positions, each has its node."""
    one, _ = legs()
    both = {
        name: np.concatenate([getattr(one, name)] * 2)
        for name in ("x", "y", "s", "curvature", "held", "normal", "sigma", "corners")
    }
    curves = PlanCurves(
        **both,
        offsets=np.array([0, 11, 22]),
        node=np.append(one.node, one.node + 11),
        closed=np.array([False, False]),
        corner_run=np.array([0, 1]),
    )
    assert curves.corner_node.tolist() == [5, 16]
    assert replace(curves, corner_run=np.array([1, 0])).corner_node.tolist() == [16, 5]


@pytest.fixture(scope="module")
def without_and_with():
    """Sides of 14 m between sharp corners, each with a bend of 5 degrees in its middle: results
    without moves and with them, and the truth."""
    sides = [
        part
        for turn in (60, -60) * 5
        for part in (("line", 7.0), ("corner", turn / 12), ("line", 7.0), ("corner", turn))
    ]
    parts = [*sides, ("line", 7.0)]
    walks = [dict(zip("xy", along(parts, 0.012, seed))) for seed in range(CAPTURES)]
    table, _ = table_of_captures(walks)
    results = []
    for share in (0.0, MEAN_CURVES.share):
        # no free forms, feet move wherever they may, and as in a layer that shows many corners
        layer = {"FIT__free_form_penalty": 1e9, "BENDS__few": 0.0, "BENDS__many": 0.001}
        layer["MEAN_CURVES__together"] = 0.0
        with override(**layer, MEAN_CURVES__share=share):
            results.append(reconstruct(table, KEEP))
    truth = shapely.linestrings(np.column_stack(along(parts, step=0.01)))
    return results, shapely.simplify(truth, 1e-6)  # all straight: few vertices take less time


def test_nearer_to_gentle_bends_where_there_are_many_corners(without_and_with):
    results, truth = without_and_with
    off = []
    for result in results:
        edges = result.edges
        lines = [
            shapely.segmentize(shapely.linestrings(edges.x[low:high], edges.y[low:high]), 0.3)
            for low, high in zip(edges.offsets[:-1], edges.offsets[1:])
        ]
        distance = shapely.distance(truth, shapely.points(shapely.get_coordinates(lines)))
        off.append(np.sqrt(np.mean(distance**2)))
    assert off[1] < 0.97 * off[0]


def test_corners_stay_sharp(without_and_with):
    before, after = (result.corners for result in without_and_with[0])
    assert len(before) == len(after) >= 9.5 * CAPTURES
    assert 0 < np.hypot(*(before - after).T).max() < 0.05
