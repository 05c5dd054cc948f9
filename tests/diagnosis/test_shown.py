"""What a suspect is said to show at the next check: given the readings taken, not before them."""

from __future__ import annotations

import numpy as np
import pytest

from loomwright.circuit import CircuitPlant, parse_fault
from loomwright.circuit.batch import Variant
from loomwright.circuit.plant.solutions import Solutions
from loomwright.diagnosis import Evidence, Table, build_table, diagnose
from loomwright.diagnosis.belief import believe
from loomwright.diagnosis.suspects import list_suspects, predictions
from loomwright.diagnosis.table import scaled, unscaled
from loomwright.plant import Check
from tests.support.demo import tailgate


@pytest.fixture(scope="module")
def table() -> Table:
    return build_table(CircuitPlant(tailgate()))


class Vehicle:
    """The demo circuit with one fault, tolerances of its own; readings as a good meter shows."""

    def __init__(self, table: Table, fault: str) -> None:
        assert isinstance(table.plant, CircuitPlant)
        self.plant = table.plant
        circuit = self.plant.circuit
        one = Variant((parse_fault(circuit, fault),), 1.01, spread_seed=10**6)
        self._solved = Solutions(circuit, (one,))

    def read(self, check: Check) -> Evidence:
        value = float(np.nan_to_num(self._solved.raw(check)[0]))
        return Evidence(check, check.levels[int(value)] if check.levels else round(value, 2))

    def looks(self) -> list[Evidence]:
        return [self.read(look) for look in self.plant.complaint_checks()]


def shown(table: Table, evidence: list[Evidence], check: Check, fault: str) -> float:
    belief = believe(table, evidence)
    found = predictions(table, belief, check, list_suspects(table, belief))[fault]
    assert isinstance(found, float)
    return found


@pytest.mark.parametrize(("fault", "ohms", "first", "then"), [
    ("high-resistance:X1.1", 14408.0, ("locking", "X1.2b"), ("shut", "X1.1b")),
    ("high-resistance:W13", 24162.0, ("locking", "S2.2"), ("on the road", "S2.1")),
])
def test_the_same_volts_further_on_are_expected_where_a_reading_was_taken(
    table: Table, fault: str, ohms: float, first: tuple[str, str], then: tuple[str, str]
) -> None:
    """Two points beyond the fault, on a line that carries next to nothing: one voltage."""
    vehicle = Vehicle(table, f"{fault}:{ohms:g}")
    asked, check = (vehicle.plant.check_for(state, "voltage", at) for state, at in (first, then))
    looks = vehicle.looks()
    taken = vehicle.read(asked)
    assert isinstance(taken.value, float)
    # the mean over the severities that the looks leave is far off, what is now said is near
    assert abs(shown(table, looks, check, fault) - taken.value) > 0.5
    assert shown(table, [*looks, taken], check, fault) == pytest.approx(taken.value, abs=0.15)


def test_the_answer_itself_shows_it(table: Table) -> None:
    vehicle = Vehicle(table, "high-resistance:X1.1:14408")
    asked = vehicle.plant.check_for("locking", "voltage", "X1.2b")
    found = diagnose(table, [*vehicle.looks(), vehicle.read(asked)])
    said = [(one.predicts["high-resistance:X1.1"], vehicle.read(one.check).value)
            for one in found.next_checks
            if one.check.unit == "V" and "high-resistance:X1.1" in one.predicts]
    assert said
    for told, read in said:
        # 0.6 V: tolerances of parts, and where a cell is split the ends of its parts
        assert told == pytest.approx(read, abs=0.6)


def test_what_is_shown_is_nearer_the_reading_over_many_vehicles(table: Table) -> None:
    """The first voltage asked for, at a connector or wire of each severity, then its neighbour."""
    plain, given = [], []
    for element in ("X1.1", "X1.3", "W13", "W21", "W30", "W8"):
        fault = f"high-resistance:{element}"
        cells = [row.severity for row in table.rows if row.fault_id == fault and row.severity]
        for cell in cells[2::3]:
            ohms = cell.low_ohm * (cell.high_ohm / cell.low_ohm) ** 0.85  # far from the middle
            vehicle = Vehicle(table, f"{fault}:{ohms:g}")
            evidence = vehicle.looks()
            for _ in range(3):
                asked = diagnose(table, evidence, next_count=1).next_checks
                if not asked:
                    break
                check = asked[0].check
                if check.unit == "V" and len(evidence) > len(vehicle.looks()):
                    belief = believe(table, evidence)
                    rows = list(table.fault_rows[fault])
                    shares = belief.joint[:, rows] + 1e-300
                    read = float(vehicle.read(check).value)
                    mean = (shares * table.model(check).raw[:, rows]).sum() / shares.sum()
                    plain.append(abs(float(mean) - read))
                    given.append(abs(shown(table, evidence, check, fault) - read))
                evidence.append(vehicle.read(check))
    assert len(given) >= 8
    assert np.mean(given) < 0.75 * np.mean(plain)


def test_a_reading_that_is_wrong_for_a_suspect_moves_nothing(table: Table) -> None:
    fault = "high-resistance:X1.1"
    vehicle = Vehicle(table, f"{fault}:14408")
    asked = vehicle.plant.check_for("locking", "voltage", "X1.2b")
    check = vehicle.plant.check_for("shut", "voltage", "X1.1b")
    looks = [*vehicle.looks(), vehicle.read(asked)]
    # minus the volts: leads swapped, which no severity explains
    wrong = Evidence(vehicle.plant.check_for("shut", "voltage", "S4.1"), -9.6)
    before, after = shown(table, looks, check, fault), shown(table, [*looks, wrong], check, fault)
    assert after == pytest.approx(before, abs=0.1)


def test_what_is_put_on_the_scale_of_comparison_comes_back(table: Table) -> None:
    plant = table.plant
    assert isinstance(plant, CircuitPlant)
    for check in (plant.check_for("", "resistance", "W8"),
                  plant.check_for("locking", "voltage", "S2.2")):
        for value in (0.0, 0.3, 12.5, 24.0):
            assert float(unscaled(check, scaled(check, value))) == pytest.approx(value, abs=1e-9)
