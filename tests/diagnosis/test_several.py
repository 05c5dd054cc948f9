"""Several faults at once: found when no single fault fits, and carried through repairs."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from loomwright.circuit import CircuitPlant, read_circuit_text
from loomwright.diagnosis import Evidence, Settings, build_table, diagnose
from loomwright.diagnosis.belief import believe
from loomwright.diagnosis.repaired import folded, left_after, mended
from loomwright.diagnosis.several import needs_several, widened
from loomwright.errors import UnknownNameError
from loomwright.plant import NO_FAULT, Hypothesis
from tests.circuit.plant.heater import ONE_HEATER
from tests.support.plants import additive_plant, series_plant

AT_ONCE = Settings(several_before_repair=True)


def readings(plant, faults, after=(), only=None):
    """Return what every point shows with some faults present."""
    by_id = {row.element: row for row in plant.faults()}
    joined = Hypothesis("x", "x", "x", "x", 1.0, None, tuple(by_id[name] for name in faults))
    row = joined if faults else NO_FAULT
    shown = plant.predict((row,), plant.checks()).mean[0, 0]
    found = [Evidence(c, float(v), after) for c, v in zip(plant.checks(), shown, strict=True)]
    return [item for item in found if only is None or item.check.id in only]


def test_two_faults_that_no_single_one_explains_are_named_together():
    plant = additive_plant(6)
    answer = diagnose(build_table(plant, AT_ONCE), readings(plant, ["W1", "W4"]))
    lead = answer.suspects[0]
    assert lead.id == "open:W1+open:W4"
    assert lead.element == "W1+W4"
    assert lead.probability > 0.95
    assert lead.repair in {"mend W1", "mend W4"}
    assert answer.verdict.status == "repair"


def test_before_a_repair_several_faults_are_left_alone_unless_asked_for():
    plant = additive_plant(6)
    table, evidence = build_table(plant), readings(plant, ["W1", "W4"])
    belief = believe(table, evidence)
    assert not needs_several(table, belief, ())
    assert widened(table, evidence, (), belief) is table
    assert needs_several(table, belief, ("mend W1",))
    assert needs_several(build_table(plant, AT_ONCE), belief, ())


def test_three_faults_are_reached():
    plant = additive_plant(9)
    answer = diagnose(build_table(plant, AT_ONCE), readings(plant, ["W1", "W4", "W7"]))
    assert answer.suspects[0].id == "open:W1+open:W4+open:W7"
    assert answer.suspects[0].probability > 0.9


def test_single_fault_asks_for_no_sets():
    plant = additive_plant(6)
    table, evidence = build_table(plant, AT_ONCE), readings(plant, ["W2"])
    belief = believe(table, evidence)
    assert not needs_several(table, belief, ())
    assert widened(table, evidence, (), belief) is table


def test_plant_that_predicts_single_faults_only_is_never_asked_for_sets():
    plant = series_plant(4)
    named = {check.id: check for check in plant.checks()}
    odd = [Evidence(named[n], v) for n, v in {"P1": 13.0, "P2": 7.0, "P3": 18.0, "P4": 3.0}.items()]
    assert diagnose(build_table(plant, AT_ONCE), odd).verdict.status == "unexplained"


def test_appended_rows_keep_the_product_of_priors_and_sum_to_one():
    plant = additive_plant(6)
    table, evidence = build_table(plant, AT_ONCE), readings(plant, ["W1", "W4"])
    wide = widened(table, evidence, (), believe(table, evidence))
    assert len(wide.rows) > len(table.rows)
    assert wide.rows[-1] is table.rows[-1]
    assert np.exp(wide.log_prior).sum() == pytest.approx(1.0, abs=1e-12)
    first = wide.fault_rows["open:W1"][0]
    pair = wide.fault_rows["open:W1+open:W4"][0]
    odds = np.exp(wide.log_prior[pair] - wide.log_prior[first])
    assert odds == pytest.approx(0.01, rel=1e-9)  # the second fault's own odds
    assert table.rows == build_table(plant, AT_ONCE).rows  # the first table stays as it was


def test_priors_that_are_no_small_odds_are_scaled_to_a_fifth_together():
    plant = additive_plant(6)
    plant = replace(plant, fault_rows=tuple(replace(r, prior=1.0) for r in plant.faults()))
    table, evidence = build_table(plant, AT_ONCE), readings(plant, ["W1", "W4"])
    wide = widened(table, evidence, (), believe(table, evidence))
    pair = wide.fault_rows["open:W1+open:W4"][0]
    odds = np.exp(wide.log_prior[pair] - wide.log_prior[1])
    assert odds == pytest.approx(0.2 / 6.0, rel=1e-9)


def test_belief_passes_through_a_repair():
    plant = additive_plant(6)
    table = build_table(plant, AT_ONCE)
    before = readings(plant, ["W1", "W4"])
    # After the repair one point is read again: it still shows W4, which alone does not say so.
    after = readings(plant, ["W4"], after=("mend W1",), only={"P5"})
    answer = diagnose(table, [*before, *after], rejected=("mend W1",))
    assert answer.suspects[0].id == "open:W4"
    assert answer.suspects[0].probability > 0.95
    assert all("W1" not in suspect.element for suspect in answer.suspects)
    alone = diagnose(table, [replace(item, after=()) for item in after], rejected=("mend W1",))
    assert alone.suspects[0].probability < 0.7  # without what was read before, W3, W4 and W5 stay


def test_checks_are_on_offer_again_after_a_repair_and_old_readings_are_not_repeated():
    plant = additive_plant(6)
    table = build_table(plant, AT_ONCE)
    before = readings(plant, ["W1", "W4"])
    after = readings(plant, ["W4"], after=("mend W1",), only={"P1"})
    answer = diagnose(table, [*before, *after], next_count=9)
    assert "P1" not in {step.check.id for step in answer.next_checks}
    assert answer.suspects[0].id == "open:W4"


def test_row_index_after_repairs():
    plant = additive_plant(6)
    table, evidence = build_table(plant, AT_ONCE), readings(plant, ["W1", "W4"])
    wide = widened(table, evidence, (), believe(table, evidence))
    pair = wide.fault_rows["open:W1+open:W4"][0]
    left = left_after(wide, ("mend W1",))
    assert left[pair] == wide.fault_rows["open:W4"][0]
    assert left[wide.fault_rows["open:W1"][0]] == 0
    assert left[0] == 0
    assert left[-1] == len(wide.rows) - 1
    gone = mended(wide, ("mend W1",))
    assert gone[[1, 0, pair]].tolist() == [True, False, False]
    mass = np.random.default_rng(0).random((2, len(wide.rows)))
    assert folded(mass, left).sum() == pytest.approx(mass.sum(), abs=1e-12)


def test_unknown_repair_before_a_reading_is_refused():
    plant = additive_plant(6)
    item = readings(plant, [], after=("mend W99",), only={"P1"})
    with pytest.raises(UnknownNameError, match="mend W99"):
        diagnose(build_table(plant, AT_ONCE), item)


def test_explanation_of_readings_before_and_after_a_repair_is_complete():
    plant = additive_plant(6)
    before = readings(plant, ["W1", "W4"])
    after = readings(plant, ["W4"], after=("mend W1",), only={"P4", "P1"})
    answer = diagnose(build_table(plant, AT_ONCE), [*before, *after], rejected=("mend W1",))
    assert [weight.index for weight in answer.explanation] == list(range(len(before) + 2))
    total = answer.no_fault + answer.unmodelled + sum(s.probability for s in answer.suspects)
    assert total == pytest.approx(1.0, abs=1e-5)  # suspects under 1e-6 are not listed


def test_readings_from_before_a_repair_are_left_out_when_nothing_joins_them():
    plant = additive_plant(6)
    nonsense = [Evidence(check, 3.3) for check in plant.checks()]
    after = readings(plant, ["W4"], after=("mend W1",))
    answer = diagnose(build_table(plant, AT_ONCE), [*nonsense, *after], rejected=("mend W1",))
    assert answer.suspects[0].id == "open:W4"
    assert answer.suspects[0].probability > 0.95
    assert [weight.index for weight in answer.explanation] == [6, 7, 8, 9, 10, 11]


def test_a_part_asked_for_by_two_faults_at_once_waits_for_a_person():
    plant = additive_plant(6)
    priced = {name: replace(one, price=40.0) for name, one in plant.repairs().items()}
    plant = replace(plant, repair_classes=priced)
    never = replace(AT_ONCE, costly_confidence=1.0)  # from there on even two faults are enough
    table, evidence = build_table(plant, never), readings(plant, ["W1", "W4"])
    once = diagnose(table, evidence)
    assert once.suspects[0].id == "open:W1+open:W4"
    assert once.verdict.status == "look further"
    assert "a person agrees" in once.verdict.why
    assert diagnose(table, evidence, allow_second_part=True).verdict.status == "repair"
    alone = diagnose(table, readings(plant, ["W2"]))
    assert alone.verdict.status == "repair"  # one fault: an ordinary part, the ordinary limit
    sure = diagnose(build_table(plant, AT_ONCE), evidence)
    assert sure.verdict.status == "repair"  # at the limit of a costly part no person is asked


def test_a_dead_feed_does_not_hide_the_open_earth_behind_it():
    """0 V behind a blown fuse could also be a probe that does not touch; ohms say W4 is open too.

    So the open wire "explained" the 0 V as a wrong reading, and no set of both was looked at.
    """
    plant = CircuitPlant(read_circuit_text(ONE_HEATER))
    table = build_table(plant)
    taken = [("voltage", "R1.1", 0.0), ("voltage", "F1.1", 12.6), ("voltage", "F1.2", 0.0),
             ("voltage", "F1.2", 0.01), *(("resistance", "R1.1", 1e7),) * 2,
             *(("resistance", "R1.2", 1e7),) * 2]
    evidence = [Evidence(plant.check_for("working", "running", "R1", instrument="eye"), "off")]
    evidence += [Evidence(plant.check_for("working" if quantity == "voltage" else "off",
                                          quantity, at), value) for quantity, at, value in taken]
    found = diagnose(table, evidence)
    assert found.verdict.status != "unexplained"
    lead = set(found.suspects[0].element.split("+"))
    assert {"F1", "W2"} & lead  # blown by itself, or by a short behind it
    assert {"W4", "E1"} & lead
