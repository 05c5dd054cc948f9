"""Keys and suggestions: an open line by one key, a sign, and points offered as wires are typed."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.browser.running_bench import TABLET, Bench, Watched
from tests.service.depot_folder import TRUCK_7, depot_in

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = [pytest.mark.browser, pytest.mark.slow]


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    found = Bench(depot_in(tmp_path))
    yield found
    found.stop()


@pytest.mark.parametrize(("address", "keys", "saved"), [
    ("state=shut&quantity=resistance&at=Y1.1&to=Y1.2", ("OL",), "OL"),
    ("state=locking&quantity=voltage&at=S4.1", ("2", "5", ".", "1"), "25.10 V"),
    ("state=locking&quantity=voltage&at=S4.1", ("2", "4", ",", "9", "sign"), "-24.90 V"),
])
def test_what_the_keypad_says_is_saved(browser: Browser, bench: Bench, address: str,
                                       keys: tuple[str, ...], saved: str) -> None:
    from playwright.sync_api import expect

    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/jobs/{TRUCK_7}?{address}")
    for key in keys:
        page.locator(f'[data-key="{key}"]').click()
    page.get_by_role("button", name="Save").click()
    expect(page.locator("#message")).to_have_text("Saved.")
    expect(page.locator(".readings .value").filter(has_text=saved)).to_have_count(1)
    watched.done()


def test_points_are_suggested_those_without_a_wire_first(browser: Browser, bench: Bench) -> None:
    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/editor?template=horn")
    cell = page.locator('[data-at="wires.1.2"]')
    cell.wait_for()
    assert cell.get_attribute("list") == "points"
    freed = cell.input_value()
    cell.fill("")
    page.keyboard.press("ArrowDown")
    # only this one and the battery's negative post are without a wire now
    page.wait_for_function("""(point) => [...document.querySelectorAll('#points option')]
        .slice(0, 2).some((one) => one.value === point)""", arg=freed)
    offered = page.locator("#points option").evaluate_all("(all) => all.map((one) => one.value)")
    assert len(offered) == len(set(offered)) > 10
    watched.done()
