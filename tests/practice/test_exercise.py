"""Exercises: the same name the same fault, levels as they say, nothing told before the end."""

import pytest

from loomwright.circuit import parse_fault, solve
from loomwright.errors import UnknownNameError, UsageError
from loomwright.practice import exercise_id, hide, read_id
from loomwright.practice.exercise import CONSEQUENCE, CONTROLLER, HARD, _settled, levels_of
from loomwright.service.practice_vehicle import vehicles_of
from tests.practice.benches import exercise, oracle, table


@pytest.mark.parametrize("level", [1, 2, 3])
def test_the_same_seed_gives_the_same_exercise_and_other_seeds_other_ones(level):
    made = [hide(table(), "horn", level, seed, vehicles_of(table().plant)) for seed in (3, 3, 4)]
    assert made[0] == made[1]
    drawn = {exercise(level, seed).fault.id for seed in range(8)}
    assert len(drawn) >= 4  # of at least 14 faults; more than half of 8 draws differ


def test_a_level_holds_what_it_says():
    assert all(exercise(1, seed).fault.kind in HARD for seed in range(8))
    assert all(exercise(2, seed).fault.kind not in HARD | CONTROLLER | CONSEQUENCE
               for seed in range(8))
    lock = levels_of(table("tailgate-lock"))[3]
    assert {"input-dead", "driver-dead", "short-to-earth"} <= {one.kind for one in lock}


@pytest.mark.parametrize("level", [1, 2, 3])
def test_the_complaint_is_what_the_faulty_circuit_does(level):
    for seed in range(4):
        one = exercise(level, seed)
        circuit = table().plant.circuit
        for item in one.complaint:
            faulty = solve(circuit.with_faults([one.fault]), item.check.state)
            healthy = solve(circuit, item.check.state)
            name = item.check.at
            assert faulty.parts[name].doing != healthy.parts[name].doing
        assert one.complaint


def test_neither_name_nor_repr_tells_the_fault():
    one, other = exercise(1, 0), exercise(1, 1)
    assert one.fault.id != other.fault.id
    assert one.id == "horn-1-0"
    assert one.fault.id not in repr(one)
    assert "fault" not in repr(one)
    assert one.pool == other.pool


def test_a_name_is_read_back_and_others_are_refused():
    assert read_id(exercise_id("tail-lift", 3, 17)) == ("tail-lift", 3, 17)
    for wrong in ("horn", "horn-4-1", "horn-1-", "../x-1-1", "horn-1-9999999", ""):
        with pytest.raises(UsageError):
            read_id(wrong)


def test_levels_and_seeds_out_of_range_are_refused():
    with pytest.raises(UnknownNameError, match="level"):
        hide(table(), "horn", 4, 1, vehicles_of(table().plant))
    with pytest.raises(UsageError, match="Seed"):
        hide(table(), "horn", 1, -1, vehicles_of(table().plant))


def test_a_reading_is_the_same_for_everybody_and_another_when_repeated():
    one = exercise(1, 0)
    check = table().plant.check_for("sounding", "voltage", "F1.1")
    first = [oracle(one)(check, 0) for _ in range(2)]
    assert first[0] == first[1]
    repeats = {oracle(one)(check, number) for number in range(6)}
    assert len(repeats) > 1  # the meter's error is drawn anew each time


def test_a_test_lamp_shows_a_level():
    one = exercise(1, 0)
    check = table().plant.check_for("sounding", "voltage", "F1.1", "", "test lamp")
    assert oracle(one)(check, 0) == "on"


def test_no_exercise_hangs_on_the_batterys_charge():
    """A flat battery only just holds this relay, so that fault is not hidden."""
    mower = table("mower-magneto")
    assert not _settled(mower.plant.circuit, parse_fault(mower.plant.circuit, "flat:BAT"))
    assert exercise(2, 1, "mower-magneto").fault.id != "flat:BAT"
