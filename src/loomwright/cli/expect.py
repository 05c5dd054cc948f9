"""`loomwright expect`: what every point, wire and part should read."""

from __future__ import annotations

from typing import Any

import click

from loomwright.cli import sequence_text, show
from loomwright.cli.options import circuit_file, fault_option, json_option, state_option
from loomwright.service import bench
from loomwright.service.bench import Expectation

__all__ = ["command"]

FINDING = 1


@click.command("expect", short_help="Print what every point, wire and part should read.")
@circuit_file
@state_option
@fault_option
@click.option("--sequence", metavar="NAME", help="Run a sequence of the file: a table of times.")
@click.option("--detail", is_flag=True,
              help="With --json: history, chatter and what opens, as data too.")
@json_option
@click.pass_context
def command(ctx: click.Context, /, file: str, as_json: bool, **wanted: Any) -> None:
    """Print what every point, wire and part should read, in one state or in all.

    Volts are against the battery negative post, as a 10 Mohm meter shows them. Exit code 1 when a
    circuit without inserted faults does not do what its 'should' lines say.

    With --sequence: what each load does over the steps of a sequence, with timers and flashers.
    """
    faults: tuple[str, ...] = wanted["faults"]
    if wanted["sequence"] is not None:
        if wanted["state"] is not None:
            raise click.UsageError("A sequence has its own states: leave --state out.", ctx)
        sequence_text.show_sequence(bench.expect_sequence(file, wanted["sequence"], faults),
                                    as_json=as_json)
        return
    answer = bench.expect(file, wanted["state"], faults)
    if as_json:
        states = {name: _as_json(answer, name) for name in answer.states}
        details = {name: _detail(answer, name) for name in answer.states}
        show.emit_json({"states": states, **({"details": details} if wanted["detail"] else {})})
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
        "notes": list(answer.notes(name)),
    }


def _detail(answer: Expectation, name: str) -> dict[str, object]:
    """Return what a state does beyond its resting point."""
    found = answer.behaviour[name]
    return {
        "other_rest": None if found.rest is None else {
            "holds": list(found.rest.holds), "lets_go": list(found.rest.lets_go),
            "parts": {part: {"from_rest": doing[0], "held": doing[1]}
                      for part, doing in found.rest.parts.items()}},
        "chatter": [{"relay": one.relay, "unit": one.unit, "pull_in": one.pull_in,
                     "drop_out": one.drop_out, "while_out": one.while_out,
                     "while_in": one.while_in}
                    for one in found.chatter if not isinstance(one, str)],
        "openings": [{"part": one.part, "kind": one.kind, "rating_a": one.rating_a,
                      "amps": one.amps, "time_s": one.time and {
                          "least": one.time.least_s, "most": one.time.most_s},
                      "table": one.time.table if one.time else "",
                      "grade": one.time.grade if one.time else ""}
                     for one in found.openings],
    }


def _print(answer: Expectation, name: str) -> None:
    """Print a state for people."""
    result = answer.states[name]
    show.heading(f"State: {name}")
    for note in answer.notes(name):
        show.line(f"note: {note}")
    show.table(("point", "volts>", ""), (
        (point, show.predicted(one.volts, "V"), "floating" if one.floating else "")
        for point, one in result.points.items()))
    show.table(("wire", "amps>"), (
        (wire, show.predicted(amps, "A")) for wire, amps in result.wires.items()))
    show.table(("part", "doing", "amps>"), (
        (part, one.doing, show.predicted(one.amps, "A")) for part, one in result.parts.items()))
    switched = [(f"{owner}.{item}", kind, "on" if on else "off")
                for kind, groups in (("input", result.inputs), ("output", result.outputs))
                for owner, items in groups.items() for item, on in items.items()]
    if switched:
        show.table(("controller", "", ""), switched)
