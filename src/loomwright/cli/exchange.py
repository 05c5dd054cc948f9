"""`loomwright exchange`: circuits to and from SPICE netlists and wire lists."""

from __future__ import annotations

from typing import Any

import click

from loomwright.cli import show
from loomwright.cli.options import (
    circuit_file,
    fault_option,
    json_option,
    keep_input,
    output_option,
)

__all__ = ["command"]


@click.group("exchange", short_help="SPICE netlists and wire lists, out and in.",
             context_settings={"help_option_names": ["-h", "--help"]})
def command() -> None:
    """Write a circuit as a SPICE netlist or wire list, or read one.

    Each of the four takes `--json` and `--debug`, and has its own `--help`.
    """


@command.command("spice", short_help="Write one state as a SPICE netlist.")
@circuit_file
@click.option("--state", required=True, metavar="STATE", help="A state of the circuit file.")
@fault_option
@output_option
@json_option
def to_spice(file: str, state: str, faults: tuple[str, ...], **told: Any) -> None:
    """Write one state of a circuit as a SPICE netlist with our laws as behavioural sources."""
    keep_input(file, told["output"])
    from loomwright.service import templates

    show.give(templates.as_spice(file, state, faults), told)


@command.command("from-spice", short_help="Read a SPICE netlist.")
@click.argument("file", type=click.Path())
@output_option
@json_option
def from_spice(file: str, **told: Any) -> None:
    """Make a circuit file from a SPICE netlist, as far as a circuit file can state it.

    Exit code 1 when something could not be stated; each is shown with its line.
    """
    keep_input(file, told["output"])
    from loomwright.service import templates

    found = templates.from_spice(file)
    problems = [{"line": one.line, "column": one.column, "what": one.what, "fix": one.fix}
                for one in found.problems]
    show.give(found.text, told, {"problems": problems})
    for one in () if told["as_json"] else found.problems:
        click.echo(one.text(file), err=True)
    if problems:
        raise click.exceptions.Exit(1)


@command.command("wires", short_help="Write the wires as a table.")
@circuit_file
@click.option("--separator", default="comma", metavar="WORD",
              help="comma, semicolon or tab; the last two write decimal commas.")
@output_option
@json_option
def to_wires(file: str, separator: str, **told: Any) -> None:
    """Write a circuit's wires as a table for a spreadsheet."""
    keep_input(file, told["output"])
    from loomwright.service import templates

    show.give(templates.as_wire_list(file, separator), told)


@command.command("from-wires", short_help="Read a table of wires.")
@click.argument("file", type=click.Path())
@click.option("--into", type=click.Path(), metavar="CIRCUIT",
              help="A circuit file whose wires are replaced; it is not changed itself.")
@output_option
@json_option
def from_wires(file: str, into: str | None, **told: Any) -> None:
    """Print a circuit file with the wires of a table: comma, semicolon, bar or tab separated."""
    for one in filter(None, (file, into)):
        keep_input(one, told["output"])
    from loomwright.service import templates

    show.give(templates.from_wire_list(file, into).text, told)
