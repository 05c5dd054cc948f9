"""Conventions a technician relies on: what is on top, and how a contact rests."""

import xml.etree.ElementTree as ET

import pytest

from loomwright.circuit.drawing import draw_circuit, lay_out
from loomwright.circuit.drawing.rest import rests_closed
from loomwright.circuit.model import Circuit
from loomwright.circuit.reader import read_circuit_text
from loomwright.circuit.templates import template_text

SVG = "{http://www.w3.org/2000/svg}"
PAIR = """loomwright: 1
system: 24 V
parts:
  LOW: {{kind: battery, volts: 12.6 V}}
  HIGH: {{kind: battery, volts: 12.6 V}}
  S9: {{kind: switch, closed when: isolator}}
  F1: {{kind: fuse, rating: 10 A}}
  H1: {{kind: lamp}}
  E1: {{kind: earth}}
wires:
  - [W1, LOW.-, E1]
  - [W2, LOW.+, {link}, 50 mm2]
  - [W4, HIGH.+, F1.1]
  - [W5, F1.2, H1.1]
  - [W6, H1.2, E1]{more}
states: {{on: {{isolator: yes}}}}
"""


def template(name: str) -> Circuit:
    return read_circuit_text(template_text(name), name)


@pytest.mark.parametrize(("link", "more"), [
    ("HIGH.-", ""), ("S9.1", "\n  - [W3, S9.2, HIGH.-, 50 mm2]")])
def test_the_rail_is_the_top_of_batteries_in_series(link: str, more: str) -> None:
    text = PAIR.format(link=link, more=more)
    layout = lay_out(read_circuit_text(text))
    assert layout.rail_point == "HIGH.+"
    middle = {symbol.element: symbol.y for symbol in layout.symbols}
    assert middle["HIGH"] < middle["LOW"]


def test_the_rail_stays_at_the_first_of_batteries_side_by_side() -> None:
    assert lay_out(template("dual-battery-relay")).rail_point == "BAT.+"
    assert lay_out(template("start-series-batteries")).rail_point == "BAT2.+"


def test_a_switch_that_rests_closed_is_a_break_contact() -> None:
    circuit = template("wipers")
    closed = {name for name, part in circuit.parts.items() if rests_closed(circuit, part)}
    assert closed == {"S4", "S5"}  # the stalk's park feed, and the cam off its notch
    paths = {}
    for group in ET.fromstring(draw_circuit(circuit)).iter(f"{SVG}g"):
        if group.get("class") == "part switch":
            drawn = group.find(f"{SVG}g")
            assert drawn is not None
            paths[group.get("data-part")] = ET.tostring(drawn[0])
    make, breaks = paths["S2"], paths["S4"]
    assert make != breaks
    assert {name for name, path in paths.items() if path == breaks} == closed
    assert {name for name, path in paths.items() if path == make} == set(paths) - closed


def test_a_word_of_off_and_a_first_position_are_how_things_rest() -> None:
    text = """loomwright: 1
system: 12 V
parts:
  BAT: {kind: battery}
  S1: {kind: selector, positions: {park: [], drive: [["1", "2"]]}}
  S2: {kind: switch, closed when: S1 is park}
  S3: {kind: switch, closed when: S1 is drive}
  S4: {kind: switch, closed when: key is off}
  S5: {kind: switch}
  H1: {kind: lamp}
wires:
  - [W1, BAT.+, S1.1]
  - [W2, S1.2, S2.1]
  - [W3, S2.2, S3.1]
  - [W4, S3.2, S4.1]
  - [W5, S4.2, S5.1]
  - [W6, S5.2, H1.1]
  - [W7, H1.2, BAT.-]
states: {rest: {}, on: {key: on, S5: on}}
"""
    circuit = read_circuit_text(text)
    assert {name for name, part in circuit.parts.items()
            if rests_closed(circuit, part)} == {"S2", "S4"}
