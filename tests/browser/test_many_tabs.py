"""Seven tabs of one browser on one job: a browser opens six connections to one host."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.browser.running_bench import TABLET, Bench, Watched
from tests.service.depot_folder import TRUCK_7, depot_in

if TYPE_CHECKING:
    from playwright.sync_api import Browser

    from loomwright.service.records import ReadingForm

pytestmark = [pytest.mark.browser, pytest.mark.slow]
TABS = 7
# What a browser does to the tabs behind the one that is looked at; one without windows does not.
HIDE = """() => {
  Object.defineProperty(document, "hidden", { value: true, configurable: true });
  document.dispatchEvent(new Event("visibilitychange"));
}"""


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    found = Bench(depot_in(tmp_path))
    yield found
    found.stop()


def reading() -> ReadingForm:
    from loomwright.service.records import ReadingForm

    return ReadingForm("locking", "voltage", "S4.1", value="25.1 V")


def test_the_seventh_tab_opens_and_is_told(browser: Browser, bench: Bench) -> None:
    from playwright.sync_api import expect

    watched = Watched(browser, TABLET, bench.address)
    address = f"{bench.address}/jobs/{TRUCK_7}"
    tabs = [watched.page, *(watched.context.new_page() for _ in range(TABS - 1))]
    for number, page in enumerate(tabs):
        page.set_default_timeout(20_000)
        page.goto(address)
        expect(page.locator(".bench")).to_have_attribute("data-last", "2")
        if number < TABS - 1:
            page.evaluate(HIDE)
    bench.app.state.workshop.add_reading(TRUCK_7, reading(), "other-tablet", "Isla")
    expect(tabs[-1].locator(".bench")).to_have_attribute("data-last", "3")
    assert bench.app.state.feed.count == 1  # those behind let go of theirs
    watched.done()
