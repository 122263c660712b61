"""Bins, steps and shares of the plots, and SVG that can stand beside other SVG on a page."""

import re
from importlib.util import find_spec

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from reportpages import Nesting

from curbwright.shared.report import plots

offsets = st.lists(st.floats(-50, 50), min_size=1, max_size=60).map(np.array)


@given(st.floats(1e-6, 1e6))
def test_steps_are_round_and_the_next_ones_up(least):
    step = plots.round_step(least)
    digit = step / 10.0 ** np.floor(np.log10(step) + 1e-9)
    assert min(abs(digit - round_one) for round_one in (1, 2, 5)) < 1e-9
    least = max(least, 0.001)
    assert least * (1 - 1e-8) <= step <= 2.5 * least * (1 + 1e-8)


@given(offsets, st.integers(0, 10**6))
def test_bins_hold_nine_tenths_of_the_weight_and_the_limit(values, seed):
    weights = np.random.default_rng(seed).uniform(0.1, 1.0, len(values))
    edges = plots.histogram_bins(values, weights, limit=0.2)
    assert_allclose(np.diff(edges), edges[1] - edges[0], rtol=1e-6)
    assert len(edges) <= 50 and edges[0] <= -0.2 and edges[-1] >= 0.2
    inside = (values >= edges[0] - 1e-9) & (values <= edges[-1] + 1e-9)
    assert weights[inside].sum() >= 0.9 * weights.sum() - weights.max()


@given(offsets, st.integers(2, 30))
def test_shares_rise_from_nothing_to_all(values, most):
    x, share = plots.cumulative_points(values, np.ones(len(values)), most)
    assert x[0] == share[0] == 0.0 and share[-1] == pytest.approx(1.0)
    assert (np.diff(x) >= 0).all() and (np.diff(share) >= 0).all() and len(x) <= most + 2
    for within, part in zip(x[1:], share[1:]):
        assert np.mean(np.abs(values) < within) <= part + 1e-9
        assert np.mean(np.abs(values) <= within) >= part - 1e-9


@pytest.mark.skipif(find_spec("matplotlib") is None, reason="matplotlib is optional")
def test_plots_stand_beside_each_other_on_one_page():
    numbers = np.arange(1, 5)
    curves = [("plan", np.array([0.01, 0.02, np.nan, 0.01])), ("height", 0.001 * numbers)]
    one, again = plots.runs(numbers, curves), plots.runs(numbers, curves)
    assert one == again and one.startswith("<svg") and "xmlns" not in one
    read = Nesting(f"<p>{one}</p>")
    assert read.open == [] and read.wrong == [] and read.used <= set(read.ids)
    other = Nesting(plots.runs(numbers, curves[:1]))
    for page in (read, other):
        assert len(page.ids) == len(set(page.ids))
    assert not re.search(r"<\?xml|<!DOCTYPE|https?://", one)


def test_a_curve_ends_at_its_axis_whatever_is_drawn_with_it():
    """Some programs that print a page know of no clipping."""
    if not plots.available():
        pytest.skip("needs matplotlib")
    offsets = np.append(np.full(99, 0.02), 30.0)  # one line is far off
    svg = plots.cumulative(offsets, np.ones(100))
    wide = float(re.search(r'viewBox="0 0 ([\d.]+)', svg)[1])
    x = [float(one) for one in re.findall(r"[ML] ([\d.]+) [\d.]+", svg)]
    assert len(x) > 5 and max(x) <= wide
