"""The circuit editor's use case: tables from text and back, comments, problems by cell, guesses."""

from __future__ import annotations

import dataclasses
from importlib.resources import files

import pytest

from loomwright.circuit import read_circuit_text
from loomwright.circuit.exchange import gauge_area_mm2
from loomwright.circuit.model import Circuit
from loomwright.circuit.templates import template_names, template_text
from loomwright.errors import UsageError
from loomwright.service.circuit_editor import Draft, check_draft, pasted_wires, sheet_from
from loomwright.service.circuit_editor_sheet import Sheet, sheet_of
from loomwright.service.circuit_editor_text import text_with

DEMO = (files("loomwright.demo") / "tailgate_lock.yaml").read_text(encoding="utf-8")
COMMENTED = """\
# From the paper at bench 2
loomwright: 1   # the form
title: Work lamp  # painted over
system: 12 V
parts:
  # by the battery
  BAT: {kind: battery}
  F1: {kind: fuse, rating: 10 A}  # blue one
  H1:
    kind: lamp   # hot
    power: 21 W
  E1: {kind: earth}
wires:
  - [W1, BAT.+, F1.1]
  # behind the dash
  - [W2, F1.2, H1.1]   # chafed
  - [W3, H1.2, E1]
# the end
"""
WIRES = [["W1", "BAT.+", "F1:1", "2,5", "1,2", "rd"], ["W2", "F1.2", "S1.1", "AWG 14", "", "red"],
         ["W3", "S1.2", "X1.1a", "", "", "gy/rd"], ["W4", "X1.1b", "H1.1", "", "", ""],
         ["W5", "H1.2", "E1", "", "", "bn"]]


def sheet(head: dict[str, str] | None = None, **tables: list[list[str]]) -> Sheet:
    return sheet_from(head or {"system": "12"}, tables)


def changed(found: Sheet, table: str, row: int, cell: int, value: str) -> Sheet:
    rows = [list(one) for one in found.tables[table]]
    rows[row][cell] = value
    return Sheet(found.head, {**found.tables, table: tuple(tuple(one) for one in rows)})


def without_marks(circuit: Circuit) -> Circuit:
    return dataclasses.replace(
        circuit, sequences={},  # the tables have none; in their own text they stay
        parts={name: dataclasses.replace(part, mark=None) for name, part in circuit.parts.items()},
        wires={name: dataclasses.replace(wire, mark=None) for name, wire in circuit.wires.items()})


@pytest.mark.parametrize("name", template_names())
def test_every_template_goes_through_the_tables_unchanged(name: str) -> None:
    text = template_text(name)
    found, _ = sheet_of(text)
    assert text_with(text, found) == text
    afresh = text_with("", found)
    assert without_marks(read_circuit_text(afresh)) == without_marks(read_circuit_text(text))


def test_a_changed_cell_changes_one_line() -> None:
    found, _ = sheet_of(DEMO)
    text = text_with(DEMO, changed(found, "wires", 3, 3, "1,5"))
    before, after = DEMO.splitlines(), text.splitlines()
    assert [line for line in after if line not in before] == [
        "  - [W4, S1.2, K3.86, 1.5 mm2, 1 m, BK]"]
    assert len(after) == len(before)


def test_comments_outlive_every_change() -> None:
    found, _ = sheet_of(COMMENTED)
    found = changed(found, "wires", 1, 3, "1.5 mm2")
    found = changed(found, "parts", 2, 2, "power: 5 W")
    found = changed(found, "parts", 0, 3, "box")
    found = Sheet({**found.head, "title": "Rear lamp"}, found.tables)
    text = text_with(COMMENTED, found)
    for comment in ("# From the paper", "# the form", "# painted over", "# by the battery",
                    "# blue one", "# hot", "# behind the dash", "# chafed", "# the end"):
        assert comment in text
    assert "  - [W2, F1.2, H1.1, 1.5 mm2]  # chafed" in text
    gone = Sheet(found.head, {**found.tables, "wires": found.tables["wires"][::2]})
    assert "# behind the dash" in text_with(COMMENTED, gone)


def test_what_a_person_types_becomes_the_file() -> None:
    made = check_draft(Draft("", sheet(
        {"system": "12", "title": "Lamp"}, wires=WIRES,
        parts=[["BAT", "battery", "", "", ""], ["F1", "fuse", "10 A", "", ""],
               ["S1", "switch", "lamp switch", "dash", "Lamps, rear"],
               ["H1", "lamp", "55 W", "", ""],
               ["X1", "connector", "1", "", ""], ["E1", "earth", "", "", ""]],
        states=[["off", "", "H1: off", ""], ["on", "lamp switch: yes", "H1: on", "0,5"]])))
    assert (made.findings, made.notes, made.state) == ((), (), "on")
    circuit = read_circuit_text(made.text)
    assert circuit.wires["W2"].area_mm2 == pytest.approx(2.08)  # AWG 14, ASTM B258
    assert (circuit.wires["W1"].colour, circuit.wires["W2"].colour) == ("RD", "RD")
    assert circuit.parts["F1"].params["rating_a"] == 10.0
    assert circuit.parts["S1"].label == "Lamps, rear"
    assert circuit.minutes_to_set == {"on": 0.5}
    assert made.drawing.startswith("<svg")


