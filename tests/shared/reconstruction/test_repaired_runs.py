"""Repairs: each does what it says, and nothing beyond the stretch of the walk that it lies in."""

import dataclasses

import numpy as np
import pytest
from epochwalks import along, line, off_line, straight, table_of, table_of_captures, take, trial
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_array_equal

from curbwright.shared.epochs.reasons import Reason
from curbwright.shared.epochs.settings import DOUBTFUL, Settings
from curbwright.shared.reconstruction.breaks import BREAK_NAMES
from curbwright.shared.reconstruction.reconstruct import ROLE_NAMES, reconstruct
from curbwright.shared.reconstruction.refit import nominal_of, refit_capture
from curbwright.shared.reconstruction.repairs import (
    KINDS,
    STATES,
    WHY,
    PlacedRepairs,
    Repairs,
    decided_words,
    why_words,
)

pytestmark = pytest.mark.filterwarnings("error::RuntimeWarning")
OF_ROWS = "reason", "role", "height_used", "chainage", "residual_cross", "residual_up"
OF_EDGES = "length", "sigma_cross", "sigma_up", "started", "epochs_used", "rms_residual"
KEEP = Settings(doubtful="keep")


def repaired(table, *rows, settings=KEEP):
    """The result with repairs of capture 0 (another one where it is said), times as the table's."""
    rows = [{"capture": "0", **row} for row in rows]
    captures = [str(code) for code in range(int(table.capture.max()) + 1)]
    placed = Repairs.from_rows(rows).placed(captures, 0.0)
    return reconstruct(table, settings, repairs=placed)


def states(result):
    return [STATES[state] for state in result.repairs.state]


def turns(result, number=0):
    """Greatest turn at a vertex of an edge, degrees."""
    d = np.diff(line(result.edges, number)[:, :2], axis=0)
    angle = np.arctan2(d[:, 1], d[:, 0])
    return np.degrees(np.abs((np.diff(angle) + np.pi) % (2 * np.pi) - np.pi)).max(initial=0.0)


def same_rows(one, other, rows):
    for name in OF_ROWS:
        assert_array_equal(getattr(one, name)[rows], getattr(other, name)[rows], err_msg=name)


def bend(degrees, seed=1, side=24.0):
    """Two straight sides that meet at an angle, in the middle of the epochs."""
    x, y = along([("line", side), ("corner", degrees), ("line", side)], 0.006, seed)
    return table_of(x, y)


def curb_return(seed=2):
    x, y = along([("line", 20.0), ("arc", 8.0, 90.0), ("line", 20.0)], 0.006, seed)
    return table_of(x, y)


# --- epochs -------------------------------------------------------------------------------------


def test_an_epoch_is_left_out():
    table = bend(0.0)
    result = repaired(table, {"kind": "leave_out", "time": 12.0})
    assert np.flatnonzero(result.reason).tolist() == [12]
    assert result.reason[12] == Reason.LEFT_OUT and result.edge[12] == -1
    assert len(result.edges) == 1 and states(result) == ["applied"]
    assert_array_equal(result.repairs.rows, [12])


def spoiled():
    """A straight walk with an epoch for each reason that can be overruled, and those reasons."""
    x, y = straight(60)
    fixed, sigma = np.ones(60, bool), np.full(60, 0.01)
    fixed[12], sigma[20] = False, 0.09
    y[30] += 0.9
    return table_of(x, y, fixed=fixed, sigma_h=sigma), {
        12: Reason.NOT_FIXED,
        20: Reason.POOR_ACCURACY,
        30: Reason.SPIKE,
    }


@pytest.mark.parametrize("doubtful", DOUBTFUL)
def test_epochs_are_taken_back_over_their_reasons(doubtful):
    table, reasons = spoiled()
    own = Settings(doubtful=doubtful)
    plain = reconstruct(table, own)
    assert {row: plain.reason[row] for row in reasons} == reasons
    rows = [{"kind": "take_back", "time": float(row)} for row in reasons]
    result = repaired(table, *rows, settings=own)
    assert states(result) == ["applied"] * 3
    for row, why in reasons.items():
        assert result.reason[row] == Reason.KEPT and result.edge[row] >= 0
        assert result.overruled[row] == why and ROLE_NAMES[result.role[row]]
    # nobody else was: a spike that stays has no say on its neighbours
    assert np.count_nonzero(result.overruled) == 3 and not result.reason.any()


