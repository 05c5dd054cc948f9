"""The look: contrast by day and by night, target sizes, size of the scripts; and the port."""

from __future__ import annotations

import asyncio
import re
import socket
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest

from loomwright.errors import UsageError
from loomwright.web.rendering import FOLDER
from loomwright.web.server import free_port

CSS = (FOLDER / "static" / "app.css").read_text(encoding="utf-8")
# Text on its background, as the style sheet uses them.
PAIRS = [
    ("ink", "paper"), ("ink", "ground"), ("muted", "paper"), ("muted", "ground"), ("act", "paper"),
    ("act", "ground"), ("on-act", "act"), ("ink", "act-soft"), ("act", "act-soft"),
    ("good", "paper"), ("ink", "good-soft"), ("bad", "paper"), ("bad", "bad-soft"),
    ("ink", "bad-soft"), ("warn", "paper"), ("warn", "warn-soft"), ("ink", "warn-soft"),
    ("ink", "shade"), ("muted", "good-soft"), ("muted", "act-soft"), ("muted", "bad-soft"),
]
AA_TEXT = 4.5  # WCAG 2.2, criterion 1.4.3
AA_CONTROL = 3.0  # WCAG 2.2, criterion 1.4.11: the edge of a control
JS_LIMIT = 30_000


def colours(selector: str) -> dict[str, str]:
    start = CSS.index(selector)
    block = CSS[start: CSS.index("}", start)]
    return dict(re.findall(r"--([\w-]+): (#[0-9a-f]{6})", block))


def luminance(colour: str) -> float:
    channels = [int(colour[at: at + 2], 16) / 255 for at in (1, 3, 5)]
    linear = [c / 12.92 if c <= 0.04045 else ((c + 0.055) / 1.055) ** 2.4 for c in channels]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(first: str, second: str) -> float:
    high, low = sorted((luminance(first), luminance(second)), reverse=True)
    return (high + 0.05) / (low + 0.05)


DAY, NIGHT = colours(":root {"), colours("[data-theme=night] {")


@pytest.mark.parametrize("palette", [DAY, NIGHT], ids=["day", "night"])
@pytest.mark.parametrize(("text", "ground"), PAIRS)
def test_text_is_readable(palette: dict[str, str], text: str, ground: str) -> None:
    assert contrast(palette[text], palette[ground]) >= AA_TEXT


@pytest.mark.parametrize("palette", [DAY, NIGHT], ids=["day", "night"])
def test_edges_of_controls_are_seen(palette: dict[str, str]) -> None:
    assert contrast(palette["edge"], palette["paper"]) >= AA_CONTROL


def test_night_by_choice_is_night_by_system() -> None:
    assert colours(":root:not([data-theme=day]) {") == NIGHT


def test_scripts_are_small_and_pages_hold_none() -> None:
    scripts = list((FOLDER / "static").glob("*.js"))
    assert sum(script.stat().st_size for script in scripts) <= JS_LIMIT
    for template in (FOLDER / "templates").glob("*.html"):
        text = template.read_text(encoding="utf-8")
        assert not re.search(r"<script(?![^>]*src=)", text), template.name
        assert not re.search(r"\son\w+=|\sstyle=|javascript:", text), template.name


def test_a_busy_port_gives_way_to_the_next() -> None:
    first = free_port("127.0.0.1", 0)
    number = first.getsockname()[1]
    second = free_port("127.0.0.1", number)
    assert second.getsockname()[1] > number
    first.close()
    second.close()


def test_a_foreign_address_cannot_be_listened_on() -> None:
    with pytest.raises(UsageError, match="cannot be listened on"):
        free_port("192.0.2.1", 8000)  # TEST-NET-1, RFC 5737: never this machine's


def test_the_socket_listens_only_on_loopback_by_default(tmp_path: Path) -> None:
    found = free_port("127.0.0.1", 0)
    assert found.family == socket.AF_INET
    assert found.getsockname()[0] == "127.0.0.1"
    found.close()


def test_what_is_answered_is_sent_at_once() -> None:
    """Without TCP_NODELAY an answer in two pieces takes 40 ms longer (delayed acknowledgement)."""

    async def no_delay() -> int:
        found = asyncio.get_running_loop().create_future()

        async def answer(_: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
            taken = writer.get_extra_info("socket")
            found.set_result(taken.getsockopt(socket.IPPROTO_TCP, socket.TCP_NODELAY))
            writer.close()

        listening = free_port("127.0.0.1", 0)
        async with await asyncio.start_server(answer, sock=listening):
            _, writer = await asyncio.open_connection(*listening.getsockname())
            flag = int(await found)
            writer.close()
        return flag

    # in a thread of its own: tests in a browser leave a loop running in this one
    with ThreadPoolExecutor(1) as thread:
        assert thread.submit(lambda: asyncio.run(no_delay())).result() == 1
