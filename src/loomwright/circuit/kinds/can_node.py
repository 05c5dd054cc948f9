"""CAN transceiver as a load of direct current: its bias, and its drivers when dominant."""

from __future__ import annotations

from collections.abc import Mapping

from loomwright.circuit.branches import Branch, FaultMode, Override, Plunger
from loomwright.circuit.expressions import Expression
from loomwright.circuit.kinds.base import Kind, Ohms, PartModel, Rule, with_defaults
from loomwright.circuit.model import ParamValue, Part

__all__ = ["KIND"]

_BIAS_V = 2.5  # recessive, both wires (sources S46, S47, published)
_BIAS_OHM = 30_000.0  # from each wire to the bias; from memory
_DRIVER_V = 5.0
# Each driver, so that 60 ohm between the wires sees 2.0 V: 1.5 to 3.0 V are published (S46).
_DRIVER_OHM = 45.0
_IDLE_A = 0.02  # assumed
_LEAST_SHARE, _LETS_GO = 0.5, 0.9  # of system volts; assumed
_TERMINATOR_OHM = 120.0  # source S48, published
_SHORTED_OHM = 1.0  # assumed
_ABSENT = Expression("not", (Expression("true"),))


class CanNodeModel(PartModel):
    """Keys of a CAN node in the circuit file: pins H and L of the bus, + and - of its supply."""

    terminated: bool = False  # holds one of the two terminators
    terminator: Ohms | None = None
    dominant_when: Rule | None = None


def _values(model: CanNodeModel, system_v: float
            ) -> tuple[Mapping[str, ParamValue], frozenset[str]]:
    given = {"terminator_ohm": model.terminator} if model.terminated else {}
    usual = {"terminator_ohm": _TERMINATOR_OHM} if model.terminated else {}
    values, assumed = with_defaults(given, usual)
    ends = ("terminator",) if model.terminated else ()
    return {**values, "ends": ends, "dominant_when": model.dominant_when or _ABSENT,
            "least_v": _LEAST_SHARE * system_v}, assumed


def _branches(part: Part, system_v: float) -> tuple[Branch, ...]:
    name, awake = part.id, f"relay:{part.id}"
    high, low, plus, minus = (f"{name}.{pin}" for pin in ("H", "L", "+", "-"))
    rule = part.params["dominant_when"]
    assert isinstance(rule, Expression)
    middle, upper = f"{name}.bias", f"{name}.upper"
    lower, sink = f"{name}.L driver", f"{name}.sink"
    found = [
        Branch(name, plus, minus, system_v / _IDLE_A, spread="load"),
        Branch(middle, minus, middle, 1.0, emf=_BIAS_V, steady=True, gate=awake),
        Branch(f"{name}.H bias", middle, high, _BIAS_OHM, spread="load", gate=awake),
        Branch(f"{name}.L bias", middle, low, _BIAS_OHM, spread="load", gate=awake),
        # the volts that a driver's own diode takes are in its 45 ohm
        Branch(upper, minus, upper, 1.0, emf=_DRIVER_V, steady=True, gate=awake),
        Branch(f"{name}.H driver", upper, high, _DRIVER_OHM - 1, spread="load",
               gate=f"rule:{name}.H driver", when=rule),
        Branch(lower, low, sink, _DRIVER_OHM - 1, spread="load", gate=f"rule:{lower}", when=rule),
        Branch(sink, sink, minus, 1.0, gate=awake),
        Branch(f"{name}.short", high, low, _SHORTED_OHM, gate="never"),
    ]
    if part.params["ends"]:
        found.append(Branch(f"{name}.terminator", high, low, part.number("terminator_ohm"),
                            spread="load"))
    return tuple(found)


def _stuck(part: Part, item: str, ohms: float) -> tuple[Override, ...]:
    return (Override(f"{part.id}.H driver", "closed"), Override(f"{part.id}.L driver", "closed"))


KIND = Kind(
    name="can node",
    model=CanNodeModel,
    pins=lambda model: ("+", "-", "H", "L"),
    values=_values,
    symbol="can node",
    default_price=150.0,
    fit_min=30.0,
    branches=_branches,
    metered=lambda part: (("H", "L"),),
    plungers=lambda part: (
        Plunger(part.id, (part.id,), part.number("least_v"),
                _LETS_GO * part.number("least_v")),),
    fault_modes=(
        FaultMode("dead", 0.005, lambda part, item, ohms: (
            Override(part.id, "open"),)),
        FaultMode("stuck-dominant", 0.003, _stuck),
        FaultMode("shorted", 0.003,
                  lambda part, item, ohms: (Override(f"{part.id}.short", "closed"),)),
        FaultMode("open", 0.005,
                  lambda part, item, ohms: (Override(f"{part.id}.{item}", "open"),),
                  items="ends"),
    ),
)
