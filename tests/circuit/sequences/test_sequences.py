"""Sequences: timers, flashers, latches, park switches and fuses, against sums done by hand."""

from __future__ import annotations

import pytest

from loomwright.circuit import parse_fault, read_circuit_text, solve
from loomwright.circuit.model import Circuit
from loomwright.circuit.sequences import LoadTime, SequenceResult, run_sequence
from loomwright.circuit.templates import template_text
from loomwright.errors import FileProblemsError, UnknownNameError

HEAD = "loomwright: 1\nsystem: 12 V\n"
LAMP = """parts:
  BAT: {kind: battery}
  S1: {kind: switch, closed when: ignition}
  K1: {kind: relay%s}
  H1: {kind: lamp, power: 21 W}
  H2: {kind: lamp, power: 21 W}
  E1: {kind: earth}
wires:
  - [W1, BAT.+, S1.1]
  - [W2, S1.2, K1.86]
  - [W3, K1.85, E1]
  - [W4, BAT.+, K1.30]
  - [W5, K1.87, H1.1]
  - [W6, H1.2, E1]
  - [W7, K1.87, H2.1]
  - [W8, H2.2, E1]
states:
  off: {}
  ignition: {ignition: on}
sequences:
  try:
"""


def lamp(keys: str, *steps: str) -> Circuit:
    lines = "".join(f"    - {{{step}}}\n" for step in steps)
    return read_circuit_text(HEAD + LAMP % keys + lines)


def protected(kind: str) -> Circuit:
    """Return the lamps behind a fuse or breaker of 2 A, which they overload."""
    earth, feed = "  E1: {kind: earth}", "[W4, BAT.+, K1.30]"
    text = (LAMP % "").replace(earth, f"  F1: {{kind: {kind}, rating: 2 A}}\n{earth}")
    text = text.replace(feed, "[W4, BAT.+, F1.1]\n  - [W9, F1.2, K1.30]")
    return read_circuit_text(f"{HEAD}{text}    - {{state: ignition, for: 900 s}}\n")


def made(name: str, system: str = "12 V") -> Circuit:
    return read_circuit_text(template_text(name, system=system))


def with_fault(circuit: Circuit, *ids: str) -> Circuit:
    return circuit.with_faults([parse_fault(circuit, one) for one in ids])


def of(found: SequenceResult, name: str) -> LoadTime:
    return next(load for load in found.loads if load.name == name)


def test_delay_on_and_delay_off_by_hand() -> None:
    circuit = lamp(", delay on: 2 s, delay off: 20 s", "state: off, for: 1 s",
                   "state: ignition, for: 5 s", "state: off, for: 60 s")
    found = of(run_sequence(circuit, "try"), "H1")
    # the command from 1 s to 6 s: lit from 1 + 2 to 6 + 20
    assert (found.first_s, found.last_s, found.times) == (3.0, 26.0, 1)


def test_a_command_shorter_than_the_delay_does_nothing() -> None:
    circuit = lamp(", delay on: 2 s", "state: ignition, for: 1.9 s", "state: off, for: 5 s")
    assert of(run_sequence(circuit, "try"), "H1").times == 0


def test_a_delayed_cut_out_goes_on_when_the_command_comes_back() -> None:
    circuit = lamp(", delay off: 10 s", "state: ignition, for: 1 s", "state: off, for: 6 s",
                   "state: ignition, for: 1 s", "state: off, for: 30 s")
    found = of(run_sequence(circuit, "try"), "H1")
    assert (found.first_s, found.last_s, found.times) == (0.0, 18.0, 1)  # 8 s + 10 s


def test_a_longest_time_ends_though_the_command_stays() -> None:
    circuit = lamp(", on at most: 8 s", "state: ignition, for: 30 s")
    assert of(run_sequence(circuit, "try"), "H1").last_s == 8.0


