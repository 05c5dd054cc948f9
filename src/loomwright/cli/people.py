"""`loomwright people`: who may sign in at a shared workshop, and as what."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any

import click

from loomwright.cli import show
from loomwright.cli.options import data_option, json_option

if TYPE_CHECKING:
    from loomwright.jobs.access_records import Person
    from loomwright.service.access import Access

__all__ = ["BY", "command", "opened"]

BY = "command line"  # stands beside every change made here


@contextmanager
def opened(data: str | None) -> Iterator[Access]:
    """Give the people of a data folder, and let go of it again."""
    from loomwright.service.access import open_access

    access = open_access(data)
    try:
        yield access
    finally:
        access.close()


@click.group("people", short_help="Who may sign in, and as what.",
             context_settings={"help_option_names": ["-h", "--help"]})
def command() -> None:
    """List, add and change the people of a workshop's folder.

    Roles are apprentice, technician and foreman. Whoever can write to the folder can do this: it is
    the way back in when a foreman's PIN is lost. Each takes `--json` and `--debug`.
    """


def _told(person: Person) -> dict[str, Any]:
    """Return what may be shown of a person: never the hash of the PIN."""
    shown = dataclasses.asdict(person)
    return {name: shown[name] for name in ("id", "name", "role", "since", "left_at")} | {
        "locked": person.locked}


def _give(person: Person, what: str, pin: str, as_json: bool) -> None:
    if as_json:
        show.emit_json({"person": _told(person), **({"pin": pin} if pin else {})})
        return
    show.line(what)
    if pin:
        show.line(f"PIN: {pin}   (shown this once; it can be changed after signing in)")


@command.command("list", short_help="List everybody.")
@data_option
@json_option
def everybody(data: str | None, as_json: bool) -> None:
    """List who works or worked here, with their roles."""
    with opened(data) as access:
        people = access.everybody()
    if as_json:
        show.emit_json({"people": [_told(one) for one in people]})
    elif not people:
        show.line("Nobody yet. Add a foreman with 'loomwright people add NAME --role foreman'.")
    else:
        show.table(("name", "role", "since", ""), [
            (one.name, one.role, one.since[:10], _note(one)) for one in people])


def _note(one: Person) -> str:
    return f"left {one.left_at[:10]}" if one.left_at else "locked" if one.locked else ""


_NAME = click.argument("name")
_ROLE = click.option("--role", required=True, metavar="ROLE",
                     help="apprentice, technician or foreman.")


@command.command("add", short_help="Add a person.")
@_NAME
@_ROLE
@click.option("--ask-pin", is_flag=True, help="Ask for the PIN instead of making one up.")
@data_option
@json_option
def add(name: str, role: str, ask_pin: bool, data: str | None, as_json: bool) -> None:
    """Add NAME with a role and a PIN, which is made up and shown once."""
    from loomwright.service.pins import made_up_pin

    pin = click.prompt("PIN", hide_input=True, confirmation_prompt=True, err=True
                       ) if ask_pin else made_up_pin()
    with opened(data) as access:
        person = access.add(name, role, pin, BY)
    _give(person, f"Added {person.name} as {person.role}.", "" if ask_pin else pin, as_json)


@command.command("role", short_help="Give a person another role.")
@_NAME
@click.argument("role")
@data_option
@json_option
def role_of(name: str, role: str, data: str | None, as_json: bool) -> None:
    """Give NAME another ROLE; they sign in again. The last foreman keeps theirs."""
    with opened(data) as access:
        number = access.named(name).id
        access.set_role(number, role, BY)
        person = access.store.person(number)
    _give(person, f"{person.name} is now {person.role}.", "", as_json)


@command.command("reset-pin", short_help="Make up a new PIN for a person.")
@_NAME
@data_option
@json_option
def reset_pin(name: str, data: str | None, as_json: bool) -> None:
    """Make up a new PIN for NAME, show it once, unlock them and sign them out everywhere."""
    with opened(data) as access:
        number = access.named(name).id
        pin = access.reset_pin(number, BY)
        person = access.store.person(number)
    _give(person, f"{person.name} has a new PIN.", pin, as_json)
