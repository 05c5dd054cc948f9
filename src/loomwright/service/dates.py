"""Dates in words, in the order a workshop writes them: '25 November 2026'."""

from __future__ import annotations

from datetime import datetime

__all__ = ["DATE_ORDERS", "DAY_FIRST", "date_words", "moment_words"]

DAY_FIRST = "day first"
# The order, and its example on the settings page.
DATE_ORDERS = {DAY_FIRST: "25 November 2026", "month first": "November 25, 2026",
               "year first": "2026 November 25"}
# Our own list: the words must not change with the language of the machine.
_MONTHS = ("January", "February", "March", "April", "May", "June", "July", "August", "September",
           "October", "November", "December")


def date_words(at: str, order: str = DAY_FIRST) -> str:
    """Return a stored time as a date in this machine's own time zone, month in words.

    Parameters
        at: as stored, ISO 8601; a date alone is taken as it is
        order: one of `DATE_ORDERS`; any other is day first
    """
    found = datetime.fromisoformat(at)
    when = found.astimezone() if found.tzinfo else found
    day, month, year = when.day, _MONTHS[when.month - 1], when.year
    if order == "month first":
        return f"{month} {day}, {year}"
    return f"{year} {month} {day}" if order == "year first" else f"{day} {month} {year}"


def moment_words(at: str, order: str = DAY_FIRST) -> str:
    """Return a stored time with hour and minute: '25 November 2026, 09:14'."""
    when = datetime.fromisoformat(at)
    clock = (when.astimezone() if when.tzinfo else when).strftime("%H:%M")
    return f"{date_words(at, order)}, {clock}"