def test_a_flasher_relay_flashes_and_fast_with_a_lamp_out() -> None:
    keys = ", flash period: 0.7 s, fast period: 0.35 s, lamp out below: 2.5 A"
    circuit = lamp(keys, "state: ignition, for: 7 s")
    # 7 s / 0.7 s = 10 flashes, half of the time lit; two of 21 W take 3.5 A, one 1.75 A
    sound = of(run_sequence(circuit, "try"), "H1")
    assert (sound.times, sound.on_s) == (10, pytest.approx(3.5))
    one_out = of(run_sequence(with_fault(circuit, "burnt-out:H2"), "try"), "H1")
    assert (one_out.times, one_out.on_s) == (20, pytest.approx(3.5))


def test_until_ends_a_step_and_says_when_it_did_not_come() -> None:
    steps = ("state: ignition, for: 1 s", "state: off, until: not H1, at most: 5 s")
    soon = run_sequence(lamp(", delay off: 3 s", *steps), "try")
    assert (soon.length_s, soon.notes) == (4.0, ())
    late = run_sequence(lamp(", delay off: 30 s", *steps), "try")
    assert late.length_s == 6.0
    assert "'not H1' did not come within 5 s" in late.notes[0]


def test_glow_lamp_and_after_glow_by_hand() -> None:
    found = run_sequence(made("glow-plugs"), "cold start")
    plugs, lamp_time = of(found, "R1"), of(found, "H1")
    # key at 1 s, engine runs at 11 s: lamp 6 s; plugs until 11 + 60 s
    assert (lamp_time.first_s, lamp_time.last_s) == (1.0, 7.0)
    assert (plugs.first_s, plugs.last_s) == (1.0, 71.0)


def test_after_glow_ends_with_the_ignition() -> None:
    found = run_sequence(made("glow-plugs", "24 V"), "ignition off too soon")
    assert of(found, "R1").last_s == 14.0  # 4 s + 10 s, not 4 + 60
    dead = run_sequence(with_fault(made("glow-plugs"), "open:W17"), "cold start")
    assert of(dead, "R1").times == 0


@pytest.mark.parametrize("system", ["12 V", "24 V"])
def test_a_wipe_ends_in_the_park_position_by_hand(system: str) -> None:
    circuit = made("wipers", system)
    found = run_sequence(circuit, "one wipe and park")
    rated_v, rated_a = (12, 4) if system == "12 V" else (24, 2)
    ohm = rated_v / (5 * rated_a)  # stalled it takes five times its current
    shares = []
    for state in ("slow", "running home"):
        volts = {name: one.volts for name, one in solve(circuit, state).points.items()}
        amps = solve(circuit, state).parts["M1"].amps
        assert amps is not None
        back = volts["M1.1"] - volts["M1.2"] - amps * ohm
        shares.append(back / (rated_v - rated_a * ohm))
    # one turn takes 1.4 s at rated speed: half a second by the stalk, the rest by the cam
    home_s = (1 - 0.5 * shares[0] / 1.4) * 1.4 / shares[1]
    assert of(found, "M1").on_s == pytest.approx(0.5 + home_s, rel=1e-4)
    assert found.moments[-1].parked == {"arms parked": True}
    assert of(found, "M1").times == 1


def test_wipers_that_cannot_park_stop_where_they_are() -> None:
    found = run_sequence(with_fault(made("wipers"), "open:W12"), "one wipe and park")
    assert of(found, "M1").last_s == 1.5  # the stalk goes off and nothing feeds it home
    assert found.moments[-1].parked == {"arms parked": False}
    assert "did not come within 10 s" in found.notes[0]


def test_indicators_flash_fast_and_warn_with_a_lamp_out() -> None:
    circuit = made("indicators")
    sound = run_sequence(circuit, "left turn")
    assert (of(sound, "H1").times, of(sound, "H5").times) == (10, 0)
    dark = run_sequence(with_fault(circuit, "burnt-out:H2"), "left turn")
    assert of(dark, "H1").times == 20
    # the warning stays lit through the dark halves: from the first flash to the end of the turn
    assert (of(dark, "H5").on_s, of(dark, "H5").times) == (pytest.approx(7.0, abs=0.36), 1)
    other = run_sequence(with_fault(circuit, "burnt-out:H3"), "left turn")
    assert of(other, "H1").times == 10


