"""Wrong PINs, counted for each person on each device, and for a person on all new devices together.

Whoever holds a paired device may guess at anybody's PIN there, and must not be able to keep that
person out elsewhere. So ten wrong ones lock the person on that device alone. A device on which the
person never signed in shares one further count with all such devices: its waits slow guessing from
several devices down, and touch no device on which the person has signed in before.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Any

from loomwright.jobs.access_records import MAX_TRIES, wait_after_s
from loomwright.jobs.access_schema import devices, people, pin_tries, sessions

if TYPE_CHECKING:
    from sqlalchemy.engine import Connection

__all__ = ["Trial", "begin_try", "clear_tries", "lift_locks", "locked_on"]

HERE = "this machine"  # the device of whoever sits at the program's own screen


@dataclass(frozen=True, slots=True)
class Trial:
    """What became of a try: how long to wait [s], 0 where it may go on; whether locked, or now."""

    wait_s: float = 0.0
    locked: bool = False
    locks: bool = False  # this was the last one that the device had


def begin_try(connection: Connection, person: int, device: int, now: datetime) -> Trial:
    """Count a try of a PIN before it is looked at, so that many at once gain nothing."""
    pair = _pair(connection, person, device)
    failed = int(pair["failed"]) if pair else 0
    if failed >= MAX_TRIES:
        return Trial(locked=True)
    counts = [pair] if pair else []
    shared = None if _known(connection, person, device) else connection.execute(
        people.select().where(people.c.id == person)).mappings().first()
    if shared is not None:
        counts.append(shared)
    wait_s = max((_left_s(one["wait_until"], now) for one in counts), default=0.0)
    if wait_s:
        return Trial(wait_s)
    _write_pair(connection, (person, device), pair is None, _counted(failed, now))
    if shared is not None:
        connection.execute(people.update().where(people.c.id == person).values(
            **_counted(int(shared["failed"]), now)))
    return Trial(locks=failed + 1 == MAX_TRIES)


def clear_tries(connection: Connection, person: int, device: int) -> None:
    """Forget the wrong PINs of a person on a device after a right one.

    Those on other devices stay: signing in at work must not give a guesser ten more tries.
    """
    if not _known(connection, person, device):
        connection.execute(people.update().where(people.c.id == person).values(_NONE))
    connection.execute(pin_tries.update().where(
        pin_tries.c.person == person, pin_tries.c.device == device).values(_NONE))


def lift_locks(connection: Connection, person: int) -> None:
    """Let a person try again on every device."""
    connection.execute(people.update().where(people.c.id == person).values(_NONE))
    connection.execute(pin_tries.update().where(pin_tries.c.person == person).values(_NONE))


def locked_on(connection: Connection) -> dict[int, tuple[str, ...]]:
    """Return the names of the devices that people are locked on, by person."""
    from sqlalchemy import select

    found: dict[int, tuple[str, ...]] = {}
    rows = connection.execute(
        select(pin_tries.c.person, devices.c.name)
        .join(devices, devices.c.id == pin_tries.c.device, isouter=True)
        .where(pin_tries.c.failed >= MAX_TRIES).order_by(pin_tries.c.device))
    for person, name in rows:
        found[int(person)] = (*found.get(int(person), ()), str(name or HERE))
    return found


_NONE: dict[str, Any] = {"failed": 0, "wait_until": ""}


def _counted(failed: int, now: datetime) -> dict[str, Any]:
    until = now + timedelta(seconds=wait_after_s(failed + 1))
    return {"failed": failed + 1, "wait_until": until.isoformat(timespec="milliseconds")}


def _left_s(until: str, now: datetime) -> float:
    left_s = (datetime.fromisoformat(until) - now).total_seconds() if until else 0.0
    return max(1.0, left_s) if left_s > 0 else 0.0


def _pair(connection: Connection, person: int, device: int) -> Any | None:
    return connection.execute(pin_tries.select().where(
        pin_tries.c.person == person, pin_tries.c.device == device)).mappings().first()


def _write_pair(
    connection: Connection, who: tuple[int, int], new: bool, values: dict[str, Any]
) -> None:
    person, device = who
    if new:
        connection.execute(pin_tries.insert().values(person=person, device=device, **values))
    else:
        connection.execute(pin_tries.update().where(
            pin_tries.c.person == person, pin_tries.c.device == device).values(**values))


def _known(connection: Connection, person: int, device: int) -> bool:
    """Return whether a person has ever signed in on a device; sessions are never removed."""
    return connection.execute(sessions.select().where(
        sessions.c.person == person, sessions.c.device == device).limit(1)).first() is not None
