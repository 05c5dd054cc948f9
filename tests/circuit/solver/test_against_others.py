"""The batch elimination against two independent solvers on random linear circuits."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from loomwright.circuit.batch import Variant, solve_batch
from tests.support.random_circuits import dense_volts, random_circuit, spice_volts

SEEDS = range(20)
# 1e-6 of the largest volts: the target of the solver; both others print or hold 12 digits
RELATIVE = 1e-6


def differences(seed: int, others: dict[str, float]) -> float:
    """Return the largest difference as a share of the largest volts."""
    result = solve_batch(random_circuit(seed), "here", (Variant(),))
    names = [name for name in result.points if name in others]
    ours = np.array([result.volts[result.points[name], 0] for name in names])
    theirs = np.array([others[name] for name in names])
    assert len(names) > 4
    return float(np.abs(ours - theirs).max() / np.abs(theirs).max())


@pytest.mark.parametrize("seed", SEEDS)
def test_same_volts_as_dense_modified_nodal_analysis(seed: int) -> None:
    assert differences(seed, dense_volts(random_circuit(seed))) < RELATIVE


@pytest.mark.parametrize("seed", SEEDS)
def test_same_volts_as_ngspice(seed: int, ngspice_path: str, tmp_path: Path) -> None:
    others = spice_volts(random_circuit(seed), ngspice_path, tmp_path)
    assert differences(seed, others) < RELATIVE


def test_a_meter_loads_as_the_same_resistor_would() -> None:
    # exact for linear circuits: the meter as a branch of its own must give the same volts
    circuit = random_circuit(3)
    result = solve_batch(circuit, "here", (Variant(),))
    dense = dense_volts(circuit)
    volts, floats = result.voltage("N1", "N2", load_ohm=1e12)
    assert volts[0] == pytest.approx(dense["N1"] - dense["N2"], rel=1e-6, abs=1e-9)
    assert not floats[0]
