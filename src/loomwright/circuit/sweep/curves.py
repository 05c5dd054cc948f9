"""The nonlinear laws in lanes: those of `laws`, sixteen volts at once.

Exponential and logarithm are their power series on a short range, to the last digits of a double.
"""

from __future__ import annotations

import math
from typing import Any

from loomwright.circuit.laws import (
    DIODE_REVERSE_S,
    DIODE_SATURATION_A,
    DIODE_VOLTS,
    MOTOR_BREAKAWAY,
)
from loomwright.circuit.sweep.devices import BEND, DIODE, LAMP, MOTOR, Devices, inlined
from loomwright.circuit.sweep.lanes import (
    choose,
    exponent,
    larger,
    magnitude,
    mantissa,
    over,
    power_of_two,
    smaller,
    spread,
)

__all__ = ["exponential", "law_in_lanes", "logarithm"]

_PER_LN2 = 1 / math.log(2)
# ln 2 in two parts, the first so short that a whole number of it is exact; checked in the tests
_LN2_HIGH, _LN2_LOW = 0.69314718036912381649, 1.90821492927058770002e-10
_SHIFT = 1.5 * 2.0 ** 52  # added to a number, leaves it whole in the last bits
_MOST = 700.0  # beyond which e to the power of it is no normal number
_ROOT_2 = math.sqrt(2)


@inlined
def exponential(value: Any) -> Any:
    """Return e to the power of each lane (held to +-700)."""
    value = larger(smaller(value, spread(_MOST)), spread(-_MOST))
    shifted = value * spread(_PER_LN2) + spread(_SHIFT)
    whole = shifted - spread(_SHIFT)
    rest = value - whole * spread(_LN2_HIGH) - whole * spread(_LN2_LOW)
    total = spread(1.0) + rest * spread(1 / 13)
    total = spread(1.0) + rest * total * spread(1 / 12)
    total = spread(1.0) + rest * total * spread(1 / 11)
    total = spread(1.0) + rest * total * spread(1 / 10)
    total = spread(1.0) + rest * total * spread(1 / 9)
    total = spread(1.0) + rest * total * spread(1 / 8)
    total = spread(1.0) + rest * total * spread(1 / 7)
    total = spread(1.0) + rest * total * spread(1 / 6)
    total = spread(1.0) + rest * total * spread(1 / 5)
    total = spread(1.0) + rest * total * spread(1 / 4)
    total = spread(1.0) + rest * total * spread(1 / 3)
    total = spread(1.0) + rest * total * spread(1 / 2)
    total = spread(1.0) + rest * total
    return total * power_of_two(shifted)


@inlined
def logarithm(value: Any) -> Any:
    """Return the natural logarithm of each lane, which are normal numbers above zero."""
    power, rest = exponent(value), mantissa(value)
    high = over(rest, spread(_ROOT_2))
    power = choose(high, power + spread(1.0), power)
    rest = choose(high, rest * spread(0.5), rest)
    part = (rest - spread(1.0)) / (rest + spread(1.0))
    square = part * part
    total = spread(1 / 19) + square * spread(1 / 21)
    total = spread(1 / 17) + square * total
    total = spread(1 / 15) + square * total
    total = spread(1 / 13) + square * total
    total = spread(1 / 11) + square * total
    total = spread(1 / 9) + square * total
    total = spread(1 / 7) + square * total
    total = spread(1 / 5) + square * total
    total = spread(1 / 3) + square * total
    small = part + part
    return (power * spread(_LN2_HIGH)
            + (small + (small * square * total + power * spread(_LN2_LOW))))


@inlined
def _lamp(device: Devices, branch: int, volts: Any) -> tuple[Any, Any]:
    corner, one = device.corner[branch], spread(1.0)
    share = volts * spread(1 / device.rated_v[branch])
    square = share * share
    inverse = one / (square + spread(corner))
    slope = exponential(spread(BEND) * logarithm(spread(1 + corner) * inverse)) * spread(
        1 / device.ohm[branch])
    return slope * volts, slope * (one - spread(2 * BEND) * square * inverse)


@inlined
def _diode(device: Devices, branch: int, volts: Any) -> tuple[Any, Any]:
    bulk_ohm, zero, reverse = device.ohm[branch], spread(0.0), spread(DIODE_REVERSE_S)
    knee_v = DIODE_VOLTS * math.log(DIODE_VOLTS / bulk_ohm / DIODE_SATURATION_A)
    below = spread(DIODE_SATURATION_A) * exponential(
        smaller(volts, spread(knee_v)) * spread(1 / DIODE_VOLTS))
    current = (below - spread(DIODE_SATURATION_A)
               + larger(volts - spread(knee_v), zero) * spread(1 / bulk_ohm))
    back = over(zero, volts)
    return (choose(back, reverse * volts, current),
            choose(back, reverse, below * spread(1 / DIODE_VOLTS)))


@inlined
def _motor(device: Devices, branch: int, volts: Any) -> tuple[Any, Any]:
    ohm, rated_v, rated_a = device.ohm[branch], device.rated_v[branch], device.rated_a[branch]
    slow, slow_s = volts * spread(1 / ohm), spread(1 / ohm)
    if math.isinf(rated_a):
        return slow, slow_s
    break_a = MOTOR_BREAKAWAY * rated_a
    break_v = min(break_a * ohm, 0.95 * rated_v)
    running = (rated_a - break_a) / (rated_v - break_v)
    size = magnitude(volts)
    fast = spread(break_v / ohm) + spread(running) * (size - spread(break_v))
    fast = choose(over(spread(0.0), volts), spread(0.0) - fast, fast)
    turns = over(size, spread(break_v))
    return choose(turns, fast, slow), choose(turns, spread(running), slow_s)


@inlined
def law_in_lanes(device: Devices, branch: int, volts: Any) -> tuple[Any, Any]:
    """Return current and slope of a nonlinear branch as the base has it."""
    law = device.law[branch]
    if law == LAMP:
        return _lamp(device, branch, volts)
    if law == DIODE:
        return _diode(device, branch, volts)
    if law == MOTOR:
        return _motor(device, branch, volts)
    drive, ohm = volts + spread(device.emf[branch]), device.ohm[branch]
    siemens = choose(over(spread(0.0), drive),
                     spread(1 / max(device.charge_ohm[branch], ohm)), spread(1 / ohm))
    return drive * siemens, siemens
