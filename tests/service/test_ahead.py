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

FORM = ReadingForm("locking", "running", "Y1")
LIT = Look(state=FORM.state, quantity=FORM.quantity, at=FORM.at)
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


def test_nothing_is_thought_before_the_start_and_after_the_end(
        shop: Workshop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ahead, "QUIET_S", 0.01)
    entry = shop.view(TRUCK_7, LIT).entry
    before = questions(shop)
    thinker = Ahead(shop)
    thinker.looking(TRUCK_7, entry, LIT)
    thinker.start()
    thinker.close()
    thinker.looking(TRUCK_7, entry, LIT)
    time.sleep(0.1)
    assert questions(shop) == before


def test_answers_to_a_look_are_thought_through_when_it_is_quiet(
        shop: Workshop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ahead, "QUIET_S", 0.01)
    entry = shop.view(TRUCK_7, LIT).entry
    assert entry.levels
    before = questions(shop)
    thinker = Ahead(shop)
    thinker.start()
    thinker.looking(TRUCK_7, entry, LIT)
    assert thought(shop, before, len(entry.levels))
    known = questions(shop)
    shop.add_reading(TRUCK_7, dataclasses.replace(FORM, value=entry.levels[-1]), "key of a look")
    shop.view(TRUCK_7)
    assert questions(shop) == known
    thinker.close()


def test_a_newer_wish_ends_an_idle_one(shop: Workshop) -> None:
    entry = shop.view(TRUCK_7, LIT).entry
    before = questions(shop)
    thinker = Ahead(shop)
    thinker.start()
    for _ in range(3):
        thinker.looking(TRUCK_7, entry, LIT)
    thinker.close()
    assert questions(shop) == before


def test_what_cannot_be_taken_is_told_when_it_is_typed_not_before(
        shop: Workshop, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ahead, "QUIET_S", 0.01)
    entry = shop.view(TRUCK_7, LIT).entry
    before = questions(shop)
    thinker = Ahead(shop)
    thinker.start()
    thinker.looking(TRUCK_7, dataclasses.replace(entry, at="Q1"), LIT)
    thinker.looking(99, entry, LIT)
    time.sleep(0.1)
    thinker.looking(TRUCK_7, entry, LIT)  # it still thinks
    assert thought(shop, before, 1)
    thinker.close()


def test_a_verdict_is_the_same_with_and_without_thinking_ahead(
        tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(ahead, "QUIET_S", 0.01)
    told = []
    for name, thinks in (("with", True), ("without", False)):
        shop = Workshop(depot_in(tmp_path / name), clock=lambda: "2026-11-25T09:00:00.000+00:00")
        shop.opened(TRUCK_7)[2]._answers.clear()
        entry = shop.view(TRUCK_7, LIT).entry
        before = questions(shop)
        thinker = Ahead(shop)
        if thinks:
            thinker.start()
            thinker.looking(TRUCK_7, entry, LIT)
            assert thought(shop, before, len(entry.levels))
        shop.add_reading(TRUCK_7, dataclasses.replace(FORM, value="off"), "key of a look")
        told.append((shop.verdict_text(TRUCK_7), shop.view(TRUCK_7)))
        thinker.close()
        shop.close()
    assert told[0] == told[1]
