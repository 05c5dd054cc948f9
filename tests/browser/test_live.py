"""Two tablets on one job: each sees the other's readings, and nothing being typed is touched."""

from __future__ import annotations

import time
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from loomwright.service.records import ReadingForm
from loomwright.web import live
from tests.browser.running_bench import TABLET, Bench, Watched
from tests.service.depot_folder import TRUCK_7, depot_in

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = [pytest.mark.browser, pytest.mark.slow]
VOLTS = ReadingForm("locking", "voltage", "S4.1", value="25.1")
AGAIN = ReadingForm("locking", "voltage", "S4.1", value="25.2")


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    found = Bench(depot_in(tmp_path))
    yield found
    found.stop()


def listening(bench: Bench, count: int) -> None:
    """Wait until so many pages listen."""
    end = time.monotonic() + 10
    while bench.app.state.feed.count != count and time.monotonic() < end:
        time.sleep(0.02)
    assert bench.app.state.feed.count == count


def test_an_idle_page_shows_what_another_tablet_saved(browser: Browser, bench: Bench) -> None:
    from playwright.sync_api import expect

    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/jobs/{TRUCK_7}")
    listening(bench, 1)
    bench.app.state.workshop.add_reading(TRUCK_7, VOLTS, "volts-key", "Isla")
    expect(page.locator(".bench")).to_have_attribute("data-last", "3")
    assert "25.1" in page.locator("main").inner_text()
    expect(page.locator("#news")).to_have_count(0)
    watched.done()
    listening(bench, 0)


def test_a_page_that_got_no_stream_asks_now_and_then(
    browser: Browser, bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    from playwright.sync_api import expect

    monkeypatch.setattr(live, "STREAMS_FROM_ONE_PLACE", 0)
    monkeypatch.setattr(live, "ASK_AGAIN_MS", 500)
    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    with page.expect_response(lambda one: "/events" in one.url) as first:
        page.goto(f"{bench.address}/jobs/{TRUCK_7}")
    assert first.value.status == 200
    bench.app.state.workshop.add_reading(TRUCK_7, VOLTS, "volts-key", "Isla")
    expect(page.locator(".bench")).to_have_attribute("data-last", "3")
    assert bench.app.state.feed.count == 0
    watched.done()


def test_what_is_being_typed_stays(browser: Browser, bench: Bench) -> None:
    from playwright.sync_api import expect

    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/jobs/{TRUCK_7}?state=locking&quantity=voltage&at=X1.3a")
    listening(bench, 1)
    page.locator("#value").fill("12.3")
    bench.app.state.workshop.add_reading(TRUCK_7, VOLTS, "volts-key", "Isla")
    expect(page.locator("#news")).to_contain_text("New reading by Isla")
    assert page.locator("#value").input_value() == "12.3"
    expect(page.locator(".bench")).to_have_attribute("data-last", "2")
    page.get_by_role("button", name="Show", exact=True).last.click()
    expect(page.locator(".bench")).to_have_attribute("data-last", "3")
    assert page.locator("#value").input_value() == "12.3"
    assert page.locator('#reading input[name="at"]').input_value() == "X1.3a"
    expect(page.locator("#news")).to_have_count(0)
    watched.done()


def test_a_hidden_page_lets_go_of_its_stream_and_catches_up(browser: Browser, bench: Bench) -> None:
    from playwright.sync_api import expect

    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/jobs/{TRUCK_7}")
    listening(bench, 1)
    hide = """(hidden) => {
      Object.defineProperty(document, "hidden", { value: hidden, configurable: true });
      document.dispatchEvent(new Event("visibilitychange"));
    }"""
    page.locator(".bench").evaluate(f"(_, hidden) => ({hide})(hidden)", True)
    listening(bench, 0)
    bench.app.state.workshop.add_reading(TRUCK_7, VOLTS, "volts-key", "Isla")
    bench.app.state.workshop.add_reading(TRUCK_7, AGAIN, "volts-key-2", "Isla")
    page.locator(".bench").evaluate(f"(_, hidden) => ({hide})(hidden)", False)
    expect(page.locator(".bench")).to_have_attribute("data-last", "4")
    watched.done()


def test_what_was_typed_is_kept_and_said_when_the_check_moved_on(browser: Browser, bench: Bench
                                                                 ) -> None:
    from playwright.sync_api import expect

    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/jobs/{TRUCK_7}?state=locking&quantity=voltage&at=X1.3a")
    page.locator("#value").fill("12.3")
    bench.app.state.workshop.add_reading(TRUCK_7, VOLTS, "volts-key", "Isla")
    page.goto(f"{bench.address}/jobs/{TRUCK_7}")  # another check is asked for here
    told = page.locator("#drafts")
    expect(told).to_contain_text("Typed, but not saved:")
    expect(told).to_contain_text("12.3 V X1.3a against BAT.- (locking)")
    told.get_by_role("link", name="Go to it").click()
    expect(page.locator("#value")).to_have_value("12.3")
    assert page.locator('#reading input[name="at"]').input_value() == "X1.3a"
    expect(told).to_be_hidden()
    page.goto(f"{bench.address}/jobs/{TRUCK_7}")
    told.get_by_role("button", name="Drop it").click()
    expect(told).to_be_hidden()
    page.reload()
    expect(told).to_be_hidden()
    watched.done()


def test_a_reading_is_answered_with_its_page_and_drawn_once(
        browser: Browser, bench: Bench) -> None:
    from playwright.sync_api import expect

    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/jobs/{TRUCK_7}?state=locking&quantity=voltage&at=S4.1")
    listening(bench, 1)
    drawing = page.locator(".canvas > svg").element_handle()
    asked: list[str] = []
    page.on("request", lambda one: asked.append(f"{one.method} {one.url}"))
    page.locator("#value").fill("25.1")
    page.locator("#reading .save").click()
    expect(page.locator(".bench")).to_have_attribute("data-last", "3")
    page.wait_for_timeout(1000)  # longer than word of a reading waits
    asked = [one for one in asked if "/static/" not in one]  # the page comes in its answer
    assert asked == [f"POST {bench.address}/api/jobs/{TRUCK_7}/readings"]
    assert page.evaluate("(one) => one.isConnected", drawing)  # the same drawing, changed
    watched.done()
