"""An exercise: one hidden fault of a circuit, chosen by level and seed, and what was reported."""

from __future__ import annotations

import dataclasses
import hashlib
import math
import random
import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np

from loomwright.circuit import CircuitPlant, parse_fault, solve
from loomwright.circuit.model import Circuit, Fault
from loomwright.diagnosis import Evidence, Table
from loomwright.errors import UnknownNameError, UsageError
from loomwright.plant import Check, Hypothesis
from loomwright.practice.compare import near_for

__all__ = ["LEVELS", "Exercise", "Level", "Oracle", "VehicleMaker", "burns", "exercise_id", "hide",
           "levels_of", "read_id"]

# What a check shows when taken for the n-th time (0 the first): the same answer for everybody.
Oracle = Callable[[Check, int], float | str]
VehicleMaker = Callable[[Fault, int], Oracle]

HARD = {"open", "blown", "burnt-out", "coil-open"}
CONTROLLER = {"input-dead", "input-stuck-on", "driver-dead", "driver-stuck-on", "dead"}
CONSEQUENCE = {"short-to-earth"}  # it blows its fuse: the fuse is what is seen first
FEW_SHARE, MANY_SHARE = 0.5, 0.75  # quantiles of how many repairs share a complaint
LOOKS = {"lit", "running"}
CHARGING = {"alternator", "regulator rectifier", "dc-dc converter"}
MOST_REPORTED = 2
CHARGES = (0.98, 1.0, 1.02)  # of the battery's volts: two sigma of the vehicles' spread
MOST_SEED = 999_999
SHORTS, BURNING_A = {"short-to-earth", "short-to-supply", "shorted"}, 60.0
_ID = re.compile(r"([a-z0-9][a-z0-9-]*)-([123])-(\d{1,6})")


@dataclass(frozen=True, slots=True)
class Level:
    """One level of difficulty, in words."""

    number: int
    name: str
    about: str


LEVELS: Mapping[int, Level] = {
    1: Level(1, "A clean break", "One hard fault with a clear effect: a break, a blown fuse, a "
             "burnt-out part or coil."),
    2: Level(2, "Weak, stuck and shorted", "High resistance, something that sticks, a short: the "
             "circuit half works, or works when it should not."),
    3: Level(3, "Shared and second-hand effects", "Many suspects share the effect; a blown fuse "
             "may be only the consequence; controller inputs and outputs may lie."),
}


@dataclass(frozen=True, slots=True)
class Exercise:
    """A circuit with a hidden fault. `complaint` is what the driver saw, given for free.

    `pool` is a digest of all the faults that the level chose from: the same id means the same
    exercise only while this is the same. The fault never shows in `repr`.
    """

    id: str
    circuit: str
    level: int
    seed: int
    pool: str
    complaint: tuple[Evidence, ...]
    fault: Fault = field(repr=False)


@dataclass(frozen=True, slots=True)
class _Candidate:
    """A fault that shows: its rows (severities that show) and how many repairs look the same."""

    rows: tuple[Hypothesis, ...]
    shared: int

    @property
    def kind(self) -> str:
        return self.rows[0].kind


def exercise_id(circuit: str, level: int, seed: int) -> str:
    """Return the name of an exercise; it says nothing about the fault but how it was drawn."""
    return f"{circuit}-{level}-{seed}"


def read_id(name: str) -> tuple[str, int, int]:
    """Return circuit, level and seed of an exercise's name.

    Raises
        UsageError: it is no such name
    """
    found = _ID.fullmatch(name)
    if found is None:
        raise UsageError(f"'{name[:60]}' is not the name of an exercise.",
                         next_step="It looks like 'horn-1-7': circuit, level 1 to 3, seed.")
    return found[1], int(found[2]), int(found[3])


def levels_of(table: Table) -> dict[int, tuple[_Candidate, ...]]:
    """Return the faults each level chooses from; a fault that shows nothing is in none.

    Level 1 takes hard faults whose effect is shared by few repairs, level 2 what is weak, stuck or
    shorted, level 3 controllers, shorts that blow a fuse, and effects shared by many repairs.
    """
    found = _candidates(table)
    hard = [one.shared for one in found if one.kind in HARD]
    rest = [one.shared for one in found if one.kind not in CONTROLLER | CONSEQUENCE]
    few = float(np.quantile(hard, FEW_SHARE)) if hard else 0.0
    many = max(float(np.quantile(rest, MANY_SHARE)), 3.0) if rest else math.inf
    special = CONTROLLER | CONSEQUENCE
    return {
        1: tuple(one for one in found if one.kind in HARD and one.shared <= few),
        2: tuple(one for one in found if one.kind not in HARD | special),
        3: tuple(one for one in found if one.kind in special or one.shared >= many),
    }


