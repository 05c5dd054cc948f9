"""What a part is made of electrically: branches between points, and how faults act on them."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from loomwright.circuit.model import Part

__all__ = ["Branch", "FaultMode", "Override"]


@dataclass(frozen=True, slots=True)
class Branch:
    """One two-ended element. Current flows from `a` to `b`: i = (v_a - v_b + emf) / ohm.

    `law` is resistor, lamp, diode or motor. For a lamp `ohm` is hot at `rated_v` and `cold_ohm`
    is at no current; for a motor `ohm` is the armature, `rated_a` the current at `rated_v`.
    `gate` names what closes it ('' always; a leading '!' inverts; 'never' only a fault closes it).
    `spread` is contact, load or '' (no tolerance). `off_ohm` 0 means a true open when not closed.
    """

    id: str
    a: str
    b: str
    ohm: float
    emf: float = 0.0
    law: str = "resistor"
    gate: str = ""
    spread: str = ""
    off_ohm: float = 0.0
    rated_v: float = 0.0
    rated_a: float = 0.0
    cold_ohm: float = 0.0


@dataclass(frozen=True, slots=True)
class Override:
    """One act of a fault on a branch or gate.

    `act` on a branch: open, closed, add (ohms in series), ohm (set), scale (ohms times), emf
    (times), shunt (ohms in parallel), seized. On a gate: on, off. On a load: idle (takes current
    but does nothing). On a wire: earth or supply (joins body or battery through `value` ohms).
    """

    target: str
    act: str
    value: float = 0.0


@dataclass(frozen=True, slots=True)
class FaultMode:
    """A way a kind of part fails.

    `items` says what the fault is of: '' the part, or the param (`ways`, `inputs`, `outputs`)
    that lists its items. `acts(part, item, ohms)` gives the overrides. `ohms` is the resistance
    meant when a fault is named without one (None: it has none). `repair` is replace or clean.
    """

    kind: str
    prior: float
    acts: Callable[[Part, str, float], tuple[Override, ...]]
    items: str = ""
    ohms: float | None = None
    repair: str = "replace"
    source: str = "assumed"
    continuum: bool = False
