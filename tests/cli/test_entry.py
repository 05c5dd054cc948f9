"""The command itself: help, typing mistakes, exit codes, and how errors are told."""

import subprocess
import sys

import jsonschema
import pytest
from click.testing import CliRunner

from loomwright.cli import commands
from loomwright.cli.entry import COMMANDS
from loomwright.service import bench
from tests.cli import contract
from tests.cli.running import DEMO_CIRCUIT, REPOSITORY, run, run_process


def test_help_names_every_command():
    said = run("--help")
    assert said.code == 0
    assert all(f"\n  {name} " in said.out for name in COMMANDS)


@pytest.mark.parametrize("name", COMMANDS)
def test_each_command_has_help_json_and_debug(name):
    result = CliRunner().invoke(commands, [name, "--help"])
    assert result.exit_code == 0
    first_sentence = result.output.splitlines()[2].strip()
    assert len(first_sentence) > 20
    assert "--json" in result.output
    assert "--debug" in result.output


def test_no_command_shows_the_help_and_is_bad_input():
    said = run()
    assert said.code == 2
    assert "Usage: loomwright" in said.out


def test_version_is_one_line():
    said = run("--version")
    assert said.code == 0
    assert said.out.startswith("loomwright ")
    assert said.out.count("\n") == 1


@pytest.mark.parametrize(("typed", "meant"), [("suspcts", "suspects"), ("chek", "check")])
def test_unknown_command_suggests_the_nearest(typed, meant):
    said = run(typed)
    assert said.code == 2
    assert f"'{typed}'" in said.err
    assert f"Did you mean '{meant}'?" in said.err
    assert said.out == ""


def test_unknown_command_that_is_near_nothing_points_to_the_help():
    assert "loomwright --help" in run("zzzzzz").err


def test_unknown_option_is_json_when_json_is_asked_for():
    said = run("check", "x.yaml", "--jsn", "--json")
    assert said.code == 2
    jsonschema.validate(said.json, contract.ERROR)
    assert "--jsn" in said.json["error"]["message"]


def _broken(*_words):
    raise ZeroDivisionError("seven by nought")


def test_a_bug_is_told_in_one_line_with_exit_3(monkeypatch):
    monkeypatch.setattr(bench, "check_circuit", _broken)
    said = run("check", DEMO_CIRCUIT)
    assert said.code == 3
    assert said.err.startswith("This is a bug in Loomwright: ZeroDivisionError")
    assert "run again with --debug" in said.err
    assert said.err.count("\n") == 1
    assert "Traceback" not in said.err


def test_a_bug_with_debug_shows_the_traceback(monkeypatch):
    monkeypatch.setattr(bench, "check_circuit", _broken)
    said = run("check", DEMO_CIRCUIT, "--debug")
    assert said.code == 3
    assert "Traceback" in said.err
    assert "in _broken" in said.err


def test_a_bug_is_json_when_json_is_asked_for(monkeypatch):
    monkeypatch.setattr(bench, "check_circuit", _broken)
    said = run("check", DEMO_CIRCUIT, "--json")
    assert said.code == 3
    jsonschema.validate(said.json, contract.ERROR)
    assert said.json["error"]["code"] == "bug"


def test_ctrl_c_is_130_without_a_traceback(monkeypatch):
    def stopped(*_words):
        raise KeyboardInterrupt

    monkeypatch.setattr(bench, "check_circuit", stopped)
    said = run("check", DEMO_CIRCUIT)
    assert said.code == 130
    assert said.err.strip() == "Stopped."


def test_debug_shows_the_traceback_of_bad_input_too():
    said = run("check", "nowhere.yaml", "--debug")
    assert said.code == 2
    assert "Traceback" in said.err


def test_a_reader_that_closes_the_pipe_is_no_error():
    command = [sys.executable, "-m", "loomwright.cli", "schema"]
    with subprocess.Popen(
        command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True,
        env={"PYTHONPATH": str(REPOSITORY / "src")},
    ) as process:
        assert process.stdout is not None
        assert process.stderr is not None
        process.stdout.close()
        complaint = process.stderr.read()
        code = process.wait(timeout=30)
    assert complaint == ""
    assert code == 0


def test_the_process_gives_the_exit_code():
    assert run_process("check", "nowhere.yaml").code == 2
