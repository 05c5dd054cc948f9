"""A job's minutes and parts as a table for an accounts program."""

from __future__ import annotations

import csv
import io
import re
from decimal import Decimal
from typing import TYPE_CHECKING

from loomwright.errors import UnknownNameError

if TYPE_CHECKING:
    from loomwright.jobs.rates import Rates
    from loomwright.jobs.records import Job
    from loomwright.service.costs import WorkLine
    from loomwright.service.jobs import Workshop

__all__ = ["COLUMNS", "SEPARATORS", "accounts_csv", "safe_cell"]

COLUMNS = ("job", "customer", "vehicle", "plate", "at", "by", "line", "what", "minutes",
           "quantity", "price", "basis", "rate_per_h", "amount", "tax_percent", "currency", "vin",
           "odometer", "state", "price_agreed")
SEPARATORS = {"comma": ",", "semicolon": ";"}
# What a spreadsheet takes for the start of a formula, wide forms too (OWASP, "CSV Injection").
STARTS = tuple("=+-@|%＝＋－＠")
# A spreadsheet set to the other separator begins a cell in the middle of one of ours.
AFTER_SEPARATOR = re.compile("([,;\t][ \"']*)(?=[=+@|%＝＋＠-])")


def accounts_csv(workshop: Workshop, job_id: int, separator: str = "comma") -> str:
    """Return a job's labour and parts, one line each, oldest first.

    Minutes that were clocked and parts that were entered count alone; without them the lines are
    what the circuit file expects (see `costs.work_lines`), and the column `basis` says which.
    Money is without tax; rates, tax and currency are those of the workshop's settings now. Where a
    quote was agreed to, each line carries its price: that is what the customer pays.

    Parameters
        separator: 'comma', or 'semicolon' with decimal commas
    Raises
        NotFoundError: no such job
        UnknownNameError: no such separator
    """
    from loomwright.jobs.rates import rates_of
    from loomwright.service.costs import agreed_quote, work_lines

    if separator not in SEPARATORS:
        raise UnknownNameError("separator", separator, SEPARATORS)
    job, history, bench = workshop.opened(job_id)
    rates = rates_of(workshop.store)
    comma, agreed = separator == "semicolon", agreed_quote(history.office)
    price_agreed = _number(Decimal(agreed.body["money"]), comma) if agreed else ""
    out = io.StringIO()
    writer = csv.writer(out, delimiter=SEPARATORS[separator], lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for one in work_lines(history, bench):
        numbers = _numbers(one, rates, comma)
        writer.writerow([
            job.id, *_card(job), one.at, safe_cell(one.by), one.line, safe_cell(one.what),
            *numbers[:3], one.basis, *numbers[3:], safe_cell(rates.currency),
            safe_cell(job.vehicle.vin), safe_cell(job.vehicle.odometer), history.state,
            price_agreed])
    return out.getvalue()


def _card(job: Job) -> list[str]:
    return [safe_cell(text) for text in (job.customer, job.vehicle.name, job.vehicle.plate)]


def _numbers(one: WorkLine, rates: Rates, comma: bool) -> list[str]:
    """Return minutes, quantity, price, rate, amount and tax of a line."""
    labour = one.line == "labour"
    rate = Decimal(rates.labour_rate_per_h or "0")
    paid = one.minutes * rate / 60 if labour else one.quantity * (one.price or 0)
    known = labour or one.price is not None
    quantity = "" if labour else _shown(f"{one.quantity.normalize():f}", comma)
    return [_number(one.minutes, comma), quantity,
            _number(one.price, comma) if one.price is not None else "",
            _number(rate, comma) if labour else "", _number(paid, comma) if known else "",
            _number(Decimal(rates.tax_percent or "0"), comma)]


def _number(value: Decimal, comma: bool) -> str:
    from loomwright.service.money import two_places

    return _shown(f"{two_places(value):f}", comma)


def _shown(text: str, comma: bool) -> str:
    return text.replace(".", ",") if comma else text


def safe_cell(text: str) -> str:
    """Return typed text as one line that no spreadsheet takes for a formula."""
    line = AFTER_SEPARATOR.sub(r"\1'", " ".join(text.split()))
    return f"'{line}" if line.startswith(STARTS) else line
