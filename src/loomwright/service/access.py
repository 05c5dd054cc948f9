"""People and access: who works here, who is signed in where, and which programs may come in."""

from __future__ import annotations

import hashlib
import secrets
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from loomwright.errors import (
    NotFoundError,
    SignInError,
    TooManyTriesError,
    UnknownNameError,
    UsageError,
)
from loomwright.jobs.access_records import AccessChange, Device, Person, Token
from loomwright.jobs.access_store import AccessStore, stamp
from loomwright.jobs.pin_tries import Trial
from loomwright.service.pins import check_pin, hash_pin, made_up_pin, wrong_pin_hash
from loomwright.service.roles import NOBODY, ROLES, SCOPES, Actor

__all__ = ["Access", "open_access"]

MAX_NAME = 60
IDLE = timedelta(hours=8)  # a shift
LONGEST = timedelta(hours=16)
DEVICE_IDLE = timedelta(days=180)
TOKEN_PREFIX = "lwt_"  # so that a token found in a file is known for what it is
_SOMEBODY = Person(0, "", "", "", "", "left", 0, "")  # whoever a form names that is not there


def _now() -> datetime:
    return datetime.now(UTC)


def _digest(secret: str) -> str:
    """Return the hash of a secret of 256 random bits; such a one needs no slow hash."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def open_access(data: str | Path | None = None) -> Access:
    """Return the people of a data folder (the platform's own where not named)."""
    from loomwright.jobs.folder import data_folder

    return Access(data_folder(data))


class Access:
    """The people, devices and tokens of one data folder, and what can be done with them."""

    def __init__(self, folder: Path, clock: Callable[[], datetime] = _now) -> None:
        """Open the folder's store; `clock` gives the time, for tests."""
        self.store = AccessStore(folder, clock)

    def close(self) -> None:
        """Let go of the store."""
        self.store.close()

    # --- people -------------------------------------------------------------------------------

    def people(self) -> tuple[Person, ...]:
        """Return who works here, by name."""
        return tuple(one for one in self.store.people() if not one.left_at)

    def everybody(self) -> tuple[Person, ...]:
        """Return who works or worked here, by name."""
        return self.store.people()

    def named(self, name: str) -> Person:
        """Return the person of a name. Raises UnknownNameError."""
        wanted = " ".join(name.split()).casefold()
        known = {one.name.casefold(): one for one in self.store.people()}
        if wanted not in known:
            raise UnknownNameError("person", name, [one.name for one in known.values()])
        return known[wanted]

    def add(self, name: str, role: str, pin: str, by: str, *, first: bool = False) -> Person:
        """Add a person.

        Parameters
            first: refuse where there is a person already
        Raises
            UsageError: no name, no such role, or a PIN that is too easy
            ConflictError: the name is taken
        """
        shown = _clean_name(name)
        return self.store.add_person(shown, _known_role(role), hash_pin(pin), by, first=first)

    def set_role(self, person_id: int, role: str, by: str) -> None:
        """Give a person another role; they sign in again. ConflictError on the last foreman."""
        self.store.person(person_id)
        self.store.change_person(person_id, by, f"role is now {_known_role(role)}",
                                 end_sessions=True, role=role)

    def set_pin(self, person_id: int, pin: str, by: str) -> None:
        """Set a person's PIN and unlock them; whoever was signed in as them is signed out."""
        self.store.person(person_id)
        self.store.change_person(person_id, by, "PIN set", end_sessions=True,
                                 pin_hash=hash_pin(pin))

    def reset_pin(self, person_id: int, by: str) -> str:
        """Give a person a made-up PIN and return it; it is shown this once."""
        pin = made_up_pin()
        self.set_pin(person_id, pin, by)
        return pin

    def change_pin(self, person_id: int, old: str, new: str, device_id: int = 0) -> None:
        """Let a person change their own PIN. Raises SignInError where the old one is wrong."""
        person = self._proved(person_id, old, device_id)
        self.set_pin(person.id, new, person.name)

    def unlock(self, person_id: int, by: str) -> None:
        """Let a person who typed too many wrong PINs try again, on every device."""
        self.store.person(person_id)
        self.store.unlock(person_id, by)

    def leave(self, person_id: int, by: str) -> None:
        """Note that a person works here no more; what they did keeps their name."""
        self.store.person(person_id)
        self.store.change_person(person_id, by, "left", end_sessions=True,
                                 left_at=stamp(self.store.clock()))

    def come_back(self, person_id: int, by: str) -> None:
        """Note that a person works here again."""
        self.store.person(person_id)
        self.store.change_person(person_id, by, "came back", end_sessions=True, left_at="")

    def changes(self) -> tuple[AccessChange, ...]:
        """Return who changed what about people, devices and tokens, newest first."""
        return self.store.changes()

    # --- signing in ---------------------------------------------------------------------------

    def sign_in(self, person_id: int, pin: str, device_id: int = 0) -> str:
        """Check a PIN and return the secret of a new session; an old one is never taken on.

        Raises
            SignInError: the PIN does not fit
            TooManyTriesError: too many wrong PINs on this device, or on devices where the person
                never signed in; the counts are in the store, so a restart does not help
        """
        person = self._proved(person_id, pin, device_id)
        secret = secrets.token_urlsafe(32)
        self.store.start_session(_digest(secret), person.id, device_id)
        return secret

    def _proved(self, person_id: int, pin: str, device_id: int) -> Person:
        try:
            person = self.store.person(person_id)
        except NotFoundError:
            person = _SOMEBODY
        trial = self.store.begin_try(person.id, device_id)
        if trial.locked or trial.wait_s:
            raise _too_many(person, trial)
        # as slow for nobody as for somebody
        if not check_pin(person.pin_hash or wrong_pin_hash(), pin) or person.left_at:
            raise SignInError("Name and PIN do not fit.",
                              next_step="Try again; after some wrong ones there is a wait.")
        self.store.clear_tries(person.id, device_id)
        return person

    def sign_out(self, secret: str) -> None:
        """End a session."""
        self.store.end_session(_digest(secret))

    def sign_out_everywhere(self, person_id: int) -> None:
        """End all sessions of a person."""
        self.store.end_sessions_of(person_id)

    def signed_in(self, secret: str, device_id: int | None = None) -> Actor:
        """Return who a session belongs to, or nobody; with a device, only the session on it."""
        found = self.store.session_of(_digest(secret), IDLE, LONGEST) if secret else None
        if found is None or (device_id is not None and found.device != device_id):
            return NOBODY
        person = found.person
        return Actor(person.name, person.role, "person", ROLES.get(person.role, frozenset()),
                     person.id, found.device)

    # --- devices and programs -----------------------------------------------------------------

    def devices(self) -> tuple[Device, ...]:
        """Return the paired devices, newest first."""
        return self.store.devices()

    def add_device(self, name: str) -> tuple[Device, str]:
        """Pair a device; return it and the secret of its cookie."""
        secret = secrets.token_urlsafe(32)
        shown = " ".join(name.split())[:MAX_NAME] or "device without a name"
        return self.store.add_device(shown, _digest(secret)), secret

    def device(self, secret: str) -> int:
        """Return the number of the paired device of a cookie, 0 where there is none."""
        found = self.store.device_of(_digest(secret), DEVICE_IDLE) if secret else None
        return found.id if found else 0

    def end_device(self, device_id: int, by: str) -> None:
        """Unpair a device; whoever is signed in on it is signed out."""
        self.store.end_device(device_id, by)

    def tokens(self) -> tuple[Token, ...]:
        """Return the tokens in use, newest first."""
        return self.store.tokens()

    def add_token(self, name: str, scope: str, by: str) -> tuple[Token, str]:
        """Make a token for a program; return it and its secret, which is shown this once."""
        if scope not in SCOPES:
            raise UnknownNameError("scope", scope, SCOPES)
        secret = TOKEN_PREFIX + secrets.token_urlsafe(32)
        return self.store.add_token(_clean_name(name), scope, _digest(secret), by), secret

    def end_token(self, token_id: int, by: str) -> None:
        """Revoke a token."""
        self.store.end_token(token_id, by)

    def program(self, secret: str) -> Actor:
        """Return the program that a token belongs to. Raises SignInError."""
        found = self.store.token_of(_digest(secret)) if secret.startswith(TOKEN_PREFIX) else None
        if found is None:
            raise SignInError("This token is unknown or revoked.",
                              next_step="Ask a foreman for a new one.")
        return Actor(f"{found.name} (program)", found.scope, "program", SCOPES[found.scope])


def _too_many(person: Person, trial: Trial) -> TooManyTriesError:
    if trial.locked:
        who = person.name or "Nobody of that number"
        return TooManyTriesError(
            f"{who} is locked on this device after too many wrong PINs.",
            next_step="Sign in on another device, or ask a foreman to unlock it on the page of "
                      "people; for a foreman's own, 'loomwright people reset-pin' at the workshop "
                      "computer opens it.")
    wait_s = int(trial.wait_s)
    return TooManyTriesError("Too many wrong PINs.", wait_s=wait_s,
                             next_step=f"Try again in {wait_s} seconds.")


def _known_role(role: str) -> str:
    if role not in ROLES:
        raise UnknownNameError("role", role, ROLES)
    return role


def _clean_name(name: str) -> str:
    shown = " ".join(name.split())
    if not shown or not shown.isprintable():
        raise UsageError("The name is missing.", next_step="Type a name.")
    if len(shown) > MAX_NAME:
        raise UsageError(f"The name has {len(shown)} characters; {MAX_NAME} is the most.",
                         next_step="Shorten it.")
    return shown
