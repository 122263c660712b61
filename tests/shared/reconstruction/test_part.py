"""The work on one part of a table: every epoch ends in an edge or with a reason."""

import numpy as np
import pytest
import shapely
from epochwalks import along, table_of, table_of_captures, table_of_walks
from numpy.testing import assert_array_equal

from curbwright.sample_project.simulation import trial_set
from curbwright.shared.epochs.reasons import Reason
from curbwright.shared.epochs.screening import unusable
from curbwright.shared.epochs.settings import Settings
from curbwright.shared.epochs.stream import capture_medians, nominal_stream, stream_of
from curbwright.shared.reconstruction import part
from curbwright.shared.reconstruction.part import fit
from curbwright.shared.tuning import BENDS, override


@pytest.fixture(scope="module")
def walks():
    return table_of_walks(trial_set(9)[:40])


def part_of(table, settings):
    medians = capture_medians(table, unusable(table, settings.max_h_accuracy)[-1])
    return table, stream_of(medians, nominal_stream(medians), settings), None


def fitted(table, numbers=True, seen=None, **settings):
    settings = Settings(**settings)
    progress = (lambda share: None) if seen is None else seen.append
    return fit(part_of(table, settings), progress, settings, numbers)


@pytest.mark.parametrize("curve_model", ["automatic", "elements", "spline"])
def test_every_epoch_is_in_an_edge_or_has_a_reason(walks, curve_model):
    outcomes, order, drawn = fitted(walks, curve_model=curve_model, station_spacing=1.0)
    edges, count = drawn.edges, len(drawn.edges)
    assert_array_equal(outcomes.edge >= 0, outcomes.reason == Reason.KEPT)
    assert_array_equal(np.bincount(outcomes.edge[outcomes.edge >= 0]), edges.epochs_used)
    for name in ("chainage", "residual_cross", "residual_up"):
        assert_array_equal(np.isfinite(getattr(outcomes, name)), outcomes.edge >= 0, name)
    assert_array_equal(np.sort(order), np.flatnonzero(np.isfinite(walks.seconds)))
    assert len(drawn.ends.scale) == count and edges.offsets[-1] == len(edges.x)
    assert_array_equal(np.unique(drawn.stations.edge), np.arange(count))
    assert_array_equal(walks.capture[drawn.ends.first_row], edges.capture)
    assert_array_equal(outcomes.edge[drawn.ends.last_row], np.arange(count))
    assert edges.by_elements.any() == (curve_model != "spline")
    assert edges.by_elements.all() or curve_model != "elements"


def test_what_follows_from_all_parts_is_not_known_yet(walks):
    edges = fitted(walks)[2].edges
    for name in ("run", "epochs_rejected", "start_reason", "end_reason"):
        assert not getattr(edges, name).any(), name


def test_numbers_of_rows_are_left_out_where_nobody_asks(walks):
    outcomes, _, _ = fitted(walks, numbers=False)
    assert outcomes.amount is outcomes.chainage is outcomes.residual_cross is None
    assert_array_equal(outcomes.edge, fitted(walks)[0].edge)


def test_shares_of_the_work_rise(walks):
    seen = []
    fitted(walks, seen=seen)
    assert seen[0] == 0.0 and 0.9 < seen[-1] <= 1.0
    assert (np.diff(seen) >= 0).all() and len(set(seen)) > 6


def test_runs_are_fitted_again_until_all_is_confirmed(walks):
    def unconfirmed(rounds):
        with override(CONFIRMATION__rounds=rounds):
            return np.count_nonzero(fitted(walks)[0].reason == Reason.UNCONFIRMED)

    found = [unconfirmed(rounds) for rounds in (0, 1, 4, 6)]
    assert found[0] == 0 < found[1] <= found[2]
    assert found[2] == found[3]  # nothing is left by then


def test_a_way_back_at_the_end_makes_the_last_position_doubtful():
    x, y = along([("line", 60.0)], 0.004, 1)
    count = len(x)
    back = np.arange(count - 2, count - 5, -1)
    there, turned = table_of(x, y), table_of(np.append(x, x[back]), np.append(y, y[back]))
    assert not fitted(there)[0].reason.any()
    reason = fitted(turned)[0].reason
    assert reason[count - 1] == Reason.UNCONFIRMED
    assert_array_equal(reason[count:], Reason.BACKTRACK)
    assert not reason[: count - 1].any()


def test_times_do_not_contradict_where_somebody_stood(monkeypatch):
    """Of a straight walk every fifth position is taken for an unconfirmed one; at every tenth one
    somebody stood."""
    x, y = along([("line", 70.0)], 0.004, 2)
    number = np.where(np.arange(len(x)) % 10 == 4, 10, 1)
    epochs = np.repeat(np.arange(len(x)), number)
    table, stood = table_of(x[epochs], y[epochs]), number[epochs] > 1

    def certain(positions, stream, offsets, first, last):
        return np.full(len(first), 1e3)

    def some(chains, runs, dropout, turning, stream):
        m = len(runs.positions)
        return np.where(np.arange(m) % 5 == 4, 1, 0), np.zeros(m, bool)

    monkeypatch.setattr(part, "evidence_in_layer", certain)
    monkeypatch.setattr(part, "unconfirmed", some)
    reason = fitted(table, doubtful="keep")[0].reason
    assert (reason[~stood] == Reason.UNCONFIRMED).any()
    assert not reason[stood].any()


def test_a_part_without_an_edge():
    x, y = along([("line", 20.0)])
    outcomes, order, drawn = fitted(table_of(x, y, fixed=np.zeros(len(x), bool)))
    assert_array_equal(outcomes.reason, Reason.NOT_FIXED)
    assert len(order) == len(x) and len(drawn.edges) == len(drawn.corners) == 0


def test_gentle_bends_are_followed_where_a_layer_shows_many_corners():
    """Bends of 12 degrees every 5 m; a layer of nothing else would take them for noise."""
    bends = [part for turn in (12, -12, -12, 12) * 6 for part in (("line", 5.0), ("corner", turn))]
    sharp = [part for turn in (60, -60) * 20 for part in (("line", 5.0), ("corner", turn))]
    parts = [[*some, ("line", 5.0)] for some in [bends] * 4 + [sharp] * 8]
    walks = [dict(zip("xy", along(part, 0.012, seed))) for seed, part in enumerate(parts)]
    table, rows = table_of_captures(walks)
    truth = np.concatenate([np.column_stack(along(part)) for part in parts])
    gentle = np.arange(len(table)) < rows[4].start
    off = []
    for noise in (1.0, BENDS.noise):
        with override(BENDS__noise=noise):
            drawn = fitted(table, doubtful="keep")[2]
        edges = drawn.edges
        line = shapely.multilinestrings(
            [
                shapely.linestrings(edges.x[low:high], edges.y[low:high])
                for low, high in zip(edges.offsets[:-1], edges.offsets[1:])
            ]
        )
        distance = shapely.distance(line, shapely.points(truth[gentle]))
        off.append(np.sqrt(np.mean(distance**2)))
    assert off[1] < 0.9 * off[0]
