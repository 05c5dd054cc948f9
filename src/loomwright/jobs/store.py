"""The store of jobs: circuits by content hash, job cards, and events that are only ever added."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loomwright.errors import ConflictError, NotFoundError, UsageError
from loomwright.jobs.database import begin_writing, open_database
from loomwright.jobs.history import job_now
from loomwright.jobs.index import Wanted, find_rows, index_job
from loomwright.jobs.photos import PhotoFolder
from loomwright.jobs.records import KINDS, Complaint, Event, Job, NewEvent, NewJob, Vehicle
from loomwright.jobs.schema import circuits, events, jobs

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

__all__ = ["MOVED", "UNDOES", "IndexLine", "JobStore", "circuit_hash"]

MAX_KEY = 80
MOST_EVENTS = 5_000  # of one job: far above any real one; each page reads all of them
MOVED = "import-"  # how the key of a job from another store begins
UNDOES = "api-undo-"  # how that of an undoing begins whose sender has no key
_MOST_ID = 2**63 - 1  # the store's largest whole number


def circuit_hash(text: str) -> str:
    """Return the content hash of a circuit's text (SHA-256, hexadecimal)."""
    return hashlib.sha256(text.encode("utf-8")).hexdigest()


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="milliseconds")


@dataclass(frozen=True, slots=True)
class IndexLine:
    """A job of the list: where it stands, whether the customer was asked, when it last moved."""

    job: Job
    state: str
    asks: bool
    title: str
    readings: int
    last_at: str


class JobStore:
    """Jobs in one data folder. Everything added stays; each key counts once."""

    def __init__(self, folder: Path, clock: Callable[[], str] = _now) -> None:
        """Open the store of a folder; `clock` gives the time as UTC, ISO 8601."""
        self._engine = open_database(folder)
        self.photos = PhotoFolder(folder)
        self._clock = clock
        self._listeners: list[Callable[[int, Event], None]] = []

    def listen(self, listener: Callable[[int, Event], None]) -> None:
        """Call somebody with the job and each event added from now on, once it is on the disk.

        The call comes from whichever thread added the event, and must be quick.
        """
        self._listeners.append(listener)

    def now(self) -> str:
        """Return the time as the store writes it."""
        return self._clock()

    def close(self) -> None:
        """Let go of the file."""
        self._engine.dispose()

    def add_job(self, new: NewJob, key: str) -> Job:
        """Create a job, or return the one already created with this key.

        Raises ConflictError where the key belongs to a job with other content.
        """
        _check_key(key)
        if key.startswith(MOVED):
            raise _own_key()
        with self._engine.connect() as connection:
            begin_writing(connection)
            found = connection.execute(jobs.select().where(jobs.c.key == key)).mappings().first()
            if found is None:
                digest = _keep_circuit(connection, new.circuit_text)
                connection.execute(jobs.insert().values(
                    key=key, customer=new.customer, vehicle=new.vehicle.name,
                    plate=new.vehicle.plate, vin=new.vehicle.vin, system=new.system,
                    complaint=new.complaint.text,
                    complaint_when=new.complaint.when, circuit=digest, created_at=self._clock(),
                    by=new.by, demo=new.demo))
                found = connection.execute(
                    jobs.select().where(jobs.c.key == key)).mappings().one()
                index_job(connection, int(found["id"]))
            connection.commit()
        return _same_job(_job(found), new)

    def jobs(self) -> tuple[Job, ...]:
        """Return every job, newest first."""
        with self._engine.connect() as connection:
            rows = connection.execute(jobs.select().order_by(jobs.c.id.desc())).mappings()
            return tuple(_job(row) for row in rows)

    def find(self, wanted: Wanted) -> tuple[IndexLine, ...]:
        """Return the jobs of the list or of a search, newest first, cards as they stand now."""
        with self._engine.connect() as connection:
            rows = find_rows(connection, wanted)
        return tuple(IndexLine(job_now(_job(row), json.loads(row["card"])), row["state"],
                               bool(row["asks"]), row["title"], row["readings"], row["last_at"])
                     for row in rows)

    def job(self, job_id: int) -> Job:
        """Return a job. Raises NotFoundError."""
        row = None
        if 0 < job_id <= _MOST_ID:
            with self._engine.connect() as connection:
                row = connection.execute(
                    jobs.select().where(jobs.c.id == job_id)).mappings().first()
        if row is None:
            raise NotFoundError(f"There is no job {job_id}.", next_step="Look in the job list.")
        return _job(row)

    def circuit_text(self, digest: str) -> str:
        """Return the text of a circuit by its content hash. Raises NotFoundError."""
        with self._engine.connect() as connection:
            text = connection.execute(
                circuits.select().where(circuits.c.hash == digest)).mappings().first()
        if text is None:
            raise NotFoundError("The circuit of this job is not in the store.",
                                next_step="Restore a backup.")
        return str(text["text"])

    def keep_circuit(self, text: str) -> str:
        """Keep the text of a circuit and return its content hash."""
        with self._engine.connect() as connection:
            begin_writing(connection)
            digest = _keep_circuit(connection, text)
            connection.commit()
        return digest

    def events(self, job_id: int) -> tuple[Event, ...]:
        """Return a job's events in order."""
        with self._engine.connect() as connection:
            rows = connection.execute(
                events.select().where(events.c.job == job_id).order_by(events.c.number))
            return tuple(_event(row) for row in rows.mappings())

    def all_events(self) -> dict[int, tuple[Event, ...]]:
        """Return the events of every job, by job."""
        found: dict[int, list[Event]] = {}
        with self._engine.connect() as connection:
            rows = connection.execute(events.select().order_by(events.c.job, events.c.number))
            for row in rows.mappings():
                found.setdefault(int(row["job"]), []).append(_event(row))
        return {job_id: tuple(items) for job_id, items in found.items()}

    def add_event(self, job_id: int, new: NewEvent, expected_last: int | None = None) -> Event:
        """Add an event, or return the one already added with this key.

        Parameters
            job_id: the job
            new: what happened
            expected_last: the last event its author had seen, or None where that does not matter
        Raises
            NotFoundError: no such job
            ConflictError: the job went on meanwhile, or the key was used for something else
        """
        _check_key(new.key)
        if new.key.startswith(UNDOES) and (
                new.kind != "withdraw" or new.key != f"{UNDOES}{new.body.get('number')}"):
            raise _own_key()
        if new.kind not in KINDS:
            raise UsageError(f"'{new.kind}' is no kind of event.")
        self.job(job_id)
        with self._engine.connect() as connection:
            begin_writing(connection)
            known = connection.execute(events.select().where(
                events.c.job == job_id, events.c.key == new.key)).mappings().first()
            if known is not None:
                connection.rollback()
                return _same(_event(known), new)
            number = self._next_number(connection, job_id, expected_last)
            if number > MOST_EVENTS:
                connection.rollback()
                raise ConflictError(f"Job {job_id} has {MOST_EVENTS} entries; that is the most.",
                                    next_step="Go on with a new job for this vehicle.")
            connection.execute(events.insert().values(
                job=job_id, number=number, kind=new.kind, at=self._clock(), by=new.by,
                key=new.key, body=_canonical(new.body)))
            row = connection.execute(events.select().where(
                events.c.job == job_id, events.c.number == number)).mappings().one()
            index_job(connection, job_id)
            connection.commit()
        added = _event(row)
        for listener in self._listeners:
            listener(job_id, added)
        return added

    @staticmethod
    def _next_number(connection: Connection, job_id: int, expected_last: int | None) -> int:
        from sqlalchemy import func, select

        last = connection.execute(
            select(func.max(events.c.number)).where(events.c.job == job_id)).scalar() or 0
        if expected_last is not None and last != expected_last:
            connection.rollback()
            raise ConflictError("Somebody added to this job after you opened the page.",
                                next_step="Load the page again, look, and repeat the step.")
        return int(last) + 1


