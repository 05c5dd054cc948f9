"""A job's minutes and parts as a table for an accounts program."""

from __future__ import annotations

import csv
import io
from collections.abc import Iterator
from typing import TYPE_CHECKING

from loomwright.errors import UnknownNameError

if TYPE_CHECKING:
    from loomwright.jobs.records import Job, Reading
    from loomwright.service.benches import Bench
    from loomwright.service.jobs import Workshop

__all__ = ["COLUMNS", "SEPARATORS", "accounts_csv", "safe_cell"]

COLUMNS = ("job", "customer", "vehicle", "plate", "at", "by", "line", "what", "minutes",
           "quantity", "price", "basis")
SEPARATORS = {"comma": ",", "semicolon": ";"}
# What a spreadsheet takes for the start of a formula, wide forms too (OWASP, "CSV Injection").
STARTS = tuple("=+-@|%＝＋－＠")
BASIS = "expected by the circuit file, not clocked"


def accounts_csv(workshop: Workshop, job_id: int, separator: str = "comma") -> str:
    """Return a job's labour and parts, one line each, oldest first.

    Minutes are those that the circuit file gives for each reading and repair: a place is reached
    once, a set-up is paid when it changes. Nothing is clocked, and the column `basis` says so.
    A reading taken back was still taken. Prices are those of the circuit's repairs, without tax.

    Parameters
        separator: 'comma', or 'semicolon' with decimal commas
    Raises
        NotFoundError: no such job
        UnknownNameError: no such separator
    """
    if separator not in SEPARATORS:
        raise UnknownNameError("separator", separator, SEPARATORS)
    job, history, bench = workshop.opened(job_id)
    comma = separator == "semicolon"
    out = io.StringIO()
    writer = csv.writer(out, delimiter=SEPARATORS[separator], lineterminator="\r\n")
    writer.writerow(COLUMNS)
    taken = sorted((*history.readings, *history.withdrawn), key=lambda one: one.number)
    rows = [*_readings(bench, tuple(taken))]
    for done in history.repairs:
        repair = bench.repairs[done.repair]
        rows.append((done.number, done.at, done.by, "labour", repair.text, repair.minutes, 0.0))
        if repair.price:
            rows.append((done.number, done.at, done.by, "part", repair.text, 0.0, repair.price))
    for _, at, by, line, what, minutes, price in sorted(rows, key=lambda row: row[0]):
        writer.writerow([job.id, *_card(job), at, safe_cell(by), line, safe_cell(what),
                         _number(minutes, comma), 1 if price else "",
                         _number(price, comma) if price else "", BASIS])
    return out.getvalue()


Row = tuple[int, str, str, str, str, float, float]


def _card(job: Job) -> list[str]:
    return [safe_cell(text) for text in (job.customer, job.vehicle.name, job.vehicle.plate)]


def _readings(bench: Bench, taken: tuple[Reading, ...]) -> Iterator[Row]:
    """Yield a line for each reading with its minutes."""
    from loomwright.service.words import check_title

    reached: set[str] = set()
    set_up = ""
    for one in taken:
        check = bench.plant.check_for(one.state, one.quantity, one.point, one.to, one.instrument)
        minutes = check.minutes
        if check.place and check.place not in reached:
            minutes += bench.plant.places().get(check.place, 0.0)
            reached.add(check.place)
        if check.setup != set_up:
            minutes += bench.plant.setups().get(check.setup, 0.0)
            set_up = check.setup
        title = check_title(bench.circuit, check, bench.negative)
        yield (one.number, one.at, one.by, "labour", f"{title} ({one.state}): {one.value}",
               minutes, 0.0)


def _number(value: float, comma: bool) -> str:
    text = f"{value:.2f}"
    return text.replace(".", ",") if comma else text


def safe_cell(text: str) -> str:
    """Return typed text as one line that no spreadsheet takes for a formula."""
    line = " ".join(text.split())
    return f"'{line}" if line.startswith(STARTS) else line
