"""Every bad input is answered with what, where and the next step, exit 2, and nothing written."""

import jsonschema
import pytest
import yaml

from tests.cli import contract
from tests.cli.lamp import LAMP
from tests.cli.running import DEMO_CIRCUIT, run, run_process


def changed(old, new):
    """Return the sound circuit with one piece of text replaced."""
    assert old in LAMP
    return LAMP.replace(old, new, 1)


# name -> (file text, line of the problem or None where it has no one place, word of the answer)
BAD_CIRCUITS = {
    "empty file": ("", 1, "empty"),
    "no mapping": ("just words\n", 1, ""),
    "broken YAML": ("loomwright: 1\ntitle: [\n", None, ""),
    "unknown kind": (changed("kind: lamp", "kind: lampp"), 8, "'lamp'"),
    "unknown key": (changed("rating:", "ratng:"), 6, "rating"),
    "duplicate id": (changed("  E1: {kind: earth}", "  F1: {kind: earth}"), 9, "F1"),
    "duplicate wire": (changed("- [W2,", "- [W1,"), 12, "W1"),
    "wire to nowhere": (changed("H1.1, 2.5", "H9.1, 2.5"), 13, "H9"),
    "wire to no pin": (changed("H1.1, 2.5", "H1.7, 2.5"), 13, "7"),
    "wrong unit": (changed("F1.1, 2.5 mm2", "F1.1, 10 A"), 11, "mm2"),
    "no unit": (changed("F1.1, 2.5 mm2", "F1.1, 2.5"), 11, "mm2"),
    "no battery": ("\n".join(line for line in LAMP.splitlines()
                             if "BAT" not in line) + "\n", None, "battery"),
    "no earth": (changed("E1: {kind: earth}", "E1: {kind: splice}"), None, "earth"),
    "two batteries shorted": (
        changed("  F1:", "  B2: {kind: battery}\n  F1:").replace(
            "wires:\n", "wires:\n  - [W8, B2.+, BAT.-, 16 mm2, 1 m, RD]\n"
            "  - [W9, B2.-, BAT.+, 16 mm2, 1 m, RD]\n"), None, "batter"),
}


@pytest.mark.parametrize("name", BAD_CIRCUITS)
@pytest.mark.parametrize("command", ["check", "expect", "faults"])
def test_a_bad_circuit_is_refused_with_place_and_next_step(name, command, tmp_path):
    text, line, word = BAD_CIRCUITS[name]
    file = tmp_path / "bad.yaml"
    file.write_text(text, encoding="utf-8")
    said = run(command, file, "--json")
    if command == "faults" and name == "two batteries shorted":
        assert said.code in (0, 2)  # listing faults solves nothing
        return
    assert said.code == 2
    jsonschema.validate(said.json, contract.ERROR)
    error = said.json["error"]
    assert error["next_step"] or all(one["fix"] for one in error["problems"])
    assert word.lower() in said.out.lower()
    assert error["problems"]
    if line is not None:
        assert line in {one["line"] for one in error["problems"]}
        assert all(one["column"] >= 1 for one in error["problems"])
    assert sorted(one.name for one in tmp_path.iterdir()) == ["bad.yaml"]


@pytest.mark.parametrize("name", BAD_CIRCUITS)
def test_a_bad_circuit_is_told_to_people_on_stderr(name, tmp_path):
    text, line, word = BAD_CIRCUITS[name]
    file = tmp_path / "bad.yaml"
    file.write_text(text, encoding="utf-8")
    said = run("check", file)
    assert said.code == 2
    assert said.out == ""
    assert word.lower() in said.err.lower()
    assert "Traceback" not in said.err
    if line is not None:
        assert f"bad.yaml:{line}:" in said.err


def test_all_problems_are_told_together(tmp_path):
    file = tmp_path / "bad.yaml"
    file.write_text(changed("kind: lamp", "kind: lampp").replace("F1.1, 2.5 mm2", "F1.1, 10 A"),
                    encoding="utf-8")
    problems = run("check", file, "--json").json["error"]["problems"]
    assert {8, 11} <= {one["line"] for one in problems}


def test_a_missing_file_suggests_its_neighbour(tmp_path):
    (tmp_path / "lamp.yaml").write_text(LAMP, encoding="utf-8")
    said = run("check", tmp_path / "lmp.yaml")
    assert said.code == 2
    assert "There is no circuit file" in said.err
    assert "lamp.yaml'?" in said.err


def test_a_folder_is_no_file(tmp_path):
    said = run("check", tmp_path, "--json")
    assert said.code == 2
    assert "is a folder" in said.json["error"]["message"]


def test_bytes_that_are_no_text_are_refused(tmp_path):
    file = tmp_path / "bad.yaml"
    file.write_bytes(b"\xff\xfe\x00\x81loomwright: 1")
    said = run("check", file, "--json")
    assert said.code == 2
    jsonschema.validate(said.json, contract.ERROR)


