"""Looks during which something is wiggled, heated or loaded: records, chances, readings files."""

from __future__ import annotations

import functools

import pytest

from loomwright.circuit import CircuitPlant, read_circuit_text
from loomwright.circuit.plant.stirring import coming_share, stirred_share
from loomwright.circuit.readings import read_readings_text
from loomwright.errors import FileProblemsError
from loomwright.plant import Check, Hypothesis
from tests.circuit.plant.heater import ONE_HEATER


@functools.cache
def plant() -> CircuitPlant:
    return CircuitPlant(read_circuit_text(ONE_HEATER))


def look(doing: str = "") -> Check:
    return plant().check_for("working", "running", "R1", doing, "eye")


def row(fault_id: str) -> Hypothesis:
    return next(one for one in plant().faults() if one.fault_id == fault_id)


def test_a_look_says_what_is_done_meanwhile_and_takes_longer() -> None:
    assert look().action == ""
    assert look("wiggle S1").action == "wiggle"
    assert look("wiggle S1").minutes > look().minutes
    assert look("heat S1").minutes > look("wiggle S1").minutes
    assert look("wiggle S1").id != look().id
    assert look("wiggle S1").text.startswith("Wiggle ")


def test_stirring_offers_every_part_and_load() -> None:
    offered = {one.to for one in plant().stirring(look())}
    assert {"wiggle S1", "wiggle E1", "heat F1", "load"} <= offered
    assert "heat E1" not in offered  # an earth has nothing that heat moves


def test_what_is_wiggled_moves_its_own_contacts_and_the_wires_that_end_there() -> None:
    circuit = plant().circuit
    own, end, far = (stirred_share(circuit, row(name), "wiggle S1")
                     for name in ("stuck-open:S1", "open:W2", "open:W4"))
    assert own == end > far > 0.0
    assert stirred_share(circuit, row("burnt-out:R1"), "heat R1") > \
        stirred_share(circuit, row("burnt-out:R1"), "wiggle R1")
    assert 0.0 < coming_share(row("flat:BAT")) < coming_share(row("open:W2")) < 1.0


def test_a_static_fault_shows_the_same_whatever_is_wiggled() -> None:
    still, stirred = (plant().predict((row("open:W2"),), (one,)).levels[0]
                      for one in (look(), look("wiggle S1")))
    assert (still == stirred).all()


def test_a_readings_file_may_say_what_was_done() -> None:
    text = "- {state: working, quantity: running, at: R1, to: %s, value: off}"
    found = read_readings_text(text % "wiggle S1", plant().circuit)
    assert found[0].to == "wiggle S1"
    with pytest.raises(FileProblemsError):
        read_readings_text(text % "wiggle S99", plant().circuit)