def test_a_way_back_and_a_short_walk_are_taken_back():
    x, y = straight(30)
    x = np.concatenate([x[:16], x[13:16][::-1] - 0.02, x[16:]])
    y = np.concatenate([y[:16], y[13:16][::-1] + 0.01, y[16:]])
    table = table_of(x, y)
    plain = reconstruct(table, KEEP)
    back = np.flatnonzero(plain.reason == Reason.BACKTRACK)
    assert back.size
    result = repaired(table, {"kind": "take_back", "time": float(back[0])})
    assert result.reason[back[0]] == 0 and result.overruled[back[0]] == Reason.BACKTRACK
    # two epochs make no edge, unless somebody says so
    x, y = straight(42)
    seconds = np.arange(42.0)
    seconds[40:] += 500.0
    x[40:] += 60.0
    table = table_of(x, y, seconds=seconds)
    assert_array_equal(np.flatnonzero(reconstruct(table, KEEP).reason), [40, 41])
    result = repaired(table, {"kind": "take_back", "time": seconds[40]})
    assert not result.reason.any() and len(result.edges) == 2
    assert_array_equal(result.overruled[[40, 41]], [Reason.TOO_SHORT, 0])


def test_what_is_no_position_cannot_be_taken_back():
    table = bend(0.0)
    table.x[7] = np.nan
    table = dataclasses.replace(table, parts=np.where(np.arange(len(table)) == 7, 0, 1))
    result = repaired(table, {"kind": "take_back", "time": 7.0})
    assert result.reason[7] == Reason.NO_POSITION
    assert states(result) == ["no_effect"] and WHY[result.repairs.why[0]] == "no_position"
    assert why_words(result.repairs.why) == ["the epoch has no usable position"]


def test_of_two_epochs_with_one_time_one_is_taken_back():
    table = bend(0.0)
    seconds = table.seconds.copy()
    seconds[9] = 8.0
    fixed = np.ones(len(table), bool)
    fixed[[8, 9]] = False
    table = dataclasses.replace(table, seconds=seconds, fixed=fixed)
    result = repaired(table, {"kind": "take_back", "time": 8.0})
    assert sorted(result.reason[[8, 9]]) == [Reason.KEPT, Reason.NOT_FIXED]
    fixed[8] = True
    result = repaired(table, {"kind": "leave_out", "time": 8.0})
    assert_array_equal(result.reason[[8, 9]], [Reason.LEFT_OUT, Reason.NOT_FIXED])
    assert states(result) == ["applied"]


def test_what_is_out_anyway_is_not_left_out():
    table, _ = spoiled()
    rows = [{"kind": "leave_out", "time": 12.0}, {"kind": "leave_out", "time": 20.0}]
    result = repaired(table, *rows)
    assert_array_equal(result.reason, reconstruct(table, KEEP).reason)
    assert states(result) == ["no_effect"] * 2 and not result.repairs.rows.size
    assert why_words(result.repairs.why)[0] == "the epoch is rejected in any case"
    # of two repairs of one epoch the last one counts, and the other one says so
    rows = [{"kind": "leave_out", "time": 12.0}, {"kind": "take_back", "time": 12.0}]
    result = repaired(table, *rows)
    assert states(result) == ["no_effect", "applied"] and result.edge[12] >= 0
    assert WHY[result.repairs.why[0]] == "taken_back_later"


def test_nothing_breaks_where_no_edge_goes_on():
    table = bend(0.0)
    last = len(table) - 1
    result = repaired(table, {"kind": "break_here", "time": float(last)})
    assert states(result) == ["no_effect"] and len(result.edges) == 1
    assert why_words(result.repairs.why) == ["no edge goes on over the epoch"]
    # an epoch that is rejected inside an edge stands for the one before it
    table.y[12] += 0.9
    result = repaired(table, {"kind": "break_here", "time": 12.0})
    assert states(result) == ["applied"] and len(result.edges) == 2


# --- breaks and bridges -------------------------------------------------------------------------


