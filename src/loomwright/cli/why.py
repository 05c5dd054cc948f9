"""`loomwright why`: what keeps a controller's output off."""

from __future__ import annotations

import dataclasses

import click

from loomwright.cli import show
from loomwright.cli.options import circuit_file, fault_option, json_option
from loomwright.service import bench

__all__ = ["command"]


@click.command("why", short_help="Say why a controller's output is off.")
@circuit_file
@click.option("--state", required=True, metavar="STATE", help="The state, such as 'locking'.")
@click.option("--output", required=True, metavar="ECU.lock", help="The controller's output.")
@fault_option
@json_option
def command(
    file: str, state: str, output: str, faults: tuple[str, ...], as_json: bool
) -> None:
    """Say why a controller's output is off: the inputs that block it, traced to wires and parts."""
    answer = bench.why_output_off(file, state, output, faults)
    if as_json:
        show.emit_json({**dataclasses.asdict(answer), "text": answer.text()})
        return
    for line in answer.text():
        show.line(line)
