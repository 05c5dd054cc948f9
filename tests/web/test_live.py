"""Server-sent events: told at once, bounded, without threads, ended when the server stops."""

from __future__ import annotations

import http.client
import json
import threading
import time
from collections.abc import Iterator
from pathlib import Path
from typing import ClassVar

import pytest

from loomwright.jobs.access_records import Person
from loomwright.service.records import ReadingForm
from loomwright.web import live
from loomwright.web.gate import DEVICE_COOKIE, SESSION_COOKIE
from tests.browser.running_bench import Bench
from tests.service.depot_folder import TRUCK_4, TRUCK_7, depot_in

VOLTS = ReadingForm("locking", "voltage", "S4.1", value="25.1")


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    found = Bench(depot_in(tmp_path))
    yield found
    close_all()
    found.stop()


class Listener:
    """One page that listens, as a browser does."""

    opened: ClassVar[list[Listener]] = []

    def __init__(self, bench: Bench, job: int, after: int, **headers: str) -> None:
        self.connection = http.client.HTTPConnection("127.0.0.1", bench.port, timeout=20)
        self.connection.request("GET", f"/jobs/{job}/events?after={after}", headers=headers)
        self.answer = self.connection.getresponse()
        self.opened.append(self)

    def told(self) -> dict[str, object]:
        """Return the next event."""
        while line := self.answer.readline():
            if line.startswith(b"data: "):
                return dict(json.loads(line[6:]))
        return {}

    def close(self) -> None:
        """Go away."""
        self.answer.close()
        self.connection.close()


def close_all() -> None:
    """Close every page that listens."""
    for one in Listener.opened:
        one.close()
    Listener.opened.clear()


def wait_for(bench: Bench, count: int) -> None:
    """Wait until so many pages listen."""
    end = time.monotonic() + 10
    while bench.app.state.feed.count != count and time.monotonic() < end:
        time.sleep(0.01)
    assert bench.app.state.feed.count == count


def test_a_page_is_told_of_what_it_has_not_seen_and_of_nothing_else(bench: Bench) -> None:
    workshop = bench.app.state.workshop
    last = workshop.view(TRUCK_7).last
    new, old, other = (Listener(bench, TRUCK_7, last), Listener(bench, TRUCK_7, last - 1),
                       Listener(bench, TRUCK_4, 10_000))
    assert old.told()["last"] == last
    wait_for(bench, 3)
    workshop.add_reading(TRUCK_7, VOLTS, "volts-key", "Isla")
    assert new.told() == old.told() == {"last": last + 1, "kind": "reading", "by": "Isla"}
    again = Listener(bench, TRUCK_7, 0, **{"Last-Event-ID": str(last)})
    assert again.told()["last"] == last + 1
    for one in (new, old, other, again):
        one.close()
    wait_for(bench, 0)


def test_the_stream_keeps_the_page_s_rules(bench: Bench) -> None:
    listener = Listener(bench, TRUCK_7, 0)
    headers = listener.answer.headers
    assert headers["content-type"].startswith("text/event-stream")
    assert headers["cache-control"] == "no-store"
    assert "connect-src 'self'" in headers["content-security-policy"]
    assert Listener(bench, 99, 0).answer.status == 404
    assert Listener(bench, TRUCK_7, 0, Host="elsewhere.example").answer.status == 400


def test_streams_cost_no_threads_and_are_bounded(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(live, "MAX_STREAMS", 30)
    first = Listener(bench, TRUCK_7, 10_000)  # the pool of the page handlers is there after this
    wait_for(bench, 1)
    for _ in range(29):
        Listener(bench, TRUCK_7, 10_000)
    wait_for(bench, 30)
    assert threading.active_count() < 30  # a thread for each would be more
    assert Listener(bench, TRUCK_7, 0).answer.status == 503
    first.close()
    wait_for(bench, 29)
    assert Listener(bench, TRUCK_7, 0).answer.status == 200


@pytest.mark.usefixtures("quick_pins")
def test_nobody_takes_the_streams_of_others(tmp_path: Path) -> None:
    bench = Bench(depot_in(tmp_path), shared=True)
    access = bench.app.state.access
    greedy, other = (access.add(name, "apprentice", f"48 wide {name}", "") for name in "ab")
    device, secret = access.add_device("tablet")

    def cookie(who: Person) -> dict[str, str]:
        session = access.sign_in(who.id, f"48 wide {who.name}", device.id)
        return {"Cookie": f"{DEVICE_COOKIE}={secret}; {SESSION_COOKIE}={session}"}

    for _ in range(live.STREAMS_EACH):  # each with a session of its own: that gains nothing
        assert Listener(bench, TRUCK_7, 10_000, **cookie(greedy)).answer.status == 200
    wait_for(bench, live.STREAMS_EACH)
    refused = Listener(bench, TRUCK_7, 10_000, **cookie(greedy)).answer
    assert (refused.status, refused.headers["retry-after"]) == (503, "30")
    assert b"asks every 30 seconds" in refused.read()
    assert Listener(bench, TRUCK_7, 10_000, **cookie(other)).answer.status == 200
    close_all()
    bench.stop()


def test_a_page_without_a_stream_is_answered_and_asks_again(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(live, "STREAMS_FROM_ONE_PLACE", 1)
    Listener(bench, TRUCK_7, 10_000)
    wait_for(bench, 1)
    last = bench.app.state.workshop.view(TRUCK_7).last
    page = {"Accept": "text/event-stream"}
    behind = Listener(bench, TRUCK_7, last - 1, **page).answer
    assert (behind.status, behind.headers["content-type"][:17]) == (200, "text/event-stream")
    said = behind.read().decode()  # it ends by itself, and holds nothing
    assert said.startswith("retry: 30000\n: No more pages can be told at once")
    assert f'data: {{"last": {last},' in said
    assert "data:" not in Listener(bench, TRUCK_7, last, **page).answer.read().decode()
    wait_for(bench, 1)


def test_the_server_stops_while_pages_listen(bench: Bench) -> None:
    listeners = [Listener(bench, TRUCK_7, 10_000) for _ in range(3)]
    wait_for(bench, 3)
    start = time.monotonic()
    bench.stop()
    assert not bench.thread.is_alive()
    assert time.monotonic() - start < 5  # s; a beat is 15 s, so it did not wait for one
    assert [one.told() for one in listeners] == [{}, {}, {}]
