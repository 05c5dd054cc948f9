"""The editor's tables written back into the text they came from.

Only what changed is written anew: untouched rows keep their lines, and comments stay even where
their row changes, so that a file from elsewhere is not silently stripped.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

from loomwright.circuit.reader.nodes import Items, Map, Node, parse_yaml
from loomwright.circuit.reader.problems import Problems
from loomwright.circuit.reader.text import check_text
from loomwright.errors import UsageError
from loomwright.service.circuit_editor_rows import Row, section_rows, value_of
from loomwright.service.circuit_editor_sheet import HEAD, Sheet, sheet_of

__all__ = ["EMPTY", "text_with"]

EMPTY = "loomwright: 1\n"
_ORDER = ("loomwright", "title", "system", "temperature", "places", "parts", "wires", "states",
          "should", "setup", "sequences")


@dataclass(frozen=True, slots=True)
class _Segment:
    """A top key of the file: the comments above it, its lines, and its node."""

    key: str
    lead: tuple[str, ...]
    lines: tuple[str, ...]
    first: int = 0  # line of the key, counted from 1
    node: Node | None = None


@dataclass(slots=True)
class _Chunk:
    """One entry of a section as it stands: comments above, its lines."""

    lead: list[str] = field(default_factory=list)
    lines: list[str] = field(default_factory=list)


def text_with(base: str, sheet: Sheet) -> str:
    """Return a circuit's text with the tables of a sheet, and all else as it was.

    Raises
        FileProblemsError, UsageError: the base cannot be read, or not be shown as tables
    """
    old, _ = sheet_of(base or EMPTY)
    segments = _segments(base or EMPTY)
    for key in HEAD:
        new = value_of(key, sheet.head.get(key, ""))
        if new != value_of(key, old.head.get(key, "")):
            segments = _with_line(segments, key, new)
    for key, rows in section_rows(sheet).items():
        before = section_rows(old)[key]
        if [one.cells for one in rows] != [one.cells for one in before]:
            segments = _with_section(segments, key, rows, before)
    return "\n".join(line for one in segments for line in (*one.lead, *one.lines)) + "\n"


def _segments(text: str) -> list[_Segment]:
    """Return the text cut at its top keys; a first segment without key holds what is above."""
    problems = Problems("circuit")
    node = parse_yaml(check_text(text, problems), problems)
    entries = sorted(node.entries.items(), key=lambda one: one[1].key.mark.line) \
        if isinstance(node, Map) else []
    lines = text.splitlines()
    starts = [entry.key.mark.line - 1 for _, entry in entries]
    if len(set(starts)) < len(starts) or any(entry.key.mark.column > 1 for _, entry in entries):
        raise UsageError("This file is written inside brackets, which the tables cannot change.",
                         next_step="Edit it as text, or write each key on a line of its own.")
    leads = [_lead_start(lines, start, starts[at - 1] + 1 if at else 0)
             for at, start in enumerate(starts)]
    ends = [*leads[1:], len(lines)]
    found = [_Segment("", tuple(lines[: leads[0]]) if leads else tuple(lines), ())]
    for (key, entry), lead, start, end in zip(entries, leads, starts, ends, strict=True):
        found.append(_Segment(key, tuple(lines[lead:start]), tuple(lines[start:end]), start + 1,
                              entry.value))
    return found


def _lead_start(lines: Sequence[str], start: int, least: int) -> int:
    """Return where the comments and empty lines directly above a line begin."""
    while start > least and (not lines[start - 1].strip() or lines[start - 1].startswith("#")):
        start -= 1
    return start


def _with_line(segments: list[_Segment], key: str, value: str) -> list[_Segment]:
    """Return the segments with a one-line key set, added, or taken out."""
    old = next((one for one in segments if one.key == key), None)
    kept = f"  {_comment(old.lines[0])}".rstrip() if old and _comment(old.lines[0]) else ""
    return _put(segments, key, [f"{key}: {value}{kept}"] if value else [])


def _put(segments: list[_Segment], key: str, lines: Sequence[str]) -> list[_Segment]:
    """Return the segments with the lines of a key; without lines only its comments stay."""
    if any(one.key == key for one in segments):
        return [replace(one, lines=tuple(lines)) if one.key == key else one for one in segments]
    before = set(_ORDER[: _ORDER.index(key)]) | {""}
    at = max(number for number, one in enumerate(segments) if one.key in before)
    return [*segments[: at + 1], _Segment(key, (), tuple(lines)), *segments[at + 1:]]


def _with_section(segments: list[_Segment], key: str, rows: Sequence[Row], before: Sequence[Row]
                  ) -> list[_Segment]:
    """Return the segments with the rows of a section; rows that stay keep their lines."""
    old = next((one for one in segments if one.key == key), _Segment(key, (), (f"{key}:",)))
    if key in {"should", "setup"} and isinstance(old.node, Map):  # the file has its own order
        rows, before = _in_order(rows, old.node), _in_order(before, old.node)
    chunks, tail = _chunks(old)
    indent = "  "
    if chunks:
        first = chunks[0].lines[0]
        indent = first[: len(first) - len(first.lstrip())]
    else:  # written in one line, or empty: its comments go above the rows
        tail = [f"{indent}{comment}" for line in old.lines[1:] if (comment := _comment(line))]
    partner = _partners(rows, before) if chunks else {}
    for number, chunk in enumerate(chunks):  # comments above a row outlive it
        if number not in partner.values():
            heir = chunks[number + 1].lead if number + 1 < len(chunks) else tail
            heir[:0] = chunk.lead
    lines = [old.lines[0] if chunks else f"{key}:{_after(old.lines[0])}"]
    for number, row in enumerate(rows):
        if number not in partner:
            lines.append(indent + row.text)
            continue
        chunk = chunks[partner[number]]
        lines += chunk.lead
        same = before[partner[number]].cells == row.cells
        lines += chunk.lines if same else _rewritten(chunk, indent, row.text)
    return _put(segments, key, [*lines, *tail] if rows or any(map(str.strip, tail)) else [])


def _in_order(rows: Sequence[Row], node: Map) -> list[Row]:
    """Return rows in the order of a mapping's entries, new ones last."""
    names = list(node.entries)
    return sorted(rows, key=lambda row: names.index(row.name) if row.name in names else len(names))


