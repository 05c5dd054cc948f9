"""A sweep tells what the full solve tells, whatever it skips."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomwright.circuit import faults_of
from loomwright.circuit.batch import Variant, solve_batch
from loomwright.circuit.model import Circuit, Fault
from loomwright.circuit.sweep import Reading, is_fast, sweep
from loomwright.errors import UnknownNameError
from tests.support.demo import tailgate
from tests.support.random_circuits import random_circuit

pytestmark = pytest.mark.property

seeds = st.integers(0, 10_000)
_SAME_V = 5e-5  # a kept linearisation is off by 2 microvolts at most; several add up


def differs_v(circuit: Circuit, variants: tuple[Variant, ...], reading: Reading) -> float:
    """Return the most that a sweep differs from the full solve where a point has a path [V]."""
    most = 0.0
    for piece in sweep(circuit, variants, reading):
        full = solve_batch(circuit, piece.state, variants)
        rows = [full.points[name] for name in piece.points]
        off = np.abs(piece.volts - full.volts[np.ix_(rows, piece.variants)])
        off[full.floating[np.ix_(rows, piece.variants)]] = 0.0
        most = max(most, float(off.max()))
        for number, fuse in enumerate(piece.fuses):
            assert (piece.blown[number] == full.blown[fuse][piece.variants]).all()
    return most


def test_every_fault_of_the_demo_as_the_full_solve_has_it() -> None:
    circuit = tailgate()
    variants = tuple(Variant((fault,)) for fault in faults_of(circuit))
    assert differs_v(circuit, (Variant(), *variants), Reading()) < _SAME_V


def test_shorts_of_points_and_added_ohms_as_the_full_solve_has_them() -> None:
    circuit = tailgate()
    shorts = [Fault(f"short-to-earth:{point}", point, "short-to-earth", 0.05)
              for point in circuit.points() if not point.startswith(("BAT", "E1", "E2"))]
    mild = [Fault(f"high-resistance:{wire}:{ohms}", wire, "high-resistance", ohms)
            for wire in circuit.wires for ohms in (0.1, 10.0)]
    variants = tuple(Variant((fault,)) for fault in (*shorts, *mild))
    assert differs_v(circuit, variants, Reading()) < _SAME_V


@given(seeds, st.integers(8, 30))
@settings(max_examples=15, deadline=None)  # the first example may compile
def test_random_circuits_with_faults_as_the_full_solve_has_them(seed: int, count: int) -> None:
    circuit = random_circuit(seed)
    faults = [fault for fault in faults_of(circuit) if fault.element != "BAT"]
    dice = np.random.default_rng(seed)
    picked = dice.choice(len(faults), min(count, len(faults)), replace=False)
    variants = (Variant(), *(Variant((faults[number],)) for number in picked))
    assert differs_v(circuit, variants, Reading()) < _SAME_V


def test_the_full_solve_can_be_asked_for() -> None:
    variants = tuple(Variant((fault,)) for fault in faults_of(tailgate())[:8])
    pieces = list(sweep(tailgate(), variants, Reading(("Y1.1",), compiled=False)))
    assert {piece.state for piece in pieces} == set(tailgate().states)
    assert all(piece.in_full.all() and piece.volts.shape == (1, 8) for piece in pieces)


def test_a_name_that_is_not_there_is_said() -> None:
    with pytest.raises(UnknownNameError, match="Y9"):
        list(sweep(tailgate(), (Variant(),), Reading(("Y9.1",))))


def test_without_numba_nothing_is_called_fast(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr("importlib.util.find_spec", lambda name: None)
    assert not is_fast(tailgate())
