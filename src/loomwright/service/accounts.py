"""A job's minutes and parts as a table for an accounts program."""

from __future__ import annotations

import csv
import io
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
           "odometer", "state")
SEPARATORS = {"comma": ",", "semicolon": ";"}
# What a spreadsheet takes for the start of a formula, wide forms too (OWASP, "CSV Injection").
STARTS = tuple("=+-@|%＝＋－＠")


def accounts_csv(workshop: Workshop, job_id: int, separator: str = "comma") -> str:
    """Return a job's labour and parts, one line each, oldest first.

    Minutes that were clocked and parts that were entered count alone; without them the lines are
    what the circuit file expects (see `costs.work_lines`), and the column `basis` says which.
    Money is without tax; rates, tax and currency are those of the workshop's settings now.

    Parameters
        separator: 'comma', or 'semicolon' with decimal commas
    Raises
        NotFoundError: no such job
        UnknownNameError: no such separator
    """
    from loomwright.jobs.rates import rates_of
    from loomwright.service.costs import work_lines

    if separator not in SEPARATORS:
        raise UnknownNameError("separator", separator, SEPARATORS)
    job, history, bench = workshop.opened(job_id)
    rates = rates_of(workshop.store)
    comma = separator == "semicolon"
    out = io.StringIO()
    writer = csv.writer(out, delimiter=SEPARATORS[separator], lineterminator="\r\n")
    writer.writerow(COLUMNS)
    for one in work_lines(history, bench):
        numbers = _numbers(one, rates, comma)
        writer.writerow([
            job.id, *_card(job), one.at, safe_cell(one.by), one.line, safe_cell(one.what),
            *numbers[:3], one.basis, *numbers[3:], safe_cell(rates.currency), job.vehicle.vin,
            job.vehicle.odometer, history.state])
    return out.getvalue()


def _card(job: Job) -> list[str]:
    return [safe_cell(text) for text in (job.customer, job.vehicle.name, job.vehicle.plate)]


def _numbers(one: WorkLine, rates: Rates, comma: bool) -> list[str]:
    """Return minutes, quantity, price, rate, amount and tax of a line."""
    labour = one.line == "labour"
    rate = Decimal(rates.labour_rate_per_h or "0")
    paid = one.minutes * rate / 60 if labour else one.quantity * (one.price or 0)
    known = labour or one.price is not None
    return [_number(one.minutes, comma), "" if labour else f"{one.quantity.normalize():f}",
            _number(one.price, comma) if one.price is not None else "",
            _number(rate, comma) if labour else "", _number(paid, comma) if known else "",
            _number(Decimal(rates.tax_percent or "0"), comma)]


def _number(value: Decimal, comma: bool) -> str:
    from loomwright.service.money import two_places

    text = f"{two_places(value):f}"
    return text.replace(".", ",") if comma else text


def safe_cell(text: str) -> str:
    """Return typed text as one line that no spreadsheet takes for a formula."""
    line = " ".join(text.split())
    return f"'{line}" if line.startswith(STARTS) else line
