"""Proof of repair on a made-up chain of wires."""

from __future__ import annotations

from dataclasses import replace

import pytest

from loomwright.diagnosis import Evidence, build_table, judge_proof, proof_checks
from loomwright.errors import UnknownNameError
from tests.support.plants import series_plant


@pytest.fixture
def chain():
    plant = series_plant(3)
    margin = plant.checks()[2]
    return replace(plant, proof_checks={"mend W2": (margin,)})


def test_failed_readings_and_margins_are_asked_for_once(chain):
    first, second, third = chain.checks()
    before = [Evidence(first, 24.0), Evidence(second, 0.0), Evidence(third, 0.0)]
    asked = proof_checks(build_table(chain), "mend W2", before)
    assert {check.id for check in asked} == {"P2", "P3"}
    assert len(asked) == 2


def test_healthy_readings_prove_the_repair(chain):
    first, second, third = chain.checks()
    before = [Evidence(second, 0.0)]
    after = [Evidence(second, 24.0), Evidence(third, 23.98)]
    proof = judge_proof(build_table(chain), "mend W2", after, evidence_before=before)
    assert proof.holds, proof.why
    assert "Proved" in proof.why
    assert first.id not in proof.failed


def test_missing_margin_is_named(chain):
    second = chain.checks()[1]
    proof = judge_proof(build_table(chain), "mend W2", [Evidence(second, 24.0)])
    assert not proof.holds
    assert [check.id for check in proof.missing] == ["P3"]
    assert "P3" in proof.why


def test_reading_of_a_faulty_plant_fails_the_proof(chain):
    second, third = chain.checks()[1:]
    after = [Evidence(second, 24.0), Evidence(third, 11.0)]
    proof = judge_proof(build_table(chain), "mend W2", after)
    assert not proof.holds
    assert proof.failed == ("P3",)
    assert "11.00 V" in proof.why


def test_reading_taken_again_replaces_the_first(chain):
    second, third = chain.checks()[1:]
    after = [Evidence(third, 0.0), Evidence(second, 24.0), Evidence(third, 24.0)]
    assert judge_proof(build_table(chain), "mend W2", after).holds


def test_no_margins_known_asks_for_a_check_that_can_see_the_fault():
    plant = series_plant(3)
    proof = judge_proof(build_table(plant), "mend W3", [])
    assert not proof.holds
    assert [check.id for check in proof.missing] == ["P3"]


def test_unknown_repair_is_refused(chain):
    with pytest.raises(UnknownNameError):
        judge_proof(build_table(chain), "mend W9", [])
