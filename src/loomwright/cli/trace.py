"""`loomwright trace`: where the loose wires of a partly known circuit end."""

from __future__ import annotations

import click

from loomwright.cli import show
from loomwright.cli.diagnosis_text import check_text
from loomwright.cli.options import circuit_file, json_option, large_option
from loomwright.service import growing
from loomwright.service.growing import Growth

__all__ = ["command"]


@click.command("trace", short_help="Say where wires of unknown destination end, by readings.")
@circuit_file
@click.option("--readings", default="", type=click.Path(), metavar="R.yaml",
              help="The readings taken: volts, continuity, ohms, a clamp on the wire, a look.")
@click.option("--next", "next_count", default=5, show_default=True, type=click.IntRange(0, 50),
              help="How many next readings to give.")
@large_option
@json_option
def command(file: str, readings: str, next_count: int, as_json: bool, large: bool) -> None:
    """Say where wires of unknown destination end, and what to measure next.

    Give 'unknown' as the far end of a wire in the circuit file. Ends that no reading tells apart
    are named together; what cannot be concluded is said. The lines given go into the wire list.
    Of a wire of unknown length the volts across it under current tell how long it is.
    """
    answer = growing.trace_ends(file, readings, next_count, large=large)
    if as_json:
        show.emit_json(_as_json(answer))
        return
    show.line(answer.circuit.title)
    if answer.ends:
        show.heading("Loose ends")
    for one in answer.ends:
        show.line(f"  {one.text}")
    if answer.lengths:
        show.heading("Lengths")
    for length in answer.lengths:
        show.line(f"  {length.text}")
    measured = {one.wire: one.line_to_write for one in answer.lengths if one.line_to_write}
    written = [one.line_to_write for one in answer.ends
               if one.line_to_write and one.wire not in measured] + list(measured.values())
    if written:
        show.heading("For the wire list")
        for entry in written:
            show.line(f"  {entry}")
    if answer.next_readings:
        show.heading("Next readings")
        show.table(("min>", "reading", "place", "bits>"), (
            (f"{one.minutes:.1f}", check_text(one.check), one.check.place, f"{one.bits:.2f}")
            for one in answer.next_readings))
    show.heading("Notes")
    for note in answer.notes:
        show.line(f"  {note}")


def _as_json(answer: Growth) -> dict[str, object]:
    """Return the answer in the shape of docs/json.md."""
    return {
        "ends": [
            {"wire": one.wire, "from": one.start, "status": one.status,
             "destinations": [{"lines": [list(line) for line in found.lines],
                               "in_the_air": found.in_the_air,
                               "probability": found.probability} for found in one.destinations],
             "text": one.text, "line_to_write": one.line_to_write} for one in answer.ends],
        "next_readings": [
            {"state": one.check.state, "quantity": one.check.quantity, "at": one.check.at,
             "to": one.check.to, "instrument": one.check.instrument, "minutes": one.minutes,
             "bits": one.bits} for one in answer.next_readings],
        "lengths": [
            {"wire": one.wire, "length_m": one.length_m,
             "range_m": None if one.length_m is None else [one.least_m, one.most_m],
             "text": one.text, "line_to_write": one.line_to_write} for one in answer.lengths],
        "unexplained": answer.unexplained,
        "notes": list(answer.notes),
    }
