"""People of a workshop, the devices they paired, and the tokens of programs: frozen records."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["MAX_TRIES", "AccessChange", "Device", "Person", "Session", "Token", "wait_after_s"]

MAX_TRIES = 10  # wrong PINs in a row on one device, after which somebody has to unlock it
FREE_TRIES = 2
FIRST_WAIT_S, LONGEST_WAIT_S = 30, 900


def wait_after_s(failed: int) -> int:
    """Return how long to wait after so many wrong PINs in a row [s]; doubles from the third on."""
    if failed <= FREE_TRIES:
        return 0
    doubled = FIRST_WAIT_S << min(failed - FREE_TRIES - 1, 10)
    return min(doubled, LONGEST_WAIT_S)


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who works here. Times are UTC, ISO 8601; `left_at` is '' while they do.

    `failed` counts wrong PINs on devices where they never signed in, and `wait_until` is when those
    may try again; `locked_on` names the devices that take no PIN of theirs.
    """

    id: int
    name: str
    role: str
    pin_hash: str
    since: str
    left_at: str
    failed: int
    wait_until: str
    locked_on: tuple[str, ...] = ()

    @property
    def locked(self) -> bool:
        """Return whether too many wrong PINs came on some device; only an unlocking helps there."""
        return bool(self.locked_on)


@dataclass(frozen=True, slots=True)
class Device:
    """A tablet, telephone or computer that was paired."""

    id: int
    name: str
    since: str
    seen_at: str
    ended_at: str


@dataclass(frozen=True, slots=True)
class Session:
    """One person signed in on one device (0 where none was paired)."""

    person: Person
    device: int
    since: str
    seen_at: str


@dataclass(frozen=True, slots=True)
class Token:
    """What a program signs in with; `scope` is 'read', 'write' or 'office'."""

    id: int
    name: str
    scope: str
    since: str
    by: str
    seen_at: str
    ended_at: str


@dataclass(frozen=True, slots=True)
class AccessChange:
    """One change to people, devices or tokens: when, by whom, what, and about whom."""

    number: int
    at: str
    by: str
    what: str
    about: str
