"""The evaluation's own vehicle: it agrees with the product where both should, seeded, own figures.

Its laws differ on purpose, so agreement is coarse: what loads do, and volts within 8 % of the
system's (lamps, motors, tolerances of every part).
"""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.diagnosis.cases import STRATA, make_bench, make_case
from benchmarks.diagnosis.families import FAMILIES
from benchmarks.diagnosis.figures import interval, share_right
from benchmarks.diagnosis.job import ENGINE, work
from benchmarks.diagnosis.truth import TrueVehicle
from benchmarks.diagnosis.world import World
from loomwright.circuit import read_circuit_text, solve_all

MILD = World(20.0, 1.0, 0.0, 0.6, 0.5, 7)
LEVELS = {"off": 0, "dim": 1, "slow": 1, "on": 2}


@pytest.mark.parametrize("family", FAMILIES, ids=lambda family: family.name)
def test_a_healthy_vehicle_reads_as_the_solver_says(family) -> None:
    circuit = read_circuit_text(family.text(np.random.default_rng(3)), family.name)
    vehicle = TrueVehicle(circuit, MILD)
    for state, result in solve_all(circuit).items():
        for name in circuit.should.get(state, {}):
            assert vehicle.doing(state, name) == LEVELS[result.parts[name].doing]
        for point, reading in result.points.items():
            if not reading.floating:
                shown = vehicle.volts(state, point, "BAT.-", 0.0)
                assert shown == pytest.approx(reading.volts, abs=0.08 * circuit.system_v)


def test_a_lamp_out_of_work_is_cold_to_an_ohmmeter() -> None:
    circuit = read_circuit_text(FAMILIES[0].text(np.random.default_rng(3)), "lamp")
    lamp = circuit.parts["H1"]
    hot = lamp.number("rated_v") ** 2 / lamp.number("power_w")
    ohms = TrueVehicle(circuit, MILD).ohms("at rest", "H1.1", "H1.2")
    assert 0.04 * hot < ohms < 0.13 * hot  # cold share 0.06 to 0.10, tolerance of a load


def test_the_same_seed_gives_the_same_job() -> None:
    bench = make_bench(FAMILIES[0], 5)
    jobs = []
    for _ in range(2):
        case = make_case(bench, STRATA[0], 5)
        assert case is not None
        jobs.append(work(case, ENGINE, 1))
    assert (jobs[0].first, jobs[0].find_min, jobs[0].lead) == (
        jobs[1].first, jobs[1].find_min, jobs[1].lead)
    assert 0.0 <= share_right(jobs[0]) <= 1.0


def test_intervals_hold_their_mean_and_widen_a_share_without_misses() -> None:
    mean, low, high = interval([3.0, 5.0, 9.0, 4.0])
    assert low <= mean == 5.25 <= high
    assert interval([1.0] * 30) == (1.0, 0.9, 1.0)  # rule of three
