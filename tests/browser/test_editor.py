"""A circuit typed from paper in a real browser: keyboard, paste, undo, draft, problems, new job."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from loomwright.circuit import read_circuit_text
from tests.browser.running_bench import PHONE, TABLET, Bench, Watched
from tests.service.depot_folder import depot_in

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

pytestmark = [pytest.mark.browser, pytest.mark.slow]

WIRES = ("BAT.+ F1.1 2,5 1,2 rd", "F1.2 S1.1 1.5 1 rd", "S1.2 K1.86 1 2 gy/rd",
         "K1.85 E1 1 0,3 bn", "F1.2 K1.30 2,5 1 rd", "K1.87 X1.1a 2.5 3 bu",
         "X1.1b SP1 2.5 3 bu", "SP1 H1.1 1.5 1 bu", "SP1 H2.1 1.5 1 bu", "H1.2 E2 2.5 0.5 bn")


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    found = Bench(depot_in(tmp_path))
    yield found
    found.stop()


def type_rows(page: Page, rows: tuple[str, ...]) -> None:
    for row in rows:
        for number, cell in enumerate(row.split()):
            if number:
                page.keyboard.press("Tab")
            page.keyboard.type(cell)
        page.keyboard.press("Enter")


def cell(page: Page, name: str) -> str:
    return page.locator(f'[data-at="{name}"]').input_value()


def text_holds(page: Page, words: str) -> str:
    page.wait_for_function(
        "(words) => document.querySelector('#text').value.includes(words)", arg=words)
    return page.locator("#text").input_value()


def test_ten_wires_are_typed_without_the_mouse(browser: Browser, bench: Bench) -> None:
    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/editor")
    page.get_by_label("System voltage").first.fill("12")
    page.locator('[data-at="wires.0.1"]').focus()
    type_rows(page, WIRES)
    text_holds(page, "E2: {kind: earth}")
    names = [cell(page, f"parts.{row}.0") for row in range(9)]
    assert names == ["BAT", "F1", "S1", "K1", "E1", "X1", "SP1", "H1", "H2"]
    page.locator('[data-at="parts.1.2"]').fill("15 A")
    page.keyboard.press("ArrowDown")
    page.keyboard.type("lamp switch")
    page.locator('[data-at="states.0.0"]').focus()
    for row in (("off", "", "H1: off"), ("on", "lamp switch: on", "H1: on")):
        for number, typed in enumerate(row):
            if number:
                page.keyboard.press("Tab")
            page.keyboard.type(typed)
        page.keyboard.press("Enter")
    text = text_holds(page, "on: {H1: on}")
    circuit = read_circuit_text(text)
    assert list(circuit.wires) == [f"W{number}" for number in range(1, 11)]
    assert circuit.parts["F1"].params["rating_a"] == 15.0
    page.locator("#drawing [data-point='H1.1']").first.wait_for()
    watched.fits()
    page.get_by_text("No problems. Not saved yet").wait_for()
    page.get_by_role("button", name="Open a job with this circuit").click()
    page.wait_for_url("**/jobs/form")
    assert page.locator('[name="circuit_text"]').input_value().strip() == text.strip()
    watched.done()


def test_undo_draft_and_problems(browser: Browser, bench: Bench) -> None:
    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/editor?template=work-lamps")
    page.locator('[data-at="wires.0.1"]').wait_for()
    before = cell(page, "wires.1.2")
    page.locator('[data-at="wires.1.2"]').fill("F1.9")
    page.keyboard.press("ArrowUp")
    page.locator('[data-at="wires.1.2"][aria-invalid]').wait_for()
    page.wait_for_load_state("networkidle")  # the list is made anew with each answer
    page.locator("#problems button").first.click()
    page.wait_for_function("document.activeElement.dataset.at === 'wires.1.2'")
    page.get_by_role("button", name="As text").click()
    page.locator("#problems button").first.click()
    assert "F1.9" in page.evaluate("""() => { const box = document.querySelector('#text');
        return box.value.slice(box.selectionStart, box.selectionEnd); }""")
    page.get_by_role("button", name="Undo").click()
    page.get_by_role("button", name="Tables").click()
    assert cell(page, "wires.1.2") == before
    page.get_by_role("button", name="Redo").click()
    assert cell(page, "wires.1.2") == "F1.9"
    page.goto(f"{bench.address}/editor")  # left without saving
    page.get_by_text("What you typed before is back").wait_for()
    text_holds(page, "F1.9")
    watched.done()


def test_a_spreadsheet_is_pasted(browser: Browser, bench: Bench) -> None:
    watched = Watched(browser, PHONE, bench.address)
    page = watched.page
    page.goto(f"{bench.address}/editor")
    page.locator('[data-at="wires.0.1"]').focus()
    paste = """(text) => { const data = new DataTransfer(); data.setData('text', text);
        document.activeElement.dispatchEvent(new ClipboardEvent('paste',
            { clipboardData: data, bubbles: true, cancelable: true })); }"""
    page.evaluate(paste, "Wire\tFrom\tTo\tAWG\tColour\nW7\tBAT:+\tF1:1\t14\tred\n")
    assert "- [W7, BAT.+, F1.1, 2.08 mm2, unknown, RD]" in text_holds(page, "W7")
    page.locator('[data-at="wires.1.1"]').focus()
    page.evaluate(paste, "F1.2\tH1.1\nH1.2\tE1\n")
    assert "- [W9, H1.2, E1]" in text_holds(page, "W9")
    watched.fits()
    watched.done()
