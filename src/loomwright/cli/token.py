"""`loomwright token`: what programs sign in with."""

from __future__ import annotations

import dataclasses

import click

from loomwright.cli import show
from loomwright.cli.options import data_option, json_option
from loomwright.cli.people import BY, opened

__all__ = ["command"]


@click.group("token", short_help="What programs sign in with.",
             context_settings={"help_option_names": ["-h", "--help"]})
def command() -> None:
    """Make, list and revoke the tokens of programs that use the API.

    A token of scope `read` looks at jobs, one of scope `write` does a technician's work, one of
    scope `office` also offers, answers and prices; none manages people. Each takes `--json` and
    `--debug`.
    """


@command.command("create", short_help="Make a token.")
@click.argument("name")
@click.option("--scope", default="read", show_default=True, metavar="SCOPE",
              help="read, write or office.")
@data_option
@json_option
def create(name: str, scope: str, data: str | None, as_json: bool) -> None:
    """Make a token for the program NAME and show it once; only its hash is kept."""
    with opened(data) as access:
        token, secret = access.add_token(name, scope, BY)
    if as_json:
        show.emit_json({"token": secret, "id": token.id, "name": token.name,
                        "scope": token.scope})
        return
    show.line(f"Token {token.id} of {token.name}, scope {token.scope}. It is shown this once:")
    show.line(secret)


@command.command("list", short_help="List the tokens in use.")
@data_option
@json_option
def in_use(data: str | None, as_json: bool) -> None:
    """List the tokens in use; what they are is known to their programs only."""
    with opened(data) as access:
        tokens = access.tokens()
    if as_json:
        names = ("id", "name", "scope", "since", "by", "seen_at")
        show.emit_json({"tokens": [
            {name: dataclasses.asdict(one)[name] for name in names} for one in tokens]})
    elif not tokens:
        show.line("No tokens. Make one with 'loomwright token create NAME --scope read'.")
    else:
        show.table(("number", "program", "scope", "made", "last used"), [
            (str(one.id), one.name, one.scope, one.since[:10], one.seen_at[:10] or "never")
            for one in tokens])


@command.command("revoke", short_help="Revoke a token.")
@click.argument("number", type=click.IntRange(min=1))
@data_option
@json_option
def revoke(number: int, data: str | None, as_json: bool) -> None:
    """Revoke token NUMBER of the list; its program is refused from now on."""
    with opened(data) as access:
        access.end_token(number, BY)
    if as_json:
        show.emit_json({"revoked": number})
    else:
        show.line(f"Token {number} is revoked.")
