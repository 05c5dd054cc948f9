"""Which fuses, links and breakers open in a state, one after the other, and how long each takes."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass

import numpy as np

from loomwright.circuit.batch import solve_from
from loomwright.circuit.blowing import OpeningTime, opening_time, order_s
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.model import Circuit, Part
from loomwright.circuit.rules import History
from loomwright.units import format_quantity

__all__ = ["GRADES", "Opening", "cascade"]

_VERB = {"circuit breaker": "trips", "fusible link": "melts"}
GRADES = {"published": "published", "practice": "common practice",
           "memory": "from memory, not confirmed: check the maker's sheet"}


@dataclass(frozen=True, slots=True)
class Opening:
    """A part that opens, the amps through it just before, and how long it takes at these."""

    part: str
    kind: str
    rating_a: float
    amps: float
    time: OpeningTime | None

    def text(self) -> str:
        """Return it in a sentence, the grade of the times with them."""
        verb = _VERB.get(self.kind, "blows")
        share = abs(self.amps) / self.rating_a * 100
        said = (f"{self.part} ({format_quantity(self.rating_a, 'A')}) {verb} at "
                f"{format_quantity(abs(self.amps), 'A')}, {share:.0f} % of its rating")
        if self.time is None:
            return f"{said}; no table says how long it takes."
        least, most = _seconds(self.time.least_s), _seconds(self.time.most_s)
        span = least if least == most else f"{least} to {most}"
        return f"{said}, in {span} ({self.time.table}: {GRADES[self.time.grade]})."


def _seconds(value: float) -> str:
    return f"{value:.2g} s" if value < 100 else f"{value / 60:.0f} min"


def cascade(circuit: Circuit, state: str, opened: Collection[str] = ()) -> tuple[Opening, ...]:
    """Return what opens in a state, in order: the quickest first, then what the rest leads to.

    Each step is the steady state with what has opened; the times are each part's own at the
    current it then carries, not added up. Order by the geometric mean of least and most; a part
    without a table is put in order like a blade fuse that opens at the same current (assumed).

    Parameters
        opened: parts that are open beforehand
    Raises
        UnknownNameError: no such state
        SolveError: there is no solution
    Validity
        constant current; cold, unaged parts at about 25 degC
    """
    protects = {name: part for name, part in circuit.parts.items()
                if KINDS[part.kind].opens_above is not None}
    held = {f"blown:{name}": name in opened for name in protects}
    found: list[Opening] = []
    for _ in protects:
        result = solve_from(circuit, state, History(held=held)).result
        amps = {name: float(result.part_amps[name][0]) for name in protects
                if not held[f"blown:{name}"]}
        over = [name for name, flow in amps.items() if abs(flow) > _opens_a(protects[name])]
        if not over:
            break
        first = min(over, key=lambda name: float(
            order_s(protects[name], np.array([amps[name]]))[0]))
        part = protects[first]
        found.append(Opening(first, part.kind, part.number("rating_a"), amps[first],
                             opening_time(part, amps[first])))
        held[f"blown:{first}"] = True
    return tuple(found)


def _opens_a(part: Part) -> float:
    opens = KINDS[part.kind].opens_above
    assert opens is not None
    return opens(part)
