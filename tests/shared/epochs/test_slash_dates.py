"""Dates with slashes are read where the texts themselves say whether day or month stands first."""

from datetime import datetime, timezone

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from curbwright.shared.epochs.slash_dates import (
    DAY_FIRST,
    MONTH_FIRST,
    UNDECIDED,
    slash_maxima,
    slash_order,
)
from curbwright.shared.epochs.times import parse_times

UTC = timezone.utc


def unix(*moment):
    return datetime(*moment, tzinfo=UTC).timestamp()


@pytest.mark.parametrize(
    ("texts", "seconds", "kind"),
    [
        (
            ["13/05/2026 10:00:00", "04/05/2026 9:05:07.5"],
            [(2026, 5, 13, 10), (2026, 5, 4)],
            DAY_FIRST,
        ),
        (
            ["5/13/2026 2:05:10 PM", "5/4/2026 12:00:00 AM"],
            [(2026, 5, 13, 14, 5, 10), (2026, 5, 4)],
            MONTH_FIRST,
        ),
        (
            ["05/13/2026T10:00:00Z", "05/14/2026T10:00:00+02:00"],
            [(2026, 5, 13, 10), (2026, 5, 14, 8)],
            MONTH_FIRST,
        ),
        (["31/12/2025", ""], [(2025, 12, 31), None], DAY_FIRST),
    ],
)
def test_read_where_one_number_is_a_day(texts, seconds, kind):
    read, what = parse_times(np.array(texts))
    wanted = [np.nan if moment is None else unix(*moment) for moment in seconds]
    if "9:05:07.5" in texts[1]:
        wanted[1] += 9 * 3600 + 5 * 60 + 7.5
    np.testing.assert_allclose(read, wanted)
    assert what == f"text, dates as {kind}"


@pytest.mark.parametrize(
    "texts",
    [["04/05/2026 10:00:00", "04/05/2026 10:00:01"], ["13/05/2026 10:00", "05/13/2026 10:00"]],
)
def test_undecided_and_contradictory(texts):
    """Neither number is ever over 12, or each of them somewhere."""
    assert parse_times(np.array(texts))[1] == UNDECIDED


def test_other_texts_have_no_order():
    for texts in (["2026-05-04T10:00:00Z", "a/b"], ["12/2026"], ["1/2/26"]):
        assert slash_order(slash_maxima(np.array(texts))) == ""
    assert parse_times(np.array(["2026-05-04T10:00:00Z", "a/b"]))[1] == "ISO 8601 text"


@given(
    st.lists(
        st.datetimes(datetime(1971, 1, 1), datetime(2100, 1, 1)).map(
            lambda moment: moment.replace(microsecond=0)
        ),
        min_size=1,
        max_size=8,
    ),
    st.sampled_from(["%d/%m/%Y %H:%M:%S", "%m/%d/%Y %H:%M:%S", "%m/%d/%Y %I:%M:%S %p"]),
)
def test_any_moments(moments, form):
    read, what = parse_times(np.array([moment.strftime(form) for moment in moments]))
    if max(moment.day for moment in moments) > 12:
        assert what.endswith(DAY_FIRST if form.startswith("%d") else MONTH_FIRST)
        wanted = [moment.replace(tzinfo=UTC).timestamp() for moment in moments]
        assert read.tolist() == wanted
    else:
        assert what == UNDECIDED
