"""The vehicles of the practice bench: every reading has an error of its own, the same each time."""

from __future__ import annotations

import hashlib
import random
from typing import TYPE_CHECKING

from loomwright.service.hidden_vehicle import HiddenVehicle

if TYPE_CHECKING:
    from loomwright.circuit import CircuitPlant
    from loomwright.circuit.model import Fault
    from loomwright.plant import Check
    from loomwright.practice.exercise import Oracle, VehicleMaker

__all__ = ["vehicles_of"]

BATTERY_SPREAD = 0.01  # share of the battery's volts, one sigma, by its charge; assumed


def vehicles_of(plant: CircuitPlant) -> VehicleMaker:
    """Return what makes the vehicle of a fault and a seed.

    The error of a reading depends on seed, check and how often it was taken, never on what was
    read before: whoever takes the same reading sees the same, apprentice or engine.
    """
    def vehicle(fault: Fault, seed: int) -> Oracle:
        share = random.Random(f"battery/{seed}").gauss(1.0, BATTERY_SPREAD)

        def read(check: Check, before: int) -> float | str:
            if check.quantity == "voltage" and check.levels:
                return _lamp(plant, fault, check)
            text = f"{seed}/{check.id}/{check.instrument}/{before}"
            noise = int(hashlib.sha256(text.encode()).hexdigest()[:12], 16)
            return HiddenVehicle(plant, fault, noise, share).measure(check)

        return read

    return vehicle


def _lamp(plant: CircuitPlant, fault: Fault, check: Check) -> str:
    """Return what a test lamp or bulb does: off, dim or on, loading the circuit as it is."""
    from loomwright.plant import Hypothesis

    as_is = Hypothesis(fault.id, fault.element, fault.kind, fault.repair, fault.prior)
    levels = plant.predict([as_is], [check]).levels[0]
    return check.levels[int(levels[len(levels) // 2, 0].argmax())]
