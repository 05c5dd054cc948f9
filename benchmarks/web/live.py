"""How soon another tablet is told of a new reading: from sending it to the event on each stream.

Run `python benchmarks/web/live.py`. A server on a fresh demonstration depot in this process, pages
as plain sockets, readings sent through the JSON interface as a tablet sends them.
"""

from __future__ import annotations

import http.client
import json
import sys
import tempfile
import threading
import time
from pathlib import Path
from urllib.parse import urlencode

from loomwright.web.app import create_app
from loomwright.web.server import free_port, make_server
from loomwright.web.settings import Settings

READINGS = 40
PAGES = (1, 10, 50)
JOB = 3


class Page(threading.Thread):
    """A page that notes when it was told of each event."""

    def __init__(self, port: int) -> None:
        super().__init__(daemon=True)
        self.connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
        self.connection.request("GET", f"/jobs/{JOB}/events?after=0")
        self.answer = self.connection.getresponse()
        self.at: dict[int, float] = {}

    def run(self) -> None:
        """Listen until the server ends the stream."""
        while line := self.answer.readline():
            if line.startswith(b"data: "):
                self.at[json.loads(line[6:])["last"]] = time.perf_counter()


def send(port: int, number: int) -> float:
    """Save a reading and return when it was sent."""
    connection = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
    body = urlencode({"key": f"bench-key-{number}", "state": "locking", "quantity": "voltage",
                      "at": "S4.1", "value": f"25.{number % 10} V", "instrument": "meter"})
    start = time.perf_counter()
    connection.request("POST", f"/api/jobs/{JOB}/readings", body, {
        "content-type": "application/x-www-form-urlencoded",
        "origin": f"http://127.0.0.1:{port}"})
    answer = connection.getresponse()
    assert answer.status == 201, answer.read()
    connection.close()
    return start


def measure(port: int, count: int, first: int) -> list[float]:
    """Return the milliseconds to each page for each reading."""
    pages = [Page(port) for _ in range(count)]
    for page in pages:
        page.answer.readline()
        page.start()
    time.sleep(0.5)
    for page in pages:
        page.at.clear()  # each was first told of what it had missed
    starts = []
    for number in range(READINGS):
        starts.append(send(port, first + number))
        time.sleep(0.05)
    time.sleep(0.5)
    found = []
    for page in pages:
        assert len(page.at) == READINGS, len(page.at)
        found += [1000 * (at - start)
                  for start, at in zip(starts, sorted(page.at.values()), strict=True)]
    return sorted(found)


WATCH = """() => {
  window.seen = [];
  new MutationObserver(() => {
    const now = performance.timeOrigin + performance.now();
    const last = document.querySelector(".bench")?.dataset.last;
    if (window.last !== last) { window.last = last; window.seen.push(now); }
    if (document.querySelector("#news") && !window.news) window.news = now;
  }).observe(document.body, { childList: true, subtree: true, attributes: true });
  window.last = document.querySelector(".bench").dataset.last;
}"""


def in_browser(port: int, first: int) -> None:
    """Print how long it takes until an idle page shows a reading, and a page being typed in a note.

    Clocks are those of one machine.
    """
    from playwright.sync_api import sync_playwright

    with sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path="/usr/bin/chromium")
        page = browser.new_page()
        page.goto(f"http://127.0.0.1:{port}/jobs/{JOB}")
        page.wait_for_timeout(500)
        page.evaluate(WATCH)
        told, shown, notes = [], [], []
        for number in range(10):
            page.evaluate("() => { window.news = 0; }")
            sent = _sent_at(port, first + number)
            page.wait_for_timeout(1500)
            told.append(page.evaluate("window.news") - sent)
            shown.append(page.evaluate("window.seen.at(-1)") - sent)
        page.goto(f"http://127.0.0.1:{port}/jobs/{JOB}?state=locking&quantity=voltage&at=X1.3a")
        page.wait_for_timeout(500)
        page.fill("#value", "12")
        for number in range(10, 20):
            page.evaluate("() => { window.news = 0; document.querySelector('#news')?.remove(); }")
            page.evaluate(WATCH)
            sent = _sent_at(port, first + number)
            page.wait_for_timeout(700)
            notes.append(page.evaluate("window.news") - sent)
        browser.close()
    for name, found in (("idle page says so", told), ("idle page redrawn", shown),
                        ("page typed in says so", notes)):
        print(f"browser, {name}: median {sorted(found)[5]:.0f} ms, longest {max(found):.0f} ms")


def _sent_at(port: int, number: int) -> float:
    """Save a reading and return the wall clock's milliseconds when it was sent."""
    now, start = 1000 * time.time(), time.perf_counter()
    return now + 1000 * (send(port, number) - start)


def main() -> int:
    """Print p50, p95 and the longest for some numbers of pages."""
    taken = free_port("127.0.0.1", 0)
    port = taken.getsockname()[1]
    with tempfile.TemporaryDirectory() as folder:
        server = make_server(create_app(Settings(data=Path(folder), demo=True)), "error")
        thread = threading.Thread(target=server.run, kwargs={"sockets": [taken]}, daemon=True)
        thread.start()
        while not server.started:
            time.sleep(0.02)
        time.sleep(float(sys.argv[1]) if len(sys.argv) > 1 else 30.0)  # the depot fills itself
        send(port, 0)
        for turn, count in enumerate(PAGES):
            found = measure(port, count, 1 + turn * READINGS)
            print(f"{count:3d} pages, {READINGS} readings: p50 {found[len(found) // 2]:.1f} ms, "
                  f"p95 {found[int(0.95 * len(found))]:.1f} ms, longest {found[-1]:.1f} ms")
        in_browser(port, 1 + len(PAGES) * READINGS)
        start = time.perf_counter()
        server.should_exit = True
        thread.join(20)
        print(f"stopped in {time.perf_counter() - start:.2f} s with pages listening")
    return 0


if __name__ == "__main__":
    sys.exit(main())
