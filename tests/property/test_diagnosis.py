"""Laws of the diagnosis engine on many generated plants and readings."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from loomwright.diagnosis import Evidence, build_table, diagnose
from loomwright.diagnosis.belief import believe
from loomwright.diagnosis.choose import options
from loomwright.diagnosis.hitting_sets import minimal_hitting_sets
from tests.support.plants import random_plant

pytestmark = pytest.mark.property

TABLES = {seed: build_table(random_plant(seed)) for seed in range(6)}

values = st.floats(-40.0, 40.0, allow_nan=False)
taken = st.lists(st.tuples(st.integers(0, 7), values), max_size=8)


def evidence_of(table, pairs):
    return [Evidence(table.checks[column], value) for column, value in pairs]


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 5), taken, st.randoms(use_true_random=False))
def test_order_of_readings_does_not_matter(seed, pairs, random):
    table = TABLES[seed]
    evidence = evidence_of(table, pairs)
    shuffled = list(evidence)
    random.shuffle(shuffled)
    first, second = believe(table, evidence), believe(table, shuffled)
    assert first.rows == pytest.approx(second.rows, abs=1e-12)  # sums in another order only
    assert first.joint.sum() == pytest.approx(1.0, abs=1e-12)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 5), taken)
def test_answers_are_whole(seed, pairs):
    table = TABLES[seed]
    evidence = evidence_of(table, pairs)
    answer = diagnose(table, evidence)
    assert answer.verdict.status in {
        "look further",
        "repair",
        "no fault found",
        "unexplained",
    }
    assert len(answer.explanation) == len(evidence)
    assert all(0.0 <= s.probability <= 1.0 + 1e-12 for s in answer.suspects)
    assert all(check.gain_bits >= 0.0 and check.minutes > 0.0 for check in answer.next_checks)
    assert answer.verdict.why


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 5), taken)
def test_gain_is_never_more_than_what_is_unknown(seed, pairs):
    table = TABLES[seed]
    evidence = evidence_of(table, pairs)
    belief = believe(table, evidence)
    shares = belief.classes[belief.classes > 0.0]
    entropy = float(-(shares * np.log2(shares)).sum())
    for option in options(table, belief, evidence):
        assert option.gain_bits <= entropy + 1e-3  # binning uses a tabulated normal distribution


conflicts_of = st.lists(st.sets(st.integers(0, 6), min_size=1, max_size=4), max_size=5)


@settings(max_examples=100, deadline=None)
@given(conflicts_of)
def test_hitting_sets_hit_everything_and_are_minimal(conflicts):
    found = minimal_hitting_sets(conflicts)
    assert found
    for chosen in found:
        assert all(chosen & conflict for conflict in conflicts)
        for item in chosen:
            assert any(not (chosen - {item}) & conflict for conflict in conflicts)
