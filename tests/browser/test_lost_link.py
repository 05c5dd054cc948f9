"""Nothing typed is lost: the network drops, an answer is lost, the program is killed and restarted.

Each test types readings with values of their own and counts them in the store afterwards: every one
must be there, once.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
import time
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from loomwright.service.jobs import Workshop
from loomwright.web.server import free_port
from tests.browser.running_bench import TABLET, Bench, Watched
from tests.service.depot_folder import TRUCK_7, depot_in

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page, Route

pytestmark = [pytest.mark.browser, pytest.mark.slow]
COUNT = 12
WAIT_MS = 60_000  # a restarted program on a busy machine
SOURCE = Path(__file__).parents[2] / "src"
BEFORE = 2  # readings that the depot's job has


def typed(number: int) -> str:
    """Return the value that is typed as the reading of a number; each is another."""
    return f"{20 + number / 100:.2f}"


def press_save(page: Page, address: str, number: int) -> None:
    """Set a reading up, type its value and press Save."""
    page.goto(f"{address}/jobs/{TRUCK_7}?state=locking&quantity=voltage&at=S4.1")
    page.locator("#value").fill(typed(number))
    page.locator("#reading .save").click()


def told_unsaved(page: Page) -> None:
    """Wait until the page says plainly that the reading is not saved; what was typed is there."""
    page.get_by_text("Not saved yet").wait_for()
    assert page.locator("#value").input_value() != ""


def saved(page: Page, number: int) -> None:
    """Wait until the page shows so many readings more than at first."""
    from playwright.sync_api import expect

    last = page.locator(".bench")
    expect(last).to_have_attribute("data-last", str(BEFORE + number), timeout=WAIT_MS)


def stored(workshop: Workshop) -> list[str]:
    """Return the values in the store, those of the depot left out."""
    return [str(one.body["value"]) for one in workshop.store.events(TRUCK_7)][BEFORE:]


WANTED = [f"{typed(number)} V" for number in range(1, COUNT + 1)]


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    found = Bench(depot_in(tmp_path))
    yield found
    found.stop()


def test_the_network_drops_while_readings_are_typed(browser: Browser, bench: Bench) -> None:
    """Every second reading is sent without a network; then the network comes back."""
    watched = Watched(browser, TABLET, bench.address)
    page = watched.page
    for number in range(1, COUNT + 1):
        cut = number % 2 == 0
        page.goto(f"{bench.address}/jobs/{TRUCK_7}?state=locking&quantity=voltage&at=S4.1")
        page.locator("#value").fill(typed(number))
        watched.context.set_offline(cut)
        page.locator("#reading .save").click()
        if cut:
            told_unsaved(page)
            assert len(stored(bench.app.state.workshop)) == number - 1
            watched.context.set_offline(False)
        saved(page, number)
    assert stored(bench.app.state.workshop) == WANTED
    watched.context.close()  # the failed requests are in its console, as they should be


def test_a_lost_answer_makes_no_second_reading(browser: Browser, bench: Bench) -> None:
    """The reading is stored, but the answer never arrives: the page sends it again, same key."""
    watched = Watched(browser, TABLET, bench.address)
    page, keys = watched.page, []

    def lose_first(route: Route) -> None:
        key = str(route.request.post_data)
        keys.append(key)
        if keys.count(key) == 1:
            assert route.fetch().status == 201
            route.abort("connectionreset")
        else:
            route.continue_()

    page.route("**/api/jobs/*/readings", lose_first)
    for number in range(1, COUNT + 1):
        press_save(page, bench.address, number)
        told_unsaved(page)
        saved(page, number)
    assert stored(bench.app.state.workshop) == WANTED
    assert len(keys) == 2 * COUNT
    assert len(set(keys)) == COUNT
    watched.context.close()


class Process:
    """The program as a process of its own, which can be killed and started again."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        taken = free_port("127.0.0.1", 0)
        self.port = taken.getsockname()[1]
        taken.close()
        self.address = f"http://127.0.0.1:{self.port}"
        self.start()

    def start(self) -> None:
        """Start it and wait until it answers."""
        self.process = subprocess.Popen(
            [sys.executable, "-m", "loomwright", "serve", "--no-open", "--port", str(self.port),
             "--data", str(self.folder)], stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": str(SOURCE)})
        end = time.monotonic() + WAIT_MS / 1000
        while time.monotonic() < end:
            try:
                with urllib.request.urlopen(f"{self.address}/api/openapi.json", timeout=5):
                    return
            except OSError:
                time.sleep(0.1)
        raise AssertionError("the program did not start")

    def kill(self) -> None:
        """Kill it as a power cut would: no handler of its own runs."""
        self.process.send_signal(signal.SIGKILL)
        self.process.wait(10)


@pytest.fixture
def process(tmp_path: Path) -> Iterator[Process]:
    found = Process(depot_in(tmp_path))
    yield found
    found.kill()


def test_the_program_is_killed_while_readings_are_saved(browser: Browser, process: Process,
                                                        tmp_path: Path) -> None:
    """Every third reading the program is killed a little later after Save is pressed."""
    watched = Watched(browser, TABLET, process.address)
    page = watched.page
    page.set_default_timeout(WAIT_MS)
    for number in range(1, COUNT + 1):
        press_save(page, process.address, number)
        if number % 3 == 0:
            time.sleep(0.01 * (number - 3))  # before, while and after the reading is written
            process.kill()
            process.start()
        saved(page, number)
    watched.context.close()
    process.kill()
    workshop = Workshop(tmp_path)
    assert stored(workshop) == WANTED
    workshop.close()
