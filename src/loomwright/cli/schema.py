"""`loomwright schema`: the JSON Schema of a circuit file or a job file."""

from __future__ import annotations

import click

from loomwright.cli import show
from loomwright.cli.options import json_option
from loomwright.service import bench

__all__ = ["command"]


@click.command("schema", short_help="Print the JSON Schema of a circuit file or a job file.")
@click.option("--job", "of_job", is_flag=True, help="That of a job file, as 'job export' has it.")
@json_option
def command(of_job: bool, as_json: bool) -> None:
    """Print the JSON Schema of a circuit file, for editors that check while one types."""
    if of_job:
        from loomwright.service.job_transfer import job_file_schema

        show.emit_json(job_file_schema())
        return
    show.emit_json(bench.schema())
