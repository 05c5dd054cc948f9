"""Which check next: expected information about the repair class, per minute of work."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np

from loomwright.diagnosis.belief import Belief
from loomwright.diagnosis.outlook import LiveRows, class_gains, live_rows
from loomwright.diagnosis.records import Evidence
from loomwright.diagnosis.screening import coarse_gains
from loomwright.diagnosis.table import Table
from loomwright.plant import Check

__all__ = ["LEAST_GAIN_BITS", "Option", "Position", "minutes_for", "minutes_from", "options",
    "position_after", "taken_now"]

LEAST_GAIN_BITS = 0.004  # below this a check cannot tell the repairs apart
_SCREEN_KEEPS = 48
_SCREEN_ABOVE = 20_000  # rows times checks above which a coarse screen comes first
_HANDS_OFF_RISK = 2  # piercing or dangerous: only when nothing harmless helps
_SHORTEST_MIN = 0.05
_DIGITS = 5  # of a rate; what differs less is a tie: gains are computed in single precision
_SEEN = "eye"  # instrument of what is seen and heard


@dataclass(frozen=True, slots=True)
class Position:
    """Where the technician stands: places reached, the set-up, and what the last reading opened."""

    places: frozenset[str] = frozenset()
    setup: str = ""
    opened: str = ""

    def after(self, check: Check) -> Position:
        """Return the position once a check was taken: from a place one was at, where it can be."""
        went = frozenset[str]() if self.sees(check) else frozenset({check.place})
        return Position(self.places | went, check.setup, check.opened)

    def sees(self, check: Check) -> bool:
        """Return whether a check can be taken from a place reached already."""
        return not self.places.isdisjoint((check.place, *check.also_from))


@dataclass(frozen=True, slots=True)
class Option:
    """A check that could be taken: its column, minutes from here, and information [bit]."""

    column: int
    check: Check
    minutes: float
    gain_bits: float

    @property
    def rate(self) -> float:
        """Return bits per minute."""
        return self.gain_bits / self.minutes


def taken_now(evidence: Sequence[Evidence]) -> set[str]:
    """Return the checks already taken since the last repair; a repair opens the others again."""
    done = evidence[-1].after if evidence else ()
    return {item.check.id for item in evidence if item.after == done}


def position_after(evidence: Sequence[Evidence]) -> Position:
    """Return the position after the readings: every place visited, the set-up of the last one.

    What was only seen before a first instrument was used is the complaint, told by the driver:
    nobody has gone there or set anything yet.
    """
    first = next((n for n, item in enumerate(evidence) if item.check.instrument != _SEEN),
                 len(evidence))
    position = Position()
    for item in evidence[first:]:
        position = position.after(item.check)
    return position


def minutes_for(table: Table, check: Check, position: Position) -> float:
    """Return minutes to take a check of a table from a position; see `minutes_from`."""
    return minutes_from(check, position, table.places, table.setups)


def minutes_from(
    check: Check, position: Position, places: Mapping[str, float], setups: Mapping[str, float]
) -> float:
    """Return minutes to take a check from a position: reach once, change of set-up, reading.

    What the last reading opened is still open: its minutes are not charged again. `places` and
    `setups` are minutes to reach and to bring about each.
    """
    reach = 0.0 if position.sees(check) else places.get(check.place, 0.0)
    change = 0.0 if check.setup == position.setup else setups.get(check.setup, 0.0)
    open_min = check.opening_min if check.opened and check.opened == position.opened else 0.0
    return max(reach + change + check.minutes - open_min, _SHORTEST_MIN)


def _screened(table: Table, live: LiveRows, columns: list[int], minutes: list[float]) -> list[int]:
    """Return the columns worth computing finely."""
    if len(columns) <= _SCREEN_KEEPS or len(columns) * live.index.size <= _SCREEN_ABOVE:
        return list(range(len(columns)))
    coarse = coarse_gains(table, live, columns) / np.array(minutes)
    keep = np.argsort(-coarse, kind="stable")[:_SCREEN_KEEPS]
    return [int(number) for number in keep]


def options(
    table: Table, belief: Belief, evidence: Sequence[Evidence], live: LiveRows | None = None,
    *, looks_again: bool = False,
) -> tuple[Option, ...]:
    """Return the checks that can still tell repairs apart, best information per minute first.

    Checks already taken and checks not on offer are left out; risk-2 checks appear only when no
    harmless check helps. Ties are broken by the order of the plant's checks. `looks_again`: looks
    taken once may be taken a second time.
    """
    taken = taken_now(evidence)
    if table.sticky is not None and evidence:  # what was good may be bad when the fault is there
        taken = {evidence[-1].check.id}
    if looks_again:
        looks = Counter(item.check.id for item in evidence if item.check.instrument == _SEEN)
        taken -= {name for name, count in looks.items() if count == 1}
    position = position_after(evidence)
    columns = [n for n, c in enumerate(table.checks) if c.offer and c.id not in taken]
    if not columns:
        return ()
    rows = live if live is not None else live_rows(table, belief)
    if rows.classes.size < 2:
        return ()
    minutes = [minutes_for(table, table.checks[column], position) for column in columns]
    kept = _screened(table, rows, columns, minutes)
    gains = class_gains(table, rows, [columns[n] for n in kept])
    found = [
        Option(columns[n], table.checks[columns[n]], minutes[n], float(gain))
        for n, gain in zip(kept, gains, strict=True)
        if gain >= LEAST_GAIN_BITS
    ]
    harmless = [option for option in found if option.check.risk < _HANDS_OFF_RISK]
    ranked = sorted(harmless or found, key=lambda one: (-round(one.rate, _DIGITS), one.column))
    return tuple(ranked)
