"""A reading by keyboard alone, from the list of jobs to the saved value, and how focus is seen."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.browser.running_bench import TABLET, Bench, Watched
from tests.service.depot_folder import TRUCK_7, depot_in

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = [pytest.mark.browser, pytest.mark.slow]
MOST_TABS = 80
FOCUSED = """() => { const one = document.activeElement;
  return one.id || one.dataset?.point || one.innerText?.slice(0, 40) || one.name || ""; }"""
# The ring that shows where the keyboard is: an outline or a shadow, or of a point its hit circle.
SHOWN = """() => { const one = document.activeElement, style = getComputedStyle(one);
  return style.outlineStyle !== "none" && parseFloat(style.outlineWidth) >= 2
    || style.boxShadow !== "none" || one.matches("[data-point]"); }"""


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    found = Bench(depot_in(tmp_path))
    yield found
    found.stop()


def tab_to(page: Page, wanted: str) -> None:
    """Press Tab until the focus stands on something; where it stands must be seen each time."""
    passed = []
    for _ in range(MOST_TABS):
        page.keyboard.press("Tab")
        passed.append(str(page.evaluate(FOCUSED)))
        assert page.evaluate(SHOWN), f"nothing shows the focus on {[one[:30] for one in passed]}"
        if wanted in passed[-1]:
            return
    pytest.fail(f"the keyboard does not reach {wanted!r}, only {passed}")


def test_a_reading_is_taken_with_the_keyboard_alone(browser: Browser, bench: Bench) -> None:
    from playwright.sync_api import expect

    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(bench.address)
    tab_to(page, "Truck 7")
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/jobs/{TRUCK_7}")
    page.locator('.drawing [data-point="F13.2"]').focus()
    page.keyboard.press("Enter")
    expect(page.locator("#entry-title")).to_contain_text("F13.2")
    assert page.evaluate(FOCUSED) == "entry-title"  # what is asked now, read out first
    tab_to(page, "value")
    page.keyboard.type("25,1")
    page.keyboard.press("Enter")
    expect(page.locator("#message")).to_have_text("Saved.")
    expect(page.locator(".bench")).to_have_attribute("data-last", "3")
    assert page.evaluate(FOCUSED) == "entry-title"  # and not the top of the page
    watched.done()


def test_the_first_tab_leads_past_the_head_of_the_page(browser: Browser, bench: Bench) -> None:
    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/jobs/{TRUCK_7}")
    page.keyboard.press("Tab")
    assert page.evaluate(FOCUSED) == "Skip to the page"
    page.keyboard.press("Enter")
    page.wait_for_function("location.hash !== ''")  # the jump is made after the key
    page.keyboard.press("Tab")
    page.wait_for_function("document.querySelector('main').contains(document.activeElement)")
    watched.done()
