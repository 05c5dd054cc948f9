"""`loomwright check`: is the circuit file sound, and what was assumed."""

from __future__ import annotations

import click

from loomwright.cli import show
from loomwright.cli.options import circuit_file, json_option
from loomwright.service import bench

__all__ = ["command"]


@click.command("check", short_help="Validate a circuit file and list what is assumed.")
@circuit_file
@json_option
def command(file: str, as_json: bool) -> None:
    """Validate a circuit file: every problem with its line and column, and what is assumed.

    Exit code 0 when the file is sound, 2 when it has problems.
    """
    report = bench.check_circuit(file)
    circuit = report.circuit
    if as_json:
        show.emit_json({
            "file": file, "title": circuit.title, "system_v": circuit.system_v,
            "parts": len(circuit.parts), "wires": len(circuit.wires),
            "states": list(circuit.states),
            "assumed": [{"element": one.element, "what": one.what, "text": one.text}
                        for one in report.assumed],
            "notes": list(report.notes), "problems": [],
        })
        return
    show.line(f"{circuit.title}: {circuit.system_v:g} V, {_count(len(circuit.parts), 'part')}, "
              f"{_count(len(circuit.wires), 'wire')}, {_count(len(circuit.states), 'state')}. "
              "No problems found.")
    for note in report.notes:
        show.line(f"note: {note}")
    for one in report.assumed:
        show.line(f"assumed: {one.text}")


def _count(number: int, what: str) -> str:
    return f"{number} {what}{'' if number == 1 else 's'}"
