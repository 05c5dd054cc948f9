"""The circuit as a plant: predictions against direct solves and hand values, checks, proofs."""

from __future__ import annotations

import functools
import itertools
from importlib.resources import files

import numpy as np
import pytest

from loomwright.circuit import CircuitPlant, parse_fault, read_circuit_text, solve
from loomwright.circuit.plant.instruments import OPEN_LINE_OHM
from loomwright.circuit.plant.predictions import EMF_FACTORS, EMF_WEIGHTS
from loomwright.errors import QuantityError, UnknownNameError, UsageError
from loomwright.plant import NO_FAULT, Check, Hypothesis
from tests.circuit.plant.heater import ONE_HEATER


@functools.cache
def small() -> CircuitPlant:
    return CircuitPlant(read_circuit_text(ONE_HEATER))


@functools.cache
def demo() -> CircuitPlant:
    text = files("loomwright.demo").joinpath("tailgate_lock.yaml").read_text(encoding="utf-8")
    return CircuitPlant(read_circuit_text(text))


def row(plant: CircuitPlant, fault_id: str, ohm: float | None = None) -> Hypothesis:
    found = [one for one in plant.faults() if one.fault_id == fault_id]
    if ohm is None:
        return found[0]
    return next(one for one in found
                if one.severity and one.severity.low_ohm <= ohm <= one.severity.high_ohm)


def reading(plant: CircuitPlant, fault: Hypothesis, check: Check) -> tuple[float, float]:
    """Return mean and spread at the middle of the battery grid."""
    found = plant.predict((fault,), (check,))
    middle = found.mean.shape[0] // 2
    return float(found.mean[middle, 0, 0]), float(found.spread[middle, 0, 0])


# --- predictions ---------------------------------------------------------------------------------


@pytest.mark.parametrize("fault_id", ["open:W3", "blown:F1", "burnt-out:R1", "stuck-closed:S1"])
@pytest.mark.parametrize("point", ["F1.2", "S1.2", "R1.1", "E1"])
def test_discrete_faults_equal_a_direct_solve(fault_id: str, point: str) -> None:
    plant = small()
    fault = row(plant, fault_id)
    exact = solve(plant.circuit.with_faults([parse_fault(plant.circuit, fault_id)]), "working")
    mean, spread = reading(plant, fault, plant.check_for("working", "voltage", point))
    wanted = 0.0 if exact.points[point].floating else exact.points[point].volts
    # the mean of draws lies within the tolerance spread of the nominal solve
    assert abs(mean - wanted) <= max(2.0 * spread, 0.01)


def test_high_resistance_by_hand() -> None:
    # 10 ohm heater, x ohm in the wire before it: drop x / (10 + x) of about 12.6 V
    plant = small()
    fault = row(plant, "high-resistance:W3", 3.0)
    assert fault.severity is not None
    low, high = fault.severity.low_ohm, fault.severity.high_ohm
    nothing, _ = reading(plant, NO_FAULT, plant.check_for("working", "voltage", "R1.1", "R1.2"))
    mean, spread = reading(plant, fault, plant.check_for("working", "voltage", "S1.2", "R1.1"))
    # wires, fuse and battery take a few per cent of the loop, so 5 % either way
    assert 0.95 * nothing * low / (10 + low) < mean < 1.05 * nothing * high / (10 + high)
    # drops spread evenly in log ohm over the cell: its ends are 1.2 to 2.2 deviations away
    width = nothing * (high / (10 + high) - low / (10 + low))
    assert width / 5 < spread < width / 2


def test_a_floating_point_reads_about_nothing_with_pickup() -> None:
    plant = small()
    check = plant.check_for("off", "voltage", "S1.2", "BAT.+")
    mean, spread = reading(plant, row(plant, "open:W4"), check)
    # 0.05 V picked up by the wire, 0.02 V of the probes
    assert (mean, round(spread, 3)) == (0.0, 0.054)


