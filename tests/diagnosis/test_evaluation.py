"""The evaluation's own vehicle: it agrees with the product where both should, seeded, own figures.

Its laws differ on purpose, so agreement is coarse: what loads do, and volts within 8 % of the
system's (lamps, motors, tolerances of every part).
"""

from __future__ import annotations

import numpy as np
import pytest

from benchmarks.diagnosis import results
from benchmarks.diagnosis.cases import STRATA, Bench, Case, make_bench, make_case
from benchmarks.diagnosis.draws import complains, drawn_fault, matters, parasite
from benchmarks.diagnosis.families import FAMILIES
from benchmarks.diagnosis.figures import (
    calibration_error,
    calibration_floor,
    confident_wrong,
    interval,
    share_right,
    verdict_error,
)
from benchmarks.diagnosis.instrument import Reader
from benchmarks.diagnosis.job import ENGINE, Facts, Outcome, noted, work
from benchmarks.diagnosis.plan import planned
from benchmarks.diagnosis.report import page
from benchmarks.diagnosis.truth import TrueVehicle
from benchmarks.diagnosis.world import World
from loomwright.circuit import faults_of, parse_fault, read_circuit_text, solve_all
from tests.support.ngspice import node_volts

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


@pytest.fixture(scope="module")
def plain() -> Bench:
    """Return a circuit of the first family."""
    return make_bench(FAMILIES[0], 5)


def facts(**given) -> Facts:
    """Return facts of a made-up job whose one fault is mended by 'mend W1'."""
    known = {"stratum": STRATA[0], "family": "plain load", "number": 1, "truth": ("open:W1",),
             "repairs": frozenset({"mend W1"}), "twins": frozenset()}
    return Facts(**{**known, **given})


def netlist(vehicle: TrueVehicle, state: str) -> str:
    """Return the branches of a solved vehicle as resistors and sources for an outside simulator."""
    lines = ["one state of the evaluation's vehicle"]
    for number, (a, b, siemens, emf) in enumerate(vehicle.branches(state)):
        if siemens > 0.0:
            lines += [f"V{number} m{number} {_node(a)} DC {emf!r}",
                      f"R{number} m{number} {_node(b)} {1.0 / siemens!r}"]
    points = {number for one in vehicle.branches(state) for number in one[:2]} - {0}
    lines += [f"RL{number} {_node(number)} 0 1e12" for number in sorted(points)]
    return "\n".join([*lines, ".op", ".end", ""])


def _node(number: int) -> str:
    return f"n_{number}" if number else "0"


@pytest.mark.parametrize("place", range(len(FAMILIES)), ids=lambda n: FAMILIES[n].name)
def test_its_volts_are_those_of_ngspice(place, ngspice_path, tmp_path) -> None:
    rng = np.random.default_rng(place)
    circuit = read_circuit_text(FAMILIES[place].text(rng), "truth")
    vehicles = [TrueVehicle(circuit, MILD, (drawn_fault(circuit, rng),)) for _ in range(3)]
    pairs = [(vehicle, state) for vehicle in vehicles for state in circuit.states]
    texts = [netlist(vehicle, state) for vehicle, state in pairs]
    for (vehicle, state), volts in zip(pairs, node_volts(texts, ngspice_path, tmp_path),
                                       strict=True):
        for point in circuit.points():
            if (number := vehicle.node(point)) and f"n_{number}" in volts:
                own = float(vehicle.solved(state).volts[number])
                # the last round of the vehicle's iteration moves less than 0.1 mV
                assert volts[f"n_{number}"] == pytest.approx(own, abs=2e-3)


def test_a_resistance_in_series_by_hand(plain) -> None:
    """A 10 ohm joint before the lamp: volts divide as its current says."""
    fault = parse_fault(plain.circuit, "high-resistance:W5:10")
    vehicle = TrueVehicle(plain.circuit, MILD, (fault,))
    amps = vehicle.amps("lit", "W5")
    lost = vehicle.volts("lit", "X1.1b", "H1.1", 0.0)
    # 10 ohm and the wire's own few milliohms, at most 60
    assert 10.0 * amps <= lost <= 10.06 * amps
    assert vehicle.amps("at rest", "W5") == pytest.approx(0.0, abs=1e-6)


def test_a_dead_controller_gives_no_answer() -> None:
    circuit = read_circuit_text(FAMILIES[3].text(np.random.default_rng(3)), "signal")
    dead = TrueVehicle(circuit, MILD, (parse_fault(circuit, "dead:ECU"),))
    without = TrueVehicle(circuit, MILD, (parse_fault(circuit, "open:W3"),))
    well = TrueVehicle(circuit, MILD)
    assert [one.listed("shut", "input", "ECU.shut") for one in (well, dead, without)] == [1, 2, 2]


