"""The circuit as data: frozen records of places, parts, wires, states and faults.

Nothing here computes. A fault never changes a circuit: `with_faults` returns a new one that
carries the fault, and the solver reads it from there.
"""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from loomwright.circuit.expressions import Expression

__all__ = [
    "BODY",
    "ISOLATED",
    "OUT",
    "Circuit",
    "ControllerInput",
    "ControllerOutput",
    "ControllerReference",
    "Fault",
    "Mark",
    "ParamValue",
    "Part",
    "PartReading",
    "Place",
    "PointReading",
    "StateResult",
    "Step",
    "Timing",
    "Wire",
    "WireEnd",
]

BODY = "body"  # the vehicle's metal, joined by every earth point
OUT = "out"  # of a fuse in a state: it is pulled
ISOLATED = "isolated"  # the set-up for measuring ohms, so no state's name


@dataclass(frozen=True, slots=True)
class Mark:
    """Where something stands in its file; line and column count from 1."""

    line: int = 0
    column: int = 0


@dataclass(frozen=True, slots=True)
class Place:
    """Where things are, and the minutes to get at them once (>= 0)."""

    id: str
    reach_min: float = 1.0
    assumed: bool = False


@dataclass(frozen=True, slots=True)
class Timing:
    """How a contact or output lags what commands it, in seconds; 0 means not at all.

    It closes `delay_on_s` after the command comes and opens `delay_off_s` after it goes. It stays
    closed `at_most_s`. With `flash_s` it goes on and off in that period, half of it on, with
    `fast_s` instead while a lamp is out: the current is below `low_a` [A].
    """

    delay_on_s: float = 0.0
    delay_off_s: float = 0.0
    at_most_s: float = 0.0
    flash_s: float = 0.0
    fast_s: float = 0.0
    low_a: float = 0.0


@dataclass(frozen=True, slots=True)
class ControllerInput:
    """A controller input: read as on when its pin is high (pull down) or low (pull up)."""

    id: str
    pin: str
    pull: str = "down"  # 'down' or 'up'
    on_when: str = "high"  # 'high' or 'low'
    pull_ohm: float = 10_000.0
    threshold_v: float = 6.0
    pull_v: float | None = None  # of a pull-up; None: the controller's supply


@dataclass(frozen=True, slots=True)
class ControllerOutput:
    """A controller output: drives its pin to supply (high side) or to earth (low side)."""

    id: str
    pin: str
    drives: str  # 'high side' or 'low side'
    when: Expression
    limit_a: float = 5.0
    on_ohm: float = 0.1
    timing: Timing = Timing()
    off_ohm: float = 2e9  # what leaks while it is off


@dataclass(frozen=True, slots=True)
class ControllerReference:
    """A supply that a controller gives its sensors: held volts up to a limit of current."""

    id: str
    pin: str
    volts: float = 5.0
    limit_a: float = 0.1


ParamValue = (
    float
    | str
    | bool
    | Expression
    | tuple[ControllerInput, ...]
    | tuple[ControllerOutput, ...]
    | tuple[ControllerReference, ...]
    | tuple[str, ...]
    | Timing
    | None
)


@dataclass(frozen=True, slots=True)
class Part:
    """A part: its kind, pins and values. Keys of `params` end in their unit (`resistance_ohm`).

    `assumed` names the params that came from the kind's defaults. `price` is in money, `fit_min`
    the minutes to replace it. `seen_from` are other places than its own from where one sees what it
    does, or where a controller's list is read.
    """

    id: str
    kind: str
    pins: tuple[str, ...]
    params: Mapping[str, ParamValue] = field(default_factory=dict)
    assumed: frozenset[str] = frozenset()
    place: str = ""
    label: str = ""
    price: float = 0.0
    fit_min: float = 10.0
    mark: Mark = Mark()
    seen_from: tuple[str, ...] = ()

    def points(self) -> tuple[str, ...]:
        """Return the names of this part's points: `F1.1`, or the bare id where it has one pin."""
        return (self.id,) if self.pins == ("",) else tuple(f"{self.id}.{pin}" for pin in self.pins)

    def number(self, key: str) -> float:
        """Return a numeric param."""
        value = self.params[key]
        if not isinstance(value, int | float):
            raise TypeError(f"{self.id}: {key} is not a number")
        return float(value)


