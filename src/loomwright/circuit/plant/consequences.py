"""What a fault does to the fuses, links and breakers before it: they open, and stay open."""

from __future__ import annotations

from collections.abc import Sequence

from loomwright.circuit.batch import Variant, blown_after
from loomwright.circuit.cascade import GRADES, Opening, cascade
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.model import Circuit, Fault
from loomwright.plant import Consequence
from loomwright.units import format_quantity

__all__ = ["consequences", "stay_open"]

_ACTS = {"circuit breaker": "tripped", "fusible link": "melted"}


def consequences(circuit: Circuit, faults: Sequence[Fault], wanted: frozenset[str] | None = None
                 ) -> tuple[Consequence, ...]:
    """Return what opens for good because of faults, each in the first state in which it does.

    States in file order, each with what the earlier ones opened, by steady currents; see
    `cascade`. `wanted` are the parts that open, by `stay_open`, where that is known.
    """
    faulty = circuit.with_faults(faults)
    wanted = stay_open(circuit, [faults])[0] if wanted is None else wanted
    found: dict[str, Consequence] = {}
    for state in circuit.states if wanted else ():
        for one in cascade(faulty, state, tuple(found)):
            if one.part in wanted and one.part not in found:
                found[one.part] = _told(one, state)
    return tuple(found.values())


def stay_open(circuit: Circuit, several: Sequence[Sequence[Fault]]) -> list[frozenset[str]]:
    """Return for each of several sets of faults what it leaves open after all states.

    What a circuit without these faults opens as well is not their doing. All are solved together.
    """
    names = [name for name, part in circuit.parts.items()
             if KINDS[part.kind].opens_above is not None]
    variants = (Variant(), *(Variant(tuple(faults)) for faults in several))
    blown = blown_after(circuit, variants)
    opened = blown[:, 1:] & ~blown[:, :1]
    return [frozenset(name for name, one in zip(names, column, strict=True) if one)
            for column in opened.T]


def _told(opening: Opening, state: str) -> Consequence:
    time = opening.time
    return Consequence(
        opening.part, _ACTS.get(opening.kind, "blew"), f"{opening.rating_a:g} A",
        state, format_quantity(abs(opening.amps), "A"),
        None if time is None else time.least_s, None if time is None else time.most_s,
        "" if time is None else GRADES[time.grade])
