"""A circuit's text as the editor's tables, with the place of every cell in the text."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from loomwright.circuit.reader.nodes import Entry, Items, Map, Node, Text, parse_yaml
from loomwright.circuit.reader.problems import Problems
from loomwright.circuit.reader.text import check_text
from loomwright.errors import UsageError
from loomwright.service.circuit_editor_cells import flow_text, map_cell
from loomwright.service.circuit_editor_steps import steps_cell

__all__ = ["COLUMNS", "HEAD", "Place", "Rows", "Sheet", "sheet_of"]

COLUMNS: Mapping[str, tuple[str, ...]] = {
    "wires": ("id", "from", "to", "area", "length", "colour"),
    "parts": ("name", "kind", "values", "place", "label"),
    "states": ("state", "set", "should", "minutes"),
    "places": ("place", "reach"),
    "sequences": ("sequence", "steps"),
}
HEAD = ("title", "system", "temperature")
_OWN = frozenset({"kind", "place", "label"})
Rows = tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Sheet:
    """The editor's tables: each a tuple of rows of texts; `head` by its keys."""

    head: Mapping[str, str]
    tables: Mapping[str, Rows]


@dataclass(frozen=True, slots=True, order=True)
class Place:
    """Where in the text a cell begins (line and column count from 1); no table: a top key."""

    line: int
    column: int
    table: str
    row: int
    cell: int


def sheet_of(text: str) -> tuple[Sheet, tuple[Place, ...]]:
    """Return the tables of a circuit's text, and where each cell stands, in order of the text.

    Raises
        FileProblemsError: the text cannot be read as YAML at all
        UsageError: it can, but not be shown as tables
    """
    problems = Problems("circuit")
    node = parse_yaml(check_text(text, problems), problems)
    if node is not None and not isinstance(node, Map):
        raise UsageError("The text is no circuit file, so there are no tables to show.",
                         next_step="Start it with 'loomwright: 1'.")
    top = node.entries if isinstance(node, Map) else {}
    reader = _Reader(top)
    head = {name: _text(top[name].value) if name in top else "" for name in HEAD}
    tables = {"wires": reader.wires(), "parts": reader.parts(), "states": reader.states(),
              "places": reader.places(), "sequences": reader.sequences()}
    return Sheet(head, tables), tuple(sorted(reader.found))


def _text(node: Node) -> str:
    """Return a node as a cell; what nobody knows is an empty cell."""
    if isinstance(node, Text) and node.blank:
        return ""
    return flow_text(node, top=True)


class _Reader:
    """Reads the tables of one text and notes the places of their cells."""

    def __init__(self, top: Mapping[str, Entry]) -> None:
        self.top = top
        self.found = [Place(entry.key.mark.line, entry.key.mark.column, "", -1, 0)
                      for entry in top.values()]

    def _note(self, node: Node, table: str, row: int, cell: int) -> None:
        self.found.append(Place(node.mark.line, node.mark.column, table, row, cell))

    def _entries(self, key: str) -> Iterator[tuple[str, Entry]]:
        """Yield the entries of a section that must be a mapping."""
        node = self.top[key].value if key in self.top else None
        if node is None or (isinstance(node, Text) and node.blank):
            return
        if not isinstance(node, Map):
            raise _unfit(key, node)
        yield from node.entries.items()

    def wires(self) -> Rows:
        """Return the wires, each cell by its column."""
        node = self.top["wires"].value if "wires" in self.top else None
        if node is None or (isinstance(node, Text) and node.blank):
            return ()
        if not isinstance(node, Items):
            raise _unfit("wires", node)
        rows = []
        for number, item in enumerate(node.items):
            self._note(item, "wires", number, 0)
            rows.append(tuple(self._wire(item, number)))
        return tuple(rows)

    def _wire(self, item: Node, number: int) -> Iterator[str]:
        names = COLUMNS["wires"]
        cells: dict[str, Node] = {}
        if isinstance(item, Map):
            cells = {name: entry.value for name, entry in item.entries.items()}
        elif isinstance(item, Items):
            cells = {names[at] if at < len(names) else str(at): one
                     for at, one in enumerate(item.items)}
        if not cells or set(cells) - set(names):
            raise _unfit("wires", item)
        for at, name in enumerate(names):
            if name in cells:
                self._note(cells[name], "wires", number, at)
            yield _text(cells[name]) if name in cells else ""

    def parts(self) -> Rows:
        """Return the parts: what is neither kind, place nor label is in one cell of values."""
        rows = []
        for number, (name, entry) in enumerate(self._entries("parts")):
            self._note(entry.key, "parts", number, 0)
            node = entry.value
            if not isinstance(node, Map):
                if isinstance(node, Text) and node.blank:
                    rows.append((name, "", "", "", ""))
                    continue
                raise _unfit(f"part {name}", node)
            self._note_values(node, number)
            own = {key: _text(node.entries[key].value) if key in node.entries else ""
                   for key in _OWN}
            rows.append((name, own["kind"], map_cell(node.entries, _OWN), own["place"],
                         own["label"]))
        return tuple(rows)

    def _note_values(self, node: Map, number: int) -> None:
        self._note(node, "parts", number, 2)
        for key, entry in node.entries.items():
            cell = COLUMNS["parts"].index(key) if key in _OWN else 2
            self._note(entry.key, "parts", number, cell)

    def states(self) -> Rows:
        """Return the states, each with what should be on and the minutes to set it."""
        cells: dict[str, list[str]] = {}
        numbers: dict[str, int] = {}
        for at, key in enumerate(("states", "should", "setup"), 1):
            for name, entry in self._entries(key):
                row = cells.setdefault(name, ["", "", ""])
                number = numbers.setdefault(name, len(numbers))
                self._note(entry.key, "states", number, 0 if at == 1 else at)
                self._note(entry.value, "states", number, at)
                node = entry.value
                row[at - 1] = map_cell(node.entries) if isinstance(node, Map) else _text(node)
        return tuple((name, *rest) for name, rest in cells.items())

    def places(self) -> Rows:
        """Return the places with the minutes to reach them."""
        rows = []
        for number, (name, entry) in enumerate(self._entries("places")):
            self._note(entry.key, "places", number, 0)
            node = entry.value
            if isinstance(node, Map) and set(node.entries) == {"reach"}:
                node = node.entries["reach"].value
            self._note(node, "places", number, 1)
            rows.append((name, _text(node)))
        return tuple(rows)

    def sequences(self) -> Rows:
        """Return the sequences of states, the steps of each in one cell."""
        rows = []
        for number, (name, entry) in enumerate(self._entries("sequences")):
            self._note(entry.key, "sequences", number, 0)
            self._note(entry.value, "sequences", number, 1)
            steps = steps_cell(entry.value)
            if steps is None:
                raise _unfit(f"sequence {name}", entry.value)
            rows.append((name, steps))
        return tuple(rows)


def _unfit(what: str, node: Node) -> UsageError:
    return UsageError(f"Line {node.mark.line}: '{what}' is not written as a table can show it.",
                      next_step="Correct it in the text.")
