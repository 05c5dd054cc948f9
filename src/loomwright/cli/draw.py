"""`loomwright draw`: the circuit as an SVG drawing."""

from __future__ import annotations

from pathlib import Path

import click

from loomwright.cli import show
from loomwright.cli.options import (
    circuit_file,
    fault_option,
    json_option,
    keep_input,
    state_option,
)
from loomwright.errors import UsageError
from loomwright.service import bench

__all__ = ["command"]


@click.command("draw", short_help="Draw the circuit as SVG.")
@circuit_file
@click.option("-o", "--output", type=click.Path(), metavar="OUT.svg",
              help="Write the drawing to this file instead of printing it.")
@state_option
@fault_option
@json_option
def command(
    file: str, output: str | None, state: str | None, faults: tuple[str, ...], as_json: bool
) -> None:
    """Draw the circuit as SVG, with the values of a state where --state is given."""
    keep_input(file, output)
    picture = bench.draw(file, state, faults)
    if output is not None:
        _write(Path(output), picture)
    if as_json:
        show.emit_json({"file": output, "bytes": len(picture.encode()),
                        "svg": picture if output is None else None})
    elif output is None:
        show.line(picture)
    else:
        show.line(f"Wrote {output}.")


def _write(target: Path, picture: str) -> None:
    """Write the drawing, or say why that is not possible."""
    try:
        target.write_text(picture, encoding="utf-8")
    except OSError as error:
        raise UsageError(f"'{target}' cannot be written: {error.strerror}.",
                         next_step="Name a file in a folder that exists and is yours.") from error
