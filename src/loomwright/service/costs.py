"""What a job has cost so far: minutes and parts as lines, the sum with tax, and its limit."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from loomwright.service.money import Taxed, money_words, taxed, two_places

if TYPE_CHECKING:
    from loomwright.jobs.office import Limit, Offer, Office
    from loomwright.jobs.rates import Rates
    from loomwright.jobs.records import History, Reading
    from loomwright.service.benches import Bench

__all__ = ["Costs", "WorkLine", "agreed_quote", "costs_of", "limit_of", "past_limit", "work_lines"]

EXPECTED = "expected by the circuit file, not clocked"
CLOCKED = "clocked"
ENTERED = "entered"


@dataclass(frozen=True, slots=True)
class WorkLine:
    """A line of labour or a part: minutes, or how many at which price (None: not known)."""

    number: int
    at: str
    by: str
    line: str  # labour or part
    what: str
    minutes: Decimal
    quantity: Decimal
    price: Decimal | None
    basis: str


@dataclass(frozen=True, slots=True)
class Costs:
    """A job's sums; money without tax but for `total`."""

    lines: tuple[WorkLine, ...]
    minutes: Decimal
    labour: Decimal
    parts: Decimal
    unpriced: int
    total: Taxed
    basis: str


def work_lines(history: History, bench: Bench) -> tuple[WorkLine, ...]:
    """Return a job's labour and parts, oldest first.

    Minutes that were clocked count alone; without any, those that the circuit file gives for each
    reading and repair: a place is reached once, a set-up is paid when it changes, and a reading
    taken back was still taken. Parts that were entered count alone; without any, the prices of
    the circuit's repairs.
    """
    office = history.office
    labour = [WorkLine(one.number, one.at, one.by, "labour", one.what or "work",
                       Decimal(one.minutes), Decimal(0), None, CLOCKED) for one in office.minutes]
    parts = [WorkLine(one.number, one.at, one.by, "part", one.what, Decimal(0),
                      Decimal(one.quantity), Decimal(one.price) if one.price else None, ENTERED)
             for one in office.parts]
    found = [*(labour or _expected_labour(history, bench)),
             *(parts or _expected_parts(history, bench))]
    return tuple(sorted(found, key=lambda one: one.number))


def _expected_labour(history: History, bench: Bench) -> list[WorkLine]:
    taken = sorted((*history.readings, *history.withdrawn), key=lambda one: one.number)
    found = list(_readings(bench, tuple(taken)))
    for done in history.repairs:
        repair = bench.repairs[done.repair]
        found.append(WorkLine(done.number, done.at, done.by, "labour", repair.text,
                              _decimal(repair.minutes), Decimal(0), None, EXPECTED))
    return found


def _expected_parts(history: History, bench: Bench) -> list[WorkLine]:
    found = []
    for done in history.repairs:
        repair = bench.repairs[done.repair]
        if repair.price:
            found.append(WorkLine(done.number, done.at, done.by, "part", repair.text, Decimal(0),
                                  Decimal(1), _decimal(repair.price), EXPECTED))
    return found


def _readings(bench: Bench, taken: tuple[Reading, ...]) -> Iterator[WorkLine]:
    """Yield a line for each reading with its minutes."""
    from loomwright.diagnosis.choose import Position, minutes_from
    from loomwright.service.words import check_title

    position, places, setups = Position(), bench.plant.places(), bench.plant.setups()
    for one in taken:
        check = bench.plant.check_for(one.state, one.quantity, one.point, one.to, one.instrument)
        minutes = minutes_from(check, position, places, setups)
        position = position.after(check)
        title = check_title(bench.circuit, check, bench.negative)
        yield WorkLine(one.number, one.at, one.by, "labour",
                       f"{title} ({one.state}): {one.value}", _decimal(minutes), Decimal(0), None,
                       EXPECTED)


def _decimal(value: float) -> Decimal:
    return Decimal(repr(round(float(value), 6)))


def costs_of(history: History, bench: Bench, rates: Rates) -> Costs:
    """Return what a job has cost so far at the workshop's rates."""
    lines = work_lines(history, bench)
    minutes = sum((one.minutes for one in lines), Decimal(0))
    labour = two_places(minutes * Decimal(rates.labour_rate_per_h or "0") / 60)
    parts = two_places(sum((one.quantity * (one.price or 0) for one in lines
                            if one.line == "part"), Decimal(0)))
    unpriced = sum(one.line == "part" and one.price is None for one in lines)
    total = taxed(labour + parts, Decimal(rates.tax_percent or "0"))
    basis = CLOCKED if history.office.minutes else EXPECTED
    return Costs(lines, minutes, labour, parts, unpriced, total, basis)


def agreed_quote(office: Office) -> Offer | None:
    """Return the quote that the customer agreed to last, if the last answer was to a quote."""
    answer = office.answers[-1] if office.answers else None
    if answer is None or not answer.agreed:
        return None
    told = [one for one in office.offers if str(one.number) == answer.offer]
    return told[0] if told and told[0].body.get("form") == "quote" else None


def limit_of(history: History, rates: Rates) -> Limit:
    """Return where a job stops and asks: its own limit, else the usual one of the workshop.

    A limit that was set to nothing on the job is no limit.
    """
    from loomwright.jobs.office import Limit

    own = history.office.limit
    return own if own.at else Limit(rates.limit_minutes, rates.limit_money)


def past_limit(history: History, costs: Costs, rates: Rates) -> tuple[str, ...]:
    """Return in words by what a job is past its limit; nothing where it has none or is within."""
    limit = limit_of(history, rates)
    found = []
    if limit.minutes and costs.minutes > Decimal(limit.minutes):
        found.append(f"Past the limit: {costs.minutes:.0f} of {limit.minutes} minutes "
                     f"({costs.basis}). Stop and ask the customer.")
    spent = costs.total.net
    if limit.money and spent > Decimal(limit.money):
        agreed = money_words(Decimal(limit.money), rates.currency)
        found.append(f"Past the limit: {money_words(spent, rates.currency)} of {agreed} without "
                     "tax. Stop and ask the customer.")
    return tuple(found)
