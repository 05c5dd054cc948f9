"""Published diagnosis examples through the same plant protocol and the same engine.

Inputs marked "from memory" were not seen in the paper while writing; their answers were computed
independently before this engine existed and are held here.
"""

from __future__ import annotations

import numpy as np
import pytest

from loomwright.diagnosis import Evidence, Settings, build_table, diagnose
from loomwright.diagnosis.belief import believe
from loomwright.diagnosis.choose import options
from loomwright.diagnosis.hitting_sets import minimal_hitting_sets
from loomwright.diagnosis.logic_plant import Component, LogicPlant
from loomwright.diagnosis.matrix_plant import MatrixPlant
from loomwright.diagnosis.optimal import expected_minutes, optimal_minutes
from loomwright.diagnosis.outlook import class_gains, live_rows
from loomwright.diagnosis.policies import two_step
from loomwright.diagnosis.value import repair_cost

EXACT = Settings(wrong_reading=0.0, unmodelled_prior=0.0, complaint_no_fault=0.0)
NATURAL = Settings(wrong_reading=0.0, unmodelled_prior=0.0, complaint_no_fault=None)


def sets(*names: str) -> set[frozenset[str]]:
    """Return sets of component names written 'A2 M2'."""
    return {frozenset(name.split()) for name in names}


# ------------------------------------------------------------------ polybox
# J. de Kleer and B. C. Williams, "Diagnosing multiple faults", Artificial Intelligence 32 (1987)
# 97-130. Circuit and observation from memory; consistent priors renormalised (no U/m term), so
# digits differ slightly from those printed in the paper.
def polybox(**given: int) -> LogicPlant:
    def product(a: int, b: int) -> int:
        return a * b

    def total(a: int, b: int) -> int:
        return a + b

    parts = (
        Component("M1", ("A", "C"), "X", product),
        Component("M2", ("B", "D"), "Y", product),
        Component("M3", ("C", "E"), "Z", product),
        Component("A1", ("X", "Y"), "F", total),
        Component("A2", ("Y", "Z"), "G", total),
    )
    inputs = {"A": 3, "B": 2, "C": 2, "D": 3, "E": 3}
    return LogicPlant(parts, {**inputs, **given}, ("X", "Y", "Z"), size=64)


def probability(plant: LogicPlant, *names: str) -> list[float]:
    """Return the engine's probability of named candidates before any further reading."""
    suspects = {s.id: s.probability for s in diagnose(build_table(plant, EXACT), ()).suspects}
    return [suspects[name] for name in names]


def gains(plant: LogicPlant) -> dict[str, float]:
    """Return the engine's expected information of every probe [bit], nothing pruned."""
    table = build_table(plant, EXACT)
    live = live_rows(table, believe(table, ()), prune=0.0)
    values = class_gains(table, live, range(len(table.checks)))
    return {c.id: float(gain) for c, gain in zip(table.checks, values, strict=True)}


def test_polybox_diagnoses_and_conflicts():
    plant = polybox(F=10, G=12)
    assert set(plant.minimal_diagnoses()) == sets("A1", "M1", "A2 M2", "M2 M3")
    assert set(plant.minimal_conflicts()) == sets("A1 M1 M2", "A1 A2 M1 M3")
    assert len(plant.candidates()) == 27
    assert set(minimal_hitting_sets(plant.minimal_conflicts())) == set(plant.minimal_diagnoses())


def test_polybox_other_observation_has_double_faults_only():
    diagnoses = polybox(F=10, G=14).minimal_diagnoses()
    assert len(diagnoses) == 8
    assert {len(diagnosis) for diagnosis in diagnoses} == {2}


def test_polybox_beliefs():
    values = probability(polybox(F=10, G=12), "A1", "M1", "A2+M2", "M2+M3")
    assert values == pytest.approx([0.4780, 0.4780, 0.0048, 0.0048], abs=5e-5)  # printed digits


def test_polybox_gains_and_first_probe():
    plant = polybox(F=10, G=12)
    found = gains(plant)
    expected = {"X": 1.0386, "Y": 0.0814, "Z": 0.0473}
    assert found == pytest.approx(expected, abs=5e-5)  # printed digits
    assert diagnose(build_table(plant, EXACT), ()).next_checks[0].check.id == "X"


def test_polybox_after_x():
    assert probability(polybox(F=10, G=12, X=4), "M1") == pytest.approx([0.9606], abs=5e-5)
    after = polybox(F=10, G=12).observing(X=6)
    assert set(after.minimal_diagnoses()) == sets("A1", "A2 M2", "M2 M3")
    assert probability(after, "A1") == pytest.approx([0.942], abs=5e-4)


def test_polybox_reading_as_evidence_leads_to_the_same_candidate():
    table = build_table(polybox(F=10, G=12), EXACT)
    x = table.checks[0]
    answer = diagnose(table, [Evidence(x, "4")])
    # Open candidates explain X=4 with 1/64 only, so {M1} is above the 0.9606 without that term.
    assert answer.suspects[0].id == "M1"
    assert 0.9606 < answer.suspects[0].probability < 1.0


# ------------------------------------------------------------------ cascaded inverters
# Same paper, "cascaded inverters"; size and priors from memory, output observed wrong.
def cascade(priors: list[float]) -> LogicPlant:
    def invert(a: int) -> int:
        return 1 - a

    count = len(priors)
    parts = tuple(
        Component(f"I{n}", (f"N{n - 1}",), f"N{n}", invert, priors[n - 1])
        for n in range(1, count + 1)
    )
    wrong = 1 - count % 2
    probes = tuple(f"N{n}" for n in range(1, count))
    return LogicPlant(parts, {"N0": 0, f"N{count}": wrong}, probes)


