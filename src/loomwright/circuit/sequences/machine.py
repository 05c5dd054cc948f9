"""What a circuit remembers from one moment of a sequence to the next, and how it settles."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from loomwright.circuit.batch import Solved, solve_from
from loomwright.circuit.blowing import opening_time
from loomwright.circuit.expressions import Expression
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.kinds.controller import outputs_of
from loomwright.circuit.kinds.timing import timing_of
from loomwright.circuit.laws import motor_speed
from loomwright.circuit.model import Circuit, Part, Timing
from loomwright.circuit.rules import History, is_yes
from loomwright.circuit.sequences.clocks import Clock, commanded, stopped

__all__ = ["PARK_SHARE", "Memory", "Settled", "is_parked", "memory_at_start", "settled"]

PARK_SHARE = 0.1  # of a turn in which a park switch counts as parked; assumed
_STILL = 1e-6  # turns in a second; less is standing
_MOST_ROUNDS = 20  # of clocks that change what other clocks are commanded
_ALWAYS = Expression("true")
_NEVER = Expression("not", (_ALWAYS,))


@dataclass(frozen=True, slots=True)
class Memory:
    """What lasts: clocks by flag, flags, latches by relay, turns by parked word, fuses' heat."""

    clocks: Mapping[str, Clock]
    flags: Mapping[str, bool]
    latches: Mapping[str, bool]
    turns: Mapping[str, float]  # share of a turn past the park position's start
    heat: Mapping[str, float]  # share of what opens a fuse; 1 is open
    lamps_out: Mapping[str, bool]  # by flag of the clock, as last seen in the lit half

    @property
    def held(self) -> dict[str, bool]:
        """Return the flags that clocks, fuses and dark halves of flashes hold."""
        held = {key: clock.on for key, clock in self.clocks.items()}
        held |= {f"blown:{name}": heat >= 1 for name, heat in self.heat.items()}
        for key, out in self.lamps_out.items():
            clock = self.clocks[key]
            watches = key.startswith("output:") and clock.timing.low_a  # for a lamp that is out
            if watches and clock.active and not clock.lit:
                held[key.replace("output:", "out:", 1)] = out
        return held


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """A circuit at rest for the moment, and how fast what it remembers changes from here."""

    memory: Memory
    solved: Solved
    turn_rates: Mapping[str, float]  # turns in a second, by parked word
    heat_rates: Mapping[str, float]  # of the heat that opens a fuse, in a second
    untimed: tuple[str, ...]  # fuses that opened at once, for want of a table
    restless: bool = False


def memory_at_start(circuit: Circuit, state: str) -> Memory:
    """Return the memory of a circuit at rest, its latches and cams as the first state has them."""
    conditions = circuit.states[state]
    clocks: dict[str, Clock] = {}
    latches: dict[str, bool] = {}
    turns: dict[str, float] = {}
    heat: dict[str, float] = {}
    for name, part in circuit.parts.items():
        if timing_of(part) != Timing():
            clocks[f"relay:{name}"] = Clock(timing_of(part))
        for out in outputs_of(part):
            if dataclasses.replace(out.timing, low_a=0.0) != Timing():
                clocks[f"output:{name}.{out.id}"] = Clock(out.timing)
        rule = part.params.get("left_closed_when")
        if isinstance(rule, Expression):
            latches[name] = rule.evaluate(lambda word, value: _truth(conditions, word, value))
        word = part.params.get("parked_word")
        if isinstance(word, str) and word not in turns:
            turns[word] = 0.0 if _truth(conditions, word, "") else 0.5
        if KINDS[part.kind].opens_above is not None:
            heat[name] = 0.0
    return Memory(clocks, {}, latches, turns, heat, {})


def _truth(conditions: Mapping[str, str], word: str, value: str) -> bool:
    found = conditions.get(word, "no").lower()
    return found == value.lower() if value else is_yes(found)


def is_parked(turn: float) -> bool:
    """Return whether a share of a turn lies in the park position."""
    return turn % 1.0 < PARK_SHARE


def settled(circuit: Circuit, state: str, memory: Memory, now_s: float) -> Settled:
    """Return the circuit at rest in a state after what it remembers, at a time [s].

    Raises
        SolveError: there is no solution
    """
    words = {word: "yes" if is_parked(turn) else "no" for word, turn in memory.turns.items()}
    conditions = {**circuit.states[state], **words}
    here = dataclasses.replace(circuit, states={state: conditions})
    opened: tuple[str, ...] = ()
    for _ in range(_MOST_ROUNDS):
        history = _history(memory)
        solved = solve_from(here, state, history)
        following = _followed(memory, solved, now_s)
        heat, rates, untimed = _fuses(circuit, following, solved)
        opened += untimed
        following = dataclasses.replace(following, heat=heat)
        if following.held == dict(history.held) and following.latches == memory.latches:
            return Settled(following, solved, _turn_rates(circuit, solved), rates, opened)
        memory = following
    return Settled(memory, solved, {}, {}, opened, restless=True)


