"""A variant's answer does not depend on what else is solved in the same batch."""

from importlib.resources import files

import numpy as np

from loomwright.circuit import faults_of, read_circuit_text
from loomwright.circuit.batch import Variant, blown_after


def test_a_fault_blows_the_same_fuses_alone_and_among_others():
    """Once a protected output's short blew its fuse, but only among other faults."""
    text = (files("loomwright.demo") / "tailgate_lock.yaml").read_text(encoding="utf-8")
    circuit = read_circuit_text(text, "tailgate_lock.yaml")
    variants = tuple(Variant((fault,), 1.0, 1) for fault in faults_of(circuit))
    together = blown_after(circuit, variants)
    alone = np.column_stack([blown_after(circuit, (one,)) for one in variants])
    different = [one.faults[0].id for number, one in enumerate(variants)
                 if (together[:, number] != alone[:, number]).any()]
    assert different == []
    assert together.any()