def _looks(table: Table) -> tuple[Check, ...]:
    """Return what a driver can see or hear: every load in every state.

    Where the circuit has no load, as a bus, it is what the controllers list as their inputs.
    """
    functions = tuple(_plant(table).maker.functions())
    seen = tuple(check for check in functions if check.quantity in LOOKS)
    return seen or tuple(check for check in functions if check.quantity == "input")


def _signs(table: Table) -> tuple[Check, ...]:
    """Return what a workshop measures before it takes such a job in.

    Where something charges, the volts of each battery in each state: a driver sees no charge. Where
    nodes share a bus, the ohms between its wires with all off.
    """
    plant, found = _plant(table), list[Check]()
    parts = plant.circuit.parts.values()
    states = [name for name, said in plant.circuit.states.items() if "out" not in said.values()]
    if CHARGING & {part.kind for part in parts}:
        found += [plant.check_for(state, "voltage", f"{part.id}.+", f"{part.id}.-")
                  for part in parts if part.kind == "battery" for state in states]
    nodes = [part.id for part in parts if part.kind == "can node"]
    return (*found, *(plant.check_for(states[0], "resistance", f"{node}.H", f"{node}.L")
                      for node in nodes[:1]))


def _plant(table: Table) -> CircuitPlant:
    if not isinstance(table.plant, CircuitPlant):
        raise UsageError("Practice needs a circuit.", next_step="Choose a circuit.")
    return table.plant


def _candidates(table: Table) -> tuple[_Candidate, ...]:
    looks = _looks(table)
    if not looks:
        return ()
    seen = np.stack([*(_likeliest(table, check) for check in looks),
                     *(_side(table, check) for check in _signs(table))], axis=1)
    shows = (seen != seen[0]).any(axis=1)
    repairs: dict[bytes, set[str]] = {}
    for number in np.flatnonzero(shows[:-1]):
        repairs.setdefault(seen[number].tobytes(), set()).add(table.rows[number].repair)
    found = []
    for rows in table.fault_rows.values():
        visible = [n for n in rows if shows[n]]
        if visible:
            shared = max(len(repairs[seen[n].tobytes()]) for n in visible)
            found.append(_Candidate(tuple(table.rows[n] for n in visible), shared))
    return tuple(found)


