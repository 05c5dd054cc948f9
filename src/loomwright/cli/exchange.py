"""`loomwright exchange`: circuits to and from SPICE netlists and wire lists."""

from __future__ import annotations

import click

from loomwright.cli import show
from loomwright.cli.options import circuit_file, fault_option, json_option, keep_input

__all__ = ["command"]

_OUTPUT = click.option("-o", "--output", type=click.Path(), metavar="OUT",
                       help="Write the result to this file instead of printing it.")


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
@_OUTPUT
@json_option
def to_spice(file: str, state: str, faults: tuple[str, ...], output: str | None, as_json: bool
             ) -> None:
    """Write one state of a circuit as a SPICE netlist with our laws as behavioural sources."""
    keep_input(file, output)
    from loomwright.service import templates

    _give(templates.as_spice(file, state, faults), output, as_json)


@command.command("from-spice", short_help="Read a SPICE netlist.")
@click.argument("file", type=click.Path())
@_OUTPUT
@json_option
def from_spice(file: str, output: str | None, as_json: bool) -> None:
    """Make a circuit file from a SPICE netlist, as far as a circuit file can state it.

    Exit code 1 when something could not be stated; each is shown with its line.
    """
    from loomwright.service import templates

    found = templates.from_spice(file)
    problems = [{"line": one.line, "column": one.column, "what": one.what, "fix": one.fix}
                for one in found.problems]
    _give(found.text, output, as_json, {"problems": problems})
    for one in () if as_json else found.problems:
        click.echo(one.text(file), err=True)
    if problems:
        raise click.exceptions.Exit(1)


@command.command("wires", short_help="Write the wires as a table.")
@circuit_file
@click.option("--separator", default="comma", metavar="WORD",
              help="comma, semicolon or tab; the last two write decimal commas.")
@_OUTPUT
@json_option
def to_wires(file: str, separator: str, output: str | None, as_json: bool) -> None:
    """Write a circuit's wires as a table for a spreadsheet."""
    keep_input(file, output)
    from loomwright.service import templates

    _give(templates.as_wire_list(file, separator), output, as_json)


@command.command("from-wires", short_help="Read a table of wires.")
@click.argument("file", type=click.Path())
@click.option("--into", type=click.Path(), metavar="CIRCUIT",
              help="A circuit file whose wires are replaced; it is not changed itself.")
@_OUTPUT
@json_option
def from_wires(file: str, into: str | None, output: str | None, as_json: bool) -> None:
    """Print a circuit file with the wires of a table: comma, semicolon, bar or tab separated."""
    from loomwright.service import templates

    _give(templates.from_wire_list(file, into).text, output, as_json)


def _give(text: str, output: str | None, as_json: bool, more: dict[str, object] | None = None
          ) -> None:
    """Print the result, or write it and say so."""
    if output is not None:
        from loomwright.service import templates

        templates.write_file(output, text)
    if as_json:
        show.emit_json({"file": output, "text": text if output is None else None, **(more or {})})
    elif output is None:
        click.echo(text, nl=False)
    else:
        show.line(f"Wrote {output}.")
