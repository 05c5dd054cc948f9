"""Every mistake is reported at its line and column, in plain words, with the fix."""

from __future__ import annotations

from importlib import resources
from pathlib import Path

import pytest

from loomwright.circuit.reader import read_circuit, read_circuit_text
from loomwright.errors import FileProblemsError, UsageError

DEMO = resources.files("loomwright.demo").joinpath("tailgate_lock.yaml").read_text("utf-8")


def problems_of(text: str) -> list[tuple[int, int, str]]:
    with pytest.raises(FileProblemsError) as caught:
        read_circuit_text(text, "lock.yaml")
    return [(p.line, p.column, f"{p.what} {p.fix}".strip()) for p in caught.value.problems]


def place_of(text: str, snippet: str) -> tuple[int, int]:
    """Return line and column of a snippet, which must occur once."""
    assert text.count(snippet) == 1, snippet
    before = text[: text.index(snippet)]
    return before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1


# what to replace in the demo file, with what, the snippet the problem must point at, its words
CASES = [
    ("loomwright: 1", "loomwright: 2", "2\ntitle", "Version '2' of the circuit file is not known. "
     "Write 'loomwright: 1'."),
    ("title: Tail", "titel: Tail", "titel", "'titel' is not a key of a circuit file. Did you mean "
     "'title'?"),
    ("system: 24 V", "system: 24", "24\n", "'system': '24' has no unit. Write the unit, like "
     "'11.9 V'."),
    ("system: 24 V", "system: -24 V", "-24 V", "'system': '-24 V' is out of range. It must be "
     "at least 0.1 and at most 1000 V."),
    ("16 mm2,   0.6 m", "1e-300 mm2,   0.6 m", "1e-300 mm2", "W1 area: '1e-300 mm2' is out of "
     "range. It must be at least 0.01 and at most 400 mm2."),
    ("rating: 10 A", "rating: 1e308 A", "1e308 A", "F12 'rating': '1e308 A' is out of range. It "
     "must be between 1e-07 and 100000 A."),
    ("F1:  {kind: fuse", "F1:  {kind: fus", "fus, rating: 60", "There is no kind 'fus' (part F1). "
     "Did you mean 'fuse'?"),
    ("rating: 60 A", "ratng: 60 A", "ratng", "'ratng' is not a key of fuse F1. Did you mean "
     "'rating'?"),
    ("rating: 60 A", "rating: 60", "60, place", "F1 'rating': '60' has no unit. Write the unit, "
     "like '10 A'."),
    ("24 ohm", "-24 ohm", "-24 ohm", "Y1 'resistance': '-24 ohm' must be greater than 0 ohm."),
    ("24 ohm", "24 A", "24 A", "Y1 'resistance': '24 A' is not in a unit of ohm. Write it like "
     "'24 ohm'."),
    ("16 mm2,   0.6 m", "10 A,   0.6 m", "10 A,   0.6", "W1 area: '10 A' is not in a unit of mm2. "
     "Write it like '2.5 mm2'."),
    ("place: hinge", "place: hing", "hing,", "There is no place 'hing'. Did you mean 'hinge'?"),
    ("  F1:  {", "  S1:  {", "S1:  {kind: switch", "'S1' is given twice; the first is on line 11. "
     "Keep one of them."),
    ("[W2, ", "[W1, ", "W1,  F1.2", "Wire 'W1' is given twice; the first is on line 46. Rename one "
     "of them."),
    ("[W2, ", "[F1, ", "F1,  F1.2", "'F1' is already the name of a part. Rename the wire."),
    ("SP2,     F12.1", "SP2,     F21.1", "F21.1", "W8 goes to 'F21.1', but there is no part 'F21'. "
     "Did you mean 'F1'?"),
    ("SP2,     F12.1", "SP2,     F12.7", "F12.7", "F12 has no pin '7'. Its pins: 1, 2."),
    ("SP2,     F12.1", "SP2,     F12", "F12,   2.5", "F12 has several pins: 1, 2. Say which one, "
     "like 'F12.1'."),
    ("F1.2,    SP1", "F1.2,    SP1.1", "SP1.1", "SP1 has one point and no pins. Write 'SP1'."),
    ("SP2,     F12.1", "F12.1,     F12.1", "F12.1,   2.5", "W8 ends where it starts. "
     "Give its other end, or 'unknown'."),
    ("BAT.+,   F1.1", "BAT.+,   E1", "[W1,", "With wire W1 both posts of BAT are joined by wires "
     "alone: a dead short. Check the ends of this wire."),
    ("GY/RD", "GREY", "GREY", "'GREY' is not a colour code. Did you mean 'GY' (grey)?"),
    ("GY/RD", "GY/RD/BU", "GY/RD/BU", "'GY/RD/BU' has more than two colours. Write the body and "
     "the stripe, like 'GY/RD'."),
    ("closed when: ignition", "closed when: (ignition", "(ignition", "S1 'closed when': A bracket "
     "is not closed. Add ')'."),
    ("request and not moving", "request and and not moving", "and not moving}\n      warn",
     "ECU.outputs.lock "
     "'when': A condition is missing. Write a name after and, or, not."),
    ("when: not shut}", "when: not shot}", "shot", "The rule of ECU.warn uses 'shot', which "
     "nothing defines. Did you mean 'shut'?"),
    ("open:      {ignition: on}", "open:      {ignitoin: on}", "ignitoin",
     "No rule of any part uses "
     "'ignitoin'. Did you mean 'ignition'?"),
    ("open:      {ignition: on}", "open:      {ignition: maybe}", "maybe",
     "State 'open': 'ignition' "
     "is 'maybe'. Write yes or no (or on, off)."),
    ("  locking: {Y1", "  loking: {Y1", "loking", "There is no state 'loking'. Did you mean "
     "'locking'?"),
    ("locking: {Y1: on", "locking: {Y: on", "Y: on", "There is no part 'Y'."),
    ("locking: {Y1: on", "locking: {Y1: dim", "dim", "'Y1' should be 'dim'. Write on or off."),
    ("limit: 2 A", "limt: 2 A", "limt", "'limt' is not a key of controller ECU, outputs.warn. Did "
     "you mean 'limit'?"),
    ("drives: low side", "drives: low", "low,", "ECU 'outputs.lamps.drives': 'low' is not one of "
     "the choices. Use 'high side' or 'low side'."),
    ("{pin: 12, pull", "{pin: 11, pull", "11, pull: down}\n      moving", "ECU input request uses "
     "pin 11, which is already ECU input shut. Check the pin numbers."),
    ("E2:  {kind", "E.2:  {kind", "E.2", "'E.2' cannot be the name of a part. Use letters, digits, "
     "- and _ (at most 40); the longer name goes in 'label'."),
    ("ways: 4", "ways: many", "many", "X1 'ways': 'many' is not right here."),
    ("BAT: {kind: battery", "BAT: &b {kind: battery", "&b", "'&b' is a YAML anchor, which is not "
     "allowed here. Remove it, or put quotes around the text."),
    ("label: Ignition", "label: !!str Ignition", "!!str", "is a YAML tag, which is not allowed"),
    ("at rest:   {}", "at rest:   [on]", "[on]", "State 'at rest' must be a mapping, not a list."),
    ("reach: 5 min", "reach: 5 mm", "5 mm}", "The reach of 'hinge': '5 mm' is not in a unit of "
     "min. Write it like '3 min'."),
    ("{reach: 5 min}", "{raech: 5 min}", "raech", "'raech' is not a key of a place. Did you mean "
     "'reach'?"),
    ("label: Ignition", "label: Igni\u200btion", "\u200b", "A hidden character (U+200B) stands "
     "here. Delete it."),
    ("BAT: {kind: battery, place: battery box}", "BAT: battery", "battery\n  F1", "BAT must be a "
     "mapping, not 'battery'."),
    ("BAT: {kind: battery, place: battery box}", "BAT: {place: battery box}", "BAT: {", "BAT has "
     "no kind. Add 'kind: fuse' or another kind."),
]


