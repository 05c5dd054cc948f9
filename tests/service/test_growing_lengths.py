"""Lengths of wires by the volts they lose, and what is said where that tells nothing."""

from __future__ import annotations

from pathlib import Path

import pytest

from loomwright.circuit import read_circuit_text, solve
from loomwright.data.conductors import wire_ohm_per_m
from loomwright.errors import UsageError
from loomwright.service.growing import trace_ends
from loomwright.service.growing_lengths import FoundLength

VAN = """loomwright: 1
title: Work lamps of a van
system: 12 V
parts:
  BAT: {kind: battery}
  S1: {kind: switch}
  R1: {kind: resistor, resistance: 2 ohm}
  R2: {kind: resistor, resistance: 1 kohm}
wires:
  - [W1, BAT.+, S1.1, 2.5 mm2, 1 m]
  - [W2, S1.2, R1.1, 1 mm2, %s, BU]
  - [W3, R1.2, BAT.-, %s, unknown]
  - [W4, S1.2, R2.1, 1 mm2, unknown]
  - [W5, R2.2, BAT.-, 1 mm2, 1 m]
states: {off: {}, lit: {S1: yes}}
"""


def told(folder: Path, readings: str, area: str = "1 mm2") -> dict[str, FoundLength]:
    """Return what is said of lengths, by wire."""
    (folder / "van.yaml").write_text(VAN % ("unknown", area))
    (folder / "readings.yaml").write_text(readings)
    answer = trace_ends(str(folder / "van.yaml"), str(folder / "readings.yaml"))
    assert answer.ends == ()
    return {one.wire: one for one in answer.lengths}


def drop(length: str) -> float:
    """Return the volts across W2 in a van whose wire has this length."""
    points = solve(read_circuit_text(VAN % (length, "1 mm2")), "lit").points
    return points["S1.2"].volts - points["R1.1"].volts


@pytest.mark.parametrize("length", [4.0, 7.5])
def test_the_length_is_recovered_from_the_drop(tmp_path: Path, length: float) -> None:
    volts = drop(f"{length} m")
    found = told(tmp_path, f"- {{state: lit, quantity: voltage, at: W2, value: {volts:.3f} V}}\n")
    assert found["W2"].length_m == pytest.approx(length, rel=0.01)
    assert found["W2"].least_m < length < found["W2"].most_m
    assert found["W2"].line_to_write == f"- [W2, S1.2, R1.1, 1 mm2, {length:.1f} m, BU]"


def test_a_clamp_counts_before_the_circuit(tmp_path: Path) -> None:
    found = told(tmp_path, "- {state: lit, quantity: current, at: W2, value: 6.0 A}\n"
                           "- {state: lit, quantity: voltage, at: S1.2, to: R1.1, value: 0.50 V}\n")
    assert found["W2"].length_m == pytest.approx(0.5 / 6.0 / wire_ohm_per_m(1.0), rel=1e-6)


@pytest.mark.parametrize(("reading", "area", "words"), [
    ("at: W4, value: 0.01 V", "1 mm2", "too little to tell; read the drop while more current"),
    ("at: W2, value: -0.50 V", "1 mm2", "do not go with"),
    ("at: W3, value: 0.40 V", "unknown", "its area is not known either"),
])
def test_what_cannot_be_concluded_is_said(tmp_path: Path, reading: str, area: str, words: str
                                          ) -> None:
    found = told(tmp_path, f"- {{state: lit, quantity: voltage, {reading}}}\n", area)
    (one,) = found.values()
    assert one.length_m is None
    assert one.line_to_write == ""
    assert words in one.text


def test_lengths_without_a_reading_are_counted(tmp_path: Path) -> None:
    text = (VAN % ("unknown", "1 mm2")).replace("[W5, R2.2, BAT.-,", "[W5, R2.2, unknown,")
    (tmp_path / "van.yaml").write_text(text)
    answer = trace_ends(str(tmp_path / "van.yaml"), "")
    assert answer.lengths == ()
    assert any("length of 3 wires is not known" in note for note in answer.notes)


def test_nothing_to_tell_is_refused(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match="no reading tells a length"):
        told(tmp_path, "- {state: lit, quantity: voltage, at: R1.1, value: 12.1 V}\n")


def test_an_end_that_was_found_gets_its_length_too(tmp_path: Path) -> None:
    text = (VAN % ("3 m", "1 mm2")).replace("[W2, S1.2, R1.1, 1 mm2, 3 m, BU]",
                                            "[W2, S1.2, unknown, 1 mm2, unknown, BU]")
    (tmp_path / "van.yaml").write_text(text)
    (tmp_path / "readings.yaml").write_text(
        "- {state: lit, quantity: voltage, at: R1.1, value: 12.1 V}\n"
        f"- {{state: lit, quantity: voltage, at: S1.2, to: R1.1, value: {drop('3 m'):.3f} V}}\n"
        "- {state: off, quantity: continuity, at: S1.2, to: R1.1, value: closed}\n")
    answer = trace_ends(str(tmp_path / "van.yaml"), str(tmp_path / "readings.yaml"))
    assert answer.ends[0].status == "found"
    assert answer.lengths[0].length_m == pytest.approx(3.0, rel=0.03)
