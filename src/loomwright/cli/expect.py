"""`loomwright expect`: what every point, wire and part should read."""

from __future__ import annotations

import click

from loomwright.cli import show
from loomwright.cli.options import circuit_file, fault_option, json_option, state_option
from loomwright.service import bench
from loomwright.service.bench import Expectation

__all__ = ["command"]

FINDING = 1


@click.command("expect", short_help="Print what every point, wire and part should read.")
@circuit_file
@state_option
@fault_option
@json_option
@click.pass_context
def command(
    ctx: click.Context, file: str, state: str | None, faults: tuple[str, ...], as_json: bool
) -> None:
    """Print what every point, wire and part should read, in one state or in all.

    Volts are against the battery negative post, as a 10 Mohm meter shows them. Exit code 1 when a
    circuit without inserted faults does not do what its 'should' lines say.
    """
    answer = bench.expect(file, state, faults)
    if as_json:
        show.emit_json({"states": {name: _as_json(answer, name) for name in answer.states}})
    else:
        for name in answer.states:
            _print(answer, name)
    if answer.finding:
        ctx.exit(FINDING)


def _as_json(answer: Expectation, name: str) -> dict[str, object]:
    """Return a state in the shape of the contract."""
    result = answer.states[name]
    return {
        "points": {name: {"volts": one.volts, "floating": one.floating}
                   for name, one in result.points.items()},
        "wires": {name: {"amps": amps} for name, amps in result.wires.items()},
        "parts": {name: {"doing": one.doing, "amps": one.amps}
                  for name, one in result.parts.items()},
        "inputs": {name: dict(inputs) for name, inputs in result.inputs.items()},
        "outputs": {name: dict(outputs) for name, outputs in result.outputs.items()},
        "notes": [*result.notes, *answer.unmet[name]],
    }


def _print(answer: Expectation, name: str) -> None:
    """Print a state for people."""
    result = answer.states[name]
    show.heading(f"State: {name}")
    for note in (*result.notes, *answer.unmet[name]):
        show.line(f"note: {note}")
    show.table(("point", "volts>", ""), (
        (point, show.quantity(one.volts, "V"), "floating" if one.floating else "")
        for point, one in result.points.items()))
    show.table(("wire", "amps>"), (
        (wire, show.quantity(amps, "A")) for wire, amps in result.wires.items()))
    show.table(("part", "doing", "amps>"), (
        (part, one.doing, show.quantity(one.amps, "A")) for part, one in result.parts.items()))
    switched = [(f"{owner}.{item}", kind, "on" if on else "off")
                for kind, groups in (("input", result.inputs), ("output", result.outputs))
                for owner, items in groups.items() for item, on in items.items()]
    if switched:
        show.table(("controller", "", ""), switched)
