"""Pages link to what exists, and every command shown in them answers as shown."""

import re
import shlex
from pathlib import Path

import pytest

from tests.cli.running import run

REPOSITORY = Path(__file__).parents[2]
PAGES = [REPOSITORY / "README.md", *sorted((REPOSITORY / "docs").rglob("*.md"))]
LINK = re.compile(r"\]\(([^)#\s]+)(?:#[^)]*)?\)")
BLOCK = re.compile(r"```console\n(.*?)```", re.DOTALL)
NUMBER = re.compile(r"[-+]?\d+(?:\.\d+)?")
ANY_LINES = "..."


def page_name(page):
    """Return a page's path in the repository, to name its tests."""
    return page.relative_to(REPOSITORY).as_posix()


def commands_shown(page):
    """Yield each command of a page with the lines shown under it."""
    for block in BLOCK.findall(page.read_text(encoding="utf-8")):
        for piece in block.split("$ ")[1:]:
            command, _, shown = piece.partition("\n")
            yield command, shown.rstrip().splitlines()


SHOWN = [(page, command, lines) for page in PAGES for command, lines in commands_shown(page)
         if command.startswith("loomwright ")]


def shape(line):
    """Return a line with numbers, spaces and table rules made alike: values may be tuned."""
    return " ".join(NUMBER.sub("#", re.sub(r"[─━-]{2,}", "--", line)).split())


def matches(shown, said):
    """Tell whether the lines said have the shape of those shown; '...' stands for any lines."""
    if not shown:
        return not said
    if shown[0].strip() == ANY_LINES:
        return any(matches(shown[1:], said[at:]) for at in range(len(said) + 1))
    return bool(said) and same(shape(shown[0]), shape(said[0])) and matches(shown[1:], said[1:])


def same(shown, said):
    """Tell whether two lines are alike; one shown may end in '...' for the rest of the line."""
    return said.startswith(shown.removesuffix("...")) if shown.endswith("...") else shown == said


@pytest.mark.parametrize("page", PAGES, ids=page_name)
def test_links_lead_to_files(page):
    targets = [target for target in LINK.findall(page.read_text(encoding="utf-8"))
               if "://" not in target and not target.startswith("mailto:")]
    missing = [target for target in targets if not (page.parent / target).exists()]
    assert missing == []


@pytest.mark.parametrize(
    ("page", "command", "shown"), SHOWN,
    ids=[f"{page_name(page)}:{command}" for page, command, _ in SHOWN])
def test_the_command_answers_as_shown(page, command, shown, monkeypatch):
    monkeypatch.chdir(REPOSITORY)
    said = run(*shlex.split(command)[1:])
    assert said.code in (0, 1, 2)
    lines = [line for line in (said.out + said.err).rstrip().splitlines() if line.strip()]
    wanted = [line for line in shown if line.strip()]
    assert matches(wanted, lines), said.out + said.err


def test_commands_are_shown_somewhere():
    assert {command.split()[1] for _, command, _ in SHOWN} >= {"check", "expect", "suspects"}


def test_every_page_of_models_is_in_the_index():
    models = REPOSITORY / "docs" / "models"
    index = (models / "index.md").read_text(encoding="utf-8")
    pages = [page.name for page in models.glob("*.md") if page.name != "index.md"]
    assert [name for name in pages if f"]({name})" not in index] == []
