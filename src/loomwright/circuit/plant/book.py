"""Predicted readings kept check by check, of several groups of rows solved apart."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.plant.predictions import Reader, Sample
from loomwright.plant import Check

__all__ = ["Book", "joined", "picked"]


class Book:
    """Rows from one or more readers, in a fixed order; what was once read is kept.

    `order` gives, for every row of the book, its place among the rows of all readers joined.
    """

    def __init__(self, readers: Sequence[Reader], order: NDArray[np.int64] | None = None,
                 known: Mapping[str, Sample] | None = None) -> None:
        """Keep the readers; nothing is solved yet. `known` was read before, by check id."""
        self._readers = tuple(readers)
        self._order = order
        self._known = dict(known or {})

    def samples(self, checks: Sequence[Check]) -> list[Sample]:
        """Return the predicted readings of every row at each check."""
        new = {check.id: check for check in checks if not self._knows(check)}
        if not new:
            return [self._known[check.id] for check in checks]
        found = [reader.samples(tuple(new.values())) for reader in self._readers]
        for name, parts in zip(new, zip(*found, strict=True), strict=True):
            whole = joined(parts)
            self._known[name] = whole if self._order is None else picked(whole, self._order)
        return [self._known[check.id] for check in checks]

    def _knows(self, check: Check) -> bool:
        """Return whether a check was read, as the sort of reading it is."""
        known = self._known.get(check.id)
        if known is None:
            return False
        width = 0 if known.levels is None else known.levels.shape[1]
        return width == len(check.levels)

    def known(self) -> Mapping[str, Sample]:
        """Return what was read so far, by check id."""
        return dict(self._known)


def picked(sample: Sample, rows: NDArray[np.int64]) -> Sample:
    """Return the readings of some rows."""
    levels, leaning = (None if part is None else part[rows]
                       for part in (sample.levels, sample.leaning))
    return Sample(sample.mean[rows], sample.noise[rows], sample.moving[rows], levels, leaning)


def joined(parts: Sequence[Sample]) -> Sample:
    """Return the readings of several groups of rows as those of one."""
    if len(parts) == 1:
        return parts[0]
    levels = [part.levels for part in parts if part.levels is not None]
    leaning = [part.leaning for part in parts if part.leaning is not None]
    return Sample(
        np.concatenate([part.mean for part in parts]),
        np.concatenate([part.noise for part in parts]),
        np.concatenate([part.moving for part in parts]),
        np.concatenate(levels) if levels else None,
        np.concatenate(leaning) if leaning else None,
    )
