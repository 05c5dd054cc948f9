"""Every kind of part, by the name used in the circuit file. A new kind is one file and one line."""

from __future__ import annotations

from loomwright.circuit.kinds import (
    battery,
    connector,
    controller,
    diode,
    earth,
    fuse,
    heater,
    horn,
    lamp,
    motor,
    relay,
    resistor,
    solenoid,
    splice,
    switch,
)
from loomwright.circuit.kinds.base import Kind

__all__ = ["KINDS"]

_MODULES = (
    battery, fuse, switch, relay, diode, resistor, lamp, solenoid, motor, heater, horn,
    controller, splice, connector, earth,
)
KINDS: dict[str, Kind] = {module.KIND.name: module.KIND for module in _MODULES}