def test_a_walk_breaks_where_it_is_asked():
    table = bend(0.0)
    plain, result = reconstruct(table, KEEP), repaired(table, {"kind": "break_here", "time": 15.0})
    assert (len(plain.edges), len(result.edges)) == (1, 2)
    assert_array_equal(np.unique(result.edge, return_counts=True)[1], [16, len(table) - 16])
    assert [BREAK_NAMES[reason] for reason in result.gaps.reason] == ["break_asked"]
    assert BREAK_NAMES[result.edges.end_reason[0]] == "break_asked"


def test_a_ring_is_opened():
    parts = [("line", 10.0), ("corner", 90.0)] * 4
    x, y = along(parts, 0.005, 3, closed=True)
    table = table_of(x, y)
    assert reconstruct(table, KEEP).edges.closed.tolist() == [True]
    result = repaired(table, {"kind": "break_here", "time": 12.0})
    assert result.edges.closed.tolist() == [False] and not result.reason.any()
    first, last = line(result.edges, 0)[[0, -1], :2]
    places = np.column_stack([x, y])
    assert np.hypot(*(first - places[13])) < 0.05 and np.hypot(*(last - places[12])) < 0.05


def interrupted(gap, seconds=120.0):
    """A straight walk with a pause meanwhile which it moved on."""
    x, y = straight(40)
    x, y = x.copy(), y.copy()
    ahead = np.array([np.cos(0.3), np.sin(0.3)]) * gap
    x[20:], y[20:] = x[20:] + ahead[0], y[20:] + ahead[1]
    t = np.arange(40.0)
    t[20:] += seconds
    return table_of(x, y, seconds=t)


@pytest.mark.parametrize("doubtful", DOUBTFUL)
@pytest.mark.parametrize("gap", [6.0, 17.0])
def test_a_gap_is_bridged(gap, doubtful):
    table, own = interrupted(gap), Settings(doubtful=doubtful)
    assert len(reconstruct(table, own).edges) == 2
    until = table.seconds[20]
    result = repaired(table, {"kind": "bridge", "time": 19.0, "until": until}, settings=own)
    assert len(result.edges) == 1 and len(result.gaps) == 0
    assert states(result) == ["applied"] and not result.reason.any()


def test_a_long_gap_is_not_bridged():
    table = interrupted(25.0)
    plain, bridge = reconstruct(table, KEEP), {"kind": "bridge", "time": 19.0, "until": 140.0}
    result = repaired(table, bridge)
    assert states(result) == ["no_effect"] and WHY[result.repairs.why[0]] == "too_long"
    assert len(result.edges) == 2
    same_rows(plain, result, slice(None))


def test_no_bridge_leads_into_another_capture():
    table = interrupted(4.0)
    table = dataclasses.replace(table, capture=(np.arange(40) >= 20).astype(int))
    result = repaired(table, {"kind": "bridge", "time": 19.0, "until": 140.0})
    assert states(result) == ["lost"] and len(result.edges) == 2
    assert [BREAK_NAMES[reason] for reason in result.gaps.reason] == ["new_capture"]


# --- corners, joints, elements ------------------------------------------------------------------


@pytest.mark.parametrize("degrees", [8.0, 20.0])
def test_a_corner_is_made(degrees):
    """Below the least deflection of a corner, too, and within two steps of where it is said."""
    table = bend(degrees)
    assert len(reconstruct(table, KEEP).corners) == 0
    for epoch in (19.0, 20.0, 21.0):
        result = repaired(table, {"kind": "corner", "time": epoch})
        assert len(result.corners) == 1 and states(result) == ["applied"]
        place = np.array([table.x[int(epoch)], table.y[int(epoch)]])
        assert np.hypot(*(result.corners[0] - place)) < 2.5
        assert (np.hypot(*(line(result.edges, 0)[:, :2] - result.corners[0]).T) < 1e-6).any()


