"""`loomwright serve --share` as its own process, spoken to over its address in the network."""

from __future__ import annotations

import os
import re
import signal
import subprocess
import sys
import threading
import time
import warnings
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path

import pytest

from loomwright.errors import UsageError
from loomwright.service.access import Access
from loomwright.web.server import lan_address
from tests.service.depot_folder import TRUCK_7, depot_in

with warnings.catch_warnings():
    warnings.simplefilter("ignore")
    import httpx

pytestmark = pytest.mark.slow
PIN = "48 wide"
WAIT_S = 60
READING = {"key": "network-key", "state": "locking", "quantity": "voltage", "at": "S4.1",
           "value": "25.1 V", "instrument": "meter"}


def network_words() -> list[str]:
    """Return how to open the network: its own address, or another loopback one without any."""
    try:
        lan_address()
    except UsageError:
        return ["--host", "127.0.0.2"]
    return ["--share"]


class Shared:
    """The program, what it printed, and the person who works there."""

    def __init__(self, folder: Path) -> None:
        depot_in(folder)
        access = Access(folder)
        self.person = access.add("Ailsa", "technician", PIN, "").id
        access.close()
        self.process = subprocess.Popen(
            [sys.executable, "-m", "loomwright", "serve", *network_words(), "--no-open",
             "--port", "0", "--data", str(folder)], stderr=subprocess.PIPE, text=True,
            env={**os.environ, "PYTHONPATH": os.pathsep.join(sys.path),
                 "PYTHONIOENCODING": "utf-8"})
        self.address, self.code = self._printed()

    def _printed(self) -> tuple[str, str]:
        """Return the address in the network and the pairing code, as a person reads them."""
        assert self.process.stderr is not None
        end = time.monotonic() + WAIT_S
        while time.monotonic() < end and (line := self.process.stderr.readline()):
            found = re.search(r"open (http://\S+/)pair and type (\S+)", line)
            if found:
                self.reader = threading.Thread(target=self.process.stderr.read, daemon=True)
                self.reader.start()
                return found[1], found[2]
        raise AssertionError("no pairing code was printed")

    def stranger(self, **headers: str) -> httpx.Client:
        """Return a device that nobody knows."""
        origin = {"origin": self.address.rstrip("/")}
        return httpx.Client(base_url=self.address, headers={**origin, **headers}, timeout=WAIT_S)

    def signed_in(self) -> tuple[httpx.Client, list[str]]:
        """Return a paired device with the person signed in, and the cookies it was given."""
        device = self.stranger()
        paired = device.post("/pair", data={"code": self.code, "device": "tablet"})
        assert (paired.status_code, paired.headers["location"]) == (303, "/sign-in")
        opened = device.post("/sign-in", data={"person": str(self.person), "pin": PIN})
        assert opened.status_code == 303
        return device, [*paired.headers.get_list("set-cookie"),
                        *opened.headers.get_list("set-cookie")]


@pytest.fixture
def shared(tmp_path: Path) -> Iterator[Shared]:
    found = Shared(tmp_path)
    yield found
    found.process.terminate()
    found.process.wait(WAIT_S)
    found.reader.join(WAIT_S)
    found.process.stderr.close()  # type: ignore[union-attr]


def test_the_network_lets_in_paired_devices_with_a_person_and_nobody_else(shared: Shared) -> None:
    with shared.stranger() as stranger:
        assert stranger.get("/api/jobs").status_code == 401
        assert stranger.get("/", headers={"accept": "text/html"}).headers["location"].startswith(
            "/sign-in")
        wrong = stranger.post("/pair", data={"code": "000-000", "device": "tablet"})
        assert wrong.status_code in {401, 403, 422}
        assert "set-cookie" not in wrong.headers
    device, cookies = shared.signed_in()
    with closing(device):
        assert len(cookies) == 2
        for cookie in cookies:
            assert "httponly" in cookie.lower()
            assert "samesite=strict" in cookie.lower()
            assert "path=/" in cookie.lower()
        assert device.get(f"/jobs/{TRUCK_7}").status_code == 200
        saved = device.post(f"/api/jobs/{TRUCK_7}/readings", data=READING)
        assert saved.status_code == 201
    with shared.stranger() as second:  # the code was used up
        again = second.post("/pair", data={"code": shared.code, "device": "another"})
        assert again.status_code != 303


def test_the_network_refuses_foreign_names_and_foreign_forms(shared: Shared) -> None:
    device, _ = shared.signed_in()
    address = f"/api/jobs/{TRUCK_7}/readings"
    with closing(device):
        for host in ("bench.example", "bench.example:80", "localhost.bench.example"):
            assert device.get("/", headers={"host": host}).status_code == 400, host
        for origin in ("http://bench.example", "null", "https" + shared.address[4:].rstrip("/")):
            refused = device.post(address, data=READING, headers={"origin": origin})
            assert refused.status_code == 403, origin
        del device.headers["origin"]  # plain http in a network: no other mark of a foreign form
        assert device.post(address, data=READING).status_code == 403
        assert "network-key" not in device.get(f"/api/jobs/{TRUCK_7}").text
        assert "25.1 V" not in device.get(f"/api/jobs/{TRUCK_7}").text


def test_an_open_event_stream_ends_when_the_program_stops(shared: Shared) -> None:
    device, _ = shared.signed_in()
    with closing(device), device.stream("GET", f"/jobs/{TRUCK_7}/events?after=0") as stream:
        lines = stream.iter_lines()
        assert next(lines) == "retry: 2000"
        while not next(lines).startswith("data:"):
            pass
        start = time.monotonic()
        shared.process.terminate()
        rest = list(lines)
        ended = time.monotonic() - start
    assert not [line for line in rest if line.startswith("data:")]
    assert ended < 15  # not the stream's own end: that comes with a beat at the earliest
    # its server raises the signal again once it has stopped in good order
    assert shared.process.wait(WAIT_S) in {0, -signal.SIGTERM}
