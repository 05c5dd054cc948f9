"""Minimal hitting sets of conflicts: the minimal diagnoses of consistency-based diagnosis.

Berge's incremental method. It keeps only minimal sets after each conflict, so it has no pruning
that could lose a diagnosis (the trap of the original hitting-set tree: Greiner, Smith and
Wilkerson, Artificial Intelligence 41, 1989).
"""

from __future__ import annotations

from collections.abc import Hashable, Iterable
from typing import TypeVar

__all__ = ["minimal_hitting_sets", "minimal_sets"]

Item = TypeVar("Item", bound=Hashable)


def minimal_sets(sets: Iterable[frozenset[Item]]) -> list[frozenset[Item]]:
    """Return the sets that contain no other of them, smallest first, in the order given."""
    kept: list[frozenset[Item]] = []
    for candidate in sorted(dict.fromkeys(sets), key=len):
        if not any(smaller <= candidate for smaller in kept):
            kept.append(candidate)
    return kept


def minimal_hitting_sets(conflicts: Iterable[Iterable[Item]]) -> list[frozenset[Item]]:
    """Return every minimal set that shares an item with each conflict.

    An empty conflict cannot be hit: the result is then empty. No conflicts: the empty set alone.
    """
    found: list[frozenset[Item]] = [frozenset()]
    for conflict in conflicts:
        items = tuple(dict.fromkeys(conflict))
        grown = [
            extended
            for chosen in found
            for extended in ([chosen] if chosen.intersection(items) else _each(chosen, items))
        ]
        found = minimal_sets(grown)
    return found


def _each(chosen: frozenset[Item], items: tuple[Item, ...]) -> list[frozenset[Item]]:
    return [chosen | {item} for item in items]