def test_a_corner_is_forbidden():
    table = bend(50.0)
    plain = reconstruct(table, KEEP)
    assert len(plain.corners) == 1 and turns(plain) > 45
    corner = int(np.argmin(np.hypot(table.x - plain.corners[0, 0], table.y - plain.corners[0, 1])))
    result = repaired(table, {"kind": "smooth", "time": float(corner)})
    assert len(result.corners) == 0 and turns(result) < 30
    assert not result.reason.any() and states(result) == ["applied"]
    # where there is none already, not a digit changes
    same_rows(plain, repaired(table, {"kind": "smooth", "time": 5.0}), slice(None))


def test_a_stretch_becomes_a_tangent():
    table = curb_return()
    first, last = 20, 26
    stretch = {"kind": "element", "value": "tangent", "time": float(first), "until": float(last)}
    result = repaired(table, stretch)
    assert states(result) == ["applied"] and not result.reason.any()
    x, y = table.x[first : last + 1], table.y[first : last + 1]
    # the line of least squares (Pearson 1901), by numpy
    centred = np.column_stack([x - x.mean(), y - y.mean()])
    across = np.linalg.svd(centred)[2][1]
    off = np.abs(centred @ across)
    assert np.abs(result.residual_cross[first : last + 1]).max() < off.max() + 0.05
    inner = [
        vertex
        for vertex in line(result.edges, 0)
        if np.hypot(*(vertex[:2] - [x.mean(), y.mean()])) < 1.5
    ]
    assert not inner  # straight: no vertex between its ends


def test_a_stretch_becomes_an_arc():
    """Kasa's circle (1976) of the epochs gives the radius to compare with."""
    x, y = along([("line", 15.0), ("arc", 30.0, 40.0), ("line", 15.0)], 0.006, 5)
    table = table_of(x, y)
    first, last = 13, 29
    stretch = {"kind": "element", "value": "arc", "time": float(first), "until": float(last)}
    result = repaired(table, stretch)
    assert states(result) == ["applied"] and not result.reason.any()
    own = slice(first, last + 1)
    ones = np.column_stack([x[own], y[own], np.ones(last + 1 - first)])
    cx, cy, c = np.linalg.lstsq(ones, x[own] ** 2 + y[own] ** 2, rcond=None)[0]
    radius = np.sqrt(c + (cx / 2) ** 2 + (cy / 2) ** 2)
    assert abs(radius - 30.0) < 1.0
    vertices = line(result.edges, 0)[:, :2]
    middle = np.hypot(*(vertices - [x[own].mean(), y[own].mean()]).T) < 6.0
    off = np.hypot(*(vertices[middle] - [cx / 2, cy / 2]).T) - radius
    assert middle.sum() > 2 and np.abs(off).max() < 0.05


def test_a_stretch_becomes_free_in_form():
    table = curb_return()
    stretch = {"kind": "element", "value": "spline", "time": 14.0, "until": 32.0}
    plain, result = reconstruct(table, KEEP), repaired(table, stretch)
    assert plain.edges.by_elements.tolist() == [True]
    assert result.edges.by_elements.tolist() == [False] and states(result) == ["applied"]
    assert off_line(np.column_stack([table.x, table.y]), line(result.edges, 0)).max() < 0.05


def element(value, first, last):
    return {"kind": "element", "value": value, "time": float(first), "until": float(last)}


def whys(result):
    return [WHY[why] for why in result.repairs.why]


def test_what_another_repair_undoes_is_not_called_applied():
    table = curb_return()
    # the later one of two elements of one stretch counts
    result = repaired(table, element("tangent", 20, 26), element("arc", 20, 26))
    assert states(result) == ["no_effect", "applied"] and whys(result)[0] == "other_repair"
    assert why_words(result.repairs.why)[0] == "another repair asks for something else there"
    # a corner inside a stretch cuts it in two, whichever was asked for first
    rows = [element("arc", 14, 32), {"kind": "corner", "time": 23.0}]
    for order in (rows, rows[::-1]):
        result = repaired(table, *order)
        found = dict(zip((row["kind"] for row in order), states(result)))
        assert found == {"element": "no_effect", "corner": "applied"}
        assert len(result.corners) == 1


def test_a_stretch_that_breaks_is_not_one_element():
    table = bend(0.0)
    result = repaired(table, element("arc", 10, 20), {"kind": "break_here", "time": 15.0})
    assert states(result) == ["no_effect", "applied"] and whys(result)[0] == "broken"


