"""The letter to the customer: what was wrong, found, done and proved, and what it costs."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import TYPE_CHECKING

from loomwright.service.costs import agreed_quote, costs_of
from loomwright.service.dates import date_words
from loomwright.service.limits import limit_rows, model_words
from loomwright.service.money import money_words, taxed
from loomwright.service.office_view import cost_lines, price_head, sum_lines, talk_lines
from loomwright.service.rates import sender_lines
from loomwright.service.report import NOT_READ, card_facts, record
from loomwright.service.typesetting import typeset

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loomwright.jobs.office import Offer, Office
    from loomwright.jobs.rates import Rates
    from loomwright.jobs.records import History
    from loomwright.service.costs import Costs
    from loomwright.service.jobs import Workshop
    from loomwright.service.records import Caution, PhotoLine, Record

__all__ = ["MOST_PHOTOS", "Letter", "letter", "letter_pdf", "picture_files"]

MOST_PHOTOS = 4  # on a letter; the record has more
Pairs = tuple[tuple[str, str], ...]


@dataclass(frozen=True, slots=True)
class Letter:
    """Everything that the letter says, in words; money in the workshop's currency."""

    job: int
    at: str
    workshop: str
    sender: tuple[str, ...]
    receiver: tuple[str, ...]
    vehicle: str
    facts: Pairs
    complaint: str
    found: tuple[str, ...]
    done: tuple[str, ...]
    proof: str
    proved: bool
    readings: tuple[tuple[str, str, str, str], ...]  # reading, before, after, healthy
    healthy_from: str
    limits: tuple[tuple[str, str, str], ...]  # what, limit, source
    remains: tuple[str, ...]
    price_head: str  # over the prices of parts
    lines: Pairs
    sums: Pairs
    price_note: str
    talk: tuple[str, ...]
    cautions: tuple[Caution, ...]
    photos: tuple[PhotoLine, ...]
    hand_over: str


def letter(workshop: Workshop, job_id: int) -> Letter:
    """Return the letter of a job as it stands now. Raises NotFoundError."""
    from loomwright.jobs.rates import rates_of

    job, history, bench = workshop.opened(job_id)
    rates, office = rates_of(workshop.store), history.office
    made = record(job, history, bench, rates)
    costs = costs_of(history, bench, rates)
    agreed = agreed_quote(office)
    last = workshop.store.events(job_id)
    return Letter(
        job=job.id, at=date_words(last[-1].at if last else job.created_at, rates.date_order),
        workshop=rates.name, sender=sender_lines(rates),
        receiver=_lines(job.customer, *job.contact.address.splitlines()),
        vehicle=job.vehicle.name, complaint=made.complaint,
        facts=(*((("Plate", job.vehicle.plate),) if job.vehicle.plate else ()),
               *card_facts(job)),
        found=_lines(office.findings.cause, _cause(made, history)),
        done=_lines(office.findings.correction, *(
            f"{one.text}: {one.outcome}. {one.found}".strip() for one in made.corrections)),
        proof=_proof(made, history), proved=made.proved, readings=made.before_after,
        healthy_from=model_words(bench.circuit),
        limits=limit_rows(bench.circuit, tuple(one.repair for one in history.repairs)),
        remains=_remains(office, history), price_head=price_head(rates),
        lines=() if agreed else _price_lines(costs, rates),
        sums=_offered(agreed) if agreed else sum_lines(costs, rates),
        price_note=_price_note(costs, rates, agreed),
        talk=tuple(f"{date_words(one.at, rates.date_order)}: {one.text}" for one in talk_lines(
            office.offers, office.answers)),
        cautions=made.cautions, photos=made.photos[:MOST_PHOTOS], hand_over=made.hand_over)


def _lines(*texts: str) -> tuple[str, ...]:
    return tuple(one for one in texts if one.strip())


def _cause(made: Record, history: History) -> str:
    """Return what the readings say is the cause; nothing before there is one."""
    if not history.repairs:
        return "" if history.office.findings.cause else "The cause is not found yet."
    return f"What the readings say: {made.cause}" if made.cause_named else ""


def _proof(made: Record, history: History) -> str:
    """Return in words how it is known that the repair holds, or that it is not known."""
    unread = sum(after == NOT_READ for _, _, after, _ in made.before_after)
    if unread and history.finish is not None:
        read = len(made.before_after) - unread
        return (f"The repair has not been proved: {read} of {len(made.before_after)} readings of "
                "its proof were taken.")
    if made.proof:
        return made.proof
    if history.repairs:
        return "The repair has not been proved by readings."
    return "No repair was made."


def _remains(office: Office, history: History) -> tuple[str, ...]:
    found = list(_lines(office.findings.remains))
    end = history.finish
    if end is not None and end.reason:
        found.append(f"The job was ended without a proof: {end.reason}")
    if end is None:
        found.append("The job is not finished yet.")
    return tuple(found)


def _offered(offer: Offer) -> Pairs:
    body = offer.body
    currency, percent = body.get("currency", ""), body.get("tax_percent") or "0"
    price = taxed(Decimal(body["money"]), Decimal(percent))
    if not price.tax:
        return (("Price agreed", money_words(price.gross, currency)),)
    return (("Price agreed, without tax", money_words(price.net, currency)),
            (f"{body.get('tax_name') or 'Tax'} {percent} %", money_words(price.tax, currency)),
            ("Total", money_words(price.gross, currency)))


def _price_lines(costs: Costs, rates: Rates) -> Pairs:
    """Return the parts one by one; labour is one line of the sums."""
    return tuple((one.what, one.amount) for one in cost_lines(costs, rates) if one.part)


def _price_note(costs: Costs, rates: Rates, agreed: Offer | None) -> str:
    if agreed is not None:
        return "The price is that of the quote agreed to."
    found = []
    if costs.minutes and costs.basis != "clocked":
        found.append("The minutes are those the circuit file expects; they were not clocked.")
    if any(one.line == "part" and one.basis != "entered" for one in costs.lines):
        found.append("Prices of parts are those of the circuit file.")
    if costs.unpriced:
        found.append(f"{costs.unpriced} of the parts have no price yet and are not in the sum.")
    if rates.assumed:
        found.append("The labour rate is assumed, not the workshop's own.")
    return " ".join(found)


def picture_files(workshop: Workshop, photos: tuple[PhotoLine, ...]) -> dict[str, bytes]:
    """Return the files of photos by name; one that is not in the folder is left out."""
    from loomwright.errors import NotFoundError

    found = {}
    for one in photos:
        try:
            found[one.file] = workshop.store.photos.read(one.sha256)
        except NotFoundError:
            continue
    return found


def letter_pdf(made: Letter, pictures: Mapping[str, bytes] | None = None) -> bytes:
    """Return a letter as PDF; `pictures` are the files of its photos by name."""
    import dataclasses

    given = pictures or {}
    photos = tuple(one for one in made.photos if one.file in given)
    return typeset("letter.typ", dataclasses.replace(made, photos=photos), pictures=given,
                   kept=("file", "at"))
