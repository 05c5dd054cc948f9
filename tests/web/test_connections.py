"""Half a request holds no place for ever, and one address not all of them."""

from __future__ import annotations

import http.client
import socket
import time
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from loomwright.web import connections
from tests.browser.running_bench import Bench
from tests.service.depot_folder import TRUCK_7, depot_in

HEAD = b"POST /who HTTP/1.1\r\nHost: 127.0.0.1\r\nContent-Length: 40\r\n"


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Bench]:
    found = Bench(depot_in(tmp_path))
    yield found
    found.stop()


def opened(bench: Bench, sent: bytes = b"") -> socket.socket:
    found = socket.create_connection(("127.0.0.1", bench.port), timeout=10)
    found.sendall(sent)
    return found


def ended(one: socket.socket) -> bool:
    """Return whether the server ends a connection within ten seconds."""
    try:
        while one.recv(1000):
            pass
    except ConnectionError:
        return True
    except TimeoutError:
        return False
    return True


@pytest.mark.parametrize("sent", [b"", b"GET / HTTP/1.1\r\nHost: 127.", HEAD + b"\r\nname=Is"])
def test_half_a_request_is_ended(
    bench: Bench, monkeypatch: pytest.MonkeyPatch, sent: bytes
) -> None:
    monkeypatch.setattr(connections, "WAIT_S", 0.5)
    with closing(opened(bench, sent)) as one:
        assert ended(one)


def drip(one: socket.socket, data: bytes) -> None:
    """Send a sign now and then."""
    for sign in data:
        one.sendall(bytes([sign]))
        time.sleep(0.1)


def test_a_head_that_comes_in_drops_gains_no_time(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections, "WAIT_S", 1.0)
    begin = time.monotonic()
    with closing(opened(bench)) as one, pytest.raises(ConnectionError):
        drip(one, b"GET / HTTP/1.1\r\n" + b"X" * 500)
    assert time.monotonic() - begin < 20  # s; 53 where each drop gained another second


def test_a_whole_request_has_its_time_and_the_next_one_too(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections, "WAIT_S", 1.0)
    asked = http.client.HTTPConnection("127.0.0.1", bench.port, timeout=20)
    asked.request("GET", f"/jobs/{TRUCK_7}/events?after=100000")
    with closing(asked), asked.getresponse() as stream:
        assert stream.readline().startswith(b"retry")
        time.sleep(2.5)  # more than a request may wait for its own head
        bench.app.state.feed.close()
        stream.read()
        asked.request("GET", "/who")
        assert asked.getresponse().status == 200


def test_one_address_does_not_take_every_place(
    bench: Bench, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(connections, "MOST_FROM_ONE", 5)
    monkeypatch.setattr(connections, "_is_own", lambda _: False)
    held = [opened(bench) for _ in range(5)]
    with closing(opened(bench, b"GET /who HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n")) as one:
        assert ended(one)
    held.pop().close()
    end = time.monotonic() + 10
    while connections._open["127.0.0.1"] > 4 and time.monotonic() < end:
        time.sleep(0.02)
    asked = http.client.HTTPConnection("127.0.0.1", bench.port, timeout=20)
    with closing(asked):
        asked.request("GET", "/who")
        assert asked.getresponse().status == 200
    for one in held:
        one.close()
