"""Devices and factor of a sweep's network, and the laws of its branches, compiled."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any, NamedTuple, TypeVar, cast

import numba
import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.laws import (
    DIODE_REVERSE_S,
    DIODE_SATURATION_A,
    DIODE_VOLTS,
    LAMP_EXPONENT,
    MOTOR_BREAKAWAY,
)

__all__ = ["DIODE", "LAMP", "MOTOR", "Devices", "Work", "compiled", "conducts", "inlined",
           "law_of", "linearise"]

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
_Work = TypeVar("_Work", bound=Callable[..., Any])

RESISTOR, LAMP, DIODE, MOTOR, BATTERY = range(5)
_BEND = (1 - LAMP_EXPONENT) / 2


def compiled(work: _Work) -> _Work:
    """Compile a function on first use and keep it on disk for the next session."""
    made: Any = numba.njit(cache=True, error_model="numpy", nogil=True)(work)
    return cast(_Work, made)


def inlined(work: _Work) -> _Work:
    """Compile a function into whoever calls it: a call would count the references of 40 arrays."""
    made: Any = numba.njit(cache=True, error_model="numpy", nogil=True, forceinline=True)(work)
    return cast(_Work, made)


class Devices(NamedTuple):
    """Branch constants of a base and its variants' live copies, (branches) each."""

    law: Indices
    rated_v: Array
    cold_share: Array
    charge_ohm: Array
    leak_s: Array  # when it does not conduct
    ohm: Array
    emf: Array
    rated_a: Array
    shunt: Array
    forced: NDArray[np.int8]
    on: NDArray[np.int8]  # what the logic wants
    curved: Indices  # numbers of the nonlinear branches


class Work(NamedTuple):
    """The factored network: of branches, of rows, of front entries, of pairs."""

    g: Array  # (branches) slope
    j: Array  # (branches) current at no volts
    u: Array  # (branches) volts of the linearisation
    share: Array  # (entries)
    up_g: Array  # (entries) what a row hands up: ground
    up_j: Array  # (entries) and current
    up_pair: Array  # (pairs) and conductance between its others
    inverse: Array  # (rows)
    total_j: Array  # (rows)
    volts: Array  # (rows + 1), the last is the reference
    earth_g: Array  # (rows) shorts to the reference
    dirty: NDArray[np.int64]  # (rows) pass in which a row is eliminated again
    moved: NDArray[np.int64]  # (rows + 1) pass in which its volts were last found
    edge: Array  # scratch of one front
    room: Array  # (rows) volts that a subtree's surrounding may move before it is looked at
    marked: Indices  # (rows) those of this pass, `counts[0]` of them
    altered: Indices  # (rows) those eliminated again for this variant, `counts[1]` of them
    seen: Indices  # (rows) those whose volts were found for it, `counts[2]` of them
    climb: Indices  # scratch of one way up the tree
    counts: Indices
    flow: Array  # (rows + 1) scratch: a unit current that one change injects
    aside: Array  # (rows + 1) scratch: volts that it makes


@inlined
def _lamp(volts: float, hot_ohm: float, cold_share: float, rated_v: float
          ) -> tuple[float, float]:
    start2 = cold_share ** (1 / _BEND)
    share2 = (volts / rated_v) ** 2
    slope = math.exp(_BEND * math.log((1 + start2) / (share2 + start2))) / hot_ohm
    return slope * volts, slope * (1 - 2 * _BEND * share2 / (share2 + start2))


@inlined
def _diode(volts: float, bulk_ohm: float) -> tuple[float, float]:
    if volts < 0:
        return DIODE_REVERSE_S * volts, DIODE_REVERSE_S
    knee_v = DIODE_VOLTS * math.log(DIODE_VOLTS / bulk_ohm / DIODE_SATURATION_A)
    below = DIODE_SATURATION_A * math.exp(min(volts, knee_v) / DIODE_VOLTS)
    beyond = max(volts - knee_v, 0.0) / bulk_ohm
    return below - DIODE_SATURATION_A + beyond, below / DIODE_VOLTS


@inlined
def _motor(volts: float, ohm: float, rated_v: float, rated_a: float) -> tuple[float, float]:
    if math.isinf(rated_a):
        return volts / ohm, 1 / ohm
    break_a = MOTOR_BREAKAWAY * rated_a
    break_v = min(break_a * ohm, 0.95 * rated_v)
    size = abs(volts)
    if size <= break_v:
        return volts / ohm, 1 / ohm
    running = (rated_a - break_a) / (rated_v - break_v)
    current = break_v / ohm + running * (size - break_v)
    return (current if volts > 0 else -current), running


@inlined
def law_of(device: Devices, branch: int, volts: float) -> tuple[float, float]:
    """Return current and slope of a nonlinear branch; the laws are those of `laws`."""
    law, ohm = device.law[branch], device.ohm[branch]
    if law == LAMP:
        return _lamp(volts, ohm, device.cold_share[branch], device.rated_v[branch])
    if law == DIODE:
        return _diode(volts, ohm)
    if law == MOTOR:
        return _motor(volts, ohm, device.rated_v[branch], device.rated_a[branch])
    drive = volts + device.emf[branch]
    if drive < 0:
        ohm = max(device.charge_ohm[branch], ohm)
    return drive / ohm, 1 / ohm


@inlined
def conducts(device: Devices, branch: int) -> bool:
    """Tell whether a branch conducts: a fault's word goes before the logic's."""
    forced = device.forced[branch]
    return bool(forced == 1 or (forced < 0 and device.on[branch] == 1))


@inlined
def linearise(device: Devices, work: Work, branch: int) -> None:
    """Write a branch's slope and current for its volts `work.u`."""
    on = conducts(device, branch)
    if device.law[branch] != RESISTOR:
        current = slope = 0.0
        if on:
            current, slope = law_of(device, branch, work.u[branch])
        work.j[branch] = current - slope * work.u[branch]
        work.g[branch] = slope + device.shunt[branch]
        return
    siemens = 0.0
    if on:
        siemens = 1 / device.ohm[branch]
    elif device.forced[branch] != 0:
        siemens = device.leak_s[branch]
    work.g[branch] = siemens + device.shunt[branch]
    work.j[branch] = siemens * device.emf[branch]
