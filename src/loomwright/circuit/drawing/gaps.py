"""Room beside tracks: words at a column before its x is known, and distances of tracks."""

from __future__ import annotations

from dataclasses import dataclass

__all__ = ["PITCH", "Gaps", "Note"]

PITCH = 96.0  # least distance of two tracks [px]
_GAP, _LEFT = 10.0, 74.0


@dataclass(frozen=True, slots=True)
class Note:
    """Words at a column before its x is known: `dx` to the near edge, `width` beyond that."""

    column: int
    side: str  # R, L or C
    dx: float
    width: float
    y0: float
    y1: float
    role: str = ""  # '' for something solid that only needs room
    target: str = ""
    lines: tuple[str, ...] = ()
    y: float = 0.0

    def reach(self, side: str) -> float:
        """Return how far this goes from the column's line to one side [px]."""
        if self.side == "C":
            return self.width / 2
        return self.dx + self.width if self.side == side else 0.0


class Gaps:
    """Distances between neighbouring tracks."""

    def __init__(self, notes: list[Note], count: int) -> None:
        self.by_column: list[list[Note]] = [[] for _ in range(count)]
        for note in notes:
            self.by_column[note.column].append(note)
        self.least = [0.0] * max(count - 1, 0)

    def _reach(self, column: int, side: str, y0: float, y1: float) -> float:
        return max((n.reach(side) for n in self.by_column[column] if n.y0 < y1 and y0 < n.y1),
                   default=0.0)

    def corridor(self, gap: int, y0: float, y1: float) -> float:
        """Return how far right of the gap's left track a vertical dashed line is free."""
        return self._reach(gap, "R", y0, y1) + 11

    def add_link(self, gap: int, y0: float, y1: float) -> None:
        """Make room for a dashed line in a gap."""
        room = self.corridor(gap, y0, y1) + self._reach(gap + 1, "L", y0, y1) + 11
        self.least[gap] = max(self.least[gap], room)

    def xs(self) -> list[float]:
        """Return the x of every track."""
        if not self.by_column:
            return []
        x = _LEFT + max([n.reach("L") for n in self.by_column[0]] or [0])
        found = [x]
        for gap in range(len(self.by_column) - 1):
            x += max(PITCH, self.least[gap], self._pitch(gap))
            found.append(x)
        return found

    def _pitch(self, gap: int) -> float:
        left = [n for n in self.by_column[gap] if n.reach("R")]
        right = [n for n in self.by_column[gap + 1] if n.reach("L")]
        need = [n.reach("R") + _GAP for n in left] + [n.reach("L") + _GAP for n in right]
        need += [a.reach("R") + b.reach("L") + _GAP for a in left for b in right
                 if a.y0 < b.y1 + 2 and b.y0 < a.y1 + 2]
        return max(need, default=0.0)
