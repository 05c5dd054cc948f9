"""Use case: the workshop's settings, read and changed; what was before stays."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from decimal import Decimal
from typing import TYPE_CHECKING

from loomwright.errors import UnknownNameError, UsageError
from loomwright.service.dates import DATE_ORDERS
from loomwright.service.money import canonical

if TYPE_CHECKING:
    from loomwright.jobs.rates import Rates
    from loomwright.service.jobs import Workshop
    from loomwright.service.office import Sender

__all__ = ["RATE_FIELDS", "rates", "save_rates", "sender_lines", "sender_missing"]

MAX_TEXT = 400
RATE_FIELDS = ("name", "address", "phone", "email", "tax_number", "currency", "labour_rate_per_h",
               "tax_name", "tax_percent", "limit_minutes", "limit_money", "date_order")
SENDER = {"name": "name", "address": "address", "phone": "telephone"}
AMOUNTS = {"labour_rate_per_h": ("labour rate", Decimal(100_000)),
           "tax_percent": ("tax rate", Decimal(100)),
           "limit_minutes": ("minutes", Decimal(100_000)),
           "limit_money": ("sum", Decimal(10_000_000))}


def rates(workshop: Workshop) -> Rates:
    """Return the settings that hold now; `assumed` until somebody entered their own."""
    from loomwright.jobs.rates import rates_of

    return rates_of(workshop.store)


def save_rates(workshop: Workshop, fields: Mapping[str, str], sender: Sender) -> None:
    """Keep new settings; fields that are not given stay as they are.

    Raises UsageError where an amount is none, or a text too long; UnknownNameError where an order
    of dates is none.
    """
    from loomwright.jobs.rates import add_rates

    now = dataclasses.asdict(rates(workshop))
    if now["assumed"]:
        now["labour_rate_per_h"] = ""  # nobody's own: it stays assumed
    body = {}
    for name in RATE_FIELDS:
        text = fields.get(name, now[name])
        if name in AMOUNTS:
            label, most = AMOUNTS[name]
            body[name] = canonical(text, label, most=most)
        elif len(text) > MAX_TEXT:
            raise UsageError(f"The {name.replace('_', ' ')} has {len(text)} characters; "
                             f"{MAX_TEXT} is the most.", next_step="Shorten it.")
        else:
            body[name] = text.strip()
    if body["date_order"] not in DATE_ORDERS:
        raise UnknownNameError("order of dates", body["date_order"], DATE_ORDERS)
    if "labour_rate_per_h" in fields and not Decimal(body["labour_rate_per_h"] or "0"):
        raise UsageError("The labour rate is missing.",
                         next_step="Give what an hour costs, without tax.")
    add_rates(workshop.store, body, sender.key, sender.by)


def sender_lines(now: Rates) -> tuple[str, ...]:
    """Return who a letter is from, below the workshop's name: address, telephone and so on."""
    lines = (*now.address.splitlines(), now.phone, now.email,
             f"Tax number {now.tax_number}" if now.tax_number else "")
    return tuple(one.strip() for one in lines if one.strip())


def sender_missing(now: Rates) -> str:
    """Return what a letter lacks of its sender, as a sentence for the screen; '' where nothing.

    It is never printed in the letter itself.
    """
    lacking = [words for field, words in SENDER.items() if not getattr(now, field).strip()]
    if not lacking:
        return ""
    listed = " and ".join(", ".join(lacking).rsplit(", ", 1))
    return f"Letter and record lack the workshop's own {listed}."
