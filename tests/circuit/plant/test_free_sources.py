"""Unknown currents on a circuit: responses against a second solve, and a vehicle that has one.

The vehicle's volts and amps are worked out here, by Kirchhoff's laws for one loop with a current
put in at one point; nothing of it comes from the product's solver.
"""

from __future__ import annotations

import functools
import itertools

import numpy as np
import pytest

from loomwright.circuit import CircuitPlant, read_circuit_text, solve
from loomwright.circuit.plant.unlisted import nets
from loomwright.diagnosis import Evidence, Settings, build_table, diagnose
from loomwright.diagnosis.belief import believe
from loomwright.diagnosis.engine import _believed
from loomwright.diagnosis.source_rows import fitted_sources, with_sources
from loomwright.diagnosis.source_words import leading_places, source_check
from loomwright.diagnosis.table import Table
from tests.circuit.plant.heater import heater

LISTED = heater(fuse="30 A", price="40")
# ohms round the loop from the battery's EMF on: battery and W1, fuse and W2, switch and W3, heater,
# earth side; near enough those of the file, and rounded as a vehicle's would differ from it
LOOP = (("F1.1", 0.022), ("F1.2", 0.004), ("S1.1", 0.007), ("S1.2", 0.008), ("R1.1", 0.007),
        ("R1.2", 10.0))
BACK_OHM = 0.012
EMF_V = 12.6
BEFORE = {"F1.1": "W1", "S1.1": "W2", "R1.1": "W3"}


@functools.cache
def table() -> Table:
    return build_table(CircuitPlant(read_circuit_text(LISTED)))


def vehicle(state: str, point: str, fed_a: float) -> tuple[dict[str, float], dict[str, float]]:
    """Return volts by point and amps by wire, `fed_a` put in at a point from the body."""
    names = [name for name, _ in LOOP]
    ohms = np.array([ohm for _, ohm in LOOP] + [BACK_OHM])
    if state == "off":
        ohms[names.index("S1.2")] = 1e9
    matrix, push = np.zeros((len(names), len(names))), np.zeros(len(names))
    for number, siemens in enumerate(1.0 / ohms):  # from the point before to the one after
        ends = [n for n in (number - 1, number) if 0 <= n < len(names)]
        matrix[np.ix_(ends, ends)] += siemens * (2.0 * np.eye(len(ends)) - 1.0)
    push[0] = EMF_V / ohms[0]
    push[names.index(point)] += fed_a
    level = np.linalg.solve(matrix, push)
    flow = -np.diff([EMF_V, *level, 0.0]) / ohms
    amps = {wire: float(flow[names.index(name)]) for name, wire in BEFORE.items()}
    return dict(zip(names, level, strict=True)), {**amps, "W4": float(flow[-1])}


def readings(point: str, fed: dict[str, float], seed: int) -> list[Evidence]:
    plant, rng = table().plant, np.random.default_rng(seed)
    assert isinstance(plant, CircuitPlant)
    found = []
    for state, amps_in in fed.items():
        volts, amps = vehicle(state, point, amps_in)
        for wire in ("W1", "W2", "W3", "W4"):
            check = plant.check_for(state, "current", wire, instrument="clamp")
            found.append(Evidence(check, round(amps[wire] * rng.normal(1.0, 0.01), 1)))
        for at in ("S1.2", "F1.2"):
            check = plant.check_for(state, "voltage", at)
            found.append(Evidence(check, round(volts[at] * rng.normal(1.0, 0.002), 2)))
    return found


