"""Use case: the workshop's settings, read and changed; what was before stays."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from decimal import Decimal
from typing import TYPE_CHECKING

from loomwright.errors import UsageError
from loomwright.service.money import canonical

if TYPE_CHECKING:
    from loomwright.jobs.rates import Rates
    from loomwright.service.jobs import Workshop
    from loomwright.service.office import Sender

__all__ = ["RATE_FIELDS", "rates", "save_rates"]

MAX_TEXT = 400
RATE_FIELDS = ("name", "address", "phone", "email", "tax_number", "currency", "labour_rate_per_h",
               "tax_name", "tax_percent", "limit_minutes", "limit_money")
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

    Raises UsageError where an amount is none, or a text too long.
    """
    from loomwright.jobs.rates import add_rates

    now = dataclasses.asdict(rates(workshop))
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
    if not body["labour_rate_per_h"] or not Decimal(body["labour_rate_per_h"]):
        raise UsageError("The labour rate is missing.",
                         next_step="Give what an hour costs, without tax.")
    add_rates(workshop.store, body, sender.key, sender.by)
