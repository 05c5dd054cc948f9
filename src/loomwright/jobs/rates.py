"""The workshop's own settings: name, labour rate, tax, currency, usual limits; only added to."""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from loomwright.errors import ConflictError
from loomwright.jobs.database import begin_writing
from loomwright.jobs.schema import workshop_settings

if TYPE_CHECKING:
    from loomwright.jobs.store import JobStore

__all__ = ["Rates", "RatesRow", "add_rates", "rates_history", "rates_of"]


@dataclass(frozen=True, slots=True)
class Rates:
    """What an estimate and a letter need to know about the workshop; money is without tax.

    `assumed` is True until somebody has entered their own labour rate. `date_order` is how dates
    of letters are written: day first, month first or year first.
    """

    name: str = ""
    address: str = ""
    phone: str = ""
    email: str = ""
    tax_number: str = ""
    currency: str = ""
    labour_rate_per_h: str = "90"
    tax_name: str = "tax"
    tax_percent: str = "0"
    limit_minutes: str = ""
    limit_money: str = ""
    date_order: str = "day first"
    assumed: bool = True


@dataclass(frozen=True, slots=True)
class RatesRow:
    """One change of the settings: who, when, and all of them as they were from then on."""

    number: int
    at: str
    by: str
    body: Mapping[str, str] = field(default_factory=dict)


def rates_history(store: JobStore) -> tuple[RatesRow, ...]:
    """Return every change of the settings, oldest first."""
    with store._engine.connect() as connection:
        rows = connection.execute(
            workshop_settings.select().order_by(workshop_settings.c.number)).mappings()
        return tuple(RatesRow(row["number"], row["at"], row["by"], json.loads(row["body"]))
                     for row in rows)


def rates_of(store: JobStore) -> Rates:
    """Return the settings that hold now."""
    with store._engine.connect() as connection:
        row = connection.execute(workshop_settings.select().order_by(
            workshop_settings.c.number.desc()).limit(1)).mappings().first()
    if row is None:
        return Rates()
    known = {name: text for name, text in json.loads(row["body"]).items()
             if name in Rates.__dataclass_fields__ and name != "assumed"}
    if not known.get("labour_rate_per_h"):
        known.pop("labour_rate_per_h", None)
    return Rates(**known, assumed="labour_rate_per_h" not in known)


def add_rates(store: JobStore, body: Mapping[str, str], key: str, by: str) -> None:
    """Add new settings; the same key counts once.

    Raises ConflictError where the key was used for other values.
    """
    text = json.dumps(dict(body), ensure_ascii=False, sort_keys=True)
    with store._engine.connect() as connection:
        begin_writing(connection)
        known = connection.execute(workshop_settings.select().where(
            workshop_settings.c.key == key)).mappings().first()
        if known is None:
            connection.execute(workshop_settings.insert().values(
                key=key, at=store._clock(), by=by, body=text))
        elif known["body"] != text:
            connection.rollback()
            raise ConflictError("This form was already sent with other values.",
                                next_step="Load the page again and enter it afresh.")
        connection.commit()