@pytest.mark.parametrize(
    ("priors", "expected"),
    [
        ([0.01] * 4, {"N1": 0.8038, "N2": 0.9900, "N3": 0.8038}),
        ([0.025, 0.01, 0.01, 0.01], {"N1": 0.9808, "N2": 0.9318, "N3": 0.6745}),
    ],
)
def test_cascade_gains(priors, expected):
    assert gains(cascade(priors)) == pytest.approx(expected, abs=6e-5)  # printed digits


def test_cascade_of_eight_is_halved_first():
    found = gains(cascade([0.01] * 8))
    assert max(found, key=lambda node: found[node]) == "N4"
    assert found["N4"] == pytest.approx(0.9799, abs=6e-5)


# ------------------------------------------------------------------ hitting sets and full adder
# R. Reiter, "A theory of diagnosis from first principles", Artificial Intelligence 32 (1987)
# 57-95; example sets from memory.
def test_reiter_hitting_sets():
    conflicts = ["245", "123", "135", "246", "24", "235", "16"]
    expected = sets("1 2", "1 3 4", "1 4 5", "2 3 6", "2 5 6", "3 4 6")
    assert set(minimal_hitting_sets(conflicts)) == expected


# R. Greiner, B. A. Smith, R. W. Wilkerson, "A correction to the algorithm in Reiter's theory of
# diagnosis", Artificial Intelligence 41 (1989) 79-88; from memory.
def test_greiner_pruning_loses_nothing():
    conflicts = ["ab", "bc", "ac", "bd", "b"]
    assert set(minimal_hitting_sets(conflicts)) == sets("a b", "b c")


# D. Poole and A. Mackworth, "Artificial Intelligence", 2nd ed., 5.5.3: house wiring (rules read,
# conflicts from memory).
def test_house_wiring_has_seven_diagnoses():
    conflicts = [["cb1", "s1", "s2", "l1"], ["cb1", "s3", "l2"]]
    found = minimal_hitting_sets(conflicts)
    assert len(found) == 7
    assert frozenset({"cb1"}) in found


def test_full_adder():
    parts = (
        Component("X1", ("a", "b"), "x", lambda a, b: a ^ b),
        Component("A1", ("a", "b"), "y", lambda a, b: a & b),
        Component("A2", ("c", "x"), "z", lambda a, b: a & b),
        Component("X2", ("x", "c"), "sum", lambda a, b: a ^ b),
        Component("O1", ("y", "z"), "carry", lambda a, b: a | b),
    )
    given = {"a": 1, "b": 0, "c": 1, "sum": 1, "carry": 0}
    plant = LogicPlant(parts, given, ("x", "y", "z"))
    assert set(plant.minimal_conflicts()) == sets("X1 X2", "X1 A2 O1")
    assert set(plant.minimal_diagnoses()) == sets("X1", "X2 A2", "X2 O1")


# ------------------------------------------------------------------ test sequencing, 6 x 5
# K. R. Pattipati and M. G. Alexandridis, "Application of heuristic search and information theory
# to sequential fault diagnosis", IEEE Trans. SMC 20 (1990) 872-887; inputs from memory.
SIX_BY_FIVE = {
    "s0": "00000",
    "s1": "01001",
    "s2": "00110",
    "s3": "10011",
    "s4": "11000",
    "s5": "11110",
}
SHARES = {"s0": 0.70, "s1": 0.01, "s2": 0.02, "s3": 0.10, "s4": 0.05, "s5": 0.12}


@pytest.fixture(scope="module")
def six_by_five():
    plant = MatrixPlant.from_outcomes(SIX_BY_FIVE, SHARES, [1.0] * 5)
    return build_table(plant, NATURAL)


def test_priors_keep_the_plants_own_odds(six_by_five):
    assert np.exp(six_by_five.log_prior[:-1]) == pytest.approx(list(SHARES.values()), abs=1e-12)


def test_optimal_sequence(six_by_five):
    minutes, first = optimal_minutes(six_by_five)
    assert minutes == pytest.approx(2.18, abs=1e-9)  # exact arithmetic on two-digit inputs
    assert first is not None
    assert first.id == "t2"


def test_greedy_information_costs_more_and_two_steps_are_optimal(six_by_five):
    def greedy(table, evidence):
        return options(table, believe(table, evidence), evidence)[0].check

    assert expected_minutes(six_by_five, greedy) == pytest.approx(2.86, abs=1e-9)
    assert expected_minutes(six_by_five, two_step) == pytest.approx(2.18, abs=1e-9)


# ------------------------------------------------------------------ repair order
# p/c order of decision-theoretic troubleshooting (Heckerman, Breese, Rommelse, CACM 38, 1995);
# figures are our own worked example, order 2, 4, 1, 3 by hand.
def test_repair_order_by_probability_per_cost():
    shares, minutes = np.array([[0.4, 0.3, 0.2, 0.1]]), np.array([20.0, 5.0, 12.0, 3.0])
    by_hand = 5.0 + 0.7 * 3.0 + 0.6 * 20.0 + 0.2 * 12.0
    assert by_hand == pytest.approx(21.50)
    assert repair_cost(shares, minutes, 0.0)[0] == pytest.approx(by_hand, abs=1e-12)
