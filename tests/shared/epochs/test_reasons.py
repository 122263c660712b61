"""Reasons: their names in the outputs and their sentences."""

import numpy as np
import pytest

from curbwright.shared.epochs.reasons import (
    MOVING,
    OCCUPATION_REASONS,
    REASON_NAMES,
    TOO_FEW,
    Reason,
    describe,
)


def test_names_are_those_of_the_outputs():
    assert REASON_NAMES == (
        "",
        "no_position",
        "no_time",
        "not_fixed",
        "poor_accuracy",
        "repeat",
        "spike",
        "height_spike",
        "backtrack",
        "too_short",
        "unconfirmed",
        "left_out",
    )
    assert [REASON_NAMES[reason] for reason in Reason if reason] == [
        reason.name.lower() for reason in Reason if reason
    ]


@pytest.mark.parametrize(
    ("reason", "amount", "words"),
    [
        (Reason.KEPT, np.nan, ""),
        (Reason.NO_POSITION, 1, "no usable position"),
        (Reason.NO_POSITION, 3, "3 points"),
        (Reason.NO_TIME, np.nan, "no time"),
        (Reason.NOT_FIXED, np.nan, "not RTK fixed"),
        (Reason.POOR_ACCURACY, 0.0712, "0.071 m"),
        (Reason.REPEAT, np.nan, "same time"),
        (Reason.SPIKE, 0.456, "0.46 m"),
        (Reason.HEIGHT_SPIKE, 0.3, "0.30 m"),
        (Reason.BACKTRACK, 2.5, "2.50 m"),
        (Reason.TOO_SHORT, 0.21, "0.21 m"),
        (Reason.LEFT_OUT, np.nan, "by hand"),
    ],
)
def test_each_reason_in_words(reason, amount, words):
    (text,) = describe([reason], [amount])
    assert words in text and "nan" not in text
    assert bool(text) == (reason != Reason.KEPT)


def test_names_of_reasons_of_occupations():
    assert OCCUPATION_REASONS[: len(REASON_NAMES)] == REASON_NAMES
    assert OCCUPATION_REASONS[MOVING] == "moving" and OCCUPATION_REASONS[TOO_FEW] == "too_few"
    assert Reason.SPIKE < MOVING
