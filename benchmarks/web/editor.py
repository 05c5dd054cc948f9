"""How long a circuit of ten wires takes from paper to a checked drawing, at human typing speed.

Run `python benchmarks/web/editor.py`. A real browser without a window types at 200 ms a key and
looks at the paper for 2 s before each row and each press of the mouse. Wall clock, from asking for
the page to a circuit without problems that is drawn.
"""

from __future__ import annotations

import sys
import tempfile
import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING

from loomwright.circuit import read_circuit_text, solve_all
from loomwright.web.app import create_app
from loomwright.web.server import free_port, make_server
from loomwright.web.settings import Settings

if TYPE_CHECKING:
    from playwright.sync_api import Page

KEY_MS = 200  # assumed: a technician, not a typist; 60 characters a minute would be 1000 ms
GLANCE_S = 2.0
GOAL_S = 180.0
ARGUMENTS = ["--no-sandbox", "--disable-gpu", "--no-first-run", "--disable-background-networking",
             "--disable-component-update", "--disable-sync"]
WIRES = (("BAT.+", "F1.1", "2,5", "1,2", "rd"), ("F1.2", "S1.1", "1,5", "1", "rd"),
         ("S1.2", "K1.86", "1", "2", "gy/rd"), ("K1.85", "E1", "1", "0,3", "bn"),
         ("F1.2", "K1.30", "2,5", "1", "rd"), ("K1.87", "X1.1a", "2,5", "3", "bu"),
         ("X1.1b", "SP1", "2,5", "3", "bu"), ("SP1", "H1.1", "1,5", "1", "bu"),
         ("SP1", "H2.1", "1,5", "1", "bu"), ("H1.2", "E2", "2,5", "0,5", "bn"))
VALUES = (("parts.1.2", "15 A"), ("parts.2.2", "lamp switch"))
STATES = (("off", "", "H1: off"), ("on", "lamp switch: on", "H1: on"))


class Person:
    """Somebody with a sheet of paper at a keyboard; counts the keys."""

    def __init__(self, page: Page) -> None:
        self.page, self.keys = page, 0

    def press(self, key: str) -> None:
        """Press a key that moves on."""
        time.sleep(KEY_MS / 1000)
        self.page.keyboard.press(key)
        self.keys += 1

    def row(self, cells: tuple[str, ...]) -> None:
        """Look at the paper, then type a row with the keyboard alone."""
        time.sleep(GLANCE_S)
        for number, text in enumerate(cells):
            if number:
                self.press("Tab")
            self.page.keyboard.type(text, delay=KEY_MS)
            self.keys += len(text)
        self.press("Enter")

    def click(self, selector: str) -> None:
        """Look for a place and press the mouse there."""
        time.sleep(GLANCE_S)
        self.page.locator(selector).click()


def typed(page: Page, address: str) -> tuple[float, int]:
    """Return the seconds it took, and the keys."""
    person, start = Person(page), time.perf_counter()
    page.goto(f"{address}/editor")
    person.click('[data-head="system"]')
    person.page.keyboard.type("12", delay=KEY_MS)
    person.click('[data-at="wires.0.1"]')
    for wire in WIRES:
        person.row(wire)
    for place, value in VALUES:
        person.click(f'[data-at="{place}"]')
        person.page.keyboard.type(value, delay=KEY_MS)
        person.keys += len(value)
    person.click('[data-at="states.0.0"]')
    for state in STATES:
        person.row(state)
    page.get_by_text("No problems.").wait_for()
    page.locator("#drawing [data-point='H2.1']").first.wait_for()
    return time.perf_counter() - start, person.keys + len("12")


def main() -> None:
    """Print the time, and whether the goal was met."""
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as folder:
        taken = free_port("127.0.0.1", 0)
        port = taken.getsockname()[1]
        server = make_server(create_app(Settings(data=Path(folder))), "error")
        threading.Thread(target=server.run, args=([taken],), daemon=True).start()
        while not server.started:
            time.sleep(0.02)
        with sync_playwright() as driver:
            browser = driver.chromium.launch(executable_path="/usr/bin/chromium", args=ARGUMENTS)
            page = browser.new_page(viewport={"width": 1024, "height": 768})
            seconds, keys = typed(page, f"http://127.0.0.1:{port}")
            circuit = read_circuit_text(page.locator("#text").input_value())
            browser.close()
        server.should_exit = True
    assert len(circuit.wires) == len(WIRES)
    lit = solve_all(circuit)["on"].parts["H1"].doing
    sys.stdout.write(f"{len(circuit.wires)} wires, {len(circuit.parts)} parts, {keys} keys, H1 "
                     f"{lit}: {seconds:.0f} s of {GOAL_S:.0f} s allowed\n")


if __name__ == "__main__":
    main()
