"""Amounts as typed and as shown: exact decimals, comma or point, rounded once at the end."""

from __future__ import annotations

import re
from dataclasses import dataclass
from decimal import ROUND_HALF_UP, Decimal

from loomwright.errors import UsageError

__all__ = ["Taxed", "amount", "canonical", "money_words", "taxed", "two_places"]

FORM = re.compile(r"\d{1,9}([.,]\d{1,4})?")
CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class Taxed:
    """A sum without tax, the tax on it and both together."""

    net: Decimal
    tax: Decimal
    gross: Decimal


def amount(text: str, name: str, *, most: Decimal = Decimal(10_000_000)) -> Decimal | None:
    """Return a typed amount of at least 0, or None where nothing was typed.

    Raises UsageError where it is no amount, or above `most`.
    """
    typed = "".join(text.split())
    if not typed:
        return None
    if not FORM.fullmatch(typed):
        raise UsageError(f"The {name} '{text[:40]}' is no amount.",
                         next_step="Type a number like 12.50, without a unit.")
    found = Decimal(typed.replace(",", "."))
    if found > most:
        raise UsageError(f"The {name} is {found}; {most} is the most.", next_step="Check it.")
    return found


def canonical(text: str, name: str, *, most: Decimal = Decimal(10_000_000)) -> str:
    """Return a typed amount as it is stored ('' stays ''). Raises UsageError."""
    found = amount(text, name, most=most)
    return "" if found is None else f"{found:f}"


def two_places(value: Decimal | float) -> Decimal:
    """Return an amount rounded to hundredths, halves up."""
    exact = value if isinstance(value, Decimal) else Decimal(repr(float(value)))
    return exact.quantize(CENT, ROUND_HALF_UP)


def taxed(net: Decimal, percent: Decimal) -> Taxed:
    """Return a sum with its tax: the tax is rounded once, on the whole sum."""
    whole = two_places(net)
    tax = two_places(whole * percent / 100)
    return Taxed(whole, tax, whole + tax)


def money_words(value: Decimal | float, currency: str) -> str:
    """Return an amount as shown: '1 234.50 EUR', or without a currency where none is set."""
    text = f"{two_places(value):,.2f}".replace(",", "\u202f")
    return f"{text} {currency}" if currency else text
