"""Laws that hold for every circuit: energy, superposition, monotone drops, batch equals single."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomwright.circuit import faults_of, solve
from loomwright.circuit.batch import Variant, solve_batch
from loomwright.circuit.elimination import factorise, make_plan, solve_factored
from loomwright.circuit.laws import diode_current, lamp_current, motor_current
from loomwright.circuit.model import Circuit, Fault
from tests.support.demo import tailgate
from tests.support.random_circuits import random_circuit

pytestmark = pytest.mark.property

seeds = st.integers(0, 10_000)
states = st.sampled_from(["locking", "open", "shut", "on the road"])


def scaled(circuit: Circuit, factors: dict[str, float]) -> Circuit:
    """Return the circuit with its batteries' volts multiplied; the others next to none."""
    parts = dict(circuit.parts)
    for name, part in circuit.parts.items():
        if part.kind == "battery":
            params = {**part.params, "emf_v": part.number("emf_v") * factors.get(name, 1e-12)}
            parts[name] = dataclasses.replace(part, params=params)
    return dataclasses.replace(circuit, parts=parts)


def volts_of(circuit: Circuit) -> np.ndarray:
    """Return the volts of all points in the one state."""
    return solve_batch(circuit, "here", (Variant(),)).volts[:, 0]


@given(seeds)
@settings(max_examples=40)
def test_sources_give_what_resistances_take(seed: int) -> None:
    circuit = random_circuit(seed)
    result = solve_batch(circuit, "here", (Variant(),))
    network = result.network
    volts = np.zeros(len(network.nodes))
    volts[: len(result.points)] = result.volts[:, 0]
    given_w = taken_w = 0.0
    for number, branch in enumerate(network.branches):
        across = volts[network.start[number]] - volts[network.end[number]] + branch.emf
        given_w += branch.emf * across / branch.ohm
        taken_w += across**2 / branch.ohm
    assert given_w == pytest.approx(taken_w, rel=1e-6)  # rounding of volts over milliohms


@given(seeds)
@settings(max_examples=40)
def test_superposition_of_sources(seed: int) -> None:
    circuit = random_circuit(seed)
    batteries = [name for name, part in circuit.parts.items() if part.kind == "battery"]
    together = volts_of(circuit)
    summed = sum(volts_of(scaled(circuit, {name: 1.0})) for name in batteries)
    assert np.abs(together - summed).max() < 1e-8 * max(np.abs(together).max(), 1)  # rounding


@given(seeds, st.floats(0.01, 100), st.floats(1.1, 10))
@settings(max_examples=40)
def test_a_larger_series_resistance_drops_more_and_carries_less(
    wire: int, ohms: float, times: float
) -> None:
    circuit = tailgate()
    name = ["W21", "W22", "W23"][wire % 3]  # the valve's only path
    variants = tuple(Variant((Fault(f"high-resistance:{name}:{r}", name, "high-resistance", r),))
                     for r in (ohms, ohms * times))
    result = solve_batch(circuit, "locking", variants)
    start, end = circuit.wires[name].start.point, circuit.wires[name].end.point  # type: ignore[union-attr]
    drops, _ = result.voltage(start, end)
    amps = result.wire_amps[result.wire_index[name]]
    assert drops[1] > drops[0] > 0
    assert 0 < amps[1] < amps[0]


@given(st.lists(st.integers(0, 10_000), min_size=1, max_size=12), states)
@settings(max_examples=15)
def test_a_variant_does_not_feel_its_neighbours(picks: list[int], state: str) -> None:
    faults = faults_of(tailgate())
    variants = tuple(Variant((faults[n % len(faults)],), 0.9 + (n % 7) / 40, n) for n in picks)
    together = solve_batch(tailgate(), state, variants).volts
    for number, variant in enumerate(variants):
        alone = solve_batch(tailgate(), state, (variant,)).volts[:, 0]
        assert np.abs(together[:, number] - alone).max() < 1e-6  # Newton ends within 1e-9 V


@given(seeds, states)
@settings(max_examples=15)
def test_a_fault_leaves_the_circuit_it_came_from_alone(pick: int, state: str) -> None:
    circuit = tailgate()
    faults = faults_of(circuit)
    before = solve(circuit, state)
    faulty = circuit.with_faults([faults[pick % len(faults)]])
    solve(faulty, state)
    assert circuit.faults == ()
    assert solve(circuit, state) == before


@given(st.floats(-60, 60), st.floats(0.01, 5), st.floats(0.1, 100))
def test_laws_rise_and_their_slopes_are_their_derivatives(
    volts: float, cold_times: float, hot_ohm: float
) -> None:
    def at(v: float) -> list[tuple[float, float]]:
        one, hot = np.array([v]), np.array([hot_ohm])
        found = [lamp_current(one, hot, hot * min(cold_times / 5, 0.9), np.array([24.0])),
                 diode_current(one, np.array([0.02])),
                 motor_current(one, hot, np.array([24.0]), np.array([12 / hot_ohm]))]
        return [(float(i[0]), float(s[0])) for i, s in found]

    step = 1e-6
    for (low, _), (_, slope), (high, _) in zip(
        at(volts - step), at(volts), at(volts + step), strict=True
    ):
        assert high >= low
        assert slope > 0
    low, here, high = at(volts - step)[0], at(volts)[0], at(volts + step)[0]
    if abs(volts) > 0.5:  # a central difference of 1e-6 V, smooth there: good to 1e-4
        assert (high[0] - low[0]) / (2 * step) == pytest.approx(here[1], rel=1e-4)


@given(seeds, st.integers(2, 15))
@settings(max_examples=60)
def test_elimination_solves_any_connected_network(seed: int, count: int) -> None:
    dice = np.random.default_rng(seed)
    edges = [(n, int(dice.integers(n))) for n in range(1, count)]
    for _ in range(count):
        a, b = (int(n) for n in dice.choice(count, 2, replace=False))
        if (a, b) not in edges and (b, a) not in edges:
            edges.append((a, b))
    siemens = 10 ** dice.uniform(-6, 3, (len(edges), 3))  # three variants
    amps = dice.uniform(-5, 5, (count, 3))
    plan = make_plan(count, edges, 0)
    entries, ground = np.zeros((len(plan.entry_of), 3)), np.zeros((plan.size, 3))
    for number, (a, b) in enumerate(edges):
        low, high = sorted((int(plan.row_of[a]), int(plan.row_of[b])))
        if low < 0:
            ground[high] += siemens[number]
        else:
            entries[plan.entry_of[low, high]] += siemens[number]
    right = np.zeros((plan.size, 3))
    right[plan.row_of[1:]] = amps[1:]
    volts = solve_factored(factorise(plan, entries, ground), right)[plan.row_of[1:]]
    for variant in range(3):
        # currents leaving each node must be those put in, to the rounding of g times v
        full = np.append(0.0, volts[:, variant])
        left, size = np.zeros(count), np.zeros(count)
        for number, (a, b) in enumerate(edges):
            flow = siemens[number, variant] * (full[a] - full[b])
            left[a] += flow
            left[b] -= flow
            for node in (a, b):
                size[node] += siemens[number, variant] * (abs(full[a]) + abs(full[b]))
        assert (np.abs(left - amps[:, variant])[1:] <= 1e-12 * size[1:] + 1e-9).all()
