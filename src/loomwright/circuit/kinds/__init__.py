"""Every kind of part, by the name used in the circuit file. A new kind is one file and one line."""

from __future__ import annotations

from loomwright.circuit.kinds import (
    alternator,
    battery,
    can_node,
    can_terminator,
    capacitor,
    circuit_breaker,
    connector,
    controller,
    converter,
    diode,
    earth,
    fuse,
    fusible_link,
    heater,
    horn,
    lamp,
    latching_relay,
    led_lamp,
    magneto,
    motor,
    proximity_switch,
    rectifier,
    relay,
    resistor,
    selector,
    sender,
    sensor,
    solenoid,
    splice,
    starter,
    stator,
    switch,
    thermistor,
)
from loomwright.circuit.kinds.base import Kind

__all__ = ["KINDS"]

_MODULES = (
    battery, alternator, starter, fuse, fusible_link, circuit_breaker, switch, selector, relay,
    diode, resistor, capacitor, lamp, led_lamp, solenoid, motor, heater, horn, sender, thermistor,
    sensor, proximity_switch, converter, controller, can_node, can_terminator, magneto, stator,
    rectifier, latching_relay, splice, connector, earth,
)
KINDS: dict[str, Kind] = {module.KIND.name: module.KIND for module in _MODULES}
