"""Every fault acts as it would on a vehicle."""

from __future__ import annotations

import pytest

from loomwright.circuit import faults_of, parse_fault, solve, solve_all
from loomwright.errors import QuantityError, UnknownNameError
from tests.support.demo import small, tailgate, with_faults


def test_every_id_is_read_back_and_has_a_repair() -> None:
    circuit = tailgate()
    faults = faults_of(circuit)
    assert len({fault.id for fault in faults}) == len(faults) > 150
    assert all(parse_fault(circuit, fault.id) == fault for fault in faults)
    assert all(fault.prior > 0 and fault.repair for fault in faults)
    repairs = {fault.id: fault.repair for fault in faults}
    assert repairs["open:W7"] == "mend W7"
    assert repairs["open:X1.3"] == "clean X1.3"
    assert repairs["driver-dead:ECU.lock"] == "replace ECU"
    assert repairs["high-resistance:E1"] == "clean E1"


def test_ohms_belong_to_the_faults_that_have_them() -> None:
    circuit = tailgate()
    assert parse_fault(circuit, "high-resistance:W7:0.8").ohms == 0.8
    with pytest.raises(UnknownNameError):
        parse_fault(circuit, "open:W7:0.8")
    with pytest.raises(QuantityError):
        parse_fault(circuit, "high-resistance:W7:-1")
    with pytest.raises(UnknownNameError, match="high-resistance:W7"):
        parse_fault(circuit, "high-resistence:W7")


def test_a_fault_gives_a_new_circuit() -> None:
    circuit = tailgate()
    faulty = with_faults(circuit, "open:W22")
    assert circuit.faults == ()
    assert faulty.faults[0].element == "W22"
    assert solve(circuit, "locking").parts["Y1"].doing == "on"
    assert solve(faulty, "locking").parts["Y1"].doing == "off"


# fault, state, part, what it does then
ACTS = [
    ("open:W22", "locking", "Y1", "off"),
    ("high-resistance:W22:30", "locking", "Y1", "off"),
    ("high-resistance:W22:2", "locking", "Y1", "on"),
    ("short-to-earth:W13", "locking", "F13", "blown"),
    ("short-to-supply:W22", "at rest", "Y1", "on"),
    ("blown:F12", "locking", "ECU", "dead"),
    ("stuck-open:S4", "locking", "Y1", "off"),
    ("stuck-closed:S4", "open", "H1", "off"),
    ("coil-open:K3", "locking", "ECU", "dead"),
    ("coil-open:K3", "locking", "K3", "off"),
    ("contact-open:K3", "locking", "ECU", "dead"),
    ("welded:K3", "at rest", "ECU", "on"),
    ("burnt-out:H1", "open", "H1", "off"),
    ("open:Y1", "locking", "Y1", "off"),
    ("stuck:Y1", "locking", "Y1", "off"),
    ("flat:BAT", "locking", "ECU", "dead"),
    ("open:E2", "locking", "Y1", "off"),
    ("high-resistance:E2:40", "locking", "Y1", "off"),
    ("open:X1.3", "locking", "Y1", "off"),
    ("high-resistance:X1.4:20", "open", "H7", "dim"),
    ("dead:ECU", "locking", "ECU", "dead"),
    ("driver-dead:ECU.lock", "locking", "Y1", "off"),
    ("driver-stuck-on:ECU.lock", "open", "Y1", "on"),
    ("input-dead:ECU.shut", "locking", "Y1", "off"),
    ("input-stuck-on:ECU.shut", "open", "H1", "off"),
]


@pytest.mark.parametrize(("fault", "state", "part", "doing"), ACTS)
def test_a_fault_does_what_it_does(fault: str, state: str, part: str, doing: str) -> None:
    assert solve(with_faults(tailgate(), fault), state).parts[part].doing == doing


def test_a_shorted_driver_output_is_protected_and_spares_the_fuse() -> None:
    result = solve(with_faults(tailgate(), "short-to-earth:W21"), "locking")
    assert result.parts["F12"].doing == "whole"
    assert any("protects" in note for note in result.notes)


def test_a_stuck_solenoid_still_takes_its_current() -> None:
    result = solve(with_faults(tailgate(), "stuck:Y1"), "locking")
    assert result.parts["Y1"].amps == pytest.approx(1.04, abs=0.02)  # 25 V over 24 ohm


def test_a_fuse_blown_in_one_state_is_blown_in_all() -> None:
    # the moving signal's wire is live, and so blows its fuse, only on the road
    results = solve_all(with_faults(tailgate(), "short-to-earth:W16"))
    assert {state: one.parts["F13"].doing for state, one in results.items()} == dict.fromkeys(
        results, "blown")
    assert results["locking"].inputs["ECU"]["request"] is False


def test_only_the_most_overloaded_fuse_blows() -> None:
    result = solve(with_faults(tailgate(), "short-to-earth:W11"), "locking")
    blown = [name for name, part in result.parts.items() if part.doing == "blown"]
    assert blown == ["F12"]


def test_high_resistance_drops_ohms_times_amps() -> None:
    result = solve(with_faults(tailgate(), "high-resistance:W22:2"), "locking")
    fall = result.points["X1.3b"].volts - result.points["Y1.1"].volts
    # the wire's own 38 milliohm on top of 2 ohm
    assert fall == pytest.approx((2 + 3 * 0.0127) * result.wires["W22"], rel=1e-3)


def test_a_weak_battery_sags_under_load() -> None:
    good, weak = (solve(one, "locking").points["BAT.+"].volts
                  for one in (tailgate(), with_faults(tailgate(), "weak:BAT:2")))
    amps = solve(with_faults(tailgate(), "weak:BAT:2"), "locking").parts["BAT"].amps
    assert amps is not None
    assert good - weak == pytest.approx(2 * amps, rel=0.01)  # the good one sags 20 milliohm's worth


def test_motor_diode_and_relay_faults_act() -> None:
    circuit = small("BAT: {kind: battery}\nM1: {kind: motor}\nD1: {kind: diode}\n"
                    "E1: {kind: earth}", "BAT.+, D1.2\nBAT.+, M1.1\nM1.2, E1\nD1.1, M1.2")
    assert solve(with_faults(circuit, "seized:M1"), "here").parts["M1"].doing == "stalled"
    assert solve(with_faults(circuit, "open:M1"), "here").parts["M1"].doing == "off"
    worn = solve(with_faults(circuit, "worn:M1"), "here").parts["M1"]
    assert worn.doing == "slow"
    amps = solve(with_faults(circuit, "shorted:D1"), "here").wires["W1"]
    assert abs(amps) > 50  # across the battery through 4 m of thin wire, no fuse in the way
    assert abs(solve(with_faults(circuit, "open:D1"), "here").wires["W1"]) < 1e-6
    burnt = with_faults(tailgate(), "high-resistance:K4:40")
    assert solve(burnt, "open").parts["H7"].doing == "dim"
