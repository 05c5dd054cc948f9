"""Faults that come and go: the forward algorithm against every course, and what it means for a job.

Courses are enumerated by brute force; the circuits are solved by the product's own plant.
"""

from __future__ import annotations

import functools
import itertools

import numpy as np
import pytest

from loomwright.circuit import CircuitPlant, read_circuit_text
from loomwright.diagnosis import Diagnosis, Evidence, build_table, diagnose, judge_proof
from loomwright.diagnosis.belief import believe, merge_repeats
from loomwright.diagnosis.comes_and_goes import coming_share, may_come_and_go
from loomwright.diagnosis.sticky import Run, runs_of, sticky_forward
from loomwright.diagnosis.sticky_rows import with_sticky
from loomwright.diagnosis.table import StickyRows, Table
from loomwright.errors import UnknownNameError, UsageError
from tests.circuit.plant.heater import ONE_HEATER

ACTIVITIES, STAYS = (0.15, 0.3, 0.5, 0.7), (0.5, 0.85)  # the grid of docs/models/diagnosis.md


@functools.cache
def table() -> Table:
    return build_table(CircuitPlant(read_circuit_text(ONE_HEATER)))


def reading(quantity: str, at: str, value: float | str, to: str = "",
            after: tuple[str, ...] = ()) -> Evidence:
    plant = table().plant
    assert isinstance(plant, CircuitPlant)
    tool = "eye" if quantity == "running" else "meter"
    return Evidence(plant.check_for("working", quantity, at, to, tool), value, after)


def look(value: str, to: str = "") -> Evidence:
    return reading("running", "R1", value, to)


def chance(found: Diagnosis, element: str) -> float:
    return sum(one.probability for one in found.suspects if one.element == element)


def by_courses(log: np.ndarray, stirred: np.ndarray) -> tuple[float, float]:
    """Return the likelihood of readings and the chance of there at the next one, all courses."""
    total = there = 0.0
    for active, stay in itertools.product(ACTIVITIES, STAYS):
        for course in itertools.product((1, 0), repeat=len(log) + 1):
            share = 1.0
            for number, state in enumerate(course):
                prior = active
                if number:
                    prior = stay * course[number - 1] + (1.0 - stay) * active
                if number < len(log):
                    prior += (1.0 - prior) * stirred[number]
                share *= prior if state else 1.0 - prior
                if number < len(log):
                    share *= np.exp(log[number, 1 - state])
            total += share / 8.0
            there += share / 8.0 * course[-1]
    return total, there / total


def test_the_forward_algorithm_is_the_sum_over_all_courses() -> None:
    rng = np.random.default_rng(5)
    log = rng.normal(-1.0, 1.0, (5, 2))  # there, away
    stirred = np.array([0.0, 0.6, 0.0, 0.3, 0.0])
    sticky = StickyRows(np.array([1]), np.array([2]))
    full = np.concatenate([np.full((5, 1), -2.0), log, np.full((5, 1), -3.0)], axis=1)
    runs = [(Run(n, 1, n, False), full[[n]], np.zeros((1, 4)), stirred[[n]]) for n in range(5)]
    start = np.log(np.full((1, 4), 0.25))
    found, logs, _ = sticky_forward(
        sticky, runs, start, [full[[n]] for n in range(5)],
        [np.zeros((1, 4)) for _ in runs])
    total, there = by_courses(log, stirred)
    assert sum(float(one[0, 1]) for one in logs) == pytest.approx(np.log(total), abs=1e-12)
    assert np.exp(found[0, 1]) / 0.5 == pytest.approx(there, abs=1e-12)
    assert np.exp(found[0, 1]) + np.exp(found[0, 2]) == pytest.approx(0.5, abs=1e-12)
    assert sum(float(one[0, 0]) for one in logs) == pytest.approx(-10.0)  # always there: a product


def test_the_complaint_is_one_moment_and_repeats_one_run() -> None:
    evidence = [look("off"), reading("voltage", "R1.1", 12.5), reading("voltage", "R1.1", 12.5),
                look("on"), reading("voltage", "R1.1", 12.5)]
    runs = runs_of(evidence, [0, 1, 1, 2, 1])
    assert [(one.reading, one.count, one.again) for one in runs] == [
        (0, 1, False), (1, 2, False), (2, 1, False), (1, 1, True)]
    assert [one.moment for one in runs] == [0, 1, 2, 3]
    two = runs_of([look("off"), reading("running", "R1", "off", "load"), look("on")], [0, 1, 2])
    assert [one.moment for one in two] == [0, 1, 2]


def test_a_good_reading_does_not_clear_a_fault_that_was_seen() -> None:
    """Feed and earth of the heater read well after it was seen dead: W2 stays what it was."""
    good = [reading("voltage", "R1.1", 12.6), reading("voltage", "R1.2", 0.01), look("on"),
            look("on")]
    found = diagnose(table(), [look("off"), *good])
    assert found.no_fault < 0.2
    elements = {one.element for one in found.suspects if one.probability > 0.005}
    assert {"W1", "W2", "W3", "F1"} & elements
    assert found.verdict.status == "look further"
    assert found.verdict.why.startswith("Intermittent: ")


def test_what_is_read_while_it_fails_counts() -> None:
    good = [reading("voltage", "R1.1", 12.6), look("on"), look("on")]
    bad = [look("off"), reading("voltage", "R1.1", 12.6), reading("voltage", "R1.2", 12.6),
           look("off"), reading("voltage", "R1.2", 12.6)]
    found = diagnose(table(), [look("off"), *good, *bad])
    assert chance(found, "W4") + chance(found, "E1") > 0.9  # behind the heater, towards earth


