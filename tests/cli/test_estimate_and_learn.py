"""`loomwright estimate` and `loomwright learn`, as people and machines run them."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from tests.cli.running import run

# Small: the demo circuit would take seconds to play through.
CIRCUIT = """loomwright: 1
title: Work lamp
system: 12 V
parts:
  BAT: {kind: battery}
  F1: {kind: fuse, rating: 10 A}
  S1: {kind: switch, closed when: lamp switch}
  H1: {kind: lamp, power: 21 W}
  E1: {kind: earth}
wires:
  - [W1, BAT.+, F1.1, 2.5 mm2, 1 m, RD]
  - [W2, F1.2, S1.1, 1.5 mm2, 1 m, RD]
  - [W3, S1.2, H1.1, 1 mm2, 4 m, GY]
  - [W4, H1.2, E1, 1 mm2, 0.5 m, BN]
states:
  at rest: {}
  lit: {lamp switch: on}
should:
  lit: {H1: on}
"""
DARK = "- {state: lit, quantity: lit, at: H1, value: off, instrument: eye}\n"
COUNTS = {"format": "loomwright counts", "version": 1, "counts": [
    {"part_kind": "fuse", "fault_kind": "blown", "place": "", "vehicle_class": "12 V",
     "count": 40}]}


@pytest.fixture
def files(tmp_path: Path) -> tuple[Path, Path, Path]:
    named = (tmp_path / "lamp.yaml", tmp_path / "dark.yaml", tmp_path / "counts.json")
    texts = (CIRCUIT, DARK, json.dumps(COUNTS))
    for path, text in zip(named, texts, strict=True):
        path.write_text(text, encoding="utf-8")
    return named


def test_estimate_gives_both_ways_and_the_stop_points(files: tuple[Path, Path, Path]) -> None:
    circuit, readings, counts = files
    words = ("estimate", circuit, "--readings", readings, "--rate", "90/h", "--episodes", 20,
             "--json")
    said = run(*words)
    assert said.code == 0
    found = said.json
    assert found["episodes"] == found["asked_episodes"] == 20
    assert found["rate_per_min"] == 1.5
    for key in ("test_first_min", "test_first_money", "swap_first_min", "swap_first_money"):
        assert 0 < found[key]["p50"] <= found[key]["p90"]
    assert [point["share"] for point in found["stop_points"]] == [0.5, 0.8, 0.95]
    assert run(*words).json == found
    learned = run(*words, "--counts", counts, "--vehicle-class", "12 V").json
    assert learned["swap_wrong_parts"] != found["swap_wrong_parts"]


def test_estimate_for_people_says_how_many_jobs_were_played(
    files: tuple[Path, Path, Path]
) -> None:
    said = run("estimate", files[0], "--readings", files[1], "--episodes", 20)
    assert said.code == 0
    assert "20 of 20 jobs played through" in said.out
    assert "Where to stop and ask" in said.out


def test_a_bad_rate_is_bad_input(files: tuple[Path, Path, Path]) -> None:
    said = run("estimate", files[0], "--readings", files[1], "--rate", "90/day")
    assert said.code == 2
    assert "no labour rate" in said.err


def test_learn_merges_counts_and_shows_the_strength(files: tuple[Path, Path, Path]) -> None:
    circuit, _, counts = files
    out = circuit.with_name("both.json")
    said = run("learn", counts, counts, "--out", out, "--circuit", circuit)
    assert said.code == 0
    assert "80 jobs in 1 sorts of fault" in said.out
    assert "worth 50 jobs" in said.out
    again = run("learn", out, "--json").json
    assert again["counts"] == [{**COUNTS["counts"][0], "count": 80}]


def test_learn_from_nothing_is_bad_input() -> None:
    said = run("learn", "--json")
    assert said.code == 2
    assert said.json["error"]["code"] == "usage"
