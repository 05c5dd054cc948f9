"""The bench's use cases: files in, frozen records out, every refusal with its place."""

import pytest

from loomwright.errors import FileProblemsError, UnknownNameError, UsageError
from loomwright.service import bench

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
  - [W2, F1.2, S1.1, 2.5 mm2]
  - [W3, S1.2, H1.1, 2.5 mm2, 1 m, BK]
  - [W4, H1.2, E1, 2.5 mm2, 1 m, BN]
states:
  off: {}
  lit: {lamp switch: on}
should:
  off: {H1: off}
  lit: {H1: on}
"""


@pytest.fixture
def lamp(tmp_path):
    """Return the path of a sound circuit file."""
    file = tmp_path / "lamp.yaml"
    file.write_text(LAMP, encoding="utf-8")
    return str(file)


def test_assumptions_are_said_with_their_unit(lamp):
    assumed = {one.text for one in bench.check_circuit(lamp).assumed}
    assert "W2 length 2 m" in assumed
    assert not any(text.startswith("W1 ") for text in assumed)


def test_a_healthy_circuit_that_does_its_work_is_no_finding(lamp):
    answer = bench.expect(lamp)
    assert not answer.finding
    assert answer.unmet == {"off": (), "lit": ()}


def test_with_a_fault_the_unmet_lines_are_told_but_are_no_finding(lamp):
    answer = bench.expect(lamp, "lit", ["open:W3"])
    assert answer.unmet == {"lit": ("H1 should be on but is off.",)}
    assert not answer.finding


def test_unknown_names_are_refused_with_the_nearest(lamp):
    with pytest.raises(UnknownNameError, match="Did you mean 'lit'"):
        bench.expect(lamp, "lti")
    with pytest.raises(UnknownNameError, match="Did you mean 'open:W3'"):
        bench.expect(lamp, "lit", ["opn:W3"])


def test_shorted_batteries_are_told_at_a_battery_of_the_file(tmp_path):
    file = tmp_path / "two.yaml"
    file.write_text(LAMP.replace("  F1:", "  B2: {kind: battery}\n  F1:").replace(
        "wires:\n", "wires:\n  - [W8, B2.+, BAT.-, 16 mm2, 1 m]\n"
                    "  - [W9, B2.-, BAT.+, 16 mm2, 1 m]\n"), encoding="utf-8")
    with pytest.raises(FileProblemsError, match="drive each other") as caught:
        bench.check_circuit(str(file))
    assert caught.value.problems[0].line == 5
    assert caught.value.problems[0].fix


@pytest.mark.parametrize("path", ["", " ", "nowhere.yaml"])
def test_a_path_that_is_no_file_is_refused(path):
    with pytest.raises(UsageError) as caught:
        bench.list_faults(path)
    assert caught.value.next_step


def test_readings_that_cannot_be_taken_so_are_told_together_at_their_lines(lamp, tmp_path):
    readings = tmp_path / "readings.yaml"
    readings.write_text(
        "- {state: lit, quantity: voltage, at: H1.1, to: H1.1, value: 3 V}\n"
        "- {state: lit, quantity: voltage, at: H1.1, value: 12 V}\n"
        "- {state: lit, quantity: lit, at: F1, value: 'on'}\n", encoding="utf-8")
    with pytest.raises(FileProblemsError) as caught:
        bench.suspects(lamp, str(readings))
    assert [one.line for one in caught.value.problems] == [1, 3]
    assert all(one.fix for one in caught.value.problems)


def test_an_open_wire_leads_the_suspects(lamp, tmp_path):
    readings = tmp_path / "readings.yaml"
    readings.write_text(
        "- {state: lit, quantity: lit, at: H1, value: 'off'}\n"
        "- {state: lit, quantity: voltage, at: S1.2, value: 12.6 V}\n"
        "- {state: lit, quantity: voltage, at: H1.1, value: 0 V}\n", encoding="utf-8")
    answer = bench.suspects(lamp, str(readings))
    assert answer.diagnosis.suspects[0].id == "open:W3"
    assert len(answer.evidence) == 3
