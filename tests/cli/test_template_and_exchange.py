"""`loomwright template` and `loomwright exchange`, as an outsider drives them."""

from __future__ import annotations

import pytest

from tests.cli.running import DEMO_CIRCUIT, run


def test_templates_are_listed_by_group():
    said = run("template")
    assert said.code == 0
    assert "Starting and charging" in said.out
    assert "horn" in said.out
    listed = run("template", "--json").json
    assert len(listed) >= 40
    assert {"name", "title", "group", "systems"} == set(listed[0])


def test_a_template_becomes_a_file_that_checks(tmp_path):
    target = tmp_path / "horn.yaml"
    said = run("template", "horn", "--set", "system=24V", "--set", "fuse=10 A", "-o", target)
    assert (said.code, said.out) == (0, f"Wrote {target}.\n")
    checked = run("check", target, "--json").json
    assert (checked["system_v"], checked["notes"]) == (24, [])


def test_a_file_that_is_there_is_replaced_only_with_force(tmp_path):
    target = tmp_path / "mine.yaml"
    target.write_text("my own work\n")
    said = run("template", "horn", "-o", target)
    assert said.code == 2
    assert "is there already" in said.err
    assert "--force" in said.err
    assert target.read_text() == "my own work\n"
    assert run("template", "horn", "-o", target, "--force").code == 0
    assert target.read_text() == run("template", "horn").out


def test_a_template_is_printed_whole():
    said = run("template", "horn")
    assert said.code == 0
    assert said.out.startswith("# Made from the template 'horn'")
    assert run("template", "horn", "--json").json["text"] == said.out


def test_what_can_be_set_is_shown():
    said = run("template", "horn", "--about")
    assert "fuse: fuse of the horn (assumed 15 A)" in said.out
    about = run("template", "horn", "--about", "--json").json
    assert [row["name"] for row in about["parameters"]] == ["horn", "fuse", "loom"]


def test_a_fuse_that_is_too_small_is_a_finding():
    said = run("template", "horn", "--set", "fuse=2 A")
    assert said.code == 1
    assert "note: sounding: Fuse F1 (2.00 A) is blown." in said.err
    assert "note: sounding: B1 should be on but is not." in said.err


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (("template", "hron"), "Did you mean 'horn'?"),
        (("template", "horn", "--set", "fuse"), "is not KEY=VALUE"),
        (("template", "horn", "--set", "fuse=10"), "has no unit"),
        (("template", "horn", "-o", "/no/such/folder/x.yaml"), "cannot be written"),
        (("exchange", "spice", DEMO_CIRCUIT, "--state", "parked"), "There is no state 'parked'"),
        (("exchange", "wires", DEMO_CIRCUIT, "--separator", "dot"), "There is no separator"),
        (("exchange", "from-wires", "missing.csv"), "There is no file"),
    ],
)
def test_bad_input_is_refused(words, message):
    said = run(*words)
    assert said.code == 2
    assert message in said.err


def test_a_netlist_goes_out_and_what_it_holds_comes_back(tmp_path):
    netlist = tmp_path / "locking.cir"
    said = run("exchange", "spice", DEMO_CIRCUIT, "--state", "locking", "--fault", "open:W22",
               "-o", netlist)
    assert said.code == 0
    assert "* W22 is open" in netlist.read_text("utf-8")
    back = run("exchange", "from-spice", netlist, "--json")
    assert back.code == 1  # lamps are behavioural sources, which a circuit file cannot state
    assert {one["what"].split(" is ")[1] for one in back.json["problems"]} == {
        "a behavioural source, which a circuit file cannot state."}
    assert back.json["text"].startswith("# Read from a SPICE netlist")


def test_a_wire_list_goes_out_and_comes_back(tmp_path):
    table, circuit = tmp_path / "wires.csv", tmp_path / "again.yaml"
    assert run("exchange", "wires", DEMO_CIRCUIT, "--separator", "tab", "-o", table).code == 0
    assert run("exchange", "from-wires", table, "--into", DEMO_CIRCUIT, "-o", circuit).code == 0
    assert run("exchange", "wires", circuit).out == run("exchange", "wires", DEMO_CIRCUIT).out
    assert "wires:\n  - [W1, BAT.+, F1.1" in run("exchange", "from-wires", table).out


def test_wires_that_fit_no_part_are_named(tmp_path):
    table = tmp_path / "wires.csv"
    table.write_text("id,from,to\nW1,BAT.+,F99.1\n", encoding="utf-8")
    said = run("exchange", "from-wires", table, "--into", DEMO_CIRCUIT)
    assert said.code == 2
    assert "no part 'F99'" in said.err
