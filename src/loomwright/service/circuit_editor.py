"""The circuit editor: what a half-typed circuit says, what it looks like, what it still needs.

The file stays plain text. Tables are one view of it: they are read from the text, and what is
changed in them is written back into it.
"""

from __future__ import annotations

import bisect
import functools
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from loomwright.circuit import DrawingOptions, draw_circuit, read_circuit_text, solve
from loomwright.circuit.exchange import pasted_cells
from loomwright.circuit.kinds import KINDS
from loomwright.circuit.reader.colours import COLOURS
from loomwright.errors import FileProblemsError, LoomwrightError, UsageError
from loomwright.service.circuit_editor_cells import guessed_kind, kind_hint, part_of
from loomwright.service.circuit_editor_rows import CellProblem, cell_problems, used_rows
from loomwright.service.circuit_editor_sheet import COLUMNS, HEAD, Place, Rows, Sheet, sheet_of
from loomwright.service.circuit_editor_text import EMPTY, text_with
from loomwright.service.circuit_size import check_size
from loomwright.service.templates import circuit_notes

if TYPE_CHECKING:
    from loomwright.circuit.model import Circuit

__all__ = ["Checked", "Draft", "Finding", "Guess", "check_draft", "colour_names", "kind_names",
           "pasted_wires", "sheet_from"]

MAX_TEXT = 500_000  # characters, as for the circuit of a job
MAX_ROWS = 2_000
MAX_CELL = 2_000
TRIES = 5  # to find what of a half-typed circuit can be drawn
MOST_TRIED = 1_000  # rows; a circuit that can be searched has some hundred
MOST_SHOWN = 100


@dataclass(frozen=True, slots=True)
class Draft:
    """A circuit as it stands in the editor.

    `sheet` with the text it began from in `base`, or without tables the `base` alone. `typing` is
    the wire row being typed in: parts it names are not offered yet. `state` is the one to draw.
    """

    base: str
    sheet: Sheet | None = None
    state: str = ""
    typing: int = -1


@dataclass(frozen=True, slots=True)
class Finding:
    """A problem: its place in the text, and its cell where the tables have it ('' elsewhere)."""

    line: int
    column: int
    what: str
    fix: str
    table: str = ""
    row: int = -1
    cell: int = -1


@dataclass(frozen=True, slots=True)
class Guess:
    """A part that wires name and the parts do not list, with its likeliest kind and values."""

    name: str
    kind: str
    values: str


@dataclass(frozen=True, slots=True)
class Checked:
    """What the program makes of a draft.

    `sheet` is None where the text cannot be shown as tables; `no_sheet` says why. `drawing` is ''
    where nothing can be drawn yet. `notes` say what a healthy circuit does not do as it should.
    """

    text: str
    sheet: Sheet | None
    no_sheet: str
    findings: tuple[Finding, ...]
    drawing: str = ""
    drawing_note: str = ""
    states: tuple[str, ...] = ()
    state: str = ""
    points: tuple[str, ...] = ()
    guesses: tuple[Guess, ...] = ()
    named: tuple[str, ...] = ()
    hints: tuple[str, ...] = ()
    notes: tuple[str, ...] = ()


def sheet_from(head: Mapping[str, str], tables: Mapping[str, Sequence[Sequence[str]]]) -> Sheet:
    """Return tables as sent by a browser, bounded. Raises UsageError where they are no tables."""
    if set(tables) - set(COLUMNS) or set(head) - set(HEAD):
        raise UsageError("The tables sent are not those of this editor.",
                         next_step="Load the page again.")
    cells = [cell for rows in tables.values() for row in rows for cell in row]
    if any(len(rows) > MAX_ROWS for rows in tables.values()) \
            or any(len(cell) > MAX_CELL for cell in [*cells, *head.values()]):
        raise UsageError(f"A table has at most {MAX_ROWS} rows and a cell {MAX_CELL} characters.",
                         next_step="Keep to the part of the vehicle that the job is about.")
    return Sheet({name: head.get(name, "") for name in HEAD},
                 {name: tuple(_padded(row, len(columns)) for row in tables.get(name, ()))
                  for name, columns in COLUMNS.items() if name in tables or name != "sequences"})


