"""Which checks are worth offering: those whose reading some fault would change, each once."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.plant.predictions import Sample
from loomwright.plant import Check

__all__ = ["signature", "worth_offering"]

_LEVEL_STEPS = 4
_FIRST_SIGMAS = 4.0  # readings closer to the healthy one than this count as the same ...
_STEP_RATIO = 4.0  # ... and each step beyond is this many times as far off
_MOST_STATES = 3  # of one reading
_LEAST_BITS = 0.01
_DECADE_STEPS = 2.0  # steps per decade of resistance


def signature(check: Check, sample: Sample) -> NDArray[np.int16]:
    """Return, for every row, by how many steps its reading stands off the no-fault reading.

    Steps grow with the distance, so that two checks with the same signature tell the same faults
    apart about as well.
    """
    if sample.levels is not None:
        levels = sample.levels
        result: NDArray[np.int16] = np.round((levels - levels[0]) * _LEVEL_STEPS).astype(np.int16)
        return result
    mean = sample.mean
    if check.quantity == "resistance":
        off = _DECADE_STEPS * np.log10((mean + 0.5) / (mean[0] + 0.5))
        result = np.trunc(off).astype(np.int16)
        return result
    instrument = check.resolution**2 + (check.accuracy * mean[0]) ** 2
    noise = np.sqrt(sample.spread_of(0) ** 2 + instrument)
    off = (mean - mean[0]) / noise
    far = np.log(np.maximum(np.abs(off) / _FIRST_SIGMAS, 1e-9)) / np.log(_STEP_RATIO)
    result = (np.sign(off) * np.floor(np.maximum(far + 1.0, 0.0))).astype(np.int16)
    return result


def worth_offering(
    checks: Sequence[Check], samples: Sequence[Sample], priors: NDArray[np.float64]
) -> list[int]:
    """Return the numbers of the checks to offer, in their order.

    Left out: checks that no fault moves; and of the same reading in several states all but the
    few that together part the faults best (by entropy of the faults' priors over signatures). An
    ammeter that stays in while fuses are pulled is read in every state.

    Parameters
        priors: weight of every row, the no-fault row first
    """
    groups: dict[tuple[str, ...], list[tuple[int, NDArray[np.int16]]]] = {}
    for number, (check, sample) in enumerate(zip(checks, samples, strict=True)):
        steps = signature(check, sample)
        if steps.any():
            stays_in = check.quantity == "current" and check.instrument == "meter"
            key = (check.quantity, check.at, check.to, check.state if stays_in else "")
            groups.setdefault(key, []).append((number, steps.reshape(len(priors), -1)))
    weights = priors / priors.sum()
    return sorted(number for group in groups.values() for number in _best_states(group, weights))


def _best_states(group: list[tuple[int, NDArray[np.int16]]], weights: NDArray[np.float64]
                 ) -> list[int]:
    """Return the few of a group whose signatures together part the rows best, greedily."""
    group = list({steps.tobytes(): (number, steps) for number, steps in reversed(group)}.values())
    group.reverse()  # of states with the same signature the first in the file
    if len(group) == 1:
        return [group[0][0]]
    labels = [_labels(steps) for _, steps in group]
    joint = np.zeros(len(weights), dtype=np.int64)
    kept: list[int] = []
    bits = 0.0
    while len(kept) < min(_MOST_STATES, len(group)):
        tried = [_bits(joint * (one.max() + 1) + one, weights) for one in labels]
        chosen = int(np.argmax(tried))
        if tried[chosen] - bits < _LEAST_BITS:
            break
        bits = tried[chosen]
        both = joint * (labels[chosen].max() + 1) + labels[chosen]
        joint = np.unique(both, return_inverse=True)[1].astype(np.int64)
        kept.append(group[chosen][0])
    return kept


def _labels(steps: NDArray[np.int16]) -> NDArray[np.int64]:
    """Return a number >= 0 for each distinct row of a signature."""
    found = np.zeros(len(steps), dtype=np.int64)
    for column in steps.T.astype(np.int64):
        column = column - column.min()
        found = found * (column.max() + 1) + column
    return found


def _bits(labels: NDArray[np.int64], weights: NDArray[np.float64]) -> float:
    """Return the entropy of the weights gathered by label [bit]."""
    shares = np.bincount(labels, weights=weights)
    shares = shares[shares > 0]
    return float(-(shares * np.log2(shares)).sum())
