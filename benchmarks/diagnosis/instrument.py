"""The benchmark's own instruments and people: what is read of a true vehicle."""

from __future__ import annotations

import numpy as np

from benchmarks.diagnosis.cases import Case
from benchmarks.diagnosis.truth import OPEN_OHM, TrueVehicle
from loomwright.plant import Check

__all__ = ["Reader"]

_STICKY = 0.7  # an intermittent stays as it was from one reading to the next this often
_WIGGLED = {"wire", "connector", "earth", "switch", "splice"}
_MISSEEN = 0.01
_CLICK_MISSED, _CLICK_IMAGINED = 0.12, 0.03  # in a workshop that is not quiet
_FELT_STIFF = 0.08  # of motors, free or stuck
_TOOL_SHOWS_OFF = 0.1  # tools that show "off" for a controller that does not answer, always
NO_ANSWER = 2  # place of that level in a controller's list
_AUTO_RANGE = 40.0  # a 4000-count meter shows hundredths up to here


class Reader:
    """Takes readings of one vehicle: one meter with its own error, wrong readings, a sagging cell.

    An intermittent fault is there or not at each reading, sticky.
    """

    def __init__(self, case: Case, seed: int) -> None:
        self.case = case
        self.vehicle = case.vehicle
        self._healthy = TrueVehicle(case.vehicle.circuit, case.vehicle.world)
        self._rng = np.random.default_rng([seed, case.vehicle.world.seed, 31])
        self._gain = float(np.clip(self._rng.normal(1.0, 0.003), 0.992, 1.008))
        self._lead_ohm = float(self._rng.uniform(0.0, 0.3))
        self._clamp_zero = float(self._rng.normal(0.0, 0.03))
        self._shift = float(self._rng.normal(0.0, 0.02))
        self._shows_off = bool(self._rng.random() < _TOOL_SHOWS_OFF)
        self._luck = np.random.default_rng([seed, case.vehicle.world.seed, 37])
        self._suits = float(self._luck.uniform(0.3, 0.9))
        self._else = float(self._luck.uniform(0.0, 0.15))
        self._count = 0
        self._there = True

    def read(self, check: Check, careful: bool = False) -> float | str:
        """Return what is noted down; `careful` readings (a complaint, a proof) are never wrong."""
        rng, stratum = self._rng, self.case.stratum
        self._count += 1
        if rng.random() > _STICKY:
            self._there = bool(rng.random() < self.case.active)
        if check.action and self._luck.random() < self._brought_back(check):
            self._there = True
        vehicle = self.vehicle if self._there or careful else self._healthy
        value = self._value(vehicle, check)
        if not careful and rng.random() < stratum.wrong:
            return self._wrong(vehicle, check, value)
        if not careful and check.quantity == "voltage" and rng.random() < stratum.swapped:
            return -float(value)
        return value

    def typed(self, check: Check, value: float | str) -> str:
        """Return a reading as it is typed in, with the digits that the meter showed."""
        if isinstance(value, str) or check.quantity != "voltage":
            return str(value)
        coarse = self.case.stratum.coarse or abs(value) > _AUTO_RANGE
        return f"{value:.1f} V" if coarse else f"{value:.2f} V"

    def repaired(self, repair: str) -> None:
        """Do a repair on the vehicle."""
        self.vehicle = self.vehicle.without(repair)

    def _brought_back(self, check: Check) -> float:
        """Return the chance that what is done during a look brings an intermittent fault back.

        Wiggling suits wires, connectors, earths and switches, at their own place or wire's end;
        heat suits every other part; load suits a bad joint anywhere.
        """
        circuit = self.vehicle.circuit
        chance = self._else
        for fault in self.vehicle.faults:
            wire = circuit.wires.get(fault.element)
            near = {fault.element.split(".", 1)[0]} if wire is None else {
                end.part for end in (wire.start, wire.end) if end is not None}
            kind = "wire" if wire is not None else circuit.parts[next(iter(near))].kind
            suits = "wiggle" if kind in _WIGGLED else "heat"
            there = check.action == suits and check.to.partition(" ")[2] in near
            loaded = check.action == "load" and fault.kind == "high-resistance"
            chance = max(chance, self._suits if there or loaded else 0.0)
        return chance

    def _value(self, vehicle: TrueVehicle, check: Check) -> float | str:
        rng, state = self._rng, check.state
        if check.quantity in {"lit", "running"}:
            level = vehicle.doing(state, check.at, self._shift)
            if rng.random() < _MISSEEN and level == 1:
                level = 2
            return check.levels[level]
        if check.quantity == "heard":
            clicks = vehicle.clicks(state, check.at)
            if rng.random() < (_CLICK_MISSED if clicks else _CLICK_IMAGINED):
                clicks = not clicks
            return check.levels[int(clicks)]
        if check.quantity == "turns":
            stuck = any(fault.kind == "seized" and fault.element == check.at
                        for fault in vehicle.faults)
            felt = 1 if rng.random() < _FELT_STIFF else 2 if stuck else 0
            return check.levels[felt]
        if check.quantity in {"input", "output"}:
            level = vehicle.listed(state, check.quantity, check.at)
            return check.levels[0 if level == NO_ANSWER and self._shows_off else level]
        sag = 1.0 - vehicle.world.sag_per_reading * self._count
        if check.quantity == "voltage":
            volts = vehicle.volts(state, check.at, check.to or "BAT.-", float(rng.normal()))
            step = 0.1 if self.case.stratum.coarse or abs(volts) > _AUTO_RANGE else 0.01
            shown = volts * sag * self._gain + float(rng.uniform(-1.0, 1.0)) * step
            return round(shown / step) * step
        if check.quantity == "current":
            amps = vehicle.amps(state, check.at) * sag * float(rng.normal(1.0, 0.015))
            return round((amps + self._clamp_zero) / 0.1) * 0.1
        ohms = vehicle.ohms(state, check.at, check.to)
        if check.levels:
            return check.levels[int(ohms < 30.0)]
        if ohms > 0.5 * OPEN_OHM:
            return OPEN_OHM
        return round((ohms * self._gain + self._lead_ohm) / 0.1) * 0.1

    def _wrong(self, vehicle: TrueVehicle, check: Check, value: float | str) -> float | str:
        """Return a wrong reading: no contact, leads swapped, the neighbour's pin, or a slip."""
        rng = self._rng
        if isinstance(value, str):
            return str(rng.choice([level for level in check.levels if level != value]))
        if check.quantity == "resistance":
            return float(rng.choice([0.1, OPEN_OHM, round(10.0 ** rng.uniform(0.0, 5.0), 1)]))
        sort = rng.random()
        if sort < 0.3:
            return 0.0
        if sort < 0.45:
            return -value
        if sort < 0.8 and check.quantity == "voltage":
            other = str(rng.choice(vehicle.circuit.points()))
            return round(vehicle.volts(check.state, other, check.to or "BAT.-", 0.0), 2)
        return round(float(rng.uniform(-1.0, 1.1)) * vehicle.circuit.system_v, 2)
