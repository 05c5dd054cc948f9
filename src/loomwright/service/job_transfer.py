"""A job out of one workshop's store and into another's, as one file."""

from __future__ import annotations

from base64 import b64decode
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loomwright.errors import FileProblemsError, LoomwrightError, Problem, UsageError
from loomwright.jobs.office import CARD_FIELDS

if TYPE_CHECKING:
    from loomwright.jobs.copies import Imported
    from loomwright.jobs.job_file import FileEvent, JobFile
    from loomwright.service.benches import Bench
    from loomwright.service.jobs import Workshop

__all__ = ["JobRow", "export_text", "import_text", "job_file_schema", "job_rows", "open_workshop"]

APPROVED = frozenset({"limit", "offer", "answer"})  # events that only some may make
# What has to be an amount in an event, as everything that adds up relies on it.
# True where it cannot be empty.
AMOUNTS = {"part": {"quantity": True, "price": False}, "minutes": {"minutes": True},
           "limit": {"minutes": False, "money": False},
           "offer": {"money": True, "most": False, "minutes": False, "tax_percent": False},
           "answer": {"minutes": False, "money": False}}


def open_workshop(data: str | Path | None = None, *, new: bool = True) -> Workshop:
    """Return the workshop of a data folder, the platform's own where not named.

    `new` makes a folder that is not there; without it that is a UsageError.
    """
    from loomwright.jobs.folder import data_folder, used_folder
    from loomwright.service.jobs import Workshop

    return Workshop(data_folder(data) if new else used_folder(data))


@dataclass(frozen=True, slots=True)
class JobRow:
    """A job in the list. Times are UTC, ISO 8601."""

    id: int
    customer: str
    vehicle: str
    plate: str
    complaint: str
    state: str
    title: str
    readings: int
    created_at: str
    last_at: str


def job_rows(workshop: Workshop, words: str = "") -> tuple[JobRow, ...]:
    """Return the jobs that have all of some words, newest first; without words all of them."""
    from loomwright.jobs.index import Wanted

    return tuple(
        JobRow(one.job.id, one.job.customer, one.job.vehicle.name, one.job.vehicle.plate,
               one.job.complaint.text, one.state, one.title, one.readings, one.job.created_at,
               one.last_at)
        for one in workshop.job_lines(Wanted(words)))


def export_text(workshop: Workshop, job_id: int) -> str:
    """Return a whole job as the text of one file. Raises NotFoundError."""
    from loomwright.jobs.copies import export_job

    return export_job(workshop.store, job_id)


def job_file_schema() -> dict[str, Any]:
    """Return the JSON Schema of a job file."""
    from loomwright.jobs.job_file import job_file_schema

    return job_file_schema()


def import_text(workshop: Workshop, text: str, file: str = "job file", *, by: str = "",
                may_approve: bool = True) -> Imported:
    """Add the job of a file under a new number, with who and when; the same job counts once.

    Parameters
        by: who imports; the access log keeps it, beside the names that stand in the file
        may_approve: whether they may bring in limits, offers and answers of a customer
    Raises
        UsageError: no job file
        FileProblemsError: everything that is wrong in it, together
        ConflictError: the job is here already and went on differently
        NotAllowedError: it brings a limit, offer or answer, and `may_approve` is not true
    """
    from loomwright.jobs.copies import Importer, import_job
    from loomwright.jobs.job_file import photo_bytes, read_job_file

    found = read_job_file(text, file)
    photo_bytes(found)
    problems = [Problem(0, 0, what, "Correct it where the job comes from, and export it again.")
                for what in _problems(found)]
    if problems:
        raise FileProblemsError(file, problems)
    refused = frozenset() if may_approve else APPROVED
    return import_job(workshop.store, found, Importer(by, refused))


def _problems(found: JobFile) -> Iterator[str]:
    """Yield what the circuit does not allow: every page of the job has to be able to show it."""
    from loomwright.jobs.history import replay
    from loomwright.jobs.records import Event
    from loomwright.service.circuit_versions import misfits
    from loomwright.service.demo_vehicle import hidden_faults
    from loomwright.service.photos import is_clean

    if found.job.demo and found.job.demo not in hidden_faults():
        yield f"job.demo: there is no demonstration vehicle '{found.job.demo}'."
    benches: dict[str, Bench] = {}
    texts = [("circuit", found.circuit)]
    texts += [(f"circuits.{at}", one) for at, one in enumerate(found.circuits)]
    for place, text in texts:
        bench, wrong = _bench_of(text.text, place)
        if bench is None:
            yield from wrong
            return
        benches[text.sha256] = bench
    for at, photo in enumerate(found.photos):
        if not is_clean(b64decode(photo.jpeg)):
            yield f"photos.{at}: is no photo as this program keeps it."
    now, failed = benches[found.circuit.sha256], False
    for at, event in enumerate(found.events):
        now = benches.get(event.body.get("sha256", ""), now) if event.kind == "circuit" else now
        try:
            _try(now, event)
        except LoomwrightError as error:
            failed = True
            yield f"events.{at}.body: {error.message}"
    if found.circuits and not failed:  # what was read with an earlier version counts with the last
        yield from misfits(now, replay(
            Event(one.number, one.kind, one.at, one.by, one.key, one.body)
            for one in found.events))


def _bench_of(text: str, place: str) -> tuple[Bench | None, list[str]]:
    """Return the bench of a circuit, or what is wrong with it."""
    from loomwright.circuit import read_circuit_text, solve_all
    from loomwright.service.benches import Bench
    from loomwright.service.circuit_size import check_size

    try:
        circuit = read_circuit_text(text)
        check_size(circuit)
        solve_all(circuit)
    except FileProblemsError as error:
        return None, [f"{place}.text, line {one.line}: {one.what}" for one in error.problems]
    except LoomwrightError as error:
        return None, [f"{place}.text: {error.message}"]
    return Bench(circuit), []


def _try(bench: Bench, event: FileEvent) -> None:
    from loomwright.errors import UnknownNameError
    from loomwright.service.money import canonical
    from loomwright.service.office import checked_card
    from loomwright.service.telling import TellForm, checked_told

    body = event.body
    if event.kind == "reading":
        check = bench.plant.check_for(body["state"], body["quantity"], body["at"],
                                      body.get("to", ""), body.get("instrument", "meter"))
        bench.plant.value_of(check, body["value"])
    elif event.kind in ("begin", "repair") and body["repair"] not in bench.repairs:
        raise UnknownNameError("repair", body["repair"], bench.repairs)
    elif event.kind == "told":
        checked_told(bench, TellForm(body["sort"], body["text"], body.get("about", ""),
                                     body.get("result", "")))
    elif event.kind == "card":
        checked_card({name: text for name, text in body.items() if name in CARD_FIELDS})
    for name, needed in AMOUNTS.get(event.kind, {}).items():
        typed = body.get(name, "")
        if canonical(typed, name) != typed or (needed and not typed):
            raise UsageError(f"The {name} '{typed[:40]}' is no amount as this program writes it.")
