"""The whole job on a vehicle with a hidden fault: complaint, readings, verdict, repair, proof.

Nothing is scripted: the complaint is what the faulty circuit fails to do, each next check is the
engine's own, each reading is solved from the faulty circuit with seeded meter error.
"""

from __future__ import annotations

import random
from dataclasses import dataclass
from typing import TYPE_CHECKING

from loomwright.errors import UsageError
from loomwright.service.hidden_vehicle import HiddenVehicle

if TYPE_CHECKING:
    from loomwright.circuit import CircuitPlant
    from loomwright.circuit.model import Circuit
    from loomwright.diagnosis import Table
    from loomwright.diagnosis.records import Diagnosis, Evidence, Proof
    from loomwright.plant import Check, Repair

__all__ = ["RepairDone", "Step", "Walk", "demo_walk", "walk_job"]

MOST_READINGS = 30  # a job that needs more has gone wrong and is reported as such
MOST_REPAIRS = 3
BATTERY_SPREAD = 0.01  # share of the battery's volts, one sigma, by its charge; assumed


@dataclass(frozen=True, slots=True)
class Step:
    """One reading taken, with the minutes it cost and what was believed after it."""

    stage: str  # complaint, finding or proof
    evidence: Evidence
    minutes: float
    diagnosis: Diagnosis | None


@dataclass(frozen=True, slots=True)
class RepairDone:
    """One repair carried out and whether its proof held."""

    repair: Repair
    confidence: float
    proof: Proof


@dataclass(frozen=True, slots=True)
class Walk:
    """The finished job: `proved` only when the last repair's proof holds."""

    title: str
    seed: int
    hidden_fault: str
    complaint: str
    cause: str
    steps: tuple[Step, ...]
    repairs: tuple[RepairDone, ...]
    diagnosis: Diagnosis
    minutes: float

    @property
    def proved(self) -> bool:
        """Whether the job ended with a repair whose proof holds."""
        return bool(self.repairs) and self.repairs[-1].proof.holds


def demo_walk(fault_id: str | None = None, seed: int | None = None) -> Walk:
    """Follow the demo depot's job on the refuse truck.

    Parameters
        fault_id: another fault to hide, or None for the one of the demo
        seed: of the meter's error and the battery's charge, or None for the demo's
    Raises
        UnknownNameError: no such fault
        UsageError: the fault causes no complaint
    """
    from importlib.resources import files

    import yaml

    from loomwright.circuit import read_circuit_text

    demo = files("loomwright.demo")
    hidden = yaml.safe_load((demo / "terminal.yaml").read_text(encoding="utf-8"))
    text = (demo / hidden["circuit"]).read_text(encoding="utf-8")
    circuit = read_circuit_text(text, hidden["circuit"])
    return walk_job(circuit, fault_id or hidden["fault"],
                    int(hidden["seed"]) if seed is None else seed)


def walk_job(circuit: Circuit, fault_id: str, seed: int) -> Walk:
    """Follow one job on a circuit with a hidden fault to its end.

    Parameters
        circuit: the circuit without faults, as drawn
        fault_id: the hidden fault, such as 'open:W22'
        seed: of the meter's error and the battery's charge
    """
    from loomwright.circuit import CircuitPlant, parse_fault
    from loomwright.diagnosis import build_table

    fault = parse_fault(circuit, fault_id)
    plant = CircuitPlant(circuit)
    charge = random.Random(seed).gauss(1.0, BATTERY_SPREAD)
    vehicle = HiddenVehicle(plant, fault, seed, charge)
    job = _Job(plant, vehicle, build_table(plant))
    state, part, wanted, doing = _complaint(circuit, vehicle)
    label = circuit.parts[part].label
    named = f"{label} ({part})" if label else part
    job.observe(plant.check_for(state, "running", part, instrument="eye"), "complaint")
    job.find_and_repair()
    return Walk(
        title=circuit.title, seed=seed, hidden_fault=fault.id,
        complaint=f"{named} should be {wanted} in state '{state}' but is {doing}.",
        cause=job.cause(), steps=tuple(job.steps), repairs=tuple(job.repairs),
        diagnosis=job.diagnosis, minutes=sum(step.minutes for step in job.steps)
        + sum(one.repair.minutes for one in job.repairs))


