"""Points that nobody can get at on this vehicle: nothing is asked there, the next best is."""

from __future__ import annotations

from typing import TYPE_CHECKING

from loomwright.errors import ConflictError, UsageError
from loomwright.jobs.records import NewEvent
from loomwright.service.records import UnreachedLine

if TYPE_CHECKING:
    from loomwright.jobs.records import History, Unreached
    from loomwright.plant import Check
    from loomwright.service.benches import Bench
    from loomwright.service.jobs import Workshop
    from loomwright.service.records import ReadingForm

__all__ = ["cannot_reach", "left_out", "reach_again", "unreached_lines"]

PROBES = frozenset({"meter", "test lamp", "21 W lamp"})  # all need a tip at the point


def cannot_reach(workshop: Workshop, job_id: int, form: ReadingForm, key: str, by: str = "") -> int:
    """Note that what a reading needs cannot be reached, and return the number of the note.

    Raises
        UnknownNameError: a state or point that the circuit does not have
        ConflictError: the job is finished
    """
    _, history, bench = workshop.opened(job_id)
    if history.finish is not None:
        raise ConflictError("This job is finished; nothing can be added.",
                            next_step="Reopen it first, from its page.")
    check = bench.plant.check_for(form.state, form.quantity, form.at.strip(), form.to.strip(),
                                  form.instrument or "meter")
    to = "" if check.to == bench.negative else check.to
    body = {"at": check.at, "to": to, "instrument": check.instrument}
    return workshop.store.add_event(job_id, NewEvent("unreached", body, key, by)).number


def reach_again(workshop: Workshop, job_id: int, number: int, key: str, by: str = "") -> None:
    """Ask there again; that it was left out stays in the history. UsageError without such."""
    known = {one.number for one in workshop.opened(job_id)[1].unreached}
    sent = any(one.key == key for one in workshop.store.events(job_id))
    if number not in known and not sent:
        raise UsageError(f"Job {job_id} has no point left out with number {number}.",
                         next_step="Load the page again.")
    workshop.store.add_event(job_id, NewEvent("withdraw", {"number": str(number)}, key, by))


def _touches(check: Check, one: Unreached) -> bool:
    """Return whether a check needs what cannot be reached.

    A single point spoils every reading at it; of a pair nobody knows which end it was.
    """
    if check.instrument != one.instrument and not {check.instrument, one.instrument} <= PROBES:
        return False
    return {check.at, check.to} == {one.point, one.to} if one.to else (
        one.point in (check.at, check.to))


def left_out(bench: Bench, history: History) -> frozenset[str]:
    """Return the ids of the checks that cannot be taken on a job's vehicle."""
    if not history.unreached:
        return frozenset()
    checks = [*bench.table.checks, *bench.plant.complaint_checks()]
    return frozenset(check.id for check in checks
                     if any(_touches(check, one) for one in history.unreached))


def unreached_lines(history: History) -> tuple[UnreachedLine, ...]:
    """Return the points that are left out, in words."""
    return tuple(
        UnreachedLine(one.number, f"{one.point} against {one.to}" if one.to else one.point,
                      one.instrument, one.at, one.by)
        for one in history.unreached)
