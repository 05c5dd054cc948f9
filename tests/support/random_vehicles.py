"""Random vehicle circuits with values, so that they solve: lamps, motors, diodes, relays."""

from __future__ import annotations

import dataclasses
import random
from typing import Any

from loomwright.circuit.kinds import KINDS
from loomwright.circuit.model import Circuit, Part
from tests.circuit.drawing.generator import TRUE
from tests.circuit.drawing.generator import random_circuit as random_drawing

__all__ = ["random_vehicle"]

SYSTEM_V = 24.0
# Keys of a kind, drawn anew for every part.
_DRAWN: dict[str, dict[str, tuple[str, float, float]]] = {
    "lamp": {"power": ("W", 1, 100)}, "motor": {"current": ("A", 0.5, 20)},
    "solenoid": {"resistance": ("ohm", 5, 100)}, "heater": {"power": ("W", 20, 400)},
    "resistor": {"resistance": ("ohm", 1, 10_000)}, "fuse": {"rating": ("A", 5, 60)},
}


def random_vehicle(seed: int, size: int = 25) -> Circuit:
    """Return a random 24 V circuit of about `size` parts; most switches are closed."""
    dice = random.Random(seed)
    drawn = random_drawing(seed, size)
    parts = {name: _with_values(part, dice) for name, part in drawn.parts.items()}
    closed = {name: "on" if dice.random() < 0.85 else "off"
              for name, part in parts.items() if part.kind == "switch"}
    return dataclasses.replace(drawn, parts=parts, states={"on": closed})


def _with_values(part: Part, dice: random.Random) -> Part:
    kind = KINDS[part.kind]
    keys: dict[str, Any] = {"kind": part.kind}
    for key, (unit, low, high) in _DRAWN.get(part.kind, {}).items():
        keys[key] = f"{dice.uniform(low, high):.3g} {unit}"
    if part.kind == "relay":
        keys |= {"changeover": "87a" in part.pins, "clamp diode": dice.random() < 0.3}
    if part.kind == "connector":
        keys["ways"] = len(part.pins) // 2
    if part.kind == "controller":
        keys |= {"supply": "1", "earth": "2"}
    values, assumed = kind.values(kind.model.model_validate(keys), SYSTEM_V)
    own = {key: value for key, value in part.params.items() if value is not TRUE}
    return dataclasses.replace(part, params={**values, **own}, assumed=assumed)
