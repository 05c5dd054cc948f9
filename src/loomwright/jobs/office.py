"""The paper side of a job: card changes, parts, minutes, limits, offers, answers, hand-over.

Every record comes from one event; a later event replaces or withdraws, nothing is overwritten.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

__all__ = [
    "CARD_FIELDS",
    "Answer",
    "Findings",
    "HandOver",
    "Limit",
    "Minutes",
    "Offer",
    "Office",
    "PartUsed",
    "Photo",
]

# What a change of the job card may name; the first nine are also columns of the card as opened.
CARD_FIELDS = (
    "customer", "vehicle", "plate", "vin", "system", "complaint", "when", "phone", "email",
    "address", "make", "vehicle_class", "system_v", "odometer", "hours", "hot", "wet", "after")


@dataclass(frozen=True, slots=True)
class PartUsed:
    """A part fitted: what, how many, and the price of one without tax (as typed, '' unknown)."""

    number: int
    what: str
    quantity: str
    price: str
    at: str
    by: str


@dataclass(frozen=True, slots=True)
class Minutes:
    """Minutes somebody clocked on the job, and for what."""

    number: int
    minutes: str
    what: str
    at: str
    by: str


@dataclass(frozen=True, slots=True)
class Limit:
    """Where to stop and ask the customer: minutes of work or money without tax; '' is no limit."""

    minutes: str = ""
    money: str = ""
    at: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class Offer:
    """An estimate or a quote as it was told: figures as they stood, never recomputed."""

    number: int
    body: Mapping[str, str]
    at: str
    by: str


@dataclass(frozen=True, slots=True)
class Answer:
    """What the customer's side answered: who, when, how, yes or no, and up to which limit."""

    number: int
    agreed: bool
    who: str
    how: str
    said_at: str
    minutes: str
    money: str
    note: str
    offer: str
    at: str
    by: str


@dataclass(frozen=True, slots=True)
class Photo:
    """A photo kept by its content hash; `about` is '' or the number of a reading or repair."""

    number: int
    sha256: str
    caption: str
    about: str
    width: int
    height: int
    at: str
    by: str


@dataclass(frozen=True, slots=True)
class Findings:
    """Cause, correction and what remains, in the technician's own words."""

    cause: str = ""
    correction: str = ""
    remains: str = ""
    at: str = ""
    by: str = ""


@dataclass(frozen=True, slots=True)
class HandOver:
    """The vehicle given back: to whom, what was explained, when and by whom."""

    who: str
    explained: str
    at: str
    by: str


@dataclass(frozen=True, slots=True)
class Office:
    """What stands of a job's paper side after its events."""

    card: Mapping[str, str] = field(default_factory=dict)
    parts: tuple[PartUsed, ...] = ()
    minutes: tuple[Minutes, ...] = ()
    limit: Limit = Limit()
    offers: tuple[Offer, ...] = ()
    answers: tuple[Answer, ...] = ()
    photos: tuple[Photo, ...] = ()
    findings: Findings = Findings()
    hand_over: HandOver | None = None

    @property
    def asks(self) -> bool:
        """Return whether the customer was asked and has not answered."""
        if not self.offers:
            return False
        return not self.answers or self.answers[-1].number < self.offers[-1].number

    def numbers(self) -> set[int]:
        """Return the events that can be taken back: parts, minutes, photos."""
        return {*(one.number for one in self.parts), *(one.number for one in self.minutes),
                *(one.number for one in self.photos)}
