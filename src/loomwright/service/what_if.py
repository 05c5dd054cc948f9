"""What a reading would change before it is taken: the same diagnosis with one made-up value."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass
from typing import TYPE_CHECKING

from loomwright.errors import ConflictError
from loomwright.jobs.records import Reading
from loomwright.service import reasoning
from loomwright.service.job_view import job_view, plain_line
from loomwright.service.jobs import typed_value
from loomwright.service.records import Look
from loomwright.service.words import percent, suspect_name, value_words

if TYPE_CHECKING:
    from loomwright.diagnosis.records import Diagnosis
    from loomwright.jobs.records import Job
    from loomwright.service.benches import Bench
    from loomwright.service.jobs import Workshop
    from loomwright.service.records import CheckLine, JobView, ReadingForm

__all__ = ["Change", "WhatIf", "what_if"]

SHOWN = 6


@dataclass(frozen=True, slots=True)
class Change:
    """A suspect's share now and with the made-up reading; `mark` is up, down or even."""

    name: str
    now: str
    then: str
    mark: str


@dataclass(frozen=True, slots=True)
class WhatIf:
    """A made-up reading and what the job would say after it; nothing of it is kept.

    `then` is None where no value was given yet.
    """

    job: Job
    line: CheckLine
    value: str = ""
    changes: tuple[Change, ...] = ()
    then: JobView | None = None


def what_if(workshop: Workshop, job_id: int, form: ReadingForm) -> WhatIf:
    """Return what a job would say if a reading showed a value; the job is not touched.

    Raises
        UnknownNameError: a state, point or level that the circuit does not have
        QuantityError: the value is no quantity of the right unit
        ConflictError: the job is finished, or its repair is being proved
    """
    job, history, bench = workshop.opened(job_id)
    if history.finish is not None or history.proving:
        raise ConflictError("The search is over: there are no suspects to change.",
                            next_step="Reopen it first, from its page.")
    check = bench.plant.check_for(form.state, form.quantity, form.at.strip(), form.to.strip(),
                                  form.instrument or "meter")
    line = plain_line(bench, check)
    if not form.value.strip():
        return WhatIf(job, line)
    value = typed_value(bench, check, form)
    imagined = Reading(history.last + 1, check.state, check.quantity, check.at, check.to, value,
                       check.instrument, "", "", round=len(history.repairs))
    later = dataclasses.replace(history, readings=(*history.readings, imagined))
    changes = _changes(bench, reasoning.diagnosis_of(bench, history),
                       reasoning.diagnosis_of(bench, later))
    shown = value_words(check, bench.plant.value_of(check, value))
    return WhatIf(job, line, shown, changes, job_view(job, later, bench, Look(state=form.state)))


def _changes(bench: Bench, now: Diagnosis, then: Diagnosis) -> tuple[Change, ...]:
    """Return the leading suspects of both, those of the second first."""
    known = {one.id: one for one in (*then.suspects[:SHOWN], *now.suspects[:SHOWN])}
    before = {one.id: one.probability for one in now.suspects}
    after = {one.id: one.probability for one in then.suspects}
    found = [
        _change(suspect_name(bench.circuit, one.id, one.element, one.kind),
                before.get(name, 0.0), after.get(name, 0.0))
        for name, one in known.items()]
    return (*found, _change("No fault at all", now.no_fault, then.no_fault),
            _change("Something this circuit does not show", now.unmodelled, then.unmodelled))


def _change(name: str, now: float, then: float) -> Change:
    mark = "even" if abs(then - now) < 0.005 else "up" if then > now else "down"  # half a percent
    return Change(name, percent(now), percent(then), mark)
