"""Other elements for stretches of chains: what is not tried."""
import numpy as np
import pytest
from epochwalks import table_of_walks
from numpy.testing import assert_array_equal

from curbwright.sample_project.simulation import trial_set
from curbwright.shared import chains as chains_module
from curbwright.shared import trials
from curbwright.shared.reconstruction import reconstruct


@pytest.mark.parametrize("seed", [1, 50, 902])
def test_slips_are_the_same_if_everything_is_tried(seed, monkeypatch):
    """One element in place of three is not tried where what it is sure to hold lies off it."""
    table = table_of_walks(trial_set(seed))
    tried = []

    def count(*arguments, **options):
        compared = compare(*arguments, **options)
        tried.append(len(compared.saving) if len(arguments) > 5 else 0)  # with positions that are dropped
        return compared

    def shed_all(*arguments):
        with monkeypatch.context() as patch:
            patch.setattr(trials, "lone_chi", lambda moments, arc: np.zeros(len(moments)))
            return shed(*arguments)

    compare, shed = trials._compare, chains_module.shed
    monkeypatch.setattr(trials, "_compare", count)
    few, fewer = reconstruct(table), sum(tried)
    tried.clear()
    monkeypatch.setattr(chains_module, "shed", shed_all)
    every = reconstruct(table)
    assert 0 < fewer < 0.9 * sum(tried)
    for name in ("reason", "amount", "edge", "chainage", "residual_cross"):
        assert_array_equal(getattr(every, name), getattr(few, name), err_msg=name)
    for name in ("x", "y", "z", "offsets"):
        assert_array_equal(getattr(every.edges, name), getattr(few.edges, name), err_msg=name)
