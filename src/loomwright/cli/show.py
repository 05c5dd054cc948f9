"""How an answer is shown: JSON for machines, tables and plain sentences for people."""

from __future__ import annotations

import json
import math
import shutil
import sys
from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING, Any

import click

from loomwright.units import format_predicted, format_quantity

if TYPE_CHECKING:
    from rich.console import Console

__all__ = ["emit_json", "give", "heading", "line", "predicted", "predicted_text", "quantity",
           "table", "value_text"]

WIDTH_IN_A_FILE = 110  # columns; a pipe or file has no width of its own


def emit_json(value: object) -> None:
    """Print a value as JSON; a number that is not finite becomes null.

    All in ASCII, so that the terminal's encoding cannot spoil it.
    """
    click.echo(json.dumps(_clean(value), allow_nan=False, indent=2))


def _clean(value: object) -> Any:
    """Return the value with plain types: no NaN, no tuples, no numpy numbers."""
    if isinstance(value, dict):
        return {str(key): _clean(item) for key, item in value.items()}
    if isinstance(value, list | tuple):
        return [_clean(item) for item in value]
    if isinstance(value, bool | str | int) or value is None:
        return value
    number = float(value)  # type: ignore[arg-type]  # numpy numbers count as numbers too
    # Ten digits are far beyond any meter and hide the last bits of the arithmetic.
    return float(f"{number:.10g}") if math.isfinite(number) else None


def give(text: str, told: dict[str, Any], more: dict[str, object] | None = None) -> None:
    """Print the result, or write it and say so; `told` is what -o, --force and --json said.

    With `private` in it the file is readable by its owner alone.
    """
    output = told["output"]
    if output is not None:
        from loomwright.service.text_files import write_text

        write_text(output, text, force=told["force"], private=bool(told.get("private")))
    if told["as_json"]:
        emit_json({"file": output, "text": text if output is None else None, **(more or {})})
    elif output is None:
        click.echo(text, nl=False)
    else:
        line(f"Wrote {output}.")


def _console() -> Console:
    """Return the console of the moment; rich is loaded only where people read."""
    from rich.console import Console

    at_screen = sys.stdout.isatty()
    width = shutil.get_terminal_size().columns if at_screen else WIDTH_IN_A_FILE
    return Console(width=width, highlight=False, soft_wrap=False)


def heading(text: str) -> None:
    """Print a heading with an empty line before it."""
    click.echo()
    click.secho(text, bold=True)


def line(text: str) -> None:
    """Print one sentence."""
    click.echo(text)


def table(columns: Sequence[str], rows: Iterable[Sequence[str]]) -> None:
    """Print rows under their column names; a name ending in '>' is set to the right."""
    from rich import box
    from rich.table import Table
    from rich.text import Text

    drawn = Table(box=box.SIMPLE_HEAD, pad_edge=False, show_edge=False)
    for name in columns:
        right = name.endswith(">")
        drawn.add_column(name.rstrip(">"), justify="right" if right else "left",
                         overflow="fold")
    for row in rows:
        # Text, not str: what a user wrote in brackets must not be read as markup.
        drawn.add_row(*(Text(cell) for cell in row))
    console = _console()
    with console.capture() as caught:
        console.print(drawn)
    click.echo("\n".join(one.rstrip() for one in caught.get().rstrip().splitlines()))


def quantity(value: float | None, unit: str) -> str:
    """Return a number with its unit, or a dash where there is none."""
    return "-" if value is None or not math.isfinite(value) else format_quantity(value, unit)


def predicted(value: float | None, unit: str) -> str:
    """Return a computed number as a meter would show it, or a dash where there is none."""
    return "-" if value is None or not math.isfinite(value) else format_predicted(value, unit)


def predicted_text(value: object, unit: str) -> str:
    """Return what a check would show: as `value_text`, no finer than a meter."""
    words = value_text(value, unit)
    if isinstance(value, str) or words in {"-", "OL"}:
        return words
    return predicted(float(value), unit)  # type: ignore[arg-type]


def value_text(value: object, unit: str) -> str:
    """Return a reading's value: a level as it is, a number with its unit, a huge ohm as OL."""
    if isinstance(value, str) or value is None:
        return value or "-"
    number = float(value)  # type: ignore[arg-type]  # numpy numbers count as numbers too
    if unit == "ohm" and number >= OPEN_LOOP_OHM:
        return "OL"
    return quantity(number, unit)


OPEN_LOOP_OHM = 9.9e6  # a meter's 'OL' is carried as 10 Mohm
