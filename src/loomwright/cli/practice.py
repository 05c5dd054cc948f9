"""`loomwright practice`: hidden faults to find with a virtual meter."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import Any

import click

from loomwright.cli import show
from loomwright.cli.options import debug_option, json_option
from loomwright.cli.practice_text import (
    print_circuits,
    print_exercise,
    print_progress,
    print_reading,
    print_result,
    print_sheet,
)
from loomwright.errors import UsageError
from loomwright.service.practice import Asked, Practice
from loomwright.service.practice_answers import circuit_named, open_practice, play, read_answers
from loomwright.service.practice_view import PracticeView

__all__ = ["command"]

FINDING = 1
WHO = "apprentice"
_DATA = click.option("--data", metavar="DIR", type=click.Path(), default=None,
                     help="Data folder; a folder of the user's where not given.")
_WHO = click.option("--who", default=WHO, show_default=True, metavar="NAME",
                    help="Who is practising.")


@dataclass(frozen=True, slots=True)
class _Chosen:
    """What `start` was asked for."""

    circuit: str
    level: int
    seed: int | None
    exercise: str | None
    who: str
    answers: str | None
    data: str | None
    as_json: bool


@click.group("practice", short_help="Find hidden faults with a virtual meter.",
             context_settings={"help_option_names": ["-h", "--help"]})
@debug_option
def command() -> None:
    """Find hidden faults with a virtual meter, beside the engine's own way.

    Each of the four takes `--json` and `--debug`, and has its own `--help`.
    """


@command.command("levels", short_help="List levels and circuits.")
@_DATA
@json_option
def levels(data: str | None, as_json: bool) -> None:
    """List the three levels and the circuits to practise on."""
    practice = open_practice(data)
    if as_json:
        show.emit_json({
            "levels": [dataclasses.asdict(one) for one in practice.levels()],
            "circuits": [dataclasses.asdict(one) for one in practice.circuits()]})
        return
    print_circuits(practice.levels(), practice.circuits())


@command.command("start", short_help="Start an exercise and work on it.")
@click.option("--circuit", default="horn", show_default=True, metavar="NAME",
              help="A circuit of `practice levels`, or a circuit file.")
@click.option("--level", default=1, show_default=True, type=click.IntRange(1, 3),
              help="How hard.")
@click.option("--seed", type=click.IntRange(0, 999_999), default=None,
              help="The same seed gives the same fault; drawn by chance where not given.")
@click.option("--exercise", metavar="ID", default=None,
              help="An exercise by its name, such as horn-1-7, instead of the three above.")
@_WHO
@click.option("--answers", metavar="FILE", type=click.Path(), default=None,
              help="Take readings and repair from this YAML file instead of asking.")
@_DATA
@json_option
@click.pass_context
def start(ctx: click.Context, /, **options: Any) -> None:
    """Start an exercise: predict, measure, and name the repair.

    Asks in the terminal, or takes what a file says. With --json and without --answers it only
    starts. Exit code 1 when the repair named is not the right one.
    """
    chosen = _Chosen(**options)
    practice = open_practice(chosen.data)
    answers = read_answers(chosen.answers) if chosen.answers is not None else ()
    name = practice.start(chosen.who, _drawn(practice, chosen))
    if chosen.as_json or chosen.answers is not None:
        view = play(practice, name, chosen.who, answers)
        show.emit_json(_as_json(view)) if chosen.as_json else _print_all(view)
    else:
        view = _ask(practice, name, chosen.who)
    if view.result is not None and not view.result.right:
        ctx.exit(FINDING)


def _drawn(practice: Practice, chosen: _Chosen) -> tuple[str, int, int | None]:
    if chosen.exercise is not None:
        return practice.drawn(chosen.exercise)
    return circuit_named(practice, chosen.circuit), chosen.level, chosen.seed


@command.command("progress", short_help="Show what somebody has practised.")
@_WHO
@_DATA
@json_option
def progress(who: str, data: str | None, as_json: bool) -> None:
    """Show what somebody has practised, level by level."""
    found = open_practice(data).progress(who)
    if as_json:
        show.emit_json({
            "who": found.who, "done": [dataclasses.asdict(one) for one in found.done],
            "levels": [{"level": level.number, "ended": ended, "right": right, "points": points}
                       for level, ended, right, points in found.by_level]})
        return
    print_progress(found)


@command.command("sheet", short_help="Show somebody's sign-off sheet.")
@_WHO
@_DATA
@json_option
def sheet(who: str, data: str | None, as_json: bool) -> None:
    """Show which tasks somebody's practice has shown, for a supervisor to sign."""
    found = open_practice(data).sheet(who)
    if as_json:
        show.emit_json({"who": found.who, "tasks": [
            {**dataclasses.asdict(line.task), "exercises": list(line.exercises),
             "best_level": line.best_level,
             "signed": dataclasses.asdict(line.signed) if line.signed else None}
            for line in found.lines]})
        return
    print_sheet(found)


