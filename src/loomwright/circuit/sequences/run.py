"""Run a sequence of states: from one event to the next, with what the circuit remembers."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass

from loomwright.circuit.expressions import Expression
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.kinds.controller import outputs_of
from loomwright.circuit.model import Circuit, StateResult, Step
from loomwright.circuit.sequences.clocks import EVENT_S, moved, next_event_s
from loomwright.circuit.sequences.machine import (
    PARK_SHARE,
    Memory,
    Settled,
    is_parked,
    memory_at_start,
    settled,
)
from loomwright.circuit.sequences.records import LoadTime, Moment, SequenceResult
from loomwright.circuit.solve import described
from loomwright.errors import UnknownNameError

__all__ = ["run_sequence"]

_MOST_MOMENTS = 600  # some five minutes of flashing
_OFF = {"", "off", "open", "whole", "dead"}


def run_sequence(circuit: Circuit, name: str) -> SequenceResult:
    """Return what a circuit does in a sequence of states, from event to event.

    Between events the circuit is in steady state; an event is the end of a step, of a delay or of
    a longest time, a flash, a park switch that a motor moves, or a fuse that has got hot enough
    (the geometric mean of the least and most seconds of its table; one without a table opens at
    once, and that is noted). Everything is at rest before the first step.

    Raises
        UnknownNameError: no such sequence
        SolveError: a moment has no trustworthy solution
    Validity
        electrical settling is instant; motors start and stop at once
    """
    if name not in circuit.sequences:
        raise UnknownNameError("sequence", name, circuit.sequences)
    steps = circuit.sequences[name]
    run = _Run(circuit, memory_at_start(circuit, steps[0].state) if steps else None)
    starts = []
    for number, step in enumerate(steps):
        starts.append(run.now_s)
        run.take(number, step)
    loads = tuple(_load_time(item, run.moments, run.now_s) for item in _watched(circuit))
    return SequenceResult(name, steps, tuple(starts), tuple(run.moments), loads, run.now_s,
                          tuple(dict.fromkeys(run.notes)))


class _Run:
    """The course of one run: the time, the memory, the moments so far."""

    def __init__(self, circuit: Circuit, memory: Memory | None) -> None:
        self.circuit = circuit
        self.memory = memory or Memory({}, {}, {}, {}, {}, {})
        self.now_s = 0.0
        self.moments: list[Moment] = []
        self.notes: list[str] = []

    def take(self, number: int, step: Step) -> None:
        """Run one step to its end."""
        ends_s, why = self.now_s + step.for_s, f"step {number + 1}: {step.state}"
        while True:
            here = settled(self.circuit, step.state, self.memory, self.now_s)
            self.memory = here.memory
            self._keep(number, step, here, why)
            if step.until is not None and self._holds(step.until):
                return
            if len(self.moments) >= _MOST_MOMENTS:
                self.notes.append(f"Stopped after {_MOST_MOMENTS} events; the rest is left out.")
                self.now_s = ends_s
                return
            next_s, why = self._next(here, ends_s)
            self._pass(here, next_s)
            if self.now_s >= ends_s - EVENT_S:
                if step.until is not None:
                    self.notes.append(f"Step {number + 1} ({step.state}): '{step.until}' did not "
                                      f"come within {step.for_s:g} s.")
                return

    def _keep(self, number: int, step: Step, here: Settled, why: str) -> None:
        """Add a moment, with a note for what went wrong in it."""
        result = described(here.solved.result)
        parked = {word: is_parked(turn) for word, turn in self.memory.turns.items()}
        flashes = tuple(key.partition(":")[2] for key, clock in self.memory.clocks.items()
                        if clock.active and clock.timing.flash_s)
        self.moments.append(Moment(self.now_s, number, step.state, why, result, parked, flashes))
        for fuse in here.untimed:
            self.notes.append(f"{fuse} opens at {self.now_s:g} s at once: no table says how long "
                              "it takes.")
        if here.restless:
            self.notes.append(f"At {self.now_s:g} s the clocks command each other in circles.")
        self.notes += [f"At {self.now_s:g} s: {note}" for note in result.notes
                       if "chatter" in note or "protects itself" in note]

    def _holds(self, rule: Expression) -> bool:
        """Return whether a step's rule holds in the latest moment."""
        moment = self.moments[-1]

        def truth(name: str, value: str) -> bool:
            if name in moment.parked:
                return moment.parked[name]
            doing = _doing(moment.result, name)
            return doing == value if value else doing not in _OFF

        return rule.evaluate(truth)

    def _next(self, here: Settled, ends_s: float) -> tuple[float, str]:
        """Return when the next event comes, and what it is."""
        events = [(ends_s, "end of step")]
        for key, clock in self.memory.clocks.items():
            at_s = next_event_s(clock, self.memory.lamps_out.get(key, False))
            events.append((at_s, f"timer of {key.partition(':')[2]}"))
        for word, rate in here.turn_rates.items():
            turn = self.memory.turns[word] % 1.0
            left = (PARK_SHARE if turn < PARK_SHARE else 1.0) - turn
            events.append((self.now_s + left / rate, f"cam: {word}"))
        for name, rate in here.heat_rates.items():
            events.append((self.now_s + (1 - self.memory.heat[name]) / rate, f"{name} opens"))
        return min(events)

    def _pass(self, here: Settled, next_s: float) -> None:
        """Let the time pass to the next event."""
        span_s = next_s - self.now_s
        turns = dict(self.memory.turns)
        for word, rate in here.turn_rates.items():
            turns[word] = _turned(turns[word], rate * span_s)
        heat = {name: share + here.heat_rates.get(name, 0.0) * span_s
                for name, share in self.memory.heat.items()}
        # a fuse that is due must not miss being open by a rounding
        heat = {name: 1.0 if share > 1 - 1e-9 else share for name, share in heat.items()}
        clocks = {key: moved(clock, next_s, self.memory.lamps_out.get(key, False))
                  for key, clock in self.memory.clocks.items()}
        self.memory = dataclasses.replace(self.memory, turns=turns, heat=heat, clocks=clocks)
        self.now_s = next_s


