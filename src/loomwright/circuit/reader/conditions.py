"""Reads the states of a circuit file, what should happen in them, and checks the words of rules."""

from __future__ import annotations

import dataclasses
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from loomwright.circuit.expressions import Expression
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.kinds.controller import lamp_out_word
from loomwright.circuit.model import ISOLATED, OUT, ControllerInput, ControllerOutput, Mark, Part
from loomwright.circuit.reader.fields import Limits, as_map, as_text, on_or_off, quantity
from loomwright.circuit.reader.nodes import Entry, Map, Node, Text
from loomwright.circuit.reader.parts import Parts
from loomwright.circuit.reader.problems import Problems

__all__ = ["AT_REST", "Words", "check_rules", "read_setup", "read_should", "read_states",
           "words_of"]

AT_REST = "at rest"
_RANGES = {"%": (0.0, 100.0), "degC": (-60.0, 1500.0), "rpm": (0.0, 50_000.0)}
_MINUTES = Limits(0.0, 600.0)


@dataclass(frozen=True, slots=True)
class Words:
    """The words that rules use: each condition with the positions rules name for it."""

    used: Mapping[str, frozenset[str]]
    units: Mapping[str, str] = dataclasses.field(default_factory=dict)  # of quantities


def _rules(part: Part) -> Iterator[tuple[str, Expression]]:
    """Yield every rule of a part with what it belongs to."""
    for key, value in part.params.items():
        if isinstance(value, Expression):
            yield part.id, value
        elif isinstance(value, tuple):
            for item in value:
                if isinstance(item, ControllerOutput):
                    yield f"{part.id}.{item.id}", item.when
                elif isinstance(item, Expression):
                    yield f"{part.id} {key}", item


def _leaves(rule: Expression) -> Iterator[Expression]:
    if rule.op == "name":
        yield rule
    for item in rule.items:
        yield from _leaves(item)


def _own_names(part: Part) -> set[str]:
    """Return the inputs and outputs of a controller, which its rules may use."""
    items = [item for value in part.params.values() if isinstance(value, tuple)
             for item in value if isinstance(item, ControllerInput | ControllerOutput)]
    return {item.id for item in items} | {
        lamp_out_word(item.id) for item in items
        if isinstance(item, ControllerOutput) and item.timing.low_a}


def words_of(parts: Mapping[str, Part]) -> Words:
    """Return the condition words that the parts' rules use."""
    used: dict[str, set[str]] = {}
    units: dict[str, str] = {}
    for part in parts.values():
        own = _own_names(part)
        for _, rule in _rules(part):
            for leaf in _leaves(rule):
                if leaf.name not in own:
                    used.setdefault(leaf.name, set()).update({leaf.value} - {""})
        if "closed_when" in part.params and part.params["closed_when"] is None:
            used.setdefault(part.id, set())  # a switch without a rule is set by its own name
        if KINDS[part.kind].opens_above is not None:
            used.setdefault(part.id, set()).add(OUT)  # a fuse that a state has pulled
        positions, word = part.params.get("positions"), part.params.get("word")
        if isinstance(positions, tuple):
            used.setdefault(str(word or part.id), set()).update(str(item) for item in positions)
        units.update(KINDS[part.kind].quantities(part))
    for word in units:
        used.setdefault(word, set())
    return Words({name: frozenset(values) for name, values in used.items()}, units)


def read_states(entry: Entry | None, parts: Parts, problems: Problems) -> dict[str, dict[str, str]]:
    """Return each state's conditions as typed, in lower case where they are yes, no, on or off.

    A word that a part reads as a quantity (a level, a temperature, a speed) may be one.

    A file without states has one, `at rest`, in which nothing is set.
    """
    entries = as_map(entry.value, "'states'", problems) if entry else {}
    complete = set(parts.good) == set(parts.declared)
    words = words_of(parts.good)
    states: dict[str, dict[str, str]] = {}
    for name, state in entries.items():
        conditions = as_map(state.value, f"State '{name}'", problems)
        states[name] = {}
        if name == ISOLATED:
            problems.add(state.key.mark, f"No state can be called '{ISOLATED}': that is how a "
                         "circuit stands for measuring ohms.", "Give it another name.")
        for word, condition in conditions.items():
            value = _condition(name, word, condition, words, problems)
            if value:
                states[name][word] = value
            if complete and word not in words.used:
                problems.unknown(condition.key.mark, f"No rule of any part uses '{word}'.", word,
                                 words.used)
    return states or {AT_REST: {}}


