"""`loomwright suspects`: which faults explain the readings, and what to measure next."""

from __future__ import annotations

import dataclasses
from pathlib import Path

import click

from loomwright.cli import show
from loomwright.cli.diagnosis_text import diagnosis_json, print_diagnosis, print_readings
from loomwright.cli.options import circuit_file, json_option, large_option
from loomwright.service import bench
from loomwright.service.bench import SuspectsAnswer
from loomwright.service.table_cache import cache_folder

__all__ = ["command"]


@click.command(
    "suspects", short_help="Say which faults explain the readings, and what to measure next."
)
@circuit_file
@click.option("--readings", required=True, type=click.Path(), metavar="R.yaml",
              help="The readings taken: a list of {state, quantity, at, to, value, instrument}.")
@click.option("--next", "next_count", default=5, show_default=True, type=click.IntRange(0, 50),
              help="How many next checks to give.")
@click.option("--explain", is_flag=True, help="With --json, add what each reading says.")
@click.option("--learned", default="", type=click.Path(), metavar="FILE",
              help="Counts of closed jobs that move the priors, or a data folder that has them.")
@click.option("--strength", default=50.0, show_default=True, metavar="JOBS",
              help="How many jobs the circuit's own priors are worth beside them.")
@click.option("--no-cache", is_flag=True,
              help="Neither use nor keep predictions of this circuit between two starts.")
@large_option
@json_option
def command(file: str, readings: str, next_count: int, explain: bool, as_json: bool,
            **more: object) -> None:
    """Say which faults explain the readings, what to measure next, and what the verdict is."""
    learned = None
    if more["learned"]:
        # loaded here: without it the command starts quicker
        from loomwright.service.learning import LearnedFrom

        learned = LearnedFrom.at(Path(str(more["learned"])), float(str(more["strength"])))
    folder = None if more["no_cache"] else cache_folder()
    answer = bench.suspects(file, readings, next_count, learned, folder, bool(more["large"]))
    if as_json:
        shape = diagnosis_json(answer.diagnosis)
        if explain:
            shape["readings"] = _explanation(answer)
            shape["clues"] = [dataclasses.asdict(one) for one in answer.diagnosis.clues]
            shape["led_to"] = [dataclasses.asdict(one) for one in answer.led_to]
        show.emit_json(shape)
        return
    show.line(answer.circuit.title)
    if learned is not None:
        show.line(learned.words)
    print_readings(answer.evidence, answer.diagnosis)
    print_diagnosis(answer.diagnosis, answer.led_to)


def _explanation(answer: SuspectsAnswer) -> list[dict[str, object]]:
    """Return what each reading says, in the order of the readings file."""
    shown: list[dict[str, object]] = []
    for one in answer.diagnosis.explanation:
        taken = answer.evidence[one.index]
        shown.append({
            "state": taken.check.state, "quantity": taken.check.quantity, "at": taken.check.at,
            "to": taken.check.to, "value": taken.value, "unit": taken.check.unit,
            "expected_if_healthy": one.expected_if_healthy,
            "for_first_bits": one.for_first_bits, "verdict_without": one.verdict_without,
            "text": one.text})
    return shown
