"""Nobody who is let in, and nobody at the door, can keep the program busy for all others."""

from __future__ import annotations

import threading
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from loomwright.web import record_pages
from loomwright.web.gate import MOST_AT_ONCE
from tests.service.depot_folder import TRUCK_7
from tests.web.shared_shop import Shop

pytestmark = pytest.mark.usefixtures("quick_pins")
RECORD = f"/jobs/{TRUCK_7}/record.pdf"


@pytest.fixture
def shop(tmp_path: Path) -> Iterator[Shop]:
    found = Shop(tmp_path)
    yield found
    found.close()


def test_one_person_has_so_many_requests_answered_at_once_and_no_more(
    shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    begun, go_on = threading.Semaphore(0), threading.Event()

    def slow(*_: object) -> bytes:
        begun.release()
        assert go_on.wait(30)
        return b"%PDF-"

    monkeypatch.setattr(record_pages, "record_pdf", slow)
    with shop.signed_in("Rory") as greedy, shop.signed_in("Ailsa") as other, \
            ThreadPoolExecutor(MOST_AT_ONCE) as pool:
        asked = [pool.submit(greedy.get, RECORD) for _ in range(MOST_AT_ONCE)]
        for _ in asked:
            assert begun.acquire(timeout=30)
        refused = greedy.get("/jobs/1")
        assert (refused.status_code, refused.headers["retry-after"]) == (429, "2")
        assert "being answered already" in refused.text
        assert other.get("/who").status_code == 200
        go_on.set()
        assert {one.result().status_code for one in asked} == {200}
        assert greedy.get("/who").status_code == 200
