"""Practice from a file: the circuit named by name or path, the answers written beforehand."""

from __future__ import annotations

from dataclasses import fields
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loomwright.errors import UsageError
from loomwright.service.practice import Asked, Practice
from loomwright.service.text_files import unreadable

if TYPE_CHECKING:
    from loomwright.service.practice_view import PracticeView

__all__ = ["circuit_named", "open_practice", "play", "read_answers"]

_KEYS = {one.name for one in fields(Asked)}


def open_practice(data: str | None) -> Practice:
    """Return the practice bench of a data folder, or of the platform's own place."""
    from loomwright.jobs.folder import data_folder

    return Practice(data_folder(data))


def circuit_named(practice: Practice, name: str) -> str:
    """Return a circuit's name on the bench; a YAML file is taken in first.

    Raises
        UsageError: the file cannot be read or has problems
    """
    path = Path(name)
    if path.suffix not in {".yaml", ".yml"}:
        return name
    return practice.add_circuit(_text(path, "circuit"))


def read_answers(path: str) -> tuple[Asked | str, ...]:
    """Return what is written in an answers file: readings to take, and the repair to name.

    The file is a YAML list of `{state, quantity, at, to, instrument, predict}` and, last,
    `{repair: ID}`; an empty repair gives up.

    Raises
        UsageError: the file cannot be read, or an answer is neither
    """
    import yaml

    try:
        rows = yaml.safe_load(_text(Path(path), "answers"))
    except yaml.YAMLError as error:
        mark = getattr(error, "problem_mark", None)
        line = f" in line {mark.line + 1}" if mark else ""
        raise UsageError(f"'{path}' is no YAML{line}.", next_step="Mend the file.") from error
    if not isinstance(rows, list):
        raise UsageError(f"'{path}' holds no list of answers.",
                         next_step="Begin each answer with '- '.")
    return tuple(_answer(row, number) for number, row in enumerate(rows, 1))


def _answer(row: Any, number: int) -> Asked | str:
    if isinstance(row, dict) and set(row) == {"repair"}:
        return str(row["repair"] or "")
    if not isinstance(row, dict) or not {"quantity", "at", "predict"} <= set(row) <= _KEYS:
        raise UsageError(f"Answer {number} is neither a reading with a prediction nor a repair.",
                         next_step="Give state, quantity, at, predict (and to, instrument), or "
                         "repair alone.")
    return Asked(**{"state": "", **{key: _word(value) for key, value in row.items()}})


def _word(value: object) -> str:
    """Return a YAML value as typed; YAML reads a bare on or off as true or false."""
    if isinstance(value, bool):
        return "on" if value else "off"
    return "" if value is None else str(value)


def play(practice: Practice, exercise: str, who: str, answers: tuple[Asked | str, ...]
         ) -> PracticeView:
    """Do what the answers say, in order, and return the exercise as it stands then."""
    for answer in answers:
        if isinstance(answer, Asked):
            practice.measure(exercise, who, answer)
        else:
            practice.name_repair(exercise, who, answer)
    return practice.view(exercise, who)


def _text(path: Path, what: str) -> str:
    try:
        return path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        raise unreadable(what, path, error) from error
