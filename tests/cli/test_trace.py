"""`loomwright trace`: the answer for people and for machines, and bad input."""

from __future__ import annotations

import json
from pathlib import Path

import jsonschema
import pytest

from loomwright.cli.entry import main
from tests.cli.contract import TRACE

CIRCUIT = """loomwright: 1
title: Found lamp
system: 12 V
parts:
  BAT: {kind: battery}
  S1: {kind: switch}
  H1: {kind: lamp, power: 21 W}
wires:
  - [W1, BAT.+, S1.1]
  - [W2, H1.2, BAT.-]
  - [L1, S1.2, unknown, 1 mm2, 2 m, BU]
states: {off: {}, lit: {S1: yes}}
"""


@pytest.fixture
def files(tmp_path: Path) -> tuple[str, str]:
    (tmp_path / "c.yaml").write_text(CIRCUIT)
    (tmp_path / "r.yaml").write_text("- {state: lit, quantity: lit, at: H1, value: on}\n")
    return str(tmp_path / "c.yaml"), str(tmp_path / "r.yaml")


def test_json_follows_the_contract(files, capsys):
    assert main(["trace", files[0], "--readings", files[1], "--json"]) == 0
    shape = json.loads(capsys.readouterr().out)
    jsonschema.validate(shape, TRACE)
    assert shape["ends"][0]["status"] == "found"
    assert shape["ends"][0]["line_to_write"] == "- [L1, S1.2, H1.1, 1 mm2, 2 m, BU]"


def test_people_read_the_end_and_the_line(files, capsys):
    assert main(["trace", files[0], "--readings", files[1]]) == 0
    shown = capsys.readouterr().out
    assert "L1 ends at H1.1." in shown
    assert "- [L1, S1.2, H1.1, 1 mm2, 2 m, BU]" in shown
    assert main(["trace", files[0]]) == 0
    assert "cannot be concluded" in capsys.readouterr().out


def test_bad_input_is_told(files, capsys):
    assert main(["trace", files[0] + "x"]) == 2
    assert "Did you mean" in capsys.readouterr().err
