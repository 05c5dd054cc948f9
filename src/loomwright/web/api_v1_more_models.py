"""What /api/v1 takes and gives of circuits, of the search's helps and of practice."""

from __future__ import annotations

from pydantic import Field

from loomwright.web.api_v1_models import KEY, Check, Given, ProblemInFile, Spot, Taken

__all__ = [
    "CheckedCircuit",
    "CircuitText",
    "CircuitVersion",

    "DemoReading",
    "DiffLine",
    "Exercise",
    "ExerciseStart",
    "FilledTemplate",
    "ImaginedReading",
    "LeftOut",
    "NamedRepair",
    "NewCircuit",
    "NewLeftOut",
    "NewPrediction",
    "NewSignature",
    "NewTold",
    "PracticeChoices",
    "PracticeCircuit",
    "PracticeDone",
    "PracticeLevel",
    "PracticeProgress",
    "PracticeReading",
    "PracticeResult",
    "PracticeSheet",
    "PracticeTask",
    "Returned",
    "Share",
    "Template",
    "TemplateParameter",
    "TemplateValues",
    "Told",
    "Version",
    "WhatIf",
    "Why",
    "WhyBlock",
    "WhyPoint",
]


# --- circuits ------------------------------------------------------------------------------------


class CircuitVersion(Given):
    """A version of a job's circuit: who, when and why."""

    number: int = Field(description="Number of its event; 0 is the circuit the job began with.")
    at: str
    by: str
    why: str
    sha256: str = Field(description="Hash of its text.")
    added: int = Field(description="Lines that the version before does not have.")
    removed: int = Field(description="Lines of the version before that it does not have.")
    current: bool


class DiffLine(Given):
    """A line of the comparison with the version before."""

    mark: str = Field(description="`same`, `added`, `removed`, or `gap` for lines left out.")
    old: int = Field(description="Its number in the version before, 0 where it is not there.")
    new: int = Field(description="Its number in this version, 0 where it is not there.")
    text: str


class Version(Given):
    """One version with its text and what changed by it."""

    version: CircuitVersion
    text: str
    changes: list[DiffLine]
    states: list[str]


class NewCircuit(Taken):
    """A later version of a job's circuit; the earlier ones stay."""

    text: str = Field(description="The circuit file (YAML), whole.")
    why: str = Field(default="", description="Why it was changed.")
    key: str = KEY


class Returned(Taken):
    """The wish to make an old version the newest again."""

    why: str = ""
    key: str = KEY


class CircuitText(Taken):
    """A circuit file that belongs to no job."""

    text: str


class CheckedCircuit(Given):
    """What the program makes of a circuit file."""

    good: bool = Field(description="It can be the circuit of a job.")
    problems: list[ProblemInFile]
    states: list[str]
    points: list[str]
    note: str = Field(description="Why it cannot be drawn, or only in part; else empty.")
    notes: list[str] = Field(description="Where the healthy circuit does not do what it should.")


class TemplateParameter(Given):
    """A value of a template to fill in."""

    name: str
    unit: str
    meaning: str
    defaults: dict[str, str] = Field(description="By system voltage.")


class Template(Given):
    """A circuit to begin with."""

    name: str
    title: str
    group: str
    about: str
    caution: str
    systems: list[str]
    parameters: list[TemplateParameter]


class TemplateValues(Taken):
    """Values of a template, each with its unit; those not sent keep their default."""

    values: dict[str, str] = Field(default_factory=dict)


class FilledTemplate(Given):
    """A circuit file made from a template."""

    text: str
    notes: list[str] = Field(description="What the healthy circuit does not do as it should.")


class WhyPoint(Given):
    """A point on the way from a controller's pin."""

    point: str
    through: str
    place: str
    works: str = Field(description="What it reads when the output is on.")
    now: str
    differs: bool


class WhyBlock(Given):
    """One thing that keeps the output off."""

    what: str
    head: str
    points: list[WhyPoint]
    lost: str


class Why(Given):
    """Why a controller's output is off or on in a state."""

    state: str
    output: str
    show: str = Field(description="Whose values: `healthy`, or a suspect's id.")
    summary: str
    ways: list[str]
    blocks: list[WhyBlock]
    notes: list[str]


# --- the search ----------------------------------------------------------------------------------


class NewLeftOut(Spot):
    """A reading that cannot be taken because nobody gets at the point."""

    key: str = KEY


class LeftOut(Given):
    """A point, or a pair, at which nothing is asked with an instrument."""

    number: int
    point: str
    to: str
    instrument: str
    at: str
    by: str


