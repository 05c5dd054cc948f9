"""`loomwright serve`: the bench in the browser."""

from __future__ import annotations

from pathlib import Path
from typing import Any

import click

from loomwright.cli.options import json_option

__all__ = ["command"]


@click.command("serve", short_help="Start the bench in the browser.")
@click.option("--host", default="127.0.0.1", show_default=True,
              help="Address to listen on; any other than this machine's own asks for pairing.")
@click.option("--share", is_flag=True,
              help="Let paired devices of the workshop's network in; people sign in.")
@click.option("--certificate", nargs=2, type=click.Path(path_type=Path), default=None,
              metavar="FILE KEY", help="Certificate and key (PEM), to serve https.")
@click.option("--port", default=8000, show_default=True, type=click.IntRange(0, 65535))
@click.option("--data", metavar="DIR", type=click.Path(), default=None,
              help="Folder of the jobs; a folder of the user's where not given.")
@click.option("--demo", is_flag=True, help="Open the demo depot.")
@click.option("--open/--no-open", "open_browser", default=True, show_default=True,
              help="Open the browser.")
@json_option
def command(as_json: bool, certificate: tuple[Path, Path] | None, **wanted: Any) -> None:
    """Start the bench in the browser; Ctrl-C stops it.

    Without more it listens to this machine only, where a name is enough. With --share, tablets
    and telephones of the workshop's network are paired with a one-time code, and people sign in
    with a PIN. Without --share, the page of people on this machine resets any PIN.
    """
    from loomwright.web.server import Certificate, Serving, serve

    serve(Serving(**wanted, certificate=Certificate(*certificate) if certificate else None))
