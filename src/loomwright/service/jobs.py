"""The workshop's use cases: create a job, add and take back readings, repair, prove, finish.

Every change is one event with the key of its submission, so that sending a form twice counts once.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING

from loomwright.errors import ConflictError, LoomwrightError, QuantityError, UsageError
from loomwright.jobs.history import job_now, replay
from loomwright.jobs.index import Wanted
from loomwright.jobs.records import Complaint, History, Job, NewEvent, NewJob, Vehicle
from loomwright.jobs.store import JobStore
from loomwright.jobs.vin import clean_vin
from loomwright.service.benches import Bench, Benches
from loomwright.service.learning import LearnedFrom
from loomwright.service.records import (
    CircuitChoice,
    JobForm,
    JobLine,
    JobView,
    Look,
    ReadingForm,
    Record,
    WhyView,
)

if TYPE_CHECKING:
    import threading

    from loomwright.diagnosis.records import Diagnosis
    from loomwright.plant import Check

__all__ = ["Workshop", "check_circuit", "typed_value"]

MAX_TEXT = 2_000  # characters of anything typed about a job
MAX_CIRCUIT = 500_000  # characters of a circuit file


class Workshop:
    """All jobs of one data folder, and what can be done with them."""

    def __init__(self, folder: Path, clock: Callable[[], str] | None = None) -> None:
        """Open the folder's store; `clock` gives UTC times, for tests."""
        self.store = JobStore(folder, clock) if clock else JobStore(folder)
        self.benches = Benches(self.store.circuit_text, LearnedFrom.of_folder(folder))

    def close(self) -> None:
        """Let go of the store."""
        self.store.close()

    def warm(self) -> threading.Thread:
        """Make the circuits of open jobs ready in the background; return the thread that does."""
        open_jobs = [one.job for one in self.store.find(Wanted(closed=False))]
        return self.benches.warm(self.circuit_of(job.id) for job in open_jobs)

    # --- looking ------------------------------------------------------------------------------

    def job_lines(self, wanted: Wanted | None = None) -> tuple[JobLine, ...]:
        """Return jobs for the list, newest first; all of them, or those that are wanted."""
        return tuple(JobLine(one.job, one.state, one.title, one.readings, one.last_at, one.asks)
                     for one in self.store.find(wanted or Wanted()))

    def circuits(self) -> tuple[CircuitChoice, ...]:
        """Return the circuits that jobs already have, each once, newest first."""
        found: dict[str, CircuitChoice] = {}
        for job in self.store.jobs():
            digest = self.circuit_of(job.id)
            if digest not in found:
                found[digest] = CircuitChoice(job.id, self._title(digest))
        return tuple(found.values())

    def circuit_of(self, job_id: int, until: int | None = None) -> str:
        """Return the hash of a job's circuit: the latest version, or that after an event."""
        job, events = self.store.job(job_id), self.store.events(job_id)
        history = replay(one for one in events if until is None or one.number <= until)
        return history.circuit or job.circuit

    def circuit_text(self, job_id: int, until: int | None = None) -> str:
        """Return the text of a job's circuit, as it was given; of which version, as above."""
        return self.store.circuit_text(self.circuit_of(job_id, until))

    def view(self, job_id: int, look: Look | None = None) -> JobView:
        """Return everything a job's page shows. Raises NotFoundError, UnknownNameError."""
        from loomwright.jobs.rates import rates_of
        from loomwright.service.job_view import job_view
        from loomwright.service.office_view import limit_warnings
        from loomwright.service.rates import sender_missing

        job, history, bench = self.opened(job_id)
        view, rates = job_view(job, history, bench, look or Look()), rates_of(self.store)
        return dataclasses.replace(view, warnings=limit_warnings(history, bench, rates),
                                   sender_missing=sender_missing(rates))

    def why(self, job_id: int, state: str, output: str, show: str = "") -> WhyView:
        """Return why a controller's output is off in a state, healthy or with a suspect."""
        from loomwright.service.why_view import why_view

        job, history, bench = self.opened(job_id)
        return why_view(job, history, bench, (state, output, show))

    def record(self, job_id: int) -> Record:
        """Return the job as it is printed."""
        from loomwright.jobs.rates import rates_of
        from loomwright.service.report import record

        job, history, bench = self.opened(job_id)
        return record(job, history, bench, rates_of(self.store))

    def diagnosis(self, job_id: int, until: int | None = None) -> Diagnosis:
        """Return the diagnosis of a job; `until` is the last event that counts, for one of before.

        Raises NotFoundError.
        """
        from loomwright.service.reasoning import diagnosis_of

        _, history, bench = self.opened(job_id, until)
        return diagnosis_of(bench, history)

    def verdict_text(self, job_id: int, until: int | None = None) -> str:
        """Return the diagnosis of a job as canonical JSON: the same job, the same bytes."""
        from loomwright.service.reasoning import diagnosis_text

        return diagnosis_text(self.diagnosis(job_id, until))

    # --- doing --------------------------------------------------------------------------------

    def create_job(self, form: JobForm, key: str, demo: str = "") -> Job:
        """Create a job; its circuit is read and solved first.

        Raises
            UsageError: something is missing or too long, or the circuit has problems
        """
        text = form.circuit_text
        if not text.strip() and form.copy_from is not None:
            text = self.circuit_text(form.copy_from)
        fields = {"customer": form.customer, "vehicle": form.vehicle, "plate": form.plate,
                  "system": form.system, "complaint": form.complaint, "when": form.when,
                  "name": form.by}
        for name, value in fields.items():
            _check_text(name, value)
        for name in ("vehicle", "complaint"):
            if not fields[name].strip():
                raise UsageError(f"The {name} is missing.", next_step=f"Fill in the {name}.")
        vin = clean_vin(form.vin)
        check_circuit(text)
        job = self.store.add_job(NewJob(
            form.customer.strip(), Vehicle(form.vehicle.strip(), form.plate.strip(), vin),
            form.system.strip(), Complaint(form.complaint.strip(), form.when.strip()),
            text, form.by.strip(), demo), key)
        self.benches.warm([job.circuit])
        return job

    def add_reading(self, job_id: int, form: ReadingForm, key: str, by: str = "") -> int:
        """Store a reading and return its number.

        Raises
            UnknownNameError: a state, point, part or level that the circuit does not have
            QuantityError: the value is no quantity of the right unit
            ConflictError: the job is finished
        """
        _, history, bench = self.opened(job_id)
        self._not_finished(history)
        check = bench.plant.check_for(
            form.state, form.quantity, form.at.strip(), form.to.strip(), form.instrument or "meter")
        value = typed_value(bench, check, form)
        body = {"state": check.state, "quantity": check.quantity, "at": check.at, "to": check.to,
                "value": value, "instrument": check.instrument}
        return self.store.add_event(job_id, NewEvent("reading", body, key, by)).number

    def demo_reading(self, job_id: int, form: ReadingForm, key: str, by: str = "") -> int:
        """Take a reading on the demonstration vehicle and store it."""
        value = self.demo_measure(job_id, form)
        return self.add_reading(
            job_id, dataclasses.replace(form, value=value, unit=""), key, by)

    def demo_measure(self, job_id: int, form: ReadingForm) -> str:
        """Return what the demonstration vehicle of a job shows now. UsageError on a real job."""
        from loomwright.service.demo_vehicle import measure

        job, history, bench = self.opened(job_id)
        check = bench.plant.check_for(
            form.state, form.quantity, form.at.strip(), form.to.strip(), form.instrument or "meter")
        return measure(job, history, bench, check)

    def withdraw(self, job_id: int, number: int, key: str, by: str = "") -> None:
        """Take a reading back; it stays in the history as withdrawn."""
        history = self.opened(job_id)[1]
        self._not_finished(history)
        if number not in {one.number for one in (*history.readings, *history.withdrawn)}:
            raise UsageError(f"Job {job_id} has no reading {number}.",
                             next_step="Load the page again.")
        self.store.add_event(job_id, NewEvent("withdraw", {"number": str(number)}, key, by))

    def begin_repair(self, job_id: int, repair: str, key: str, by: str = "") -> None:
        """Note that a repair was begun. Raises UnknownNameError on an unknown repair."""
        _, history, bench = self.opened(job_id)
        self._not_finished(history)
        _known_repair(bench, repair)
        self.store.add_event(job_id, NewEvent("begin", {"repair": repair}, key, by))

    def record_repair(self, job_id: int, done: tuple[str, str], key: str, by: str = "",
                      seen: int | None = None) -> None:
        """Note that a repair was done; its proof is next.

        Parameters
            done: the repair's id and what was found
            seen: the last event on the page it was sent from; ConflictError when there are newer
        """
        repair, found = done
        _, history, bench = self.opened(job_id)
        self._not_finished(history)
        _known_repair(bench, repair)
        _check_text("finding", found)
        body = {"repair": repair, "found": found.strip()}
        self.store.add_event(job_id, NewEvent("repair", body, key, by), seen)

    def reopen(self, job_id: int, key: str, by: str = "") -> None:
        """Go back to finding the fault: the repair did not hold, or the job came back."""
        self.store.add_event(job_id, NewEvent("reopen", {}, key, by))

    def finish(self, job_id: int, said: tuple[str, str], key: str, by: str = "",
               seen: int | None = None) -> None:
        """Close a job. Without a proof that holds, a reason must be given.

        Parameters
            said: a note for the record, and the reason where there is no proof
            seen: the last event on the page it was sent from; ConflictError when there are newer
        """
        from loomwright.service.reasoning import proof_of

        note, reason = said
        _, history, bench = self.opened(job_id)
        if history.finish is None:
            _check_text("note", note)
            _check_text("reason", reason)
            proof = proof_of(bench, history) if history.proving else None
            if (proof is None or not proof.holds) and not reason.strip():
                raise UsageError("This job has no proof that holds.",
                                 next_step="Take the proof readings, or say why it ends without.")
        body = {"note": note.strip(), "reason": reason.strip()}
        self.store.add_event(job_id, NewEvent("finish", body, key, by), seen)

    # --- inside -------------------------------------------------------------------------------

    def opened(self, job_id: int, until: int | None = None) -> tuple[Job, History, Bench]:
        """Return a job, what stands after its events, and its bench. Raises NotFoundError.

        `until` is the last event that counts: the job as it was then, with its circuit of then.
        """
        job, events = self.store.job(job_id), self.store.events(job_id)
        history = replay(one for one in events if until is None or one.number <= until)
        job = dataclasses.replace(job, circuit=history.circuit or job.circuit)
        return job_now(job, history.office.card), history, self.benches.get(job.circuit)

    def _title(self, digest: str) -> str:
        """Return the title of a job's circuit; one that cannot be read must not hide the others."""
        try:
            return self.benches.get(digest).circuit.title
        except LoomwrightError:
            return "circuit cannot be read"

    @staticmethod
    def _not_finished(history: History) -> None:
        if history.finish is not None:
            raise ConflictError("This job is finished; nothing can be added.",
                                next_step="Reopen it first, from its page.")


