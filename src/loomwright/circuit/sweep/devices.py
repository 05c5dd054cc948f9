"""A sweep's network, as its base has it and as sixteen variants have it, and the laws, compiled."""

from __future__ import annotations

import functools
import hashlib
import math
from collections.abc import Callable
from pathlib import Path
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

__all__ = ["BEND", "DIODE", "LAMP", "MOTOR", "RESISTOR", "Bits", "Devices", "Kept", "Live",
           "Numbers", "compiled", "conducts", "inlined", "law_of", "linear_of",
           "sources"]

Array = NDArray[np.float64]
Indices = NDArray[np.int64]
Bits = NDArray[np.int64]  # a bit for each lane
Numbers = tuple[float, float, float, float]  # ohm, emf, rated amps, siemens beside
_Work = TypeVar("_Work", bound=Callable[..., Any])

RESISTOR, LAMP, DIODE, MOTOR, BATTERY = range(5)
_HOW: Any = {"cache": True, "error_model": "numpy", "nogil": True, "_nrt": False}
_MOST_EXPONENT = 100.0  # beyond any diode's knee
BEND = (1 - LAMP_EXPONENT) / 2


@functools.cache
def sources() -> tuple[tuple[str, str], ...]:
    """Return name and digest of every file that something compiled is made of."""
    here = Path(__file__).parent
    files = [here.parent / "laws.py", *sorted(here.glob("*.py"))]
    return tuple((file.name, hashlib.sha256(file.read_bytes()).hexdigest()) for file in files)


def _made(work: _Work, **more: bool) -> _Work:
    """Compile a function on first use; what is on disk serves while none of the files changed.

    numba itself looks at the function's own file only, and would take old laws for new ones.
    """
    how: Any = {**_HOW, **more}
    made: Any = numba.njit(**how)(work)
    file: Any = getattr(made._cache, "_cache_file", None)
    if file is not None:
        file._source_stamp = (file._source_stamp, sources())
    return cast(_Work, made)


def compiled(work: _Work) -> _Work:
    """Compile a function on first use and keep it on disk for the next session.

    Nothing compiled here makes an array, so none counts the references of those it is given.
    """
    return _made(work)


def inlined(work: _Work) -> _Work:
    """Compile a function into whoever calls it: a call would hand over some forty arrays."""
    return _made(work, forceinline=True, cache=False)


class Devices(NamedTuple):
    """Branch constants of a base, (branches) each."""

    law: Indices
    rated_v: Array
    corner: Array  # of a lamp: square of the share of its rated volts where it is half warm
    charge_ohm: Array
    leak_s: Array  # when it does not conduct
    ohm: Array
    emf: Array
    rated_a: Array
    shunt: Array
    forced: NDArray[np.int8]
    on: NDArray[np.int8]  # what the logic wants
    curved: Indices  # numbers of the nonlinear branches


class Kept(NamedTuple):
    """The base's solution: of branches, of rows, of front entries, of pairs."""

    g: Array  # (branches) slope
    j: Array  # (branches) current at no volts
    u: Array  # (branches) volts of the linearisation
    flow: Array  # (branches) amps
    size: Array  # (branches) amps that those are a difference of, which are rounded
    fits: Array  # (branches) volts that may move before a curved branch is linearised again
    on: Bits  # (branches) all lanes where it conducts
    share: Array  # (entries)
    up_g: Array  # (entries) what a row hands up: ground
    up_j: Array  # (entries) and current
    up_pair: Array  # (pairs) and conductance between its others
    volts: Array  # (rows + 1), the last is the reference
    room: Array  # (rows) volts that a subtree's surrounding may move before it is looked at


