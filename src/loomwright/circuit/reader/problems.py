"""Collects what is wrong in one file, so that everything is reported together."""

from __future__ import annotations

from collections.abc import Iterable

from loomwright.circuit.model import Mark
from loomwright.errors import FileProblemsError, Problem, nearest

__all__ = ["Problems", "shown_list"]

_MOST = 100  # a file with more than this is the wrong file; guessing names for all would be slow
_MOST_NAMES = 12
_MOST_COMPARED = 200  # nearest names are found by comparing letters, which is slow
_LONGEST_NAME = 60
_LONGEST_WHAT = 400  # what is wrong may quote the file


def shown_list(names: Iterable[str]) -> str:
    """Return names as `a, b, c`, cut after the first dozen."""
    listed = list(names)
    return ", ".join(listed[:_MOST_NAMES]) + (" ..." if len(listed) > _MOST_NAMES else "")


def _likely(name: str, names: list[str]) -> list[str]:
    """Return the names worth comparing: all of a few, of many those that start alike."""
    if len(names) <= _MOST_COMPARED:
        return names
    start = name[:1].lower()
    return [other for other in names
            if other[:1].lower() == start and abs(len(other) - len(name)) <= 1][:_MOST_COMPARED]


class Problems:
    """A growing list of problems of one file."""

    def __init__(self, file: str) -> None:
        self.file = file
        self._found: dict[Problem, None] = {}
        self._left_out = False

    def __len__(self) -> int:
        return len(self._found)

    @property
    def full(self) -> bool:
        """Whether no further problem is kept."""
        return len(self._found) >= _MOST

    def add(self, mark: Mark, what: str, fix: str) -> None:
        """Note one problem at its place in the file."""
        if self.full:
            self._left_out = True
            return
        short = what if len(what) <= _LONGEST_WHAT else f"{what[:_LONGEST_WHAT]} ..."
        self._found[Problem(max(mark.line, 1), max(mark.column, 1), short, fix)] = None

    def unknown(self, mark: Mark, what: str, name: str, known: Iterable[str]) -> None:
        """Note a name that is not known, with the nearest known one as the fix."""
        if self.full:
            self._left_out = True
            return
        names = sorted(set(known)) if isinstance(known, set | frozenset) else list(known)
        close = nearest(name[:_LONGEST_NAME], _likely(name, names))
        fix = f"Did you mean '{close}'?" if close else f"Known: {shown_list(names) or 'none'}."
        self.add(mark, what, fix)

    def stop(self) -> None:
        """Raise FileProblemsError where anything was found."""
        if not self._found:
            return
        found = list(self._found)
        if self._left_out:
            last = max(found)
            found.append(Problem(last.line, last.column + 1, "There are more problems.",
                                 "Mend the ones above first."))
        raise FileProblemsError(self.file, found)
