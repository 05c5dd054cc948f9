"""The whole job on a vehicle with a hidden fault: complaint, readings, verdict, repair, proof.

Nothing is scripted: the complaint is what the faulty circuit fails to do, each next check is the
engine's own, each reading is solved from the faulty circuit with seeded meter error.
"""

from __future__ import annotations

import dataclasses
import random
from dataclasses import dataclass
from typing import TYPE_CHECKING

from loomwright.errors import UnknownNameError, UsageError
from loomwright.service.hidden_vehicle import HiddenVehicle

if TYPE_CHECKING:
    from collections.abc import Mapping

    from loomwright.circuit import CircuitPlant
    from loomwright.circuit.model import Circuit
    from loomwright.diagnosis import Table
    from loomwright.diagnosis.records import Diagnosis, Evidence, Proof
    from loomwright.plant import Check, Repair

__all__ = ["HiddenJob", "RepairDone", "Step", "Walk", "demo_walk", "walk_job"]

MOST_READINGS = 30  # between two repairs; a job that needs more has gone wrong and says so
MOST_REPAIRS = 3
MOST_PROOF_ROUNDS = 5  # the judge may ask for more readings before it is content
BATTERY_SPREAD = 0.01  # share of the battery's volts, one sigma, by its charge; assumed


@dataclass(frozen=True, slots=True)
class HiddenJob:
    """A fault to hide, and what was reported: `observed` are looks (state, quantity, at).

    Several faults at once are joined by '+': 'open:W20+contact-open:K4'.
    """

    fault: str
    seed: int
    vehicle: str = ""
    reported: str = ""
    observed: tuple[Mapping[str, str], ...] = ()


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
    vehicle: str
    seed: int
    hidden_fault: str
    complaint: str
    cause: str
    cautions: tuple[str, ...]
    steps: tuple[Step, ...]
    repairs: tuple[RepairDone, ...]
    diagnosis: Diagnosis

    @property
    def minutes(self) -> float:
        """Minutes of all readings, with reach and set-up, and of the repairs."""
        return (sum(step.minutes for step in self.steps)
                + sum(one.repair.minutes for one in self.repairs))

    @property
    def proved(self) -> bool:
        """Whether the job ended with a repair whose proof holds."""
        return bool(self.repairs) and self.repairs[-1].proof.holds


def demo_walk(fault_id: str | None = None, seed: int | None = None, job: str = "") -> Walk:
    """Follow a job of the demo depot.

    Parameters
        fault_id: another fault to hide, or None for the job's own
        seed: of the meter's error and the battery's charge, or None for the job's own
        job: which of the depot's jobs, such as 'truck-7'; the first where empty
    Raises
        UnknownNameError: no such job or fault
        UsageError: the fault causes no complaint
    """
    from importlib.resources import files

    from loomwright.circuit import read_circuit_text
    from loomwright.service.demo_vehicle import hidden_faults

    known = hidden_faults()
    name = job or next(iter(known))
    if name not in known:
        raise UnknownNameError("demo job", name, known)
    given = known[name]
    file = str(given["circuit"])
    circuit = read_circuit_text((files("loomwright.demo") / file).read_text(encoding="utf-8"), file)
    hidden = HiddenJob(str(given["fault"]), int(given["seed"]), str(given["vehicle"]),
                       str(given["complaint"]), tuple(dict(one) for one in given["observed"]))
    if seed is not None:
        hidden = dataclasses.replace(hidden, seed=seed)
    if fault_id is not None and fault_id != hidden.fault:
        hidden = dataclasses.replace(hidden, fault=fault_id, reported="", observed=())
    return walk_job(circuit, hidden)


def walk_job(circuit: Circuit, hidden: HiddenJob) -> Walk:
    """Follow one job on a circuit with a hidden fault to its end.

    Parameters
        circuit: the circuit without faults, as drawn
        hidden: the fault and what was reported
    Raises
        UnknownNameError: no such fault
        UsageError: the fault causes no complaint
    """
    from loomwright.circuit import CircuitPlant, parse_fault
    from loomwright.diagnosis import build_table
    from loomwright.service.cautions import cautions_for

    faults = tuple(parse_fault(circuit, name) for name in hidden.fault.split("+"))
    plant = CircuitPlant(circuit)
    charge = random.Random(hidden.seed).gauss(1.0, BATTERY_SPREAD)
    vehicle = HiddenVehicle(plant, faults, hidden.seed, charge)
    seen, observed = _complaint(circuit, vehicle)
    if not (seen or hidden.reported):
        raise UsageError("This fault causes no complaint: every 'should' line still holds.",
                         next_step="Hide another fault; 'loomwright faults' lists them.")
    job = _Job(plant, vehicle, build_table(plant))
    for one in hidden.observed or observed:
        job.observe(plant.check_for(one["state"], one["quantity"], one["at"], instrument="eye"),
                    "complaint")
    job.find_and_repair()
    reported = f"{hidden.reported}." if hidden.reported else ""
    return Walk(
        title=circuit.title, vehicle=hidden.vehicle, seed=hidden.seed,
        hidden_fault="+".join(fault.id for fault in faults),
        complaint=f"{reported} {seen}".strip(), cause=job.cause(),
        cautions=tuple(f"{one.title}. {one.text}" for one in cautions_for(circuit)),
        steps=tuple(job.steps), repairs=tuple(job.repairs), diagnosis=job.diagnosis)


