"""`loomwright backup`: all jobs in one file, made while they are in use."""

from __future__ import annotations

import click

from loomwright.cli import show
from loomwright.cli.options import data_option, json_option
from loomwright.service import safekeeping

__all__ = ["command"]


@click.command("backup", short_help="Keep all jobs in one file.")
@click.argument("file", type=click.Path())
@data_option
@json_option
def command(file: str, data: str | None, as_json: bool) -> None:
    """Write all jobs, with what belongs to them, into FILE; people may go on working.

    The file holds names of customers and of who measured what: keep it as safe as the jobs.
    """
    kept = safekeeping.backup(file, data)
    if as_json:
        show.emit_json({"file": str(kept.path), "jobs": kept.jobs, "files": kept.files,
                        "bytes": kept.size})
    else:
        show.line(f"Wrote {kept.path}: {kept.jobs} jobs, {kept.size / 1e6:.2f} MB.")
