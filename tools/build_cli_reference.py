"""Write docs/cli.md from the commands' own help, so that the page cannot lag behind the program.

Run `python tools/build_cli_reference.py`; with `--check` it only says whether the page is current.
"""

from __future__ import annotations

import sys
from pathlib import Path

import click

from loomwright.cli.entry import COMMANDS, commands

__all__ = ["PAGE", "reference"]

PAGE = Path(__file__).parents[1] / "docs" / "cli.md"
OPENING = """# Commands

This page is written by `tools/build_cli_reference.py` from the commands' own help; change that.

Every command takes `--json`, which prints one JSON value on stdout and nothing else there, and
`--debug`, which adds the traceback of an error on stderr.

| exit code | meaning |
|---|---|
| 0 | done |
| 1 | a finding: the command did its work and something is not as it should be |
| 2 | bad input: the message says where, what and the next step |
| 3 | a bug in Loomwright |
| 130 | stopped with Ctrl-C |

Exit code 1 is given by `expect` when a circuit without inserted faults does not do what its
`should` lines say, by `demo` when the hidden fault was not found and proved, by `template` when
with the values given a fuse blows or a state does not do what it should, and by
`exchange from-spice` when something could not be stated. `suspects` gives 0 whenever it gave an
answer. `check` gives 0 or 2.

An error with `--json` is
`{"error": {"code", "message", "next_step", "problems": [{"line", "column", "what", "fix"}]}}`
on stdout. Line and column count from 1; 0 means that the problem has no single place in the file.
"""


def reference() -> str:
    """Return the page."""
    with commands.make_context("loomwright", [], resilient_parsing=True) as above:
        above.max_content_width = above.terminal_width = 88
        parts = [OPENING, _block("loomwright", commands.get_help(above))]
        for name in COMMANDS:
            command = commands.get_command(above, name)
            assert command is not None
            with click.Context(command, info_name=name, parent=above) as context:
                parts.append(_block(f"loomwright {name}", command.get_help(context)))
                parts += _members(command, context)
    return "\n".join(parts)


def _members(command: click.Command, above: click.Context) -> list[str]:
    """Return the sections of a group's own commands."""
    found = []
    for name in command.list_commands(above) if isinstance(command, click.Group) else []:
        member = command.get_command(above, name)
        assert member is not None
        with click.Context(member, info_name=name, parent=above) as context:
            found.append(_block(f"loomwright {above.info_name} {name}", member.get_help(context)))
    return found


def _block(title: str, text: str) -> str:
    """Return one command's section."""
    return f"## {title}\n\n```text\n{text}\n```\n"


def main() -> int:
    """Write the page, or check it."""
    page = reference()
    if "--check" in sys.argv:
        return 0 if PAGE.read_text(encoding="utf-8") == page else 1
    PAGE.write_text(page, encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
