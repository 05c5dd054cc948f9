"""Codes, swaps and history beside readings: each multiplies the odds by its likelihood."""

from __future__ import annotations

import itertools

import pytest

from loomwright.diagnosis import Evidence, build_table, diagnose
from loomwright.diagnosis.belief import believe
from loomwright.diagnosis.clues import with_clues
from loomwright.diagnosis.priors import with_priors
from loomwright.diagnosis.records import Clue
from loomwright.errors import UnknownNameError, UsageError
from tests.support.plants import series_plant

WORKED_ON_W2 = Clue("Just before the fault: W2 was moved", (("open:W2", 10.0),))
SWAPPED_W3 = Clue("Another W3 changed nothing", (("open:W3", 0.03),))
CODE_W1 = Clue("The code is stored", (("open:W1", 0.8),), 0.05, 0.05, 0.05)


@pytest.fixture(scope="module")
def plant():
    return series_plant(4)


def dead_end(plant):
    return [Evidence(next(one for one in plant.checks() if one.id == "P4"), 0.0)]


def odds(found, first, second):
    share = {one.id: one.probability for one in found.suspects}
    return share[first] / share[second]


def test_a_clue_multiplies_the_odds_by_its_likelihood(plant):
    table = build_table(plant)
    plain = odds(diagnose(table, dead_end(plant)), "open:W2", "open:W3")
    both = diagnose(table, dead_end(plant), clues=(WORKED_ON_W2, SWAPPED_W3))
    # Bayes' rule: 10 for W2, 0.03 for W3; exact but for rounding
    assert odds(both, "open:W2", "open:W3") == pytest.approx(plain * 10.0 / 0.03, rel=1e-9)


def test_the_order_of_clues_does_not_matter_and_the_table_stays(plant):
    table = build_table(plant)
    before = table.log_prior.copy()
    found = {
        tuple(one.probability for one in diagnose(table, dead_end(plant), clues=order).suspects)
        for order in itertools.permutations((WORKED_ON_W2, SWAPPED_W3, CODE_W1))
    }
    assert len(found) == 1
    assert (table.log_prior == before).all()
    assert with_clues(table, ()) is table


def test_a_code_lowers_what_it_does_not_speak_about(plant):
    table = build_table(plant)
    plain = diagnose(table, dead_end(plant))
    coded = diagnose(table, dead_end(plant), clues=(CODE_W1,))
    assert coded.suspects[0].id == "open:W1"
    assert coded.no_fault <= plain.no_fault
    assert believe(with_clues(table, (CODE_W1,)), dead_end(plant)).rows.sum() == pytest.approx(1.0)


def test_each_clue_says_what_it_speaks_for_and_what_leads_without_it(plant):
    found = diagnose(build_table(plant), dead_end(plant), clues=(WORKED_ON_W2,))
    said = found.clues[0]
    assert found.suspects[0].id == "open:W2"
    assert said.for_first_bits == pytest.approx(3.32, abs=0.01)  # log2 of 10
    assert "W2 was moved" in said.text
    assert "speaks for W2 open" in said.text


def test_no_part_is_advised_on_clues_alone(plant):
    sure = Clue("W2 was seen to break", (("open:W2", 1e6),))
    found = diagnose(build_table(plant), (), clues=(sure,))
    assert found.suspects[0].probability > 0.99
    assert found.verdict.status == "look further"
    assert "reading" in found.verdict.why


@pytest.mark.parametrize(("clue", "error"), [
    (Clue("x", (("open:W9", 2.0),)), UnknownNameError),
    (Clue("x", (("open:W2", 0.0),)), UsageError),
    (Clue("x", otherwise=float("nan")), UsageError),
])
def test_a_clue_that_cannot_be_is_refused(plant, clue, error):
    with pytest.raises(error):
        diagnose(build_table(plant), (), clues=(clue,))


def test_learned_priors_keep_the_share_of_all_faults_together(plant):
    import dataclasses

    table = build_table(plant)
    rows = [dataclasses.replace(row, prior=row.prior * (5.0 if row.element == "W2" else 1.0))
            for row in table.rows[1:-1]]
    moved = with_priors(table, rows)
    before, after = diagnose(table, dead_end(plant)), diagnose(moved, dead_end(plant))
    assert odds(after, "open:W2", "open:W3") == pytest.approx(
        5.0 * odds(before, "open:W2", "open:W3"))
    assert moved.log_prior[0] == pytest.approx(table.log_prior[0])
    with pytest.raises(UsageError, match="rows of this table"):
        with_priors(table, rows[1:])
