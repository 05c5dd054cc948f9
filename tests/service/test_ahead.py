"""What a page will show next is thought through before it is asked for, and changes nothing."""

from __future__ import annotations

import dataclasses
import time
from pathlib import Path

import pytest

from loomwright.service import ahead
from loomwright.service.ahead import Ahead
from loomwright.service.jobs import Workshop
from loomwright.service.records import Look, ReadingForm
from tests.service.depot_folder import TRUCK_7, depot_in

VOLTS = ReadingForm("locking", "voltage", "S4.1", value="25.37 V")
LONG_S = 60.0  # a busy machine


@pytest.fixture
def shop(tmp_path: Path):  # type: ignore[no-untyped-def]
    found = Workshop(depot_in(tmp_path))
    found.opened(TRUCK_7)[2]._answers.clear()  # benches are shared by all tests of a process
    yield found
    found.close()


def questions(shop: Workshop) -> set[object]:
    """Return what the bench of the truck has been asked so far."""
    return set(shop.opened(TRUCK_7)[2]._answers)


def thought(shop: Workshop, before: set[object], count: int) -> bool:
    """Wait until so many questions more have been answered."""
    end = time.monotonic() + LONG_S
    while time.monotonic() < end and len(questions(shop) - before) < count:
        time.sleep(0.01)
    return len(questions(shop) - before) >= count


def test_a_reading_being_saved_is_thought_through_beside_it(shop: Workshop) -> None:
    shop.view(TRUCK_7)
    before, events = questions(shop), shop.store.events(TRUCK_7)
    thinker = Ahead(shop.opened)
    thinker.saving(TRUCK_7, VOLTS, Look())
    assert questions(shop) == before  # not started
    thinker.start()
    thinker.saving(TRUCK_7, VOLTS, Look())
    assert thought(shop, before, 1)
    assert shop.store.events(TRUCK_7) == events  # nothing is stored
    known = questions(shop)
    shop.add_reading(TRUCK_7, VOLTS, "key of volts")
    shop.view(TRUCK_7)
    assert questions(shop) == known  # the very same question: the page finds its answer
    thinker.close()


def test_what_a_shown_check_may_show_is_thought_through_when_it_is_quiet(
        shop: Workshop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ahead, "QUIET_S", 0.01)
    view = shop.view(TRUCK_7)
    before = questions(shop)
    thinker = Ahead(shop.opened)
    thinker.start()
    thinker.looking(TRUCK_7, view.entry, Look())
    assert thought(shop, before, 1)
    thinker.close()


def test_a_newer_wish_ends_an_idle_one(shop: Workshop) -> None:
    view = shop.view(TRUCK_7)
    before = questions(shop)
    thinker = Ahead(shop.opened)
    thinker.start()
    for _ in range(3):
        thinker.looking(TRUCK_7, view.entry, Look())
    thinker.close()
    assert questions(shop) == before


def test_what_cannot_be_read_is_told_when_it_is_saved_not_before(shop: Workshop) -> None:
    thinker = Ahead(shop.opened)
    thinker.start()
    thinker.saving(TRUCK_7, dataclasses.replace(VOLTS, at="Q1"), Look())
    thinker.saving(99, VOLTS, Look())
    shop.view(TRUCK_7)
    before = questions(shop)
    thinker.saving(TRUCK_7, VOLTS, Look())  # it still thinks
    assert thought(shop, before, 1)
    thinker.close()


def test_a_verdict_is_the_same_with_and_without_thinking_ahead(tmp_path: Path) -> None:
    told = []
    for name, thinks in (("with", True), ("without", False)):
        shop = Workshop(depot_in(tmp_path / name), clock=lambda: "2026-11-25T09:00:00.000+00:00")
        shop.benches.get(shop.circuit_of(TRUCK_7))._answers.clear()
        thinker = Ahead(shop.opened)
        if thinks:
            thinker.start()
            thinker.saving(TRUCK_7, VOLTS, Look())
        shop.add_reading(TRUCK_7, VOLTS, "key of volts")
        told.append((shop.verdict_text(TRUCK_7), shop.view(TRUCK_7)))
        thinker.close()
        shop.close()
    assert told[0] == told[1]
