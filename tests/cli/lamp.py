"""The small circuit of the command tests: a work lamp, with a reading and counts beside it."""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

import pytest

__all__ = ["COUNTS", "LAMP", "LampFiles", "lamp"]

LAMP = """\
loomwright: 1
title: Lamp
system: 12 V
parts:
  BAT: {kind: battery}
  F1: {kind: fuse, rating: 10 A}
  S1: {kind: switch, closed when: lamp switch}
  H1: {kind: lamp, power: 21 W}
  E1: {kind: earth}
wires:
  - [W1, BAT.+, F1.1, 2.5 mm2, 1 m, RD]
  - [W2, F1.2, S1.1, 2.5 mm2, 1 m, RD]
  - [W3, S1.2, H1.1, 2.5 mm2, 1 m, BK]
  - [W4, H1.2, E1, 2.5 mm2, 1 m, BN]
states:
  at rest: {}
  lit: {lamp switch: on}
should:
  lit: {H1: on}
"""
DARK = "- {state: lit, quantity: lit, at: H1, value: off, instrument: eye}\n"
COUNTS = {"format": "loomwright counts", "version": 1, "counts": [
    {"part_kind": "fuse", "fault_kind": "blown", "place": "", "vehicle_class": "12 V",
     "count": 40}]}


@dataclass(frozen=True, slots=True)
class LampFiles:
    """The circuit, a reading of the dark lamp, and counts of closed jobs, as files."""

    circuit: Path
    readings: Path
    counts: Path


@pytest.fixture
def lamp(tmp_path: Path) -> LampFiles:
    """Write the three files into the test's folder."""
    made = LampFiles(tmp_path / "lamp.yaml", tmp_path / "dark.yaml", tmp_path / "counts.json")
    made.circuit.write_text(LAMP, encoding="utf-8")
    made.readings.write_text(DARK, encoding="utf-8")
    made.counts.write_text(json.dumps(COUNTS), encoding="utf-8")
    return made