def test_parts_are_guessed_from_wires_and_drawn_at_once() -> None:
    made = check_draft(Draft("", sheet(wires=WIRES)))
    assert [(one.name, one.kind, one.values) for one in made.guesses] == [
        ("BAT", "battery", ""), ("F1", "fuse", ""), ("S1", "switch", ""),
        ("X1", "connector", "ways: 1"), ("H1", "lamp", ""), ("E1", "earth", "")]
    assert "<svg" in made.drawing
    assert "H1.2" in made.points
    typing = check_draft(Draft("", sheet(wires=WIRES), typing=4))
    assert "E1" not in {one.name for one in typing.guesses}
    assert "E1" in typing.named


def test_problems_name_their_cell() -> None:
    found, _ = sheet_of(DEMO)
    found = changed(changed(found, "wires", 2, 2, "S1.9"), "parts", 4, 2, "rating: ten")
    found = changed(found, "states", 1, 2, "Y7: on")
    made = check_draft(Draft(DEMO, found))
    assert {(one.table, one.row, one.cell) for one in made.findings} == {
        ("wires", 2, 2), ("parts", 4, 2), ("states", 1, 2)}
    assert all(one.line > 1 for one in made.findings)
    assert "<svg" in made.drawing
    assert made.drawing_note.startswith("Drawn without")


def test_problems_name_their_cell_below_empty_and_nameless_rows() -> None:
    made = check_draft(Draft("", sheet(
        wires=[[""] * 6, ["", "A.1", "", "", "", ""], ["W3", "B1.7", "E1", "", "", ""]],
        parts=[["BAT", "battery", "", "", ""], ["BAT", "fuse", "", "", ""], ["", "", "", "", ""],
               ["B1", "lamp", "", "", ""], ["E1", "earth", "", "", ""]])))
    places = {(one.table, one.row, one.cell): one.what for one in made.findings}
    assert "no name" in places["wires", 1, 0]
    assert "twice" in places["parts", 1, 0]
    assert "no pin '7'" in places["wires", 2, 1]


@pytest.mark.parametrize("typed", ["rating 10 A}", "rating: [", "rating: 10 A, }{", "a: &b c", "x"])
def test_values_that_cannot_be_read_are_kept_and_said(typed: str) -> None:
    made = check_draft(Draft("", sheet(parts=[["BAT", "battery", "", "", ""],
                                              ["F1", "fuse", typed, "", ""]])))
    assert ("parts", 1, 2) in {(one.table, one.row, one.cell) for one in made.findings}
    assert f"# not readable yet: {typed}" in made.text
    assert "kind: fuse" in made.text


def test_text_that_is_no_table_says_so_and_keeps_its_problems() -> None:
    broken = check_draft(Draft("parts: {"))
    assert broken.sheet is None
    assert len(broken.findings) == 1
    assert broken.no_sheet
    inside = check_draft(Draft(
        "{loomwright: 1, system: 12 V, parts: {BAT: {kind: battery}}, wires: []}"))
    assert inside.sheet is not None
    with pytest.raises(UsageError, match="inside brackets"):
        check_draft(Draft("{loomwright: 1}", sheet()))
    assert check_draft(Draft("- a")).sheet is None
    assert check_draft(Draft("parts: [a]")).sheet is None


def test_a_pasted_wire_list_is_read_by_its_header() -> None:
    rows = pasted_wires("Wire\tFrom\tTo\tSize (mm²)\tLength cm\tColor\n"
                        "W7\tBAT:+\tF1:1\t2,5\t120\tred\n")
    assert rows == (("W7", "BAT.+", "F1.1", "2,5 mm2", "120 cm", "red"),)
    made = check_draft(Draft("", sheet(wires=[list(rows[0])])))
    assert "- [W7, BAT.+, F1.1, 2.5 mm2, 120 cm, RD]" in made.text
    by_gauge = pasted_wires("from,from pin,to,awg\nBAT,+,F1.1,14\n")
    assert by_gauge == (("", "BAT.+", "F1.1", "14 awg", "", ""),)
    assert pasted_wires("W1\tBAT.+\tF1.1\n") is None


def test_gauges_are_those_of_the_table() -> None:
    # Areas of common gauges as tables of ASTM B258 print them (from memory), in mm2.
    for gauge, area in (("AWG 10", 5.26), ("14 awg", 2.08), ("20 AWG", 0.518), ("4/0 AWG", 107.2)):
        assert gauge_area_mm2(gauge) == pytest.approx(area, rel=2e-3)  # the tables' last digit
    assert gauge_area_mm2("14") is None


def test_tables_are_bounded() -> None:
    with pytest.raises(UsageError, match="not those"):
        sheet_from({}, {"users": []})
    with pytest.raises(UsageError, match="at most"):
        sheet_from({}, {"wires": [["x" * 3000]]})
    with pytest.raises(UsageError, match="is the most"):
        check_draft(Draft("#" * 600_000))