@pytest.mark.parametrize("volts", [11.3, 12.1, 12.9, 14.2, 14.6])
def test_a_rested_or_a_charged_battery_is_no_outlier(volts: float) -> None:
    # the file says 12.6 V: batteries in use read 11.3 V (run down) to 14.6 V (engine running)
    plant = small()
    check = plant.check_for("off", "voltage", "F1.2")
    found = plant.predict((NO_FAULT,), (check,))
    mean = found.mean[:, 0, 0]
    sd = np.hypot(found.spread[:, 0, 0], check.accuracy * mean)
    density = found.weights / sd * np.exp(-0.5 * ((volts - mean) / sd) ** 2)
    # a wrong reading has density 0.03 over a span of 2.6 systems; be above it, as a right one
    assert density.sum() / np.sqrt(2.0 * np.pi) > 5.0 * 0.03 / (2.6 * 12.0)


def test_the_middle_of_the_battery_grid_is_the_file() -> None:
    assert EMF_FACTORS[len(EMF_FACTORS) // 2] == 1.0
    assert sum(EMF_WEIGHTS) == pytest.approx(1.0)


def test_the_meter_loads_what_it_measures() -> None:
    # 1 megohm before a 10 megohm meter and nothing else: the meter shows 10/11 of the battery
    plant = small()
    megohm = Hypothesis("high-resistance:W1:1e6", "W1", "high-resistance", "mend W1", 1e-3)
    check = plant.check_for("off", "voltage", "F1.2")
    healthy, _ = reading(plant, NO_FAULT, check)
    mean, _ = reading(plant, megohm, check)
    assert mean / healthy == pytest.approx(10 / 11, rel=1e-3)  # wire tolerances do not matter


def test_a_short_leaves_its_fuse_blown_in_every_state() -> None:
    plant = demo()
    short, tired = row(plant, "short-to-earth:W11"), row(plant, "blown:F12")
    fuse = plant.check_for("at rest", "resistance", "F12.1", "F12.2")
    for fault in (short, tired):
        assert reading(plant, fault, fuse)[0] > 0.9 * OPEN_LINE_OHM
    # the same dead controller either way: only ohms to earth part the short from the tired fuse
    leak = plant.check_for("", "resistance", "F12.2")
    assert reading(plant, short, leak)[0] < 1.0
    assert reading(plant, tired, leak)[0] > 100.0
    bare = plant.check_for("", "resistance", "W11", "E1")
    assert reading(plant, short, bare)[0] < 1.0
    assert reading(plant, tired, bare)[0] > 0.9 * OPEN_LINE_OHM


def test_levels_sum_to_one_and_numbers_are_finite() -> None:
    plant = demo()
    checks = plant.checks()
    found = plant.predict((NO_FAULT, *plant.faults()), checks)
    assert np.isclose(found.weights.sum(), 1.0)
    for number, check in enumerate(checks):
        if check.levels:
            levels = found.levels[number]
            assert levels.shape[2] == len(check.levels)
            assert np.allclose(levels.sum(axis=2), 1.0)
        else:
            assert np.isfinite(found.mean[:, :, number]).all()
            assert (found.spread[:, :, number] >= 0.0).all()


def test_predictions_are_the_same_every_time() -> None:
    first = demo()
    second = CircuitPlant(first.circuit)
    assert first.faults() == second.faults()
    assert first.checks() == second.checks()
    a = first.predict(first.faults(), first.checks())
    b = second.predict(second.faults(), second.checks())
    assert np.array_equal(a.mean, b.mean, equal_nan=True)
    assert np.array_equal(a.spread, b.spread, equal_nan=True)


def test_two_faults_at_once() -> None:
    plant = small()
    both = Hypothesis("open:W2+blown:F1", "W2+F1", "open+blown", "mend W2", 1e-4)
    check = plant.check_for("working", "voltage", "F1.2")
    assert reading(plant, row(plant, "open:W2"), check)[0] > 11.0
    assert abs(reading(plant, both, check)[0]) < 0.1


def test_test_lamp_lights_where_a_meter_is_fooled() -> None:
    plant = small()
    kilohm = Hypothesis("high-resistance:W1:1000", "W1", "high-resistance", "mend W1", 1e-3)
    lamp = plant.check_for("off", "voltage", "F1.2", "BAT.-", "test lamp")
    meter = plant.check_for("off", "voltage", "F1.2")
    assert reading(plant, kilohm, meter)[0] > 11.0
    found = plant.predict((NO_FAULT, kilohm), (lamp,)).levels[0][0]
    assert lamp.levels[int(found[0].argmax())] == "on"
    assert lamp.levels[int(found[1].argmax())] == "off"


# --- rows and repairs ----------------------------------------------------------------------------


def test_every_fault_moves_some_reading_or_is_known_to_be_invisible() -> None:
    plant = demo()
    checks = plant.checks()
    found = plant.predict((NO_FAULT, *plant.faults()), checks)
    middle = found.mean.shape[0] // 2
    moved = np.zeros(found.mean.shape[1], dtype=bool)
    for number, check in enumerate(checks):
        if check.levels:
            levels = found.levels[number][middle]
            moved |= np.abs(levels - levels[0]).sum(axis=1) > 0.2
            continue
        mean, spread = found.mean[middle, :, number], found.spread[middle, :, number]
        moved |= np.abs(mean - mean[0]) > 2.0 * np.hypot(spread[0], check.resolution)
    still = {one.fault_id for one, seen in zip(plant.faults(), moved[1:], strict=True) if not seen}
    # a fraction of an ohm before 10 kohm or before a small coil or lamp; a battery a little weak
    assert {name.split(":")[0] for name in still} <= {"high-resistance", "weak"}


def test_priors_are_of_single_faults_and_positive() -> None:
    priors = [one.prior for one in demo().faults()]
    assert min(priors) > 0.0
    assert sum(priors) <= 0.2 + 1e-9


def test_severity_cells_cover_the_range_without_gaps() -> None:
    cells = [one.severity for one in demo().faults() if one.fault_id == "high-resistance:W14"]
    assert cells[0] is not None
    assert np.isclose(cells[0].low_ohm, 0.05)
    for before, after in itertools.pairwise(cells):
        assert before is not None
        assert after is not None
        assert np.isclose(before.high_ohm, after.low_ohm)
    # W14 feeds a 10 kohm input: its cells must reach tens of kilohms
    assert cells[-1] is not None
    assert cells[-1].high_ohm > 5e4


def test_repairs_in_plain_words_with_price() -> None:
    repairs = demo().repairs()
    assert repairs["mend W20"].text == "Mend wire W20 (X1.2a to ECU.11)"
    assert repairs["replace ECU"].costly
    assert repairs["replace Y1"].costly
    assert not repairs["replace F12"].costly
    assert repairs["mend W22"].minutes > repairs["replace F12"].minutes


# --- checks --------------------------------------------------------------------------------------


def test_ids_are_readable_and_distinct() -> None:
    checks = demo().checks()
    assert "voltage:locking:ECU.11:BAT.-" in {check.id for check in checks}
    assert len({check.id for check in checks}) == len(checks)
    assert all(check.text and check.setup for check in checks)


def test_offered_checks_are_what_check_for_gives() -> None:
    plant = demo()
    for check in plant.checks():
        again = plant.check_for(check.state, check.quantity, check.at, check.to, check.instrument)
        assert again == check


def test_a_taped_splice_is_taken_last_and_a_connector_with_care() -> None:
    plant = demo()
    assert plant.check_for("locking", "voltage", "SP3").risk == 2
    assert plant.check_for("locking", "voltage", "X1.2a").risk == 1
    assert plant.check_for("locking", "voltage", "F12.2").risk == 0


@pytest.mark.parametrize(
    ("given", "error"),
    [
        (("lockin", "voltage", "ECU.12"), UnknownNameError),
        (("locking", "volts", "ECU.12"), UnknownNameError),
        (("locking", "voltage", "ECU.99"), UnknownNameError),
        (("locking", "voltage", "ECU"), UsageError),
        (("locking", "voltage", "BAT.-"), UsageError),
        (("locking", "lit", "F12"), UsageError),
        (("locking", "lit", "H99"), UnknownNameError),
        (("locking", "input", "ECU.lock"), UnknownNameError),
        (("locking", "current", "ECU"), UsageError),
        (("locking", "current", "W99"), UnknownNameError),
        (("locking", "voltage", "F12.1", "F12.9"), UnknownNameError),
        (("locking", "current", "W2", "", "eye"), UsageError),
        (("locking", "resistance", "W2", "F12.1"), UsageError),
    ],
)
def test_nonsense_is_refused(given: tuple[str, ...], error: type[UsageError]) -> None:
    with pytest.raises(error):
        demo().check_for(*given)


def test_elements_stand_for_their_two_sides() -> None:
    plant = demo()
    drop = plant.check_for("locking", "voltage", "W22")
    assert (drop.at, drop.to) == ("X1.3b", "Y1.1")
    way = plant.check_for("", "resistance", "X1.3")
    assert (way.at, way.to, way.setup) == ("X1.3a", "X1.3b", "isolated")
    assert plant.check_for("locking", "current", "Y1").at == "W22"


@pytest.mark.parametrize(
    ("text", "value"), [("11.9 V", 11.9), ("11,9 V", 11.9), ("120 mV", 0.12)]
)
def test_typed_volts(text: str, value: float) -> None:
    plant = small()
    assert plant.value_of(plant.check_for("off", "voltage", "F1.2"), text) == pytest.approx(value)


def test_typed_ohms_and_words() -> None:
    plant = small()
    ohms = plant.check_for("", "resistance", "F1")
    assert plant.value_of(ohms, "OL") == OPEN_LINE_OHM
    assert plant.value_of(ohms, "0.3 ohm") == pytest.approx(0.3)
    with pytest.raises(UsageError):
        plant.value_of(ohms, "-3 ohm")
    with pytest.raises(QuantityError):
        plant.value_of(ohms, "12")
    heater = plant.check_for("working", "running", "R1")
    assert plant.value_of(heater, "Dim") == "slow"
    assert plant.value_of(heater, True) == "on"
    with pytest.raises(UnknownNameError):
        plant.value_of(heater, "sideways")


# --- proof ---------------------------------------------------------------------------------------


def test_margin_checks_cover_feed_and_earth_side_of_the_mended_path() -> None:
    plant = demo()
    feed = {(check.at, check.to) for check in plant.margin_checks("mend W22")}
    assert ("X1.3b", "Y1.1") in feed  # the mended wire itself
    assert ("BAT.+", "Y1.1") in feed  # the feed side of what it feeds
    assert ("Y1.2", "BAT.-") not in feed  # its earth side is another path
    shared = {(check.at, check.to) for check in plant.margin_checks("mend W24")}
    assert {("Y1.2", "BAT.-"), ("H7.2", "BAT.-")} <= shared  # both loads on that earth
    functions = {check.id for check in plant.margin_checks("mend W22") if check.levels}
    assert "running:locking:Y1" in functions


def test_every_repair_has_proof_checks() -> None:
    plant = demo()
    for repair in plant.repairs():
        assert plant.margin_checks(repair), repair
    with pytest.raises(UnknownNameError):
        plant.margin_checks("mend W99")


def test_joined_rows_are_solved_with_all_their_faults() -> None:
    plant = small()
    lift = row(plant, "high-resistance:W3", 3.0)
    parts = (row(plant, "blown:F1"), lift)
    joined = Hypothesis("a+b", "F1+W3", "a+b", "replace F1", 1e-6, None, parts)
    check = plant.check_for("working", "voltage", "R1.1")
    assert reading(plant, joined, check)[0] == pytest.approx(0.0, abs=1e-3)  # the fuse is open
    twice = Hypothesis("a+b", "W3+W4", "a+b", "mend W3", 1e-6, None,
                       (lift, row(plant, "high-resistance:W4", 3.0)))
    across = plant.check_for("working", "voltage", "S1.2", "R1.1")
    one, both = reading(plant, lift, across)[0], reading(plant, twice, across)[0]
    nothing = reading(plant, NO_FAULT, plant.check_for("working", "voltage", "R1.1", "R1.2"))[0]
    ohm = 10.0 * one / (nothing - one)  # what the wire adds, by the single fault's own drop
    # the same wire with as much again in the earth wire: x / (10 + 2x); cells are wide, so 10 %
    assert both == pytest.approx(nothing * ohm / (10.0 + 2.0 * ohm), rel=0.1)
