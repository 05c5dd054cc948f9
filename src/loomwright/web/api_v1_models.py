"""What /api/v1 takes and gives, as typed models: the shapes here are the contract of programs."""

from __future__ import annotations

import json
from typing import Any

from pydantic import BaseModel, ConfigDict, Field, model_validator

from loomwright.service.records import ReadingForm

__all__ = [
    "KEY", "KEY_WORDS", "SEEN", "Blown", "Check", "Circuit", "Done", "ErrorAnswer", "Expected",
    "Finishing", "Given", "Job", "JobLine", "Keyed", "LedTo", "NewJob", "NewReading", "NewRepair",
    "PartReads", "PointReads", "Prediction", "ProblemInFile", "Proof", "ProofCheck", "Reading",
    "Repair", "RepairChoice", "Repairs", "Spot", "Suspect", "Suspects", "Taken", "Verdict",
]

KEY_WORDS = (
    "Chosen by the program, new for each submission. The same key again counts once, so a request "
    "whose answer was lost can simply be sent again.")
KEY = Field(min_length=8, max_length=80, description=KEY_WORDS)
SEEN = Field(default=None, ge=0, description=(
    "`last` of the job as the program knows it; refused with 409 when more has happened since."))


class Given(BaseModel):
    """Something the program gives."""

    model_config = ConfigDict(from_attributes=True)


class Taken(BaseModel):
    """Something a program sends; a field that is not known is refused, not ignored."""

    model_config = ConfigDict(extra="forbid")

    @model_validator(mode="before")
    @classmethod
    def _whole_characters(cls, sent: Any) -> Any:
        """Refuse half a character (a lone surrogate), which JSON can spell and no store keeps."""
        try:
            json.dumps(sent, ensure_ascii=False, default=str).encode()
        except UnicodeEncodeError as error:
            raise ValueError("a text holds half a character") from error
        return sent


class Keyed(Taken):
    """Something done that needs no more than its key."""

    key: str = KEY


class ProblemInFile(Given):
    """One problem of a circuit file."""

    line: int
    column: int
    what: str
    fix: str


class ErrorBody(Given):
    """Why something was not done."""

    code: str = Field(description="A word that stays the same: `usage`, `not-found`, `conflict`, "
                                  "`sign-in`, `not-allowed`, `quantity`, `unknown-name`, ...")
    message: str = Field(description="What, where, and the value, for people.")
    next_step: str = Field(description="What to do about it; may be empty.")
    problems: list[ProblemInFile] = Field(description="Problems of a circuit file, else empty.")


class ErrorAnswer(Given):
    """The one shape of every refusal."""

    error: ErrorBody


class JobLine(Given):
    """A job in the list. Times are UTC, ISO 8601."""

    id: int
    customer: str
    vehicle: str
    plate: str
    complaint: str
    state: str = Field(description="waiting, finding the fault, repairing, proving, finished, ...")
    title: str = Field(description="Title of its circuit.")
    readings: int
    created_at: str
    last_at: str


class NewJob(Taken):
    """A job to be opened, with the text of its circuit or the number of a job to copy it from."""

    vehicle: str
    complaint: str
    customer: str = ""
    plate: str = ""
    vin: str = ""
    system: str = Field(default="", description="Which system of the vehicle, in words.")
    when: str = Field(default="", description="When it happens.")
    circuit: str = Field(default="", description="A circuit file (YAML), as text.")
    copy_from: int | None = Field(default=None, description="Number of a job with the circuit.")
    key: str = KEY


class Job(Given):
    """A job as it stands."""

    id: int
    customer: str
    vehicle: str
    plate: str
    vin: str
    system: str
    complaint: str
    when: str
    state: str
    title: str
    system_v: str
    created_at: str
    by: str
    begun: str = Field(description="The repair under way, or empty.")
    last: int = Field(description="Number of the job's last event; see `seen`.")
    finished_at: str = Field(description="Empty while the job is open.")
    states: list[str] = Field(description="States of the vehicle that its circuit knows.")
    vin_warning: str
    warnings: list[str] = Field(description="Past a limit, or an answer is awaited; often empty.")


class Circuit(Given):
    """The circuit of a job: its text as it was given, and the names in it."""

    title: str
    system_v: float = Field(description="V")
    text: str
    states: list[str]
    parts: list[str]
    wires: list[str]
    points: list[str]


class PointReads(Given):
    """What a meter of 10 Mohm shows at a point, against the battery negative post."""

    volts: float = Field(description="V")
    floating: bool = Field(description="Joined to nothing: a meter shows about 0 V.")


class PartReads(Given):
    """What a part does, and its current."""

    doing: str
    amps: float | None = Field(description="A; null where it has no single current.")


class Expected(Given):
    """What every point, wire and part reads in one state, healthy or with faults inserted."""

    state: str
    faults: list[str]
    points: dict[str, PointReads]
    wires: dict[str, float] = Field(description="A, from the wire's start to its end.")
    parts: dict[str, PartReads]
    inputs: dict[str, dict[str, bool]]
    outputs: dict[str, dict[str, bool]]
    notes: list[str]


