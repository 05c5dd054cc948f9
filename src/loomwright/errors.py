"""The one error tree of Loomwright.

LoomwrightError
|-- UsageError            what the user asked for cannot be done as asked (exit 2, HTTP 400)
|   |-- QuantityError     a quantity is missing its unit, has the wrong one, or is out of range
|   |-- UnknownNameError  a name (state, fault, part, job) that does not exist; nearest offered
|   `-- FileProblemsError one or many problems in a file, reported together
|-- NotFoundError         a stored thing that is not there (exit 2, HTTP 404)
|-- ConflictError         the thing changed since it was read (exit 2, HTTP 409)
|-- SignInError           nobody is signed in, or name and PIN do not fit (exit 2, HTTP 401)
|-- NotAllowedError       the person's role or the token's scope does not allow it (HTTP 403)
|-- TooManyTriesError     too many wrong tries; says how long to wait (exit 2, HTTP 429)
`-- SolveError            the circuit has no trustworthy solution; carries physical reasons

Every error says what, where, the value with its unit, the allowed range, and the next step.
"""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

__all__ = [
    "ConflictError",
    "FileProblemsError",
    "LoomwrightError",
    "NotAllowedError",
    "NotFoundError",
    "Problem",
    "QuantityError",
    "SignInError",
    "SolveError",
    "TooManyTriesError",
    "UnknownNameError",
    "UsageError",
    "nearest",
    "system_words",
]


def nearest(name: str, known: Iterable[str]) -> str | None:
    """Return the known name closest to a mistyped one, or None when none is close."""
    options = {candidate.lower(): candidate for candidate in known}
    found = difflib.get_close_matches(name.lower(), list(options), n=1, cutoff=0.6)
    return options[found[0]] if found else None


def system_words(error: Exception) -> str:
    """Return why the system refused a file, without its number and inner file names.

    A null character in a name has no word of the system's own; the error's text stands for it.
    """
    return getattr(error, "strerror", None) or str(error)


class LoomwrightError(Exception):
    """Base of every error that Loomwright raises on purpose."""

    code = "error"

    def __init__(self, message: str, *, next_step: str = "") -> None:
        self.message = message
        self.next_step = next_step
        super().__init__(f"{message} {next_step}".strip())


class UsageError(LoomwrightError):
    """What was asked for cannot be done as asked."""

    code = "usage"


class QuantityError(UsageError):
    """A quantity has no unit, the wrong unit, or a value outside its range."""

    code = "quantity"


class UnknownNameError(UsageError):
    """A name that does not exist, with the nearest known one."""

    code = "unknown-name"

    def __init__(self, what: str, name: str, known: Iterable[str]) -> None:
        names = list(known)
        close = nearest(name, names)
        shown = ", ".join(names[:12]) or "none"
        known_text = f"Known: {shown}, ..." if len(names) > 12 else f"Known: {shown}."
        step = f"Did you mean '{close}'?" if close else known_text
        self.name = name
        super().__init__(f"There is no {what} '{name}'.", next_step=step)


class NotFoundError(LoomwrightError):
    """A stored thing that is not there."""

    code = "not-found"


class ConflictError(LoomwrightError):
    """The thing changed since it was read."""

    code = "conflict"


class SignInError(LoomwrightError):
    """Nobody is signed in, or what was given to sign in does not fit."""

    code = "sign-in"


class NotAllowedError(LoomwrightError):
    """The person's role, or the token's scope, does not allow it."""

    code = "not-allowed"


class TooManyTriesError(LoomwrightError):
    """Too many wrong tries; `wait_s` says how long to wait [s], 0 where somebody must unlock it."""

    code = "too-many-tries"

    def __init__(self, message: str, *, wait_s: int = 0, next_step: str = "") -> None:
        self.wait_s = wait_s
        super().__init__(message, next_step=next_step)


@dataclass(frozen=True, slots=True, order=True)
class Problem:
    """One thing wrong in a file: where it is (line and column count from 1), what, and the fix."""

    line: int
    column: int
    what: str
    fix: str

    def text(self, file: str) -> str:
        """Return the problem as `file:line:column: what fix`."""
        return f"{file}:{self.line}:{self.column}: {self.what} {self.fix}".rstrip()


class FileProblemsError(UsageError):
    """All problems found in one file, reported together in file order."""

    code = "file-problems"

    def __init__(self, file: str, problems: Sequence[Problem]) -> None:
        self.file = file
        self.problems = tuple(sorted(problems))
        super().__init__("\n".join(problem.text(file) for problem in self.problems))


class SolveError(LoomwrightError):
    """No trustworthy solution; `reasons` are physical (no battery, two batteries shorted, ...)."""

    code = "solve"

    def __init__(self, reasons: Sequence[str], *, next_step: str = "") -> None:
        self.reasons = tuple(reasons)
        super().__init__("; ".join(reasons) + ".", next_step=next_step)
