"""What a part is made of electrically: branches between points, and how faults act on them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass

from loomwright.circuit.expressions import Expression
from loomwright.circuit.model import Part

__all__ = ["Branch", "FaultMode", "Override", "Plunger", "StateFactors"]

# What a state's conditions make of a branch: factors on its ohms, its volts and its amps.
StateFactors = Callable[[Mapping[str, str]], tuple[float, float, float]]


@dataclass(frozen=True, slots=True)
class Branch:
    """One two-ended element. Current flows from `a` to `b`: i = (v_a - v_b + emf) / ohm.

    `law` is resistor, lamp, diode, motor, battery, regulated or mirror. For a lamp `ohm` is hot at
    `rated_v` and `cold_ohm` is at no current; for a motor `ohm` is the armature, `rated_a` the
    current at `rated_v`.
    `gate` names what closes it ('' always; a leading '!' inverts; 'never' only a fault closes it;
    `rule:ID` its own `when`).
    `spread` is contact, load or '' (no tolerance). `off_ohm` 0 means a true open when not closed.
    A regulated source holds `b` at `emf` volts above `a` behind `ohm`, up to `rated_a`, and takes
    nothing back. A battery charges through `charge_ohm`. A mirror draws what the regulated branch
    `feeds` gives: its amps, or with an `efficiency` its power,
    like a resistance below `rated_v`. `steady` volts are not the battery's. `by_state` gives what
    the conditions of a state make of it.
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
    charge_ohm: float = 0.0
    when: Expression | None = None
    feeds: str = ""
    efficiency: float = 0.0
    steady: bool = False
    by_state: StateFactors | None = None


@dataclass(frozen=True, slots=True)
class Plunger:
    """What moves when its coils pull enough, and closes the branches gated `relay:ID`.

    The pull is the sum over `coils` (branch ids) of volts, or of amps where `by` is amps: windings
    of as many turns pull by their amps, and against each other where a current runs backwards.
    """

    id: str
    coils: tuple[str, ...]
    pull_in: float
    drop_out: float
    by: str = "volts"


@dataclass(frozen=True, slots=True)
class Override:
    """One act of a fault on a branch or gate.

    `act` on a branch: open, closed, add (ohms in series), ohm (set), scale (ohms times), emf
    (times), limit (rated amps times), shunt (ohms in parallel), seized. On a gate: on, off. On a
    load: idle (takes current but does nothing). On a wire: earth or supply (joins body or battery
    through `value` ohms). On `WIRE>POINT`: join (the loose end of the wire meets the point). On two
    points `A~B`: link (joins them through `value` ohms).
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
