"""A parked vehicle that takes too much: an ammeter in series, and fuses pulled one at a time."""

from __future__ import annotations

import functools

import numpy as np
import pytest

from loomwright.circuit import CircuitPlant, parse_fault, read_circuit_text, solve
from loomwright.circuit.batch import Variant
from loomwright.circuit.model import Circuit
from loomwright.circuit.plant.names import fuses_out
from loomwright.circuit.plant.solutions import Solutions
from loomwright.circuit.readings import read_readings_text
from loomwright.circuit.templates import template_text
from loomwright.diagnosis import Diagnosis, Evidence, build_table, diagnose
from loomwright.diagnosis.table import Table
from loomwright.errors import FileProblemsError
from loomwright.plant import Check


@functools.cache
def van() -> Circuit:
    return read_circuit_text(template_text("standing-drain"))


@functools.cache
def table() -> Table:
    return build_table(CircuitPlant(van()))


def plant() -> CircuitPlant:
    found = table().plant
    assert isinstance(found, CircuitPlant)
    return found


def drain(state: str = "parked") -> Check:
    return plant().check_for(state, "current", "BAT", instrument="meter")


def worked(fault_id: str, first: tuple[Check, ...], most: int = 12) -> tuple[Diagnosis, list[str]]:
    """Return the verdict on a vehicle with a fault, and the ids of the checks asked for."""
    truth = Solutions(van(), (Variant((parse_fault(van(), fault_id),)),))

    def read(check: Check) -> float | str:
        value = float(truth.raw(check)[0])
        if check.levels:
            return check.levels[int(value)]
        value = 0.0 if np.isnan(value) else value
        return round(value / check.resolution) * check.resolution

    evidence = [Evidence(check, read(check)) for check in first]
    asked: list[str] = []
    while True:
        found = diagnose(table(), tuple(evidence))
        if found.verdict.status != "look further" or len(asked) == most:
            return found, asked
        check = found.next_checks[0].check
        asked.append(check.id)
        evidence.append(Evidence(check, read(check)))


def test_a_fuse_that_is_out_carries_nothing_and_says_so() -> None:
    parked, pulled = solve(van(), "parked"), solve(van(), "parked, F2 out")
    # 12.6 V over the 600 ohm of the clock: 21 mA
    assert parked.parts["BAT"].amps == pytest.approx(12.6 / 600, rel=1e-3)
    assert pulled.parts["BAT"].amps == pytest.approx(0.0, abs=1e-6)
    assert (parked.parts["F2"].doing, pulled.parts["F2"].doing) == ("whole", "out")
    assert pulled.points["F2.2"].floating or abs(pulled.points["F2.2"].volts) < 1e-3


def test_the_ammeter_is_offered_once_for_each_fuse() -> None:
    offered = [check for check in plant().checks()
               if check.quantity == "current" and check.instrument == "meter"]
    assert [check.state for check in offered] == [
        "parked", *(f"parked, F{number} out" for number in (1, 2, 3, 4))]
    assert {check.at for check in offered} == {"BAT"}
    assert offered[0].minutes > offered[1].minutes  # it stays in
    assert "F1 pulled" in offered[1].text
    assert "nothing switched on meanwhile" in offered[0].text
    out = [check for check in plant().checks() if check.state.endswith("out")]
    assert {check.quantity for check in out} == {"current"}


@pytest.mark.parametrize(("fault_id", "repair"), [
    ("welded:K1", "replace K1"), ("stuck-closed:S2", "replace S2"),
    ("diode-shorted:G1", "replace G1"), ("stuck-closed:S3", "replace S3"),
])
def test_the_cause_of_a_drain_is_found_by_pulling_fuses(fault_id: str, repair: str) -> None:
    found, asked = worked(fault_id, (drain(),))
    assert (found.verdict.status, found.verdict.repair) == ("repair", repair)
    assert any(name.startswith("current:parked") for name in asked)


def test_a_drain_that_no_function_shows_is_no_healthy_vehicle() -> None:
    """A shorted diode of the alternator takes 1 A and nothing else is wrong to be seen."""
    looks = plant().complaint_checks()
    found, _ = worked("diode-shorted:G1", (*looks, drain()))
    assert (found.verdict.status, found.verdict.repair) == ("repair", "replace G1")


def test_a_readings_file_takes_the_battery_and_a_pulled_fuse() -> None:
    found = read_readings_text(
        "- {state: 'parked, F1 out', quantity: current, at: BAT, value: 21 mA, "
        "instrument: meter}\n", van())
    check = plant().check_for(found[0].state, found[0].quantity, found[0].at,
                              instrument=found[0].instrument)
    assert check.id == "current:parked, F1 out:BAT:meter"
    assert plant().value_of(check, found[0].value) == pytest.approx(0.021)
    assert plant().check_for("parked", "current", "BAT", instrument="clamp").resolution == 0.1


@pytest.mark.parametrize("value", ["yes", "off", "gone"])
def test_a_fuse_in_a_state_is_out_or_not_named(value: str) -> None:
    text = template_text("standing-drain").replace("F1: out", f"F1: {value}")
    with pytest.raises(FileProblemsError) as caught:
        read_circuit_text(text)
    assert "is not a position of 'F1'" in str(caught.value)


def test_a_small_load_that_nobody_drew_is_placed_behind_its_fuse() -> None:
    """100 mA tapped in behind F3: 126 ohm at 12.6 V, beside the 21 mA of the clock."""
    shown = {"parked": 0.121, "parked, F1 out": 0.121, "parked, F2 out": 0.1,
             "parked, F3 out": 0.021}
    found = diagnose(table(), tuple(Evidence(drain(state), amps) for state, amps in shown.items()))
    assert found.verdict.status == "unexplained"
    assert "between F3.2 and BAT.-" in found.verdict.why
    places = {one.element for one in plant().unlisted()}
    assert "BAT.+~BAT.-" in places  # a drain before all fuses
    small = [one.severity for one in plant().unlisted()
             if one.severity is not None and one.severity.low_ohm < 126 < one.severity.high_ohm]
    assert small
    assert all(cell.high_ohm / cell.low_ohm < 1.25 for cell in small)


def test_a_position_called_out_pulls_no_fuse() -> None:
    """The rope of a winch goes in and out."""
    winch = read_circuit_text(template_text("winch"))
    assert winch.states["out"]["rope"] == "out"
    assert fuses_out(winch, "out") == ()
    assert fuses_out(van(), "parked, F2 out") == ("F2",)
    assert any(check.state == "out" for check in CircuitPlant(winch).maker.functions())


def test_a_drain_that_nobody_drew_leads_the_words_not_a_suspect_of_four_per_cent() -> None:
    verdict = diagnose(table(), (Evidence(drain(), 0.62),)).verdict
    assert "the likeliest fault" not in verdict.why
    assert "what the drawing does not show 14 %" in verdict.why
    assert "current at BAT in 'parked, F2 out'" in verdict.why  # a fuse pulled would tell


def test_where_a_listed_fault_is_likelier_it_leads_the_words() -> None:
    verdict = diagnose(table(), (Evidence(drain(), 0.021),)).verdict  # as healthy
    assert "what the drawing does not show" not in verdict.why
