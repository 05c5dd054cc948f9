"""Strata and the cases in them: what is wrong with each vehicle, drawn from seeds."""

from __future__ import annotations

import zlib
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from benchmarks.diagnosis.draws import complains, drawn_fault, matters, parasite, severe
from benchmarks.diagnosis.families import Family
from benchmarks.diagnosis.truth import TrueVehicle
from benchmarks.diagnosis.world import World, draw_world
from loomwright.circuit import CircuitPlant, parse_fault, read_circuit_text
from loomwright.circuit.model import Circuit
from loomwright.diagnosis import Table, build_table
from loomwright.plant import Check

__all__ = ["STRATA", "Bench", "Case", "Stratum", "make_bench", "make_case"]

_TRIES = 400


@dataclass(frozen=True, slots=True)
class Stratum:
    """One sort of job. `sort` is what is wrong; the shares are of single readings."""

    name: str
    sort: str = "single"  # single, double, intermittent, none, unmodelled, twins
    wrong: float = 0.03
    swapped: float = 0.0
    prior_error: float = 1.0
    cost_error: float = 1.0
    coarse: bool = False


STRATA: tuple[Stratum, ...] = (
    Stratum("single, no wrong readings", wrong=0.0),
    Stratum("single, 3 % wrong"),
    Stratum("single, 10 % wrong", wrong=0.10),
    Stratum("priors wrong x10", prior_error=10.0),
    Stratum("costs wrong x2", cost_error=2.0),
    Stratum("meter of 0.1 V", coarse=True),
    Stratum("leads swapped, 10 %", swapped=0.10),
    Stratum("all of these at once", wrong=0.10, swapped=0.03, prior_error=10.0, cost_error=2.0),
    Stratum("doubles", "double"),
    Stratum("intermittents", "intermittent"),
    Stratum("no fault", "none"),
    Stratum("unmodelled", "unmodelled"),
    Stratum("inseparable twins", "twins"),
)


class _Hiding(CircuitPlant):
    """A plant where one splice cannot be reached: no check touches it or its wires."""

    def __init__(self, circuit: Circuit, hidden: tuple[str, ...]) -> None:
        super().__init__(circuit)
        self._hidden = hidden

    def checks(self) -> tuple[Check, ...]:
        """Return the checks that stay away from what is hidden."""
        return tuple(check for check in super().checks()
                     if check.at not in self._hidden and check.to not in self._hidden)


@dataclass(frozen=True, eq=False)
class Bench:
    """A circuit of a family as the engine knows it, and with its splice out of reach."""

    family: Family
    circuit: Circuit
    plant: CircuitPlant
    table: Table
    twin_table: Table | None


@dataclass(frozen=True, eq=False)
class Case:
    """One vehicle: what is wrong with it, and where chance stands for its readings."""

    number: int
    bench: Bench
    stratum: Stratum
    vehicle: TrueVehicle
    active: float  # chance that the fault of an intermittent is there
    true_minutes: Mapping[str, float]  # of a place, set-up, check or repair: factor on the table's

    @property
    def table(self) -> Table:
        """Return the engine's table for this case."""
        twin = self.bench.twin_table
        return twin if self.stratum.sort == "twins" and twin is not None else self.bench.table

    @property
    def repairs(self) -> frozenset[str]:
        """Return the repairs that mend this vehicle."""
        return frozenset(fault.repair for fault in self.vehicle.faults)


def make_bench(family: Family, variant: int) -> Bench:
    """Return one circuit of a family; the same variant always gives the same one."""
    rng = np.random.default_rng([variant, 11])
    circuit = read_circuit_text(family.text(rng), family.name)
    plant = CircuitPlant(circuit)
    twin = None
    if family.twins is not None:
        splice, wires = family.twins
        twin = build_table(_Hiding(circuit, (splice, *wires)))
    return Bench(family, circuit, plant, build_table(plant), twin)


def _wrong_in(bench: Bench, stratum: Stratum, rng: np.random.Generator, world: World
              ) -> TrueVehicle:
    circuit = bench.circuit
    if stratum.sort == "none":
        return TrueVehicle(circuit, world)
    if stratum.sort == "unmodelled":
        return TrueVehicle(circuit, world, (), (parasite(circuit, rng),))
    if stratum.sort == "twins":
        assert bench.family.twins is not None
        wire = str(rng.choice(bench.family.twins[1]))
        kind = str(rng.choice(["open", "high-resistance"]))
        fault = severe(circuit, parse_fault(circuit, f"{kind}:{wire}"), rng)
        return TrueVehicle(circuit, world, (fault,))
    faults = [drawn_fault(circuit, rng, stratum.prior_error)]
    if stratum.sort == "double":
        faults.append(drawn_fault(circuit, rng, stratum.prior_error))
        if faults[0].repair == faults[1].repair or not matters(circuit, world, faults):
            faults = faults[:1]
    return TrueVehicle(circuit, world, faults)


def make_case(bench: Bench, stratum: Stratum, number: int, seed: int = 0) -> Case | None:
    """Return a vehicle of a stratum whose owner has reason to complain (but for 'no fault').

    Redrawn until a function fails; None where the family has no such case.
    """
    if stratum.sort == "twins" and bench.twin_table is None:
        return None
    label = sum(ord(letter) * (1 + place) for place, letter in enumerate(stratum.name))
    kin = sum(ord(letter) * (1 + place) for place, letter in enumerate(bench.family.name))
    rng = np.random.default_rng([seed, number, label, kin, 23])
    for _ in range(_TRIES):
        vehicle = _wrong_in(bench, stratum, rng, draw_world(rng))
        enough = 2 if stratum.sort == "double" else 0
        if len(vehicle.faults) >= enough and complains(vehicle) == (stratum.sort != "none"):
            break
    else:
        return None
    active = float(rng.uniform(0.1, 0.7)) if stratum.sort == "intermittent" else 1.0
    return Case(number, bench, stratum, vehicle, active, _true_minutes(bench, stratum, number))


def _true_minutes(bench: Bench, stratum: Stratum, number: int) -> dict[str, float]:
    """Return the factor on the table's minutes of every place, repair and check, by its name."""
    table = bench.table
    names = [*table.places, *table.repairs, *(check.id for check in table.checks)]
    if stratum.cost_error == 1.0:
        return {}
    up = {name: zlib.crc32(f"{number} {name}".encode()) % 2 == 0 for name in names}
    return {name: stratum.cost_error if up[name] else 1.0 / stratum.cost_error for name in names}
