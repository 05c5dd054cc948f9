"""One job from complaint to proof under a policy, with true minutes and what came of it."""

from __future__ import annotations

import time
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np

from benchmarks.diagnosis.cases import Case, Stratum
from benchmarks.diagnosis.instrument import Reader
from loomwright.diagnosis import Diagnosis, Evidence, diagnose, judge_proof, proof_checks
from loomwright.diagnosis.choose import Position, minutes_from
from loomwright.diagnosis.policies import POLICIES, Situation
from loomwright.diagnosis.value import repair_minutes
from loomwright.plant import Check
from loomwright.service.instrument import as_shown

__all__ = ["BASELINES", "ENGINE", "Facts", "Outcome", "noted", "work"]

ENGINE = "engine"
SWAP, SURE = "swap parts, likeliest per cost first", "information per minute, p > 0.95"
BASELINES = ("random", "half-split", SWAP, SURE)
_RULES = {ENGINE: "information per minute", SURE: "information per minute"}
_MOST_READINGS = 40
_MOST_REPAIRS = 4
_MOST_SWAPS = 15
_PROOF_ROUNDS = 3
_UNEXPLAINED_MORE = 2  # readings taken after the first "unexplained", before the job is handed on
_SURE = 0.95
COMEBACK_MIN, SEARCH_MIN = 60.0, 240.0  # assumed, as the engine's own settings assume them


@dataclass(frozen=True, slots=True)
class Facts:
    """What was true of a job: stratum, family, number, faults and the repairs that mend them."""

    stratum: Stratum
    family: str
    number: int
    truth: tuple[str, ...]
    repairs: frozenset[str]
    twins: frozenset[str]

    @staticmethod
    def of(case: Case) -> Facts:
        """Return the facts of a case."""
        vehicle, twins = case.vehicle, case.bench.family.twins
        truth = (*(fault.id for fault in vehicle.faults), *(str(one) for one in vehicle.extras))
        return Facts(case.stratum, case.bench.family.name, case.number, truth, case.repairs,
                     frozenset(twins[1] if twins else ()))


@dataclass(slots=True)
class Outcome:
    """How a job ended. Minutes: of checks to find, of repairs, of proof.

    `first` is the first repair advised with its probability; `lead` holds, after every reading of
    the search, the probability of the leading repair class and whether it was right.
    """

    case: Facts
    policy: str
    status: str = ""
    first: str = ""
    confidence: float = 0.0
    true_share: float = 0.0  # probability of the true repairs when the search first ended
    find_min: float = 0.0
    repair_min: float = 0.0
    proof_min: float = 0.0
    readings: int = 0
    wrong_parts: int = 0
    cured: bool = False
    proved: bool = False
    false_alarm: bool = False  # a proof failed though the vehicle was healthy by then
    escalated_min: float | None = None
    named: tuple[str, ...] = ()
    lead: list[tuple[float, bool]] = field(default_factory=list)
    log: list[str] = field(default_factory=list)  # what was read and done, in words
    answer_ms: list[int] = field(default_factory=list)  # processor time of every answer

    @property
    def total_min(self) -> float:
        """Return minutes to find and mend, the proof not counted."""
        return self.find_min + self.repair_min

    @property
    def charged_min(self) -> float:
        """Return the same with every wrong part's comeback and the search of a job not cured."""
        return (self.total_min + COMEBACK_MIN * self.wrong_parts
                + SEARCH_MIN * (not self.cured))


@dataclass(slots=True)
class _State:
    """What is under way: readings of all rounds, repairs done without a cure, a person's word."""

    evidence: tuple[Evidence, ...]
    done: tuple[str, ...] = ()
    agreed: bool = False  # a person saw that the last part was really bad, and says go on


class _Clock:
    """True minutes: every place, check and repair costs its own factor of the table's."""

    def __init__(self, case: Case) -> None:
        self._case, self._position = case, Position()
        factor = case.true_minutes
        self._places = {name: minutes * factor.get(name, 1.0)
                        for name, minutes in case.table.places.items()}

    def check(self, check: Check) -> float:
        """Return minutes of a check from where the technician stands."""
        factor = self._case.true_minutes.get(check.id, 1.0)
        true = replace(check, minutes=check.minutes * factor,
                       opening_min=check.opening_min * factor)
        minutes = minutes_from(true, self._position, self._places, self._case.table.setups)
        self._position = self._position.after(check)
        return minutes

    def repair(self, repair: str) -> float:
        """Return minutes of a repair."""
        return self._case.table.repairs[repair].minutes * self._case.true_minutes.get(repair, 1.0)


