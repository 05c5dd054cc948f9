"""Wire lists: written and read back, from any spreadsheet, with every wrong row named."""

from __future__ import annotations

from pathlib import Path

import pytest

from loomwright.circuit import read_circuit, read_circuit_text
from loomwright.circuit.exchange import read_wire_list, wire_list_text, with_wires
from loomwright.circuit.templates import template_names, template_text
from loomwright.errors import FileProblemsError

DEMO = Path(__file__).parents[3] / "src" / "loomwright" / "demo" / "tailgate_lock.yaml"


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_the_demo_comes_back_the_same(separator: str) -> None:
    circuit = read_circuit(DEMO)
    table = wire_list_text(circuit, separator)
    text = with_wires(DEMO.read_text("utf-8"), read_wire_list(table))
    again = read_circuit_text(text)
    plain = [(w.id, w.start, w.end, w.area_mm2, w.length_m, w.colour, w.assumed)
             for w in circuit.wires.values()]
    assert [(w.id, w.start, w.end, w.area_mm2, w.length_m, w.colour, w.assumed)
            for w in again.wires.values()] == plain
    assert (again.states, again.should) == (circuit.states, circuit.should)


@pytest.mark.parametrize("name", template_names())
def test_every_template_comes_back_the_same(name: str) -> None:
    text = template_text(name)
    circuit = read_circuit_text(text)
    again = wire_list_text(read_circuit_text(with_wires(text, read_wire_list(
        wire_list_text(circuit, ";")))))
    assert again == wire_list_text(circuit)


def test_what_is_not_known_stays_unknown() -> None:
    text = ("loomwright: 1\nsystem: 12 V\nparts:\n  BAT: {kind: battery}\n  E1: {kind: earth}\n"
            "  H1: {kind: lamp}\nwires:\n  - [W1, BAT.+, H1.1]\n  - [W2, H1.2, E1, unknown, 3 m]\n"
            "  - [W3, H1.2, unknown]\n")
    table = wire_list_text(read_circuit_text(text))
    assert table == ("id,from,to,area mm2,length m,colour\nW1,BAT.+,H1.1,,,\n"
                     "W2,H1.2,E1,,3,\nW3,H1.2,,,,\n")
    assert with_wires(text, read_wire_list(table)) == text


@pytest.mark.parametrize(
    "table",
    [
        "Wire No.;From;To;Cross-section (mm²);Length [m];Color\nW1;F1.2;S1:1;2,5;1,8;red/white\n",
        "WIRE\tSource\tDestination\tCSA\tLen\tColour\nW1\tF1.2\tS1.1\t2.5 mm2\t180 cm\tRD/WH\n",
        "colour,length cm,area,to,from,id,remark\nrd/wh,180,2.5,S1.1,F1.2,W1,by hand\n",
        'Name,From,From pin,To,To pin,Area,Length,Colour\nW1,F1,2,S1,1,"2,5","1,8",RD WH\n',
        "\n\nid|from|to|size mm2|length mm|col\nW1|F1.2|S1 . 1|2.50|1800|RD-WH\n\n",
    ],
)
def test_spellings_separators_and_decimals(table: str) -> None:
    (row,) = read_wire_list(table)
    assert (row.id, row.start, row.end, row.colour) == ("W1", "F1.2", "S1.1", "RD/WH")
    assert row.area_mm2 == 2.5
    assert row.length_m == pytest.approx(1.8, rel=1e-12)  # unit conversion rounds the last bit


@pytest.mark.parametrize(
    ("table", "line", "message"),
    [
        ("", 1, "The list is empty"),
        ("id,to\nW1,F1.1\n", 1, "There is no column 'from'"),
        ("id,from,to\n,F1.1,F1.2\n", 2, "no wire name"),
        ("id,from,to\nW1,,?\n", 2, "W1 has no ends"),
        ("id,from,to,area\nW1,a,b,thick\n", 2, "W1 area"),
        ("id,from,to,area\nW1,a,b,3 kg\n", 2, "W1 area"),
        ("id,from,to,length\nW1,a,b,-2\n", 2, "not more than 0 m"),
        ("id,from,to,colour\nW1,a,b,mauve\n", 2, "not a colour code"),
        ("id,from,to\nW1,a,b\nW1,a,c\n", 3, "given twice"),
    ],
)
def test_what_is_wrong_is_named_with_its_line(table: str, line: int, message: str) -> None:
    with pytest.raises(FileProblemsError) as caught:
        read_wire_list(table)
    assert caught.value.problems[0].line == line
    assert message in caught.value.problems[0].what


def test_only_the_wires_of_a_file_change() -> None:
    text = ("loomwright: 1\n# top\nwires:   # old\n  - [W1, a, b]\n\n  - [W2, b, c]\n# end\n"
            "states: {}\n")
    rows = read_wire_list("id,from,to\nW9,a,c\n")
    assert with_wires(text, rows) == (
        "loomwright: 1\n# top\nwires:\n  - [W9, a, c]\nstates: {}\n")
