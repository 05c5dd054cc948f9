"""`loomwright learn`: count closed jobs, merge counts, and show what they do to the priors."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from loomwright.cli import show
from loomwright.cli.options import force_option, json_option

if TYPE_CHECKING:
    from loomwright.service.learning import Learned

__all__ = ["command"]


@click.command("learn", short_help="Count closed jobs, merge counts, show the learned priors.")
@click.argument("files", nargs=-1, type=click.Path(), metavar="[COUNTS.json]...")
@click.option("--data", default="", type=click.Path(), metavar="FOLDER",
              help="Count the proved jobs of this data folder too.")
@click.option("-o", "--out", default="", type=click.Path(), metavar="FILE",
              help="Write the counts together to this file.")
@force_option
@click.option("--circuit", default="", type=click.Path(), metavar="FILE",
              help="Show what the counts do to this circuit's priors.")
@click.option("--vehicle-class", default="", metavar="CLASS",
              help="Class of that vehicle; without it the system's volts, such as '24 V'.")
@click.option("--strength", default=50.0, show_default=True,
              help="How many jobs the circuit's own priors are worth.")
@json_option
def command(files: tuple[str, ...], out: str, force: bool, as_json: bool, **more: object) -> None:
    """Count closed jobs, merge counts of workshops, and show what they do to the priors.

    Counts hold the kind of part, the kind of fault, its place and the class of vehicle, and
    nothing of a person.
    """
    # loaded here: the commands' help stays quick
    from loomwright.service.learning import LearnQuestion, learn, save_counts

    question = LearnQuestion(
        files, str(more["data"]), str(more["circuit"]), str(more["vehicle_class"]),
        float(str(more["strength"])))
    answer = learn(question)
    if out:
        save_counts(answer.counts, Path(out), force=force)
    if as_json:
        show.emit_json(_as_json(answer))
        return
    _print(answer)


def _as_json(answer: Learned) -> dict[str, object]:
    return {
        "counts": [
            {"part_kind": one.sort.part_kind, "fault_kind": one.sort.fault_kind,
             "place": one.sort.place, "vehicle_class": one.vehicle_class, "count": count}
            for one, count in answer.counts.rows],
        "jobs_counted": answer.jobs_counted, "jobs_left_out": answer.jobs_left_out,
        "strength_jobs": answer.strength, "vehicle_class": answer.vehicle_class,
        "shares": [
            {"part_kind": one.sort.part_kind, "fault_kind": one.sort.fault_kind,
             "place": one.sort.place, "own_jobs": one.own_jobs, "other_jobs": one.other_jobs,
             "before": one.share_before, "after": one.share_after}
            for one in answer.shifts],
    }


def _print(answer: Learned) -> None:
    """Show the counts and the shares that moved to people."""
    show.line(f"{answer.counts.total} jobs in {len(answer.counts.rows)} sorts of fault; "
              f"{answer.jobs_counted} from the data folder, {answer.jobs_left_out} closed jobs "
              "there taught nothing (no proved repair).")
    for lesson, count in answer.counts.rows:
        sort = lesson.sort
        show.line(f"  {count:5} x {sort.part_kind}, {sort.fault_kind}, "
                  f"{sort.place or 'no place'}, {lesson.vehicle_class or 'no class'}")
    if not answer.shifts:
        return
    show.heading(f"Shares of faults ({answer.vehicle_class}; the circuit's own priors are worth "
                 f"{answer.strength:g} jobs)")
    for one in sorted(answer.shifts, key=lambda shift: -shift.share_after):
        if one.own_jobs or one.other_jobs:
            show.line(f"  {one.sort.part_kind}, {one.sort.fault_kind}, {one.sort.place}: "
                      f"{100 * one.share_before:.1f} % becomes {100 * one.share_after:.1f} % "
                      f"({one.own_jobs} jobs of the class, {one.other_jobs} of others)")
