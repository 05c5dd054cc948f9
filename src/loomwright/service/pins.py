"""PINs: which are allowed, and their hashes by Argon2id (RFC 9106; package argon2-cffi)."""

from __future__ import annotations

import functools
import itertools
import secrets
import threading
from typing import TYPE_CHECKING

from loomwright.errors import UsageError

if TYPE_CHECKING:
    from argon2 import PasswordHasher

__all__ = ["MIN_PIN", "check_pin", "hash_pin", "made_up_pin", "wrong_pin_hash"]

MIN_PIN, MAX_PIN = 6, 128
MOST_KIB, MOST_TURNS = 262_144, 20  # of a hash; ours ask for 65,536 KiB and three turns
_one_at_a_time = threading.Semaphore(2)  # a hash takes 64 MiB on purpose; many at once would hurt


@functools.cache
def _hasher() -> PasswordHasher:
    from argon2 import PasswordHasher

    return PasswordHasher()  # the library keeps its defaults at RFC 9106's low-memory choice


def hash_pin(pin: str) -> str:
    """Return the hash of a new PIN. Raises UsageError where it is too short or too easy."""
    if not MIN_PIN <= len(pin) <= MAX_PIN:
        raise UsageError(f"A PIN has {MIN_PIN} to {MAX_PIN} characters.",
                         next_step="Digits are enough; letters are welcome.")
    if _easy(pin):
        raise UsageError("This PIN is too easy to guess.",
                         next_step="No row of equal or following digits.")
    with _one_at_a_time:
        return _hasher().hash(pin)


def check_pin(pin_hash: str, pin: str) -> bool:
    """Return whether a PIN fits its hash."""
    from argon2 import extract_parameters
    from argon2.exceptions import InvalidHashError, VerificationError

    if len(pin) > MAX_PIN:
        return False
    try:
        asked = extract_parameters(pin_hash)
        if asked.memory_cost > MOST_KIB or asked.time_cost > MOST_TURNS:
            return False  # not one of ours: a store from elsewhere must not fill the memory
        with _one_at_a_time:
            return _hasher().verify(pin_hash, pin)
    except (VerificationError, InvalidHashError):
        return False


def made_up_pin() -> str:
    """Return a random PIN of eight digits that is not too easy."""
    while True:
        pin = f"{secrets.randbelow(10**8):08d}"
        if not _easy(pin):
            return pin


@functools.cache
def wrong_pin_hash() -> str:
    """Return the hash of a PIN that nobody knows, to take as long for nobody as for somebody."""
    return _hasher().hash(secrets.token_urlsafe(16))


def _easy(pin: str) -> bool:
    """Return whether the characters are few, or all step by the same amount."""
    steps = {ord(b) - ord(a) for a, b in itertools.pairwise(pin)}
    return len(set(pin)) <= 2 or len(steps) == 1
