"""The house rules hold over the whole package."""

from __future__ import annotations

from pathlib import Path

import pytest

import loomwright
from tests.architecture.rules import RULES, read_package

PACKAGE = Path(loomwright.__file__).parent


@pytest.mark.parametrize("rule", RULES)
def test_rule_holds(rule: str) -> None:
    files = read_package(PACKAGE)
    assert len(files) > 10, "the package was not found"
    violations = RULES[rule](files)
    assert not violations, f"{rule}:\n  " + "\n  ".join(violations)
