"""How heavy and how quick the pages are, in a browser as on a laptop and with a slowed processor.

Run `python benchmarks/web/pages.py [LOADS READINGS]`. A page is clickable when its scripts have
run, its first picture is drawn and the browser is free to answer, counted from asking for it. Three
ways to come to it: the browser starts a process for it and has nothing kept; a tab that shows
another page of ours goes to it, nothing kept; the same with files of ours kept, as on every page
but the first. A picture alone is loaded as well: what the browser itself takes.

The program runs as its own process on a fresh demonstration depot. The browser's processor is
slowed by the debugger's own throttle (4 times: a cheap tablet); the program's is not, as it stands
on the workshop's computer. Bytes are as sent, headers included.
"""

from __future__ import annotations

import http.client
import os
import socket
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from urllib.parse import urljoin

LOADS, READINGS = (int(one) for one in sys.argv[1:3]) if len(sys.argv) > 2 else (7, 30)
SLOWED = 4
WORDS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync"]
PAGES = {"picture": "/static/mark.svg", "jobs": "/", "new job": "/jobs/new", "job": "/jobs/3",
         "editor": "/editor", "practice": "/practice"}
POINTS = ("S4.1", "X1.3a", "ECU.1", "F12.1", "F12.2")
MOST_ASKED = 15  # readings of one job
WAYS = ("new process", "open tab", "open tab, files kept")
NOTE = """(() => {
  const free = new MessageChannel();
  free.port1.onmessage = () => { window.clickable = performance.now(); };
  addEventListener("DOMContentLoaded", () =>
    requestAnimationFrame(() => free.port2.postMessage(0)));
})()"""


def percentile(values: Sequence[float], share: float) -> float:
    """Return the value that a share of all does not exceed."""
    return sorted(values)[min(int(share * len(values)), len(values) - 1)]


class Program:
    """The program as its own process, on a demonstration depot that has filled itself."""

    def __init__(self, folder: Path) -> None:
        with socket.socket() as free:
            free.bind(("127.0.0.1", 0))
            self.port = int(free.getsockname()[1])
        self.process = subprocess.Popen(
            [sys.executable, "-m", "loomwright", "serve", "--demo", "--data", str(folder),
             "--port", str(self.port), "--no-open"], stdout=subprocess.DEVNULL,
            env={**os.environ, "PYTHONPATH": "src"})
        end = time.monotonic() + 120
        while time.monotonic() < end:
            try:
                answer = self.get("/api/jobs/3")
                if answer.count(b'"value"') >= 2:
                    return
            except OSError:
                pass
            time.sleep(0.5)
        raise RuntimeError("the program did not start")

    def stop(self) -> None:
        """End the process."""
        self.process.terminate()
        self.process.wait(30)

    def get(self, path: str) -> bytes:
        """Return what an address answers."""
        connection = http.client.HTTPConnection("127.0.0.1", self.port, timeout=60)
        connection.request("GET", path)
        found = connection.getresponse().read()
        connection.close()
        return found

    def work_s(self) -> float:
        """Return the processor seconds of all its threads so far."""
        fields = Path(f"/proc/{self.process.pid}/stat").read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def first_load(browser: Any, address: str, way: str, slowed: float) -> tuple[float, int]:
    """Return the milliseconds until a page is clickable, and its bytes."""
    context = browser.new_context(viewport={"width": 1024, "height": 768})
    page = context.new_page()
    page.add_init_script(NOTE)
    debugger = context.new_cdp_session(page)
    debugger.send("Network.enable")
    debugger.send("Emulation.setCPUThrottlingRate", {"rate": slowed})
    if way != WAYS[0]:
        page.goto(address if way == WAYS[2] else urljoin(address, "/who"))
        page.wait_for_timeout(300)
    if way == WAYS[1]:
        debugger.send("Network.clearBrowserCache")
    sizes: list[float] = []
    debugger.on("Network.loadingFinished", lambda one: sizes.append(one["encodedDataLength"]))
    page.goto(address, wait_until="load")
    page.wait_for_function("() => window.clickable > 0")
    page.wait_for_timeout(200)
    found = float(page.evaluate("window.clickable"))
    context.close()
    return found, int(sum(sizes))


