"""`loomwright job`: one job as a file, out and in; its minutes and parts as a table."""

from __future__ import annotations

import dataclasses
from typing import Any

import click

from loomwright.cli import show
from loomwright.cli.options import data_option, force_option, json_option
from loomwright.service import job_transfer

__all__ = ["command"]


@click.group("job", short_help="One job as a file, out and in.",
             context_settings={"help_option_names": ["-h", "--help"]})
def command() -> None:
    """Write one job into a file, add the job of a file, or list its minutes and parts.

    Each takes `--json` and `--debug`, and has its own `--help`.
    """


def _give(text: str, output: str | None, as_json: bool, force: bool) -> None:
    """Print the result, or write it and say so."""
    if output is not None:
        job_transfer.write_text(output, text, force=force)
    if as_json:
        show.emit_json({"file": output, "text": text if output is None else None})
    elif output is None:
        click.echo(text, nl=False)
    else:
        show.line(f"Wrote {output}.")


_NUMBER = click.argument("number", type=click.IntRange(min=1))
_OUTPUT = click.option("-o", "--output", type=click.Path(), metavar="FILE",
                       help="Write the result to this file instead of printing it.")


@command.command("export", short_help="Write a whole job into one file.")
@_NUMBER
@_OUTPUT
@force_option
@data_option
@json_option
def export(number: int, output: str | None, force: bool, data: str | None, as_json: bool
           ) -> None:
    """Write job NUMBER whole, with its circuit and all that happened, as one JSON file."""
    _give(job_transfer.export_text(job_transfer.open_workshop(data), number), output, as_json,
          force)


@command.command("csv", short_help="Write minutes and parts as a table.")
@_NUMBER
@_OUTPUT
@force_option
@click.option("--separator", default="comma", metavar="WORD",
              help="comma, or semicolon with decimal commas.")
@data_option
@json_option
def table(number: int, output: str | None, force: bool, separator: str, **common: Any) -> None:
    """Write the minutes and parts of job NUMBER as a table for an accounts program.

    Minutes that were clocked and parts that were entered count; without them, those that the
    circuit file expects. The column `basis` says which.
    """
    from loomwright.service.accounts import accounts_csv

    workshop = job_transfer.open_workshop(common["data"])
    _give(accounts_csv(workshop, number, separator), output, common["as_json"],
          force)


@command.command("import", short_help="Add the job of a file.")
@click.argument("file", type=click.Path())
@data_option
@json_option
def add(file: str, data: str | None, as_json: bool) -> None:
    """Add the job in FILE under a new number, keeping who did what and when.

    A job that is here already is recognised, and only what happened since is added.
    """
    text = job_transfer.read_text(file)
    found = job_transfer.import_text(job_transfer.open_workshop(data), text, file)
    if as_json:
        show.emit_json(dataclasses.asdict(found))
    elif found.new:
        show.line(f"Added as job {found.job}, with {found.added} events.")
    elif found.added:
        show.line(f"Job {found.job} was here already; {found.added} newer events were added.")
    else:
        show.line(f"Job {found.job} was here already; there was nothing new.")
