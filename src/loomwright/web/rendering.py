"""Templates to HTML: everything is escaped unless it is a drawing made by this program."""

from __future__ import annotations

import functools
import secrets
from datetime import datetime
from pathlib import Path
from typing import Any

from jinja2 import Environment, FileSystemLoader, StrictUndefined

from loomwright.service.dates import moment_words
from loomwright.service.roles import HOST, Actor, Permission
from loomwright.web.assets import static

__all__ = ["new_key", "read_templates", "render"]

FOLDER = Path(__file__).parent
STEPS = ("waiting", "finding the fault", "repairing", "proving", "finished", "handed over")


def new_key() -> str:
    """Return a fresh key for one submission."""
    return secrets.token_urlsafe(12)


def _clock(text: str) -> str:
    """Return a stored time as shown, in this machine's own time: '25 Nov 09:14'.

    Of another year: '25 Nov 2025'.
    """
    when, now = datetime.fromisoformat(text).astimezone(), datetime.now().astimezone()
    return when.strftime("%d %b %H:%M" if when.year == now.year else "%d %b %Y")


@functools.cache
def _environment() -> Environment:
    found = Environment(
        loader=FileSystemLoader(FOLDER / "templates"), autoescape=True, undefined=StrictUndefined,
        trim_blocks=True, lstrip_blocks=True, auto_reload=False, cache_size=-1)
    found.filters["clock"], found.filters["moment"] = _clock, moment_words
    found.globals["static"] = static
    found.globals["new_key"] = new_key
    found.globals["steps"] = STEPS
    return found


def read_templates() -> None:
    """Read every template before anybody asks for a page: a first page would wait 0.1 s for it."""
    for name in _environment().list_templates():
        _environment().get_template(name)


def render(template: str, **values: Any) -> str:
    """Return a page; `who` and `demo` default to nobody and a real workshop.

    `actor` is who is signed in; `may("repair")` says in a template what they may do.
    """
    shown: dict[str, Any] = {"who": "", "demo": False, "actor": HOST, **values}
    actor: Actor = shown["actor"]
    shown["may"] = lambda name: actor.may(Permission[name.upper()])
    return _environment().get_template(template).render(shown)
