"""One-time pairing codes: shown at the host, typed or scanned on a device, gone when used.

They live in memory only: a new start of the program makes all earlier codes useless.
"""

from __future__ import annotations

import hashlib
import secrets
import threading
import time
from collections import deque
from collections.abc import Callable

from loomwright.errors import SignInError, TooManyTriesError

__all__ = ["CODE_LIFE_S", "Pairing"]

ALPHABET = "ABCDEFGHJKLMNPQRSTUVWXYZ23456789"  # without I, O, 0 and 1, which look alike
LENGTH = 8  # 40 bits
CODE_LIFE_S = 900
MOST_CODES = 50
WINDOW_S = 600
TRIES_EACH = 5  # wrong codes from one address in the window
TRIES_ALL = 2000  # from everywhere: few addresses must not keep all others from pairing


class Pairing:
    """The codes that are good now, and who tried wrong ones."""

    def __init__(self, clock: Callable[[], float] = time.monotonic) -> None:
        """Start without codes; `clock` counts seconds."""
        self._clock = clock
        self._lock = threading.Lock()
        self._codes: dict[str, float] = {}
        self._wrong: deque[tuple[float, str]] = deque()

    def issue(self) -> str:
        """Return a fresh code, good once and for a quarter of an hour: 'ABCD-EFGH'."""
        code = "".join(secrets.choice(ALPHABET) for _ in range(LENGTH))
        with self._lock:
            self._tidy()
            while len(self._codes) >= MOST_CODES:
                del self._codes[next(iter(self._codes))]
            self._codes[_digest(code)] = self._clock() + CODE_LIFE_S
        return f"{code[:4]}-{code[4:]}"

    def redeem(self, code: str, address: str) -> None:
        """Use up a code.

        Raises
            TooManyTriesError: too many wrong codes, from this address or altogether
            SignInError: the code is wrong, used or too old
        """
        with self._lock:
            self._tidy()
            mine = sum(one == address for _, one in self._wrong)
            if mine >= TRIES_EACH or len(self._wrong) >= TRIES_ALL:
                wait_s = int(self._wrong[0][0] + WINDOW_S - self._clock()) + 1
                raise TooManyTriesError("Too many wrong pairing codes.", wait_s=wait_s,
                                        next_step=f"Wait {wait_s // 60 + 1} minutes.")
            if self._codes.pop(_digest(code), None) is None:
                self._wrong.append((self._clock(), address))
                raise SignInError(
                    "This pairing code is wrong, used already, or too old.",
                    next_step="Read the newest code at the workshop computer.")

    def _tidy(self) -> None:
        now = self._clock()
        for digest in [one for one, until in self._codes.items() if until < now]:
            del self._codes[digest]
        while self._wrong and self._wrong[0][0] < now - WINDOW_S:
            self._wrong.popleft()


def _digest(code: str) -> str:
    """Return the hash of a code as typed: case, spaces and hyphens do not matter."""
    kept = "".join(one for one in code[:100].upper() if one.isascii() and one.isalnum())
    return hashlib.sha256(kept.encode()).hexdigest()