@pytest.mark.parametrize("words", [
    ("expect", DEMO_CIRCUIT, "--state", "lockng"),
    ("why", DEMO_CIRCUIT, "--state", "lockng", "--output", "ECU.lock"),
    ("draw", DEMO_CIRCUIT, "--state", "lockng"),
])
def test_an_unknown_state_suggests_the_nearest(words):
    said = run(*words, "--json")
    assert said.code == 2
    assert said.json["error"]["code"] == "unknown-name"
    assert said.json["error"]["next_step"] == "Did you mean 'locking'?"


BAD_FAULTS = ["open:W99", "opn:W7", "open", "high-resistance:W7:lots", "", ":"]


@pytest.mark.parametrize("fault", BAD_FAULTS)
def test_an_unknown_fault_is_refused(fault):
    said = run("expect", DEMO_CIRCUIT, "--fault", fault, "--json")
    assert said.code == 2
    jsonschema.validate(said.json, contract.ERROR)
    assert said.json["error"]["next_step"]


def test_an_unknown_output_suggests_the_nearest():
    said = run("why", DEMO_CIRCUIT, "--state", "locking", "--output", "ECU.lok", "--json")
    assert said.code == 2
    assert "ECU.lock" in said.json["error"]["next_step"]


READING = {"state": "locking", "quantity": "voltage", "at": "Y1.1", "value": "11.9 V",
           "instrument": "meter"}
BAD_READINGS = {
    "wrong unit": [{**READING, "value": "3 A"}],
    "no unit": [{**READING, "value": "3"}],
    "unknown state": [{**READING, "state": "lockng"}],
    "unknown point": [{**READING, "at": "Y9.1"}],
    "unknown quantity": [{**READING, "quantity": "voltge"}],
    "unknown instrument": [{**READING, "instrument": "mter"}],
    "unknown key": [{**READING, "vlue": "3 V"}],
    "no value": [{key: value for key, value in READING.items() if key != "value"}],
    "not a level": [{**READING, "quantity": "running", "at": "Y1", "value": "purple",
                     "instrument": "eye"}],
    "no list": {"readings": 3},
    "a bare word": ["locking"],
}


@pytest.mark.parametrize("name", BAD_READINGS)
def test_bad_readings_are_refused_with_place_and_fix(name, tmp_path):
    file = tmp_path / "readings.yaml"
    file.write_text(yaml.safe_dump(BAD_READINGS[name]), encoding="utf-8")
    said = run("suspects", DEMO_CIRCUIT, "--readings", file, "--json")
    assert said.code == 2
    jsonschema.validate(said.json, contract.ERROR)
    error = said.json["error"]
    assert error["problems"]
    assert all(one["line"] >= 1 and one["fix"] for one in error["problems"])


@pytest.mark.parametrize("text", ["", "[]\n", "# nothing yet\n"])
def test_empty_readings_are_refused_with_the_next_step(text, tmp_path):
    file = tmp_path / "readings.yaml"
    file.write_text(text, encoding="utf-8")
    said = run("suspects", DEMO_CIRCUIT, "--readings", file, "--json")
    assert said.code == 2
    jsonschema.validate(said.json, contract.ERROR)


def test_missing_readings_are_told_as_readings(tmp_path):
    said = run("suspects", DEMO_CIRCUIT, "--readings", tmp_path / "none.yaml")
    assert said.code == 2
    assert "There is no readings file" in said.err


def test_a_drawing_that_cannot_be_written_is_told(tmp_path):
    said = run("draw", DEMO_CIRCUIT, "-o", tmp_path / "no folder" / "x.svg", "--json")
    assert said.code == 2
    assert "cannot be written" in said.json["error"]["message"]
    assert list(tmp_path.iterdir()) == []


def test_bad_input_in_a_process_of_its_own(tmp_path):
    file = tmp_path / "bad.yaml"
    file.write_text("", encoding="utf-8")
    said = run_process("check", file, folder=tmp_path)
    assert said.code == 2
    assert said.out == ""
    assert "empty" in said.err
    assert [one.name for one in tmp_path.iterdir()] == ["bad.yaml"]


@pytest.mark.parametrize("command", ["suspects", "estimate", "trace"])
def test_a_circuit_too_large_to_search_is_refused_with_a_way_through(tmp_path, command):
    lamps = range(120)  # would take half a minute and 8 GB
    parts = "".join(f"  H{n}: {{kind: lamp, power: 21 W}}\n" for n in lamps)
    wires = "".join(f"  - [W{n}, BAT.+, H{n}.1, 1 mm2, 1 m]\n  - [V{n}, H{n}.2, BAT.-]\n"
                    for n in lamps)
    circuit, readings = tmp_path / "lamps.yaml", tmp_path / "readings.yaml"
    circuit.write_text(f"loomwright: 1\nsystem: 12 V\nparts:\n  BAT: {{kind: battery}}\n{parts}"
                       f"wires:\n{wires}states:\n  s: {{}}\n", encoding="utf-8")
    readings.write_text("[]", encoding="utf-8")
    said = run(command, circuit, "--readings", readings, "--json")
    assert said.code == 2
    assert "too large to be searched here: it has" in said.json["error"]["message"]
    assert "--large" in said.json["error"]["next_step"]
    if command == "trace":  # passes the limit, and finds no reading
        through = run(command, circuit, "--readings", readings, "--large", "--json")
        assert "There are no readings" in through.json["error"]["message"]