def _padded(row: Sequence[str], width: int) -> tuple[str, ...]:
    return tuple([*row, *[""] * width][:width])


def check_draft(draft: Draft) -> Checked:
    """Return what the program makes of a draft: text, problems, drawing, what is missing.

    Raises UsageError where the draft is too long.
    """
    if len(draft.base) > MAX_TEXT:
        raise UsageError(f"The circuit has {len(draft.base)} characters; {MAX_TEXT} is the most.",
                         next_step="Keep to the part of the vehicle that the job is about.")
    bad: tuple[CellProblem, ...] = ()
    text, kept = draft.base or EMPTY, None
    if draft.sheet is not None:
        bad = cell_problems(draft.sheet)
        text = text_with(draft.base, draft.sheet)
        kept = _kept_rows(draft.sheet, bad)
    try:
        sheet, places = sheet_of(text)
    except FileProblemsError as error:
        return Checked(text, None, "The tables come back when the text can be read.",
                       _findings(error, (), None))
    except UsageError as error:
        return Checked(text, None, f"{error.message} {error.next_step}", _read(text)[1])
    if any(len(rows) > MAX_ROWS for rows in sheet.tables.values()):
        return Checked(text, None, f"A table has at most {MAX_ROWS} rows; this circuit has more.",
                       _read(text)[1][:MOST_SHOWN])
    circuit, findings = _read(text, places, kept)
    cells = tuple(Finding(0, 0, one.what, one.fix, one.table, one.row, one.cell) for one in bad)
    shown = replace(_seen(draft, sheet, circuit, findings), text=text)
    return replace(shown, sheet=draft.sheet or sheet, findings=(*cells, *findings)[:MOST_SHOWN])


def _kept_rows(sheet: Sheet, bad: Iterable[CellProblem]) -> dict[str, tuple[int, ...]]:
    """Return which rows of the tables became entries of the text."""
    nameless = {(one.table, one.row) for one in bad if one.cell == 0}
    return {table: tuple(row for row in used_rows(rows) if (table, row) not in nameless)
            for table, rows in sheet.tables.items()}


def _read(text: str, places: Sequence[Place] = (),
          kept: Mapping[str, Sequence[int]] | None = None
          ) -> tuple[Circuit | None, tuple[Finding, ...]]:
    """Return the circuit, or its problems with their cells."""
    try:
        return read_circuit_text(text), ()
    except FileProblemsError as error:
        return None, _findings(error, places, kept)


def _findings(error: FileProblemsError, places: Sequence[Place],
              kept: Mapping[str, Sequence[int]] | None) -> tuple[Finding, ...]:
    """Return the problems of a text, each with the last cell that begins before it."""
    found = []
    begins = [(one.line, one.column) for one in places]
    for one in error.problems:
        at = bisect.bisect_right(begins, (one.line, one.column)) - 1
        finding = Finding(one.line, one.column, one.what, one.fix)
        if at >= 0 and places[at].table:
            place = places[at]
            rows = kept[place.table] if kept is not None else range(place.row + 1)
            finding = replace(finding, table=place.table, row=rows[place.row], cell=place.cell)
        found.append(finding)
    return tuple(found)


def _seen(draft: Draft, sheet: Sheet, circuit: Circuit | None, findings: Sequence[Finding]
          ) -> Checked:
    """Return drawing, suggestions and missing parts of a circuit, as far as it can be read."""
    shown = draft.sheet or sheet
    named = _named(shown.tables["wires"], -1)
    listed = {" ".join(row[0].split()) for row in shown.tables["parts"]}
    guesses = _guesses(_named(shown.tables["wires"], draft.typing), listed)
    note = ""
    if circuit is None:
        circuit, note = _drawable(sheet, _guesses(named, listed))
    found = Checked("", shown, "", (), guesses=guesses, named=tuple(named),
                    hints=tuple(kind_hint(row[1].strip()) for row in shown.tables["parts"]))
    if circuit is None:
        return replace(found, drawing_note="Nothing can be drawn yet.")
    state = draft.state if draft.state in circuit.states else _busiest(circuit)
    try:
        check_size(circuit)
        title = "" if circuit.title else f"{circuit.system_v:g} V, {state}"
        drawing = draw_circuit(circuit, solve(circuit, state), DrawingOptions(title=title))
        notes = circuit_notes(circuit) if not note else ()
    except LoomwrightError as error:
        return replace(found, drawing_note=error.message, points=_points(circuit, shown))
    return replace(found, drawing=drawing, notes=notes, drawing_note=note, state=state,
                   states=tuple(circuit.states), points=_points(circuit, shown))