class Live(NamedTuple):
    """Sixteen variants beside the base, a lane each, and scratch."""

    g: Array  # (branches, lanes)
    j: Array
    u: Array
    share: Array  # (entries, lanes), where a row is eliminated again
    up_g: Array
    up_j: Array
    up_pair: Array  # (pairs, lanes)
    inverse: Array  # (rows, lanes)
    total_j: Array
    earth_g: Array  # shorts to the reference
    moves: Array  # (rows + 1, lanes) volts beside the base's; the reference stays
    edge: Array  # scratch of one front
    ground: Array  # scratch of one row
    on: Bits  # (branches) lanes in which it conducts
    odd: Bits  # (branches) lanes whose variant changes it
    bent: Bits  # (branches) lanes in which it is linearised elsewhere than in the base
    dirty: Indices  # (rows) pass in which a row was last eliminated again
    moved: Indices  # (rows) pass in which its volts were last found
    still: NDArray[np.bool_]  # (rows) as it was in the last pass
    marked: Indices  # (rows) those of this pass, `counts[0]` of them
    altered: Indices  # (rows) those eliminated again for this group, `counts[1]` of them
    touched: Indices  # (branches) those that differ from the base, `counts[2]` of them
    is_touched: NDArray[np.bool_]
    climb: Indices  # scratch of one way up the tree
    lines: Indices  # (lanes) variant in each lane
    to: Indices  # (lanes) where its results go
    counts: Indices
    clock: Indices  # the last pass


@inlined
def _lamp(volts: float, hot_ohm: float, corner: float, rated_v: float) -> tuple[float, float]:
    share2 = (volts / rated_v) ** 2
    inverse = 1 / (share2 + corner)
    slope = math.exp(BEND * math.log((1 + corner) * inverse)) / hot_ohm
    return slope * volts, slope * (1 - 2 * BEND * share2 * inverse)


@inlined
def _diode(volts: float, bulk_ohm: float) -> tuple[float, float]:
    if volts < 0:
        return DIODE_REVERSE_S * volts, DIODE_REVERSE_S
    knee_a = DIODE_VOLTS / bulk_ohm
    below = DIODE_SATURATION_A * math.exp(min(volts / DIODE_VOLTS, _MOST_EXPONENT))
    if below <= knee_a:
        return below - DIODE_SATURATION_A, below / DIODE_VOLTS
    knee_v = DIODE_VOLTS * math.log(knee_a / DIODE_SATURATION_A)
    return knee_a - DIODE_SATURATION_A + (volts - knee_v) / bulk_ohm, 1 / bulk_ohm


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
def law_of(device: Devices, branch: int, numbers: Numbers, volts: float) -> tuple[float, float]:
    """Return current and slope of a nonlinear branch; the laws are those of `laws`."""
    law, ohm = device.law[branch], numbers[0]
    if law == LAMP:
        return _lamp(volts, ohm, device.corner[branch], device.rated_v[branch])
    if law == DIODE:
        return _diode(volts, ohm)
    if law == MOTOR:
        return _motor(volts, ohm, device.rated_v[branch], numbers[2])
    drive = volts + numbers[1]
    if drive < 0:
        ohm = max(device.charge_ohm[branch], ohm)
    return drive / ohm, 1 / ohm


@inlined
def conducts(forced: int, on: int) -> bool:
    """Tell whether a branch conducts: a fault's word goes before the logic's."""
    return bool(forced == 1 or (forced < 0 and on == 1))


@inlined
def linear_of(device: Devices, branch: int, numbers: Numbers, how: tuple[int, int], volts: float
              ) -> tuple[float, float]:
    """Return a branch's slope and its current at no volts, linearised at some volts.

    `how` is a fault's word and the logic's.
    """
    on = conducts(how[0], how[1])
    if device.law[branch] != RESISTOR:
        if not on:
            return numbers[3], 0.0
        current, slope = law_of(device, branch, numbers, volts)
        return slope + numbers[3], current - slope * volts
    siemens = 0.0
    if on:
        siemens = 1 / numbers[0]
    elif how[0] != 0:
        siemens = device.leak_s[branch]
    return siemens + numbers[3], siemens * numbers[1]