def test_response_is_what_a_second_solve_with_a_load_shows() -> None:
    """10 ohm more behind the switch: in a linear circuit the change is response times its amps."""
    circuit = read_circuit_text(LISTED)
    loaded = read_circuit_text(heater(
        "  R9:  {kind: heater, resistance: 10 ohm, place: bench}\n  S9: {kind: splice}",
        "  - [W8, S1.2, R9.1, 2.5 mm2, 1 m, RD]\n  - [W9, R9.2, BAT.-, 2.5 mm2, 1 m, BN]",
        fuse="30 A", price="40"))
    plain, more = solve(circuit, "working"), solve(loaded, "working")
    drawn = more.wires["W8"]
    plant = CircuitPlant(circuit)
    checks = [plant.check_for("working", "voltage", at) for at in ("F1.2", "S1.2", "R1.2")]
    checks += [plant.check_for("working", "current", wire, instrument="clamp")
               for wire in ("W1", "W3")]
    sources = plant.free_sources(checks)
    response = sources.response[sources.ends.index(("S1.2", "BAT.-"))]
    changed = [float(more.points[at].volts or 0) - float(plain.points[at].volts or 0)
               for at in ("F1.2", "S1.2", "R1.2")]
    changed += [more.wires[wire] - plain.wires[wire] for wire in ("W1", "W3")]
    # the 10 Mohm meter takes a part in 1e8
    assert response * drawn == pytest.approx(np.array(changed), rel=1e-5, abs=1e-7)


def test_places_are_points_with_the_posts_and_shares_sum_to_one() -> None:
    sources = CircuitPlant(read_circuit_text(LISTED)).free_sources(())
    assert sum(sources.shares) == pytest.approx(1.0)
    assert len(set(sources.ends)) == len(sources.ends)
    assert ("S1.2", "BAT.-") in sources.ends
    assert ("S1.2", "BAT.+") in sources.ends
    assert {"BAT.+", "BAT.-"} not in [set(pair) for pair in sources.ends]
    assert sources.limit_a == 30.0  # the fuse


@pytest.mark.parametrize(("point", "amps", "seed"), [
    (point, amps, seed) for seed, (point, amps) in enumerate(
        itertools.product(("S1.2", "R1.1", "F1.2", "S1.1"), (3.0, 4.5, 6.0)))])
def test_a_current_fed_in_is_located(point: str, amps: float, seed: int) -> None:
    """Located at its net, where the readings tell; wires of one net differ by milliohms."""
    fed = {"working": amps, "off": 0.3 if point in {"S1.2", "R1.1"} else amps}
    evidence = readings(point, fed, seed)
    wide, belief = _believed(table(), evidence, ())
    found = with_sources(wide, belief).free
    assert found is not None
    places = leading_places(found)
    net = next(group for group in nets(read_circuit_text(LISTED)) if point in group)
    assert places[0][0] in net
    assert places[0][1] in {"BAT.-", "BAT.+"}
    working = found.currents["working"]
    assert abs(-working.mean_a - amps) < 3.0 * working.sd_a + 0.1  # the display's step


def test_verdict_says_where_how_much_and_what_would_tell() -> None:
    evidence = readings("S1.2", {"working": 4.5, "off": 0.3}, 1)
    answer = diagnose(table(), evidence)
    assert answer.verdict.status == "unexplained"
    assert answer.verdict.repair == ""
    assert "A current that nobody drew would fit them: -4." in answer.verdict.why
    wide, belief = _believed(table(), evidence, ())
    told = source_check(wide, with_sources(wide, belief))
    assert told is not None
    assert told[0] not in {item.check for item in evidence}
    assert f"What would tell: {told[0].quantity} at {told[0].at}" in answer.verdict.why


def test_order_of_the_readings_does_not_matter_to_the_answer() -> None:
    evidence = readings("S1.2", {"working": 4.5, "off": 0.3}, 1)
    first, second = (diagnose(table(), some) for some in (evidence, evidence[::-1]))
    assert first.unmodelled == pytest.approx(second.unmodelled, abs=1e-9)
    assert first.verdict.status == second.verdict.status


def test_nothing_is_fitted_where_something_listed_explains_the_readings() -> None:
    evidence = readings("S1.2", {"working": 0.0, "off": 0.0}, 2)
    assert fitted_sources(table(), believe(table(), evidence)) is None


def test_a_prior_of_zero_leaves_the_rows_out() -> None:
    quiet = build_table(CircuitPlant(read_circuit_text(LISTED)), Settings(free_source_prior=0.0))
    evidence = readings("S1.2", {"working": 4.5, "off": 0.3}, 1)
    assert "nobody drew" not in diagnose(quiet, evidence).verdict.why