def typed_value(bench: Bench, check: Check, form: ReadingForm) -> str:
    """Return a typed value with its unit, after trying that it can be read."""
    from loomwright.circuit.readings import MOST_READ

    text = form.value.strip()
    if not text:
        raise UsageError("The value is missing.", next_step="Type what was read.")
    _check_text("value", text)
    if not check.levels and text[-1:].isdigit():
        text = f"{text} {form.unit or check.unit}"
    value = bench.plant.value_of(check, text)
    most = MOST_READ.get(check.unit)
    if most is not None and not isinstance(value, str) and abs(value) > most:
        raise QuantityError(f"'{text}' is more than any meter here shows.",
                            next_step="Check the value and its unit.")
    return text


def _check_text(name: str, value: str) -> None:
    if len(value) > MAX_TEXT:
        raise UsageError(f"The {name} has {len(value)} characters; {MAX_TEXT} is the most.",
                         next_step="Shorten it.")


def check_circuit(text: str) -> None:
    """Raise UsageError unless a text is a circuit that can be solved and is not too large."""
    from loomwright.circuit import read_circuit_text, solve_all
    from loomwright.service.circuit_size import check_size

    if not text.strip():
        raise UsageError("The job has no circuit.",
                         next_step="Paste one, upload a file, or copy that of another job.")
    if len(text) > MAX_CIRCUIT:
        raise UsageError(f"The circuit has {len(text)} characters; {MAX_CIRCUIT} is the most.",
                         next_step="Keep to the part of the vehicle that the job is about.")
    circuit = read_circuit_text(text)
    check_size(circuit)
    solve_all(circuit)


def _known_repair(bench: Bench, repair: str) -> None:
    from loomwright.errors import UnknownNameError

    known = bench.repairs
    if repair not in known:
        raise UnknownNameError("repair", repair, known)
