"""Jobs that move between stores: told apart by where they began, not by their number.

A job is the same job wherever it is when it was created with the same key at the same moment by
the same person with the same circuit. A later export of a job that is already here adds what is
new; two copies that went different ways are never mixed.
"""

from __future__ import annotations

import base64
import hashlib
import json
from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from loomwright.errors import ConflictError, NotAllowedError
from loomwright.jobs.access_schema import access_log
from loomwright.jobs.database import begin_writing
from loomwright.jobs.index import index_job
from loomwright.jobs.job_file import FileEvent, JobFile, job_file_text, photo_bytes
from loomwright.jobs.schema import circuits, events, jobs
from loomwright.jobs.store import MOVED

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

    from loomwright.jobs.store import JobStore

__all__ = ["Imported", "Importer", "export_job", "import_job"]


@dataclass(frozen=True, slots=True)
class Imported:
    """What became of a job file: the job's number here, whether it is new, and events added."""

    job: int
    new: bool
    added: int


@dataclass(frozen=True, slots=True)
class Importer:
    """Who imports, and the kinds of event that they may not bring in, as they may not make them."""

    by: str = ""
    refused: frozenset[str] = frozenset()


def export_job(store: JobStore, job_id: int) -> str:
    """Return a whole job as the text of one file. Raises NotFoundError."""
    job, own = store.job(job_id), store.events(job_id)
    later = sorted({one.body["sha256"] for one in own if one.kind == "circuit"} - {job.circuit})
    shown = sorted({one.body["sha256"] for one in own if one.kind == "photo"})
    with store._engine.connect() as connection:
        key = connection.execute(jobs.select().where(jobs.c.id == job_id)).mappings().one()["key"]
    return job_file_text({
        "job": {"number": job.id, "key": key, "customer": job.customer,
                "vehicle": job.vehicle.name, "plate": job.vehicle.plate,
                "vin": job.vehicle.vin, "system": job.system,
                "complaint": job.complaint.text, "when": job.complaint.when,
                "created_at": job.created_at, "by": job.by, "demo": job.demo},
        "circuit": {"sha256": job.circuit, "text": store.circuit_text(job.circuit)},
        **({"circuits": [{"sha256": one, "text": store.circuit_text(one)} for one in later]}
           if later else {}),
        "events": [{**asdict(one), "body": dict(one.body)} for one in own],
        "photos": [{"sha256": one, "jpeg": base64.b64encode(store.photos.read(one)).decode()}
                   for one in shown]})


def import_job(store: JobStore, file: JobFile, importer: Importer) -> Imported:
    """Add a checked job file to a store, all of it or nothing.

    The events keep the names in the file, which anybody may have written; the access log says who
    brought them in.

    Raises
        ConflictError: the job is here already and went on differently
        NotAllowedError: it brings something new that its importer may not do here
    """
    for jpeg in photo_bytes(file).values():
        store.photos.keep(jpeg)
    origin = _origin(file.job.key, file.job.created_at, file.job.by, file.circuit.sha256)
    with store._engine.connect() as connection:
        begin_writing(connection)
        known = _known(connection, origin)
        _keep_circuits(connection, file)
        number = _add_card(connection, file, origin) if known is None else known
        added = _add_events(connection, number, file.events, importer.refused)
        index_job(connection, number)
        if added or known is None:
            connection.execute(access_log.insert().values(
                at=store.now(), by=importer.by, about=file.job.vehicle,
                what=f"job {number} taken in from a file, {added} new"))
        connection.commit()
    return Imported(number, known is None, added)


def _origin(key: str, created_at: str, by: str, circuit: str) -> str:
    """Return what names a job everywhere; an imported job carries it as its key."""
    if key.startswith(MOVED):
        return key
    text = json.dumps([key, created_at, by, circuit], ensure_ascii=False)
    return MOVED + hashlib.sha256(text.encode("utf-8", "surrogatepass")).hexdigest()


def _known(connection: Connection, origin: str) -> int | None:
    for row in connection.execute(jobs.select()).mappings():
        if _origin(row["key"], row["created_at"], row["by"], row["circuit"]) == origin:
            return int(row["id"])
    return None


def _keep_circuits(connection: Connection, file: JobFile) -> None:
    for one in (file.circuit, *file.circuits):
        known = circuits.select().where(circuits.c.hash == one.sha256)
        if connection.execute(known).first() is None:
            connection.execute(circuits.insert().values(hash=one.sha256, text=one.text))


def _add_card(connection: Connection, file: JobFile, origin: str) -> int:
    digest, card = file.circuit.sha256, file.job
    connection.execute(jobs.insert().values(
        key=origin, customer=card.customer, vehicle=card.vehicle, plate=card.plate, vin=card.vin,
        system=card.system, complaint=card.complaint, complaint_when=card.when, circuit=digest,
        created_at=card.created_at, by=card.by, demo=card.demo))
    row = connection.execute(jobs.select().where(jobs.c.key == origin)).mappings().one()
    return int(row["id"])


def _add_events(connection: Connection, number: int, given: list[FileEvent],
                refused: frozenset[str]) -> int:
    rows = connection.execute(
        events.select().where(events.c.job == number).order_by(events.c.number)).mappings()
    here = [(row["number"], row["kind"], row["at"], row["by"], row["key"], row["body"])
            for row in rows]
    wanted = [(one.number, one.kind, one.at, one.by, one.key, _canonical(one.body))
              for one in given]
    both = min(len(here), len(wanted))
    if here[:both] != wanted[:both]:
        connection.rollback()
        raise ConflictError(f"This job is here already as job {number} and went on differently.",
                            next_step="Keep both: enter what is missing by hand.")
    barred = sorted({one[1] for one in wanted[both:]} & refused)
    if barred:
        connection.rollback()
        raise NotAllowedError(
            f"This file brings what you may not record here: {', '.join(barred)}.",
            next_step="Ask a foreman to take the file in.")
    names = ("number", "kind", "at", "by", "key", "body")
    for one in wanted[both:]:
        connection.execute(events.insert().values(
            job=number, **dict(zip(names, one, strict=True))))
    return len(wanted) - both


def _canonical(body: Any) -> str:
    """Return a body as the store writes it."""
    return json.dumps(dict(body), ensure_ascii=False, sort_keys=True, separators=(",", ":"))
