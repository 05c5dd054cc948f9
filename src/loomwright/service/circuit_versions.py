"""Later versions of a job's circuit: what was drawn wrong is put right, and the old one stays.

A version is one more event. Readings taken before count with the newest version; a verdict of
before is replayed with the version of its time. Returning to an old version is one more version.
"""

from __future__ import annotations

import difflib
from dataclasses import dataclass
from typing import TYPE_CHECKING

from loomwright.errors import ConflictError, LoomwrightError, NotFoundError, UsageError
from loomwright.jobs.records import NewEvent
from loomwright.service.jobs import MAX_TEXT, check_circuit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loomwright.jobs.records import History, Job
    from loomwright.service.benches import Bench
    from loomwright.service.jobs import Workshop

__all__ = ["CircuitVersion", "DiffLine", "VersionView", "change_circuit", "compared", "misfits",
           "one_version", "return_to", "versions_of"]

MOST_TOLD = 5
AROUND = 2  # lines shown before and after a change


@dataclass(frozen=True, slots=True)
class CircuitVersion:
    """A version of a job's circuit: `number` is its event's, 0 the circuit the job began with.

    `added` and `removed` count the lines that differ from the version before.
    """

    number: int
    place: int  # first is 1
    at: str
    by: str
    why: str
    sha256: str
    added: int
    removed: int
    current: bool


@dataclass(frozen=True, slots=True)
class DiffLine:
    """A line of a comparison: `mark` is same, added, removed, or gap where lines are left out.

    `old` and `new` are its numbers in both texts, 0 where it is not in one.
    """

    mark: str
    old: int
    new: int
    text: str


@dataclass(frozen=True, slots=True)
class VersionView:
    """One version opened to be read: its text, drawing, and what changed by it.

    `lines` compares with the version before, `since` counts how it differs from the current one.
    """

    job: Job
    version: CircuitVersion
    text: str
    lines: tuple[DiffLine, ...]
    since: tuple[int, int]  # lines added and removed since, up to the current version
    states: tuple[str, ...]
    state: str
    drawing: str
    closed: bool  # the job is finished: nothing can be returned to


def change_circuit(workshop: Workshop, job_id: int, changed: tuple[str, str], key: str,
                   by: str = "") -> int:
    """Give a job a later version of its circuit and return the number of the event.

    Parameters
        changed: the text of the circuit, and why it was changed
    Raises
        FileProblemsError: the circuit has problems
        UsageError: it is the same as before, or readings and repairs of the job do not fit it
        ConflictError: the job is finished
    """
    text, why = changed
    _, history, _ = workshop.opened(job_id)
    events = workshop.store.events(job_id)
    sent = next((one for one in events if one.key == key and one.kind == "circuit"), None)
    if sent is not None:
        return sent.number  # sent again: it counted the first time
    if history.finish is not None:
        raise ConflictError("This job is finished; nothing can be added.",
                            next_step="Reopen it first, from its page.")
    if len(why) > MAX_TEXT:
        raise UsageError(f"The reason has {len(why)} characters; {MAX_TEXT} is the most.",
                         next_step="Shorten it.")
    check_circuit(text)
    if text == workshop.circuit_text(job_id):
        raise UsageError("The circuit is the same as before.", next_step="Change it first.")
    digest = workshop.store.keep_circuit(text)
    bench = workshop.benches.get(digest)
    found = list(misfits(bench, history))
    if found:
        more = f" And {len(found) - MOST_TOLD} more." if len(found) > MOST_TOLD else ""
        raise UsageError(
            f"The changed circuit does not fit this job: {' '.join(found[:MOST_TOLD])}{more}",
            next_step="Keep those names, or take the readings back first.")
    number = workshop.store.add_event(
        job_id, NewEvent("circuit", {"sha256": digest, "why": why.strip()}, key, by)).number
    workshop.benches.warm([digest])
    return number


def misfits(bench: Bench, history: History) -> Iterator[str]:
    """Yield what stands in a job and is not in a circuit: points, states, repairs, things told."""
    from loomwright.service.telling import TellForm, checked_told

    for one in history.readings:
        try:
            check = bench.plant.check_for(one.state, one.quantity, one.point, one.to,
                                          one.instrument)
            bench.plant.value_of(check, one.value)
        except LoomwrightError as error:
            yield f"Reading {one.number}: {error.message}"
    done = [one.repair for one in history.repairs] + [history.begun]
    for repair in dict.fromkeys(name for name in done if name):
        if repair not in bench.repairs:
            yield f"It has no repair '{repair}'."
    for told in history.told:
        try:
            checked_told(bench, TellForm(told.sort, told.text, ", ".join(told.about), told.result))
        except LoomwrightError as error:
            yield f"What was told as number {told.number}: {error.message}"


