"""Why is this output off: the demo circuit with faults, and rules with or, not and pull-ups."""

from __future__ import annotations

import dataclasses
from importlib import resources

import pytest

from loomwright.circuit.faults import faults_of, parse_fault
from loomwright.circuit.logic import Change
from loomwright.circuit.model import Circuit
from loomwright.circuit.reader import read_circuit_text
from loomwright.circuit.solve import solve
from loomwright.circuit.why_off import WhyOff, why_off
from loomwright.circuit.why_records import CAUSES, Trace
from loomwright.errors import UnknownNameError

DEMO = read_circuit_text(
    resources.files("loomwright.demo").joinpath("tailgate_lock.yaml").read_text("utf-8")
)


def asked(fault: str, state: str = "locking", output: str = "ECU.lock") -> WhyOff:
    circuit = DEMO.with_faults([parse_fault(DEMO, fault)]) if fault else DEMO
    return why_off(circuit, state, output)


def way_of(trace: Trace | None) -> list[str]:
    assert trace is not None
    return [step for point in trace.points for step in (point.via, point.point) if step]


def changes_of(answer: WhyOff) -> set[frozenset[str]]:
    return {frozenset(change.text() for change in way) for way in answer.ways}


def test_open_input_wire_blocks_the_lock():
    answer = asked("open:W20")
    assert answer.cause == "rule"
    assert answer.ways == ((Change("shut"),),)
    trace = answer.inputs[0].trace
    assert way_of(trace) == [
        "ECU.11", "W20", "X1.2a", "X1.2", "X1.2b", "W19", "S4.2", "S4", "S4.1", "W18", "X1.1b",
        "X1.1", "X1.1a", "W17", "F13.2", "F13", "F13.1", "W9", "SP2", "W7", "K3.87", "K3",
        "K3.30", "W6", "SP1", "W2", "F1.2", "F1", "F1.1", "W1", "BAT.+",
    ]
    assert "Between X1.2a and ECU.11" in trace.lost
    assert "wire W20 (YE, 0.75 mm2, 7 m)" in trace.lost


def test_expected_volts_are_those_of_the_circuit_without_the_fault():
    trace = asked("open:W20").inputs[0].trace
    healthy = solve(DEMO, "locking")
    assert trace.as_in == "'locking'"
    assert all(point.expected == healthy.points[point.point] for point in trace.points)
    assert [point.differs for point in trace.points] == [True] + [False] * 15


def test_stuck_switch_is_named_with_what_it_should_do():
    answer = asked("stuck-open:S4")
    assert "switch S4 (Tailgate shut) is open and should be closed" in answer.inputs[0].trace.lost
    stuck = asked("stuck-closed:S6")
    assert stuck.ways == ((Change("moving", to=False),),)
    assert "S6 (Moving signal) is closed and should be open" in stuck.inputs[0].trace.lost
    assert "something on the way feeds it" in stuck.inputs[0].what


def test_open_supply_wire_is_the_supply_not_the_rule():
    answer = asked("open:W11")
    assert answer.cause == "supply"
    assert answer.traces[0].start == "ECU.1"
    assert "wire W11" in answer.traces[0].lost
    assert way_of(answer.traces[0])[:4] == ["ECU.1", "W11", "F12.2", "F12"]


def test_open_earth_wire_is_the_earth():
    answer = asked("open:W12")
    assert answer.cause == "earth"
    assert way_of(answer.traces[0]) == ["ECU.2", "W12", "E1"]
    assert "wire W12" in answer.traces[0].lost


