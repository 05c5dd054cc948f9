"""`loomwright estimate`: minutes and money to find and mend, before the customer says yes."""

from __future__ import annotations

import dataclasses
from typing import TYPE_CHECKING

import click

from loomwright.cli import show
from loomwright.cli.options import circuit_file, json_option, large_option

if TYPE_CHECKING:
    from loomwright.service.estimate import EstimateAnswer

__all__ = ["command"]


@click.command("estimate", short_help="Say what finding and mending will take.")
@circuit_file
@click.option("--readings", required=True, type=click.Path(), metavar="R.yaml",
              help="The readings taken so far, the complaint at least.")
@click.option("--rate", metavar="MONEY/h", help="Labour rate, such as 90/h or 1.5/min.")
@click.option("--counts", default="", type=click.Path(), metavar="C.json",
              help="Counts of closed jobs that move the priors (see 'loomwright learn').")
@click.option("--vehicle-class", default="", metavar="CLASS", help="Its class in the counts.")
@click.option("--episodes", default=200, show_default=True, type=click.IntRange(1, 100_000),
              help="Jobs to play through.")
@click.option("--seconds", default=20.0, show_default=True, type=click.FloatRange(0.1, 3600.0),
              help="Begin no more of them after this long; 20 are always played.")
@click.option("--seed", default=1, show_default=True, type=click.IntRange(0, 2**31))
@large_option
@json_option
def command(file: str, readings: str, rate: str | None, as_json: bool, **more: object) -> None:
    """Say how many minutes and how much money it takes to find the fault and mend it.

    The job is played through many times, with the fault drawn from what the readings leave
    possible. Beside it: the cost of changing parts, the likeliest first.
    """
    from loomwright.diagnosis.estimate import Bounds

    # loaded here: the commands' help stays quick
    from loomwright.service.estimate import EstimateQuestion, estimate_job, rate_per_min

    question = EstimateQuestion(
        file, readings, None if rate is None else rate_per_min(rate), str(more["counts"]),
        str(more["vehicle_class"]), bool(more["large"]))
    bounds = Bounds(int(str(more["episodes"])), float(str(more["seconds"])),
                    int(str(more["seed"])))
    answer = estimate_job(question, bounds)
    if as_json:
        show.emit_json(dataclasses.asdict(answer.estimate))
        return
    _print(answer)


def _print(answer: EstimateAnswer) -> None:
    """Show the estimate to people."""
    found = answer.estimate
    show.line(answer.circuit.title)
    show.line(f"{found.episodes} of {found.asked_episodes} jobs played through, labour "
              f"{60 * found.rate_per_min:g} an hour.")
    rows = [
        ("checks alone, minutes", found.check_min),
        ("test first, minutes", found.test_first_min),
        ("test first, money", found.test_first_money),
        ("swap parts, minutes", found.swap_first_min),
        ("swap parts, money", found.swap_first_money),
    ]
    show.heading("To find and mend")
    for name, spread in rows:
        show.line(f"  {name:24} half of such jobs {spread.p50:7.0f}, nine of ten {spread.p90:7.0f}")
    show.line(f"  parts changed in vain: {found.wrong_parts:.2f} testing first, "
              f"{found.swap_wrong_parts:.2f} swapping")
    show.heading("Where to stop and ask")
    for point in found.stop_points:
        after = ("not within the bounds" if point.minutes is None else
                 f"after {point.minutes:.0f} minutes of checks ({point.money:.0f} in labour)")
        show.line(f"  {100 * point.share:.0f} % are found {after}")
    show.line(f"  {100 * found.handed_on:.0f} % end without a repair to advise.")
