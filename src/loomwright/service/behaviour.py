"""What a circuit does beyond one resting point: history, chatter, fuses in order, sequences."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from loomwright.circuit.cascade import Opening
    from loomwright.circuit.equilibria import Chatter, RestingPoint
    from loomwright.circuit.model import Circuit, StateResult

__all__ = ["Behaviour", "behaviour_of", "sequence_notes"]

_OPENED = {"blown", "tripped"}
_MOST_EVENTS = 1_000  # of sequences; each takes 4 to 8 ms


@dataclass(frozen=True, slots=True)
class Behaviour:
    """A state's second resting point, what chatters in it, and what opens in it, in order."""

    rest: RestingPoint | None = None
    chatter: tuple[Chatter | str, ...] = ()
    openings: tuple[Opening, ...] = ()

    @property
    def notes(self) -> tuple[str, ...]:
        """Return all of it in sentences."""
        told = [one if isinstance(one, str) else one.text() for one in self.chatter]
        rest = [self.rest.text()] if self.rest else []
        return (*rest, *told, *(one.text() for one in self.openings))


def behaviour_of(circuit: Circuit, result: StateResult) -> Behaviour:
    """Return what a solved state does beyond its resting point.

    Raises
        SolveError: there is no solution
    """
    from loomwright.circuit.cascade import cascade
    from loomwright.circuit.equilibria import chatter_of, other_rest

    state = result.state
    opened = any(part.doing in _OPENED for part in result.parts.values())
    restless = any("chatters" in note for note in result.notes)
    return Behaviour(
        None if opened or restless else other_rest(circuit, state),
        chatter_of(circuit, state) if restless else (),
        cascade(circuit, state) if opened else (),
    )


def sequence_notes(circuit: Circuit) -> Iterable[str]:
    """Give what went wrong in each sequence of a circuit, as far as that takes some seconds."""
    if not circuit.sequences:
        return
    from loomwright.circuit.sequences import run_sequence

    events = 0
    for number, name in enumerate(circuit.sequences):
        if events >= _MOST_EVENTS:
            yield (f"{len(circuit.sequences) - number} sequences were not run here, since those "
                   f"before them had {events} events; run each by itself.")
            return
        run = run_sequence(circuit, name)
        events += len(run.moments)
        for note in run.notes:
            yield f"sequence {name}: {note}"