@pytest.mark.parametrize(("old", "new", "snippet", "words"), CASES)
def test_mistake_is_reported_at_its_place(old: str, new: str, snippet: str, words: str):
    assert old in DEMO
    text = DEMO.replace(old, new, 1)
    found = problems_of(text)
    assert (found[0][0], found[0][1]) == place_of(text, snippet)
    assert words in found[0][2]


def test_all_problems_come_together_in_file_order():
    text = DEMO.replace("24 ohm", "24").replace("GY/RD", "GREEN").replace("{Y1: on", "{Y9: on")
    found = problems_of(text.replace("system: 24 V", "system: 24"))
    assert [line for line, _, _ in found] == sorted(line for line, _, _ in found)
    assert len(found) == 4


def test_message_is_file_line_column():
    with pytest.raises(FileProblemsError, match=r"^lock\.yaml:3:9: 'system'"):
        read_circuit_text(DEMO.replace("24 V", "24"), "lock.yaml")


@pytest.mark.parametrize(
    ("text", "place", "words"),
    [
        ("", (1, 1), "The file is empty."),
        ("# only a remark\n", (1, 1), "The file is empty."),
        ("- a\n- b\n", (1, 1), "A circuit file is a mapping, not a list."),
        ("just words", (1, 1), "A circuit file is a mapping, not 'just words'."),
        ("a: [b", (2, 1), "The YAML cannot be read here"),
        ("a: b\n\tc: d\n", (2, 1), "Use spaces, not tabs, to indent."),
        ("a: b: c\n", (1, 5), "Put quotes around text that holds ': '"),
        ("a: 1\n---\nb: 2\n", (2, 1), "A second document starts here."),
        ("[" * 50, (1, 13), "This is nested too deep."),
        ("a: &x [1]\nb: *x\n", (1, 4), "is a YAML anchor"),
        ("a: 'x", (1, 6), "Close the quotes."),
        ("{[a]: b}", (1, 2), "A key must be plain text."),
        ("a: \x07", (1, 4), "A hidden character (U+0007)"),
        ("a: \ud800", (1, 4), "A hidden character (U+D800)"),
        ("loomwright: 1\nsystem: 12 V\n", (1, 1), "The circuit has no battery."),
    ],
)
def test_text_that_is_no_circuit(text: str, place: tuple[int, int], words: str):
    line, column, what = problems_of(text)[0]
    assert words in what
    assert (line, column) == place


