"""Laws of the parts of the benchmark's own vehicle: filaments and motors unlike the product's."""

from __future__ import annotations

import math
from dataclasses import dataclass

from benchmarks.diagnosis.world import World

__all__ = ["Edge", "motor_speed", "siemens_of"]


@dataclass(slots=True)
class Edge:
    """One element: i = (v_a - v_b + emf) / ohm while `closed()`."""

    name: str
    a: int
    b: int
    ohm: float
    law: str = "ohm"
    emf: float = 0.0
    cold_ohm: float = 0.0
    rated_v: float = 0.0
    rated_a: float = 0.0
    gate: str = ""


def siemens_of(edge: Edge, drop_v: float, isolated: bool, before: float, world: World) -> float:
    """Return the conductance of an element that conducts [S], for the next round of the solver.

    Parameters
        drop_v: across it in the last round; `before`: its conductance then (0: none yet)
        isolated: nothing is supplied, an ohmmeter measures
    """
    drop_v = abs(drop_v)
    if edge.law == "lamp" and isolated:
        return 1.0 / edge.cold_ohm
    if edge.law == "lamp":
        share = min(drop_v / edge.rated_v, 1.5)
        ohm = edge.cold_ohm + (edge.ohm - edge.cold_ohm) * share**world.lamp_power
        return math.sqrt(before / ohm) if before else 1.0 / edge.ohm
    if edge.law == "motor" and not isolated:
        current_a = _motor_amps(edge, drop_v, world)
        wanted = current_a / drop_v if drop_v > 1e-3 else 1.0 / edge.ohm
        return math.sqrt(before * wanted) if before else edge.rated_a / edge.rated_v
    return 1.0 / max(edge.ohm, 1e-6)


def motor_speed(edge: Edge, drop_v: float, world: World) -> float:
    """Return speed (1: rated): torque of the load is a constant and a part growing with its square.
    """
    back_v = edge.rated_v - edge.rated_a * edge.ohm
    square_v = edge.rated_a * (1.0 - world.motor_constant) * edge.ohm
    rest_v = edge.rated_a * world.motor_constant * edge.ohm - drop_v
    if rest_v >= 0.0 or back_v <= 0.0:
        return 0.0
    return (-back_v + math.sqrt(back_v**2 - 4.0 * square_v * rest_v)) / (2.0 * square_v)


def _motor_amps(edge: Edge, drop_v: float, world: World) -> float:
    back_v = edge.rated_v - edge.rated_a * edge.ohm
    return (drop_v - motor_speed(edge, drop_v, world) * back_v) / edge.ohm
