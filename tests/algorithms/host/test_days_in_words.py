"""Dates and times in words."""

import math

import pytest

from curbwright.algorithms.host.moments import days_in_words


def test_the_days_of_a_capture():
    assert days_in_words(0.0, 59.9) == "1970-01-01 00:00 UTC"
    assert days_in_words(0.0, 90060.0) == "1970-01-01 00:00 – 1970-01-02 01:01 UTC"


@pytest.mark.parametrize("ends", [(math.nan, 1.0), (1.7e308, -1.7e308), (0.0, math.inf)])
def test_no_times_have_no_words(ends):
    """The host gives the ends of the range of numbers for the least and the greatest of no rows."""
    assert days_in_words(*ends) == ""