def _complaint(circuit: Circuit, vehicle: HiddenVehicle
               ) -> tuple[str, tuple[Mapping[str, str], ...]]:
    """Return the first thing that does not do what it should, in words and as an observation."""
    for state, lines in circuit.should.items():
        for part, wanted in lines.items():
            doing = vehicle.result(state).parts[part].doing
            if doing != wanted:
                label = circuit.parts[part].label
                named = f"{label} ({part})" if label else part
                look = {"state": state, "quantity": "running", "at": part}
                return f"{named} should be {wanted} in state '{state}' but is {doing}.", (look,)
    return "", ()


class _Job:
    """The job while it runs: readings so far, places already reached, repairs already done."""

    def __init__(self, plant: CircuitPlant, vehicle: HiddenVehicle, table: Table) -> None:
        from loomwright.diagnosis.choose import Position

        self._plant, self._vehicle, self._table = plant, vehicle, table
        self._position = Position()
        self._done: list[str] = []
        self._agreed = False  # the part taken out was really bad, so the person goes on
        self.steps: list[Step] = []
        self.repairs: list[RepairDone] = []
        self.diagnosis: Diagnosis

    @property
    def _evidence(self) -> tuple[Evidence, ...]:
        """All readings; each says which repairs had been done before it was taken."""
        return tuple(step.evidence for step in self.steps)

    @property
    def _found_since(self) -> int:
        """Return how many readings were taken since the last repair, its proof left out."""
        done = tuple(self._done)
        return sum(one.stage != "proof" and one.evidence.after == done for one in self.steps)

    def observe(self, check: Check, stage: str) -> None:
        """Take a reading, pay its minutes, and ask the engine what it now believes."""
        from loomwright.diagnosis import Evidence, diagnose

        taken = Evidence(check, self._vehicle.measure(check), tuple(self._done))
        minutes = self._minutes(check)
        found = None
        if stage != "proof":
            self.diagnosis = found = diagnose(
                self._table, (*self._evidence, taken), rejected=self._rejected(),
                allow_second_part=self._agreed)
        self.steps.append(Step(stage, taken, minutes, found))

    def find_and_repair(self) -> None:
        """Follow the engine's next check until its verdict, repair, and prove; again if need be."""
        while self._found_since < MOST_READINGS and len(self.repairs) < MOST_REPAIRS:
            verdict = self.diagnosis.verdict
            if verdict.status == "repair":
                self._repair_and_prove(verdict.repair, verdict.confidence)
                proof = self.repairs[-1].proof
                if proof.holds or not proof.failed:
                    return  # proved, or neither proved nor disproved: no second part on a doubt
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
        self._agreed = self._vehicle.repair(repair_id)
        self._done.append(repair_id)
        first = len(self.steps)
        wanted = proof_checks(self._table, repair_id, before)
        for _ in range(MOST_PROOF_ROUNDS):
            for check in wanted:
                self.observe(check, "proof")
            after = tuple(step.evidence for step in self.steps[first:])
            proof = judge_proof(self._table, repair_id, after, evidence_before=before)
            wanted = proof.missing
            if proof.holds or proof.failed or not wanted:
                break
        self.repairs.append(RepairDone(self._plant.repairs()[repair_id], confidence, proof))
        if proof.failed:
            self._rethink()

    def _rethink(self) -> None:
        """Ask the engine again, now that a repair did not help."""
        from loomwright.diagnosis import diagnose

        self.diagnosis = diagnose(self._table, self._evidence, rejected=self._rejected(),
                                  allow_second_part=self._agreed)

    def _rejected(self) -> tuple[str, ...]:
        return tuple(one.repair.id for one in self.repairs if one.proof.failed)

    def _minutes(self, check: Check) -> float:
        """Return what a check costs: a place is reached once, a set-up lasts until it changes."""
        from loomwright.diagnosis.choose import minutes_from

        minutes = minutes_from(check, self._position, self._plant.places(), self._plant.setups())
        self._position = self._position.after(check)
        return minutes
