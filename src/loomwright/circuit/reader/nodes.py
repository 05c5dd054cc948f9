"""YAML as plain trees in which every key and value knows its line and column.

Scalars stay text exactly as typed, so `yes`, `NO`, `30` and `1e3` mean what the technician wrote.
Anchors, aliases and tags are refused: a circuit needs none, and they can blow up in memory.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass

import yaml

from loomwright.circuit.model import Mark
from loomwright.circuit.reader.problems import Problems

__all__ = ["Entry", "Items", "Map", "Node", "Text", "parse_yaml"]

_DEEPEST = 12  # a circuit needs 6 levels
_Parser = getattr(yaml, "CSafeLoader", yaml.SafeLoader)  # the C parser is ten times faster
_FIXES = (
    ("tab", "Use spaces, not tabs, to indent."),
    ("cannot start any token", "Put quotes around text that starts with @ or `; indent with "
     "spaces, not tabs."),
    ("unexpected ':'", "Write a space after the colon, and 'unknown' for what nobody knows."),
    ("mapping values are not allowed", "Put quotes around text that holds ': ', and check the "
     "indent."),
    ("',' or ']'", "Check the commas and close the bracket ']'."),
    ("',' or '}'", "Check the commas and close the brace '}'."),
    ("could not find expected ':'", "Write 'key: value' with a space after the colon."),
    ("expected <block end>", "Line this up with the lines above it."),
    ("did not find expected key", "Line this up with the lines above it."),
    ("unexpected end of stream", "Close the quotes."),
)


@dataclass(frozen=True, slots=True)
class Text:
    """A scalar as typed, without its quotes."""

    value: str
    mark: Mark
    quoted: bool = False

    @property
    def blank(self) -> bool:
        """Whether nothing is known: left empty, `~`, `null` or `unknown`."""
        return not self.quoted and self.value.lower() in {"", "~", "null", "unknown"}


@dataclass(frozen=True, slots=True)
class Entry:
    """One `key: value` of a mapping."""

    key: Text
    value: Node


@dataclass(frozen=True, slots=True)
class Map:
    """A mapping, its keys unique and in file order."""

    entries: dict[str, Entry]
    mark: Mark


@dataclass(frozen=True, slots=True)
class Items:
    """A list."""

    items: tuple[Node, ...]
    mark: Mark


Node = Text | Map | Items


@dataclass(slots=True)
class _Open:
    """A mapping or list that is not closed yet."""

    mark: Mark
    is_map: bool
    items: list[Node]


def parse_yaml(text: str, problems: Problems) -> Node | None:
    """Return the tree of a YAML text, or None where it holds nothing.

    Raises
        FileProblemsError: syntax, anchors, aliases, tags, too deep, or a second document
    """
    top: list[Node] = []
    try:
        _build(yaml.parse(text, Loader=_Parser), top, problems)
    except yaml.MarkedYAMLError as error:
        _report(error, text, problems)
    except yaml.YAMLError:
        problems.add(Mark(1, 1), "The file is not YAML text.", "Check that it is the right file.")
    problems.stop()
    return top[0] if top else None


def _report(error: yaml.MarkedYAMLError, text: str, problems: Problems) -> None:
    what = error.problem or error.context or "syntax error"
    fix = next((fix for part, fix in _FIXES if part in f"{what} {error.context or ''}"),
               "Check the indent, colons, brackets and quotes here and on the line above.")
    at = error.problem_mark or error.context_mark
    mark = Mark(at.line + 1, at.column + 1) if at else Mark(1, 1)
    lines = text.split("\n")
    line = lines[at.line] if at and at.line < len(lines) else ""
    glued = re.match(r"\s*([\w-]+:)[{\[]", line)
    if glued:
        what, fix = f"a space is missing after the colon of '{glued[1]}'", "Add it."
    elif at and line[at.column: at.column + 1] == "\t":
        what, fix = "a tab stands here", "Use spaces, not tabs, to indent."
    problems.add(mark, f"The YAML cannot be read here: {what}.", fix)


def _build(events: Iterator[yaml.Event], top: list[Node], problems: Problems) -> None:
    """Build the tree without recursion; a problem that makes the rest worthless stops it."""
    stack: list[_Open] = []
    documents = 0
    for event in events:
        mark = _mark(event)
        if isinstance(event, yaml.DocumentStartEvent):
            documents += 1
            if documents > 1:
                problems.add(mark, "A second document starts here.", "Keep one per file; remove "
                             "the line '---'.")
                return
        elif isinstance(event, yaml.NodeEvent):
            _refuse(event, mark, problems)
            _open_node(event, mark, stack, top)
            if len(stack) > _DEEPEST:
                problems.add(mark, "This is nested too deep.", "Check the brackets.")
                return
        elif isinstance(event, yaml.CollectionEndEvent):
            _put(_closed(stack.pop(), problems), stack, top)


def _mark(event: yaml.Event) -> Mark:
    at = event.start_mark
    return Mark(at.line + 1, at.column + 1) if at else Mark(1, 1)


def _refuse(event: yaml.NodeEvent, mark: Mark, problems: Problems) -> None:
    """Note the parts of YAML that a circuit file does without."""
    if isinstance(event, yaml.AliasEvent):
        problems.add(mark, f"'*{event.anchor}' repeats another part of the file, which is not "
                     "allowed here.", "Write the value out, or put quotes around it.")
    elif event.anchor is not None:
        problems.add(mark, f"'&{event.anchor}' is a YAML anchor, which is not allowed here.",
                     "Remove it, or put quotes around the text.")
    elif isinstance(event, yaml.ScalarEvent | yaml.CollectionStartEvent) and event.tag is not None:
        problems.add(mark, f"'{event.tag}' is a YAML tag, which is not allowed here.",
                     "Remove it, or put quotes around the text.")


def _open_node(event: yaml.NodeEvent, mark: Mark, stack: list[_Open], top: list[Node]) -> None:
    """Start a mapping or list, or place a scalar."""
    if isinstance(event, yaml.CollectionStartEvent):
        stack.append(_Open(mark, isinstance(event, yaml.MappingStartEvent), []))
    elif isinstance(event, yaml.ScalarEvent):
        value = event.value if event.style else " ".join(event.value.split())
        _put(Text(value, mark, bool(event.style)), stack, top)
    else:
        _put(Text("", mark), stack, top)


def _put(node: Node, stack: list[_Open], top: list[Node]) -> None:
    (stack[-1].items if stack else top).append(node)


def _closed(opened: _Open, problems: Problems) -> Node:
    """Return the finished list or mapping; keys are checked here."""
    if not opened.is_map:
        return Items(tuple(opened.items), opened.mark)
    entries: dict[str, Entry] = {}
    for key, value in zip(opened.items[::2], opened.items[1::2], strict=True):
        if not isinstance(key, Text):
            problems.add(key.mark, "A key must be plain text.", "Write 'key: value'.")
            continue
        name = " ".join(key.value.split())
        if name in entries:
            first = entries[name].key.mark.line
            problems.add(key.mark, f"'{name}' is given twice; the first is on line {first}.",
                         "Keep one of them.")
            continue
        entries[name] = Entry(Text(name, key.mark, key.quoted), value)
    return Map(entries, opened.mark)
