"""The start script: what it installs, when it does so again, and its one-line errors."""

from __future__ import annotations

import subprocess
from collections.abc import Callable
from importlib.machinery import SourceFileLoader
from importlib.util import module_from_spec, spec_from_loader
from pathlib import Path
from types import ModuleType

import pytest

ROOT = Path(__file__).parents[1]
Answer = Callable[[list[str]], tuple[int, str]]


class Machine:
    """A pretend machine: records the commands, answers them, and makes the files they would."""

    def __init__(self, module: ModuleType) -> None:
        self.module = module
        self.commands: list[list[str]] = []
        self.called: list[list[str]] = []
        self.pip_version = "pip 23.0.1 from somewhere (python 3.11)"
        self.pip_answer = (0, "")
        self.codes: dict[str, int] = {}

    def quietly(self, command: list[str]) -> subprocess.CompletedProcess[str]:
        """Answer a set-up step."""
        self.commands.append(command)
        code, text = 0, ""
        if command[1:] == ["-m", "pip", "--version"]:
            code, text = (0, self.pip_version) if self.pip_version else (1, "No module named pip")
        elif command[1:3] == ["-m", "venv"]:
            for stamp in ("use", "test"):
                self.module.stamp(stamp).unlink(missing_ok=True)
            self.module.PYTHON.parent.mkdir(parents=True, exist_ok=True)
            self.module.PYTHON.touch()
        else:
            code, text = self.pip_answer
        return subprocess.CompletedProcess(command, code, text)

    def call(self, command: list[str], **_: object) -> int:
        """Answer a command that the user sees."""
        self.called.append(command[2:])
        return self.codes.get(command[2], 0)

    def steps(self) -> list[str]:
        """Return the kinds of set-up steps taken since the last look."""
        kinds = [
            "venv" if "venv" in command else "version" if "--version" in command else "install"
            for command in self.commands
        ]
        self.commands.clear()
        return kinds


@pytest.fixture
def machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Machine:
    """Load the script as if it lay in an empty folder, with every outside command pretended."""
    loader = SourceFileLoader("loomwright_run", str(ROOT / "run"))
    spec = spec_from_loader("loomwright_run", loader)
    assert spec is not None
    module = module_from_spec(spec)
    monkeypatch.setattr("sys.dont_write_bytecode", True)
    loader.exec_module(module)
    for name in ("pyproject.toml", "requirements.lock", "requirements-test.lock"):
        (tmp_path / name).write_bytes((ROOT / name).read_bytes())
    found = Machine(module)
    monkeypatch.setattr(module, "ROOT", tmp_path)
    monkeypatch.setattr(module, "VENV", tmp_path / ".venv")
    monkeypatch.setattr(module, "PYTHON", tmp_path / ".venv" / "bin" / "python")
    monkeypatch.setattr(module, "quietly", found.quietly)
    monkeypatch.setattr(module.subprocess, "call", found.call)
    return found


def test_no_words_open_the_demo_depot(machine: Machine) -> None:
    assert machine.module.main([]) == 0
    assert machine.called == [["loomwright", "serve", "--demo", "--open"]]


def test_other_words_go_to_the_command(machine: Machine) -> None:
    machine.codes["loomwright"] = 2
    assert machine.module.main(["check", "a.yaml"]) == 2
    assert machine.called == [["loomwright", "check", "a.yaml"]]


def test_set_up_needs_no_ensurepip_and_installs_from_the_lock(machine: Machine) -> None:
    machine.module.main([])
    venv, pip = machine.commands[1:]
    assert {"--without-pip", "--clear"} <= set(venv)
    assert pip[1:5] == ["-m", "pip", "--python", str(machine.module.PYTHON)]
    assert pip[-4:] == ["-r", "requirements.lock", "-e", "."]


def test_set_up_happens_once(machine: Machine) -> None:
    machine.module.main([])
    assert machine.steps() == ["version", "venv", "install"]
    machine.module.main([])
    assert machine.steps() == []


@pytest.mark.parametrize("name", ["pyproject.toml", "requirements.lock"])
def test_set_up_is_redone_when_its_files_change(machine: Machine, name: str) -> None:
    machine.module.main([])
    machine.steps()
    path = machine.module.ROOT / name
    path.write_text(path.read_text() + "\n# changed\n")
    machine.module.main([])
    assert machine.steps() == ["version", "venv", "install"]


def test_half_made_environment_is_made_again(machine: Machine) -> None:
    machine.pip_answer = (1, "ERROR: the disk is full\n")
    with pytest.raises(SystemExit, match="pip failed: ERROR: the disk is full"):
        machine.module.main([])
    machine.pip_answer = (0, "")
    machine.steps()
    machine.module.main([])
    assert machine.steps() == ["version", "venv", "install"]


def test_environment_without_its_python_is_made_again(machine: Machine) -> None:
    machine.module.main([])
    machine.steps()
    machine.module.PYTHON.unlink()
    machine.module.main([])
    assert machine.steps() == ["version", "venv", "install"]


def test_test_words_add_to_the_environment(machine: Machine) -> None:
    machine.module.main([])
    machine.steps()
    machine.module.main(["test"])
    assert machine.steps() == ["version", "install"]
    machine.module.main(["demo"])
    assert machine.steps() == []


def test_all_checks_run_and_pytest_is_last(machine: Machine) -> None:
    machine.codes["ruff"] = 1
    assert machine.module.main(["test", "tests/circuit", "-q"]) == 1
    assert [words[0] for words in machine.called] == ["ruff", "mypy", "pytest"]
    assert machine.called[-1] == ["pytest", "tests/circuit", "-q"]


@pytest.mark.parametrize("broken", ["ruff", "mypy", "pytest"])
def test_any_failed_check_fails_the_whole(machine: Machine, broken: str) -> None:
    machine.codes[broken] = 3
    assert machine.module.main(["test"]) == 1


def test_all_checks_good(machine: Machine) -> None:
    assert machine.module.main(["test"]) == 0


@pytest.mark.parametrize(
    ("version", "message"),
    [
        ("", "this Python has no pip; install it"),
        ("pip 22.2.2 from somewhere", r"pip 22\.2 is too old; 22\.3 or newer is needed\."),
        ("pip 9.0.1 from somewhere", r"pip 9\.0 is too old"),
    ],
)
def test_pip_that_cannot_do_it_is_one_line(machine: Machine, version: str, message: str) -> None:
    machine.pip_version = version
    with pytest.raises(SystemExit, match=f"^run: {message}") as caught:
        machine.module.main([])
    assert "\n" not in str(caught.value)


def test_no_network_is_one_line(machine: Machine) -> None:
    machine.pip_answer = (
        1,
        "WARNING: Retrying ... NewConnectionError: Failed to establish a new connection\n"
        "ERROR: No matching distribution found for alembic\n",
    )
    with pytest.raises(SystemExit, match="^run: the packages could not be fetched; connect to"):
        machine.module.main([])


def test_locks_name_exact_versions_and_no_addresses() -> None:
    for name in ("requirements.lock", "requirements-test.lock"):
        lines = (ROOT / name).read_text().splitlines()
        assert len(lines) > 30
        for line in lines:
            requirement = line.split(";")[0].strip()
            assert requirement.count("==") == 1, line
            assert "/" not in line
            assert "@" not in line


def test_test_lock_holds_the_lock_in_use() -> None:
    use = set((ROOT / "requirements.lock").read_text().splitlines())
    assert use <= set((ROOT / "requirements-test.lock").read_text().splitlines())
