"""Text files that a person named: read whole, and never replaced unasked."""

from __future__ import annotations

from pathlib import Path

from loomwright.errors import UsageError, system_words
from loomwright.jobs.folder import private_opener, tighten

__all__ = ["read_text", "unreadable", "write_text"]


def read_text(file: str | Path) -> str:
    """Return the text of a file. UsageError where it cannot be read, or is no UTF-8 text."""
    try:
        return Path(file).read_text(encoding="utf-8-sig")
    except (OSError, ValueError) as error:
        if isinstance(error, UnicodeDecodeError):
            raise UsageError(f"'{file}' is not a text file.",
                             next_step="Name a file written by this program.") from error
        raise UsageError(f"'{file}' cannot be read: {system_words(error)}.",
                         next_step="Check its name.") from error


def unreadable(
    what: str, file: str | Path, error: Exception, next_step: str = "Check the path."
) -> UsageError:
    """Return the refusal of a file of some sort ("counts") that the system, or its text, denies."""
    reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
    return UsageError(f"The {what} file '{file}' cannot be read: {reason}.", next_step=next_step)


def write_text(
    file: str | Path, text: str, *, force: bool = False, private: bool = False
) -> None:
    """Write a file; one that is there already is replaced only with `force`.

    `private` makes it readable by its owner alone.

    Raises UsageError where it is there, is a folder, or cannot be written.
    """
    try:
        if Path(file).is_dir():
            raise UsageError(f"'{file}' is a folder.", next_step="Name a file in it after -o.")
        with open(file, "w" if force else "x", encoding="utf-8", newline="",
                  opener=private_opener if private else None) as opened:
            if private:
                tighten(Path(file))
            opened.write(text)
    except FileExistsError as error:
        raise UsageError(f"'{file}' is there already; it was not touched.",
                         next_step="Choose another name, or add --force to replace it.") from error
    except (OSError, ValueError) as error:
        raise UsageError(f"'{file}' cannot be written: {system_words(error)}.",
                         next_step="Name a file in a folder that exists and is yours.") from error