def _history(memory: Memory) -> History:
    rules = {f"{name}.left": _ALWAYS if closed else _NEVER
             for name, closed in memory.latches.items()}
    return History(memory.flags, memory.held, rules)


def _wishes(solved: Solved) -> dict[str, bool]:
    """Return where each flag would go if no clock held it."""
    free, found = dataclasses.replace(solved.logic, held={}, fuses={}), solved.found
    pulls = free.pulls(found.amps, solved.values.ohm)
    following = free.following(found.flags, found.volts, found.amps, pulls, solved.values.forces,
                               np.zeros(1, np.bool_))
    return {name: bool(following[row, 0]) for name, row in free.row.items()}


def _followed(memory: Memory, solved: Solved, now_s: float) -> Memory:
    """Return the memory once clocks, latches and flags have followed a solution."""
    wishes = _wishes(solved)
    flags = {name: bool(solved.found.flags[row, 0]) for name, row in solved.logic.row.items()}
    clocks, out = {}, {}
    for key, clock in memory.clocks.items():
        owner = key.partition(":")[2].partition(".")[0]
        dead = key.startswith("output:") and not flags[f"alive:{owner}"]
        clocks[key] = stopped(clock) if dead else commanded(clock, wishes[key], now_s)
        before = memory.lamps_out.get(key, False)
        out[key] = _lamp_is_out(key, clock, solved) if clock.on else before
    latches = {}
    for name, closed in memory.latches.items():
        pulled = (flags[f"relay:{name}.set"], flags[f"relay:{name}.reset"])
        latches[name] = True if pulled[0] else False if pulled[1] else closed
    # what protects itself lets go once its command has gone
    kept = {key: on and not (key.startswith("protects:")
                             and not wishes[key.replace("protects:", "output:", 1)])
            for key, on in flags.items()}
    return dataclasses.replace(memory, clocks=clocks, flags=kept, latches=latches, lamps_out=out)


def _lamp_is_out(key: str, clock: Clock, solved: Solved) -> bool:
    """Return whether what a clock's contact feeds takes too little current."""
    if not clock.timing.low_a:
        return False
    kind, _, name = key.partition(":")
    branch = solved.result.network.where[name if kind == "output" else f"{name}.no"]
    return bool(abs(solved.found.amps[branch, 0]) < clock.timing.low_a)


def _fuses(circuit: Circuit, memory: Memory, solved: Solved
           ) -> tuple[dict[str, float], dict[str, float], tuple[str, ...]]:
    """Return the fuses' heat, how fast it grows, and those that open at once."""
    heat, rates, untimed = dict(memory.heat), {}, []
    for name in memory.heat:
        part = circuit.parts[name]
        opens = KINDS[part.kind].opens_above
        amps = float(solved.result.part_amps[name][0])
        if opens is None or heat[name] >= 1 or abs(amps) <= opens(part):
            continue
        time = opening_time(part, amps)
        if time is None:
            heat[name] = 1.0
            untimed.append(name)
        else:
            rates[name] = 1 / time.typical_s
    return heat, rates, tuple(untimed)


def _turn_rates(circuit: Circuit, solved: Solved) -> dict[str, float]:
    """Return turns in a second by parked word: what several motors turn, the fastest turns."""
    rates: dict[str, float] = {}
    for part in circuit.parts.values():
        word = part.params.get("parked_word")
        if isinstance(word, str):
            rates[word] = max(rates.get(word, 0.0), _speed(part, solved) / part.number("turn_s"))
    return {word: rate for word, rate in rates.items() if rate > _STILL}


def _speed(part: Part, solved: Solved) -> float:
    """Return a motor's share of its rated speed."""
    network, found = solved.result.network, solved.found
    row = network.where[part.id]
    branch = network.branches[row]
    volts = found.volts[network.start[row]] - found.volts[network.end[row]]
    rated = max(branch.rated_v - branch.rated_a * branch.ohm, 0.05 * branch.rated_v)
    return float(motor_speed(volts, found.amps[row], solved.values.ohm[row], rated)[0])
