"""States of many variants of one circuit, solved in batch when first asked for and kept."""

from __future__ import annotations

import dataclasses
import functools
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from loomwright.circuit.batch import BatchResult, Variant, blown_after, solve_batch, solve_isolated
from loomwright.circuit.faults import overrides_of
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.model import Circuit, Part, Wire, WireEnd
from loomwright.circuit.network import MINIMUM_OHM
from loomwright.circuit.plant.alternating import ac_readings
from loomwright.circuit.plant.instruments import (
    BUZZER_BELOW_OHM,
    LAMP_OHM,
    LOAD_LAMP,
    LOAD_LAMP_POWER,
    OPEN_LINE_OHM,
)
from loomwright.circuit.plant.names import base_state, battery_negative
from loomwright.plant import Check

__all__ = ["Solutions"]

Array = NDArray[np.float64]

_LAMP = "test lamp"
_FULLY_ON = 2  # of what a load does
_TO_AND_FRO = 2  # of where a plunger stands, and the place of chatter among what is heard
_STUCK = 2  # place of that level among how a motor turns
_NO_ANSWER = 2  # place among the levels off, on, no answer
_LAMP_LEVELS_SHARE = (0.15, 0.6)  # of system volts: a test lamp glows, is full (assumed)


class Solutions:
    """Solved states of a tuple of variants; a fuse that one state blows is blown in all."""

    def __init__(self, circuit: Circuit, variants: Sequence[Variant]) -> None:
        """Keep the variants; nothing is solved yet."""
        self.circuit = circuit
        self.variants = tuple(variants)
        self._states: dict[str, BatchResult] = {}
        self._blown: NDArray[np.bool_] | None = None
        self._isolated: dict[tuple[str, str, str], Array] = {}

    def blown(self) -> NDArray[np.bool_]:
        """Return which fuses are blown in each variant once every state has been tried."""
        if self._blown is None:
            self._blown = blown_after(self.circuit, self.variants)
        return self._blown

    def state(self, name: str) -> BatchResult:
        """Return one state solved for every variant."""
        if name not in self._states:
            self._states[name] = solve_batch(self.circuit, name, self.variants, self.blown())
        return self._states[name]

    @functools.cached_property
    def actions(self) -> NDArray[np.int8]:
        """What everything does in all states (n_actions, n_variants): loads, relays, fuses, ..."""
        rows = [self.blown().astype(np.int8)]
        for name in self.circuit.states:
            found = self.state(name)
            for flags in (found.doing, found.inputs, found.outputs, found.alive):
                rows += [np.asarray(one, dtype=np.int8)[None, :] for one in flags.values()]
        return np.concatenate(rows)

    def behaviour(self) -> NDArray[np.int64]:
        """Return, for every variant, a number for what everything in it does in all states."""
        known: dict[bytes, int] = {}
        columns = np.ascontiguousarray(self.actions.T)
        return np.array([known.setdefault(one.tobytes(), len(known)) for one in columns], np.int64)

    def raw(self, check: Check) -> Array:
        """Return what each variant reads without instrument errors: a number, or a level's index.

        NaN where both or one of the points float, so that a meter shows next to nothing.
        """
        if check.quantity == "resistance":
            return np.minimum(self._ohms(check), OPEN_LINE_OHM)
        if check.quantity == "continuity":
            return (self._ohms(check) < BUZZER_BELOW_OHM).astype(float)
        if check.quantity == "voltage" and check.levels:
            return self._test_lamp(check).astype(float)
        if check.quantity == "ac voltage":
            return ac_readings(self.circuit, self.variants, check)
        if check.quantity == "heard":
            return self._heard(check)
        if check.quantity == "turns":
            return self._turned(check.at)
        result = self.state(check.state)
        if check.quantity == "voltage":
            volts, floats = result.voltage(check.at, check.to)
            return np.where(floats, np.nan, volts)
        if check.quantity == "current" and check.at in result.part_amps:
            return np.asarray(result.part_amps[check.at])  # of a battery
        if check.quantity == "current" and check.at not in result.wire_index:
            return np.zeros(len(self.variants))  # a loose end carries nothing
        if check.quantity == "current":
            return self._amps(result, check.at)
        if check.quantity in {"lit", "running"}:
            return np.asarray(result.doing[check.at], dtype=float)
        listed = result.inputs if check.quantity == "input" else result.outputs
        alive = result.alive[check.at.split(".", 1)[0]]
        return np.where(alive, listed[check.at], _NO_ANSWER).astype(float)

    def raw_of(self, checks: Sequence[Check]) -> Array:
        """Return what each variant reads at checks of one sort (n_checks, B); see `raw`."""
        one = checks[0]
        if one.quantity == "voltage" and not one.levels:
            volts, floats = self.state(one.state).voltages(
                [(check.at, check.to) for check in checks])
            volts[floats] = np.nan
            return volts
        return np.stack([self.raw(check) for check in checks])

    def _amps(self, result: BatchResult, wire: str) -> Array:
        """Return what a clamp round a wire shows; on a shorted wire either side of the short.

        Nobody knows where along the wire the short is: odd draws have it beyond the clamp.
        """
        amps = np.array(result.wire_amps[result.wire_index[wire]], dtype=float)
        near = result.points[self.circuit.wires[wire].start.point]
        negative = battery_negative(self.circuit)
        post = result.volts[result.points[negative]]
        plus = result.volts[result.points[f"{negative.split('.', 1)[0]}.+"]]
        body = post if result.body_v is None else result.body_v
        for act, far in (("earth", body), ("supply", plus)):
            for number, target, ohm in self._acting(act):
                if target == wire and self._beyond(number):
                    apart = result.volts[near, number] - far[number]
                    amps[number] += apart / max(ohm, MINIMUM_OHM)
        return amps

    def _beyond(self, number: int) -> bool:
        balanced = self.variants[number].balanced
        return balanced is not None and balanced[0] % 2 == 1

    def beyond(self) -> NDArray[np.bool_]:
        """Return whose short is beyond a clamp round the shorted wire (n_variants,)."""
        return np.array([self._beyond(number) for number in range(len(self.variants))])

    def amps(self, state: str, wire: str) -> Array:
        """Return what a clamp round a wire shows in a state, for every variant."""
        return self._amps(self.state(state), wire)

    def _heard(self, check: Check) -> Array:
        """Return 0 silent, 1 a click, 2 chatter, as the vehicle is brought into a state.

        It comes from the state that sets the least, into that one from no supply at all.
        """
        now = self._places(check.at, check.state)
        base = base_state(self.circuit)
        before = np.zeros_like(now) if check.state == base else self._places(check.at, base)
        click = ((now > 0) != (before > 0)).any(axis=0)
        return np.where((now == _TO_AND_FRO).any(axis=0), _TO_AND_FRO, click).astype(float)

    def _turned(self, motor: str) -> Array:
        """Return 0 free, 2 stuck, as a hand feels it: of all faults only a seized rotor holds."""
        found = np.zeros(len(self.variants))
        found[[number for number, target, _ in self._acting("seized") if target == motor]] = _STUCK
        return found

    def _places(self, part: str, state: str) -> NDArray[np.int64]:
        """Return where what moves in a part stands (n_moving, B): 0 at rest, 1 pulled in."""
        result = self.state(state)
        moving = [place for name, place in result.moved.items()
                  if name.partition(".")[0] == part]
        return np.array(moving or [result.doing[part] == _FULLY_ON], dtype=np.int64)

    def _acting(self, act: str) -> list[tuple[int, str, float]]:
        """Return (variant, target, value) of every fault that acts so: to earth, seized ..."""
        return self._acts.get(act, [])

    @functools.cached_property
    def _acts(self) -> dict[str, list[tuple[int, str, float]]]:
        found: dict[str, list[tuple[int, str, float]]] = {}
        for number, variant in enumerate(self.variants):
            for fault in (*self.circuit.faults, *variant.faults):
                for one in overrides_of(self.circuit, fault):
                    found.setdefault(one.act, []).append((number, one.target, one.value))
        return found

    def _ohms(self, check: Check) -> Array:
        if check.at in self.circuit.wires:
            return self._leaks(check)
        key = (check.state, check.at, check.to)
        if key not in self._isolated:
            self.isolate([check])
        return self._isolated[key]

    def _leaks(self, check: Check) -> Array:
        """Return what an unplugged wire shows to earth or to the battery: only its own short."""
        act = "supply" if check.to.endswith(".+") else "earth"
        ohms = np.full(len(self.variants), OPEN_LINE_OHM)
        for number, target, value in self._acting(act):
            if target == check.at:
                ohms[number] = value
        return ohms

    def isolate(self, checks: Sequence[Check]) -> None:
        """Solve the isolated resistances of many checks at once, where not yet known."""
        wanted: dict[str, list[tuple[str, str]]] = {}
        for check in checks:
            key = (check.state, check.at, check.to)
            bare = check.at in self.circuit.wires
            probed = check.quantity in {"resistance", "continuity"}
            if probed and not bare and key not in self._isolated:
                wanted.setdefault(check.state, []).append((check.at, check.to))
        for state, pairs in wanted.items():
            pairs = list(dict.fromkeys(pairs))
            ohms = solve_isolated(self.circuit, self.variants, pairs, self.blown(), state)
            for pair, row in zip(pairs, ohms, strict=True):
                self._isolated[(state, *pair)] = row

    def _test_lamp(self, check: Check) -> NDArray[np.intp]:
        """Return 0 off, 1 dim, 2 full: the lamp is wired into the circuit and solved."""
        circuit = _with_lamp(self.circuit, check)
        result = solve_batch(circuit, check.state, self.variants, self.blown())
        volts, _ = result.voltage(f"{_LAMP}.1", f"{_LAMP}.2")
        limits = [share * self.circuit.system_v for share in _LAMP_LEVELS_SHARE]
        found: NDArray[np.intp] = np.digitize(np.abs(volts), limits)
        return found


def _with_lamp(circuit: Circuit, check: Check) -> Circuit:
    """Return the circuit with the check's lamp clipped between its two points.

    A test lamp is a resistor; the bulb that loads has the filament's law, cold and hot.
    """
    lamp = Part(_LAMP, "resistor", ("1", "2"), {"resistance_ohm": LAMP_OHM})
    if check.instrument == LOAD_LAMP:
        kind = KINDS["lamp"]
        keys = kind.model.model_validate({"kind": "lamp", "power": LOAD_LAMP_POWER})
        lamp = Part(_LAMP, "lamp", ("1", "2"), dict(kind.values(keys, circuit.system_v)[0]))
    leads = {
        f"{_LAMP} {pin}": Wire(f"{_LAMP} {pin}", WireEnd(_LAMP, pin), _end(point), 1.0, 1.0)
        for pin, point in (("1", check.at), ("2", check.to))
    }
    return dataclasses.replace(
        circuit, parts={**circuit.parts, _LAMP: lamp}, wires={**circuit.wires, **leads}
    )


def _end(point: str) -> WireEnd:
    part, _, pin = point.partition(".")
    return WireEnd(part, pin)
