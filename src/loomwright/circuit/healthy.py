"""Finds a state in which a circuit without faults does what is wanted, to compare volts with."""

from __future__ import annotations

import dataclasses
import itertools
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass

from loomwright.circuit.expressions import Expression
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.kinds.switch import rule_of
from loomwright.circuit.model import Circuit, Part, StateResult
from loomwright.circuit.rules import is_yes
from loomwright.circuit.solve import solve
from loomwright.errors import SolveError

__all__ = ["Healthy", "Working", "is_true"]

_MOST_WORDS = 8  # conditions tried one and two at a time: 36 solves of some 10 ms
_TRIED = "tried"


@dataclass(frozen=True, slots=True)
class Working:
    """A solved state in which something works, and how to name it to a person."""

    result: StateResult
    name: str


def is_true(conditions: Mapping[str, str], name: str, value: str) -> bool:
    """Return whether a state's conditions make a name true; what is not listed is no."""
    found = conditions.get(name, "no")
    return found.lower() == value.lower() if value else is_yes(found)


class Healthy:
    """A circuit without its faults, each state solved once and only when asked for."""

    def __init__(self, circuit: Circuit) -> None:
        self.circuit = dataclasses.replace(circuit, faults=())
        self._solved: dict[tuple[tuple[str, str], ...], StateResult] = {}

    def in_state(self, state: str) -> Working:
        """Return a state of the file, solved."""
        return Working(self._solve(self.circuit.states[state]), f"'{state}'")

    def find(self, state: str, wanted: Callable[[StateResult], bool]) -> Working | None:
        """Return the nearest state in which the circuit does what is wanted.

        The state itself comes first, then the file's other states by the number of conditions that
        differ, then the state with one or two of the conditions that switches depend on changed.
        """
        states = self.circuit.states
        for name in sorted(states, key=lambda name: _apart(states[state], states[name])):
            working = self.in_state(name)
            if wanted(working.result):
                return working
        for changes in self._changes(state):
            try:
                result = self._solve({**states[state], **changes})
            except SolveError:  # such a setting has no solution, so nothing works in it
                continue
            if wanted(result):
                shown = ", ".join(f"{word}: {value}" for word, value in changes.items())
                return Working(result, f"'{state}' with {shown}")
        return None

    def _changes(self, state: str) -> Iterator[dict[str, str]]:
        """Yield one and two changed conditions at a time."""
        now = self.circuit.states[state]
        options: dict[str, list[str]] = {}
        for part in self.circuit.parts.values():
            for leaf in itertools.chain.from_iterable(map(_leaves, self._rules(part))):
                holds = is_true(now, leaf.name, leaf.value)
                other = leaf.value or "yes"
                options.setdefault(leaf.name, []).append("no" if holds else other)
        words = list(options)[:_MOST_WORDS]
        for count in (1, 2):
            for chosen in itertools.combinations(words, count):
                for values in itertools.product(*(dict.fromkeys(options[w]) for w in chosen)):
                    yield dict(zip(chosen, values, strict=True))

    def _rules(self, part: Part) -> tuple[Expression, ...]:
        """Return what opens and closes a part: a switch's rule, those of a selector's contacts."""
        if part.kind == "switch":
            return (rule_of(part),)
        branches = KINDS[part.kind].branches(part, self.circuit.system_v)
        return tuple(branch.when for branch in branches if branch.when is not None)

    def _solve(self, conditions: Mapping[str, str]) -> StateResult:
        key = tuple(sorted(conditions.items()))
        if key not in self._solved:
            states = {_TRIED: dict(conditions)}
            self._solved[key] = solve(dataclasses.replace(self.circuit, states=states), _TRIED)
        return self._solved[key]


def _apart(one: Mapping[str, str], other: Mapping[str, str]) -> int:
    """Return how many conditions differ between two states."""
    return sum(one.get(word, "no").lower() != other.get(word, "no").lower()
               for word in {*one, *other})


def _leaves(rule: Expression) -> Iterator[Expression]:
    if rule.op == "name":
        yield rule
    for item in rule.items:
        yield from _leaves(item)
