"""The store of people, devices, sessions and tokens. Secrets come in as hashes only.

Nothing is removed: a person leaves, a device, session or token ends. Each change by somebody is
also a line of a log that is only ever added to.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Any

from loomwright.errors import ConflictError, NotFoundError
from loomwright.jobs.access_records import (
    AccessChange,
    Device,
    Person,
    Session,
    Token,
)
from loomwright.jobs.access_schema import access_log, devices, people, sessions, tokens
from loomwright.jobs.database import begin_writing, open_database
from loomwright.jobs.pin_tries import Trial, begin_try, clear_tries, lift_locks, locked_on

if TYPE_CHECKING:
    from sqlalchemy import Table
    from sqlalchemy.engine import Connection

__all__ = ["AccessStore", "stamp"]

SEEN_EVERY_S = 300  # 'last seen' is not written more often than this


def _now() -> datetime:
    return datetime.now(UTC)


def stamp(at: datetime) -> str:
    """Return a time as stored: UTC, ISO 8601, milliseconds, so that texts sort by time."""
    return at.astimezone(UTC).isoformat(timespec="milliseconds")


class AccessStore:
    """Who may come in, in one data folder."""

    def __init__(self, folder: Path, clock: Callable[[], datetime] = _now) -> None:
        """Open the store of a folder; `clock` gives the time."""
        self._engine = open_database(folder)
        self.clock = clock

    def close(self) -> None:
        """Let go of the file."""
        self._engine.dispose()

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        """Give a connection that holds the write lock, and commit at the end."""
        with self._engine.connect() as connection:
            begin_writing(connection)
            yield connection
            connection.commit()

    def _log(self, connection: Connection, by: str, what: str, about: str) -> None:
        connection.execute(access_log.insert().values(
            at=stamp(self.clock()), by=by, what=what, about=about))

    def changes(self) -> tuple[AccessChange, ...]:
        """Return who changed what, newest first."""
        with self._engine.connect() as connection:
            rows = connection.execute(access_log.select().order_by(access_log.c.number.desc()))
            return tuple(AccessChange(*row) for row in rows)

    # --- people -------------------------------------------------------------------------------

    def people(self) -> tuple[Person, ...]:
        """Return everybody, also those who left, by name."""
        with self._engine.connect() as connection:
            locks = locked_on(connection)
            rows = connection.execute(people.select().order_by(people.c.name_key)).mappings()
            return tuple(_person(row, locks) for row in rows)

    def person(self, person_id: int) -> Person:
        """Return a person. Raises NotFoundError."""
        with self._engine.connect() as connection:
            row = _row(connection, people, person_id)
            locks = locked_on(connection)
        if row is None:
            raise NotFoundError("There is no such person.", next_step="Look in the list of people.")
        return _person(row, locks)

    def add_person(self, name: str, role: str, pin_hash: str, by: str, *, first: bool = False
                   ) -> Person:
        """Add a person. Raises ConflictError where the name is taken, or `first` is not true."""
        key = _name_key(name)
        with self._writing() as connection:
            if first and connection.execute(people.select().limit(1)).first() is not None:
                raise ConflictError("There is a person already.", next_step="Sign in.")
            if connection.execute(people.select().where(people.c.name_key == key)).first():
                raise ConflictError(f"There is somebody named '{name}' already.",
                                    next_step="Add a second name or a letter.")
            connection.execute(people.insert().values(
                name_key=key, name=name, role=role, pin_hash=pin_hash, since=stamp(self.clock())))
            row = connection.execute(
                people.select().where(people.c.name_key == key)).mappings().one()
            self._log(connection, by, f"added as {role}", name)
        return _person(row, {})

    def unlock(self, person_id: int, by: str) -> None:
        """Let a person try again on every device."""
        with self._writing() as connection:
            lift_locks(connection, person_id)
            row = _row(connection, people, person_id)
            self._log(connection, by, "unlocked", str(row["name"]) if row else "")

    def change_person(self, person_id: int, by: str, what: str, *, end_sessions: bool,
                      **values: Any) -> None:
        """Change a person's columns; `end_sessions` signs them out everywhere.

        A new PIN lifts the locks of wrong ones.

        Raises
            ConflictError: nobody could manage the people afterwards
        """
        with self._writing() as connection:
            before = _foremen(connection)
            connection.execute(people.update().where(people.c.id == person_id).values(**values))
            if before and not _foremen(connection):
                connection.rollback()
                raise ConflictError("There would be no foreman left.",
                                    next_step="Make somebody else a foreman first.")
            if end_sessions:
                self._end(connection, sessions.c.person == person_id)
            if "pin_hash" in values:
                lift_locks(connection, person_id)
            row = _row(connection, people, person_id)
            self._log(connection, by, what, str(row["name"]) if row else "")

    def begin_try(self, person_id: int, device_id: int) -> Trial:
        """Count a try of a PIN on a device before it is looked at; say whether it may go on.

        Person 0 is nobody: guessing at such a one is slowed as well.
        """
        with self._writing() as connection:
            trial = begin_try(connection, person_id, device_id, self.clock())
            person = _row(connection, people, person_id)
            if trial.locks and person is not None:
                device = _row(connection, devices, device_id)
                where = f" on {device['name']}" if device else ""
                self._log(connection, "", f"locked{where}: too many wrong PINs", person["name"])
        return trial

    def clear_tries(self, person_id: int, device_id: int) -> None:
        """Forget the wrong PINs of a person on a device after a right one."""
        with self._writing() as connection:
            clear_tries(connection, person_id, device_id)

    # --- devices ------------------------------------------------------------------------------

    def devices(self) -> tuple[Device, ...]:
        """Return the devices that are paired, newest first."""
        with self._engine.connect() as connection:
            rows = connection.execute(devices.select().where(
                devices.c.ended_at == "").order_by(devices.c.id.desc())).mappings()
            return tuple(_device(row) for row in rows)

    def add_device(self, name: str, token_hash: str) -> Device:
        """Add a paired device."""
        now = stamp(self.clock())
        with self._writing() as connection:
            connection.execute(devices.insert().values(
                name=name, token_hash=token_hash, since=now, seen_at=now))
            row = connection.execute(devices.select().where(
                devices.c.token_hash == token_hash)).mappings().one()
            self._log(connection, "", "device paired", name)
        return _device(row)

    def device_of(self, token_hash: str, idle: timedelta) -> Device | None:
        """Return the paired device of a cookie, where it was seen within `idle`."""
        row = self._live(devices, token_hash, idle)
        return None if row is None else _device(row)

    def end_device(self, device_id: int, by: str) -> None:
        """Unpair a device and sign out whoever is signed in on it. Raises NotFoundError."""
        with self._writing() as connection:
            row = _row(connection, devices, device_id)
            if row is None:
                raise NotFoundError("There is no such device.")
            self._end(connection, devices.c.id == device_id, devices)
            self._end(connection, sessions.c.device == device_id)
            self._log(connection, by, "device unpaired", str(row["name"]))

    # --- sessions -----------------------------------------------------------------------------

    def start_session(self, token_hash: str, person_id: int, device_id: int) -> None:
        """Keep a session that has just been opened."""
        now = stamp(self.clock())
        with self._writing() as connection:
            connection.execute(sessions.insert().values(
                token_hash=token_hash, person=person_id, device=device_id, since=now, seen_at=now))

    def session_of(self, token_hash: str, idle: timedelta, longest: timedelta) -> Session | None:
        """Return the session of a cookie unless it ended, was idle, or its person left."""
        row = self._live(sessions, token_hash, idle)
        if row is None or row["since"] < stamp(self.clock() - longest):
            return None
        person = self.person(int(row["person"]))
        if person.left_at:
            return None
        return Session(person, int(row["device"]), row["since"], row["seen_at"])

    def end_session(self, token_hash: str) -> None:
        """Sign out."""
        with self._writing() as connection:
            self._end(connection, sessions.c.token_hash == token_hash)

    def end_sessions_of(self, person_id: int) -> None:
        """Sign a person out everywhere."""
        with self._writing() as connection:
            self._end(connection, sessions.c.person == person_id)

    # --- tokens -------------------------------------------------------------------------------

    def tokens(self) -> tuple[Token, ...]:
        """Return the tokens in use, newest first."""
        with self._engine.connect() as connection:
            rows = connection.execute(tokens.select().where(
                tokens.c.ended_at == "").order_by(tokens.c.id.desc())).mappings()
            return tuple(_token(row) for row in rows)

    def add_token(self, name: str, scope: str, token_hash: str, by: str) -> Token:
        """Keep a new token."""
        with self._writing() as connection:
            connection.execute(tokens.insert().values(
                name=name, scope=scope, token_hash=token_hash, by=by, since=stamp(self.clock())))
            row = connection.execute(tokens.select().where(
                tokens.c.token_hash == token_hash)).mappings().one()
            self._log(connection, by, f"token made, {scope}", name)
        return _token(row)

    def token_of(self, token_hash: str) -> Token | None:
        """Return the token of a hash while it is in use."""
        row = self._live(tokens, token_hash, None)
        return None if row is None else _token(row)

    def end_token(self, token_id: int, by: str) -> None:
        """Revoke a token. Raises NotFoundError."""
        with self._writing() as connection:
            row = _row(connection, tokens, token_id)
            if row is None:
                raise NotFoundError("There is no such token.", next_step="List the tokens.")
            self._end(connection, tokens.c.id == token_id, tokens)
            self._log(connection, by, "token revoked", str(row["name"]))

    def end_all(self, by: str, why: str) -> None:
        """End every session, pairing and token, as after a backup was put back.

        A copy of an earlier moment must not bring to life what was ended since.
        """
        with self._writing() as connection:
            for table in (sessions, devices, tokens):
                self._end(connection, table.c.ended_at == "", table)
            self._log(connection, by, why, "")

    # --- inside -------------------------------------------------------------------------------

    def _end(self, connection: Connection, which: Any, table: Table = sessions) -> None:
        connection.execute(table.update().where(which, table.c.ended_at == "").values(
            ended_at=stamp(self.clock())))

    def _live(self, table: Table, token_hash: str, idle: timedelta | None) -> Any | None:
        """Return a row that has not ended, and note now and then that it was seen."""
        now = self.clock()
        with self._engine.connect() as connection:
            row = connection.execute(table.select().where(
                table.c.token_hash == token_hash, table.c.ended_at == "")).mappings().first()
        if row is None or (idle is not None and row["seen_at"] < stamp(now - idle)):
            return None
        if row["seen_at"] < stamp(now - timedelta(seconds=SEEN_EVERY_S)):
            with self._writing() as connection:
                connection.execute(table.update().where(
                    table.c.token_hash == token_hash).values(seen_at=stamp(now)))
        return row


def _name_key(name: str) -> str:
    return " ".join(name.split()).casefold()


def _row(connection: Connection, table: Table, number: int) -> Any | None:
    if not 0 < number < 2**63:
        return None
    return connection.execute(table.select().where(table.c.id == number)).mappings().first()


def _foremen(connection: Connection) -> int:
    return len(connection.execute(people.select().where(
        people.c.role == "foreman", people.c.left_at == "")).all())


def _person(row: Any, locks: Mapping[int, tuple[str, ...]]) -> Person:
    return Person(row["id"], row["name"], row["role"], row["pin_hash"], row["since"],
                  row["left_at"], row["failed"], row["wait_until"], locks.get(row["id"], ()))


def _device(row: Any) -> Device:
    return Device(row["id"], row["name"], row["since"], row["seen_at"], row["ended_at"])


def _token(row: Any) -> Token:
    return Token(row["id"], row["name"], row["scope"], row["since"], row["by"], row["seen_at"],
                 row["ended_at"])
