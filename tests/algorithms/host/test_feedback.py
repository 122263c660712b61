"""Progress and cancelling."""

import pytest
from qgis.core import QgsProcessingFeedback

from curbwright.algorithms.batch.stage import Stage
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


def test_a_part_shows_its_stretch_of_the_whole_and_counts_its_warnings():
    class Whole(QgsProcessingFeedback):
        said = ()

        def pushWarning(self, text):
            self.said += (text,)

    whole = Whole(False)
    part = Stage(whole, 20.0, 60.0)
    part.setProgress(50.0)
    part.pushWarning("look")
    assert whole.progress() == 40.0 and whole.said == ("look",) and part.warnings == 1
    whole.cancel()
    assert part.isCanceled() and Stage(whole, 60.0, 80.0).isCanceled()
