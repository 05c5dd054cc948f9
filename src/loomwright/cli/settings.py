"""`loomwright settings`: the workshop's sender, rates, tax and usual limits."""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from typing import Any

import click

from loomwright.cli import show
from loomwright.cli.options import data_option, json_option

__all__ = ["command"]

BY = "command line"  # stands beside every change made here
# The field, its option, and what it says.
OPTIONS = (
    ("name", "--name", "Workshop's name, on letters and records."),
    ("address", "--address", "Its address."),
    ("phone", "--telephone", "Its telephone."),
    ("email", "--email", "Its e-mail."),
    ("tax_number", "--tax-number", "Its tax number."),
    ("labour_rate_per_h", "--labour-rate", "What an hour costs, without tax."),
    ("currency", "--currency", "As it is printed after a sum."),
    ("tax_name", "--tax-name", "Name of the tax."),
    ("tax_percent", "--tax-rate", "Tax in per cent; 0 is not written out."),
    ("limit_minutes", "--limit-minutes", "Usual minutes after which the customer is asked."),
    ("limit_money", "--limit-sum", "Usual sum after which the customer is asked, without tax."),
    ("date_order", "--dates", "Dates of letters: 'day first', 'month first' or 'year first'."),
)


def _options(command: Callable[..., Any]) -> Callable[..., Any]:
    for field, option, about in reversed(OPTIONS):
        command = click.option(option, field, metavar="TEXT", help=about)(command)
    return command


@click.command("settings", short_help="The workshop's name, address, rates and limits.")
@_options
@data_option
@json_option
def command(data: str | None, as_json: bool, **given: str | None) -> None:
    """Show the workshop's settings, or change those that are given; what was before is kept.

    Name, address and telephone are the sender of letters and records.
    """
    import secrets

    from loomwright.service.job_transfer import open_workshop
    from loomwright.service.office import Sender
    from loomwright.service.rates import rates, save_rates, sender_missing

    changed = {name: text for name, text in given.items() if text is not None}
    workshop = open_workshop(data, new=bool(changed))
    if changed:
        save_rates(workshop, changed, Sender(secrets.token_urlsafe(12), BY))
    now = rates(workshop)
    if as_json:
        show.emit_json(dataclasses.asdict(now))
        return
    values = dataclasses.asdict(now)
    show.table(("setting", "value", "option"), (
        (about.partition(",")[0].rstrip("."), _shown(values[field], field, now.assumed), option)
        for field, option, about in OPTIONS))
    missing = sender_missing(now)
    if missing:
        show.line(f"note: {missing}")


def _shown(text: str, field: str, assumed: bool) -> str:
    """Return a setting as shown; a labour rate that nobody gave is said to be assumed."""
    words = text.replace("\n", ", ") or "-"
    return f"{words} (assumed)" if assumed and field == "labour_rate_per_h" else words
