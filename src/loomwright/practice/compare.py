"""Two values of a check beside each other: about the same to a person, or a finding."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from loomwright.diagnosis import Table
from loomwright.diagnosis.table import scaled
from loomwright.plant import Check

__all__ = ["Value", "healthy_value", "is_finding", "near_for"]

Value = float | str
# How near "about" is; all assumed, for a person who reckons in the head.
NEAR_SHARE_OF_SYSTEM = 1 / 12  # volts: 1 V on 12 V, 2 V on 24 V ...
NEAR_SHARE_V, NEAR_LEAST_V = 0.2, 0.5  # ... but of a signal or a drop a fifth, or 0.5 V
NEAR_SHARE, NEAR_LEAST_A, NEAR_LEAST_OHM = 0.3, 0.5, 2.0
OPEN_LINE_OHM = 1e7
# What is a finding: more than instrument, battery's charge and parts' tolerance explain, and more
# than a technician lets pass. Volts: 0.5 V on the feed side and 0.2 V on the earth side or across a
# stretch of a 12 V circuit, in proportion (common practice); the others assumed.
FINDING_SIGMAS = 3.0
CHARGE_SIGMA = 0.01  # share of the battery's volts, from vehicle to vehicle; assumed
FEED_SHARE, DROP_SHARE = 0.5 / 12, 0.2 / 12
FINDING_SHARE_A, FINDING_LEAST_A = 0.1, 0.1
FINDING_SHARE_OHM, FINDING_LEAST_OHM = 0.2, 0.5
FINDING_SHARE_AC = 0.15


def healthy_value(table: Table, check: Check) -> Value | None:
    """Return what a healthy circuit shows at a check, None where nothing certain is to be seen."""
    model = table.model(check)
    if model.levels is not None:
        return check.levels[int(model.levels[len(model.levels) // 2, 0].argmax())]
    value = float(model.raw[len(model.raw) // 2, 0])
    return None if np.isnan(value) else value


def is_finding(table: Table, check: Check, shown: Value, system_v: float) -> bool:
    """Return whether a reading tells of something wrong: a healthy circuit would not show it.

    A number must lie outside three standard deviations of what a healthy circuit shows, tolerances,
    instrument and the battery's charge together, and be further off than a technician lets pass
    (the constants above).
    """
    healthy = healthy_value(table, check)
    if healthy is None:
        return False
    if isinstance(healthy, str) or isinstance(shown, str):
        return shown != healthy
    model = table.model(check)
    middle = len(model.raw) // 2
    charge = 0.0 if check.unit == "ohm" else CHARGE_SIGMA * abs(healthy)
    sigma = float(np.hypot(model.sd[middle, 0], charge))
    far = abs(float(scaled(check, shown) - scaled(check, healthy))) > FINDING_SIGMAS * sigma
    return far and abs(shown - healthy) > _let_pass(check, healthy, system_v)


def _let_pass(check: Check, healthy: float, system_v: float) -> float:
    """Return how far from the healthy value nobody minds [the check's unit]."""
    if check.quantity == "voltage":
        return system_v * (FEED_SHARE if abs(healthy) > system_v / 4 else DROP_SHARE)
    if check.unit == "V":  # of a generator: its volts go with the speed
        return FINDING_SHARE_AC * abs(healthy)
    if check.unit == "A":
        return max(FINDING_SHARE_A * abs(healthy), FINDING_LEAST_A)
    return max(FINDING_SHARE_OHM * abs(healthy), FINDING_LEAST_OHM)


def near_for(check: Check, system_v: float) -> Callable[[Value, Value], bool]:
    """Return whether two values of a check are about the same: see the constants above."""
    def near(first: Value, second: Value) -> bool:
        if isinstance(first, str) or isinstance(second, str):
            return first == second
        apart, size = abs(first - second), max(abs(first), abs(second))
        if check.quantity == "voltage":
            small = max(NEAR_SHARE_V * size, NEAR_LEAST_V)
            return apart <= min(NEAR_SHARE_OF_SYSTEM * system_v, small)
        if check.unit == "ohm" and size >= 0.5 * OPEN_LINE_OHM:
            return min(first, second) >= 0.05 * OPEN_LINE_OHM
        least = {"A": NEAR_LEAST_A, "V": NEAR_LEAST_V}.get(check.unit, NEAR_LEAST_OHM)
        return apart <= max(NEAR_SHARE * size, least)

    return near
