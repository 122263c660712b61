"""The uncertainty of edges from a field, and what is said about it."""

from types import SimpleNamespace

import numpy as np
import pytest
from numpy.testing import assert_array_equal
from qgis.core import QgsProcessingException

from curbwright.algorithms.reading.columns import Column
from curbwright.algorithms.reading.edge_sigmas import sigma_of_edges

CALLED = "sigma", "edges", "Uncertainty"


class Told:
    def __init__(self):
        self.infos, self.warnings = [], []

    def say(self, text, warn=False):
        (self.warnings if warn else self.infos).append(text)


def found(values, called=CALLED, used=True):
    """Uncertainties, and what is said; None for an empty row."""
    missing = np.array([value is None for value in values])
    column = Column("double", np.array([np.nan if one is None else one for one in values]), missing)
    told, read = Told(), SimpleNamespace(ids=np.arange(len(values)), columns={called[0]: column})
    return sigma_of_edges(read, called, used, told), told


def test_rows_without_one_take_the_median_of_the_others():
    sigma, told = found([0.01, None, 0.02, 0.03])
    assert_array_equal(sigma, [0.01, 0.02, 0.02, 0.03])
    assert not told.infos and "without a value: 1; for these 0.02 m" in told.warnings[0]


def test_a_unit_behind_the_name_of_the_field_counts():
    sigma, told = found([10.0, 20.0, 30.0], ("sigma_mm", *CALLED[1:]))
    assert sigma == pytest.approx([0.01, 0.02, 0.03]) and "median 0.020 m" in told.infos[0]


def test_without_a_field_there_is_none():
    for used, number in ((True, 1), (False, 0)):
        sigma, told = found([0.01], ("", *CALLED[1:]), used)
        assert sigma.tolist() == [0.0] and len(told.infos) == number and not told.warnings


@pytest.mark.parametrize(
    ("values", "said"),
    [
        ([0.01, 0.02, 0.02], None),
        ([0.0, 0.0], "0 in all rows"),
        ([0.2, 0.2], "known to 0.200 m only"),
        ([0.01, 0.02, 500.0], "an uncertainty of up to 500 m (1-sigma): 1."),
    ],
)
def test_doubts(values, said):
    sigma, told = found(values)
    assert sigma.tolist() == values and len(told.infos) == 1
    assert len(told.warnings) == (said is not None)
    assert said is None or said in told.warnings[0]


@pytest.mark.parametrize("values", [[-0.01], [np.inf], [800.0, 900.0]])
def test_what_can_be_none_is_an_error(values):
    with pytest.raises(QgsProcessingException, match=r"“edges”.*“sigma”"):
        found(values)