class NewTold(Taken):
    """Something known beside readings."""

    sort: str = Field(pattern="^(code|swap|history)$", description="`code`, `swap` or `history`.")
    text: str = Field(default="", description="A code as the tool shows it, or words.")
    about: str = Field(default="", description="Parts, wires or outputs, with commas between.")
    result: str = Field(default="", description=(
        "code: `stored`, `not stored`; swap: `no change`, `gone`; history: `added` or empty."))
    key: str = KEY


class Told(Given):
    """Something known beside readings; of sort `agree`: the word to go on with another part."""

    number: int
    sort: str
    text: str
    about: list[str]
    result: str
    at: str
    by: str


class ImaginedReading(Spot):
    """A reading that was not taken."""

    value: str


class Share(Given):
    """How likely something is now, and how likely it would be; `mark` is up, down or even."""

    name: str
    now: str
    then: str
    mark: str


class WhatIf(Given):
    """What a reading would change; nothing of it is kept."""

    title: str
    value: str
    changes: list[Share]
    verdict: str
    why: str
    next_check: Check | None


class DemoReading(Given):
    """What the demonstration vehicle of a job shows now."""

    value: str


# --- practice ------------------------------------------------------------------------------------


class PracticeCircuit(Given):
    """A circuit to practise on."""

    key: str = Field(description="Its name in an exercise.")
    title: str
    group: str


class PracticeLevel(Given):
    """How hard an exercise is."""

    number: int
    name: str
    about: str


class PracticeChoices(Given):
    """What can be practised, and who has."""

    circuits: list[PracticeCircuit]
    levels: list[PracticeLevel]
    people: list[str]


class ExerciseStart(Taken):
    """The wish for an exercise: of a circuit of the list, of one's own, or one by its name."""

    circuit: str = Field(default="", description="A circuit of the list.")
    text: str = Field(default="", description="Instead of it, a circuit file of one's own.")
    exercise: str = Field(default="", description="Instead of all, an exercise by its name.")
    level: int = Field(default=1, ge=1, le=3)
    seed: int | None = Field(default=None, ge=0, le=999_999, description="Drawn where null.")
    who: str = Field(default="", description="Counts only where nobody signs in.")
    key: str = KEY


class PracticeReading(Given):
    """A reading of an exercise, with what was predicted."""

    number: int
    title: str
    state: str
    instrument: str
    predicted: str
    shown: str
    healthy: str
    says: str
    minutes: str


class PracticeResult(Given):
    """How an exercise ended, beside the program's own way."""

    points: int
    right: bool
    headline: str
    fault: str
    where: str
    sentences: list[str]
    best_readings: list[str]


class Exercise(Given):
    """An exercise as it stands; `result` is null while it runs."""

    id: str
    title: str
    level: int
    who: str
    attempt: int
    complaint: list[str]
    states: list[str]
    names: list[str] = Field(description="Points and parts that can be read.")
    repairs: list[str] = Field(description="Repairs that can be named.")
    readings: list[PracticeReading]
    minutes: str
    over: bool
    result: PracticeResult | None


class NewPrediction(Spot):
    """A reading of the hidden vehicle, with what is expected there."""

    predict: str = Field(default="", description="What it will show, where that was thought of.")
    who: str = ""
    key: str = KEY


class NamedRepair(Taken):
    """The end of an exercise: the repair, or '' to give up."""

    repair: str = ""
    who: str = ""
    key: str = KEY


class PracticeDone(Given):
    """One ended exercise."""

    at: str
    exercise: str
    level: int
    attempt: int
    right: bool
    points: int
    minutes: float
    best_minutes: float


class PracticeProgress(Given):
    """What a person has practised."""

    who: str
    done: list[PracticeDone]


class PracticeTask(Given):
    """A task of the sign-off sheet."""

    id: str
    group: str
    text: str
    left: str = Field(description="What a screen cannot show of it.")
    exercises: list[str] = Field(description="Exercises that showed it.")
    best_level: int
    signed_by: str = Field(description="Who signed it, '' for nobody.")
    signed_at: str


class PracticeSheet(Given):
    """A person's sign-off sheet."""

    who: str
    tasks: list[PracticeTask]


class NewSignature(Taken):
    """A signature under a task of somebody's sheet, or one taken back with a reason."""

    apprentice: str
    task: str
    signed: bool = True
    note: str = ""
    by: str = Field(default="", description="Who signs; counts only where nobody signs in.")
    key: str = KEY