def _condition(state: str, word: str, entry: Entry, words: Words, problems: Problems) -> str:
    """Return one condition's value, or note that it is neither yes or no nor a position."""
    text = as_text(entry.value, f"'{word}'", problems)
    positions = words.used.get(word, frozenset())
    if on_or_off(text) and positions != {OUT}:
        return text if text in positions else text.lower()
    if text in positions:
        return text
    if not isinstance(entry.value, Text):
        return ""
    if word in words.units and text:
        limits = Limits(*_RANGES[words.units[word]])
        found = quantity(entry.value, words.units[word], f"'{word}'", limits, problems)
        return "" if found is None else text
    if positions:
        problems.unknown(entry.value.mark, f"'{text}' is not a position of '{word}'.", text,
                         [*sorted(positions), *([] if positions == {OUT} else ["yes", "no"])])
    else:
        given = f"'{text}'" if text else "not given"
        problems.add(entry.value.mark, f"State '{state}': '{word}' is {given}.",
                     "Write yes or no (or on, off).")
    return ""


def check_rules(entries: Mapping[str, Entry], parts: Parts, states: Mapping[str, Mapping[str, str]],
                problems: Problems) -> None:
    """Note names in rules that nothing defines.

    A controller's rule may use its inputs, its outputs and condition words that a state sets or
    another part's rule uses. A switch's rule defines its own words, so there only a near miss of
    a word that a state sets is noted.
    """
    set_words = {word for conditions in states.values() for word in conditions}
    switch_words = {leaf.name for part in parts.good.values() if not _own_names(part)
                    for _, rule in _rules(part) for leaf in _leaves(rule)}
    for part in parts.good.values():
        own = _own_names(part)
        if not own:
            continue
        known = own | set_words | switch_words
        for owner, rule in _rules(part):
            for name in rule.names():
                if name not in known:
                    node = _below(entries[part.id].value, owner.partition(".")[2])
                    problems.unknown(_mark_in_rule(node, name) or node.mark,
                                     f"The rule of {owner} uses '{name}', which nothing defines.",
                                     name, known)


def _below(node: Node, output: str) -> Node:
    """Return the part of the file that describes one output, the whole part where there is none."""
    outputs = node.entries.get("outputs") if isinstance(node, Map) else None
    if outputs is None or not isinstance(outputs.value, Map):
        return node
    found = outputs.value.entries.get(output)
    return found.value if found else node


def _mark_in_rule(node: Node, name: str) -> Mark | None:
    """Return where a name stands in the first rule below a part that uses it."""
    if not isinstance(node, Map):
        return None
    for key, entry in node.entries.items():
        value = entry.value
        if isinstance(value, Text) and (key == "when" or key.endswith(" when")):
            words = " ".join(value.value.split())
            found = re.search(rf"(?<![^\s()]){re.escape(name)}(?![^\s()])", words)
            if found:
                return Mark(value.mark.line, value.mark.column + found.start() + value.quoted)
        below = _mark_in_rule(value, name)
        if below is not None:
            return below
    return None


def read_should(entry: Entry | None, states: Mapping[str, object], parts: Parts,
                problems: Problems) -> dict[str, dict[str, str]]:
    """Return what should be on and off in each state, as 'on' and 'off'."""
    entries = as_map(entry.value, "'should'", problems) if entry else {}
    known = [*parts.declared, *(f"{part.id}.{name}" for part in parts.good.values()
                                for name in sorted(_own_names(part)))]
    should: dict[str, dict[str, str]] = {}
    for state, wanted in entries.items():
        if state not in states:
            problems.unknown(wanted.key.mark, f"There is no state '{state}'.", state, states)
        found: dict[str, str] = {}
        for name, value in as_map(wanted.value, f"'should: {state}'", problems).items():
            if name not in known:
                problems.unknown(value.key.mark, f"There is no part '{name}'.", name, known)
            text = as_text(value.value, f"'{name}'", problems)
            found[name] = on_or_off(text)
            if not found[name] and isinstance(value.value, Text):
                problems.add(value.value.mark, f"'{name}' should be '{text}'.",
                             "Write on or off.")
        should[state] = found
    return should


def read_setup(entry: Entry | None, states: Mapping[str, object], problems: Problems
               ) -> dict[str, float]:
    """Return the minutes it takes to set each state that says so."""
    entries = as_map(entry.value, "'setup'", problems) if entry else {}
    minutes: dict[str, float] = {}
    for state, value in entries.items():
        if state not in states:
            problems.unknown(value.key.mark, f"There is no state '{state}'.", state, states)
        time = quantity(value.value, "min", f"Setting up '{state}'", _MINUTES, problems)
        if time is not None:
            minutes[state] = time
    return minutes