def test_a_latching_relay_remembers_from_step_to_step() -> None:
    circuit = made("battery-master")
    found = of(run_sequence(circuit, "on and off"), "H1")
    assert (found.first_s, found.last_s) == (2.0, 13.0)  # pushed on at 2 s, off at 13 s
    stuck = of(run_sequence(with_fault(circuit, "reset-coil-open:K1"), "on and off"), "H1")
    assert stuck.last_s == 16.0  # it is never opened


def test_a_rule_that_holds_itself_lasts_through_the_next_step() -> None:
    text = HEAD + """parts:
  BAT: {kind: battery}
  H1: {kind: lamp}
  E1: {kind: earth}
  ECU: {kind: controller, supply: 1, earth: 2,
        outputs: {run: {pin: 3, when: start or (run and not stop)}}}
wires:
  - [W1, BAT.+, ECU.1]
  - [W2, ECU.2, E1]
  - [W3, ECU.3, H1.1]
  - [W4, H1.2, E1]
states:
  idle: {}
  start: {start: on}
  stop: {stop: on}
sequences:
  go:
    - {state: idle, for: 1 s}
    - {state: start, for: 1 s}
    - {state: idle, for: 5 s}
    - {state: stop, for: 1 s}
    - {state: idle, for: 1 s}
"""
    found = of(run_sequence(read_circuit_text(text), "go"), "H1")
    assert (found.first_s, found.last_s) == (1.0, 7.0)


def test_a_fuse_opens_after_its_time() -> None:
    found = run_sequence(protected("fuse"), "try")
    amps = found.moments[0].result.parts["F1"].amps
    assert amps is not None
    # near 175 %: between the rows 160 % (0.25 to 50 s) and 200 % (0.15 to 5 s), geometric means
    assert 160 < abs(amps) / 2 * 100 < 200
    blown = of(found, "H1").last_s
    assert blown is not None
    assert (0.15 * 5) ** 0.5 < blown < (0.25 * 50) ** 0.5


def test_a_breaker_without_a_table_opens_at_once_and_that_is_said() -> None:
    found = run_sequence(protected("circuit breaker"), "try")
    assert of(found, "H1").times == 0
    assert found.notes == ("F1 opens at 0 s at once: no table says how long it takes.",)


def test_an_unknown_sequence_is_named() -> None:
    with pytest.raises(UnknownNameError, match="Did you mean 'try'"):
        run_sequence(lamp("", "state: off, for: 1 s"), "tri")


@pytest.mark.parametrize(("step", "message"), [
    ("state: of, for: 1 s", "There is no state 'of'. Did you mean 'off'?"),
    ("state: off", "A step has either 'for' or 'until'."),
    ("state: off, for: 1 s, until: H1", "A step has either 'for' or 'until'."),
    ("state: off, for: 1 s, at most: 5 s", "'at most' belongs to 'until'."),
    ("state: off, for: 1e-9 s", "'for': '1e-9 s' is out of range."),
    ("state: off, for: 5", "'5' has no unit."),
    ("state: off, until: not H9", "'until' names 'H9'"),
    ("state: off, until: (H1", "A bracket is not closed."),
    ("for: 5 s", "This step has no 'state'."),
])
def test_wrong_steps_are_told(step: str, message: str) -> None:
    with pytest.raises(FileProblemsError) as caught:
        lamp("", step)
    assert message in str(caught.value)


@pytest.mark.parametrize(("keys", "message"), [
    (", fast period: 0.3 s", "'fast period' needs 'flash period' and 'lamp out below'."),
    (", delay on: 0 s", "must be greater than 0 s"),
    (", delay on: 1e9 s", "between 0.001 and 1e+06 s"),
])
def test_wrong_timing_is_told(keys: str, message: str) -> None:
    with pytest.raises(FileProblemsError) as caught:
        lamp(keys, "state: off, for: 1 s")
    assert message in str(caught.value)
