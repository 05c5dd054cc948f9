"""Cells across which something switches, supplies that hold their volts, flat batteries, shorts."""

from __future__ import annotations

import functools
from importlib.resources import files

import numpy as np
import pytest

from loomwright.circuit import CircuitPlant, faults_of, parse_fault, read_circuit_text
from loomwright.circuit.batch import Variant, solve_batch
from loomwright.circuit.plant.hypotheses import fault_rows
from loomwright.circuit.plant.predictions import EMF_FACTORS
from loomwright.circuit.plant.working import against_ohms
from loomwright.circuit.templates import template_text
from loomwright.plant import NO_FAULT, Hypothesis

CONVERTER = """
loomwright: 1
title: Lamp on a converter
system: 24 V
places:
  bench: {reach: 1 min}
parts:
  BAT: {kind: battery, place: bench}
  F1:  {kind: fuse, rating: 15 A, place: bench}
  U1:  {kind: dc-dc converter, volts: 13.8 V, limit: 10 A, place: bench}
  R1:  {kind: resistor, resistance: 3 ohm, place: bench}
wires:
  - [W1, BAT.+, F1.1, 2.5 mm2, 1 m, RD]
  - [W2, F1.2, U1.in, 2.5 mm2, 1 m, RD]
  - [W3, U1.-, BAT.-, 2.5 mm2, 1 m, BN]
  - [W4, U1.out, R1.1, 2.5 mm2, 1 m, RD]
  - [W5, R1.2, BAT.-, 2.5 mm2, 1 m, BN]
states: {working: {}}
"""


@functools.cache
def demo() -> CircuitPlant:
    text = files("loomwright.demo").joinpath("tailgate_lock.yaml").read_text(encoding="utf-8")
    return CircuitPlant(read_circuit_text(text))


def rows(plant: CircuitPlant, fault_id: str) -> list[Hypothesis]:
    return [one for one in plant.faults() if one.fault_id == fault_id]


def test_a_cell_in_which_a_relay_lets_go_becomes_a_row_for_each_behaviour() -> None:
    """W3 feeds the coil of K3: near 260 ohm the relay just holds or just lets go."""
    plant = demo()
    split = [one for one in rows(plant, "high-resistance:W3") if one.variant]
    assert len(split) >= 2
    looks = [one for one in plant.maker.functions() if one.quantity == "output"]
    found = plant.predict(split, looks)
    for levels in found.levels.values():  # each row says one thing, never half of two
        # 0.99: what a person misreads; a rare behaviour counts with the sample beside it
        assert (levels.max(axis=2) > 0.6).all()


def test_split_rows_agree_with_direct_solves_inside_their_cells() -> None:
    plant = demo()
    circuit = plant.circuit
    check = plant.check_for("at rest", "voltage", "K3.87", "BAT.-")
    for one in rows(plant, "high-resistance:W3"):
        if not one.variant or one.severity is None:
            continue
        fault = parse_fault(circuit, f"high-resistance:W3:{one.severity.mid_ohm:.6g}")
        variants = [Variant((fault,), spread_seed=seed) for seed in range(40)]
        volts, floats = solve_batch(circuit, "at rest", variants).voltage("K3.87", "BAT.-")
        found = plant.predict((one,), (check,))
        middle = found.mean.shape[0] // 2
        off = np.abs(np.where(floats, 0.0, volts) - found.mean[middle, 0, 0])
        # most tolerances do what the row says; those beside the edge belong to its neighbour
        assert np.median(off) < 4 * max(float(found.spread[middle, 0, 0]), 0.05)


def test_priors_of_the_parts_of_a_cell_are_shares_of_its_own() -> None:
    """By samples: the parts of W3's cell from 137 to 665 ohm weigh what one even cell weighs."""
    parts = [one for one in demo()._faults
             if one.hypothesis.fault_id == "high-resistance:W3" and one.hypothesis.variant]
    whole = [one.hypothesis.prior for one in demo()._faults
             if one.hypothesis.fault_id == "high-resistance:W3" and not one.hypothesis.variant]
    low = min(one.hypothesis.severity.low_ohm for one in parts if one.hypothesis.severity)
    high = max(one.hypothesis.severity.high_ohm for one in parts if one.hypothesis.severity)
    cells = round(float(np.log(high / low) / np.log(665.376 / 136.684)))  # an even cell's width
    assert sum(one.hypothesis.prior for one in parts) == pytest.approx(cells * whole[0])


