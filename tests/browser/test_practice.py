"""An apprentice in a real browser: choose, tap, predict, measure, name the repair."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.browser.running_bench import PHONE, TABLET, Bench, Watched
from tests.practice.benches import exercise

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = [pytest.mark.browser, pytest.mark.slow]
LEAST_PX = 47.5  # 48 px as designed; browsers round


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    found = Bench(tmp_path)
    yield found
    found.stop()


def check_page(watched: Watched) -> None:
    """Check that nothing overflows and that everything to press is large enough."""
    watched.fits()
    small = watched.page.evaluate("""(least) =>
        [...document.querySelectorAll('button, input, select, summary, .button, nav a, .jobline')]
        .filter((one) => one.offsetParent && one.type !== 'hidden')
        .map((one) => one.type === 'radio' ? one.closest('label') : one)
        .filter((one) => one.getBoundingClientRect().height < least)
        .map((one) => one.outerHTML.slice(0, 80))""", LEAST_PX)
    assert small == []


@pytest.mark.parametrize("size", [TABLET, PHONE], ids=["tablet", "phone"])
def test_an_apprentice_finds_a_fault(browser: Browser, bench: Bench, size: dict[str, int]) -> None:
    watched = Watched(browser, size, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/practice")
    check_page(watched)
    page.get_by_label("Your name").fill("Mhairi")
    page.get_by_text("A given exercise").click()
    page.get_by_label("Seed").fill("0")
    page.get_by_role("button", name="Start").click()
    page.wait_for_url("**/practice/horn-1-0")
    check_page(watched)
    page.get_by_label("State").select_option("sounding")
    page.locator('.plan [data-point="F1.1"]').dispatch_event("click")
    assert page.get_by_label("At", exact=True).input_value() == "F1.1"
    page.get_by_label("What should a good circuit show?").fill("12")
    page.get_by_role("button", name="Measure").click()
    page.get_by_text("Well predicted for a healthy circuit.").wait_for()
    assert page.get_by_label("State").input_value() == "sounding"
    page.get_by_text("I know what it is").click()
    check_page(watched)
    page.get_by_label("Repair").select_option(exercise(1, 0).fault.repair)
    page.get_by_role("button", name="Do this repair and end").click()
    page.get_by_text("points of 100").wait_for()
    check_page(watched)
    for name in ("progress", "sheet"):
        page.goto(f"{bench.address}/practice/{name}")
        assert "horn-1-0" in page.locator("main").inner_text()
        check_page(watched)
    watched.done()