@dataclass(frozen=True, slots=True)
class WireEnd:
    """One end of a wire: a part and its pin ('' where the part has one pin)."""

    part: str
    pin: str

    @property
    def point(self) -> str:
        """Return the point's name, such as `F12.2` or `E1`."""
        return f"{self.part}.{self.pin}" if self.pin else self.part


@dataclass(frozen=True, slots=True)
class Wire:
    """A wire: area [mm2], length [m], colour (IEC 60757). `assumed` names what was not given."""

    id: str
    start: WireEnd
    end: WireEnd | None  # None: the destination is unknown
    area_mm2: float = 1.0
    length_m: float = 2.0
    colour: str = ""
    assumed: frozenset[str] = frozenset()
    mark: Mark = Mark()


@dataclass(frozen=True, slots=True)
class Step:
    """One step of a sequence: a state that lasts `for_s`, or until a rule over parts holds.

    A step with `until` ends after `for_s` [s] all the same.
    """

    state: str
    for_s: float
    until: Expression | None = None
    mark: Mark = Mark()


@dataclass(frozen=True, slots=True)
class Fault:
    """One fault of one element, with an added or remaining resistance [ohm] where it has one."""

    id: str  # kind:element, or kind:element:ohms
    element: str  # wire id, part id, or PART.item (ECU.lock, X1.3)
    kind: str
    ohms: float | None = None
    prior: float = 0.0
    repair: str = ""
    source: str = "assumed"


@dataclass(frozen=True, slots=True)
class Circuit:
    """A circuit read from its file, possibly with faults applied."""

    title: str
    system_v: float
    places: Mapping[str, Place]
    parts: Mapping[str, Part]
    wires: Mapping[str, Wire]
    states: Mapping[str, Mapping[str, str]]
    should: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    faults: tuple[Fault, ...] = ()
    temperature_c: float = 20.0
    file: str = ""
    minutes_to_set: Mapping[str, float] = field(default_factory=dict)
    sequences: Mapping[str, tuple[Step, ...]] = field(default_factory=dict)

    def with_faults(self, faults: Iterable[Fault]) -> Circuit:
        """Return a new circuit that also carries these faults."""
        return dataclasses.replace(self, faults=(*self.faults, *faults))

    def points(self) -> tuple[str, ...]:
        """Return every point a probe can go to, in file order."""
        return tuple(point for part in self.parts.values() for point in part.points())

    def place_of(self, element: str) -> str:
        """Return the place of a part or point ('' when none was given)."""
        part = self.parts.get(element) or self.parts.get(element.split(".", 1)[0])
        return part.place if part else ""


@dataclass(frozen=True, slots=True)
class PointReading:
    """Volts at a point against the battery negative post, as a 10 Mohm meter shows them."""

    volts: float
    floating: bool = False


@dataclass(frozen=True, slots=True)
class PartReading:
    """What a part does (on, off, dim, slow, open, closed, blown, stalled, dead) and its amps.

    `doing` is '' where there is nothing to say: plug, splice, earth point, idle battery.
    """

    doing: str
    amps: float | None = None


@dataclass(frozen=True, slots=True)
class StateResult:
    """One solved state of a circuit. `points` by point name, `wires` amps from start to end."""

    state: str
    points: Mapping[str, PointReading]
    wires: Mapping[str, float]
    parts: Mapping[str, PartReading]
    inputs: Mapping[str, Mapping[str, bool]]  # controller -> input -> on
    outputs: Mapping[str, Mapping[str, bool]]  # controller -> output -> commanded on
    notes: tuple[str, ...] = ()
