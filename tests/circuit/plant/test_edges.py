"""Readings right where something switches: against brute-force draws solved by Ohm's law alone."""

from __future__ import annotations

import functools
from importlib.resources import files

import numpy as np
import pytest

from loomwright.circuit import CircuitPlant, read_circuit_text
from loomwright.circuit.network import network_of
from loomwright.circuit.plant.hypotheses import severity_range
from loomwright.circuit.plant.predictions import EMF_FACTORS, EMF_WEIGHTS
from loomwright.circuit.values import TRIPS, Variant, values_of
from loomwright.diagnosis import Evidence, build_table, diagnose

BATTERY_V, VALVE_OHM, COIL_OHM = 25.2, 24.0, 200.0
VALVE = f"""
loomwright: 1
title: Valve and relay behind plugs
system: 24 V
parts:
  BAT: {{kind: battery, volts: {BATTERY_V} V}}
  F1: {{kind: fuse, rating: 10 A}}
  X1: {{kind: connector, ways: 2}}
  Y1: {{kind: solenoid, resistance: {VALVE_OHM:g} ohm}}
  K1: {{kind: relay, coil resistance: {COIL_OHM:g} ohm}}
  H1: {{kind: lamp, power: 5 W}}
wires:
  - [W1, BAT.+, F1.1, 6 mm2, 0.2 m, RD]
  - [W2, F1.2, X1.1a, 6 mm2, 0.2 m, RD]
  - [W3, X1.1b, Y1.1, 6 mm2, 0.2 m, BU]
  - [W4, Y1.2, BAT.-, 6 mm2, 0.2 m, BN]
  - [W5, F1.2, X1.2a, 6 mm2, 0.2 m, RD]
  - [W6, X1.2b, K1.86, 6 mm2, 0.2 m, BU]
  - [W7, K1.85, BAT.-, 6 mm2, 0.2 m, BN]
  - [W8, F1.2, K1.30, 6 mm2, 0.2 m, RD]
  - [W9, K1.87, H1.1, 6 mm2, 0.2 m, GN]
  - [W10, H1.2, BAT.-, 6 mm2, 0.2 m, BN]
states: {{working: {{}}}}
should: {{working: {{Y1: on, H1: on}}}}
"""
SERIES_OHM = 0.035  # battery, fuse and wires before the valve: milliohms, nothing beside the fault
SEEN_ON = {True: 0.97, False: 0.002}  # of a load that is on, or off (docs/models/evidence.md)
DRAWS = 400_000


@functools.cache
def plant() -> CircuitPlant:
    return CircuitPlant(read_circuit_text(VALVE))


def by_engine(fault: str, point: str, volts: float, load: str) -> float:
    """Return how likely a load is seen on, given one fault of any severity and one reading."""
    rows = [one.hypothesis for one in plant()._faults if one.hypothesis.fault_id == fault]
    read = plant().check_for("working", "voltage", point)
    look = plant().check_for("working", "lit" if load == "H1" else "running", load)
    told = plant().predict(rows, (read, look))
    sd = np.sqrt(told.spread[:, :, 0] ** 2 + read.resolution**2 / 12
                 + (read.accuracy * told.mean[:, :, 0]) ** 2)
    fits = np.exp(-0.5 * ((volts - told.mean[:, :, 0]) / sd) ** 2) / sd
    weight = fits * told.weights[:, None] * np.array([one.prior for one in rows])
    return float((weight * told.levels[1][:, :, 2]).sum() / weight.sum())


def by_draws(load_ohm: float, trip: float, volts: float) -> float:
    """Return the same by draws of severity, tolerance, battery and switching point."""
    rng = np.random.default_rng(11)
    low, high = severity_range(24.0 / (BATTERY_V / load_ohm))
    fault_ohm = low * (high / low) ** rng.random(DRAWS)
    ohm = load_ohm * np.exp(0.06 * rng.standard_normal(DRAWS))
    source = BATTERY_V * rng.choice(EMF_FACTORS, DRAWS, p=EMF_WEIGHTS)
    across = source * ohm / (ohm + fault_ohm + SERIES_OHM)
    works = across >= 0.6 * 24.0 * np.exp(trip * rng.standard_normal(DRAWS))
    # the meter's steps and accuracy, and the battery between two nodes of the grid
    sd = np.sqrt(0.02**2 + (0.005 * across) ** 2 + (0.0023 * across) ** 2)
    weight = np.exp(-0.5 * ((volts - across) / sd) ** 2) / sd
    seen = np.where(works, SEEN_ON[True], SEEN_ON[False])
    return float((weight * seen).sum() / weight.sum())


