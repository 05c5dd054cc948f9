"""What /api/v1 takes and gives of a job's paper side: card, costs, offers, photos, hand-over.

Amounts are text with decimal digits, '12.50', so that nothing is lost on the way; money is without
tax unless it says so. What was not entered is ''.
"""

from __future__ import annotations

from pydantic import Field

from loomwright.web.api_v1_models import KEY, Given, Taken

__all__ = [
    "Answer", "Card", "CardChange", "Change", "CostLine", "Costs", "Findings", "Foresight",
    "HandOver", "Imported", "Limit", "MinutesWorked", "NewAnswer", "NewFindings", "NewHandOver",
    "NewLimit", "NewMinutes", "NewOffer", "NewPart", "NewSettings", "Offer", "PartUsed", "Photo",
    "Settings", "Swap", "Talk", "VinCheck", "Way",
]

PART = "What was fitted."
PRICE = "Price of one without tax; empty where it is not known."


class Card(Given):
    """The job card: customer, vehicle and complaint as they stand."""

    customer: str
    phone: str
    email: str
    address: str
    vehicle: str
    plate: str
    vin: str
    make: str = Field(description="Make and model.")
    vehicle_class: str
    system_v: str = Field(description="System voltage, `24 V`.")
    odometer: str
    hours: str = Field(description="Hours run.")
    system: str = Field(description="Which system of the vehicle, in words.")
    complaint: str
    when: str = Field(description="When it happens.")
    hot: str = Field(description="Hot or cold?")
    wet: str = Field(description="Wet or dry?")
    after: str = Field(description="Since what?")


class CardChange(Taken):
    """Fields of the card to change; a field that is not sent stays as it is."""

    customer: str | None = None
    phone: str | None = None
    email: str | None = None
    address: str | None = None
    vehicle: str | None = None
    plate: str | None = None
    vin: str | None = None
    make: str | None = None
    vehicle_class: str | None = None
    system_v: str | None = None
    odometer: str | None = None
    hours: str | None = None
    system: str | None = None
    complaint: str | None = None
    when: str | None = None
    hot: str | None = None
    wet: str | None = None
    after: str | None = None
    key: str = KEY


class VinCheck(Given):
    """What is odd about a vehicle identification number, '' for nothing."""

    vin: str = Field(description="As it would be stored; '' where it has not the form of one.")
    remark: str


class Change(Given):
    """One thing that happened to a job, with who and when; nothing is ever left out."""

    number: int
    at: str
    by: str
    what: str
    text: str


class PartUsed(Given):
    """A part that was fitted."""

    number: int
    what: str
    quantity: str
    price: str = Field(description=PRICE)
    at: str
    by: str


class NewPart(Taken):
    """A part that was fitted."""

    what: str = Field(description=PART)
    quantity: str = Field(default="1", description="How many; decimals may be given.")
    price: str = Field(default="", description=PRICE)
    key: str = KEY


class MinutesWorked(Given):
    """Minutes that somebody clocked."""

    number: int
    minutes: str
    what: str
    at: str
    by: str


class NewMinutes(Taken):
    """Minutes worked, and on what."""

    minutes: str
    what: str = ""
    key: str = KEY


class CostLine(Given):
    """A line of labour or a part. `number` 0 is no entry; entries can be taken back."""

    number: int
    at: str
    by: str
    line: str = Field(description="`labour` or `part`.")
    what: str
    minutes: str
    quantity: str
    price: str = Field(description=PRICE)
    basis: str = Field(description="clocked, entered, or expected by the circuit file.")


class Limit(Given):
    """Where to stop and ask the customer; '' is no limit of that sort."""

    minutes: str
    money: str = Field(description="Without tax.")


class NewLimit(Taken):
    """Where to stop and ask the customer; '' is no limit of that sort."""

    minutes: str = ""
    money: str = Field(default="", description="Without tax.")
    key: str = KEY


class Costs(Given):
    """What a job has cost so far, at the workshop's rates of now."""

    lines: list[CostLine]
    parts_used: list[PartUsed]
    minutes_worked: list[MinutesWorked]
    minutes: str
    labour: str
    parts: str
    unpriced: int = Field(description="Parts without a price, which are not in the sums.")
    net: str = Field(description="Without tax.")
    tax: str
    gross: str = Field(description="With tax.")
    tax_name: str
    tax_percent: str
    currency: str
    labour_rate_per_h: str
    basis: str
    limit: Limit
    warnings: list[str] = Field(description="Past a limit, or an answer is awaited.")