def _as_json(view: PracticeView) -> dict[str, Any]:
    """Return an exercise as it stands; the fault is in it only once it has ended."""
    result = view.result
    return {
        "exercise": view.id, "title": view.title, "level": view.level, "who": view.who,
        "attempt": view.attempt, "complaint": list(view.complaint),
        "states": [name for name, _ in view.states], "points": list(view.names),
        "repairs": [name for name, _ in view.repairs],
        "readings": [dataclasses.asdict(one) for one in view.readings],
        "over": view.over,
        "result": None if result is None else {
            "points": result.points, "right": result.right, "fault": result.fault,
            "proved_at": result.proved_at, "sentences": list(result.sentences),
            "mine": _price(result.score.mine), "best": _price(result.score.best),
            "best_readings": list(result.best_readings),
            "replay": [dataclasses.asdict(one) for one in result.replay]},
    }


def _price(one: Any) -> dict[str, Any]:
    return {**dataclasses.asdict(one), "total_min": one.total_min}


def _print_all(view: PracticeView) -> None:
    print_exercise(view)
    for one in view.readings:
        print_reading(one)
    if view.result is not None:
        print_result(view.result)


def _ask(practice: Practice, name: str, who: str) -> PracticeView:
    """Ask for readings and the repair until there is one."""
    view = practice.view(name, who)
    print_exercise(view)
    show.line("States: " + ", ".join(one for one, _ in view.states))
    while not view.over:
        word = click.prompt("measure, points, repairs or name a repair",
                            type=click.Choice(["measure", "points", "repairs", "name"]),
                            default="measure", show_choices=False)
        if word in {"points", "repairs"}:
            listed = view.names if word == "points" else [one for one, _ in view.repairs]
            show.line(", ".join(listed))
            continue
        try:
            _do(practice, name, who, word)
        except UsageError as error:
            show.line(f"{error.message} {error.next_step}")
            continue
        view = practice.view(name, who)
        if word == "measure":
            print_reading(view.readings[-1])
    if view.result is not None:
        print_result(view.result)
    return view


def _do(practice: Practice, name: str, who: str, word: str) -> None:
    if word == "name":
        practice.name_repair(name, who, click.prompt("repair (as `repairs` lists it)"))
        return
    answers = {}
    for key, text, default in (
            ("state", "state", None), ("quantity", "what (voltage, current, resistance, "
             "continuity, lit, running, heard, turns, input, output)", "voltage"),
            ("at", "at", None),
            ("to", "against (empty: battery negative)", ""),
            ("instrument", "with (empty: the usual one)", "")):
        answers[key] = click.prompt(text, default=default, show_default=bool(default))
    answers["predict"] = click.prompt("what should a good circuit show ('?' if unknown)")
    practice.measure(name, who, Asked(**answers))
