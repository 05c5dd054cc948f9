"""The gate before every page: host names, foreign origins, body size, and security headers."""

from __future__ import annotations

import contextlib
import ipaddress
import re
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders

from loomwright.web.failures import BodyTooLargeError, Refusal, refuse

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from loomwright.web.settings import Settings

__all__ = ["Guard"]

SAFE = {"GET", "HEAD", "OPTIONS"}
DOOR_PATHS = {"/pair", "/sign-in", "/set-up"}  # reachable before anybody is known
DOOR_BODY = 20_000  # bytes
PHOTO_PATH = re.compile(r"(/api/v1)?/jobs/([0-9]+/photos|import)")  # a job brings its photos
HEADERS = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data:; "
        "connect-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"),
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    # same-origin, not no-referrer: that one makes browsers send 'Origin: null' with our own forms
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=()",
}


class Guard:
    """ASGI middleware that refuses what a page of this program would never send."""

    def __init__(self, app: ASGIApp, settings: Settings) -> None:
        self._app, self._settings = app, settings

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it with its reason."""
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return
        headers = Headers(scope=scope)
        refusal = self._refusal(scope, headers)
        body = _Body(self._limit(scope["path"]), receive)
        started = False

        async def guarded_send(message: Message) -> None:
            nonlocal started
            if body.over and not started:  # whatever was made of the half that was read
                return
            if message["type"] == "http.response.start":
                started = True
                found = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    found.setdefault(name, value)
                if not scope["path"].startswith("/static/"):
                    found.setdefault("cache-control", "no-store")
            await send(message)

        if refusal is not None:
            await refuse(refusal, scope["path"])(scope, receive, guarded_send)
            return
        with contextlib.suppress(BodyTooLargeError):
            await self._app(scope, body.receive, guarded_send)
        if body.over and not started:
            body.over = False
            path = scope["path"]
            await refuse(self._too_large(path), path)(scope, receive, guarded_send)

    def _refusal(self, scope: Scope, headers: Headers) -> Refusal | None:
        host = headers.get("host", "")
        if not self._known_host(host):
            return Refusal(400, "host", "This program does not answer to that host name.",
                           "Use the address it printed when it started.")
        if _fetched_elsewhere(headers):
            return Refusal(403, "origin", "Another site's page asked for this.",
                           "Open it here by itself.")
        if scope["method"] not in SAFE and not self._own(scope, headers, host):
            return Refusal(403, "origin", "This form was sent from another site.",
                           "Open the page here and send it again.")
        length = headers.get("content-length", "0")
        if length.isdigit() and int(length) > self._limit(scope["path"]):
            return self._too_large(scope["path"])
        return None

    def _own(self, scope: Scope, headers: Headers, host: str) -> bool:
        """Return whether a form came from our own page.

        On plain HTTP in a network browsers send no Sec-Fetch-Site; there a form without an origin
        is refused, unless it comes from a program with a token, which no browser sends by itself.
        """
        bare = headers.get("origin") is None and headers.get("authorization") is None
        if self._settings.shared and bare:
            return False
        return _own_origin(scope, headers, host)

    def _limit(self, path: str) -> int:
        if path in DOOR_PATHS:
            return DOOR_BODY
        if PHOTO_PATH.fullmatch(path):
            return self._settings.max_photo_body
        return self._settings.max_body

    def _too_large(self, path: str) -> Refusal:
        return Refusal(413, "too-large", f"More than {self._limit(path) / 1e6:g} MB was sent.",
                       "Send a smaller file.")

    def _known_host(self, host: str) -> bool:
        try:
            name = (urlsplit(f"//{host}").hostname or "").lower()
        except ValueError:  # brackets without an end
            return False
        if name in self._settings.hosts:
            return True
        return self._settings.any_address and _is_address(name)


class _Body:
    """The body of one request, as long as it stays under the limit."""

    def __init__(self, limit: int, receive: Receive) -> None:
        self._left, self._receive = limit, receive
        self.over = False

    async def receive(self) -> Message:
        """Return the next piece. Raises BodyTooLargeError on the one that is too much."""
        message = await self._receive()
        self._left -= len(message.get("body", b""))
        if self._left < 0:
            self.over = True
            raise BodyTooLargeError
        return message


def _fetched_elsewhere(headers: Headers) -> bool:
    """Return whether another site's page fetched this in itself, as a picture or with a script.

    It could read nothing of it, but have this machine work for it. A link that a person followed
    is a navigation. Browsers send these marks to this machine itself and over https.
    """
    site, mode = headers.get("sec-fetch-site", "none"), headers.get("sec-fetch-mode", "navigate")
    return site in {"cross-site", "same-site"} and mode != "navigate"


def _own_origin(scope: Scope, headers: Headers, host: str) -> bool:
    """Return whether a form came from our own page; browsers always say where a form came from."""
    origin = headers.get("origin")
    if origin is not None:
        return origin == f"{scope.get('scheme', 'http')}://{host}"
    return headers.get("sec-fetch-site", "none") in {"none", "same-origin"}


def _is_address(name: str) -> bool:
    try:
        ipaddress.ip_address(name)
    except ValueError:
        return False
    return True