@pytest.mark.parametrize("volts", [12.4, 13.4, 14.4, 15.4, 16.6])
def test_a_valve_read_near_the_volts_at_which_it_just_moves(volts: float) -> None:
    """At 14.4 V, 60 % of 24 V, it moves as often as not; two volts off it is near certain.

    A cell's 16 draws are a sample: one of them more or less beside the edge moves the share by
    about 0.1, and each part is known by mean and spread alone. So the two agree to 0.25 (0.22 and
    0.10 were the largest of nine volts for the valve and the relay); one switching point without
    tolerance would be off by 0.5 at 14.4 V.
    """
    drawn = by_draws(VALVE_OHM, TRIPS["load"], volts)
    assert by_engine("high-resistance:X1.1", "Y1.1", volts, "Y1") == pytest.approx(drawn, abs=0.25)


@pytest.mark.parametrize("volts", [12.4, 14.4, 16.6])
def test_a_lamp_behind_a_relay_read_near_its_pull_in(volts: float) -> None:
    drawn = by_draws(COIL_OHM, TRIPS["relay"], volts)
    assert by_engine("high-resistance:X1.2", "K1.86", volts, "H1") == pytest.approx(drawn, abs=0.15)


def test_over_all_volts_the_mixture_is_unbiased() -> None:
    """The mean over the edge: draws too many on one side would shift it (0.15: as above)."""
    at = np.arange(12.4, 16.8, 0.4)
    for fault, point, load, ohm in (("high-resistance:X1.1", "Y1.1", "Y1", VALVE_OHM),
                                    ("high-resistance:X1.2", "K1.86", "H1", COIL_OHM)):
        off = [by_engine(fault, point, v, load) - by_draws(ohm, TRIPS["load"], v) for v in at]
        assert abs(float(np.mean(off))) < 0.15


def test_switching_points_are_drawn_evenly_and_apart_for_every_part() -> None:
    """Each has its own order of the same stratified draws: log-normal, sd as in `TRIPS`."""
    circuit = plant().circuit
    drawn = values_of(network_of(circuit), circuit,
                      [Variant(balanced=(number, 16)) for number in range(16)]).trips
    assert set(drawn) == {"relay:K1", "load:Y1", "load:H1"}
    for gate, factors in drawn.items():
        logs = np.log(factors)
        assert logs.mean() == pytest.approx(0.0, abs=1e-9)
        assert logs.std() == pytest.approx(TRIPS[gate.partition(":")[0]], rel=1e-9)
    assert list(drawn["relay:K1"]) != list(drawn["load:Y1"])
    plain = values_of(network_of(circuit), circuit, [Variant(), Variant(spread_seed=3)])
    assert plain.trips == {}  # nominal, as in `expect`


def test_a_reading_at_the_volts_at_which_the_lock_just_moves_does_not_clear_the_plug() -> None:
    """The README's readings with 14.4 V: 60 % of 24 V exactly. It used to cost 20 points."""
    text = files("loomwright.demo").joinpath("tailgate_lock.yaml").read_text(encoding="utf-8")
    demo = CircuitPlant(read_circuit_text(text))
    taken = [("running", "Y1", "off", "eye"), ("output", "ECU.lock", "on", "controller"),
             ("voltage", "X1.3a", "24.9 V", "meter"), ("voltage", "X1.3b", "14.4 V", "meter"),
             ("voltage", "Y1.1", "14.4 V", "meter")]
    evidence = []
    for quantity, at, value, instrument in taken:
        check = demo.check_for("locking", quantity, at, "", instrument)
        evidence.append(Evidence(check, demo.value_of(check, value)))
    first = diagnose(build_table(demo), evidence).suspects[0]
    assert first.id == "high-resistance:X1.3"
    assert first.probability > 0.98