def _keep_circuit(connection: Connection, text: str) -> str:
    digest = circuit_hash(text)
    known = connection.execute(circuits.select().where(circuits.c.hash == digest)).first()
    if known is None:
        connection.execute(circuits.insert().values(hash=digest, text=text))
    return digest


def _check_key(key: str) -> None:
    if not 8 <= len(key) <= MAX_KEY:
        raise UsageError(f"A submission's key has 8 to {MAX_KEY} characters, not {len(key)}.",
                         next_step="Load the page again.")


def _own_key() -> UsageError:
    """Return the refusal of a key that somebody takes so that the program cannot use it."""
    return UsageError("This key is one that the program makes itself.",
                      next_step="Make one of your own, at random.")


def _same_job(known: Job, new: NewJob) -> Job:
    """Return the stored job when it is the same submission again, whoever sends it."""
    kept = (known.customer, known.vehicle, known.system, known.complaint, known.circuit)
    if kept != (new.customer, new.vehicle, new.system, new.complaint,
                circuit_hash(new.circuit_text)):
        raise ConflictError(f"This form was sent before with other content: job {known.id}.",
                            next_step=f"Look at job {known.id}; for another job open a new form.")
    return known


def _same(known: Event, new: NewEvent) -> Event:
    """Return the stored event when it is the same submission again."""
    if known.kind != new.kind or _canonical(known.body) != _canonical(new.body):
        raise ConflictError("This form was already sent with other values.",
                            next_step="Load the page again and enter it afresh.")
    return known


def _canonical(body: Any) -> str:
    return json.dumps(dict(body), ensure_ascii=False, sort_keys=True, separators=(",", ":"))


def _job(row: Any) -> Job:
    return Job(
        id=row["id"], customer=row["customer"],
        vehicle=Vehicle(row["vehicle"], row["plate"], row["vin"]),
        system=row["system"], complaint=Complaint(row["complaint"], row["complaint_when"]),
        circuit=row["circuit"], created_at=row["created_at"], by=row["by"], demo=row["demo"])


def _event(row: Any) -> Event:
    return Event(number=row["number"], kind=row["kind"], at=row["at"], by=row["by"],
                 key=row["key"], body=json.loads(row["body"]))