def test_order_matters_to_what_comes_and_goes_alone() -> None:
    """The rows of docs: only where a fault comes and goes does the order of readings count."""
    seen = [look("off"), reading("voltage", "R1.1", 12.6), look("off"), look("on"), look("on")]
    wide = with_sticky(table(), believe(table(), [look("off")]).readings)
    assert wide.sticky is not None
    shares = []
    for order in (seen, [*reversed(seen)]):
        belief = believe(wide, order)
        shares.append(float(belief.rows[wide.sticky.there].sum()) / coming_share(wide, belief))
    assert shares[0] != pytest.approx(shares[1], abs=0.01)
    plain = [believe(table(), order).rows for order in (seen, seen[::-1])]
    assert np.abs(plain[0] - plain[1]).max() < 1e-12


def test_an_ordinary_job_knows_nothing_that_comes_and_goes() -> None:
    evidence = [look("off"), reading("voltage", "R1.1", 0.0), reading("voltage", "F1.2", 12.6)]
    assert not may_come_and_go(table(), believe(table(), evidence))
    assert "comes and goes" not in diagnose(table(), evidence).verdict.why


def test_wiggling_where_it_sits_points_there() -> None:
    plain = diagnose(table(), [look("off"), look("on"), look("on"), look("on")])
    moved = diagnose(table(), [look("off"), look("on"), look("on"), look("off", "wiggle S1")])
    assert chance(moved, "S1") > 1.2 * chance(plain, "S1")
    still = diagnose(table(), [look("off"), look("on"), look("on"), look("on", "wiggle S1")])
    assert chance(still, "S1") < chance(plain, "S1")
    offered = {one.check.action for one in plain.next_checks}
    assert offered & {"wiggle", "heat", "load", ""}


def kinds(found: Diagnosis) -> dict[str, float]:
    return {one.id: one.probability for one in found.suspects}


def test_each_wiggle_that_shows_nothing_is_a_trial_of_its_own() -> None:
    """A loose S1 that is away answers with 0.6, a wire elsewhere with 0.05.

    So a wiggle leaves it 0.4 / 0.95 beside the wire, three 0.075. The first look also clears what
    is always there; in the answer stand both, so the steps are judged from the first wiggle on.
    """
    seen = [look("off"), look("on")]
    odds = []
    for wiggles in range(1, 4):
        found = kinds(diagnose(table(), [*seen, *[look("on", "wiggle S1")] * wiggles]))
        odds.append(found["stuck-open:S1"] / found["open:W4"])
    assert odds[1] == pytest.approx(0.42 * odds[0], rel=0.25)
    assert odds[2] == pytest.approx(0.42 * odds[1], rel=0.25)


def test_a_dead_function_that_no_wiggle_moves_lets_the_plug_go() -> None:
    """A bad contact that is always there touches with half of 0.6 when it is wiggled: 0.7 each."""
    plain = kinds(diagnose(table(), [look("off")]))
    still = kinds(diagnose(table(), [look("off"), *[look("off", "wiggle S1")] * 3]))
    odds = [one["stuck-open:S1"] / one["open:W4"] for one in (plain, still)]
    assert odds[1] == pytest.approx(0.7**3 / 0.975**3 * odds[0], rel=0.02)


def test_a_dead_function_that_comes_when_a_plug_is_wiggled_points_there() -> None:
    plain = kinds(diagnose(table(), [look("off")]))
    moved = kinds(diagnose(table(), [look("off"), look("on", "wiggle S1")]))
    assert moved["stuck-open:S1"] / moved["open:W4"] > 2.0 * (
        plain["stuck-open:S1"] / plain["open:W4"])


def test_wiggles_are_never_merged() -> None:
    wiggled = look("on", "wiggle S1")
    found = merge_repeats([look("off"), wiggled, wiggled, look("off")])
    assert [one.indices for one in found] == [(0, 3), (1,), (2,)]


def test_looks_and_wiggling_are_offered_while_the_fault_is_away() -> None:
    found = diagnose(table(), [look("off"), look("on"), look("on"), look("on")])
    assert found.next_checks[0].check.instrument == "eye"
    assert found.next_checks[0].check.action == "wiggle"


def test_only_known_actions_at_known_parts() -> None:
    with pytest.raises(UnknownNameError):
        look("off", "wiggle S99")
    with pytest.raises(UsageError):
        look("off", "load S1")
    assert look("off", "S1").check.to == ""  # a point says nothing of a look: as before


def test_a_fault_that_came_and_went_is_proved_by_the_interval_without_it() -> None:
    """Seen in 2 of 5 looks: log 0.05 / log 0.6 = 5.9, so six trials."""
    before = [look("off"), look("on"), look("off"), look("on"), look("on")]
    after = [reading("running", "R1", "on", after=("mend W2",))]
    drops = [reading("voltage", "BAT.+", 0.02, "R1.1"), reading("voltage", "R1.2", 0.01)]
    proof = judge_proof(table(), "mend W2", [*after, *drops], evidence_before=before)
    assert not proof.holds
    assert after[0].check in proof.missing
    assert "1 of 6 trials" in proof.why
    done = judge_proof(table(), "mend W2", [*(after * 6), *drops], evidence_before=before)
    assert after[0].check not in done.missing
    assert "6 of 6 trials" in done.why


def test_two_faults_that_are_always_there_are_not_one_that_comes_and_goes() -> None:
    """W1 open and the heater burnt out: never seen working, so several faults are asked first."""
    taken = [("voltage", "R1.1", 0.0), ("voltage", "F1.1", 0.0), ("voltage", "F1.1", 0.0)]
    evidence = [look("off"), *(reading(quantity, at, value) for quantity, at, value in taken),
                reading("voltage", "BAT.+", 12.6)]
    found = diagnose(table(), evidence)
    assert "Intermittent" not in found.verdict.why
    assert found.suspects[0].element == "W1"
