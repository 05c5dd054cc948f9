"""Compiled choice of the nonlinear parts that no longer fit their line, drawn anew where they are.

A part that a variant changes is looked at by itself, all others in lanes.
"""

from __future__ import annotations

import math
from typing import Any

from loomwright.circuit.laws import DIODE_SATURATION_A, DIODE_VOLTS
from loomwright.circuit.sweep.curves import law_in_lanes, logarithm
from loomwright.circuit.sweep.devices import (
    DIODE,
    LAMP,
    MOTOR,
    Devices,
    Kept,
    Live,
    Numbers,
    inlined,
    law_of,
)
from loomwright.circuit.sweep.fronts import mark
from loomwright.circuit.sweep.lanes import (
    LANES,
    choose,
    larger,
    load,
    magnitude,
    over,
    pick,
    smaller,
    spread,
    store,
)
from loomwright.circuit.sweep.shape import Tree
from loomwright.circuit.sweep.variants import (
    Changes,
    across,
    move_at,
    numbers_of,
    stands_at,
    touch,
)

__all__ = ["fits", "refit"]

# A line is off by half the bend times the square of the volts from where it was drawn. A diode
# bends 1 / 46 mV at most, a lamp 0.55 / V at most; below this many volts a lamp is always tried.
_DIODE_BEND_V = 1 / 22
_LAMP_FROM_V = 1.0
_DAMP_AFTER = 20  # passes


@inlined
def fits(law: tuple[float, float], linear: float, volts: float, fits_v: float) -> bool:
    """Tell whether a linearisation still holds; `law` is the true current and its slope."""
    return bool(abs(law[0] - linear) <= fits_v * max(abs(volts), 1.0) * law[1])


@inlined
def _next_v(law: int, before: float, volts: float, linear: float) -> float:
    """Return the volts to linearise at, where the network has `volts` over the branch."""
    if law in (LAMP, MOTOR) and volts * before < 0:
        return 0.0  # switched off: it would swing to and fro about 0 V
    if law == DIODE and volts < before and before > 0:
        # falling: the current tells more than the volts, which only fall by 50 mV a pass
        if linear <= 0:
            return min(volts, 0.0)
        return min(volts, DIODE_VOLTS * math.log(linear / DIODE_SATURATION_A + 1))
    return volts


@inlined
def _refit_lane(device: Devices, live: Live, place: tuple[int, int], numbers: Numbers,
                aim: tuple[float, float, bool]) -> bool:
    """Linearise a branch again in one lane if it no longer fits; tell whether it did not.

    `place` is branch and lane, `aim` the volts, how far off is good enough, whether to damp.
    """
    branch, lane = place
    volts, fits_v, damped = aim
    law = law_of(device, branch, numbers, volts)
    linear = (live.g[branch, lane] - numbers[3]) * volts + live.j[branch, lane]
    if fits(law, linear, volts, fits_v):
        return False
    before = live.u[branch, lane]
    after = _next_v(device.law[branch], before, volts, linear)
    if damped:
        after = 0.5 * (after + before)
    if after != volts:
        law = law_of(device, branch, numbers, after)
    live.u[branch, lane] = after
    live.g[branch, lane] = law[1] + numbers[3]
    live.j[branch, lane] = law[0] - law[1] * after
    live.bent[branch] |= 1 << lane
    return True


@inlined
def _next_lanes(law: int, before: Any, volts: Any, linear: Any) -> Any:
    """Return what `_next_v` does, in lanes."""
    zero = spread(0.0)
    if law in (LAMP, MOTOR):
        return choose(over(zero, volts * before), zero, volts)
    if law == DIODE:
        falling = over(before, volts) & over(before, zero)
        if falling:
            amps = larger(linear, zero) * spread(1 / DIODE_SATURATION_A) + spread(1.0)
            return choose(falling, smaller(volts, spread(DIODE_VOLTS) * logarithm(amps)), volts)
    return volts


@inlined
def _refit_lanes(device: Devices, live: Live, branch: int, bits: int,
                 aim: tuple[Any, float, bool]) -> int:
    """Linearise a branch again in the lanes where it no longer fits; return a bit for each.

    `bits` are the lanes to look at, in which it is as in the base; `aim` as of `_refit_lane`.
    """
    volts, fits_v, damped = aim
    shunt = spread(device.shunt[branch])
    current, slope = law_in_lanes(device, branch, volts)
    linear = (load(live.g, branch) - shunt) * volts + load(live.j, branch)
    bits &= over(magnitude(current - linear),
                 spread(fits_v) * larger(magnitude(volts), spread(1.0)) * slope)
    if bits == 0:
        return 0
    before = load(live.u, branch)
    after = _next_lanes(device.law[branch], before, volts, linear)
    if damped:
        after = spread(0.5) * (after + before)
    if over(magnitude(after - volts), spread(0.0)):
        current, slope = law_in_lanes(device, branch, after)
    store(live.u, branch, choose(bits, after, before))
    store(live.g, branch, choose(bits, slope + shunt, load(live.g, branch)))
    store(live.j, branch, choose(bits, current - slope * after, load(live.j, branch)))
    live.bent[branch] |= bits
    return bits


@inlined
def refit(tree: Tree, device: Devices, kept: Kept, live: Live, changes: Changes,
           goal: tuple[int, int, float]) -> int:
    """Linearise again the parts that no longer fit, and mark their rows for the next pass.

    `goal` is the stamps and how far off is good enough. Returns a bit for each lane that is not at
    rest.
    """
    stamp, begin, fits_v = goal
    damped, busy, near_v = stamp - begin > _DAMP_AFTER, 0, math.sqrt(fits_v * _DIODE_BEND_V)
    for branch in device.curved:
        row = stands_at(tree, branch)
        if live.on[branch] == 0 or row < 0 or live.moved[row] != stamp:
            continue
        move = magnitude(move_at(live, tree.start[branch]) - move_at(live, tree.end[branch]))
        bits = (over(move, spread(kept.fits[branch])) | live.bent[branch]) & live.on[branch]
        if bits == 0:
            continue
        volts, off = across(tree, kept, live, branch), 0
        if device.law[branch] in (LAMP, DIODE):
            near = spread(near_v)
            if device.law[branch] == LAMP:
                beyond = magnitude(volts) - spread(_LAMP_FROM_V)
                near = beyond * spread(math.sqrt(fits_v))
            far = magnitude(volts - load(live.u, branch))
            bits &= over(far, near) | ~live.bent[branch]
        alone = bits & live.odd[branch]
        if bits != alone:
            off = _refit_lanes(device, live, branch, bits & ~alone, (volts, fits_v, damped))
        for lane in range(LANES if alone else 0):
            if alone >> lane & 1 and _refit_lane(
                    device, live, (branch, lane),
                    numbers_of(device, changes, live.lines[lane], branch),
                    (pick(volts, lane), fits_v, damped)):
                off |= 1 << lane
        if off:
            touch(live, branch)
            mark(tree, live, row, stamp + 1, begin)
            busy |= off
    return busy
