"""Values that no part can have, and sequences and controllers that are none: told at their line."""

from __future__ import annotations

import pytest

from loomwright.circuit import solve
from loomwright.circuit.reader import read_circuit_text
from loomwright.errors import FileProblemsError

FILE = """loomwright: 1
title: Refused
system: 12 V
parts:
  BAT: {kind: battery}
  X: %s
wires:
  - [W1, BAT.+, X.1]
  - [W2, X.2, BAT.-]
states: {off: {}, on: {go: yes}}
"""
OUTPUT = "kind: controller, supply: 1, earth: 2, outputs: {lock: {pin: 3, when: go}}"


def problems(text: str) -> list[str]:
    """Return the problems of a file, one text each with its line."""
    with pytest.raises(FileProblemsError) as found:
        read_circuit_text(text)
    return [f"{one.line}: {one.what} {one.fix}" for one in found.value.problems]


@pytest.mark.parametrize(("part", "words"), [
    ("kind: thermistor, temperature: 2000 degC", "between -60 and 1000 degC"),
    ("kind: thermistor, temperature: hot", "hot"),
    ("kind: motor, turn time: 1 s", "'turn time' and 'parked word' need each other"),
    (OUTPUT.replace("pin: 3", "pin: '3 b'"), "'3 b' cannot be the name of a pin"),
    (OUTPUT.replace("lock:", "not lock:"), "'not lock' cannot be the name of one of the outputs"),
    (OUTPUT + ", inputs: {lock: {pin: 4}}", "'lock' is the name of an input and an output"),
    (OUTPUT.replace("when: go", "when: go and"), "and"),
])
def test_a_part_that_cannot_be_is_told_at_its_line(part: str, words: str) -> None:
    told = problems(FILE % ("{" + part + "}"))
    assert any(one.startswith("6: ") and words in one for one in told), told


@pytest.mark.parametrize(("part", "words"), [
    ("kind: dc-dc converter, efficiency: 120 %", "'efficiency' must be at most 100 %"),
    ("kind: sensor, low: 120 %", "must lie between 0 and 100 %"),
])
def test_shares_have_their_bounds(part: str, words: str) -> None:
    told = problems((FILE % ("{" + part + "}")).replace("X.1", "X.in").replace("X.2", "X.-"))
    assert any(words in one for one in told), told


@pytest.mark.parametrize(("sequence", "words"), [
    ("{state: on, for: 1 s}", "Sequence 's' is a list of steps"),
    ("[on]", "A step is a mapping"),
    ("[{state: on, until: [go]}]", "'until' needs a short rule"),
    ("[" + ", ".join(["{state: on, for: 1 s}"] * 101) + "]", "has more than"),
])
def test_a_sequence_that_is_none_is_told(sequence: str, words: str) -> None:
    text = FILE % "{kind: lamp}" + f"sequences: {{s: {sequence}}}\n"
    assert any(words in one for one in problems(text.replace("go: yes", "")))


@pytest.mark.parametrize(("rule", "doing"), [("yes", "closed"), ("no", "open")])
def test_a_switch_may_always_or_never_be_closed(rule: str, doing: str) -> None:
    text = (FILE % f"{{kind: switch, closed when: {rule}}}").replace("on: {go: yes}", "on: {}")
    text = text.replace("W2, X.2, BAT.-", "W2, X.2, H1.1").replace(
        "states:", "  - [W3, H1.2, BAT.-]\nstates:").replace("wires:", "  H1: {kind: lamp}\nwires:")
    assert solve(read_circuit_text(text), "on").parts["X"].doing == doing