SUBMIT = """(_) => new Promise((done) => {
  const start = performance.now();
  const last = document.querySelector(".bench").dataset.last;
  const real = window.fetch;
  let saved = 0;
  window.fetch = async (...asked) => {
    const answer = await real(...asked);
    if (asked[1]?.method === "POST") saved = performance.now() - start;
    return answer;
  };
  const watch = new MutationObserver(() => {
    const now = document.querySelector(".bench")?.dataset.last;
    if (!now || now === last) return;
    watch.disconnect();
    window.fetch = real;
    const redrawn = performance.now() - start;
    const free = new MessageChannel();
    free.port1.onmessage = () => done([saved, redrawn, performance.now() - start]);
    requestAnimationFrame(() => free.port2.postMessage(0));
  });
  watch.observe(document.body, { childList: true, subtree: true, attributes: true });
  document.querySelector("#reading .level.shown, #reading .save").click();
})"""
SHOWN = """() => document.querySelector("#reading .level.shown")
  || document.querySelector("#value")?.value"""


def submits(browser: Any, program: Program, slowed: float, turn: int) -> list[list[float]]:
    """Return for each reading the milliseconds until saved, the page redrawn, and that seen."""
    context = browser.new_context(viewport={"width": 1024, "height": 768})
    page = context.new_page()
    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": slowed})
    found = []
    for number in range(READINGS):
        at = POINTS[number % len(POINTS)]
        page.goto(f"http://127.0.0.1:{program.port}/jobs/3?state=locking&quantity=voltage&at={at}")
        page.wait_for_timeout(200)
        page.fill("#value", f"25.{number % 10}{turn}")
        found.append(page.evaluate(SUBMIT))
    context.close()
    return found


def followed(browser: Any, program: Program) -> list[list[float]]:
    """Return the same of readings that the jobs ask for, as their vehicles show them.

    A fresh depot is needed: a job ends with its verdict. `submits` types what no vehicle shows, and
    more and more of it, which takes the program longer.
    """
    context = browser.new_context(viewport={"width": 1024, "height": 768})
    page = context.new_page()
    found = []
    for job in (1, 2, 3):
        page.goto(f"http://127.0.0.1:{program.port}/jobs/{job}")
        for _ in range(MOST_ASKED):
            if page.locator(".verdict.repair").count() or not page.locator(".demo").count():
                break
            page.click("#reading .demo")
            page.wait_for_function(SHOWN)
            page.wait_for_timeout(200)
            found.append(page.evaluate(SUBMIT))
            page.wait_for_timeout(200)
    context.close()
    return found


def told(readings: list[list[float]]) -> str:
    """Return what was measured of readings, in words."""
    return ", ".join(
        f"{name} p50 {percentile(some, .5):.0f} p95 {percentile(some, .95):.0f}" for name, some in
        zip(("saved", "redrawn", "seen"), zip(*readings, strict=True), strict=True))


def pdf(program: Program) -> list[float]:
    """Return the milliseconds of a job's record as PDF, several times."""
    times = []
    for _ in range(LOADS):
        start = time.perf_counter()
        assert program.get("/jobs/3/record.pdf").startswith(b"%PDF")
        times.append(1000 * (time.perf_counter() - start))
    return times


def show(browser: Any, program: Program) -> None:
    """Print everything measured."""
    print("clickable in ms: p50 and longest, not slowed and slowed, by way; bytes of the first way")
    for name, path in PAGES.items():
        address = f"http://127.0.0.1:{program.port}{path}"
        line, size = [], 0
        for way in WAYS:
            for slowed in (1, SLOWED):
                found = [first_load(browser, address, way, slowed) for _ in range(LOADS)]
                times = [one[0] for one in found]
                size = size or found[0][1]
                line.append(f"{percentile(times, .5):5.0f} {max(times):5.0f}")
        print(f"  {name:9} {size:6d} B  " + " | ".join(line))
    for turn, slowed in enumerate((1, SLOWED)):
        before = program.work_s()
        readings = submits(browser, program, slowed, turn)
        work = 1000 * (program.work_s() - before) / READINGS
        print(f"submit in ms, browser slowed {slowed} times: {told(readings)}; "
              f"program's work of page and reading {work:.0f}")
    with tempfile.TemporaryDirectory() as folder:
        other = Program(Path(folder))  # a job that has its verdict or odd readings is another job
        try:
            asked = followed(browser, other)
        finally:
            other.stop()
    print(f"submit in ms, {len(asked)} readings that jobs ask for: {told(asked)}")
    times = pdf(program)
    print(f"record as PDF: p50 {percentile(times, .5):.0f} longest {max(times):.0f} ms")
    print(f"load of the machine: {os.getloadavg()[0]:.1f} on {os.cpu_count()} processors")


def main() -> int:
    """Start the program and a browser, and print the figures."""
    from playwright.sync_api import sync_playwright

    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        program = Program(Path(folder))
        try:
            browser = driver.chromium.launch(executable_path="/usr/bin/chromium", args=WORDS)
            show(browser, program)
            browser.close()
        finally:
            program.stop()
    return 0


if __name__ == "__main__":
    sys.exit(main())
