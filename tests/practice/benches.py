"""A circuit to practise on, built once for all tests."""

from __future__ import annotations

import functools

from loomwright.circuit import CircuitPlant, read_circuit_text
from loomwright.circuit.templates import template_text
from loomwright.diagnosis import Table, build_table
from loomwright.practice import Exercise, hide
from loomwright.practice.exercise import Oracle
from loomwright.service.practice_vehicle import vehicles_of

__all__ = ["exercise", "oracle", "table"]


@functools.cache
def table(name: str = "horn") -> Table:
    """Return the table of a template circuit."""
    return build_table(CircuitPlant(read_circuit_text(template_text(name))))


@functools.cache
def exercise(level: int, seed: int, name: str = "horn") -> Exercise:
    """Return an exercise on a template circuit."""
    return hide(table(name), name, level, seed, vehicles_of(table(name).plant))


def oracle(one: Exercise) -> Oracle:
    """Return the vehicle of an exercise."""
    return vehicles_of(table(one.circuit).plant)(one.fault, one.seed)
