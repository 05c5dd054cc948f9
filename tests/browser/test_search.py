"""Helps of the fault-finding screen in a real browser: nothing typed or pressed is lost."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.browser.running_bench import TABLET, Bench, Watched
from tests.service.depot_folder import TRUCK_7, TRUCK_9, depot_in

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = [pytest.mark.browser, pytest.mark.slow]
HERE = f"/jobs/{TRUCK_7}"


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    found = Bench(depot_in(tmp_path))
    yield found
    found.stop()


def test_left_out_and_asked_again(browser: Browser, bench: Bench) -> None:
    from playwright.sync_api import expect

    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(bench.address + HERE)
    first = page.locator("#entry-title").inner_text()
    page.get_by_role("button", name="I can't reach that").click()
    expect(page.locator("#entry-title")).not_to_have_text(first)
    watched.fits()
    page.get_by_role("button", name="again").click()
    expect(page.locator("#entry-title")).to_have_text(first)
    watched.done()


def test_what_if_and_back_with_comma(browser: Browser, bench: Bench) -> None:
    from playwright.sync_api import expect

    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(f"{bench.address}{HERE}?state=locking&quantity=voltage&at=S4.1")
    for key in ("0", ",", "4", ","):  # a second comma adds nothing
        page.locator(f'[data-key="{key}"]').click()
    expect(page.locator("#value")).to_have_value("0,4")
    page.get_by_role("button", name="What if?").click()
    expect(page.get_by_role("heading", level=1)).to_have_text("What if it showed 0.40 V?")
    watched.fits()
    page.go_back()
    expect(page.locator("#value")).to_have_value("0,4")
    watched.done()


def test_the_complaints_tracks_stay_chosen(browser: Browser, bench: Bench) -> None:
    from playwright.sync_api import expect

    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(bench.address + HERE)
    whole = page.locator(".drawing [data-wire]").count()
    page.get_by_label("Only this complaint's tracks").check()
    expect(page.locator(".drawing [data-wire]")).not_to_have_count(whole)
    page.locator('.drawing [data-point="S4.1"]').click()
    expect(page.locator("#entry-title")).to_contain_text("S4.1")
    expect(page.get_by_label("Only this complaint's tracks")).to_be_checked()
    page.locator("#value").fill("25.1")
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#message")).to_have_text("Saved.")
    expect(page.get_by_label("Only this complaint's tracks")).to_be_checked()
    watched.done()


def test_the_drawing_has_its_natural_size_and_centres_the_chosen_point(
    browser: Browser, bench: Bench
) -> None:
    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    for point in ("BAT.+", "Y1.2"):
        page.goto(f"{bench.address}{HERE}?state=locking&quantity=voltage&at={point}"
                  .replace("+", "%2B"))
        page.wait_for_function("document.querySelector('#value')")
        drawn, asked = page.locator(".canvas svg").evaluate(
            "one => [one.getBoundingClientRect().width, Number(one.getAttribute('width'))]")
        assert drawn == pytest.approx(asked, abs=1)  # a pixel of rounding
        inside = page.locator(f'.canvas [data-point="{point}"]').first.evaluate(
            """one => { const a = one.getBoundingClientRect();
                const b = one.closest('.canvas').getBoundingClientRect();
                return a.left >= b.left && a.right <= b.right
                    && a.top >= b.top && a.bottom <= b.bottom; }""")
        assert inside
    watched.done()


def test_an_answer_pressed_while_the_link_is_cut_is_kept(browser: Browser, bench: Bench) -> None:
    from playwright.sync_api import expect

    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/jobs/{TRUCK_9}")
    before = page.locator(".bench").get_attribute("data-last") or ""
    page.route("**/api/jobs/*/readings", lambda route: route.abort())
    page.locator(".level").first.click()
    expect(page.locator("#message")).to_contain_text("Not saved yet")
    page.reload()
    expect(page.locator("#message")).to_contain_text("is not saved yet")
    expect(page.locator(".level.shown")).to_have_count(1)
    page.unroute("**/api/jobs/*/readings")
    page.locator(".level.shown").click()
    expect(page.locator(".bench")).not_to_have_attribute("data-last", before)
    watched.trouble.clear()  # the browser reports the cut link itself
    watched.done()
