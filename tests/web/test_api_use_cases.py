"""What the pages do, a program can do: every use case of theirs is in the API."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from pathlib import Path

import loomwright.web

WEB = Path(loomwright.web.__file__).parent
# Pages that are the door itself: a program has a token instead, and none of it may pass the door.
DOOR = {"access_pages.py", "people_pages.py"}
# What only a page needs, each with what a program uses instead.
PAGES_ONLY = {
    "office_view": "the pages' words; its figures are in card, costs, offers, photos, findings",
    "sender_missing": "a sentence for the screen; the settings have the fields",
    "has_tax": "a column of the foresight's table; the settings have the rate",
    "way_lines": "the pages' words of a foresight",
    "sheet_from": "the editor's tables; a program sends the file",
    "pasted_wires": "the editor's clipboard; a program sends the file",
    "kind_names": "the editor's suggestions; the schema of the file has them",
    "colour_names": "the editor's suggestions",
}


def used(path: Path) -> Iterator[str]:
    """Yield the service functions and the workshop's methods that a file calls."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    known = {alias.asname or alias.name for node in ast.walk(tree)
             if isinstance(node, ast.ImportFrom) and (node.module or "").startswith(
                 "loomwright.service") for alias in node.names}
    for node in ast.walk(tree):
        if not isinstance(node, ast.Call):
            continue
        called = node.func
        if isinstance(called, ast.Name) and called.id in known and called.id.islower():
            yield called.id
        if isinstance(called, ast.Attribute):
            owner = ast.unparse(called.value)
            if owner in known or owner.startswith(("workshop", "practice", "bench")):
                yield called.attr


def test_every_use_case_of_the_pages_is_in_the_api() -> None:
    pages = {name: path.name for path in WEB.glob("*_pages.py") if path.name not in DOOR
             and not path.name.startswith("api_") for name in used(path)}
    api = {name for path in WEB.glob("api_v1*.py") for name in _named(path)}
    assert len(pages) > 50
    missing = {name: file for name, file in pages.items() if name not in api | set(PAGES_ONLY)}
    assert missing == {}, "give these a route in web/api_v1_*.py, or say why not"
    assert set(PAGES_ONLY) & api == set(), "these have a route now"
    assert set(PAGES_ONLY) <= set(pages), "no page needs these"


def _named(path: Path) -> set[str]:
    """Return every name and attribute of a file: some use cases are passed on, not called."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    return {node.id for node in ast.walk(tree) if isinstance(node, ast.Name)} | {
        node.attr for node in ast.walk(tree) if isinstance(node, ast.Attribute)}