def test_no_battery_no_wires_no_way_back():
    head = "loomwright: 1\nsystem: 12 V\nparts:\n  "
    lamp = "H1: {kind: lamp}\n"
    wire = "wires:\n  - [W1, BAT.+, H1.1]\n"
    assert "no battery" in problems_of(head + lamp)[0][2]
    assert "no wires" in problems_of(head + "BAT: {kind: battery}\n")[0][2]
    text = head + "BAT: {kind: battery}\n  " + lamp + wire
    assert "Nothing leads back to the battery" in problems_of(text)[0][2]
    back = text + "  - [W2, H1.2, BAT.-]\n"
    assert len(read_circuit_text(back).wires) == 2


def test_a_state_has_a_name_of_its_own():
    text = DEMO.replace("  at rest:   {}", "  isolated:   {}")
    assert "No state can be called 'isolated'" in problems_of(text)[0][2]


def test_batteries_in_series_are_not_a_short():
    text = (
        "loomwright: 1\nsystem: 24 V\nparts:\n  B1: {kind: battery, volts: 12.6 V}\n"
        "  B2: {kind: battery, volts: 12.6 V}\n  H1: {kind: lamp}\n  E1: {kind: earth}\nwires:\n"
        "  - [W1, B1.-, E1]\n  - [W2, B1.+, B2.-]\n  - [W3, B2.+, H1.1]\n  - [W4, H1.2, E1]\n"
    )
    assert list(read_circuit_text(text).wires) == ["W1", "W2", "W3", "W4"]
    through_a_splice = text.replace("  H1:", "  SP: {kind: splice}\n  H1:").replace(
        "[W2, B1.+, B2.-]", "[W2, B1.+, SP]\n  - [W5, SP, B2.-]")
    assert len(read_circuit_text(through_a_splice).wires) == 5