@pytest.mark.parametrize(
    ("fault", "cause", "words"),
    [
        ("blown:F12", "supply", "fuse F12 (Controller)"),
        ("coil-open:K3", "supply", "relay K3 (Body power), whose coil has"),
        ("dead:ECU", "controller", "the controller itself is suspect"),
        ("driver-dead:ECU.lock", "driver", "Either the driver has failed or it protects itself"),
        ("short-to-earth:W21", "driver", "its current is over its limit"),
        ("input-dead:ECU.shut", "rule", "Yet the pin itself is high (25.1 V): suspect the input"),
        ("blown:F13", "rule", "fuse F13 (Switch feed)"),
        ("", "on", "is not off in 'locking' by the circuit file"),
    ],
)
def test_cause_and_words(fault: str, cause: str, words: str):
    answer = asked(fault)
    assert answer.cause == cause
    assert cause in CAUSES
    assert words in "\n".join(answer.text())


def test_one_fuse_for_two_inputs_needs_both():
    answer = asked("blown:F13")
    assert changes_of(answer) == {frozenset({"shut on", "request on"})}
    assert [cause.change.name for cause in answer.inputs] == ["shut", "request"]


def test_off_by_design_shows_the_nearest_state_that_works():
    answer = asked("", "shut")
    assert answer.ways == ((Change("request"),),)
    assert answer.inputs[0].trace.as_in == "'locking'"
    assert "S2 (Lock request) is open, as it should be in this state" in \
        answer.inputs[0].trace.lost


def test_without_a_state_that_works_a_condition_is_set():
    states = {"shut": DEMO.states["shut"]}
    answer = why_off(dataclasses.replace(DEMO, states=states, should={}), "shut", "ECU.lock")
    assert answer.inputs[0].trace.as_in == "'shut' with lock button: yes"
    assert answer.inputs[0].trace.points[0].expected.volts == pytest.approx(25.1, abs=0.2)


def test_an_output_that_is_on_lists_what_to_prove():
    answer = asked("")
    assert [cause.pin for cause in answer.inputs] == ["ECU.11", "ECU.12", "ECU.13"]
    assert [trace.goal for trace in answer.traces] == ["supply", "earth", "earth"]
    assert "Input moving (pin ECU.13) must read off." in answer.text()


def test_driver_answer_follows_the_load_to_the_earth():
    answer = asked("driver-dead:ECU.lock")
    assert way_of(answer.traces[0]) == [
        "ECU.31", "W21", "X1.3a", "X1.3", "X1.3b", "W22", "Y1.1", "Y1", "Y1.2", "W23", "SP3", "W24",
        "E2",
    ]


def test_a_load_that_stays_off_though_its_output_is_on():
    answer = asked("open:W25", "open", "ECU.warn")
    assert answer.cause == "on"
    assert way_of(answer.traces[-1])[:4] == ["ECU.32", "W25", "H1.1", "H1"]
    assert answer.traces[-1].lost.endswith("wire W25 (GN, 0.75 mm2, 1 m).")


def test_an_input_fed_from_elsewhere():
    answer = asked("short-to-supply:W16")
    assert answer.ways == ((Change("moving", to=False),),)
    assert "is fed from elsewhere" in answer.inputs[0].trace.lost


def test_expected_volts_never_come_from_the_faulty_circuit():
    answer = asked("high-resistance:E1:50")
    assert answer.cause == "on"
    earth = next(trace for trace in answer.traces if trace.start == "ECU.2")
    assert earth.points[0].expected.volts == pytest.approx(0.0, abs=0.01)  # millivolts of wire
    assert earth.points[0].now.volts > 1.0  # 50 ohm carry some 0.1 A
    assert earth.points[0].differs


def test_every_fault_gets_an_answer_in_words():
    faults = faults_of(DEMO)[::9]
    assert len(faults) >= 15
    for fault in faults:
        answer = why_off(DEMO.with_faults([fault]), "locking", "ECU.lock")
        assert answer.cause in CAUSES
        assert all(line.strip() for line in answer.text())
        assert len(answer.text()) >= 1


def test_names_that_do_not_exist():
    with pytest.raises(UnknownNameError, match=r"Did you mean 'ECU\.lock'"):
        why_off(DEMO, "locking", "ECU.lok")
    with pytest.raises(UnknownNameError, match="Did you mean 'locking'"):
        why_off(DEMO, "loking", "ECU.lock")