class Spot(Taken):
    """What is read: where, with what, and how the vehicle is set."""

    state: str = Field(description="State of the vehicle while it is read.")
    quantity: str = Field(description="voltage, ac voltage, current, resistance, continuity, "
                                      "lit, running, heard, turns, input, output")
    at: str = Field(description="A point (`S4.1`), wire or part of the circuit.")
    to: str = Field(default="", description="Second point; empty: the battery negative post.")
    instrument: str = Field(default="", description="meter, test lamp, 21 W lamp, clamp, eye, ear, "
                                                    "hand, controller; empty: the usual one.")

    def form(self, value: str = "") -> ReadingForm:
        """Return it as the use cases take a reading."""
        return ReadingForm(self.state, self.quantity, self.at, self.to, value,
                           instrument=self.instrument)


class NewReading(Spot):
    """A reading that was taken."""

    value: str = Field(description="As typed: `11.9 V`, `230 mV`, `OL`, or a level such as `off`.")
    key: str = KEY


class Reading(Given):
    """A reading that stands. `round` counts the repairs done before it."""

    number: int
    state: str
    quantity: str
    point: str
    to: str
    value: str
    instrument: str
    at: str
    by: str
    round: int
    proving: bool


class Done(Given):
    """What was stored: the number of the event in its job."""

    job: int
    number: int


class Prediction(Given):
    """What a reading would show if one suspect were the fault."""

    suspect: str
    shows: str


class Check(Given):
    """A reading to take, as an instruction."""

    id: str
    state: str
    quantity: str
    at: str
    to: str
    instrument: str
    unit: str
    levels: list[str]
    title: str
    how: str
    set_up: str
    place: str
    minutes: str
    care: str = Field(description="A caution, where one is due.")
    healthy: str = Field(description="What a healthy circuit shows.")
    predicts: list[Prediction]


class Suspect(Given):
    """A fault that may be there, with its probability."""

    id: str
    element: str
    kind: str
    probability: float
    repair: str
    low_ohm: float | None = Field(description="Resistance of a bad joint, ohm; null without one.")
    mid_ohm: float | None
    high_ohm: float | None


class Verdict(Given):
    """Where the search stands: look further, repair, no fault found, unexplained."""

    status: str
    repair: str
    confidence: float
    why: str


class Blown(Given):
    """What a suspect did to another part for good, such as a fuse that it blew."""

    element: str
    act: str = Field(description="`blew`, `tripped` or `melted`.")
    size: str = Field(description="What tells the part apart: `20 A`.")
    state: str = Field(description="The first state in which it happens.")
    at: str = Field(description="What does it: `130 A`.")
    least_s: float | None = Field(description="Shortest time, s; null where no table says so.")
    most_s: float | None = Field(description="Longest time, s; null where no table says so.")
    grade: str = Field(description="How good these times are.")


class LedTo(Given):
    """Cause and consequence: what a suspect led to, so that both have to be put right."""

    suspect: str = Field(description="Its id.")
    consequences: list[Blown]
    text: str = Field(description="Cause and consequence in one sentence.")


class Suspects(Given):
    """What the readings say, and what to read next."""

    suspects: list[Suspect] = Field(description=(
        "Likeliest first; the unlikeliest are left out. While a repair is proved and once it is, "
        "they are those of before it."))
    led_to: list[LedTo] = Field(description=(
        "What leading suspects (10 % or more) did to other parts; those that did nothing are left "
        "out."))
    learned: str = Field(description="What the priors follow, where closed jobs were counted.")
    no_fault: float = Field(description="Probability that nothing is wrong.")
    unmodelled: float = Field(description="Probability of something the circuit does not hold.")
    verdict: Verdict
    next_checks: list[Check] = Field(description="Best first; empty when nothing is left to ask.")


class NewRepair(Taken):
    """A repair: begun, or done. After one that is done its proof is next."""

    repair: str = Field(description="Its id, such as `mend W7`; see the choices.")
    stage: str = Field(default="done", pattern="^(begun|done)$")
    found: str = Field(default="", description="What was found.")
    seen: int | None = SEEN
    key: str = KEY


class Repair(Given):
    """A repair that was done."""

    repair: str
    text: str
    found: str
    at: str
    by: str
    outcome: str


class RepairChoice(Given):
    """A repair that can be done on this circuit."""

    repair: str
    text: str


class Repairs(Given):
    """Repairs done, and those that can be."""

    done: list[Repair]
    choices: list[RepairChoice]


class ProofCheck(Given):
    """One reading of a proof: still to read, good, or not good."""

    status: str
    value: str
    before: str
    check: Check


class Proof(Given):
    """Whether the last repair holds, and each reading that has to show it."""

    repair: str
    holds: bool
    failed: bool
    why: str
    checks: list[ProofCheck]


class Finishing(Taken):
    """The end of a job. Without a proof that holds a reason must be given."""

    note: str = ""
    reason: str = ""
    seen: int | None = SEEN
    key: str = KEY
