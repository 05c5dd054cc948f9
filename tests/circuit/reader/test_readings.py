"""Readings files: what reads, and every mistake at its place."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

import pytest

from loomwright.circuit.model import Mark
from loomwright.circuit.reader import read_circuit_text
from loomwright.circuit.readings import Reading, read_readings, read_readings_text
from loomwright.errors import FileProblemsError, UsageError

DEMO = read_circuit_text(
    resources.files("loomwright.demo").joinpath("tailgate_lock.yaml").read_text("utf-8")
)
GOOD = """\
- {state: locking, quantity: voltage, at: ECU.31, value: 0.2 V, instrument: meter}
- {state: locking, quantity: voltage, at: F12.2, to: E1, value: "25,1 V"}
- {state: at rest, quantity: resistance, at: Y1.1, to: Y1.2, value: OL}
- {state: at rest, quantity: continuity, at: W20, to: ECU.11, value: open}
- {state: open, quantity: lit, at: H1, value: yes}
- {state: locking, quantity: input, at: ECU.shut, value: off}
- {state: locking, quantity: voltage, at: ECU.31, value: dim, instrument: test lamp}
- {state: locking, quantity: current, at: W22, value: -800 mA}
"""


def problems_of(text: str) -> list[str]:
    with pytest.raises(FileProblemsError) as caught:
        read_readings_text(text, DEMO, "r.yaml")
    return [problem.text("r") for problem in caught.value.problems]


def test_good_readings():
    readings = read_readings_text(GOOD.replace("W20,", "X1.2a,"), DEMO)
    assert readings[0] == Reading("locking", "voltage", "ECU.31", "", "0.2 V", "meter", Mark(1, 3))
    assert readings[1].value == "25,1 V"
    assert readings[2].value == "OL"
    assert (readings[4].value, readings[4].instrument) == ("on", "eye")
    assert (readings[5].value, readings[5].instrument) == ("off", "controller")
    assert readings[6].value == "dim"
    assert readings[7].instrument == "clamp"


def test_a_controller_may_give_no_answer():
    text = "- {state: locking, quantity: output, at: ECU.lock, value: No answer}\n"
    assert read_readings_text(text, DEMO)[0].value == "no answer"


def test_json_is_yaml(tmp_path: Path):
    path = tmp_path / "r.json"
    path.write_text('[{"state": "open", "quantity": "lit", "at": "H7", "value": "off"}]')
    assert read_readings(path, DEMO)[0].value == "off"


def test_a_wire_or_part_stands_for_its_two_sides():
    at_wire = "- {state: at rest, quantity: resistance, at: W20, to: E1, value: OL}\n"
    at_fuse = "- {state: at rest, quantity: resistance, at: F12, value: 0.1 ohm}\n"
    assert [one.at for one in read_readings_text(at_wire + at_fuse, DEMO)] == ["W20", "F12"]


def test_an_unknown_wire_is_no_point():
    text = "- {state: at rest, quantity: resistance, at: W99, value: OL}\n"
    assert problems_of(text) == ["r:1:46: There is no point 'W99'. Did you mean 'W9'?"]


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("state: locking", "state: lokking", "1:11: There is no state 'lokking'. Did you mean "
         "'locking'?"),
        ("quantity: voltage", "quantity: volts", "There is no quantity 'volts'. Did you mean"),
        ("at: ECU.31", "at: ECU.99", "There is no point 'ECU.99'. Did you mean"),
        ("0.2 V", "0.2", "'value': '0.2' has no unit. Write the unit, like '11.9 V'."),
        ("0.2 V", "0.2 A", "'value': '0.2 A' is not in a unit of V."),
        ("0.2 V", "on", "'value': 'on' is not a quantity."),
        ("value: 0.2 V", "value: ~", "The value is missing."),
        ("value: 0.2 V, ", "", "1:3: This reading has no 'value'. Add it."),
        ("instrument: meter", "instrument: hammer", "There is no instrument 'hammer'."),
        ("instrument", "instrumnt", "'instrumnt' is not a key of a reading. Did you mean"),
        ("value: yes", "value: bright", "'bright' is not a value of 'lit'. Use off, dim, on."),
        ("value: OL", "value: -3 ohm", "A resistance cannot be '-3 ohm'."),
        ("at: ECU.shut", "at: ECU.shot", "There is no input 'ECU.shot'. Did you mean 'ECU.shut'?"),
        ("at: H1", "at: H9", "There is no part 'H9'."),
        ("- {state: open", "- 7\n- {state: open", "5:3: A reading is a mapping."),
    ],
)
def test_mistakes(old: str, new: str, words: str):
    text = GOOD.replace("W20,", "X1.2a,")
    assert old in text
    assert words in problems_of(text.replace(old, new, 1))[0]


@pytest.mark.parametrize("text", ["", "[]", "# nothing\n", "readings:\n", "readings: []"])
def test_no_readings(text: str):
    assert "There are no readings in the file." in problems_of(text)[0]


def test_not_a_list():
    assert "A readings file is a list, not" in problems_of("state: open")[0]


def test_names_are_not_checked_without_a_circuit():
    assert len(read_readings_text(GOOD)) == 8


def test_path(tmp_path: Path):
    with pytest.raises(UsageError, match="There is no file"):
        read_readings(tmp_path / "none.yaml")