def _after(line: str) -> str:
    """Return the comment behind a key that is written anew."""
    found = _comment(line)
    return f"  {found}" if found else ""


def _chunks(segment: _Segment) -> tuple[list[_Chunk], list[str]]:
    """Return a section's entries as they stand and the lines below; none where not one per line."""
    marks = []
    if isinstance(segment.node, Map):
        marks = [entry.key.mark.line for entry in segment.node.entries.values()]
    elif isinstance(segment.node, Items):
        marks = [item.mark.line for item in segment.node.items]
    starts = [line - segment.first for line in marks]
    if not starts or starts != sorted(set(starts)) or starts[0] < 1:
        return [], []
    lines, last = segment.lines, 1
    chunks: list[_Chunk] = []
    for number, start in enumerate(starts):
        lead = start
        while lead > last and _is_comment(lines[lead - 1]):
            lead -= 1
        if chunks:
            chunks[-1].lines = list(lines[starts[number - 1]: lead])
        chunks.append(_Chunk(list(lines[lead:start])))
        last = start + 1
    end = len(lines)
    while end > last and _is_comment(lines[end - 1]):
        end -= 1
    chunks[-1].lines = list(lines[starts[-1]: end])
    return chunks, list(lines[end:])


def _is_comment(line: str) -> bool:
    return not line.strip() or line.lstrip().startswith("#")


def _partners(rows: Sequence[Row], before: Sequence[Row]) -> dict[int, int]:
    """Return which old row each new one was: by name, or by position where one was renamed."""
    left: dict[str, list[int]] = {}
    for number, row in enumerate(before):
        left.setdefault(row.name, []).append(number)
    found = {}
    for number, row in enumerate(rows):
        if left.get(row.name):
            found[number] = left[row.name].pop(0)
    spare = {number for numbers in left.values() for number in numbers}
    if len(rows) == len(before):
        found |= {number: number for number in range(len(rows))
                  if number not in found and number in spare}
    return found


def _rewritten(chunk: _Chunk, indent: str, text: str) -> list[str]:
    """Return an entry's new line with the comments that stood in the old ones."""
    inner = [comment for line in chunk.lines if (comment := _comment(line))]
    if len(chunk.lines) == 1:
        return [f"{indent}{text}  {inner[0]}" if inner else indent + text]
    return [*(indent + comment for comment in inner), indent + text]


def _comment(line: str) -> str:
    """Return the comment that ends a line, '' without; a # inside quotes is none."""
    found = re.match(r"""(?:[^"'#]|(?<=\S)#|"(?:[^"\\]|\\.)*"|'[^']*'|(?<=\w)')*?(?:^|\s)(#.*)$""",
                     line)
    return found[1].rstrip() if found else ""

