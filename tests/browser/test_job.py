"""A person at the bench: from the depot to a proved repair and its record, in a real browser."""

from __future__ import annotations

import re
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from tests.browser.running_bench import PHONE, TABLET, Bench, Watched
from tests.service.depot_folder import TRUCK_4, TRUCK_7, depot_in

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = [pytest.mark.browser, pytest.mark.slow]

MOST_STEPS = 50
TARGET_PX = 47.5  # our own rule: 48, less half a pixel of rounding
HEAD_PX = 110  # two lines of targets and their edges: the menu must not fill a telephone
BOTH = pytest.mark.parametrize("size", [TABLET, PHONE], ids=["tablet", "phone"])
SAVED = "Volts at S4.1 (Tailgate shut) (locking)"


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    found = Bench(depot_in(tmp_path))
    yield found
    found.stop()


def take_what_is_asked(page: Page) -> None:
    """Read the demonstration vehicle and save what it shows."""
    from playwright.sync_api import expect

    before = page.locator(".bench").get_attribute("data-last") or ""
    page.get_by_role("button", name="Read the demo vehicle").click()
    if page.locator("#value").count():
        expect(page.locator("#value")).not_to_have_value("")
        page.get_by_role("button", name="Save").click()
    else:
        page.locator(".level.shown").click()
    expect(page.locator(".bench")).not_to_have_attribute("data-last", before)


@BOTH
def test_a_person_finds_repairs_and_proves_the_fault(
    browser: Browser, bench: Bench, size: dict[str, int]
) -> None:
    watched = Watched(browser, size, bench.address)
    page = watched.page
    page.goto(bench.address)
    watched.fits()
    page.get_by_role("link", name=re.compile("Truck 7")).click()
    page.wait_for_url(f"**/jobs/{TRUCK_7}")
    for _ in range(MOST_STEPS):
        watched.fits()
        if page.get_by_role("button", name="Begin this repair").count():
            break
        take_what_is_asked(page)
    assert "wire W20" in page.locator(".verdict .big").inner_text()
    page.get_by_role("button", name="Begin this repair").click()
    page.get_by_label("What was found").fill("Wire broken where the loom bends at the hinge")
    page.get_by_role("button", name="Repair done, prove it now").click()
    page.get_by_text("Prove the repair:").wait_for()
    for _ in range(MOST_STEPS):
        watched.fits()
        if page.get_by_text("The repair holds.").count():
            break
        take_what_is_asked(page)
    page.get_by_label("Note for the record").fill("Loom re-clipped")
    page.get_by_role("button", name="Finish the job").click()
    page.get_by_role("link", name="Print the record").click()
    page.wait_for_url("**/record")
    watched.fits()
    text = page.locator("article").inner_text()
    for words in ("Tailgate lock stays open", "Wire W20", "open circuit", "Mend wire W20",
                  "broken where the loom bends", "Loom re-clipped", "Proved"):
        assert words in text
    with urllib.request.urlopen(f"{bench.address}/jobs/{TRUCK_7}/record.pdf") as answer:
        assert answer.read(5) == b"%PDF-"
    watched.done()


@BOTH
def test_every_page_fits_and_has_large_targets(
    browser: Browser, bench: Bench, size: dict[str, int]
) -> None:
    watched = Watched(browser, size, bench.address)
    page = watched.page
    for path in ("/", "/jobs/new", "/who", f"/jobs/{TRUCK_7}", f"/jobs/{TRUCK_4}",
                 f"/jobs/{TRUCK_7}?state=locking&quantity=voltage&at=X1.2b",
                 f"/jobs/{TRUCK_4}/record", f"/jobs/{TRUCK_7}/why?state=shut&output=ECU.lock"):
        page.goto(bench.address + path)
        watched.fits()
        small = page.evaluate("""() =>
            [...document.querySelectorAll('button, input, select, summary, .button, nav a')]
            .filter((one) => one.offsetParent && one.type !== 'hidden')
            .map((one) => one.closest('label.tick-box') ?? one)  // its words are pressed too
            .filter((one) => one.getBoundingClientRect().height < 47.5)
            .map((one) => one.outerHTML.slice(0, 80))""")
        assert small == [], path
    watched.done()


@pytest.mark.parametrize("width", [390, 320])
def test_a_phone_reaches_all_of_the_menu(browser: Browser, bench: Bench, width: int) -> None:
    watched = Watched(browser, {"width": width, "height": 700}, bench.address)
    page = watched.page
    cookie = {"name": "who", "value": "Mhairi%20of%20the%20long%20name", "url": bench.address}
    watched.context.add_cookies([cookie])  # type: ignore[list-item]
    page.goto(bench.address + "/who")
    watched.fits()
    menu = page.get_by_role("navigation", name="Main")
    for words in ("Jobs", "New job", "Circuits", "Practice"):
        box = menu.get_by_role("link", name=words, exact=True).bounding_box()
        assert box is not None, words
        assert min(box["width"], box["height"]) >= TARGET_PX, words
        assert box["x"] >= 0, words
        assert box["x"] + box["width"] <= width, words
    head = page.locator(".bar").bounding_box()
    assert head is not None
    assert head["height"] <= HEAD_PX
    watched.done()


