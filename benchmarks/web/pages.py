"""How heavy and how quick the pages are, in a browser as on a laptop and with a slowed processor.

Run `python benchmarks/web/pages.py`. The program runs as its own process on a fresh demonstration
depot. The browser's processor is slowed by the debugger's own throttle (4 times: a cheap tablet);
the program's is not, as it stands on the workshop's computer. Bytes are as sent, headers included.
"""

from __future__ import annotations

import http.client
import os
import socket
import subprocess
import sys
import tempfile
import time
from pathlib import Path
from typing import Any

READINGS = 30
SLOWED = 4
LOADS = 7
WORDS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run",
         "--disable-background-networking", "--disable-component-update", "--disable-sync"]
PAGES = {"jobs": "/", "new job": "/jobs/new", "job": "/jobs/3", "editor": "/editor",
         "practice": "/practice"}
POINTS = ("S4.1", "X1.3a", "ECU.1", "F12.1", "F12.2")
# Nothing stands between a finger and an answer once the scripts have run: DOMContentLoaded, as
# module scripts run before it.
CLICKABLE = "() => performance.getEntriesByType('navigation')[0].domContentLoadedEventEnd"


def percentile(values: list[float], share: float) -> float:
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


def first_load(browser: Any, address: str, slowed: float) -> tuple[int, list[float]]:
    """Return the bytes of a first load with nothing kept, and the milliseconds of several."""
    size, times = 0, []
    for _ in range(LOADS):
        context = browser.new_context(viewport={"width": 1024, "height": 768})
        page = context.new_page()
        debugger = context.new_cdp_session(page)
        debugger.send("Network.enable")
        debugger.send("Emulation.setCPUThrottlingRate", {"rate": slowed})
        sizes: list[float] = []
        debugger.on("Network.loadingFinished",
                    lambda one, sizes=sizes: sizes.append(one["encodedDataLength"]))
        page.goto(address, wait_until="load")
        page.wait_for_timeout(300)
        times.append(page.evaluate(CLICKABLE))
        size = int(sum(sizes))
        context.close()
    return size, times


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
    done([saved, performance.now() - start]);
  });
  watch.observe(document.body, { childList: true, subtree: true });
  document.querySelector("#reading .save").click();
})"""


def submits(browser: Any, program: Program, slowed: float, turn: int) -> list[tuple[float, float]]:
    """Return for each reading the milliseconds until it is saved, and until the page shows it."""
    context = browser.new_context(viewport={"width": 1024, "height": 768})
    page = context.new_page()
    context.new_cdp_session(page).send("Emulation.setCPUThrottlingRate", {"rate": slowed})
    found = []
    for number in range(READINGS):
        at = POINTS[number % len(POINTS)]
        page.goto(f"http://127.0.0.1:{program.port}/jobs/3?state=locking&quantity=voltage&at={at}")
        page.wait_for_timeout(200)
        page.fill("#value", f"25.{number % 10}{turn}")
        saved, shown = page.evaluate(SUBMIT)
        found.append((saved, shown))
    context.close()
    return found


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
    print("first load: page, bytes, clickable ms p50 and longest, slowed p50 and longest")
    for name, path in PAGES.items():
        address = f"http://127.0.0.1:{program.port}{path}"
        size, times = first_load(browser, address, 1)
        _, slow = first_load(browser, address, SLOWED)
        print(f"  {name:9} {size:6d} B {percentile(times, .5):5.0f} {max(times):5.0f}  "
              f"{percentile(slow, .5):5.0f} {max(slow):5.0f}")
    for turn, slowed in enumerate((1, SLOWED)):
        before = program.work_s()
        found = submits(browser, program, slowed, turn)
        work = 1000 * (program.work_s() - before) / READINGS
        saved, shown = [one[0] for one in found], [one[1] for one in found]
        print(f"submit, browser slowed {slowed} times: saved p50 {percentile(saved, .5):.0f} p95 "
              f"{percentile(saved, .95):.0f} ms, redrawn p50 {percentile(shown, .5):.0f} p95 "
              f"{percentile(shown, .95):.0f} ms; program's work of page and reading {work:.0f} ms")
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
            program.process.terminate()
            program.process.wait(30)
    return 0


if __name__ == "__main__":
    sys.exit(main())
