"""Learning from closed jobs: counts, their file, and the priors they lead to."""

from __future__ import annotations

import json

import pytest
from hypothesis import given
from hypothesis import strategies as st

from loomwright.diagnosis import build_table
from loomwright.diagnosis.learning import (
    Counts,
    FaultSort,
    LearnedPlant,
    Lesson,
    count_jobs,
    learned_rows,
    merge,
    read_counts_text,
    shifts,
    word,
    write_counts,
)
from loomwright.diagnosis.matrix_plant import MatrixPlant
from loomwright.errors import FileProblemsError, UsageError
from loomwright.plant import Hypothesis

SORTS = [FaultSort(part, fault, place)
         for part in ("wire", "relay", "led lamp") for fault in ("open", "high-resistance")
         for place in ("", "cab panel")]
lessons = st.builds(Lesson, st.sampled_from(SORTS), st.sampled_from(["12 V", "24 V", "tipper"]))
jobs = st.lists(lessons, max_size=30)
counts = jobs.map(count_jobs)
ROWS = (
    Hypothesis("open:W1", "W1", "open", "mend W1", 0.03),
    Hypothesis("open:W2", "W2", "open", "mend W2", 0.01),
    Hypothesis("open:K1", "K1", "open", "replace K1", 0.02),
    Hypothesis("odd:Q", "Q", "odd", "mend Q", 0.04),
)
OF = {"open:W1": SORTS[0], "open:W2": SORTS[0], "open:K1": FaultSort("relay", "open")}
PERSONAL = ("customer", "plate", "name", "by", "date", "created_at", "complaint", "vin", "job")


@given(jobs, st.randoms(use_true_random=False))
def test_the_order_of_jobs_is_irrelevant(closed, random):
    shuffled = list(closed)
    random.shuffle(shuffled)
    assert count_jobs(shuffled) == count_jobs(closed)
    assert count_jobs(closed).total == len(closed)


@given(counts, counts, counts)
def test_merging_is_associative_commutative_and_has_a_neutral(a, b, c):
    assert merge(merge(a, b), c) == merge(a, merge(b, c)) == merge(c, a, b)
    assert merge(a, Counts()) == a


@given(jobs, jobs)
def test_counting_together_is_counting_apart_and_merging(a, b):
    assert count_jobs([*a, *b]) == merge(count_jobs(a), count_jobs(b))


@given(counts)
def test_a_file_reads_back_as_it_was(found):
    text = write_counts(found)
    assert read_counts_text(text) == found
    assert write_counts(read_counts_text(text)) == text


@given(counts)
def test_a_file_has_no_personal_keys_and_no_digits_but_volts(found):
    entries = json.loads(write_counts(found))["counts"]
    for entry in entries:
        assert set(entry) == {"part_kind", "fault_kind", "place", "vehicle_class", "count"}
        words = entry["part_kind"] + entry["fault_kind"] + entry["place"]
        assert not any(letter.isdigit() for letter in words)


@pytest.mark.parametrize("key", PERSONAL)
def test_a_personal_key_is_refused(key):
    entry = {"part_kind": "wire", "fault_kind": "open", "place": "", "vehicle_class": "24 V",
             "count": 1, key: "x"}
    text = json.dumps({"format": "loomwright counts", "version": 1, "counts": [entry]})
    with pytest.raises(FileProblemsError, match=f"unknown key '{key}'"):
        read_counts_text(text)


def test_all_problems_of_a_file_are_told_together():
    bad = [{"part_kind": "Wire 7", "fault_kind": "open", "place": "", "vehicle_class": "AB 12 CDE",
            "count": -1}, 3, {"part_kind": "wire"}]
    text = json.dumps({"format": "x", "version": True, "counts": bad, "owner": "someone"})
    with pytest.raises(FileProblemsError) as caught:
        read_counts_text(text, "c.json")
    told = str(caught.value)
    for piece in ("'owner'", "no file of counts", "Version True", "'Wire 7'", "'AB 12 CDE'",
                  "whole number", "Entry 2 is not an object", "Entry 3 has no 'place'"):
        assert piece in told


@pytest.mark.parametrize("text", ["", "{", "[1, 2]", "null", "[" * 100_000, '{"counts": {}}'])
def test_what_is_no_counts_file_is_refused(text):
    with pytest.raises(FileProblemsError):
        read_counts_text(text)


@given(st.text(max_size=80))
def test_a_word_made_of_any_text_may_be_counted(text):
    made = word(text)
    found = count_jobs([Lesson(FaultSort("wire", "open", made), "")])
    assert read_counts_text(write_counts(found)) == found


@given(counts, st.sampled_from(["12 V", "24 V", "tipper"]), st.floats(0.1, 1e6))
def test_shares_stay_shares_and_the_prior_sum_stays(found, vehicle_class, strength):
    moved = shifts(ROWS, OF, found, vehicle_class, strength)
    assert sum(one.share_after for one in moved) == pytest.approx(1.0, abs=1e-12)  # rounding
    rows = learned_rows(ROWS, OF, found, vehicle_class, strength)
    assert sum(row.prior for row in rows) == pytest.approx(sum(row.prior for row in ROWS))
    assert all(row.prior > 0.0 for row in rows)
    assert rows[3] is ROWS[3]
    assert rows[0].prior / rows[1].prior == pytest.approx(3.0)


def test_shares_by_hand():
    # wire open has 0.04 of 0.06, relay open 0.02; other class: 10 relays; this class: 5 relays.
    relay = FaultSort("relay", "open")
    found = count_jobs([Lesson(relay, "24 V")] * 5 + [Lesson(relay, "12 V")] * 10)
    moved = {one.sort: one for one in shifts(ROWS, OF, found, "24 V", 10.0)}
    after_others = (10.0 / 3.0 + 10.0) / 20.0
    assert moved[relay].share_after == pytest.approx((10.0 * after_others + 5.0) / 15.0)
    assert (moved[relay].own_jobs, moved[relay].other_jobs) == (5, 10)


def test_no_jobs_change_nothing():
    assert learned_rows(ROWS, OF, Counts(), "24 V") == ROWS


@pytest.mark.parametrize("strength", [0.0, -1.0, float("nan"), float("inf")])
def test_a_strength_that_is_none_is_refused(strength):
    with pytest.raises(UsageError, match="not above 0"):
        shifts(ROWS, OF, Counts(), "24 V", strength)


def test_a_learned_plant_changes_the_table_and_leaves_the_first_one_alone():
    plant = _matrix()
    before = build_table(plant)
    names = {row.fault_id: FaultSort("box", word(row.fault_id) or "x") for row in plant.faults()}
    last = plant.faults()[-1]
    found = count_jobs([Lesson(names[last.fault_id], "12 V")] * 500)
    rows = learned_rows(plant.faults(), names, found, "12 V", 1.0)
    after = build_table(LearnedPlant(plant, rows))
    assert after.log_prior[-2] > before.log_prior[-2]
    assert build_table(plant).log_prior.tolist() == before.log_prior.tolist()


def _matrix():
    outcomes = {"fine": "oo", "alpha": "ox", "beta": "xo", "gamma": "xx"}
    priors = {"fine": 1.0, "alpha": 0.3, "beta": 0.2, "gamma": 0.1}
    return MatrixPlant.from_outcomes({name: list(row) for name, row in outcomes.items()},
                                     priors, [1.0, 1.0])
