"""Rules for what lies beside the package: tests that can fail, and nothing of one machine."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator, Sequence
from pathlib import Path

from tests.architecture.rules import MACHINE_PATH, functions

__all__ = ["foreign_addresses", "idle_tests", "repository_files"]

FOLDERS = (".ci", "benchmarks", "docs", "src", "tests", "tools")
TEXT = {".py", ".md", ".toml", ".lock", ".yaml", ".json", ".csv", ".html", ".css", ".js", ""}
# The samples of these rules hold what the rules look for.
SAMPLES = "tests/architecture/"
REGISTRY = re.compile(r"(?i)--?(?:extra-)?index-url|--find-links|pypi\.org/simple")
CLAIMS = {"raises", "warns", "fail", "deprecated_call", "assert_allclose"}


def repository_files(root: Path) -> Iterator[tuple[str, str]]:
    """Yield path and text of every text file of the repository, the rules' own samples left out."""
    paths = [path for path in root.iterdir() if path.is_file()]
    for folder in FOLDERS:
        paths += [path for path in (root / folder).rglob("*") if path.is_file()]
    for path in sorted(paths):
        shown = path.relative_to(root).as_posix()
        hidden = any(part in {"__pycache__", "screenshots"} for part in path.parts)
        if path.suffix in TEXT and not hidden and not shown.startswith(SAMPLES):
            yield shown, path.read_text(encoding="utf-8", errors="replace")


def foreign_addresses(files: Sequence[tuple[str, str]]) -> list[str]:
    """Return lines with a path of one machine or the address of a package registry."""
    found = []
    for shown, text in files:
        for number, line in enumerate(text.splitlines(), 1):
            if MACHINE_PATH.search(line):
                found.append(f"{shown}:{number}: a path of one machine")
            if REGISTRY.search(line):
                found.append(f"{shown}:{number}: the address of a package registry")
    return found


def idle_tests(files: Sequence[tuple[str, str]]) -> list[str]:
    """Return tests that claim nothing: no assert, no expected error, no helper that asserts."""
    trees = {
        shown: ast.parse(text)
        for shown, text in files
        if shown.startswith("tests/") and shown.endswith(".py")
    }
    helpers = {
        node.name
        for tree in trees.values()
        for node in functions(tree)
        if not node.name.startswith("test_") and _claims(node, set())
    }
    return [
        f"{shown}:{node.lineno}: {node.name} claims nothing"
        for shown, tree in trees.items()
        for node in functions(tree)
        if node.name.startswith("test_") and not _claims(node, helpers)
    ]


def _claims(node: ast.AST, helpers: set[str]) -> bool:
    for child in ast.walk(node):
        if isinstance(child, ast.Assert) and not isinstance(child.test, ast.Constant):
            return True
        if isinstance(child, ast.Call):
            name = getattr(child.func, "attr", getattr(child.func, "id", ""))
            # `expect(...)` is the browser driver's own assertion.
            if name in CLAIMS | helpers | {"expect"}:
                return True
    return False
