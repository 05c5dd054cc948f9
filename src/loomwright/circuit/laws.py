"""Electrical laws of nonlinear parts, with the thresholds that name what a part is doing.

Each law returns the current [A] and its slope [S] at a voltage, smooth and rising, so that
Newton's method finds the one solution.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "BLOCKED_S", "BLOW_SHARE", "DIODE_REVERSE_S", "DIODE_SATURATION_A", "DIODE_VOLTS",
    "LAMP_EXPONENT", "LIMITED_S", "LOAD_LEVELS", "MAGNETO_FED_A", "MOTOR_BREAKAWAY",
    "battery_current", "diode_current", "lamp_current", "mirror_current", "motor_current",
    "motor_speed", "regulated_current",
]

Array = NDArray[np.float64]

LAMP_EXPONENT = 0.55  # lamp current rises as volts to this power; common practice
DIODE_VOLTS = 1.8 * 0.02585  # emission times thermal volts at 27 degC; from memory
DIODE_SATURATION_A = 7e-9  # a 1 A rectifier diode, from memory
DIODE_REVERSE_S = 1e-13  # assumed
MOTOR_BREAKAWAY = 0.6  # share of rated current needed to turn at all; assumed
LIMITED_S = 1e-6  # slope of a source at its limit; assumed
BLOCKED_S = 1e-12  # slope of a source that blocks; assumed
BLOW_SHARE = 1.35  # a blade fuse must open above this share of its rating; common practice

# Share of rated volts (motor: of rated speed) from which a load counts as (dim or slow, on).
# Assumed. A solenoid or relay either pulls in or does not, so both are one.
LOAD_LEVELS: dict[str, tuple[float, float]] = {
    "lamp": (0.15, 0.75),
    "led lamp": (0.05, 0.40),
    "starter": (0.05, 0.60),
    "magneto": (0.50, 0.50),
    "solenoid": (0.60, 0.60),
    "motor": (0.05, 0.70),
    "heater": (0.20, 0.75),
    "horn": (0.50, 0.75),
    "relay": (0.60, 0.60),
}
MAGNETO_FED_A = 1e-3  # taking more from its kill wire, a magneto does not spark; assumed


def lamp_current(volts: Array, hot_ohm: Array, cold_ohm: Array, rated_v: Array
                 ) -> tuple[Array, Array]:
    """Return a filament's current and slope: I ~ V^0.55, down to its cold resistance.

    I = (V/R_hot) ((1+u0^2)/(u^2+u0^2))^((1-0.55)/2) with u = V/V_rated; u0 is set by cold/hot.
    Valid from no current to about 1.2 times rated volts, settled temperature.
    """
    bend = (1 - LAMP_EXPONENT) / 2
    start2 = (cold_ohm / hot_ohm) ** (1 / bend)
    share2 = (volts / rated_v) ** 2
    slope = ((1 + start2) / (share2 + start2)) ** bend / hot_ohm
    return slope * volts, slope * (1 - 2 * bend * share2 / (share2 + start2))


def diode_current(volts: Array, bulk_ohm: Array) -> tuple[Array, Array]:
    """Return a diode's current and slope: exponential, then straight along its bulk resistance."""
    knee_a = DIODE_VOLTS / bulk_ohm  # where the exponential is as steep as the bulk resistance
    knee_v = DIODE_VOLTS * np.log(knee_a / DIODE_SATURATION_A)
    below = DIODE_SATURATION_A * np.exp(np.minimum(volts, knee_v) / DIODE_VOLTS)
    current = below - DIODE_SATURATION_A + np.maximum(volts - knee_v, 0) / bulk_ohm
    reverse = volts < 0
    return (np.where(reverse, DIODE_REVERSE_S * volts, current),
            np.where(reverse, DIODE_REVERSE_S, below / DIODE_VOLTS))


def motor_current(volts: Array, armature_ohm: Array, rated_v: Array, rated_a: Array
                  ) -> tuple[Array, Array]:
    """Return a motor's steady current and slope.

    Stalled (below breakaway current): I = V/R. Running: the load's torque rises with speed, so the
    current rises straight from breakaway to rated. Seized is a breakaway that is never reached
    (`rated_a` infinite).
    """
    seized = np.isinf(rated_a)
    rated = np.where(seized, 1.0, rated_a)
    break_a = MOTOR_BREAKAWAY * rated
    break_v = np.minimum(break_a * armature_ohm, 0.95 * rated_v)
    running = (rated - break_a) / (rated_v - break_v)
    size = np.abs(volts)
    stalled = seized | (size <= break_v)
    current = np.where(stalled, size / armature_ohm,
                       break_v / armature_ohm + running * (size - break_v))
    return np.sign(volts) * current, np.where(stalled, 1 / armature_ohm, running)


def motor_speed(volts: Array, current: Array, armature_ohm: Array, rated_back_v: float) -> Array:
    """Return speed as a share of rated speed: back-EMF V - I R against that of a good motor.

    Source: E = V - I R, OpenStax College Physics 20 (published).
    """
    back = np.abs(volts) - np.abs(current) * armature_ohm
    return np.maximum(back, 0) / rated_back_v


def battery_current(volts: Array, emf: Array, inner_ohm: Array, charge_ohm: Array
                    ) -> tuple[Array, Array]:
    """Return a battery's current and slope: it takes a charge less easily than it gives one.

    I = (V + emf)/R, with the larger of the two resistances where the current runs backwards.
    """
    drive = volts + emf
    ohm = np.where(drive < 0, np.maximum(charge_ohm, inner_ohm), inner_ohm)
    return drive / ohm, 1 / ohm


def regulated_current(volts: Array, set_v: Array, inner_ohm: Array, limit_a: Array
                      ) -> tuple[Array, Array]:
    """Return the current and slope of a regulated source with a limit that takes nothing back.

    `volts` is from its return to its output, so minus the output's. With u = set_v + volts:
    I = u/R between 0 and the limit, the limit beyond, nothing below 0.
    """
    drive = set_v + volts
    full = (drive >= inner_ohm * limit_a) & (limit_a > 0)
    blocked = ~full & ((drive <= 0) | (limit_a <= 0))
    current = np.where(full, limit_a + LIMITED_S * (drive - inner_ohm * limit_a),
                       np.where(blocked, BLOCKED_S * drive, drive / inner_ohm))
    slope = np.where(full, LIMITED_S, np.where(blocked, BLOCKED_S, 1 / inner_ohm))
    return current, slope


def mirror_current(volts: Array, least_v: Array, output: tuple[Array, Array], efficiency: Array
                   ) -> tuple[Array, Array]:
    """Return what the input of a regulated source draws, and its slope.

    With an efficiency the powers balance: I = V_out I_out / (efficiency V_in). Without one the
    same current passes through (a series regulator). Below `least_v` it draws like a resistance,
    so that a feed too poor for it has a solution (and it then lets go). `output` is volts, amps.
    """
    out_volts, out_amps = output
    share = np.where(efficiency > 0, efficiency, 1.0)
    power = np.maximum(out_volts, 0) * out_amps / share
    there = np.maximum(volts, least_v)
    current = np.where(efficiency > 0, power / there, out_amps)
    starved = volts < least_v
    return (np.where(starved, current * volts / least_v, current),
            np.where(starved, current / least_v, 0.0) + BLOCKED_S)
