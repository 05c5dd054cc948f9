"""Fault rows of a circuit: their ids can be inserted again."""

from __future__ import annotations

import pytest

from loomwright.circuit import CircuitPlant
from loomwright.circuit.faults import faults_of, parse_fault
from loomwright.circuit.plant.hypotheses import CELLS, fault_rows, with_ohms
from tests.support.demo import small, tailgate


def test_the_id_of_every_severity_names_a_fault_that_can_be_inserted() -> None:
    circuit = tailgate()
    rows = fault_rows(faults_of(circuit), {}, 4)
    cells = [row for row in rows if row.hypothesis.severity is not None]
    assert cells
    assert len(cells) % CELLS == 0
    for row in cells:
        assert "+" not in row.fault.id
        assert row.fault.ohms is not None
        # six digits stand in the id
        assert parse_fault(circuit, row.fault.id).ohms == pytest.approx(row.fault.ohms, rel=1e-5)


def test_a_large_resistance_is_written_out() -> None:
    fault = next(f for f in faults_of(tailgate()) if f.id == "high-resistance:W20")
    assert with_ohms(fault, 65_583.2).id == "high-resistance:W20:65583.2"


def test_a_circuit_in_which_nothing_can_be_seen_still_has_suspects() -> None:
    circuit = small("BAT: {kind: battery}\nF1: {kind: fuse, rating: 10 A}\nD1: {kind: diode}\n"
                    "E: {kind: earth}", "BAT.+, F1.1\nF1.2, D1.2\nD1.1, E")
    plant = CircuitPlant(circuit)
    assert "open:W1" in {row.fault_id for row in plant.faults()}
    assert all(row.prior > 0 for row in plant.faults())