def _turned(turn: float, by: float) -> float:
    """Return a share of a turn later on, put on the edge of the park position where it meets it."""
    after = (turn + by) % 1.0
    for edge in (0.0, PARK_SHARE, 1.0):
        if math.isclose(after, edge, abs_tol=1e-9):
            return edge % 1.0
    return after


def _doing(result: StateResult, name: str) -> str:
    """Return what a part or a controller's output does, in a word."""
    part, _, item = name.partition(".")
    if item:
        return "on" if result.outputs.get(part, {}).get(item) else "off"
    return result.parts[part].doing


def _watched(circuit: Circuit) -> tuple[str, ...]:
    """Return what a table of times shows: loads, relays, controller outputs."""
    found = []
    for name, part in circuit.parts.items():
        if KINDS[part.kind].load or part.kind == "relay":
            found.append(name)
    return (*found, *_outputs(circuit))


def _outputs(circuit: Circuit) -> tuple[str, ...]:
    return tuple(f"{name}.{out.id}" for name, part in circuit.parts.items()
                 for out in outputs_of(part))


@dataclass(frozen=True, slots=True)
class _Span:
    """A time in which something was on, [s]."""

    start_s: float
    end_s: float


def _load_time(name: str, moments: list[Moment], end_s: float) -> LoadTime:
    """Return how long and how often something was on."""
    spans: list[_Span] = []
    for moment, after in zip(moments, [*moments[1:], None], strict=True):
        until = end_s if after is None else after.at_s
        if _doing(moment.result, name) in _OFF:
            continue
        if spans and spans[-1].end_s == moment.at_s:
            spans[-1] = _Span(spans[-1].start_s, until)
        else:
            spans.append(_Span(moment.at_s, until))
    spans = [span for span in spans if span.end_s - span.start_s > EVENT_S]
    total = sum(span.end_s - span.start_s for span in spans)
    return LoadTime(name, total, len(spans), spans[0].start_s if spans else None,
                    spans[-1].end_s if spans else None)


