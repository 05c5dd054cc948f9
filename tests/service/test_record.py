"""The record as PDF: drawing, evidence, before and after, limits with sources, in its text."""

from __future__ import annotations

from pathlib import Path

import pytest

from loomwright.service.jobs import Workshop
from loomwright.service.report import record_pdf
from tests.service.depot_folder import TRUCK_4, depot_in
from tests.service.test_letter import words_of


@pytest.fixture(scope="module")
def text(tmp_path_factory: pytest.TempPathFactory) -> str:
    workshop = Workshop(depot_in(tmp_path_factory.mktemp("record")))
    return words_of(record_pdf(workshop.record(TRUCK_4)))


def test_every_wire_and_part_of_the_drawing_is_in_it(text: str, tmp_path: Path) -> None:
    workshop = Workshop(depot_in(tmp_path))
    circuit = workshop.opened(TRUCK_4)[2].circuit
    words = set(text.split())
    assert [wire for wire in circuit.wires if wire not in words] == []
    assert [part for part in circuit.parts if part not in text] == []
    assert "healthy circuit" in text


@pytest.mark.parametrize("words", [
    "Tailgate lock does not engage, work lamp dim",  # complaint
    "Earth point E2", "Clean and refit earth E2",  # cause, correction
    "Before", "After", "Healthy",  # the table of the proof
    "Proved", "Where it comes from", "Volt drop",  # a limit with its source
    "is worked out from the circuit file",  # the healthy values
])
def test_complaint_cause_correction_and_proof_are_in_it(text: str, words: str) -> None:
    assert words in text