def test_a_regulated_supply_does_not_follow_the_battery() -> None:
    plant = CircuitPlant(read_circuit_text(CONVERTER))
    fed, held = (plant.check_for("working", "voltage", at) for at in ("U1.in", "U1.out"))
    found = plant.predict((NO_FAULT,), (fed, held))
    low, high = EMF_FACTORS.index(0.955), EMF_FACTORS.index(1.05)
    grown = found.mean[high, 0] / found.mean[low, 0] - 1.0
    # 10 %: the battery's step between the two nodes, less the drop at the fixed output power
    assert grown[0] == pytest.approx(1.05 / 0.955 - 1.0, abs=0.01)
    assert abs(grown[1]) < 1e-3
    # 0.1 V: spread at the output is the probe's and the parts', not the battery's
    assert found.spread[high, 0, 1] < 0.1


def test_a_flat_battery_is_looked_for_from_nearly_empty_to_half_full() -> None:
    plant = demo()
    flat = rows(plant, "flat:BAT")
    whole = [one.variant.partition(" behaviour ")[0] for one in flat]
    assert list(dict.fromkeys(whole)) == ["nearly empty", "flat", "half full"]
    check = plant.check_for("at rest", "voltage", "BAT.+")
    found = plant.predict(flat, (check,))
    middle = found.mean.shape[0] // 2
    order = np.argsort(found.mean[middle, :, 0])
    volts = found.mean[middle, order, 0]
    # 25.2 V full; the rows cover 0.4 to 0.8 of it, the load of the parts at rest is small
    assert [whole[number] for number in order] == whole
    assert volts[0] < 0.5 * 25.2 < volts[-1] < 0.85 * 25.2
    reach = 3.0 * found.spread[middle, order, 0]
    assert (volts[1:] - reach[1:] < volts[:-1] + reach[:-1]).all()  # no gap between rows


def test_a_flat_battery_that_just_holds_a_relay_is_a_row_of_each_behaviour() -> None:
    """Start relay: between about half and two thirds of full volts it pulls in, or does not."""
    plant = CircuitPlant(read_circuit_text(template_text("start-relay")))
    flat = [one for one in rows(plant, "flat:BAT") if one.variant.startswith("flat")]
    assert len(flat) == 2
    looks = [one for one in plant.maker.functions() if one.quantity in {"running", "output"}]
    for levels in plant.predict(flat, looks).levels.values():
        # 0.6: each row says one thing; a rare behaviour counts with the sample beside it
        assert (levels.max(axis=2) > 0.6).all()
    own = next(one for one in faults_of(plant.circuit) if one.id == "flat:BAT")
    whole = fault_rows(faults_of(plant.circuit), against_ohms(plant.circuit), 4)
    weight = next(one.hypothesis.prior for one in whole if one.hypothesis.variant == "flat")
    told = [one.hypothesis.prior for one in plant._faults
            if one.hypothesis.variant.startswith("flat")]
    assert sum(told) == pytest.approx(weight)
    check = plant.check_for("cranking", "voltage", "M1.50")
    found = plant.predict(flat, (check,))
    middle = found.mean.shape[0] // 2
    for factor in (0.9, 1.05):  # of the flat battery's own volts: the relay stays out, pulls in
        volts, _ = solve_batch(plant.circuit, "cranking", (Variant((own,), factor),)).voltage(
            "M1.50")
        off = np.abs(found.mean[middle, :, 0] - volts[0])
        # one row predicts it within three spreads, and none of them hedges between 0 and 5 V
        assert (off / found.spread[middle, :, 0]).min() < 3.0
    assert found.spread[middle, :, 0].max() < 0.5


def test_a_short_is_anything_from_bare_copper_to_a_rusty_edge() -> None:
    plant = demo()
    check = plant.check_for("at rest", "resistance", "W21", "E1")
    found = plant.predict(rows(plant, "short-to-earth:W21"), (check,))
    mean, spread = float(found.mean[0, 0, 0]), float(found.spread[0, 0, 0])
    # leads of 0.1 ohm included; 0.015 to 0.25 ohm both within two spreads of the middle
    assert abs(mean - 0.115) < 2 * spread
    assert abs(mean - 0.35) < 3 * spread


