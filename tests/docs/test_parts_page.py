"""The page of parts lists every kind with the faults and weights that the program uses."""

from __future__ import annotations

import re
from pathlib import Path

from loomwright.circuit.faults import _WIRE_MODES
from loomwright.circuit.kinds import KINDS

PAGE = (Path(__file__).parents[2] / "docs" / "models" / "parts.md").read_text("utf-8")
ROWS = {cells[0]: cells[1:] for cells in (
    [cell.strip() for cell in line.strip("|").split("|")]
    for line in PAGE.partition("## Every kind")[2].splitlines() if line.startswith("| "))}


def told(name: str) -> list[str]:
    """Return the faults of a kind as the page should have them."""
    return [f"{mode.kind}{f' ({mode.items[:-1]})' if mode.items else ''} {mode.prior:.3g}"
            f"{'*' if mode.source != 'assumed' else ''}" for mode in KINDS[name].fault_modes]


def test_every_kind_has_a_row_with_its_faults_and_weights() -> None:
    found = {name: cells[0] for name, cells in ROWS.items() if name != "kind"}
    assert found == {name: ", ".join(told(name)) or "-" for name in KINDS}


def test_every_kind_says_what_it_was_checked_against() -> None:
    assert all(cells[1] for cells in ROWS.values())


def test_the_weights_of_wires_are_those_of_the_program() -> None:
    words = " ".join(PAGE.split())
    found = re.search(r"Wires: (.*?) \(assumed\)", words)
    assert found is not None
    assert found[1] == ", ".join(f"{kind} {prior:g}" for kind, prior, _ in _WIRE_MODES)
