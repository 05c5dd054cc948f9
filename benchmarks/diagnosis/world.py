"""What a vehicle is really like beside its drawing: temperature, battery, luck, undrawn loads."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

__all__ = ["Extra", "World", "draw_world"]


@dataclass(frozen=True, slots=True)
class World:
    """What this vehicle is really like: temperature, battery, luck of every contact and part."""

    temperature_c: float
    emf_factor: float
    sag_per_reading: float
    lamp_power: float
    motor_constant: float
    seed: int


@dataclass(frozen=True, slots=True)
class Extra:
    """A resistor nobody drew, between two points [ohm]."""

    at: str
    to: str
    ohm: float


def draw_world(rng: np.random.Generator) -> World:
    """Draw a vehicle's world: -15 to 45 degC, battery +-2 %, up to 0.1 % sag at every reading."""
    return World(
        float(rng.uniform(-15.0, 45.0)), float(np.clip(rng.normal(1.0, 0.02), 0.94, 1.05)),
        float(rng.uniform(0.0, 0.001)), float(rng.uniform(0.5, 0.75)),
        float(rng.uniform(0.3, 0.7)), int(rng.integers(2**31)),
    )
