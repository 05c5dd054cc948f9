"""Suspects, next checks and verdicts on a made-up chain of wires."""

from __future__ import annotations

import pytest

from loomwright.diagnosis import Evidence, build_table, diagnose
from loomwright.errors import UnknownNameError, UsageError
from tests.support.plants import series_plant, voltage_check


def readings(plant, **values):
    """Return evidence at named points of a chain."""
    named = {check.id: check for check in plant.checks()}
    return [Evidence(named[name], value) for name, value in values.items()]


def test_break_between_live_and_dead_point_is_named_for_repair():
    plant = series_plant(4)
    table = build_table(plant)
    taken = readings(plant, P4=0.0, P2=24.0, P3=0.01, P1=24.0)
    answer = diagnose(table, [*taken, *taken])  # confirmed once: nothing hangs on one reading
    assert answer.suspects[0].id == "open:W3"
    assert answer.verdict.status == "repair"
    assert answer.verdict.repair == "mend W3"
    assert answer.verdict.confidence > 0.95
    assert "P3" in answer.verdict.why


def test_first_check_of_a_dead_output_is_in_the_middle():
    plant = series_plant(4)
    answer = diagnose(build_table(plant), readings(plant, P4=0.0))
    assert answer.verdict.status == "look further"
    assert answer.next_checks[0].check.id == "P2"
    assert answer.next_checks[0].gain_bits == pytest.approx(0.9, abs=0.1)  # 1 bit less noise
    assert answer.next_checks[0].predicts["no-fault"] == pytest.approx(24.0)


def test_probabilities_sum_to_one():
    plant = series_plant(4)
    answer = diagnose(build_table(plant), readings(plant, P4=0.0, P2=24.0))
    total = answer.no_fault + answer.unmodelled + sum(s.probability for s in answer.suspects)
    assert total == pytest.approx(1.0, abs=1e-5)  # suspects under 1e-6 are not listed


@pytest.mark.parametrize("value", [float("nan"), float("inf"), "on"])
def test_value_that_is_no_number_is_refused(value):
    plant = series_plant(3)
    with pytest.raises(UsageError, match="not a finite number"):
        diagnose(build_table(plant), readings(plant, P1=value))


def test_unknown_repair_is_refused_with_the_nearest():
    with pytest.raises(UnknownNameError, match="mend W1"):
        diagnose(build_table(series_plant(3)), (), rejected=("mend w1",))


def test_unknown_level_is_refused():
    plant = series_plant(3)
    lamp = voltage_check("P1", levels=("off", "on"))
    with pytest.raises(UnknownNameError, match="level"):
        diagnose(build_table(plant), [Evidence(lamp, "dim")])
