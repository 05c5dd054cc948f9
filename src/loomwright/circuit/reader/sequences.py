"""Reads the sequences of a circuit file: states one after the other, each for a time."""

from __future__ import annotations

from collections.abc import Iterator, Mapping

from loomwright.circuit.expressions import Expression, ExpressionError, parse_expression
from loomwright.circuit.model import ControllerOutput, Mark, Part, Step
from loomwright.circuit.reader.fields import (
    Limits,
    as_map,
    as_text,
    check_keys,
    quantity,
    shape_of,
)
from loomwright.circuit.reader.nodes import Entry, Items, Map, Node, Text
from loomwright.circuit.reader.parts import Parts
from loomwright.circuit.reader.problems import Problems

__all__ = ["MOST_WAIT_S", "STEP_KEYS", "read_sequences"]

STEP_KEYS = ("state", "for", "until", "at most")
MOST_WAIT_S = 600.0  # of a step with `until` that says nothing; assumed
_MOST_STEPS = 100
_TIMES_S = Limits(0.001, 1e6)
_LONGEST_RULE = 500


def read_sequences(entry: Entry | None, states: Mapping[str, object], parts: Parts,
                   problems: Problems) -> dict[str, tuple[Step, ...]]:
    """Return each sequence's steps: `{state: .., for: 5 s}` or `{state: .., until: not M1}`."""
    entries = as_map(entry.value, "'sequences'", problems) if entry else {}
    known = _names(parts)
    found: dict[str, tuple[Step, ...]] = {}
    for name, sequence in entries.items():
        node = sequence.value
        if not isinstance(node, Items) or not node.items:
            problems.add(node.mark, f"Sequence '{name}' is a list of steps, not {shape_of(node)}.",
                         "Write '- {state: .., for: 5 s}' lines.")
            continue
        if len(node.items) > _MOST_STEPS:
            problems.add(node.mark, f"Sequence '{name}' has more than {_MOST_STEPS} steps.",
                         "Split it.")
        steps = [_step(item, states, known, problems) for item in node.items[:_MOST_STEPS]]
        found[name] = tuple(step for step in steps if step is not None)
    return found


def _names(parts: Parts) -> list[str]:
    """Return what `until` may name: parts, controller outputs and parked words."""
    return [*parts.declared, *(name for part in parts.good.values() for name in _more(part))]


def _more(part: Part) -> Iterator[str]:
    word = part.params.get("parked_word")
    if isinstance(word, str):
        yield word
    outputs = part.params.get("outputs")
    for item in outputs if isinstance(outputs, tuple) else ():
        if isinstance(item, ControllerOutput):
            yield f"{part.id}.{item.id}"


def _step(node: Node, states: Mapping[str, object], known: list[str], problems: Problems
          ) -> Step | None:
    """Return one step, or note everything wrong with it."""
    if not isinstance(node, Map):
        problems.add(node.mark, f"A step is a mapping, not {shape_of(node)}.",
                     "Write '{state: .., for: 5 s}'.")
        return None
    entries = node.entries
    check_keys(entries, STEP_KEYS, "a step", problems)
    state = as_text(entries["state"].value, "'state'", problems) if "state" in entries else ""
    if "state" not in entries:
        problems.add(node.mark, "This step has no 'state'.", "Add it.")
    elif state not in states:
        problems.unknown(entries["state"].value.mark, f"There is no state '{state}'.", state,
                         states)
    if ("for" in entries) == ("until" in entries):
        problems.add(node.mark, "A step has either 'for' or 'until'.",
                     "Write 'for: 5 s', or 'until: not M1'.")
    if "at most" in entries and "until" not in entries:
        problems.add(entries["at most"].key.mark, "'at most' belongs to 'until'.",
                     "Use 'for', or add 'until'.")
    times = [_seconds(entries[key], key, problems) for key in ("for", "at most") if key in entries]
    until = _until(entries.get("until"), known, problems)
    return Step(state, (times[0] if times else None) or MOST_WAIT_S, until, node.mark)


def _seconds(entry: Entry, key: str, problems: Problems) -> float | None:
    return quantity(entry.value, "s", f"'{key}'", _TIMES_S, problems)


def _until(entry: Entry | None, known: list[str], problems: Problems) -> Expression | None:
    """Return the rule that ends a step, or note what is wrong with it."""
    if entry is None:
        return None
    text = as_text(entry.value, "'until'", problems)
    if not text or len(text) > _LONGEST_RULE or not isinstance(entry.value, Text):
        problems.add(entry.value.mark, "'until' needs a short rule.", "Write 'until: not M1'.")
        return None
    mark = entry.value.mark
    try:
        rule = parse_expression(text)
    except ExpressionError as error:
        column = mark.column + error.column - 1 + entry.value.quoted
        problems.add(Mark(mark.line, column), f"'until': {error.message}", error.next_step)
        return None
    for name in rule.names():
        if name not in known:
            problems.unknown(mark, f"'until' names '{name}', which is no part, output or parked "
                             "word.", name, known)
    return rule
