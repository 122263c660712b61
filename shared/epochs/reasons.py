"""Why an epoch was rejected: the reasons, their names in the outputs, and a sentence for each."""

from enum import IntEnum

import numpy as np


# exact: cases
class Reason(IntEnum):
    """Why an epoch was rejected; KEPT if it was not."""

    KEPT = 0
    NO_POSITION = 1
    NO_TIME = 2
    NOT_FIXED = 3
    POOR_ACCURACY = 4
    REPEAT = 5
    SPIKE = 6
    HEIGHT_SPIKE = 7
    BACKTRACK = 8
    TOO_SHORT = 9
    UNCONFIRMED = 10
    LEFT_OUT = 11


REASON_NAMES = ("", *(reason.name.lower() for reason in Reason if reason))


# reasons of occupations: those above and two more
MOVING, TOO_FEW = len(REASON_NAMES), len(REASON_NAMES) + 1
OCCUPATION_REASONS = (*REASON_NAMES, "moving", "too_few")


_SENTENCES = {
    Reason.NO_TIME: "no time that can be read",
    Reason.NOT_FIXED: "the solution was not RTK fixed",
    Reason.REPEAT: "same time as another epoch of the capture",
    Reason.LEFT_OUT: "left out by hand",
}


def describe(reason, amount):
    """A sentence for each rejected epoch.

    Parameters
    ----------
    reason : array_like of int, shape (n,)
    amount : array_like of float, shape (n,)

    Returns
    -------
    list of str
        Empty text where the epoch was kept.
    """

    def sentence(why, number):
        if why == Reason.NO_POSITION:
            return (
                f"{number:.0f} points at one time, none of them certain"
                if number > 1
                else "no usable position"
            )
        if why == Reason.POOR_ACCURACY:
            return (
                f"horizontal accuracy {number:.3f} m is over the limit"
                if np.isfinite(number)
                else "what the receiver reported can be no horizontal accuracy"
            )
        if why == Reason.SPIKE:
            return f"{number:.2f} m off the line of its neighbours"
        if why == Reason.HEIGHT_SPIKE:
            return f"height {number:.2f} m off its neighbours"
        if why == Reason.BACKTRACK:
            return f"walked back over {number:.2f} m of the edge that was already captured"
        if why == Reason.TOO_SHORT:
            return f"stands in a run of {number:.2f} m, too short for an edge"
        if why == Reason.UNCONFIRMED:
            return (
                f"one of {number:.0f} positions that alone tell a short side or bend"
                if number > 1
                else "nothing confirms where it lies"
            )
        return _SENTENCES.get(why, "")

    return [
        sentence(why, number)
        for why, number in zip(np.asarray(reason).tolist(), np.asarray(amount).tolist())
    ]
