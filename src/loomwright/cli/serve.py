"""`loomwright serve`: the bench in the browser."""

from __future__ import annotations

import click

from loomwright.cli.options import json_option

__all__ = ["command"]


@click.command("serve", short_help="Start the bench in the browser.")
@click.option("--host", default="127.0.0.1", show_default=True,
              help="Address to listen on; 0.0.0.0 lets others on the network in.")
@click.option("--port", default=8000, show_default=True, type=click.IntRange(0, 65535))
@click.option("--data", metavar="DIR", type=click.Path(), default=None,
              help="Folder of the jobs; a folder of the user's where not given.")
@click.option("--demo", is_flag=True, help="Open the demo depot.")
@click.option("--open/--no-open", "open_browser", default=True, show_default=True,
              help="Open the browser.")
@json_option
def command(
    host: str, port: int, data: str | None, demo: bool, open_browser: bool, as_json: bool
) -> None:
    """Start the bench in the browser; Ctrl-C stops it."""
    from loomwright.web.server import serve

    serve(host, port, data, demo, open_browser)
