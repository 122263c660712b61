"""Streams are told from maps by their steps."""

import numpy as np
import pytest

from curbwright.sample_project.simulation import trial_set
from curbwright.shared.epochs.plausibility import judge_stream


def judge(*lines):
    xy = [np.asarray(line, float)[:, :2] for line in lines]
    offsets = np.concatenate([[0], np.cumsum([len(part) for part in xy])])
    return judge_stream(*np.concatenate(xy).T, offsets)


@pytest.mark.parametrize("seed", range(4))
def test_every_kind_of_walk_is_a_stream(seed):
    for number, walk in enumerate(trial_set(seed, 20)):
        good = np.isfinite(walk.x) & np.isfinite(walk.seconds)
        order = np.argsort(walk.seconds[good], kind="stable")
        verdict = judge(np.column_stack([walk.x[good], walk.y[good]])[order])
        assert verdict.plausible, (seed, number, verdict)


def test_a_map_is_none():
    """A block with returns of small radius, a long front and a bay: vertices where it turns."""
    turn = [[30 + np.sin(a), 1 - np.cos(a)] for a in np.linspace(0, np.pi / 2, 7)]
    block = [[0, 0], *turn, [31, 20], [28, 20], [28, 26], [31, 26], [31, 60]]
    verdict = judge(block, np.array(block) + [100, 0])
    assert not verdict.plausible and verdict.p90 > 3 * verdict.median


def test_steps_between_lines_have_no_say():
    walk = np.column_stack([np.arange(20.0), np.zeros(20)])
    assert judge(*(walk + [0, 500 * k] for k in range(30))).plausible


@pytest.mark.parametrize("count", [0, 1, 2, 8])
def test_too_few_steps_are_no_stream(count):
    walk = np.column_stack([np.arange(float(count)), np.zeros(count)])
    assert not judge(walk).plausible


def test_standing_still_has_no_say():
    walk = np.column_stack([np.arange(30.0), np.zeros(30)])
    stood = np.repeat(walk, 1 + 9 * (np.arange(30) % 5 == 0), axis=0)
    assert judge(stood).steps == judge(walk).steps
