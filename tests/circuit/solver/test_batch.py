"""Many variants at once: the same as one by one, and read as instruments would."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from loomwright.circuit import faults_of, read_circuit_text, solve_all
from loomwright.circuit.batch import Variant, blown_after, solve_batch, solve_isolated
from loomwright.circuit.templates import template_text
from loomwright.circuit.values import _draw
from loomwright.errors import UnknownNameError
from tests.support.demo import small, tailgate, with_faults
from tests.support.random_vehicles import random_vehicle

# Newton's steps end within 1e-9 V; a batch and a single solve take the same steps
SAME_V = 1e-7


@pytest.mark.parametrize("state", ["locking", "open"])
def test_a_batch_of_all_faults_equals_single_solves(state: str) -> None:
    circuit = tailgate()
    variants = tuple(Variant((fault,)) for fault in faults_of(circuit))
    result = solve_batch(circuit, state, variants, blown_after(circuit, variants))
    for number in range(0, len(variants), 13):
        alone = solve_all(circuit.with_faults(variants[number].faults))[state]
        for name, point in alone.points.items():
            volts, floats = result.voltage(name)
            assert floats[number] == point.floating
            if not point.floating:
                assert volts[number] == pytest.approx(point.volts, abs=SAME_V)
        for name, row in result.wire_index.items():
            # 1e-7 V over a wire of a few milliohm
            assert result.wire_amps[row, number] == pytest.approx(alone.wires[name], abs=1e-4)


def test_chunks_and_kept_solutions_change_nothing() -> None:
    circuit = tailgate()
    faults = faults_of(circuit)
    many = tuple(Variant((faults[n % len(faults)],), spread_seed=n) for n in range(4200))
    blown = blown_after(circuit, many)
    kept = solve_batch(circuit, "open", many, blown)
    afresh = solve_batch(circuit, "open", list(many), blown)
    assert np.array_equal(kept.blown["F14"], afresh.blown["F14"])
    assert np.abs(kept.volts - afresh.volts).max() < SAME_V


def test_a_seed_always_draws_the_same_tolerances() -> None:
    one, same, other, nominal = (
        solve_batch(tailgate(), "locking", (Variant(spread_seed=seed),)).volts
        for seed in (5, 5, 6, None))
    assert np.array_equal(one, same)
    assert np.abs(one - other).max() > 1e-4
    assert np.abs(one - nominal).max() > 1e-4


def test_battery_factor_scales_a_linear_circuit() -> None:
    result = solve_batch(tailgate(), "locking", (Variant(), Variant(emf_factor=0.95)))
    row = result.points["Y1.1"]
    # only resistors conduct in this state
    assert result.volts[row, 1] / result.volts[row, 0] == pytest.approx(0.95, rel=1e-6)


def test_a_floating_point_reads_nothing_even_against_a_live_one() -> None:
    faulty = with_faults(tailgate(), "open:W22", "open:W23")
    result = solve_batch(faulty, "locking", (Variant(),))
    for at, to in (("Y1.1", ""), ("X1.3b", "Y1.2"), ("BAT.+", "Y1.1")):
        volts, floats = result.voltage(at, to)
        assert floats[0]
        # 1e-12 S of every point to the reference against the meter's 1e-7 S
        assert abs(volts[0]) < 1e-3


def test_a_test_lamp_pulls_down_a_bad_joint_that_a_meter_passes() -> None:
    faulty = with_faults(tailgate(), "high-resistance:X1.4:200", "burnt-out:H7")
    result = solve_batch(faulty, "open", (Variant(),))
    meter, _ = result.voltage("X1.4b")
    lamp, _ = result.voltage("X1.4b", load_ohm=24.0**2 / 5)
    assert meter[0] > 24.0
    # a divider of 200 ohm and 115 ohm; 0.5 % for the wires
    assert lamp[0] == pytest.approx(meter[0] * 115.2 / 315.2, rel=0.005)


def test_an_unknown_point_is_named() -> None:
    result = solve_batch(tailgate(), "open", (Variant(),))
    with pytest.raises(UnknownNameError, match="F12.3"):
        result.voltage("F12.3")
    with pytest.raises(UnknownNameError, match="F12.3"):
        solve_isolated(tailgate(), (Variant(),), [("F12.3", "E1")])


def test_ohms_of_an_isolated_circuit_count_what_hangs_in_parallel() -> None:
    circuit = small("BAT: {kind: battery}\nE1: {kind: earth}\nS1: {kind: switch}\n"
                    "R1: {kind: resistor, resistance: 30 ohm}\n"
                    "R2: {kind: resistor, resistance: 60 ohm}\nD1: {kind: diode}",
                    "BAT.+, S1.1\nS1.2, R1.1\nS1.2, R2.1\nR1.2, E1\nR2.2, E1\nS1.2, D1.1\nD1.2, E1")
    ohms = solve_isolated(circuit, (Variant(),), [("R1.1", "R1.2"), ("BAT.+", "R1.1"),
                                                  ("R1.1", "R1.1")])
    assert ohms[0, 0] == pytest.approx(20.0, rel=0.01)  # wires of some 20 milliohm
    assert ohms[1, 0] == 1e7  # the switch is open: OL
    assert ohms[2, 0] == 0.0


def test_ohms_follow_faults_and_switch_positions() -> None:
    circuit = tailgate()
    bad = with_faults(circuit, "high-resistance:W22:5").faults
    variants = (Variant(), Variant(bad), Variant(with_faults(circuit, "open:Y1").faults))
    ohms = solve_isolated(circuit, variants, [("X1.3b", "SP3")])[0]
    assert ohms[0] == pytest.approx(24.0, rel=0.01)  # the valve with 3.8 m of its wires
    assert ohms[1] - ohms[0] == pytest.approx(5.0, abs=1e-6)
    assert ohms[2] == 1e7
    # the pull resistor of the input hangs behind the closed switch
    rest = solve_isolated(circuit, variants, [("S4.1", "S4.2")])[0, 0]
    shut = solve_isolated(circuit, variants, [("S4.1", "S4.2")], state="shut")[0, 0]
    assert rest > 1e4
    assert shut == pytest.approx(0.010, rel=0.01)  # the contact's assumed 10 milliohm


def test_a_lamp_reads_cold() -> None:
    ohms = solve_isolated(tailgate(), (Variant(),), [("H7.1", "H7.2")])[0, 0]
    # 24 V 21 W: 27.4 ohm hot; cold 0.35/4.80 of it (OpenStax College Physics 20.2)
    assert ohms == pytest.approx(24**2 / 21 * 0.35 / 4.8, rel=1e-3)


@pytest.mark.parametrize("seed", [131, 172])
def test_a_network_whose_main_fuse_blows_comes_to_rest(seed: int) -> None:
    # these swung for ever about the volts they had before the fuse blew
    result = solve_batch(random_vehicle(seed), "on", (Variant(),))
    assert result.settled[0]
    assert result.blown["F1"][0]
    # the loads stand without supply; 1e-3 V is far above the leakage of 1 Tohm to each point
    assert abs(result.volts[result.points["M1.1"], 0]) < 1e-3


def test_kept_draws_of_tolerances_cannot_be_changed() -> None:
    """The same draw is given to every circuit: whoever changed it would change all others."""
    first = _draw(7, 5).copy()
    with pytest.raises(ValueError, match="read-only"):
        _draw(7, 5)[0] = 0.0
    assert np.array_equal(_draw(7, 5), first)


def test_several_pairs_read_at_once_read_as_one_by_one() -> None:
    circuit = tailgate()
    variants = tuple(Variant((fault,)) for fault in faults_of(circuit)[::9])
    result = solve_batch(circuit, "locking", variants)
    points = list(circuit.points())
    pairs = [(point, "") for point in points[::3]] + list(itertools.pairwise(points))[::5]
    volts, floats = result.voltages(pairs)
    for number, (at, to) in enumerate(pairs):
        alone, floating = result.voltage(at, to)
        assert np.array_equal(volts[number], alone)
        assert np.array_equal(floats[number], floating)


def test_what_chatters_ends_as_it_does_when_every_step_starts_afresh(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A relay that goes to and fro starts each pattern from the volts it had there before."""
    circuit = read_circuit_text(template_text("motorcycle-start"))
    variants = tuple(Variant((fault,), balanced=(draw, 4))
                     for fault in faults_of(circuit) for draw in range(4))
    found = {state: solve_batch(circuit, state, variants) for state in circuit.states}
    assert any(one.chatters.any() for one in found.values())
    monkeypatch.setattr("loomwright.circuit.operate._Batch._recall", lambda *_: None)
    afresh = variants[:-1] + variants[-1:]  # another tuple: solved anew
    for state, one in found.items():
        other = solve_batch(circuit, state, afresh)
        assert np.array_equal(one.chatters, other.chatters)
        assert np.array_equal(one.settled, other.settled)
        # 1e-5 V: what chatters long is damped, so that its steps end within about 2e-6 V
        assert np.abs(one.volts - other.volts).max() < 1e-5
        for name, doing in one.doing.items():
            assert np.array_equal(doing, other.doing[name])