def test_vehicles_do_not_hang_on_the_engine_and_follow_the_priors(plain) -> None:
    first, again = make_case(plain, STRATA[1], 3, 1), make_case(plain, STRATA[1], 3, 1)
    other = make_case(plain, STRATA[1], 3, 2)
    assert first is not None
    assert again is not None
    assert other is not None
    assert first.vehicle.faults == again.vehicle.faults
    assert first.vehicle.world == again.vehicle.world != other.vehicle.world
    rng = np.random.default_rng(1)
    kinds = [drawn_fault(plain.circuit, rng).kind for _ in range(600)]
    priors = {fault.id: fault.prior for fault in faults_of(plain.circuit)}
    share = sum(value for name, value in priors.items() if name.startswith("open:"))
    share /= sum(priors.values())
    # a binomial share of 600 lies within four standard errors
    error = 4.0 * np.sqrt(share * (1.0 - share) / 600.0)
    assert kinds.count("open") / 600.0 == pytest.approx(share, abs=error)


def test_every_job_has_its_reason_and_doubles_matter_each_alone(plain) -> None:
    for stratum in STRATA:
        case = make_case(plain, stratum, 1, 1)
        assert case is not None
        assert complains(case.vehicle) == (stratum.sort != "none")
        if stratum.sort == "double":
            assert matters(plain.circuit, case.vehicle.world, case.vehicle.faults)
            assert len(case.repairs) == 2
    extra = parasite(plain.circuit, np.random.default_rng(1))
    assert 1.0 <= extra.ohm <= 20.0


def test_wrong_readings_come_as_often_as_the_stratum_says(plain) -> None:
    case = make_case(plain, STRATA[2], 1, 1)
    assert case is not None
    well = Case(1, plain, case.stratum, TrueVehicle(plain.circuit, case.vehicle.world), 1.0, {})
    check = plain.plant.check_for("lit", "voltage", "H1.1")
    true = well.vehicle.volts("lit", "H1.1", "BAT.-", 0.0)
    # a fresh meter each: a battery sags with every reading
    off = [abs(float(Reader(well, seed).read(check)) - true) > 0.08 * true for seed in range(400)]
    # 10 % wrong, of which about a sixth lands near the truth (a neighbour's pin); 4 standard errors
    assert 0.03 <= np.mean(off) <= 0.16


@pytest.mark.parametrize(("stratum", "step"), [("meter of 0.1 V", 0.1), ("doubles", 0.01)])
def test_the_digits_typed_tell_the_step_of_the_meter(plain, stratum, step) -> None:
    case = make_case(plain, next(one for one in STRATA if one.name == stratum), 1, 1)
    assert case is not None
    check = plain.plant.check_for("lit", "voltage", "F1.1")
    item = noted(Reader(case, 1), check)
    assert item.check.resolution == step
    assert item.check.id == check.id
    assert item.value == pytest.approx(round(item.value / step) * step, abs=1e-9)  # rounding


def test_calibration_is_zero_when_shares_are_true_and_sees_a_bluff() -> None:
    honest = [Outcome(facts(), ENGINE, lead=[(0.9, n < 9)]) for n in range(10)]
    bluff = [Outcome(facts(), ENGINE, lead=[(0.95, n < 5)]) for n in range(10)]
    assert calibration_error(honest) == pytest.approx(0.0, abs=1e-12)
    assert calibration_error(bluff) == pytest.approx(0.45, abs=1e-12)
    # by hand: ten draws at 0.9, E|mean - 0.9| = 0.0775; fifty of them, standard error 0.008
    assert calibration_floor(honest) == pytest.approx(0.0775, abs=0.03)
    wrong = Outcome(facts(), ENGINE, first="mend W2", confidence=0.96)
    right = Outcome(facts(), ENGINE, first="mend W1", confidence=0.96)
    assert verdict_error([wrong, right]) == pytest.approx(0.46)
    assert (confident_wrong(wrong), confident_wrong(right)) == (1.0, 0.0)


def test_an_interval_covers_the_truth_about_as_often_as_it_says() -> None:
    rng = np.random.default_rng(7)
    hits = 0
    for number in range(100):
        _, low, high = interval(rng.normal(3.0, 1.0, 40).tolist(), seed=number)
        hits += low <= 3.0 <= high
    assert 88 <= hits <= 100  # 95 % of 100, and four standard errors down with 40 values each


def test_results_survive_a_crash_and_the_plan_grows(tmp_path) -> None:
    outcome = Outcome(facts(), ENGINE, first="mend W1", lead=[(0.5, True)], log=["a = 1"])
    path = tmp_path / "deep" / "run.jsonl"
    results.append(path, [outcome])
    with path.open("a", encoding="utf-8") as file:
        file.write('{"case": {"stra')  # cut short
    found = results.load(path)
    assert found == {results.key_of(outcome): outcome}
    few = {(task.family, *case) for task in planned(24, 1) for case in task.cases}
    many = {(task.family, *case) for task in planned(300, 1) for case in task.cases}
    assert few < many
    assert len(many) == 300 * len(FAMILIES)
    assert "single, no wrong readings" in page([outcome])
