"""What the job use cases give to a screen or a command: frozen records, ready to show."""

from __future__ import annotations

from dataclasses import dataclass

from loomwright.jobs.office import Photo
from loomwright.jobs.records import Finish, Job

__all__ = [
    "Caution",
    "CheckLine",
    "Choice",
    "CircuitChoice",
    "Entry",
    "JobForm",
    "JobLine",
    "JobView",
    "Look",
    "PhotoLine",
    "ProofLine",
    "ProofView",
    "ReadingForm",
    "ReadingLine",
    "Record",
    "RepairLine",
    "SuspectLine",
    "ToldLine",
    "UnreachedLine",
    "VerdictView",
    "WhyBlock",
    "WhyPoint",
    "WhyView",
]


@dataclass(frozen=True, slots=True)
class Choice:
    """One of several things to choose from, with its words."""

    id: str
    text: str
    chosen: bool = False
    detail: str = ""


@dataclass(frozen=True, slots=True)
class CircuitChoice:
    """A circuit that another job already has."""

    job: int
    title: str


@dataclass(frozen=True, slots=True)
class Caution:
    """A short warning, which always defers to the vehicle maker's procedure."""

    title: str
    text: str


@dataclass(frozen=True, slots=True)
class JobForm:
    """A new job as typed. `copy_from` takes the circuit of another job."""

    customer: str
    vehicle: str
    plate: str
    system: str
    complaint: str
    when: str
    circuit_text: str = ""
    copy_from: int | None = None
    by: str = ""
    vin: str = ""


@dataclass(frozen=True, slots=True)
class ReadingForm:
    """A reading as typed; a bare number is in `unit`, or in the usual unit of the quantity."""

    state: str
    quantity: str
    at: str
    to: str = ""
    value: str = ""
    unit: str = ""
    instrument: str = ""


@dataclass(frozen=True, slots=True)
class Look:
    """What the reader of a job page has chosen to look at; '' leaves the choice to the program."""

    state: str = ""
    show: str = ""  # 'healthy' or a suspect's id
    quantity: str = ""
    at: str = ""
    to: str = ""
    instrument: str = ""
    only: str = ""  # 'complaint': draw only the tracks that the complaint concerns


@dataclass(frozen=True, slots=True)
class JobLine:
    """A job in the list, with the title of its circuit and when it last moved."""

    job: Job
    state: str
    title: str
    readings: int
    last_at: str
    asks: bool = False  # the customer was asked and has not answered


@dataclass(frozen=True, slots=True)
class SuspectLine:
    """A suspect in words. `share` is its probability, `percent` the same as shown."""

    id: str
    name: str
    detail: str
    fault: str
    share: float
    percent: str
    severity: str
    repair: str
    place: str
    rank: int
    led_to: str = ""  # what it blew, in one sentence


@dataclass(frozen=True, slots=True)
class CheckLine:
    """A check to take: how, where, how long, and what each leading suspect would show."""

    id: str
    state: str
    quantity: str
    at: str
    to: str
    instrument: str
    unit: str
    levels: tuple[str, ...]
    title: str
    set_up: str
    how: str
    place: str
    minutes: str
    care: str
    predicts: tuple[tuple[str, str], ...] = ()
    healthy: str = ""


@dataclass(frozen=True, slots=True)
class ReadingLine:
    """A reading taken, with what it says. `mark` is for, against or even (the first suspect)."""

    number: int
    title: str
    state: str
    value: str
    healthy: str
    says: str
    mark: str
    matters: str
    at: str
    by: str
    query: str
    as_expected: bool


@dataclass(frozen=True, slots=True)
class VerdictView:
    """Where the job stands, in words."""

    status: str
    title: str
    why: str
    confidence: str
    repair: str
    repair_text: str
    minutes: str
    cost: str


@dataclass(frozen=True, slots=True)
class RepairLine:
    """A repair that was done."""

    repair: str
    text: str
    found: str
    at: str
    by: str
    outcome: str


@dataclass(frozen=True, slots=True)
class ProofLine:
    """One check of the proof: `status` is 'still to read', 'good' or 'not good'."""

    check: CheckLine
    status: str
    value: str
    before: str
    number: int = 0


@dataclass(frozen=True, slots=True)
class ProofView:
    """Whether the last repair holds, and each reading that has to show it."""

    repair_text: str
    holds: bool
    failed: bool
    why: str
    lines: tuple[ProofLine, ...]


