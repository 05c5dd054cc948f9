"""A circuit to practise on, built once for all tests."""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING

from loomwright.circuit import CircuitPlant, read_circuit_text
from loomwright.circuit.templates import template_text
from loomwright.diagnosis import Table, build_table
from loomwright.practice import Exercise, hide
from loomwright.practice.exercise import Oracle
from loomwright.service.practice_vehicle import vehicles_of

if TYPE_CHECKING:
    from fastapi import FastAPI

__all__ = ["exercise", "oracle", "practised", "table"]


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


def practised(app: FastAPI, who: str) -> None:
    """End one exercise of a running program, and leave another in the middle."""
    from loomwright.jobs.folder import data_folder
    from loomwright.service.practice import Asked, Practice

    practice = Practice(data_folder(app.state.settings.data))
    app.state.practice = practice
    for seed in (0, 1):
        name = practice.start(who, ("horn", 1, seed))
        practice.measure(name, who, Asked("sounding", "voltage", "F1.1", predict="12"))
        practice.measure(name, who, Asked("sounding", "voltage", "F1.2", predict="0"))
    practice.name_repair("horn-1-0", who, exercise(1, 0).fault.repair)