def test_a_given_result_is_used():
    faulty = DEMO.with_faults([parse_fault(DEMO, "open:W20")])
    given = solve(faulty, "locking")
    assert why_off(DEMO, "locking", "ECU.lock", given).ways == ((Change("shut"),),)


MOWER = """\
loomwright: 1
system: 12 V
parts:
  BAT: {kind: battery}
  F1: {kind: fuse, rating: 20 A}
  S1: {kind: switch, label: Seat, closed when: seat taken}
  S2: {kind: switch, label: Brake, closed when: brake on}
  S3: {kind: switch, label: Blades, closed when: blades in gear}
  H1: {kind: lamp, power: 5 W}
  E1: {kind: earth}
  ECU:
    kind: controller
    supply: 1
    earth: 2
    inputs:
      seat: {pin: 3, pull: up}
      brake: {pin: 4, pull: up}
      blades: {pin: 5, pull: down}
    outputs:
      safe: {pin: 7, when: seat or brake}
      run: {pin: 6, when: safe and not (blades and not seat) and key}
wires:
  - [W1, BAT.+, F1.1]
  - [W2, F1.2, ECU.1]
  - [W3, ECU.2, E1]
  - [W4, ECU.3, S1.1]
  - [W5, S1.2, E1]
  - [W6, ECU.4, S2.1]
  - [W7, S2.2, E1]
  - [W8, F1.2, S3.1]
  - [W9, S3.2, ECU.5]
  - [W10, ECU.6, H1.1]
  - [W11, H1.2, E1]
states:
  idle: {key: on}
  mowing: {key: on, seat taken: yes, blades in gear: yes}
  jumped off: {key: on, blades in gear: yes}
  key off: {seat taken: yes}
"""


@pytest.fixture(scope="module")
def mower() -> Circuit:
    return read_circuit_text(MOWER)


def test_either_of_two_inputs(mower: Circuit):
    answer = why_off(mower, "idle", "ECU.run")
    assert changes_of(answer) == {frozenset({"seat on"}), frozenset({"brake on"})}
    assert "Any one of these turns it on:" in answer.text()


def test_or_and_not_through_another_output(mower: Circuit):
    answer = why_off(mower, "jumped off", "ECU.run")
    assert changes_of(answer) == {frozenset({"seat on"}), frozenset({"brake on", "blades off"})}


def test_a_pulled_up_input_is_followed_to_the_earth(mower: Circuit):
    answer = why_off(mower, "idle", "ECU.run")
    seat = next(cause for cause in answer.inputs if cause.change.name == "seat")
    assert way_of(seat.trace) == ["ECU.3", "W4", "S1.1", "S1", "S1.2", "W5", "E1"]
    assert seat.trace.goal == "earth"
    assert seat.trace.points[0].expected.volts < 0.1  # pulled to earth through a 10 kohm pull
    assert seat.trace.points[0].now.volts > 12.0


def test_a_condition_read_at_no_pin_is_said_to_be_one(mower: Circuit):
    answer = why_off(mower, "key off", "ECU.run")
    assert changes_of(answer) == {frozenset({"key on"})}
    assert answer.inputs[0].pin == ""
    assert "It is not read at a pin." in answer.inputs[0].what


def test_mowing_runs_and_its_broken_earth_stops_it(mower: Circuit):
    assert why_off(mower, "mowing", "ECU.run").cause == "on"
    broken = mower.with_faults([parse_fault(mower, "open:W5")])
    answer = why_off(broken, "mowing", "ECU.run")
    assert frozenset({"seat on"}) in changes_of(answer)
    assert "wire W5" in "\n".join(answer.text())


def test_a_rule_that_can_never_hold():
    text = MOWER.replace("safe and not (blades and not seat) and key", "key and not key")
    answer = why_off(read_circuit_text(text), "idle", "ECU.run")
    assert answer.ways == ()
    assert "No change of inputs makes it hold." in answer.summary
