"""Tells logic that chatters: relays, controllers and fuses that go round in circles for ever."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.rules import Flags

__all__ = ["Wandering"]

_MAX_RETURNS = 6  # times a variant's logic comes back to where it once was; more is chatter
_MAX_CHANGES = 60  # of a variant's logic; more is chatter too


class Wandering:
    """Where the logic of a batch has been, so that one that never comes to rest is known.

    `returns` (B,) counts how often in a row a variant's logic came back to where it once was.
    """

    def __init__(self, flags: Flags) -> None:
        count = flags.shape[1]
        self.returns = np.zeros(count, np.int64)
        self._changes = np.zeros(count, np.int64)
        # a whole number for every pattern of flags: patterns met before are known by it
        self._weights = np.random.default_rng(0).integers(1, 2**40, (len(flags), 1))
        self._met = [self._pattern(flags)]

    @property
    def chatters(self) -> NDArray[np.bool_]:
        """Return which variants never come to rest."""
        return (self.returns > _MAX_RETURNS) | (self._changes > _MAX_CHANGES)

    def keep(self, which: NDArray[np.intp]) -> None:
        """Drop all variants but some."""
        self.returns, self._changes = self.returns[which], self._changes[which]
        self._met = [one[which] for one in self._met]

    def move(self, flags: Flags, following: Flags, moved: NDArray[np.bool_]) -> list[Flags]:
        """Note that the variants that moved go from flags to those that follow.

        Returns which of them are back in each pattern met before, oldest first, (B,) each.
        """
        # a variant that has not moved met nothing new, whatever its unsettled volts would lead to
        pattern = self._pattern(np.where(moved, following, flags))
        back = [(pattern == one) & moved for one in self._met]
        returned = np.any(back, axis=0)
        self.returns = np.where(moved, np.where(returned, self.returns + 1, 0), self.returns)
        self._met.append(pattern)
        self._changes += moved
        return back

    def _pattern(self, flags: Flags) -> NDArray[np.int64]:
        return np.asarray((self._weights * flags).sum(axis=0))
