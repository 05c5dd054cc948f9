"""`loomwright schema`: the JSON Schema of a circuit file."""

from __future__ import annotations

import click

from loomwright.cli import show
from loomwright.cli.options import json_option
from loomwright.service import bench

__all__ = ["command"]


@click.command("schema", short_help="Print the JSON Schema of a circuit file.")
@json_option
def command(as_json: bool) -> None:
    """Print the JSON Schema of a circuit file, for editors that check while one types."""
    show.emit_json(bench.schema())
