"""A relay that holds itself has two resting points; one whose supply sags has none."""

from __future__ import annotations

from loomwright.circuit import read_circuit_text
from loomwright.circuit.equilibria import Chatter, chatter_of, other_rest
from loomwright.circuit.model import Circuit
from tests.support.demo import tailgate

HOLDS = """loomwright: 1
system: 12 V
parts:
  BAT: {kind: battery}
  S1: {kind: switch, closed when: push}
  S2: {kind: switch, closed when: not stop}
  K1: {kind: relay}
  H1: {kind: lamp, power: 5 W}
  E1: {kind: earth}
wires:
  - [W1, BAT.+, S2.1]
  - [W2, S2.2, S1.1]
  - [W3, S1.2, K1.86]
  - [W4, K1.85, E1]
  - [W5, S2.2, K1.30]
  - [W6, K1.87, K1.86]
  - [W7, K1.87, H1.1]
  - [W8, H1.2, E1]
states:
  idle: {}
  push: {push: on}
  stop: {stop: on}
"""


def sagging(battery_ohm: float) -> Circuit:
    return read_circuit_text(f"""loomwright: 1
system: 12 V
parts:
  BAT: {{kind: battery, volts: 12.6 V, resistance: {battery_ohm} ohm}}
  K1: {{kind: relay, drop out: 5 V}}
  R1: {{kind: resistor, resistance: 0.2 ohm}}
  E1: {{kind: earth}}
wires:
  - [W1, BAT.+, K1.86, 4 mm2, 0.1 m]
  - [W2, K1.85, E1, 4 mm2, 0.1 m]
  - [W3, BAT.+, K1.30, 50 mm2, 0.01 m]
  - [W4, K1.87, R1.1, 50 mm2, 0.01 m]
  - [W5, R1.2, E1, 50 mm2, 0.01 m]
""")


def test_a_relay_that_holds_itself_rests_in_two_ways() -> None:
    circuit = read_circuit_text(HOLDS)
    found = other_rest(circuit, "idle")
    assert found is not None
    assert found.holds == ("K1",)
    assert found.parts == {"K1": ("off", "on"), "H1": ("off", "on")}
    assert "Two resting points: from rest K1 off" in found.text()
    # while pushed it is in either way, and stopped it is out either way
    assert other_rest(circuit, "push") is None
    assert other_rest(circuit, "stop") is None


def test_a_circuit_that_holds_nothing_rests_in_one_way() -> None:
    assert [other_rest(tailgate(), state) for state in tailgate().states] == [None] * 5


def test_chatter_names_the_relay_and_its_volts_by_hand() -> None:
    found = chatter_of(sagging(0.6), "at rest")
    assert len(found) == 1
    assert isinstance(found[0], Chatter)
    # out: nearly all of 12.6 V; in: 12.6 V shared by 0.6 ohm and 0.2 ohm + 10 mohm of contact
    assert 12.3 < found[0].while_out < 12.6
    assert abs(found[0].while_in - 12.6 * 0.21 / 0.81) < 0.1  # wires of some 1 mohm left out
    assert (found[0].relay, round(found[0].pull_in, 9), found[0].drop_out) == ("K1", 7.2, 5.0)
    assert "chatters" in found[0].text()


def test_a_stiff_supply_does_not_chatter() -> None:
    assert chatter_of(sagging(0.01), "at rest") == ()