def test_a_clamp_on_a_shorted_wire_may_stand_on_either_side_of_the_short() -> None:
    """Battery volts reach W4 (coil of K3, after the ignition switch) somewhere along it."""
    plant = demo()
    check = plant.check_for("locking", "current", "W4", instrument="clamp")
    found = plant.predict(rows(plant, "short-to-supply:W4"), (check,))
    middle = found.mean.shape[0] // 2
    mean, spread = float(found.mean[middle, 0, 0]), float(found.spread[middle, 0, 0])
    sides = []
    for ohm in (0.015, 0.038, 0.098, 0.25):
        fault = parse_fault(plant.circuit, f"short-to-supply:W4:{ohm}")
        result = solve_batch(plant.circuit, "locking", [Variant((fault,))])
        beyond = float(result.wire_amps[result.wire_index["W4"]][0])
        feed = float(result.wire_amps[result.wire_index["W3"]][0])  # W3, S1, W4 are in series
        sides += [beyond, feed]
    assert max(abs(side - mean) for side in sides) < 3 * spread


def test_a_short_that_may_or_may_not_let_a_relay_pull_in_is_a_row_of_each() -> None:
    """Earth side of a start relay's coil on supply: from about 0.07 ohm the relay still pulls in.

    A diode beside the coil takes 100 A then, so the volts left over the coil hang on milliohms.
    """
    plant = CircuitPlant(read_circuit_text(template_text("motorcycle-start")))
    split = rows(plant, "short-to-supply:W10")
    check = plant.check_for("start in neutral", "voltage", "M1.1")
    middle = EMF_FACTORS.index(1.0)
    found = plant.predict(split, [check])
    solved = {
        ohm: float(solve_batch(plant.circuit, "start in neutral", (Variant((parse_fault(
            plant.circuit, f"short-to-supply:W10:{ohm}"),)),)).voltage("M1.1")[0][0])
        for ohm in (0.02, 0.2)}
    means = found.mean[middle, :, 0]
    assert solved[0.02] < 0.5
    assert solved[0.2] > 10
    # 0.5 V: what tolerances and the other ohms of a behaviour make of the volts
    for volts in solved.values():
        assert np.abs(means - volts).min() < 0.5
    for mean in means:
        assert min(abs(mean - volts) for volts in solved.values()) < 0.5
    assert found.spread[middle, :, 0].max() < 0.5
    assert all(one.severity is None for one in split)


def test_a_short_is_a_row_for_each_side_a_clamp_may_sit_on() -> None:
    """One wide row would hold an exact 0 A against the very wire that is chafed."""
    plant = CircuitPlant(read_circuit_text(template_text("motorcycle-start")))
    split = rows(plant, "short-to-earth:W14")
    check = plant.check_for("start in neutral", "current", "W14", instrument="clamp")
    found = plant.predict(split, [check])
    middle = EMF_FACTORS.index(1.0)
    means, spreads = found.mean[middle, :, 0], found.spread[middle, :, 0]
    coil_a = 12.6 / 4.5  # K1's coil on the battery, by hand; less the wires' drop
    before, beyond = np.abs(means) < 0.1, np.abs(means - coil_a) < 0.5
    assert np.all(before | beyond)
    assert spreads.max() < 0.3  # tolerances of coil and battery; both sides in one row gave 1.3
    share = sum(row.prior for row, one in zip(split, before, strict=True) if one)
    assert share == pytest.approx(sum(row.prior for row in split) / 2, rel=0.3)  # a draw or two


def test_a_draw_that_behaves_like_no_other_does_not_spoil_the_row_of_the_others() -> None:
    """Of W4's shorts a rusty one leaves F1 whole: what it reads is no part of the others' mean."""
    plant = CircuitPlant(read_circuit_text(template_text("start-relay")))
    split = rows(plant, "short-to-earth:W4")
    found = plant.predict(split, [plant.check_for("cranking", "voltage", "F1.2")])
    middle = EMF_FACTORS.index(1.0)
    dead = np.abs(found.mean[middle, :, 0]) < 0.01
    assert found.spread[middle, dead, 0].max() < 0.1  # 3.2 V with the rusty one among them
    assert sum(row.prior for row, one in zip(split, dead, strict=True) if one) > 0.8 * sum(
        row.prior for row in split)
