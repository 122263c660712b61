"""Times of repairs that cannot be dates."""

import numpy as np
import pytest
from qgis.core import QgsFeature

from curbwright.algorithms.host.fields import fields_of
from curbwright.algorithms.reading.repair_rows import REPAIR_FIELDS, in_words, problem_of, row_of


def test_a_time_beyond_all_dates_is_written_as_a_number():
    in_milliseconds = 1.7e12  # 2023 in milliseconds, as some tables hold it
    assert in_words(in_milliseconds) == "1.7e+12"
    assert in_words(1.7e9) == "2023-11-14 22:13:20"


@pytest.mark.parametrize("value", [np.nan, np.inf])
def test_a_time_that_is_no_number_is_a_problem_in_words(value):
    fields = fields_of(REPAIR_FIELDS)
    feature = QgsFeature(fields)
    feature["kind"], feature["time"] = "leave_out", float(value)
    assert "time" in problem_of(row_of(feature, fields))
