"""docs/cli.md is written by a tool and is current."""

import importlib.util
from pathlib import Path

from loomwright.cli.entry import COMMANDS

REPOSITORY = Path(__file__).parents[2]
TOOL = REPOSITORY / "tools" / "build_cli_reference.py"


def _tool():
    spec = importlib.util.spec_from_file_location("build_cli_reference", TOOL)
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


def test_the_page_is_current():
    tool = _tool()
    assert tool.PAGE.read_text(encoding="utf-8") == tool.reference(), (
        "run: python tools/build_cli_reference.py")


def test_every_command_is_on_the_page():
    page = (REPOSITORY / "docs" / "cli.md").read_text(encoding="utf-8")
    assert all(f"## loomwright {name}\n" in page for name in COMMANDS)
