"""`loomwright demo`: the whole job on the demo depot's refuse truck, in the terminal."""

from __future__ import annotations

import click

from loomwright.cli import show
from loomwright.cli.diagnosis_text import check_text, print_suspects, verdict_sentence
from loomwright.cli.options import json_option
from loomwright.service import walkthrough
from loomwright.service.walkthrough import Step, Walk

__all__ = ["command"]

FINDING = 1
SHOWN_SUSPECTS = 3


@click.command("demo", short_help="Follow one job from complaint to proof.")
@click.option("--fault", metavar="ID", help="Hide this fault instead of the demo's own.")
@click.option("--seed", type=int, help="Seed of the meter's error; the same seed, the same job.")
@click.option("--job", default="", metavar="NAME",
              help="Another job of the depot, such as truck-4; the first where not given.")
@json_option
@click.pass_context
def command(
    ctx: click.Context, fault: str | None, seed: int | None, job: str, as_json: bool
) -> None:
    """Follow one job from complaint to proof on a truck with a hidden fault.

    The truck is the demo depot's; each reading is computed from the faulty circuit with a meter's
    error, each next check is the engine's own choice. Exit code 1 when the fault was not found and
    its repair proved.
    """
    walk = walkthrough.demo_walk(fault, seed, job)
    if as_json:
        show.emit_json(_as_json(walk))
    else:
        _print(walk)
    if not walk.proved:
        ctx.exit(FINDING)


def _as_json(walk: Walk) -> dict[str, object]:
    """Return the finished job."""
    verdict = walk.diagnosis.verdict
    last = walk.repairs[-1].proof if walk.repairs else None
    return {
        "title": walk.title, "vehicle": walk.vehicle, "seed": walk.seed,
        "hidden_fault": walk.hidden_fault,
        "complaint": walk.complaint, "cause": walk.cause,
        "correction": [one.repair.text for one in walk.repairs],
        "proved": walk.proved, "minutes": walk.minutes,
        "evidence": [_step_json(step) for step in walk.steps],
        "verdict": {"status": verdict.status, "repair": verdict.repair,
                    "confidence": verdict.confidence, "why": verdict.why},
        "proof": None if last is None else
        {"holds": last.holds, "why": last.why, "failed": list(last.failed)},
    }


def _step_json(step: Step) -> dict[str, object]:
    """Return one reading of the job."""
    check = step.evidence.check
    believed = step.diagnosis.suspects[:SHOWN_SUSPECTS] if step.diagnosis else ()
    return {
        "stage": step.stage, "state": check.state, "quantity": check.quantity, "at": check.at,
        "to": check.to, "instrument": check.instrument, "value": step.evidence.value,
        "unit": check.unit, "minutes": step.minutes,
        "suspects": [{"id": one.id, "probability": one.probability} for one in believed],
    }


def _print(walk: Walk) -> None:
    """Print the job as it went, then its record."""
    show.line(f"Skerry Point depot. {walk.vehicle}. {walk.title}.")
    show.line(f"Complaint: {walk.complaint}")
    for caution in walk.cautions:
        show.line(f"Caution: {caution}")
    for number, step in enumerate(walk.steps, 1):
        if step.stage != "proof":
            _print_step(number, step)
    # After a repair that failed the suspects are those of now.
    print_suspects(walk.diagnosis,
                   repaired=bool(walk.repairs) and not walk.repairs[-1].proof.failed)
    show.heading("Verdict")
    show.line(verdict_sentence(walk.diagnosis))
    show.heading("Record")
    show.line(f"Complaint   {walk.complaint}")
    show.line(f"Cause       {walk.cause}")
    for done in walk.repairs:
        held = "proved" if done.proof.holds else "did not hold"
        show.line(f"Correction  {done.repair.text} ({held}). {done.proof.why}")
    show.line(f"Time        {walk.minutes:.0f} min with reach, set-up and repair")
    show.table(("", "evidence", "read>", "min>"), (
        (step.stage, check_text(step.evidence.check), _value(step), f"{step.minutes:.1f}")
        for step in walk.steps))
    show.line(f"The hidden fault was {walk.hidden_fault} (seed {walk.seed}).")


def _print_step(number: int, step: Step) -> None:
    """Print one reading and what is believed after it."""
    show.heading(f"{number}. {check_text(step.evidence.check)}: {_value(step)}")
    believed = step.diagnosis.suspects[:SHOWN_SUSPECTS] if step.diagnosis else ()
    shown = ", ".join(f"{one.id} {100 * one.probability:.1f} %" for one in believed)
    show.line(f"   {step.minutes:.1f} min; suspects now: {shown or 'none'}")


def _value(step: Step) -> str:
    return show.value_text(step.evidence.value, step.evidence.check.unit)
