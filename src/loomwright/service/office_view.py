"""The paper side of a job as shown: card, costs, offers and answers, photos, changes in words."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from loomwright.service.costs import costs_of, limit_of, past_limit
from loomwright.service.history_words import WHAT, event_words, offer_words
from loomwright.service.money import money_words, two_places
from loomwright.service.office import CARD_LABELS, HOW, card_of
from loomwright.service.rates import sender_missing
from loomwright.service.records import Choice, PhotoLine
from loomwright.service.words import check_title

if TYPE_CHECKING:
    from loomwright.jobs.office import Answer, Offer, Photo
    from loomwright.jobs.rates import Rates
    from loomwright.jobs.records import History, Job
    from loomwright.service.benches import Bench
    from loomwright.service.costs import Costs
    from loomwright.service.jobs import Workshop
    from loomwright.service.quote import Foresight

__all__ = ["ChangeLine", "CostLine", "OfficeView", "TalkLine", "WayLine",
           "change_lines", "cost_lines", "has_tax", "limit_warnings", "office_view",
           "photo_lines", "price_head", "sum_lines", "talk_lines", "way_lines"]


@dataclass(frozen=True, slots=True)
class CostLine:
    """A line of labour or a part; `undo` says whether it can be taken back."""

    number: int
    at: str
    by: str
    what: str
    amount: str
    basis: str
    undo: bool
    part: bool = False


@dataclass(frozen=True, slots=True)
class TalkLine:
    """An offer or an answer in words."""

    number: int
    at: str
    by: str
    text: str


@dataclass(frozen=True, slots=True)
class WayLine:
    """One way to go about the job in words: minutes and money."""

    name: str
    minutes: str
    money: str
    with_tax: str
    wrong_parts: str


@dataclass(frozen=True, slots=True)
class ChangeLine:
    """One thing that happened to a job, in words."""

    number: int
    at: str
    by: str
    what: str
    text: str


@dataclass(frozen=True, slots=True)
class OfficeView:
    """Everything the pages of a job's paper side show."""

    job: Job
    state_word: str
    finished: bool
    handed_over: bool
    card: Mapping[str, str]
    labels: Mapping[str, str]
    lines: tuple[CostLine, ...]
    sums: tuple[tuple[str, str], ...]
    warnings: tuple[str, ...]
    limit_minutes: str
    limit_money: str
    talk: tuple[TalkLine, ...]
    asks: bool
    photos: tuple[PhotoLine, ...]
    about: tuple[Choice, ...]
    findings: Mapping[str, str]
    hand_over: str
    rates_assumed: bool
    tax_name: str
    currency: str
    how: tuple[str, ...]
    can_foresee: bool
    sender_missing: str
    last: int  # the newest event that the page shows


def office_view(workshop: Workshop, job_id: int) -> OfficeView:
    """Return what the card, costs, photos and hand-over pages show. Raises NotFoundError."""
    from loomwright.jobs.rates import rates_of

    job, history, bench = workshop.opened(job_id)
    rates, office = rates_of(workshop.store), history.office
    costs, limit = costs_of(history, bench, rates), limit_of(history, rates)
    said = office.findings
    given = office.hand_over
    return OfficeView(
        job=job, state_word=history.state, finished=history.finish is not None,
        handed_over=given is not None, card=card_of(job), labels=CARD_LABELS,
        lines=cost_lines(costs, rates), sums=sum_lines(costs, rates),
        warnings=limit_warnings(history, bench, rates),
        limit_minutes=limit.minutes, limit_money=limit.money,
        talk=talk_lines(office.offers, office.answers), asks=office.asks,
        photos=photo_lines(bench, history), about=_about(bench, history),
        findings={"cause": said.cause, "correction": said.correction, "remains": said.remains},
        hand_over=f"Given to {given.who}. {given.explained}" if given else "",
        rates_assumed=rates.assumed, tax_name=rates.tax_name, currency=rates.currency, how=HOW,
        can_foresee=not history.proving and history.finish is None,
        sender_missing=sender_missing(rates), last=history.last)


def limit_warnings(history: History, bench: Bench, rates: Rates) -> tuple[str, ...]:
    """Return what has to be said before more is done: past a limit, or an answer is awaited."""
    found: list[str] = []
    if history.finish is None:  # afterwards there is nothing left to stop
        found += past_limit(history, costs_of(history, bench, rates), rates)
    if history.office.asks:
        found.append("The customer was asked and has not answered yet.")
    answers = history.office.answers
    if answers and not answers[-1].agreed and not history.office.asks:
        found.append(f"The customer did not agree ({answers[-1].who}).")
    return tuple(found)


