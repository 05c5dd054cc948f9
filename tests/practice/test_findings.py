"""What is called a finding is what a technician would stop at, not what a guess allows."""

import pytest

from loomwright.practice.attempt import Taken, judge
from loomwright.practice.compare import healthy_value, is_finding, near_for
from tests.practice.benches import table


def check(quantity, state, at, to="", name="tail-and-brake"):
    return table(name).plant.check_for(state, quantity, at, to)


# Common practice: 0.2 V on an earth and 0.5 V on a feed are too much at 12 V.
@pytest.mark.parametrize(("quantity", "at", "to", "shown", "finding"), [
    ("voltage", "E2", "", 0.02, False),
    ("voltage", "E2", "", 0.5, True),  # an earth: half a volt is the fault, not "about nothing"
    ("voltage", "H3.1", "", 11.2, True),  # healthy 12.1: nearly a volt of feed is lost
    ("voltage", "H3.1", "", 12.3, False),
    ("voltage", "W5", "", 0.08, False),
    ("voltage", "W5", "", 0.6, True),
    ("current", "W5", "", 2.54, True),  # healthy 3.5 A: a quarter less light
    ("current", "W5", "", 3.45, False),
    ("voltage", "BAT.+", "", 12.35, False),  # a battery two per cent down
])
def test_a_reading_is_a_finding_where_a_technician_says_so(quantity, at, to, shown, finding):
    one = check(quantity, "braking", at, to)
    assert is_finding(table("tail-and-brake"), one, shown, 12.0) is finding


@pytest.mark.parametrize(("shown", "finding"), [(0.1, False), (0.9, True), (1e7, True)])
def test_ohms_of_a_wire(shown, finding):
    one = check("resistance", "at rest", "W5")
    assert is_finding(table("tail-and-brake"), one, shown, 12.0) is finding


@pytest.mark.parametrize(("name", "asked", "first", "second", "same"), [
    ("can-bus", ("voltage", "resting bus", "N3.H"), 2.5, 3.5, False),  # at rest or sending
    ("can-bus", ("voltage", "resting bus", "N3.H"), 2.5, 2.3, True),
    ("tail-and-brake", ("voltage", "braking", "H3.1"), 12.0, 12.9, True),
    ("tail-and-brake", ("voltage", "braking", "E2"), 0.0, 0.4, True),
    ("tail-and-brake", ("voltage", "braking", "E2"), 0.0, 0.9, False),
    ("motorcycle-charge", ("ac voltage", "running", "G1.A", "G1.B"), 60.0, 70.0, True),
    ("motorcycle-charge", ("ac voltage", "running", "G1.A", "G1.B"), 12.0, 70.0, False),
])
def test_about_is_rough_but_not_blind(name, asked, first, second, same):
    quantity, state, *points = asked
    near = near_for(check(quantity, state, *points, name=name), 12.0)
    assert near(first, second) is same
    assert near(second, first) is same


def test_alternating_volts_of_a_phase_gone_are_a_finding():
    one = check("ac voltage", "running", "G1.A", "G1.B", name="motorcycle-charge")
    good = healthy_value(table("motorcycle-charge"), one)
    assert not is_finding(table("motorcycle-charge"), one, 0.97 * good, 12.0)
    assert is_finding(table("motorcycle-charge"), one, 0.5 * good, 12.0)


def test_twice_the_system_lets_twice_the_volts_pass():
    one = check("voltage", "braking", "E2")
    assert is_finding(table("tail-and-brake"), one, 0.3, 12.0)
    assert not is_finding(table("tail-and-brake"), one, 0.3, 24.0)


def test_a_guess_may_be_rough_and_the_finding_still_stands():
    one = check("current", "braking", "W5")
    found = judge(table("tail-and-brake"), Taken(one, 3.3, 2.54, 1.0), 12.0)
    assert found.right_if_healthy
    assert found.differs
