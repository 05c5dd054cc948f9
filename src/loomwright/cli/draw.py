"""`loomwright draw`: the circuit as an SVG drawing."""

from __future__ import annotations

import click

from loomwright.cli import show
from loomwright.cli.options import (
    circuit_file,
    fault_option,
    json_option,
    keep_input,
    output_option,
    state_option,
)
from loomwright.service import bench

__all__ = ["command"]


@click.command("draw", short_help="Draw the circuit as SVG.")
@circuit_file
@output_option
@state_option
@fault_option
@json_option
def command(
    file: str, output: str | None, state: str | None, faults: tuple[str, ...], as_json: bool,
    force: bool,
) -> None:
    """Draw the circuit as SVG, with the values of a state where --state is given."""
    keep_input(file, output)
    picture = bench.draw(file, state, faults)
    if output is not None:
        from loomwright.service.text_files import write_text

        write_text(output, picture, force=force)
    if as_json:
        show.emit_json({"file": output, "bytes": len(picture.encode()),
                        "svg": picture if output is None else None})
    elif output is None:
        show.line(picture)
    else:
        show.line(f"Wrote {output}.")