def work(case: Case, policy: str, seed: int) -> Outcome:
    """Return one job; the seed gives the same meter and world to every policy."""
    reader, clock, outcome = Reader(case, seed), _Clock(case), Outcome(Facts.of(case), policy)
    start = tuple(noted(reader, check, careful=True)
                  for check in case.bench.plant.complaint_checks())
    outcome.log += [f"complaint {_words(item)}" for item in start]
    if policy == SWAP:
        return _swap(case, reader, clock, outcome, start)
    rng = np.random.default_rng([seed, case.vehicle.world.seed, 41])
    state = _State(start)
    for _ in range(_MOST_REPAIRS):
        repair = _search(case, reader, clock, outcome, state, rng)
        if not repair:
            break
        if not _mend(case, reader, clock, outcome, state, repair):
            break
    outcome.cured = not reader.vehicle.faults and not reader.vehicle.extras
    return outcome


def _classes(found: Diagnosis) -> dict[str, float]:
    shares: dict[str, float] = {"": found.no_fault, "?": found.unmodelled}
    for one in found.suspects:
        shares[one.repair] = shares.get(one.repair, 0.0) + one.probability
    return shares


def _search(case: Case, reader: Reader, clock: _Clock, outcome: Outcome, state: _State,
            rng: np.random.Generator) -> str:
    """Take readings until a repair is advised ('' when the search ends without one)."""
    table, unexplained = case.table, 0
    truths = {fault.repair for fault in reader.vehicle.faults}
    known = truths or {"?" if reader.vehicle.extras else ""}
    first = not outcome.status
    while True:
        began = time.process_time()
        found = diagnose(table, state.evidence, rejected=state.done, next_count=3,
                         allow_second_part=state.agreed)
        outcome.answer_ms.append(round(1e3 * (time.process_time() - began)))
        shares = _classes(found)
        lead = max(shares, key=lambda name: shares[name])
        if first:
            outcome.lead.append((shares[lead], lead in known))
        status, repair = found.verdict.status, found.verdict.repair
        if outcome.policy == SURE:
            status = ("repair" if lead in table.repairs and shares[lead] > _SURE else
                      "no fault found" if lead == "" and shares[lead] > _SURE else "look further")
            repair = lead
        unexplained += status == "unexplained"
        asks = (bool(state.done) and not state.agreed and status == "look further"
                and shares.get(repair, 0.0) > _SURE and repair in table.repairs)
        stop = status in {"repair", "no fault found"} or unexplained > _UNEXPLAINED_MORE or asks
        wanted = None if stop else _wanted(case, outcome, state, found, rng)
        if stop or wanted is None or outcome.readings >= _MOST_READINGS:
            break
        outcome.find_min += clock.check(wanted)
        outcome.readings += 1
        item = noted(reader, wanted, state.done)
        state.evidence = (*state.evidence, item)
        outcome.log.append(_words(item))
    leaders = sorted(shares, key=lambda name: -shares[name])[:4]
    outcome.log.append(f"{status}: {repair or '-'}; "
                       + ", ".join(f"{name or 'healthy'} {shares[name]:.3f}" for name in leaders)
                       + "; true " + ", ".join(f"{one} {shares.get(one, 0.0):.4f}"
                                               for one in sorted(known)))
    if first:
        outcome.first = repair if status == "repair" else ""
        outcome.confidence = shares.get(repair, 0.0)
        outcome.true_share = sum(shares.get(name, 0.0) for name in truths) if truths else 1.0
        outcome.named = _named(found)
    outcome.status = status
    if status != "repair" and status != "no fault found":
        outcome.escalated_min = outcome.total_min
    return repair if status == "repair" else ""


def noted(reader: Reader, check: Check, after: tuple[str, ...] = (), careful: bool = False
          ) -> Evidence:
    """Return a reading as the product takes it: the digits typed tell the step of the display."""
    value = reader.read(check, careful)
    return as_shown((Evidence(check, value, after),), (reader.typed(check, value),))[0]


