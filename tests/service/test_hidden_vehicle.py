"""A vehicle with a hidden fault: measured with error, mended only by the right repair."""

from importlib.resources import files

import pytest

from loomwright.circuit import CircuitPlant, parse_fault, read_circuit_text, solve
from loomwright.circuit.plant.instruments import FLOATING_SPREAD_V
from loomwright.errors import UnknownNameError, UsageError
from loomwright.service.hidden_vehicle import HiddenVehicle
from loomwright.service.walkthrough import HiddenJob, demo_walk, walk_job
from tests.service.test_bench import LAMP


@pytest.fixture(scope="module")
def plant():
    """Return the lamp circuit as a plant."""
    return CircuitPlant(read_circuit_text(LAMP, "lamp.yaml"))


def vehicle(plant, fault, seed=1, **more):
    """Return a vehicle with one fault."""
    return HiddenVehicle(plant, parse_fault(plant.circuit, fault), seed, **more)


def test_a_reading_is_the_solved_value_within_the_meters_error(plant):
    check = plant.check_for("lit", "voltage", "S1.2")
    truth = solve(plant.circuit.with_faults([parse_fault(plant.circuit, "open:W3")]), "lit")
    for seed in range(20):
        read = vehicle(plant, "open:W3", seed).measure(check)
        # Four sigma of half the accuracy, and half a step of the display.
        margin = 2 * check.accuracy * truth.points["S1.2"].volts + check.resolution / 2
        assert read == pytest.approx(truth.points["S1.2"].volts, abs=margin)


def test_only_the_right_repair_mends_it(plant):
    look = plant.check_for("lit", "lit", "H1", instrument="eye")
    truck = vehicle(plant, "open:W3")
    assert truck.measure(look) == "off"
    truck.repair("mend W1")
    assert truck.measure(look) == "off"
    truck.repair("mend W3")
    assert truck.measure(look) == "on"


def test_an_open_wire_reads_open_with_the_battery_off(plant):
    check = plant.check_for("off", "resistance", "W3")
    assert vehicle(plant, "open:W3").measure(check) > 1e6
    assert vehicle(plant, "open:W1").measure(check) < 1.0


def test_the_batterys_charge_moves_its_volts(plant):
    check = plant.check_for("off", "voltage", "BAT.+")
    full, low = (vehicle(plant, "open:W3", battery_share=share).measure(check)
                 for share in (1.0, 0.9))
    # Nothing draws current, so the volts follow the share; the meter's error is below 1 %.
    assert low / full == pytest.approx(0.9, rel=0.02)


def test_a_current_is_read_at_a_wire(plant):
    check = plant.check_for("lit", "current", "W3", instrument="clamp")
    # 21 W at 12 V is 1.75 A; the lamp's own volts differ by some percent from that.
    assert abs(vehicle(plant, "high-resistance:W3:0.001").measure(check)) == pytest.approx(
        1.75, rel=0.1)


def test_a_job_ends_with_a_proved_repair_and_counts_a_place_once(plant):
    walk = walk_job(plant.circuit, HiddenJob("open:W3", 3))
    assert walk.proved
    assert walk.repairs[-1].repair.id == "mend W3"
    assert walk.minutes == pytest.approx(
        sum(step.minutes for step in walk.steps) + walk.repairs[-1].repair.minutes)


def test_a_fault_without_complaint_is_refused(plant):
    with pytest.raises(UsageError, match="no complaint"):
        walk_job(plant.circuit, HiddenJob("high-resistance:W1:0.001", 3))


def test_unknown_jobs_and_faults_are_refused():
    with pytest.raises(UnknownNameError, match="demo job"):
        demo_walk(job="truck-99")
    with pytest.raises(UnknownNameError, match="fault"):
        demo_walk("open:W99")


def test_a_meter_to_a_point_that_nothing_holds_reads_next_to_nothing(plant):
    """Only the meter joins S1.2 to the live side, so it pulls that point up to its own volts."""
    check = plant.check_for("off", "voltage", "S1.1", "S1.2")
    # Four sigma of what a meter picks up on a wire joined to nothing.
    assert abs(vehicle(plant, "open:W3").measure(check)) < 4 * FLOATING_SPREAD_V


def test_a_controller_without_supply_gives_no_answer():
    text = files("loomwright.demo").joinpath("tailgate_lock.yaml").read_text(encoding="utf-8")
    truck = CircuitPlant(read_circuit_text(text))
    check = truck.check_for("locking", "input", "ECU.shut", "", "controller")
    assert vehicle(truck, "blown:F12").measure(check) == "no answer"
    assert vehicle(truck, "open:W19").measure(check) == "off"


def test_two_hidden_faults_are_both_found_and_the_last_repair_is_proved() -> None:
    """After the first repair its readings still count, as of what it left."""
    walk = demo_walk("open:W29+burnt-out:H1", 3)
    done = tuple(one.repair.id for one in walk.repairs)
    assert sorted(done) == ["mend W29", "replace H1"]  # whichever the readings point to first
    assert [one.proof.holds for one in walk.repairs] == [False, True]
    assert walk.proved
    assert {step.evidence.after for step in walk.steps} == {(), done[:1], done}