class NewOffer(Taken):
    """An estimate or a quote as it was told to the customer."""

    form: str = Field(pattern="^(estimate|quote)$", description="`estimate` or `quote`.")
    money: str = Field(description="Without tax.")
    most: str = Field(default="", description="Of an estimate: not more than, without tax.")
    minutes: str = ""
    note: str = ""
    key: str = KEY


class Offer(Given):
    """An estimate or a quote with the figures of its time, which stay as they were."""

    number: int
    form: str
    money: str = Field(description="Without tax.")
    most: str
    minutes: str
    tax_name: str
    tax_percent: str
    currency: str
    note: str
    at: str
    by: str


class NewAnswer(Taken):
    """What the customer's side said. Agreed with an amount makes that amount the limit."""

    agreed: bool
    who: str = Field(description="Who said so.")
    how: str = Field(default="", description="in person, by telephone, by e-mail, by message, on "
                                             "paper; or empty.")
    said_at: str = Field(default="", description="When, in words.")
    minutes: str = Field(default="", description="Up to how many minutes.")
    money: str = Field(default="", description="Up to which sum without tax.")
    note: str = ""
    key: str = KEY


class Answer(Given):
    """What the customer's side said."""

    number: int
    agreed: bool
    who: str
    how: str
    said_at: str
    minutes: str
    money: str
    note: str
    offer: str = Field(description="Number of the offer it answers, or ''.")
    at: str
    by: str


class Talk(Given):
    """What was told to the customer and what was answered, oldest first."""

    offers: list[Offer]
    answers: list[Answer]
    awaited: bool = Field(description="The customer was asked and has not answered.")


class Way(Given):
    """One way to go about the job; each is [mean, half of such jobs, nine of ten]."""

    name: str
    minutes: list[str] = Field(min_length=3, max_length=3)
    net: list[str] = Field(min_length=3, max_length=3, description="Money without tax.")
    gross: list[str] = Field(min_length=3, max_length=3, description="Money with tax.")
    wrong_parts: str = Field(description="Parts fitted in vain, on average.")


class Swap(Given):
    """A repair in the order in which parts would be swapped."""

    text: str
    chance: str = Field(description="That it is this.")
    price: str
    minutes: str
    reached: str = Field(description="Chance that the job gets this far.")
    spent: str = Field(description="Money without tax by then.")


class Foresight(Given):
    """What finding and mending will take. Ask again while `ready` is false."""

    ready: bool
    problem: str = Field(description="Why there are no figures, or ''.")
    ways: list[Way]
    swaps: list[Swap]
    stops: list[str]
    episodes: int = Field(description="Times the job was played through.")
    found: str
    handed_on: str


class NewFindings(Taken):
    """Cause, correction and what remains, in the technician's own words; they replace those of
    before, which stay in the history."""

    cause: str = ""
    correction: str = ""
    remains: str = ""
    key: str = KEY


class Findings(Given):
    """Cause, correction and what remains, in the technician's own words."""

    cause: str
    correction: str
    remains: str
    at: str
    by: str


class NewHandOver(Taken):
    """The vehicle given back: to whom, and what was explained."""

    who: str
    explained: str = ""
    key: str = KEY


class HandOver(Given):
    """The vehicle given back; all fields are '' while it is here."""

    who: str
    explained: str
    at: str
    by: str


class Photo(Given):
    """A photo of a job; its picture is at `photos/{sha256}.jpg` below the job."""

    number: int
    sha256: str
    caption: str
    about: str = Field(description="Number of the reading or repair it belongs to, or ''.")
    width: int
    height: int
    at: str
    by: str


class Settings(Given):
    """The workshop's settings: sender of letters, labour rate, tax, usual limits."""

    name: str
    address: str
    phone: str
    email: str
    tax_number: str
    currency: str
    labour_rate_per_h: str = Field(description="Without tax.")
    tax_name: str
    tax_percent: str
    limit_minutes: str = Field(description="Usual limit of a job.")
    limit_money: str = Field(description="Usual limit of a job, without tax.")
    date_order: str = Field(description="Of letters: day first, month first or year first.")
    assumed: bool = Field(description="The labour rate is nobody's own yet.")


class NewSettings(Taken):
    """Settings to change; a field that is not sent stays as it is."""

    name: str | None = None
    address: str | None = None
    phone: str | None = None
    email: str | None = None
    tax_number: str | None = None
    currency: str | None = None
    labour_rate_per_h: str | None = None
    tax_name: str | None = None
    tax_percent: str | None = None
    limit_minutes: str | None = None
    limit_money: str | None = None
    date_order: str | None = None
    key: str = KEY


class Imported(Given):
    """What became of a job file."""

    job: int
    new: bool = Field(description="False where the job was here already.")
    added: int = Field(description="Events that were added.")