def _named(wires: Rows, typing: int) -> dict[str, frozenset[str]]:
    """Return the parts that wires name, each with the pins named; `typing` is left out."""
    found: dict[str, set[str]] = {}
    for number, row in enumerate(wires):
        for end in row[1:3] if number != typing else ():
            part, pin = part_of(end)
            if re.fullmatch(r"[\w-]{1,40}", part):
                found.setdefault(part, set()).add(pin)
    return {name: frozenset(pins) for name, pins in found.items()}


def _guesses(named: Mapping[str, frozenset[str]], listed: Iterable[str]) -> tuple[Guess, ...]:
    """Return the parts that are named and not listed."""
    known, found = set(listed), []
    for name, pins in named.items():
        if name in known:
            continue
        kind = guessed_kind(name, pins)
        values = ""
        if kind == "connector":
            ways = max((int(pin[:-1]) for pin in pins if pin[:-1].isdigit()), default=1)
            values = f"ways: {ways}"
        elif kind == "relay" and "87a" in pins:
            values = "changeover: yes"
        found.append(Guess(name, kind, values))
    return tuple(found)


def _drawable(sheet: Sheet, guesses: Sequence[Guess]) -> tuple[Circuit | None, str]:
    """Return what of a half-typed circuit can be read, and what was left out."""
    if len(guesses) + sum(map(len, sheet.tables.values())) > MOST_TRIED:
        return None, ""  # each try reads all of it again
    rows = tuple((one.name, one.kind, one.values, "", "") for one in guesses)
    head = dict(sheet.head)
    head["system"] = head.get("system") or "12 V"
    sheet = Sheet(head, {**sheet.tables, "parts": (*sheet.tables["parts"], *rows)})
    left_out: list[str] = []
    for _ in range(TRIES):
        text = text_with(EMPTY, sheet)
        circuit, findings = _read(text, sheet_of(text)[1],
                                  _kept_rows(sheet, cell_problems(sheet)))
        if circuit is not None:
            names = ", ".join(dict.fromkeys(left_out))
            return circuit, f"Drawn without {names}." if names else ""
        drop = {(one.table, one.row) for one in findings if one.table}
        if not drop:
            return None, ""
        left_out += [sheet.tables[table][row][0] for table, row in sorted(drop)]
        sheet = Sheet(head, {table: tuple(row for number, row in enumerate(rows)
                                          if (table, number) not in drop)
                             for table, rows in sheet.tables.items()})
    return None, ""


def _busiest(circuit: Circuit) -> str:
    """Return the state in which most should be on, the last one of equals."""
    def wanted(state: str) -> int:
        return list(circuit.should.get(state, {}).values()).count("on")

    return max(reversed(tuple(circuit.states)), key=wanted)


def _points(circuit: Circuit, sheet: Sheet) -> tuple[str, ...]:
    """Return the points a wire can go to, those without a wire first."""
    used = {end for row in sheet.tables["wires"] for end in row[1:3]}
    return tuple(sorted(circuit.points(), key=lambda point: point in used))


def pasted_wires(text: str) -> Rows | None:
    """Return the rows of a pasted wire list, or None where it has no header that is known."""
    if len(text) > MAX_TEXT:
        raise UsageError("That is too much to paste.", next_step="Paste a part of it.")
    found = pasted_cells(text)
    if found is None:
        return None
    return tuple(tuple(row[name] for name in COLUMNS["wires"]) for row in found[:MAX_ROWS])


@functools.cache
def kind_names() -> tuple[str, ...]:
    """Return the kinds of part, as they are typed."""
    return tuple(KINDS)


def colour_names() -> Mapping[str, str]:
    """Return the codes of wire colours with their words."""
    return COLOURS