def test_a_tap_on_the_drawing_fills_the_form(browser: Browser, bench: Bench) -> None:
    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/jobs/{TRUCK_7}")
    page.locator('[data-point="X1.2b"]').dispatch_event("click")
    page.get_by_role("heading", name="Volts at X1.2b (Hinge plug)").wait_for()
    assert page.locator('#reading [name="at"]').input_value() == "X1.2b"
    inside = page.evaluate("""() => {
        const box = document.querySelector('.canvas').getBoundingClientRect();
        const at = document.querySelector('[data-point="X1.2b"] .ring').getBoundingClientRect();
        return at.left > box.left && at.right < box.right && at.top > box.top
            && at.bottom < box.bottom; }""")
    assert inside
    for key in ("1", "Point", "5", "Plus or minus", "Delete one", "7"):
        page.get_by_role("button", name=key, exact=True).click()
    assert page.locator("#value").input_value() == "-1.7"
    page.reload()  # what was typed is kept
    assert page.locator("#value").input_value() == "-1.7"
    watched.done()


def test_a_message_hides_no_key(browser: Browser, bench: Bench) -> None:
    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/jobs/{TRUCK_7}?state=locking&quantity=voltage&at=S4.1")
    page.get_by_role("button", name="Read the demo vehicle").click()
    page.get_by_text("The demo vehicle shows").wait_for()
    boxes = [page.locator(name).bounding_box() for name in ("#message", ".keypad", ".save")]
    message, *keys = [box for box in boxes if box]
    assert len(keys) == 2
    assert all(box["y"] >= message["y"] + message["height"] for box in keys)
    watched.done()


def test_the_second_probe_goes_where_it_is_tapped(browser: Browser, bench: Bench) -> None:
    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/jobs/{TRUCK_7}?state=locking&quantity=voltage&at=S4.1")
    page.get_by_text("Read something else").click()
    page.get_by_role("button", name="Against").click()
    page.locator('[data-point="S4.2"]').dispatch_event("click")
    page.get_by_role("heading", name="Volts between S4.1 and S4.2").wait_for()
    watched.done()


def test_the_keyboard_reaches_a_point(browser: Browser, bench: Bench) -> None:
    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/jobs/{TRUCK_7}")
    page.locator('[data-point="S4.1"]').focus()
    page.keyboard.press("Enter")
    page.get_by_role("heading", name="Volts at S4.1 (Tailgate shut)").wait_for()
    watched.done()


def test_the_job_can_be_done_without_scripts(browser: Browser, bench: Bench) -> None:
    watched = Watched(browser, TABLET, bench.address, java_script_enabled=False)
    page = watched.page
    page.goto(f"{bench.address}/jobs/{TRUCK_7}?state=locking&quantity=voltage&at=S4.1")
    page.get_by_role("button", name="Read the demo vehicle").click()
    assert page.locator("#value").input_value().endswith(" V")
    page.get_by_role("button", name="Save").click()
    page.get_by_text(SAVED).wait_for()
    watched.done()


def test_a_reading_survives_a_lost_server(browser: Browser, bench: Bench, tmp_path: Path) -> None:
    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/jobs/{TRUCK_7}?state=locking&quantity=voltage&at=S4.1")
    page.locator("#value").fill("25,1")
    bench.stop()
    page.get_by_role("button", name="Save").click()
    page.get_by_text("Not saved yet").wait_for()
    again = Bench(tmp_path, bench.port)
    assert again.port == bench.port
    page.get_by_text(SAVED).wait_for()
    assert page.get_by_text(SAVED).count() == 1
    watched.trouble = [one for one in watched.trouble if "ERR_CONNECTION_REFUSED" not in one]
    watched.done()
    again.stop()


def test_night_is_kept_and_paper_stays_white(browser: Browser, bench: Bench) -> None:
    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/jobs/{TRUCK_4}/record")
    page.get_by_role("button", name="Night").click()
    page.reload()
    ground = "getComputedStyle(document.querySelector('.paper')).backgroundColor"
    assert page.evaluate(ground) == "rgb(20, 23, 28)"
    page.emulate_media(media="print")
    assert page.evaluate(ground) == "rgb(255, 255, 255)"
    assert not page.locator(".bar").is_visible()
    watched.done()
