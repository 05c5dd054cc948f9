"""The stopping rule: when to look further, repair, give up, or hold back a part."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from loomwright.diagnosis import Evidence, build_table, diagnose
from loomwright.diagnosis.belief import believe
from loomwright.diagnosis.matrix_plant import MatrixPlant
from loomwright.diagnosis.verdict import misfit_probability
from loomwright.plant import Hypothesis, Repair
from tests.support.plants import series_plant, voltage_check


def take(plant, *pairs):
    named = {check.id: check for check in plant.checks()}
    return [Evidence(named[name], value) for name, value in pairs]


def test_nothing_fits_gives_unexplained_and_no_part():
    plant = series_plant(4, price=50.0)
    evidence = take(plant, ("P1", 13.0), ("P2", 7.0), ("P3", 18.0), ("P4", 3.0))
    answer = diagnose(build_table(plant), evidence)
    assert answer.verdict.status == "unexplained"
    assert answer.verdict.repair == ""
    assert "No part is advised" in answer.verdict.why
    assert "P2" in answer.verdict.why


def test_healthy_readings_give_no_fault_found():
    plant = series_plant(3)
    answer = diagnose(build_table(plant), take(plant, ("P1", 24.0), ("P2", 24.0), ("P3", 24.0)))
    assert answer.verdict.status == "no fault found"
    assert answer.verdict.repair == ""
    assert answer.no_fault > 0.95


def test_no_readings_looks_further():
    answer = diagnose(build_table(series_plant(3)), ())
    assert answer.verdict.status == "look further"
    assert answer.next_checks
    assert "Next:" in answer.verdict.why


def test_costly_part_wants_the_decisive_reading_twice():
    plant = series_plant(3, price=900.0, costly=True)
    table = build_table(plant)
    once = take(plant, ("P1", 24.0), ("P2", 0.0), ("P3", 0.0))
    first = diagnose(table, once)
    assert first.verdict.status == "look further"
    assert "Repeat" in first.verdict.why
    asked = first.next_checks[0].check
    assert asked in {item.check for item in once}
    twice = [*once, *(item for item in once if item.check == asked)]
    for _ in range(3):  # at most every reading once more
        answer = diagnose(table, twice)
        if answer.verdict.status == "repair":
            break
        twice += take(plant, *((i.check.id, i.value) for i in once
                               if i.check == answer.next_checks[0].check))
    assert answer.verdict.status == "repair"
    assert answer.verdict.repair == "mend W2"
    assert answer.verdict.confidence >= 0.99


def test_no_repair_rests_on_one_reading_that_nobody_repeated():
    plant = series_plant(3)  # free parts: a wrong repair still costs its minutes and a comeback
    table = build_table(plant)
    once = take(plant, ("P1", 24.0), ("P2", 0.0), ("P3", 0.0))
    first = diagnose(table, once)
    assert first.verdict.status == "look further"
    assert first.next_checks[0].check.id == "P1"  # without it W1 would be as likely
    later = diagnose(table, repeated_as_asked(table, once))
    assert later.verdict.status == "repair"
    assert later.verdict.repair == "mend W2"


def repeated_as_asked(table, evidence, most=3, **told):
    """Return the readings with every repeat that the engine asks for, at most three."""
    values = {item.check: item.value for item in evidence}
    for _ in range(most):
        answer = diagnose(table, evidence, **told)
        if answer.verdict.status != "look further" or not answer.next_checks:
            break
        wanted = answer.next_checks[0].check
        evidence = [*evidence, Evidence(wanted, values[wanted])]
    return evidence


def test_repeats_for_safety_are_at_most_three():
    plant = series_plant(9)
    table = build_table(plant)
    pairs = [(f"P{n}", 24.0 if n < 5 else 0.0) for n in range(1, 10)]
    evidence = repeated_as_asked(table, take(plant, *pairs), most=9)
    assert 9 < len(evidence) <= 9 + 3
    assert diagnose(table, evidence).verdict.status == "repair"


def test_second_part_waits_for_a_person():
    plant = series_plant(3, price=50.0)
    table = build_table(plant)
    evidence = take(plant, ("P1", 24.0), ("P3", 0.0), ("P2", 0.0))
    assert diagnose(table, evidence).verdict.repair == "mend W2"
    after = diagnose(table, evidence, rejected=("mend W2",))
    assert after.verdict.status != "repair"
    assert all(suspect.repair != "mend W2" for suspect in after.suspects)
    assert after.unmodelled > diagnose(table, evidence).unmodelled


def test_second_part_is_advised_once_a_person_agrees():
    plant = series_plant(3, price=50.0)
    table = build_table(plant)
    # W3 was changed although the readings point to W2.
    evidence = take(plant, ("P1", 24.0), ("P3", 0.0), ("P2", 0.0), ("P2", 0.0), ("P1", 24.0))
    held = diagnose(table, evidence, rejected=("mend W3",))
    assert held.verdict.status == "look further"
    assert "a person" in held.verdict.why
    told = {"rejected": ("mend W3",), "allow_second_part": True}
    agreed = diagnose(table, repeated_as_asked(table, evidence, **told), **told)
    assert agreed.verdict.status == "repair"
    assert agreed.verdict.repair == "mend W2"


def twins() -> MatrixPlant:
    """Return a plant of two faults that read alike everywhere, and one that does not."""
    rows = tuple(
        Hypothesis(f"open:{name}", name, "open", f"mend {name}", 0.001) for name in ("A", "B", "C")
    )
    minutes = {"A": 30.0, "B": 5.0, "C": 10.0}
    repairs = {r.repair: Repair(r.repair, r.repair, minutes[r.element]) for r in rows}
    mean = np.array([[[24.0, 24.0], [0.0, 24.0], [0.0, 24.0], [0.0, 0.0]]])
    checks = (voltage_check("P1"), voltage_check("P2"))
    return MatrixPlant(rows, repairs, checks, mean, np.full_like(mean, 0.05), np.ones(1))


def test_faults_that_no_check_separates_are_named_together_cheapest_first():
    plant = twins()
    readings = take(plant, ("P1", 0.0), ("P1", 0.0), ("P2", 24.0), ("P2", 24.0))
    answer = diagnose(build_table(plant), readings)
    assert answer.verdict.status == "repair"
    assert answer.verdict.repair == "mend B"
    assert 0.4 < answer.verdict.confidence < 0.6
    assert "A open" in answer.verdict.why
    assert "B open" in answer.verdict.why
    assert "apart" in answer.verdict.why


def test_costly_twin_is_never_advised_on_even_odds():
    plant = twins()
    costly = {
        key: replace(repair, costly=True, price=900.0)
        for key, repair in plant.repairs().items()
    }
    plant = replace(plant, repair_classes=costly)
    answer = diagnose(build_table(plant), take(plant, ("P1", 0.0), ("P2", 24.0)))
    assert answer.verdict.status == "look further"


def test_piercing_check_comes_only_when_nothing_harmless_helps():
    plant = series_plant(4)
    first, second, third, fourth = plant.checks()
    pierce = replace(second, risk=2)
    plant = replace(plant, check_list=(first, pierce, third, fourth))
    table = build_table(plant)
    start = diagnose(table, [Evidence(fourth, 0.0)], next_count=10)
    assert "P2" not in {step.check.id for step in start.next_checks}
    later = diagnose(table, [Evidence(fourth, 0.0), Evidence(first, 24.0), Evidence(third, 0.0)])
    assert later.next_checks[0].check.id == "P2"


def test_place_is_paid_once():
    plant = series_plant(4)
    near = tuple(replace(check, place="tailgate") for check in plant.checks())
    plant = replace(plant, check_list=near, place_minutes={"tailgate": 8.0})
    table = build_table(plant)
    before = diagnose(table, ()).next_checks[0]
    after = diagnose(table, [Evidence(near[3], 0.0)]).next_checks[0]
    assert before.minutes == 9.0
    assert after.minutes == 1.0


def test_check_not_on_offer_is_never_proposed():
    plant = series_plant(3)
    hidden = tuple(replace(check, offer=check.id != "P2") for check in plant.checks())
    answer = diagnose(build_table(replace(plant, check_list=hidden)), (), next_count=10)
    assert {step.check.id for step in answer.next_checks} == {"P1", "P3"}


def test_explanation_says_what_each_reading_does():
    plant = series_plant(3)
    evidence = take(plant, ("P1", 24.0), ("P2", 0.0), ("P3", 0.0))
    answer = diagnose(build_table(plant), evidence)
    first, second, third = answer.explanation
    assert second.for_first_bits > 3.0  # dead at P2: the second wire, not the third
    assert abs(first.for_first_bits) < 0.1  # live at P1 under both
    assert first.verdict_without == "mend W1"
    assert third.expected_if_healthy == 24.0
    assert "P2" in second.text
    assert "healthy shows 24.00 V" in second.text


def test_explanation_names_the_reading_that_would_turn_the_verdict():
    plant = series_plant(2)
    evidence = take(plant, ("P2", 0.0), ("P1", 24.0))
    answer = diagnose(build_table(plant), evidence)
    assert answer.suspects[0].id == "open:W2"
    turned = [weight for weight in answer.explanation if weight.verdict_without]
    assert turned
    assert "If this reading is wrong" in turned[0].text


def test_reading_that_all_doubt_hangs_on_is_repeated_at_most_three_times():
    plant = series_plant(1, price=900.0, costly=True)
    table = build_table(plant)
    check = plant.checks()[0]
    evidence = [Evidence(check, 0.0)]
    answer = diagnose(table, evidence)
    assert answer.verdict.status == "look further"
    while answer.next_checks and answer.verdict.status == "look further" and len(evidence) < 9:
        assert answer.next_checks[0].check == check
        evidence.append(Evidence(check, 0.0))
        answer = diagnose(table, evidence)
    assert 2 <= len(evidence) <= 3
    assert answer.verdict.status == "repair"


def test_level_seen_again_is_a_slip_less_often():
    plant = series_plant(1)
    lamp = voltage_check("P1", levels=("off", "on"))
    chances = np.array([[[0.01, 0.99], [0.99, 0.01]]])
    plant = replace(plant, check_list=(lamp,), chances={0: chances})
    table = build_table(plant)
    healthy = [diagnose(table, [Evidence(lamp, "off")] * count).no_fault for count in (1, 2, 3)]
    assert healthy[0] > 2.0 * healthy[1] > 4.0 * healthy[2]


def test_a_reading_confirmed_by_repeats_is_hardly_ever_the_wrong_one():
    plant = series_plant(4, price=50.0)
    table = build_table(plant)
    # 13 V at P3 fits no break of the chain; once it may be a slip, three times it is not
    rest = take(plant, ("P1", 24.0), ("P2", 0.0), ("P4", 0.0))
    once = believe(table, [*rest, *take(plant, ("P3", 13.0))])
    thrice = believe(table, [*rest, *take(plant, *[("P3", 13.0)] * 3)])
    # four readings at 3 %, one wrong: 1 - 0.97^4; the repeated one is wrong at 0.03 x 0.2 x 0.2
    assert misfit_probability(table, once) == pytest.approx(1.0 - 0.97**4)
    assert misfit_probability(table, thrice) == pytest.approx(0.03 * 0.2**2)
    repeated = [*rest, *take(plant, *[("P3", 13.0)] * 3)]
    assert diagnose(table, repeated).verdict.status == "unexplained"


def test_chance_of_wrong_readings_is_that_of_the_binomial_for_readings_taken_once():
    plant = series_plant(4)
    table = build_table(plant)
    belief = believe(table, take(plant, ("P1", 13.0), ("P2", 7.0), ("P3", 0.0), ("P4", 0.0)))
    # two of four at 3 %: sum over 2..4 of C(4, k) 0.03^k 0.97^(4-k)
    expected = 1.0 - 0.97**4 - 4 * 0.03 * 0.97**3
    assert misfit_probability(table, belief) == pytest.approx(expected)


def test_after_a_sure_repair_in_vain_nothing_follows_without_a_persons_word_not_even_a_free_mend():
    plant = series_plant(4)  # all repairs are free
    table = build_table(plant)
    twice = take(plant, *[("P1", 24.0), ("P2", 0.0), ("P3", 0.0)] * 2)
    assert diagnose(table, twice).verdict.repair == "mend W2"
    again = take(plant, *[("P2", 24.0), ("P3", 0.0), ("P4", 0.0)] * 2)
    after = [*twice, *(replace(item, after=("mend W2",)) for item in again)]
    held = diagnose(table, after, rejected=("mend W2",))
    assert held.suspects[0].repair == "mend W3"
    assert (held.verdict.status, held.verdict.repair) == ("unexplained", "")
    assert "mend W2" in held.verdict.why
    assert held.next_checks or held.verdict.why
    agreed = diagnose(table, after, rejected=("mend W2",), allow_second_part=True)
    assert (agreed.verdict.status, agreed.verdict.repair) == ("repair", "mend W3")


def test_a_repair_that_cured_is_not_in_vain():
    plant = series_plant(4)
    twice = take(plant, *[("P1", 24.0), ("P2", 0.0), ("P3", 0.0)] * 2)
    well = take(plant, *[(f"P{n}", 24.0) for n in range(1, 5)])
    after = [*twice, *(replace(item, after=("mend W2",)) for item in well)]
    answer = diagnose(build_table(plant), after, rejected=("mend W2",))
    assert answer.verdict.status == "no fault found"


@pytest.mark.parametrize(("price", "costly", "status"), [
    (1.0, False, "repair"),  # a fuse tried as the cheaper of two: the other follows
    (900.0, True, "look further"),  # a costly part is never a mere try
])
def test_the_second_of_a_named_group_follows_the_first(price, costly, status):
    plant = twins()
    priced = {key: replace(one, price=price, costly=costly) for key, one in
              plant.repairs().items()}
    table = build_table(replace(plant, repair_classes=priced))
    before = take(plant, *[("P1", 0.0), ("P2", 24.0)] * 2)
    after = [replace(item, after=("mend B",)) for item in before]
    answer = diagnose(table, [*before, *after], rejected=("mend B",))
    assert answer.verdict.status == status
    assert answer.verdict.repair == "mend A"


def test_a_costly_part_wants_99_in_100_and_its_decisive_reading_twice():
    plant = series_plant(3, price=900.0, costly=True)
    table = build_table(plant)
    readings = take(plant, ("P1", 24.0), ("P2", 0.0), ("P3", 0.0))
    for _ in range(6):
        answer = diagnose(table, readings)
        if answer.verdict.status == "repair":
            break
        assert answer.verdict.status == "look further"
        value = {"P1": 24.0, "P2": 0.0, "P3": 0.0}[answer.next_checks[0].check.id]
        readings += take(plant, (answer.next_checks[0].check.id, value))
    assert answer.verdict.status == "repair"
    assert answer.verdict.confidence >= 0.99
    taken = [item.check.id for item in readings]
    assert taken.count("P1") > 1  # the one that parts W2 from W1
