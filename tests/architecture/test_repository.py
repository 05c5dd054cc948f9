"""Every test claims something, and no file names one machine; both checks bite."""

from __future__ import annotations

from pathlib import Path

import pytest

from tests.architecture.repository_rules import foreign_addresses, idle_tests, repository_files

ROOT = Path(__file__).parents[2]


def test_every_test_claims_something() -> None:
    violations = idle_tests(list(repository_files(ROOT)))
    assert not violations, "\n  ".join(["tests that claim nothing:", *violations])


def test_no_file_names_one_machine() -> None:
    files = list(repository_files(ROOT))
    assert {"run", ".ci/run", "README.md", "pyproject.toml"} <= {shown for shown, _ in files}
    violations = foreign_addresses(files)
    assert not violations, "\n  ".join(["of one machine:", *violations])


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("see /home/someone/notes", "a path of one machine"),
        (r"C:\Users\someone", "a path of one machine"),
        ("pip install --index-url https://example.invalid x", "address of a package registry"),
    ],
)
def test_address_is_caught(text: str, message: str) -> None:
    found = foreign_addresses([("docs/a.md", f"first\n{text}\n")])
    assert len(found) == 1
    assert found[0].startswith("docs/a.md:2: ")
    assert message in found[0]


@pytest.mark.parametrize("text", ["https://example.invalid/work/a", "a work/home/b", "docs/tmp/x"])
def test_ordinary_text_is_left_alone(text: str) -> None:
    assert foreign_addresses([("docs/a.md", text)]) == []


@pytest.mark.parametrize(
    ("body", "idle"),
    [
        ("run()", True),
        ("assert True", True),
        ("assert run() == 1", False),
        ("with pytest.raises(ValueError):\n        run()", False),
        ("holds(run())", False),
        ("other(run())", True),
    ],
)
def test_idle_test_is_caught(body: str, idle: bool) -> None:
    helpers = "def holds(a):\n    assert a\n\ndef other(a):\n    return a\n\n"
    found = idle_tests([("tests/test_a.py", f"{helpers}def test_b():\n    {body}\n")])
    assert found == (["tests/test_a.py:7: test_b claims nothing"] if idle else [])
