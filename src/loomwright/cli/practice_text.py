"""Practice as printed for people."""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING

from loomwright.cli import show

if TYPE_CHECKING:
    from loomwright.practice import Level
    from loomwright.service.practice import PersonProgress, PracticeCircuit, Sheet
    from loomwright.service.practice_view import PracticeView, ReadingShown, Result

__all__ = ["print_circuits", "print_exercise", "print_progress", "print_reading", "print_result",
           "print_sheet"]


def print_circuits(levels: Iterable[Level], circuits: Iterable[PracticeCircuit]) -> None:
    """Print the levels and the circuits."""
    for level in levels:
        show.line(f"Level {level.number}  {level.name}. {level.about}")
    show.heading("Circuits")
    show.table(("name", "group", "what it is"),
               ((one.key, one.group, one.title) for one in circuits))


def print_exercise(view: PracticeView) -> None:
    """Print what the apprentice is told."""
    show.line(f"{view.title}. Level {view.level}: {view.level_name}. Exercise {view.id}, "
              f"{view.who}, try {view.attempt}.")
    for caution in view.cautions:
        show.line(f"Caution: {caution.title}. {caution.text}")
    show.heading("Complaint")
    for line in view.complaint:
        show.line(line)


def print_reading(one: ReadingShown) -> None:
    """Print one reading beside its prediction."""
    show.line(f"{one.number}. {one.title}, state '{one.state}': {one.shown} "
              f"(you said {one.predicted}; healthy {one.healthy}). {one.says} {one.minutes}.")


def print_result(result: Result) -> None:
    """Print the score and the replay."""
    show.heading(f"{result.headline} {result.points} points of 100.")
    show.line(f"The fault: {result.fault} ({result.where}).")
    for sentence in result.sentences:
        show.line(sentence)
    show.table(("", "you", "engine"), result.rows)
    if result.replay:
        show.heading("Step by step")
    for one in result.replay:
        show.line(f"{one.number}. {one.title}: {one.bits:.2f} bits, {one.minutes:.1f} min; the "
                  f"right repair then {one.belief}. {one.text}")
    show.heading("The engine's readings")
    for text in result.best_readings:
        show.line(text)


def print_progress(found: PersonProgress) -> None:
    """Print what somebody has practised."""
    show.table(("level", "ended>", "right>", "points>"),
               ((f"{level.number} {level.name}", str(ended), str(right), str(points))
                for level, ended, right, points in found.by_level))
    if not found.done:
        show.line(f"{found.who} has not ended an exercise yet.")
    for one in found.done:
        show.line(f"{one.at[:10]}  {one.exercise}, try {one.attempt}: "
                  f"{'right' if one.right else 'wrong'}, {one.points} points, {one.minutes:.0f} "
                  f"min against {one.best_minutes:.0f}, predictions {one.predicted_right} of "
                  f"{one.predicted}")


def print_sheet(found: Sheet) -> None:
    """Print the sign-off sheet."""
    show.line(f"Sign-off sheet of {found.who}. First tries only; the supervisor signs.")
    show.table(("task", "shown in practice", "left to show", "signed"),
               ((line.task.text, ", ".join(line.exercises) or "-", line.task.left,
                 f"{line.signed.by}, {line.signed.at[:10]}"
                 if line.signed and line.signed.signed else "") for line in found.lines))
