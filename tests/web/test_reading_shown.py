"""A page that saves a reading is answered with the page after it, in the same answer."""

from __future__ import annotations

import asyncio
import re
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

from tests.service.depot_folder import TRUCK_7
from tests.web.depot_client import HERE, client_in

VOLTS = {"key": "shown-volts", "state": "locking", "quantity": "voltage", "at": "S4.1",
         "value": "25.37", "unit": "V"}
ADDRESS = f"/api/jobs/{TRUCK_7}/readings"
HTML = {"accept": "text/html"}


def test_the_answer_to_a_reading_is_the_page_after_it(tmp_path: Path) -> None:
    client = client_in(tmp_path)
    before = client.get(f"/jobs/{TRUCK_7}").text
    held = re.search(r'data-id="([0-9a-f]+)"', before)
    assert held is not None
    answer = client.post(ADDRESS, data=VOLTS, headers={**HTML, "x-drawing": held[1]})
    assert answer.status_code == 201
    assert answer.headers["content-type"].startswith("text/html")
    assert "25.37 V" in answer.text
    assert f'data-base="{held[1]}"' in answer.text  # of the drawing only what changed
    now = client.get(f"/jobs/{TRUCK_7}", headers={"x-drawing": held[1]}).text
    assert _without_keys(answer.text).strip() == _without_keys(now).strip()
    again = client.post(ADDRESS, data={**VOLTS, "key": "shown-only", "only": "complaint"},
                        headers=HTML)
    assert 'value="complaint" checked' in again.text  # as it was looked at


def test_a_program_is_answered_with_the_number(tmp_path: Path) -> None:
    answer = client_in(tmp_path).post(ADDRESS, data=VOLTS)
    assert answer.status_code == 201
    assert answer.json() == {"job": TRUCK_7, "reading": 3}


def test_what_is_not_saved_is_said_as_before(tmp_path: Path) -> None:
    client = client_in(tmp_path)
    answer = client.post(ADDRESS, data={**VOLTS, "at": "Q1"}, headers=HTML)
    assert answer.status_code == 400
    assert answer.json()["error"]["code"] == "unknown-name"


def test_the_head_says_saved_before_the_page_is_worked_out(tmp_path: Path) -> None:
    """The first piece of the answer leaves before the page is asked for."""
    app: Any = client_in(tmp_path).app
    told: list[str] = []
    real = app.state.workshop.view

    def view(*asked: object) -> object:
        told.append("thinks")
        return real(*asked)

    app.state.workshop.view = view
    body = "&".join(f"{name}={value}" for name, value in VOLTS.items()).encode()

    async def receive() -> dict[str, object]:
        if told.count("asked"):
            await asyncio.sleep(3600)
        told.append("asked")
        return {"type": "http.request", "body": body, "more_body": False}

    async def send(message: dict[str, Any]) -> None:
        told.append(str(message.get("status", message["type"])))

    headers = [("host", HERE.partition("//")[2]), ("accept", "text/html"), ("origin", HERE),
               ("accept-encoding", "gzip"), ("content-length", str(len(body))),
               ("content-type", "application/x-www-form-urlencoded")]
    scope = {"type": "http", "method": "POST", "path": ADDRESS, "query_string": b"",
             "headers": [(name.encode(), value.encode()) for name, value in headers],
             "scheme": "http", "server": ("127.0.0.1", 8000), "client": ("127.0.0.1", 1),
             "http_version": "1.1", "asgi": {"version": "3.0"}, "root_path": ""}
    # in a thread of its own: tests in a browser leave a loop running in this one
    with ThreadPoolExecutor(1) as thread:
        thread.submit(lambda: asyncio.run(app(scope, receive, send))).result()
    assert told.index("201") < told.index("thinks")


def _without_keys(page: str) -> str:
    return re.sub(r'name="key" value="[^"]+"', "", page)
