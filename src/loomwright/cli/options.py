"""Options that every command shares."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any

import click

from loomwright.errors import UsageError

__all__ = [
    "circuit_file", "data_option", "debug_option", "fault_option", "force_option",
    "json_option", "keep_input", "large_option", "output_option", "state_option",
]

Command = Callable[..., Any]


def json_option(command: Command) -> Command:
    """Add `--json`, the stable output for machines, and `--debug`."""
    option = click.option(
        "--json", "as_json", is_flag=True, help="Print JSON for machines (errors too)."
    )
    return option(debug_option(command))


def debug_option(command: Command) -> Command:
    """Add `--debug`; `loomwright.cli.entry.main` looks for the word itself."""
    return click.option(
        "--debug", is_flag=True, expose_value=False, help="Show the traceback of an error."
    )(command)


def circuit_file(command: Command) -> Command:
    """Add the FILE argument: a circuit file, which the reader itself judges."""
    return click.argument("file", type=click.Path())(command)


def output_option(command: Command) -> Command:
    """Add `-o`, and `--force`, which lets it replace a file that is there already."""
    option = click.option("-o", "--output", type=click.Path(), metavar="OUT",
                          help="Write the result to this file instead of printing it.")
    return option(force_option(command))


def force_option(command: Command) -> Command:
    """Add `--force`, which lets `-o` replace a file that is there already."""
    return click.option(
        "--force", is_flag=True, help="Replace the file of -o where it is there already.")(command)


def keep_input(file: str, output: str | None) -> None:
    """Raise UsageError when what is written would replace what it is made from, even by force."""
    try:
        same = output is not None and Path(output).samefile(file)
    except (OSError, ValueError):  # one of both is not there, or has no name that can be
        same = False
    if same:
        raise UsageError(f"'{output}' would overwrite the file that was read.",
                         next_step="Name another file after -o.")


def fault_option(command: Command) -> Command:
    """Add `--fault`, which may be given several times."""
    return click.option(
        "--fault", "faults", multiple=True, metavar="ID",
        help="Insert this fault, such as open:W7 or high-resistance:W7:0.8 (ohm). Repeatable.",
    )(command)


def state_option(command: Command) -> Command:
    """Add `--state`."""
    return click.option(
        "--state", metavar="STATE", help="One state of the circuit file, such as 'locking'."
    )(command)


def large_option(command: Command) -> Command:
    """Add `--large`, which lets a circuit of any size be searched."""
    return click.option(
        "--large", is_flag=True,
        help="Search a circuit that is over the limit of size; it may take gigabytes of memory.",
    )(command)


def data_option(command: Command) -> Command:
    """Add `--data`, the folder of the jobs."""
    return click.option(
        "--data", metavar="DIR", type=click.Path(), default=None,
        help="Folder of the jobs; a folder of the user's where not given.",
    )(command)
