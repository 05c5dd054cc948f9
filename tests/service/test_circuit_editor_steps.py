"""Sequences in the editor's table: steps in words, there and back, and what is no step."""

from __future__ import annotations

import pytest

from loomwright.circuit import read_circuit_text
from loomwright.service.circuit_editor import Draft, check_draft, sheet_from
from loomwright.service.circuit_editor_sheet import sheet_of
from loomwright.service.circuit_editor_steps import steps_text
from loomwright.service.circuit_editor_text import text_with
from loomwright.service.templates import fill_template

TIMED = ("indicators", "glow-plugs", "wipers")  # templates with sequences


def tables_of(text: str) -> dict[str, list[list[str]]]:
    return {name: [list(row) for row in rows] for name, rows in sheet_of(text)[0].tables.items()}


@pytest.mark.parametrize("name", TIMED)
def test_a_template_s_sequences_come_back_as_they_were(name: str) -> None:
    text = fill_template(name, {}).text
    tables, circuit = tables_of(text), read_circuit_text(text)
    assert [row[0] for row in tables["sequences"]] == list(circuit.sequences)
    assert text_with(text, sheet_of(text)[0]) == text  # nothing changed, nothing written
    rows = [[f"{row[0]} again", row[1]] for row in tables["sequences"]]
    written = text_with(text, sheet_from(sheet_of(text)[0].head, {**tables, "sequences": rows}))
    again = read_circuit_text(written).sequences
    for before, after in zip(circuit.sequences.values(), again.values(), strict=True):
        assert [(one.state, one.for_s, one.until) for one in after] == [
            (one.state, one.for_s, one.until) for one in before]  # their marks differ
    assert list(again) == [row[0] for row in rows]


def test_a_typed_sequence_is_read() -> None:
    text = fill_template("horn", {}).text
    state = next(iter(read_circuit_text(text).states))
    tables = {**tables_of(text), "sequences": [["twice", f"{state} for 1 s; {state} for 2 s"]]}
    head = sheet_of(text)[0].head
    checked = check_draft(Draft(text, sheet_from(head, tables)))
    assert checked.findings == ()
    steps = read_circuit_text(checked.text).sequences["twice"]
    assert len(steps) == 2
    assert checked.sheet is not None
    assert checked.sheet.tables["sequences"] == (("twice", f"{state} for 1 s; {state} for 2 s"),)


@pytest.mark.parametrize(("cell", "said"), [
    ("sounding", "is no step"), ("sounding for", "is no step"), ("", "has no steps"),
    ("sounding for 1 s; then", "'then' is no step")])
def test_what_is_no_step_is_told_at_its_cell_and_kept(cell: str, said: str) -> None:
    assert said in steps_text(cell)[1]
    text = fill_template("horn", {}).text
    tables = {**tables_of(text), "sequences": [["once", cell]]}
    checked = check_draft(Draft(text, sheet_from(sheet_of(text)[0].head, tables)))
    found = [one for one in checked.findings if one.table == "sequences"]
    assert [(one.row, one.cell) for one in found][:1] == [(0, 1)]
    assert cell in checked.text


def test_a_draft_without_the_table_leaves_the_file_s_sequences_alone() -> None:
    text = fill_template("wipers", {}).text
    tables = tables_of(text)
    del tables["sequences"]
    assert text_with(text, sheet_from(sheet_of(text)[0].head, tables)) == text