def cost_lines(costs: Costs, rates: Rates) -> tuple[CostLine, ...]:
    """Return the lines of labour and parts in words."""
    found = []
    for one in costs.lines:
        amount = f"{one.minutes:.0f} min"
        if one.line == "part":
            price = "price not entered" if one.price is None else money_words(
                one.price, rates.currency)
            amount = f"{one.quantity.normalize():f} × {price}"
        found.append(CostLine(one.number, one.at, one.by, one.what, amount, one.basis,
                              one.basis in ("clocked", "entered"), one.line == "part"))
    return tuple(found)


def sum_lines(costs: Costs, rates: Rates) -> tuple[tuple[str, str], ...]:
    """Return labour, parts, their sum, the tax and the total, each with its name."""
    def words(value: Decimal) -> str:
        return money_words(value, rates.currency)

    rate = words(Decimal(rates.labour_rate_per_h))
    taxes = (("Without tax", words(costs.total.net)),
             (f"{rates.tax_name or 'Tax'} {rates.tax_percent} %", words(costs.total.tax)))
    return (
        (f"Labour, {round(float(costs.minutes), 1):g} min at {rate} an hour", words(costs.labour)),
        ("Parts", words(costs.parts)), *(taxes if has_tax(rates) else ()),
        ("Total", words(costs.total.gross)))


def has_tax(rates: Rates) -> bool:
    """Return whether sums carry a tax: a rate of 0 is not written out."""
    return bool(Decimal(rates.tax_percent or "0"))


def price_head(rates: Rates) -> str:
    """Return what stands over the prices of parts."""
    return "How many, price of one" + (" without tax" if has_tax(rates) else "")


def talk_lines(offers: tuple[Offer, ...], answers: tuple[Answer, ...]) -> tuple[TalkLine, ...]:
    """Return what was told to the customer and what was answered, oldest first."""
    untaxed = offers and not any(Decimal(one.body.get("tax_percent") or "0") for one in offers)
    net = "" if untaxed else " without tax"
    found = [TalkLine(one.number, one.at, one.by, offer_words(dict(one.body))) for one in offers]
    for one in answers:
        limit = [f"up to {one.minutes} minutes" if one.minutes else "",
                 f"up to {two_places(Decimal(one.money))}{net}" if one.money else ""]
        parts = [f"{one.who} {'agreed' if one.agreed else 'did not agree'}", one.how, one.said_at,
                 *limit, one.note]
        found.append(TalkLine(one.number, one.at, one.by,
                              ", ".join(part for part in parts if part) + "."))
    return tuple(sorted(found, key=lambda one: one.number))


def photo_lines(bench: Bench, history: History) -> tuple[PhotoLine, ...]:
    """Return the photos that stand, each with what it belongs to."""
    known = {one.id: one.text for one in _about(bench, history)}

    def line(one: Photo) -> PhotoLine:
        words = known.get(one.about, "") if one.about else ""
        return PhotoLine(**{**dataclasses.asdict(one), "about": words}, file=f"{one.sha256}.jpg")

    return tuple(line(one) for one in history.office.photos)


def _about(bench: Bench, history: History) -> tuple[Choice, ...]:
    """Return the readings and repairs that a photo can belong to."""
    found = [Choice("", "the job")]
    for one in history.readings:
        check = bench.plant.check_for(one.state, one.quantity, one.point, one.to, one.instrument)
        title = check_title(bench.circuit, check, bench.negative)
        found.append(Choice(str(one.number), f"{title} ({one.state}): {one.value}"))
    for done in history.repairs:
        repair = bench.repairs.get(done.repair)
        found.append(Choice(str(done.number), repair.text if repair else done.repair))
    return tuple(found)


def way_lines(found: Foresight, currency: str) -> tuple[WayLine, ...]:
    """Return both ways of a foresight in words."""
    lines = []
    for way in found.ways:
        mean, _, p90 = (money_words(one, currency) for one in way.net)
        lines.append(WayLine(
            way.name, f"{way.minutes[0]:.0f} on average, nine of ten within {way.minutes[2]:.0f}",
            f"{mean} on average, nine of ten within {p90}",
            f"{money_words(way.gross[0], currency)} / {money_words(way.gross[2], currency)}",
            f"{way.wrong_parts}"))
    return tuple(lines)


def change_lines(workshop: Workshop, job_id: int) -> tuple[ChangeLine, ...]:
    """Return everything that happened to a job, oldest first; nothing is left out."""
    job = workshop.store.job(job_id)
    first = ChangeLine(0, job.created_at, job.by, "Opened",
                       f"{job.vehicle.name}: {job.complaint.text}")
    return (first, *(ChangeLine(one.number, one.at, one.by, WHAT[one.kind], event_words(one))
                     for one in workshop.store.events(job_id)))
