"""What a fault does to the fuses, links and breakers before it: they open, and stay open."""

from __future__ import annotations

from collections.abc import Sequence

from loomwright.circuit.batch import Variant, blown_after
from loomwright.circuit.cascade import GRADES, Opening, cascade
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.model import Circuit, Fault
from loomwright.plant import Consequence
from loomwright.units import format_quantity

__all__ = ["consequences"]

_ACTS = {"circuit breaker": "tripped", "fusible link": "melted"}


def consequences(circuit: Circuit, faults: Sequence[Fault]) -> tuple[Consequence, ...]:
    """Return what opens for good because of faults, each in the first state in which it does.

    States in file order, each with what the earlier ones opened, by steady currents; see
    `cascade`. What a circuit without these faults opens as well is not their doing.
    """
    faulty = circuit.with_faults(faults)
    wanted = _stay_open(faulty) - _stay_open(circuit)
    found: dict[str, Consequence] = {}
    for state in circuit.states if wanted else ():
        for one in cascade(faulty, state, tuple(found)):
            if one.part in wanted and one.part not in found:
                found[one.part] = _told(one, state)
    return tuple(found.values())


def _stay_open(circuit: Circuit) -> set[str]:
    """Return what is open once a circuit has been in all its states."""
    names = [name for name, part in circuit.parts.items()
             if KINDS[part.kind].opens_above is not None]
    blown = blown_after(circuit, (Variant(),))
    return {name for name, one in zip(names, blown, strict=True) if one[0]}


def _told(opening: Opening, state: str) -> Consequence:
    time = opening.time
    return Consequence(
        opening.part, _ACTS.get(opening.kind, "blew"), f"{opening.rating_a:g} A",
        state, format_quantity(abs(opening.amps), "A"),
        None if time is None else time.least_s, None if time is None else time.most_s,
        "" if time is None else GRADES[time.grade])