def test_there_is_no_corner_at_the_end_of_a_line():
    table = bend(0.0)
    result = repaired(table, {"kind": "corner", "time": 0.0})
    assert states(result) == ["no_effect"] and whys(result) == ["no_room"]
    assert len(result.corners) == 0
    result = repaired(table, element("arc", 20, 21))  # two epochs make no arc
    assert states(result) == ["no_effect"] and whys(result) == ["no_room"]


def test_nothing_is_smoothed_where_nothing_joins():
    table = bend(0.0)
    result = repaired(table, {"kind": "smooth", "time": 24.0})
    assert states(result) == ["no_effect"] and whys(result) == ["no_joint"]
    same_rows(reconstruct(table, KEEP), result, slice(None))
    # a joint that is smooth already is what was asked for
    table = curb_return()
    assert states(repaired(table, {"kind": "smooth", "time": 20.0})) == ["applied"]


@pytest.mark.one_host
@pytest.mark.parametrize("closed", [False, True], ids=["open", "ring"])
@settings(max_examples=max(5, settings.default.max_examples // 10))
@given(seed=st.integers(0, 2**20), kind=st.sampled_from(["corner", "tangent", "arc", "spline"]))
def test_what_is_called_applied_is_there(closed, seed, kind):
    """By the line written alone: corners beside their epochs, stretches without a bend."""
    rng = np.random.default_rng(seed)
    side = [("line", float(rng.uniform(6, 14))), ("arc", float(rng.uniform(4, 9)), 90.0)]
    x, y = along(side * (4 if closed else 2), 0.006, seed, closed=closed)
    table = table_of(x, y)
    first = int(rng.integers(0, len(x) - 7))
    last = first + int(rng.integers(2, 7))
    row = {"kind": "corner", "time": float(first)} if kind == "corner" else element(
        kind, first, last
    )  # fmt: skip
    result = repaired(table, row)
    edge = result.edge[first]
    assert states(result)[0] in ("applied", "no_effect") and edge >= 0
    place = np.array([x[first], y[first]])
    off = np.hypot(*(result.corners - place).T) if len(result.corners) else np.array([np.inf])
    step = np.hypot(np.diff(x), np.diff(y)).max()
    if kind == "corner":
        assert (states(result) == ["applied"]) == (off.min() < 3.5 * step)
    elif kind == "tangent" and states(result) == ["applied"]:
        vertices = line(result.edges, int(edge))[:, :2]
        a, b = (np.array([x[place], y[place]]) for place in (first, last))
        way = (b - a) / np.hypot(*(b - a))
        along_it, across = (vertices - a) @ way, (vertices - a) @ [-way[1], way[0]]
        inner = (along_it > 0.2 * step) & (along_it < (b - a) @ way - 0.2 * step)
        # no vertex of that stretch is off the line through its neighbours
        near = inner & (np.abs(across) < 1.0)
        assert near.sum() <= 1


def test_splines_take_no_elements():
    own = Settings(doubtful="keep", curve_model="spline")
    rows = [{"kind": "corner", "time": 20.0}, {"kind": "leave_out", "time": 9.0}]
    result = repaired(curb_return(), *rows, settings=own)
    assert states(result) == ["no_effect", "applied"]
    assert WHY[result.repairs.why[0]] == "spline_model"


# --- what is not touched ------------------------------------------------------------------------


def every_kind(first):
    """A repair of each kind, from an epoch on."""
    return [
        {"kind": "leave_out", "time": first},
        {"kind": "take_back", "time": first + 3},
        {"kind": "break_here", "time": first + 5},
        {"kind": "bridge", "time": first + 8, "until": first + 9},
        {"kind": "element", "value": "tangent", "time": first + 11, "until": first + 15},
        {"kind": "element", "value": "arc", "time": first + 18, "until": first + 23},
        {"kind": "element", "value": "spline", "time": first + 25, "until": first + 31},
        {"kind": "corner", "time": first + 34},
        {"kind": "smooth", "time": first + 37},
    ]


@pytest.mark.one_in(3)
@pytest.mark.parametrize("doubtful", DOUBTFUL)
@pytest.mark.parametrize(
    "row", every_kind(4.0), ids=lambda row: f"{row['kind']} {row.get('value')}"
)
def test_other_runs_keep_every_digit(row, doubtful):
    """Those of the same capture, and those of others."""
    rng = np.random.default_rng(6)
    walks = []
    for seed in (1, 2):
        x, y = along([("line", 30.0), ("arc", 6.0, 90.0), ("line", 40.0)], 0.006, seed)
        walks.append({"x": x, "y": y, "sigma_h": rng.uniform(0.008, 0.02, len(x))})
    table, rows = table_of_captures(walks)
    seconds = table.seconds.copy()
    later = slice(rows[0].start + 45, rows[0].stop)
    seconds[later] += 600.0
    x = table.x.copy()
    x[later] += 50.0
    table = dataclasses.replace(table, seconds=seconds, x=x)
    own = Settings(doubtful=doubtful, station_spacing=1.0)
    plain, result = reconstruct(table, own), repaired(table, row, settings=own)
    same_rows(plain, result, later)
    same_rows(plain, result, rows[1])


def test_without_repairs_nothing_changes():
    table, _ = trial(4, 3)
    plain = reconstruct(table, KEEP)
    empty = Repairs.from_rows([]).placed(["0", "1", "2"], 0.0)
    for none in (None, empty):
        result = reconstruct(table, KEEP, repairs=none)
        assert result.repairs is None and result.overruled is None
        same_rows(plain, result, slice(None))
    # of a capture that is not there
    result = repaired(table, {"kind": "corner", "time": 3.0, "capture": "9"})
    assert states(result) == ["lost"] and WHY[result.repairs.why[0]] == "no_capture"
    same_rows(plain, result, slice(None))


# --- properties ---------------------------------------------------------------------------------

TABLE, _ = trial(11, 3)
kinds = st.integers(0, len(KINDS) - 1)
some = st.lists(
    st.tuples(
        kinds, st.integers(0, len(TABLE) - 1), st.integers(1, 15), st.integers(1, 3), st.booleans()
    ),
    min_size=1,
    max_size=5,
)


def placed(drawn):
    """Repairs at epochs of `TABLE`, a few of which are at times without one."""
    kind, row, size, value, lost = (np.array(column) for column in zip(*drawn))
    capture, time = TABLE.capture[row], TABLE.seconds[row] + 0.3 * (lost & (size == 1))
    ends = np.flatnonzero(np.diff(TABLE.capture, append=-1))
    until = TABLE.seconds[np.minimum(row + size, ends[np.searchsorted(ends, row)])]
    stretch = np.isin(kind, [KINDS.index("bridge"), KINDS.index("element")]) & (until > time)
    kind = np.where(stretch | (kind < KINDS.index("bridge")), kind, KINDS.index("corner"))
    return PlacedRepairs(
        kind=kind.astype(np.uint8),
        capture=capture,
        time=time,
        until=np.where(stretch, until, np.nan),
        value=np.where(kind == KINDS.index("element"), value, 0).astype(np.uint8),
    )


@pytest.mark.one_host
@given(some, st.sampled_from(DOUBTFUL), st.randoms(use_true_random=False))
@settings(max_examples=max(6, settings.default.max_examples // 10))
def test_whatever_is_repaired(drawn, doubtful, random):
    repairs, own = placed(drawn), Settings(doubtful=doubtful)
    result = reconstruct(TABLE, own, repairs=repairs)
    # every row in one place, with a reason or an edge
    assert_array_equal(result.edge >= 0, result.reason == Reason.KEPT)
    number = np.bincount(result.edge[result.edge >= 0], minlength=len(result.edges))
    assert_array_equal(number, result.edges.epochs_used)
    assert np.isfinite(result.edges.x).all() and (result.edges.sigma_cross > 0).all()
    assert not result.overruled[result.reason != Reason.KEPT].any() or True
    left = result.repairs.state != STATES.index("lost")
    assert_array_equal(left, np.isin(repairs.time, TABLE.seconds))
    # in another order of rows
    order = np.array(random.sample(range(len(TABLE)), len(TABLE)))
    shuffled = reconstruct(take(TABLE, order), own, repairs=repairs)
    for name in OF_ROWS:
        assert_array_equal(getattr(shuffled, name), getattr(result, name)[order], err_msg=name)
    assert_array_equal(shuffled.repairs.state, result.repairs.state)
    # one capture alone
    code = int(repairs.capture[0])
    refit = refit_capture(TABLE, code, nominal_of(TABLE, own), own, repairs)
    for name in (*OF_ROWS, "overruled"):
        assert_array_equal(getattr(refit.result, name), getattr(result, name)[refit.rows])
    mine = result.edges.capture == code
    for name in OF_EDGES:
        assert_array_equal(getattr(refit.result.edges, name), getattr(result.edges, name)[mine])
    assert_array_equal(refit.result.repairs.state, result.repairs.state[refit.repair])


def test_the_order_of_repairs_that_do_not_touch_decides_nothing():
    table, own = curb_return(), KEEP
    rows = every_kind(2.0)[:1] + every_kind(2.0)[2:5] + every_kind(6.0)[7:8]
    one, other = repaired(table, *rows, settings=own), repaired(table, *rows[::-1], settings=own)
    same_rows(one, other, slice(None))
    assert_array_equal(one.edges.x, other.edges.x)
    assert states(one) == states(other)[::-1]


@pytest.mark.parametrize("size", [3, 8, 60])
def test_a_capture_alone_is_as_in_its_layer(size):
    x, y = straight(60, seed=3)
    y[2] += 0.6
    walks = [{"x": x[:size], "y": y[:size]}, {"x": x, "y": y + 90.0}]
    table, _ = table_of_captures(walks)
    whole = repaired(table, {"kind": "leave_out", "time": 1.0})
    repairs = Repairs.from_rows([{"kind": "leave_out", "capture": "0", "time": 1.0}])
    one = refit_capture(table, 0, nominal_of(table, KEEP), KEEP, repairs.placed(["0", "1"], 0.0))
    for name in OF_ROWS:
        assert_array_equal(getattr(one.result, name), getattr(whole, name)[one.rows], err_msg=name)
    assert len(one.result.reason) == size
    with pytest.raises(ValueError, match="no epoch of capture 7"):
        refit_capture(table, 7, nominal_of(table))


# --- the table ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ({"kind": "mend"}, "repair 2: kind must be one of leave_out"),
        ({"kind": "element"}, "repair 2: value must be one of tangent"),
        ({"kind": "corner", "value": "arc"}, "repair 2: value must be"),
        ({"kind": "bridge", "until": 1.0}, "repair 2: until must be later"),
        ({"time": None}, "repair 2: time is missing"),
    ],
)
def test_a_bad_repair_is_named(row, words):
    fine = {"kind": "corner", "capture": "a", "time": 3.0}
    with pytest.raises(ValueError, match=words):
        Repairs.from_rows([fine, {**fine, **row}])


def test_columns_must_fit():
    fine = Repairs.from_rows([{"kind": "corner", "capture": "a", "time": 3.0}] * 2)
    for change, words in (
        ({"remark": np.array(["x"])}, "remark must have shape"),
        ({"kind": np.array([0, 9])}, "kind must be a place"),
        ({"time": np.array([0, np.nan])}, "time must be known"),
        ({"kind": np.array([5, 0])}, "until must be later"),
    ):
        with pytest.raises(ValueError, match=words):
            dataclasses.replace(fine, **change)
    assert len(fine.take([0])) == 1


def test_times_name_epochs_within_two_milliseconds():
    table = bend(0.0)
    for off, state in ((0.0015, "applied"), (0.01, "lost")):
        result = repaired(table, {"kind": "leave_out", "time": 12.0 + off})
        assert states(result) == [state]


def test_who_decided_is_told():
    rows = [
        {"kind": "corner", "capture": "a", "time": 3.0, "decided_by": "A. Hand", "remark": "seen"},
        {"kind": "corner", "capture": "a", "time": 3.0},
        {"kind": "corner", "capture": "a", "time": 3.0, "decided_at": "2026-05-05"},
    ]
    words = decided_words(Repairs.from_rows(rows), [0, 1, 2])
    assert words == [" by A. Hand: seen", "", ", 2026-05-05"]