def _words(item: Evidence) -> str:
    """Return a reading in short."""
    check, value = item.check, item.value
    shown = value if isinstance(value, str) else f"{value:.4g}"
    where = f"{check.at}>{check.to}" if check.to else check.at
    return f"{check.state}: {check.quantity} {where} = {shown}"


def _named(found: Diagnosis) -> tuple[str, ...]:
    """Return the elements the verdict names, or the first two suspects where it advises none."""
    if found.verdict.status == "repair":
        words = found.verdict.why.replace(",", " ").replace(".", " ").replace("'", " ").split()
        return tuple(words)
    return tuple(one.element for one in found.suspects[:2])


def _wanted(case: Case, outcome: Outcome, state: _State, found: Diagnosis,
            rng: np.random.Generator) -> Check | None:
    """Return the next check: a repeat the engine insists on, or what the policy chooses."""
    asked = found.next_checks
    taken = {item.check.id for item in state.evidence}
    name = _RULES.get(outcome.policy, outcome.policy)
    if asked and (name != outcome.policy or asked[0].check.id in taken):
        return asked[0].check
    if not asked and name != outcome.policy:
        return None
    return POLICIES[name](Situation(case.table, state.evidence, found, rng))


def _mend(case: Case, reader: Reader, clock: _Clock, outcome: Outcome, state: _State, repair: str
          ) -> bool:
    """Do a repair and take the proof's readings; return whether they ask for more work.

    Neither proved nor disproved ends the job: no second part on a doubt.
    """
    table = case.table
    real = repair in {fault.repair for fault in reader.vehicle.faults}
    outcome.wrong_parts += not real
    outcome.repair_min += clock.repair(repair)
    before = state.evidence
    reader.repaired(repair)
    after: tuple[Evidence, ...] = ()
    failed, missed = False, ""
    wanted: Sequence[Check] = proof_checks(table, repair, before)
    if outcome.policy != ENGINE:
        wanted = case.bench.plant.complaint_checks()
    for _ in range(_PROOF_ROUNDS):
        for check in wanted:
            outcome.proof_min += clock.check(check)
            after = (*after, noted(reader, check, careful=True))
        if outcome.policy != ENGINE:
            outcome.proved = _all_well(case, after)
            failed = not outcome.proved
            break
        proof = judge_proof(table, repair, after, evidence_before=before)
        outcome.proved, failed, wanted = proof.holds, bool(proof.failed), proof.missing
        missed = proof.why
        if proof.holds or proof.failed or not wanted:
            break
    state.done = (*state.done, repair)
    state.evidence = (*before, *(Evidence(one.check, one.value, state.done) for one in after))
    state.agreed = real
    outcome.log.append(f"did {repair}: " + ("was bad" if real else "WAS GOOD"))
    outcome.log += [f"proof {_words(item)}" for item in after]
    outcome.log.append("proved" if outcome.proved else f"not proved: {missed}")
    outcome.false_alarm |= failed and not (reader.vehicle.faults or reader.vehicle.extras)
    return failed


def _all_well(case: Case, looked: Sequence[Evidence]) -> bool:
    should = case.bench.circuit.should
    return all(item.value == should[item.check.state].get(item.check.at, item.value)
               for item in looked)


def _swap(case: Case, reader: Reader, clock: _Clock, outcome: Outcome,
          start: tuple[Evidence, ...]) -> Outcome:
    """Change parts in the order of probability per cost until every function works."""
    table = case.table
    shares = _classes(diagnose(table, start, next_count=0))
    order = sorted((name for name in shares if name in table.repairs),
                   key=lambda name: -shares[name] / repair_minutes(table, name))
    outcome.first = order[0] if order else ""
    outcome.confidence = shares.get(outcome.first, 0.0)
    outcome.status, outcome.true_share = "repair", 1.0
    for repair in order[:_MOST_SWAPS]:
        outcome.wrong_parts += repair not in {fault.repair for fault in reader.vehicle.faults}
        outcome.repair_min += clock.repair(repair)
        reader.repaired(repair)
        looked = [Evidence(check, reader.read(check, careful=True))
                  for check in case.bench.plant.complaint_checks()]
        outcome.proof_min += sum(clock.check(item.check) for item in looked)
        if _all_well(case, looked):
            outcome.proved = True
            break
    outcome.cured = not reader.vehicle.faults and not reader.vehicle.extras
    return outcome


