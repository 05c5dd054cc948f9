"""`loomwright estimate` and `loomwright learn`, as people and machines run them."""

from __future__ import annotations

from tests.cli.lamp import COUNTS, LampFiles
from tests.cli.running import run


def test_estimate_gives_both_ways_and_the_stop_points(lamp: LampFiles) -> None:
    words = ("estimate", lamp.circuit, "--readings", lamp.readings, "--rate", "90/h",
             "--episodes", 20, "--json")
    said = run(*words)
    assert said.code == 0
    found = said.json
    assert found["episodes"] == found["asked_episodes"] == 20
    assert found["rate_per_min"] == 1.5
    for key in ("test_first_min", "test_first_money", "swap_first_min", "swap_first_money"):
        assert 0 < found[key]["p50"] <= found[key]["p90"]
    assert [point["share"] for point in found["stop_points"]] == [0.5, 0.8, 0.95]
    assert run(*words).json == found
    learned = run(*words, "--counts", lamp.counts, "--vehicle-class", "12 V").json
    assert learned["swap_wrong_parts"] != found["swap_wrong_parts"]


def test_estimate_for_people_says_how_many_jobs_were_played(
    lamp: LampFiles
) -> None:
    said = run("estimate", lamp.circuit, "--readings", lamp.readings, "--episodes", 20)
    assert said.code == 0
    assert "20 of 20 jobs played through" in said.out
    assert "Where to stop and ask" in said.out


def test_a_bad_rate_is_bad_input(lamp: LampFiles) -> None:
    said = run("estimate", lamp.circuit, "--readings", lamp.readings, "--rate", "90/day")
    assert said.code == 2
    assert "no labour rate" in said.err


def test_learn_merges_counts_and_shows_the_strength(lamp: LampFiles) -> None:
    out = lamp.circuit.with_name("both.json")
    said = run("learn", lamp.counts, lamp.counts, "--out", out, "--circuit", lamp.circuit)
    assert said.code == 0
    assert "80 jobs in 1 sorts of fault" in said.out
    assert "worth 50 jobs" in said.out
    refused = run("learn", lamp.counts, "--out", out)
    assert (refused.code, "is there already" in refused.err) == (2, True)
    again = run("learn", out, "--json").json
    assert again["counts"] == [{**COUNTS["counts"][0], "count": 80}]


def test_learn_from_nothing_is_bad_input() -> None:
    said = run("learn", "--json")
    assert said.code == 2
    assert said.json["error"]["code"] == "usage"
