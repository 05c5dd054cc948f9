"""What a job has cost, its limit, and what it will take."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from loomwright.errors import ConflictError, UsageError
from loomwright.jobs.rates import Rates
from loomwright.service import office
from loomwright.service.costs import CLOCKED, EXPECTED, Costs, costs_of, limit_of, past_limit
from loomwright.service.jobs import Workshop
from loomwright.service.office import Sender
from loomwright.service.quote import foresee, give_offer, swap_lines
from tests.service.depot_folder import TRUCK_4, TRUCK_7, depot_in

RATES = Rates(labour_rate_per_h="60", tax_percent="20", assumed=False)


@pytest.fixture
def workshop(tmp_path: Path) -> Workshop:
    return Workshop(depot_in(tmp_path))


def sender(number: int) -> Sender:
    return Sender(f"costs-key-{number}", "Isla")


def costs(workshop: Workshop, job: int, rates: Rates = RATES) -> Costs:
    _, history, bench = workshop.opened(job)
    return costs_of(history, bench, rates)


def test_expected_minutes_give_way_to_clocked_ones(workshop: Workshop) -> None:
    before = costs(workshop, TRUCK_4)
    assert before.basis == EXPECTED
    assert before.minutes > 0
    office.clock_minutes(workshop, TRUCK_4, ("45", ""), sender(1))
    office.clock_minutes(workshop, TRUCK_4, ("15,5", ""), sender(2))
    after = costs(workshop, TRUCK_4)
    assert (after.basis, after.minutes, after.labour) == (CLOCKED, Decimal("60.5"),
                                                          Decimal("60.50"))


def test_parts_without_a_price_are_counted_apart(workshop: Workshop) -> None:
    office.clock_minutes(workshop, TRUCK_7, ("60", ""), sender(1))
    office.use_part(workshop, TRUCK_7, {"what": "plug", "quantity": "3", "price": "0.335"},
                    sender(2))
    office.use_part(workshop, TRUCK_7, {"what": "tape"}, sender(3))
    found = costs(workshop, TRUCK_7)
    assert (found.parts, found.unpriced) == (Decimal("1.01"), 1)  # 1.005 goes up
    assert found.total.gross == Decimal("73.21")  # 61.01 and 20 % of it, 12.202


def test_taking_back_brings_the_expected_minutes_back(workshop: Workshop) -> None:
    before = costs(workshop, TRUCK_7)
    number = office.clock_minutes(workshop, TRUCK_7, ("500", ""), sender(1))
    office.take_back(workshop, TRUCK_7, number, sender(2))
    assert costs(workshop, TRUCK_7) == before


def test_at_the_limit_is_within_it(workshop: Workshop) -> None:
    office.set_limit(workshop, TRUCK_7, ("60", "60"), sender(1))
    office.clock_minutes(workshop, TRUCK_7, ("60", ""), sender(2))
    _, history, bench = workshop.opened(TRUCK_7)
    assert past_limit(history, costs_of(history, bench, RATES), RATES) == ()
    office.clock_minutes(workshop, TRUCK_7, ("0.5", ""), sender(3))
    _, history, bench = workshop.opened(TRUCK_7)
    said = past_limit(history, costs_of(history, bench, RATES), RATES)
    assert len(said) == 2
    assert all("Stop and ask the customer" in one for one in said)


def test_a_jobs_own_limit_goes_before_the_usual_one(workshop: Workshop) -> None:
    usual = Rates(limit_minutes="30", limit_money="100")
    assert limit_of(workshop.opened(TRUCK_7)[1], usual).minutes == "30"
    office.set_limit(workshop, TRUCK_7, ("", "50"), sender(1))
    own = limit_of(workshop.opened(TRUCK_7)[1], usual)
    assert (own.minutes, own.money) == ("", "50")


def test_testing_first_stands_beside_swapping_parts(workshop: Workshop) -> None:
    found = foresee(workshop, TRUCK_7, wait_s=60)
    assert found.ready
    assert found.problem == ""
    first, swap = found.ways
    assert (first.name, swap.name) == ("Test first", "Swap parts")
    assert first.minutes[1] <= first.minutes[2]
    assert first.wrong_parts < swap.wrong_parts  # what the testing is for
    assert foresee(workshop, TRUCK_7) == found  # kept, not played again
    with pytest.raises(ConflictError):
        foresee(workshop, TRUCK_4)


def test_swaps_fall_in_chance_and_their_cost_adds_up(workshop: Workshop) -> None:
    _, history, bench = workshop.opened(TRUCK_7)
    lines = swap_lines(bench, history, RATES)
    spent = Decimal(0)
    for one in lines:
        spent += one.price + one.minutes  # 60 an hour: one a minute
        assert one.spent == spent
    assert lines[0].reached == "over 99 %"


@pytest.mark.parametrize("said", [
    {"form": "", "money": "10"}, {"form": "guess", "money": "10"}, {"form": "quote"},
    {"form": "estimate", "money": "10", "most": "9"}, {"form": "quote", "money": "-1"},
    {"form": "quote", "money": "1", "note": "x" * 2_001}])
def test_an_offer_that_cannot_be(workshop: Workshop, said: dict[str, str]) -> None:
    with pytest.raises(UsageError):
        give_offer(workshop, TRUCK_7, said, sender(1))
    assert workshop.opened(TRUCK_7)[1].office.offers == ()


def test_nothing_is_added_after_the_hand_over(workshop: Workshop) -> None:
    office.hand_over(workshop, TRUCK_4, ("Mr Ross", ""), sender(1))
    for refused in (
        lambda: give_offer(workshop, TRUCK_4, {"form": "quote", "money": "1"}, sender(2)),
        lambda: office.clock_minutes(workshop, TRUCK_4, ("5", ""), sender(3)),
        lambda: office.use_part(workshop, TRUCK_4, {"what": "fuse"}, sender(4)),
    ):
        with pytest.raises(ConflictError):
            refused()
