"""One heater behind a fuse and a switch: the smallest circuit that the plant is tested on."""

from __future__ import annotations

__all__ = ["ONE_HEATER", "heater"]

_TEXT = """
loomwright: 1
title: One heater
system: 12 V
places:
  bench: {reach: 1 min}
parts:
  BAT: {kind: battery, place: bench}
  F1:  {kind: fuse, rating: %s, place: bench}
  S1:  {kind: switch, place: bench, closed when: switch on}
  R1:  {kind: heater, resistance: 10 ohm, place: bench%s}
  E1:  {kind: earth, place: bench}
%s
wires:
  - [W1, BAT.+, F1.1, 2.5 mm2, 1 m, RD]
  - [W2, F1.2, S1.1, 2.5 mm2, 1 m, RD]
  - [W3, S1.2, R1.1, 2.5 mm2, 1 m, RD]
  - [W4, R1.2, E1, 2.5 mm2, 1 m, BN]
%s
states:
  off: {}
  working: {switch on: yes}
should:
  working: {R1: on}
"""


def heater(parts: str = "", wires: str = "", fuse: str = "10 A", price: str = "") -> str:
    """Return the circuit file, with further lines of parts and wires."""
    return _TEXT % (fuse, f", price: {price}" if price else "", parts, wires)


ONE_HEATER = heater()
