"""Progress and cancelling."""

import pytest
from qgis.core import QgsProcessingFeedback

from curbwright.algorithms.host.feedback import (
    CancelledError,
    Remembering,
    cancel_check,
    progress_between,
    raise_if_cancelled,
)


@pytest.mark.parametrize(
    ("share", "percent"), [(0.0, 20.0), (0.5, 40.0), (1.0, 60.0), (-1.0, 20.0), (7.0, 60.0)]
)
def test_a_share_is_shown_between_two_percentages(share, percent):
    feedback = QgsProcessingFeedback()
    progress_between(feedback, 20, 60)(share)
    assert feedback.progress() == percent


def test_cancelling_stops_the_work():
    feedback = QgsProcessingFeedback()
    progress, check = progress_between(feedback, 0, 100), cancel_check(feedback)
    raise_if_cancelled(feedback)
    check()
    feedback.cancel()
    for stopped in (lambda: raise_if_cancelled(feedback), check, lambda: progress(0.5)):
        with pytest.raises(CancelledError):
            stopped()
    assert feedback.progress() == 0.0


def test_what_is_in_its_place_is_cancelled_no_more():
    whole = QgsProcessingFeedback()
    told = Remembering(whole)
    told.settled = True
    whole.cancel()
    raise_if_cancelled(told)
    told.settled = False
    with pytest.raises(CancelledError):
        raise_if_cancelled(told)
