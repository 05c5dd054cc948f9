"""What a job holds: frozen records of the job card and of everything that happened to it.

An event is never changed or removed. Taking something back is one more event that withdraws it.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from loomwright.jobs.office import Office

__all__ = [
    "KINDS",
    "Complaint",
    "Contact",
    "Event",
    "Finish",
    "History",
    "Job",
    "NewEvent",
    "NewJob",
    "Reading",
    "RepairDone",
    "Told",
    "Unreached",
    "Vehicle",
]

# reading: something observed; withdraw: an earlier reading was taken back; begin: a repair was
# begun; repair: a repair was done; reopen: the repair did not hold; finish: the job was closed;
# told: a code, a part swapped, history, or the word to go on with a second part; unreached: a
# point cannot be reached, so that nothing is asked there; circuit: a later version of the
# circuit; the others are
# the paper side of the job (see `office`).
KINDS = ("reading", "withdraw", "begin", "repair", "reopen", "finish", "card", "part", "minutes",
         "limit", "offer", "answer", "photo", "findings", "hand over",
         "told", "unreached", "circuit")


@dataclass(frozen=True, slots=True)
class Vehicle:
    """The vehicle as the workshop names it; what was not asked is ''."""

    name: str
    plate: str = ""
    vin: str = ""
    make: str = ""  # make and model, as written on it
    vehicle_class: str = ""
    system_v: str = ""
    odometer: str = ""
    hours: str = ""


@dataclass(frozen=True, slots=True)
class Complaint:
    """What the customer says is wrong, and when it happens; `after` is what went before it."""

    text: str
    when: str = ""
    hot: str = ""
    wet: str = ""
    after: str = ""


@dataclass(frozen=True, slots=True)
class Contact:
    """How the customer is reached."""

    phone: str = ""
    email: str = ""
    address: str = ""


@dataclass(frozen=True, slots=True)
class NewJob:
    """A job to be created. `demo` names a demonstration vehicle ('' on a real job)."""

    customer: str
    vehicle: Vehicle
    system: str
    complaint: Complaint
    circuit_text: str
    by: str = ""
    demo: str = ""


@dataclass(frozen=True, slots=True)
class Job:
    """A job card as stored. `created_at` is UTC, ISO 8601; `circuit` the hash of its text."""

    id: int
    customer: str
    vehicle: Vehicle
    system: str
    complaint: Complaint
    circuit: str
    created_at: str
    by: str
    demo: str = ""
    contact: Contact = Contact()


@dataclass(frozen=True, slots=True)
class NewEvent:
    """Something that happened. `key` is chosen by whoever submits: the same key counts once."""

    kind: str
    body: Mapping[str, str]
    key: str
    by: str = ""


@dataclass(frozen=True, slots=True)
class Event:
    """A stored event. `number` counts from 1 within its job; `at` is UTC, ISO 8601."""

    number: int
    kind: str
    at: str
    by: str
    key: str
    body: Mapping[str, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True)
class Reading:
    """A reading that stands: where, in which state, with what, and the value as typed.

    `round` counts the repairs done before it: 0 belongs to finding the fault. `proving` marks a
    reading taken after a repair, while that repair is being proved.
    """

    number: int
    state: str
    quantity: str
    point: str
    to: str
    value: str
    instrument: str
    at: str
    by: str
    round: int = 0
    proving: bool = False


@dataclass(frozen=True, slots=True)
class Told:
    """Something known that is no reading.

    `sort`: 'code', 'swap', 'history' or 'agree'; `about`: the elements it concerns; `result`:
    'stored', 'not stored', 'no change', 'gone', 'added' or ''. `round` as of a reading.
    """

    number: int
    sort: str
    text: str
    about: tuple[str, ...]
    result: str
    at: str
    by: str
    round: int = 0


@dataclass(frozen=True, slots=True)
class Unreached:
    """A point, or a pair of points, that cannot be read on this vehicle with an instrument."""

    number: int
    point: str
    to: str
    instrument: str
    at: str
    by: str


@dataclass(frozen=True, slots=True)
class RepairDone:
    """A repair carried out: which, what was found, and whether the job was reopened after it."""

    number: int
    repair: str
    found: str
    at: str
    by: str
    failed: bool = False


@dataclass(frozen=True, slots=True)
class Finish:
    """The end of a job; `reason` is given where it ended without a proof."""

    at: str
    by: str
    note: str = ""
    reason: str = ""


@dataclass(frozen=True, slots=True)
class History:
    """A job's events in order, folded into what stands now."""

    readings: tuple[Reading, ...] = ()
    withdrawn: tuple[Reading, ...] = ()
    repairs: tuple[RepairDone, ...] = ()
    begun: str = ""  # the repair under way
    proving: bool = False
    finish: Finish | None = None
    last: int = 0  # number of the last event
    office: Office = field(default_factory=Office)
    told: tuple[Told, ...] = ()
    unreached: tuple[Unreached, ...] = ()
    circuit: str = ""  # hash of the latest version; '' where the job has its first one

    @property
    def state(self) -> str:
        """Return where the job stands, in words."""
        if self.finish is not None:
            return "handed over" if self.office.hand_over else "finished"
        if self.proving:
            return "proving"
        if self.begun:
            return "repairing"
        return "finding the fault" if self.readings or self.repairs else "waiting"
