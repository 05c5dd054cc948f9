"""What is heard of a part: it clicks, it is silent, or it chatters."""

from __future__ import annotations

import pytest

from loomwright.circuit import CircuitPlant, read_circuit_text
from loomwright.circuit.faults import parse_fault
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.model import Circuit
from loomwright.circuit.readings import read_readings_text
from loomwright.circuit.templates import template_text
from loomwright.diagnosis import Evidence, build_table, diagnose
from loomwright.errors import UnknownNameError, UsageError
from loomwright.plant import NO_FAULT, Hypothesis

LAMP_BY_RELAY = """
loomwright: 1
system: 12 V
parts:
  BAT: {kind: battery}
  F1: {kind: fuse, rating: 10 A}
  S1: {kind: switch, closed when: lamp}
  K1: {kind: relay}
  H1: {kind: lamp, power: 21 W}
  Y1: {kind: solenoid}
  E1: {kind: earth}
wires:
  - [W1, BAT.+, F1.1]
  - [W2, F1.2, S1.1]
  - [W3, S1.2, K1.86]
  - [W4, K1.85, E1]
  - [W5, F1.2, K1.30]
  - [W6, K1.87, H1.1]
  - [W7, H1.2, E1]
  - [W8, K1.87, Y1.1]
  - [W9, Y1.2, E1]
states: {off: {}, on: {lamp: yes}}
should: {on: {H1: on}}
"""

# The relay's own contact takes away what feeds its coil: in and out without end.
BUZZER = """
loomwright: 1
system: 12 V
parts:
  BAT: {kind: battery}
  S1: {kind: switch, closed when: press}
  K1: {kind: relay, changeover: yes}
  E1: {kind: earth}
wires:
  - [W1, BAT.+, S1.1]
  - [W2, S1.2, K1.30]
  - [W3, K1.87a, K1.86]
  - [W4, K1.85, E1]
states: {off: {}, on: {press: yes}}
"""

CRANKING = """
loomwright: 1
system: 12 V
parts:
  BAT: {kind: battery}
  S1: {kind: switch, closed when: key}
  M1: {kind: starter}
  E1: {kind: earth}
wires:
  - [W1, BAT.+, M1.30, 35 mm2, 1 m]
  - [W2, BAT.+, S1.1, 6 mm2, 0.3 m]
  - [W3, S1.2, M1.50, 6 mm2, 0.3 m]
  - [W4, M1.31, E1, 35 mm2, 0.5 m]
states: {off: {}, start: {key: yes}}
"""


@pytest.fixture(scope="module")
def lamp() -> Circuit:
    return read_circuit_text(LAMP_BY_RELAY)


def heard(circuit: Circuit, state: str, at: str, *faults: str) -> str:
    """Return the likeliest of what is heard under some faults."""
    plant = CircuitPlant(circuit)
    check = plant.check_for(state, "heard", at)
    known = [parse_fault(circuit, name) for name in faults]
    row = NO_FAULT if not known else Hypothesis(
        "+".join(one.id for one in known), known[0].element, known[0].kind, known[0].repair, 1.0)
    shares = plant.predict([row], [check]).levels[0][0, 0]
    assert shares.sum() == pytest.approx(1.0, abs=1e-12)
    return check.levels[int(shares.argmax())]


def test_a_good_relay_clicks_as_its_state_is_set(lamp: Circuit) -> None:
    assert heard(lamp, "on", "K1") == "click"
    assert heard(lamp, "off", "K1") == "silent"


def test_a_burnt_contact_clicks_an_open_coil_and_a_welded_contact_are_silent(lamp: Circuit
                                                                            ) -> None:
    assert heard(lamp, "on", "K1", "contact-open:K1") == "click"
    assert heard(lamp, "on", "K1", "high-resistance:K1:100") == "click"
    assert heard(lamp, "on", "K1", "coil-open:K1") == "silent"
    assert heard(lamp, "on", "K1", "open:W3") == "silent"
    assert heard(lamp, "on", "K1", "welded:K1") == "silent"


def test_a_solenoid_is_heard_where_it_moves(lamp: Circuit) -> None:
    assert heard(lamp, "on", "Y1") == "click"
    assert heard(lamp, "on", "Y1", "stuck:Y1") == "silent"
    assert heard(lamp, "on", "Y1", "open:W8") == "silent"


def test_a_relay_that_takes_away_its_own_feed_chatters() -> None:
    circuit = read_circuit_text(BUZZER)
    assert heard(circuit, "on", "K1") == "chatter"
    assert heard(circuit, "on", "K1", "open:W3") == "silent"


def test_a_starter_clicks_once_with_a_dead_contact_and_chatters_without_its_hold_in_winding(
) -> None:
    circuit = read_circuit_text(CRANKING)
    assert heard(circuit, "start", "M1") == "click"
    assert heard(circuit, "start", "M1", "contact-open:M1") == "click"
    assert heard(circuit, "start", "M1", "pull-in-open:M1") == "silent"
    assert heard(circuit, "start", "M1", "hold-in-open:M1") == "chatter"


def test_a_click_parts_contact_from_coil(lamp: Circuit) -> None:
    table = build_table(CircuitPlant(lamp))
    plant = CircuitPlant(lamp)
    dark = Evidence(plant.check_for("on", "lit", "H1"), "off")
    listen = plant.check_for("on", "heard", "K1")
    shares = {}
    for level in ("click", "silent"):
        found = diagnose(table, (dark, Evidence(listen, level)), next_count=1)
        shares[level] = {one.id: one.probability for one in found.suspects}
    ratio = {level: found.get("contact-open:K1", 0.0) / found.get("coil-open:K1", 1e-9)
             for level, found in shares.items()}
    assert ratio["click"] > 5
    assert ratio["silent"] < 0.3


def test_hearing_is_offered_for_relays_where_it_tells_something(lamp: Circuit) -> None:
    offered = {check.id for check in CircuitPlant(lamp).checks() if check.quantity == "heard"}
    assert offered == {"heard:on:K1"}


def test_only_what_has_an_armature_is_heard() -> None:
    heard_kinds = {name for name, kind in KINDS.items() if kind.strikes}
    assert heard_kinds == {"relay", "latching relay", "starter", "solenoid"}
    # switched by electronics, so that nothing moves
    plant = CircuitPlant(read_circuit_text(template_text("converter-24-12")))
    assert not [check for check in plant.checks() if check.quantity == "heard"]
    with pytest.raises(UsageError, match="nothing in it clicks"):
        plant.check_for("accessory", "heard", "CON")


def test_words_of_what_is_heard(lamp: Circuit) -> None:
    plant = CircuitPlant(lamp)
    check = plant.check_for("on", "heard", "K1")
    assert (check.instrument, check.levels) == ("ear", ("silent", "click", "chatter"))
    for said, level in (("clicks", "click"), ("yes", "click"), (False, "silent"),
                        ("nothing", "silent"), ("buzzes", "chatter")):
        assert plant.value_of(check, said) == level
    with pytest.raises(UnknownNameError):
        plant.value_of(check, "purple")
    with pytest.raises(UsageError, match="nothing in it clicks"):
        plant.check_for("on", "heard", "H1")
    with pytest.raises(UnknownNameError):
        plant.check_for("on", "heard", "K9")


def test_a_readings_file_tells_what_is_heard(lamp: Circuit) -> None:
    found = read_readings_text("- {state: on, quantity: heard, at: K1, value: click}\n"
                               "- {state: on, quantity: heard, at: K1, value: no}\n", lamp)
    assert [(one.value, one.instrument) for one in found] == [("click", "ear"), ("silent", "ear")]