@dataclass(frozen=True, slots=True)
class Entry:
    """How the reading form is filled when the page opens, and from what."""

    state: str
    quantity: str
    at: str
    to: str
    instrument: str
    unit: str
    levels: tuple[str, ...]
    source: str  # next check, proof, chosen
    line: CheckLine | None = None


@dataclass(frozen=True, slots=True)
class ToldLine:
    """Something told, in words, with what it says between the first two suspects."""

    number: int
    title: str
    says: str
    matters: str
    at: str
    by: str


@dataclass(frozen=True, slots=True)
class UnreachedLine:
    """A point that is left out because nobody can get at it, in words."""

    number: int
    title: str
    instrument: str
    at: str
    by: str


@dataclass(frozen=True, slots=True)
class JobView:
    """Everything a job's page shows."""

    job: Job
    title: str
    system_v: str
    state_word: str
    last: int
    states: tuple[Choice, ...]
    shows: tuple[Choice, ...]
    drawing: str
    drawing_note: str
    notes: tuple[str, ...]
    entry: Entry
    focus: str  # the point or element that the drawing is centred on
    readings: tuple[ReadingLine, ...]
    earlier: tuple[ReadingLine, ...]
    withdrawn: int
    suspects: tuple[SuspectLine, ...]
    others: str
    no_fault: str
    unmodelled: str
    next_checks: tuple[CheckLine, ...]
    verdict: VerdictView
    begun: str
    repairs: tuple[RepairLine, ...]
    repair_choices: tuple[Choice, ...]
    proof: ProofView | None
    finish: Finish | None
    outputs: tuple[Choice, ...]
    cautions: tuple[Caution, ...]
    names: tuple[str, ...]
    should: tuple[str, ...]
    vin_warning: str = ""
    told: tuple[ToldLine, ...] = ()
    told_names: tuple[str, ...] = ()  # what a thing told may concern
    unreached: tuple[UnreachedLine, ...] = ()
    learned: str = ""  # what the priors follow, where jobs were counted
    warnings: tuple[str, ...] = ()  # past a limit, or an answer of the customer is awaited
    sender_missing: str = ""  # what letter and record lack of the workshop's own address


@dataclass(frozen=True, slots=True)
class WhyPoint:
    """A point on the way from a controller's pin, with what it should read and reads."""

    point: str
    through: str
    place: str
    works: str
    now: str
    differs: bool


@dataclass(frozen=True, slots=True)
class WhyBlock:
    """One thing that keeps the output off, and the way to follow from it."""

    what: str
    head: str
    points: tuple[WhyPoint, ...]
    lost: str


@dataclass(frozen=True, slots=True)
class WhyView:
    """Why a controller's output is off or on in a state, step by step."""

    job: Job
    state: str
    states: tuple[Choice, ...]
    outputs: tuple[Choice, ...]
    output: str
    show: str
    shows: tuple[Choice, ...]
    summary: str
    ways: tuple[str, ...]
    blocks: tuple[WhyBlock, ...]
    notes: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class PhotoLine(Photo):
    """A photo whose `about` is in words, with its file name below the job's photos."""

    file: str = ""


@dataclass(frozen=True, slots=True)
class Record:
    """A job as it is printed: complaint, cause, correction, readings before and after."""

    job: Job
    title: str
    state_word: str
    complaint: str
    cause: str
    cause_evidence: tuple[tuple[str, str, str, str], ...]  # reading, value, healthy, what it says
    corrections: tuple[RepairLine, ...]
    before_after: tuple[tuple[str, str, str, str], ...]  # reading, before, after, healthy
    proof: str
    proved: bool
    finish: Finish | None
    cautions: tuple[Caution, ...]
    drawing: str
    drawing_note: str
    drawing_file: str  # the same drawing with its style sheet inside
    facts: tuple[tuple[str, str], ...] = ()  # of the card: name, what it says
    findings: tuple[tuple[str, str], ...] = ()  # heading, the technician's own words
    parts: tuple[tuple[str, str], ...] = ()  # what, how many and the price of one
    work: str = ""  # minutes, and whether they were clocked
    photos: tuple[PhotoLine, ...] = ()
    hand_over: str = ""
    hand_over_at: str = ""
    hand_over_by: str = ""
    cause_named: bool = False  # the readings name what was repaired
    workshop: str = ""
    sender: tuple[str, ...] = ()  # address, telephone and so on
    sender_missing: str = ""  # for the screen only
    price_head: str = ""
    date_order: str = ""
    healthy_from: str = ""  # where the healthy values come from
    limits: tuple[tuple[str, str, str], ...] = ()  # what, limit, where it comes from
