"""Takes the pictures of docs/screens: every screen on a tablet, by night and on a telephone.

Run by hand where a Chromium and the test packages are installed:
`PYTHONPATH=src:. python tools/take_screenshots.py [WORD ...]` (words of the names to take again).
The pictures are committed; look at each after taking it.
"""

from __future__ import annotations

import io
import shutil
import sys
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image
from playwright.sync_api import sync_playwright

from loomwright.web.gate import DEVICE_COOKIE, SESSION_COOKIE
from tests.browser.running_bench import PHONE, TABLET, Bench
from tests.practice.benches import practised
from tests.service.depot_folder import TRUCK_4, TRUCK_7, TRUCK_9, depot_in

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

__all__ = ["build"]

FOLDER = Path(__file__).parent.parent / "docs" / "screens"
WORDS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"]
WHO = "Mhairi"
COLOURS = 48  # of a picture; flat pages lose nothing by it
VIEWS = (("tablet", TABLET, "light"), ("night", TABLET, "dark"), ("phone", PHONE, "light"))
TEMPLATES = ("tailgate-lock", "start-relay", "wipers", "trailer-13-pin", "can-bus",
             "motorcycle-charge")
ASKED = f"/jobs/{TRUCK_7}?state=locking&quantity=voltage&at=X1.3a"
SCREENS = {
    "jobs": "/", "new-job": "/jobs/new", "take-over-a-job": "/jobs/import",
    "job": f"/jobs/{TRUCK_7}", "job-own-reading": ASKED, "job-tracks": f"{ASKED}&only=complaint",
    "job-begun": f"/jobs/{TRUCK_9}", "job-finished": f"/jobs/{TRUCK_4}",
    "what-if": f"/jobs/{TRUCK_7}/what-if?state=locking&quantity=voltage&at=X1.3a&value=0.4+V",
    "why-off": f"/jobs/{TRUCK_7}/why?state=locking&output=ECU.lock",
    "card": f"/jobs/{TRUCK_7}/card", "costs": f"/jobs/{TRUCK_7}/costs",
    "photos": f"/jobs/{TRUCK_7}/photos", "hand-over": f"/jobs/{TRUCK_7}/hand-over",
    "history": f"/jobs/{TRUCK_4}/history", "record": f"/jobs/{TRUCK_4}/record",
    "circuit-versions": f"/jobs/{TRUCK_7}/circuit", "editor": "/editor",
    "editor-job": f"/editor?job={TRUCK_7}", "practice": "/practice",
    "practice-exercise": "/practice/horn-1-1", "practice-result": "/practice/horn-1-0",
    "practice-progress": f"/practice/progress?who={WHO}",
    "practice-sheet": f"/practice/sheet?who={WHO}", "settings": "/settings", "who": "/who",
    "api": "/api", "not-there": "/jobs/99",
}
LATER = {"job-proof": f"/jobs/{TRUCK_7}"}  # once a repair was done
DOOR = {"door-pair": ("/", ""), "door-sign-in": ("/sign-in", "device"),
        "pair-a-device": ("/share", "person"), "people": ("/people", "person")}
PIN = "48 wide"


def build(names: list[str]) -> None:
    """Take the pictures whose name holds one of the words, all without words."""
    FOLDER.mkdir(parents=True, exist_ok=True)
    chromium = shutil.which("chromium") or shutil.which("chromium-browser")
    with tempfile.TemporaryDirectory() as folder, sync_playwright() as driver:
        browser = driver.chromium.launch(executable_path=chromium, args=WORDS)
        bench = Bench(depot_in(Path(folder) / "alone"))
        practised(bench.app, WHO)
        _screens(browser, bench, SCREENS, names)
        _templates(browser, bench, names)
        bench.app.state.workshop.record_repair(TRUCK_7, ("mend W20", "At the hinge"), "repair-done")
        _screens(browser, bench, LATER, names)
        bench.stop()
        _doors(browser, Path(folder) / "shared", names)
        browser.close()


def _screens(browser: Browser, bench: Bench, screens: dict[str, str], names: list[str]) -> None:
    for view, size, theme in VIEWS:
        page = _page(browser, bench, size, theme)
        for name, path in screens.items():
            if _wanted(f"{name}-{view}", names):
                page.goto(bench.address + path)
                _keep(page, f"{name}-{view}")
        page.context.close()


def _templates(browser: Browser, bench: Bench, names: list[str]) -> None:
    for view, size, theme in (one for one in VIEWS if one[0] != "night"):
        page = _page(browser, bench, size, theme)
        for name in TEMPLATES:
            if _wanted(f"template-{name}-{view}", names):
                _template(page, bench.address, name)
                _keep(page, f"template-{name}-{view}")
        page.context.close()


def _doors(browser: Browser, folder: Path, names: list[str]) -> None:
    """The workshop's network: before pairing, before signing in, and the foreman's pages."""
    bench = Bench(depot_in(folder), shared=True, address="http://192.0.2.7:8000/")
    access = bench.app.state.access
    for name, role in (("Morag", "foreman"), ("Ailsa", "technician"), ("Rory", "apprentice")):
        access.add(name, role, PIN, "")
    device, secret = access.add_device("Tablet at the lift")
    session = access.sign_in(access.named("Morag").id, PIN, device.id)
    cookies = {"": (), "device": ((DEVICE_COOKIE, secret),),
               "person": ((DEVICE_COOKIE, secret), (SESSION_COOKIE, session))}
    for view, size, theme in VIEWS:
        for name, (path, known) in DOOR.items():
            if _wanted(f"{name}-{view}", names):
                page = _page(browser, bench, size, theme)
                page.context.add_cookies([{"name": key, "value": value, "url": bench.address}
                                          for key, value in cookies[known]])
                page.goto(bench.address + path)
                if path == "/share":
                    page.get_by_role("button", name="Show a code").click()
                _keep(page, f"{name}-{view}")
                page.context.close()
    bench.stop()


def _wanted(name: str, words: list[str]) -> bool:
    return not words or any(word in name for word in words)


def _page(browser: Browser, bench: Bench, size: dict[str, int], theme: str) -> Page:
    context = browser.new_context(viewport=size, color_scheme=theme)  # type: ignore[arg-type]
    context.add_cookies([{"name": "who", "value": WHO, "url": bench.address}])
    return context.new_page()


def _template(page: Page, address: str, name: str) -> None:
    """Open a template in the editor and go to its drawing."""
    page.goto(f"{address}/editor?template={name}")
    page.locator("svg.circuit").first.wait_for()
    page.wait_for_timeout(2000)  # checked and drawn anew by the script
    page.evaluate("() => document.querySelector('svg.circuit').scrollIntoView()")


def _keep(page: Page, name: str) -> None:
    """Write what the page shows, in few colours."""
    page.wait_for_load_state()
    # the first picture after the scripts; the editor asks once more before its tables stand
    page.wait_for_timeout(3000 if "/editor" in page.url else 300)
    picture = Image.open(io.BytesIO(page.screenshot(animations="disabled")))
    small = picture.convert("RGB").quantize(COLOURS, dither=Image.Dither.NONE)
    small.save(FOLDER / f"{name}.png", optimize=True)


if __name__ == "__main__":
    build(sys.argv[1:])
