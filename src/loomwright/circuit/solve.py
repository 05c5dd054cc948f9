"""Solve a circuit in one state or in all, and say in words what every part does."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.batch import BatchResult, Variant, blown_after, solve_batch
from loomwright.circuit.elimination import solve_factored
from loomwright.circuit.instruments import METER_OHM
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.kinds.selector import position_of
from loomwright.circuit.model import OUT, Circuit, Part, PartReading, PointReading, StateResult
from loomwright.circuit.reasons import check_trustworthy
from loomwright.units import format_predicted, format_quantity

__all__ = ["described", "solve", "solve_all"]

_LEVEL_WORDS = {"lamp": ("off", "dim", "on"), "led lamp": ("off", "dim", "on"),
                "motor": ("off", "slow", "on"), "starter": ("off", "slow", "on")}
_OTHER_WORDS = ("off", "weak", "on")
_NO_DOING = {"connector", "earth", "splice"}  # neither on nor off; nor is an idle battery
_ONE = (Variant(),)
_OPENED = {"circuit breaker": ("tripped", "closed")}
_TRICKLE_A = 1e-6  # less is no current worth a word


def solve(circuit: Circuit, state: str) -> StateResult:
    """Return one state of a circuit, solved by nodal analysis.

    Parameters
        circuit: a circuit, with its faults if it carries any; a fuse that a fault blows in
            another state is blown here too
        state: the name of one of its states
    Returns
        StateResult: volts of every point against the battery negative post as a 10 Mohm meter
            shows them, amps of every wire, what every part does
    Raises
        UnknownNameError: there is no such state
        SolveError: no battery, nothing joined to its negative post, batteries shorted
    Validity
        steady direct current; see docs/models/circuit.md
    """
    return _solve(circuit, state, blown_after(circuit, _ONE) if circuit.faults else None)


def solve_all(circuit: Circuit) -> dict[str, StateResult]:
    """Return every state of a circuit by name; see `solve`."""
    blown = blown_after(circuit, _ONE) if circuit.faults else None
    return {state: _solve(circuit, state, blown) for state in circuit.states}


def _solve(circuit: Circuit, state: str, blown: NDArray[np.bool_] | None) -> StateResult:
    return described(solve_batch(circuit, state, _ONE, blown))


def described(result: BatchResult) -> StateResult:
    """Return the first variant of a solved batch in the words of a technician.

    Raises
        SolveError: there is no trustworthy solution
    """
    check_trustworthy(result)
    circuit = result.circuit
    return StateResult(
        result.state, _points(result),
        {name: float(result.wire_amps[row, 0]) for name, row in result.wire_index.items()},
        {name: _reading(part, result) for name, part in circuit.parts.items()},
        _by_controller(circuit, result.inputs), _by_controller(circuit, result.outputs),
        _notes(result),
    )


def _points(result: BatchResult) -> dict[str, PointReading]:
    """Return every point's volts under a meter, all points' own resistances in one solve."""
    plan = result.network.plan
    own = np.append(np.diag(solve_factored(result.factor, np.eye(plan.size))), 0.0)
    found = {}
    for name, number in result.points.items():
        thevenin = float(own[plan.row_of[number]])
        volts = float(result.volts[number, 0]) / (1 + thevenin / METER_OHM)
        floats = bool(result.floating[number, 0])
        found[name] = PointReading(0.0 if floats else volts, floats)
    return found


def _by_controller(circuit: Circuit, flags: Mapping[str, NDArray[np.bool_]]
                   ) -> dict[str, dict[str, bool]]:
    found: dict[str, dict[str, bool]] = {
        name: {} for name, part in circuit.parts.items() if part.kind == "controller"}
    for key, on in flags.items():
        name, _, item = key.partition(".")
        found[name][item] = bool(on[0])
    return found


def _reading(part: Part, result: BatchResult) -> PartReading:
    amps = result.part_amps.get(part.id)
    flow = None if amps is None else float(amps[0])
    return PartReading(_doing(part, result, flow), flow)


def _doing(part: Part, result: BatchResult, amps: float | None) -> str:
    """Return a part's doing in one word, '' for what is neither on nor off: a plug."""
    if KINDS[part.kind].load or part.kind == "relay":
        level = int(result.doing[part.id][0])
        turns = part.kind in {"motor", "starter"}
        if turns and level == 0 and abs(amps or 0) > 0.2 * part.number("rated_a"):
            return "stalled"
        return _LEVEL_WORDS.get(part.kind, _OTHER_WORDS)[level]
    if part.id in result.blown:
        opened, whole = _OPENED.get(part.kind, ("blown", "whole"))
        if result.circuit.states[result.state].get(part.id) == OUT:
            return OUT
        return opened if result.blown[part.id][0] else whole
    if part.kind == "selector":
        return position_of(part, result.circuit.states[result.state])
    if part.kind == "dc-dc converter":  # it holds its volts whether or not anything draws amps
        return "on" if result.moved[part.id][0] else "off"
    if part.kind == "controller":
        return "on" if result.alive[part.id][0] else "dead"
    if part.kind in {"switch", "proximity switch"}:
        branch = result.network.where[part.id]
        return "closed" if result.slope_s[branch, 0] > 0 else "open"
    flows = amps is not None and abs(amps) > _TRICKLE_A
    if part.kind in _NO_DOING or (part.kind == "battery" and not flows):
        return ""
    return "on" if flows else "off"


def _notes(result: BatchResult) -> tuple[str, ...]:
    """Return what a technician should be told beyond the numbers."""
    circuit = result.circuit
    notes = []
    for name, blown in result.blown.items():
        if blown[0]:
            notes.append(_open_note(circuit.parts[name]))
    for name, alive in result.alive.items():
        if not alive[0]:
            notes.append(_dead_note(result, name))
    for name, protects in result.protects.items():
        if protects[0]:
            notes.append(f"Output {name} protects itself: its current is over its limit, so it "
                         "is switched off.")
    if result.chatters[0]:
        notes.append("The relays or rules never come to rest: something chatters.")
    return tuple(notes)


def _open_note(part: Part) -> str:
    """Return what is said of a fuse, fusible link or breaker that has opened."""
    rating = format_quantity(part.number("rating_a"), "A")
    word = _OPENED.get(part.kind, ("blown", ""))[0]
    after = {"automatic": " It closes again by itself and so goes on and off.",
             "when off": " It stays open until its supply is taken away."}
    return (f"{part.kind.capitalize()} {part.id} ({rating}) is {word}."
            f"{after.get(str(part.params.get('reset')), '')}")


def _dead_note(result: BatchResult, name: str) -> str:
    part = result.circuit.parts[name]
    across, _ = result.voltage(f"{name}.{part.params['supply']}", f"{name}.{part.params['earth']}")
    has, needs = float(across[0]), part.number("minimum_v")
    seen = format_predicted(has, "V")
    if has < needs:
        return f"{name} has {seen} of supply and needs {format_quantity(needs, 'V')} to work."
    return f"{name} is dead though it has {seen} of supply."
