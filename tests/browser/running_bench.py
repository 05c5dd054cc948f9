"""A running program on a copy of the depot, and a page that is watched for trouble."""

from __future__ import annotations

import threading
import time
from pathlib import Path
from typing import TYPE_CHECKING

from loomwright.web.server import free_port, make_server

if TYPE_CHECKING:
    from playwright.sync_api import Browser, Page

__all__ = ["PHONE", "TABLET", "Bench", "Watched"]

TABLET, PHONE = {"width": 1024, "height": 768}, {"width": 390, "height": 844}
START_S = 30


class Bench:
    """The program, serving a folder in a thread."""

    def __init__(self, folder: Path, port: int = 0, **settings: object) -> None:
        from loomwright.web.app import create_app
        from loomwright.web.settings import Settings

        taken = free_port("127.0.0.1", port)
        self.port = taken.getsockname()[1]
        self.address = f"http://127.0.0.1:{self.port}"
        self.app = app = create_app(
            Settings(data=folder, demo=True, **settings))  # type: ignore[arg-type]
        self.server = make_server(app, "error")
        self.thread = threading.Thread(target=self.server.run, args=([taken],), daemon=True)
        self.thread.start()
        end = time.monotonic() + START_S
        while not self.server.started and time.monotonic() < end:
            time.sleep(0.02)

    def stop(self) -> None:
        """Stop serving."""
        self.server.should_exit = True
        self.thread.join(START_S)


class Watched:
    """A page whose console, requests and security reports are watched."""

    def __init__(self, browser: Browser, size: dict[str, int], address: str, **options: object
                 ) -> None:
        self.context = browser.new_context(viewport=size, **options)  # type: ignore[arg-type]
        self.page: Page = self.context.new_page()
        self.page.set_default_timeout(15_000)
        self.address, self.width = address, size["width"]
        self.trouble: list[str] = []
        self.page.on("console", lambda one: self._note(one.type, one.text))
        self.page.on("pageerror", lambda one: self.trouble.append(str(one)))
        self.page.on("request", lambda one: self._asked(one.url))

    def _note(self, kind: str, text: str) -> None:
        if kind in {"error", "warning"}:
            self.trouble.append(text)

    def _asked(self, url: str) -> None:
        if not url.startswith((self.address, "data:", "blob:")):
            self.trouble.append(f"outside request: {url}")

    def fits(self) -> None:
        """Check that the page is not wider than the screen."""
        self.page.wait_for_load_state()
        main = self.page.locator("main")
        assert main.evaluate("() => document.documentElement.scrollWidth") <= self.width

    def done(self) -> None:
        """Close the page; nothing may have gone wrong on it."""
        self.context.close()
        assert self.trouble == []
