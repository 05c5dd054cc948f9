"""`loomwright job`: jobs listed, the verdict of one, one as a file, its minutes as a table."""

from __future__ import annotations

import dataclasses
from typing import Any

import click

from loomwright.cli import show
from loomwright.cli.options import data_option, json_option, output_option
from loomwright.service import job_transfer
from loomwright.service.text_files import read_text

__all__ = ["command"]


@click.group("job", short_help="List jobs; one as a file, out and in.",
             context_settings={"help_option_names": ["-h", "--help"]})
def command() -> None:
    """List jobs, give the verdict of one, write one into a file or add it from there.

    Each takes `--json` and `--debug`, and has its own `--help`.
    """


_NUMBER = click.argument("number", type=click.IntRange(min=1))


@command.command("list", short_help="List the jobs.")
@click.argument("words", nargs=-1)
@data_option
@json_option
def listed(words: tuple[str, ...], data: str | None, as_json: bool) -> None:
    """List the jobs, newest first; with WORDS those that have them all.

    The search is that of the job list: plate, part of a VIN, customer, complaint, repair, part.
    """
    from loomwright.service.job_transfer import job_rows

    rows = job_rows(job_transfer.open_workshop(data, new=False), " ".join(words))
    if as_json:
        show.emit_json([dataclasses.asdict(one) for one in rows])
    elif not rows:
        show.line("No job has these words." if words else "There is no job yet.")
    else:
        show.table(("number>", "vehicle", "plate", "complaint", "state", "readings>", "last"), [
            (str(one.id), one.vehicle, one.plate, one.complaint, one.state, str(one.readings),
             one.last_at[:10]) for one in rows])


@command.command("verdict", short_help="Say what a job's readings say, now or then.")
@_NUMBER
@click.option("--until", type=click.IntRange(min=0), metavar="EVENT",
              help="Count events up to this one only; the history of the job numbers them.")
@data_option
@json_option
def verdict(number: int, until: int | None, data: str | None, as_json: bool) -> None:
    """Say which faults explain the readings of job NUMBER, what to measure next, and the verdict.

    The same events give the same answer, byte for byte; --until gives one of before.
    """
    from loomwright.cli.diagnosis_text import diagnosis_json, print_diagnosis

    workshop = job_transfer.open_workshop(data, new=False)
    found = workshop.diagnosis(number, until)
    if as_json:
        show.emit_json(diagnosis_json(found))
    else:
        print_diagnosis(found, repaired=workshop.opened(number, until)[1].proving)


@command.command("export", short_help="Write a whole job into one file.")
@_NUMBER
@output_option
@data_option
@json_option
def export(number: int, data: str | None, **told: Any) -> None:
    """Write job NUMBER whole, with its circuit and all that happened, as one JSON file."""
    workshop = job_transfer.open_workshop(data, new=False)
    show.give(job_transfer.export_text(workshop, number), {**told, "private": True})


@command.command("csv", short_help="Write minutes and parts as a table.")
@_NUMBER
@output_option
@click.option("--separator", default="comma", metavar="WORD",
              help="comma, or semicolon with decimal commas.")
@data_option
@json_option
def table(number: int, separator: str, data: str | None, **told: Any) -> None:
    """Write the minutes and parts of job NUMBER as a table for an accounts program.

    Minutes that were clocked and parts that were entered count; without them, those that the
    circuit file expects. The column `basis` says which.
    """
    from loomwright.service.accounts import accounts_csv

    workshop = job_transfer.open_workshop(data, new=False)
    show.give(accounts_csv(workshop, number, separator), {**told, "private": True})


@command.command("import", short_help="Add the job of a file.")
@click.argument("file", type=click.Path())
@data_option
@json_option
def add(file: str, data: str | None, as_json: bool) -> None:
    """Add the job in FILE under a new number, keeping who did what and when.

    A job that is here already is recognised, and only what happened since is added.
    """
    text = read_text(file)
    workshop = job_transfer.open_workshop(data)
    found = job_transfer.import_text(workshop, text, file, by="command line")
    if as_json:
        show.emit_json(dataclasses.asdict(found))
    elif found.new:
        show.line(f"Added as job {found.job}, with {found.added} events.")
    elif found.added:
        show.line(f"Job {found.job} was here already; {found.added} newer events were added.")
    else:
        show.line(f"Job {found.job} was here already; there was nothing new.")
