"""The house rules hold over the whole package."""

from __future__ import annotations

import functools
from pathlib import Path

import pytest

import loomwright
from tests.architecture.rules import RULES, SourceFile, read_package

PACKAGE = Path(loomwright.__file__).parent


@functools.cache
def package_files() -> tuple[SourceFile, ...]:
    """Read the package once for all rules."""
    return tuple(read_package(PACKAGE))


@pytest.mark.parametrize("rule", RULES)
def test_rule_holds(rule: str) -> None:
    files = package_files()
    assert len(files) > 10, "the package was not found"
    violations = RULES[rule](files)
    assert not violations, f"{rule}:\n  " + "\n  ".join(violations)
