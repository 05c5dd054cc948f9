"""Follows a controller's pin back along its wires, with the volts to expect at every point."""

from __future__ import annotations

import dataclasses
from collections.abc import Sequence
from dataclasses import dataclass

from loomwright.circuit.healthy import Healthy, Working, is_true
from loomwright.circuit.kinds.switch import rule_of
from loomwright.circuit.model import Circuit, ControllerOutput, Part, PointReading, StateResult
from loomwright.circuit.trace import Hop, trace_to
from loomwright.circuit.why_records import PointCheck, Trace, shown_volts

__all__ = ["Case", "load_trace", "trace_from"]

_DIFFERS_SHARE = 0.1  # of system volts: a reading this far off is worth a word


@dataclass(frozen=True, slots=True)
class Case:
    """One question: the output of a controller in a solved state."""

    circuit: Circuit
    healthy: Healthy
    result: StateResult
    part: Part
    output: ControllerOutput

    @property
    def name(self) -> str:
        """Return the output as `ECU.lock`."""
        return f"{self.part.id}.{self.output.id}"

    def pin(self, pin: object) -> str:
        """Return the point of one of the controller's pins."""
        return f"{self.part.id}.{pin}"

    def volts(self, point: str) -> float:
        """Return the volts of a point now."""
        return self.result.points[point].volts

    def is_on(self, result: StateResult) -> bool:
        """Return whether a result has the output on."""
        return result.outputs[self.part.id][self.output.id]


def trace_from(case: Case, start: str, goal: str, working: Working | None, follow: StateResult
           ) -> Trace:
    """Return the way from a point to a rail with expected and present volts.

    Parameters
        goal: 'supply' or 'earth'
        working: where the expected volts come from; None where nothing works
        follow: the solved state that shows which way the current goes
    """
    hops = trace_to(case.circuit, follow, start, goal)
    points = tuple(_point(case, hop, working) for hop in hops if hop.point in case.result.points)
    lost = _lost(case, points, working) if working else ""
    return Trace(start, goal, points, working.name if working else "", lost)


def load_trace(case: Case, working: Working | None) -> Trace:
    """Return the way from the output's pin through its load, with where the volts get lost."""
    pin = case.pin(case.output.pin)
    goal = "earth" if case.output.drives == "high side" else "supply"
    found = trace_from(case, pin, goal, working, working.result if working else case.result)
    differing = [number for number, point in enumerate(found.points) if point.differs]
    lost = ""
    if differing and differing[0] > 0:
        at = found.points[differing[0]]
        before = found.points[differing[0] - 1]
        lost = (f"Between {before.point} and {at.point} the readings part from what is expected: "
                f"{at.via_text}.")
    return dataclasses.replace(found, lost=lost)


def _point(case: Case, hop: Hop, working: Working | None) -> PointCheck:
    now = case.result.points[hop.point]
    expected = working.result.points[hop.point] if working else None
    return PointCheck(hop.point, hop.via, _via_text(case.circuit, hop.via),
                      case.circuit.place_of(hop.point), expected, now,
                      expected is not None and _differ(case, expected, now))


def _differ(case: Case, expected: PointReading, now: PointReading) -> bool:
    """Return whether two readings differ by more than a tenth of the system's volts."""
    return abs(expected.volts - now.volts) > _DIFFERS_SHARE * case.circuit.system_v


def _via_text(circuit: Circuit, via: str) -> str:
    """Return what a wire or part is, in words."""
    if via in circuit.wires:
        wire = circuit.wires[via]
        known = [wire.colour] if wire.colour else []
        known += [] if "area_mm2" in wire.assumed else [f"{wire.area_mm2:g} mm2"]
        known += [] if "length_m" in wire.assumed else [f"{wire.length_m:g} m"]
        return f"wire {via} ({', '.join(known)})" if known else f"wire {via}"
    part = circuit.parts.get(via) or circuit.parts.get(via.split(".", 1)[0])
    if part is None:
        return via
    label = f" ({part.label})" if part.label else ""
    return f"{part.kind} {via}{label}"


def _lost(case: Case, points: Sequence[PointCheck], working: Working) -> str:
    """Say across what the readings leave what is expected, seen from the pin."""
    wrong = [number for number, point in enumerate(points) if point.differs]
    if not wrong:
        return ""
    last = wrong[-1]
    if last + 1 == len(points):
        return f"The reading is wrong as far back as {points[last].point}."
    beyond = points[last + 1]
    return (f"Between {beyond.point} and {points[last].point} the readings part from what is "
            f"expected: {beyond.via_text}{_switch_words(case, beyond.via, working)}"
            f"{_coil_words(case, beyond.via, working)}.")


def _coil_words(case: Case, via: str, working: Working) -> str:
    """Return the volts across a relay's coil, now and when it works, '' for other parts."""
    part = case.circuit.parts.get(via)
    if part is None or part.kind != "relay":
        return ""

    def coil(result: StateResult) -> str:
        volts = result.points[f"{via}.86"].volts - result.points[f"{via}.85"].volts
        return shown_volts(PointReading(volts))

    return (f", whose coil has {coil(case.result)} between {via}.86 and {via}.85 and "
            f"{coil(working.result)} when it works")


def _switch_words(case: Case, via: str, working: Working) -> str:
    """Return what a switch is doing and what it should do in this state, '' for other parts."""
    part = case.circuit.parts.get(via)
    if part is None or part.kind != "switch":
        return ""
    rule, doing = rule_of(part), case.result.parts[via].doing
    conditions = case.circuit.states[case.result.state]
    holds = rule.evaluate(lambda name, value: is_true(conditions, name, value))
    should = "closed" if holds else "open"
    if should == doing == working.result.parts[via].doing == "open":
        return (f" is open, as it should be (closed when {rule}), so what lies on the controller's "
                "side of it is fed from elsewhere")
    if should == doing:
        return f" is {doing}, as it should be in this state (closed when {rule})"
    return f" is {doing} and should be {should} in this state (closed when {rule})"