def _likeliest(table: Table, check: Check) -> np.ndarray:
    """Return the likeliest level of every row at the middle of the battery's charge."""
    levels = table.model(check).levels
    assert levels is not None, check.id
    return np.asarray(levels[len(levels) // 2].argmax(axis=1))


def _side(table: Table, check: Check) -> np.ndarray:
    """Return for every row whether a measured sign is about as healthy (0), above or below."""
    raw = table.model(check).raw
    values = raw[len(raw) // 2]
    near = near_for(check, _plant(table).circuit.system_v)
    return np.array([0 if np.isnan(value) or near(float(values[0]), float(value))
                     else int(np.sign(value - values[0])) for value in values])


def hide(table: Table, circuit: str, level: int, seed: int, vehicles: VehicleMaker) -> Exercise:
    """Return the exercise of a circuit, level and seed; always the same.

    Parameters
        table: predictions of the circuit
        circuit: the name that the circuit has here
        level: 1, 2 or 3
        seed: 0 to 999,999
        vehicles: makes the vehicle with a fault, whose complaint is looked at
    Raises
        UnknownNameError: no such level
        UsageError: the seed is out of range, or the circuit has no fault of this level that shows
    """
    if level not in LEVELS:
        raise UnknownNameError("level", str(level), [str(one) for one in LEVELS])
    if not 0 <= seed <= MOST_SEED:
        raise UsageError(f"Seed {seed} is not between 0 and {MOST_SEED}.",
                         next_step="Choose another seed.")
    pool = levels_of(table)[level]
    names = sorted(one.rows[0].fault_id for one in pool)
    digest = hashlib.sha256("\n".join(names).encode()).hexdigest()[:16]
    dice = random.Random(f"{circuit}/{level}/{seed}")
    for candidate in _shuffled(pool, level, dice):
        fault = _fault(table, candidate, dice)
        complaint = _complaint(table, fault, vehicles(fault, seed))
        whole = _plant(table).circuit
        if complaint and _settled(whole, fault) and not burns(whole, fault):
            name = exercise_id(circuit, level, seed)
            return Exercise(name, circuit, level, seed, digest, complaint, fault)
    raise UsageError(f"'{circuit}' has no fault of level {level} that a driver would notice.",
                     next_step="Choose another level or circuit.")


def _shuffled(pool: Sequence[_Candidate], level: int, dice: random.Random) -> list[_Candidate]:
    """Return the pool in a drawn order, sort by sort, so that the many wires do not crowd out."""
    special = CONTROLLER | CONSEQUENCE
    kinds = sorted({one.kind for one in pool})
    dice.shuffle(kinds)
    if level == max(LEVELS):  # half of the time what only this level has
        wanted = dice.random() < 0.5
        kinds.sort(key=lambda kind: (kind in special) != wanted)
    order = []
    for kind in kinds:
        group = [one for one in pool if one.kind == kind]
        dice.shuffle(group)
        order += group
    return order


def _fault(table: Table, candidate: _Candidate, dice: random.Random) -> Fault:
    """Return a fault at a drawn severity among those that show."""
    row = dice.choice(candidate.rows)
    circuit = _plant(table).circuit
    cell = row.severity
    if cell is None:
        return parse_fault(circuit, row.fault_id)
    share = dice.random()
    ohms = cell.low_ohm ** (1.0 - share) * cell.high_ohm**share
    return parse_fault(circuit, f"{row.fault_id}:{ohms:.3g}")


def _complaint(table: Table, fault: Fault, oracle: Oracle) -> tuple[Evidence, ...]:
    """Return the first functions that do not work as they should, as the driver reports them.

    What shows only because this vehicle's battery is a little low is not reported.
    """
    circuit, found = _plant(table).circuit, []
    for check in _looks(table):
        shown = oracle(check, 0)
        healthy = check.levels[int(_likeliest(table, check)[0])]
        if shown != healthy and _differs(circuit, fault, check):
            found.append(Evidence(check, shown))
    return tuple([*found, *_measured(table, oracle)][:MOST_REPORTED])


def _measured(table: Table, oracle: Oracle) -> list[Evidence]:
    """Return what the workshop's first measurements found."""
    found = []
    for check in _signs(table):
        shown, raw = oracle(check, 0), table.model(check).raw
        healthy = float(raw[len(raw) // 2, 0])
        if not near_for(check, _plant(table).circuit.system_v)(healthy, shown):
            found.append(Evidence(check, shown))
    return found


def _settled(circuit: Circuit, fault: Fault) -> bool:
    """Return whether every part does the same at any usual charge of the battery.

    A relay that only just holds would make an exercise of luck.
    """
    low, *others = ([_doing(_charged(circuit, share).with_faults([fault]), state)
                     for state in circuit.states] for share in CHARGES)
    return all(other == low for other in others)


def burns(circuit: Circuit, fault: Fault) -> bool:
    """Return whether a short with no fuse in its way would set the loom on fire: it is not hidden.

    It is where a battery gives over 60 A (assumed) more than in any state of the healthy circuit.
    """
    if fault.kind not in SHORTS:
        return False
    healthy, faulty = (max((solve(one, state).parts[name].amps or 0.0 for state in one.states
                            for name, part in one.parts.items() if part.kind == "battery"),
                           default=0.0)
                       for one in (circuit, circuit.with_faults([fault])))
    return faulty > healthy + BURNING_A


def _doing(circuit: Circuit, state: str) -> dict[str, str]:
    return {name: part.doing for name, part in solve(circuit, state).parts.items()}


def _charged(circuit: Circuit, share: float) -> Circuit:
    """Return the circuit with its batteries' open volts multiplied by a share."""
    parts = {name: dataclasses.replace(part, params={
        **part.params, "emf_v": part.number("emf_v") * share}) if part.kind == "battery" else part
        for name, part in circuit.parts.items()}
    return dataclasses.replace(circuit, parts=parts)


def _differs(circuit: Circuit, fault: Fault, check: Check) -> bool:
    """Return whether a part does otherwise with the fault, the battery as the file says."""
    faulty, healthy = (solve(one, check.state) for one in (circuit.with_faults([fault]), circuit))
    if check.quantity in LOOKS:
        return faulty.parts[check.at].doing != healthy.parts[check.at].doing
    owner, _, item = check.at.partition(".")
    return (faulty.inputs.get(owner, {}).get(item) != healthy.inputs.get(owner, {}).get(item)
            or faulty.parts[owner].doing != healthy.parts[owner].doing)
