"""The gate before every page: host names, foreign origins, body size, and security headers."""

from __future__ import annotations

import ipaddress
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

from starlette.datastructures import Headers, MutableHeaders

from loomwright.web.failures import Refusal, refuse

if TYPE_CHECKING:
    from starlette.types import ASGIApp, Message, Receive, Scope, Send

    from loomwright.web.settings import Settings

__all__ = ["Guard"]

SAFE = {"GET", "HEAD", "OPTIONS"}
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


class _TooLargeError(Exception):
    """The body went over the limit while it was read."""


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
        started = False

        async def guarded_send(message: Message) -> None:
            nonlocal started
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
        try:
            await self._app(scope, self._limited(receive), guarded_send)
        except _TooLargeError:
            if not started:
                await refuse(self._too_large(), scope["path"])(scope, receive, guarded_send)

    def _refusal(self, scope: Scope, headers: Headers) -> Refusal | None:
        host = headers.get("host", "")
        if not self._known_host(host):
            return Refusal(400, "host", "This program does not answer to that host name.",
                           "Use the address it printed when it started.")
        if scope["method"] not in SAFE and not _own_origin(scope, headers, host):
            return Refusal(403, "origin", "This form was sent from another site.",
                           "Open the page here and send it again.")
        length = headers.get("content-length", "0")
        if length.isdigit() and int(length) > self._settings.max_body:
            return self._too_large()
        return None

    def _too_large(self) -> Refusal:
        limit = self._settings.max_body / 1e6
        return Refusal(413, "too-large", f"More than {limit:g} MB was sent.",
                       "Send a smaller file.")

    def _known_host(self, host: str) -> bool:
        try:
            name = (urlsplit(f"//{host}").hostname or "").lower()
        except ValueError:  # brackets without an end
            return False
        if name in self._settings.hosts:
            return True
        return self._settings.any_address and _is_address(name)

    def _limited(self, receive: Receive) -> Receive:
        total = 0

        async def limited() -> Message:
            nonlocal total
            message = await receive()
            total += len(message.get("body", b""))
            if total > self._settings.max_body:
                raise _TooLargeError
            return message

        return limited


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
