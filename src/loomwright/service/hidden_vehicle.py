"""A vehicle with a fault one cannot see: it can be measured, with error, and repaired."""

from __future__ import annotations

import dataclasses
import random
from typing import TYPE_CHECKING

from loomwright.errors import UsageError

if TYPE_CHECKING:
    from loomwright.circuit import CircuitPlant
    from loomwright.circuit.batch import BatchResult
    from loomwright.circuit.model import Circuit, Fault, StateResult
    from loomwright.plant import Check

__all__ = ["HiddenVehicle"]

LIT = {"lit", "running"}


class HiddenVehicle:
    """The circuit with hidden faults, read through instruments with seeded error.

    Every reading is solved afresh from the faulty circuit. The meter's error is normal with the
    check's own accuracy (taken as two sigma) and rounded to its resolution.
    """

    def __init__(
        self, plant: CircuitPlant, fault: Fault | tuple[Fault, ...], seed: int,
        battery_share: float = 1.0,
    ) -> None:
        """Hide one fault or several; `battery_share`: the battery's share of its usual volts."""
        self._random = random.Random(seed)
        self._plant = plant
        self._faults = fault if isinstance(fault, tuple) else (fault,)
        self._healthy = _with_battery(plant.circuit, battery_share)
        self._solved: dict[str, StateResult] = {}
        self._live: dict[str, BatchResult] = {}

    @property
    def circuit(self) -> Circuit:
        """The circuit as it is at this moment."""
        return self._healthy.with_faults(self._faults) if self._faults else self._healthy

    def repair(self, repair_id: str) -> bool:
        """Carry out a repair; return whether it mended anything: the old part was really bad."""
        left = tuple(one for one in self._faults if one.repair != repair_id)
        mended = len(left) < len(self._faults)
        self._faults = left
        if mended:
            self._solved.clear()
            self._live.clear()
        return mended

    def result(self, state: str) -> StateResult:
        """Return the solved state of the vehicle as it is."""
        from loomwright.circuit import solve

        if state not in self._solved:
            self._solved[state] = solve(self.circuit, state)
        return self._solved[state]

    def measure(self, check: Check) -> float | str:
        """Return what the check reads now: a number in the check's unit, or one of its levels.

        Raises
            UsageError: this vehicle has no such thing to read
        """
        if check.quantity in {"resistance", "continuity", "heard", "turns", "ac voltage"}:
            return self._predicted(check)
        result = self.result(check.state)
        if check.quantity in LIT:
            return _level(result.parts[check.at].doing, check.levels)
        if check.quantity in {"input", "output"}:
            owner, _, item = check.at.partition(".")
            if result.parts[owner].doing == "dead":
                return "no answer"
            groups = result.inputs if check.quantity == "input" else result.outputs
            return "on" if groups[owner][item] else "off"
        if check.quantity == "voltage":
            return self._read(self._volts(check), check)
        if check.quantity == "current":
            amps = result.wires.get(check.at)
            return self._read(result.parts[check.at].amps or 0.0 if amps is None else amps, check)
        raise UsageError(f"'{check.quantity}' cannot be read on this vehicle.",
                         next_step="Choose another check.")

    def _volts(self, check: Check) -> float:
        """Return volts between the two probes; the meter itself loads what it joins."""
        from loomwright.circuit.batch import Variant, blown_after, solve_batch
        from loomwright.circuit.plant.instruments import FLOATING_SPREAD_V

        if check.state not in self._live:
            as_is = (Variant(),)
            blown = blown_after(self.circuit, as_is)
            self._live[check.state] = solve_batch(self.circuit, check.state, as_is, blown)
        across, floats = self._live[check.state].voltage(check.at, check.to)
        picked_up = self._random.gauss(0.0, FLOATING_SPREAD_V) if floats[0] else 0.0
        return float(across[0]) + picked_up

    def _predicted(self, check: Check) -> float | str:
        """Return ohms or continuity with the battery disconnected, or what is heard or felt."""
        from loomwright.plant import NO_FAULT, Hypothesis

        as_is = NO_FAULT if not self._faults else Hypothesis(
            "+".join(one.id for one in self._faults), self._faults[0].element,
            self._faults[0].kind, self._faults[0].repair, 1.0)
        predicted = self._plant.predict([as_is], [check])
        middle = len(predicted.weights) // 2
        if 0 in predicted.levels:
            return check.levels[int(predicted.levels[0][middle, 0].argmax())]
        return self._read(float(predicted.mean[middle, 0, 0]), check)

    def _read(self, value: float, check: Check) -> float:
        """Return a value as the instrument shows it."""
        shown = self._random.gauss(value, check.accuracy * abs(value) / 2)
        return round(shown / check.resolution) * check.resolution if check.resolution else shown


def _with_battery(circuit: Circuit, share: float) -> Circuit:
    """Return the circuit with its batteries' open volts multiplied by a share."""
    parts = {
        name: dataclasses.replace(
            part, params={**part.params, "emf_v": part.number("emf_v") * share})
        if part.kind == "battery" else part for name, part in circuit.parts.items()}
    return dataclasses.replace(circuit, parts=parts)


def _level(doing: str, levels: tuple[str, ...]) -> str:
    """Return what an eye calls a part's doing: dim, slow and weak are one middle level."""
    if doing in levels:
        return doing
    return levels[1] if doing in {"dim", "slow", "weak"} and len(levels) > 2 else "off"
