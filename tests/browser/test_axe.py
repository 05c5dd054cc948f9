"""Every page in the accessibility checker, by day and by night: no finding, nothing blocked.

The pages are those of the routes that are decided upon, which are all of them, so that a new page
is looked at without being named here. The checker is axe-core as axe-playwright-python brings it;
its rules are those of WCAG 2.0 to 2.2, levels A and AA.
"""

from __future__ import annotations

import tempfile
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest

from loomwright.web.permits import PERMITS
from tests.browser.running_bench import PHONE, TABLET, Bench, Watched
from tests.practice.benches import practised
from tests.service.depot_folder import TRUCK_4, TRUCK_7, TRUCK_9, depot_in

if TYPE_CHECKING:
    from playwright.sync_api import Browser

pytestmark = [pytest.mark.browser, pytest.mark.slow]
RULES = {"runOnly": {"type": "tag", "values": ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa",
                                               "wcag22aa"]},
         "resultTypes": ["violations"]}
WHO = "Mhairi"
FILLED = {"{job_id}": str(TRUCK_7), "{exercise}": "horn-1-0", "{person_id}": "1",
          "{number}": "1"}
ASKED = {"/jobs/{job_id}/why": "?state=locking&output=ECU.lock",
         "/practice/progress": f"?who={WHO}", "/practice/sheet": f"?who={WHO}"}
STREAMS = {"/jobs/{job_id}/events"}  # never end
MORE = ("/jobs/99", "/jobs/1?state=nonsense", "/?words=truck", f"/jobs/{TRUCK_9}",
        f"/jobs/{TRUCK_4}", f"/jobs/{TRUCK_9}/record", f"/jobs/{TRUCK_4}/record",
        f"/jobs/{TRUCK_7}?state=locking&quantity=voltage&at=X1.3a",
        "/practice/horn-1-1", "/practice/start-relay-2-0")


@pytest.fixture(scope="module")
def bench() -> Iterator[Bench]:
    with tempfile.TemporaryDirectory(prefix="axe-") as folder:
        found = Bench(depot_in(Path(folder)))
        practised(found.app, WHO)
        yield found
        found.stop()


def addresses(bench: Bench, page: Any) -> list[str]:
    """Return the address of every page: all routes that answer with a page, and some more."""
    found = []
    for method, path in PERMITS:
        if method != "GET" or path in STREAMS:
            continue
        address = path
        for name, value in FILLED.items():
            address = address.replace(name, value)
        if "{" in address:
            assert not path.startswith("/practice"), f"say in FILLED what stands for {path}"
            continue  # one photo, one token: files
        address += ASKED.get(path, "")
        answer = page.request.get(bench.address + address)
        if answer.headers.get("content-type", "").startswith("text/html"):
            found.append(address)
    return [*found, *MORE]


def told(address: str, found: dict[str, Any]) -> list[str]:
    """Return the checker's findings in a line each."""
    return [f"{address}: {one['id']}: {node['target']} {node['html'][:160]} "
            f"{node['failureSummary'][:300]}"
            for one in found["violations"] for node in one["nodes"]]


@pytest.mark.parametrize(("size", "theme"), [(TABLET, "light"), (TABLET, "dark"), (PHONE, "light")],
                         ids=["day", "night", "phone"])
def test_no_page_has_a_finding(browser: Browser, bench: Bench, size: dict[str, int], theme: str
                               ) -> None:
    from axe_playwright_python.sync_playwright import Axe

    watched = Watched(browser, size, bench.address, color_scheme=theme)
    watched.context.add_cookies([{"name": "who", "value": WHO, "url": bench.address}])
    page, axe, findings = watched.page, Axe(), []
    pages = addresses(bench, page)
    assert len(pages) > 15
    for address in pages:
        page.goto(bench.address + address)
        page.wait_for_load_state("load")
        page.locator("details").evaluate_all(
            "(all) => { for (const one of all) one.open = true; }")
        findings += told(address, axe.run(page, options=RULES).response)
    expected = {f"{status} ({words})" for status, words in
                ((404, "Not Found"), (422, "Unprocessable Content"), (400, "Bad Request"))}
    watched.trouble = [one for one in watched.trouble
                       if not any(one.endswith(f"status of {end}") for end in expected)]
    watched.done()
    assert findings == []