@pytest.mark.parametrize("wire", ["[W1, BAT.+]", "W1", "[]", "[W1, BAT.+, F1.1, 1 mm2, 1 m, RD, 7]",
                                  "{id: W1, from: BAT.+}", "[[W1], BAT.+, F1.1]",
                                  "[W 1, BAT.+, F1.1]", "[W1, {a: b}, F1.1]",
                                  "[W1, unknown, unknown]",
                                  "{id: W1, from: BAT.+, to: F1.1, x: y}"])
def test_a_wire_that_is_none(wire: str):
    text = DEMO.replace("[W1,  BAT.+,   F1.1,    16 mm2,   0.6 m, RD]", wire)
    assert problems_of(text)[0][0] == 46


def test_a_wrong_file_does_not_drown_the_reader():
    text = DEMO + "".join(f"junk{n}: 1\n" for n in range(5000))
    found = problems_of(text)
    assert len(found) == 101
    assert "There are more problems." in found[-1][2]


@pytest.mark.parametrize(
    ("rule", "words"),
    [("(" * 5000 + "a", "more than 60 brackets"), ("not " * 5000 + "a", "more than 60 brackets"),
     ("a and " * 50_000 + "a", "longer than 500 characters")],
)
def test_absurd_rule_is_a_problem_not_a_crash(rule: str, words: str):
    line, _, what = problems_of(DEMO.replace("closed when: ignition", f"closed when: {rule}"))[0]
    assert line == 12
    assert words in what


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("rating: 60 A", "rating: " + "9" * 5000 + " A", "F1 'rating' is longer than 200"),
        ("rating: 60 A", "rating: 9e999 A", "F1 'rating': '9e999 A' is too large."),
        ("price: 160", "price: nan", "Y1 'price': 'nan' is not right here."),
        ("price: 160", "price: .inf", "Y1 'price': '.inf' is not right here."),
        ("price: 160", "price: inf", "Y1: 'price' is not a usable number."),
        ("price: 160", "price: -1", "Y1 'price': '-1' is not right here."),
        ("kind: solenoid", "kind: unknown", "Y1 has no kind."),
        ("kind: solenoid", "kind: [solenoid]", "The kind of Y1 must be a text, not a list."),
        ("locking:   {ignition: on", "locking:   {ignition: ~", "'ignition' is not given."),
        ("locking:   {ignition: on", "locking:   {ignition:", "Write a space after the colon"),
        ("title: Tail", "title: " + "x" * 300 + " Tail", "'title' is longer than 200"),
    ],
)
def test_odd_values(old: str, new: str, words: str):
    assert old in DEMO
    assert words in problems_of(DEMO.replace(old, new))[0][2]


def test_long_text_is_not_quoted_whole():
    assert len(problems_of("? " + "x" * 5000 + "\n: 1\n")[0][2]) < 800


@pytest.mark.parametrize("state", ["yes", "no"])
def test_switch_without_rule_is_set_by_its_own_name(state: str):
    text = DEMO.replace(", closed when: ignition", "").replace("ignition: on", f"S1: {state}")
    assert read_circuit_text(text).states["open"] == {"S1": state}


def test_bad_paths(tmp_path: Path):
    with pytest.raises(UsageError, match="is a folder"):
        read_circuit(tmp_path)
    with pytest.raises(UsageError, match="There is no file"):
        read_circuit(tmp_path / "none.yaml")
    with pytest.raises(UsageError, match="There is no file|cannot be read"):
        read_circuit(tmp_path / ("x" * 5000))
    with pytest.raises(UsageError, match="cannot be read"):
        read_circuit("a\0b")


def test_file_over_one_megabyte(tmp_path: Path):
    path = tmp_path / "big.yaml"
    path.write_bytes(b"#" * 1_000_001)
    with pytest.raises(UsageError, match="over 1 MB"):
        read_circuit(path)
    with pytest.raises(UsageError, match="over 1 MB"):
        read_circuit_text("#" * 1_000_001)


def test_file_that_is_not_utf8(tmp_path: Path):
    path = tmp_path / "old.yaml"
    path.write_bytes("loomwright: 1\ntitle: Kühlung\n".encode("latin-1"))
    with pytest.raises(FileProblemsError, match=r"old\.yaml:2:9: The file is not UTF-8"):
        read_circuit(path)