def versions_of(workshop: Workshop, job_id: int) -> tuple[CircuitVersion, ...]:
    """Return every version of a job's circuit, oldest first. Raises NotFoundError."""
    job = workshop.store.job(job_id)
    made = [(0, job.created_at, job.by, "", job.circuit)]
    made += [(one.number, one.at, one.by, one.body.get("why", ""), one.body["sha256"])
             for one in workshop.store.events(job_id) if one.kind == "circuit"]
    found = []
    before = ""
    for place, (number, at, by, why, digest) in enumerate(made, 1):
        text = workshop.store.circuit_text(digest)
        added, removed = _counts(before, text) if place > 1 else (0, 0)
        found.append(CircuitVersion(number, place, at, by, why, digest, added, removed,
                                    place == len(made)))
        before = text
    return tuple(found)


def one_version(workshop: Workshop, job_id: int, number: int, state: str = "",
                standalone: bool = False) -> VersionView:
    """Return one version of a job's circuit with its drawing in a state ('': the first).

    `standalone`: the drawing brings its own style sheet.

    Raises
        NotFoundError: no such job or version
        UnknownNameError: a state that this version does not have
    """
    from loomwright.errors import UnknownNameError

    found = versions_of(workshop, job_id)
    at = next((index for index, one in enumerate(found) if one.number == number), None)
    if at is None:
        raise NotFoundError(f"Job {job_id} has no version {number} of its circuit.",
                            next_step="Look at the list of its versions.")
    version, text = found[at], workshop.store.circuit_text(found[at].sha256)
    before = workshop.store.circuit_text(found[at - 1].sha256) if at else text
    job, history, _ = workshop.opened(job_id)
    bench = workshop.benches.get(version.sha256)
    states = tuple(bench.circuit.states)
    if state and state not in states:
        raise UnknownNameError("state", state, states)
    return VersionView(
        job=job, version=version, text=text, lines=tuple(compared(before, text)),
        since=_counts(text, workshop.store.circuit_text(found[-1].sha256)),
        states=states, state=state or states[0],
        drawing=bench.drawing(state or states[0], standalone=standalone),
        closed=history.finish is not None)


def return_to(workshop: Workshop, job_id: int, number: int, why: str, key: str, by: str = ""
              ) -> int:
    """Make an old version of a job's circuit the newest again, as one more version.

    Raises as `change_circuit`, and NotFoundError where there is no such version.
    """
    wanted = next((one for one in versions_of(workshop, job_id) if one.number == number), None)
    if wanted is None:
        raise NotFoundError(f"Job {job_id} has no version {number} of its circuit.",
                            next_step="Look at the list of its versions.")
    text = workshop.store.circuit_text(wanted.sha256)
    reason = why.strip() or f"Back to version {wanted.place}"
    return change_circuit(workshop, job_id, (text, reason), key, by)


def compared(before: str, after: str) -> Iterator[DiffLine]:
    """Yield what changed between two texts, line by line, with a little of what stands around."""
    old, new = before.splitlines(), after.splitlines()
    end = 0
    for group in difflib.SequenceMatcher(None, old, new, False).get_grouped_opcodes(AROUND):
        if group[0][1] > end:
            yield _gap(group[0][1] - end)
        end = group[-1][2]
        for tag, i1, i2, j1, j2 in group:
            if tag == "equal":
                yield from (DiffLine("same", i1 + at + 1, j1 + at + 1, text)
                            for at, text in enumerate(old[i1:i2]))
                continue
            yield from (DiffLine("removed", at, 0, old[at - 1]) for at in range(i1 + 1, i2 + 1))
            yield from (DiffLine("added", 0, at, new[at - 1]) for at in range(j1 + 1, j2 + 1))
    if end and end < len(old):
        yield _gap(len(old) - end)


def _gap(lines: int) -> DiffLine:
    text = "1 line is the same" if lines == 1 else f"{lines} lines are the same"
    return DiffLine("gap", 0, 0, text)


def _counts(before: str, after: str) -> tuple[int, int]:
    """Return how many lines were added and removed between two texts."""
    marks = [one.mark for one in compared(before, after)]
    return marks.count("added"), marks.count("removed")
