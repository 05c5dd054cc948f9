"""A function that was seen failing and works now: the fault comes and goes, nothing is cleared."""

from __future__ import annotations

import math

from loomwright.diagnosis.belief import Belief, Reading
from loomwright.diagnosis.wording import check_words

__all__ = ["seen_failing", "trials_without_fault", "why_it_comes_and_goes"]

_CONFIDENCE = 0.95
_MOST_ACTIVE = 0.9  # a fault that was there at every look is not known to be there always


def seen_failing(belief: Belief) -> Reading | None:
    """Return a function that somebody saw failing and that a healthy plant would not, else None.

    One row stands for no fault; a reading that it calls wrong with more than even odds.
    """
    for reading, wrong in zip(belief.readings, belief.wrong, strict=True):
        if reading.check.instrument == "eye" and float(wrong[0]) > 0.5:
            return reading
    return None


def trials_without_fault(failures: int, looks: int, confidence: float = _CONFIDENCE) -> int:
    """Return how many trials without the fault show that it is gone, each independent.

    A fault there in a share `a` of the looks stays away n times with (1 - a)^n: the rule of three,
    n about 3 / a at 95 %. `a` is failures over looks so far, at most 0.9.
    """
    active = min(failures / looks, _MOST_ACTIVE)
    return math.ceil(math.log(1.0 - confidence) / math.log(1.0 - active))


def why_it_comes_and_goes(belief: Belief, failing: Reading) -> str:
    """Return what to do about a fault that was seen and is not there now."""
    looks = sum(len(one.indices) for one in belief.readings if one.check == failing.check)
    failures = len(failing.indices)
    trials = trials_without_fault(failures, looks)
    return (
        f"{check_words(failing.check)} read {failing.value} in {failures} of {looks} looks, and "
        "the other readings are those of a healthy circuit: it comes and goes, so they clear "
        "nothing. Wiggle loom and plugs, then heat, then load the circuit, and read while "
        f"it fails. After a repair, {trials} trials in the same way without the fault show "
        "with 95 % that it is gone."
    )