def _complaint(circuit: Circuit, vehicle: HiddenVehicle) -> tuple[str, str, str, str]:
    """Return the first thing that does not do what it should: state, part, wanted, doing."""
    for state, lines in circuit.should.items():
        for part, wanted in lines.items():
            doing = vehicle.result(state).parts[part].doing
            if doing != wanted:
                return state, part, wanted, doing
    raise UsageError("This fault causes no complaint: every 'should' line still holds.",
                     next_step="Hide another fault; 'loomwright faults' lists them.")


class _Job:
    """The job while it runs: readings so far, places already reached, repairs already done."""

    def __init__(self, plant: CircuitPlant, vehicle: HiddenVehicle, table: Table) -> None:
        self._plant, self._vehicle, self._table = plant, vehicle, table
        self._reached: set[str] = set()
        self._set_up = ""
        self.steps: list[Step] = []
        self.repairs: list[RepairDone] = []
        self.diagnosis: Diagnosis

    @property
    def _evidence(self) -> tuple[Evidence, ...]:
        """Readings of the vehicle as it came in; those of a proof are another vehicle's."""
        return tuple(step.evidence for step in self.steps if step.stage != "proof")

    def observe(self, check: Check, stage: str) -> None:
        """Take a reading, pay its minutes, and ask the engine what it now believes."""
        from loomwright.diagnosis import Evidence, diagnose

        taken = Evidence(check, self._vehicle.measure(check))
        minutes = self._minutes(check)
        found = None
        if stage != "proof":
            self.diagnosis = found = diagnose(
                self._table, (*self._evidence, taken), rejected=self._rejected())
        self.steps.append(Step(stage, taken, minutes, found))

    def find_and_repair(self) -> None:
        """Follow the engine's next check until its verdict, repair, and prove; again if need be."""
        while len(self.steps) < MOST_READINGS and len(self.repairs) < MOST_REPAIRS:
            verdict = self.diagnosis.verdict
            if verdict.status == "repair":
                self._repair_and_prove(verdict.repair, verdict.confidence)
                if self.repairs[-1].proof.holds:
                    return
            elif verdict.status == "look further" and self.diagnosis.next_checks:
                self.observe(self.diagnosis.next_checks[0].check, "finding")
            else:
                return

    def cause(self) -> str:
        """Return the leading suspect of the repair that was done, in words."""
        from loomwright.diagnosis.wording import suspect_words

        if not self.repairs:
            return "not found"
        repair = self.repairs[-1].repair.id
        for one in self.diagnosis.suspects:
            if one.repair == repair:
                return suspect_words(one)
        return repair

    def _repair_and_prove(self, repair_id: str, confidence: float) -> None:
        """Do a repair, then take the readings that show whether it holds."""
        from loomwright.diagnosis import judge_proof, proof_checks

        before = self._evidence
        self._vehicle.repair(repair_id)
        first = len(self.steps)
        for check in proof_checks(self._table, repair_id, before):
            self.observe(check, "proof")
        after = tuple(step.evidence for step in self.steps[first:])
        proof = judge_proof(self._table, repair_id, after, evidence_before=before)
        self.repairs.append(RepairDone(self._plant.repairs()[repair_id], confidence, proof))
        if not proof.holds:
            self._rethink()

    def _rethink(self) -> None:
        """Ask the engine again, now that a repair did not help."""
        from loomwright.diagnosis import diagnose

        self.diagnosis = diagnose(self._table, self._evidence, rejected=self._rejected())

    def _rejected(self) -> tuple[str, ...]:
        return tuple(one.repair.id for one in self.repairs if not one.proof.holds)

    def _minutes(self, check: Check) -> float:
        """Return what a check costs: a place is reached once, a set-up lasts until it changes."""
        minutes = check.minutes
        if check.place and check.place not in self._reached:
            minutes += self._plant.places().get(check.place, 0.0)
            self._reached.add(check.place)
        if check.setup != self._set_up:
            minutes += self._plant.setups().get(check.setup, 0.0)
            self._set_up = check.setup
        return minutes
