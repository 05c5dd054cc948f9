"""Reads what a readings file tells beside its readings: codes, swaps, history, meter, consent.

Where nothing but readings is told the file is a plain list; otherwise a mapping with `readings`.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar

from loomwright.circuit.model import Circuit, Mark
from loomwright.circuit.reader.fields import Limits, as_map, as_text, check_keys, on_or_off
from loomwright.circuit.reader.fields import quantity as a_quantity
from loomwright.circuit.reader.nodes import Entry, Items, Map, Node, Text, parse_yaml
from loomwright.circuit.reader.problems import Problems, shown_list
from loomwright.circuit.reader.text import check_text, read_text

__all__ = ["TOP_KEYS", "CodeRemark", "HistoryRemark", "MeterRemark", "Remarks", "SwapRemark",
           "read_remarks", "read_remarks_text"]

TOP_KEYS = ("readings", "codes", "swapped", "history", "meter", "agreed")
MISS, FALSE_ALARM = 0.2, 0.05  # share of faults a code misses, of vehicles it is stored on; assumed
WEIGHT = 10.0  # how much likelier a fault is where somebody worked just before it; assumed
_MOST = 40
_MOST_WEIGHT = 1000.0
_One = TypeVar("_One")
_RESULTS = {"no change": "no change", "same": "no change", "gone": "gone", "cured": "gone"}


@dataclass(frozen=True, slots=True)
class CodeRemark:
    """A trouble code in our own words, and the elements or `ECU.output` it speaks about.

    `stored` False: it is not stored. `miss`: share of such faults without the code; `false_alarm`:
    share of vehicles without such a fault that have it stored.
    """

    code: str
    about: tuple[str, ...]
    stored: bool = True
    miss: float = MISS
    false_alarm: float = FALSE_ALARM


@dataclass(frozen=True, slots=True)
class SwapRemark:
    """A part swapped for a known good one; `gone`: the complaint went with the old part."""

    part: str
    gone: bool = False


@dataclass(frozen=True, slots=True)
class HistoryRemark:
    """What happened before the fault; faults of what was touched are `weight` times likelier.

    `added`: something was fitted that the circuit file does not show.
    """

    what: str
    touched: tuple[str, ...]
    weight: float = WEIGHT
    added: bool = False


@dataclass(frozen=True, slots=True)
class MeterRemark:
    """The meter that was used: one sigma as a share of the value, and its smallest step [V]."""

    accuracy: float | None = None
    step_v: float | None = None


@dataclass(frozen=True, slots=True)
class Remarks:
    """All that is told beside the readings. `agreed`: a person agreed to a second part."""

    codes: tuple[CodeRemark, ...] = ()
    swapped: tuple[SwapRemark, ...] = ()
    history: tuple[HistoryRemark, ...] = ()
    meter: MeterRemark = field(default_factory=MeterRemark)
    agreed: bool = False

    @property
    def any_clue(self) -> bool:
        """Whether there is evidence beside the readings."""
        return bool(self.codes or self.swapped or self.history)


def read_remarks(path: str | Path, circuit: Circuit) -> Remarks:
    """Read what a readings file tells beside its readings; names are checked against the circuit.

    Raises
        UsageError: the path is missing, a folder, not readable, or the file is over 1 MB
        FileProblemsError: everything wrong in it, each with line, column and fix
    """
    return read_remarks_text(read_text(Path(path)), circuit, str(path))


def read_remarks_text(text: str, circuit: Circuit, file: str = "readings") -> Remarks:
    """Read remarks from the text of a readings file; see `read_remarks`."""
    problems = Problems(file)
    node = parse_yaml(check_text(text, problems), problems)
    if not isinstance(node, Map):
        problems.stop()
        return Remarks()
    reader = _Reader(circuit, problems)
    entries = {name: entry.value for name, entry in node.entries.items() if name in TOP_KEYS}
    found = Remarks(
        codes=reader.listed(entries.get("codes"), "codes", reader.code),
        swapped=reader.listed(entries.get("swapped"), "swapped", reader.swap),
        history=reader.listed(entries.get("history"), "history", reader.past),
        meter=reader.meter(entries.get("meter")),
        agreed=reader.flag(entries.get("agreed"), "'agreed'", False),
    )
    problems.stop()
    return found


class _Reader:
    """Reads the parts of one file; what is wrong is noted, never raised."""

    def __init__(self, circuit: Circuit, problems: Problems) -> None:
        self._problems = problems
        self._circuit = circuit
        self._parts = tuple(circuit.parts)
        ways = [point[:-1] for part in circuit.parts.values() if part.kind == "connector"
                for point in part.points() if point.endswith("a")]
        self._elements = (*circuit.wires, *circuit.parts, *ways)
        self._items = tuple(_items(circuit))

    def listed(self, node: Node | None, what: str,
               read: Callable[[Mapping[str, Entry], Mark], _One]) -> tuple[_One, ...]:
        """Return each entry of a list of mappings."""
        if node is None or (isinstance(node, Text) and node.blank):
            return ()
        if not isinstance(node, Items) or len(node.items) > _MOST:
            self._problems.add(node.mark, f"'{what}' is a list of at most {_MOST} entries.",
                               "Start each entry with '- '.")
            return ()
        return tuple(read(as_map(one, f"An entry of '{what}'", self._problems), one.mark)
                     for one in node.items)

    def code(self, entries: Mapping[str, Entry], mark: Mark) -> CodeRemark:
        """Return one trouble code."""
        keys = ("code", "about", "stored", "miss", "false alarm")
        check_keys(entries, keys, "a code", self._problems)
        return CodeRemark(
            self._text(entries, "code", mark),
            self._names(entries, "about", (*self._elements, *self._items), mark),
            self.flag(_value(entries, "stored"), "'stored'", True),
            self._share(entries, "miss", MISS), self._share(entries, "false alarm", FALSE_ALARM))

    def swap(self, entries: Mapping[str, Entry], mark: Mark) -> SwapRemark:
        """Return one part swapped."""
        check_keys(entries, ("part", "result"), "a swap", self._problems)
        part = self._text(entries, "part", mark)
        if part and part not in self._parts:
            self._problems.unknown(entries["part"].value.mark, f"There is no part '{part}'.", part,
                                   self._parts)
        result = self._text(entries, "result", mark).lower()
        if result and result not in _RESULTS:
            self._problems.add(entries["result"].value.mark, f"'{result}' is no result of a swap.",
                               f"Use {shown_list(_RESULTS)}.")
        return SwapRemark(part, _RESULTS.get(result) == "gone")

    def past(self, entries: Mapping[str, Entry], mark: Mark) -> HistoryRemark:
        """Return one thing that happened before the fault."""
        check_keys(entries, ("what", "touched", "weight", "added"), "history", self._problems)
        weight = self._weight(_value(entries, "weight"))
        added = self.flag(_value(entries, "added"), "'added'", False)
        known = (*self._elements, *self._circuit.places)
        wanted = mark if not added else None
        return HistoryRemark(self._text(entries, "what", mark),
                             self._names(entries, "touched", known, wanted),
                             weight, added)

    def meter(self, node: Node | None) -> MeterRemark:
        """Return the meter's accuracy and step."""
        if node is None:
            return MeterRemark()
        entries = as_map(node, "'meter'", self._problems)
        check_keys(entries, ("accuracy", "step"), "the meter", self._problems)
        accuracy = step = None
        if "accuracy" in entries:
            accuracy = a_quantity(entries["accuracy"].value, "%", "'accuracy'",
                                  Limits(0.0, 20.0), self._problems)
        if "step" in entries:
            step = a_quantity(entries["step"].value, "V", "'step'", Limits(0.0, 10.0, above=True),
                              self._problems)
        return MeterRemark(None if accuracy is None else accuracy / 100.0, step)

    def _weight(self, node: Node | None) -> float:
        text = "" if node is None else as_text(node, "'weight'", self._problems)
        if node is None or not text:
            return WEIGHT
        try:
            value = float(text)
        except ValueError:
            value = 0.0
        if not 1.0 <= value <= _MOST_WEIGHT:
            self._problems.add(node.mark, f"'weight': '{text}' is out of range.",
                               f"Write a number from 1 to {_MOST_WEIGHT:g}.")
            return WEIGHT
        return value

    def flag(self, node: Node | None, what: str, usual: bool) -> bool:
        """Return yes or no."""
        text = "" if node is None else as_text(node, what, self._problems)
        if node is None or not text:
            return usual
        word = on_or_off(text)
        if not word:
            self._problems.add(node.mark, f"{what} is yes or no, not '{text}'.", "Write yes or no.")
        return word == "on"

    def _text(self, entries: Mapping[str, Entry], key: str, mark: Mark) -> str:
        text = as_text(entries[key].value, f"'{key}'", self._problems) if key in entries else ""
        if not text:
            self._problems.add(mark, f"This entry has no '{key}'.", "Add it.")
        return text

    def _share(self, entries: Mapping[str, Entry], key: str, usual: float) -> float:
        if key not in entries:
            return usual
        value = a_quantity(entries[key].value, "%", f"'{key}'", Limits(0.1, 99.9), self._problems)
        return usual if value is None else value / 100.0

    def _names(self, entries: Mapping[str, Entry], key: str, known: tuple[str, ...],
               mark: Mark | None) -> tuple[str, ...]:
        """Return one name or a list of names; `mark` None: there may be none."""
        node = _value(entries, key)
        nodes = node.items if isinstance(node, Items) else () if node is None else (node,)
        names = []
        for one in nodes[:_MOST]:
            name = as_text(one, f"'{key}'", self._problems)
            if name and name not in known:
                self._problems.unknown(one.mark, f"There is no '{name}'.", name, known)
            names.append(name)
        if not any(names) and mark is not None:
            self._problems.add(mark, f"This entry has no '{key}'.", "Name what it concerns.")
        return tuple(dict.fromkeys(name for name in names if name))


def _value(entries: Mapping[str, Entry], key: str) -> Node | None:
    return entries[key].value if key in entries else None


def _items(circuit: Circuit) -> list[str]:
    """Return the inputs and outputs of all controllers as `ECU.lock`."""
    found = []
    for part in circuit.parts.values():
        for key in ("inputs", "outputs"):
            value = part.params.get(key)
            if isinstance(value, tuple):
                found += [f"{part.id}.{item.id}" for item in value if not isinstance(item, str)]
    return found
