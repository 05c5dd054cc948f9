"""Later versions of a job's circuit: what was drawn wrong is put right, and the old one stays.

A version is one more event. Readings taken before count with the newest version; a verdict of
before is replayed with the version of its time.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from loomwright.errors import ConflictError, LoomwrightError, UsageError
from loomwright.jobs.records import NewEvent
from loomwright.service.jobs import MAX_TEXT, check_circuit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from loomwright.jobs.records import History
    from loomwright.service.benches import Bench
    from loomwright.service.jobs import Workshop

__all__ = ["change_circuit", "misfits"]

MOST_TOLD = 5


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
