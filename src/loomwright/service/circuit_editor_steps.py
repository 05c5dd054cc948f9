"""The steps of a sequence as one cell of the editor, and back to the file's list.

A step is a state `for` a time, or `until` something holds `at most` so long; steps stand behind one
another with semicolons: `at rest for 1 s; glowing for 10 s`.
"""

from __future__ import annotations

import re

from loomwright.circuit.reader.nodes import Items, Map, Node, Text
from loomwright.service.circuit_editor_cells import flow_text, map_text, scalar

__all__ = ["steps_cell", "steps_text"]

_STEP = re.compile(
    r"(?P<state>.+?)(?: for (?P<for>[^;]+?)| until (?P<until>.+?)(?:,? at most (?P<most>[^;]+?))?)")
_WORDS = re.compile(r" (?:for|until|at most) |[;{}]")
_KEYS = {"state", "for", "until", "at most"}


def steps_cell(node: Node) -> str | None:
    """Return a sequence's steps as a person types them, None where it is no list of steps."""
    if not isinstance(node, Items):
        return None
    return "; ".join(_step_words(step) for step in node.items)


def _step_words(step: Node) -> str:
    """Return a step in words; one that words could mistake stays as the file has it."""
    values = {name: entry.value.value for name, entry in step.entries.items()
              if isinstance(entry.value, Text)} if isinstance(step, Map) else {}
    plain = isinstance(step, Map) and values.keys() == step.entries.keys() \
        and not any(_WORDS.search(f" {value} ") for value in values.values())
    if plain and values.keys() == {"state", "for"}:
        return f"{values['state']} for {values['for']}"
    if plain and {"state", "until"} <= values.keys() <= _KEYS - {"for"}:
        most = f", at most {values['at most']}" if "at most" in values else ""
        return f"{values['state']} until {values['until']}{most}"
    return flow_text(step)


def steps_text(cell: str) -> tuple[str, str]:
    """Return typed steps as the file's list, and what is wrong with them."""
    done = []
    for piece in filter(None, (one.strip() for one in re.split(r";(?![^{]*\})", cell))):
        if piece.startswith("{"):
            inside, what = map_text(piece.strip("{}"))
            if what:
                return "", what
            done.append(f"{{{inside}}}")
            continue
        found = _STEP.fullmatch(piece)
        if found is None:
            return "", (f"'{piece}' is no step. Write 'ignition on for 2 s', or 'wiping until "
                        "parked, at most 10 s', with semicolons between.")
        named = {"state": found["state"], "for": found["for"], "until": found["until"],
                 "at most": found["most"]}
        done.append("{" + ", ".join(f"{key}: {scalar(value)}"
                                    for key, value in named.items() if value) + "}")
    return (f"[{', '.join(done)}]", "") if done else ("", "This sequence has no steps.")
