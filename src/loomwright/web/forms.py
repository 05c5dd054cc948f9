"""What a browser sends, read once and bounded."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from urllib.parse import quote, unquote

from fastapi import Request
from starlette.datastructures import UploadFile

from loomwright.errors import UsageError
from loomwright.service.records import Look, ReadingForm
from loomwright.web.permits import actor_of

__all__ = ["WHO_COOKIE", "Sent", "look_of", "number_in", "reading_of", "sent_form", "who_is",
           "who_value"]

MAX_FIELDS = 40
NUMBER = re.compile(r"[0-9]{1,18}")
MAX_NAME = 60
WHO_COOKIE = "who"


@dataclass(frozen=True, slots=True)
class Sent:
    """A form as sent: text fields by name, the key of this submission, and who sent it."""

    fields: Mapping[str, str]
    who: str

    def get(self, name: str) -> str:
        """Return a field ('' when it was not sent)."""
        return self.fields.get(name, "")

    @property
    def key(self) -> str:
        """Return the key of this submission; every form of ours carries one."""
        return self.get("key")

    @property
    def seen(self) -> int | None:
        """Return the last event on the page that the form stood on, where it says so."""
        return number_in(self.get("seen"))


def number_in(text: str) -> int | None:
    """Return the whole number a form or header carries, None where it is none.

    Plain digits only, few enough that the store can hold it: int() raises on what is longer, and
    isdigit() takes a raised 2.
    """
    return int(text) if NUMBER.fullmatch(text) else None


def who_is(request: Request) -> str:
    """Return who is signed in; at a machine's own screen, the name that its browser gave."""
    actor = actor_of(request)
    if actor.kind != "host":
        return actor.name
    return unquote(request.cookies.get(WHO_COOKIE, ""))[:MAX_NAME]


def who_value(name: str) -> str:
    """Return a name as a cookie can carry it."""
    return quote(name.strip()[:MAX_NAME])


async def sent_form(request: Request) -> Sent:
    """Return the form of a request; a file field gives its text. UsageError when it is not text."""
    fields: dict[str, str] = {}
    async with request.form(max_files=2, max_fields=MAX_FIELDS) as form:
        for name, value in form.multi_items():
            fields[name] = await _file_text(value) if isinstance(value, UploadFile) else value
    return Sent(fields, who_is(request))


async def _file_text(file: UploadFile) -> str:
    try:
        return (await file.read()).decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise UsageError(f"'{file.filename}' is not a text file.",
                         next_step="Upload the circuit as YAML text, UTF-8.") from error


def reading_of(fields: Mapping[str, str]) -> ReadingForm:
    """Return a reading as typed."""
    return ReadingForm(**{name: fields.get(name, "") for name in (
        "state", "quantity", "at", "to", "value", "unit", "instrument")})


def look_of(fields: Mapping[str, str]) -> Look:
    """Return what the reader wants to look at."""
    return Look(**{name: fields.get(name, "") for name in (
        "state", "show", "quantity", "at", "to", "instrument", "only")})
