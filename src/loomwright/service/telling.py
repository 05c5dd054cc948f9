"""What people tell of a vehicle beside readings: codes, parts swapped, history, a word to go on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from loomwright.errors import ConflictError, UnknownNameError, UsageError
from loomwright.service.records import ToldLine

if TYPE_CHECKING:
    from loomwright.circuit.remarks import Remarks
    from loomwright.diagnosis.records import Clue, Diagnosis
    from loomwright.jobs.records import History, Told
    from loomwright.service.benches import Bench
    from loomwright.service.jobs import Workshop

__all__ = ["SORTS", "TellForm", "agreed", "checked_told", "job_clues", "take_back", "tell",
           "told_lines", "told_names"]

SORTS = {  # sort -> its results in words, the usual one first
    "code": ("stored", "not stored"),
    "swap": ("no change", "gone"),
    "history": ("", "added"),
    "agree": ("",),
}
MAX_TEXT = 200
MAX_ABOUT = 20


@dataclass(frozen=True, slots=True)
class TellForm:
    """What is told, as typed: `about` names elements with commas or spaces between them."""

    sort: str
    text: str = ""
    about: str = ""
    result: str = ""


def tell(workshop: Workshop, job_id: int, form: TellForm, key: str, by: str = "") -> int:
    """Store what was told and return its number.

    Raises
        UnknownNameError: a sort, result, part or element that is not known
        UsageError: something is missing or too long
        ConflictError: the job is finished
    """
    from loomwright.jobs.records import NewEvent

    _, history, bench = workshop.opened(job_id)
    if history.finish is not None:
        raise ConflictError("This job is finished; nothing can be added.",
                            next_step="Reopen it first, from its page.")
    body = checked_told(bench, form)
    return workshop.store.add_event(job_id, NewEvent("told", body, key, by)).number


def take_back(workshop: Workshop, job_id: int, number: int, key: str, by: str = "") -> None:
    """Take back what was told; it stays in the history. UsageError where there is no such."""
    from loomwright.jobs.records import NewEvent

    history = workshop.opened(job_id)[1]
    sent = any(one.key == key for one in workshop.store.events(job_id))
    if number not in {one.number for one in history.told} and not sent:
        raise UsageError(f"Job {job_id} was not told a number {number}.",
                         next_step="Load the page again.")
    workshop.store.add_event(job_id, NewEvent("withdraw", {"number": str(number)}, key, by))


def checked_told(bench: Bench, form: TellForm) -> dict[str, str]:
    """Return what was told as an event keeps it. Raises UnknownNameError, UsageError."""
    sort, text, result = form.sort.strip(), " ".join(form.text.split()), form.result.strip()
    if sort not in SORTS:
        raise UnknownNameError("sort of thing told", sort, SORTS)
    if len(text) > MAX_TEXT:
        raise UsageError(f"What is told has {len(text)} characters; {MAX_TEXT} is the most.",
                         next_step="Shorten it.")
    result = result or SORTS[sort][0]
    if result not in SORTS[sort]:
        raise UnknownNameError("result", result, SORTS[sort])
    names = list(dict.fromkeys(form.about.replace(",", " ").split()))
    known = told_names(bench) if sort != "swap" else tuple(bench.circuit.parts)
    for name in names[:MAX_ABOUT]:
        if name not in known:
            raise UnknownNameError("part" if sort == "swap" else "element", name, known)
    if sort != "agree" and not names and result != "added":
        raise UsageError("It is not said what it concerns.",
                         next_step="Name a part, wire or controller output of the circuit.")
    if sort in {"code", "history"} and not text:
        raise UsageError("The words are missing.", next_step="Say in your own words what it is.")
    return {"sort": sort, "text": text, "about": ", ".join(names[:MAX_ABOUT]), "result": result}


def told_names(bench: Bench) -> tuple[str, ...]:
    """Return every name that something told may concern."""
    circuit = bench.circuit
    found = dict.fromkeys([*circuit.parts, *circuit.wires])
    for part in circuit.parts.values():
        if part.kind == "connector":
            found |= dict.fromkeys(point[:-1] for point in part.points() if point.endswith("a"))
        for key in ("inputs", "outputs"):
            items = part.params.get(key)
            if part.kind == "controller" and isinstance(items, tuple):
                found |= dict.fromkeys(f"{part.id}.{getattr(one, 'id', one)}" for one in items)
    return tuple(found)


def agreed(history: History) -> bool:
    """Return whether a person said to go on with another part since the last repair."""
    return any(one.sort == "agree" and one.round == len(history.repairs) for one in history.told)


def _clue_sources(history: History) -> tuple[Told, ...]:
    """Return what was told that is evidence, in the order of its clues: by sort, then as told."""
    order = ("code", "swap", "history")
    kept = [one for one in history.told if one.sort in order]
    return tuple(sorted(kept, key=lambda one: order.index(one.sort)))


def job_clues(bench: Bench, history: History) -> tuple[Clue, ...]:
    """Return the clues of a job, in the order codes, swaps, history."""
    from loomwright.service.clues import clues_of

    told = _clue_sources(history)
    return clues_of(bench.table, bench.plant, _remarks(told)) if told else ()


def _remarks(told: tuple[Told, ...]) -> Remarks:
    from loomwright.circuit.remarks import CodeRemark, HistoryRemark, Remarks, SwapRemark

    swaps = [SwapRemark(part, one.result == "gone")
             for one in told if one.sort == "swap" for part in one.about[:1]]
    return Remarks(
        codes=tuple(CodeRemark(one.text, one.about, one.result != "not stored")
                    for one in told if one.sort == "code"),
        swapped=tuple(swaps),
        history=tuple(HistoryRemark(one.text, one.about, added=one.result == "added")
                      for one in told if one.sort == "history"))


def told_lines(bench: Bench, history: History, diagnosis: Diagnosis) -> tuple[ToldLine, ...]:
    """Return what was told, each with what it says between the first two suspects."""
    weights = {one.index: one for one in diagnosis.clues}
    lines = []
    for index, one in enumerate(_clue_sources(history)):
        weight = weights.get(index)
        title, _, says = (weight.text if weight else one.text).partition(". ")
        repair = bench.repairs.get(weight.verdict_without) if weight else None
        matters = f"Without it the answer would be: {repair.text}." if repair else ""
        says = says.split(" Without it, ")[0]
        lines.append(ToldLine(one.number, title, says, matters, one.at, one.by))
    return tuple(lines)
