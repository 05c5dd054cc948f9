"""What a supervisor has signed of an apprentice's tasks: events beside the practice itself."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

from loomwright.errors import UnknownNameError, UsageError

if TYPE_CHECKING:
    from loomwright.practice import Entry

__all__ = ["SIGN_OFF", "SignOff", "sign_off_body", "standing_sign_offs"]

SIGN_OFF = "sign-off"
MAX_NOTE = 500


@dataclass(frozen=True, slots=True)
class SignOff:
    """A task seen and signed by a supervisor, or a signature taken back."""

    task: str
    by: str
    at: str
    note: str
    signed: bool


def sign_off_body(task: str, by: str, note: str, signed: bool) -> dict[str, object]:
    """Return the event of a signature, or of one taken back.

    Raises
        UnknownNameError: there is no such task
        UsageError: nobody signs, the note is too long, or it is taken back without a reason
    """
    from loomwright.practice import TASKS

    known = [one.id for one in TASKS]
    if task not in known:
        raise UnknownNameError("task", task, known)
    if not by.strip():
        raise UsageError("Nobody's name is given.", next_step="Say who signs.")
    if len(note) > MAX_NOTE:
        raise UsageError(f"The note has {len(note)} characters; {MAX_NOTE} is the most.",
                         next_step="Shorten it.")
    if not signed and not note.strip():
        raise UsageError("A signature is taken back without a reason.",
                         next_step="Say why it is taken back.")
    return {"task": task, "by": " ".join(by.split()), "note": note.strip(), "signed": signed}


def standing_sign_offs(entries: Iterable[Entry]) -> dict[str, SignOff]:
    """Return by task the last signature, signed or taken back, of one person's entries."""
    found = {}
    for one in entries:
        if one.what == SIGN_OFF:
            body = one.body
            found[str(body["task"])] = SignOff(str(body["task"]), str(body["by"]), one.at,
                                               str(body["note"]), bool(body["signed"]))
    return found
