"""`loomwright practice` in the terminal, by hand and from a file."""

import pytest

from loomwright.cli.entry import commands
from tests.cli.running import REPOSITORY, run
from tests.practice.benches import exercise
from tests.service.test_bench import LAMP


def answers(folder, repair, predict="on"):
    """Write an answers file of one reading and a repair."""
    path = folder / "answers.yaml"
    path.write_text(f"- {{state: sounding, quantity: running, at: B1, predict: {predict}}}\n"
                    f"- {{state: sounding, quantity: voltage, at: F1.1, predict: about 12}}\n"
                    f"- {{repair: {repair}}}\n", encoding="utf-8")
    return path


def start(folder, *words):
    return run("practice", "start", "--circuit", "horn", "--level", 1, "--seed", 0,
               "--data", folder, *words)


def test_levels_lists_levels_and_circuits(tmp_path):
    said = run("practice", "levels", "--json", "--data", tmp_path).json
    assert [one["number"] for one in said["levels"]] == [1, 2, 3]
    assert "horn" in {one["key"] for one in said["circuits"]}
    assert "Level 3" in run("practice", "levels", "--data", tmp_path).out


def test_started_as_json_it_tells_all_but_the_fault(tmp_path):
    said = start(tmp_path, "--json")
    assert said.code == 0
    assert said.json["exercise"] == "horn-1-0"
    assert said.json["result"] is None
    assert exercise(1, 0).fault.id not in said.out
    assert len(said.json["repairs"]) > 5


def test_answers_from_a_file_are_done_and_scored(tmp_path):
    repair = exercise(1, 0).fault.repair
    said = start(tmp_path, "--answers", answers(tmp_path, repair), "--json")
    assert said.code == 0
    assert said.json["over"]
    result = said.json["result"]
    assert result["right"]
    assert 0 < result["points"] < 100
    assert len(result["replay"]) == 2
    assert said.json["readings"][0]["predicted"] == "on"
    text = start(tmp_path, "--answers", answers(tmp_path, repair)).out
    assert "points of 100" in text
    assert "Step by step" in text


def test_a_wrong_repair_is_a_finding(tmp_path):
    wrong = next(one for one in start(tmp_path, "--json").json["repairs"]
                 if one != exercise(1, 0).fault.repair)
    assert start(tmp_path, "--answers", answers(tmp_path, wrong), "--json").code == 1
    progress = run("practice", "progress", "--data", tmp_path, "--json").json
    assert progress["done"][0]["right"] is False
    assert "wrong" in run("practice", "progress", "--data", tmp_path).out


def test_in_the_terminal_it_asks_until_a_repair_is_named(tmp_path):
    from click.testing import CliRunner

    typed = ["measure", "sounding", "voltage", "F1.1", "", "", "12", "measure", "nowhere",
             "voltage", "F1.1", "", "", "12", "repairs", "name", exercise(1, 0).fault.repair]
    said = CliRunner().invoke(
        commands, ["practice", "start", "--circuit", "horn", "--seed", "0", "--data",
                   str(tmp_path)], input="\n".join(typed) + "\n")
    assert said.exit_code == 0
    assert "Well predicted" in said.output
    assert "no state 'nowhere'" in said.output
    assert "points of 100" in said.output


def test_the_sheet_names_tasks_and_exercises(tmp_path):
    start(tmp_path, "--answers", answers(tmp_path, exercise(1, 0).fault.repair), "--json")
    tasks = run("practice", "sheet", "--data", tmp_path, "--json").json["tasks"]
    shown = {one["id"] for one in tasks if one["exercises"]}
    assert {"break", "body", "complaint"} <= shown
    assert "supervisor" in run("practice", "sheet", "--data", tmp_path).out


def test_a_circuit_file_of_ones_own(tmp_path):
    path = tmp_path / "lamp.yaml"
    path.write_text(LAMP, encoding="utf-8")
    said = run("practice", "start", "--circuit", path, "--seed", 3, "--data", tmp_path, "--json")
    assert said.code == 0
    assert said.json["complaint"]
    again = run("practice", "start", "--exercise", said.json["exercise"], "--data", tmp_path,
                "--json")
    assert again.json["complaint"] == said.json["complaint"]


@pytest.mark.parametrize("text", ["a: 1", "- {at: x}", "- [", "- {repair: a, at: b}"])
def test_answers_that_are_none_are_refused(tmp_path, text):
    path = tmp_path / "wrong.yaml"
    path.write_text(text, encoding="utf-8")
    said = start(tmp_path, "--answers", path, "--json")
    assert said.code == 2
    assert said.json["error"]["code"] == "usage"


def test_unknown_circuits_and_exercises_are_refused(tmp_path):
    assert run("practice", "start", "--circuit", "nothing", "--data", tmp_path).code == 2
    assert run("practice", "start", "--exercise", "horn-9-1", "--data", tmp_path).code == 2
    assert run("practice", "start", "--circuit", "no.yaml", "--data", tmp_path).code == 2


def test_the_answers_file_of_the_documentation_works(tmp_path):
    page = (REPOSITORY / "docs" / "practice.md").read_text(encoding="utf-8")
    path = tmp_path / "answers.yaml"
    path.write_text(page.partition("```yaml\n")[2].partition("```")[0], encoding="utf-8")
    said = start(tmp_path, "--answers", path, "--json")
    assert said.code in (0, 1)
    assert said.json["over"]
    assert [one["instrument"] for one in said.json["readings"]] == ["meter", "test lamp"]
    named = {*said.json, *said.json["result"], *said.json["result"]["mine"]}
    assert {name for name in named if f"`{name}`" not in page and f'"{name}"' not in page} == set()
