"""How an error is told: a message on stderr for people, a JSON object on stdout for machines."""

from __future__ import annotations

import json
from typing import Any

import click

from loomwright.errors import FileProblemsError, LoomwrightError, SolveError

__all__ = ["BAD_INPUT", "describe", "report", "report_bug"]

BAD_INPUT = 2
# What the library of the command line says, in plain words.
_PLAIN = {"is not a valid integer range": "is not a whole number",
          "is not a valid integer": "is not a whole number",
          "is not a valid float range": "is not a number",
          "is not a valid float": "is not a number"}


def describe(error: LoomwrightError | click.ClickException) -> dict[str, Any]:
    """Return an error as the JSON object of the contract.

    Returns
        dict: `{"error": {"code", "message", "next_step", "problems": [...]}}`
    """
    problems: list[dict[str, Any]] = []
    if isinstance(error, FileProblemsError):
        problems = [
            {"line": one.line, "column": one.column, "what": one.what, "fix": one.fix}
            for one in error.problems
        ]
    elif isinstance(error, SolveError):
        problems = [
            {"line": 0, "column": 0, "what": reason, "fix": error.next_step}
            for reason in error.reasons
        ]
    return _shape(_code(error), _message(error), _next_step(error), problems)


def _shape(code: str, message: str, next_step: str, problems: list[dict[str, Any]]
           ) -> dict[str, Any]:
    return {"error": {"code": code, "message": message, "next_step": next_step,
                      "problems": problems}}


def _code(error: LoomwrightError | click.ClickException) -> str:
    return error.code if isinstance(error, LoomwrightError) else "usage"


def _message(error: LoomwrightError | click.ClickException) -> str:
    if not isinstance(error, click.ClickException):
        return error.message
    message = error.format_message()
    for theirs, ours in _PLAIN.items():
        message = message.replace(theirs, ours)
    return message if message.endswith((".", "?", "!", ")'")) else f"{message}."


def _next_step(error: LoomwrightError | click.ClickException) -> str:
    """Return what to do next; file problems carry theirs one by one, so sum them up."""
    if isinstance(error, FileProblemsError):
        count = len(error.problems)
        return error.next_step or f"Mend {'this' if count == 1 else f'these {count}'} in the file."
    if isinstance(error, LoomwrightError):
        return error.next_step
    ctx = getattr(error, "ctx", None)
    return f"See '{ctx.command_path} --help'." if ctx is not None else "See 'loomwright --help'."


def report(error: LoomwrightError | click.ClickException, *, as_json: bool) -> None:
    """Tell an error that the user can mend."""
    if as_json:
        click.echo(json.dumps(describe(error)))
        return
    step = _next_step(error)
    if isinstance(error, FileProblemsError):
        click.echo(f"{_message(error)}\n{step}", err=True)
    else:
        click.echo(f"loomwright: {_message(error)} {step}".rstrip(), err=True)


def report_bug(error: Exception, *, as_json: bool) -> None:
    """Tell an error that is ours."""
    message = f"This is a bug in Loomwright: {type(error).__name__}: {error}"
    step = "Please report it; run again with --debug for the details."
    if as_json:
        click.echo(json.dumps(_shape("bug", message, step, [])))
        return
    click.echo(f"{' '.join(message.split())}. {step}", err=True)
