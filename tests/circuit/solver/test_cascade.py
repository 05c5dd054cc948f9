"""Fuses, links and breakers that open: how long each takes, which is first, what follows."""

from __future__ import annotations

import math

import pytest

from loomwright.circuit import parse_fault, solve
from loomwright.circuit.blowing import onderdonk_s, opening_time
from loomwright.circuit.cascade import cascade
from loomwright.circuit.model import Circuit
from tests.support.demo import small

WIRES = """BAT.+, F1.1, 6 mm2, 1 m
F1.2, F2.1, 6 mm2, 1 m
F2.2, H1.1, 6 mm2, 1 m
H1.2, E1, 6 mm2, 1 m"""


def chain(first: str, second: str) -> Circuit:
    parts = (f"BAT: {{kind: battery}}\nF1: {{{first}}}\nF2: {{{second}}}\n"
             "H1: {kind: lamp, power: 55 W}\nE1: {kind: earth}")
    return small(parts, WIRES)


def shorted(circuit: Circuit) -> Circuit:
    return circuit.with_faults([parse_fault(circuit, "short-to-earth:W3")])


def test_times_are_read_between_the_rows_of_the_table() -> None:
    fuse = chain("kind: fuse, rating: 10 A", "kind: fuse, rating: 40 A").parts["F1"]
    at_row = opening_time(fuse, 20)
    assert at_row is not None
    assert (at_row.least_s, at_row.most_s) == pytest.approx((0.15, 5))  # row 200 %
    assert at_row.grade == "memory"
    between = opening_time(fuse, 10 * math.sqrt(2.0 * 3.5))
    assert between is not None
    # half way between 200 % and 350 % on logarithms: the geometric mean of the two rows
    assert between.most_s == pytest.approx(math.sqrt(5 * 0.5), rel=1e-6)
    far = opening_time(fuse, 120)  # 1200 %, twice the last row: a quarter of its time
    assert far is not None
    assert far.most_s == pytest.approx(0.1 / 4, rel=1e-6)
    assert opening_time(fuse, 13) is None  # 130 % does not open it


def test_a_slow_type_takes_longer() -> None:
    circuit = chain("kind: fuse, rating: 30 A, type: maxi", "kind: fuse, rating: 30 A")
    slow, quick = (opening_time(circuit.parts[name], 105) for name in ("F1", "F2"))
    assert slow is not None
    assert quick is not None
    assert (slow.most_s, quick.most_s) == pytest.approx((7, 0.5))  # rows 350 %


def test_onderdonk_against_a_worked_result() -> None:
    # S16: 4110 circular mils (2.08 mm2) at 400 A melt in "about 2" s; printed to one figure
    assert onderdonk_s(4110 / 1973.525, 400) == pytest.approx(2, abs=0.5)


def test_a_link_has_a_time_only_where_it_melts_quickly_and_a_breaker_none() -> None:
    parts = chain("kind: fusible link, area: 1 mm2", "kind: circuit breaker, rating: 10 A").parts
    quick = opening_time(parts["F1"], 400)
    assert quick is not None
    assert quick.grade == "published"
    thick = chain("kind: fusible link, area: 6 mm2", "kind: fuse, rating: 10 A").parts["F1"]
    assert opening_time(thick, 400) is None  # 368 A melt it, but not within 10 s
    assert opening_time(parts["F2"], 100) is None


def test_the_quicker_opens_first_though_the_other_is_more_overloaded() -> None:
    circuit = shorted(chain("kind: fuse, rating: 30 A, type: maxi", "kind: fuse, rating: 40 A"))
    steps = cascade(circuit, "here")
    assert [step.part for step in steps] == ["F2"]
    amps = steps[0].amps
    assert amps / 30 > amps / 40 > 1.35  # the slow one stands further over its rating
    doing = solve(circuit, "here").parts
    assert (doing["F2"].doing, doing["F1"].doing) == ("blown", "whole")


def test_one_opening_leads_to_the_next() -> None:
    # two fuses side by side share a short: with the smaller gone the larger carries it all
    wires = """BAT.+, F1.1, 6 mm2, 1 m
F1.2, H1.1, 6 mm2, 1 m
BAT.+, F2.1, 6 mm2, 1 m
F2.2, H1.1, 6 mm2, 1 m
H1.1, H1.2, 1 mm2, 2 m
H1.2, E1, 6 mm2, 1 m"""
    parts = ("BAT: {kind: battery}\nF1: {kind: fuse, rating: 10 A}\nF2: {kind: fuse, rating: 30 A}"
             "\nH1: {kind: lamp}\nE1: {kind: earth}")
    steps = cascade(small(parts, wires), "here")
    assert [step.part for step in steps] == ["F1", "F2"]
    assert abs(steps[1].amps) > abs(steps[0].amps)


def test_the_grade_reaches_the_reader() -> None:
    steps = cascade(shorted(chain("kind: fuse, rating: 10 A", "kind: fuse, rating: 30 A")), "here")
    assert "from memory, not confirmed" in steps[0].text()
    breaker = shorted(chain("kind: circuit breaker, rating: 10 A", "kind: fuse, rating: 80 A"))
    assert cascade(breaker, "here")[0].text().endswith("no table says how long it takes.")


def test_nothing_opens_in_a_sound_circuit() -> None:
    assert cascade(chain("kind: fuse, rating: 10 A", "kind: fuse, rating: 30 A"), "here") == ()
