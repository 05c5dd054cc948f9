"""`loomwright restore`: a backup put into a data folder."""

from __future__ import annotations

import click

from loomwright.cli import show
from loomwright.cli.options import json_option
from loomwright.service import safekeeping

__all__ = ["command"]


@click.command("restore", short_help="Put a backup into a folder.")
@click.argument("file", type=click.Path())
@click.option("--data", metavar="DIR", type=click.Path(), required=True,
              help="Folder to restore to; new or empty.")
@click.option("--force", is_flag=True,
              help="Take a folder that is not empty; it is renamed first, and kept.")
@json_option
def command(file: str, data: str, force: bool, as_json: bool) -> None:
    """Check FILE, a backup, and put its jobs into a folder. Stop the program there first.

    Nothing is touched where the file is damaged, was changed, or is no backup.
    """
    kept = safekeeping.restore(file, data, force=force)
    aside = None if kept.set_aside is None else str(kept.set_aside)
    if as_json:
        show.emit_json({"folder": str(kept.path), "jobs": kept.jobs, "files": kept.files,
                        "bytes": kept.size, "set_aside": aside})
        return
    show.line(f"Restored {kept.jobs} jobs to {kept.path}.")
    if aside:
        show.line(f"What was there is kept in {aside}.")
